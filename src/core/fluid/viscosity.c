/* ASTM D341 and what builds on its double logarithm. Inside a formula v is in mm2/s, as the standards print it. */
#include "fluid/viscosity.h"

#include "quantity/domain.h"

#include <math.h>

#define MM2_S 1e-6
#define LOWEST_MM2_S 0.21
#define HIGHEST_MM2_S 2e7

static bool check_viscosity(const char *name, double v_m2s, struct err *e)
{
    return domain_within(name, v_m2s, "mm2/s", LOWEST_MM2_S * MM2_S, HIGHEST_MM2_S * MM2_S, e);
}

/* Z of D341: v + 0.7, and below 2 mm2/s the exponential term that straightens the line. */
static double d341_z(double v)
{
    return v < 2 ? v + 0.7 + exp(-1.47 - 1.84 * v - 0.51 * v * v) : v + 0.7;
}

/* Its inverse by the standard's closed form: v = (Z - 0.7) - exp(-0.7487 - 3.295 (Z-0.7) + 0.6119 (Z-0.7)^2 - 0.3193
 * (Z-0.7)^3), then two Newton steps on d341_z so that forth and back agree. */
static double d341_v(double z)
{
    double u = z - 0.7;
    if (u >= 2) {
        return u;
    }
    double v = u - exp(-0.7487 - 3.295 * u + 0.6119 * u * u - 0.3193 * u * u * u);
    for (int i = 0; i < 4; i++) {
        double term = exp(-1.47 - 1.84 * v - 0.51 * v * v);
        v -= (v + 0.7 + term - z) / (1 + term * (-1.84 - 1.02 * v));
    }
    return v;
}

static double line_temp(struct viscosity_line line, double temp_k)
{
    return temp_k - CELSIUS_ZERO_K + line.zero_k;
}

bool viscosity_fit(struct viscosity_point p, struct viscosity_point q, double zero_k, struct viscosity_line *line,
                   struct err *e)
{
    struct viscosity_line found = {.zero_k = zero_k};
    if (!domain_within("kelvin offset", zero_k, "", 273, 273.16, e) ||
        !domain_within("first temperature", p.temp_k, "degC", 200, 500, e) ||
        !domain_within("second temperature", q.temp_k, "degC", 200, 500, e) ||
        !check_viscosity("first viscosity", p.v_m2s, e) || !check_viscosity("second viscosity", q.v_m2s, e)) {
        return false;
    }
    if (fabs(p.temp_k - q.temp_k) < 0.1 || (p.v_m2s - q.v_m2s) * (q.temp_k - p.temp_k) <= 0) {
        return domain_refuse("the two points give no viscosity line", "two temperatures, the hotter one thinner", e);
    }
    double wp = log10(log10(d341_z(p.v_m2s / MM2_S)));
    double wq = log10(log10(d341_z(q.v_m2s / MM2_S)));
    double tp = log10(line_temp(found, p.temp_k));
    double tq = log10(line_temp(found, q.temp_k));
    found.b = (wp - wq) / (tq - tp);
    found.a = wp + found.b * tp;
    *line = found;
    return true;
}

bool viscosity_at(struct viscosity_line line, double temp_k, double *v_m2s, struct err *e)
{
    if (!domain_within("temperature", temp_k, "degC", 200, 500, e)) {
        return false;
    }
    double z = pow(10, pow(10, line.a - line.b * log10(line_temp(line, temp_k))));
    double v = d341_v(z) * MM2_S;
    if (!check_viscosity("viscosity at that temperature", v, e)) {
        return false;
    }
    *v_m2s = v;
    return true;
}

bool viscosity_temp(struct viscosity_line line, double v_m2s, double *temp_k, struct err *e)
{
    if (!check_viscosity("viscosity", v_m2s, e)) {
        return false;
    }
    double t = pow(10, (line.a - log10(log10(d341_z(v_m2s / MM2_S)))) / line.b) - line.zero_k + CELSIUS_ZERO_K;
    if (!domain_within("temperature of that viscosity", t, "degC", 200, 500, e)) {
        return false;
    }
    *temp_k = t;
    return true;
}

/* ISO 3448 (1992), Table 1: grade and mid-point in mm2/s at 40 degC. */
static const struct {
    int grade;
    double mid;
} vg_rows[] = {
    {2, 2.2},   {3, 3.2},   {5, 4.6},     {7, 6.8},     {10, 10},     {15, 15},     {22, 22},
    {32, 32},   {46, 46},   {68, 68},     {100, 100},   {150, 150},   {220, 220},   {320, 320},
    {460, 460}, {680, 680}, {1000, 1000}, {1500, 1500}, {2200, 2200}, {3200, 3200},
};
#define VG_ROWS (sizeof vg_rows / sizeof *vg_rows)

