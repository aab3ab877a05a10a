/* Calculations about hydraulics. */
#include "calc_internal.h"
#include "hydraulic/hydraulic.h"
#include "quantity/domain.h"

static bool run_pump(struct calc_call *call, struct err *e)
{
    double flow = 0;
    struct pump_test test;
    double displacement = in_number(call, "displacement");
    double speed = in_number(call, "speed");
    if (!pump_flow(displacement, speed, &flow, e)) {
        return false;
    }
    out_number(call, "flow", flow);
    if (!in_given(call, "measured")) {
        return true;
    }
    return pump_test(displacement, speed, in_number(call, "measured"), &test, e) &&
           out_number(call, "efficiency", test.efficiency) && out_number(call, "leak", test.leak_m3s);
}

static bool run_motor(struct calc_call *call, struct err *e)
{
    struct motor m;
    bool pressure = in_given(call, "pressure");
    if (!motor_output(in_number(call, "displacement"), in_number(call, "flow"), in_number_or(call, "pressure", 0),
                      in_number(call, "volumetric"), in_number(call, "mechanical"), &m, e)) {
        return false;
    }
    return out_number(call, "speed", m.speed_rad_s) && (!pressure || out_number(call, "torque", m.torque_nm));
}

static bool run_cylinder(struct calc_call *call, struct err *e)
{
    struct cylinder c;
    bool flow = in_given(call, "flow");
    if (!cylinder_output(in_number(call, "bore"), in_number(call, "rod"), in_number(call, "pressure"),
                         in_number_or(call, "flow", 0), &c, e)) {
        return false;
    }
    out_number(call, "push", c.push_n);
    out_number(call, "pull", c.pull_n);
    return !flow || (out_number(call, "extend", c.extend_m_s) && out_number(call, "retract", c.retract_m_s));
}

static bool run_load_pressure(struct calc_call *call, struct err *e)
{
    double pa = 0;
    return load_pressure(in_number(call, "mass"), in_number(call, "bore"), &pa, e) && out_number(call, "pressure", pa);
}

static bool run_power(struct calc_call *call, struct err *e)
{
    double w = 0;
    double efficiency = in_number(call, "efficiency");
    return hydraulic_power(in_number(call, "pressure"), in_number(call, "flow"), &w, e) &&
           domain_above("overall efficiency", efficiency, "%", 0, e) &&
           domain_within("overall efficiency", efficiency, "%", 0, 1, e) && out_number(call, "power", w) &&
           out_number(call, "shaft", w / efficiency);
}

static bool run_velocity(struct calc_call *call, struct err *e)
{
    double v = 0;
    struct line_guide guide;
    if (!line_velocity(in_number(call, "flow"), in_number(call, "inside"), &v, e)) {
        return false;
    }
    out_number(call, "velocity", v);
    return !in_given(call, "line") || (line_guide_of(in_text(call, "line"), &guide, e) &&
                                       out_text(call, "state", str_of(line_state_text(line_judge(guide, v)))));
}

static bool run_counterbalance(struct calc_call *call, struct err *e)
{
    struct counterbalance c;
    return counterbalance_setting(in_number(call, "load"), in_number(call, "factor"), in_number(call, "ratio"), &c,
                                  e) &&
           out_number(call, "setting", c.setting_pa) && out_number(call, "pilot", c.pilot_pa);
}

static bool run_screw(struct calc_call *call, struct err *e)
{
    double turns = 0;
    return screw_turns(in_number(call, "now"), in_number(call, "want"), in_number(call, "per-turn"), &turns, e) &&
           out_number(call, "turns", turns) && out_text(call, "direction", S("from data sheet"));
}

static bool run_relief_margin(struct calc_call *call, struct err *e)
{
    double share = 0;
    return relief_margin(in_number(call, "relief"), in_number(call, "counterbalance"), &share, e) &&
           out_number(call, "margin", share) &&
           out_text(call, "state",
                    share < 0 ? S("relief opens before the counterbalance valve")
                              : S("relief is above the counterbalance valve"));
}

#define SHEETS "fluid-power formula sheets (several agree)"
#define DISPLACEMENT NUMBER("displacement", Q_VOLUME_PER_REV, "cm3/rev", "displacement")
#define FLOW(name, meaning) NUMBER(name, Q_FLOW, "L/min", meaning)
#define BAR(name, meaning) NUMBER(name, Q_PRESSURE, "bar", meaning)
#define MM(name, meaning) NUMBER(name, Q_LENGTH, "mm", meaning)

