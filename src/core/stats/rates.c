/* Marginal likelihood of counts, its maximum, and its integral. */
#include "stats/rates.h"

#include "quantity/domain.h"
#include "stats/numeric.h"
#include "stats/special.h"

#include <math.h>

static bool check_data(struct rate_data d, double *pooled, struct err *e)
{
    double events = 0;
    double exposure = 0;
    if (d.n < 2) {
        return domain_refuse("too few units for a family", "at least two", e);
    }
    for (size_t i = 0; i < d.n; i++) {
        if (!domain_within("count", d.x[i], "", 0, 1e9, e) || !domain_above("exposure", d.t[i], "", 0, e)) {
            return false;
        }
        if (d.x[i] != floor(d.x[i])) {
            return domain_refuse("a count is not whole", "0, 1, 2 ...", e);
        }
        events += d.x[i];
        exposure += d.t[i];
    }
    *pooled = events / exposure;
    return domain_above("number of events in all", events, "", 0, e);
}

/* ln of the negative-binomial probability of all counts. */
static double log_marginal(const struct rate_data *d, double alpha, double beta)
{
    double sum = 0;
    for (size_t i = 0; i < d->n; i++) {
        double x = d->x[i];
        double t = d->t[i];
        sum +=
            log_gamma(alpha + x) - log_gamma(alpha) - log_gamma(x + 1) - alpha * log1p(t / beta) - x * log1p(beta / t);
    }
    return sum;
}

static double minus_log_marginal(void *ctx, const double *x)
{
    return -log_marginal((const struct rate_data *)ctx, exp(x[0]), exp(x[1]));
}

bool rate_fit(struct rate_data d, struct rate_fit *out, struct arena *scratch, struct err *e)
{
    struct rate_fit fit = {.found = false};
    if (!check_data(d, &fit.pooled_rate, e)) {
        return false;
    }
    double slope = 0;
    for (size_t i = 0; i < d.n; i++) {
        double off = d.x[i] - fit.pooled_rate * d.t[i];
        slope += off * off - d.x[i];
    }
    if (slope > 0) {
        double at[2] = {0, -log(fit.pooled_rate)}; /* alpha 1, beta to the pooled rate */
        const double steps[2] = {0.7, 0.7};
        fit.log_likelihood = -minimise(minus_log_marginal, &d, at, steps, 2, scratch);
        fit.prior = (struct rate_prior){exp(at[0]), exp(at[1])};
        fit.found = true;
    }
    *out = fit;
    return true;
}

bool rate_update(struct rate_prior prior, double events, double exposure, struct rate_prior *out, struct err *e)
{
    if (!domain_above("prior shape", prior.alpha, "", 0, e) ||
        !domain_within("prior rate", prior.beta, "", 0, 1e300, e) || !domain_within("events", events, "", 0, 1e12, e) ||
        !domain_within("exposure", exposure, "", 0, 1e300, e)) {
        return false;
    }
    *out = (struct rate_prior){prior.alpha + events, prior.beta + exposure};
    return true;
}

bool rate_quantile(struct rate_prior prior, double p, double *rate, struct err *e)
{
    if (!domain_above("shape", prior.alpha, "", 0, e) || !domain_above("rate parameter", prior.beta, "", 0, e) ||
        !domain_within("probability", p, "", 0, 1, e)) {
        return false;
    }
    *rate = gamma_quantile(prior.alpha, tails_of_p(p)) / prior.beta;
    return true;
}

/* ln of q95/q50 of a gamma of that shape, less the wanted one; falls with the shape. */
static double ratio_off(void *ctx, double log_alpha)
{
    double alpha = exp(log_alpha);
    return log(gamma_quantile(alpha, tails_of_q(0.05)) / gamma_quantile(alpha, tails_of_p(0.5))) - *(const double *)ctx;
}

