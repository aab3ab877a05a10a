/* When a part of Weibull life is cheapest to replace: at an age, in blocks, or with minimal repairs between. Costs in
 * one currency, times in the unit of eta. The failure cost is the whole cost of a failure replacement, not an extra on
 * top of the planned one. */
#ifndef WITMARK_LIFE_REPLACEMENT_H
#define WITMARK_LIFE_REPLACEMENT_H

#include "base/err.h"

/* F(t) = 1 - exp(-(t/eta)^beta); beta 0.1 .. 50, eta > 0. */
struct weibull {
    double beta, eta;
};
double weibull_mean(struct weibull w); /* eta Gamma(1 + 1/beta) */

struct replacement_costs {
    double planned; /* > 0 */
    double failure; /* > 0 */
};

/* Cost per time of replacing at age T or at failure: [cp R(T) + cf F(T)] / integral of R to T.
 * The integral is eta Gamma(1 + 1/beta) P(1/beta, (T/eta)^beta). Errors: ERR_DOMAIN. Source: Barlow and Proschan
 * (1965), chapter 4. */
bool age_cost_rate(struct weibull w, struct replacement_costs c, double age, double *rate, struct err *e);

struct age_policy {
    double mean_life;
    double run_to_failure; /* cost per time */
    bool finite; /* else beta <= 1 or cf <= cp: run to failure, and the fields below but cost_rate have no meaning */
    double age;  /* of least cost */
    double cost_rate;           /* the least */
    double failure_probability; /* before that age */
    double mean_cycle;
};
/* The age at which h(T) integral of R - F(T) = cp / (cf - cp). Errors: ERR_DOMAIN. */
bool age_policy(struct weibull w, struct replacement_costs c, struct age_policy *out, struct err *e);

/* Expected renewals by t: sum over k of (-1)^(k-1) B_k x^k / k!, x = (t/eta)^beta, and its derivative times t.
 * x at most 15, where the alternating series still has nine digits. Errors: ERR_DOMAIN.
 * Source: Smith and Leadbetter (1963), Technometrics 5, 393-396, with the coefficients kept as ratios to Gamma(k beta +
 * 1)/k!, between 0 and 1. */
struct renewals {
    double count;
    double slope_times_t;
};
bool weibull_renewals(struct weibull w, double t, struct renewals *out, struct err *e);

struct block_policy {
    bool found; /* a least cost up to 2.2 eta (or where the series ends) */
    double interval;
    double renewals; /* failures expected between two planned replacements */
    double cost_rate;
    double run_to_failure;
};
/* Replace every T and at each failure: least (cp + cf M(T)) / T, the first minimum. Errors: ERR_DOMAIN. */
bool block_policy(struct weibull w, struct replacement_costs c, struct block_policy *out, struct err *e);

/* Replace every T, repair to as-bad-as-old between: T = eta [cp / (cm (beta - 1))]^(1/beta). Errors: ERR_DOMAIN: beta
 * <= 1 has no least cost. Source: Barlow and Hunter (1960), Operations Research 8, 90-100, policy II. */
struct repair_policy {
    double interval, cost_rate;
};
bool minimal_repair_policy(struct weibull w, double planned, double repair, struct repair_policy *out, struct err *e);

#endif
