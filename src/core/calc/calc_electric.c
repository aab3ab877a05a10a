/* Calculations about battery, starting, charging, wire and fuse. */
#include "calc_internal.h"
#include "electric/electric.h"
#include "quantity/domain.h"

/* Without a reading only the correction is given, which does not depend on it. */
static bool run_gravity(struct calc_call *call, struct err *e)
{
    double sg = 0;
    double reading = in_number_or(call, "reading", 1.25);
    return gravity_corrected(reading, in_number(call, "temperature"), in_number(call, "reference"),
                             in_number(call, "factor"), &sg, e) &&
           (!in_given(call, "reading") || out_number(call, "gravity", sg)) &&
           out_number(call, "correction", sg - reading);
}

static bool out_charge(struct calc_call *call, struct charge c)
{
    return c.known ? out_number(call, "charge", c.share) : out_none(call, "charge", c.why);
}

static bool run_charge_voltage(struct calc_call *call, struct err *e)
{
    struct charge c;
    return charge_of_voltage(in_number(call, "voltage"), in_number(call, "system"), &c, e) && out_charge(call, c);
}

static bool run_charge_gravity(struct calc_call *call, struct err *e)
{
    struct charge c;
    return charge_of_gravity(in_number(call, "gravity"), &c, e) && out_charge(call, c);
}

static bool run_load_test(struct calc_call *call, struct err *e)
{
    struct load_test t;
    return battery_load_test(in_number(call, "cca"), in_number(call, "temperature"), in_number(call, "voltage"), &t,
                             e) &&
           out_number(call, "load", t.load_a) && out_number(call, "minimum", t.minimum_v) &&
           out_flag(call, "pass", t.pass);
}

static bool run_acid_freezing(struct calc_call *call, struct err *e)
{
    double t = 0;
    bool given = in_given(call, "temperature");
    double expected = in_number_or(call, "temperature", 273.15);
    return electrolyte_freezing(in_number(call, "gravity"), &t, e) &&
           domain_within("temperature to expect", expected, "degC", 200, 420, e) && out_number(call, "freezing", t) &&
           (!given || out_flag(call, "may-freeze", expected <= t));
}

static bool out_window(struct calc_call *call, struct voltage_window w)
{
    return out_number(call, "low", w.low_v) && out_number(call, "high", w.high_v) &&
           out_flag(call, "ok", w.state == VOLTAGE_WITHIN) &&
           out_text(call, "state", str_of(voltage_state_text(w.state)));
}

static bool run_cranking(struct calc_call *call, struct err *e)
{
    struct voltage_window w;
    return cranking_window(in_number(call, "system"), in_number(call, "temperature"), in_number(call, "voltage"), &w,
                           e) &&
           out_window(call, w);
}

static bool run_charging(struct calc_call *call, struct err *e)
{
    struct charging c = {in_number(call, "nominal"), in_number(call, "half"), in_number(call, "reference"),
                         in_number(call, "slope")};
    struct voltage_window w;
    return charging_window(c, in_number(call, "temperature"), in_number(call, "voltage"), &w, e) && out_window(call, w);
}

static bool run_charging_table(struct calc_call *call, struct err *e)
{
    struct voltage_window w;
    return charging_window_table(in_number(call, "temperature"), in_number(call, "voltage"), &w, e) &&
           out_window(call, w);
}

static bool run_cranking_drop(struct calc_call *call, struct err *e)
{
    double limit = 0;
    return domain_within("voltage lost", in_number(call, "measured"), "V", 0, 40, e) &&
           cranking_drop_limit(in_number(call, "current"), in_number(call, "per-100-a"), &limit, e) &&
           out_number(call, "limit", limit) && out_flag(call, "ok", in_number(call, "measured") <= limit + 1e-9);
}

static bool run_wire_drop(struct calc_call *call, struct err *e)
{
    struct wire_drop d;
    return wire_drop(in_number(call, "current"), in_number(call, "length"), in_number(call, "section"),
                     in_number(call, "system"), in_number(call, "temperature"), &d, e) &&
           out_number(call, "drop", d.volts) && out_number(call, "share", d.share);
}

