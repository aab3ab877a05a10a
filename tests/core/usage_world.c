/* Histories by chance. */
#include "usage_world.h"

#include <math.h>

#define DAY ((instant_ms)86400000)
#define FIRST_DAY 17897 /* 2019-01-01 */

double world_uniform(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return ((double)(*x >> 11) + 0.5) / 9007199254740992.0;
}

double world_normal(uint64_t *x)
{
    double r = sqrt(-2 * log(world_uniform(x)));
    return r * cos(6.283185307179586 * world_uniform(x));
}

/* Student's t: a normal over the root of a mean of squares. */
static double student(uint64_t *x, double df)
{
    double sum = 0;
    for (int i = 0; i < (int)df; i++) {
        double z = world_normal(x);
        sum += z * z;
    }
    return world_normal(x) / sqrt(sum / df);
}

struct usage_world usage_world_plain(uint64_t seed)
{
    return (struct usage_world){.seed = seed,
                                .machines = 60,
                                .families = 3,
                                .days = 900,
                                .machine_effect = 0.4,
                                .job_effect = 0.5,
                                .day_effect = 0.5,
                                .stop = 0.25,
                                .start = 0.2,
                                .season = 1};
}

/* Two peaks a year, in May and in September; mean about 1. */
static double season_of(const struct usage_world *w, day_t day)
{
    double year = fmod((double)(day - FIRST_DAY) / 365.25, 1);
    double spring = exp(-pow((year - 0.37) / 0.09, 2));
    double autumn = exp(-pow((year - 0.70) / 0.09, 2));
    return (0.6 + w->season * (spring + autumn)) / (0.6 + w->season * 0.32);
}

/* Is the machine laid up, and did somebody write it down? */
static bool laid_up(const struct usage_world *w, int machine, int day, bool *written)
{
    if (!w->lay_up || machine % 3 != 0) {
        return false;
    }
    int year = day / 365;
    int begin = 30 + (machine * 37 + year * 11) % 60;
    *written = (machine / 3 + year) % 2 == 0;
    return day % 365 >= begin && day % 365 < begin + 70;
}

/* One machine, day by day; read after 1 to 60 days. */
static void live(struct arena *a, const struct usage_world *w, int machine, struct backtest_machine *out)
{
    uint64_t x = w->seed * 0x9E3779B97F4A7C15u + (uint64_t)machine * 0xD1B54A32D192ED03u + 1;
    for (int i = 0; i < 8; i++) {
        (void)world_uniform(&x);
    }
    struct meter_reading *readings = ARENA_ARRAY(a, struct meter_reading, w->days);
    struct meter_reading *outcome = ARENA_ARRAY(a, struct meter_reading, w->days);
    struct meter_pause *pauses = ARENA_ARRAY(a, struct meter_pause, w->days / 300 + 2);
    int family = machine % w->families;
    double rate = (3.0 + 2.0 * family) * exp(w->machine_effect * world_normal(&x));
    double job = exp(w->job_effect * world_normal(&x));
    double job_left = 10 - 75 * log(world_uniform(&x));
    bool working = world_uniform(&x) < 0.5;
    bool was_laid_up = false;
    double total = floor(2000 * world_uniform(&x));
    int next_reading = 0;
    for (int day = 0; day < w->days; day++) {
        working = working ? world_uniform(&x) > w->stop : world_uniform(&x) < w->start;
        if (--job_left <= 0) {
            job = exp(w->job_effect * world_normal(&x));
            job_left = 10 - 75 * log(world_uniform(&x));
        }
        bool written = false;
        bool laid = laid_up(w, machine, day, &written) && written;
        if (laid && !was_laid_up) {
            pauses[out->n_pauses++] = (struct meter_pause){(FIRST_DAY + day) * DAY, (FIRST_DAY + w->days) * DAY};
        } else if (!laid && was_laid_up) {
            pauses[out->n_pauses - 1].to = (FIRST_DAY + day) * DAY;
        }
        was_laid_up = laid;
        double scatter = w->tail > 0 ? student(&x, w->tail) : world_normal(&x);
        bool stands = laid_up(w, machine, day, &written) || day_weekday(FIRST_DAY + day) == 7;
        if (working && !stands) {
            total += fmin(16, rate * season_of(w, FIRST_DAY + day) * job * exp(w->day_effect * scatter));
        }
        outcome[day] =
            (struct meter_reading){.at = (FIRST_DAY + day) * DAY + DAY / 4 * 3, .hours = total, .source = day};
        if (day >= next_reading) {
            double slip = world_uniform(&x) < w->slips ? 40 * world_uniform(&x) - 20 : 0;
            double shown = fmax(0, round((total + slip) * 10) / 10);
            readings[out->n++] =
                (struct meter_reading){.at = (FIRST_DAY + day) * DAY + DAY / 4 * 3, .hours = shown, .source = out->n};
            next_reading = day + 1 + (int)(60 * world_uniform(&x));
        }
    }
    out->family = family;
    out->readings = readings;
    out->pauses = pauses;
    out->outcome = outcome;
    out->n_outcome = w->days;
}

struct backtest_machine *usage_world_make(struct arena *a, const struct usage_world *w)
{
    struct backtest_machine *m = ARENA_ARRAY(a, struct backtest_machine, w->machines);
    for (int i = 0; i < w->machines; i++) {
        live(a, w, i, &m[i]);
    }
    return m;
}
