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

/* Moves written down while walking through a round, doing in passing what can be done. */
struct walkthrough {
    const struct round_model *m;
    struct arena *a;
    struct round_move *moves;
    size_t n, cap;
    bool *done; /* [n_points] */
    int place;
    int condition; /* number */
    int64_t at_s;
    int64_t move_s; /* walking and changing */
    bool unreal;    /* the level used a point as a change where it cannot be done: only a bound, no round */
};

/* Writes a move down. */
static void note(struct walkthrough *w, enum round_move_kind kind, size_t index, int32_t seconds)
{
    ARENA_PUSH(w->a, w->moves, w->n, w->cap) =
        (struct round_move){kind, index, w->place, w->m->conditions.at[w->condition], seconds, w->at_s};
    w->at_s += seconds;
    w->move_s += kind == ROUND_POINT ? 0 : seconds;
}

static void do_point(struct walkthrough *w, size_t i)
{
    w->done[i] = true;
    note(w, ROUND_POINT, i, w->m->p->points[i].seconds);
}

/* Are all points before point i done? */
static bool freed(const struct walkthrough *w, size_t i)
{
    const struct round_point *x = &w->m->p->points[i];
    for (size_t k = 0; k < x->n_after; k++) {
        if (!w->done[x->after[k]]) {
            return false;
        }
    }
    return true;
}

/* Does every point that can be done where one stands, in the printed order. */
static void pass(struct walkthrough *w)
{
    const struct round_problem *p = w->m->p;
    bool more = true;
    while (more) {
        more = false;
        for (size_t i = 0; i < p->n_points && !more; i++) {
            const struct round_point *x = &p->points[i];
            if (!w->done[i] && !x->n_sets && (x->place == w->place || x->place == ROUND_ANYWHERE) && freed(w, i) &&
                round_holds(&x->needs, &w->m->conditions.at[w->condition])) {
                do_point(w, i);
                more = true;
            }
        }
    }
}

/* Walks, by way of other places where that is shorter. */
static void walk(struct walkthrough *w, int to)
{
    while (w->place != to && to != ROUND_ANYWHERE) {
        int next = w->m->via[(size_t)w->place * w->m->n_places + (size_t)to];
        int32_t seconds = round_walk_s(w->m->p, w->place, next);
        w->place = next;
        note(w, ROUND_WALK, (size_t)next, seconds);
    }
}

/* Follows a level's best way from start to finish. */
static struct walkthrough follow(const struct level *l, struct arena *a)
{
    const struct round_problem *p = l->m->p;
    struct walkthrough w = {.m = l->m, .a = a, .place = p->start_place, .done = ARENA_ARRAY(a, bool, p->n_points + 1)};
    for (size_t i = 0; i < p->n_points; i++) {
        w.done[i] = p->done && p->done[i];
    }
    pass(&w);
    const struct level_state *s = l->start;
    int at = 0;
    for (const struct level_move *v = level_best(l, s, w.place, &at); v; v = level_best(l, s, w.place, &at)) {
        walk(&w, at);
        pass(&w);
        s = v->to;
        w.condition = s->condition;
        if (v->kind == LEVEL_CHANGE) {
            note(&w, ROUND_CHANGE, (size_t)v->index, v->seconds);
        } else if (v->kind == LEVEL_POINT && !w.done[v->index] && freed(&w, (size_t)v->index)) {
            do_point(&w, (size_t)v->index);
        } else if (v->kind == LEVEL_POINT) {
            w.unreal = true;
        }
        pass(&w);
    }
    walk(&w, p->finish_place);
    return w;
}

/* Groups the walkthrough left undone. */
static struct bits undone(const struct walkthrough *w)
{
    struct bits open = {0};
    for (size_t g = 0; g < w->m->n_groups; g++) {
        if (!w->done[w->m->groups[g].point]) {
            bits_add(&open, (int)g);
        }
    }
    return open;
}

/* The search as it stands. */
struct search {
    const struct round_model *m;
    struct round_options o;
    struct arena *keep_a; /* where the best round is kept */
    struct walkthrough best;
    int32_t best_s; /* its moves' seconds; ROUND_INF when none */
    int32_t lower_s;
    int64_t work;
    bool stopped;
    struct level *guide; /* the finest level that is complete */
    struct arena guide_a;
};

/* Takes the level's best way as the best round when it does every point. True when it does. */
static bool take_round(struct search *s, const struct level *l)
{
    int32_t value = level_value(l);
    if (value >= s->best_s) {
        return false;
    }
    struct walkthrough w = follow(l, s->keep_a);
    struct bits open = undone(&w);
    if (w.unreal || !bits_empty(&open)) {
        return false;
    }
    s->best = w;
    s->best_s = value;
    return true;
}

/* A level over `keep` with the present guide; complete unless full, stopped or cut. */
static struct level *run_level(struct search *s, struct arena *a, struct bits keep, int width)
{
    struct level *l = ARENA_NEW(a, struct level);
    *l = (struct level){.m = s->m,
                        .a = a,
                        .keep = keep,
                        .guide = s->guide,
                        .limit = s->best_s,
                        .width = width,
                        .most_states = s->o.most_states,
                        .options = &s->o,
                        .work = &s->work};
    level_forward(l);
    level_sweep(l);
    s->stopped = s->stopped || l->stopped;
    return l;
}

