/* Replay: fit, forecast, compare, moment by moment. */
#include "meter/backtest.h"

#include <math.h>
#include <string.h>

#define FAR_AHEAD 1000.0
#define ASKED 7
static const double quantiles[ASKED] = {0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975};

double pinball_loss(double p, double q, double t)
{
    return t >= q ? p * (t - q) : (1 - p) * (q - t);
}

/* The machine as it was known at an instant (INSTANT_NONE: at the end). */
static struct usage_machine known_at(struct arena *a, const struct backtest_machine *m, instant_ms at, int offset)
{
    struct meter_reading *readings = ARENA_ARRAY(a, struct meter_reading, m->n + 1);
    struct meter_swap *swaps = ARENA_ARRAY(a, struct meter_swap, m->n_swaps + 1);
    struct meter_pause *pauses = ARENA_ARRAY(a, struct meter_pause, m->n_pauses + 1);
    int n = 0;
    int n_swaps = 0;
    int n_pauses = 0;
    for (int i = 0; i < m->n; i++) {
        if (at == INSTANT_NONE || m->readings[i].at <= at) {
            readings[n++] = m->readings[i];
        }
    }
    for (int i = 0; i < m->n_swaps; i++) {
        if (at == INSTANT_NONE || m->swaps[i].at <= at) {
            swaps[n_swaps++] = m->swaps[i];
        }
    }
    for (int i = 0; i < m->n_pauses; i++) {
        if (at == INSTANT_NONE || m->pauses[i].from <= at) {
            pauses[n_pauses] = m->pauses[i];
            if (at != INSTANT_NONE && pauses[n_pauses].to > at) {
                pauses[n_pauses].to = at;
            }
            n_pauses++;
        }
    }
    struct meter_history h = meter_clean(a, readings, n, swaps, n_swaps);
    return usage_machine_of(a, &h, pauses, n_pauses, offset, m->family);
}

/* Total at a day between readings, in a straight line; the ends' totals outside. */
static double total_at(const struct usage_machine *m, double day)
{
    if (day <= m->day[0]) {
        return m->total[0];
    }
    for (int i = 1; i < m->n; i++) {
        if (m->day[i] >= day) {
            double part = (day - m->day[i - 1]) / (m->day[i] - m->day[i - 1]);
            return m->total[i - 1] + part * (m->total[i] - m->total[i - 1]);
        }
    }
    return m->total[m->n - 1];
}

/* First day at which the total is reached; INFINITY when it never was. *gap: days between the readings either side. */
static double day_of_total(const struct usage_machine *m, double total, double *gap)
{
    *gap = 0;
    for (int i = 1; i < m->n; i++) {
        if (m->total[i] >= total) {
            double gained = m->total[i] - m->total[i - 1];
            double part = gained > 0 ? (total - m->total[i - 1]) / gained : 1;
            *gap = m->day[i] - m->day[i - 1];
            return m->day[i - 1] + fmax(0, part) * (m->day[i] - m->day[i - 1]);
        }
    }
    return (double)INFINITY;
}

/* Days to gain L hours at a straight rate; FAR_AHEAD when it stands still. */
static double straight(double hours, double days, double L)
{
    double rate = days > 0 ? hours / days : 0;
    return rate > 0 ? fmin(L / rate, FAR_AHEAD) : FAR_AHEAD;
}

static void rivals(const struct usage_machine *m, double L, double *last, double *mean)
{
    int i = m->n - 1;
    int before = i - 1;
    while (before > 0 && m->day[i] - m->day[before] < 1) {
        before--;
    }
    *last = straight(m->total[i] - m->total[before], m->day[i] - m->day[before], L);
    *mean = straight(m->total[i] - m->total[0], m->day[i] - m->day[0], L);
}

/* Sums of a row while it is made; divided in the end. */
struct forecast {
    double q[ASKED]; /* days from the last reading */
    double last, mean;
};

static void add_score(struct backtest_row *row, const struct forecast *f, double came, double passed)
{
    bool open = came > passed;
    double t = fmin(came, passed);
    row->forecasts++;
    row->open += open;
    row->held50 += !open && t >= f->q[2] && t <= f->q[4];
    row->held80 += !open && t >= f->q[1] && t <= f->q[5];
    if (f->q[6] <= passed) {
        row->n95++;
        row->held95 += !open && t >= f->q[0] && t <= f->q[6];
    }
    row->width80 += f->q[5] - f->q[1];
    for (int i = 1; i <= 5; i++) {
        row->score[BACKTEST_MODEL].pinball += pinball_loss(quantiles[i], f->q[i], t) / 5;
        row->score[BACKTEST_LAST_RATE].pinball += pinball_loss(quantiles[i], f->last, t) / 5;
        row->score[BACKTEST_MEAN_RATE].pinball += pinball_loss(quantiles[i], f->mean, t) / 5;
    }
    row->score[BACKTEST_MODEL].error += fabs(f->q[3] - t);
    row->score[BACKTEST_LAST_RATE].error += fabs(f->last - t);
    row->score[BACKTEST_MEAN_RATE].error += fabs(f->mean - t);
}

