/* Quantiles of a mixture of first passages, by halving. */
#include "reserve/points.h"

#include <math.h>

#define FAR_DAYS 36525.0

double reserve_points_by_day(const struct reserve_points *points, const struct usage_state *usage, double day)
{
    double sum = 0;
    if (points->by_hours && !(usage && usage->known)) {
        return NAN;
    }
    for (int i = 0; i < points->n; i++) {
        if (!isfinite(points->at[i])) {
            continue;
        }
        sum += !points->by_hours ? points->at[i] <= day : usage_passage(usage, points->at[i] - usage->total, day).p;
    }
    return sum / points->n;
}

/* First day with P(T <= day) >= p; DAY_NONE when that never comes. */
static day_t day_of(const struct reserve_points *points, const struct usage_state *usage, day_t today, double p)
{
    double low = today;
    double step = 4;
    if (!(reserve_points_by_day(points, usage, today + FAR_DAYS) >= p)) {
        return DAY_NONE;
    }
    if (reserve_points_by_day(points, usage, low) >= p) {
        return today;
    }
    while (reserve_points_by_day(points, usage, low + step) < p) {
        low += step;
        step *= 2;
    }
    double high = low + step;
    while (high - low > 0.02) {
        double middle = (low + high) / 2;
        if (reserve_points_by_day(points, usage, middle) < p) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return (day_t)floor(high);
}

struct reserve reserve_of_points(const struct reserve_points *points, bool out, double hours_now, day_t today,
                                 const struct usage_state *usage)
{
    struct reserve r = reserve_unknown();
    r.rule = points->by_hours ? RESERVE_HOURS : RESERVE_CALENDAR;
    r.out = out;
    r.usage = usage;
    r.points = points;
    r.spread_known = true;
    if (points->n > 0 && (!points->by_hours || (usage && usage->known))) {
        r.p10 = day_of(points, usage, today, 0.1);
        r.p50 = day_of(points, usage, today, 0.5);
        r.p90 = day_of(points, usage, today, 0.9);
    }
    double middle = points->n > 0 ? (points->at[(points->n - 1) / 2] + points->at[points->n / 2]) / 2 : (double)NAN;
    if (points->by_hours && isfinite(middle)) {
        r.due_total_h = middle;
        r.hours_left = middle - hours_now;
        r.hours_day = r.p50;
    } else if (!points->by_hours) {
        r.calendar_day = r.p50;
    }
    return r;
}
