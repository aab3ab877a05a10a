/* Bolts: thread geometry, proof load, torque and preload, wrench extensions, tightening by angle. SI throughout. */
#ifndef WITMARK_FASTENER_FASTENER_H
#define WITMARK_FASTENER_FASTENER_H

#include "base/err.h"

/* Whose formula gives the tensile stress area. */
enum thread_form {
    THREAD_ISO,     /* metric, ISO 68-1: As = pi/4 (d - 0.9382 P)^2, ISO 724 / ISO 898-1 */
    THREAD_UNIFIED, /* inch, ASME B1.1: At = pi/4 (D - 0.9743 P)^2 with P = 1/n */
};

/* Tensile stress area of a thread.
 *   diameter_m  nominal, 1 .. 160 mm;  pitch_m  more than 0, at most a third of the diameter
 * Errors: ERR_DOMAIN. Source: see enum thread_form. Checked: ISO 898-1 and ASME B1.1 tables. */
bool thread_stress_area(enum thread_form form, double diameter_m, double pitch_m, double *area_m2, struct err *e);

/* Pitch of the ISO coarse series (ISO 261) for a nominal diameter such as 12 mm; 0 when it is none of the series. */
double thread_coarse_pitch(double diameter_m);

/* Stress under proof load of a property class of ISO 898-1 ("8.8") or a grade of SAE J429 ("grade 5").
 * Class 8.8 has 580 MPa up to and including 16 mm and 600 MPa above; grade 2 changes above 3/4 in, grade 5 above 1 in.
 * Errors: ERR_DOMAIN: unknown class (the known ones are named), diameter outside the standard's range.
 * Source: ISO 898-1 proof-load table over stress area; SAE J429 as quoted in trade tables. */
bool bolt_proof_stress(struct str property_class, double diameter_m, double *pa, struct err *e);

/* Torque factor K by surface, to be shown with every torque. Source: Budynas and Nisbett, Shigley's Mechanical
 * Engineering Design, 9th ed., Table 8-15. */
struct torque_factor {
    const char *surface;
    double k;
};
const struct torque_factor *torque_factors(size_t *n);

/* Torque factor from the coefficients of friction in the thread and under the head:
 *   K = dm / (2 d) (tan l + f sec a) / (1 - f tan l sec a) + 0.625 fc,  tan l = P / (pi dm), a = 30 degrees
 * with dm the pitch diameter d - 0.6495 P and a collar of 1.25 d. Coefficients 0.02 .. 0.5. About 0.20 for 0.15 and
 * 0.15. Errors: ERR_DOMAIN. Source: Shigley (Budynas and Nisbett, 9th ed.), eq. 8-26. */
bool bolt_torque_factor(double diameter_m, double pitch_m, double thread_friction, double head_friction, double *k,
                        struct err *e);

/* T = K d F. k 0.02 .. 1; diameter > 0; preload >= 0. Errors: ERR_DOMAIN. Source: Shigley eq. 8-27 (short form). */
bool bolt_torque(double k, double diameter_m, double preload_n, double *torque_nm, struct err *e);
/* F = T / (K d). Errors: ERR_DOMAIN. */
bool bolt_preload(double k, double diameter_m, double torque_nm, double *preload_n, struct err *e);

/* A joint tightened to a share of the proof load: 0.75 for joints taken apart again (Shigley eq. 8-31). share 0 .. 1.
 */
bool bolt_clamp(double area_m2, double proof_pa, double share, double *preload_n, struct err *e);

/* A torque wrench with an extension (crowfoot). 0 degrees is straight out along the wrench, 90 gives no correction, 180
 * points back and shortens. Lengths in one unit: wrench from the middle of the grip to the square drive, adapter from
 * there to the nut. */
struct crowfoot {
    double wrench_m, adapter_m, angle_rad;
};
/* What to set so that the nut gets `torque`: setting = torque L / (L + E cos a). Errors: ERR_DOMAIN when a length is
 * not positive or L + E cos a is not. Source: lever arms; wrench makers' sheets. */
bool crowfoot_setting(struct crowfoot c, double torque_nm, double *setting_nm, struct err *e);
/* What the nut gets at a setting. */
bool crowfoot_applied(struct crowfoot c, double setting_nm, double *torque_nm, struct err *e);

/* Tightening by angle past the snug point, elastic only. */
struct bolt_joint {
    double pitch_m;
    double bolt_n_per_m;    /* stiffness of the bolt, kb */
    double members_n_per_m; /* stiffness of what it clamps, km */
    double proof_n;         /* proof load, where known; 0 = not known */
};
/* Gain of preload: dF = P (a / 2 pi) kb km / (kb + km). Errors: ERR_DOMAIN; also when the gain passes a known proof
 * load, where the elastic formula ends. Source: Shigley, section 8-8 (turn of the nut). */
bool bolt_angle_gain(struct bolt_joint j, double angle_rad, double *preload_n, struct err *e);
/* The angle for a gain. Errors: as above. */
bool bolt_angle_for(struct bolt_joint j, double preload_n, double *angle_rad, struct err *e);

#endif
