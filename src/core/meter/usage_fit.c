/* The family's (k, c, d) by maximum marginal likelihood, and how much history counts by what would have forecast best.
 */
#include "usage_internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STEPS_MOST 6000
#define STEPS_LEAST 4 /* three parameters: with no more stretches than that the prior alone would speak */
#define TRIALS_LEAST 60
#define TRIALS_MOST 1500
#define TRIALS_FOR_ONE 5

/* Until there is enough history to choose by: measured on simulated histories of another kind (docs/forecast.md). */
const struct usage_weight usage_default_weight = {0.6, 1, 0.25, 365};

/* ---- Marginal likelihood ------------------------------------------------------------------------------------------
 */

/* Parameters on the scale on which they are free: ln k, ln c, ln of the mean hours a day of clock, m = k d / c. */
struct theta {
    double x[3];
};
struct prior {
    double mean[3], deviation[3];
};
/* Steps of all machines of a family one after the other, and where each machine's begin. */
struct sample {
    struct usage_step *steps;
    int n;
    int *begin; /* [machines + 1] */
    int machines;
};

/* ln likelihood with the prior, and its gradient by theta. Given b, a step's weight w is the power of its likelihood,
 * so that the sums of w s and w h keep the closed form. */
static double likelihood(const struct sample *sample, const struct prior *prior, const struct theta *at, double *slope)
{
    double k = exp(at->x[0]);
    double c = exp(at->x[1]);
    double d = exp(at->x[2]) * c / k;
    double sum = 0;
    double by_k = 0;
    double by_c = 0;
    double by_d = 0;
    for (int m = 0; m < sample->machines; m++) {
        double s = 0;
        double h = 0;
        for (int i = sample->begin[m]; i < sample->begin[m + 1]; i++) {
            const struct usage_step *step = &sample->steps[i];
            double shape = k * step->s;
            s += step->w * step->s;
            if (step->h < USAGE_LEAST_H) {
                sum += step->w * (shape * log(USAGE_LEAST_H) - lgamma(shape + 1));
                by_k += step->w * step->s * (log(USAGE_LEAST_H) - digamma(shape + 1));
            } else {
                double ln_h = log(step->h);
                h += step->w * step->h;
                sum += step->w * ((shape - 1) * ln_h - lgamma(shape));
                by_k += step->w * step->s * (ln_h - digamma(shape));
            }
        }
        double C = c + k * s;
        double ln = log(d + h);
        sum += c * log(d) + lgamma(C) - lgamma(c) - C * ln;
        double psi = digamma(C);
        by_k += s * (psi - ln);
        by_c += log(d) + psi - digamma(c) - ln;
        by_d += c / d - C / (d + h);
    }
    slope[0] = k * by_k - d * by_d;
    slope[1] = c * by_c + d * by_d;
    slope[2] = d * by_d;
    for (int i = 0; i < 3; i++) {
        double off = (at->x[i] - prior->mean[i]) / prior->deviation[i];
        sum -= off * off / 2;
        slope[i] -= off / prior->deviation[i];
    }
    return sum;
}

/* Solves a 3 x 3 system by elimination with pivots; false when it is singular. */
static bool solve3(double m[3][4], double *x)
{
    for (int k = 0; k < 3; k++) {
        int pivot = k;
        for (int i = k + 1; i < 3; i++) {
            pivot = fabs(m[i][k]) > fabs(m[pivot][k]) ? i : pivot;
        }
        if (fabs(m[pivot][k]) < 1e-300) {
            return false;
        }
        for (int j = 0; j < 4; j++) {
            double t = m[k][j];
            m[k][j] = m[pivot][j];
            m[pivot][j] = t;
        }
        for (int i = k + 1; i < 3; i++) {
            double f = m[i][k] / m[k][k];
            for (int j = k; j < 4; j++) {
                m[i][j] -= f * m[k][j];
            }
        }
    }
    for (int k = 2; k >= 0; k--) {
        x[k] = m[k][3];
        for (int j = k + 1; j < 3; j++) {
            x[k] -= m[k][j] * x[j];
        }
        x[k] /= m[k][k];
    }
    return true;
}