static bool run_wire_section(struct calc_call *call, struct err *e)
{
    double area = 0;
    return wire_section(in_number(call, "current"), in_number(call, "length"), in_number(call, "system"),
                        in_number(call, "share"), in_number(call, "temperature"), &area, e) &&
           out_number(call, "section", area);
}

static bool run_fuse(struct calc_call *call, struct err *e)
{
    size_t n = 0;
    size_t found = 0;
    double minimum = 0;
    const double *series = in_list(call, "series", &n);
    double *allowed = ARENA_ARRAY(call->a, double, n + 1);
    return fuse_choice(in_number(call, "load"), in_number(call, "factor"), in_number(call, "wire"), series, n, &minimum,
                       allowed, &found, e) &&
           out_number(call, "minimum", minimum) && out_list(call, "allowed", allowed, found);
}

#define VOLT(name, meaning) NUMBER(name, Q_VOLTAGE, "V", meaning)
#define AMPERE(name, meaning) NUMBER(name, Q_CURRENT, "A", meaning)
#define KELVIN(name, meaning) NUMBER(name, Q_TEMPERATURE, "degC", meaning)
#define SYSTEM PRESET("system", Q_VOLTAGE, "V", "system voltage, 12 or 24 V", "12 V")
#define COPPER PRESET("temperature", Q_TEMPERATURE, "degC", "temperature of the wire", "20 degC")
#define WINDOW \
    VOLT("low", "lowest"), VOLT("high", "highest"), FLAG("ok", "within"), TEXT("state", "low, within or high")
#define LENGTH NUMBER("length", Q_LENGTH, "m", "one-way length; counted out and back")

