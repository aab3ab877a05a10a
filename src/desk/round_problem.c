/* From a book to an ordering problem: which points there are, what they need, what they leave open, what comes after
 * what.
 *
 * A check is one point. A task is one point per stretch of its steps that share a condition, so that what is open stays
 * under one pair of hands and only a change of condition (warm it, stop it, look for leaks) interrupts it. What a
 * stretch leaves open is a variable of the problem: nothing may be done meanwhile that the open item forbids, and the
 * round ends with it closed. */
#include "round_points_internal.h"

#include <string.h>

static struct round_partial partial_of(struct book_condition c)
{
    struct round_partial p = {{0}};
    for (int v = 0; v < BOOK_VARIABLES_MAX; v++) {
        p.allowed[v] = c.allow[v];
    }
    return p;
}

/* The condition that a place, a task and a step together ask for; false when they contradict each other. */
static bool needs_of(const struct book *b, int place, struct book_condition task, struct book_condition step,
                     struct book_condition *out)
{
    struct book_condition at = {{0}};
    if (place != BOOK_NONE) {
        at = b->places[place].needs;
    }
    struct book_condition both;
    bool place_and_task = book_condition_both(at, task, &both);
    return book_condition_both(both, step, out) && place_and_task; /* out is filled also when they contradict */
}

static int32_t whole_seconds(double s)
{
    return (int32_t)(s > 0 ? s + 0.5 : 0);
}

/* The variable that says whether an item is open; made when first asked for. */
static int item_variable(struct building *g, int item, struct err *e)
{
    if (g->item_variable[item] >= 0) {
        return g->item_variable[item];
    }
    if (g->n_variables == ROUND_VARIABLES) {
        err_set(e, ERR_DOMAIN, "fewer tasks in one round", "too many things are open at once in this round", (char *)0);
        return -1;
    }
    static const struct str words[] = {{"shut", 4}, {"open", 4}};
    int v = (int)g->n_variables++;
    g->variables[v] = (struct round_variable){g->b->open_items[item].name, words, 2};
    g->item_variable[item] = v;
    /* Open, and one of the conditions it forbids: never. */
    const struct book_condition *hold = &g->b->open_items[item].while_open;
    for (int k = 0; k < g->b->n_variables; k++) {
        uint16_t all = (uint16_t)((1U << g->b->variables[k].n_values) - 1);
        if (hold->allow[k]) {
            struct round_partial never = {{0}};
            never.allowed[v] = 2;
            never.allowed[k] = (uint16_t)(all & ~hold->allow[k]);
            if (never.allowed[k]) {
                ARENA_PUSH(g->a, g->nevers, g->n_nevers, g->cap_nevers) = never;
            }
        }
    }
    return v;
}

static bool refs_have(struct book_refs refs, int index)
{
    for (int i = 0; i < refs.n; i++) {
        if (refs.at[i] == index) {
            return true;
        }
    }
    return false;
}

/* Is the item opened and closed by changes of condition? Then the condition itself says whether it is open. */
static bool by_changes(const struct book *b, int item)
{
    for (int i = 0; i < b->n_changes; i++) {
        if (refs_have(b->changes[i].opens, item)) {
            return true;
        }
    }
    return false;
}

/* What a stretch of steps leaves opened or closed as variables set. */
static bool stretch_sets(struct building *g, const struct book_task *task, int from, int to, struct round_point *point,
                         struct err *e)
{
    struct round_set *sets = ARENA_ARRAY(g->a, struct round_set, g->b->n_open_items);
    size_t n = 0;
    for (int item = 0; item < g->b->n_open_items; item++) {
        int last = -1; /* 1 opened, 0 closed by the last step that touches it */
        bool first_opens = false;
        for (int i = from; i < to; i++) {
            const struct book_step *step = &task->steps[i];
            if (refs_have(step->opens, item)) {
                first_opens = last < 0 ? true : first_opens;
                last = 1;
            }
            if (refs_have(step->closes, item)) {
                last = 0;
            }
        }
        bool within = first_opens && last == 0;
        if (last < 0 || within || by_changes(g->b, item)) {
            continue;
        }
        int v = item_variable(g, item, e);
        if (v < 0) {
            return false;
        }
        sets[n++] = (struct round_set){(uint8_t)v, (uint8_t)last};
    }
    point->sets = sets;
    point->n_sets = n;
    return true;
}

static void push_point(struct building *g, struct round_point point, struct point_of of)
{
    size_t before = g->n;
    ARENA_PUSH(g->a, g->points, g->n, g->cap) = point;
    g->n = before;
    ARENA_PUSH(g->a, g->of, g->n, g->cap_of) = of;
}

/* Walking between the steps of one stretch and back to where it began. */
static double inner_walk_s(const struct building *g, const struct book_task *task, int from, int to, int place)
{
    double s = 0;
    int at = place;
    for (int i = from; i <= to; i++) {
        int next = i == to ? place : task->steps[i].place == BOOK_NONE ? at : task->steps[i].place;
        s += at == BOOK_NONE || next == BOOK_NONE ? 0 : round_walk_s(&g->p, at, next);
        at = next;
    }
    return s;
}

