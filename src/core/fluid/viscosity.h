/* Oil viscosity: with temperature (ASTM D341), index (D2270), grades (ISO 3448, SAE J300), blends (Refutas, D7152),
 * Saybolt seconds (D2161), and the window a pump allows. Kinematic viscosity in m2/s, temperature in kelvin. */
#ifndef WITMARK_FLUID_VISCOSITY_H
#define WITMARK_FLUID_VISCOSITY_H

#include "base/err.h"

#define CELSIUS_ZERO_K 273.15 /* older sheets use 273 */

/* An oil's line through two measured points:
 *   log10 log10 Z = A - B log10 T,  Z = v + 0.7 above 2 mm2/s, the standard's full form below (v in mm2/s)
 * T is the temperature in degC plus zero_k: the offset belongs to the line, since A and B depend on it. */
struct viscosity_line {
    double a, b;
    double zero_k; /* 273.15, or 273 to follow an older sheet */
};

struct viscosity_point {
    double temp_k; /* true kelvin, 200 .. 500 */
    double v_m2s;  /* 0.21 mm2/s .. 2e7 mm2/s */
};

/* The line through two points at different temperatures, thinner where hotter. Errors: ERR_DOMAIN.
 * Source: ASTM D341-20 eq. 1 and annex. Checked: published spreadsheet and worked examples. */
bool viscosity_fit(struct viscosity_point p, struct viscosity_point q, double zero_k, struct viscosity_line *line,
                   struct err *e);
/* Viscosity on the line. Errors: ERR_DOMAIN; also where the line leaves 0.21 .. 2e7 mm2/s, the range of the standard.
 */
bool viscosity_at(struct viscosity_line line, double temp_k, double *v_m2s, struct err *e);
/* Temperature at which the line has this viscosity. Errors: ERR_DOMAIN. */
bool viscosity_temp(struct viscosity_line line, double v_m2s, double *temp_k, struct err *e);

struct viscosity_index {
    double unrounded;
    double rounded; /* to a whole number, as the standard reports it */
};
/* Viscosity index from the viscosities at 40 and 100 degC. Undefined below 2.0 mm2/s at 100 degC.
 * Errors: ERR_DOMAIN. Source: ASTM D2270-10, Table 1, procedures A and B. Checked: the standard's examples. */
bool viscosity_index(double v40_m2s, double v100_m2s, struct viscosity_index *out, struct err *e);

/* ISO 3448: mid-point +/- 10 %, inclusive, at 40 degC; the grades leave gaps. */
struct iso_vg {
    int grade;                         /* 2 .. 3200; 0 = between two grades */
    int below, above;                  /* the neighbours when between; 0 at the ends */
    double low_m2s, mid_m2s, high_m2s; /* of the grade */
};
/* The grade of a viscosity at 40 degC. Errors: ERR_DOMAIN when it is not positive. Source: ISO 3448:1992 / ASTM D2422.
 */
bool iso_vg_of(double v40_m2s, struct iso_vg *out, struct err *e);
/* Limits of a grade. Errors: ERR_DOMAIN when there is no such grade. */
bool iso_vg_limits(int grade, struct iso_vg *out, struct err *e);

/* Engine-oil grades of SAE J300 whose range at 100 degC holds v: lower bound inclusive, upper exclusive. Below grade 30
 * the ranges overlap and the high-shear viscosity decides, so there can be three. */
struct j300 {
    const char *grades[4];
    size_t n;
};
/* Errors: ERR_DOMAIN when v is not positive. n = 0 when it is in no range. Source: SAE J300, January 2015. */
bool j300_grades(double v100_m2s, struct j300 *out, struct err *e);
/* Whether v lies in one grade's range. Errors: ERR_DOMAIN: no such grade. */
bool j300_in_grade(struct str grade, double v100_m2s, bool *in, struct err *e);

/* One part of a blend: its share (all shares add up to 1) and its viscosity, all at one temperature. */
struct blend_part {
    double share;
    double v_m2s;
};
/* Refutas viscosity blending number: 14.534 ln ln(v + 0.8) + 10.975, v in mm2/s, above 0.2 mm2/s.
 * Source: Maples, Petroleum Refinery Process Economics, 2nd ed.; shares by mass there, by volume in other texts. */
bool blend_number(double v_m2s, double *number, struct err *e);
/* Viscosity of a blend by that number. Errors: ERR_DOMAIN: a share below 0, shares that do not add up to 1 within 1e-6.
 */
bool blend_refutas(const struct blend_part *parts, size_t n, double *v_m2s, struct err *e);
/* By the ASTM method of D7152 at one temperature: log10 log10 (v + 0.7) weighted by volume. Errors: as above. */
bool blend_astm(const struct blend_part *parts, size_t n, double *v_m2s, struct err *e);
/* Share of the thinner part that brings `thick` down to `mixed`, by the ASTM method; how much fuel is in an oil.
 * Errors: ERR_DOMAIN when mixed is not between the two. Viscosity alone fixes dilution only to about 1 %. */
bool blend_share(double thick_m2s, double thin_m2s, double mixed_m2s, double *share, struct err *e);

/* Saybolt universal seconds at 100 degF.
 *   SUS = 4.6324 v + (1 + 0.03264 v) / ((3930.2 + 262.7 v + 23.97 v^2 + 1.646 v^3) 1e-5), v in mm2/s, from 1.8 mm2/s
 * Source: ASTM D2161, recalled from memory; agrees with the trade's 150 SUS = 32 mm2/s. */
bool saybolt_seconds(double v_m2s, double *seconds, struct err *e);
/* The viscosity of that many seconds, by inverting the above. */
bool saybolt_viscosity(double seconds, double *v_m2s, struct err *e);

/* What a pump's maker allows; data of the maker, never built in. */
struct viscosity_window {
    double floor_m2s, optimum_low_m2s, optimum_high_m2s, start_max_m2s;
};
/* Where a viscosity stands in the window. The words are for people and for the check cases. */
#define WINDOW_STATES(X)                     \
    X(WINDOW_TOO_THIN, "below floor")        \
    X(WINDOW_THIN, "usable, below optimum")  \
    X(WINDOW_OPTIMUM, "optimum")             \
    X(WINDOW_THICK, "usable, above optimum") \
    X(WINDOW_TOO_THICK, "above start limit")
enum window_state {
#define X(symbol, text) symbol,
    WINDOW_STATES(X)
#undef X
};
/* Errors: ERR_DOMAIN when the window's limits do not rise. */
bool viscosity_in_window(struct viscosity_window w, double v_m2s, enum window_state *state, struct err *e);
const char *window_state_text(enum window_state state);

#endif