static struct iso_vg vg_of_row(size_t i)
{
    double mid = vg_rows[i].mid * MM2_S;
    return (struct iso_vg){.grade = vg_rows[i].grade, .low_m2s = 0.9 * mid, .mid_m2s = mid, .high_m2s = 1.1 * mid};
}

bool iso_vg_of(double v40_m2s, struct iso_vg *out, struct err *e)
{
    if (!domain_above("viscosity at 40 degC", v40_m2s, "mm2/s", 0, e)) {
        return false;
    }
    struct iso_vg found = {0};
    for (size_t i = 0; i < VG_ROWS; i++) {
        struct iso_vg row = vg_of_row(i);
        double slack = 1e-12 * row.mid_m2s; /* 50.6 is inside 46 + 10 % although its double is a bit more */
        if (v40_m2s >= row.low_m2s - slack && v40_m2s <= row.high_m2s + slack) {
            *out = row;
            return true;
        }
        if (row.high_m2s < v40_m2s) {
            found.below = row.grade;
        } else if (found.above == 0) {
            found.above = row.grade;
        }
    }
    *out = found;
    return true;
}

bool iso_vg_limits(int grade, struct iso_vg *out, struct err *e)
{
    for (size_t i = 0; i < VG_ROWS; i++) {
        if (vg_rows[i].grade == grade) {
            *out = vg_of_row(i);
            return true;
        }
    }
    return domain_refuse("no such ISO VG grade",
                         "2, 3, 5, 7, 10, 15, 22, 32, 46, 68, 100, 150, 220, 320, 460, 680, 1000, 1500, 2200, 3200", e);
}

/* SAE J300 (January 2015), low-shear viscosity at 100 degC in mm2/s. */
static const struct {
    const char *grade;
    double low, high;
} j300_rows[] = {
    {"8", 4.0, 6.1},   {"12", 5.0, 7.1},   {"16", 6.1, 8.2},   {"20", 6.9, 9.3},
    {"30", 9.3, 12.5}, {"40", 12.5, 16.3}, {"50", 16.3, 21.9}, {"60", 21.9, 26.1},
};
#define J300_ROWS (sizeof j300_rows / sizeof *j300_rows)

/* Bounds are met to twelve digits, so that 12.5 written in mm2/s and turned into m2/s is still the bound. */
static bool in_row(size_t i, double v)
{
    return v >= j300_rows[i].low * (1 - 1e-12) && v < j300_rows[i].high * (1 - 1e-12);
}

bool j300_grades(double v100_m2s, struct j300 *out, struct err *e)
{
    if (!domain_above("viscosity at 100 degC", v100_m2s, "mm2/s", 0, e)) {
        return false;
    }
    struct j300 found = {.n = 0};
    for (size_t i = 0; i < J300_ROWS; i++) {
        if (in_row(i, v100_m2s / MM2_S) && found.n < sizeof found.grades / sizeof *found.grades) {
            found.grades[found.n++] = j300_rows[i].grade;
        }
    }
    *out = found;
    return true;
}

bool j300_in_grade(struct str grade, double v100_m2s, bool *in, struct err *e)
{
    if (!domain_above("viscosity at 100 degC", v100_m2s, "mm2/s", 0, e)) {
        return false;
    }
    for (size_t i = 0; i < J300_ROWS; i++) {
        if (str_eq(grade, str_of(j300_rows[i].grade))) {
            *in = in_row(i, v100_m2s / MM2_S);
            return true;
        }
    }
    return domain_refuse("no such SAE J300 grade", "8, 12, 16, 20, 30, 40, 50, 60", e);
}

bool blend_number(double v_m2s, double *number, struct err *e)
{
    /* ln(v + 0.8) must be positive. */
    if (!domain_above("viscosity", v_m2s, "mm2/s", 0.2 * MM2_S, e) || !check_viscosity("viscosity", v_m2s, e)) {
        return false;
    }
    *number = 14.534 * log(log(v_m2s / MM2_S + 0.8)) + 10.975;
    return true;
}

/* Shares add up to one, viscosities are in range. */
static bool check_parts(const struct blend_part *parts, size_t n, double lowest, struct err *e)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("share of a blend", parts[i].share, "", 0, 1, e) ||
            !domain_within("viscosity of a part", parts[i].v_m2s, "mm2/s", lowest * MM2_S, HIGHEST_MM2_S * MM2_S, e)) {
            return false;
        }
        sum += parts[i].share;
    }
    return domain_within("sum of the shares", sum, "", 1 - 1e-6, 1 + 1e-6, e);
}

