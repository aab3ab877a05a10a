/* Where a way leaves room for what it does not do, and putting it in there: cheapest insertion (Rosenkrantz, Stearns
 * and Lewis 1977). The way through the conditions stays as it is.
 */
#include "round/round_internal.h"

#include <string.h>

/* The number of a condition. */
static int number_of(const struct round_model *m, const struct round_condition *c)
{
    size_t k = 0;
    while (k + 1 < m->conditions.n && memcmp(&m->conditions.at[k], c, sizeof *c) != 0) {
        k++;
    }
    return (int)k;
}

/* The groups that suit each stretch of a walkthrough: the condition before move i, and the last. */
static struct bits *suiting(const struct walkthrough *w, struct arena *a)
{
    struct bits *suits = ARENA_ARRAY(a, struct bits, w->n + 1);
    const struct model_conditions *cs = &w->m->conditions;
    int c = 0;
    suits[0] = w->m->in_condition[0];
    for (size_t i = 0; i < w->n; i++) {
        for (size_t k = 0; memcmp(&cs->at[c], &w->moves[i].condition, sizeof *cs->at) != 0 && k < cs->n; k++) {
            c = (int)k;
        }
        suits[i + 1] = w->m->in_condition[c];
    }
    return suits;
}

/* The first gap for a group: behind what comes before it, where that is done or could be put in. */
static size_t first_gap(const struct gaps *t, const struct model_group *x)
{
    size_t first = 0;
    for (int k = bits_next(&x->before, 0); k >= 0; k = bits_next(&x->before, k + 1)) {
        first = t->first[k] > first ? t->first[k] : first;
    }
    return first;
}

/* Fills first and last: groups with little before them come first, for what is before them has still less. */
static void fill_gaps(const struct walkthrough *w, struct gaps *t)
{
    const struct round_model *m = w->m;
    for (size_t g = 0; g < m->n_groups; g++) {
        t->last[g] = w->n;
    }
    for (size_t i = w->n; i-- > 0;) {
        int k = w->moves[i].kind == ROUND_POINT ? m->group_of[w->moves[i].index] : -1;
        if (k >= 0) {
            t->first[k] = i + 1;
            const struct bits *before = &m->groups[k].before;
            for (int g = bits_next(before, 0); g >= 0; g = bits_next(before, g + 1)) {
                t->last[g] = i;
            }
        }
    }
    for (int n = 0; n < (int)m->n_groups; n++) {
        for (int g = bits_next(&t->undone, 0); g >= 0; g = bits_next(&t->undone, g + 1)) {
            if (bits_count(&m->groups[g].before) == n) {
                t->first[g] = first_gap(t, &m->groups[g]);
                while (t->first[g] <= w->n && !bits_has(&t->suits[t->first[g]], g)) {
                    t->first[g]++;
                }
            }
        }
    }
}

struct gaps gaps_find(const struct walkthrough *w, struct arena *a)
{
    struct gaps t = {.undone = walk_undone(w),
                     .suits = suiting(w, a),
                     .first = ARENA_ARRAY(a, size_t, w->m->n_groups + 1),
                     .last = ARENA_ARRAY(a, size_t, w->m->n_groups + 1)};
    fill_gaps(w, &t);
    return t;
}

int32_t gaps_detour(const struct walkthrough *w, const struct gaps *t, int g, size_t *at)
{
    const struct round_model *m = w->m;
    int q = m->groups[g].place;
    int32_t least = ROUND_INF;
    size_t n = m->n_places;
    for (size_t i = t->first[g]; i <= t->last[g]; i++) {
        size_t from = (size_t)(i > 0 ? w->moves[i - 1].place : m->p->start_place);
        size_t to = i < w->n ? (size_t)w->moves[i].place : from;
        int32_t d = q == ROUND_ANYWHERE
                        ? 0
                        : m->walk[from * n + (size_t)q] + m->walk[(size_t)q * n + to] - m->walk[from * n + to];
        if (bits_has(&t->suits[i], g) && d < least) {
            least = d;
            *at = i;
        }
    }
    return least;
}

/* Does a move again, from wherever one is. */
static void again(struct walkthrough *w, const struct round_move *v)
{
    if (v->kind == ROUND_WALK) {
        return; /* one walks to what is done, when it is */
    }
    walk_to(w, v->place);
    if (v->kind == ROUND_CHANGE) {
        walk_change(w,
                    &(struct model_step){(int)v->index, false, number_of(w->m, &v->condition), v->place, v->seconds});
    } else if (!w->done[v->index]) {
        walk_set(w, w->m->group_of[v->index]); /* what sets nothing has been done in passing */
    }
}

/* The walkthrough with a group put in before move i, of which the walks follow from the rest. */
static struct walkthrough with(const struct walkthrough *w, int g, size_t i)
{
    struct walkthrough x = walk_begin(w->m, w->a);
    for (size_t k = 0; k <= w->n; k++) {
        if (k == i) {
            const struct model_group *group = &w->m->groups[g];
            if (group->place != ROUND_ANYWHERE) {
                walk_to(&x, group->place);
            }
            if (group->sets && !x.done[group->point]) {
                walk_set(&x, g);
            }
        }
        if (k < w->n) {
            again(&x, &w->moves[k]);
        }
    }
    if (w->m->p->finish_place != ROUND_ANYWHERE) {
        walk_to(&x, w->m->p->finish_place);
    }
    return x;
}

bool walk_insert(struct walkthrough *w)
{
    int32_t far = 0;
    while (far < ROUND_INF && !w->unreal) {
        const struct gaps gaps = gaps_find(w, w->a);
        if (bits_empty(&gaps.undone)) {
            return true;
        }
        int choice = -1;
        size_t where = 0;
        far = ROUND_INF;
        for (int g = bits_next(&gaps.undone, 0); g >= 0; g = bits_next(&gaps.undone, g + 1)) {
            size_t at = 0;
            bool free = !bits_meet(&w->m->groups[g].before, &gaps.undone) && !w->m->groups[g].sets;
            int32_t d = free ? gaps_detour(w, &gaps, g, &at) : ROUND_INF;
            if (d < far) {
                far = d;
                choice = g;
                where = at;
            }
        }
        if (choice >= 0) {
            *w = with(w, choice, where);
            struct bits still = walk_undone(w);
            far = bits_has(&still, choice) ? ROUND_INF : far;
        }
    }
    return false;
}
