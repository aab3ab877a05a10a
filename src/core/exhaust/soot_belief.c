/* The load as a distribution on a grid: deterministic growth for each of a few values of the machine's rate and of the
 * day's factor, shared out to the two neighbouring cells, so that the mean is exact; what the sharing adds to the
 * variance (at most a quarter of a cell's square a step) is small against a day's scatter. */
#include "exhaust/soot.h"

#include "stats/special.h"

#include <math.h>
#include <string.h>

#define CELL 0.01
#define DAY_H 8.0
#define STEP_H 1.0
#define DAY_NODES 3
#define NOTHING 1e-14 /* probabilities below are not worth moving */

/* Gauss-Hermite for the standard normal distribution: seven and three points (Abramowitz and Stegun, table 25.10). */
static const double node_at[SOOT_NODES] = {-3.7504397177257425, -2.3667594107345415, -1.1544053947399682, 0,
                                           1.1544053947399682,  2.3667594107345415,  3.7504397177257425};
static const double node_weight[SOOT_NODES] = {5.4826885597221791e-4, 3.0757123967586498e-2, 0.24012317860501271,
                                               0.45714285714285714,   0.24012317860501271,   3.0757123967586498e-2,
                                               5.4826885597221791e-4};
static const double day_at[DAY_NODES] = {-1.7320508075688772, 0, 1.7320508075688772};
static const double day_weight[DAY_NODES] = {1.0 / 6, 2.0 / 3, 1.0 / 6};

/* exp(z s) scaled to mean 1, of relative deviation `relative`. */
static double lognormal(double relative, double z)
{
    double variance = log1p(relative * relative);
    return exp(z * sqrt(variance) - variance / 2);
}

/* Puts probability at a load, on the two cells around it. */
static void put(double *cells, double load, double p)
{
    double at = fmin(fmax(load / CELL, 0), SOOT_CELLS - 1);
    int low = (int)at;
    double part = at - low;
    cells[low] += p * (1 - part);
    if (part > 0) {
        cells[low + 1] += p * part;
    }
}

/* Loads that are over a limit already belong into its layer. */
static void settle(const struct soot_filter *f, struct soot_belief *b)
{
    for (int j = 0; j < SOOT_NODES; j++) {
        for (int i = 0; i < SOOT_CELLS; i++) {
            double p = b->p[j][0][i];
            int layer = i * CELL >= f->derate ? 2 : i * CELL >= f->demand ? 1 : 0;
            if (i * CELL >= f->past) {
                b->p[j][0][i] = 0;
                b->past += p;
            } else if (layer > 0) {
                b->p[j][0][i] = 0;
                b->p[j][layer][i] += p;
            }
        }
    }
}

struct soot_belief *soot_belief_new(struct arena *a, const struct soot_filter *f, double load, double deviation)
{
    struct soot_belief *b = ARENA_NEW(a, struct soot_belief);
    for (int j = 0; j < SOOT_NODES; j++) {
        if (!(deviation > 0)) {
            put(b->p[j][0], load, node_weight[j]);
            continue;
        }
        for (int k = 0; k < SOOT_NODES; k++) {
            put(b->p[j][0], load + node_at[k] * deviation, node_weight[j] * node_weight[k]);
        }
    }
    settle(f, b);
    return b;
}

/* What stays the same over some steps of one node. */
struct growth {
    const struct soot_filter *f;
    double kept, made; /* L' = kept L + made */
    double burns;      /* chance that a burn of its own is finished in the step; 0 = may not */
    struct soot_events *events;
    double weight; /* of the day's node, for the events */
};

/* Cells of a layer that may hold something: [low, high]; none when high < low. */
struct span {
    int low, high;
};

/* A grid being filled, with what of it is filled. */
struct filling {
    double (*cells)[SOOT_CELLS];
    struct span span[SOOT_LAYERS];
};

