/* Replaying the past: at moments gone by, with only what was read until then, when would each meter have gained so many
 * hours; and what came. Against two rivals that a person would use: the last rate and the mean rate, straight on.
 *
 * The model is fitted anew at each moment and readings are cleaned anew, so that nothing of the future leaks in (save
 * that an entry which was written down or corrected later counts as if it had been so at once). What came is found
 * between the readings either side, in a straight line; a forecast whose day falls between two that lie further apart
 * than `gap_days` is not counted, since nobody knows when it came.
 *
 * Which forecasts count is decided by the forecast and not by what came: those whose 90 % day had passed by the
 * machine's last reading. One that had not come true by then is later than all of its bands that had passed.
 */
#ifndef WITMARK_METER_BACKTEST_H
#define WITMARK_METER_BACKTEST_H

#include "meter/usage.h"

struct backtest_machine {
    int family;
    const struct meter_reading *readings; /* as read, flags ignored */
    int n;
    const struct meter_swap *swaps;
    int n_swaps;
    const struct meter_pause *pauses;
    int n_pauses;
    const struct meter_reading
        *outcome; /* where what came is known better than by readings (a simulation); else null */
    int n_outcome;
};

struct backtest_ask {
    const double *ahead_h;                 /* hours to gain, > 0 */
    int n_ahead;                           /* 1 .. BACKTEST_AHEAD_MOST */
    double every_days;                     /* between moments, >= 1 */
    double history_days;                   /* of the fleet before the first moment */
    double stale_days;                     /* a machine not read for so long before a moment is left out */
    double gap_days;                       /* between the readings either side of what came, at most */
    int offset_minutes;                    /* of the depot's clock */
    bool (*go_on)(void *ctx, double part); /* asked before each moment; false ends the replay; null = never asked */
    void *ctx;
};
#define BACKTEST_AHEAD_MOST 8

enum backtest_method { BACKTEST_MODEL, BACKTEST_LAST_RATE, BACKTEST_MEAN_RATE, BACKTEST_METHODS };

/* Scores in days; pinball: mean over the quantiles 0.1, 0.25, 0.5, 0.75, 0.9, of which a rival knows only one day.
 * A forecast beyond a thousand days counts as a thousand. */
struct backtest_score {
    double error;   /* mean absolute error of the median */
    double pinball; /* less is better */
};
struct backtest_row {
    double ahead_h;                /* 0 = all together */
    int forecasts;                 /* that count */
    int open;                      /* of them not come true by the last reading */
    int too_early;                 /* left out: their 90 % day had not passed */
    int unseen;                    /* left out: nobody read the meter near the day */
    double held50, held80, held95; /* share of the bands that held; NAN without forecasts */
    int n95;                       /* forecasts whose 97.5 % day had passed */
    double width80;                /* mean, days */
    struct backtest_score score[BACKTEST_METHODS];
};
struct backtest {
    struct backtest_row rows[BACKTEST_AHEAD_MOST + 1]; /* one a horizon, then all */
    int n;
    int moments;
    double from, to;            /* first and last moment, days */
    struct usage_weight weight; /* as chosen at the last moment */
    bool stopped;
};

/* Errors: none; a fleet without enough history gives 0 moments. Results live in *out; memory from `scratch` is given
 * back. */
void backtest_run(const struct backtest_machine *m, int n, int n_families, const struct backtest_ask *ask,
                  struct arena *scratch, struct backtest *out);

/* Pinball loss of day q as the quantile p of what came on day t. */
double pinball_loss(double p, double q, double t);

#endif
