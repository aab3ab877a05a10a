/* Topics of life data and stock: straight to core/life and core/stock. */
#include "cases.h"

#include "life/replacement.h"
#include "life/survival.h"
#include "quantity/domain.h"
#include "stats/special.h"
#include "stock/spares.h"

#include <math.h>

/* A number, or null where there is none. */
static json_t *number_or_null(double v)
{
    return isnan(v) ? json_null() : json_real(v);
}

static double item_number(const json_t *array, size_t i)
{
    return json_number_value(json_array_get(array, i));
}

/* ---- survival ---- */

static bool intervals(const struct case_in *in, json_t *got, struct err *e)
{
    const json_t *list = json_object_get(in->inputs, "intervals");
    size_t n = json_array_size(list);
    struct life_interval *rows = ARENA_ARRAY(in->a, struct life_interval, n + 1);
    struct inspection_estimate est;
    for (size_t i = 0; i < n; i++) {
        const json_t *row = json_array_get(list, i);
        bool open = json_is_null(json_array_get(row, 1));
        rows[i] =
            (struct life_interval){item_number(row, 0), open ? HUGE_VAL : item_number(row, 1), item_number(row, 2)};
    }
    if (!inspection_estimate(rows, n, &est, in->a, e)) {
        return false;
    }
    json_t *time = json_array();
    json_t *failed = json_array();
    for (size_t i = 0; i < est.n; i++) {
        json_array_append_new(time, json_real(est.time[i]));
        json_array_append_new(failed, json_real(est.failed[i]));
    }
    json_object_set_new(got, "time", time);
    json_object_set_new(got, "F", failed);
    case_set_number(got, "loglik", est.log_likelihood);
    return true;
}

bool case_survival(const struct case_in *in, json_t *got, struct err *e)
{
    static const char *const names[] = {"time",      "n_risk",    "n_event", "surv",      "se_greenwood",
                                        "plain_lo",  "plain_hi",  "log_lo",  "log_hi",    "loglog_lo",
                                        "loglog_hi", "na_cumhaz", "na_se",   "fh_cumhaz", "fh_se"};
    const json_t *list = json_object_get(in->inputs, "rows");
    double confidence = 0.95;
    struct survival_step *steps = NULL;
    size_t n_steps = 0;
    if (case_has(in, "intervals")) {
        return intervals(in, got, e);
    }
    size_t n = json_array_size(list);
    struct life_row *rows = ARENA_ARRAY(in->a, struct life_row, n + 1);
    for (size_t i = 0; i < n; i++) {
        const json_t *row = json_array_get(list, i);
        rows[i] =
            (struct life_row){item_number(row, 0), item_number(row, 1), item_number(row, 2) > 0, item_number(row, 3)};
    }
    if ((case_has(in, "conf") && !case_number(in, "conf", &confidence, e)) ||
        !survival_estimate(rows, n, confidence, &steps, &n_steps, in->a, e)) {
        return false;
    }
    for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
        json_t *column = json_array();
        for (size_t i = 0; i < n_steps; i++) {
            const struct survival_step *s = &steps[i];
            const double values[] = {s->time,      s->at_risk,  s->failures,  s->survival, s->se,
                                     s->plain[0],  s->plain[1], s->log[0],    s->log[1],   s->loglog[0],
                                     s->loglog[1], s->hazard,   s->hazard_se, s->tied,     s->tied_se};
            json_array_append_new(column, number_or_null(values[k]));
        }
        json_object_set_new(got, names[k], column);
    }
    return true;
}

/* ---- spares ---- */

static json_t *pair(double a, double b)
{
    json_t *both = json_array();
    json_array_append_new(both, json_real(a));
    json_array_append_new(both, json_real(b));
    return both;
}

static bool whole_stock(double v, unsigned *stock, struct err *e)
{
    if (!domain_within("stock", v, "", 0, 1e8, e)) {
        return false;
    }
    *stock = (unsigned)v;
    return v == floor(v) || domain_refuse("stock is not whole", "0, 1, 2 ...", e);
}

