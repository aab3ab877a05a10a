/* The best stops for parked burns, by dynamic programming over the last one. */
#include "exhaust/burn_plan.h"

#include "quantity/domain.h"

#include <math.h>

#define DAY_H 8.0

const char *burn_word_text(enum burn_word word)
{
    static const char *const words[] = {
#define X(symbol, says) [symbol] = (says),
        BURN_WORDS(X)
#undef X
    };
    return words[word];
}

struct burn_costs burn_costs_default(void)
{
    return (struct burn_costs){.prepare = 15, .forced_here = 90, .forced_away = 240, .derated = 480, .past = 5760};
}

/* ---- What each stop and job permits ------------------------------------------------------------------------------ */

static burn_places stop_places(const struct burn_ask *ask, int stop)
{
    return stop < ask->n ? ask->jobs[stop].stop : ask->last_stop;
}

static double stop_minutes(const struct burn_ask *ask, int stop)
{
    return stop < ask->n ? ask->jobs[stop].stop_min : ask->last_stop_min;
}

static struct burn_stop_plan stop_of(const struct burn_ask *ask, int stop)
{
    struct burn_stop_plan s = {.because = burn_forbids_parked(stop_places(ask, stop)),
                               .ask_ban = burn_ask_ban(stop_places(ask, stop)),
                               .needs_min = ask->costs.prepare + ask->burn_min + ask->cool_min};
    s.too_short = stop_minutes(ask, stop) < s.needs_min;
    bool unwanted = stop < ask->n && ask->jobs[stop].unwanted;
    s.permitted = s.because == 0 && !s.too_short && !unwanted;
    return s;
}

static bool inhibited(const struct burn_ask *ask, const struct burn_job *job)
{
    return burn_forbids_working(job->places, ask->added) != 0;
}

/* What a parked burn that is planned costs: the person's time; the machine cools in a stop that is there anyway. */
static double planned_cost(const struct burn_ask *ask)
{
    return ask->costs.prepare + ask->burn_min;
}

/* ---- Runs -------------------------------------------------------------------------------------------------------- */

/* A stop without a planned burn: whoever is asked for one by the machine makes it here, if it may be. */
static void pass_stop(const struct burn_ask *ask, int stop, struct soot_belief *b)
{
    if (burn_forbids_parked(stop_places(ask, stop)) == 0) {
        soot_parked_burn(ask->filter, b, true);
    }
}

/* Works a job; returns what its surprises cost. */
static double work(const struct burn_ask *ask, int k, struct soot_belief *b, struct soot_events *events,
                   struct arena *scratch)
{
    const struct burn_job *job = &ask->jobs[k];
    struct soot_events e = soot_work(ask->filter, ask->rates, b, job->duty, job->hours, !inhibited(ask, job), scratch);
    bool here = burn_forbids_parked(job->places) == 0;
    if (here) {
        soot_parked_burn(ask->filter, b, true);
    }
    *events = e;
    return e.demanded * (here ? ask->costs.forced_here : ask->costs.forced_away) + e.derated * ask->costs.derated +
           e.past * ask->costs.past;
}

/* cost[k] = of the jobs from `stop` up to stop k without a burn between, from the belief b (changed). */
static void run_from(const struct burn_ask *ask, int stop, struct soot_belief *b, double *cost, struct arena *scratch)
{
    double sum = cost[stop];
    for (int k = stop; k < ask->n; k++) {
        struct soot_events events;
        if (k > stop) {
            pass_stop(ask, k, b);
        }
        sum += work(ask, k, b, &events, scratch);
        cost[k + 1] = sum;
    }
}

/* All runs: row 0 from the belief now, row s + 1 from a parked burn at stop s; each [n + 1]. */
static double *all_runs(const struct burn_ask *ask, struct arena *a)
{
    int n = ask->n;
    double *cost = ARENA_ARRAY(a, double, (n + 2) * (n + 1));
    struct soot_belief *b = soot_belief_new(a, ask->filter, 0, 0);
    *b = *ask->now;
    /* What is demanded already has to be met without a plan, too. */
    cost[0] = soot_demanded(b) * ask->costs.forced_here;
    pass_stop(ask, 0, b);
    run_from(ask, 0, b, cost, a);
    cost[0] = 0; /* a burn planned right at the first stop meets it */
    for (int stop = 0; stop < n; stop++) {
        struct arena_mark mark = arena_mark(a);
        b = soot_belief_new(a, ask->filter, ask->filter->parked_leaves, 0);
        run_from(ask, stop, b, cost + (size_t)(stop + 1) * (size_t)(n + 1), a);
        arena_rewind(a, mark);
    }
    return cost;
}

