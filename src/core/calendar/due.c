/* The rule of two limits; rates as hours per civil day. */
#include "calendar/due.h"

#include "quantity/domain.h"

#include <math.h>

#define LAST_DAY 2932896 /* 9999-12-31 */
#define FIRST_DAY (-719162)

/* The earlier of the limits in months and in days, DAY_NONE without either. */
static bool date_limit(const struct due_input *in, day_t *day, struct err *e)
{
    *day = DAY_NONE;
    if (!domain_within("months of the interval", in->every.months, "", 0, 12 * 200, e) ||
        !domain_within("days of the interval", in->every.days, "", 0, 366 * 200, e)) {
        return false;
    }
    if (in->last_day > LAST_DAY - 366 * 400) {
        return domain_refuse("a date beyond what can be counted", "a year below 9600", e);
    }
    if (in->every.months > 0) {
        *day = day_add_months(in->last_day, in->every.months);
    }
    if (in->every.days > 0) {
        day_t by_days = in->last_day + in->every.days;
        *day = *day == DAY_NONE || by_days < *day ? by_days : *day;
    }
    return true;
}

bool due_whichever_first(struct due_input in, struct due *out, struct err *e)
{
    struct due due = {.due_hours = (double)NAN, .projected = DAY_NONE, .first = DUE_BY_DATE};
    if (in.last_day < FIRST_DAY || in.today > LAST_DAY || in.today < in.last_day) {
        return domain_refuse("today is before the day it was last done", "today on or after that day", e);
    }
    if (!domain_within("hours when last done", in.last_hours, "", 0, 1e7, e) ||
        !domain_within("hours now (a meter that fell was replaced)", in.hours_now, "", in.last_hours, 1e7, e) ||
        !domain_within("hours of the interval", in.every.hours, "", 0, 1e7, e) || !date_limit(&in, &due.due_day, e)) {
        return false;
    }
    if (!(in.every.hours > 0)) {
        *out = due;
        return due.due_day != DAY_NONE || domain_refuse("an interval of nothing", "hours, months or days", e);
    }
    due.due_hours = in.last_hours + in.every.hours;
    double used = in.hours_now - in.last_hours;
    double days = in.today - in.last_day;
    double left = due.due_hours - in.hours_now;
    if (used > 0 && days > 0) {
        double ahead = floor(left / (used / days) + 1e-9);
        due.projected = ahead > LAST_DAY - in.today ? DAY_NONE : in.today + (day_t)ahead;
    } else if (left <= 0) {
        due.projected = in.today;
    }
    bool by_hours = due.due_day == DAY_NONE || (due.projected != DAY_NONE && due.projected < due.due_day);
    due.first = by_hours ? DUE_BY_HOURS : DUE_BY_DATE;
    *out = due;
    return true;
}