static void fill(struct filling *to, int layer, double load, double p)
{
    int at = (int)fmin(fmax(load / CELL, 0), SOOT_CELLS - 1);
    struct span *span = &to->span[layer];
    span->low = at < span->low ? at : span->low;
    span->high = at + 1 > span->high ? (at + 1 < SOOT_CELLS ? at + 1 : SOOT_CELLS - 1) : span->high;
    put(to->cells[layer], load, p);
}

/* One cell of one layer after a step. */
static void move(const struct growth *g, int layer, double load, double p, struct filling *to, double *past)
{
    const struct soot_filter *f = g->f;
    double after = g->kept * load + g->made;
    if (layer == 0 && after >= f->begin && g->burns > 0) {
        g->events->active += g->weight * p * g->burns;
        fill(to, 0, f->active_leaves, p * g->burns);
        p *= 1 - g->burns;
    }
    if (after >= f->past) {
        g->events->demanded += layer < 1 ? g->weight * p : 0;
        g->events->derated += layer < 2 ? g->weight * p : 0;
        g->events->past += g->weight * p;
        *past += p;
        return;
    }
    int reached = after >= f->derate ? 2 : after >= f->demand ? 1 : 0;
    if (reached > layer) {
        g->events->demanded += layer < 1 ? g->weight * p : 0;
        g->events->derated += reached == 2 ? g->weight * p : 0;
        layer = reached;
    }
    fill(to, layer, after, p);
}

/* What of a grid is filled. */
static void look(double (*cells)[SOOT_CELLS], struct span *span)
{
    for (int layer = 0; layer < SOOT_LAYERS; layer++) {
        span[layer] = (struct span){SOOT_CELLS, -1};
        for (int i = 0; i < SOOT_CELLS; i++) {
            if (cells[layer][i] > NOTHING) {
                span[layer].low = span[layer].low < i ? span[layer].low : i;
                span[layer].high = i;
            }
        }
    }
}

/* A step from one grid to another; the spans go with them. */
static double step_once(const struct growth *g, double (*from)[SOOT_CELLS], double (*to)[SOOT_CELLS], struct span *span)
{
    double past = 0;
    struct filling filling = {.cells = to};
    memset(to, 0, sizeof(double) * SOOT_LAYERS * SOOT_CELLS);
    for (int layer = 0; layer < SOOT_LAYERS; layer++) {
        filling.span[layer] = (struct span){SOOT_CELLS, -1};
    }
    for (int layer = 0; layer < SOOT_LAYERS; layer++) {
        for (int i = span[layer].low; i <= span[layer].high; i++) {
            if (from[layer][i] > NOTHING) {
                move(g, layer, i * CELL, from[layer][i], &filling, &past);
            }
        }
    }
    memcpy(span, filling.span, sizeof filling.span);
    return past;
}

/* A step of one length, of a duty with the rate `made`. */
static struct growth growth_of(const struct soot_filter *f, const struct soot_duty *d, double made, double hours,
                               bool may_burn, struct soot_events *events, double weight)
{
    double burnt = d->burnt * hours;
    double kept = burnt > 1e-9 ? -expm1(-burnt) / burnt : 1;
    return (struct growth){.f = f,
                           .kept = exp(-burnt),
                           .made = made * hours * kept,
                           .burns = may_burn ? -expm1(hours * log1p(-fmin(d->finish, 1 - 1e-9))) : 0,
                           .events = events,
                           .weight = weight};
}

/* What of a layer's grid is looked at while working; two grids to step between. */
struct grids {
    double now[SOOT_LAYERS][SOOT_CELLS], next[SOOT_LAYERS][SOOT_CELLS], sum[SOOT_LAYERS][SOOT_CELLS];
};

