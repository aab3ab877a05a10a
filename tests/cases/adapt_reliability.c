/* Topics of reliability and decision statistics: straight to core/stats. Where the expected lists are pairs [parameter,
 * value], the parameters are read from the first places; they are part of the question. */
#include "cases.h"

#include "quantity/domain.h"
#include "stats/passage.h"
#include "stats/rates.h"
#include "stats/robust.h"
#include "stats/trend.h"

#include <math.h>
#include <string.h>

struct numbers {
    double *at;
    size_t n;
};

static bool numbers_of(const json_t *array, struct numbers *out, const char *name, struct arena *a, struct err *e)
{
    size_t n = json_array_size(array);
    *out = (struct numbers){ARENA_ARRAY(a, double, n + 1), n};
    for (size_t i = 0; i < n; i++) {
        const json_t *item = json_array_get(array, i);
        if (!json_is_number(item)) {
            return err_set(e, ERR_INPUT, "numbers", name, ": an item is no number", (char *)0);
        }
        out->at[i] = json_number_value(item);
    }
    return json_is_array(array) || err_set(e, ERR_INPUT, "a list of numbers", name, " is missing", (char *)0);
}

static bool case_numbers(const struct case_in *in, const char *name, struct numbers *out, struct err *e)
{
    return numbers_of(json_object_get(in->inputs, name), out, name, in->a, e);
}

static json_t *pair(double a, double b)
{
    json_t *both = json_array();
    json_array_append_new(both, json_real(a));
    json_array_append_new(both, json_real(b));
    return both;
}

static json_t *list_of(const double *v, size_t n)
{
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++) {
        json_array_append_new(list, json_real(v[i]));
    }
    return list;
}

/* ---- first passage ---- */

/* A process of either kind. */
struct process {
    bool gamma;
    struct wiener w;
    struct gamma_process g;
    double level;
};

static bool passage(const struct process *p, double t, struct tails *out, struct err *e)
{
    return p->gamma ? gamma_passage(p->g, p->level, t, out, e) : wiener_passage(p->w, p->level, t, out, e);
}

static bool passage_quantile(const struct process *p, double probability, double *t, struct err *e)
{
    return p->gamma ? gamma_passage_quantile(p->g, p->level, probability, t, e)
                    : wiener_quantile(p->w, p->level, probability, t, e);
}

/* Times of one path per row, to increments. */
static bool read_paths(const struct case_in *in, struct increments *out, struct err *e)
{
    struct numbers t;
    const json_t *paths = json_object_get(in->inputs, "x");
    if (!case_numbers(in, "t", &t, e)) {
        return false;
    }
    size_t count = json_array_size(paths);
    double *dt = ARENA_ARRAY(in->a, double, count *t.n + 1);
    double *dx = ARENA_ARRAY(in->a, double, count *t.n + 1);
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        struct numbers x;
        if (!numbers_of(json_array_get(paths, i), &x, "x", in->a, e)) {
            return false;
        }
        for (size_t k = 1; k < x.n && k < t.n; k++) {
            dt[n] = t.at[k] - t.at[k - 1];
            dx[n++] = x.at[k] - x.at[k - 1];
        }
    }
    *out = (struct increments){dt, dx, n};
    return true;
}

static bool fit_process(const struct case_in *in, bool gamma, json_t *got, struct err *e)
{
    struct increments data;
    struct wiener w;
    struct gamma_process g;
    double log_likelihood = 0;
    if (!read_paths(in, &data, e)) {
        return false;
    }
    if (gamma) {
        if (!gamma_fit(data, &g, &log_likelihood, e)) {
            return false;
        }
        case_set_number(got, "a", g.rate);
        case_set_number(got, "b", g.scale);
    } else {
        if (!wiener_fit(data, &w, &log_likelihood, e)) {
            return false;
        }
        case_set_number(got, "mu", w.drift);
        case_set_number(got, "sigma2", w.variance);
    }
    case_set_number(got, "loglik", log_likelihood);
    case_set_number(got, "n_increments", (double)data.n);
    return true;
}

static bool read_process(const struct case_in *in, bool gamma, struct process *p, struct err *e)
{
    *p = (struct process){.gamma = gamma};
    return case_number(in, "L", &p->level, e) &&
           (gamma ? case_number(in, "a", &p->g.rate, e) && case_number(in, "b", &p->g.scale, e)
                  : case_number(in, "mu", &p->w.drift, e) && case_number(in, "sigma2", &p->w.variance, e));
}

