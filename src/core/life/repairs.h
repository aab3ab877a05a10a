/* What is repaired and fails again: mean cumulative function, and the power-law process with its trend tests. */
#ifndef WITMARK_LIFE_REPAIRS_H
#define WITMARK_LIFE_REPAIRS_H

#include "base/arena.h"
#include "base/err.h"

/* One machine, observed from 0 to end; still at risk at its end. events: their times, rising, one entry for each (a
 * double event stands twice). */
struct repair_history {
    double end;
    const double *events;
    size_t n;
};

/* One event time. */
struct mcf_step {
    double time, at_risk, events;
    double mcf;
    double robust;           /* variance by Lawless and Nadeau (1995), divisor n */
    double nelson;           /* by Nelson (1995), divisor n - 1; NaN once a single machine is left */
    double plain[2], log[2]; /* limits by the robust variance */
};
/* Steps in the arena. Errors: ERR_DOMAIN: no machine, events outside 0 < t <= end, not rising. Sources: Nelson (1995),
 * Technometrics 37, 147-157; Lawless and Nadeau (1995), Technometrics 37, 158-168; Meeker and Escobar (1998),
 * chapter 16. */
bool repairs_mcf(const struct repair_history *h, size_t n, double confidence, struct mcf_step **steps, size_t *n_steps,
                 struct arena *a, struct err *e);

/* Power-law process M(t) = lambda t^beta of machines observed each to its own end. failure_truncated: the observation
 * ended with its last event (one machine only); it then drops out of the tests. */
struct power_law {
    size_t n;
    double beta, lambda, log_likelihood;
    double beta_unbiased;       /* (n-1)/sum ln(T/t), failure-truncated (n-2)/sum; one machine */
    double beta_low, beta_high; /* exact at the confidence, by the chi-square pivot; one machine */
    double intensity;           /* at T; one machine */
    double chi_square;          /* MIL-HDBK-189: 2 sum ln(T/t); small values mean deterioration */
    double df, p_lower, p_upper;
    double laplace, laplace_p;   /* positive = deterioration; p two-sided */
    double cramer_von_mises;     /* with the unbiased beta; one machine */
    size_t reverse_arrangements; /* pairs of gaps, the earlier shorter; one machine */
};
/* Errors: ERR_DOMAIN: too few events (at least 2, failure-truncated 3). Sources: Crow (1974); MIL-HDBK-189 (1981). */
bool repairs_power_law(const struct repair_history *h, size_t n, bool failure_truncated, double confidence,
                       struct power_law *out, struct err *e);

/* Limits of the mean time between failures at T of one time-truncated machine with n events, from its bias-corrected
 * estimate T / (n beta). low = M n (n-1) / (n + z^2/4 + sqrt(n z^2/2 + z^4/16))^2,  high = M n (n-1) / (n - z
 * sqrt(n/2))^2 Errors: ERR_DOMAIN; also where n is too small for the upper limit. Source: NIST/SEMATECH
 * e-Handbook 8.4.5.2 (as in the listing published with it). */
struct mtbf_limits {
    double low, high;
};
bool repairs_mtbf_limits(size_t events, double mtbf, double confidence, struct mtbf_limits *out, struct err *e);

#endif
