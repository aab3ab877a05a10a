/* Order statistics and what stands on them. */
#include "stats/robust.h"

#include "quantity/domain.h"
#include "stats/numeric.h"
#include "stats/special.h"

#include <math.h>
#include <stdlib.h>

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Value at rank h, counted from 1, between neighbours where h is not whole. */
static double at_rank(const double *sorted, size_t n, double h)
{
    h = fmin(fmax(h, 1), (double)n);
    size_t i = (size_t)floor(h);
    double part = h - (double)i;
    return part > 0 ? sorted[i - 1] + part * (sorted[i] - sorted[i - 1]) : sorted[i - 1];
}

double sample_quantile(enum quantile_rule rule, const double *sorted, size_t n, double p)
{
    double count = (double)n;
    double depth = (floor((count + 1) / 2) + 1) / 2; /* of Tukey's hinges, from either end */
    switch (rule) {
    case QUANTILE_TYPE6:
        return at_rank(sorted, n, p * (count + 1));
    case QUANTILE_TYPE7:
        return at_rank(sorted, n, 1 + (count - 1) * p);
    case QUANTILE_TUKEY:
        return at_rank(sorted, n, p == 0.5 ? (count + 1) / 2 : p < 0.5 ? depth : count + 1 - depth);
    }
    return (double)NAN;
}

bool sample_summary(const double *x, size_t n, struct sample_summary *out, struct arena *a, struct err *e)
{
    if (n < 2) {
        return domain_refuse("too few values", "at least two", e);
    }
    struct sample_summary s = {.n = n, .sorted = ARENA_ARRAY(a, double, n)};
    double *off = ARENA_ARRAY(a, double, n);
    double count = (double)n;
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("value", x[i], "", -1e300, 1e300, e)) {
            return false;
        }
        s.sorted[i] = x[i];
        s.mean += x[i] / count;
    }
    double rest = 0;
    for (size_t i = 0; i < n; i++) {
        rest += (x[i] - s.mean) / count;
    }
    s.mean += rest; /* the second pass takes back what rounding lost */
    double squares = 0;
    for (size_t i = 0; i < n; i++) {
        squares += (x[i] - s.mean) * (x[i] - s.mean);
    }
    s.deviation = sqrt(squares / (count - 1));
    qsort(s.sorted, n, sizeof *s.sorted, rising);
    s.median = sample_quantile(QUANTILE_TYPE7, s.sorted, n, 0.5);
    for (size_t i = 0; i < n; i++) {
        off[i] = fabs(x[i] - s.median);
    }
    qsort(off, n, sizeof *off, rising);
    s.mad = sample_quantile(QUANTILE_TYPE7, off, n, 0.5);
    *out = s;
    return true;
}

static size_t outside(const struct sample_summary *s, const double fence[2])
{
    size_t count = 0;
    for (size_t i = 0; i < s->n; i++) {
        count += s->sorted[i] < fence[0] || s->sorted[i] > fence[1];
    }
    return count;
}

struct fences sample_fences(const struct sample_summary *s, enum quantile_rule rule)
{
    struct fences f = {.q1 = sample_quantile(rule, s->sorted, s->n, 0.25),
                       .q3 = sample_quantile(rule, s->sorted, s->n, 0.75)};
    f.spread = f.q3 - f.q1;
    f.inner[0] = f.q1 - 1.5 * f.spread;
    f.inner[1] = f.q3 + 1.5 * f.spread;
    f.outer[0] = f.q1 - 3 * f.spread;
    f.outer[1] = f.q3 + 3 * f.spread;
    f.outside_inner = outside(s, f.inner);
    f.outside_outer = outside(s, f.outer);
    return f;
}

static bool check_mad(const struct sample_summary *s, struct err *e)
{
    return s->mad > 0 ||
           domain_refuse("the median deviation is 0: more than half of the values are equal", "values that vary", e);
}

bool sample_modified_z(const struct sample_summary *s, double limit, struct modified_z *out, struct err *e)
{
    if (!check_mad(s, e)) {
        return false;
    }
    struct modified_z z = {0, 0};
    for (size_t i = 0; i < s->n; i++) {
        double size = fabs(0.6745 * (s->sorted[i] - s->median) / s->mad);
        z.largest = fmax(z.largest, size);
        z.over += size > limit;
    }
    *out = z;
    return true;
}

#define HUBER_K 1.5

/* Mean of the values pulled in to location +/- k scale, and the sum of their squares about it. */
static double pulled_mean(const struct sample_summary *s, double location, double scale)
{
    double sum = 0;
    for (size_t i = 0; i < s->n; i++) {
        sum += fmin(fmax(s->sorted[i], location - HUBER_K * scale), location + HUBER_K * scale);
    }
    return sum / (double)s->n;
}

bool sample_huber(const struct sample_summary *s, struct huber *out, struct err *e)
{
    if (!check_mad(s, e)) {
        return false;
    }
    struct huber h = {s->median, MAD_TO_DEVIATION * s->mad};
    for (int i = 0; i < 1000; i++) {
        double next = pulled_mean(s, h.location, h.scale);
        bool done = fabs(next - h.location) <= 1e-14 * h.scale;
        h.location = next;
        if (done) {
            break;
        }
    }
    *out = h;
    return true;
}

