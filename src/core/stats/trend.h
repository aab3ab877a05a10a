/* Straight trends: Theil-Sen slope with Mann-Kendall test, and least squares by orthogonal columns. */
#ifndef WITMARK_STATS_TREND_H
#define WITMARK_STATS_TREND_H

#include "base/arena.h"
#include "base/err.h"

/* Mann-Kendall test and Theil-Sen line of y over x. */
struct trend {
    size_t n, n_slopes;
    double s, var_s;           /* sum of signs of y_j - y_i for x_j > x_i, with its tie-corrected variance */
    double z, p_two_sided;     /* with the continuity correction of 1; z = 0 and p = 1 where there is no variance */
    double slope;              /* median of all slopes between points of different x */
    double intercept_residual; /* median of y - slope x */
    double intercept_medians;  /* median y - slope median x */
    bool has_limits;           /* not without variance */
    double low, high; /* of the slope at the confidence: ranks (N -/+ z sqrt(var S)) / 2, interpolated (Gilbert 1987) */
    bool has_exact;   /* n at most 40 without ties, and a whole rank inside */
    double exact_low, exact_high; /* by the exact distribution of S (Sen 1968) */
};
/* n 2 .. 3000, at least two different x. confidence 0.5 .. 0.9999. Cost: n^2 slopes.
 * Errors: ERR_DOMAIN. Sources: Sen (1968), JASA 63, 1379-1389; Gilbert (1987), Statistical Methods for Environmental
 * Pollution Monitoring, 16.5; Kendall (1975) for ties. */
bool trend_of(const double *x, const double *y, size_t n, double confidence, struct trend *out, struct arena *a,
              struct err *e);

/* Least squares of y on p columns (the first may be ones), rows [n][p] row by row. Columns are scaled and
 * orthogonalised by Householder's reflections, so that nearly dependent ones keep as many digits as they have. */
struct least_squares {
    double *coef, *se; /* [p], in the arena */
    double rss, residual_sd;
    size_t df;
};
/* Errors: ERR_DOMAIN: not more rows than columns, dependent columns. Checked: NIST StRD Norris, Longley. */
bool least_squares(const double *rows, const double *y, size_t n, size_t p, struct least_squares *out, struct arena *a,
                   struct err *e);

/* A curve y = f(x; b) of p parameters: value, and derivatives by the parameters in d [p]. */
typedef double curve_fn(void *ctx, double x, const double *b, double *d);
/* Least squares of a curve by Levenberg and Marquardt from b (in and out); coef of the result is b. Errors: ERR_DOMAIN:
 * no convergence. Source: More (1978). Checked: NIST StRD Misra1a, Lanczos3. */
bool curve_fit(curve_fn *f, void *ctx, const double *x, const double *y, size_t n, double *b, size_t p,
               struct least_squares *out, struct arena *a, struct err *e);

#endif
