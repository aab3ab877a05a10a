/* Calculations about tyres and the air around them. */
#include "calc_internal.h"
#include "tyre/tyre.h"

#include "quantity/domain.h"

/* Ambient pressure of a place: as given, else from its altitude, else the standard atmosphere. */
static bool ambient(const struct calc_call *call, const char *pressure, const char *altitude, double *pa, struct err *e)
{
    *pa = in_number_or(call, pressure, STANDARD_ATMOSPHERE_PA);
    return in_given(call, pressure) || !in_given(call, altitude) ||
           atmosphere_pressure(in_number(call, altitude), pa, e);
}

static bool run_tyre_pressure(struct calc_call *call, struct err *e)
{
    struct tyre_place from = {.temp_k = in_number(call, "from")};
    struct tyre_place to = {.temp_k = in_number(call, "to")};
    double gauge = 0;
    return ambient(call, "ambient1", "altitude1", &from.ambient_pa, e) &&
           ambient(call, "ambient2", "altitude2", &to.ambient_pa, e) &&
           tyre_pressure(in_number(call, "gauge"), from, to, &gauge, e) && out_number(call, "gauge", gauge) &&
           out_number(call, "ambient1", from.ambient_pa) && out_number(call, "ambient2", to.ambient_pa);
}

static bool run_atmosphere(struct calc_call *call, struct err *e)
{
    double pa = 0;
    return atmosphere_pressure(in_number(call, "altitude"), &pa, e) && out_number(call, "pressure", pa);
}

static bool run_tyre_leak(struct calc_call *call, struct err *e)
{
    struct tyre_readings r = {
        .gauge1_pa = in_number(call, "reading1"),
        .temp1_k = in_number(call, "temperature1"),
        .gauge2_pa = in_number(call, "reading2"),
        .temp2_k = in_number(call, "temperature2"),
        .days = in_number(call, "time") / 86400,
        .reference_k = in_number(call, "reference"),
        .minimum_pa = in_number(call, "minimum"),
        .ambient_pa = in_number(call, "ambient"),
    };
    struct tyre_leak leak;
    if (!tyre_leak(r, &leak, e)) {
        return false;
    }
    out_number(call, "corrected1", leak.corrected1_pa);
    out_number(call, "corrected2", leak.corrected2_pa);
    out_number(call, "loss", leak.loss_pa_per_day);
    const char *why = "nothing is lost between the two readings";
    if (leak.losing) {
        out_number(call, "left", leak.days_left * 86400);
    } else {
        out_none(call, "left", why);
    }
    return leak.losing_uncorrected ? out_number(call, "left-uncorrected", leak.days_left_uncorrected * 86400)
                                   : out_none(call, "left-uncorrected", why);
}

#define KELVIN(name, meaning) NUMBER(name, Q_TEMPERATURE, "degC", meaning)
#define BAR(name, meaning) NUMBER(name, Q_PRESSURE, "bar", meaning)

const struct calc calc_vehicle[] = {
    {
        .name = "tyre-pressure",
        .title = "Tyre pressure at another temperature or altitude",
        .formula = "g2 = (g1 + p1) T2 / T1 - p2, absolute pressure and temperature",
        .source = "ideal gas at constant volume; US Standard Atmosphere 1976 for the altitude",
        .inputs = {BAR("gauge", "gauge reading"), KELVIN("from", "temperature of the tyre at the reading"),
                   KELVIN("to", "temperature to refer to"),
                   PRESET("ambient1", Q_PRESSURE, "kPa", "absolute air pressure at the reading", ""),
                   PRESET("ambient2", Q_PRESSURE, "kPa", "absolute air pressure to refer to", ""),
                   PRESET("altitude1", Q_LENGTH, "m", "altitude of the reading, instead of the air pressure", ""),
                   PRESET("altitude2", Q_LENGTH, "m", "altitude to refer to, instead of the air pressure", "")},
        .outputs = {BAR("gauge", "what the gauge reads there"),
                    NUMBER("ambient1", Q_PRESSURE, "kPa", "air pressure used"),
                    NUMBER("ambient2", Q_PRESSURE, "kPa", "air pressure used")},
        .run = run_tyre_pressure,
    },
    {
        .name = "atmosphere",
        .title = "Air pressure at an altitude",
        .formula = "p = 101325 Pa (1 - 0.0065 h / 288.15)^5.255876",
        .source = "US Standard Atmosphere 1976 / ICAO Doc 7488, geopotential altitude to 11 km",
        .inputs = {NUMBER("altitude", Q_LENGTH, "m", "geopotential altitude")},
        .outputs = {NUMBER("pressure", Q_PRESSURE, "kPa", "absolute pressure")},
        .run = run_atmosphere,
    },
    {
        .name = "tyre-leak",
        .title = "Leak rate of a tyre and days left to its minimum",
        .formula = "both readings at one temperature by the gas law, then a straight line",
        .source = "ideal gas law; the straight line is common practice, no source",
        .inputs = {BAR("reading1", "first gauge reading"), KELVIN("temperature1", "tyre temperature then"),
                   BAR("reading2", "second gauge reading"), KELVIN("temperature2", "tyre temperature then"),
                   NUMBER("time", Q_DURATION, "d", "time between them"),
                   PRESET("reference", Q_TEMPERATURE, "degC",
                          "temperature both are referred to; the minimum is meant there", "20 degC"),
                   BAR("minimum", "lowest allowed gauge pressure"),
                   PRESET("ambient", Q_PRESSURE, "kPa", "absolute air pressure", "101.325 kPa")},
        .outputs = {BAR("corrected1", "first reading at the reference temperature"),
                    BAR("corrected2", "second reading at the reference temperature"), BAR("loss", "loss per day"),
                    NUMBER("left", Q_DURATION, "d", "time from the second reading to the minimum"),
                    NUMBER("left-uncorrected", Q_DURATION, "d", "the same by the raw readings, for comparison")},
        .run = run_tyre_leak,
    },
};
const size_t calc_vehicle_count = sizeof calc_vehicle / sizeof *calc_vehicle;
