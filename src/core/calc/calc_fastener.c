/* Calculations about bolts and torque. */
#include "calc_internal.h"
#include "fastener/fastener.h"

static bool run_thread_area(struct calc_call *call, struct err *e)
{
    struct str form = in_text(call, "form");
    if (!str_eq(form, S("iso")) && !str_eq(form, S("unified"))) {
        return err_set(e, ERR_INPUT, "iso or unified", "unknown thread form \"", str_z(e->a, form), "\"", (char *)0);
    }
    double area = 0;
    return thread_stress_area(str_eq(form, S("iso")) ? THREAD_ISO : THREAD_UNIFIED, in_number(call, "diameter"),
                              in_number(call, "pitch"), &area, e) &&
           out_number(call, "area", area);
}

static bool run_proof_load(struct calc_call *call, struct err *e)
{
    double stress = 0;
    double load = 0;
    return bolt_proof_stress(in_text(call, "class"), in_number(call, "diameter"), &stress, e) &&
           bolt_clamp(in_number(call, "area"), stress, 1, &load, e) && out_number(call, "stress", stress) &&
           out_number(call, "load", load);
}

static bool run_clamp_torque(struct calc_call *call, struct err *e)
{
    double clamp = 0;
    double torque = 0;
    return bolt_clamp(in_number(call, "area"), in_number(call, "proof"), in_number(call, "share"), &clamp, e) &&
           bolt_torque(in_number(call, "k"), in_number(call, "diameter"), clamp, &torque, e) &&
           out_number(call, "clamp", clamp) && out_number(call, "torque", torque);
}

static bool run_bolt_torque(struct calc_call *call, struct err *e)
{
    double torque = 0;
    return bolt_torque(in_number(call, "k"), in_number(call, "diameter"), in_number(call, "preload"), &torque, e) &&
           out_number(call, "torque", torque);
}

static bool run_bolt_preload(struct calc_call *call, struct err *e)
{
    double preload = 0;
    double area = in_number_or(call, "area", 0);
    double proof = in_number_or(call, "proof", 0);
    if (!bolt_preload(in_number(call, "k"), in_number(call, "diameter"), in_number(call, "torque"), &preload, e)) {
        return false;
    }
    if (in_given(call, "area")) {
        double unused = 0;
        if (!bolt_clamp(area, 1, 1, &unused, e)) {
            return false;
        }
        out_number(call, "stress", preload / area);
    }
    if (in_given(call, "proof")) {
        if (!(proof > 0)) {
            return err_set(e, ERR_DOMAIN, "more than 0", "proof load is not positive", (char *)0);
        }
        out_number(call, "proof-share", preload / proof);
    }
    return out_number(call, "preload", preload);
}

static struct crowfoot crowfoot_of(const struct calc_call *call)
{
    return (struct crowfoot){in_number(call, "wrench"), in_number(call, "adapter"), in_number(call, "angle")};
}

static bool run_crowfoot(struct calc_call *call, struct err *e)
{
    double setting = 0;
    return crowfoot_setting(crowfoot_of(call), in_number(call, "torque"), &setting, e) &&
           out_number(call, "setting", setting);
}

static bool run_crowfoot_applied(struct calc_call *call, struct err *e)
{
    double torque = 0;
    return crowfoot_applied(crowfoot_of(call), in_number(call, "setting"), &torque, e) &&
           out_number(call, "torque", torque);
}

static struct bolt_joint joint_of(const struct calc_call *call)
{
    return (struct bolt_joint){in_number(call, "pitch"), in_number(call, "bolt"), in_number(call, "members"),
                               in_number_or(call, "proof", 0)};
}

static bool run_angle_gain(struct calc_call *call, struct err *e)
{
    double preload = 0;
    return bolt_angle_gain(joint_of(call), in_number(call, "angle"), &preload, e) &&
           out_number(call, "preload", preload);
}

static bool run_angle_for(struct calc_call *call, struct err *e)
{
    double angle = 0;
    return bolt_angle_for(joint_of(call), in_number(call, "preload"), &angle, e) && out_number(call, "angle", angle);
}

#define DIAMETER NUMBER("diameter", Q_LENGTH, "mm", "nominal diameter of the thread")
#define AREA NUMBER("area", Q_AREA, "mm2", "tensile stress area")
#define FACTOR \
    NUMBER("k", Q_NONE, NULL, "torque factor K: 0.30 black, 0.20 zinc-plated, 0.18 lubricated (Shigley, table 8-15)")
#define TORQUE(name, meaning) NUMBER(name, Q_TORQUE, "N.m", meaning)
#define FORCE(name, meaning) NUMBER(name, Q_FORCE, "N", meaning)
#define LEVERS                                                                                    \
    NUMBER("wrench", Q_LENGTH, "mm", "length of the wrench, middle of the grip to square drive"), \
        NUMBER("adapter", Q_LENGTH, "mm", "length of the adapter, square drive to nut"),          \
        PRESET("angle", Q_ANGLE, "deg", "0 = straight out along the wrench, 90 = no correction, 180 = back", "0 deg")
