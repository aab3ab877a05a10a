/* Tyre pressure: what a gauge would read at another temperature or altitude, and how fast a tyre loses air.
 *
 * A tyre is an ideal gas at constant volume: p_abs / T stays. Gauges read against the surrounding air, so the absolute
 * pressure is gauge + ambient, in pascal and kelvin. The tyre's growth with pressure (a few per cent) is left out.
 */
#ifndef WITMARK_TYRE_TYRE_H
#define WITMARK_TYRE_TYRE_H

#include "base/err.h"

#define STANDARD_ATMOSPHERE_PA 101325.0 /* exact, ISO 2533 */

/* Pressure of the standard atmosphere at a geopotential altitude.
 *   p = 101325 Pa (1 - 0.0065 h / 288.15)^5.255876
 *   altitude_m  -5000 .. 11000 (the troposphere)
 * Errors: ERR_DOMAIN. Source: US Standard Atmosphere 1976 / ICAO Doc 7488, exponent g0 M / (R L).
 * Checked: published 5000 ft and 10 000 ft values; numerical integration in the check cases. */
bool atmosphere_pressure(double altitude_m, double *pa, struct err *e);

/* Where a tyre was read, or where it is to be compared. */
struct tyre_place {
    double temp_k;     /* of the air in the tyre, 200 .. 400 */
    double ambient_pa; /* absolute pressure around it, 20 000 .. 120 000 */
};

/* What the gauge reads at `to` when it reads gauge_pa at `from`, nothing lost.
 *   g2 = (g1 + p1) T2 / T1 - p2
 *   gauge_pa  absolute pressure g1 + p1 more than 0; at most 2 MPa
 * Errors: ERR_DOMAIN. Source: ideal gas law. */
bool tyre_pressure(double gauge_pa, struct tyre_place from, struct tyre_place to, double *out_pa, struct err *e);

/* Two readings of one tyre, nothing added between them. */
struct tyre_readings {
    double gauge1_pa, temp1_k;
    double gauge2_pa, temp2_k;
    double days;        /* between them, > 0 */
    double reference_k; /* both are brought to this temperature; the minimum is meant there too */
    double minimum_pa;  /* lowest allowed gauge pressure */
    double ambient_pa;
};

struct tyre_leak {
    double corrected1_pa, corrected2_pa; /* at the reference temperature */
    double loss_pa_per_day;              /* of the corrected readings; negative = gained */
    bool losing;                         /* the corrected loss is more than 0: days_left has a meaning */
    double days_left;                    /* from the second reading to the minimum; 0 when below it already */
    bool losing_uncorrected;
    double days_left_uncorrected; /* what the raw readings would say, for comparison */
};

/* Rate of loss by a straight line between two corrected readings. Errors: ERR_DOMAIN. Source: ideal gas law; the
 * straight line is common practice, no source. */
bool tyre_leak(struct tyre_readings r, struct tyre_leak *out, struct err *e);

#endif
