/* Root finding and integration of a function of one variable, and fitting by Newton's method. */
#ifndef WITMARK_STATS_NUMERIC_H
#define WITMARK_STATS_NUMERIC_H

#include "base/arena.h"

#include <stdbool.h>

typedef double number_fn(void *ctx, double x);

/* A zero of f in [low, high], where f has different signs at the ends; to about one unit in the last place of x.
 * False when the signs are equal or not numbers. Source: Brent (1973), Algorithms for Minimization without Derivatives,
 * chapter 4. */
bool find_root(number_fn *f, void *ctx, double low, double high, double *root);

/* Integral over [low, high] to a relative error, by adaptive Gauss-Kronrod (7, 15). Source: QUADPACK, Piessens and
 * others (1983). Suited to smooth functions; cost at most about 15 * 4000 evaluations. */
double integrate(number_fn *f, void *ctx, double low, double high, double relative);

/* The minimum of f over n variables from x (in and out), by Nelder and Mead's simplex with restarts; steps [n] are its
 * first size. For likelihoods with few parameters, on scales where they are unbounded. Returns the least value. Source:
 * Nelder and Mead (1965), Computer Journal 7, 308. */
double minimise(double (*f)(void *ctx, const double *x), void *ctx, double *x, const double *steps, int n,
                struct arena *scratch);

#endif
