/* Towing and stopping. */
#include "drive/tow.h"

#include "quantity/domain.h"

#include <math.h>

#define FREE_FALL_M_S2 9.80665 /* ISO 80000-3, exact */
#define NEAR (1 + 1e-12)       /* the last bit of a division does not break a limit */

/* A limit that is given must be more than nothing. */
static bool check_limit(const char *name, double limit, const char *unit, struct err *e)
{
    return isnan(limit) || domain_above(name, limit, unit, 0, e);
}

bool tow_check(struct tow tow, struct tow_check *out, struct err *e)
{
    if (!domain_above("distance", tow.distance_m, "m", 0, e) ||
        !domain_within("distance", tow.distance_m, "m", 0, 1e6, e) ||
        !domain_above("towing speed", tow.speed_m_s, "km/h", 0, e) ||
        !domain_within("towing speed", tow.speed_m_s, "km/h", 0, 30, e) ||
        !domain_within("slope", tow.slope, "%", 0, 1, e) ||
        !check_limit("distance allowed", tow.most_distance_m, "m", e) ||
        !check_limit("speed allowed", tow.most_speed_m_s, "km/h", e) ||
        !check_limit("time allowed", tow.most_time_s, "min", e) ||
        !(isnan(tow.most_slope) || domain_within("slope allowed", tow.most_slope, "%", 0, 1, e))) {
        return false;
    }
    *out = (struct tow_check){.time_s = tow.distance_m / tow.speed_m_s, .fastest_m_s = tow.most_speed_m_s};
    out->slowest_m_s = tow.distance_m / tow.most_time_s;
    out->because = tow.distance_m > tow.most_distance_m * NEAR ? "further than the book allows"
                   : tow.speed_m_s > tow.most_speed_m_s * NEAR ? "faster than the book allows"
                   : tow.slope > tow.most_slope * NEAR         ? "steeper than the book allows"
                   : out->time_s > tow.most_time_s * NEAR      ? "it takes longer than the book allows"
                                                               : "";
    out->allowed = out->because[0] == '\0';
    return true;
}

bool brake_stop(double speed_m_s, double distance_m, struct brake_stop *out, struct err *e)
{
    if (!domain_above("speed", speed_m_s, "km/h", 0, e) || !domain_above("stopping distance", distance_m, "m", 0, e) ||
        !domain_within("speed", speed_m_s, "km/h", 0, 30, e) ||
        !domain_within("stopping distance", distance_m, "m", 0, 1e4, e)) {
        return false;
    }
    double m_s2 = speed_m_s * speed_m_s / (2 * distance_m);
    if (!domain_within("deceleration as a share of g", m_s2 / FREE_FALL_M_S2, "%", 0, 1, e)) {
        return false;
    }
    *out = (struct brake_stop){m_s2, m_s2 / FREE_FALL_M_S2};
    return true;
}
