/* The fastest safe order: successive levels that remember more and more groups.
 *
 * Level 0 remembers no group at all: the shortest way to the finish. Each further level remembers a few more, those
 * that its best way leaves undone and that would cost the longest detour, and uses the one before as its bound; so it
 * looks only at states that can still lead to a round better than the best known. A level's value is a lower bound on
 * every round. When a level's best way happens to do every point, or the bound meets the best round, the round is
 * proven fastest; at the latest that is when all groups are remembered.
 *
 * Rounds come from the same search over all groups with only the most promising states of each layer kept
 * (level.width), guided by the level just made.
 */
#include "round/round_internal.h"

#include <assert.h>
#include <string.h>

#define MOST_STATES 150000
#define WIDTH 48

bool search_take(struct round_search *s, const struct level *l)
{
    int32_t value = level_value(l);
    if (value >= l->limit) {
        return false;
    }
    struct walkthrough w = walk_level(l, s->keep_a);
    struct bits open = walk_undone(&w);
    if (w.unreal || !bits_empty(&open)) {
        return false;
    }
    s->best = w;
    s->best.m = s->m; /* a polishing level's model does not live on */
    s->best_s = value;
    return true;
}

struct level *search_level(struct round_search *s, struct arena *a, struct level l)
{
    struct level *x = ARENA_NEW(a, struct level);
    l.a = a;
    l.options = &s->o;
    l.work = &s->work;
    *x = l;
    level_forward(x);
    level_sweep(x);
    s->stopped = s->stopped || x->stopped;
    return x;
}

/* A level over `keep` with the present guide; complete unless full, stopped or cut. */
static struct level *run_level(struct round_search *s, struct arena *a, struct bits keep, int width)
{
    return search_level(s, a,
                        (struct level){.m = s->m,
                                       .keep = keep,
                                       .guide = s->guide,
                                       .limit = s->best_s,
                                       .width = width,
                                       .most_states = s->o.most_states});
}

/* Looks for a better round with `width` states per layer. */
static bool look(struct round_search *s, int width)
{
    struct arena a = arena_new(s->keep_a->source);
    const struct level *l = run_level(s, &a, s->m->all, width);
    bool whole = !l->cut && !l->full && !l->stopped;
    bool better = search_take(s, l);
    if (whole) { /* nothing was left out, so nothing better exists */
        s->lower_s = s->best_s;
    }
    arena_free(&a);
    return better;
}

/* Between which moves of a walkthrough group g may be put in: after those before it, before those behind it. */
static void stretch(const struct walkthrough *w, int g, size_t *first, size_t *last)
{
    const struct round_model *m = w->m;
    *first = 0;
    *last = w->n;
    for (size_t i = 0; i < w->n; i++) {
        int k = w->moves[i].kind == ROUND_POINT ? m->group_of[w->moves[i].index] : -1;
        if (k >= 0 && bits_has(&m->groups[g].before, k)) {
            *first = i + 1;
        }
        if (k >= 0 && bits_has(&m->groups[k].before, g) && i < *last) {
            *last = i;
        }
    }
}

/* The detour that group g would be from a walkthrough; large when no condition that suits comes where it may be put in.
 */
