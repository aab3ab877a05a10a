/* Calculations about the exhaust filter. */
#include "calc_internal.h"
#include "exhaust/exhaust.h"
#include "quantity/domain.h"

static struct ash_source source_of(const struct calc_call *call)
{
    return (struct ash_source){in_number(call, "density"), in_number(call, "ash"), in_number(call, "retained")};
}

static bool run_ash_mass(struct calc_call *call, struct err *e)
{
    double kg = 0;
    double oil =
        in_given(call, "oil") ? in_number(call, "oil") : in_number(call, "fuel") * in_number(call, "oil-share");
    if (!in_given(call, "oil") && (!in_given(call, "fuel") || !in_given(call, "oil-share"))) {
        return err_set(e, ERR_USAGE, "oil, or fuel and oil-share", "ash-mass needs the oil burnt", (char *)0);
    }
    return ash_mass(source_of(call), oil, &kg, e) && out_number(call, "ash", kg);
}

static bool run_ash_hours(struct calc_call *call, struct err *e)
{
    double kg = 0;
    double hours = 0;
    return ash_mass(source_of(call), in_number(call, "oil"), &kg, e) &&
           ash_hours(source_of(call), in_number(call, "oil"), in_number(call, "filter"), in_number(call, "limit"),
                     in_number(call, "now"), &hours, e) &&
           out_number(call, "ash", kg) && out_number(call, "time", hours * 3600);
}

static bool run_ash_share(struct calc_call *call, struct err *e)
{
    double share = 0;
    return ash_share(in_number(call, "ash"), in_number(call, "soot"), &share, e) && out_number(call, "share", share);
}

static bool run_soot_load(struct calc_call *call, struct err *e)
{
    struct soot_load load;
    return soot_load(in_number(call, "soot"), in_number(call, "filter"), in_number(call, "limit"), &load, e) &&
           out_number(call, "load", load.kgm3) && out_flag(call, "over", load.over);
}

static bool run_burn_range(struct calc_call *call, struct err *e)
{
    enum burn_range range = BURN_TOO_COLD;
    return burn_range_of(in_number(call, "temperature"), &range, e) &&
           out_text(call, "state", str_of(burn_range_text(range)));
}

static bool run_ash_ratio(struct calc_call *call, struct err *e)
{
    double a = in_number(call, "ash-a");
    double b = in_number(call, "ash-b");
    return domain_within("sulphated ash of the first oil", a, "%", 0, 0.05, e) &&
           domain_above("sulphated ash of the second oil", b, "%", 0, e) &&
           domain_within("sulphated ash of the second oil", b, "%", 0, 0.05, e) && out_number(call, "ratio", a / b);
}

#define ASH_SOURCE                                                           \
    PRESET("density", Q_DENSITY, "kg/L", "density of the oil", "0.87 kg/L"), \
        NUMBER("ash", Q_RATIO, "%", "sulphated ash of the oil (ASTM D874)"), \
        PRESET("retained", Q_RATIO, "%", "share of the ash that stays in the filter", "100 %")
#define ASH "oil x density x sulphated ash x share retained"
#define BALANCE "mass balance; sulphated ash by ASTM D874 (API CK-4, CJ-4, FA-4 at most 1.0 %)"

const struct calc calc_exhaust[] = {
    {"ash-mass",
     "Ash from burnt oil",
     ASH,
     BALANCE,
     {PRESET("oil", Q_VOLUME, "L", "oil burnt, or burnt per hour", ""),
      PRESET("fuel", Q_VOLUME, "L", "fuel burnt, or per hour, instead of the oil", ""),
      PRESET("oil-share", Q_RATIO, "%", "oil burnt per fuel", ""), ASH_SOURCE},
     {NUMBER("ash", Q_MASS, "g", "ash in the filter, or per hour")},
     run_ash_mass},
    {"ash-hours",
     "Hours until a filter is full of ash",
     "limit x filter / ash per hour",
     BALANCE,
     {NUMBER("oil", Q_VOLUME, "L", "oil burnt per hour"), ASH_SOURCE,
      NUMBER("filter", Q_VOLUME, "L", "volume of the filter"),
      NUMBER("limit", Q_DENSITY, "g/L", "ash limit, the maker's"),
      PRESET("now", Q_MASS, "g", "ash in it already", "0 g")},
     {NUMBER("ash", Q_MASS, "g", "ash per hour"), NUMBER("time", Q_DURATION, "h", "hours until the limit")},
     run_ash_hours},
    {"ash-share",
     "Share of ash in what a filter holds",
     "ash / (ash + soot)",
     "arithmetic",
     {NUMBER("ash", Q_DENSITY, "g/L", "ash"), NUMBER("soot", Q_DENSITY, "g/L", "soot")},
     {NUMBER("share", Q_RATIO, "%", "share of ash")},
     run_ash_share},
    {"soot-load",
     "Soot load of a filter",
     "soot / volume",
     "arithmetic; the limit is entered with its source",
     {NUMBER("soot", Q_MASS, "g", "soot"), NUMBER("filter", Q_VOLUME, "L", "volume of the filter"),
      NUMBER("limit", Q_DENSITY, "g/L", "soot limit, the maker's")},
     {NUMBER("load", Q_DENSITY, "g/L", "soot load"), FLAG("over", "over the limit")},
     run_soot_load},
    {"burn-range",
     "What an exhaust temperature does to soot",
     "edges 250, 500, 550, 650 degC",
     "broad public ranges, no maker's limit; edges chosen here",
     {NUMBER("temperature", Q_TEMPERATURE, "degC", "exhaust temperature")},
     {TEXT("state", "range")},
     run_burn_range},
    {"ash-ratio",
     "How much faster one oil fills a filter than another",
     "ash a / ash b",
     "mass balance; CI-4 PLUS up to 2.0 %, CK-4 up to 1.0 %",
     {NUMBER("ash-a", Q_RATIO, "%", "sulphated ash of the first oil"),
      NUMBER("ash-b", Q_RATIO, "%", "sulphated ash of the second oil")},
     {NUMBER("ratio", Q_NONE, NULL, "first over second")},
     run_ash_ratio},
};
const size_t calc_exhaust_count = sizeof calc_exhaust / sizeof *calc_exhaust;
