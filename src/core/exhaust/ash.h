/* Ash in the exhaust filter as a distribution: the machine's own oil consumption, learned from what was topped up, and
 * the hours until the filter holds as much ash as the book allows. Mass balance as in exhaust.h.
 *
 * The oil burnt an hour is lognormal: a priori the book's, updated by the oil topped up over some hours (normal, in the
 * mean). Nothing is known of ash that falls out or packs denser: the retained share stands for it, and the spread.
 */
#ifndef WITMARK_EXHAUST_ASH_H
#define WITMARK_EXHAUST_ASH_H

#include "exhaust/exhaust.h"

struct ash_filter {
    struct ash_source oil;
    double oil_m3_per_h; /* the book's consumption */
    double spread;       /* its relative standard deviation between machines, 0.01 .. 2 */
    double volume_m3, limit_kgm3;
};

struct ash_rate {
    double mean, deviation; /* oil burnt, m3 an hour */
    double oil_m3, hours;   /* learned from; 0 = the book's alone */
};

/* Errors: ERR_DOMAIN. */
bool ash_rate_of_book(const struct ash_filter *f, struct ash_rate *rate, struct err *e);
/* So much was topped up over so many hours (both of all fillings together). Ignored below 25 h. */
void ash_learn(const struct ash_filter *f, struct ash_rate *rate, double oil_m3, double hours);
/* Ash in it `hours` after it was last clean: mean. */
bool ash_now(const struct ash_filter *f, const struct ash_rate *rate, double hours, double *ash_kg, struct err *e);
/* Hours left with P(T <= t) = p; 0 when it is as full already. Errors: ERR_DOMAIN: no oil, no ash, data out of range.
 */
bool ash_quantile(const struct ash_filter *f, const struct ash_rate *rate, double hours, double p, double *left,
                  struct err *e);

#endif