static int32_t detour(const struct walkthrough *w, const struct bits *suits, int g)
{
    const struct round_model *m = w->m;
    int q = m->groups[g].place;
    int32_t least = ROUND_INF;
    size_t n = m->n_places;
    size_t first = 0;
    size_t last = 0;
    stretch(w, g, &first, &last);
    for (size_t i = first; i <= last; i++) {
        int from = i > 0 ? w->moves[i - 1].place : m->p->start_place;
        int to = i < w->n ? w->moves[i].place : from;
        if (bits_has(&suits[i], g)) {
            int32_t d = q == ROUND_ANYWHERE
                            ? 0
                            : m->walk[(size_t)from * n + (size_t)q] + m->walk[(size_t)q * n + (size_t)to] -
                                  m->walk[(size_t)from * n + (size_t)to];
            least = d < least ? d : least;
        }
    }
    return least;
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

/* The detour from group h, which the way will visit, to group g and back; large when no condition suits both. */
static int32_t detour_from(const struct round_model *m, int h, int g)
{
    bool both = false;
    for (size_t c = 0; c < m->conditions.n && !both; c++) {
        both = bits_has(&m->in_condition[c], h) && bits_has(&m->in_condition[c], g);
    }
    int p = m->groups[h].place;
    int q = m->groups[g].place;
    return !both ? ROUND_INF : p < 0 || q < 0 ? 0 : 2 * m->walk[(size_t)p * m->n_places + (size_t)q];
}

/* The guide's groups and `more` of those its best way leaves undone, the longest detours first (from the way and those
 * chosen before), with all that come before them. */
static struct bits next_keep(struct round_search *s, int more)
{
    struct arena a = arena_new(s->keep_a->source);
    struct bits keep = s->guide->keep;
    struct walkthrough w = walk_level(s->guide, &a);
    struct bits open = bits_less(walk_undone(&w), keep);
    struct bits *suits = suiting(&w, &a);
    int32_t *far = ARENA_ARRAY(&a, int32_t, s->m->n_groups + 1);
    for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
        far[g] = detour(&w, suits, g);
    }
    for (; more > 0 && !bits_empty(&open); more--) {
        int choice = bits_next(&open, 0);
        for (int g = choice; g >= 0; g = bits_next(&open, g + 1)) {
            choice = far[g] > far[choice] ? g : choice;
        }
        bits_add(&keep, choice);
        keep = bits_or(keep, s->m->groups[choice].before);
        open = bits_less(open, keep);
        for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
            int32_t d = detour_from(s->m, choice, g);
            far[g] = d < far[g] ? d : far[g];
        }
    }
    if (bits_eq(&keep, &s->guide->keep)) { /* its way does all there is, but not in a way that can be */
        keep = bits_or(keep, s->m->setters);
        for (int g = bits_next(&keep, 0); g >= 0; g = bits_next(&keep, g + 1)) {
            keep = bits_or(keep, s->m->groups[g].before);
        }
    }
    arena_free(&a);
    return keep;
}

/* How many groups a level may add to one of n states. */
static int step_size(size_t n)
{
    return n < 2000 ? 4 : n < 20000 ? 2 : 1;
}

/* Makes a complete level over `keep` the guide; false when it would be too large or was stopped. */
static bool refine(struct round_search *s, struct bits keep)
{
    struct arena a = arena_new(s->keep_a->source);
    struct level *l = run_level(s, &a, keep, 0);
    if (l->full || l->stopped) {
        arena_free(&a);
        return false;
    }
    int32_t value = level_value(l);
    value = value < s->best_s ? value : s->best_s;
    s->lower_s = value > s->lower_s ? value : s->lower_s;
    if (search_take(s, l)) {
        s->lower_s = s->best_s;
    }
    arena_free(&s->guide_a);
    s->guide_a = a;
    s->guide = l;
    l->a = &s->guide_a;
    return true;
}

/* Level 0, then finer ones, with a look for rounds after each; then wider looks when the levels grew too large. */
static void search(struct round_search *s)
{
    if (!refine(s, (struct bits){0})) {
        return;
    }
    bool growing = true;
    while (growing && s->lower_s < s->best_s && !bits_eq(&s->guide->keep, &s->m->all)) {
        if (s->best_s - s->lower_s > s->lower_s / 50) {
            search_construct(s);
        }
        look(s, s->o.width);
        search_polish(s);
        if (s->stopped || s->lower_s >= s->best_s) {
            return;
        }
        int more = step_size(s->guide->n);
        growing = refine(s, next_keep(s, more)) || (!s->stopped && more > 1 && refine(s, next_keep(s, 1)));
    }
    for (int width = s->o.width * 4; !s->stopped && s->lower_s < s->best_s && width < s->o.most_states / 8;
         width *= 4) {
        look(s, width);
        search_polish(s);
    }
}

