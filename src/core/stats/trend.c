/* Pairwise slopes and reflections. */
#include "stats/trend.h"

#include "quantity/domain.h"
#include "stats/robust.h"
#include "stats/special.h"

#include <math.h>
#include <stdlib.h>

static int rising(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median_of(double *v, size_t n)
{
    qsort(v, n, sizeof *v, rising);
    return sample_quantile(QUANTILE_TYPE7, v, n, 0.5);
}

static double sign(double v)
{
    return (v > 0) - (v < 0);
}

/* sum over groups of equal values of t (t - 1) (2 t + 5) */
static double tie_sum(const double *v, size_t n, struct arena *a)
{
    double *sorted = ARENA_ARRAY(a, double, n);
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sorted[i] = v[i];
    }
    qsort(sorted, n, sizeof *sorted, rising);
    for (size_t i = 0; i < n;) {
        size_t k = i;
        while (k < n && sorted[k] == sorted[i]) {
            k++;
        }
        double t = (double)(k - i);
        sum += t * (t - 1) * (2 * t + 5);
        i = k;
    }
    return sum;
}

/* Value at rank h from 1, between neighbours, within the list. */
static double at_rank(const double *sorted, size_t n, double h)
{
    h = fmin(fmax(h, 1), (double)n);
    size_t i = (size_t)floor(h);
    double part = h - (double)i;
    return part > 0 ? sorted[i - 1] + part * (sorted[i] - sorted[i - 1]) : sorted[i - 1];
}

/* Largest C of S's parity with P(S >= C + 2) <= tail under no trend, from the exact counts of inversions; -1 when there
 * is none. */
static double exact_rank(size_t n, double tail, struct arena *a)
{
    size_t most = n * (n - 1) / 2;
    double *p = ARENA_ARRAY(a, double, most + 1); /* of the number of inversions */
    double *next = ARENA_ARRAY(a, double, most + 1);
    p[0] = 1;
    for (size_t m = 2; m <= n; m++) {
        for (size_t k = 0; k <= m * (m - 1) / 2; k++) {
            next[k] = 0;
            for (size_t j = 0; j < m && j <= k; j++) {
                next[k] += p[k - j] / (double)m;
            }
        }
        for (size_t k = 0; k <= most; k++) {
            p[k] = next[k];
        }
    }
    /* S = most - 2 inversions: S >= c has inversions <= (most - c)/2 */
    double sum = 0;
    double c = -1;
    for (size_t k = 0; k <= most / 2; k++) {
        sum += p[k];
        if (sum > tail * (1 + 1e-9)) {
            break;
        }
        c = (double)most - 2 * (double)k;
    }
    return c;
}

bool trend_of(const double *x, const double *y, size_t n, double confidence, struct trend *out, struct arena *a,
              struct err *e)
{
    struct trend t = {.n = n};
    if (!domain_within("number of points", (double)n, "", 2, 3000, e) ||
        !domain_within("confidence", confidence, "", 0.5, 0.9999, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("x", x[i], "", -1e150, 1e150, e) || !domain_within("y", y[i], "", -1e150, 1e150, e)) {
            return false;
        }
    }
    double *slopes = ARENA_ARRAY(a, double, n *(n - 1) / 2);
    for (size_t i = 0; i < n; i++) {
        for (size_t k = i + 1; k < n; k++) {
            if (x[i] != x[k]) {
                t.s += sign(y[k] - y[i]) * sign(x[k] - x[i]);
                slopes[t.n_slopes++] = (y[k] - y[i]) / (x[k] - x[i]);
            }
        }
    }
    if (t.n_slopes == 0) {
        return domain_refuse("all points stand at one x", "at least two different x", e);
    }
    double count = (double)n;
    double ties = tie_sum(y, n, a);
    t.var_s = (count * (count - 1) * (2 * count + 5) - ties) / 18;
    t.z = t.var_s > 0 && t.s != 0 ? (t.s - sign(t.s)) / sqrt(t.var_s) : 0;
    t.p_two_sided = fmin(1, 2 * normal_tails(fabs(t.z)).q);
    t.slope = median_of(slopes, t.n_slopes);
    double *v = ARENA_ARRAY(a, double, n);
    for (size_t i = 0; i < n; i++) {
        v[i] = y[i] - t.slope * x[i];
    }
    t.intercept_residual = median_of(v, n);
    for (size_t i = 0; i < n; i++) {
        v[i] = x[i];
    }
    double median_x = median_of(v, n);
    for (size_t i = 0; i < n; i++) {
        v[i] = y[i];
    }
    t.intercept_medians = median_of(v, n) - t.slope * median_x;
    double all = (double)t.n_slopes;
    double half = normal_quantile(tails_of_q((1 - confidence) / 2)) * sqrt(t.var_s);
    t.has_limits = t.var_s > 0;
    t.low = at_rank(slopes, t.n_slopes, (all - half) / 2);
    t.high = at_rank(slopes, t.n_slopes, (all + half) / 2 + 1);
    if (n <= 40 && ties == 0 && t.n_slopes == n * (n - 1) / 2) {
        double c = exact_rank(n, (1 - confidence) / 2, a);
        t.has_exact = c >= 0 && c < all;
        t.exact_low = at_rank(slopes, t.n_slopes, (all - c) / 2);
        t.exact_high = at_rank(slopes, t.n_slopes, (all + c) / 2 + 1);
    }
    *out = t;
    return true;
}

