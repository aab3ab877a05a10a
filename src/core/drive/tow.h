/* Moving a dead machine and stopping a live one, against the limits its book gives. SI; slopes as a ratio. */
#ifndef WITMARK_DRIVE_TOW_H
#define WITMARK_DRIVE_TOW_H

#include "base/err.h"

/* What the book allows, and what is intended. NAN in a limit: the book gives none. */
struct tow {
    double distance_m, speed_m_s, slope;
    double most_distance_m, most_speed_m_s, most_slope, most_time_s;
};
struct tow_check {
    double time_s; /* of the way at that speed */
    bool allowed;
    double fastest_m_s; /* most speed the book allows; NAN when it gives none */
    double slowest_m_s; /* least speed at which the way ends within the time allowed; NAN when there is no such limit */
    const char *because; /* what goes beyond the book; "" when nothing does */
};
/* A way of `distance` at `speed` over a slope: each within its limit, and the time it takes too. On the limit is
 * within. distance, speed more than 0; slope 0 .. 1. Errors: ERR_DOMAIN. Source: t = s / v; the limits are the book's.
 */
bool tow_check(struct tow tow, struct tow_check *out, struct err *e);

/* Mean deceleration of a stop: a = v^2 / (2 s), and as a share of the standard acceleration of free fall (9.80665
 * m/s2). Refused above 1 g: tyres on the ground give no more, so a length or a speed is wrong. Errors: ERR_DOMAIN.
 * Source: kinematics of a uniform deceleration. */
struct brake_stop {
    double m_s2, share_of_g;
};
bool brake_stop(double speed_m_s, double distance_m, struct brake_stop *out, struct err *e);

#endif