/* No order at all, although each point alone is possible: says what the furthest way leaves undone. */
static bool no_order(struct round_search *s, struct err *e)
{
    struct arena a = arena_new(s->keep_a->source);
    struct level all = {.m = s->m, .keep = s->m->all, .limit = ROUND_INF, .most_states = s->o.most_states};
    const struct level *l = search_level(s, &a, all);
    const struct level_state *far = l->start;
    for (int k = 0; k < l->n_layers; k++) {
        for (const struct level_state *x = l->layers[k]; x; x = x->next) {
            far = x->expanded && x->layer > far->layer ? x : far;
        }
    }
    struct text t = text_new(e->a);
    struct bits left = bits_less(s->m->all, far->done);
    for (int g = bits_next(&left, 0); g >= 0; g = bits_next(&left, g + 1)) {
        text_join(&t, t.n ? ", " : "", str_z(e->a, s->m->p->points[s->m->groups[g].point].id), (char *)0);
    }
    arena_free(&a);
    return err_set(e, ERR_REFUSED, "other after-rules or needs for these points",
                   "no safe order exists; at best these stay undone: ",
                   t.n ? text_z(&t) : "none, but the finish is then out of reach", (char *)0);
}

/* Replays the best round and hands it out. */
static bool hand_out(const struct round_search *s, struct arena *out, struct round_plan *plan, struct err *e)
{
    const struct walkthrough *w = &s->best;
    *plan = (struct round_plan){.n = w->n,
                                .total_s = w->at_s,
                                .move_s = w->move_s,
                                .lower_bound_s = s->lower_s,
                                .proven = s->lower_s >= s->best_s,
                                .groups = s->m->n_groups,
                                .states = s->work};
    plan->moves = ARENA_ARRAY(out, struct round_move, w->n + 1);
    if (w->n) {
        memcpy(plan->moves, w->moves, w->n * sizeof *w->moves);
    }
    struct err fault = err_new(e->a);
    if (!round_replay(s->m->p, plan->moves, plan->n, &fault)) {
        return err_set(e, ERR_INTERNAL, "",
                       "the round found breaks a rule and is refused: ", str_z(e->a, err_text(e->a, &fault)),
                       (char *)0);
    }
    return true;
}

bool round_solve(const struct round_problem *p, const struct round_options *options, struct arena *out,
                 struct round_plan *plan, struct err *e)
{
    *plan = (struct round_plan){0};
    if (!model_check(p, e)) {
        return false;
    }
    struct arena a = arena_new(out->source);
    struct round_model m;
    bool ok = model_build(p, &a, &m, e);
    if (ok) {
        struct round_search s = {.m = &m,
                                 .o = options ? *options : (struct round_options){0},
                                 .keep_a = &a,
                                 .best_s = ROUND_INF,
                                 .chance = UINT64_C(0x9e3779b97f4a7c15)};
        s.guide_a = arena_new(out->source);
        s.o.most_states = s.o.most_states > 0 ? s.o.most_states : MOST_STATES;
        s.o.width = s.o.width > 0 ? s.o.width : WIDTH;
        s.near_s = (int32_t)(p->walk_fixed_s + 2 * p->walk_s_per_m);
        search(&s);
        if (s.best_s < ROUND_INF) {
            ok = hand_out(&s, out, plan, e);
        } else if (s.lower_s >= ROUND_INF && s.guide) {
            ok = no_order(&s, e);
        } else {
            ok = err_set(e, ERR_BUSY, "more time or memory", "stopped before any round was found", (char *)0);
        }
        arena_free(&s.guide_a);
    }
    arena_free(&a);
    return ok;
}
