/* Calculations about money. */
#include "calc_internal.h"
#include "economics/economics.h"
#include "quantity/domain.h"

static bool run_economic_life(struct calc_call *call, struct err *e)
{
    size_t n = 0;
    size_t m = 0;
    struct keep_costs c = {.first_cost = in_number(call, "first-cost"), .rate = in_number(call, "rate")};
    c.market = in_list(call, "market", &n);
    c.annual = in_list(call, "annual", &m);
    c.n = n;
    if (n != m) {
        return domain_refuse("market values and annual costs of different length", "one of each a year", e);
    }
    double *euac = ARENA_ARRAY(call->a, double, n + 1);
    struct economic_life life;
    if (!economic_life(c, euac, &life, e)) {
        return false;
    }
    return out_list(call, "euac", euac, n) && out_number(call, "best-year", (double)life.best_year) &&
           out_flag(call, "at-end", life.at_end) &&
           out_text(call, "state",
                    life.at_end ? S("not reached yet: the least cost is in the last year of the data") : S("reached"));
}

static bool run_ownership(struct calc_call *call, struct err *e)
{
    struct ownership_input in = {in_number(call, "price"), in_number(call, "salvage"), in_number(call, "years"),
                                 in_number(call, "hours"), in_number(call, "rate")};
    struct ownership o;
    return hourly_ownership(in, &o, e) && out_number(call, "investment", o.average_investment) &&
           out_number(call, "money", o.money_per_h) && out_number(call, "depreciation", o.depreciation_per_h) &&
           out_number(call, "total", o.total_per_h);
}

static bool run_present_worth(struct calc_call *call, struct err *e)
{
    double worth = 0;
    return present_worth(in_number(call, "amount"), in_number(call, "rate"), in_number(call, "years"), &worth, e) &&
           out_number(call, "worth", worth);
}

static bool run_present_worth_flows(struct calc_call *call, struct err *e)
{
    size_t n = 0;
    size_t m = 0;
    double worth = 0;
    struct cash_flows f = {.years = in_list(call, "years", &n), .amounts = in_list(call, "amounts", &m)};
    double annual_years = in_number(call, "annual-years");
    if (n != m) {
        return domain_refuse("years and amounts of different length", "one amount a year named", e);
    }
    if (!domain_within("years of the equal flow", annual_years, "", 0, 1000, e) ||
        annual_years != floor(annual_years)) {
        return domain_refuse("years of the equal flow are not whole", "0 .. 1000", e);
    }
    f.n = n;
    f.annual = in_number(call, "annual");
    f.annual_years = (int)annual_years;
    return present_worth_flows(f, in_number(call, "rate"), &worth, e) && out_number(call, "worth", worth);
}

#define MONEY(name, meaning) NUMBER(name, Q_NONE, "money", meaning)
#define RATE PRESET("rate", Q_RATIO, "%", "rate per year, nominal if the flows are", "0 %")

const struct calc calc_economics[] = {
    {"economic-life",
     "Equivalent annual cost and economic life",
     "E_n = (P - S_n (1+i)^-n + sum A_j (1+i)^-j) i/(1 - (1+i)^-n)",
     "Blank and Tarquin, Engineering Economy, chapter 11",
     {MONEY("first-cost", "price"), LIST("market", Q_NONE, "money", "what it fetches after each year"),
      LIST("annual", Q_NONE, "money", "running cost of each year"), RATE},
     {LIST("euac", Q_NONE, "money/yr", "equivalent annual cost if kept 1, 2 ... years"),
      NUMBER("best-year", Q_NONE, "yr", "year of least cost"), FLAG("at-end", "the least is in the last year"),
      TEXT("state", "whether the least is reached")},
     run_economic_life},
    {"ownership",
     "Cost of owning a machine per hour",
     "AAI = (P (n+1) + S (n-1))/(2 n); money = AAI i/h; depreciation = (P - S)/(n h)",
     "Peurifoy, Construction Planning, Equipment and Methods",
     {MONEY("price", "price, less tyres"), MONEY("salvage", "value at the end"),
      NUMBER("years", Q_NONE, "yr", "years kept"), NUMBER("hours", Q_NONE, "h/yr", "hours a year"), RATE},
     {MONEY("investment", "average annual investment"), NUMBER("money", Q_NONE, "money/h", "cost of money"),
      NUMBER("depreciation", Q_NONE, "money/h", "depreciation"), NUMBER("total", Q_NONE, "money/h", "both")},
     run_ownership},
    {"present-worth",
     "Worth today of an amount in some years",
     "F (1 + i)^-n",
     "discounting",
     {MONEY("amount", "amount"), RATE, NUMBER("years", Q_NONE, "yr", "years from now")},
     {MONEY("worth", "worth today")},
     run_present_worth},
    {"present-worth-flows",
     "Worth today of several flows",
     "sum F_j (1 + i)^-j + sum A (1 + i)^-j",
     "discounting",
     {LIST("years", Q_NONE, "yr", "years of the single flows"), LIST("amounts", Q_NONE, "money", "their amounts"), RATE,
      PRESET("annual", Q_NONE, "money", "equal flow at the end of each year", "0"),
      PRESET("annual-years", Q_NONE, "yr", "for so many years", "0")},
     {MONEY("worth", "worth today")},
     run_present_worth_flows},
};
const size_t calc_economics_count = sizeof calc_economics / sizeof *calc_economics;
