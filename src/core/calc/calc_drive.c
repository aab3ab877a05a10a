/* Calculations about belts, chains and grease. */
#include "calc_internal.h"
#include "drive/drive.h"

static bool run_belt_span(struct calc_call *call, struct err *e)
{
    double span = 0;
    double deflection = 0;
    return belt_span(in_number(call, "centre"), in_number(call, "large"), in_number(call, "small"), &span, e) &&
           belt_deflection(span, &deflection, e) && out_number(call, "span", span) &&
           out_number(call, "deflection", deflection);
}

static bool run_belt_deflection(struct calc_call *call, struct err *e)
{
    double deflection = 0;
    return belt_deflection(in_number(call, "span"), &deflection, e) && out_number(call, "deflection", deflection);
}

static bool run_belt_force(struct calc_call *call, struct err *e)
{
    enum belt_state state = BELT_GOOD;
    return belt_force(in_number(call, "force"), in_number(call, "used"), in_number(call, "new"), &state, e) &&
           out_text(call, "state", str_of(belt_state_text(state)));
}

static bool run_belt_tension(struct calc_call *call, struct err *e)
{
    double tension = 0;
    return belt_tension(in_number(call, "force"), in_number(call, "span"), in_number(call, "deflection"), &tension,
                        e) &&
           out_number(call, "tension", tension);
}

static bool run_chain(struct calc_call *call, struct err *e)
{
    double share = 0;
    double limit = 0;
    return chain_elongation(in_number(call, "pitches"), in_number(call, "pitch"), in_number(call, "measured"), &share,
                            e) &&
           chain_limit(in_number(call, "teeth"), in_flag(call, "fixed"), &limit, e) &&
           out_number(call, "elongation", share) && out_number(call, "limit", limit) &&
           out_flag(call, "replace", share >= limit - 1e-9);
}

static bool run_chain_limit(struct calc_call *call, struct err *e)
{
    double limit = 0;
    return chain_limit(in_number(call, "teeth"), in_flag(call, "fixed"), &limit, e) && out_number(call, "limit", limit);
}

static bool run_grease_quantity(struct calc_call *call, struct err *e)
{
    double kg = 0;
    return grease_quantity(in_number(call, "outside"), in_number(call, "width"), &kg, e) &&
           out_number(call, "grease", kg);
}

static bool run_grease_interval(struct calc_call *call, struct err *e)
{
    double hours = 0;
    return grease_interval(in_number(call, "k"), in_number(call, "speed"), in_number(call, "bore"), &hours, e) &&
           grease_interval_at(hours, in_number(call, "temperature"), &hours, e) &&
           out_number(call, "time", hours * 3600);
}

static bool run_grease_temperature(struct calc_call *call, struct err *e)
{
    double hours = 0;
    return grease_interval_at(in_number(call, "time") / 3600, in_number(call, "temperature"), &hours, e) &&
           out_number(call, "time", hours * 3600);
}

static bool run_grease_strokes(struct calc_call *call, struct err *e)
{
    double strokes = 0;
    return grease_strokes(in_number(call, "grease"), in_number(call, "stroke"), &strokes, e) &&
           out_number(call, "strokes", strokes);
}

#define MM(name, meaning) NUMBER(name, Q_LENGTH, "mm", meaning)
#define NEWTON(name, meaning) NUMBER(name, Q_FORCE, "N", meaning)
#define GRAM(name, meaning) NUMBER(name, Q_MASS, "g", meaning)
#define FIXED                                                                 \
    {                                                                         \
        "fixed", CALC_FLAG, Q_NONE, NULL, "fixed centres, no tensioner", "no" \
    }
#define TEETH PRESET("teeth", Q_NONE, NULL, "teeth of the largest sprocket; 0 = not known", "0")
#define HOURS(meaning) NUMBER("time", Q_DURATION, "h", meaning)

