/* Cash flows summed term by term: no factor formula can be 0/0 but the last, and that takes its limit. */
#include "economics/economics.h"

#include "quantity/domain.h"

#include <math.h>

#define MONEY_MOST 1e15

bool economic_life(struct keep_costs c, double *euac, struct economic_life *out, struct err *e)
{
    if (!domain_within("first cost", c.first_cost, "", 0, MONEY_MOST, e) ||
        !domain_within("rate per year", c.rate, "%", 0, 1, e) ||
        !domain_within("years of data", (double)c.n, "", 1, 100, e)) {
        return false;
    }
    struct economic_life best = {.best_year = 0};
    double spent = c.first_cost;
    double annuity = 0; /* worth of 1 a year so far */
    double discount = 1;
    for (size_t i = 0; i < c.n; i++) {
        if (!domain_within("market value", c.market[i], "", -MONEY_MOST, MONEY_MOST, e) ||
            !domain_within("annual cost", c.annual[i], "", -MONEY_MOST, MONEY_MOST, e)) {
            return false;
        }
        discount /= 1 + c.rate;
        annuity += discount;
        spent += c.annual[i] * discount;
        euac[i] = (spent - c.market[i] * discount) / annuity;
        if (best.best_year == 0 || euac[i] < best.least) {
            best.best_year = i + 1;
            best.least = euac[i];
        }
    }
    best.at_end = best.best_year == c.n;
    *out = best;
    return true;
}

bool hourly_ownership(struct ownership_input in, struct ownership *out, struct err *e)
{
    if (!domain_within("price", in.price, "", 0, MONEY_MOST, e) ||
        !domain_within("salvage value", in.salvage, "", 0, in.price, e) || !domain_above("years", in.years, "", 0, e) ||
        !domain_above("hours a year", in.hours_per_year, "", 0, e) ||
        !domain_within("hours a year", in.hours_per_year, "", 0, 8784, e) ||
        !domain_within("rate per year", in.rate, "%", 0, 1, e)) {
        return false;
    }
    double n = in.years;
    double investment = (in.price * (n + 1) + in.salvage * (n - 1)) / (2 * n);
    double money = investment * in.rate / in.hours_per_year;
    double depreciation = (in.price - in.salvage) / (n * in.hours_per_year);
    *out = (struct ownership){investment, money, depreciation, money + depreciation};
    return true;
}

bool present_worth(double amount, double rate, double years, double *worth, struct err *e)
{
    if (!domain_within("amount", amount, "", -MONEY_MOST, MONEY_MOST, e) ||
        !domain_above("rate per year", rate, "%", -1, e) || !domain_within("rate per year", rate, "%", -1, 10, e) ||
        !domain_within("years", years, "", 0, 1000, e)) {
        return false;
    }
    *worth = amount * pow(1 + rate, -years);
    return true;
}

bool present_worth_flows(struct cash_flows f, double rate, double *worth, struct err *e)
{
    double sum = 0;
    double part = 0;
    for (size_t i = 0; i < f.n; i++) {
        if (!present_worth(f.amounts[i], rate, f.years[i], &part, e)) {
            return false;
        }
        sum += part;
    }
    if (!domain_within("equal flow", f.annual, "", -MONEY_MOST, MONEY_MOST, e) ||
        !domain_within("years of the equal flow", f.annual_years, "", 0, 1000, e)) {
        return false;
    }
    for (int year = 1; year <= f.annual_years; year++) {
        if (!present_worth(f.annual, rate, year, &part, e)) {
            return false;
        }
        sum += part;
    }
    *worth = sum;
    return true;
}