static double cost_between(const struct burn_ask *ask, const double *runs, int from, int to)
{
    return runs[(size_t)(from + 1) * (size_t)(ask->n + 1) + (size_t)to];
}

/* ---- The best set ------------------------------------------------------------------------------------------------ */

static bool may(const struct burn_ask *ask, int stop, int better)
{
    return stop == better || stop_of(ask, stop).permitted;
}

static bool wanted(const struct burn_ask *ask, int stop)
{
    return stop < ask->n && ask->jobs[stop].wanted;
}

/* A wanted burn lies strictly between: that run is not allowed. */
static bool skips_wanted(const struct burn_ask *ask, int from, int to)
{
    for (int k = from + 1; k < to; k++) {
        if (wanted(ask, k)) {
            return true;
        }
    }
    return false;
}

/* The set of stops of least expected cost; better: a stop taken as if it permitted a burn, -1 = none. A burn after the
 * last job is only ever for the time after, so that it is not planned here. */
static double best_set(const struct burn_ask *ask, const double *runs, int better, bool *burn)
{
    double best[BURN_JOBS_MOST + 2];
    int before[BURN_JOBS_MOST + 2];
    int n = ask->n;
    for (int to = 0; to <= n; to++) {
        best[to + 1] = (double)INFINITY;
        before[to + 1] = -1;
        bool end = to == n;
        for (int from = -1; from < to && (end || may(ask, to, better)); from++) {
            double so_far = from < 0 ? 0 : best[from + 1];
            double cost = so_far + cost_between(ask, runs, from, to) + (end ? 0 : planned_cost(ask));
            if (!skips_wanted(ask, from, to) && cost < best[to + 1] - 1e-9) {
                best[to + 1] = cost;
                before[to + 1] = from;
            }
        }
    }
    for (int k = 0; k <= n; k++) {
        burn[k] = false;
    }
    for (int at = before[n + 1]; at >= 0; at = before[at + 1]) {
        burn[at] = true;
    }
    return best[n + 1];
}

double burn_plan_cost(const struct burn_ask *ask, const bool *burn, struct arena *scratch)
{
    const double *runs = all_runs(ask, scratch);
    double cost = 0;
    int from = -1;
    for (int k = 0; k < ask->n; k++) {
        if (burn[k]) {
            cost += cost_between(ask, runs, from, k) + planned_cost(ask);
            from = k;
        }
    }
    return cost + cost_between(ask, runs, from, ask->n);
}

/* ---- What the plan looks like ------------------------------------------------------------------------------------ */

struct course {
    const struct burn_ask *ask;
    struct arena *a;
    struct burn_plan *plan; /* null: only the risks are wanted */
    struct burn_point *points;
    size_t n, cap;
    double hours;
    struct soot_events sum;
};

static void add_point(struct course *c, int job, double hours, const struct soot_belief *b)
{
    if (c->plan) {
        ARENA_PUSH(c->a, c->points, c->n, c->cap) =
            (struct burn_point){job, hours, soot_quantile(b, 0.1), soot_quantile(b, 0.5), soot_quantile(b, 0.9)};
    }
}

/* The load about every hour of a job, from its beginning: each hour from the morning anew, as a day has one factor. */
static void trace_job(struct course *c, int k, const struct soot_belief *b)
{
    const struct burn_job *job = &c->ask->jobs[k];
    struct soot_belief *morning = ARENA_NEW(c->a, struct soot_belief);
    struct soot_belief *then = ARENA_NEW(c->a, struct soot_belief);
    bool may_burn = !inhibited(c->ask, job);
    *morning = *b;
    for (double done = 0; done < job->hours - 1e-9; done += DAY_H) {
        double day = fmin(DAY_H, job->hours - done);
        double every = day > 4 ? 2 : 1;
        for (double h = every; h < day + every - 1e-9; h += every) {
            double hours = fmin(h, day);
            *then = *morning;
            (void)soot_work(c->ask->filter, c->ask->rates, then, job->duty, hours, may_burn, c->a);
            add_point(c, k, c->hours + done + hours, then);
        }
        *morning = *then;
    }
}