const struct calc calc_hydraulic[] = {
    {"pump-flow",
     "Flow and volumetric efficiency of a pump",
     "Q = D n; efficiency = measured / Q",
     SHEETS,
     {DISPLACEMENT, NUMBER("speed", Q_ROTATION, "rpm", "shaft speed"),
      PRESET("measured", Q_FLOW, "L/min", "flow measured under pressure", "")},
     {FLOW("flow", "theoretical flow"), NUMBER("efficiency", Q_RATIO, "%", "volumetric efficiency"),
      FLOW("leak", "internal leak; the case drain is part of it")},
     run_pump},
    {"motor",
     "Speed and torque of a hydraulic motor",
     "n = Q nv / D; T = D p nm / (2 pi)",
     SHEETS,
     {DISPLACEMENT, FLOW("flow", "flow into it"), PRESET("volumetric", Q_RATIO, "%", "volumetric efficiency", "100 %"),
      PRESET("pressure", Q_PRESSURE, "bar", "pressure across it", ""),
      PRESET("mechanical", Q_RATIO, "%", "mechanical efficiency", "100 %")},
     {NUMBER("speed", Q_ROTATION, "rpm", "shaft speed"), NUMBER("torque", Q_TORQUE, "N.m", "torque")},
     run_motor},
    {"cylinder",
     "Force and speed of a cylinder",
     "F = p A; v = Q / A, without friction",
     SHEETS,
     {MM("bore", "bore"), PRESET("rod", Q_LENGTH, "mm", "rod", "0 mm"), BAR("pressure", "pressure"),
      PRESET("flow", Q_FLOW, "L/min", "flow", "")},
     {NUMBER("push", Q_FORCE, "N", "pushing force"), NUMBER("pull", Q_FORCE, "N", "pulling force"),
      NUMBER("extend", Q_SPEED, "m/s", "speed out"), NUMBER("retract", Q_SPEED, "m/s", "speed in")},
     run_cylinder},
    {"load-pressure",
     "Pressure a hanging mass makes in a cylinder",
     "p = m g / A, g = 9.80665 m/s2",
     "F = p A; ISO 80000-3",
     {NUMBER("mass", Q_MASS, "kg", "mass"), MM("bore", "bore")},
     {BAR("pressure", "load pressure")},
     run_load_pressure},
    {"hydraulic-power",
     "Hydraulic power, and heat over a relief valve",
     "P = p Q; at the shaft over the overall efficiency",
     SHEETS,
     {BAR("pressure", "pressure"), FLOW("flow", "flow"),
      PRESET("efficiency", Q_RATIO, "%", "overall efficiency", "100 %")},
     {NUMBER("power", Q_POWER, "kW", "hydraulic power; all of it heat over a relief valve"),
      NUMBER("shaft", Q_POWER, "kW", "power at the shaft")},
     run_power},
    {"line-velocity",
     "Velocity of oil in a line",
     "v = Q / A",
     "fluid-power trade guideline: suction 2 to 4 ft/s, pressure to 500 psi 10 to 15, to 3000 psi 15 to 20",
     {FLOW("flow", "flow"),
      MM("inside", "inside diameter"),
      {"line", CALC_TEXT, Q_NONE, NULL, "suction; pressure to 500 psi; pressure, 500 to 3000 psi", ""}},
     {NUMBER("velocity", Q_SPEED, "m/s", "velocity"), TEXT("state", "against the guide")},
     run_velocity},
    {"counterbalance",
     "Setting of a counterbalance valve",
     "setting = factor x load; pilot = (setting - load)/ratio, no back pressure",
     "valve sellers: factor 1.3",
     {BAR("load", "load pressure"), PRESET("factor", Q_NONE, NULL, "factor over the load pressure", "1.3"),
      NUMBER("ratio", Q_NONE, NULL, "pilot ratio")},
     {BAR("setting", "setting"), BAR("pilot", "pilot pressure that opens it")},
     run_counterbalance},
    {"screw-turns",
     "Turns of an adjusting screw",
     "turns = change / slope; lower the load first",
     "common practice, no source: linear spring",
     {BAR("now", "setting now"), BAR("want", "setting wanted"),
      BAR("per-turn", "change per turn, from the data sheet")},
     {NUMBER("turns", Q_NONE, "turns", "turns; negative towards less pressure"), TEXT("direction", "which way")},
     run_screw},
    {"relief-margin",
     "Relief valve against counterbalance valve",
     "relief / counterbalance - 1",
     "common practice, no source",
     {BAR("relief", "relief setting"), BAR("counterbalance", "counterbalance setting")},
     {NUMBER("margin", Q_RATIO, "%", "by how much the relief stands above"), TEXT("state", "which opens first")},
     run_relief_margin},
};
const size_t calc_hydraulic_count = sizeof calc_hydraulic / sizeof *calc_hydraulic;
