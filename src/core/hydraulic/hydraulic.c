/* Q = D n, F = p A, P = p Q, and the refusals around them. */
#include "hydraulic/hydraulic.h"

#include "quantity/domain.h"

#define PI 3.14159265358979323846
#define G_M_S2 9.80665
#define FOOT 0.3048
#define PRESSURE_MOST 5e8 /* far above any machine's: a slip of the unit */
#define FLOW_MOST 10.0

static bool check_displacement(double m3, struct err *e)
{
    return domain_above("displacement", m3, "cm3/rev", 0, e) && domain_within("displacement", m3, "cm3/rev", 0, 0.1, e);
}

static bool check_pressure(double pa, struct err *e)
{
    return domain_within("pressure", pa, "bar", 0, PRESSURE_MOST, e);
}

static bool check_flow(double m3s, struct err *e)
{
    return domain_within("flow", m3s, "L/min", 0, FLOW_MOST, e);
}

bool pump_flow(double displacement_m3, double speed_rad_s, double *flow_m3s, struct err *e)
{
    if (!check_displacement(displacement_m3, e) || !domain_within("speed", speed_rad_s, "rpm", 0, 2000, e)) {
        return false;
    }
    *flow_m3s = displacement_m3 * speed_rad_s / (2 * PI);
    return true;
}

bool pump_test(double displacement_m3, double speed_rad_s, double measured_m3s, struct pump_test *out, struct err *e)
{
    double flow = 0;
    if (!pump_flow(displacement_m3, speed_rad_s, &flow, e) || !domain_above("speed", speed_rad_s, "rpm", 0, e) ||
        !check_flow(measured_m3s, e)) {
        return false;
    }
    if (measured_m3s > flow * (1 + 1e-9)) {
        return domain_within("measured flow (more than the geometry gives: wrong speed, displacement or meter)",
                             measured_m3s, "L/min", 0, flow, e);
    }
    *out = (struct pump_test){flow, measured_m3s / flow, flow - measured_m3s};
    return true;
}

bool case_drain(double displacement_m3, double speed_rad_s, double drain_m3s, double most_share, struct case_drain *out,
                struct err *e)
{
    double flow = 0;
    if (!pump_flow(displacement_m3, speed_rad_s, &flow, e) || !domain_above("speed", speed_rad_s, "rpm", 0, e) ||
        !domain_within("case drain flow (no more than the geometry moves)", drain_m3s, "L/min", 0, flow, e) ||
        !domain_within("share allowed", most_share, "%", 0, 1, e)) {
        return false;
    }
    *out = (struct case_drain){drain_m3s / flow, drain_m3s > most_share * flow * (1 + 1e-12)};
    return true;
}

static bool check_efficiency(const char *name, double v, struct err *e)
{
    return domain_above(name, v, "", 0, e) && domain_within(name, v, "", 0, 1, e);
}

bool motor_output(double displacement_m3, double flow_m3s, double pressure_pa, double volumetric, double mechanical,
                  struct motor *out, struct err *e)
{
    if (!check_displacement(displacement_m3, e) || !check_flow(flow_m3s, e) || !check_pressure(pressure_pa, e) ||
        !check_efficiency("volumetric efficiency", volumetric, e) ||
        !check_efficiency("mechanical efficiency", mechanical, e)) {
        return false;
    }
    *out = (struct motor){flow_m3s * volumetric / displacement_m3 * 2 * PI,
                          displacement_m3 * pressure_pa * mechanical / (2 * PI)};
    return true;
}

/* Area of a circle, refusing what is no diameter. */
static bool circle(const char *name, double diameter_m, double *area_m2, struct err *e)
{
    if (!domain_above(name, diameter_m, "mm", 0, e) || !domain_within(name, diameter_m, "mm", 0, 2, e)) {
        return false;
    }
    *area_m2 = PI / 4 * diameter_m * diameter_m;
    return true;
}