const struct calc calc_electric[] = {
    {"acid-gravity",
     "Specific gravity of battery acid at the reference temperature",
     "sg + factor (t - reference)",
     "makers' manuals: 0.0007 per degC from 20 degC, or 0.0004 per degF (0.00072 per K) from 80 degF",
     {PRESET("reading", Q_NONE, NULL, "hydrometer reading", ""), KELVIN("temperature", "temperature of the acid"),
      PRESET("reference", Q_TEMPERATURE, "degC", "reference temperature", "20 degC"),
      PRESET("factor", Q_NONE, "1/K", "change per kelvin", "0.0007")},
     {NUMBER("gravity", Q_NONE, NULL, "specific gravity at the reference"),
      NUMBER("correction", Q_NONE, NULL, "what was added")},
     run_gravity},
    {"charge-voltage",
     "State of charge from the rest voltage",
     "table 12.65 V 100 %, 12.45 75, 12.24 50, 12.06 25, 11.89 0, straight between; battery at rest",
     "battery maker's table for flooded batteries near 80 degF; others differ by 0.05 V",
     {VOLT("voltage", "rest voltage"), SYSTEM},
     {NUMBER("charge", Q_RATIO, "%", "state of charge")},
     run_charge_voltage},
    {"charge-gravity",
     "State of charge from the specific gravity",
     "table 1.265 100 %, 1.225 75, 1.190 50, 1.155 25, 1.120 0, straight between",
     "battery maker's table; others differ by 0.01",
     {NUMBER("gravity", Q_NONE, NULL, "corrected specific gravity")},
     {NUMBER("charge", Q_RATIO, "%", "state of charge")},
     run_charge_gravity},
    {"battery-load-test",
     "Load test of a battery",
     "half the CCA for 15 s; least voltage by temperature, straight between rows",
     "vehicle makers, two agree",
     {AMPERE("cca", "cold-cranking amperes"), KELVIN("temperature", "battery temperature"),
      VOLT("voltage", "voltage after 15 s")},
     {AMPERE("load", "test load"), VOLT("minimum", "least voltage"), FLAG("pass", "passed")},
     run_load_test},
    {"acid-freezing",
     "Freezing point of battery acid",
     "table, straight between rows",
     "US Army TM 5-1185, table III; ordnance course OD1002",
     {NUMBER("gravity", Q_NONE, NULL, "specific gravity"),
      PRESET("temperature", Q_TEMPERATURE, "degC", "temperature to expect", "")},
     {KELVIN("freezing", "freezing point"), FLAG("may-freeze", "may freeze")},
     run_acid_freezing},
    {"cranking-voltage",
     "Voltage while cranking against its window",
     "6 to 8 V at -23 to -7 degC, 7 to 9 V to 10 degC, 8 to 10 V to 27 degC; double for 24 V",
     "one engine maker",
     {SYSTEM, KELVIN("temperature", "temperature"), VOLT("voltage", "voltage while cranking")},
     {WINDOW},
     run_cranking},
    {"charging-voltage",
     "Charging voltage against a window that falls with temperature",
     "nominal - slope (t - reference) +/- half",
     "one marine engine manual for the presets",
     {KELVIN("temperature", "temperature"), VOLT("voltage", "charging voltage"),
      PRESET("nominal", Q_VOLTAGE, "V", "at the reference", "14.4 V"),
      PRESET("half", Q_VOLTAGE, "V", "half width", "0.3 V"),
      PRESET("reference", Q_TEMPERATURE, "degC", "reference temperature", "20 degC"),
      PRESET("slope", Q_VOLTAGE, "V", "fall per kelvin", "0.01 V")},
     {WINDOW},
     run_charging},
    {"charging-voltage-table",
     "Charging voltage against a maker's table",
     "table -20, 20, 60, 80 degC, straight between rows",
     "one vehicle manual",
     {KELVIN("temperature", "temperature"), VOLT("voltage", "charging voltage")},
     {WINDOW},
     run_charging_table},
    {"cranking-drop",
     "Voltage lost in a starter circuit",
     "0.20 V per 100 A",
     "US Army TM 10-3930-671-24; others 0.1 to 0.5 V a leg",
     {AMPERE("current", "starter current"), VOLT("measured", "voltage lost"),
      PRESET("per-100-a", Q_VOLTAGE, "V", "allowed per 100 A", "0.2 V")},
     {VOLT("limit", "most allowed"), FLAG("ok", "at or below")},
     run_cranking_drop},
    {"wire-drop",
     "Voltage lost in a copper pair",
     "I rho 2 l / A, rho = 1.7241e-8 ohm.m at 20 degC, +0.393 %/K",
     "IACS, IEC 60028",
     {AMPERE("current", "current"), LENGTH, NUMBER("section", Q_AREA, "mm2", "section"), SYSTEM, COPPER},
     {VOLT("drop", "voltage lost"), NUMBER("share", Q_RATIO, "%", "share of the system's voltage")},
     run_wire_drop},
    {"wire-section",
     "Wire section for an allowed loss",
     "A >= I rho 2 l / (share U), next of the series; voltage only",
     "IACS; IEC 60228 series",
     {AMPERE("current", "current"), LENGTH, SYSTEM, PRESET("share", Q_RATIO, "%", "share allowed to be lost", "3 %"),
      COPPER},
     {NUMBER("section", Q_AREA, "mm2", "smallest section")},
     run_wire_section},
    {"fuse",
     "Fuses that fit a load and its wire",
     "load x factor <= fuse <= wire rating",
     "published guides: factor 1.25 or 1.35",
     {AMPERE("load", "continuous load"),
      PRESET("factor", Q_NONE, NULL, "factor over the load", "1.25"),
      AMPERE("wire", "rating of the wire"),
      {"series", CALC_LIST, Q_CURRENT, "A", "fuses to choose from",
       "5 A, 7.5 A, 10 A, 15 A, 20 A, 25 A, 30 A, 40 A, 50 A, 60 A, 80 A, 100 A, 125 A, 150 A, 175 A, 200 A"}},
     {AMPERE("minimum", "smallest fuse"), LIST("allowed", Q_CURRENT, "A", "fuses that fit")},
     run_fuse},
};
const size_t calc_electric_count = sizeof calc_electric / sizeof *calc_electric;
