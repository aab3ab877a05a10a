/* Reserves of what is due by hours or by the calendar. */
#include "reserve/measured.h"
#include "reserve/points.h"

#include <math.h>

#define FAR_DAYS 36525.0 /* a hundred years */

const char *reserve_rule_text(enum reserve_rule rule)
{
    static const char *const texts[] = {
#define X(symbol, text) [symbol] = (text),
        RESERVE_RULES(X)
#undef X
    };
    return texts[rule];
}

/* The earlier of two days, either of which may be missing. */
static day_t earlier(day_t a, day_t b)
{
    if (a == DAY_NONE || b == DAY_NONE) {
        return a == DAY_NONE ? b : a;
    }
    return a < b ? a : b;
}

/* The calendar limit: months keep the day of the month, days and weeks are counted. */
static day_t calendar_limit(struct interval interval, day_t since)
{
    if (since == DAY_NONE) {
        return DAY_NONE;
    }
    day_t by_months = interval.months ? day_add_months(since, interval.months) : DAY_NONE;
    day_t by_days = interval.days ? since + interval.days : DAY_NONE;
    return earlier(by_months, by_days);
}

struct reserve reserve_unknown(void)
{
    return (struct reserve){.hours_left = NAN,
                            .due_total_h = NAN,
                            .calendar_day = DAY_NONE,
                            .hours_day = DAY_NONE,
                            .p10 = DAY_NONE,
                            .p50 = DAY_NONE,
                            .p90 = DAY_NONE};
}

struct reserve reserve_predetermined(struct interval interval, struct reserve_since since, double hours_now,
                                     double hours_per_day, day_t today)
{
    struct reserve r = reserve_unknown();
    r.calendar_day = calendar_limit(interval, since.day);
    if (interval.hours > 0 && isfinite(since.total_h)) {
        r.due_total_h = since.total_h + interval.hours;
        r.hours_left = r.due_total_h - hours_now; /* NAN when the meter was never read */
        double days = r.hours_left <= 0 ? 0 : floor(r.hours_left / hours_per_day);
        if (isfinite(days) && days < FAR_DAYS) {
            r.hours_day = today + (day_t)days;
        }
    }
    bool over_hours = r.hours_left < 0;
    bool over_calendar = r.calendar_day != DAY_NONE && r.calendar_day < today;
    r.out = over_hours || over_calendar;
    r.p50 = earlier(r.hours_day, r.calendar_day);
    r.p10 = r.p90 = r.p50;
    bool hours_first = over_hours || (r.hours_day != DAY_NONE && r.p50 == r.hours_day && !over_calendar);
    if (r.calendar_day != DAY_NONE && !hours_first) {
        r.rule = RESERVE_CALENDAR;
    } else if (hours_first || isfinite(r.hours_left)) {
        r.rule = RESERVE_HOURS;
    }
    return r;
}

/* A day as a count; DAY_NONE beyond a hundred years. */
static day_t day_of(double day, day_t today)
{
    return day < today + FAR_DAYS ? (day_t)floor(fmax(day, today)) : DAY_NONE;
}

struct reserve reserve_forecast(struct interval interval, struct reserve_since since, double hours_now,
                                double hours_per_day, day_t today, const struct usage_state *usage)
{
    struct reserve r = reserve_predetermined(interval, since, hours_now, hours_per_day, today);
    if (!usage || !usage->known || r.out || !isfinite(r.hours_left)) {
        return r;
    }
    static const double p[] = {0.1, 0.5, 0.9};
    double day[3];
    usage_quantiles(usage, r.due_total_h - usage->total, p, 3, day);
    r.usage = usage;
    r.spread_known = true;
    r.hours_day = day_of(day[1], today);
    r.p10 = earlier(day_of(day[0], today), r.calendar_day);
    r.p50 = earlier(r.hours_day, r.calendar_day);
    r.p90 = earlier(day_of(day[2], today), r.calendar_day);
    r.rule = r.hours_day != DAY_NONE && r.p50 == r.hours_day ? RESERVE_HOURS
             : r.calendar_day != DAY_NONE                    ? RESERVE_CALENDAR
                                                             : RESERVE_HOURS;
    return r;
}

double reserve_overdue(const struct reserve *r, day_t day)
{
    if (r->out) {
        return 1;
    }
    if (r->points) {
        return reserve_points_by_day(r->points, r->usage, day);
    }
    if (r->trend) {
        return reserve_trend_by_day(r->trend, r->usage, day);
    }
    if (r->rule == RESERVE_NONE || (r->hours_day == DAY_NONE && r->calendar_day == DAY_NONE && !r->usage)) {
        return NAN;
    }
    double by_calendar = r->calendar_day != DAY_NONE && r->calendar_day < day ? 1 : 0;
    double by_hours = r->hours_day != DAY_NONE && r->hours_day < day ? 1 : 0;
    if (r->usage) {
        by_hours = usage_passage(r->usage, r->due_total_h - r->usage->total, day).p;
    }
    return 1 - (1 - by_hours) * (1 - by_calendar);
}

/* A day for ordering: unknown is last. */
static int64_t place_of(day_t day)
{
    return day == DAY_NONE ? INT64_MAX : day;
}

int reserve_cmp(const struct reserve *a, const struct reserve *b)
{
    if (a->out != b->out) {
        return a->out ? -1 : 1;
    }
    if (a->p50 != b->p50) {
        return place_of(a->p50) < place_of(b->p50) ? -1 : 1;
    }
    if (a->p10 != b->p10) {
        return place_of(a->p10) < place_of(b->p10) ? -1 : 1;
    }
    double x = isfinite(a->hours_left) ? a->hours_left : (double)INFINITY;
    double y = isfinite(b->hours_left) ? b->hours_left : (double)INFINITY;
    return x < y ? -1 : x > y;
}