bool sample_huber2(const struct sample_summary *s, struct huber *out, struct err *e)
{
    if (!check_mad(s, e)) {
        return false;
    }
    double inside = normal_tails(HUBER_K).p - normal_tails(HUBER_K).q;
    double density = exp(-HUBER_K * HUBER_K / 2) / sqrt(2 * 3.14159265358979323846);
    double beta = inside + HUBER_K * HUBER_K * (1 - inside) - 2 * HUBER_K * density;
    struct huber h = {s->median, MAD_TO_DEVIATION * s->mad};
    for (int i = 0; i < 5000; i++) {
        struct huber next = {pulled_mean(s, h.location, h.scale), 0};
        double squares = 0;
        for (size_t k = 0; k < s->n; k++) {
            double y = fmin(fmax(s->sorted[k], h.location - HUBER_K * h.scale), h.location + HUBER_K * h.scale);
            squares += (y - next.location) * (y - next.location);
        }
        next.scale = sqrt(squares / ((double)s->n - 1) / beta);
        bool done =
            fabs(next.location - h.location) <= 1e-14 * h.scale && fabs(next.scale - h.scale) <= 1e-14 * h.scale;
        h = next;
        if (done) {
            break;
        }
    }
    *out = h;
    return true;
}

/* What the exact factors are integrals of. */
struct tolerance {
    double n, nu, coverage, confidence, delta, k;
};

/* Density of s = sqrt(chi-square / nu), and the normal probability under k s sqrt(n) - delta. */
static double noncentral_piece(void *ctx, double s)
{
    const struct tolerance *t = ctx;
    double log_density =
        log(2) + t->nu / 2 * log(t->nu / 2) - log_gamma(t->nu / 2) + (t->nu - 1) * log(s) - t->nu * s * s / 2;
    return s > 0 ? exp(log_density) * normal_tails(t->k * sqrt(t->n) * s - t->delta).p : 0;
}

/* P(noncentral t <= k sqrt n) - confidence, rising with k. */
static double one_sided_off(void *ctx, double k)
{
    struct tolerance *t = ctx;
    t->k = k;
    double width = 12 / sqrt(2 * t->nu);
    return integrate(noncentral_piece, t, fmax(0, 1 - width), 1 + width, 1e-12) - t->confidence;
}

/* Normal probability of z +/- r, less the coverage. */
static double cover_off(void *ctx, double r)
{
    const struct tolerance *t = ctx;
    return normal_tails(t->delta + r).p - normal_tails(t->delta - r).p - t->coverage;
}

static double two_sided_piece(void *ctx, double z)
{
    const struct tolerance *t = ctx;
    struct tolerance at = *t;
    double r = 0;
    at.delta = z;
    find_root(cover_off, &at, 0, fabs(z) + 12, &r);
    return sqrt(2 * t->n / 3.14159265358979323846) * exp(-t->n * z * z / 2) *
           chi_square_tails(t->nu * r * r / (t->k * t->k), t->nu).q;
}

static double two_sided_off(void *ctx, double k)
{
    struct tolerance *t = ctx;
    t->k = k;
    return integrate(two_sided_piece, t, 0, 9 / sqrt(t->n), 1e-11) - t->confidence;
}

bool tolerance_factors(size_t n, double coverage, double confidence, struct tolerance_factors *out, struct err *e)
{
    if (!domain_within("sample size", (double)n, "", 2, 1e6, e) ||
        !domain_within("coverage", coverage, "", 0.01, 0.99999, e) ||
        !domain_within("confidence", confidence, "", 0.01, 0.99999, e)) {
        return false;
    }
    struct tolerance t = {.n = (double)n, .nu = (double)n - 1, .coverage = coverage, .confidence = confidence};
    struct tolerance_factors f = {0};
    double two = normal_quantile(tails_of_q((1 - coverage) / 2));
    f.howe = two * sqrt(t.nu * (1 + 1 / t.n) / chi_square_quantile(tails_of_p(1 - confidence), t.nu));
    double zp = normal_quantile(tails_of_p(coverage));
    double zg = normal_quantile(tails_of_p(confidence));
    double a = 1 - zg * zg / (2 * t.nu);
    double b = zp * zp - zg * zg / t.n;
    f.natrella = a > 0 && zp * zp >= a * b ? (zp + sqrt(zp * zp - a * b)) / a
                                           : (double)NAN; /* no approximation for a sample this small */
    t.delta = zp * sqrt(t.n);
    if (!find_root(one_sided_off, &t, -50, 1e4, &f.one_sided)) {
        return domain_refuse("no one-sided factor can be computed", "a larger sample", e);
    }
    t.delta = 0;
    if (!find_root(two_sided_off, &t, 1e-3, 1e5, &f.two_sided)) {
        return domain_refuse("no two-sided factor can be computed", "a larger sample", e);
    }
    *out = f;
    return true;
}