/* Goes through the jobs with that set of burns. */
static void follow(struct course *c, const bool *burn)
{
    const struct burn_ask *ask = c->ask;
    struct soot_belief *b = ARENA_NEW(c->a, struct soot_belief);
    *b = *ask->now;
    double already = soot_demanded(b);
    c->sum = (struct soot_events){burn[0] ? 0 : already, burn[0] ? 0 : soot_derated(b), b->past, 0};
    add_point(c, 0, 0, b);
    for (int k = 0; k < ask->n; k++) {
        if (c->plan) {
            c->plan->stops[k].p50 = soot_quantile(b, 0.5);
        }
        if (burn[k]) {
            soot_parked_burn(ask->filter, b, false);
            add_point(c, k, c->hours, b);
        } else {
            pass_stop(ask, k, b);
        }
        struct arena_mark mark = arena_mark(c->a);
        if (c->plan) {
            trace_job(c, k, b);
        } else {
            arena_rewind(c->a, mark);
        }
        struct soot_events events;
        (void)work(ask, k, b, &events, c->a);
        c->hours += ask->jobs[k].hours;
        c->sum.demanded += events.demanded;
        c->sum.derated += events.derated;
        c->sum.past += events.past;
        if (c->plan) {
            c->plan->jobs[k] = (struct burn_job_plan){.inhibit = inhibited(ask, &ask->jobs[k]),
                                                      .because = burn_forbids_working(ask->jobs[k].places, ask->added),
                                                      .p10 = soot_quantile(b, 0.1),
                                                      .p50 = soot_quantile(b, 0.5),
                                                      .p90 = soot_quantile(b, 0.9),
                                                      .demanded = fmin(1, events.demanded),
                                                      .derated = fmin(1, events.derated),
                                                      .past = fmin(1, events.past),
                                                      .active = events.active};
        }
    }
    if (c->plan) {
        c->plan->stops[ask->n].p50 = soot_quantile(b, 0.5);
        c->plan->points = c->points;
        c->plan->n_points = (int)c->n;
    }
}

static bool too_risky(double derated, double past)
{
    return derated > BURN_RISK_MOST || past > BURN_RISK_MOST / 5;
}

/* The stop that would make a safe plan if a burn could be made there; -1 when none does. The latest that does leaves
 * most time to arrange it, but the cheapest is the best. */
static int find_better(const struct burn_ask *ask, const double *runs, struct arena *a)
{
    int found = -1;
    double least = (double)INFINITY;
    for (int k = 0; k < ask->n; k++) {
        bool burn[BURN_JOBS_MOST + 1] = {false};
        if (stop_of(ask, k).permitted) {
            continue;
        }
        double cost = best_set(ask, runs, k, burn);
        if (!burn[k] || !(cost < least)) {
            continue;
        }
        struct course c = {.ask = ask, .a = a};
        follow(&c, burn);
        if (!too_risky(c.sum.derated, c.sum.past)) {
            found = k;
            least = cost;
        }
    }
    return found;
}

static void add_percent(struct text *t, double share)
{
    text_number(t, 100 * share, share < 0.1 ? 1 : 0);
    text_addz(t, " %");
}

static void refuse(const struct burn_ask *ask, struct burn_plan *plan, const double *runs, struct arena *a)
{
    struct text t = text_new(a);
    text_addz(&t, "even by the best plan the chance of lost power is ");
    add_percent(&t, fmin(1, plan->derated));
    text_addz(&t, " (at most 5 %), of being past field burning ");
    add_percent(&t, fmin(1, plan->past));
    plan->refused = text_str(&t);
    plan->word = BURN_REFUSED;
    plan->better_stop = find_better(ask, runs, a);
    struct text right = text_new(a);
    if (plan->better_stop >= 0) {
        text_addz(&right, "a stop of ");
        text_number(&right, plan->stops[plan->better_stop].needs_min, 0);
        text_addz(&right, " min on hard standing in the open, clear of all that burns, before job ");
        text_int(&right, plan->better_stop + 1);
        text_addz(&right, ", ");
        text_add(&right, ask->jobs[plan->better_stop].name);
    } else {
        text_addz(&right, "fewer hours between places where a burn is permitted, or more than one such stop");
    }
    plan->right = text_str(&right);
}

/* ---- Asking ------------------------------------------------------------------------------------------------------ */

