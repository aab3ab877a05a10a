/* Ash and soot by mass balance. */
#include "exhaust/exhaust.h"

#include "quantity/domain.h"

#include <math.h>

static bool check_source(struct ash_source s, struct err *e)
{
    return domain_within("oil density", s.density_kgm3, "kg/L", 500, 1500, e) &&
           domain_within("sulphated ash", s.ash_share, "%", 0, 0.05, e) &&
           domain_within("share of the ash that stays in the filter", s.retained, "%", 0, 1, e);
}

bool ash_mass(struct ash_source s, double oil_m3, double *ash_kg, struct err *e)
{
    if (!check_source(s, e) || !domain_within("oil burnt", oil_m3, "L", 0, 1e3, e)) {
        return false;
    }
    *ash_kg = oil_m3 * s.density_kgm3 * s.ash_share * s.retained;
    return true;
}

bool ash_hours(struct ash_source s, double oil_m3_per_h, double filter_m3, double limit_kgm3, double now_kg,
               double *hours, struct err *e)
{
    double per_hour = 0;
    if (!ash_mass(s, oil_m3_per_h, &per_hour, e) || !domain_above("filter volume", filter_m3, "L", 0, e) ||
        !domain_above("ash limit", limit_kgm3, "g/L", 0, e) ||
        !domain_within("ash in the filter", now_kg, "g", 0, 1e3, e)) {
        return false;
    }
    if (per_hour <= 0) {
        return domain_refuse("no ash comes to the filter, so no hours can be given",
                             "oil burnt, ash and retained share above 0", e);
    }
    *hours = fmax(0, limit_kgm3 * filter_m3 - now_kg) / per_hour;
    return true;
}

bool ash_share(double ash, double soot, double *share, struct err *e)
{
    if (!domain_within("ash", ash, "", 0, 1e9, e) || !domain_within("soot", soot, "", 0, 1e9, e)) {
        return false;
    }
    if (ash + soot <= 0) {
        return domain_refuse("an empty filter has no share of ash", "ash or soot above 0", e);
    }
    *share = ash / (ash + soot);
    return true;
}

bool soot_load(double soot_kg, double filter_m3, double limit_kgm3, struct soot_load *out, struct err *e)
{
    if (!domain_within("soot", soot_kg, "g", 0, 1e3, e) || !domain_above("filter volume", filter_m3, "L", 0, e) ||
        !domain_above("soot limit", limit_kgm3, "g/L", 0, e)) {
        return false;
    }
    double load = soot_kg / filter_m3;
    *out = (struct soot_load){load, load > limit_kgm3 * (1 + 1e-12)};
    return true;
}

bool burn_range_of(double temp_k, enum burn_range *range, struct err *e)
{
    if (!domain_within("exhaust temperature", temp_k, "degC", 200, 1800, e)) {
        return false;
    }
    double t = temp_k - 273.15;
    *range = t < 250    ? BURN_TOO_COLD
             : t <= 500 ? BURN_PASSIVE
             : t < 550  ? BURN_BETWEEN
             : t <= 650 ? BURN_ACTIVE
                        : BURN_ABOVE;
    return true;
}

const char *burn_range_text(enum burn_range range)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = text,
        BURN_RANGES(X)
#undef X
    };
    return words[range];
}
