/* The finer model, and a driver who follows one of three ways. */
#include "exhaust_world.h"

#include "base/arena.h"

#include <math.h>
#include <stdint.h>

#define WEEKS 26
#define AHEAD 5     /* days that are known ahead */
#define FULL_G 20.0 /* soot at 100 % */

struct random {
    uint64_t state;
};

/* splitmix64, public domain (Vigna). */
static uint64_t next(struct random *r)
{
    uint64_t z = (r->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}
static double uniform(struct random *r)
{
    return ((double)(next(r) >> 11) + 0.5) / 9007199254740992.0;
}
static double normal(struct random *r)
{
    double u = uniform(r);
    return sqrt(-2 * log(u)) * cos(2 * 3.14159265358979323846 * uniform(r));
}

/* ---- the machine ------------------------------------------------------------------------------------------------- */

/* Duties: digging hard, even work, driving, idling about. */
static const struct {
    double load, idle, rough; /* mean load, share of minutes at idle, how fast the load changes */
} duties[] = {{0.72, 0.10, 0.25}, {0.55, 0.15, 0.12}, {0.35, 0.20, 0.10}, {0.12, 0.60, 0.08}};
#define DUTIES 4

struct machine {
    struct random weather;
    double dirt;        /* its own factor */
    double soot_g, ash; /* ash: share of the gauge */
    double load, temp_c;
    double burning_min; /* of a burn of its own under way */
    double idle_min;
};

/* A minute; true when a burn of its own came to its end. */
static bool minute(struct machine *m, int duty, double day_factor, bool may_burn, bool demanded)
{
    bool idle = uniform(&m->weather) < duties[duty].idle;
    double target = idle ? 0.06 : duties[duty].load;
    double before = m->load;
    m->load += 0.35 * (target - m->load) + duties[duty].rough * 0.3 * normal(&m->weather);
    m->load = fmin(1, fmax(0.04, m->load));
    double steady_c = 140 + 330 * m->load + 10 * normal(&m->weather);
    m->temp_c += (steady_c - m->temp_c) / 4;
    /* Made: much at idle for what it does, more with load, and puffs when the load rises. */
    double made = 0.0075 + 0.012 * m->load + 0.05 * fmax(0, m->load - before);
    m->soot_g += made * m->dirt * day_factor;
    double passive = 2.6e4 * exp(-80000 / (8.314 * (m->temp_c + 273.15))) / 60; /* a minute */
    m->soot_g *= 1 - passive;
    m->idle_min = idle ? m->idle_min + 1 : 0;
    bool wants = may_burn && !demanded && (m->burning_min > 0 || m->soot_g >= 0.8 * FULL_G);
    if (!wants || m->idle_min > 3 || m->temp_c < 230) {
        m->burning_min = 0;
        return false;
    }
    m->burning_min++;
    m->soot_g *= 1 - 0.075;
    if (m->burning_min < 18) {
        return false;
    }
    m->burning_min = 0;
    return true;
}

static double gauge(struct machine *m)
{
    double shown = m->soot_g / FULL_G + m->ash + 0.02 * normal(&m->weather);
    return fmax(0, round(shown * 100) / 100);
}

/* ---- the season -------------------------------------------------------------------------------------------------- */

struct day {
    bool works;
    int duty;
    double hours;
    burn_places places, stop; /* of the job, of the place it stands in the morning */
};

/* Weeks of work: dusty ones, dry ones, a fire ban now and then; in campaigns the machine comes to the depot's yard only
 * on Mondays and Thursdays. */
static void make_days(struct random *r, struct day *days)
{
    int ban = 0;
    for (int week = 0; week < WEEKS; week++) {
        bool summer = week >= 6 && week < 20;
        ban = ban > 0 ? ban - 1 : summer && uniform(r) < 0.25 ? 1 + (int)(2 * uniform(r)) : 0;
        bool dry = summer && uniform(r) < 0.6;
        bool campaign = uniform(r) < 0.6;
        int usual = (int)(3 * uniform(r));
        for (int i = 0; i < 7; i++) {
            struct day *d = &days[week * 7 + i];
            *d = (struct day){.works = i < 5 || (i == 5 && uniform(r) < 0.4),
                              .duty = uniform(r) < 0.75 ? usual : (int)(DUTIES * uniform(r)),
                              .hours = 4 + 5 * uniform(r)};
            d->places = (dry ? 1U << PLACE_DRY : 0) | (ban ? 1U << PLACE_FIRE_BAN : 0) |
                        (uniform(r) < 0.2 ? 1U << PLACE_DUSTY : 0);
            bool yard = !campaign || i == 0 || i == 3;
            d->stop = (yard ? 1U << PLACE_HARD : d->places) | (d->places & 1U << PLACE_FIRE_BAN);
        }
    }
}

struct soot_filter world_filter(void)
{
    return (struct soot_filter){
        .duty = {{0.06, 0.045, 0.9, 0.3}, {0.05, 0.025, 0.8, 0.3}, {0.045, 0.01, 0.3, 0.25}, {0.03, 0, 0.02, 0.15}},
        .n_duties = DUTIES,
        .begin = 0.8,
        .demand = 1,
        .derate = 1.4,
        .past = 2,
        .active_leaves = 0.22,
        .parked_leaves = 0.12,
        .spread = 0.35,
        .scatter = 0.3,
        .gauge = 0.03};
}

/* ---- the driver -------------------------------------------------------------------------------------------------- */

struct driver {
    struct soot_filter filter;
    struct soot_rates rates;
    double known, deviation; /* load known last */
    double since[DUTIES];    /* hours of each duty since */
    bool unseen;             /* it may have burnt by itself since */
    struct arena arena;
};

static void know(struct driver *w, double load, double deviation)
{
    for (int i = 0; i < DUTIES; i++) {
        w->since[i] = 0;
    }
    w->known = load;
    w->deviation = deviation;
    w->unseen = false;
}

static void read_gauge(struct driver *w, double shown)
{
    double hours = 0;
    for (int i = 0; i < DUTIES; i++) {
        hours += w->since[i];
    }
    struct soot_stretch s = {.from = w->known,
                             .from_sd = w->deviation,
                             .to = shown,
                             .to_sd = w->filter.gauge,
                             .hours = hours,
                             .by_duty = w->since,
                             .may_burn = w->unseen};
    (void)soot_learn(&w->filter, &w->rates, &s);
    know(w, shown, w->filter.gauge);
}

static struct soot_belief *belief_of(struct driver *w)
{
    struct soot_belief *b = soot_belief_new(&w->arena, &w->filter, w->known, w->deviation);
    for (int i = 0; i < DUTIES; i++) {
        if (w->since[i] > 0) {
            (void)soot_work(&w->filter, &w->rates, b, i, w->since[i], w->unseen, &w->arena);
        }
    }
    return b;
}

/* Does the plan over the coming days burn at once? */
static bool plan_says(struct driver *w, const struct day *days, int from)
{
    struct burn_job jobs[AHEAD];
    int n = 0;
    for (int d = from; d < WEEKS * 7 && n < AHEAD; d++) {
        if (days[d].works) {
            jobs[n++] = (struct burn_job){.name = S("job"),
                                          .duty = days[d].duty,
                                          .hours = days[d].hours,
                                          .places = days[d].places,
                                          .stop = days[d].stop,
                                          .stop_min = BURN_STOP_ENOUGH};
        }
    }
    struct burn_ask ask = {.filter = &w->filter,
                           .rates = &w->rates,
                           .now = belief_of(w),
                           .jobs = jobs,
                           .n = n,
                           .burn_min = 25,
                           .cool_min = 25,
                           .costs = burn_costs_default(),
                           .last_stop_min = BURN_STOP_ENOUGH};
    struct burn_plan plan;
    struct err e = err_new(&w->arena);
    return burn_plan_make(&ask, &w->arena, &plan, &e) && plan.stops[0].burn;
}

static bool morning_burn(struct driver *w, enum world_policy policy, const struct day *days, int d)
{
    if (burn_forbids_parked(days[d].stop)) {
        return false;
    }
    return policy == WORLD_RULE ? w->known >= 0.75 : policy == WORLD_ADVICE ? plan_says(w, days, d) : false;
}

/* P10 and P90 of the load at the day's end, without burning. */
static void band_of(struct driver *w, const struct day *day, double *low, double *high)
{
    struct soot_belief *b = belief_of(w);
    (void)soot_work(&w->filter, &w->rates, b, day->duty, day->hours, false, &w->arena);
    *low = soot_quantile(b, 0.1);
    *high = soot_quantile(b, 0.9);
}

static void parked(struct machine *m, struct driver *w)
{
    m->soot_g = 0.12 * FULL_G * (0.8 + 0.4 * uniform(&m->weather));
    know(w, w->filter.parked_leaves, 0.04);
}

/* A day's work; a demand in it is met at once where it may be, else in the evening at a place nearby. */
static void work_day(struct machine *m, struct driver *w, const struct day *day, struct world_result *result)
{
    struct burn_costs costs = burn_costs_default();
    bool forbidden = burn_forbids_working(day->places, 0) != 0;
    bool here = burn_forbids_parked(day->places) == 0;
    bool demanded = false;
    bool lost = false;
    double factor = exp(0.25 * normal(&m->weather) - 0.03);
    for (int i = 0; i < (int)(day->hours * 60); i++) {
        if (minute(m, day->duty, factor, !forbidden, demanded)) {
            result->own++;
        }
        if (!demanded && m->soot_g >= FULL_G) {
            demanded = true;
            result->surprises++;
            result->surprises_forbidden += !here;
            result->lost_min += here ? costs.forced_here : costs.forced_away;
        }
        if (!lost && m->soot_g >= 1.4 * FULL_G) {
            lost = true;
            result->derated++;
            result->lost_min += costs.derated;
        }
    }
    w->since[day->duty] += day->hours;
    w->unseen = w->unseen || !forbidden;
    m->ash += 1e-4 * day->hours / 8;
    if (demanded) {
        parked(m, w);
        result->forced++;
    }
}

struct world_result world_season(unsigned seed, enum world_policy policy)
{
    struct random r = {seed * 2654435761u + 17};
    struct day days[WEEKS * 7];
    struct world_result result = {0};
    make_days(&r, days);
    struct machine m = {.weather = {next(&r)}, .soot_g = 0.3 * FULL_G, .temp_c = 150, .load = 0.1};
    m.dirt = exp(0.25 * normal(&r));
    struct driver w = {.filter = world_filter(), .known = 0.3, .deviation = 0.05, .arena = arena_new(&arena_libc)};
    w.rates = soot_rates_of_book(&w.filter);
    for (int d = 0; d < WEEKS * 7; d++) {
        struct arena_mark mark = arena_mark(&w.arena);
        if (!days[d].works) {
            continue;
        }
        if (uniform(&m.weather) < 0.85) {
            read_gauge(&w, gauge(&m));
        }
        if (morning_burn(&w, policy, days, d)) {
            parked(&m, &w);
            result.planned++;
            result.lost_min += burn_costs_default().prepare + 25;
        }
        bool forbidden = burn_forbids_working(days[d].places, 0) != 0;
        double low = 0;
        double high = 0;
        if (forbidden) {
            band_of(&w, &days[d], &low, &high);
        }
        int surprises = result.surprises;
        work_day(&m, &w, &days[d], &result);
        result.days++;
        result.jobs_forbidden += forbidden;
        if (forbidden && result.surprises == surprises) {
            double truth = m.soot_g / FULL_G;
            result.bands++;
            result.held += low <= truth && truth <= high;
        } else if (forbidden) { /* it reached the demand: the truth was higher than that */
            result.bands++;
            result.held += high >= 1;
        }
        arena_rewind(&w.arena, mark);
    }
    arena_free(&w.arena);
    return result;
}

void world_add(struct world_result *sum, const struct world_result *one)
{
    sum->days += one->days;
    sum->jobs_forbidden += one->jobs_forbidden;
    sum->surprises += one->surprises;
    sum->surprises_forbidden += one->surprises_forbidden;
    sum->derated += one->derated;
    sum->planned += one->planned;
    sum->forced += one->forced;
    sum->own += one->own;
    sum->bands += one->bands;
    sum->held += one->held;
    sum->lost_min += one->lost_min;
}
