/* First passages by their closed forms, quantiles by bracketing on the logarithm of time. */
#include "stats/passage.h"

#include "quantity/domain.h"
#include "stats/numeric.h"

#include <math.h>

#define LN_2PI 1.83787706640934548356
#define ROOT2 1.41421356237309504880

static bool check_wiener(struct wiener w, double level, struct err *e)
{
    return domain_within("drift", w.drift, "", -1e12, 1e12, e) && domain_above("variance", w.variance, "", 0, e) &&
           domain_above("distance to the limit", level, "", 0, e);
}

bool wiener_passage(struct wiener w, double level, double t, struct tails *out, struct err *e)
{
    if (!check_wiener(w, level, e) || !domain_within("time", t, "", 0, 1e300, e)) {
        return false;
    }
    if (t == 0) {
        *out = (struct tails){0, 1};
        return true;
    }
    double sd = sqrt(w.variance * t);
    double z1 = (w.drift * t - level) / sd;
    double z2 = (w.drift * t + level) / sd;
    double shared = exp(-z1 * z1 / 2);
    /* exp(2 drift level / variance) times the upper tail of z2 */
    double second =
        z2 >= 0 ? 0.5 * erf_scaled(z2 / ROOT2) * shared : exp(2 * w.drift * level / w.variance) * normal_tails(z2).q;
    struct tails first = normal_tails(z1);
    double p = first.p + second;
    double q = z1 > 0 && z2 >= 0 ? 0.5 * shared * (erf_scaled(z1 / ROOT2) - erf_scaled(z2 / ROOT2)) : first.q - second;
    *out = (struct tails){fmin(1, p), fmax(0, q)};
    return true;
}

bool wiener_ever(struct wiener w, double level, double *probability, struct err *e)
{
    if (!check_wiener(w, level, e)) {
        return false;
    }
    *probability = w.drift >= 0 ? 1 : exp(2 * w.drift * level / w.variance);
    return true;
}

bool wiener_moments(struct wiener w, double level, struct wiener_moments *out, struct err *e)
{
    if (!check_wiener(w, level, e) ||
        !domain_above("drift towards the limit (else there is no mean)", w.drift, "", 0, e)) {
        return false;
    }
    *out = (struct wiener_moments){level / w.drift, level * level / w.variance,
                                   sqrt(level * w.variance / (w.drift * w.drift * w.drift))};
    return true;
}

/* A process, level and target for the root finder over ln t. */
struct search {
    struct wiener w;
    struct gamma_process g;
    double level;
    struct tails target;
    struct err *e;
};

/* Rises with t; on the smaller tail, by logarithm, so that a far quantile is found as sharply as the median. */
static double off_target(struct tails at, struct tails target)
{
    return target.p <= target.q ? log(fmax(at.p, 1e-320)) - log(target.p) : log(target.q) - log(fmax(at.q, 1e-320));
}

static double wiener_off(void *ctx, double log_t)
{
    const struct search *s = ctx;
    struct tails at = {0, 1};
    wiener_passage(s->w, s->level, exp(log_t), &at, s->e);
    return off_target(at, s->target);
}

static double gamma_off(void *ctx, double log_t)
{
    const struct search *s = ctx;
    struct tails at = {0, 1};
    gamma_passage(s->g, s->level, exp(log_t), &at, s->e);
    return off_target(at, s->target);
}

/* Widens a bracket of ln t around a guess until the signs differ, then finds the root. */
static bool quantile(number_fn *f, struct search *s, double guess, double *t, struct err *e)
{
    double low = log(guess);
    double high = low;
    for (double step = 0.5; step < 600; step *= 2) {
        low -= f(s, low) > 0 ? step : 0;
        high += f(s, high) < 0 ? step : 0;
        if (f(s, low) <= 0 && f(s, high) >= 0) {
            double root = 0;
            if (find_root(f, s, low, high, &root)) {
                *t = exp(root);
                return true;
            }
        }
    }
    return domain_refuse("no such time can be computed", "a probability further from 0 and 1", e);
}

/* More than 0 and less than what is ever reached. */
static bool check_probability(double p, double most, struct err *e)
{
    if (!domain_above("probability", p, "", 0, e)) {
        return false;
    }
    return p < most ||
           domain_refuse(most < 1 ? "the limit is never reached with that probability" : "probability of 1 or more",
                         most < 1 ? "less than the probability of ever reaching it" : "between 0 and 1", e);
}

bool wiener_quantile(struct wiener w, double level, double p, double *t, struct err *e)
{
    double ever = 0;
    if (!wiener_ever(w, level, &ever, e) || !check_probability(p, ever, e)) {
        return false;
    }
    struct search s = {.w = w, .level = level, .target = tails_of_p(p), .e = e};
    double guess = w.drift > 0 ? level / w.drift : level * level / w.variance;
    return quantile(wiener_off, &s, guess, t, e);
}

