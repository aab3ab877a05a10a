/* Tables of ISO 898-1 and SAE J429, and the short torque equation. */
#include "fastener/fastener.h"

#include "quantity/domain.h"

#include <math.h>

#define PI 3.14159265358979323846
#define MM 1e-3
#define INCH 0.0254
#define MPA 1e6
#define PSI 6894.757293168361

bool thread_stress_area(enum thread_form form, double diameter_m, double pitch_m, double *area_m2, struct err *e)
{
    if (!domain_within("thread diameter", diameter_m, "mm", 1 * MM, 160 * MM, e) ||
        !domain_above("pitch", pitch_m, "mm", 0, e) || !domain_within("pitch", pitch_m, "mm", 0, diameter_m / 3, e)) {
        return false;
    }
    double d = diameter_m - (form == THREAD_ISO ? 0.9382 : 0.9743) * pitch_m;
    *area_m2 = PI / 4 * d * d;
    return true;
}

double thread_coarse_pitch(double diameter_m)
{
    /* ISO 261, first and second choice. */
    static const double series[][2] = {
        {2, 0.4},  {2.5, 0.45}, {3, 0.5},   {3.5, 0.6}, {4, 0.7}, {5, 0.8},  {6, 1},    {7, 1},
        {8, 1.25}, {10, 1.5},   {12, 1.75}, {14, 2},    {16, 2},  {18, 2.5}, {20, 2.5}, {22, 2.5},
        {24, 3},   {27, 3},     {30, 3.5},  {33, 3.5},  {36, 4},  {39, 4},   {42, 4.5}, {45, 4.5},
        {48, 5},   {52, 5},     {56, 5.5},  {60, 5.5},  {64, 6},
    };
    for (size_t i = 0; i < sizeof series / sizeof *series; i++) {
        if (fabs(diameter_m / MM - series[i][0]) < 1e-9) {
            return series[i][1] * MM;
        }
    }
    return 0;
}

/* One row per class and range of diameter, the range's end included. */
static const struct proof_row {
    const char *name;
    double up_to_m, pa;
} proof_rows[] = {
    {"4.6", 39 * MM, 225 * MPA},        {"4.8", 39 * MM, 310 * MPA},           {"5.6", 39 * MM, 280 * MPA},
    {"5.8", 39 * MM, 380 * MPA},        {"6.8", 39 * MM, 440 * MPA},           {"8.8", 16 * MM, 580 * MPA},
    {"8.8", 39 * MM, 600 * MPA},        {"9.8", 16 * MM, 650 * MPA},           {"10.9", 39 * MM, 830 * MPA},
    {"12.9", 39 * MM, 970 * MPA},       {"grade 2", 0.75 * INCH, 55000 * PSI}, {"grade 2", 1.5 * INCH, 33000 * PSI},
    {"grade 5", 1 * INCH, 85000 * PSI}, {"grade 5", 1.5 * INCH, 74000 * PSI},  {"grade 8", 1.5 * INCH, 120000 * PSI},
};

bool bolt_proof_stress(struct str property_class, double diameter_m, double *pa, struct err *e)
{
    double widest = 0;
    struct str wanted = str_trim(property_class);
    if (!domain_within("bolt diameter", diameter_m, "mm", 1 * MM, 39 * MM, e)) {
        return false;
    }
    for (size_t i = 0; i < sizeof proof_rows / sizeof *proof_rows; i++) {
        if (!str_eq_nocase(wanted, str_of(proof_rows[i].name))) {
            continue;
        }
        widest = proof_rows[i].up_to_m;
        if (diameter_m <= widest * (1 + 1e-9)) {
            *pa = proof_rows[i].pa;
            return true;
        }
    }
    if (widest > 0) {
        return domain_within("bolt diameter for this class", diameter_m, "mm", 1 * MM, widest, e);
    }
    return err_set(e, ERR_DOMAIN,
                   "4.6, 4.8, 5.6, 5.8, 6.8, 8.8, 9.8, 10.9, 12.9 (ISO 898-1); grade 2, grade 5, grade 8 (SAE J429)",
                   "unknown property class \"", str_z(e->a, wanted), "\"", (char *)0);
}

const struct torque_factor *torque_factors(size_t *n)
{
    static const struct torque_factor rows[] = {
        {"non-plated, black finish", 0.30},
        {"zinc-plated", 0.20},
        {"lubricated", 0.18},
        {"cadmium-plated", 0.16},
    };
    *n = sizeof rows / sizeof *rows;
    return rows;
}

static bool check_factor(double k, double diameter_m, struct err *e)
{
    return domain_within("torque factor K", k, "", 0.02, 1, e) && domain_above("bolt diameter", diameter_m, "mm", 0, e);
}

