/* What a book checker asks: which conditions exist, and can one be reached and left again, by which way. */
#include "round/round_internal.h"

#include <string.h>

bool round_conditions(const struct round_problem *p, struct arena *out, struct round_condition **conditions, size_t *n,
                      struct err *e)
{
    *conditions = NULL;
    *n = 0;
    struct arena a = arena_new(out->source);
    struct model_conditions cs;
    bool ok = model_check(p, e) && model_reach(p, &a, &cs, e);
    if (ok) {
        *n = cs.n;
        *conditions = ARENA_ARRAY(out, struct round_condition, cs.n);
        memcpy(*conditions, cs.at, cs.n * sizeof *cs.at);
    }
    arena_free(&a);
    return ok;
}

/* Writes step s, which leads to its condition, as a move. */
static void add_step(struct arena *out, struct round_way *way, size_t *cap, const struct round_problem *p,
                     const struct model_conditions *cs, size_t s)
{
    const struct model_step *x = &cs->steps[s];
    int32_t seconds = x->is_point ? p->points[x->index].seconds : x->seconds;
    int64_t at = way->n ? way->moves[way->n - 1].at_s + way->moves[way->n - 1].seconds : 0;
    ARENA_PUSH(out, way->moves, way->n, *cap) = (struct round_move){
        x->is_point ? ROUND_POINT : ROUND_CHANGE, (size_t)x->index, x->place, cs->at[x->to], seconds, at};
    way->end = cs->at[x->to];
}

/* From the start to condition c. */
static void way_there(struct arena *out, struct round_way *way, const struct round_problem *p,
                      const struct model_conditions *cs, int c)
{
    struct arena a = arena_new(out->source);
    size_t *steps = ARENA_ARRAY(&a, size_t, cs->n);
    size_t n = 0;
    for (int at = c; cs->from[at] >= 0; at = cs->from[at]) {
        steps[n++] = cs->by[at];
    }
    size_t cap = 0;
    way->end = cs->at[0];
    while (n > 0) {
        add_step(out, way, &cap, p, cs, steps[--n]);
    }
    arena_free(&a);
}

/* From condition c to the finish. */
static void way_back(struct arena *out, struct round_way *way, const struct round_problem *p,
                     const struct model_conditions *cs, int c)
{
    size_t cap = 0;
    way->end = cs->at[c];
    while (cs->leave_far[c] > 0) {
        size_t s = cs->leave_by[c];
        add_step(out, way, &cap, p, cs, s);
        c = cs->steps[s].to;
    }
}

bool round_reachable(const struct round_problem *p, const struct round_partial *need, struct arena *out,
                     struct round_reach *reach, struct err *e)
{
    *reach = (struct round_reach){0};
    struct arena a = arena_new(out->source);
    struct model_conditions cs;
    bool ok = model_check(p, e) && model_reach(p, &a, &cs, e);
    int found = -1;
    for (size_t c = 0; ok && c < cs.n && !reach->leavable; c++) {
        if (round_holds(need, &cs.at[c]) && (found < 0 || cs.leavable[c])) {
            found = (int)c;
            reach->reachable = true;
            reach->leavable = cs.leavable[c];
        }
    }
    if (found >= 0) {
        way_there(out, &reach->there, p, &cs, found);
        if (reach->leavable) {
            way_back(out, &reach->back, p, &cs, found);
        }
    }
    arena_free(&a);
    return ok;
}