/* A day of at most eight hours for one node of the machine's rate. */
static void day_of_node(const struct soot_filter *f, const struct soot_duty *d, double made, double hours,
                        bool may_burn, double (*p)[SOOT_CELLS], double *past, struct grids *g,
                        struct soot_events *events)
{
    int nodes = f->scatter > 0 ? DAY_NODES : 1;
    int steps = (int)ceil(hours / STEP_H - 1e-9);
    struct span before[SOOT_LAYERS];
    look(p, before);
    memset(g->sum, 0, sizeof g->sum);
    for (int k = 0; k < nodes; k++) {
        double weight = nodes == 1 ? 1 : day_weight[k];
        double factor = nodes == 1 ? 1 : lognormal(f->scatter, day_at[k]);
        struct growth growth = growth_of(f, d, made * factor, hours / steps, may_burn, events, weight);
        struct span span[SOOT_LAYERS];
        memcpy(g->now, p, sizeof g->now);
        memcpy(span, before, sizeof span);
        for (int i = 0; i < steps; i++) {
            *past += weight * step_once(&growth, g->now, g->next, span);
            memcpy(g->now, g->next, sizeof g->now);
        }
        for (int layer = 0; layer < SOOT_LAYERS; layer++) {
            for (int i = span[layer].low; i <= span[layer].high; i++) {
                g->sum[layer][i] += weight * g->now[layer][i];
            }
        }
    }
    memcpy(p, g->sum, sizeof g->sum);
}

/* The rate at a node: a lognormal about the mean, so that it stays positive. */
static double rate_at(const struct soot_filter *f, const struct soot_rates *r, int duty, int node)
{
    double deviation = 0;
    double mean = soot_rate(f, r, duty, &deviation);
    return mean * lognormal(deviation / mean, node_at[node]);
}

struct soot_events soot_work(const struct soot_filter *f, const struct soot_rates *r, struct soot_belief *b, int duty,
                             double hours, bool may_burn, struct arena *scratch)
{
    struct soot_events events = {0};
    struct arena_mark mark = arena_mark(scratch);
    struct grids *g = ARENA_NEW(scratch, struct grids);
    struct soot_duty d = soot_duty_of(f, duty);
    for (double left = hours; left > 1e-9; left -= DAY_H) {
        for (int j = 0; j < SOOT_NODES; j++) {
            day_of_node(f, &d, rate_at(f, r, duty, j), fmin(left, DAY_H), may_burn, b->p[j], &b->past, g, &events);
        }
    }
    arena_rewind(scratch, mark);
    return events;
}

void soot_parked_burn(const struct soot_filter *f, struct soot_belief *b, bool only_demanded)
{
    for (int j = 0; j < SOOT_NODES; j++) {
        double sum = 0;
        for (int layer = only_demanded ? 1 : 0; layer < SOOT_LAYERS; layer++) {
            for (int i = 0; i < SOOT_CELLS; i++) {
                /* Less than it leaves stays as it is. */
                bool burns = layer > 0 || i * CELL > f->parked_leaves;
                sum += burns ? b->p[j][layer][i] : 0;
                b->p[j][layer][i] = burns ? 0 : b->p[j][layer][i];
            }
        }
        put(b->p[j][0], f->parked_leaves, sum);
    }
}

/* Probability of each cell, whatever node and layer. */
static double cell_of(const struct soot_belief *b, int i)
{
    double p = 0;
    for (int j = 0; j < SOOT_NODES; j++) {
        for (int layer = 0; layer < SOOT_LAYERS; layer++) {
            p += b->p[j][layer][i];
        }
    }
    return p;
}

double soot_quantile(const struct soot_belief *b, double p)
{
    double below = 0;
    for (int i = 0; i < SOOT_CELLS; i++) {
        double here = cell_of(b, i);
        if (below + here >= p && here > 0) {
            return CELL * fmax(0, i - 0.5 + (p - below) / here);
        }
        below += here;
    }
    return CELL * (SOOT_CELLS - 1);
}

double soot_mean(const struct soot_belief *b)
{
    double sum = b->past * CELL * (SOOT_CELLS - 1);
    for (int i = 0; i < SOOT_CELLS; i++) {
        sum += i * CELL * cell_of(b, i);
    }
    return sum;
}