/* Mean, deviation and probability of ever arriving; null where there is none. */
static bool set_moments(const struct process *p, json_t *got, struct err *e)
{
    double mean = 0;
    struct wiener_moments m;
    struct err none = err_new(e->a);
    if (p->gamma) {
        if (!gamma_passage_mean(p->g, p->level, &mean, e)) {
            return false;
        }
        case_set_number(got, "mean", mean);
        return true;
    }
    if (!wiener_ever(p->w, p->level, &mean, e)) {
        return false;
    }
    case_set_number(got, "prob_ever", mean);
    bool known = wiener_moments(p->w, p->level, &m, &none);
    json_object_set_new(got, "mean", known ? json_real(m.mean) : json_null());
    json_object_set_new(got, "shape_lambda", known ? json_real(m.shape) : json_null());
    json_object_set_new(got, "sd", known ? json_real(m.deviation) : json_null());
    return true;
}

bool case_first_passage(const struct case_in *in, json_t *got, struct err *e)
{
    struct str kind;
    struct process p;
    struct numbers t = {NULL, 0};
    struct numbers probabilities = {NULL, 0};
    if (!case_text(in, "process", &kind, e)) {
        return false;
    }
    bool gamma = str_starts(kind, S("gamma"));
    if (!gamma && !str_starts(kind, S("wiener"))) {
        return err_set(e, ERR_INPUT, "wiener, gamma, wiener-fit, gamma-fit", "unknown process", (char *)0);
    }
    if (str_ends(kind, S("-fit"))) {
        return fit_process(in, gamma, got, e);
    }
    if (!read_process(in, gamma, &p, e) || (case_has(in, "t") && !case_numbers(in, "t", &t, e)) ||
        (case_has(in, "p") && !case_numbers(in, "p", &probabilities, e)) || !set_moments(&p, got, e)) {
        return false;
    }
    json_t *cdf = json_array();
    json_t *sf = json_array();
    json_t *quantile = json_array();
    json_object_set_new(got, "cdf", cdf);
    json_object_set_new(got, "sf", sf);
    json_object_set_new(got, "quantile", quantile);
    for (size_t i = 0; i < t.n; i++) {
        struct tails at;
        if (!passage(&p, t.at[i], &at, e)) {
            return false;
        }
        json_array_append_new(cdf, pair(t.at[i], at.p));
        json_array_append_new(sf, pair(t.at[i], at.q));
    }
    for (size_t i = 0; i < probabilities.n; i++) {
        double at = 0;
        if (!passage_quantile(&p, probabilities.at[i], &at, e)) {
            return false;
        }
        json_array_append_new(quantile, pair(probabilities.at[i], at));
    }
    return true;
}

/* ---- rates ---- */

/* The first places of an expected list of pairs. */
static struct numbers asked(const struct case_in *in, const char *name)
{
    const json_t *list = json_object_get(in->expected, name);
    struct numbers n = {ARENA_ARRAY(in->a, double, json_array_size(list) + 1), json_array_size(list)};
    for (size_t i = 0; i < n.n; i++) {
        n.at[i] = json_number_value(json_array_get(json_array_get(list, i), 0));
    }
    return n;
}

static bool conjugate(const struct case_in *in, json_t *got, struct err *e)
{
    struct rate_prior prior;
    struct rate_prior post;
    double failures = 0;
    double time = 0;
    if (!case_number(in, "prior_alpha", &prior.alpha, e) || !case_number(in, "prior_beta", &prior.beta, e) ||
        !case_number(in, "failures", &failures, e) || !case_number(in, "time", &time, e) ||
        !rate_update(prior, failures, time, &post, e)) {
        return false;
    }
    case_set_number(got, "alpha_post", post.alpha);
    case_set_number(got, "beta_post", post.beta);
    if (!domain_above("rate parameter of the posterior", post.beta, "", 0, e)) {
        return false;
    }
    case_set_number(got, "rate_mean", post.alpha / post.beta);
    for (int mtbf = 0; mtbf < 2; mtbf++) {
        const char *name = mtbf ? "mtbf_lower" : "rate_quantile";
        struct numbers p = asked(in, name);
        json_t *list = json_array();
        json_object_set_new(got, name, list);
        for (size_t i = 0; i < p.n; i++) {
            double rate = 0;
            if (!rate_quantile(post, p.at[i], &rate, e)) {
                return false;
            }
            json_array_append_new(list, pair(p.at[i], mtbf ? 1 / rate : rate));
        }
    }
    return true;
}

