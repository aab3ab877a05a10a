/* The depot's clock: how much of a normal day's use each day of the year brings. */
#include "meter/usage.h"

#include <math.h>
#include <string.h>

#define DAYS_MOST 2000000.0 /* machine days looked at */
#define PASSES 12
#define DRAW_DAYS 30.0    /* days of a week's weight that `toward` counts for: four machine weeks */
#define DRAW_WEEKDAY 20.0 /* the same for a weekday */
#define TELLING_DAYS 30.0 /* a step no longer than that tells its weeks apart */
#define LEAST_WEIGHT 0.02 /* no day is quite without use */
#define YEARS_AHEAD 15
#define LONGEST_DAYS 400.0 /* a step longer than that says nothing of the season */

/* Sums of one pass: shared-out use and what the other factor would let expect, by weekday and by week. */
struct sums {
    double used_weekday[7], days_weekday[7];
    double used_week[USAGE_WEEKS], days_week[USAGE_WEEKS];
};

/* Weekday and week of every day from `first`. */
struct almanac {
    day_t first;
    int n;
    unsigned char *weekday, *week;
};

static struct almanac almanac_of(struct arena *a, day_t first, int n)
{
    struct almanac al = {first, n, ARENA_ARRAY(a, unsigned char, n), ARENA_ARRAY(a, unsigned char, n)};
    for (int i = 0; i < n;) {
        struct civil c = civil_of_day(first + i);
        day_t new_year = 0;
        day_t next = 0;
        (void)day_of_civil((struct civil){c.year, 1, 1}, &new_year);
        (void)day_of_civil((struct civil){c.year + 1, 1, 1}, &next);
        for (; i < n && first + i < next; i++) {
            int week = (first + i - new_year) / 7;
            al.week[i] = (unsigned char)(week < USAGE_WEEKS ? week : USAGE_WEEKS - 1);
            al.weekday[i] = (unsigned char)(day_weekday(first + i) - 1);
        }
    }
    return al;
}

/* The part of the day [day, day + 1) that lies in [from, to) and in service. */
static double part_of_day(const struct usage_machine *m, double day, double from, double to)
{
    double low = fmax(day, from);
    double high = fmin(day + 1, to);
    double part = fmax(0, high - low);
    for (int i = 0; i < m->n_pauses && part > 0; i++) {
        part -= fmax(0, fmin(high, m->pauses[i][1]) - fmax(low, m->pauses[i][0]));
    }
    return fmax(0, part);
}

static double weight_of(const struct usage_clock *c, const struct almanac *al, int i)
{
    return c->weekday[al->weekday[i]] * c->week[al->week[i]];
}

/* Expected clock of one step; 0 when it is too long to tell. */
static double step_clock(const struct usage_clock *c, const struct almanac *al, const struct usage_machine *m, int step)
{
    double from = m->day[step];
    double to = m->day[step + 1];
    double sum = 0;
    if (to - from > LONGEST_DAYS) {
        return 0;
    }
    for (double day = floor(from); day < to; day++) {
        sum += weight_of(c, al, (int)(day - al->first)) * part_of_day(m, day, from, to);
    }
    return sum;
}

/* Shares one machine's hours out to the days of its steps, in units of its own normal day. */
static void share_out(struct sums *sums, const struct usage_clock *c, const struct almanac *al,
                      const struct usage_machine *m)
{
    double hours = 0;
    double clock = 0;
    for (int i = 0; i + 1 < m->n; i++) {
        double s = step_clock(c, al, m, i);
        hours += s > 0 ? m->total[i + 1] - m->total[i] : 0;
        clock += s;
    }
    if (!(hours > 0) || !(clock > 14)) { /* too short to have a normal day */
        return;
    }
    for (int i = 0; i + 1 < m->n; i++) {
        double s = step_clock(c, al, m, i);
        if (!(s > 0)) {
            continue;
        }
        double ratio = (m->total[i + 1] - m->total[i]) / hours * clock / s;
        double tells = fmin(1, TELLING_DAYS / (m->day[i + 1] - m->day[i]));
        for (double day = floor(m->day[i]); day < m->day[i + 1]; day++) {
            int at = (int)(day - al->first);
            double part = tells * part_of_day(m, day, m->day[i], m->day[i + 1]);
            double used = ratio * weight_of(c, al, at) * part;
            sums->used_weekday[al->weekday[at]] += used;
            sums->used_week[al->week[at]] += used;
            sums->days_weekday[al->weekday[at]] += part * c->week[al->week[at]];
            sums->days_week[al->week[at]] += part * c->weekday[al->weekday[at]];
        }
    }
}

/* Scales factors to mean 1. */
static void to_mean_one(double *x, int n)
{
    double sum = 0;
    for (int i = 0; i < n; i++) {
        x[i] = fmax(x[i], LEAST_WEIGHT);
        sum += x[i];
    }
    for (int i = 0; i < n; i++) {
        x[i] *= n / sum;
    }
}

