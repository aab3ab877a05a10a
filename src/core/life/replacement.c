/* Age, block and minimal-repair policies of a Weibull life. */
#include "life/replacement.h"

#include "quantity/domain.h"
#include "stats/numeric.h"
#include "stats/special.h"

#include <math.h>

#define SERIES_MOST 15.0 /* of (t/eta)^beta */
#define TERMS 120

static bool check_weibull(struct weibull w, struct err *e)
{
    return domain_within("shape beta", w.beta, "", 0.1, 50, e) && domain_above("scale eta", w.eta, "", 0, e) &&
           domain_within("scale eta", w.eta, "", 0, 1e100, e);
}

static bool check_costs(struct replacement_costs c, struct err *e)
{
    return domain_above("cost of a planned replacement", c.planned, "", 0, e) &&
           domain_within("cost of a planned replacement", c.planned, "", 0, 1e15, e) &&
           domain_above("cost of a failure replacement", c.failure, "", 0, e) &&
           domain_within("cost of a failure replacement", c.failure, "", 0, 1e15, e);
}

double weibull_mean(struct weibull w)
{
    return w.eta * exp(log_gamma(1 + 1 / w.beta));
}

/* (t/eta)^beta */
static double scaled(struct weibull w, double t)
{
    return pow(t / w.eta, w.beta);
}

/* Mean time to the earlier of failure and age t. */
static double mean_cycle(struct weibull w, double t)
{
    return weibull_mean(w) * gamma_ratio(1 / w.beta, scaled(w, t)).p;
}

bool age_cost_rate(struct weibull w, struct replacement_costs c, double age, double *rate, struct err *e)
{
    if (!check_weibull(w, e) || !check_costs(c, e) || !domain_above("age", age, "", 0, e)) {
        return false;
    }
    double x = scaled(w, age);
    *rate = (c.planned * exp(-x) - c.failure * expm1(-x)) / mean_cycle(w, age);
    return true;
}

struct age_search {
    struct weibull w;
    double target; /* cp / (cf - cp) */
};

/* h(T) integral of R - F(T) - target, over ln T; rises where the hazard does. */
static double age_off(void *ctx, double log_t)
{
    const struct age_search *s = ctx;
    double t = exp(log_t);
    double x = scaled(s->w, t);
    return s->w.beta * x / t * mean_cycle(s->w, t) + expm1(-x) - s->target;
}

bool age_policy(struct weibull w, struct replacement_costs c, struct age_policy *out, struct err *e)
{
    if (!check_weibull(w, e) || !check_costs(c, e)) {
        return false;
    }
    struct age_policy p = {.mean_life = weibull_mean(w), .run_to_failure = c.failure / weibull_mean(w)};
    p.cost_rate = p.run_to_failure;
    struct age_search s = {w, c.planned / (c.failure - c.planned)};
    double root = 0;
    if (w.beta > 1 && c.failure > c.planned &&
        find_root(age_off, &s, log(w.eta) - 700 / w.beta, log(w.eta) + 40 / w.beta + 20 / (w.beta - 1), &root)) {
        p.finite = true;
        p.age = exp(root);
        p.failure_probability = -expm1(-scaled(w, p.age));
        p.mean_cycle = mean_cycle(w, p.age);
        if (!age_cost_rate(w, c, p.age, &p.cost_rate, e)) {
            return false;
        }
    }
    *out = p;
    return true;
}

/* B_k = 1 - sum over j < k of g_j g_(k-j) / g_k B_(k-j), g_k = Gamma(k beta + 1)/k!. */
static void renewal_coefficients(double beta, double *b, double *log_g)
{
    for (int k = 1; k <= TERMS; k++) {
        log_g[k] = log_gamma(k * beta + 1) - log_gamma(k + 1);
        b[k] = 1;
        for (int j = 1; j < k; j++) {
            b[k] -= exp(log_g[j] + log_g[k - j] - log_g[k]) * b[k - j];
        }
    }
}

static struct renewals renewals_at(const double *b, double beta, double x)
{
    struct renewals r = {0, 0};
    double term = 1;
    for (int k = 1; k <= TERMS; k++) {
        term *= x / k;
        double signed_term = (k % 2 == 1 ? term : -term) * b[k];
        r.count += signed_term;
        r.slope_times_t += k * beta * signed_term;
        if (k > x && term < 1e-18) {
            break;
        }
    }
    return r;
}

bool weibull_renewals(struct weibull w, double t, struct renewals *out, struct err *e)
{
    double b[TERMS + 1];
    double log_g[TERMS + 1];
    if (!check_weibull(w, e) || !domain_within("time", t, "", 0, w.eta * pow(SERIES_MOST, 1 / w.beta), e)) {
        return false;
    }
    renewal_coefficients(w.beta, b, log_g);
    *out = renewals_at(b, w.beta, scaled(w, t));
    return true;
}

struct block_search {
    const double *b;
    struct weibull w;
    double ratio; /* cp / cf */
};

/* T m(T) - M(T) - cp/cf: the sign of the slope of the cost. */
static double block_off(void *ctx, double t)
{
    const struct block_search *s = ctx;
    struct renewals r = renewals_at(s->b, s->w.beta, scaled(s->w, t));
    return r.slope_times_t - r.count - s->ratio;
}

bool block_policy(struct weibull w, struct replacement_costs c, struct block_policy *out, struct err *e)
{
    double b[TERMS + 1];
    double log_g[TERMS + 1];
    if (!check_weibull(w, e) || !check_costs(c, e)) {
        return false;
    }
    renewal_coefficients(w.beta, b, log_g);
    struct block_search s = {b, w, c.planned / c.failure};
    struct block_policy p = {.run_to_failure = c.failure / weibull_mean(w)};
    double end = w.eta * fmin(2.2, pow(SERIES_MOST, 1 / w.beta));
    const int steps = 400;
    for (int i = 1; i < steps && !p.found; i++) {
        double low = end * i / steps;
        double high = end * (i + 1) / steps;
        if (block_off(&s, low) < 0 && block_off(&s, high) >= 0) {
            p.found = find_root(block_off, &s, low, high, &p.interval);
        }
    }
    if (p.found) {
        p.renewals = renewals_at(b, w.beta, scaled(w, p.interval)).count;
        p.cost_rate = (c.planned + c.failure * p.renewals) / p.interval;
    }
    *out = p;
    return true;
}

bool minimal_repair_policy(struct weibull w, double planned, double repair, struct repair_policy *out, struct err *e)
{
    if (!check_weibull(w, e) || !check_costs((struct replacement_costs){planned, repair}, e) ||
        !domain_above("shape beta (repairs must become more frequent)", w.beta, "", 1, e)) {
        return false;
    }
    double t = w.eta * pow(planned / (repair * (w.beta - 1)), 1 / w.beta);
    *out = (struct repair_policy){t, (planned + repair * scaled(w, t)) / t};
    return true;
}