static bool family(const struct case_in *in, struct rate_data d, json_t *got, struct err *e)
{
    struct rate_fit fit;
    if (!rate_fit(d, &fit, in->a, e)) {
        return false;
    }
    case_set_flag(got, "converges", fit.found);
    case_set_number(got, "pooled_rate", fit.pooled_rate);
    if (!fit.found) {
        case_set_text(got, "limit", S("alpha and beta tend to infinity with alpha/beta = sum x/sum t"));
        return true;
    }
    case_set_number(got, "alpha", fit.prior.alpha);
    case_set_number(got, "beta", fit.prior.beta);
    case_set_number(got, "loglik_marginal", fit.log_likelihood);
    case_set_number(got, "prior_mean", fit.prior.alpha / fit.prior.beta);
    json_t *mean = json_array();
    json_t *band = json_array();
    json_t *raw = json_array();
    json_t *weight = json_array();
    json_object_set_new(got, "posterior_mean", mean);
    json_object_set_new(got, "posterior_90", band);
    json_object_set_new(got, "raw_rate", raw);
    json_object_set_new(got, "shrinkage_weight_on_data", weight);
    for (size_t i = 0; i < d.n; i++) {
        struct rate_prior post;
        double low = 0;
        double high = 0;
        if (!rate_update(fit.prior, d.x[i], d.t[i], &post, e) || !rate_quantile(post, 0.05, &low, e) ||
            !rate_quantile(post, 0.95, &high, e)) {
            return false;
        }
        json_array_append_new(mean, json_real(post.alpha / post.beta));
        json_array_append_new(band, pair(low, high));
        json_array_append_new(raw, json_real(d.x[i] / d.t[i]));
        json_array_append_new(weight, json_real(d.t[i] / post.beta));
    }
    return true;
}

/* "exponential mean 1", "gamma shape 0.1 rate 1": the number after a word. */
static bool number_after(struct str s, struct str word, double *value)
{
    ptrdiff_t at = str_find(s, word);
    return at >= 0 && num_read(str_trim(str_cut(s, (size_t)at + word.n, s.n)), value) > 0;
}

static bool full_bayes(const struct case_in *in, struct rate_data d, json_t *got, struct err *e)
{
    struct str alpha;
    struct str beta;
    struct rate_hyper h = {0};
    struct rate_posterior p;
    if (!case_text(in, "prior_alpha", &alpha, e) || !case_text(in, "prior_beta", &beta, e)) {
        return false;
    }
    if (!number_after(alpha, S("mean"), &h.alpha_mean) || !number_after(beta, S("shape"), &h.beta_shape) ||
        !number_after(beta, S("rate"), &h.beta_rate)) {
        return err_set(e, ERR_INPUT, "exponential mean M; gamma shape A rate B", "priors in words that are not known",
                       (char *)0);
    }
    if (!rate_full_bayes(d, h, &p, in->a, e)) {
        return false;
    }
    case_set_number(got, "alpha_mean", p.alpha_mean);
    case_set_number(got, "alpha_sd", p.alpha_sd);
    case_set_number(got, "beta_mean", p.beta_mean);
    case_set_number(got, "beta_sd", p.beta_sd);
    json_object_set_new(got, "theta_mean", list_of(p.theta_mean, d.n));
    json_object_set_new(got, "theta_sd", list_of(p.theta_sd, d.n));
    return true;
}

bool case_rates(const struct case_in *in, json_t *got, struct err *e)
{
    struct numbers x;
    struct numbers t;
    if (case_has(in, "mtbf50")) {
        double mtbf50 = 0;
        double mtbf05 = 0;
        struct rate_prior prior;
        if (!case_number(in, "mtbf50", &mtbf50, e) || !case_number(in, "mtbf05", &mtbf05, e) ||
            !rate_prior_of_judgement(mtbf50, mtbf05, &prior, e)) {
            return false;
        }
        case_set_number(got, "alpha", prior.alpha);
        case_set_number(got, "beta", prior.beta);
        return true;
    }
    if (case_has(in, "failures")) {
        return conjugate(in, got, e);
    }
    if (!case_numbers(in, "x", &x, e) || !case_numbers(in, "t", &t, e)) {
        return false;
    }
    if (x.n != t.n) {
        return domain_refuse("counts and exposures of different length", "one of each a unit", e);
    }
    struct rate_data d = {x.at, t.at, x.n};
    return json_is_string(json_object_get(in->inputs, "prior_alpha")) ? full_bayes(in, d, got, e)
                                                                      : family(in, d, got, e);
}

/* ---- robust limits ---- */

