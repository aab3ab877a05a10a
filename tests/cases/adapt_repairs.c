/* Topics of repaired machines: mean cumulative function and the power-law process. */
#include "cases.h"

#include "life/repairs.h"

#include <math.h>

/* [end, [t, t, ...]] or [end, [[t, count], ...]] */
static struct repair_history history_of(const json_t *row, struct arena *a)
{
    const json_t *events = json_array_get(row, 1);
    double *list = NULL;
    size_t n = 0;
    size_t cap = 0;
    for (size_t i = 0; i < json_array_size(events); i++) {
        const json_t *event = json_array_get(events, i);
        const json_t *time = json_is_array(event) ? json_array_get(event, 0) : event;
        double times = json_is_array(event) ? json_number_value(json_array_get(event, 1)) : 1;
        for (double k = 0; k < times && k < 1e6; k++) {
            ARENA_PUSH(a, list, n, cap) = json_is_number(time) ? json_number_value(time) : (double)NAN;
        }
    }
    return (struct repair_history){json_number_value(json_array_get(row, 0)), list, n};
}

static struct repair_history *histories_of(const struct case_in *in, const char *name, size_t *n)
{
    const json_t *list = json_object_get(in->inputs, name);
    *n = json_array_size(list);
    struct repair_history *h = ARENA_ARRAY(in->a, struct repair_history, *n + 1);
    for (size_t i = 0; i < *n; i++) {
        h[i] = history_of(json_array_get(list, i), in->a);
    }
    return h;
}

bool case_mcf(const struct case_in *in, json_t *got, struct err *e)
{
    static const char *const names[] = {"time",       "at_risk",  "events",   "mcf",    "var_robust",
                                        "var_nelson", "plain_lo", "plain_hi", "log_lo", "log_hi"};
    size_t n = 0;
    size_t n_steps = 0;
    struct mcf_step *steps = NULL;
    struct repair_history *h = histories_of(in, "units", &n);
    double confidence = 0.95;
    if ((case_has(in, "conf") && !case_number(in, "conf", &confidence, e)) ||
        !repairs_mcf(h, n, confidence, &steps, &n_steps, in->a, e)) {
        return false;
    }
    for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
        json_t *column = json_array();
        json_object_set_new(got, names[k], column);
        for (size_t i = 0; i < n_steps; i++) {
            const struct mcf_step *s = &steps[i];
            const double values[] = {s->time,   s->at_risk,  s->events,   s->mcf,    s->robust,
                                     s->nelson, s->plain[0], s->plain[1], s->log[0], s->log[1]};
            json_array_append_new(column, isnan(values[k]) ? json_null() : json_real(values[k]));
        }
    }
    return true;
}

bool case_power_law(const struct case_in *in, json_t *got, struct err *e)
{
    size_t n = 0;
    struct power_law p;
    struct repair_history *h = histories_of(in, "systems", &n);
    bool failure_truncated = false;
    if (case_has(in, "times")) {
        struct str truncation = S("time");
        json_t *row = json_array();
        json_array_append(row, json_object_get(in->inputs, "T"));
        json_array_append(row, json_object_get(in->inputs, "times"));
        if (case_has(in, "truncation") && !case_text(in, "truncation", &truncation, e)) {
            json_decref(row);
            return false;
        }
        failure_truncated = str_eq(truncation, S("failure"));
        h[0] = history_of(row, in->a);
        n = 1;
        json_decref(row);
    }
    if (!repairs_power_law(h, n, failure_truncated, 0.95, &p, e)) {
        return false;
    }
    case_set_number(got, "n", (double)p.n);
    case_set_number(got, "systems", (double)n);
    case_set_number(got, "beta_mle", p.beta);
    case_set_number(got, "lambda_mle", p.lambda);
    case_set_number(got, "loglik", p.log_likelihood);
    case_set_number(got, "mil_hdbk_189_chi2", p.chi_square);
    case_set_number(got, "mil_hdbk_189_df", p.df);
    case_set_number(got, "mil_hdbk_189_p_lower", p.p_lower);
    case_set_number(got, "mil_hdbk_189_p_upper", p.p_upper);
    case_set_number(got, "mil_hdbk_189_p_two_sided", fmin(1, 2 * fmin(p.p_lower, p.p_upper)));
    case_set_number(got, "laplace_u", p.laplace);
    case_set_number(got, "laplace_p_two_sided", p.laplace_p);
    if (n > 1) {
        return true;
    }
    json_t *limits = json_array();
    json_array_append_new(limits, json_real(p.beta_low));
    json_array_append_new(limits, json_real(p.beta_high));
    json_object_set_new(got, "beta_95_exact", limits);
    case_set_number(got, "eta_mle", pow(p.lambda, -1 / p.beta));
    case_set_number(got, "beta_unbiased", p.beta_unbiased);
    case_set_number(got, "intensity_at_T", p.intensity);
    case_set_number(got, "mtbf_at_T", 1 / p.intensity);
    case_set_number(got, "cvm", p.cramer_von_mises);
    case_set_number(got, "reverse_arrangements", (double)p.reverse_arrangements);
    /* The handbook's own letters for the bias-corrected estimate. */
    case_set_number(got, "nist_b", p.beta_unbiased);
    case_set_number(got, "nist_beta_hat", 1 - p.beta_unbiased);
    case_set_number(got, "nist_a", (double)p.n / pow(h[0].end, p.beta_unbiased));
    double mtbf = h[0].end / ((double)p.n * p.beta_unbiased);
    struct mtbf_limits limits_80;
    struct err none = err_new(in->a);
    case_set_number(got, "nist_mtbf", mtbf);
    if (repairs_mtbf_limits(p.n, mtbf, 0.8, &limits_80, &none)) {
        case_set_number(got, "nist_mtbf_80_lower", limits_80.low);
        case_set_number(got, "nist_mtbf_80_upper", limits_80.high);
    }
    return true;
}