const struct calc calc_drive[] = {
    {"belt-span",
     "Free span of a belt",
     "sqrt(C^2 - ((D - d)/2)^2), deflection 1/64 of it",
     "geometry; V-belt makers",
     {MM("centre", "centre distance"), MM("large", "large pulley"), MM("small", "small pulley")},
     {MM("span", "free span"), MM("deflection", "deflection for the force reading")},
     run_belt_span},
    {"belt-deflection",
     "Deflection at which a belt's force is read",
     "span / 64",
     "V-belt makers and plant handbooks: 1/64 in per inch",
     {MM("span", "free span")},
     {MM("deflection", "deflection")},
     run_belt_deflection},
    {"belt-force",
     "Deflection force against the maker's window",
     "run-in <= force <= new",
     "the belt maker's figures by section, pulley and speed, entered",
     {NEWTON("force", "force found"), NEWTON("used", "maker's force for a run-in belt"),
      NEWTON("new", "maker's force for a new belt")},
     {TEXT("state", "where it stands")},
     run_belt_force},
    {"belt-tension",
     "Span tension from a deflection force",
     "T = F L / (4 q)",
     "string geometry, belt stiffness left out",
     {NEWTON("force", "force at mid-span"), MM("span", "free span"), MM("deflection", "deflection under it")},
     {NEWTON("tension", "tension of the span")},
     run_belt_tension},
    {"chain-elongation",
     "Wear elongation of a chain",
     "measured / (pitches x pitch) - 1; due at the limit",
     "ANSI B29.1 practice; chain makers",
     {NUMBER("pitches", Q_NONE, NULL, "pitches measured over"), MM("pitch", "pitch"), MM("measured", "length found"),
      TEETH, FIXED},
     {NUMBER("elongation", Q_RATIO, "%", "elongation"), NUMBER("limit", Q_RATIO, "%", "limit"), FLAG("replace", "due")},
     run_chain},
    {"chain-limit",
     "Elongation at which a chain is due",
     "smaller of 3 % and 200/teeth %; 1.5 % on fixed centres",
     "ANSI B29.1 practice; chain makers",
     {TEETH, FIXED},
     {NUMBER("limit", Q_RATIO, "%", "limit")},
     run_chain_limit},
    {"grease-quantity",
     "Grease to top up a bearing",
     "G = 0.005 g/mm2 D B",
     "Tribology Handbook A20; bearing makers",
     {MM("outside", "outside diameter of the bearing"), MM("width", "width")},
     {GRAM("grease", "grease")},
     run_grease_quantity},
    {"grease-interval",
     "Hours between greasings of a bearing",
     "t = k (14e6/(n sqrt d) - 4 d), halved for every 15 K above 70 degC",
     "Tribology Handbook A20; bearing maker's table",
     {NUMBER("k", Q_NONE, NULL, "10 radial ball, 5 cylindrical or needle roller, 1 spherical or taper roller"),
      NUMBER("speed", Q_ROTATION, "rpm", "speed"), MM("bore", "bore"),
      PRESET("temperature", Q_TEMPERATURE, "degC", "bearing temperature", "70 degC")},
     {HOURS("interval")},
     run_grease_interval},
    {"grease-temperature",
     "A greasing interval at a bearing temperature",
     "halved for every 15 K above 70 degC",
     "bearing maker's table",
     {HOURS("interval at or below 70 degC"), NUMBER("temperature", Q_TEMPERATURE, "degC", "bearing temperature")},
     {HOURS("interval")},
     run_grease_temperature},
    {"grease-strokes",
     "Strokes of a grease gun",
     "grease / stroke, rounded up",
     "common practice, no source: weigh ten strokes",
     {GRAM("grease", "grease wanted"), GRAM("stroke", "grease per stroke, weighed")},
     {NUMBER("strokes", Q_NONE, NULL, "strokes")},
     run_grease_strokes},
};
const size_t calc_drive_count = sizeof calc_drive / sizeof *calc_drive;
