/* Likelihood of location and log scale, its maximum, curvature and profiles. Parameters are x[0] = mu, x[1] = ln sigma.
 */
#include "life/fit.h"

#include "quantity/domain.h"
#include "stats/numeric.h"
#include "stats/special.h"

#include <math.h>

#define LN_SQRT_2PI 0.91893853320467274178
/* Step of the derivatives, in sigmas and in ln sigma; sixth order, so that rounding (the likelihood's size times 1e-12)
 * and truncation both stay below 1e-8 of a curvature. */
#define DIFFERENCE 1e-2
#define POINTS 7
#define MIDDLE 3               /* of POINTS */
#define LOG_SIGMA_LEAST (-9.0) /* below it the likelihood rises without limit */

struct likelihood {
    enum life_law law;
    const struct life_observation *o;
    size_t n;
};

/* ln S at z = (ln t - mu)/sigma. */
static double log_survival(enum life_law law, double z)
{
    return law == LIFE_WEIBULL ? -exp(z) : normal_log_cdf(-z);
}

static double log_failed(enum life_law law, double z)
{
    return law == LIFE_WEIBULL ? log(-expm1(-exp(z))) : normal_log_cdf(z);
}

/* ln (S(z1) - S(z2)), z1 < z2 */
static double log_between(enum life_law law, double z1, double z2)
{
    if (law == LIFE_WEIBULL) {
        return -exp(z1) + log(-expm1(exp(z1) - exp(z2)));
    }
    struct tails a = normal_tails(z1);
    struct tails b = normal_tails(z2);
    return log(z1 > 0 ? a.q - b.q : b.p - a.p);
}

/* ln density of t */
static double log_density(enum life_law law, double z, double log_sigma, double log_t)
{
    return (law == LIFE_WEIBULL ? z - exp(z) : -z * z / 2 - LN_SQRT_2PI) - log_sigma - log_t;
}

static double log_likelihood(const struct likelihood *l, double mu, double log_sigma)
{
    double sigma = exp(log_sigma);
    double sum = 0;
    for (size_t i = 0; i < l->n; i++) {
        const struct life_observation *o = &l->o[i];
        double z = (log(o->t1) - mu) / sigma;
        double value = 0;
        switch (o->kind) {
        case LIFE_FAILED:
            value = log_density(l->law, z, log_sigma, log(o->t1));
            break;
        case LIFE_RUNNING:
            value = log_survival(l->law, z);
            break;
        case LIFE_BEFORE:
            value = o->entry > 0 ? log_between(l->law, (log(o->entry) - mu) / sigma, z) : log_failed(l->law, z);
            break;
        case LIFE_BETWEEN:
            value = log_between(l->law, z, (log(o->t2) - mu) / sigma);
            break;
        }
        value -= o->entry > 0 ? log_survival(l->law, (log(o->entry) - mu) / sigma) : 0;
        sum += o->count * value;
    }
    return sum;
}

static double minus(void *ctx, const double *x)
{
    double value = -log_likelihood(ctx, x[0], x[1]);
    return isnan(value) ? HUGE_VAL : value;
}

/* First and second derivative along one direction, from values at -3 .. 3 steps. */
static void differences(const double *f, double *first, double *second)
{
    *first = ((f[6] - f[0]) - 9 * (f[5] - f[1]) + 45 * (f[4] - f[2])) / (60 * DIFFERENCE);
    *second = (2 * (f[0] - f[3] + f[6] - f[3]) - 27 * (f[1] - f[3] + f[5] - f[3]) + 270 * (f[2] - f[3] + f[4] - f[3])) /
              (180 * DIFFERENCE * DIFFERENCE);
}