static bool check(const struct burn_ask *ask, struct err *e)
{
    if (!soot_filter_check(ask->filter, e)) {
        return false;
    }
    if (ask->n < 1 || ask->n > BURN_JOBS_MOST) {
        return domain_refuse("no job, or too many", "1 to 60 jobs", e);
    }
    double sum = 0;
    for (int k = 0; k < ask->n; k++) {
        const struct burn_job *job = &ask->jobs[k];
        if (!domain_within("hours of a job", job->hours, "", 0.05, 100, e)) {
            return err_context(e, job->name);
        }
        if (job->duty != SOOT_USUAL && (job->duty < 0 || job->duty >= ask->filter->n_duties)) {
            return domain_refuse("a job has a duty that this filter does not know", "one of its duties", e);
        }
        if (!(job->stop_min >= 0)) {
            return domain_refuse("the minutes of a stop are no number", "0 or more", e);
        }
        sum += job->hours;
    }
    return domain_within("hours of all jobs", sum, "", 0.05, 400, e) &&
           domain_within("minutes of a parked burn", ask->burn_min, "", 1, 240, e) &&
           domain_within("minutes of cooling", ask->cool_min, "", 0, 480, e);
}

/* A burn that somebody wants must be permitted. */
static bool check_wanted(const struct burn_ask *ask, const struct burn_plan *plan, struct err *e)
{
    for (int k = 0; k < ask->n; k++) {
        const struct burn_stop_plan *s = &plan->stops[k];
        if (!wanted(ask, k) || s->permitted) {
            continue;
        }
        struct text why = text_new(e->a);
        for (int i = 0; i < BURN_PLACE_COUNT; i++) {
            if (s->because & 1U << i) {
                text_join(&why, why.n ? "; " : "", burn_place_why((enum burn_place)i), (char *)0);
            }
        }
        if (s->too_short) {
            text_addz(&why, why.n ? "; " : "");
            text_addz(&why, "the stop has ");
            text_number(&why, stop_minutes(ask, k), 0);
            text_addz(&why, " min and a burn needs ");
            text_number(&why, s->needs_min, 0);
        }
        return err_set(e, ERR_REFUSED, "a stop on hard standing in the open with enough time", "no parked burn before ",
                       str_z(e->a, ask->jobs[k].name), ": ", text_z(&why), (char *)0);
    }
    return true;
}

bool burn_plan_make(const struct burn_ask *ask, struct arena *a, struct burn_plan *plan, struct err *e)
{
    *plan = (struct burn_plan){.better_stop = -1};
    if (!check(ask, e)) {
        return false;
    }
    plan->n = ask->n;
    plan->jobs = ARENA_ARRAY(a, struct burn_job_plan, ask->n);
    plan->stops = ARENA_ARRAY(a, struct burn_stop_plan, ask->n + 1);
    for (int k = 0; k <= ask->n; k++) {
        plan->stops[k] = stop_of(ask, k);
    }
    if (!check_wanted(ask, plan, e)) {
        return false;
    }
    bool burn[BURN_JOBS_MOST + 1] = {false};
    bool none[BURN_JOBS_MOST + 1] = {false};
    const double *runs = all_runs(ask, a);
    plan->cost_min = best_set(ask, runs, -1, burn);
    plan->idle_cost_min = cost_between(ask, runs, -1, ask->n);
    for (int k = 0; k < ask->n; k++) {
        plan->stops[k].burn = burn[k];
        plan->n_burns += burn[k];
    }
    struct course course = {.ask = ask, .a = a, .plan = plan};
    follow(&course, burn);
    struct course idle = {.ask = ask, .a = a};
    follow(&idle, none);
    plan->demanded = fmin(1, course.sum.demanded);
    plan->derated = fmin(1, course.sum.derated);
    plan->past = fmin(1, course.sum.past);
    plan->idle_demanded = fmin(1, idle.sum.demanded);
    plan->idle_derated = fmin(1, idle.sum.derated);
    plan->word = plan->n_burns ? BURN_PLANNED : BURN_NONE_NEEDED;
    if (ask->now->past > 0.5) {
        plan->word = BURN_PAST;
        plan->refused = S("the filter is past burning in the field");
        plan->right = S("the workshop: do not start a burn");
    } else if (too_risky(course.sum.derated, course.sum.past)) {
        refuse(ask, plan, runs, a);
    }
    return true;
}
