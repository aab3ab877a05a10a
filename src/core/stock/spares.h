/* How many spares to keep: demand in a lead time, intermittent demand, one order. */
#ifndef WITMARK_STOCK_SPARES_H
#define WITMARK_STOCK_SPARES_H

#include "base/arena.h"
#include "base/err.h"

/* Poisson demand of a mean in the lead time, order up to S. Two measures are in use and differ by one part: say which a
 * target means. */
struct spares_level {
    double no_stockout; /* P(X <= S): no backorder outstanding */
    double fill;        /* P(X <= S - 1): the next demand is met from the shelf */
    double backorders;  /* E (X - S)+ */
};
/* mean > 0, at most 1e7. Errors: ERR_DOMAIN. Source: Feeney and Sherbrooke (1966); Palm's theorem. */
bool spares_poisson(double mean, unsigned stock, struct spares_level *out, struct err *e);
/* Least S with P(X <= S) >= target, or with P(X <= S - 1) >= target when by_fill. target 0 < t < 1. */
bool spares_least(double mean, double target, bool by_fill, unsigned *stock, struct err *e);

/* A demand of whole parts with given probabilities, which add up to 1. */
struct demand_point {
    double quantity, probability;
};
/* Its sum over some periods, by convolution: points of positive probability by rising quantity, in the arena.
 * quantities whole, 0 .. 1e5. Errors: ERR_DOMAIN. */
bool demand_sum(const struct demand_point *p, size_t n, unsigned periods, struct demand_point **out, size_t *n_out,
                struct arena *a, struct err *e);
double demand_mean(const struct demand_point *p, size_t n);
/* E (X - S)+ and P(X <= S). */
double demand_shortage(const struct demand_point *p, size_t n, double stock);
double demand_within(const struct demand_point *p, size_t n, double stock);

/* Croston's forecast of intermittent demand, smoothing alpha; the first size is the first demand, the first interval is
 * counted from the start. sba times 1 - alpha/2 (Syntetos and Boylan 2005), sbj times 1 - alpha/(2 - alpha). No demand
 * at all: forecast 0 by convention. Errors: ERR_DOMAIN: alpha outside 0 < a <= 1, a negative demand, no period. */
struct croston {
    size_t demands;                    /* periods with demand */
    double size, interval;             /* levels after the last */
    double forecast, sba, sbj;         /* per period */
    double *size_path, *interval_path; /* [demands], in the arena */
};
bool croston(const double *demand, size_t n, double alpha, struct croston *out, struct arena *a, struct err *e);

/* One order: quantity with P(demand <= q) = under / (under + over). Errors: ERR_DOMAIN. Source: Arrow, Harris and
 * Marschak (1951). */
bool order_ratio(double under, double over, double *ratio, struct err *e);
/* Least quantity of a discrete demand that reaches the ratio, and the expected cost of each of its quantities in cost
 * [n]. */
bool order_discrete(const struct demand_point *p, size_t n, double under, double over, double *quantity, double *cost,
                    struct err *e);

#endif