/* Newton's method with the Hessian by differences of the gradient, damped by Levenberg's lambda until it climbs. */
static struct theta climb(const struct sample *sample, const struct prior *prior, struct theta at)
{
    double slope[3];
    double value = likelihood(sample, prior, &at, slope);
    double lambda = 1e-3;
    for (int round = 0; round < 60; round++) {
        double hessian[3][3];
        for (int j = 0; j < 3; j++) {
            struct theta beside = at;
            double other[3];
            beside.x[j] += 1e-5;
            (void)likelihood(sample, prior, &beside, other);
            for (int i = 0; i < 3; i++) {
                hessian[i][j] = (other[i] - slope[i]) / 1e-5;
            }
        }
        double size = 0;
        bool climbed = false;
        for (int try = 0; try < 20 && !climbed; try++) {
            double system[3][4];
            for (int i = 0; i < 3; i++) {
                for (int j = 0; j < 3; j++) {
                    system[i][j] = -(hessian[i][j] + hessian[j][i]) / 2;
                }
                system[i][i] += lambda * (1 + fabs(system[i][i]));
                system[i][3] = slope[i];
            }
            double step[3] = {0, 0, 0};
            struct theta next = at;
            size = 0;
            if (solve3(system, step)) {
                for (int i = 0; i < 3; i++) {
                    step[i] = fmax(-1, fmin(1, step[i]));
                    next.x[i] += step[i];
                    size = fmax(size, fabs(step[i]));
                }
                double next_slope[3];
                double next_value = likelihood(sample, prior, &next, next_slope);
                if (next_value >= value || (size < 1e-7 && next_value > value - 1e-6)) {
                    climbed = true;
                    value = next_value;
                    at = next;
                    memcpy(slope, next_slope, sizeof slope);
                }
            }
            lambda = climbed ? fmax(lambda / 8, 1e-12) : lambda * 8;
        }
        if (!climbed || size < 1e-9) {
            break;
        }
    }
    return at;
}

/* ---- A family -----------------------------------------------------------------------------------------------------
 */

/* The steps of a family's machines under the model so far (k = 0: none yet). */
static struct sample sample_of(struct arena *a, const struct usage_model *model, const struct usage_machine *m, int n,
                               int family, bool doubting, int *left_out)
{
    int readings = 0;
    int machines = 0;
    for (int i = 0; i < n; i++) {
        if (family < 0 || m[i].family == family) {
            readings += m[i].n;
            machines++;
        }
    }
    int stride = readings / STEPS_MOST + 1;
    struct sample sample = {.begin = ARENA_ARRAY(a, int, machines + 1)};
    size_t cap = 0;
    size_t filled = 0;
    int seen = 0;
    *left_out = 0;
    for (int i = 0; i < n; i++) {
        if ((family >= 0 && m[i].family != family) || seen++ % stride != 0) {
            continue;
        }
        struct usage_steps st =
            usage_steps_of(a, &model->clock, &m[i], (double)INFINITY, doubting ? model->k : 0, model->c, model->d);
        *left_out += st.left_out;
        for (int j = 0; j < st.n; j++) {
            ARENA_PUSH(a, sample.steps, filled, cap) = st.at[j];
        }
        if (st.n) {
            sample.begin[++sample.machines] = (int)filled;
        }
    }
    sample.n = (int)filled;
    return sample;
}

/* Fits one model: once with every reading, then twice without those that are wrong under it. */
static void fit(struct arena *a, struct usage_model *model, const struct usage_machine *m, int n, int family,
                const struct prior *prior)
{
    struct theta at = {{prior->mean[0], prior->mean[1], prior->mean[2]}};
    for (int round = 0; round < 3; round++) {
        struct arena_mark mark = arena_mark(a);
        struct sample sample = sample_of(a, model, m, n, family, round > 0, &model->left_out);
        at = climb(&sample, prior, at);
        model->k = exp(at.x[0]);
        model->c = exp(at.x[1]);
        model->d = exp(at.x[2]) * model->c / model->k;
        model->machines = sample.machines;
        model->steps = sample.n;
        arena_rewind(a, mark);
        if (sample.n == 0) {
            break;
        }
    }
    model->weight = usage_default_weight;
}

