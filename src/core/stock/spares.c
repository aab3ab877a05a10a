/* Poisson tails by the incomplete gamma ratio; convolution; Croston. */
#include "stock/spares.h"

#include "quantity/domain.h"
#include "stats/special.h"

#include <math.h>
#include <stdlib.h>

/* P(X <= k) of a Poisson mean is Q(k + 1, mean). */
static double poisson_within(double mean, double k)
{
    return k < 0 ? 0 : gamma_ratio(k + 1, mean).q;
}

static bool check_mean(double mean, struct err *e)
{
    return domain_above("mean demand in the lead time", mean, "", 0, e) &&
           domain_within("mean demand in the lead time", mean, "", 0, 1e7, e);
}

bool spares_poisson(double mean, unsigned stock, struct spares_level *out, struct err *e)
{
    if (!check_mean(mean, e)) {
        return false;
    }
    double s = stock;
    /* E(X - S)+ = mean P(X >= S) - S P(X >= S + 1), both upper tails */
    double at_least = stock == 0 ? 1 : gamma_ratio(s, mean).p;
    double more = gamma_ratio(s + 1, mean).p;
    *out = (struct spares_level){poisson_within(mean, s), poisson_within(mean, s - 1), mean * at_least - s * more};
    if (out->backorders < 1e-9 * mean) { /* the two terms cancel far out: sum the tail itself */
        double term = exp(-mean + (s + 1) * log(mean) - log_gamma(s + 2));
        double sum = 0;
        for (double k = 1; term * k > 1e-18 * sum; k++) {
            sum += k * term;
            term *= mean / (s + k + 1);
        }
        out->backorders = sum;
    }
    return true;
}

bool spares_least(double mean, double target, bool by_fill, unsigned *stock, struct err *e)
{
    if (!check_mean(mean, e) || !domain_above("target", target, "%", 0, e) ||
        !domain_within("target", target, "%", 0, 1 - 1e-12, e)) {
        return false;
    }
    unsigned s = 0;
    while (poisson_within(mean, (double)s) < target) {
        s++;
    }
    *stock = s + by_fill;
    return true;
}

static bool check_demand(const struct demand_point *p, size_t n, struct err *e)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("quantity", p[i].quantity, "", 0, 1e5, e) ||
            !domain_within("probability", p[i].probability, "", 0, 1, e)) {
            return false;
        }
        if (p[i].quantity != floor(p[i].quantity)) {
            return domain_refuse("a quantity is not whole", "0, 1, 2 ...", e);
        }
        sum += p[i].probability;
    }
    return domain_within("sum of the probabilities", sum, "", 1 - 1e-9, 1 + 1e-9, e);
}

bool demand_sum(const struct demand_point *p, size_t n, unsigned periods, struct demand_point **out, size_t *n_out,
                struct arena *a, struct err *e)
{
    double most = 0;
    if (!check_demand(p, n, e) || !domain_within("periods", periods, "", 1, 1000, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        most = fmax(most, p[i].quantity);
    }
    if (!domain_within("largest demand in all periods", most * periods, "", 0, 1e6, e)) {
        return false;
    }
    size_t size = (size_t)most * periods + 1;
    double *now = ARENA_ARRAY(a, double, size);
    double *next = ARENA_ARRAY(a, double, size);
    now[0] = 1;
    for (unsigned period = 0; period < periods; period++) {
        for (size_t k = 0; k < size; k++) {
            next[k] = 0;
        }
        for (size_t k = 0; k < size; k++) {
            for (size_t i = 0; now[k] > 0 && i < n; i++) {
                next[k + (size_t)p[i].quantity] += now[k] * p[i].probability;
            }
        }
        double *swap = now;
        now = next;
        next = swap;
    }
    struct demand_point *list = NULL;
    size_t count = 0;
    size_t cap = 0;
    for (size_t k = 0; k < size; k++) {
        if (now[k] > 0) {
            ARENA_PUSH(a, list, count, cap) = (struct demand_point){(double)k, now[k]};
        }
    }
    *out = list;
    *n_out = count;
    return true;
}

double demand_mean(const struct demand_point *p, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += p[i].quantity * p[i].probability;
    }
    return sum;
}

double demand_shortage(const struct demand_point *p, size_t n, double stock)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += fmax(0, p[i].quantity - stock) * p[i].probability;
    }
    return sum;
}

double demand_within(const struct demand_point *p, size_t n, double stock)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += p[i].quantity <= stock ? p[i].probability : 0;
    }
    return sum;
}

bool croston(const double *demand, size_t n, double alpha, struct croston *out, struct arena *a, struct err *e)
{
    if (n == 0) {
        return domain_refuse("no period", "at least one", e);
    }
    if (!domain_above("smoothing alpha", alpha, "", 0, e) || !domain_within("smoothing alpha", alpha, "", 0, 1, e)) {
        return false;
    }
    struct croston c = {.size_path = ARENA_ARRAY(a, double, n), .interval_path = ARENA_ARRAY(a, double, n)};
    double waited = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("demand", demand[i], "", 0, 1e12, e)) {
            return false;
        }
        waited++;
        if (demand[i] == 0) {
            continue;
        }
        c.size = c.demands == 0 ? demand[i] : c.size + alpha * (demand[i] - c.size);
        c.interval = c.demands == 0 ? waited : c.interval + alpha * (waited - c.interval);
        c.size_path[c.demands] = c.size;
        c.interval_path[c.demands++] = c.interval;
        waited = 0;
    }
    if (c.demands > 0) {
        c.forecast = c.size / c.interval;
        c.sba = c.forecast * (1 - alpha / 2);
        c.sbj = c.forecast * (1 - alpha / (2 - alpha));
    }
    *out = c;
    return true;
}

bool order_ratio(double under, double over, double *ratio, struct err *e)
{
    if (!domain_above("cost of one too few", under, "", 0, e) ||
        !domain_above("cost of one too many", over, "", 0, e)) {
        return false;
    }
    *ratio = under / (under + over);
    return true;
}

bool order_discrete(const struct demand_point *p, size_t n, double under, double over, double *quantity, double *cost,
                    struct err *e)
{
    double ratio = 0;
    if (!check_demand(p, n, e) || !order_ratio(under, over, &ratio, e)) {
        return false;
    }
    *quantity = (double)NAN;
    for (size_t i = 0; i < n; i++) {
        double q = p[i].quantity;
        double shortage = demand_shortage(p, n, q);
        double left = q - demand_mean(p, n) + shortage;
        cost[i] = under * shortage + over * left;
        if (demand_within(p, n, q) >= ratio - 1e-12 && !(*quantity <= q)) {
            *quantity = q;
        }
    }
    return true;
}
