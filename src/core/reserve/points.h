/* A reserve that some computation of its own gives: equally likely moments at which it runs out, in machine hours or
 * days. What the exhaust filter's soot and ash and a shelf of parts have in common. */
#ifndef WITMARK_RESERVE_POINTS_H
#define WITMARK_RESERVE_POINTS_H

#include "meter/usage.h"
#include "reserve/reserve.h"

#define RESERVE_POINTS 20

/* at: rising; machine hours in all, or days with their fraction; INFINITY = not within what was looked at. */
struct reserve_points {
    bool by_hours;
    int n;
    double at[RESERVE_POINTS];
};

/* P(T <= day) = mean over the points of P(hours reach it by that day), or of whether that day has come. NAN by hours
 * without a known usage. */
double reserve_points_by_day(const struct reserve_points *points, const struct usage_state *usage, double day);
/* The reserve of them, from `today` on; the points and the usage are borrowed by the result. out: it is so already. */
struct reserve reserve_of_points(const struct reserve_points *points, bool out, double hours_now, day_t today,
                                 const struct usage_state *usage);

#endif
