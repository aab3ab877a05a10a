/* Straight lines between two levels. */
#include "fluid/level.h"

#include "quantity/domain.h"

#include <math.h>

#define MOST_M3 10.0

bool level_consumption(double before_m3, double now_m3, double added_m3, double hours, double *m3_per_h, struct err *e)
{
    if (!domain_within("earlier contents", before_m3, "L", -MOST_M3, MOST_M3, e) ||
        !domain_within("contents", now_m3, "L", -MOST_M3, MOST_M3, e) ||
        !domain_within("volume added", added_m3, "L", 0, MOST_M3, e) ||
        !domain_above("hours run between the levels", hours, "", 0, e) ||
        !domain_within("hours run between the levels", hours, "", 0, 1e6, e)) {
        return false;
    }
    *m3_per_h = (before_m3 + added_m3 - now_m3) / hours;
    return true;
}

bool level_left(double before, double now, double added, double minimum, double apart_s, double *left_s, struct err *e)
{
    if (!isfinite(before) || !isfinite(now) || !isfinite(minimum)) {
        return domain_refuse("a level is not a finite number", "finite levels in one unit", e);
    }
    if (!isfinite(added) || added < 0) {
        return domain_refuse("what was added is less than nothing or no number", "0 or more", e);
    }
    if (!domain_above("time between the readings", apart_s, "d", 0, e)) {
        return false;
    }
    double lost_per_s = (before + added - now) / apart_s;
    *left_s = now <= minimum ? 0 : lost_per_s > 0 ? (now - minimum) / lost_per_s : (double)INFINITY;
    return true;
}