bool blend_refutas(const struct blend_part *parts, size_t n, double *v_m2s, struct err *e)
{
    if (!check_parts(parts, n, 0.22, e)) {
        return false;
    }
    double mix = 0;
    for (size_t i = 0; i < n; i++) {
        double number = 0;
        if (!blend_number(parts[i].v_m2s, &number, e)) {
            return false;
        }
        mix += parts[i].share * number;
    }
    *v_m2s = (exp(exp((mix - 10.975) / 14.534)) - 0.8) * MM2_S;
    return true;
}

/* MacCoull-Walther W of a viscosity, with the plain constant 0.7 of the blending method. */
static double walther(double v_m2s)
{
    return log10(log10(v_m2s / MM2_S + 0.7));
}

bool blend_astm(const struct blend_part *parts, size_t n, double *v_m2s, struct err *e)
{
    if (!check_parts(parts, n, 0.31, e)) {
        return false;
    }
    double mix = 0;
    for (size_t i = 0; i < n; i++) {
        mix += parts[i].share * walther(parts[i].v_m2s);
    }
    *v_m2s = (pow(10, pow(10, mix)) - 0.7) * MM2_S;
    return true;
}

bool blend_share(double thick_m2s, double thin_m2s, double mixed_m2s, double *share, struct err *e)
{
    if (!domain_within("viscosity of the thinner part", thin_m2s, "mm2/s", 0.31 * MM2_S, HIGHEST_MM2_S * MM2_S, e) ||
        !domain_within("viscosity of the thicker part", thick_m2s, "mm2/s", thin_m2s * (1 + 1e-9),
                       HIGHEST_MM2_S * MM2_S, e) ||
        !domain_within("viscosity of the mixture (between its parts)", mixed_m2s, "mm2/s", thin_m2s, thick_m2s, e)) {
        return false;
    }
    *share = (walther(thick_m2s) - walther(mixed_m2s)) / (walther(thick_m2s) - walther(thin_m2s));
    return true;
}

static double saybolt(double v)
{
    return 4.6324 * v + (1 + 0.03264 * v) / ((3930.2 + 262.7 * v + 23.97 * v * v + 1.646 * v * v * v) * 1e-5);
}

bool saybolt_seconds(double v_m2s, double *seconds, struct err *e)
{
    if (!domain_within("viscosity", v_m2s, "mm2/s", 1.8 * MM2_S, 1e6 * MM2_S, e)) {
        return false;
    }
    *seconds = saybolt(v_m2s / MM2_S);
    return true;
}

/* The formula rises steadily, so halving finds the place. */
bool saybolt_viscosity(double seconds, double *v_m2s, struct err *e)
{
    double low = 1.8;
    double high = 1e6;
    if (!domain_within("Saybolt universal seconds", seconds, "s", saybolt(low), saybolt(high), e)) {
        return false;
    }
    for (int i = 0; i < 80; i++) {
        double mid = (low + high) / 2;
        if (saybolt(mid) < seconds) {
            low = mid;
        } else {
            high = mid;
        }
    }
    *v_m2s = (low + high) / 2 * MM2_S;
    return true;
}

bool viscosity_in_window(struct viscosity_window w, double v_m2s, enum window_state *state, struct err *e)
{
    if (!domain_above("viscosity", v_m2s, "mm2/s", 0, e) || !domain_above("floor", w.floor_m2s, "mm2/s", 0, e)) {
        return false;
    }
    if (!(w.floor_m2s <= w.optimum_low_m2s && w.optimum_low_m2s <= w.optimum_high_m2s &&
          w.optimum_high_m2s <= w.start_max_m2s)) {
        return domain_refuse("the window's limits do not rise", "floor <= optimum low <= optimum high <= start limit",
                             e);
    }
    *state = v_m2s < w.floor_m2s           ? WINDOW_TOO_THIN
             : v_m2s < w.optimum_low_m2s   ? WINDOW_THIN
             : v_m2s <= w.optimum_high_m2s ? WINDOW_OPTIMUM
             : v_m2s <= w.start_max_m2s    ? WINDOW_THICK
                                           : WINDOW_TOO_THICK;
    return true;
}

const char *window_state_text(enum window_state state)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = text,
        WINDOW_STATES(X)
#undef X
    };
    return words[state];
}