struct usage_fleet usage_fit(struct arena *a, const struct usage_machine *m, int n, int n_families, day_t today)
{
    struct usage_model *families = ARENA_ARRAY(a, struct usage_model, n_families);
    struct usage_fleet fleet = {.families = families, .n_families = n_families};
    /* Wide: two hours a day within a factor of twenty, machines of a family alike within a factor of two or so. */
    struct prior wide = {{log(0.5), log(4), log(2)}, {1.5, 0.8, 1.5}};
    fleet.all.clock = usage_clock_fit(a, m, n, -1, NULL, today);
    fit(a, &fleet.all, m, n, -1, &wide);
    fleet.all.fitted = fleet.all.steps >= STEPS_LEAST;
    double mean = fleet.all.k * fleet.all.d / fleet.all.c;
    struct prior near = {{log(fleet.all.k), log(fleet.all.c), log(mean)}, {0.4, 0.7, 1}};
    for (int f = 0; f < n_families; f++) {
        families[f].clock = usage_clock_fit(a, m, n, f, &fleet.all.clock, today);
        fit(a, &families[f], m, n, f, &near);
        families[f].fitted = fleet.all.fitted;
    }
    int scored = 0;
    struct usage_weight best = usage_best_weight(a, &fleet, m, n, &scored);
    for (int f = 0; f < n_families; f++) {
        families[f].weight = best;
        families[f].scored = scored;
    }
    fleet.all.weight = best;
    fleet.all.scored = scored;
    return fleet;
}

/* ---- How much history counts ---------------------------------------------------------------------------------------
 */

/* One forecast of the past: what the machine had behind it under each rate of forgetting, and what came. */
#define AHEADS 4
#define FORGETS 4
static const double forgets[FORGETS] = {(double)INFINITY, 365, 150, 80};
struct trial {
    int family;
    double s[FORGETS], h[FORGETS];
    double clock, hours, days; /* of what came */
};

/* Forecasts from readings 20 days apart or more, once there are 40 days of history, to the readings next to 10, 25, 70
 * and 160 days later; none before `from`. */