/* Gradient and curvature of the log-likelihood. The mixed derivative comes from the curvature along the diagonal. */
struct shape {
    double g[2], h00, h01, h11;
};
static struct shape shape_at(const struct likelihood *l, const double *x)
{
    struct shape s;
    double sigma = exp(x[1]); /* mu is stepped in sigmas, so that the step suits a narrow and a wide life */
    const double direction[3][2] = {{sigma, 0}, {0, 1}, {sigma, 1}};
    double first[3];
    double second[3];
    for (int k = 0; k < 3; k++) {
        double values[POINTS];
        for (int i = 0; i < POINTS; i++) {
            double step = (i - MIDDLE) * DIFFERENCE;
            values[i] = log_likelihood(l, x[0] + step * direction[k][0], x[1] + step * direction[k][1]);
        }
        differences(values, &first[k], &second[k]);
    }
    s.g[0] = first[0] / sigma;
    s.g[1] = first[1];
    s.h00 = second[0] / (sigma * sigma);
    s.h11 = second[1];
    s.h01 = (second[2] - second[0] - second[1]) / (2 * sigma);
    return s;
}

static bool check_observations(const struct life_observation *o, size_t n, double *failures, struct err *e)
{
    *failures = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_above("time", o[i].t1, "", 0, e) || !domain_above("count", o[i].count, "", 0, e) ||
            !domain_within("count", o[i].count, "", 0, 1e12, e) ||
            !domain_within("age at entry", o[i].entry, "", 0, o[i].t1, e) ||
            (o[i].kind == LIFE_BETWEEN &&
             !domain_above("end of an interval (after its start)", o[i].t2, "", o[i].t1, e))) {
            return false;
        }
        *failures += o[i].kind == LIFE_RUNNING ? 0 : o[i].count;
    }
    return *failures > 0 || domain_refuse("no failure: a life cannot be estimated from suspensions alone",
                                          "at least one failure, or a known shape", e);
}

/* One parameter is held; the other is chosen best. what: which is held. */
enum held { HELD_SCALE, HELD_SHAPE, HELD_QUANTILE };
struct profile {
    struct likelihood l;
    enum held held;
    double zp;     /* of a held quantile */
    double value;  /* held: mu, ln sigma, or ln t_p */
    double start;  /* where the other was last best */
    double target; /* of the likelihood */
};

static double profile_point(const struct profile *p, double free_value)
{
    double log_sigma = p->held == HELD_SHAPE ? p->value : free_value;
    double mu = p->held == HELD_SCALE   ? p->value
                : p->held == HELD_SHAPE ? free_value
                                        : p->value - p->zp * exp(log_sigma);
    double found = log_likelihood(&p->l, mu, log_sigma);
    return isnan(found) ? -HUGE_VAL : found;
}

static double profile_slope(void *ctx, double free_value)
{
    const struct profile *p = ctx;
    const double d = 1e-4;
    return (profile_point(p, free_value - 2 * d) - 8 * profile_point(p, free_value - d) +
            8 * profile_point(p, free_value + d) - profile_point(p, free_value + 2 * d)) /
           (12 * d);
}

/* Likelihood with the other parameter at its best. */
static double profile_best(struct profile *p)
{
    double low = p->start;
    double high = p->start;
    for (double step = 0.05; step < 60 && !(profile_slope(p, low) >= 0); step *= 2) {
        low -= step;
    }
    for (double step = 0.05; step < 60 && !(profile_slope(p, high) <= 0); step *= 2) {
        high += step;
    }
    double root = p->start;
    find_root(profile_slope, p, low, high, &root);
    p->start = root;
    return profile_point(p, root);
}

static double profile_off(void *ctx, double value)
{
    struct profile *p = ctx;
    p->value = value;
    return profile_best(p) - p->target;
}

/* Where the profile falls to the target, below (side -1) or above the best value; infinite when it never does. */
static double profile_limit(struct profile p, double best, double side)
{
    double inner = best;
    for (double step = 0.05; step < 200; step *= 1.6) {
        double outer = best + side * step;
        if (profile_off(&p, outer) < 0) {
            double root = outer;
            find_root(profile_off, &p, side > 0 ? inner : outer, side > 0 ? outer : inner, &root);
            return root;
        }
        inner = outer;
    }
    return side * HUGE_VAL;
}

static double two_sided(double confidence)
{
    return normal_quantile(tails_of_q((1 - confidence) / 2));
}

