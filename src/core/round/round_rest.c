/* The rest as a problem of its own: the same machine, starting in the present condition, with the changes and points
 * that remain. What the solver refuses is narrowed down by asking of each point whether its condition can be reached
 * and left again; those that cannot be are left, with what comes after them, and the solver is asked once more. */
#include "round/round_rest.h"

#include <string.h>

struct resting {
    const struct round_problem *p;
    const struct round_rest_ask *ask;
    struct arena *a;
    struct round_rest *out;
    struct round_problem rest; /* what is handed to the solver */
    bool *did, *wanted;        /* [n_points] */
    size_t *change_of;         /* index in p of each change of rest */
    size_t *point_of;          /* likewise of each point */
    struct round_point *points;
};

static void set_all(struct round_condition *c, const struct round_set *sets, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        c->value[sets[i].variable] = sets[i].value;
    }
}

static bool sets_fit(const struct round_problem *p, const struct round_set *sets, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (sets[i].variable >= p->n_variables || sets[i].value >= p->variables[sets[i].variable].n_values) {
            return false;
        }
    }
    return true;
}

/* What has happened, in order. */
static bool replay_history(struct resting *r, struct err *e)
{
    const struct round_problem *p = r->p;
    r->out->now = p->start;
    for (size_t i = 0; i < r->ask->n_did; i++) {
        const struct round_act *act = &r->ask->did[i];
        if (act->index >= (act->change ? p->n_changes : p->n_points)) {
            return err_set(e, ERR_INPUT, NULL, "what was done names something that does not exist", (char *)0);
        }
        const struct round_set *sets = act->change ? p->changes[act->index].sets : p->points[act->index].sets;
        size_t n = act->change ? p->changes[act->index].n_sets : p->points[act->index].n_sets;
        if (!sets_fit(p, sets, n)) {
            return err_set(e, ERR_INPUT, NULL, "a variable or a value does not exist", (char *)0);
        }
        set_all(&r->out->now, sets, n);
        if (!act->change) {
            r->did[act->index] = true;
        }
    }
    return true;
}

static bool forbidden(const struct round_problem *p, const struct round_condition *c)
{
    for (size_t i = 0; i < p->n_never; i++) {
        if (round_holds(&p->never[i], c)) {
            return true;
        }
    }
    return false;
}

/* In the present condition, and into one that may exist. */
static bool may_now(const struct resting *r, const struct round_partial *needs, const struct round_set *sets, size_t n)
{
    struct round_condition then = r->out->now;
    if (!round_holds(needs, &then) || !sets_fit(r->p, sets, n)) {
        return false;
    }
    set_all(&then, sets, n);
    return !forbidden(r->p, &then);
}

/* The point before this one that is neither done nor wanted; n_points when there is none. */
static size_t missing_before(const struct resting *r, size_t i, bool done_only)
{
    const struct round_point *point = &r->p->points[i];
    for (size_t k = 0; k < point->n_after; k++) {
        size_t before = point->after[k];
        if (before < r->p->n_points && !r->did[before] && (done_only || !r->wanted[before])) {
            return before;
        }
    }
    return r->p->n_points;
}

static void what_may_be_done(struct resting *r)
{
    const struct round_problem *p = r->p;
    r->out->may_change = ARENA_ARRAY(r->a, bool, p->n_changes);
    r->out->may_point = ARENA_ARRAY(r->a, bool, p->n_points);
    for (size_t i = 0; i < p->n_changes; i++) {
        const struct round_change *change = &p->changes[i];
        r->out->may_change[i] =
            !(r->ask->no_change && r->ask->no_change[i]) && may_now(r, &change->from, change->sets, change->n_sets);
    }
    for (size_t i = 0; i < p->n_points; i++) {
        const struct round_point *point = &p->points[i];
        r->out->may_point[i] = r->wanted[i] && missing_before(r, i, true) == p->n_points &&
                               may_now(r, &point->needs, point->sets, point->n_sets);
    }
}

static void leave(struct resting *r, size_t point, enum round_left_why why, size_t after)
{
    r->wanted[point] = false;
    r->out->left[r->out->n_left++] = (struct round_left){point, why, after};
}

/* Leaves what comes after something that will not be done; whether anything was left. */
static bool leave_followers(struct resting *r)
{
    bool any = false;
    for (bool again = true; again;) {
        again = false;
        for (size_t i = 0; i < r->p->n_points; i++) {
            size_t before = r->wanted[i] ? missing_before(r, i, false) : r->p->n_points;
            if (before < r->p->n_points) {
                leave(r, i, ROUND_LEFT_AFTER, before);
                again = any = true;
            }
        }
    }
    return any;
}

