/* Improving a round by exact searches around it.
 *
 * Most groups keep the order they have in the best round; some are free to go anywhere. With the kept order as rules, a
 * level over the kept groups alone is tiny (one state per group and condition), and as a guide it prices all but the
 * free groups exactly; so the level over all groups below the best round's time is small too, and finds the best place
 * of all free groups at once, changes of condition included. Free groups are taken with all that come behind them, so
 * that the guide does in passing what the level does.
 */
#include "round/round_internal.h"

#include <string.h>

#define FREE 9          /* groups set free at a time */
#define MOST 6000       /* states of one search */
#define IDLE 6          /* searches without gain before giving up for now */
#define LEAST_WORK 3000 /* states looked at, or half of what all has cost so far where that is more */

/* xorshift64* (Marsaglia 2003, Vigna 2016): a number below n. */
static int below(struct round_search *s, int n)
{
    s->chance ^= s->chance >> 12;
    s->chance ^= s->chance << 25;
    s->chance ^= s->chance >> 27;
    return (int)((s->chance * UINT64_C(2685821657736338717) >> 33) % (uint64_t)n);
}

/* The groups in the order in which the best round does their points. */
static int order_of(const struct round_search *s, int *order)
{
    int n = 0;
    for (size_t i = 0; i < s->best.n; i++) {
        const struct round_move *v = &s->best.moves[i];
        if (v->kind == ROUND_POINT && s->m->group_of[v->index] >= 0) {
            order[n++] = s->m->group_of[v->index];
        }
    }
    return n;
}

/* Group g and all behind it. */
static struct bits with_behind(const struct round_model *m, int g)
{
    struct bits set = {0};
    bits_add(&set, g);
    for (size_t k = 0; k < m->n_groups; k++) {
        if (bits_has(&m->groups[k].before, g)) {
            bits_add(&set, (int)k);
        }
    }
    return set;
}

/* Some groups to set free: a stretch of the order, groups of one place and its neighbours, or any. */
static struct bits choose_free(struct round_search *s, const int *order, int n)
{
    struct bits set = {0};
    int kind = below(s, 3);
    int at = below(s, n);
    int place = s->m->groups[order[at]].place;
    for (int tries = 0; tries < 4 * FREE && bits_count(&set) < FREE; tries++) {
        int g = kind == 0 ? order[(at + tries) % n] : order[below(s, n)];
        int q = s->m->groups[g].place;
        bool near = place < 0 || q < 0 || s->m->walk[(size_t)place * s->m->n_places + (size_t)q] <= s->near_s;
        if (kind == 1 && !near && tries < 3 * FREE) {
            continue;
        }
        struct bits more = bits_or(set, with_behind(s->m, g));
        if (bits_count(&more) <= FREE + 2) {
            set = more;
        }
    }
    return set;
}

/* The model in which all but the free groups keep their order. */
static struct round_model tied(const struct round_search *s, struct arena *a, const int *order, int n, struct bits set)
{
    struct round_model m = *s->m;
    m.groups = ARENA_ARRAY(a, struct model_group, m.n_groups + 1);
    memcpy(m.groups, s->m->groups, m.n_groups * sizeof *m.groups);
    struct bits earlier = {0};
    for (int i = 0; i < n; i++) {
        if (!bits_has(&set, order[i])) {
            m.groups[order[i]].before = bits_or(m.groups[order[i]].before, earlier);
            bits_add(&earlier, order[i]);
        }
    }
    return m;
}

void search_polish(struct round_search *s)
{
    int order[BITS_MOST];
    int64_t until = s->work + (s->work / 2 > LEAST_WORK ? s->work / 2 : LEAST_WORK);
    int idle = 0;
    while (s->work < until && idle < IDLE && !s->stopped && s->best_s < ROUND_INF && s->best_s > s->lower_s) {
        struct arena a = arena_new(s->keep_a->source);
        int32_t before = s->best_s;
        int n = order_of(s, order);
        struct bits set = choose_free(s, order, n);
        struct round_model m = tied(s, &a, order, n, set);
        struct bits keep = bits_less(m.all, set);
        struct level rough = {.m = &m, .keep = keep, .limit = s->best_s + 1, .most_states = MOST};
        const struct level *guide = search_level(s, &a, rough);
        if (!guide->full && !guide->stopped) {
            struct level fine = {.m = &m, .keep = m.all, .guide = guide, .limit = s->best_s + 1, .most_states = MOST};
            search_take(s, search_level(s, &a, fine));
        }
        idle = s->best_s < before ? 0 : idle + 1;
        arena_free(&a);
    }
}