/* Looks for a better round with `width` states per layer. */
static bool look(struct search *s, int width)
{
    struct arena a = arena_new(s->keep_a->source);
    const struct level *l = run_level(s, &a, s->m->all, width);
    bool whole = !l->cut && !l->full && !l->stopped;
    bool better = take_round(s, l);
    if (whole) { /* nothing was left out, so nothing better exists */
        s->lower_s = s->best_s;
    }
    arena_free(&a);
    return better;
}

/* The detour that group g would be from a walkthrough; large when it passes no condition that suits. */
static int32_t detour(const struct walkthrough *w, const struct bits *suits, int g)
{
    const struct round_model *m = w->m;
    int q = m->groups[g].place;
    int32_t least = ROUND_INF;
    int from = m->p->start_place;
    int condition = 0;
    size_t n = m->n_places;
    for (size_t i = 0; i <= w->n; i++) {
        int to = i < w->n ? w->moves[i].place : from;
        if (bits_has(&suits[i], g)) {
            int32_t d = q == ROUND_ANYWHERE
                            ? 0
                            : m->walk[(size_t)from * n + (size_t)q] + m->walk[(size_t)q * n + (size_t)to] -
                                  m->walk[(size_t)from * n + (size_t)to];
            least = d < least ? d : least;
        }
        from = to;
    }
    (void)condition;
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

/* The guide's groups and `more` of those its best way leaves undone, the longest detours first, with all before them.
 */
static struct bits next_keep(struct search *s, int more)
{
    struct arena a = arena_new(s->keep_a->source);
    struct bits keep = s->guide->keep;
    struct walkthrough w = follow(s->guide, &a);
    struct bits open = undone(&w);
    struct bits *suits = suiting(&w, &a);
    for (; more > 0; more--) {
        int32_t worst = -1;
        int choice = -1;
        for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
            int32_t d = detour(&w, suits, g);
            if (!bits_has(&keep, g) && d > worst) {
                worst = d;
                choice = g;
            }
        }
        if (choice < 0) {
            break;
        }
        bits_add(&keep, choice);
        keep = bits_or(keep, s->m->groups[choice].before);
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
static bool refine(struct search *s, struct bits keep)
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
    if (take_round(s, l)) {
        s->lower_s = s->best_s;
    }
    arena_free(&s->guide_a);
    s->guide_a = a;
    s->guide = l;
    l->a = &s->guide_a;
    return true;
}

/* Level 0, then finer ones, with a look for rounds after each; then wider looks when the levels grew too large. */
static void search(struct search *s)
{
    if (!refine(s, (struct bits){0})) {
        return;
    }
    bool growing = true;
    while (growing && s->lower_s < s->best_s && !bits_eq(&s->guide->keep, &s->m->all)) {
        look(s, s->o.width);
        if (s->stopped || s->lower_s >= s->best_s) {
            return;
        }
        int more = step_size(s->guide->n);
        growing = refine(s, next_keep(s, more)) || (!s->stopped && more > 1 && refine(s, next_keep(s, 1)));
    }
    for (int width = s->o.width * 4; !s->stopped && s->lower_s < s->best_s && width < s->o.most_states / 8;
         width *= 4) {
        look(s, width);
    }
}

/* No order at all, although each point alone is possible: says what the furthest way leaves undone. */
static bool no_order(const struct search *s, struct err *e)
{
    const struct level_state *far = s->guide->start;
    for (int k = 0; k < s->guide->n_layers; k++) {
        for (const struct level_state *x = s->guide->layers[k]; x; x = x->next) {
            far = x->expanded && (!far || x->layer >= far->layer) ? x : far;
        }
    }
    struct text t = text_new(e->a);
    struct bits left = bits_less(s->guide->keep, far ? far->done : (struct bits){0});
    for (int g = bits_next(&left, 0); g >= 0; g = bits_next(&left, g + 1)) {
        text_join(&t, t.n ? ", " : "", str_z(e->a, s->m->p->points[s->m->groups[g].point].id), (char *)0);
    }
    return err_set(e, ERR_REFUSED, "other after-rules or needs for these points",
                   "no safe order exists; at best these stay undone: ",
                   t.n ? text_z(&t) : "none, but the finish is out of reach", (char *)0);
}

/* Replays the best round and hands it out. */
static bool hand_out(const struct search *s, struct arena *out, struct round_plan *plan, struct err *e)
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
        struct search s = {
            .m = &m, .o = options ? *options : (struct round_options){0}, .keep_a = &a, .best_s = ROUND_INF};
        s.guide_a = arena_new(out->source);
        s.o.most_states = s.o.most_states > 0 ? s.o.most_states : MOST_STATES;
        s.o.width = s.o.width > 0 ? s.o.width : WIDTH;
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