/* The wanted points with their rules among themselves; what is done asks for nothing any more. */
static void gather_points(struct resting *r)
{
    const struct round_problem *p = r->p;
    size_t *place_of = ARENA_ARRAY(r->a, size_t, p->n_points);
    size_t n = 0;
    for (size_t i = 0; i < p->n_points; i++) {
        if (r->wanted[i]) {
            place_of[i] = n;
            r->point_of[n++] = i;
        }
    }
    for (size_t k = 0; k < n; k++) {
        const struct round_point *from = &p->points[r->point_of[k]];
        struct round_point *point = &r->points[k];
        *point = *from;
        size_t *after = ARENA_ARRAY(r->a, size_t, from->n_after);
        point->n_after = 0;
        for (size_t j = 0; j < from->n_after; j++) {
            if (from->after[j] < p->n_points && r->wanted[from->after[j]]) {
                after[point->n_after++] = place_of[from->after[j]];
            }
        }
        point->after = after;
    }
    r->rest.points = r->points;
    r->rest.n_points = n;
}

static void gather_changes(struct resting *r)
{
    const struct round_problem *p = r->p;
    struct round_change *changes = ARENA_ARRAY(r->a, struct round_change, p->n_changes);
    size_t n = 0;
    for (size_t i = 0; i < p->n_changes; i++) {
        if (!(r->ask->no_change && r->ask->no_change[i])) {
            r->change_of[n] = i;
            changes[n++] = p->changes[i];
        }
    }
    r->rest = *p;
    r->rest.changes = changes;
    r->rest.n_changes = n;
    r->rest.done = NULL;
    r->rest.start = r->out->now;
    r->rest.start_place = r->ask->at;
}

/* Can the finish be reached from here at all? If not, the rest ends anywhere. */
static bool look_for_home(struct resting *r, struct err *e)
{
    struct round_reach reach;
    if (!round_reachable(&r->rest, &r->rest.finish, r->a, &reach, e)) {
        return false;
    }
    r->out->home = reach.reachable;
    if (!reach.reachable) {
        r->rest.finish = (struct round_partial){{0}};
        r->rest.finish_place = ROUND_ANYWHERE;
    }
    return true;
}

/* Leaves the points whose condition cannot be had or left; whether any was. */
static bool leave_unreachable(struct resting *r, bool *any, struct err *e)
{
    *any = false;
    size_t n = r->rest.n_points;
    for (size_t k = 0; k < n; k++) {
        struct round_reach reach;
        if (!round_reachable(&r->rest, &r->points[k].needs, r->a, &reach, e)) {
            return false;
        }
        if (!reach.reachable || !reach.leavable) {
            leave(r, r->point_of[k], ROUND_LEFT_NEEDS, 0);
            *any = true;
        }
    }
    *any = leave_followers(r) || *any;
    gather_points(r);
    return true;
}

/* Indices of the problem instead of those of the rest. */
static void name_moves(struct resting *r)
{
    struct round_plan *plan = &r->out->plan;
    for (size_t i = 0; i < plan->n; i++) {
        struct round_move *move = &plan->moves[i];
        if (move->kind != ROUND_WALK) {
            move->index = move->kind == ROUND_CHANGE ? r->change_of[move->index] : r->point_of[move->index];
        }
    }
}

/* Solves; what is refused is narrowed down first. A search that ends in its limits is a note, not an error. */
static bool order(struct resting *r, struct err *e)
{
    for (bool any = true; any;) {
        struct err mine = err_new(e->a);
        if (round_solve(&r->rest, &r->ask->options, r->a, &r->out->plan, &mine)) {
            name_moves(r);
            return true;
        }
        if (mine.kind != ERR_REFUSED && mine.kind != ERR_BUSY) {
            *e = mine;
            return false;
        }
        r->out->plan = (struct round_plan){0};
        r->out->note = str_copy(r->a, mine.what);
        if (mine.kind == ERR_BUSY) {
            return true;
        }
        if (!leave_unreachable(r, &any, e)) {
            return false;
        }
        if (any) {
            r->out->note = (struct str){0};
        }
    }
    return true;
}

bool round_rest(const struct round_problem *p, const struct round_rest_ask *ask, struct arena *a,
                struct round_rest *out, struct err *e)
{
    *out = (struct round_rest){0};
    struct resting r = {.p = p,
                        .ask = ask,
                        .a = a,
                        .out = out,
                        .did = ARENA_ARRAY(a, bool, p->n_points),
                        .wanted = ARENA_ARRAY(a, bool, p->n_points),
                        .change_of = ARENA_ARRAY(a, size_t, p->n_changes),
                        .point_of = ARENA_ARRAY(a, size_t, p->n_points),
                        .points = ARENA_ARRAY(a, struct round_point, p->n_points)};
    out->left = ARENA_ARRAY(a, struct round_left, p->n_points);
    if (!replay_history(&r, e)) {
        return false;
    }
    for (size_t i = 0; i < p->n_points; i++) {
        r.wanted[i] = !r.did[i] && !(ask->no_point && ask->no_point[i]);
    }
    gather_changes(&r);
    (void)leave_followers(&r);
    gather_points(&r);
    what_may_be_done(&r);
    return look_for_home(&r, e) && order(&r, e);
}
