/* From a level's best way to the moves a person makes. */
#include "round/round_internal.h"

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

void walk_to(struct walkthrough *w, int place)
{
    while (w->place != place) {
        int next = w->m->via[(size_t)w->place * w->m->n_places + (size_t)place];
        int32_t seconds = round_walk_s(w->m->p, w->place, next);
        w->place = next;
        note(w, ROUND_WALK, (size_t)next, seconds);
        pass(w);
    }
}

void walk_change(struct walkthrough *w, const struct model_step *change)
{
    w->condition = change->to;
    note(w, ROUND_CHANGE, (size_t)change->index, change->seconds);
    pass(w);
}

void walk_set(struct walkthrough *w, int g)
{
    w->condition = w->m->point_to[g][w->condition];
    do_point(w, w->m->groups[g].point);
    pass(w);
}

struct walkthrough walk_begin(const struct round_model *m, struct arena *a)
{
    const struct round_problem *p = m->p;
    struct walkthrough w = {.m = m, .a = a, .place = p->start_place, .done = ARENA_ARRAY(a, bool, p->n_points + 1)};
    for (size_t i = 0; i < p->n_points; i++) {
        w.done[i] = p->done && p->done[i];
    }
    pass(&w);
    return w;
}

/* Walks by the places that are worth a visit on the way, and does what can be done there. */
static void walk_by(struct walkthrough *w, const struct level_walks *by, int to)
{
    while (w->place != to) {
        walk_to(w, by->via[(size_t)w->place * w->m->n_places + (size_t)to]);
    }
}

struct walkthrough walk_level(const struct level *l, struct arena *a)
{
    const struct round_problem *p = l->m->p;
    struct walkthrough w = walk_begin(l->m, a);
    const struct level_state *s = l->start;
    int at = 0;
    for (const struct level_move *v = level_best(l, s, w.place, &at); v; v = level_best(l, s, w.place, &at)) {
        walk_by(&w, l->walks[s->condition], at);
        s = v->to;
        w.condition = s->condition;
        if (v->kind == LEVEL_CHANGE) {
            note(&w, ROUND_CHANGE, (size_t)v->index, p->changes[v->index].seconds);
        } else if (v->kind == LEVEL_POINT && !w.done[v->index] && freed(&w, (size_t)v->index)) {
            do_point(&w, (size_t)v->index);
        } else if (v->kind == LEVEL_POINT) {
            w.unreal = true;
        }
        pass(&w);
    }
    walk_by(&w, l->walks[s->condition], level_end(l, s, w.place));
    return w;
}

struct bits walk_undone(const struct walkthrough *w)
{
    struct bits open = {0};
    for (size_t g = 0; g < w->m->n_groups; g++) {
        if (!w->done[w->m->groups[g].point]) {
            bits_add(&open, (int)g);
        }
    }
    return open;
}
