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

#define FREE 9    /* groups set free at a time */
#define MOST 6000 /* states of one search */
#define COSTLY 4  /* longest changes looked at */
#define MOST_COSTLY 30000
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

/* The number of a condition. */
static int number_of(const struct round_model *m, const struct round_condition *c)
{
    for (size_t k = 0; k < m->conditions.n; k++) {
        if (memcmp(&m->conditions.at[k], c, sizeof *c) == 0) {
            return (int)k;
        }
    }
    return 0;
}

/* What the costly change is for: the groups done after the k-th longest change of the best round that could not be done
 * in the condition just before it. Cold work behind a long cooling down is such a set: moved forward together, it saves
 * the change, and no few of them do. Empty when there is no k-th change or it serves nothing. */
static struct bits behind_costly(const struct round_search *s, int k)
{
    struct bits set = {0};
    const struct walkthrough *w = &s->best;
    int32_t longest = ROUND_INF;
    size_t at = w->n;
    for (; k >= 0; k--) { /* the next shorter one */
        size_t found = w->n;
        for (size_t i = 0; i < w->n; i++) {
            bool shorter = w->moves[i].kind == ROUND_CHANGE &&
                           (w->moves[i].seconds < longest || (w->moves[i].seconds == longest && i > at));
            if (shorter && (found == w->n || w->moves[i].seconds > w->moves[found].seconds)) {
                found = i;
            }
        }
        if (found == w->n) {
            return set;
        }
        at = found;
        longest = w->moves[found].seconds;
    }
    int before = at > 0 ? number_of(s->m, &w->moves[at - 1].condition) : 0;
    for (size_t i = at + 1; i < w->n; i++) {
        int g = w->moves[i].kind == ROUND_POINT ? s->m->group_of[w->moves[i].index] : -1;
        if (g >= 0 && !bits_has(&s->m->in_condition[before], g)) {
            set = bits_or(set, with_behind(s->m, g));
        }
    }
    return set;
}

/* The model in which all but the free groups keep their order; with `chained` the free ones keep theirs among
 * themselves too, and only how the two orders mesh is left open. */
static struct round_model tied(const struct round_search *s, struct arena *a, const int *order, int n, struct bits set,
                               bool chained)
{
    struct round_model m = *s->m;
    m.groups = ARENA_ARRAY(a, struct model_group, m.n_groups + 1);
    memcpy(m.groups, s->m->groups, m.n_groups * sizeof *m.groups);
    struct bits earlier[2] = {{{0}}}; /* of those kept, of those free */
    for (int i = 0; i < n; i++) {
        bool is_free = bits_has(&set, order[i]);
        if (!is_free || chained) {
            m.groups[order[i]].before = bits_or(m.groups[order[i]].before, earlier[is_free]);
            bits_add(&earlier[is_free], order[i]);
        }
    }
    return m;
}

/* Searches around the best round with these groups free. True when a better one was found. */
static bool around(struct round_search *s, struct bits set, bool chained, int64_t most)
{
    int order[BITS_MOST];
    struct arena a = arena_new(s->keep_a->source);
    int32_t before = s->best_s;
    int n = order_of(s, order);
    struct round_model m = tied(s, &a, order, n, set, chained);
    struct level rough = {.m = &m, .keep = bits_less(m.all, set), .limit = s->best_s + 1, .most_states = most};
    const struct level *guide = search_level(s, &a, rough);
    if (!guide->full && !guide->stopped) {
        struct level fine = {.m = &m, .keep = m.all, .guide = guide, .limit = s->best_s + 1, .most_states = most};
        search_take(s, search_level(s, &a, fine));
    }
    arena_free(&a);
    return s->best_s < before;
}

/* Is there anything left to gain, and leave to look for it? */
static bool worth_it(const struct round_search *s)
{
    return !s->stopped && s->best_s < ROUND_INF && s->best_s > s->lower_s;
}

void search_polish(struct round_search *s)
{
    for (int k = 0; k < COSTLY && worth_it(s); k++) {
        struct bits set = behind_costly(s, k);
        if (bits_empty(&set)) {
            continue;
        }
        bool better = around(s, set, true, MOST_COSTLY);
        better = (bits_count(&set) <= FREE && around(s, set, false, MOST)) || better;
        if (better) {
            k = -1; /* another change is the longest now */
        }
    }
    int64_t until = s->work + (s->work / 2 > LEAST_WORK ? s->work / 2 : LEAST_WORK);
    int idle = 0;
    while (s->work < until && idle < IDLE && worth_it(s)) {
        int order[BITS_MOST];
        int n = order_of(s, order);
        idle = around(s, choose_free(s, order, n), false, MOST) ? 0 : idle + 1;
    }
}
