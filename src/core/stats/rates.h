/* Failure rates of a family by empirical Bayes: counts are Poisson with a rate of their own, the rates Gamma(shape
 * alpha, RATE beta). */
#ifndef WITMARK_STATS_RATES_H
#define WITMARK_STATS_RATES_H

#include "base/arena.h"
#include "base/err.h"

struct rate_prior {
    double alpha; /* shape, > 0 */
    double beta;  /* rate, in units of exposure, >= 0 */
};

/* Counts x over exposures t > 0 of n units. */
struct rate_data {
    const double *x, *t;
    size_t n;
};
struct rate_fit {
    bool found; /* else there is no over-dispersion and the pooled rate holds for all */
    struct rate_prior prior;
    double log_likelihood;
    double pooled_rate; /* sum x / sum t */
};
/* Maximum of the marginal (negative-binomial) likelihood. Whether it has one is decided by its slope at no
 * over-dispersion, sum ((x - m t)^2 - x) > 0. Errors: ERR_DOMAIN: n < 2, a count that is negative or not whole, no
 * exposure, no event at all. Source: Gaver and O'Muircheartaigh (1987), Technometrics 29, 1-15. */
bool rate_fit(struct rate_data d, struct rate_fit *out, struct arena *scratch, struct err *e);

/* Prior after x events in exposure t: alpha + x, beta + t. */
bool rate_update(struct rate_prior prior, double events, double exposure, struct rate_prior *out, struct err *e);
/* Rate with P(rate <= r) = p. beta > 0. */
bool rate_quantile(struct rate_prior prior, double p, double *rate, struct err *e);

/* Prior from two judgements of the mean time between failures: its median, and the value exceeded with 95 %.
 * Source: NIST/SEMATECH e-Handbook 8.2.5. Errors: ERR_DOMAIN: mtbf05 not below mtbf50. */
bool rate_prior_of_judgement(double mtbf50, double mtbf05, struct rate_prior *out, struct err *e);

/* Full Bayes over alpha ~ Exponential(mean), beta ~ Gamma(shape, rate), by the trapezoid rule on a logarithmic grid.
 * Source: George, Makov and Smith (1993), Scandinavian Journal of Statistics 20, 147-156. */
struct rate_hyper {
    double alpha_mean;
    double beta_shape, beta_rate;
};
struct rate_posterior {
    double alpha_mean, alpha_sd, beta_mean, beta_sd;
    double *theta_mean, *theta_sd; /* [n], in the arena */
};
bool rate_full_bayes(struct rate_data d, struct rate_hyper h, struct rate_posterior *out, struct arena *a,
                     struct err *e);

#endif
