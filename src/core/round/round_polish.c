/* Improving a round by exact searches around it, and making one from a bound.
 *
 * Most groups keep the order they have in the best round; some are free to go anywhere. With the kept order as rules, a
 * level over the kept groups alone is tiny (one state per group and condition), and as a guide it prices all but the
 * free groups exactly; so the level over all groups below the best round's time is small too, and finds the best place
 * of all free groups at once, changes of condition included. Free groups are taken with all that come behind them, so
 * that the guide does in passing what the level does.
 *
 * A first round is made in the same way: the guide's best way does some groups in an order that is good as a whole
 * (cold work before the engine is warm); with that order kept, the others are put in a few at a time.
 */
#include "round/round_internal.h"

#include <string.h>

#define FREE 9            /* groups set free at a time */
#define MOST 6000         /* states of one search */
#define PUT_IN 4          /* groups put in at a time when a round is made */
#define COSTLY 4          /* longest changes looked at */
#define MOST_COSTLY 30000 /* states of the search around them */
#define IDLE 6            /* searches without gain before giving up for now */
#define LEAST_WORK 1500   /* states looked at, or a quarter of what all has cost so far where that is more */

/* xorshift64* (Marsaglia 2003, Vigna 2016): a number below n. */
static int below(struct round_search *s, int n)
{
    s->chance ^= s->chance >> 12;
    s->chance ^= s->chance << 25;
    s->chance ^= s->chance >> 27;
    return (int)((s->chance * UINT64_C(2685821657736338717) >> 33) % (uint64_t)n);
}

/* The groups in the order in which a walkthrough does their points. */
static int order_of(const struct round_search *s, const struct walkthrough *w, int *order)
{
    int n = 0;
    for (size_t i = 0; i < w->n; i++) {
        const struct round_move *v = &w->moves[i];
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
    if (longest > s->best_s - s->lower_s) {
        return set; /* the bound says that it is needed */
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
    int n = order_of(s, &s->best, order);
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
    /* while the bound knows nothing yet, this would be tried on changes that every round needs */
    for (int k = 0; k < COSTLY && worth_it(s) && (int64_t)s->lower_s * 8 > s->best_s; k++) {
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
    int64_t until = s->work + (s->work / 4 > LEAST_WORK ? s->work / 4 : LEAST_WORK);
    int idle = 0;
    while (s->work < until && idle < IDLE && worth_it(s)) {
        int order[BITS_MOST];
        int n = order_of(s, &s->best, order);
        idle = around(s, choose_free(s, order, n), false, MOST) ? 0 : idle + 1;
    }
}

/* In how many conditions group g can be done. */
static int choices(const struct round_model *m, int g)
{
    int n = 0;
    for (size_t c = 0; c < m->conditions.n; c++) {
        n += bits_has(&m->in_condition[c], g);
    }
    return n;
}

/* Up to `most` groups that are not in the order yet, with all before them in it or among those chosen; those with the
 * least choice of condition first, for they decide the way through the conditions. */
static struct bits choose_next(const struct round_search *s, struct bits in, int most)
{
    struct bits set = {0};
    for (; most > 0; most--) {
        struct bits with = bits_or(in, set);
        struct bits open = bits_less(s->m->all, with);
        int best = -1;
        for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
            if (bits_within(&s->m->groups[g].before, &with) && (best < 0 || choices(s->m, g) < choices(s->m, best))) {
                best = g;
            }
        }
        if (best < 0) {
            break;
        }
        bits_add(&set, best);
    }
    return set;
}

/* The level over the order's groups and a few more, guided by the one over the order alone; the detour allowed for them
 * grows until there is a way. Null when there is none. */
static const struct level *put_in(struct round_search *s, struct arena *a, const struct round_model *m, struct bits in,
                                  int most)
{
    struct level rough = {.m = m, .keep = in, .limit = s->best_s, .most_states = MOST};
    const struct level *guide = search_level(s, a, rough);
    struct bits keep = bits_or(in, choose_next(s, in, most));
    static const int32_t detours[] = {150, 900, ROUND_INF};
    for (size_t i = 0; i < sizeof detours / sizeof *detours && !guide->full && !s->stopped; i++) {
        int64_t limit = (int64_t)level_value(guide) + detours[i];
        struct level fine = {.m = m, .keep = keep, .guide = guide, .most_states = MOST};
        fine.limit = limit < s->best_s ? (int32_t)limit : s->best_s;
        const struct level *l = search_level(s, a, fine);
        if (!l->full && level_value(l) < fine.limit) {
            return l;
        }
        if (l->full || fine.limit == s->best_s) {
            break;
        }
    }
    return NULL;
}

void search_construct(struct round_search *s)
{
    struct arena kept = arena_new(s->keep_a->source);
    struct walkthrough w = walk_level(s->guide, &kept);
    int order[BITS_MOST];
    int most = PUT_IN;
    bool whole = false;
    while (most > 0 && !s->stopped && !w.unreal && !whole) {
        struct arena a = arena_new(s->keep_a->source);
        int n = order_of(s, &w, order);
        struct bits in = bits_less(s->m->all, walk_undone(&w));
        struct round_model m = tied(s, &a, order, n, (struct bits){0}, false);
        const struct level *l = put_in(s, &a, &m, in, most);
        if (l) {
            w = walk_level(l, &kept);
            w.m = s->m; /* the tied model goes with this turn */
            whole = search_take(s, l);
        } else {
            most /= 2; /* fewer at a time */
        }
        arena_free(&a);
    }
    arena_free(&kept);
}