/* Probability of a layer and those above it. */
static double layers_from(const struct soot_belief *b, int layer)
{
    double sum = b->past;
    for (; layer < SOOT_LAYERS; layer++) {
        for (int j = 0; j < SOOT_NODES; j++) {
            for (int i = 0; i < SOOT_CELLS; i++) {
                sum += b->p[j][layer][i];
            }
        }
    }
    return sum;
}

double soot_demanded(const struct soot_belief *b)
{
    return layers_from(b, 1);
}

double soot_derated(const struct soot_belief *b)
{
    return layers_from(b, 2);
}

struct soot_left soot_hours_left(const struct soot_filter *f, const struct soot_rates *r, const struct soot_belief *now,
                                 int duty, bool may_burn, double hours, struct arena *a)
{
    static const double step = 1;
    struct soot_left left = {.step = step, .n = (int)(fmin(hours, 2000) / step)};
    double *curves[3];
    for (int i = 0; i < 3; i++) {
        curves[i] = ARENA_ARRAY(a, double, left.n + 1);
    }
    struct soot_belief *b = ARENA_NEW(a, struct soot_belief);
    *b = *now;
    curves[0][0] = soot_demanded(b);
    curves[1][0] = soot_derated(b);
    curves[2][0] = b->past;
    struct grids *g = ARENA_NEW(a, struct grids);
    struct soot_duty d = soot_duty_of(f, duty);
    struct soot_events ever = {curves[0][0], curves[1][0], curves[2][0], 0};
    int per_day = (int)(DAY_H / step);
    int nodes = f->scatter > 0 ? DAY_NODES : 1;
    double(*at)[DAY_NODES][SOOT_LAYERS][SOOT_CELLS] = arena_alloc(a, SOOT_NODES, sizeof *at);
    for (int i = 1; i <= left.n; i++) {
        bool morning = (i - 1) % per_day == 0;
        for (int j = 0; j < SOOT_NODES; j++) {
            double made = rate_at(f, r, duty, j);
            for (int k = 0; k < nodes; k++) {
                double weight = nodes == 1 ? 1 : day_weight[k];
                double factor = nodes == 1 ? 1 : lognormal(f->scatter, day_at[k]);
                struct growth growth = growth_of(f, &d, made * factor, step, may_burn, &ever, weight);
                if (morning) {
                    memcpy(at[j][k], b->p[j], sizeof at[j][k]);
                }
                struct span span[SOOT_LAYERS];
                look(at[j][k], span);
                (void)step_once(&growth, at[j][k], g->next, span);
                memcpy(at[j][k], g->next, sizeof at[j][k]);
            }
        }
        curves[0][i] = fmin(1, ever.demanded);
        curves[1][i] = fmin(1, ever.derated);
        curves[2][i] = fmin(1, ever.past);
        for (int j = 0; j < SOOT_NODES && i % per_day == 0; j++) { /* evening: the days' factors are forgotten */
            for (int cell = 0; cell < SOOT_LAYERS * SOOT_CELLS; cell++) {
                double sum = 0;
                for (int k = 0; k < nodes; k++) {
                    sum += (nodes == 1 ? 1 : day_weight[k]) * (&at[j][k][0][0])[cell];
                }
                (&b->p[j][0][0])[cell] = sum;
            }
        }
    }
    left.demanded = curves[0];
    left.derated = curves[1];
    left.past = curves[2];
    return left;
}

double soot_left_quantile(const struct soot_left *left, const double *of, double p)
{
    if (of[0] >= p) {
        return 0;
    }
    for (int i = 1; i <= left->n; i++) {
        if (of[i] >= p) {
            return left->step * (i - 1 + (p - of[i - 1]) / (of[i] - of[i - 1]));
        }
    }
    return (double)INFINITY;
}
