/* Products and sums over failure times; Turnbull's self-consistent shares over inspection intervals. */
#include "life/survival.h"

#include "quantity/domain.h"
#include "stats/special.h"

#include <math.h>
#include <stdlib.h>

#define NONE ((double)NAN)

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Sorts and removes what is there twice; returns how many stay. */
static size_t sort_unique(double *v, size_t n)
{
    size_t kept = 0;
    qsort(v, n, sizeof *v, rising);
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || v[i] != v[i - 1]) {
            v[kept++] = v[i];
        }
    }
    return kept;
}

static bool check_count(double count, struct err *e)
{
    if (!domain_above("count", count, "", 0, e) || !domain_within("count", count, "", 0, 1e12, e)) {
        return false;
    }
    return count == floor(count) || domain_refuse("a count is not whole", "1, 2, 3 ...", e);
}

/* The three pairs of limits of a step; undefined where nobody is left. */
static void set_limits(struct survival_step *s, double z)
{
    double spread = z * s->se;
    for (int side = 0; side < 2; side++) {
        double sign = side == 0 ? -1 : 1;
        bool known = s->survival > 0;
        s->plain[side] = known ? fmin(1, fmax(0, s->survival + sign * spread)) : NONE;
        s->log[side] = known ? fmin(1, s->survival * exp(sign * spread / s->survival)) : NONE;
        /* S ln S is negative, so the exponent of the lower limit is the larger one. */
        s->loglog[side] =
            known && s->survival < 1 ? pow(s->survival, exp(sign * spread / (s->survival * log(s->survival)))) : NONE;
    }
}

bool survival_estimate(const struct life_row *rows, size_t n, double confidence, struct survival_step **steps,
                       size_t *n_steps, struct arena *a, struct err *e)
{
    double *times = ARENA_ARRAY(a, double, n + 1);
    size_t failures = 0;
    if (n == 0) {
        return domain_refuse("no parts", "at least one failure or suspension", e);
    }
    if (!domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("entry", rows[i].entry, "", 0, 1e300, e) ||
            !domain_above("time (after entry)", rows[i].time, "", rows[i].entry, e) || !check_count(rows[i].count, e)) {
            return false;
        }
        if (rows[i].failed) {
            times[failures++] = rows[i].time;
        }
    }
    size_t count = sort_unique(times, failures);
    struct survival_step *list = ARENA_ARRAY(a, struct survival_step, count + 1);
    struct survival_step sum = {.survival = 1};
    double greenwood = 0;
    double hazard_variance = 0;
    double tied_variance = 0;
    double z = normal_quantile(tails_of_q((1 - confidence) / 2));
    for (size_t k = 0; k < count; k++) {
        double r = 0;
        double d = 0;
        for (size_t i = 0; i < n; i++) {
            r += rows[i].entry < times[k] && times[k] <= rows[i].time ? rows[i].count : 0;
            d += rows[i].failed && rows[i].time == times[k] ? rows[i].count : 0;
        }
        sum.time = times[k];
        sum.at_risk = r;
        sum.failures = d;
        sum.survival *= (r - d) / r;
        greenwood += d / (r * (r - d));
        sum.hazard += d / r;
        hazard_variance += d / (r * r);
        for (double j = 0; j < d; j++) {
            sum.tied += 1 / (r - j);
            tied_variance += 1 / ((r - j) * (r - j));
        }
        sum.se = sum.survival > 0 ? sum.survival * sqrt(greenwood) : NONE;
        sum.hazard_se = sqrt(hazard_variance);
        sum.tied_se = sqrt(tied_variance);
        set_limits(&sum, z);
        list[k] = sum;
    }
    *steps = list;
    *n_steps = count;
    return true;
}

bool inspection_estimate(const struct life_interval *rows, size_t n, struct inspection_estimate *out, struct arena *a,
                         struct err *e)
{
    double total = 0;
    double *ends = ARENA_ARRAY(a, double, 2 * n + 1);
    size_t m = 0;
    if (n == 0) {
        return domain_refuse("no inspections", "at least one interval", e);
    }
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("start of an interval", rows[i].low, "", 0, 1e300, e) || !check_count(rows[i].count, e)) {
            return false;
        }
        if (!(rows[i].high > rows[i].low)) {
            return domain_refuse("an interval that does not rise", "end after start", e);
        }
        total += rows[i].count;
        if (rows[i].low > 0) {
            ends[m++] = rows[i].low;
        }
        if (isfinite(rows[i].high)) {
            ends[m++] = rows[i].high;
        }
    }
    m = sort_unique(ends, m);
    /* Mass on the pieces (ends[j-1], ends[j]] and the last one, open; a row holds the pieces between its ends. */
    double *mass = ARENA_ARRAY(a, double, m + 1);
    double *next = ARENA_ARRAY(a, double, m + 1);
    for (size_t j = 0; j <= m; j++) {
        mass[j] = 1 / (double)(m + 1);
    }
    double likelihood = 0;
    for (int round = 0; round < 200000; round++) {
        double moved = 0;
        likelihood = 0;
        for (size_t j = 0; j <= m; j++) {
            next[j] = 0;
        }
        for (size_t i = 0; i < n; i++) {
            double held = 0;
            for (size_t j = 0; j <= m; j++) {
                bool inside =
                    (j == 0 ? 0 : ends[j - 1]) >= rows[i].low && (j == m ? HUGE_VAL : ends[j]) <= rows[i].high;
                held += inside ? mass[j] : 0;
            }
            likelihood += rows[i].count * log(held);
            for (size_t j = 0; j <= m; j++) {
                bool inside =
                    (j == 0 ? 0 : ends[j - 1]) >= rows[i].low && (j == m ? HUGE_VAL : ends[j]) <= rows[i].high;
                next[j] += inside ? rows[i].count / total * mass[j] / held : 0;
            }
        }
        for (size_t j = 0; j <= m; j++) {
            moved = fmax(moved, fabs(next[j] - mass[j]));
            mass[j] = next[j];
        }
        if (moved < 1e-15) {
            break;
        }
    }
    struct inspection_estimate est = {ends, ARENA_ARRAY(a, double, m + 1), m, likelihood};
    double failed = 0;
    for (size_t j = 0; j < m; j++) {
        failed += mass[j];
        est.failed[j] = failed;
    }
    *out = est;
    return true;
}
