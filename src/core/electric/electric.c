/* Tables of makers and the copper pair. Tables are straight between rows and end where the source ends. */
#include "electric/electric.h"

#include "quantity/domain.h"

#include <math.h>

#define ZERO_C_K 273.15

struct row {
    double x, y;
};
#define COUNT(table) (sizeof(table) / sizeof *(table))

/* Straight between rows of rising x; x is within the table. */
static double between(const struct row *rows, size_t n, double x)
{
    size_t i = 1;
    while (i + 1 < n && x > rows[i].x) {
        i++;
    }
    double part = (x - rows[i - 1].x) / (rows[i].x - rows[i - 1].x);
    return rows[i - 1].y + part * (rows[i].y - rows[i - 1].y);
}

static bool check_temperature(double temp_k, struct err *e)
{
    return domain_within("temperature", temp_k, "degC", 200, 420, e);
}

bool gravity_corrected(double sg, double temp_k, double reference_k, double factor_per_k, double *corrected,
                       struct err *e)
{
    if (!domain_within("specific gravity", sg, "", 1.0, 1.4, e) || !check_temperature(temp_k, e) ||
        !check_temperature(reference_k, e) || !domain_within("factor per kelvin", factor_per_k, "", 0, 0.002, e)) {
        return false;
    }
    *corrected = sg + factor_per_k * (temp_k - reference_k);
    return true;
}

/* Charge from a table of rising readings; `doubtful` is where a reading stops meaning "full". */
static struct charge charge_from(const struct row *rows, size_t n, double x, double doubtful, const char *why)
{
    if (x > doubtful) {
        return (struct charge){.known = false, .why = why};
    }
    double share = x <= rows[0].x ? rows[0].y : x >= rows[n - 1].x ? rows[n - 1].y : between(rows, n, x);
    return (struct charge){.known = true, .share = share};
}

bool charge_of_voltage(double volts, double nominal_v, struct charge *out, struct err *e)
{
    static const struct row rows[] = {{11.89, 0}, {12.06, 0.25}, {12.24, 0.5}, {12.45, 0.75}, {12.65, 1}};
    if (nominal_v != 12 && nominal_v != 24) {
        return domain_refuse("unknown system voltage", "12 or 24 V", e);
    }
    double half = volts * 12 / nominal_v;
    if (!domain_within("rest voltage of a 12 V battery", half, "V", 0, 20, e)) {
        return false;
    }
    *out = charge_from(rows, COUNT(rows), half, 12.80 + 1e-9, "surface charge or charging");
    return true;
}

bool charge_of_gravity(double sg, struct charge *out, struct err *e)
{
    static const struct row rows[] = {{1.120, 0}, {1.155, 0.25}, {1.190, 0.5}, {1.225, 0.75}, {1.265, 1}};
    if (!domain_within("specific gravity", sg, "", 1.0, 1.4, e)) {
        return false;
    }
    *out = charge_from(rows, COUNT(rows), sg, 1.300 + 1e-9, "acid stronger than a full battery's");
    return true;
}

bool battery_load_test(double cca_a, double temp_k, double volts, struct load_test *out, struct err *e)
{
    static const struct row rows[] = {{-18, 8.5}, {-12, 8.7}, {-7, 8.9}, {-1, 9.1},
                                      {4, 9.3},   {10, 9.4},  {16, 9.5}, {20, 9.6}};
    double t = temp_k - ZERO_C_K;
    if (!domain_above("cold-cranking amperes", cca_a, "A", 0, e) ||
        !domain_within("voltage under load", volts, "V", 0, 20, e) ||
        !domain_within("battery temperature", temp_k, "degC", ZERO_C_K - 18 - 1e-9, ZERO_C_K + 60, e)) {
        return false;
    }
    double minimum = t >= 20 ? 9.6 : between(rows, COUNT(rows), t);
    *out = (struct load_test){cca_a / 2, minimum, volts >= minimum - 1e-9};
    return true;
}

bool electrolyte_freezing(double sg, double *temp_k, struct err *e)
{
    /* degF as printed; the first row is water. */
    static const struct row rows[] = {{1.000, 32}, {1.100, 19}, {1.150, 5}, {1.200, -16}, {1.250, -62}, {1.280, -90}};
    if (!domain_within("specific gravity", sg, "", 1.0, 1.28, e)) {
        return false;
    }
    *temp_k = (between(rows, COUNT(rows), sg) + 459.67) * 5 / 9;
    return true;
}

const char *voltage_state_text(enum voltage_state state)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = text,
        VOLTAGE_STATES(X)
#undef X
    };
    return words[state];
}

/* A nanovolt beyond a limit is still at the limit. */
static struct voltage_window judge(double low, double high, double volts)
{
    enum voltage_state state = volts < low - 1e-9 ? VOLTAGE_LOW : volts > high + 1e-9 ? VOLTAGE_HIGH : VOLTAGE_WITHIN;
    return (struct voltage_window){low, high, state};
}

bool cranking_window(double system_v, double temp_k, double volts, struct voltage_window *out, struct err *e)
{
    if (system_v != 12 && system_v != 24) {
        return domain_refuse("unknown system voltage", "12 or 24 V", e);
    }
    if (!domain_within("temperature", temp_k, "degC", ZERO_C_K - 23 - 1e-9, ZERO_C_K + 27 + 1e-9, e) ||
        !domain_within("cranking voltage", volts, "V", 0, 40, e)) {
        return false;
    }
    double t = temp_k - ZERO_C_K;
    double low = t <= -7 + 1e-9 ? 6 : t <= 10 + 1e-9 ? 7 : 8;
    *out = judge(low * system_v / 12, (low + 2) * system_v / 12, volts);
    return true;
}

