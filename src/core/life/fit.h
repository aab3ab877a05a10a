/* Life distributions by maximum likelihood, from failures, suspensions, failures between inspections and late entries.
 *
 * Weibull F(t) = 1 - exp(-(t/eta)^beta) and lognormal, both as location mu and scale sigma of ln t; for Weibull mu = ln
 * eta, sigma = 1/beta. The log-likelihood uses the density of t, not of ln t. Three kinds of limits are all called "95
 * % limits" and differ by a factor of two on small samples, so each is named: Wald on the logarithmic scale, plain
 * Wald, likelihood ratio. Sources: Meeker and Escobar (1998), Statistical Methods for Reliability Data, chapters 7, 8
 * and 11; Nelson (1982), Applied Life Data Analysis.
 */
#ifndef WITMARK_LIFE_FIT_H
#define WITMARK_LIFE_FIT_H

#include "base/arena.h"
#include "base/err.h"

enum life_kind {
    LIFE_FAILED,  /* at t1 */
    LIFE_RUNNING, /* still alive at t1 */
    LIFE_BEFORE,  /* failed before t1 */
    LIFE_BETWEEN, /* failed between t1 and t2 */
};
struct life_observation {
    enum life_kind kind;
    double t1, t2;
    double count; /* > 0 */
    double entry; /* age at which it came under observation; 0 = from new */
};

enum life_law { LIFE_WEIBULL, LIFE_LOGNORMAL };

struct life_limits {
    double wald_log[2], wald_plain[2], ratio[2];
};
struct life_fit {
    bool exists; /* else the likelihood rises without limit (all failures at one time): nothing below has a meaning */
    double mu, sigma, log_likelihood;
    double se_mu, se_log_sigma, cov_mu_log_sigma;
    struct life_limits shape, scale; /* beta and eta; of a Weibull */
};
/* At least one failure. confidence of all limits. Errors: ERR_DOMAIN. Cost: a few thousand evaluations of the
 * likelihood. */
bool life_fit(enum life_law law, const struct life_observation *o, size_t n, double confidence, struct life_fit *out,
              struct arena *scratch, struct err *e);

/* Time by which a share p has failed (B10: 0.1). plain limits are not given. */
struct life_quantile {
    double time, se_log;
    double wald_log[2], ratio[2];
};
bool life_fit_quantile(enum life_law law, const struct life_observation *o, size_t n, const struct life_fit *fit,
                       double p, double confidence, struct life_quantile *out, struct err *e);

/* Exponential: mean theta. */
struct life_mean {
    double theta, log_likelihood, se_log;
    double wald_log[2];
    bool exact; /* only failures and suspensions: the fields below hold */
    double total_time, failures;
    double time_censored[2],
        failure_censored[2]; /* by chi-square: 2r + 2 or 2r degrees of freedom for the lower limit */
};
bool life_mean(const struct life_observation *o, size_t n, double confidence, struct life_mean *out, struct err *e);

/* Weibull of known shape: lower limit of eta at a one-sided confidence, (2 sum t^beta / chi2(conf; 2r+2))^(1/beta), and
 * its estimate (NaN without a failure). Source: Nelson (1985), Journal of Quality Technology 17, 140-146. */
struct known_shape {
    double sum, eta_lower, eta;
    size_t failures;
};
bool life_known_shape(double beta, const double *running, size_t n_running, const double *failed, size_t n_failed,
                      double confidence, struct known_shape *out, struct err *e);

#endif
