/* The hour meter of one machine: irregular readings, mistyped, from meters that get swapped.
 *
 * Cleaning flags readings, it never drops them: a flagged one is kept, shown and left out of the computation. A swap of
 * the meter chains the two: total hours go on counting.
 */
#ifndef WITMARK_METER_H
#define WITMARK_METER_H

#include "base/arena.h"
#include "base/date.h"

#include <stdbool.h>
#include <stddef.h>

#define METER_FLAGS(X)                                                                                            \
    X(METER_GOOD, "good")                                                                                         \
    X(METER_BACKWARDS, "goes backwards")      /* lower than a good reading before it, or higher than one after */ \
    X(METER_TOO_FAST, "more than 24 h a day") /* would need more hours than have passed */                        \
    X(METER_SAME, "said twice")               /* same hours within the same minute as one before */
enum meter_flag {
#define X(symbol, text) symbol,
    METER_FLAGS(X)
#undef X
};

/* One reading. `source` is the caller's mark (an index of its entries), kept as it is. */
struct meter_reading {
    instant_ms at;
    double hours; /* as read, >= 0 */
    int source;
    enum meter_flag flag; /* out */
    double total;         /* out: hours of the machine, over all its meters */
};

/* The meter was replaced at `at`: the old one showed old_hours (NAN = not known), the new one starts at new_hours. */
struct meter_swap {
    instant_ms at;
    double old_hours, new_hours;
};

/* Days on which the machine was out of service, [from, to). */
struct meter_pause {
    instant_ms from, to;
};

struct meter_history {
    struct meter_reading *readings; /* sorted by time */
    int n;
    int n_good;
    double offset; /* total = reading on the present meter + offset */
};

/* Sorts a copy of the n readings by time, flags them and gives each its total.
 *
 * Per meter, the readings kept are the longest chain in which hours neither fall nor grow by more than 24 h a day (plus
 * half an hour for rounding); ties keep the chain that ends latest. So one mistyped reading costs itself, not all that
 * follow. readings  [n], any order; hours >= 0 and finite (else flagged METER_BACKWARDS) swaps     [n_swaps], any order
 * A swap without old_hours takes the last good reading before it. Cost: O(n^2) per meter, at most 400 back per reading.
 * Result in `a`. */
struct meter_history meter_clean(struct arena *a, const struct meter_reading *readings, int n,
                                 const struct meter_swap *swaps, int n_swaps);

/* How the machine is used lately. */
struct meter_use {
    bool known;           /* at least two good readings, a day or more apart */
    double hours_now;     /* total at the last good reading */
    instant_ms at;        /* of the last good reading */
    double hours_per_day; /* median of the slopes between all pairs of recent good readings (Theil 1950, Sen 1968) */
    int n;                /* readings used */
    instant_ms since;     /* first one used */
};

/* Use lately: the good readings of the last `window_days` before the last one, at least `at_least` of them when there
 * are as many. Days out of service do not count as days. hours_per_day >= 0. */
struct meter_use meter_use(struct arena *a, const struct meter_history *h, const struct meter_pause *pauses,
                           int n_pauses, double window_days, int at_least);

/* Total hours at an instant: between two good readings a straight line; after the last the last plus use times days;
 * before the first the first. NAN when there is no good reading. */
double meter_total_at(const struct meter_history *h, const struct meter_use *use, instant_ms at);

const char *meter_flag_text(enum meter_flag flag);

#endif