static bool poisson_stock(const struct case_in *in, json_t *got, struct err *e)
{
    double mean = 0;
    const json_t *levels = json_object_get(in->inputs, "S");
    const json_t *targets = json_object_get(in->inputs, "targets");
    json_t *table = json_array();
    json_t *least = json_array();
    json_object_set_new(got, "table", table);
    json_object_set_new(got, "smallest_S", least);
    if (!case_number(in, "lead_time_demand_mean", &mean, e)) {
        return false;
    }
    for (size_t i = 0; i < json_array_size(levels); i++) {
        struct spares_level l;
        unsigned stock = 0;
        if (!whole_stock(item_number(levels, i), &stock, e) || !spares_poisson(mean, stock, &l, e)) {
            return false;
        }
        json_t *row = json_object();
        json_array_append_new(table, row);
        case_set_number(row, "S", stock);
        case_set_number(row, "prob_no_stockout_P_X_le_S", l.no_stockout);
        case_set_number(row, "fill_rate_P_X_le_S_minus_1", l.fill);
        case_set_number(row, "expected_backorders", l.backorders);
    }
    for (size_t i = 0; i < json_array_size(targets); i++) {
        double target = item_number(targets, i);
        unsigned by_stockout = 0;
        unsigned by_fill = 0;
        if (!spares_least(mean, target, false, &by_stockout, e) || !spares_least(mean, target, true, &by_fill, e)) {
            return false;
        }
        json_t *row = json_object();
        json_array_append_new(least, row);
        case_set_number(row, "target", target);
        case_set_number(row, "by_prob_no_stockout", by_stockout);
        case_set_number(row, "by_fill_rate", by_fill);
    }
    return true;
}

/* [[quantity, probability], ...] */
static struct demand_point *points_of(const struct case_in *in, const char *name, size_t *n)
{
    const json_t *list = json_object_get(in->inputs, name);
    *n = json_array_size(list);
    struct demand_point *p = ARENA_ARRAY(in->a, struct demand_point, *n + 1);
    for (size_t i = 0; i < *n; i++) {
        p[i] = (struct demand_point){item_number(json_array_get(list, i), 0), item_number(json_array_get(list, i), 1)};
    }
    return p;
}

static bool discrete_stock(const struct case_in *in, json_t *got, struct err *e)
{
    size_t n = 0;
    size_t n_sum = 0;
    double weeks = 0;
    struct demand_point *sum = NULL;
    struct demand_point *p = points_of(in, "weekly_demand_pmf", &n);
    const json_t *levels = json_object_get(in->inputs, "S");
    if (!case_number(in, "weeks", &weeks, e) || !domain_within("weeks", weeks, "", 1, 1000, e) ||
        !demand_sum(p, n, (unsigned)weeks, &sum, &n_sum, in->a, e)) {
        return false;
    }
    json_t *pmf = json_array();
    json_t *table = json_array();
    json_object_set_new(got, "protection_interval_pmf", pmf);
    json_object_set_new(got, "table", table);
    double mean = demand_mean(p, n);
    case_set_number(got, "mean_per_period", mean);
    for (size_t i = 0; i < n_sum; i++) {
        json_array_append_new(pmf, pair(sum[i].quantity, sum[i].probability));
    }
    for (size_t i = 0; i < json_array_size(levels); i++) {
        double s = item_number(levels, i);
        double shortage = demand_shortage(sum, n_sum, s);
        json_t *row = json_object();
        json_array_append_new(table, row);
        case_set_number(row, "S", s);
        case_set_number(row, "expected_shortage", shortage);
        case_set_number(row, "fill_rate_traditional", 1 - shortage / mean);
        case_set_number(row, "prob_no_stockout", demand_within(sum, n_sum, s));
    }
    return true;
}