/* One Householder reflection that clears column k below its diagonal, applied to the later columns and to y. Columns
 * are q[row * p + column]. */
static double reflect(double *q, double *y, size_t n, size_t p, size_t k)
{
    double norm = 0;
    for (size_t i = k; i < n; i++) {
        norm = hypot(norm, q[i * p + k]);
    }
    if (norm == 0) {
        return 0;
    }
    double diagonal = q[k * p + k] > 0 ? -norm : norm;
    double head = q[k * p + k] - diagonal;
    q[k * p + k] = head; /* the reflection's vector stands in the column itself */
    double scale = -1 / (diagonal * head);
    for (size_t column = k + 1; column <= p; column++) {
        double dot = 0;
        for (size_t i = k; i < n; i++) {
            dot += q[i * p + k] * (column < p ? q[i * p + column] : y[i]);
        }
        for (size_t i = k; i < n; i++) {
            double less = scale * dot * q[i * p + k];
            if (column < p) {
                q[i * p + column] -= less;
            } else {
                y[i] -= less;
            }
        }
    }
    return diagonal;
}

bool least_squares(const double *rows, const double *y, size_t n, size_t p, struct least_squares *out, struct arena *a,
                   struct err *e)
{
    if (p == 0 || n <= p) {
        (void)domain_refuse("not more points than coefficients", "more points", e);
        return false;
    }
    double *q = ARENA_ARRAY(a, double, n *p);
    double *r = ARENA_ARRAY(a, double, n);
    double *scale = ARENA_ARRAY(a, double, p);
    double *diagonal = ARENA_ARRAY(a, double, p);
    for (size_t i = 0; i < n; i++) {
        r[i] = y[i];
        for (size_t k = 0; k < p; k++) {
            if (!isfinite(rows[i * p + k]) || !isfinite(y[i])) {
                return domain_refuse("a value is not a finite number", "finite numbers", e);
            }
            scale[k] = hypot(scale[k], rows[i * p + k]);
        }
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < p; k++) {
            q[i * p + k] = rows[i * p + k] / (scale[k] > 0 ? scale[k] : 1);
        }
    }
    for (size_t k = 0; k < p; k++) {
        diagonal[k] = reflect(q, r, n, p, k);
        if (!(fabs(diagonal[k]) > 1e-13)) {
            return domain_refuse("columns that depend on each other", "independent columns", e);
        }
    }
    struct least_squares l = {ARENA_ARRAY(a, double, p), ARENA_ARRAY(a, double, p), 0, 0, n - p};
    for (size_t i = p; i < n; i++) {
        l.rss += r[i] * r[i];
    }
    l.residual_sd = sqrt(l.rss / (double)l.df);
    /* Back substitution for the coefficients, and for each row of the inverse of R, whose length gives the standard
     * error. */
    double *inverse = ARENA_ARRAY(a, double, p *p);
    for (size_t k = p; k-- > 0;) {
        double sum = r[k];
        for (size_t m = k + 1; m < p; m++) {
            sum -= q[k * p + m] * l.coef[m];
        }
        l.coef[k] = sum / diagonal[k];
        inverse[k * p + k] = 1 / diagonal[k];
        double squares = inverse[k * p + k] * inverse[k * p + k];
        for (size_t m = k + 1; m < p; m++) {
            double dot = 0;
            for (size_t j = k + 1; j <= m; j++) {
                dot -= q[k * p + j] * inverse[j * p + m];
            }
            inverse[k * p + m] = dot / diagonal[k];
            squares += inverse[k * p + m] * inverse[k * p + m];
        }
        l.se[k] = l.residual_sd * sqrt(squares);
    }
    for (size_t k = 0; k < p; k++) {
        double s = scale[k] > 0 ? scale[k] : 1;
        l.coef[k] /= s;
        l.se[k] /= s;
    }
    *out = l;
    return true;
}

