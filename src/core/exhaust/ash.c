/* Oil consumption learned, and ash by its quantiles. */
#include "exhaust/ash.h"

#include "quantity/domain.h"
#include "stats/special.h"

#include <math.h>

#define LEAST_H 25.0      /* a shorter time between fillings tells nothing */
#define FILLING_M3 0.0003 /* standard deviation of where a filling ends: the dipstick; common practice, no source */
#define UNEVEN 0.15       /* of a machine's consumption from one filling to the next; our own choice */

bool ash_rate_of_book(const struct ash_filter *f, struct ash_rate *rate, struct err *e)
{
    *rate = (struct ash_rate){.mean = f->oil_m3_per_h, .deviation = f->oil_m3_per_h * f->spread};
    double ignored = 0;
    return domain_within("spread of the oil consumption", f->spread, "%", 0.01, 2, e) &&
           ash_hours(f->oil, f->oil_m3_per_h, f->volume_m3, f->limit_kgm3, 0, &ignored, e);
}

void ash_learn(const struct ash_filter *f, struct ash_rate *rate, double oil_m3, double hours)
{
    (void)f;
    if (!(hours >= LEAST_H) || !(oil_m3 >= 0)) {
        return;
    }
    double seen = oil_m3 / hours;
    double variance = pow(FILLING_M3 / hours, 2) + pow(UNEVEN * fmax(seen, rate->mean / 4), 2);
    double prior = rate->deviation * rate->deviation;
    double gain = prior / (prior + variance);
    rate->mean += gain * (seen - rate->mean);
    rate->deviation = sqrt(prior * (1 - gain));
    rate->oil_m3 += oil_m3;
    rate->hours += hours;
}

bool ash_now(const struct ash_filter *f, const struct ash_rate *rate, double hours, double *ash_kg, struct err *e)
{
    return ash_mass(f->oil, rate->mean * fmax(hours, 0), ash_kg, e);
}

bool ash_quantile(const struct ash_filter *f, const struct ash_rate *rate, double hours, double p, double *left,
                  struct err *e)
{
    double variance = log1p(pow(rate->deviation / rate->mean, 2));
    double z = normal_quantile(tails_of_q(p)); /* much oil, few hours */
    double oil = rate->mean * exp(z * sqrt(variance) - variance / 2);
    double all = 0;
    if (!ash_hours(f->oil, oil, f->volume_m3, f->limit_kgm3, 0, &all, e)) {
        return false;
    }
    *left = fmax(0, all - hours);
    return true;
}
