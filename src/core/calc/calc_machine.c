/* Calculations about a machine as a whole: what it uses, what it loses, how it is moved. */
#include "calc_internal.h"
#include "drive/tow.h"
#include "fastener/fastener.h"
#include "fluid/coolant.h"
#include "fluid/level.h"
#include "hydraulic/hydraulic.h"

#include "quantity/domain.h"

static bool run_consumption(struct calc_call *call, struct err *e)
{
    double per_h = 0;
    return level_consumption(in_number(call, "before"), in_number(call, "now"), in_number(call, "added"),
                             in_number(call, "time") / 3600, &per_h, e) &&
           out_number(call, "consumption", per_h / 3600) && out_number(call, "per-100-h", per_h * 100);
}

static bool run_level_left(struct calc_call *call, struct err *e)
{
    double left_s = 0;
    if (!level_left(in_number(call, "before"), in_number(call, "now"), in_number(call, "added"),
                    in_number(call, "minimum"), in_number(call, "time"), &left_s, e)) {
        return false;
    }
    return isfinite(left_s) ? out_number(call, "left", left_s)
                            : out_none(call, "left", "nothing is lost between the two readings");
}

static bool run_share(struct calc_call *call, struct err *e)
{
    enum glycol glycol;
    double share = 0;
    double freezing_k = 0;
    if (!glycol_of(in_text(call, "glycol"), &glycol)) {
        return domain_refuse("unknown glycol", "ethylene or propylene", e);
    }
    if (!coolant_share(glycol, in_number(call, "gravity"), in_number(call, "temperature"), &share, e)) {
        return false;
    }
    out_number(call, "share", share);
    struct err beyond = err_new(e->a);
    return coolant_freezing(glycol, share, &freezing_k, &beyond)
               ? out_number(call, "freezing", freezing_k)
               : out_none(call, "freezing", "stronger than the table of freezing points");
}

static bool run_case_drain(struct calc_call *call, struct err *e)
{
    struct case_drain found;
    return case_drain(in_number(call, "displacement"), in_number(call, "speed"), in_number(call, "drain"),
                      in_number(call, "most"), &found, e) &&
           out_number(call, "share", found.share) &&
           out_text(call, "state", found.over ? S("over the limit") : S("within the limit"));
}

static bool run_torque_factor(struct calc_call *call, struct err *e)
{
    double k = 0;
    return bolt_torque_factor(in_number(call, "diameter"), in_number(call, "pitch"), in_number(call, "thread"),
                              in_number(call, "head"), &k, e) &&
           out_number(call, "k", k);
}

static bool run_tow(struct calc_call *call, struct err *e)
{
    struct tow tow = {.distance_m = in_number(call, "distance"),
                      .speed_m_s = in_number(call, "speed"),
                      .slope = in_number(call, "slope"),
                      .most_distance_m = in_number(call, "most-distance"),
                      .most_speed_m_s = in_number(call, "most-speed"),
                      .most_slope = in_number(call, "most-slope"),
                      .most_time_s = in_number(call, "most-time")};
    struct tow_check check;
    if (!tow_check(tow, &check, e)) {
        return false;
    }
    out_number(call, "time", check.time_s);
    out_flag(call, "allowed", check.allowed);
    return check.allowed ? out_text(call, "because", S("within all that the book gives"))
                         : out_text(call, "because", str_of(check.because));
}

static bool run_brake(struct calc_call *call, struct err *e)
{
    struct brake_stop stop;
    double least = in_number(call, "least");
    if (!brake_stop(in_number(call, "speed"), in_number(call, "distance"), &stop, e) ||
        !(isnan(least) || domain_within("least deceleration", least, "", 0, 9.80665, e))) {
        return false;
    }
    out_number(call, "deceleration", stop.m_s2);
    out_number(call, "share", stop.share_of_g);
    return isnan(least) ||
           out_text(call, "state", stop.m_s2 < least * (1 - 1e-12) ? S("weaker than wanted") : S("strong enough"));
}

#define LITRES(name, meaning) NUMBER(name, Q_VOLUME, "L", meaning)

