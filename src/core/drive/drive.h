/* Belts, chains and grease. SI: metres, newtons, kelvin, rad/s; grease in kilograms. */
#ifndef WITMARK_DRIVE_DRIVE_H
#define WITMARK_DRIVE_DRIVE_H

#include "base/err.h"

/* Free span of a belt between two pulleys: sqrt(C^2 - ((D - d)/2)^2). Errors: ERR_DOMAIN: pulleys that do not fit. */
bool belt_span(double centre_m, double large_m, double small_m, double *span_m, struct err *e);
/* Deflection at which a V-belt's force is read: 1/64 of the span (1/64 in per inch). Source: V-belt makers and plant
 * handbooks. */
bool belt_deflection(double span_m, double *deflection_m, struct err *e);

/* A deflection force against the maker's figures for a run-in and a new belt (data by section, pulley and speed). */
#define BELT_STATES(X)                     \
    X(BELT_SLACK, "below run-in")          \
    X(BELT_GOOD, "between run-in and new") \
    X(BELT_TIGHT, "above new")
enum belt_state {
#define X(symbol, text) symbol,
    BELT_STATES(X)
#undef X
};
bool belt_force(double force_n, double used_n, double new_n, enum belt_state *state, struct err *e);
const char *belt_state_text(enum belt_state state);
/* Span tension from a deflection force at mid-span: T = F L / (4 q), the belt's own stiffness left out. Source: string
 * geometry, small deflection (q at most a tenth of the span). */
bool belt_tension(double force_n, double span_m, double deflection_m, double *tension_n, struct err *e);

/* Chain elongation over a number of pitches. Errors: ERR_DOMAIN: shorter than new by more than 1 %, or stretched past
 * 20 %. */
bool chain_elongation(double pitches, double pitch_m, double measured_m, double *share, struct err *e);
/* Elongation at which a chain is replaced: the smaller of 3 % and 200 / teeth %; 1.5 % on fixed centres. At the limit
 * counts as due. Source: ANSI B29.1 practice, chain makers. teeth of the largest sprocket, 0 = not known. */
bool chain_limit(double teeth, bool fixed_centres, double *share, struct err *e);

/* Grease to top up a bearing: 0.005 g per mm2 of outside diameter x width. Source: Tribology Handbook A20; bearing
 * makers. */
bool grease_quantity(double outside_m, double width_m, double *kg, struct err *e);
/* Hours between greasings: t = k (14e6 / (n sqrt d) - 4 d), n in 1/min, bore d in mm; k 10 radial ball, 5 cylindrical
 * and needle roller, 1 spherical and taper roller. At or below 70 degC, clean, horizontal. Errors: ERR_DOMAIN; a
 * negative result is outside the formula, not "always". Source: Tribology Handbook A20. */
bool grease_interval(double k, double speed_rad_s, double bore_m, double *hours, struct err *e);
/* The interval at a bearing temperature: halved for every 15 K above 70 degC. Source: bearing maker's table. To 150
 * degC. */
bool grease_interval_at(double hours, double bearing_k, double *corrected, struct err *e);
/* Strokes of a gun, rounded up; grams per stroke weighed for the gun in use. */
bool grease_strokes(double grease_kg, double stroke_kg, double *strokes, struct err *e);

#endif