const struct charging charging_12v = {14.4, 0.3, ZERO_C_K + 20, 0.01};

bool charging_window(struct charging c, double temp_k, double volts, struct voltage_window *out, struct err *e)
{
    if (!domain_within("temperature", temp_k, "degC", ZERO_C_K - 50, ZERO_C_K + 130, e) ||
        !domain_within("charging voltage", volts, "V", 0, 40, e) ||
        !domain_above("nominal voltage", c.nominal_v, "V", 0, e) ||
        !domain_within("half width", c.half_v, "V", 0, 5, e) ||
        !domain_within("slope per kelvin", c.slope_v_per_k, "V", 0, 0.1, e) || !check_temperature(c.reference_k, e)) {
        return false;
    }
    double mid = c.nominal_v - c.slope_v_per_k * (temp_k - c.reference_k);
    *out = judge(mid - c.half_v, mid + c.half_v, volts);
    return true;
}

bool charging_window_table(double temp_k, double volts, struct voltage_window *out, struct err *e)
{
    static const struct row low[] = {{-20, 14.0}, {20, 13.7}, {60, 13.2}, {80, 12.9}};
    static const struct row high[] = {{-20, 15.1}, {20, 14.6}, {60, 14.3}, {80, 14.1}};
    double t = temp_k - ZERO_C_K;
    if (!domain_within("temperature", temp_k, "degC", ZERO_C_K - 20 - 1e-9, ZERO_C_K + 80 + 1e-9, e) ||
        !domain_within("charging voltage", volts, "V", 0, 40, e)) {
        return false;
    }
    *out = judge(between(low, COUNT(low), t), between(high, COUNT(high), t), volts);
    return true;
}

bool cranking_drop_limit(double amperes, double volts_per_100a, double *limit_v, struct err *e)
{
    if (!domain_within("starter current", amperes, "A", 0, 1e5, e) ||
        !domain_above("volts allowed per 100 A", volts_per_100a, "V", 0, e)) {
        return false;
    }
    *limit_v = amperes / 100 * volts_per_100a;
    return true;
}

#define COPPER_OHM_M 1.7241e-8
#define COPPER_PER_K 0.00393

static bool check_circuit(double amperes, double one_way_m, double system_v, double temp_k, struct err *e)
{
    return domain_within("current", amperes, "A", 0, 1e5, e) &&
           domain_within("length of the wire", one_way_m, "m", 0, 1e4, e) &&
           domain_above("system voltage", system_v, "V", 0, e) && check_temperature(temp_k, e);
}

/* Volts lost in a pair of 1 m2. */
static double drop_times_area(double amperes, double one_way_m, double temp_k)
{
    return amperes * COPPER_OHM_M * (1 + COPPER_PER_K * (temp_k - ZERO_C_K - 20)) * 2 * one_way_m;
}

bool wire_drop(double amperes, double one_way_m, double area_m2, double system_v, double temp_k, struct wire_drop *out,
               struct err *e)
{
    if (!check_circuit(amperes, one_way_m, system_v, temp_k, e) ||
        !domain_above("section of the wire", area_m2, "mm2", 0, e)) {
        return false;
    }
    double volts = drop_times_area(amperes, one_way_m, temp_k) / area_m2;
    if (!domain_within("voltage lost in the wire", volts, "V", 0, system_v, e)) {
        return false;
    }
    *out = (struct wire_drop){volts, volts / system_v};
    return true;
}

bool wire_section(double amperes, double one_way_m, double system_v, double share, double temp_k, double *area_m2,
                  struct err *e)
{
    static const double series_mm2[] = {0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120};
    if (!check_circuit(amperes, one_way_m, system_v, temp_k, e) ||
        !domain_above("share allowed to be lost", share, "%", 0, e) ||
        !domain_within("share allowed to be lost", share, "%", 0, 0.5, e)) {
        return false;
    }
    double needed = drop_times_area(amperes, one_way_m, temp_k) / (share * system_v);
    for (size_t i = 0; i < COUNT(series_mm2); i++) {
        if (series_mm2[i] * 1e-6 >= needed * (1 - 1e-12)) {
            *area_m2 = series_mm2[i] * 1e-6;
            return true;
        }
    }
    return domain_within("section needed", needed, "mm2", 0, 120e-6, e);
}

bool fuse_choice(double load_a, double factor, double wire_a, const double *series, size_t n, double *minimum_a,
                 double *allowed, size_t *n_allowed, struct err *e)
{
    if (!domain_above("load", load_a, "A", 0, e) || !domain_within("factor over the load", factor, "", 1, 3, e) ||
        !domain_above("rating of the wire", wire_a, "A", 0, e)) {
        return false;
    }
    double minimum = load_a * factor;
    size_t found = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_above("fuse of the series", series[i], "A", 0, e)) {
            return false;
        }
        if (series[i] >= minimum * (1 - 1e-12) && series[i] <= wire_a * (1 + 1e-12)) {
            allowed[found++] = series[i];
        }
    }
    *minimum_a = minimum;
    *n_allowed = found;
    return true;
}