const struct calc calc_machine[] = {
    {"oil-consumption",
     "Oil used per hour from two levels and what was topped up",
     "(before + added - now) / hours run",
     "mass balance",
     {LITRES("before", "contents above the lower mark at the first level"),
      LITRES("now", "the same at the second level"), PRESET("added", Q_VOLUME, "L", "topped up between them", "0 L"),
      NUMBER("time", Q_DURATION, "h", "hours run between them")},
     {NUMBER("consumption", Q_FLOW, "L/h", "per hour run"), LITRES("per-100-h", "in 100 h")},
     run_consumption},
    {"level-left",
     "Time left until a falling level reaches its minimum",
     "(now - minimum) / ((before + added - now) / time)",
     "straight line between two readings, common practice, no source",
     {LITRES("before", "contents at the first reading"), LITRES("now", "contents at the second"),
      PRESET("added", Q_VOLUME, "L", "topped up between them", "0 L"), LITRES("minimum", "least that must be left"),
      NUMBER("time", Q_DURATION, "d", "time between them")},
     {NUMBER("left", Q_DURATION, "d", "time from the second reading to the minimum")},
     run_level_left},
    {"coolant-share",
     "Share of glycol by a hydrometer",
     "density table by share and temperature, straight between rows; 1 = water at 20 degC",
     "ASHRAE Handbook 2001 by volume, as fitted in a general thermophysical-property library",
     {TEXT("glycol", "ethylene or propylene"), NUMBER("gravity", Q_NONE, NULL, "specific gravity as read"),
      NUMBER("temperature", Q_TEMPERATURE, "degC", "of the coolant at the reading")},
     {NUMBER("share", Q_RATIO, "%", "glycol by volume"), NUMBER("freezing", Q_TEMPERATURE, "degC", "where it freezes")},
     run_share},
    {"case-drain",
     "Case drain of a pump or motor against its limit",
     "drain / (D n)",
     "fluid-power formula sheets (several agree); the limit is the maker's",
     {NUMBER("displacement", Q_VOLUME_PER_REV, "cm3/rev", "displacement"),
      NUMBER("speed", Q_ROTATION, "rpm", "shaft speed"), NUMBER("drain", Q_FLOW, "L/min", "case drain flow"),
      NUMBER("most", Q_RATIO, "%", "most that the maker allows")},
     {NUMBER("share", Q_RATIO, "%", "of what the geometry moves"), TEXT("state", "against the limit")},
     run_case_drain},
    {"torque-factor",
     "Torque factor from friction",
     "K = dm/(2 d) (tan l + f sec a)/(1 - f tan l sec a) + 0.625 fc",
     "Budynas and Nisbett, Shigley's Mechanical Engineering Design, 9th ed., eq. 8-26",
     {NUMBER("diameter", Q_LENGTH, "mm", "nominal diameter"), NUMBER("pitch", Q_LENGTH, "mm", "pitch"),
      NUMBER("thread", Q_NONE, NULL, "coefficient of friction in the thread"),
      NUMBER("head", Q_NONE, NULL, "coefficient of friction under the head")},
     {NUMBER("k", Q_NONE, NULL, "torque factor K")},
     run_torque_factor},
    {"tow-check",
     "Towing a dead machine against what its book allows",
     "t = s / v; distance, speed, slope and time each at most the book's",
     "kinematics; the limits are the book's",
     {NUMBER("distance", Q_LENGTH, "m", "way to tow"), NUMBER("speed", Q_SPEED, "km/h", "towing speed"),
      PRESET("slope", Q_RATIO, "%", "steepest slope on it", "0 %"),
      PRESET("most-distance", Q_LENGTH, "m", "distance allowed", ""),
      PRESET("most-speed", Q_SPEED, "km/h", "speed allowed", ""),
      PRESET("most-slope", Q_RATIO, "%", "slope allowed", ""),
      PRESET("most-time", Q_DURATION, "min", "time allowed", "")},
     {NUMBER("time", Q_DURATION, "min", "it takes"), FLAG("allowed", "whether the book allows it"),
      TEXT("because", "what goes beyond the book")},
     run_tow},
    {"brake-stop",
     "Deceleration of a braking test",
     "a = v2 / (2 s)",
     "kinematics of a uniform deceleration; the limit is the book's",
     {NUMBER("speed", Q_SPEED, "km/h", "speed when the brake was applied"),
      NUMBER("distance", Q_LENGTH, "m", "way from there to the stop"),
      PRESET("least", Q_NONE, "m/s2", "deceleration wanted at least", "")},
     {NUMBER("deceleration", Q_NONE, "m/s2", "mean deceleration"), NUMBER("share", Q_RATIO, "%", "of free fall"),
      TEXT("state", "against what is wanted")},
     run_brake},
};
const size_t calc_machine_count = sizeof calc_machine / sizeof *calc_machine;
