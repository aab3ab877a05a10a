/* Calculations about coolant. */
#include "calc_internal.h"
#include "fluid/coolant.h"
#include "tyre/tyre.h"

static bool glycol_in(const struct calc_call *call, enum glycol *glycol, struct err *e)
{
    struct str word = in_text(call, "glycol");
    return glycol_of(word, glycol) ||
           err_set(e, ERR_DOMAIN, "ethylene or propylene", "unknown glycol \"", str_z(e->a, word), "\"", (char *)0);
}

static bool run_freezing(struct calc_call *call, struct err *e)
{
    enum glycol glycol = GLYCOL_ETHYLENE;
    double t = 0;
    return glycol_in(call, &glycol, e) && coolant_freezing(glycol, in_number(call, "share"), &t, e) &&
           out_number(call, "temperature", t);
}

static bool run_freezing_mass(struct calc_call *call, struct err *e)
{
    enum glycol glycol = GLYCOL_ETHYLENE;
    struct freezing_spread s;
    if (!glycol_in(call, &glycol, e)) {
        return false;
    }
    if (glycol != GLYCOL_ETHYLENE) {
        return err_set(e, ERR_DOMAIN, "ethylene glycol, or a share by volume", "no table of propylene glycol by mass",
                       (char *)0);
    }
    return coolant_freezing_spread(in_number(call, "share"), &s, e) && out_number(call, "low", s.low_k) &&
           out_number(call, "high", s.high_k);
}

static bool run_drain(struct calc_call *call, struct err *e)
{
    double drain = 0;
    return coolant_drain(in_number(call, "volume"), in_number(call, "now"), in_number(call, "target"),
                         in_number(call, "fill"), &drain, e) &&
           out_number(call, "drain", drain);
}

static bool run_water_boiling(struct calc_call *call, struct err *e)
{
    double t = 0;
    return water_boiling(in_number(call, "pressure"), &t, e) && out_number(call, "temperature", t);
}

static bool run_boiling(struct calc_call *call, struct err *e)
{
    enum glycol glycol = GLYCOL_ETHYLENE;
    double t = 0;
    double ambient = in_number_or(call, "ambient", STANDARD_ATMOSPHERE_PA);
    if (in_given(call, "altitude") && !in_given(call, "ambient") &&
        !atmosphere_pressure(in_number(call, "altitude"), &ambient, e)) {
        return false;
    }
    return glycol_in(call, &glycol, e) &&
           coolant_boiling(glycol, in_number(call, "share"), in_number(call, "cap"), ambient, &t, e) &&
           out_number(call, "temperature", t) && out_number(call, "ambient", ambient);
}

#define GLYCOL                                                                 \
    {                                                                          \
        "glycol", CALC_TEXT, Q_NONE, NULL, "ethylene or propylene", "ethylene" \
    }
#define SHARE(name, meaning) NUMBER(name, Q_RATIO, "%", meaning)
#define KELVIN(name, meaning) NUMBER(name, Q_TEMPERATURE, "degC", meaning)

const struct calc calc_coolant[] = {
    {"coolant-freezing",
     "Freezing point of a coolant",
     "table by volume, straight between rows; whole degrees, no answer where the table ends",
     "ASHRAE Handbook (2001); Lange's Handbook of Chemistry, 15th ed., table 5.13",
     {GLYCOL, SHARE("share", "glycol by volume")},
     {KELVIN("temperature", "freezing point")},
     run_freezing},
    {"coolant-freezing-mass",
     "Freezing point by mass, two tables",
     "tables by mass, straight between rows",
     "ASHRAE Handbook (2001), from memory; Melinder, as held in a thermophysical-property library",
     {GLYCOL, SHARE("share", "glycol by mass")},
     {KELVIN("low", "lower of the two"), KELVIN("high", "higher of the two")},
     run_freezing_mass},
    {"coolant-drain",
     "How much coolant to drain and refill",
     "x = V (target - now)/(fill - now)",
     "mass balance; well mixed, volumes additive",
     {NUMBER("volume", Q_VOLUME, "L", "volume of the system"),
      SHARE("now", "glycol now"),
      SHARE("target", "glycol wanted"),
      {"fill", CALC_NUMBER, Q_RATIO, "%", "glycol of what is filled in; 100 % neat, 0 % water", "100 %"}},
     {NUMBER("drain", Q_VOLUME, "L", "volume to drain and replace")},
     run_drain},
    {"water-boiling",
     "Boiling point of water at an absolute pressure",
     "IAPWS-IF97 saturation equation",
     "IAPWS-IF97, region 4, equation 31",
     {NUMBER("pressure", Q_PRESSURE, "kPa", "absolute pressure")},
     {KELVIN("temperature", "boiling point")},
     run_water_boiling},
    {"coolant-boiling",
     "Boiling point of a coolant under a pressure cap",
     "water boils at (cap + air) / mole fraction of water",
     "Raoult's law with IAPWS-IF97; within 2 K of trade figures",
     {GLYCOL, SHARE("share", "glycol by volume"), NUMBER("cap", Q_PRESSURE, "kPa", "cap pressure (gauge)"),
      PRESET("ambient", Q_PRESSURE, "kPa", "absolute air pressure", ""),
      PRESET("altitude", Q_LENGTH, "m", "altitude instead of air pressure", "")},
     {KELVIN("temperature", "boiling point"), NUMBER("ambient", Q_PRESSURE, "kPa", "air pressure used")},
     run_boiling},
};
const size_t calc_coolant_count = sizeof calc_coolant / sizeof *calc_coolant;