static bool check_gamma(struct gamma_process g, double level, struct err *e)
{
    return domain_above("rate of the shape", g.rate, "", 0, e) && domain_above("scale", g.scale, "", 0, e) &&
           domain_above("distance to the limit", level, "", 0, e);
}

bool gamma_passage(struct gamma_process g, double level, double t, struct tails *out, struct err *e)
{
    if (!check_gamma(g, level, e) || !domain_within("time", t, "", 0, 1e300, e)) {
        return false;
    }
    if (g.rate * t == 0) {
        *out = (struct tails){0, 1};
        return true;
    }
    struct tails x = gamma_ratio(g.rate * t, level / g.scale);
    *out = (struct tails){x.q, x.p}; /* over the level by then */
    return true;
}

bool gamma_passage_quantile(struct gamma_process g, double level, double p, double *t, struct err *e)
{
    if (!check_gamma(g, level, e) || !check_probability(p, 1, e)) {
        return false;
    }
    struct search s = {.g = g, .level = level, .target = tails_of_p(p), .e = e};
    return quantile(gamma_off, &s, level / (g.rate * g.scale), t, e);
}

static double survival(void *ctx, double t)
{
    const struct search *s = ctx;
    struct tails at = {0, 1};
    gamma_passage(s->g, s->level, t, &at, s->e);
    return at.q;
}

bool gamma_passage_mean(struct gamma_process g, double level, double *mean, struct err *e)
{
    double half = 0;
    double end = 0;
    /* Past the end the survival adds nothing that a double holds. */
    if (!gamma_passage_quantile(g, level, 0.5, &half, e)) {
        return false;
    }
    struct search s = {.g = g, .level = level, .e = e};
    for (end = half; survival(&s, end) > 1e-18; end *= 1.5) {
    }
    *mean = integrate(survival, &s, 0, end, 1e-12);
    return true;
}

static bool check_increments(struct increments in, struct err *e)
{
    if (in.n < 2) {
        return domain_refuse("too few increments", "at least two", e);
    }
    for (size_t i = 0; i < in.n; i++) {
        if (!domain_above("time of an increment", in.dt[i], "", 0, e) ||
            !domain_within("increment", in.dx[i], "", -1e12, 1e12, e)) {
            return false;
        }
    }
    return true;
}

static double sum_of(const double *x, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += x[i];
    }
    return sum;
}

bool wiener_fit(struct increments in, struct wiener *out, double *log_likelihood, struct err *e)
{
    if (!check_increments(in, e)) {
        return false;
    }
    struct wiener w = {.drift = sum_of(in.dx, in.n) / sum_of(in.dt, in.n)};
    for (size_t i = 0; i < in.n; i++) {
        double off = in.dx[i] - w.drift * in.dt[i];
        w.variance += off * off / in.dt[i] / (double)in.n;
    }
    if (!domain_above("variance of the increments", w.variance, "", 0, e)) {
        return false;
    }
    double sum = 0;
    for (size_t i = 0; i < in.n; i++) {
        double off = in.dx[i] - w.drift * in.dt[i];
        sum -= 0.5 * (LN_2PI + log(w.variance * in.dt[i]) + off * off / (w.variance * in.dt[i]));
    }
    *out = w;
    *log_likelihood = sum;
    return true;
}

struct profile {
    struct increments in;
    double mean; /* sum dx / sum dt */
};

/* Derivative of the profile likelihood by the rate: sum dt (ln dx - ln scale - digamma(rate dt)). Falls with the rate.
 */
static double gamma_score(void *ctx, double log_rate)
{
    const struct profile *p = ctx;
    double rate = exp(log_rate);
    double sum = 0;
    for (size_t i = 0; i < p->in.n; i++) {
        sum += p->in.dt[i] * (log(p->in.dx[i]) - log(p->mean / rate) - digamma(rate * p->in.dt[i]));
    }
    return sum;
}

bool gamma_fit(struct increments in, struct gamma_process *out, double *log_likelihood, struct err *e)
{
    if (!check_increments(in, e)) {
        return false;
    }
    for (size_t i = 0; i < in.n; i++) {
        if (!domain_above("increment of a process that only rises", in.dx[i], "", 0, e)) {
            return false;
        }
    }
    struct profile p = {in, sum_of(in.dx, in.n) / sum_of(in.dt, in.n)};
    double middle = -log(sum_of(in.dt, in.n) / (double)in.n);
    double root = 0;
    if (!find_root(gamma_score, &p, middle - 25, middle + 25, &root)) {
        return domain_refuse("increments without spread: no scale can be found", "increments that vary per time", e);
    }
    struct gamma_process g = {exp(root), p.mean / exp(root)};
    double sum = 0;
    for (size_t i = 0; i < in.n; i++) {
        double shape = g.rate * in.dt[i];
        sum += (shape - 1) * log(in.dx[i]) - in.dx[i] / g.scale - shape * log(g.scale) - log_gamma(shape);
    }
    *out = g;
    *log_likelihood = sum;
    return true;
}
