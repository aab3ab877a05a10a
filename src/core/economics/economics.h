/* What a machine costs a year and an hour, and when it is cheapest to replace. Money in one currency; flows at year
 * end; the rate per year, nominal if the flows are nominal; a rate of zero is allowed. */
#ifndef WITMARK_ECONOMICS_ECONOMICS_H
#define WITMARK_ECONOMICS_ECONOMICS_H

#include "base/err.h"

/* A machine's costs if it is kept 1, 2 ... n years. */
struct keep_costs {
    double first_cost;    /* >= 0 */
    const double *market; /* [n] what it fetches after each year */
    const double *annual; /* [n] operating and maintenance of each year */
    size_t n;             /* 1 .. 100 */
    double rate;          /* per year, 0 .. 1 */
};
struct economic_life {
    size_t best_year; /* the first year of least cost, from 1 */
    double least;
    bool at_end; /* the least is in the last year of the data: not reached yet */
};
/* Equivalent uniform annual cost of each life.
 *   E_n = (P - S_n (1+i)^-n + sum A_j (1+i)^-j) i / (1 - (1+i)^-n), for i = 0 the factor is 1/n
 *   euac  [n] out
 * Errors: ERR_DOMAIN. Source: Blank and Tarquin, Engineering Economy, chapter 11; Sullivan, Wicks and Koelling,
 * chapter 9. */
bool economic_life(struct keep_costs c, double *euac, struct economic_life *out, struct err *e);

/* Ownership by the average-annual-investment method.
 *   AAI = (P (n + 1) + S (n - 1)) / (2 n);  money = AAI rate / h;  depreciation = (P - S) / (n h)
 * Source: Peurifoy, Construction Planning, Equipment and Methods. Errors: ERR_DOMAIN. */
struct ownership_input {
    double price, salvage, years, hours_per_year, rate;
};
struct ownership {
    double average_investment;
    double money_per_h, depreciation_per_h, total_per_h;
};
bool hourly_ownership(struct ownership_input in, struct ownership *out, struct err *e);

/* Worth today of an amount in some years: F (1 + i)^-n. rate more than -1; years 0 .. 1000. */
bool present_worth(double amount, double rate, double years, double *worth, struct err *e);

/* Single flows at given years, and an equal flow at the end of years 1 .. annual_years. */
struct cash_flows {
    const double *years, *amounts; /* [n] */
    size_t n;
    double annual;
    int annual_years; /* 0 .. 1000 */
};
bool present_worth_flows(struct cash_flows f, double rate, double *worth, struct err *e);

#endif