static void trials_of(struct arena *a, const struct usage_model *model, const struct usage_machine *m, double from,
                      struct trial **at, size_t *n, size_t *cap)
{
    static const double ahead[AHEADS] = {10, 25, 70, 160};
    struct arena_mark mark = arena_mark(a);
    struct arena scratch = arena_new(a->source);
    struct usage_steps st = usage_steps_of(&scratch, &model->clock, m, (double)INFINITY, model->k, model->c, model->d);
    (void)mark;
    struct trial trial = {.family = m->family};
    double last_origin = -(double)INFINITY;
    for (int i = 0; i < st.n; i++) {
        for (int f = 0; f < FORGETS; f++) {
            double fade = exp(-(st.at[i].to - st.at[i].from) / forgets[f]);
            trial.s[f] = trial.s[f] * fade + st.at[i].w * st.at[i].s;
            trial.h[f] = trial.h[f] * fade + st.at[i].w * st.at[i].h;
        }
        double day = st.at[i].to;
        if (day < from || day - st.at[0].from < 40 || day - last_origin < 20) {
            continue;
        }
        last_origin = day;
        trial.clock = trial.hours = 0;
        int next = 0;
        for (int j = i + 1; j < st.n && next < AHEADS; j++) {
            trial.clock += st.at[j].s;
            trial.hours += st.at[j].h;
            trial.days = st.at[j].to - day;
            bool there = trial.days >= 0.8 * ahead[next];
            if (there && trial.days <= 1.6 * ahead[next]) {
                ARENA_PUSH(a, *at, *n, *cap) = trial;
            }
            while (there && next < AHEADS && trial.days >= 0.8 * ahead[next]) {
                next++;
            }
        }
    }
    arena_free(&scratch);
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* The day by which half of the machines have been read for a year, not more than 45 days apart to begin with. A trial
 * before it would be judged by a season that nobody knew then. */
static double year_known(struct arena *a, const struct usage_machine *m, int n)
{
    double *begin = ARENA_ARRAY(a, double, n + 1);
    int found = 0;
    for (int i = 0; i < n; i++) {
        for (int j = 1; j < m[i].n; j++) {
            if (m[i].day[j] - m[i].day[j - 1] <= 45) {
                begin[found++] = m[i].day[j - 1];
                break;
            }
        }
    }
    if (found == 0) {
        return (double)INFINITY;
    }
    qsort(begin, (size_t)found, sizeof *begin, by_value);
    return begin[found / 2] + 365;
}

/* Log score of a weight; a forecast gone wrong costs no more than a wrong reading does. f: which rate of forgetting. */
static double score(const struct usage_fleet *fleet, const struct trial *at, size_t n, size_t stride,
                    struct usage_weight weight, int f)
{
    double sum = 0;
    double prior = 0;
    for (size_t i = 0; i < n; i += stride) {
        const struct usage_model *model = &fleet->families[at[i].family];
        double even = usage_evenness(weight.g, weight.n, at[i].clock);
        double C = model->c + weight.a * model->k * at[i].s[f];
        double unsure = usage_unsure(&model->clock, C);
        double D = (model->d + weight.a * at[i].h[f]) * unsure / C / even;
        double right = usage_log_density(even * model->k * at[i].clock, at[i].hours, unsure, D);
        sum += log(0.99 * exp(right) + 0.01 * 2 * USAGE_LEAST_H / (24 * at[i].days));
    }
    /* Forecasts of one machine overlap, and the model has seen them: five tell about as much as one, and the usual
     * weight has the last word while they are few. */
    double off[] = {log(weight.a / usage_default_weight.a), log(weight.g / usage_default_weight.g) / 0.3,
                    (weight.n - usage_default_weight.n) / 0.15,
                    log(fmin(forgets[f], 1000) / usage_default_weight.forget)};
    for (size_t i = 0; i < sizeof off / sizeof *off; i++) {
        prior += off[i] * off[i] / 2;
    }
    return sum * (double)stride / TRIALS_FOR_ONE - prior;
}

struct usage_weight usage_best_weight(struct arena *a, const struct usage_fleet *fleet, const struct usage_machine *m,
                                      int n, int *scored)
{
    static const double tried[3][8] = {{0.03, 0.06, 0.1, 0.2, 0.35, 0.6, 0.8, 1}, /* a */
                                       {0.25, 0.35, 0.5, 0.7, 1, 1.4, 2, 2.8},    /* g */
                                       {0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7}};   /* n */
    struct trial *at = NULL;
    size_t filled = 0;
    size_t cap = 0;
    struct arena scratch = arena_new(a->source);
    int readings = 0;
    for (int i = 0; i < n; i++) {
        readings += m[i].n;
    }
    int stride_m = readings / (4 * STEPS_MOST) + 1;
    double from = year_known(&scratch, m, n);
    for (int i = 0; i < n; i += stride_m) {
        trials_of(&scratch, &fleet->families[m[i].family], &m[i], from, &at, &filled, &cap);
    }
    struct usage_weight best = usage_default_weight;
    size_t stride = filled / TRIALS_MOST + 1;
    *scored = 0;
    if (fleet->all.fitted && filled >= TRIALS_LEAST) {
        *scored = (int)(filled / stride);
        int f = 1; /* the default's */
        double most = score(fleet, at, filled, stride, best, f);
        double before = -(double)INFINITY;
        for (int round = 0; round < 4 && most > before; round++) { /* one after the other, until nothing changes */
            before = most;
            for (int i = 0; i < 24 + FORGETS; i++) {
                struct usage_weight other = best;
                double *part[] = {&other.a, &other.g, &other.n};
                int other_f = i < 24 ? f : i - 24;
                if (i < 24) {
                    *part[i / 8] = tried[i / 8][i % 8];
                }
                double now = score(fleet, at, filled, stride, other, other_f);
                if (now > most) {
                    most = now;
                    best = other;
                    f = other_f;
                }
            }
        }
        best.forget = forgets[f];
    }
    arena_free(&scratch);
    return best;
}
