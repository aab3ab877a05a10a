/* Geometry of belts and chains, and the Tribology Handbook's grease formulas. */
#include "drive/drive.h"

#include "quantity/domain.h"

#include <math.h>

#define PI 3.14159265358979323846
#define GREASE_BASE_K 343.15 /* 70 degC */

bool belt_span(double centre_m, double large_m, double small_m, double *span_m, struct err *e)
{
    if (!domain_above("centre distance", centre_m, "mm", 0, e) || !domain_above("large pulley", large_m, "mm", 0, e) ||
        !domain_above("small pulley", small_m, "mm", 0, e) ||
        !domain_within("pulley radii together (smaller than the centre distance)", (large_m + small_m) / 2, "mm", 0,
                       centre_m, e)) {
        return false;
    }
    double half = (large_m - small_m) / 2;
    *span_m = sqrt(centre_m * centre_m - half * half);
    return true;
}

bool belt_deflection(double span_m, double *deflection_m, struct err *e)
{
    if (!domain_above("span", span_m, "mm", 0, e)) {
        return false;
    }
    *deflection_m = span_m / 64;
    return true;
}

bool belt_force(double force_n, double used_n, double new_n, enum belt_state *state, struct err *e)
{
    if (!domain_within("deflection force", force_n, "N", 0, 1e5, e) ||
        !domain_above("run-in force", used_n, "N", 0, e) ||
        !domain_within("force of a new belt", new_n, "N", 0, 1e5, e) ||
        !domain_within("run-in force (no more than the new belt's)", used_n, "N", 0, new_n, e)) {
        return false;
    }
    *state = force_n < used_n * (1 - 1e-12) ? BELT_SLACK : force_n > new_n * (1 + 1e-12) ? BELT_TIGHT : BELT_GOOD;
    return true;
}

const char *belt_state_text(enum belt_state state)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = text,
        BELT_STATES(X)
#undef X
    };
    return words[state];
}

bool belt_tension(double force_n, double span_m, double deflection_m, double *tension_n, struct err *e)
{
    if (!domain_within("deflection force", force_n, "N", 0, 1e5, e) || !domain_above("span", span_m, "mm", 0, e) ||
        !domain_above("deflection", deflection_m, "mm", 0, e) ||
        !domain_within("deflection", deflection_m, "mm", 0, span_m / 10, e)) {
        return false;
    }
    *tension_n = force_n * span_m / (4 * deflection_m);
    return true;
}

bool chain_elongation(double pitches, double pitch_m, double measured_m, double *share, struct err *e)
{
    if (!domain_within("number of pitches", pitches, "", 1, 1e4, e) || !domain_above("pitch", pitch_m, "mm", 0, e) ||
        !domain_above("measured length", measured_m, "mm", 0, e)) {
        return false;
    }
    double found = measured_m / (pitches * pitch_m) - 1;
    if (!domain_within("elongation (count the pitches again)", found, "%", -0.01, 0.2, e)) {
        return false;
    }
    *share = found;
    return true;
}

bool chain_limit(double teeth, bool fixed_centres, double *share, struct err *e)
{
    if (teeth != 0 && !domain_within("teeth of the largest sprocket", teeth, "", 5, 1000, e)) {
        return false;
    }
    double limit = teeth > 0 ? fmin(0.03, 2 / teeth) : 0.03;
    *share = fixed_centres ? fmin(0.015, limit) : limit;
    return true;
}

bool grease_quantity(double outside_m, double width_m, double *kg, struct err *e)
{
    if (!domain_above("outside diameter", outside_m, "mm", 0, e) ||
        !domain_within("outside diameter", outside_m, "mm", 0, 3, e) || !domain_above("width", width_m, "mm", 0, e) ||
        !domain_within("width", width_m, "mm", 0, 1, e)) {
        return false;
    }
    *kg = 0.005e-3 * (outside_m * 1e3) * (width_m * 1e3);
    return true;
}

bool grease_interval(double k, double speed_rad_s, double bore_m, double *hours, struct err *e)
{
    if (!domain_within("bearing factor k (10 ball, 5 cylindrical, 1 spherical or taper)", k, "", 1, 10, e) ||
        !domain_above("speed", speed_rad_s, "rpm", 0, e) || !domain_above("bore", bore_m, "mm", 0, e)) {
        return false;
    }
    double n = speed_rad_s * 60 / (2 * PI);
    double d = bore_m * 1e3;
    double found = k * (14e6 / (n * sqrt(d)) - 4 * d);
    if (!(found > 0)) {
        return domain_refuse("outside the formula: too fast or too large a bearing, the result would be negative",
                             "the bearing maker's own interval", e);
    }
    *hours = found;
    return true;
}

bool grease_interval_at(double hours, double bearing_k, double *corrected, struct err *e)
{
    if (!domain_above("interval in hours", hours, "", 0, e) ||
        !domain_within("bearing temperature", bearing_k, "degC", 220, 423.15, e)) {
        return false;
    }
    *corrected = bearing_k > GREASE_BASE_K ? hours * pow(0.5, (bearing_k - GREASE_BASE_K) / 15) : hours;
    return true;
}

bool grease_strokes(double grease_kg, double stroke_kg, double *strokes, struct err *e)
{
    if (!domain_within("grease", grease_kg, "g", 0, 100, e) ||
        !domain_above("grease per stroke", stroke_kg, "g", 0, e)) {
        return false;
    }
    *strokes = ceil(grease_kg / stroke_kg - 1e-9);
    return true;
}
