/* The independent check of a round. It includes only the public header and repeats the rules in its own words, so that
 * a mistake in the solver's view of a machine is not repeated here. */
#include "round/round.h"

#include <math.h>

/* The machine and the one who walks round it, while replaying. */
struct replay {
    const struct round_problem *p;
    struct err *e;
    size_t number; /* of the move, from 1 */
    int place;
    struct round_condition now;
    int64_t clock;
    bool *did; /* [n_points] */
};

/* Refuses at the present move. */
static bool refuse(struct replay *r, const char *what, struct str who)
{
    struct text t = text_new(r->e->a);
    text_addz(&t, "move ");
    text_int(&t, (int64_t)r->number);
    text_addz(&t, ": ");
    if (who.n) {
        text_addz(&t, "\"");
        text_add(&t, who);
        text_addz(&t, "\" ");
    }
    text_addz(&t, what);
    return err_set(r->e, ERR_REFUSED, NULL, text_z(&t), (char *)0);
}

/* Do the values lie in what is asked? */
static bool suits(const struct replay *r, const struct round_partial *need)
{
    for (size_t v = 0; v < r->p->n_variables; v++) {
        unsigned asked = need->allowed[v];
        if (asked != 0 && (asked & 1u << r->now.value[v]) == 0) {
            return false;
        }
    }
    return true;
}

static bool forbidden(const struct replay *r)
{
    for (size_t i = 0; i < r->p->n_never; i++) {
        if (suits(r, &r->p->never[i])) {
            return true;
        }
    }
    return false;
}

/* A change or a point at its place, from a condition that suits, into one that is not forbidden. */
static bool act(struct replay *r, struct str id, int place, const struct round_partial *need,
                const struct round_set *sets, size_t n_sets)
{
    if (place != ROUND_ANYWHERE && place != r->place) {
        return refuse(r, "is done at another place", id);
    }
    if (!suits(r, need)) {
        return refuse(r, "does not have the condition it needs", id);
    }
    for (size_t i = 0; i < n_sets; i++) {
        r->now.value[sets[i].variable] = sets[i].value;
    }
    return forbidden(r) ? refuse(r, "leads to a forbidden combination", id) : true;
}

/* Walking time in whole seconds, half to even. */
static int64_t walking(const struct round_problem *p, int from, int to)
{
    if (from == to) {
        return 0;
    }
    double metres = hypot(p->places[to].x_m - p->places[from].x_m, p->places[to].y_m - p->places[from].y_m);
    double s = p->walk_fixed_s + p->walk_s_per_m * metres;
    s = nearbyint(s * 1e6) / 1e6; /* what is half a second on paper is half a second here */
    return (int64_t)(s - remainder(s, 1.0));
}

static bool replay_point(struct replay *r, const struct round_move *v)
{
    const struct round_point *x = &r->p->points[v->index];
    if (r->did[v->index]) {
        return refuse(r, "is done a second time", x->id);
    }
    for (size_t k = 0; k < x->n_after; k++) {
        if (!r->did[x->after[k]]) {
            return refuse(r, "comes before a point it must follow", x->id);
        }
    }
    r->did[v->index] = true;
    return act(r, x->id, x->place, &x->needs, x->sets, x->n_sets);
}

/* One move; the time it must take is in *seconds. */
static bool replay_move(struct replay *r, const struct round_move *v, int64_t *seconds)
{
    const struct round_problem *p = r->p;
    size_t most = v->kind == ROUND_WALK ? p->n_places : v->kind == ROUND_CHANGE ? p->n_changes : p->n_points;
    if (v->index >= most) {
        return refuse(r, "it names something that does not exist", S(""));
    }
    if (v->kind == ROUND_WALK) {
        *seconds = walking(p, r->place, (int)v->index);
        r->place = (int)v->index;
        return true;
    }
    if (v->kind == ROUND_CHANGE) {
        const struct round_change *x = &p->changes[v->index];
        *seconds = x->seconds;
        return act(r, x->id, x->place, &x->from, x->sets, x->n_sets);
    }
    *seconds = p->points[v->index].seconds;
    return replay_point(r, v);
}

/* What the move claims: time, place, condition. */
static bool claims_hold(struct replay *r, const struct round_move *v, int64_t seconds)
{
    if (v->seconds != seconds || v->at_s != r->clock) {
        return refuse(r, "its times are wrong", S(""));
    }
    if (v->place != r->place) {
        return refuse(r, "its place is wrong", S(""));
    }
    for (size_t k = 0; k < ROUND_VARIABLES; k++) {
        if (v->condition.value[k] != r->now.value[k]) {
            return refuse(r, "the condition noted is wrong", S(""));
        }
    }
    r->clock += seconds;
    return true;
}

/* Everything done, at the finish, in its condition. */
static bool at_finish(struct replay *r)
{
    const struct round_problem *p = r->p;
    for (size_t i = 0; i < p->n_points; i++) {
        if (!r->did[i]) {
            return refuse(r, "is not done when the round ends", p->points[i].id);
        }
    }
    if (p->finish_place != ROUND_ANYWHERE && r->place != p->finish_place) {
        return refuse(r, "the round ends at another place than the finish", S(""));
    }
    return suits(r, &p->finish) ? true : refuse(r, "the round does not end in the condition of the finish", S(""));
}

bool round_replay(const struct round_problem *p, const struct round_move *moves, size_t n, struct err *e)
{
    struct arena a = arena_new(e->a->source);
    struct replay r = {.p = p, .e = e, .place = p->start_place, .now = p->start};
    r.did = ARENA_ARRAY(&a, bool, p->n_points + 1);
    for (size_t i = 0; i < p->n_points; i++) {
        r.did[i] = p->done && p->done[i];
    }
    bool ok = !forbidden(&r) || refuse(&r, "the start is forbidden", S(""));
    for (size_t i = 0; i < n && ok; i++) {
        int64_t seconds = 0;
        r.number = i + 1;
        ok = replay_move(&r, &moves[i], &seconds) && claims_hold(&r, &moves[i], seconds);
    }
    r.number = n + 1;
    ok = ok && at_finish(&r);
    arena_free(&a);
    return ok;
}