static bool intermittent(const struct case_in *in, json_t *got, struct err *e)
{
    const json_t *list = json_object_get(in->inputs, "demand");
    size_t n = json_array_size(list);
    double *demand = ARENA_ARRAY(in->a, double, n + 1);
    double alpha = 0;
    struct croston c;
    for (size_t i = 0; i < n; i++) {
        demand[i] = json_is_number(json_array_get(list, i)) ? item_number(list, i) : (double)NAN;
    }
    if (!case_number(in, "alpha", &alpha, e) || !croston(demand, n, alpha, &c, in->a, e)) {
        return false;
    }
    case_set_number(got, "demand_periods", (double)c.demands);
    case_set_number(got, "forecast_croston", c.forecast);
    case_set_number(got, "forecast_sba", c.sba);
    case_set_number(got, "forecast_sbj", c.sbj);
    if (c.demands == 0) {
        case_set_text(got, "note", S("no demand: forecast 0 by convention"));
        return true;
    }
    case_set_number(got, "size_level", c.size);
    case_set_number(got, "interval_level", c.interval);
    json_t *sizes = json_array();
    json_t *gaps = json_array();
    for (size_t i = 0; i < c.demands; i++) {
        json_array_append_new(sizes, json_real(c.size_path[i]));
        json_array_append_new(gaps, json_real(c.interval_path[i]));
    }
    json_object_set_new(got, "size_path", sizes);
    json_object_set_new(got, "interval_path", gaps);
    return true;
}

/* Price and cost, against three distributions of demand. */
static bool one_order(const struct case_in *in, json_t *got, struct err *e)
{
    double price = 0;
    double cost = 0;
    double ratio = 0;
    if (!case_number(in, "price", &price, e) || !case_number(in, "cost", &cost, e) ||
        !order_ratio(price - cost, cost, &ratio, e)) {
        return false;
    }
    double z = normal_quantile(tails_of_p(ratio));
    const json_t *uniform = json_object_get(in->inputs, "uniform");
    const json_t *normal = json_object_get(in->inputs, "normal");
    const json_t *lognormal = json_object_get(in->inputs, "lognormal");
    double centre = json_number_value(json_object_get(lognormal, "mean"));
    double spread = json_number_value(json_object_get(lognormal, "sd_of_log"));
    case_set_number(got, "critical_ratio", ratio);
    case_set_number(got, "q_uniform",
                    item_number(uniform, 0) + ratio * (item_number(uniform, 1) - item_number(uniform, 0)));
    case_set_number(got, "q_normal", item_number(normal, 0) + z * item_number(normal, 1));
    case_set_number(got, "q_lognormal", centre * exp(spread * z));
    case_set_number(got, "q_lognormal_if_50_is_the_mean", centre * exp(spread * z - spread * spread / 2));
    return true;
}

static bool one_order_discrete(const struct case_in *in, json_t *got, struct err *e)
{
    size_t n = 0;
    struct demand_point *p = points_of(in, "pmf", &n);
    double *cost = ARENA_ARRAY(in->a, double, n + 1);
    double under = 0;
    double over = 0;
    double ratio = 0;
    double best = 0;
    if (!case_number(in, "cost_under", &under, e) || !case_number(in, "cost_over", &over, e) ||
        !order_ratio(under, over, &ratio, e) || !order_discrete(p, n, under, over, &best, cost, e)) {
        return false;
    }
    json_t *costs = json_array();
    for (size_t i = 0; i < n; i++) {
        json_array_append_new(costs, pair(p[i].quantity, cost[i]));
    }
    case_set_number(got, "critical_ratio", ratio);
    case_set_number(got, "q_opt", best);
    json_object_set_new(got, "expected_cost", costs);
    return true;
}

bool case_spares(const struct case_in *in, json_t *got, struct err *e)
{
    return case_has(in, "lead_time_demand_mean") ? poisson_stock(in, got, e)
           : case_has(in, "weekly_demand_pmf")   ? discrete_stock(in, got, e)
           : case_has(in, "demand")              ? intermittent(in, got, e)
           : case_has(in, "pmf")                 ? one_order_discrete(in, got, e)
                                                 : one_order(in, got, e);
}

