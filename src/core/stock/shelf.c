/* Counts of pieces by convolution. */
#include "stock/shelf.h"

#include "stats/special.h"

#include <math.h>

#define AHEAD_DAYS 730
#define PIECES_MOST 2000 /* more are not told apart */

/* Probability that the work has fallen due by the end of the day; 0 when nothing is known. */
static double due_by(const struct reserve *r, day_t day)
{
    double p = reserve_overdue(r, day + 1);
    return isfinite(p) ? fmin(1, fmax(0, p)) : 0;
}

/* ln of the negative binomial probability of k batches in t days. */
static double batch_probability(const struct shelf_ask *ask, double t, int k)
{
    double a = ask->batches + 0.5;
    double b = ask->days_seen + 365;
    return exp(log_gamma(a + k) - log_gamma(a) - log_gamma(k + 1.0) + a * log(b / (b + t)) + k * log(t / (b + t)));
}

/* p[k] = probability of k pieces, k <= most; what is above is left out. */
static double *pieces(const struct shelf_ask *ask, day_t day, int most, struct arena *a)
{
    double *p = ARENA_ARRAY(a, double, most + 1);
    p[0] = 1;
    for (int i = 0; i < ask->n; i++) {
        int need = (int)ceil(ask->works[i].pieces - 1e-9);
        double due = due_by(&ask->works[i].due, day);
        for (int k = most; k >= 0 && need > 0 && due > 0; k--) {
            p[k] = p[k] * (1 - due) + (k >= need ? p[k - need] * due : 0);
        }
    }
    double t = day + 1 - ask->today;
    if (ask->batches == 0 || !(t > 0)) {
        return p;
    }
    int size = (int)fmax(1, ceil(ask->batch_size - 1e-9));
    double *q = ARENA_ARRAY(a, double, most + 1);
    for (int batch = 0; batch * size <= most; batch++) {
        double weight = batch_probability(ask, t, batch);
        for (int k = batch * size; k <= most; k++) {
            q[k] += weight * p[k - batch * size];
        }
    }
    return q;
}

double shelf_short(const struct shelf_ask *ask, double more, day_t day, struct arena *scratch)
{
    double have = floor(ask->have + more + 1e-9);
    if (have < 0) {
        return 1;
    }
    int most = (int)fmin(have, PIECES_MOST);
    struct arena_mark mark = arena_mark(scratch);
    const double *p = pieces(ask, day, most, scratch);
    double within = 0;
    for (int k = 0; k <= most; k++) {
        within += p[k];
    }
    arena_rewind(scratch, mark);
    return fmax(0, 1 - within);
}

struct reserve_points shelf_points(const struct shelf_ask *ask, struct arena *scratch)
{
    struct reserve_points points = {.by_hours = false, .n = RESERVE_POINTS};
    int at = 0;
    double before = 0;
    int last = 0;
    for (int day = 0; day <= AHEAD_DAYS && at < RESERVE_POINTS; day += day < 84 ? 7 : 14) {
        double now = shelf_short(ask, 0, ask->today + day, scratch);
        while (at < RESERVE_POINTS && now >= (at + 0.5) / RESERVE_POINTS) {
            double part = now > before ? ((at + 0.5) / RESERVE_POINTS - before) / (now - before) : 1;
            points.at[at++] = ask->today + last + fmax(0, part) * (day - last);
        }
        before = now;
        last = day;
    }
    while (at < RESERVE_POINTS) {
        points.at[at++] = (double)INFINITY;
    }
    return points;
}

double shelf_order(const struct shelf_ask *ask, double keep, int pack, double sure, day_t until, struct arena *scratch)
{
    double order = 0;
    while (order < PIECES_MOST &&
           (ask->have + order < keep - 1e-9 || shelf_short(ask, order, until, scratch) > 1 - sure)) {
        order += pack;
    }
    return order;
}

double shelf_needed(const struct shelf_ask *ask, day_t day)
{
    double sum = 0;
    for (int i = 0; i < ask->n; i++) {
        sum += ask->works[i].pieces * due_by(&ask->works[i].due, day);
    }
    double t = fmax(0, day + 1 - ask->today);
    return sum + (ask->batches ? (ask->batches + 0.5) / (ask->days_seen + 365) * t * fmax(1, ask->batch_size) : 0);
}
