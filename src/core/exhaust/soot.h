/* Soot in the exhaust filter: how it grows by duty, burns off by itself, and how long until a parked burn is demanded.
 *
 * Loads are shares of what the machine's gauge calls full (1 = 100 %, where a parked burn is demanded on most; SAE
 * J1939 SPN 3719, from memory). The model is our own:
 *
 *   dL/dt = m g - b L      g: soot made an hour, by duty;  b: share of it that burns off an hour by itself (passive,
 * first order in what is there; the usual form in published models of such filters, from memory) m: of the machine and
 * of the day an engine that may burns by itself ("active") once L >= begin, and brings a burn to its end with a chance
 * an hour that depends on the duty; L is then `active_leaves`. A parked burn leaves `parked_leaves`. Above `demand` it
 * burns only parked; above `derate` it loses power; above `past` nothing in the field helps.
 *
 * The rates g of a machine are learned (soot_learn): Gaussian, a priori the book's, with one factor common to all
 * duties and one of each, updated by every stretch between two known loads. A day's work makes more or less than that
 * by a factor of its own. Nothing here sends anything to a machine.
 */
#ifndef WITMARK_EXHAUST_SOOT_H
#define WITMARK_EXHAUST_SOOT_H

#include "base/arena.h"
#include "base/err.h"

#include <stdbool.h>

#define SOOT_DUTIES_MOST 12
#define SOOT_USUAL (-1) /* no duty known: all of them by their shares */

struct soot_duty {
    double made;   /* g, of full, an hour; 0 < g <= 1 */
    double burnt;  /* b, an hour; 0 <= b <= 1 */
    double finish; /* chance an hour that a burn that the engine has begun by itself comes to its end; 0 .. 1 */
    double share;  /* of the usual hours; they are taken in proportion */
};

struct soot_filter {
    struct soot_duty duty[SOOT_DUTIES_MOST];
    int n_duties;
    double begin, demand, derate, past;
    double active_leaves, parked_leaves;
    double spread;  /* relative standard deviation of the rates between machines, 0.01 .. 1 */
    double scatter; /* relative standard deviation of a day's work, 0 .. 0.5 */
    double gauge;   /* standard deviation of a reading, > 0 */
};

/* Errors: ERR_DOMAIN names what is out of range: loads rising from what a burn leaves over begin, demand and derate to
 * past, at most 3; rates as above; at least one duty, with a share. */
bool soot_filter_check(const struct soot_filter *f, struct err *e);
/* A duty by its index, or the mean of all for SOOT_USUAL. */
struct soot_duty soot_duty_of(const struct soot_filter *f, int duty);

/* ---- A machine's own rates --------------------------------------------------------------------------------------- */

struct soot_rates {
    double made[SOOT_DUTIES_MOST]; /* means */
    double cov[SOOT_DUTIES_MOST][SOOT_DUTIES_MOST];
    int used, left_out; /* stretches; left out: less than was possible without a burn, so one went unseen */
    double hours;       /* of those used */
};
struct soot_rates soot_rates_of_book(const struct soot_filter *f);

/* Between two known loads without a burn: from a reading or a burn to a reading, or to an active burn, which began at
 * `begin`. by_duty: hours of each duty, null when only the sum is known. */
struct soot_stretch {
    double from, from_sd, to, to_sd, hours;
    const double *by_duty;
    bool may_burn; /* the engine could have burnt by itself in between, unseen */
};
/* Learns from one. False, and the rates unchanged but for left_out, when it can't have been without a burn (four
 * deviations too low; or it may_burn and took three times as long as it takes to `begin` at the mean rate), or is
 * shorter than a quarter of an hour. Source: Bayesian linear regression (Gelman and others
 * 2013, chapter 14); the update is Kalman's. */
bool soot_learn(const struct soot_filter *f, struct soot_rates *r, const struct soot_stretch *s);
/* Mean and standard deviation of what one hour of a duty makes. */
double soot_rate(const struct soot_filter *f, const struct soot_rates *r, int duty, double *deviation);

/* ---- The load as a distribution ---------------------------------------------------------------------------------- */

#define SOOT_NODES 7   /* of the machine's own rate, Gaussian quadrature */
#define SOOT_LAYERS 3  /* as usual, parked burn demanded, derated */
#define SOOT_CELLS 301 /* of 1 %, 0 to 300 % */

/* Probabilities that add up to 1 with `past`. */
struct soot_belief {
    double p[SOOT_NODES][SOOT_LAYERS][SOOT_CELLS];
    double past;
};
/* About that load, normal; with no deviation exactly. Loads over a limit are demanded or derated. In the arena. */
struct soot_belief *soot_belief_new(struct arena *a, const struct soot_filter *f, double load, double deviation);

/* What happens in some hours: expected numbers, from the belief before. */
struct soot_events {
    double demanded, derated, past, active;
};
/* `hours` of a duty; may_burn: the engine may burn by itself. Split into days of eight hours. scratch is rewound. */
struct soot_events soot_work(const struct soot_filter *f, const struct soot_rates *r, struct soot_belief *b, int duty,
                             double hours, bool may_burn, struct arena *scratch);
/* A parked burn of everything but what is past one; only_demanded: of what it is demanded from. */
void soot_parked_burn(const struct soot_filter *f, struct soot_belief *b, bool only_demanded);
/* Load with P(L <= load) = p. */
double soot_quantile(const struct soot_belief *b, double p);
double soot_mean(const struct soot_belief *b);
/* Probabilities: a parked burn demanded (or worse), derated (or worse), past field burning. */
double soot_demanded(const struct soot_belief *b);
double soot_derated(const struct soot_belief *b);

/* Hours of a duty from now until each of the three, as distributions: P(T <= i * step). */
struct soot_left {
    double step;
    int n;
    const double *demanded, *derated, *past; /* [n + 1], rising, in the arena */
};
/* Over `hours` ahead (at most 2000), hour by hour. */
struct soot_left soot_hours_left(const struct soot_filter *f, const struct soot_rates *r, const struct soot_belief *now,
                                 int duty, bool may_burn, double hours, struct arena *a);
/* Hours with P(T <= h) = p; INFINITY when not within what was looked at. */
double soot_left_quantile(const struct soot_left *left, const double *of, double p);

#endif
