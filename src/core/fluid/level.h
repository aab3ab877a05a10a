/* What levels tell: how much a machine uses, and how long it lasts. Volumes in m3, hours of the machine, seconds of the
 * calendar. */
#ifndef WITMARK_FLUID_LEVEL_H
#define WITMARK_FLUID_LEVEL_H

#include "base/err.h"

/* Volume used per hour run between two levels: (before + added - now) / hours. Negative when more is in than there can
 * be: a top-up that nobody wrote down, or water, fuel or another oil that came in.
 *   before_m3, now_m3  contents above the lower mark, |x| at most 10 m3;  added_m3 0 .. 10;  hours more than 0
 * Errors: ERR_DOMAIN. Source: mass balance. */
bool level_consumption(double before_m3, double now_m3, double added_m3, double hours, double *m3_per_h, struct err *e);

/* Time left until a level that falls evenly reaches `minimum`. Any one quantity that is lost: volume, height, pressure.
 *   before, now, added, minimum  in one unit, finite;  apart_s  between the readings, more than 0
 * *left_s is 0 when it is at or below the minimum already, INFINITY when nothing is lost. Errors: ERR_DOMAIN.
 * Source: straight line between two readings, common practice, no source. */
bool level_left(double before, double now, double added, double minimum, double apart_s, double *left_s, struct err *e);

#endif
