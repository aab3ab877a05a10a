/* When a shelf runs out of a part, and what to order by when: the pieces that coming work needs, each at a date that is
 * a distribution, and those that are needed unforeseen.
 *
 *   P(N(t) > have),  N(t) = sum over the works of pieces if it has fallen due by t, independently, + unforeseen
 *   unforeseen: gamma-Poisson, batches a day ~ Gamma(batches seen + 0.5, days seen + 365); each of the mean size seen
 *
 * exact by convolution. Source of the gamma-Poisson count: Gelman and others (2013), chapter 2.6; the half batch a year
 * is our own choice, and stands only where the part was ever needed unforeseen.
 */
#ifndef WITMARK_STOCK_SHELF_H
#define WITMARK_STOCK_SHELF_H

#include "base/arena.h"
#include "reserve/points.h"
#include "reserve/reserve.h"

/* Work that needs so many pieces when it falls due. */
struct shelf_work {
    double pieces;
    struct reserve due;
};

struct shelf_ask {
    double have; /* pieces there, whole; may be negative when more was taken than counted */
    const struct shelf_work *works;
    int n;
    int batches;       /* unforeseen needs seen; 0 = none are reckoned with */
    double batch_size; /* mean pieces of one, at least 1 */
    double days_seen;  /* over which they were */
    day_t today;
};

/* Probability that more than `have + more` pieces are needed by the end of that day. */
double shelf_short(const struct shelf_ask *ask, double more, day_t day, struct arena *scratch);
/* The day on which the shelf has run out, as points over the next two years. */
struct reserve_points shelf_points(const struct shelf_ask *ask, struct arena *scratch);
/* Least number of pieces, in packs, to order so that with `sure` (0 .. 1) nothing is missing until `until`, and that
 * `keep` are there when it comes. 0 when nothing is to be ordered. */
double shelf_order(const struct shelf_ask *ask, double keep, int pack, double sure, day_t until, struct arena *scratch);
/* Expected pieces needed by that day. */
double shelf_needed(const struct shelf_ask *ask, day_t day);

#endif