static void finish_row(struct backtest_row *row)
{
    double n = row->forecasts > 0 ? row->forecasts : (double)NAN;
    row->held50 /= n;
    row->held80 /= n;
    row->held95 /= row->n95 > 0 ? row->n95 : (double)NAN;
    row->width80 /= n;
    for (int i = 0; i < BACKTEST_METHODS; i++) {
        row->score[i].error /= n;
        row->score[i].pinball /= n;
    }
}

/* Is the machine out of service on that day? */
static bool paused(const struct usage_machine *m, double day)
{
    for (int i = 0; i < m->n_pauses; i++) {
        if (m->pauses[i][0] <= day && day < m->pauses[i][1]) {
            return true;
        }
    }
    return false;
}

/* Forecasts of one machine at one moment. */
static void replay_machine(const struct usage_fleet *fleet, const struct usage_machine *known,
                           const struct usage_machine *truth, double moment, const struct backtest_ask *ask,
                           struct arena *scratch, struct backtest *out)
{
    if (known->n < 2 || truth->n < 2 || moment - known->day[known->n - 1] > ask->stale_days || paused(truth, moment)) {
        return;
    }
    struct usage_state u = usage_state_of(scratch, &fleet->families[known->family], known, moment);
    double end = truth->day[truth->n - 1];
    for (int k = 0; k < ask->n_ahead && u.known; k++) {
        double L = ask->ahead_h[k];
        struct forecast f;
        usage_quantiles(&u, L, quantiles, ASKED, f.q);
        for (int i = 0; i < ASKED; i++) {
            f.q[i] = fmin(f.q[i] - u.day, FAR_AHEAD);
        }
        if (u.day + f.q[5] > end) {
            out->rows[k].too_early++;
            out->rows[ask->n_ahead].too_early++;
            continue;
        }
        double gap = 0;
        double came = day_of_total(truth, total_at(truth, u.day) + L, &gap) - u.day;
        if (gap > ask->gap_days) {
            out->rows[k].unseen++;
            out->rows[ask->n_ahead].unseen++;
            continue;
        }
        rivals(known, L, &f.last, &f.mean);
        add_score(&out->rows[k], &f, came, end - u.day);
        add_score(&out->rows[ask->n_ahead], &f, came, end - u.day);
    }
}

/* One moment: what was known, the model fitted to it, every machine's forecasts. */
static void replay_moment(const struct backtest_machine *m, int n, int n_families, const struct usage_machine *truth,
                          double moment, const struct backtest_ask *ask, struct arena *scratch, struct backtest *out)
{
    struct arena_mark mark = arena_mark(scratch);
    struct usage_machine *known = ARENA_ARRAY(scratch, struct usage_machine, n);
    instant_ms at = (instant_ms)((moment - ask->offset_minutes / 1440.0) * 86400000.0);
    for (int i = 0; i < n; i++) {
        known[i] = known_at(scratch, &m[i], at, ask->offset_minutes);
    }
    struct usage_fleet fleet = usage_fit(scratch, known, n, n_families, (day_t)floor(moment));
    for (int i = 0; i < n && fleet.all.fitted; i++) {
        replay_machine(&fleet, &known[i], &truth[i], moment, ask, scratch, out);
    }
    out->weight = fleet.all.weight;
    arena_rewind(scratch, mark);
}

void backtest_run(const struct backtest_machine *m, int n, int n_families, const struct backtest_ask *ask,
                  struct arena *scratch, struct backtest *out)
{
    *out = (struct backtest){.n = ask->n_ahead + 1, .from = NAN, .to = NAN, .weight = {NAN, NAN, NAN, NAN}};
    struct arena_mark mark = arena_mark(scratch);
    struct usage_machine *truth = ARENA_ARRAY(scratch, struct usage_machine, n);
    double first = (double)INFINITY;
    double last = -(double)INFINITY;
    for (int i = 0; i < n; i++) {
        struct backtest_machine whole = m[i];
        if (m[i].outcome) {
            whole.readings = m[i].outcome;
            whole.n = m[i].n_outcome;
        }
        truth[i] = known_at(scratch, &whole, INSTANT_NONE, ask->offset_minutes);
        if (truth[i].n) {
            first = fmin(first, truth[i].day[0]);
            last = fmax(last, truth[i].day[truth[i].n - 1]);
        }
    }
    for (int k = 0; k < ask->n_ahead; k++) {
        out->rows[k].ahead_h = ask->ahead_h[k];
    }
    double begin = floor(first + ask->history_days) + 0.5;
    for (double moment = begin; moment < last && !out->stopped; moment += ask->every_days) {
        if (ask->go_on && !ask->go_on(ask->ctx, (moment - begin) / (last - begin))) {
            out->stopped = true;
            break;
        }
        out->from = out->moments++ ? out->from : moment;
        out->to = moment;
        replay_moment(m, n, n_families, truth, moment, ask, scratch, out);
    }
    for (int k = 0; k < out->n; k++) {
        finish_row(&out->rows[k]);
    }
    arena_rewind(scratch, mark);
}