/* Wald limits of exp(log_value) by the standard error of its logarithm. */
static void wald(double value, double se_log, double z, double *logarithmic, double *plain)
{
    for (int side = 0; side < 2; side++) {
        double sign = side == 0 ? -1 : 1;
        logarithmic[side] = value * exp(sign * z * se_log);
        if (plain) {
            plain[side] = value + sign * z * value * se_log;
        }
    }
}

/* From the mean of ln t over everything known, by simplex and then Newton's steps. */
static bool climb(const struct likelihood *l, double *x, struct arena *scratch)
{
    double sum = 0;
    double count = 0;
    for (size_t i = 0; i < l->n; i++) {
        sum += l->o[i].count * log(l->o[i].t1);
        count += l->o[i].count;
    }
    x[0] = sum / count;
    x[1] = 0;
    const double steps[2] = {1, 0.7};
    struct likelihood copy = *l;
    minimise(minus, &copy, x, steps, 2, scratch);
    if (x[1] < LOG_SIGMA_LEAST || !isfinite(x[0]) || fabs(x[0]) > 700) {
        return false;
    }
    for (int i = 0; i < 8; i++) {
        struct shape s = shape_at(l, x);
        double determinant = s.h00 * s.h11 - s.h01 * s.h01;
        if (!(determinant > 0) || !(s.h00 < 0)) {
            return false;
        }
        x[0] -= (s.h11 * s.g[0] - s.h01 * s.g[1]) / determinant;
        x[1] -= (s.h00 * s.g[1] - s.h01 * s.g[0]) / determinant;
    }
    return isfinite(x[0]) && isfinite(x[1]);
}

