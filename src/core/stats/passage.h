/* When a drifting quantity first reaches a limit: Wiener (inverse Gaussian) and gamma processes, with their fits.
 *
 * The level L is counted from the present value. Times are in any one unit, rates per that unit.
 */
#ifndef WITMARK_STATS_PASSAGE_H
#define WITMARK_STATS_PASSAGE_H

#include "base/arena.h"
#include "base/err.h"
#include "stats/special.h"

/* X(t) = drift t + B(variance t). */
struct wiener {
    double drift;
    double variance; /* per unit of time, > 0 */
};
/* P(T <= t) and P(T > t) of T = first time X(t) = level. Far tails keep their digits: both terms share exp(-z1^2/2) and
 * the second is taken by the scaled complementary error function, so nothing overflows however large 2 drift level /
 * variance is. level > 0, t >= 0. Errors: ERR_DOMAIN. Source: Cox and Miller (1965), section 5.7; Chhikara and Folks
 * (1989). */
bool wiener_passage(struct wiener w, double level, double t, struct tails *out, struct err *e);
/* P(T < infinity): 1, or exp(2 drift level / variance) for a drift away from the limit. */
bool wiener_ever(struct wiener w, double level, double *probability, struct err *e);
/* Mean level/drift, shape level^2/variance, standard deviation sqrt(level variance / drift^3). Errors: ERR_DOMAIN for
 * drift <= 0: no mean. */
struct wiener_moments {
    double mean, shape, deviation;
};
bool wiener_moments(struct wiener w, double level, struct wiener_moments *out, struct err *e);
/* t with P(T <= t) = p. Errors: ERR_DOMAIN: p outside 0 < p < 1, or at least P(T < infinity). */
bool wiener_quantile(struct wiener w, double level, double p, double *t, struct err *e);

/* X(t) ~ Gamma(shape rate t, scale): only ever rises. Mean rate x scale. */
struct gamma_process {
    double rate;  /* of the shape, per unit of time, > 0 */
    double scale; /* > 0 */
};
/* P(T <= t) = Q(rate t, level/scale). Errors: ERR_DOMAIN. Source: van Noortwijk (2009), Reliability Engineering and
 * System Safety 94, 2-21. */
bool gamma_passage(struct gamma_process g, double level, double t, struct tails *out, struct err *e);
bool gamma_passage_quantile(struct gamma_process g, double level, double p, double *t, struct err *e);
/* Mean first passage, the integral of P(T > t). */
bool gamma_passage_mean(struct gamma_process g, double level, double *mean, struct err *e);

/* Increments dx over times dt, of one or many units. n >= 2, dt > 0. */
struct increments {
    const double *dt, *dx;
    size_t n;
};
/* Maximum likelihood: drift = sum dx / sum dt, variance = mean of (dx - drift dt)^2 / dt (divisor n). Errors:
 * ERR_DOMAIN: no variance. */
bool wiener_fit(struct increments in, struct wiener *out, double *log_likelihood, struct err *e);
/* Maximum likelihood for increments > 0; scale = sum dx / (rate sum dt), rate by a root of the profile score. Errors:
 * ERR_DOMAIN: an increment of 0 or less, increments without spread. */
bool gamma_fit(struct increments in, struct gamma_process *out, double *log_likelihood, struct err *e);

#endif
