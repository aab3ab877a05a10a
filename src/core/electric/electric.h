/* Electrics of a machine: battery, starting and charging, wire and fuse. Volts, amperes, metres, kelvin; shares as 0
 * .. 1. */
#ifndef WITMARK_ELECTRIC_ELECTRIC_H
#define WITMARK_ELECTRIC_ELECTRIC_H

#include "base/err.h"

/* Specific gravity brought to a reference temperature: sg + factor (t - reference).
 *   sg 1.0 .. 1.4; factor_per_k 0.0007 (reference 20 degC) or 0.0004 per degF (reference 80 degF): name the one used.
 * Not for a voltage: a cell's voltage hardly moves with temperature. Errors: ERR_DOMAIN.
 * Source: generator and tractor makers' manuals, both pairs. */
bool gravity_corrected(double sg, double temp_k, double reference_k, double factor_per_k, double *corrected,
                       struct err *e);

/* State of charge of a rested 12 V flooded battery from its voltage or from its specific gravity, near 80 degF. */
struct charge {
    bool known;
    double share;    /* 0 .. 1 when known */
    const char *why; /* when not: "surface charge or charging" */
};
/* Rest voltage: table 11.89 V (0 %) .. 12.65 V (100 %), straight between rows; up to 12.80 V still 100 % (other makers'
 * full figure), above that a surface charge; below the table 0 %. volts 0 .. 20; nominal 12 or 24 (halved). Errors:
 * ERR_DOMAIN. Source: battery maker's table (others differ by 0.05 V). */
bool charge_of_voltage(double volts, double nominal_v, struct charge *out, struct err *e);
/* Specific gravity: 1.120 (0 %) .. 1.265 (100 %); to 1.300 full; above that the reading is doubted. Errors: ERR_DOMAIN.
 */
bool charge_of_gravity(double sg, struct charge *out, struct err *e);

/* Load test at half the cold-cranking amperes for 15 s. */
struct load_test {
    double load_a, minimum_v;
    bool pass;
};
/* Table from -18 degC (8.5 V) to 20 degC (9.6 V), straight between rows, 9.6 V above. 12 V battery at 75 % charge or
 * more. Errors: ERR_DOMAIN: colder than the table. Source: vehicle makers, two agree. */
bool battery_load_test(double cca_a, double temp_k, double volts, struct load_test *out, struct err *e);

/* Freezing point of battery acid by specific gravity, 1.000 (water, 0 degC) .. 1.280. Errors: ERR_DOMAIN.
 * Source: US Army TM 5-1185, table III; ordnance course OD1002. */
bool electrolyte_freezing(double sg, double *temp_k, struct err *e);

/* A voltage against a window. */
#define VOLTAGE_STATES(X)       \
    X(VOLTAGE_LOW, "low")       \
    X(VOLTAGE_WITHIN, "within") \
    X(VOLTAGE_HIGH, "high")
enum voltage_state {
#define X(symbol, text) symbol,
    VOLTAGE_STATES(X)
#undef X
};
struct voltage_window {
    double low_v, high_v;
    enum voltage_state state;
};
const char *voltage_state_text(enum voltage_state state);

/* Voltage while cranking by temperature band: 6 to 8 V from -23 to -7 degC, 7 to 9 V to 10 degC, 8 to 10 V to 27 degC;
 * doubled for a 24 V system. Errors: ERR_DOMAIN outside the bands. Source: one engine maker; the floor is data, not a
 * law. */
bool cranking_window(double system_v, double temp_k, double volts, struct voltage_window *out, struct err *e);

/* Charging voltage that falls with temperature: nominal - slope (t - reference), +/- half. Source of the presets: one
 * marine engine manual: 14.4 +/- 0.3 V at 20 degC, -0.1 V per 10 K. */
struct charging {
    double nominal_v, half_v, reference_k, slope_v_per_k;
};
extern const struct charging charging_12v;
bool charging_window(struct charging c, double temp_k, double volts, struct voltage_window *out, struct err *e);
/* The same by a vehicle maker's table: -20 degC 14.0 to 15.1 V, 20: 13.7 to 14.6, 60: 13.2 to 14.3, 80: 12.9 to 14.1.
 */
bool charging_window_table(double temp_k, double volts, struct voltage_window *out, struct err *e);

/* Most voltage lost in a starter circuit: 0.20 V per 100 A (US Army TM 10-3930-671-24). */
bool cranking_drop_limit(double amperes, double volts_per_100a, double *limit_v, struct err *e);

/* Voltage lost in a copper pair of one-way length l: I rho(t) 2 l / A, rho = 1.7241e-8 ohm.m (1 + 0.00393 (t - 20
 * degC)). Source: IACS (IEC 60028). Errors: ERR_DOMAIN; a drop above the system's voltage is refused. */
struct wire_drop {
    double volts, share;
};
bool wire_drop(double amperes, double one_way_m, double area_m2, double system_v, double temp_k, struct wire_drop *out,
               struct err *e);
/* Smallest section of the metric series (IEC 60228, 0.5 .. 120 mm2) that loses at most `share` of the system's voltage.
 * Voltage only: what the insulation bears is the cable maker's figure. Errors: ERR_DOMAIN: none is thick enough. */
bool wire_section(double amperes, double one_way_m, double system_v, double share, double temp_k, double *area_m2,
                  struct err *e);

/* Fuse: at least load x factor (1.25 or 1.35, to be named), at most the wire's rating. Fills allowed with those of the
 * series that fit, in its order, and *n_allowed with their number. Errors: ERR_DOMAIN. Source: published guides. */
bool fuse_choice(double load_a, double factor, double wire_a, const double *series, size_t n, double *minimum_a,
                 double *allowed, size_t *n_allowed, struct err *e);

#endif
