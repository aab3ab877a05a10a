/* Used-oil results: wear metals brought to a common basis over top-ups and hours, statistical limits, dilution.
 * Concentrations are in one unit throughout (ppm = mg/kg). No limit is built in: makers differ, the user enters theirs.
 */
#ifndef WITMARK_FLUID_USED_OIL_H
#define WITMARK_FLUID_USED_OIL_H

#include "base/err.h"

/* A sump of constant volume V, topped up at rate q with clean oil while metal is made at rate r and lost with the oil:
 *   C(t) = r / (q/V) (1 - exp(-q t / V)), so r = C (q/V) / (1 - exp(-q t / V)), and C / t for q = 0 */
struct wear_rate {
    double corrected_per_h; /* if what is lost takes its metal along: a leak */
    double naive_per_h;     /* C / t: right if oil burns and metal stays */
};
/* concentration >= 0; volume > 0; top-up >= 0 (same volume unit per hour); hours > 0. Errors: ERR_DOMAIN.
 * Source: mass balance. Checked: against a sump stepped in time. */
bool used_oil_rate(double concentration, double volume_m3, double topup_m3_per_h, double hours, struct wear_rate *out,
                   struct err *e);

/* One loss, replaced by clean oil when the concentration was `at_loss`: what it would be now without it.
 *   now + at_loss loss / V.   loss 0 .. V. Errors: ERR_DOMAIN. */
bool used_oil_equivalent(double volume_m3, double loss_m3, double at_loss, double now, double *equivalent,
                         struct err *e);

/* Mean, sample standard deviation (n - 1) and the limits mean + k s. At least USED_OIL_SAMPLES values.
 * Source: the idea of ASTM D7720 for normal data in control; the working minimum is a choice. Errors: ERR_DOMAIN. */
#define USED_OIL_SAMPLES 10
struct used_oil_statistics {
    double mean, deviation;
};
bool used_oil_statistics(const double *values, size_t n, struct used_oil_statistics *out, struct err *e);

/* 100 (used - new) / new. new > 0. */
bool used_oil_change(double fresh, double used, double *share, struct err *e);

#endif