bool rate_prior_of_judgement(double mtbf50, double mtbf05, struct rate_prior *out, struct err *e)
{
    if (!domain_above("lower mean time between failures", mtbf05, "", 0, e) ||
        !domain_above("median mean time between failures (more than the lower)", mtbf50, "", mtbf05, e)) {
        return false;
    }
    double wanted = log(mtbf50 / mtbf05);
    double root = 0;
    if (!find_root(ratio_off, &wanted, log(0.02), log(1e8), &root)) {
        return domain_refuse("no gamma prior has that ratio", "a ratio nearer to one", e);
    }
    double alpha = exp(root);
    *out = (struct rate_prior){alpha, gamma_quantile(alpha, tails_of_p(0.5)) * mtbf50};
    return true;
}

#define GRID 400

/* One point of the grid over ln alpha and ln beta. */
struct grid {
    const struct rate_data *d;
    struct rate_hyper h;
    double low_alpha, low_beta, step_alpha, step_beta;
};

/* ln of posterior density on the logarithmic scale (with its Jacobian). */
static double log_posterior(const struct grid *g, double alpha, double beta)
{
    return log_marginal(g->d, alpha, beta) - alpha / g->h.alpha_mean + log(alpha) + g->h.beta_shape * log(beta) -
           g->h.beta_rate * beta;
}

bool rate_full_bayes(struct rate_data d, struct rate_hyper h, struct rate_posterior *out, struct arena *a,
                     struct err *e)
{
    double pooled = 0;
    if (!check_data(d, &pooled, e) || !domain_above("mean of alpha", h.alpha_mean, "", 0, e) ||
        !domain_above("shape of beta", h.beta_shape, "", 0, e) ||
        !domain_above("rate of beta", h.beta_rate, "", 0, e)) {
        return false;
    }
    /* From far below what any data leave likely to far above; on this scale both ends fall off to nothing and the
     * trapezoid rule converges fast. */
    struct grid g = {&d, h, log(1e-4 * fmin(1, h.alpha_mean)), log(1e-7 * h.beta_shape / h.beta_rate), 0, 0};
    g.step_alpha = (log(50 * h.alpha_mean + 50) - g.low_alpha) / GRID;
    g.step_beta = (log((60 + h.beta_shape) / h.beta_rate) - g.low_beta) / GRID;
    double *alpha = ARENA_ARRAY(a, double, GRID + 1);
    double *beta = ARENA_ARRAY(a, double, GRID + 1);
    double *density = ARENA_ARRAY(a, double, (GRID + 1) * (GRID + 1));
    double most = -HUGE_VAL;
    for (int i = 0; i <= GRID; i++) {
        alpha[i] = exp(g.low_alpha + i * g.step_alpha);
        beta[i] = exp(g.low_beta + i * g.step_beta);
    }
    for (int i = 0; i <= GRID; i++) {
        for (int k = 0; k <= GRID; k++) {
            double value = log_posterior(&g, alpha[i], beta[k]);
            density[i * (GRID + 1) + k] = value;
            most = fmax(most, value);
        }
    }
    struct rate_posterior p = {.theta_mean = ARENA_ARRAY(a, double, d.n), .theta_sd = ARENA_ARRAY(a, double, d.n)};
    double total = 0;
    for (int i = 0; i <= GRID; i++) {
        for (int k = 0; k <= GRID; k++) {
            double w = exp(density[i * (GRID + 1) + k] - most);
            total += w;
            p.alpha_mean += w * alpha[i];
            p.alpha_sd += w * alpha[i] * alpha[i];
            p.beta_mean += w * beta[k];
            p.beta_sd += w * beta[k] * beta[k];
            for (size_t u = 0; w > 0 && u < d.n; u++) {
                double shape = alpha[i] + d.x[u];
                double rate = beta[k] + d.t[u];
                p.theta_mean[u] += w * shape / rate;
                p.theta_sd[u] += w * shape * (shape + 1) / (rate * rate);
            }
        }
    }
    p.alpha_mean /= total;
    p.beta_mean /= total;
    p.alpha_sd = sqrt(p.alpha_sd / total - p.alpha_mean * p.alpha_mean);
    p.beta_sd = sqrt(p.beta_sd / total - p.beta_mean * p.beta_mean);
    for (size_t u = 0; u < d.n; u++) {
        p.theta_mean[u] /= total;
        p.theta_sd[u] = sqrt(p.theta_sd[u] / total - p.theta_mean[u] * p.theta_mean[u]);
    }
    *out = p;
    return true;
}
