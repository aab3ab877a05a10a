/* Reserves of what is due by hours or by the calendar. */
#include "reserve/reserve.h"

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

struct reserve reserve_predetermined(struct interval interval, struct reserve_since since, double hours_now,
                                     double hours_per_day, day_t today)
{
    struct reserve r = {
        .hours_left = NAN,
        .due_total_h = NAN,
        .calendar_day = calendar_limit(interval, since.day),
        .hours_day = DAY_NONE,
    };
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

int reserve_cmp(const struct reserve *a, const struct reserve *b)
{
    if (a->out != b->out) {
        return a->out ? -1 : 1;
    }
    if (a->p50 != b->p50) {
        if (a->p50 == DAY_NONE || b->p50 == DAY_NONE) {
            return a->p50 == DAY_NONE ? 1 : -1;
        }
        return a->p50 < b->p50 ? -1 : 1;
    }
    double x = isfinite(a->hours_left) ? a->hours_left : (double)INFINITY;
    double y = isfinite(b->hours_left) ? b->hours_left : (double)INFINITY;
    return x < y ? -1 : x > y;
}