/* A stretch as one point that comes after the stretch before it. */
static bool add_stretch(struct building *g, const struct wanted *w, int from, int to, int place,
                        struct book_condition needs, ptrdiff_t before, struct err *e)
{
    const struct book_task *task = &g->b->tasks[w->task];
    double takes = inner_walk_s(g, task, from, to, place);
    double all = 0;
    double part = 0;
    for (int i = 0; i < task->n_steps; i++) {
        all += task->steps[i].takes_s;
        part += i >= from && i < to ? task->steps[i].takes_s : 0;
    }
    takes += all > 0 ? part * (task->labour_s > all ? task->labour_s / all : 1)
                     : task->labour_s * (to - from) / (task->n_steps ? task->n_steps : 1);
    struct round_point point = {.id = task->name,
                                .place = place == BOOK_NONE ? ROUND_ANYWHERE : place,
                                .needs = partial_of(needs),
                                .seconds = whole_seconds(takes)};
    if (!stretch_sets(g, task, from, to, &point, e)) {
        return false;
    }
    if (before >= 0) {
        size_t *after = ARENA_ARRAY(g->a, size_t, 1);
        after[0] = (size_t)before;
        point.after = after;
        point.n_after = 1;
    }
    push_point(g, point, (struct point_of){BOOK_NONE, w->task, from, to, w->due, w->why});
    return true;
}

/* A task: stretches of steps under one condition. */
static bool add_task(struct building *g, const struct wanted *w, struct err *e)
{
    const struct book_task *task = &g->b->tasks[w->task];
    ptrdiff_t before = -1;
    int from = 0;
    int place = task->place;
    int here = task->place;
    struct book_condition shared = task->needs;
    for (int i = 0; i < task->n_steps; i++) {
        const struct book_step *step = &task->steps[i];
        here = step->place == BOOK_NONE ? here : step->place;
        struct book_condition needs;
        struct book_condition both;
        if (!needs_of(g->b, here, task->needs, step->needs, &needs)) {
            return err_at(e, (struct where){g->b->file, step->pos.line, step->pos.column}, ERR_REFUSED,
                          "needs that the place allows", "task ", str_z(e->a, task->name), ", step ",
                          "asks for a condition that its place or the task forbids", (char *)0);
        }
        if (i == from) {
            place = here;
            shared = needs;
        } else if (book_condition_both(shared, needs, &both)) {
            shared = both;
        } else {
            if (!add_stretch(g, w, from, i, place, shared, before, e)) {
                return false;
            }
            before = (ptrdiff_t)g->n - 1;
            from = i;
            place = here;
            shared = needs;
        }
    }
    if (task->n_steps == 0 && !needs_of(g->b, place, task->needs, (struct book_condition){{0}}, &shared)) {
        return err_set(e, ERR_REFUSED, NULL, "task ", str_z(e->a, task->name), " contradicts its place", (char *)0);
    }
    return add_stretch(g, w, from, task->n_steps, place, shared, before, e);
}

static bool add_check(struct building *g, const struct wanted *w, struct err *e)
{
    const struct book_checkpoint *c = &g->b->checkpoints[w->checkpoint];
    struct book_condition needs;
    if (!needs_of(g->b, c->place, c->needs, (struct book_condition){{0}}, &needs)) {
        return err_at(e, (struct where){g->b->file, c->pos.line, c->pos.column}, ERR_REFUSED,
                      "needs that the place allows", "checkpoint ", str_z(e->a, c->name),
                      " asks for a condition that its place forbids", (char *)0);
    }
    struct round_point point = {.id = c->name,
                                .place = c->place == BOOK_NONE ? ROUND_ANYWHERE : c->place,
                                .needs = partial_of(needs),
                                .seconds = whole_seconds(c->takes_s)};
    push_point(g, point, (struct point_of){w->checkpoint, BOOK_NONE, 0, 0, w->due, w->why});
    return true;
}

/* First point, or last, of a task or check in the problem. */
static ptrdiff_t point_at(const struct building *g, int checkpoint, int task, bool last)
{
    ptrdiff_t found = -1;
    for (size_t i = 0; i < g->n; i++) {
        if (g->of[i].checkpoint == checkpoint && g->of[i].task == task && (last || found < 0)) {
            found = (ptrdiff_t)i;
        }
    }
    return found;
}

static void add_after(struct building *g, ptrdiff_t point, ptrdiff_t before)
{
    if (point < 0 || before < 0 || point == before) {
        return;
    }
    struct round_point *p = &g->points[point];
    size_t *after = ARENA_ARRAY(g->a, size_t, p->n_after + 1);
    if (p->n_after) {
        memcpy(after, p->after, p->n_after * sizeof *after);
    }
    after[p->n_after] = (size_t)before;
    p->after = after;
    p->n_after++;
}

