/* A round: what was asked for, ordered, and in the words of the book again. */
#include "round_points_internal.h"

#include <math.h>
#include <stdlib.h>
#include <time.h>

/* Does the step stand on its own on the sheet, or is it the same task going on at once? */
static bool goes_on(const struct desk_round_step *last, const struct point_of *of)
{
    return last && last->type == STEP_TASK && of->checkpoint == BOOK_NONE && last->task == of->task &&
           last->to == of->from;
}

static void steps_of_plan(struct building *g, const struct round_plan *plan, struct desk_round *out)
{
    struct desk_round_step *steps = ARENA_ARRAY(g->a, struct desk_round_step, plan->n);
    size_t n = 0;
    int number = 0;
    for (size_t i = 0; i < plan->n; i++) {
        const struct round_move *move = &plan->moves[i];
        struct desk_round_step step = {.place = move->place,
                                       .change = BOOK_NONE,
                                       .checkpoint = BOOK_NONE,
                                       .task = BOOK_NONE,
                                       .takes_s = move->seconds,
                                       .start_s = (double)move->at_s};
        if (move->kind == ROUND_WALK) {
            step.type = STEP_WALK;
        } else if (move->kind == ROUND_CHANGE) {
            step.type = STEP_CHANGE;
            step.change = (int)move->index;
            step.place = g->b->changes[move->index].place;
            step.n = ++number;
        } else {
            const struct point_of *of = &g->of[move->index];
            if (n && goes_on(&steps[n - 1], of)) {
                steps[n - 1].to = of->to;
                steps[n - 1].takes_s += move->seconds;
                continue;
            }
            step.type = of->checkpoint != BOOK_NONE ? STEP_CHECK : STEP_TASK;
            step.checkpoint = of->checkpoint;
            step.task = of->task;
            step.from = of->from;
            step.to = of->to;
            step.due = of->due;
            step.why = of->why;
            step.n = ++number;
        }
        steps[n++] = step;
    }
    out->steps = steps;
    out->n = n;
    out->total_s = (double)plan->total_s;
    out->moves_s = (double)plan->move_s;
    out->bound_s = (double)plan->lower_bound_s;
    out->proven = plan->proven;
}

/* How hard to look for an order. The work ends it, so that the same list gives the same round on a slow or busy
 * computer too; the clock is there for a person who waits, where even that is too slow. Lists of 60 steps are proven in
 * less than half of the work, which takes about a second. */
struct effort {
    int64_t work; /* states looked at */
    long milliseconds;
};
static const struct effort WHOLE_EFFORT = {600000, 3000};
static const struct effort TRIAL_EFFORT = {30000, 300};

static bool in_time(void *ctx)
{
    const struct timespec *until = ctx;
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec < until->tv_sec || (now.tv_sec == until->tv_sec && now.tv_nsec < until->tv_nsec);
}

static struct timespec from_now(long milliseconds)
{
    struct timespec until;
    (void)clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_nsec += milliseconds * 1000000L;
    until.tv_sec += until.tv_nsec / 1000000000L;
    until.tv_nsec %= 1000000000L;
    return until;
}

static struct building solve_first(struct desk *d, struct arena *a, const struct machine_state *s,
                                   const struct wanted_list *w, size_t n, const struct desk_round_ask *ask,
                                   struct effort effort, struct round_plan *plan, struct err *e)
{
    struct building g = {.d = d, .a = a, .s = s, .b = s->m.book};
    bool ok = round_build(&g, w->at, n, e);
    /* Where no order at all was found by then, twice the effort, four, eight times. */
    for (int tries = 0; ok && tries < 4; tries++, effort.work *= 2, effort.milliseconds *= 2) {
        struct timespec until = from_now(effort.milliseconds);
        struct round_options options = {.go_on = ask->go_on ? ask->go_on : in_time,
                                        .ctx = ask->go_on ? ask->ctx : &until,
                                        .most_work = effort.work};
        *e = err_new(e->a);
        if (round_solve(&g.p, &options, a, plan, e) || ask->go_on || e->kind != ERR_BUSY) {
            break;
        }
    }
    if (ok && e->kind != ERR_NONE) {
        (void)err_context(e, s->m.name);
    }
    return g;
}

/* With a time budget: the most urgent things that together fit. Each trial is a round of its own; halving finds the
 * longest list that fits, since leaving out the last thing never makes a round longer. */
static size_t how_many_fit(struct desk *d, struct arena *a, const struct machine_state *s, const struct wanted_list *w,
                           const struct desk_round_ask *ask, struct err *e)
{
    size_t low = 0;
    size_t high = w->n;
    while (low < high && e->kind == ERR_NONE) {
        size_t middle = low + (high - low + 1) / 2;
        struct round_plan plan = {0};
        (void)solve_first(d, a, s, w, middle, ask, TRIAL_EFFORT, &plan, e);
        if (e->kind == ERR_NONE && (double)plan.total_s <= ask->minutes * 60) {
            low = middle;
        } else {
            high = middle - 1;
        }
    }
    return low;
}

static struct str label_of(const struct book *b, const struct wanted *w)
{
    return w->checkpoint != BOOK_NONE ? b->checkpoints[w->checkpoint].label : b->tasks[w->task].label;
}

bool round_ordered(struct desk *d, const struct desk_round_ask *ask, struct arena *a, struct desk_round *out,
                   struct round_plan *plan, struct building *g, struct err *e)
{
    *out = (struct desk_round){0};
    *plan = (struct round_plan){0};
    const struct desk_machine *m = desk_machine_find(d, ask->machine, e);
    if (!m) {
        return false;
    }
    if (!m->book) {
        return err_set(e, ERR_MISSING, NULL, str_z(e->a, m->name), ": ", str_z(e->a, m->trouble), (char *)0);
    }
    const struct machine_state *s = desk_state_of(d, m);
    struct desk_today_filter filter = {.machine = m->serial, .within_days = -1, .with_stopped = true};
    struct desk_today_list list;
    struct wanted_list w = {0};
    struct text title = text_new(a);
    if (!due_list(d, &filter, a, &list) || !round_want_scope(a, &w, &list, m->book, ask, &title, e)) {
        return false;
    }
    out->machine = m;
    out->title = text_str(&title);
    size_t n = ask->minutes > 0 ? how_many_fit(d, a, s, &w, ask, e) : w.n;
    if (e->kind != ERR_NONE) {
        return false;
    }
    struct desk_round_left *left = ARENA_ARRAY(a, struct desk_round_left, w.n - n);
    for (size_t i = n; i < w.n; i++) {
        left[i - n] = (struct desk_round_left){label_of(m->book, &w.at[i]), S("no time left for it")};
    }
    out->left = left;
    out->n_left = w.n - n;
    *g = (struct building){.d = d, .a = a, .s = s, .b = s->m.book};
    if (n == 0) {
        out->proven = true;
        return round_build(g, w.at, 0, e);
    }
    *g = solve_first(d, a, s, &w, n, ask, WHOLE_EFFORT, plan, e);
    if (e->kind != ERR_NONE) {
        return false;
    }
    steps_of_plan(g, plan, out);
    int *tasks = ARENA_ARRAY(a, int, n);
    for (size_t i = 0; i < n; i++) {
        if (w.at[i].task != BOOK_NONE) {
            tasks[out->n_tasks++] = w.at[i].task;
        }
    }
    out->tasks = tasks;
    return true;
}

bool desk_round(struct desk *d, const struct desk_round_ask *ask, struct arena *a, struct desk_round *out,
                struct err *e)
{
    struct round_plan plan;
    struct building g;
    return round_ordered(d, ask, a, out, &plan, &g, e);
}
