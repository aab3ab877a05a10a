/* Share of parts still alive, from failures and suspensions: Kaplan-Meier with three kinds of limits, Nelson-Aalen, and
 * the estimate from inspections. Times in any one unit. */
#ifndef WITMARK_LIFE_SURVIVAL_H
#define WITMARK_LIFE_SURVIVAL_H

#include "base/arena.h"
#include "base/err.h"

/* So many parts, watched from entry (0, or when they came under observation) to time. At risk at t when entry < t <=
 * time: a suspension tied with a failure was still at risk. */
struct life_row {
    double entry, time;
    bool failed;
    double count; /* > 0, whole */
};

/* One failure time. Limits are NaN where they are undefined (nobody left). */
struct survival_step {
    double time, at_risk, failures;
    double survival, se; /* Greenwood; NaN at 0 */
    double plain[2], log[2], loglog[2];
    double hazard, hazard_se; /* Nelson-Aalen: sum d/r, variance sum d/r^2 */
    double tied, tied_se;     /* with the Fleming-Harrington correction for ties: sum 1/(r-k) */
};
/* Steps in the arena, by rising time. plain is clipped to 0 .. 1, log to 1. Errors: ERR_DOMAIN: no rows, time not after
 * entry, a count that is not whole. No failure: no steps. Source: Kaplan and Meier (1958); NIST/SEMATECH
 * e-Handbook 8.2.1.5; limits as in Meeker and Escobar (1998), chapter 3. */
bool survival_estimate(const struct life_row *rows, size_t n, double confidence, struct survival_step **steps,
                       size_t *n_steps, struct arena *a, struct err *e);

/* Failures found at inspections: within (low, high], or still alive at low (high = infinity). */
struct life_interval {
    double low, high;
    double count;
};
struct inspection_estimate {
    double *time;   /* [n] the finite ends, rising */
    double *failed; /* [n] F at them */
    size_t n;
    double log_likelihood;
};
/* Maximum-likelihood shares failed by the ends of the intervals, by self-consistency. Errors: ERR_DOMAIN. Source:
 * Turnbull (1976). */
bool inspection_estimate(const struct life_interval *rows, size_t n, struct inspection_estimate *out, struct arena *a,
                         struct err *e);

#endif