bool life_fit(enum life_law law, const struct life_observation *o, size_t n, double confidence, struct life_fit *out,
              struct arena *scratch, struct err *e)
{
    struct life_fit f = {.exists = false};
    double failures = 0;
    double x[2];
    if (!check_observations(o, n, &failures, e) || !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    struct likelihood l = {law, o, n};
    f.exists = climb(&l, x, scratch);
    if (!f.exists) {
        *out = f;
        return true;
    }
    struct shape s = shape_at(&l, x);
    double determinant = s.h00 * s.h11 - s.h01 * s.h01;
    f.mu = x[0];
    f.sigma = exp(x[1]);
    f.log_likelihood = log_likelihood(&l, x[0], x[1]);
    f.se_mu = sqrt(-s.h11 / determinant);
    f.se_log_sigma = sqrt(-s.h00 / determinant);
    f.cov_mu_log_sigma = s.h01 / determinant;
    double z = two_sided(confidence);
    struct profile p = {.l = l, .held = HELD_SCALE, .start = x[1], .target = f.log_likelihood - z * z / 2};
    wald(1 / f.sigma, f.se_log_sigma, z, f.shape.wald_log, f.shape.wald_plain);
    wald(exp(f.mu), f.se_mu, z, f.scale.wald_log, f.scale.wald_plain);
    f.scale.ratio[0] = exp(profile_limit(p, x[0], -1));
    f.scale.ratio[1] = exp(profile_limit(p, x[0], 1));
    p.held = HELD_SHAPE;
    p.start = x[0];
    f.shape.ratio[0] = exp(-profile_limit(p, x[1], 1)); /* a wide sigma is a low beta */
    f.shape.ratio[1] = exp(-profile_limit(p, x[1], -1));
    *out = f;
    return true;
}

bool life_fit_quantile(enum life_law law, const struct life_observation *o, size_t n, const struct life_fit *fit,
                       double p, double confidence, struct life_quantile *out, struct err *e)
{
    if (!domain_above("share failed", p, "%", 0, e) || !domain_within("share failed", p, "%", 0, 1 - 1e-12, e)) {
        return false;
    }
    if (!fit->exists) {
        return domain_refuse("no fit", "failures at more than one time", e);
    }
    double zp = law == LIFE_WEIBULL ? log(-log1p(-p)) : normal_quantile(tails_of_p(p));
    double log_t = fit->mu + zp * fit->sigma;
    double slope = zp * fit->sigma; /* of ln t_p by ln sigma */
    struct life_quantile q = {.time = exp(log_t)};
    q.se_log = sqrt(fit->se_mu * fit->se_mu + 2 * slope * fit->cov_mu_log_sigma +
                    slope * slope * fit->se_log_sigma * fit->se_log_sigma);
    double z = two_sided(confidence);
    wald(q.time, q.se_log, z, q.wald_log, NULL);
    struct profile prof = {.l = {law, o, n},
                           .held = HELD_QUANTILE,
                           .zp = zp,
                           .start = log(fit->sigma),
                           .target = fit->log_likelihood - z * z / 2};
    q.ratio[0] = exp(profile_limit(prof, log_t, -1));
    q.ratio[1] = exp(profile_limit(prof, log_t, 1));
    *out = q;
    return true;
}

/* Slope and curvature of an exponential's likelihood by ln theta. */
static void mean_shape(const struct likelihood *l, double log_theta, double *first, double *second)
{
    double values[POINTS];
    for (int i = 0; i < POINTS; i++) {
        values[i] = log_likelihood(l, log_theta + (i - MIDDLE) * DIFFERENCE, 0);
    }
    differences(values, first, second);
}

static double mean_slope(void *ctx, double log_theta)
{
    double first = 0;
    double second = 0;
    mean_shape(ctx, log_theta, &first, &second);
    return first;
}

bool life_mean(const struct life_observation *o, size_t n, double confidence, struct life_mean *out, struct err *e)
{
    struct life_mean m = {.exact = true};
    double failures = 0;
    double longest = 0;
    if (!check_observations(o, n, &failures, e) || !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        m.exact = m.exact && (o[i].kind == LIFE_FAILED || o[i].kind == LIFE_RUNNING);
        m.total_time += o[i].count * (o[i].t1 - o[i].entry);
        longest = fmax(longest, o[i].t1);
    }
    struct likelihood l = {LIFE_WEIBULL, o, n};
    double z = two_sided(confidence);
    double log_theta = log(m.total_time / failures);
    m.failures = failures;
    if (!m.exact && !find_root(mean_slope, &l, log(longest) - 25, log(longest) + 25, &log_theta)) {
        return domain_refuse("no mean can be found", "failures and suspensions at more than one time", e);
    }
    double first = 0;
    double second = 0;
    mean_shape(&l, log_theta, &first, &second);
    m.theta = exp(log_theta);
    m.log_likelihood = log_likelihood(&l, log_theta, 0);
    m.se_log = m.exact ? 1 / sqrt(failures) : 1 / sqrt(-second);
    wald(m.theta, m.se_log, z, m.wald_log, NULL);
    if (m.exact) {
        struct tails upper = tails_of_q((1 - confidence) / 2);
        struct tails lower = tails_of_p((1 - confidence) / 2);
        m.time_censored[0] = 2 * m.total_time / chi_square_quantile(upper, 2 * failures + 2);
        m.failure_censored[0] = 2 * m.total_time / chi_square_quantile(upper, 2 * failures);
        m.time_censored[1] = m.failure_censored[1] = 2 * m.total_time / chi_square_quantile(lower, 2 * failures);
    }
    *out = m;
    return true;
}

bool life_known_shape(double beta, const double *running, size_t n_running, const double *failed, size_t n_failed,
                      double confidence, struct known_shape *out, struct err *e)
{
    struct known_shape k = {.failures = n_failed};
    if (!domain_within("known shape", beta, "", 0.1, 50, e) ||
        !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    for (size_t i = 0; i < n_running + n_failed; i++) {
        double t = i < n_running ? running[i] : failed[i - n_running];
        if (!domain_above("time", t, "", 0, e)) {
            return false;
        }
        k.sum += pow(t, beta);
    }
    if (!domain_above("sum of the times to the power of the shape", k.sum, "", 0, e)) {
        return false;
    }
    double r = (double)n_failed;
    k.eta_lower = pow(2 * k.sum / chi_square_quantile(tails_of_p(confidence), 2 * r + 2), 1 / beta);
    k.eta = n_failed > 0 ? pow(k.sum / r, 1 / beta) : (double)NAN;
    *out = k;
    return true;
}
