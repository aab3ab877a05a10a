/* Topic of life distributions. */
#include "cases.h"

#include "life/fit.h"

#include <math.h>
#include <string.h>

static json_t *pair(const double limits[2])
{
    json_t *both = json_array();
    json_array_append_new(both, json_real(limits[0]));
    json_array_append_new(both, json_real(limits[1]));
    return both;
}

/* [kind, t1, t2, count, entry] */
static bool read_observations(const struct case_in *in, struct life_observation **out, size_t *n, struct err *e)
{
    const json_t *list = json_object_get(in->inputs, "observations");
    *n = json_array_size(list);
    *out = ARENA_ARRAY(in->a, struct life_observation, *n + 1);
    for (size_t i = 0; i < *n; i++) {
        const json_t *row = json_array_get(list, i);
        const char *kind = json_string_value(json_array_get(row, 0));
        static const enum life_kind kinds[] = {LIFE_FAILED, LIFE_RUNNING, LIFE_BEFORE, LIFE_BETWEEN};
        static const char letters[] = "FRLI";
        const char *at = kind && kind[0] ? strchr(letters, kind[0]) : NULL;
        if (!at) {
            return err_set(e, ERR_INPUT, "F, R, L or I", "an observation of no known kind", (char *)0);
        }
        (*out)[i] = (struct life_observation){
            kinds[at - letters], json_number_value(json_array_get(row, 1)), json_number_value(json_array_get(row, 2)),
            json_number_value(json_array_get(row, 3)), json_number_value(json_array_get(row, 4))};
    }
    return true;
}

static bool fit_law(const struct case_in *in, enum life_law law, const struct life_observation *o, size_t n,
                    json_t *got, struct err *e)
{
    struct life_fit f;
    struct life_quantile q;
    json_t *j = json_object();
    json_object_set_new(got, law == LIFE_WEIBULL ? "weibull" : "lognormal", j);
    if (!life_fit(law, o, n, 0.95, &f, in->a, e)) {
        return false;
    }
    case_set_flag(j, "exists", f.exists);
    if (!f.exists) {
        return true;
    }
    case_set_number(j, "loglik", f.log_likelihood);
    case_set_number(j, "mu", f.mu);
    case_set_number(j, "sigma", f.sigma);
    case_set_number(j, "se_mu", f.se_mu);
    case_set_number(j, "se_log_sigma", f.se_log_sigma);
    case_set_number(j, "cov_mu_log_sigma", f.cov_mu_log_sigma);
    if (law == LIFE_WEIBULL) {
        case_set_number(j, "beta", 1 / f.sigma);
        case_set_number(j, "eta", exp(f.mu));
        case_set_number(j, "se_beta", f.se_log_sigma / f.sigma);
        case_set_number(j, "se_eta", f.se_mu * exp(f.mu));
        json_object_set_new(j, "beta_wald_log_95", pair(f.shape.wald_log));
        json_object_set_new(j, "beta_wald_plain_95", pair(f.shape.wald_plain));
        json_object_set_new(j, "beta_lr_95", pair(f.shape.ratio));
        json_object_set_new(j, "eta_wald_log_95", pair(f.scale.wald_log));
        json_object_set_new(j, "eta_wald_plain_95", pair(f.scale.wald_plain));
        json_object_set_new(j, "eta_lr_95", pair(f.scale.ratio));
    }
    if (!life_fit_quantile(law, o, n, &f, 0.1, 0.95, &q, e)) {
        return false;
    }
    json_t *b10 = json_object();
    json_object_set_new(j, "B10", b10);
    case_set_number(b10, "p", 0.1);
    case_set_number(b10, "t", q.time);
    case_set_number(b10, "se_log_t", q.se_log);
    json_object_set_new(b10, "wald_log_95", pair(q.wald_log));
    json_object_set_new(b10, "lr_95", pair(q.ratio));
    return true;
}

static bool fit_exponential(const struct life_observation *o, size_t n, json_t *got, struct err *e)
{
    struct life_mean m;
    json_t *j = json_object();
    json_object_set_new(got, "exponential", j);
    if (!life_mean(o, n, 0.95, &m, e)) {
        return false;
    }
    case_set_number(j, "theta", m.theta);
    case_set_number(j, "loglik", m.log_likelihood);
    case_set_number(j, "se_log_theta", m.se_log);
    json_object_set_new(j, "wald_log_95", pair(m.wald_log));
    if (m.exact) {
        case_set_number(j, "total_time", m.total_time);
        case_set_number(j, "r", m.failures);
        json_object_set_new(j, "chi2_95_time_censored", pair(m.time_censored));
        json_object_set_new(j, "chi2_95_failure_censored", pair(m.failure_censored));
    }
    return true;
}

static double *list_of(const struct case_in *in, const char *name, size_t *n)
{
    const json_t *list = json_object_get(in->inputs, name);
    *n = json_array_size(list);
    double *v = ARENA_ARRAY(in->a, double, *n + 1);
    for (size_t i = 0; i < *n; i++) {
        v[i] = json_number_value(json_array_get(list, i));
    }
    return v;
}

static bool known_shape(const struct case_in *in, json_t *got, struct err *e)
{
    double beta = 0;
    double confidence = 0;
    size_t n_running = 0;
    size_t n_failed = 0;
    struct known_shape k;
    double *running = list_of(in, "running", &n_running);
    double *failed = list_of(in, "failed", &n_failed);
    if (!case_number(in, "known_beta", &beta, e) || !case_number(in, "confidence", &confidence, e) ||
        !life_known_shape(beta, running, n_running, failed, n_failed, confidence, &k, e)) {
        return false;
    }
    case_set_number(got, "sum_t_beta", k.sum);
    case_set_number(got, "r", (double)k.failures);
    case_set_number(got, "eta_lower", k.eta_lower);
    json_object_set_new(got, "eta_mle", isnan(k.eta) ? json_null() : json_real(k.eta));
    return true;
}

bool case_life_fit(const struct case_in *in, json_t *got, struct err *e)
{
    struct life_observation *o = NULL;
    size_t n = 0;
    if (case_has(in, "known_beta")) {
        return known_shape(in, got, e);
    }
    return read_observations(in, &o, &n, e) && fit_law(in, LIFE_WEIBULL, o, n, got, e) &&
           fit_law(in, LIFE_LOGNORMAL, o, n, got, e) && fit_exponential(o, n, got, e);
}