bool bolt_torque_factor(double diameter_m, double pitch_m, double thread_friction, double head_friction, double *k,
                        struct err *e)
{
    double area_m2 = 0; /* asked for its checks of the thread */
    if (!thread_stress_area(THREAD_ISO, diameter_m, pitch_m, &area_m2, e) ||
        !domain_within("friction in the thread", thread_friction, "", 0.02, 0.5, e) ||
        !domain_within("friction under the head", head_friction, "", 0.02, 0.5, e)) {
        return false;
    }
    double mean_m = diameter_m - 0.6495 * pitch_m;
    double tan_lead = pitch_m / (PI * mean_m);
    double sec_flank = 1 / cos(PI / 6);
    *k = mean_m / (2 * diameter_m) * (tan_lead + thread_friction * sec_flank) /
             (1 - thread_friction * tan_lead * sec_flank) +
         0.625 * head_friction;
    return true;
}

bool bolt_torque(double k, double diameter_m, double preload_n, double *torque_nm, struct err *e)
{
    if (!check_factor(k, diameter_m, e) || !domain_within("preload", preload_n, "N", 0, 1e9, e)) {
        return false;
    }
    *torque_nm = k * diameter_m * preload_n;
    return true;
}

bool bolt_preload(double k, double diameter_m, double torque_nm, double *preload_n, struct err *e)
{
    if (!check_factor(k, diameter_m, e) || !domain_within("torque", torque_nm, "N.m", 0, 1e7, e)) {
        return false;
    }
    *preload_n = torque_nm / (k * diameter_m);
    return true;
}

bool bolt_clamp(double area_m2, double proof_pa, double share, double *preload_n, struct err *e)
{
    if (!domain_above("stress area", area_m2, "mm2", 0, e) || !domain_above("proof stress", proof_pa, "MPa", 0, e) ||
        !domain_above("share of the proof load", share, "%", 0, e) ||
        !domain_within("share of the proof load", share, "%", 0, 1, e)) {
        return false;
    }
    *preload_n = share * proof_pa * area_m2;
    return true;
}

/* The lever of the nut over that of the wrench. */
static bool lever(struct crowfoot c, double *ratio, struct err *e)
{
    if (!domain_above("wrench length", c.wrench_m, "mm", 0, e) ||
        !domain_within("adapter length", c.adapter_m, "mm", 0, 100 * c.wrench_m, e) ||
        !domain_within("adapter angle", c.angle_rad, "deg", -2 * PI, 2 * PI, e)) {
        return false;
    }
    double arm = c.wrench_m + c.adapter_m * cos(c.angle_rad);
    if (arm <= 1e-9 * c.wrench_m) {
        return domain_refuse("the adapter points back past the hand: no lever is left",
                             "an adapter shorter than the wrench", e);
    }
    *ratio = arm / c.wrench_m;
    return true;
}

bool crowfoot_setting(struct crowfoot c, double torque_nm, double *setting_nm, struct err *e)
{
    double ratio = 0;
    if (!lever(c, &ratio, e) || !domain_within("torque", torque_nm, "N.m", 0, 1e7, e)) {
        return false;
    }
    *setting_nm = torque_nm / ratio;
    return true;
}

bool crowfoot_applied(struct crowfoot c, double setting_nm, double *torque_nm, struct err *e)
{
    double ratio = 0;
    if (!lever(c, &ratio, e) || !domain_within("setting", setting_nm, "N.m", 0, 1e7, e)) {
        return false;
    }
    *torque_nm = setting_nm * ratio;
    return true;
}

/* Preload per radian of turn. */
static bool joint_rate(struct bolt_joint j, double *n_per_rad, struct err *e)
{
    if (!domain_above("pitch", j.pitch_m, "mm", 0, e) ||
        !domain_above("stiffness of the bolt", j.bolt_n_per_m, "N/mm", 0, e) ||
        !domain_above("stiffness of the members", j.members_n_per_m, "N/mm", 0, e) ||
        !domain_within("pitch", j.pitch_m, "mm", 0, 0.1, e) ||
        !domain_within("stiffness of the bolt", j.bolt_n_per_m, "N/mm", 0, 1e13, e) ||
        !domain_within("stiffness of the members", j.members_n_per_m, "N/mm", 0, 1e13, e)) {
        return false;
    }
    *n_per_rad = j.pitch_m / (2 * PI) * j.bolt_n_per_m * j.members_n_per_m / (j.bolt_n_per_m + j.members_n_per_m);
    return true;
}

static bool within_proof(struct bolt_joint j, double preload_n, struct err *e)
{
    if (!domain_within("proof load", j.proof_n, "N", 0, 1e9, e)) {
        return false;
    }
    return j.proof_n == 0 || domain_within("preload by the elastic formula", preload_n, "N", 0, j.proof_n, e);
}

bool bolt_angle_gain(struct bolt_joint j, double angle_rad, double *preload_n, struct err *e)
{
    double rate = 0;
    if (!joint_rate(j, &rate, e) || !domain_within("angle", angle_rad, "deg", 0, 20 * PI, e) ||
        !within_proof(j, rate * angle_rad, e)) {
        return false;
    }
    *preload_n = rate * angle_rad;
    return true;
}

bool bolt_angle_for(struct bolt_joint j, double preload_n, double *angle_rad, struct err *e)
{
    double rate = 0;
    if (!joint_rate(j, &rate, e) || !domain_within("preload", preload_n, "N", 0, 1e9, e) ||
        !within_proof(j, preload_n, e)) {
        return false;
    }
    *angle_rad = preload_n / rate;
    return true;
}
