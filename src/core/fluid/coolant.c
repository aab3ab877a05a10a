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

#define SHARES 7 /* 0, 0.1 .. 0.6 */
static const double density_at_degc[] = {0, 10, 20, 40, 60, 80};
static const double ethylene_density[][SHARES] = {
    {999.8, 1018.7, 1035.7, 1051.8, 1066.8, 1081.1, 1094.6}, {999.7, 1016.3, 1032.9, 1048.8, 1063.5, 1077.5, 1090.7},
    {998.2, 1013.3, 1029.7, 1045.2, 1059.7, 1073.3, 1086.3}, {992.2, 1006.0, 1021.8, 1036.8, 1050.6, 1063.7, 1076.0},
    {983.2, 996.7, 1012.0, 1026.4, 1039.6, 1052.0, 1063.7},  {971.8, 985.5, 1000.2, 1014.0, 1026.6, 1038.5, 1049.5},
};
static const double propylene_density[][SHARES] = {
    {999.8, 1013.9, 1025.8, 1036.2, 1045.1, 1052.7, 1059.0}, {999.7, 1011.2, 1022.7, 1032.5, 1040.9, 1048.0, 1053.9},
    {998.2, 1008.1, 1019.0, 1028.3, 1036.2, 1042.9, 1048.2}, {992.2, 1000.5, 1010.2, 1018.4, 1025.3, 1031.0, 1035.5},
    {983.2, 990.8, 999.3, 1006.4, 1012.3, 1017.0, 1020.7},   {971.8, 979.2, 986.4, 992.4, 997.2, 1001.0, 1003.8},
};
#define WATER_20_KGM3 998.2

/* The table's densities at one temperature as rows of specific gravity -> share. */
static void gravity_rows(enum glycol glycol, double degc, struct row rows[SHARES])
{
    size_t n = COUNT(density_at_degc);
    size_t i = 1;
    while (i + 1 < n && degc > density_at_degc[i]) {
        i++;
    }
    const double(*density)[SHARES] = glycol == GLYCOL_ETHYLENE ? ethylene_density : propylene_density;
    double part = (degc - density_at_degc[i - 1]) / (density_at_degc[i] - density_at_degc[i - 1]);
    for (size_t k = 0; k < SHARES; k++) {
        double kgm3 = density[i - 1][k] + part * (density[i][k] - density[i - 1][k]);
        rows[k] = (struct row){kgm3 / WATER_20_KGM3, 0.1 * (double)k};
    }
}

bool coolant_share(enum glycol glycol, double gravity, double temp_k, double *share, struct err *e)
{
    struct row rows[SHARES];
    if (!domain_within("coolant temperature", temp_k, "degC", ZERO_C_K, ZERO_C_K + 80, e)) {
        return false;
    }
    gravity_rows(glycol, temp_k - ZERO_C_K, rows);
    if (!domain_within("specific gravity of the coolant", gravity, "", rows[0].x, rows[SHARES - 1].x, e)) {
        return false;
    }
    *share = between(rows, SHARES, gravity);
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
