/* The exhaust filter: ash from burnt oil, soot load, exhaust temperature for burning off. No limit is built in.
 * Ash = oil burnt x density x sulphated ash (ASTM D874) x share that stays in the filter: all four are shown with the
 * result. */
#ifndef WITMARK_EXHAUST_EXHAUST_H
#define WITMARK_EXHAUST_EXHAUST_H

#include "base/err.h"

struct ash_source {
    double density_kgm3; /* of the oil, 500 .. 1500 */
    double ash_share;    /* sulphated ash, 0 .. 0.05 (API CK-4 at most 0.01) */
    double retained;     /* share of it that stays in the filter, 0 .. 1 */
};
/* Mass of ash from a volume of oil burnt (or per hour from a volume per hour). Errors: ERR_DOMAIN. */
bool ash_mass(struct ash_source s, double oil_m3, double *ash_kg, struct err *e);
/* Hours until a filter of `filter_m3` holds `limit_kgm3` of ash at `oil_m3` burnt per hour, from `now_kg` in it.
 * Errors: ERR_DOMAIN: no oil or ash, so never; filter full already gives 0. */
bool ash_hours(struct ash_source s, double oil_m3_per_h, double filter_m3, double limit_kgm3, double now_kg,
               double *hours, struct err *e);
/* Share of ash in what a filter holds: ash / (ash + soot), loads in one unit. Errors: ERR_DOMAIN: an empty filter. */
bool ash_share(double ash, double soot, double *share, struct err *e);

/* Soot per filter volume, and whether it is over the limit the user gives. */
struct soot_load {
    double kgm3;
    bool over;
};
bool soot_load(double soot_kg, double filter_m3, double limit_kgm3, struct soot_load *out, struct err *e);

/* What an exhaust temperature does to soot. Band edges 250, 500, 550, 650 degC chosen within broad public ranges
 * (passive about 250 to 500 degC, active about 600 degC); no maker's limit. */
#define BURN_RANGES(X)                                  \
    X(BURN_TOO_COLD, "too cold")                        \
    X(BURN_PASSIVE, "passive range")                    \
    X(BURN_BETWEEN, "between passive and active range") \
    X(BURN_ACTIVE, "active range")                      \
    X(BURN_ABOVE, "above normal: stop and investigate")
enum burn_range {
#define X(symbol, text) symbol,
    BURN_RANGES(X)
#undef X
};
bool burn_range_of(double temp_k, enum burn_range *range, struct err *e);
const char *burn_range_text(enum burn_range range);

#endif