static json_t *fences_json(struct fences f)
{
    json_t *j = json_object();
    json_object_set_new(j, "q1", json_real(f.q1));
    json_object_set_new(j, "q3", json_real(f.q3));
    json_object_set_new(j, "iqr", json_real(f.spread));
    json_object_set_new(j, "inner", pair(f.inner[0], f.inner[1]));
    json_object_set_new(j, "outer", pair(f.outer[0], f.outer[1]));
    json_object_set_new(j, "n_outside_inner", json_integer((json_int_t)f.outside_inner));
    json_object_set_new(j, "n_outside_outer", json_integer((json_int_t)f.outside_outer));
    return j;
}

static json_t *percentiles(const struct case_in *in, const char *name, const struct sample_summary *s,
                           enum quantile_rule rule)
{
    struct numbers p = asked(in, name);
    json_t *list = json_array();
    for (size_t i = 0; i < p.n; i++) {
        json_array_append_new(list, pair(p.at[i], sample_quantile(rule, s->sorted, s->n, p.at[i])));
    }
    return list;
}

static bool tolerance(const struct case_in *in, json_t *got, struct err *e)
{
    double n = 0;
    double coverage = 0;
    double confidence = 0;
    struct tolerance_factors f;
    if (!case_number(in, "n", &n, e) || !case_number(in, "coverage", &coverage, e) ||
        !case_number(in, "confidence", &confidence, e) || !domain_within("sample size", n, "", 2, 1e6, e) ||
        !tolerance_factors((size_t)n, coverage, confidence, &f, e)) {
        return false;
    }
    case_set_number(got, "two_sided_howe", f.howe);
    case_set_number(got, "two_sided_exact", f.two_sided);
    json_object_set_new(got, "one_sided_natrella", isnan(f.natrella) ? json_null() : json_real(f.natrella));
    case_set_number(got, "one_sided_exact", f.one_sided);
    return true;
}

bool case_robust(const struct case_in *in, json_t *got, struct err *e)
{
    struct numbers x;
    struct sample_summary s;
    struct modified_z z;
    struct huber h;
    struct err none = err_new(in->a);
    if (case_has(in, "coverage")) {
        return tolerance(in, got, e);
    }
    if (!case_numbers(in, "x", &x, e) || !sample_summary(x.at, x.n, &s, in->a, e)) {
        return false;
    }
    double spread = MAD_TO_DEVIATION * s.mad;
    case_set_number(got, "n", (double)s.n);
    case_set_number(got, "mean", s.mean);
    case_set_number(got, "sd", s.deviation);
    case_set_number(got, "median", s.median);
    case_set_number(got, "mad_raw", s.mad);
    case_set_number(got, "mad_scaled_1.4826", spread);
    json_object_set_new(got, "quartiles_type6_nist", fences_json(sample_fences(&s, QUANTILE_TYPE6)));
    json_object_set_new(got, "quartiles_type7", fences_json(sample_fences(&s, QUANTILE_TYPE7)));
    json_object_set_new(got, "hinges_tukey", fences_json(sample_fences(&s, QUANTILE_TUKEY)));
    json_object_set_new(got, "percentiles_type6", percentiles(in, "percentiles_type6", &s, QUANTILE_TYPE6));
    json_object_set_new(got, "percentiles_type7", percentiles(in, "percentiles_type7", &s, QUANTILE_TYPE7));
    if (!sample_modified_z(&s, 3.5, &z, &none)) {
        case_set_text(got, "modified_z", S("undefined (MAD = 0)"));
        return true;
    }
    case_set_number(got, "modified_z_max_abs", z.largest);
    case_set_number(got, "n_modified_z_over_3.5", (double)z.over);
    json_object_set_new(got, "mad_limits_3", pair(s.median - 3 * spread, s.median + 3 * spread));
    if (!sample_huber(&s, &h, e)) {
        return false;
    }
    json_object_set_new(got, "huber_fixed_scale", pair(h.location, h.scale));
    if (!sample_huber2(&s, &h, e)) {
        return false;
    }
    json_object_set_new(got, "huber_proposal2", pair(h.location, h.scale));
    return true;
}

/* ---- trend and regression ---- */

