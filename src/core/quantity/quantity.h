/* Quantities: numbers with units. The core computes in coherent SI; people write and read the units of the trade.
 *
 * Every unit belongs to one kind of quantity, so that a torque in N.m is never taken for an energy and a pressure
 * difference never for a temperature. Factors are exact where their definition is (NIST SP 811, appendix B, names the
 * source of each in the table).
 */
#ifndef WITMARK_QUANTITY_H
#define WITMARK_QUANTITY_H

#include "base/date.h"
#include "base/err.h"
#include "base/text.h"

#include <stdbool.h>

/* Kinds of quantity: symbol, word for people and books, the SI unit in which the core computes. */
#define QUANTITY_KINDS(X)                                                     \
    X(Q_NONE, "number", "")         /* a bare number, a count */              \
    X(Q_RATIO, "ratio", "1")        /* %, ppm */                              \
    X(Q_PRESSURE, "pressure", "Pa") /* gauge unless the name says absolute */ \
    X(Q_TEMPERATURE, "temperature", "K")                                      \
    X(Q_TEMPERATURE_DIFFERENCE, "temperature difference", "K")                \
    X(Q_LENGTH, "length", "m")                                                \
    X(Q_AREA, "area", "m2")                                                   \
    X(Q_VOLUME, "volume", "m3")                                               \
    X(Q_MASS, "mass", "kg")                                                   \
    X(Q_DENSITY, "density", "kg/m3")                                          \
    X(Q_DURATION, "duration", "s")                                            \
    X(Q_ANGLE, "angle", "rad") /* also turns of a screw */                    \
    X(Q_FORCE, "force", "N")                                                  \
    X(Q_TORQUE, "torque", "N.m")                                              \
    X(Q_ENERGY, "energy", "J")                                                \
    X(Q_POWER, "power", "W")                                                  \
    X(Q_SPEED, "speed", "m/s")                                                \
    X(Q_ROTATION, "rotational speed", "rad/s")                                \
    X(Q_FREQUENCY, "frequency", "Hz")                                         \
    X(Q_FLOW, "flow", "m3/s")                                                 \
    X(Q_VOLUME_PER_REV, "displacement", "m3") /* per revolution */            \
    X(Q_VOLTAGE, "voltage", "V")                                              \
    X(Q_CURRENT, "current", "A")                                              \
    X(Q_RESISTANCE, "resistance", "ohm")                                      \
    X(Q_CHARGE, "charge", "C")                                                \
    X(Q_KINEMATIC_VISCOSITY, "kinematic viscosity", "m2/s")                   \
    X(Q_DYNAMIC_VISCOSITY, "dynamic viscosity", "Pa.s")                       \
    X(Q_STIFFNESS, "stiffness", "N/m") /* of a bolt, a spring */

enum quantity_kind {
#define X(symbol, word, si) symbol,
    QUANTITY_KINDS(X)
#undef X
};

/* One unit. value_si = value * factor + offset (offset only for temperatures on a scale). */
struct unit {
    const char *symbol; /* as shown: "bar", "degC" is shown as "°C" through `shown` */
    const char *shown;  /* typographic form, e.g. "°C", "N·m", "mm²/s" */
    const char *name;   /* in words, e.g. "pound-force per square inch" */
    enum quantity_kind kind;
    double factor;
    double offset;
    const char *source; /* where the factor is defined, e.g. "NIST SP 811 B.8, exact" */
};

/* A value with the unit it was written in. */
struct quantity {
    double value;            /* in `unit` */
    const struct unit *unit; /* null for a bare number */
};

/* An interval of values of one kind; an open end is -INFINITY or INFINITY. Limits are inclusive. */
struct quantity_range {
    double low, high; /* in `unit` */
    const struct unit *unit;
};

/* "250 h or 12 months": due at the earliest of those given. 0 = not given. */
struct interval {
    double hours; /* machine hours */
    int months;   /* calendar months, kept apart from days: a month is no fixed number of days */
    int days;
};

/* The unit of that symbol (also its shown form and the usual spellings: "°C", "N.m", "Nm", "l", "turns"); null when
 * there is none. Where a symbol is ambiguous (gallon) both must be named in full: "US gal", "imp gal". */
const struct unit *unit_find(struct str symbol);
/* The unit named most like it, for "did you mean"; may be null. */
const struct unit *unit_nearest(struct str symbol);
/* All units, n of them, ordered by kind. */
const struct unit *unit_all(size_t *n);
const char *quantity_kind_text(enum quantity_kind kind);

double unit_to_si(const struct unit *u, double value);
double unit_from_si(const struct unit *u, double value_si);
/* Converts between units of the same kind. Errors: ERR_DOMAIN when the kinds differ, the value is not finite, or an
 * absolute temperature is below 0 K. */
bool unit_convert(double value, const struct unit *from, const struct unit *to, double *out, struct err *e);

/* "22 psi", "1 1/2 turns", "3/4 turn", "50 %", "-24 degC", "12". A unit must follow unless the kind is a bare number.
 * Errors: ERR_INPUT, saying what was expected and the nearest unit; where.column is the place in s, from 1. */
bool quantity_parse(struct str s, struct quantity *q, struct err *e);
/* "1.4 bar .. 1.6 bar", "1.4 .. 1.6 bar", ".. 2.0 bar", "12.4 V ..". Errors: as above; limits the wrong way round. */
bool range_parse(struct str s, struct quantity_range *r, struct err *e);
/* "250 h", "12 months", "250 h or 12 months", "10 days", "2 years", "1 week". Errors: as above; nothing or less than 0.
 */
bool interval_parse(struct str s, struct interval *i, struct err *e);

/* How a depot wants quantities shown. */
enum unit_system { UNITS_AS_WRITTEN, UNITS_SI, UNITS_US };
/* "as-written" (also nothing), "si", "us"; false for any other word. */
bool unit_system_parse(struct str s, enum unit_system *system);

/* The unit in which a reader of that system wants this kind (bar or psi, °C or °F ...); `written` when as written. */
const struct unit *unit_preferred(enum unit_system system, const struct unit *written);

/* Value, blank, shown unit; with as many decimals as the unit deserves (a bar has 2, a psi 1), trailing zeros dropped.
 */
void text_quantity(struct text *t, struct quantity q);
/* The same with more decimals where it would have fewer than so many significant digits: a computed value, no gauge's.
 */
void text_quantity_digits(struct text *t, struct quantity q, int digits);
void text_quantity_in(struct text *t, struct quantity q, enum unit_system system);
void text_range(struct text *t, struct quantity_range r, enum unit_system system);
void text_interval(struct text *t, struct interval i); /* "250 h or 12 months, whichever comes first" */

#endif
