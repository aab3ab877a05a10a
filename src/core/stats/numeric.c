/* Brent's root finder, adaptive Gauss-Kronrod, Nelder-Mead. */
#include "stats/numeric.h"

#include <float.h>
#include <math.h>

bool find_root(number_fn *f, void *ctx, double low, double high, double *root)
{
    double a = low;
    double b = high;
    double fa = f(ctx, a);
    double fb = f(ctx, b);
    if (isnan(fa) || isnan(fb) || (fa > 0) == (fb > 0)) {
        *root = fa == 0 ? a : b;
        return fa == 0 || fb == 0;
    }
    double c = a;
    double fc = fa;
    double d = b - a;
    double e = d;
    for (int i = 0; i < 500 && fb != 0; i++) {
        if ((fb > 0) == (fc > 0)) {
            c = a;
            fc = fa;
            d = e = b - a;
        }
        if (fabs(fc) < fabs(fb)) {
            a = b;
            b = c;
            c = a;
            fa = fb;
            fb = fc;
            fc = fa;
        }
        double tolerance = 2 * DBL_EPSILON * fabs(b) + DBL_MIN;
        double half = (c - b) / 2;
        if (fabs(half) <= tolerance) {
            break;
        }
        if (fabs(e) < tolerance || fabs(fa) <= fabs(fb)) {
            d = e = half;
        } else {
            double s = fb / fa;
            double p = 2 * half * s;
            double q = 1 - s;
            if (a != c) {
                double r = fb / fc;
                q = fa / fc;
                p = s * (2 * half * q * (q - r) - (b - a) * (r - 1));
                q = (q - 1) * (r - 1) * (s - 1);
            }
            q = p > 0 ? -q : q;
            p = fabs(p);
            if (2 * p < fmin(3 * half * q - fabs(tolerance * q), fabs(e * q))) {
                e = d;
                d = p / q;
            } else {
                d = e = half;
            }
        }
        a = b;
        fa = fb;
        b += fabs(d) > tolerance ? d : half > 0 ? tolerance : -tolerance;
        fb = f(ctx, b);
    }
    *root = b;
    return true;
}

/* Nodes and weights of Kronrod's 15 points, and of the 7 of Gauss among them: QUADPACK, routine qk15. */
static const double nodes[8] = {0.991455371120812639206854697526329, 0.949107912342758524526189684047851,
                                0.864864423359769072789712788640926, 0.741531185599394439863864773280788,
                                0.586087235467691130294144691693013, 0.405845151377397166906606412076961,
                                0.207784955007898467600689403773245, 0.0};
static const double weights[8] = {0.022935322010529224963732008058970, 0.063092092629978553290700663189204,
                                  0.104790010322250183839876322541518, 0.140653259715525918745189590510238,
                                  0.169004726639267902826583426598550, 0.190350578064785409913256402421014,
                                  0.204432940075298892414161999234649, 0.209482141084727828012999174891714};
static const double gauss[4] = {0.129484966168869693270611432679082, 0.279705391489276667901467771423780,
                                0.381830050505118944950369775488975, 0.417959183673469387755102040816327};

/* The 15-point value over one stretch; *off is its distance from the 7-point value. */
static double kronrod(number_fn *f, void *ctx, double low, double high, double *off)
{
    double mid = (low + high) / 2;
    double half = (high - low) / 2;
    double sum15 = weights[7] * f(ctx, mid);
    double sum7 = gauss[3] * sum15 / weights[7];
    for (int i = 0; i < 7; i++) {
        double pair = f(ctx, mid - half * nodes[i]) + f(ctx, mid + half * nodes[i]);
        sum15 += weights[i] * pair;
        if (i % 2 == 1) {
            sum7 += gauss[i / 2] * pair;
        }
    }
    *off = fabs(sum15 - sum7) * half;
    return sum15 * half;
}

struct integral {
    number_fn *f;
    void *ctx;
    double tolerance; /* absolute, for the whole */
    double whole;     /* length */
    int budget;
};

static double integrate_piece(struct integral *in, double low, double high, double value, double off, int depth)
{
    if (off <= in->tolerance * (high - low) / in->whole || depth == 0 || in->budget <= 0) {
        return value;
    }
    in->budget -= 2;
    double mid = (low + high) / 2;
    double left_off = 0;
    double right_off = 0;
    double left = kronrod(in->f, in->ctx, low, mid, &left_off);
    double right = kronrod(in->f, in->ctx, mid, high, &right_off);
    if (left_off + right_off <= 1e-15 * fabs(left + right)) {
        return left + right;
    }
    return integrate_piece(in, low, mid, left, left_off, depth - 1) +
           integrate_piece(in, mid, high, right, right_off, depth - 1);
}

