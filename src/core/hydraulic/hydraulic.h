/* Hydraulics: pump and motor, cylinder, power, line velocity, counterbalance and relief. SI: m3/s, m3 per revolution,
 * rad/s, Pa. Source of the formulas: fluid-power formula sheets (several agree); they follow from Q = D n, F = p A, P =
 * p Q. */
#ifndef WITMARK_HYDRAULIC_HYDRAULIC_H
#define WITMARK_HYDRAULIC_HYDRAULIC_H

#include "base/err.h"

/* Flow a pump's geometry gives: Q = D n. displacement > 0 (m3 per revolution), speed 0 .. 2000 rad/s. Errors:
 * ERR_DOMAIN. */
bool pump_flow(double displacement_m3, double speed_rad_s, double *flow_m3s, struct err *e);

/* What a flow meter says about a pump. Case-drain flow is part of the leak, not all of it. */
struct pump_test {
    double theoretical_m3s;
    double efficiency; /* volumetric */
    double leak_m3s;
};
/* Errors: ERR_DOMAIN: more measured than the geometry gives (a wrong speed, displacement or meter), nothing to compare
 * with. */
bool pump_test(double displacement_m3, double speed_rad_s, double measured_m3s, struct pump_test *out, struct err *e);

/* The flow that a pump or motor sends through its case drain, as a share of what its geometry moves, against the most
 * that its maker allows (the user's figure). On the limit is within. Errors: ERR_DOMAIN: more than the geometry moves.
 */
struct case_drain {
    double share;
    bool over;
};
bool case_drain(double displacement_m3, double speed_rad_s, double drain_m3s, double most_share, struct case_drain *out,
                struct err *e);

/* A motor: n = Q nv / D, T = D p nm / 2 pi. Efficiencies 0 .. 1, not 0. */
struct motor {
    double speed_rad_s, torque_nm;
};
bool motor_output(double displacement_m3, double flow_m3s, double pressure_pa, double volumetric, double mechanical,
                  struct motor *out, struct err *e);

/* A cylinder without friction. rod 0 = none (both sides the full bore). */
struct cylinder {
    double push_n, pull_n;
    double extend_m_s, retract_m_s;
};
bool cylinder_output(double bore_m, double rod_m, double pressure_pa, double flow_m3s, struct cylinder *out,
                     struct err *e);

/* Pressure a hanging mass makes on a full bore: m g / A, g = 9.80665 m/s2 (ISO 80000-3, exact). */
bool load_pressure(double mass_kg, double bore_m, double *pa, struct err *e);

/* Hydraulic power p Q; over a relief valve all of it is heat. At a shaft: over the overall efficiency. */
bool hydraulic_power(double pressure_pa, double flow_m3s, double *w, struct err *e);

/* Velocity in a line, and where it stands against the trade's guide. */
#define LINE_STATES(X)             \
    X(LINE_WITHIN, "within guide") \
    X(LINE_ABOVE, "above guide")
enum line_state {
#define X(symbol, text) symbol,
    LINE_STATES(X)
#undef X
};
const char *line_state_text(enum line_state state);
bool line_velocity(double flow_m3s, double inside_m, double *m_s, struct err *e);
/* A guide: velocities below its upper figure count as within. Source: fluid-power trade guideline (one seller's):
 * suction 2 to 4 ft/s; pressure to 500 psi 10 to 15; 500 to 3000 psi 15 to 20. */
struct line_guide {
    const char *line;
    double low_m_s, high_m_s;
};
const struct line_guide *line_guides(size_t *n);
/* The guide a line's name means: "suction"; "pressure, 500 to 3000 psi", "pressure to 500 psi". Errors: ERR_DOMAIN:
 * unknown. */
bool line_guide_of(struct str line, struct line_guide *out, struct err *e);
enum line_state line_judge(struct line_guide guide, double m_s);

/* Setting of a counterbalance valve: load pressure times a factor (1.3 by valve sellers), and the pilot pressure that
 * opens it: (setting - load) / ratio, without back pressure at its outlet. */
struct counterbalance {
    double setting_pa, pilot_pa;
};
bool counterbalance_setting(double load_pa, double factor, double pilot_ratio, struct counterbalance *out,
                            struct err *e);

/* Turns of an adjusting screw for a change, by the slope of the valve's data sheet: (want - now) / slope, negative
 * towards less pressure. Which way to turn for that stands in the data sheet too and is never assumed here. Linear
 * spring: common practice, no source. */
bool screw_turns(double now_pa, double want_pa, double pa_per_turn, double *turns, struct err *e);

/* A relief valve against a counterbalance valve or the load: the share by which the first stands above the second,
 * which must not be negative or the relief opens first. */
bool relief_margin(double relief_pa, double counterbalance_pa, double *share, struct err *e);

#endif