/* ---- replacement ---- */

static bool age_case(const struct case_in *in, struct weibull w, struct replacement_costs c, json_t *got, struct err *e)
{
    struct age_policy p;
    const json_t *asked = json_object_get(in->expected, "cost_rate_at");
    if (!age_policy(w, c, &p, e)) {
        return false;
    }
    case_set_number(got, "mean_life", p.mean_life);
    case_set_number(got, "cost_rate_run_to_failure", p.run_to_failure);
    case_set_flag(got, "finite_optimum", p.finite);
    case_set_number(got, "cost_rate_opt", p.cost_rate);
    json_object_set_new(got, "T_opt", p.finite ? json_real(p.age) : json_null());
    if (p.finite) {
        case_set_number(got, "T_opt_over_eta", p.age / w.eta);
        case_set_number(got, "saving_ratio", p.cost_rate / p.run_to_failure);
        case_set_number(got, "prob_failure_before_T", p.failure_probability);
        case_set_number(got, "mean_cycle", p.mean_cycle);
    }
    json_t *at = json_array();
    json_object_set_new(got, "cost_rate_at", at);
    for (size_t i = 0; i < json_array_size(asked); i++) {
        double age = item_number(json_array_get(asked, i), 0);
        double rate = 0;
        if (!age_cost_rate(w, c, age, &rate, e)) {
            return false;
        }
        json_array_append_new(at, pair(age, rate));
    }
    return true;
}

static bool block_case(struct weibull w, struct replacement_costs c, json_t *got, struct err *e)
{
    struct block_policy p;
    if (!block_policy(w, c, &p, e)) {
        return false;
    }
    case_set_number(got, "cost_rate_run_to_failure", p.run_to_failure);
    json_object_set_new(got, "T_opt", p.found ? json_real(p.interval) : json_null());
    if (p.found) {
        case_set_number(got, "T_opt_over_eta", p.interval / w.eta);
        case_set_number(got, "M_at_T", p.renewals);
        case_set_number(got, "cost_rate_opt", p.cost_rate);
    }
    return true;
}

static bool renewal_case(const struct case_in *in, struct weibull w, json_t *got, struct err *e)
{
    const json_t *times = json_object_get(in->inputs, "t");
    json_t *counts = json_array();
    json_object_set_new(got, "M", counts);
    for (size_t i = 0; i < json_array_size(times); i++) {
        struct renewals r;
        if (!weibull_renewals(w, item_number(times, i), &r, e)) {
            return false;
        }
        json_array_append_new(counts, json_real(r.count));
    }
    return true;
}

bool case_replacement(const struct case_in *in, json_t *got, struct err *e)
{
    struct str policy;
    struct weibull w;
    struct replacement_costs c = {0, 0};
    struct repair_policy p;
    double repair = 0;
    if (!case_text(in, "policy", &policy, e) || !case_number(in, "beta", &w.beta, e) ||
        !case_number(in, "eta", &w.eta, e)) {
        return false;
    }
    if (str_eq(policy, S("renewal-function"))) {
        return renewal_case(in, w, got, e);
    }
    if (!case_number(in, "cost_planned", &c.planned, e)) {
        return false;
    }
    if (str_eq(policy, S("minimal-repair"))) {
        if (!case_number(in, "cost_minimal_repair", &repair, e) ||
            !minimal_repair_policy(w, c.planned, repair, &p, e)) {
            return false;
        }
        case_set_number(got, "T_opt", p.interval);
        case_set_number(got, "cost_rate_opt", p.cost_rate);
        return true;
    }
    if (!case_number(in, "cost_failure", &c.failure, e)) {
        return false;
    }
    return str_eq(policy, S("age")) ? age_case(in, w, c, got, e)
           : str_eq(policy, S("block"))
               ? block_case(w, c, got, e)
               : err_set(e, ERR_INPUT, "age, block, minimal-repair, renewal-function", "unknown policy", (char *)0);
}
