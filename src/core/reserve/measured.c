/* Trends toward a limit: the line, its crossing, and the day of it. */
#include "reserve/measured.h"

#include <math.h>

#define LEAST_READINGS 3
#define NODES 9 /* quantiles of the crossing that stand for all of it */
#define PRIOR_PAIRS 1.0
#define FAR_DAYS 36525.0

struct reserve_trend reserve_trend_of(const struct trend_ask *ask)
{
    struct reserve_trend t = {.by_hours = ask->by_hours, .logarithm = ask->logarithm, .n = ask->n};
    double sum_x = 0;
    double sum_y = 0;
    t.first = (double)INFINITY;
    t.last = -(double)INFINITY;
    for (int i = 0; i < ask->n; i++) {
        double y = ask->logarithm ? log(ask->readings[i].value) : ask->readings[i].value;
        if (!isfinite(y) || !isfinite(ask->readings[i].at)) {
            return t;
        }
        sum_x += ask->readings[i].at;
        sum_y += y;
        t.first = fmin(t.first, ask->readings[i].at);
        t.last = fmax(t.last, ask->readings[i].at);
    }
    if (ask->n < LEAST_READINGS || !(t.last > t.first) || !(ask->deviation > 0)) {
        return t;
    }
    t.middle = sum_x / ask->n;
    t.mean = sum_y / ask->n;
    double sxx = 0;
    double sxy = 0;
    double syy = 0;
    for (int i = 0; i < ask->n; i++) {
        double x = ask->readings[i].at - t.middle;
        double y = (ask->logarithm ? log(ask->readings[i].value) : ask->readings[i].value) - t.mean;
        sxx += x * x;
        sxy += x * y;
        syy += y * y;
    }
    t.slope = sxy / sxx;
    t.upper = t.slope > 0;
    t.limit = t.upper ? ask->high : ask->low;
    t.goal = ask->logarithm ? log(t.limit) : t.limit;
    /* On the logarithmic scale a small deviation is relative. */
    double noise = ask->logarithm ? ask->deviation / fabs(exp(t.mean)) : ask->deviation;
    t.df = ask->n - 2 + 2 * PRIOR_PAIRS;
    double variance = (2 * PRIOR_PAIRS * noise * noise + fmax(0, syy - t.slope * sxy)) / t.df;
    t.var_mean = variance / ask->n;
    t.var_slope = variance / sxx;
    t.known = isfinite(t.goal) && t.slope != 0;
    return t;
}

/* How far the line's height at x is beyond the limit, in its own deviations. */
static double beyond(const struct reserve_trend *t, double x)
{
    double y = x - t->middle;
    double off = t->mean + t->slope * y - t->goal;
    return (t->upper ? off : -off) / sqrt(t->var_mean + t->var_slope * y * y);
}

double reserve_trend_passage(const struct reserve_trend *t, double x)
{
    if (!t->known || isnan(x)) {
        return NAN;
    }
    if (isinf(x)) {
        return student_tails(fabs(t->slope) / sqrt(t->var_slope), t->df).p;
    }
    /* Far behind the readings the line is so uncertain that the ratio turns back: before its least it counts as there.
     */
    double slope = fabs(t->slope);
    double goal = t->upper ? t->goal - t->mean : t->mean - t->goal;
    double least = goal > 0 ? t->middle - slope * t->var_mean / (goal * t->var_slope) : -(double)INFINITY;
    return student_tails(beyond(t, fmax(x, least)), t->df).p;
}

double reserve_trend_quantile(const struct reserve_trend *t, double p)
{
    if (!t->known || !(p > 0 && p < 1)) {
        return NAN;
    }
    /* slope y - goal = q sqrt(var_mean + var_slope y^2), turned so that the slope is upward; squared, and of both roots
     * the later one on the right side. */
    double q = student_quantile(tails_of_p(p), t->df);
    double slope = fabs(t->slope);
    double goal = t->upper ? t->goal - t->mean : t->mean - t->goal;
    double a = slope * slope - q * q * t->var_slope;
    double b = slope * goal;
    double inside = slope * slope * t->var_mean + t->var_slope * goal * goal - q * q * t->var_slope * t->var_mean;
    if (a == 0 || (q > 0 && a < 0)) {
        return q > 0 ? (double)INFINITY : t->middle + (goal * goal - q * q * t->var_mean) / (2 * b);
    }
    if (inside < 0) { /* surer than that it has never been of not having crossed */
        return -(double)INFINITY;
    }
    double root = fabs(q) * sqrt(inside); /* b^2 - a c without its cancellation */
    double one = (b + root) / a;
    double two = (b - root) / a;
    double later = fmax(one, two);
    double sooner = fmin(one, two);
    return t->middle + (q > 0 || (slope * later - goal) * q > 0 ? later : sooner);
}

double reserve_trend_by_day(const struct reserve_trend *t, const struct usage_state *usage, double day)
{
    if (!t->by_hours) {
        return reserve_trend_passage(t, day);
    }
    if (!usage || !usage->known) {
        return NAN;
    }
    double sum = 0;
    for (int j = 0; j < NODES; j++) {
        double x = reserve_trend_quantile(t, (j + 0.5) / NODES);
        if (isfinite(x) || x < 0) {
            sum += usage_passage(usage, x - usage->total, day).p;
        }
    }
    return sum / NODES;
}

/* Day by which it has crossed with probability p; INFINITY when not in a hundred years. */
static double day_of(const struct reserve_trend *t, const struct usage_state *usage, day_t today, double p)
{
    if (!t->by_hours) {
        return reserve_trend_quantile(t, p);
    }
    if (!usage || !usage->known) {
        return (double)INFINITY;
    }
    double low = today;
    double step = 8;
    while (step < FAR_DAYS && reserve_trend_by_day(t, usage, low + step) < p) {
        low += step;
        step *= 2;
    }
    if (step >= FAR_DAYS) {
        return (double)INFINITY;
    }
    double high = low + step;
    while (high - low > 0.01) {
        double middle = (low + high) / 2;
        if (reserve_trend_by_day(t, usage, middle) < p) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return high;
}

struct reserve reserve_measured(const struct reserve_trend *trend, double hours_now, day_t today,
                                const struct usage_state *usage)
{
    struct reserve r = reserve_unknown();
    r.rule = trend->known ? RESERVE_READING : RESERVE_NONE;
    r.usage = usage;
    r.trend = trend;
    if (!trend->known) {
        return r;
    }
    day_t *day[] = {&r.p10, &r.p50, &r.p90};
    static const double p[] = {0.1, 0.5, 0.9};
    for (int i = 0; i < 3; i++) {
        double x = day_of(trend, usage, today, p[i]);
        *day[i] = x < today + FAR_DAYS ? (day_t)floor(fmax(x, today)) : DAY_NONE;
    }
    if (trend->by_hours) {
        double x = reserve_trend_quantile(trend, 0.5);
        r.due_total_h = isfinite(x) ? x : (double)NAN;
        r.hours_left = r.due_total_h - hours_now;
        r.hours_day = r.p50;
    }
    r.spread_known = true;
    return r;
}