static bool mann_kendall(const struct case_in *in, struct numbers x, struct numbers y, json_t *got, struct err *e)
{
    double conf = 0.95;
    struct trend t;
    if ((case_has(in, "conf") && !case_number(in, "conf", &conf, e)) ||
        !trend_of(x.at, y.at, x.n, conf, &t, in->a, e)) {
        return false;
    }
    case_set_number(got, "n", (double)t.n);
    case_set_number(got, "S", t.s);
    case_set_number(got, "var_S", t.var_s);
    case_set_number(got, "z", t.z);
    case_set_number(got, "p_two_sided", t.p_two_sided);
    case_set_number(got, "slope", t.slope);
    case_set_number(got, "intercept_median_residual", t.intercept_residual);
    case_set_number(got, "intercept_medians", t.intercept_medians);
    case_set_number(got, "n_slopes", (double)t.n_slopes);
    case_set_number(got, "conf", conf);
    json_object_set_new(got, "slope_ci_gilbert", t.has_limits ? pair(t.low, t.high) : json_null());
    json_object_set_new(got, "slope_ci_rank_exact", t.has_exact ? pair(t.exact_low, t.exact_high) : json_null());
    return true;
}

static void set_fit(json_t *got, const struct least_squares *l, size_t p)
{
    json_object_set_new(got, "coef", list_of(l->coef, p));
    json_object_set_new(got, "se", list_of(l->se, p));
    case_set_number(got, "rss", l->rss);
    case_set_number(got, "residual_sd", l->residual_sd);
    case_set_number(got, "df", (double)l->df);
}

/* A row of ones and the inputs. */
static bool linear(const struct case_in *in, struct numbers y, json_t *got, struct err *e)
{
    const json_t *table = json_object_get(in->inputs, "X");
    const json_t *single = json_object_get(in->inputs, "x");
    size_t n = table ? json_array_size(table) : json_array_size(single);
    size_t p = 1 + (table ? json_array_size(json_array_get(table, 0)) : 1);
    double *rows = ARENA_ARRAY(in->a, double, n *p + 1);
    struct least_squares l;
    for (size_t i = 0; i < n; i++) {
        rows[i * p] = 1;
        for (size_t k = 1; k < p; k++) {
            const json_t *value = table ? json_array_get(json_array_get(table, i), k - 1) : json_array_get(single, i);
            if (!json_is_number(value)) {
                return err_set(e, ERR_INPUT, "numbers", "a row has no number", (char *)0);
            }
            rows[i * p + k] = json_number_value(value);
        }
    }
    if (n != y.n) {
        return domain_refuse("rows and y of different length", "one y a row", e);
    }
    if (!least_squares(rows, y.at, n, p, &l, in->a, e)) {
        return false;
    }
    set_fit(got, &l, p);
    return true;
}

/* y = b1 (1 - exp(-b2 x)) */
static double rise_to_limit(void *ctx, double x, const double *b, double *d)
{
    (void)ctx;
    d[0] = -expm1(-b[1] * x);
    d[1] = b[0] * x * exp(-b[1] * x);
    return b[0] * d[0];
}

/* y = b1 exp(-b2 x) + b3 exp(-b4 x) + ...; ctx: number of parameters */
static double sum_of_decays(void *ctx, double x, const double *b, double *d)
{
    size_t p = *(const size_t *)ctx;
    double sum = 0;
    for (size_t k = 0; k + 1 < p; k += 2) {
        d[k] = exp(-b[k + 1] * x);
        d[k + 1] = -x * b[k] * d[k];
        sum += b[k] * d[k];
    }
    return sum;
}

static bool curve(const struct case_in *in, struct str model, struct numbers x, struct numbers y, json_t *got,
                  struct err *e)
{
    struct numbers b;
    struct least_squares l;
    if (!case_numbers(in, "start1", &b, e)) {
        return false;
    }
    bool rise = str_find(model, S("(1 - exp(")) >= 0;
    if (!rise && (str_find(model, S("b1 exp(")) < 0 || b.n % 2 != 0)) {
        return err_set(e, ERR_INPUT, "b1 (1 - exp(-b2 x)), or a sum of decays", "unknown model", (char *)0);
    }
    if (!curve_fit(rise ? rise_to_limit : sum_of_decays, &b.n, x.at, y.at, x.n, b.at, b.n, &l, in->a, e)) {
        return false;
    }
    set_fit(got, &l, b.n);
    return true;
}

bool case_regression(const struct case_in *in, json_t *got, struct err *e)
{
    struct numbers x = {NULL, 0};
    struct numbers y;
    struct str model;
    if (!case_numbers(in, "y", &y, e) || (case_has(in, "x") && !case_numbers(in, "x", &x, e))) {
        return false;
    }
    if (case_has(in, "x") && x.n != y.n) {
        return domain_refuse("x and y of different length", "one y for each x", e);
    }
    if (!case_has(in, "model")) {
        return mann_kendall(in, x, y, got, e);
    }
    return case_text(in, "model", &model, e) &&
           (case_has(in, "start1") ? curve(in, model, x, y, got, e) : linear(in, y, got, e));
}
