/* How machines are used: hours as a gamma process of random rate over the depot's own clock, and when a meter will have
 * gained so many hours.
 *
 *   H over a stretch of clock s ~ Gamma(shape k s, rate b),   b ~ Gamma(shape c, rate d) over the machines of a family
 *   after hours h over clock s:   C = c + a k s,  D = d + a h
 *   P(H(t) >= L) = 1 - I(L / (L + D/e); e k S(t), C)                   I = regularised incomplete beta
 *   e = g (S(t) / 30)^-n                                               (a, g, n: see struct usage_weight)
 * While the year's shape is not known yet, C is made smaller, and D with it, so that the mean stays and the band is
 * wide.
 *
 * The clock S counts days, each by its weight: the season (week of the year) times the day of the week, pooled over the
 * machines and drawn toward 1. Days out of service do not count. Source: Lawless and Crowder (2004), Lifetime Data
 * Analysis 10, 213-227; the power a of the history: power prior, Ibrahim and Chen (2000), Statistical Science 15, 46.
 *
 * Times are civil days with their fraction where the depot is (20000.5 = noon of that day); hours are totals over all
 * meters of a machine. Everything here is pure; results live in the arena that is passed in.
 */
#ifndef WITMARK_METER_USAGE_H
#define WITMARK_METER_USAGE_H

#include "base/arena.h"
#include "base/date.h"
#include "meter/meter.h"
#include "stats/special.h"

#include <stdbool.h>

/* Good readings of one machine: days rise strictly, totals do not fall. Pauses are [from, to), sorted, apart. */
struct usage_machine {
    int family; /* index, 0 .. families - 1 */
    const double *day, *total;
    int n;
    const double (*pauses)[2];
    int n_pauses;
};

/* The good readings of a cleaned meter as the model wants them; offset_minutes: of the depot's clock, east of UTC. */
struct usage_machine usage_machine_of(struct arena *a, const struct meter_history *h, const struct meter_pause *pauses,
                                      int n_pauses, int offset_minutes, int family);

/* ---- The clock --------------------------------------------------------------------------------------------------- */

#define USAGE_WEEKS 52
struct usage_clock {
    double weekday[7];        /* Monday first; mean 1 */
    double week[USAGE_WEEKS]; /* of the year, from 1 January in sevens; mean 1 */
    double machine_days;      /* observed days that it was made from */
    double unknown; /* 0 .. 1: how much of the year's shape still rests on what it was drawn toward, not on days seen */
    day_t first;    /* sum[i] = clock from first to first + i */
    int n;
    const double *sum; /* [n + 1] */
};

/* The clock of the machines of one family (all of them: family < 0), drawn toward another one (null: toward 1) as if
 * that had been observed for some weeks, then smoothed over neighbouring weeks. Days are shared out to weekdays and
 * weeks by expectation maximisation, as readings lie far apart; those further apart than a month count less. Runs from
 * the first reading (or `today` less a year) to fifteen years after `today`; later days count 1. Cost: machine days
 * times 12; beyond two million of them only every so many machines are looked at. */
struct usage_clock usage_clock_fit(struct arena *a, const struct usage_machine *m, int n, int family,
                                   const struct usage_clock *toward, day_t today);
double usage_clock_at(const struct usage_clock *c, double day); /* clock since c->first; never falls */
double usage_clock_day(const struct usage_clock *c, double s);  /* first day at which the clock has reached s */

/* ---- The model --------------------------------------------------------------------------------------------------- */

/* How much a machine's own history counts, because use comes in jobs of weeks and days are not independent. */
struct usage_weight {
    double a;      /* power of the history's likelihood, 0 < a <= 1 */
    double g;      /* > 0: over 30 days of clock the process is as even as if k were g times what the steps say */
    double n;      /* 0 <= n < 1: and less even the longer it runs, by the power -n of the days */
    double forget; /* days after which a reading's weight has fallen to 1/e; INFINITY = never */
};

struct usage_model {
    bool fitted; /* false: the whole fleet has fewer than four stretches between readings a quarter of a day apart */
    double k;    /* shape per day of clock, > 0 */
    double c;    /* shape of the rate b over the family, > 0 */
    double d;    /* its rate, h, > 0 */
    struct usage_weight weight;
    int machines, steps; /* of the family that it was made from; both may be 0: it is the fleet's then */
    int left_out;        /* readings that passed the cleaning but split their neighbours' hours impossibly */
    int scored;          /* past forecasts by which the weight was chosen; 0 = the default weight */
    struct usage_clock clock;
};

struct usage_fleet {
    struct usage_model all;             /* of all machines, whatever their family */
    const struct usage_model *families; /* [n_families], each drawn toward `all` */
    int n_families;
};

/* Fits clock and model of the fleet and of each family.
 *
 * (k, c, d) by maximum marginal likelihood on the logarithmic scale (Newton, damped), with a wide prior on the fleet's
 * and one around the fleet's on each family's, so that few machines are enough and none is an answer. Steps below half
 * a tenth of an hour enter as P(H < 0.05 h). A reading is left out when the way it splits the hours between its
 * neighbours (Beta(k s1, k s2) under the model, whatever the rate) is a hundred times less likely than a wrong reading
 * anywhere between them; a last step that is too long counts by the probability that it is right. The weight is chosen
 * by the log score of forecasts over about 25, 70 and 160 days at past readings, when there are 60 of them. At most
 * about 6000 steps a family are used. Cost: about 60 logarithms of gamma a step. */
struct usage_fleet usage_fit(struct arena *a, const struct usage_machine *m, int n, int n_families, day_t today);

/* What the model says of one machine, from its last reading on. */
struct usage_state {
    bool known;                      /* the model is fitted and the machine has a reading */
    double k, c, d;                  /* k, C and D of the machine */
    double g, n;                     /* of the weight */
    double day, total;               /* of the last reading used */
    double start;                    /* clock at that reading, and what passed since out of service */
    double hours, s;                 /* own history that counts: hours over days of clock, before the power a */
    int steps;                       /* of own history */
    const struct usage_clock *clock; /* borrowed from the model */
};

/* `until`: readings later than that are not looked at (INFINITY: all). Pauses after the last reading are taken off. */
struct usage_state usage_state_of(struct arena *scratch, const struct usage_model *model, const struct usage_machine *m,
                                  double until);

/* P(T <= day) and P(T > day) of T = when the machine has gained L hours since the reading. L <= 0: certain. Monotone
 * in L and in day. NaN for a state that is not known and for NaN. */
struct tails usage_passage(const struct usage_state *u, double L, double day);
/* The day with P(T <= day) = p, 0 < p < 1, to 1e-9 of the clock; INFINITY beyond a hundred years; NAN
 * for a state that is not known, for NaN and for another p. */
double usage_quantile(const struct usage_state *u, double L, double p);
/* The same for several p at once, rising. */
void usage_quantiles(const struct usage_state *u, double L, const double *p, int n, double *day);
/* Clock between two days by a straight count, pauses taken off. */
double usage_clock_between(const struct usage_clock *c, const struct usage_machine *m, double from, double to);

/* kappa with P(Gamma(kappa) / Gamma(C) >= ratio kappa^-power) = p: what the quantile searches for, on its own for tests
 * and bench. power >= 0; guess: 0 or near. */
double usage_shape_quantile(double ratio, double power, double C, struct tails p, double guess);

#endif