bool cylinder_output(double bore_m, double rod_m, double pressure_pa, double flow_m3s, struct cylinder *out,
                     struct err *e)
{
    double full = 0;
    if (!circle("bore", bore_m, &full, e) ||
        !domain_within("rod (thinner than the bore)", rod_m, "mm", 0, bore_m * (1 - 1e-9), e) ||
        !check_pressure(pressure_pa, e) || !check_flow(flow_m3s, e)) {
        return false;
    }
    double ring = full - PI / 4 * rod_m * rod_m;
    *out = (struct cylinder){pressure_pa * full, pressure_pa * ring, flow_m3s / full, flow_m3s / ring};
    return true;
}

bool load_pressure(double mass_kg, double bore_m, double *pa, struct err *e)
{
    double full = 0;
    if (!domain_within("mass", mass_kg, "kg", 0, 1e6, e) || !circle("bore", bore_m, &full, e)) {
        return false;
    }
    *pa = mass_kg * G_M_S2 / full;
    return true;
}

bool hydraulic_power(double pressure_pa, double flow_m3s, double *w, struct err *e)
{
    if (!check_pressure(pressure_pa, e) || !check_flow(flow_m3s, e)) {
        return false;
    }
    *w = pressure_pa * flow_m3s;
    return true;
}

const char *line_state_text(enum line_state state)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = text,
        LINE_STATES(X)
#undef X
    };
    return words[state];
}

bool line_velocity(double flow_m3s, double inside_m, double *m_s, struct err *e)
{
    double area = 0;
    if (!check_flow(flow_m3s, e) || !circle("inside diameter", inside_m, &area, e)) {
        return false;
    }
    *m_s = flow_m3s / area;
    return true;
}

static const struct line_guide guides[] = {
    {"suction", 2 * FOOT, 4 * FOOT},
    {"pressure to 500 psi", 10 * FOOT, 15 * FOOT},
    {"pressure, 500 to 3000 psi", 15 * FOOT, 20 * FOOT},
};

const struct line_guide *line_guides(size_t *n)
{
    *n = sizeof guides / sizeof *guides;
    return guides;
}

/* Words decide, not punctuation: "pressure line 500-3000 psi" is the third row. */
bool line_guide_of(struct str line, struct line_guide *out, struct err *e)
{
    bool pressure = str_find(line, S("pressure")) >= 0;
    int row = str_find(line, S("suction")) >= 0            ? 0
              : pressure && str_find(line, S("3000")) >= 0 ? 2
              : pressure && str_find(line, S("500")) >= 0  ? 1
                                                           : -1;
    if (row < 0) {
        return err_set(e, ERR_DOMAIN, "suction; pressure to 500 psi; pressure, 500 to 3000 psi",
                       "no velocity guide for a line \"", str_z(e->a, str_cut(line, 0, 60)), "\"", (char *)0);
    }
    *out = guides[row];
    return true;
}

enum line_state line_judge(struct line_guide guide, double m_s)
{
    /* Slower than the lower figure costs nothing but hose: the guide is an upper limit. */
    return m_s <= guide.high_m_s * (1 + 1e-12) ? LINE_WITHIN : LINE_ABOVE;
}

bool counterbalance_setting(double load_pa, double factor, double pilot_ratio, struct counterbalance *out,
                            struct err *e)
{
    if (!check_pressure(load_pa, e) || !domain_within("factor over the load pressure", factor, "", 1, 3, e) ||
        !domain_above("pilot ratio", pilot_ratio, "", 0, e)) {
        return false;
    }
    double setting = load_pa * factor;
    *out = (struct counterbalance){setting, (setting - load_pa) / pilot_ratio};
    return true;
}

bool screw_turns(double now_pa, double want_pa, double pa_per_turn, double *turns, struct err *e)
{
    if (!check_pressure(now_pa, e) || !check_pressure(want_pa, e) ||
        !domain_above("change per turn (from the data sheet)", pa_per_turn, "bar", 0, e)) {
        return false;
    }
    *turns = (want_pa - now_pa) / pa_per_turn;
    return true;
}

bool relief_margin(double relief_pa, double counterbalance_pa, double *share, struct err *e)
{
    if (!check_pressure(relief_pa, e) || !domain_above("counterbalance setting", counterbalance_pa, "bar", 0, e)) {
        return false;
    }
    *share = relief_pa / counterbalance_pa - 1;
    return true;
}