/* New factors from the sums of a pass: drawn toward `toward`, weeks smoothed with their neighbours by 1 2 3 2 1. */
static void update(struct usage_clock *c, const struct sums *sums, const struct usage_clock *toward)
{
    static const double kernel[] = {1, 2, 3, 2, 1};
    c->unknown = 0;
    for (int i = 0; i < 7; i++) {
        double prior = toward ? toward->weekday[i] : 1;
        c->weekday[i] = (DRAW_WEEKDAY * prior + sums->used_weekday[i]) / (DRAW_WEEKDAY + sums->days_weekday[i]);
    }
    for (int i = 0; i < USAGE_WEEKS; i++) {
        double used = 0;
        double days = 0;
        for (int k = -2; k <= 2; k++) {
            int j = (i + k + USAGE_WEEKS) % USAGE_WEEKS;
            used += kernel[k + 2] / 3 * sums->used_week[j];
            days += kernel[k + 2] / 3 * sums->days_week[j];
        }
        double prior = toward ? toward->week[i] : 1;
        c->week[i] = (DRAW_DAYS * prior + used) / (DRAW_DAYS + days);
        c->unknown += DRAW_DAYS / (DRAW_DAYS + days) / USAGE_WEEKS;
    }
    c->unknown *= toward ? toward->unknown + (1 - toward->unknown) / 2 : 1;
    to_mean_one(c->weekday, 7);
    to_mean_one(c->week, USAGE_WEEKS);
}

/* The running sum by which the clock is read in one step. */
static void sum_up(struct arena *a, struct usage_clock *c, day_t first, int n)
{
    struct arena_mark mark = arena_mark(a);
    double *sum = ARENA_ARRAY(a, double, n + 1);
    struct arena_mark kept = arena_mark(a);
    (void)mark;
    struct almanac al = almanac_of(a, first, n);
    for (int i = 0; i < n; i++) {
        sum[i + 1] = sum[i] + weight_of(c, &al, i);
    }
    arena_rewind(a, kept);
    c->first = first;
    c->n = n;
    c->sum = sum;
}

struct usage_clock usage_clock_fit(struct arena *a, const struct usage_machine *m, int n, int family,
                                   const struct usage_clock *toward, day_t today)
{
    struct usage_clock c = {.unknown = 1};
    for (int i = 0; i < 7; i++) {
        c.weekday[i] = toward ? toward->weekday[i] : 1;
    }
    for (int i = 0; i < USAGE_WEEKS; i++) {
        c.week[i] = toward ? toward->week[i] : 1;
    }
    double first = today - 366.0;
    double last = today;
    double days = 0;
    for (int i = 0; i < n; i++) {
        if (m[i].n) {
            first = fmin(first, floor(m[i].day[0]));
            last = fmax(last, m[i].day[m[i].n - 1]);
            days += family < 0 || m[i].family == family ? m[i].day[m[i].n - 1] - m[i].day[0] : 0;
        }
    }
    struct arena_mark mark = arena_mark(a);
    struct almanac al = almanac_of(a, (day_t)first, (int)(last - first) + 2);
    int stride = (int)ceil(fmax(1, days / DAYS_MOST));
    for (int pass = 0; pass < PASSES && days > 0; pass++) {
        struct sums sums = {0};
        int seen = 0;
        for (int i = 0; i < n; i++) {
            if ((family < 0 || m[i].family == family) && m[i].n >= 2 && seen++ % stride == 0) {
                share_out(&sums, &c, &al, &m[i]);
            }
        }
        update(&c, &sums, toward);
    }
    arena_rewind(a, mark);
    c.machine_days = days;
    sum_up(a, &c, (day_t)first, (int)(last - first) + 2 + YEARS_AHEAD * 366);
    return c;
}

double usage_clock_at(const struct usage_clock *c, double day)
{
    double x = day - c->first;
    if (x < 0) {
        return x;
    }
    if (x >= c->n) {
        return c->sum[c->n] + (x - c->n);
    }
    int i = (int)x;
    return c->sum[i] + (x - i) * (c->sum[i + 1] - c->sum[i]);
}

double usage_clock_day(const struct usage_clock *c, double s)
{
    if (s < 0) {
        return c->first + s;
    }
    if (s >= c->sum[c->n]) {
        return c->first + c->n + (s - c->sum[c->n]);
    }
    int low = 0; /* sum[low] <= s < sum[high] */
    int high = c->n;
    while (high - low > 1) {
        int middle = low + (high - low) / 2;
        if (c->sum[middle] <= s) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return c->first + low + (s - c->sum[low]) / (c->sum[high] - c->sum[low]);
}

double usage_clock_between(const struct usage_clock *c, const struct usage_machine *m, double from, double to)
{
    double s = usage_clock_at(c, to) - usage_clock_at(c, from);
    for (int i = 0; i < m->n_pauses; i++) {
        double low = fmax(from, m->pauses[i][0]);
        double high = fmin(to, m->pauses[i][1]);
        if (high > low) {
            s -= usage_clock_at(c, high) - usage_clock_at(c, low);
        }
    }
    return fmax(s, 0);
}