double integrate(number_fn *f, void *ctx, double low, double high, double relative)
{
    double off = 0;
    /* A first pass over 16 stretches gives the size that the relative error is meant for. */
    double size = 0;
    double step = (high - low) / 16;
    double sum = 0;
    for (int i = 0; i < 16; i++) {
        size += fabs(kronrod(f, ctx, low + i * step, low + (i + 1) * step, &off));
    }
    struct integral in = {f, ctx, relative * size, high - low, 4000};
    for (int i = 0; i < 16; i++) {
        double value = kronrod(f, ctx, low + i * step, low + (i + 1) * step, &off);
        sum += integrate_piece(&in, low + i * step, low + (i + 1) * step, value, off, 40);
    }
    return sum;
}

#define SIMPLEX_MOST 12

struct simplex {
    double (*f)(void *ctx, const double *x);
    void *ctx;
    int n;
    double *x[SIMPLEX_MOST + 1];
    double value[SIMPLEX_MOST + 1];
};

/* Point on the line from the worst vertex through the centre of the others; replaces the worst when better than `than`.
 */
static bool try_point(struct simplex *s, int worst, double factor, double than, double *trial, double *value)
{
    for (int k = 0; k < s->n; k++) {
        double centre = 0;
        for (int i = 0; i <= s->n; i++) {
            centre += i == worst ? 0 : s->x[i][k] / s->n;
        }
        trial[k] = centre + factor * (s->x[worst][k] - centre);
    }
    *value = s->f(s->ctx, trial);
    if (!(*value < than)) {
        return false;
    }
    for (int k = 0; k < s->n; k++) {
        s->x[worst][k] = trial[k];
    }
    s->value[worst] = *value;
    return true;
}

/* Moves the simplex until its values and its vertices agree. */
static void walk(struct simplex *s, double *trial)
{
    for (int step = 0; step < 2000 * s->n; step++) {
        int best = 0;
        int worst = 0;
        for (int i = 1; i <= s->n; i++) {
            best = s->value[i] < s->value[best] ? i : best;
            worst = s->value[i] > s->value[worst] ? i : worst;
        }
        double second = s->value[best];
        double size = 0;
        for (int i = 0; i <= s->n; i++) {
            second = i != worst && s->value[i] > second ? s->value[i] : second;
            for (int k = 0; k < s->n; k++) {
                size = fmax(size, fabs(s->x[i][k] - s->x[best][k]) / (1 + fabs(s->x[best][k])));
            }
        }
        if (size < 1e-12) {
            return;
        }
        double value = 0;
        if (try_point(s, worst, -1, second, trial, &value)) {
            if (value < s->value[best]) {
                double further = 0;
                try_point(s, worst, 2, value, trial, &further);
            }
            continue;
        }
        double limit = s->value[worst];
        if (value < limit && try_point(s, worst, -0.5, value, trial, &value)) {
            continue;
        }
        if (try_point(s, worst, 0.5, limit, trial, &value)) {
            continue;
        }
        for (int i = 0; i <= s->n; i++) {
            for (int k = 0; i != best && k < s->n; k++) {
                s->x[i][k] = (s->x[i][k] + s->x[best][k]) / 2;
            }
            s->value[i] = i == best ? s->value[i] : s->f(s->ctx, s->x[i]);
        }
    }
}

double minimise(double (*f)(void *ctx, const double *x), void *ctx, double *x, const double *steps, int n,
                struct arena *scratch)
{
    struct arena_mark mark = arena_mark(scratch);
    struct simplex s = {.f = f, .ctx = ctx, .n = n};
    double *trial = ARENA_ARRAY(scratch, double, n);
    for (int i = 0; i <= n; i++) {
        s.x[i] = ARENA_ARRAY(scratch, double, n);
    }
    double least = f(ctx, x);
    for (int restart = 0; restart < 6; restart++) {
        for (int i = 0; i <= n; i++) {
            for (int k = 0; k < n; k++) {
                s.x[i][k] = x[k] + (i == k + 1 ? steps[k] / (restart * restart * 10 + 1) : 0);
            }
            s.value[i] = f(ctx, s.x[i]);
        }
        walk(&s, trial);
        int best = 0;
        for (int i = 1; i <= n; i++) {
            best = s.value[i] < s.value[best] ? i : best;
        }
        for (int k = 0; k < n; k++) {
            x[k] = s.x[best][k];
        }
        least = s.value[best];
    }
    arena_rewind(scratch, mark);
    return least;
}
