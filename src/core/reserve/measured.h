/* The reserve of what is measured: the trend of the readings since the last reset, and when its line crosses a limit.
 *
 * A straight line on the scale on which the quantity drifts (as it is, or its logarithm), by Bayesian regression: flat
 * priors on height and slope, an inverse-gamma prior of one pair of readings' worth on the noise, about what the gauge
 * states. The line's height at x is then Student's t with n degrees of freedom; where it crosses the limit with a given
 * probability is a quadratic equation. What crosses is the line, not the next reading with its noise. Sources: Gelman
 * and others (2013), Bayesian Data Analysis, chapter 14; Fieller (1954), J. R. Statist. Soc. B 16, 175-185.
 */
#ifndef WITMARK_RESERVE_MEASURED_H
#define WITMARK_RESERVE_MEASURED_H

#include "meter/usage.h"
#include "reserve/reserve.h"

#include <stdbool.h>

/* One corrected reading. */
struct trend_reading {
    double at; /* day, or machine hours in all */
    double value;
};

struct trend_ask {
    const struct trend_reading *readings; /* since the last reset, any order */
    int n;
    double low, high; /* limits, same unit as the values; NAN or infinite: none */
    double deviation; /* standard deviation of one reading that the gauge states, > 0 */
    bool logarithm;   /* it drifts on the logarithmic scale; values and limits must then be > 0 */
    bool by_hours;    /* `at` is machine hours, else days */
};

struct reserve_trend {
    bool known; /* else too few readings (three at different times), no limit that way, or no number */
    bool upper; /* it drifts toward the upper limit */
    bool by_hours, logarithm;
    int n;
    double first, last;         /* of the readings used */
    double limit;               /* as given */
    double goal;                /* on the scale */
    double middle, mean, slope; /* height `mean` at `middle`; slope per day or hour, on the scale */
    double var_mean, var_slope; /* of both */
    double df;
};

struct reserve_trend reserve_trend_of(const struct trend_ask *ask);
/* Probability that the line has crossed the limit at x; rises with x. NAN when not known. */
double reserve_trend_passage(const struct reserve_trend *t, double x);
/* x by which it has crossed with probability p; INFINITY when it never does with so much. NAN when not known. */
double reserve_trend_quantile(const struct reserve_trend *t, double p);

/* The reserve by the trend alone, from `today` on. By hours the usage tells the days (known, else the hours have no
 * date): P(T <= t) = mean over the trend's quantiles x_j of P(H(t) >= x_j). The trend and the usage are borrowed by
 * the result. */
struct reserve reserve_measured(const struct reserve_trend *trend, double hours_now, day_t today,
                                const struct usage_state *usage);
/* P(T <= day) of it. */
double reserve_trend_by_day(const struct reserve_trend *t, const struct usage_state *usage, double day);

#endif