/* Residuals and derivatives at b; returns the sum of squares. */
static double evaluate(curve_fn *f, void *ctx, const double *x, const double *y, size_t n, const double *b, size_t p,
                       double *residual, double *d)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        residual[i] = y[i] - f(ctx, x[i], b, &d[i * p]);
        sum += residual[i] * residual[i];
    }
    return sum;
}

bool curve_fit(curve_fn *f, void *ctx, const double *x, const double *y, size_t n, double *b, size_t p,
               struct least_squares *out, struct arena *a, struct err *e)
{
    if (p == 0 || n <= p) {
        return domain_refuse("not more points than parameters", "more points", e);
    }
    /* The damped step solves rows [J; sqrt(lambda) D] against [residual; 0] by the same reflections, D the columns'
     * sizes. */
    double *stacked = ARENA_ARRAY(a, double, (n + p) * p);
    double *right = ARENA_ARRAY(a, double, n + p);
    double *d = ARENA_ARRAY(a, double, n *p);
    double *residual = ARENA_ARRAY(a, double, n);
    double *trial = ARENA_ARRAY(a, double, p);
    double lambda = 1e-3;
    double sum = evaluate(f, ctx, x, y, n, b, p, residual, d);
    int quiet = 0;
    for (int step = 0; step < 2000 && quiet < 3 && isfinite(sum); step++) {
        struct arena_mark mark = arena_mark(a);
        struct least_squares l;
        struct err local = err_new(a);
        for (size_t i = 0; i < n + p; i++) {
            right[i] = i < n ? residual[i] : 0;
            for (size_t k = 0; k < p; k++) {
                stacked[i * p + k] = i < n ? d[i * p + k] : 0;
            }
        }
        for (size_t k = 0; k < p; k++) {
            double size = 0;
            for (size_t i = 0; i < n; i++) {
                size = hypot(size, d[i * p + k]);
            }
            stacked[(n + k) * p + k] = sqrt(lambda) * fmax(size, 1e-300);
        }
        double next = HUGE_VAL;
        double moved = 0;
        if (least_squares(stacked, right, n + p, p, &l, a, &local)) {
            for (size_t k = 0; k < p; k++) {
                trial[k] = b[k] + l.coef[k];
                moved = fmax(moved, fabs(l.coef[k]) / fmax(fabs(b[k]), 1e-300));
            }
            next = evaluate(f, ctx, x, y, n, trial, p, residual, d);
        }
        arena_rewind(a, mark);
        if (next <= sum) {
            quiet = moved < 1e-11 ? quiet + 1 : 0;
            sum = next;
            for (size_t k = 0; k < p; k++) {
                b[k] = trial[k];
            }
            lambda = fmax(lambda / 10, 1e-20);
        } else {
            quiet = moved < 1e-11 ? quiet + 1 : 0;
            lambda = fmin(lambda * 5, 1e20);
            evaluate(f, ctx, x, y, n, b, p, residual, d);
        }
    }
    if (quiet < 3) {
        return domain_refuse("the curve does not settle on these points", "a start nearer to the curve", e);
    }
    evaluate(f, ctx, x, y, n, b, p, residual, d);
    if (!least_squares(d, residual, n, p, out, a, e)) {
        return false;
    }
    /* The last linear step has the curve's errors; its sum of squares is that of the curve itself. */
    out->rss = sum;
    double sd = sqrt(sum / (double)out->df);
    for (size_t k = 0; k < p; k++) {
        out->se[k] *= out->residual_sd > 0 ? sd / out->residual_sd : 1;
        out->coef[k] = b[k];
    }
    out->residual_sd = sd;
    return true;
}