/* The book's `after`, and: a reading taken to see whether a task has helped comes after that task. */
static void add_rules(struct building *g)
{
    for (size_t i = 0; i < g->n; i++) {
        const struct point_of *of = &g->of[i];
        if (of->checkpoint != BOOK_NONE) {
            const struct book_checkpoint *c = &g->b->checkpoints[of->checkpoint];
            for (int k = 0; k < c->after.n; k++) {
                add_after(g, (ptrdiff_t)i, point_at(g, c->after.at[k], BOOK_NONE, true));
            }
            if (c->mends != BOOK_NONE) {
                add_after(g, (ptrdiff_t)i, point_at(g, BOOK_NONE, c->mends, true));
            }
        } else if (of->from == 0) {
            const struct book_task *task = &g->b->tasks[of->task];
            for (int k = 0; k < task->after.n; k++) {
                add_after(g, (ptrdiff_t)i, point_at(g, BOOK_NONE, task->after.at[k], true));
            }
        }
    }
}

/* Variables, changes and places of the book. */
static void base_problem(struct building *g)
{
    const struct book *b = g->b;
    g->variables = ARENA_ARRAY(g->a, struct round_variable, ROUND_VARIABLES);
    for (int i = 0; i < b->n_variables; i++) {
        g->variables[i] =
            (struct round_variable){b->variables[i].name, b->variables[i].values, (size_t)b->variables[i].n_values};
    }
    g->n_variables = (size_t)b->n_variables;
    g->item_variable = ARENA_ARRAY(g->a, int, b->n_open_items);
    for (int i = 0; i < b->n_open_items; i++) {
        g->item_variable[i] = -1;
    }
    struct round_place *places = ARENA_ARRAY(g->a, struct round_place, b->n_places);
    for (int i = 0; i < b->n_places; i++) {
        places[i] = (struct round_place){b->places[i].name, b->places[i].x_m, b->places[i].y_m};
    }
    struct round_change *changes = ARENA_ARRAY(g->a, struct round_change, b->n_changes);
    for (int i = 0; i < b->n_changes; i++) {
        const struct book_change *change = &b->changes[i];
        struct round_set *sets = ARENA_ARRAY(g->a, struct round_set, b->n_variables);
        size_t n = 0;
        for (int v = 0; v < b->n_variables; v++) {
            if (change->to[v] != BOOK_NONE) {
                sets[n++] = (struct round_set){(uint8_t)v, (uint8_t)change->to[v]};
            }
        }
        struct book_condition from = change->from;
        if (change->place != BOOK_NONE) {
            (void)book_condition_both(from, b->places[change->place].needs, &from);
        }
        changes[i] = (struct round_change){change->name,
                                           partial_of(from),
                                           sets,
                                           n,
                                           change->place == BOOK_NONE ? ROUND_ANYWHERE : change->place,
                                           whole_seconds(change->takes_s)};
    }
    for (int i = 0; i < b->n_nevers; i++) {
        struct round_partial never = partial_of(b->nevers[i].when);
        ARENA_PUSH(g->a, g->nevers, g->n_nevers, g->cap_nevers) = never;
    }
    g->p = (struct round_problem){
        .places = places,
        .n_places = (size_t)b->n_places,
        .changes = changes,
        .n_changes = (size_t)b->n_changes,
        .start_place = b->start_place,
        .finish_place = b->start_place,
        .walk_fixed_s = ROUND_WALK_FIXED_S,
        .walk_s_per_m = ROUND_WALK_S_PER_M,
    };
}

/* Things that the log says are open by a change of condition: the machine stands in that condition now. */
static void start_condition(struct building *g)
{
    for (size_t k = 0; k < g->s->n_open; k++) {
        int item = g->s->open[k].open_item;
        for (int i = 0; item != BOOK_NONE && i < g->b->n_changes; i++) {
            const struct book_change *change = &g->b->changes[i];
            for (int v = 0; refs_have(change->opens, item) && v < g->b->n_variables; v++) {
                if (change->to[v] != BOOK_NONE) {
                    g->p.start.value[v] = (uint8_t)change->to[v];
                }
            }
        }
    }
}

/* What returns to its parked value by itself, such as a hot engine cooling down, is not waited for at the end of a
 * round. */
static void leave_to_time(struct building *g)
{
    for (int i = 0; i < g->b->n_changes; i++) {
        for (int v = 0; g->b->changes[i].waiting && v < g->b->n_variables; v++) {
            if (g->b->changes[i].to[v] == 0) {
                g->p.finish.allowed[v] = 0;
            }
        }
    }
}

bool round_build(struct building *g, const struct wanted *wanted, size_t n, struct err *e)
{
    base_problem(g);
    for (size_t i = 0; i < n; i++) {
        bool ok = wanted[i].checkpoint != BOOK_NONE ? add_check(g, &wanted[i], e) : add_task(g, &wanted[i], e);
        if (!ok) {
            return false;
        }
    }
    add_rules(g);
    start_condition(g);
    g->p.variables = g->variables;
    g->p.n_variables = g->n_variables;
    g->p.never = g->nevers;
    g->p.n_never = g->n_nevers;
    g->p.points = g->points;
    g->p.n_points = g->n;
    g->p.finish = round_parked(g->n_variables);
    leave_to_time(g);
    return true;
}