#define JOINT                                                                   \
    NUMBER("pitch", Q_LENGTH, "mm", "pitch of the thread"),                     \
        NUMBER("bolt", Q_STIFFNESS, "N/mm", "stiffness of the bolt"),           \
        NUMBER("members", Q_STIFFNESS, "N/mm", "stiffness of what is clamped"), \
        PRESET("proof", Q_FORCE, "N", "proof load, where the elastic formula ends", "")
#define SHIGLEY "Budynas and Nisbett, Shigley's Mechanical Engineering Design, 9th ed., section 8-8"

const struct calc calc_fastener[] = {
    {
        .name = "thread-area",
        .title = "Tensile stress area of a thread",
        .formula = "A = pi/4 (d - 0.9382 P)^2 metric, pi/4 (D - 0.9743/n)^2 inch",
        .source = "ISO 724 / ISO 898-1; ASME B1.1",
        .inputs = {DIAMETER,
                   NUMBER("pitch", Q_LENGTH, "mm", "pitch; of an inch thread 1/n in"),
                   {"form", CALC_TEXT, Q_NONE, NULL, "iso or unified", "iso"}},
        .outputs = {AREA},
        .run = run_thread_area,
    },
    {
        .name = "proof-load",
        .title = "Proof load of a bolt",
        .formula = "F = Sp A; class 8.8: 580 MPa to 16 mm, 600 MPa above",
        .source = "ISO 898-1; SAE J429 as quoted in trade tables",
        .inputs = {TEXT("class", "property class such as 8.8 or 10.9, or grade 5"), DIAMETER, AREA},
        .outputs = {NUMBER("stress", Q_PRESSURE, "MPa", "stress under proof load"), FORCE("load", "proof load")},
        .run = run_proof_load,
    },
    {
        .name = "clamp-torque",
        .title = "Clamp load and torque for a share of the proof load",
        .formula = "F = share Sp A; T = K d F",
        .source = SHIGLEY,
        .inputs = {DIAMETER, AREA, NUMBER("proof", Q_PRESSURE, "MPa", "stress under proof load"),
                   PRESET("share", Q_RATIO, "%", "share of the proof load; 75 % for joints taken apart again", "75 %"),
                   FACTOR},
        .outputs = {FORCE("clamp", "clamp load"), TORQUE("torque", "torque to set")},
        .run = run_clamp_torque,
    },
    {
        .name = "bolt-torque",
        .title = "Torque for a preload",
        .formula = "T = K d F",
        .source = SHIGLEY,
        .inputs = {FACTOR, DIAMETER, FORCE("preload", "preload wanted")},
        .outputs = {TORQUE("torque", "torque to set")},
        .run = run_bolt_torque,
    },
    {
        .name = "bolt-preload",
        .title = "Preload that a torque gives",
        .formula = "F = T / (K d)",
        .source = SHIGLEY,
        .inputs = {TORQUE("torque", "torque set"), FACTOR, DIAMETER,
                   PRESET("area", Q_AREA, "mm2", "tensile stress area", ""),
                   PRESET("proof", Q_FORCE, "N", "proof load", "")},
        .outputs = {FORCE("preload", "preload"), NUMBER("stress", Q_PRESSURE, "MPa", "stress in the bolt"),
                    NUMBER("proof-share", Q_RATIO, "%", "share of the proof load")},
        .run = run_bolt_preload,
    },
    {
        .name = "crowfoot",
        .title = "Wrench setting with an extension",
        .formula = "setting = T L / (L + E cos a)",
        .source = "lever arms; wrench makers' sheets",
        .inputs = {TORQUE("torque", "torque wanted at the nut"), LEVERS},
        .outputs = {TORQUE("setting", "what to set on the wrench")},
        .run = run_crowfoot,
    },
    {
        .name = "crowfoot-applied",
        .title = "Torque at the nut with an extension",
        .formula = "T = setting (L + E cos a) / L",
        .source = "lever arms; wrench makers' sheets",
        .inputs = {TORQUE("setting", "what the wrench is set to"), LEVERS},
        .outputs = {TORQUE("torque", "torque at the nut")},
        .run = run_crowfoot_applied,
    },
    {
        .name = "angle-preload",
        .title = "Preload gained by turning past snug",
        .formula = "dF = P (a / 360 deg) kb km / (kb + km), elastic only",
        .source = SHIGLEY,
        .inputs = {NUMBER("angle", Q_ANGLE, "deg", "turn past snug"), JOINT},
        .outputs = {FORCE("preload", "gain of preload")},
        .run = run_angle_gain,
    },
    {
        .name = "preload-angle",
        .title = "Turn past snug for a preload",
        .formula = "a = 360 deg F (kb + km) / (P kb km), elastic only",
        .source = SHIGLEY,
        .inputs = {FORCE("preload", "preload wanted"), JOINT},
        .outputs = {NUMBER("angle", Q_ANGLE, "deg", "turn past snug")},
        .run = run_angle_for,
    },
};
const size_t calc_fastener_count = sizeof calc_fastener / sizeof *calc_fastener;
