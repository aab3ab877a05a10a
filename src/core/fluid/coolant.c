/* Tables for freezing, the IAPWS equation and Raoult's law for boiling. */
#include "fluid/coolant.h"

#include "quantity/domain.h"

#include <math.h>

#define ZERO_C_K 273.15

bool glycol_of(struct str word, enum glycol *glycol)
{
    word = str_trim(word);
    struct str tail = S(" glycol");
    if (str_ends(word, tail)) {
        word = str_cut(word, 0, word.n - tail.n);
    }
    bool ethylene = str_eq_nocase(word, S("ethylene"));
    *glycol = ethylene ? GLYCOL_ETHYLENE : GLYCOL_PROPYLENE;
    return ethylene || str_eq_nocase(word, S("propylene"));
}

/* One row of a table: share, degC. */
struct row {
    double x, y;
};

static const struct row ethylene_by_volume[] = {
    {0, 0},        {0.10, -3.6},  {0.20, -9.0},  {0.25, -12.1}, {0.30, -15.7}, {0.35, -19.9},
    {0.40, -24.8}, {0.45, -30.5}, {0.50, -37.1}, {0.55, -44.4}, {0.60, -52.0},
};
static const struct row propylene_by_volume[] = {
    {0, 0},        {0.05, -1.1},  {0.10, -2.2},  {0.15, -3.9},  {0.20, -6.7},  {0.25, -8.9},
    {0.30, -12.8}, {0.35, -16.1}, {0.40, -20.6}, {0.45, -26.7}, {0.50, -33.3},
};
static const struct row ethylene_by_mass_ashrae[] = {
    {0, 0},        {0.05, -1.4},  {0.10, -3.2},  {0.15, -5.4},  {0.20, -7.8},  {0.25, -10.7},
    {0.30, -14.1}, {0.35, -17.9}, {0.40, -22.3}, {0.45, -27.5}, {0.50, -33.8}, {0.55, -41.1},
};
static const struct row ethylene_by_mass_melinder[] = {
    {0, 0},        {0.05, -1.7},  {0.10, -3.4},  {0.15, -5.4},  {0.20, -7.9},  {0.25, -11.0},
    {0.30, -14.6}, {0.35, -18.9}, {0.40, -23.9}, {0.45, -29.6}, {0.50, -36.0}, {0.55, -43.3},
};

#define COUNT(table) (sizeof(table) / sizeof *(table))

/* Straight between two rows; x is within the table. */
static double between(const struct row *rows, size_t n, double x)
{
    size_t i = 1;
    while (i + 1 < n && x > rows[i].x) {
        i++;
    }
    double part = (x - rows[i - 1].x) / (rows[i].x - rows[i - 1].x);
    return rows[i - 1].y + part * (rows[i].y - rows[i - 1].y);
}

bool coolant_freezing(enum glycol glycol, double share, double *temp_k, struct err *e)
{
    bool ethylene = glycol == GLYCOL_ETHYLENE;
    const struct row *rows = ethylene ? ethylene_by_volume : propylene_by_volume;
    size_t n = ethylene ? COUNT(ethylene_by_volume) : COUNT(propylene_by_volume);
    if (!domain_within(ethylene ? "ethylene glycol by volume" : "propylene glycol by volume", share, "%", 0,
                       rows[n - 1].x, e)) {
        return false;
    }
    *temp_k = between(rows, n, share) + ZERO_C_K;
    return true;
}

bool coolant_freezing_spread(double mass_share, struct freezing_spread *out, struct err *e)
{
    if (!domain_within("ethylene glycol by mass", mass_share, "%", 0, 0.55, e)) {
        return false;
    }
    double a = between(ethylene_by_mass_ashrae, COUNT(ethylene_by_mass_ashrae), mass_share);
    double b = between(ethylene_by_mass_melinder, COUNT(ethylene_by_mass_melinder), mass_share);
    *out = (struct freezing_spread){fmin(a, b) + ZERO_C_K, fmax(a, b) + ZERO_C_K};
    return true;
}

bool water_boiling(double absolute_pa, double *temp_k, struct err *e)
{
    /* Table 34 of the release, n1 .. n10. */
    static const double n[] = {
        0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5,  -0.32325550322333e7,
        0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6,  -0.23855557567849e0, 0.65017534844798e3,
    };
    if (!domain_within("absolute pressure", absolute_pa, "kPa", 611.213, 22.064e6, e)) {
        return false;
    }
    double beta = pow(absolute_pa / 1e6, 0.25);
    double E = beta * beta + n[2] * beta + n[5];
    double F = n[0] * beta * beta + n[3] * beta + n[6];
    double G = n[1] * beta * beta + n[4] * beta + n[7];
    double D = 2 * G / (-F - sqrt(F * F - 4 * E * G));
    *temp_k = (n[9] + D - sqrt((n[9] + D) * (n[9] + D) - 4 * (n[8] + n[9] * D))) / 2;
    return true;
}

bool coolant_boiling(enum glycol glycol, double share, double cap_gauge_pa, double ambient_pa, double *temp_k,
                     struct err *e)
{
    if (!domain_within("glycol by volume", share, "%", 0, 0.6, e) ||
        !domain_within("cap pressure (gauge)", cap_gauge_pa, "kPa", 0, 300e3, e) ||
        !domain_within("ambient absolute pressure", ambient_pa, "kPa", 20e3, 120e3, e)) {
        return false;
    }
    double glycol_mol = share * (glycol == GLYCOL_ETHYLENE ? 1113 / 62.07 : 1036 / 76.09);
    double water_mol = (1 - share) * 998.2 / 18.015;
    return water_boiling((cap_gauge_pa + ambient_pa) * (water_mol + glycol_mol) / water_mol, temp_k, e);
}

bool coolant_drain(double volume_m3, double now, double target, double fill, double *drain_m3, struct err *e)
{
    if (!domain_above("volume of the system", volume_m3, "L", 0, e) ||
        !domain_within("glycol now", now, "%", 0, 1, e) || !domain_within("glycol wanted", target, "%", 0, 1, e) ||
        !domain_within("glycol of the refill", fill, "%", 0, 1, e)) {
        return false;
    }
    if (now == target) {
        *drain_m3 = 0;
        return true;
    }
    double part = (target - now) / (fill - now);
    if (!(part > 0 && part <= 1)) {
        return domain_refuse(
            "that refill cannot bring the mixture to the wanted share",
            target > now ? "a refill at least as strong as the target" : "a refill no stronger than the target", e);
    }
    *drain_m3 = volume_m3 * part;
    return true;
}
