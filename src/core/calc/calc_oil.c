/* Calculations about oil: viscosity, grades, blends, filters, cleanliness, used oil. */
#include "calc_internal.h"
#include "fluid/cleanliness.h"
#include "fluid/filter.h"
#include "fluid/used_oil.h"
#include "fluid/viscosity.h"

#include "quantity/domain.h"

/* The line through the two points every oil's data sheet gives. */
static bool line_of(const struct calc_call *call, struct viscosity_line *line, struct err *e)
{
    struct viscosity_point p = {in_number(call, "t1"), in_number(call, "v1")};
    struct viscosity_point q = {in_number(call, "t2"), in_number(call, "v2")};
    return viscosity_fit(p, q, in_number_or(call, "zero", CELSIUS_ZERO_K), line, e);
}

static bool run_viscosity(struct calc_call *call, struct err *e)
{
    struct viscosity_line line;
    double v = 0;
    return line_of(call, &line, e) && viscosity_at(line, in_number(call, "at"), &v, e) && out_number(call, "v", v) &&
           out_number(call, "a", line.a) && out_number(call, "b", line.b);
}

static bool run_viscosity_temperature(struct calc_call *call, struct err *e)
{
    struct viscosity_line line;
    double t = 0;
    return line_of(call, &line, e) && viscosity_temp(line, in_number(call, "v"), &t, e) && out_number(call, "t", t);
}

static bool run_viscosity_index(struct calc_call *call, struct err *e)
{
    struct viscosity_index vi;
    return viscosity_index(in_number(call, "v40"), in_number(call, "v100"), &vi, e) &&
           out_number(call, "index", vi.rounded) && out_number(call, "unrounded", vi.unrounded);
}

/* "no grade: between VG 32 and VG 46". */
static struct str between_grades(struct arena *a, struct iso_vg g)
{
    struct text t = text_new(a);
    text_addz(&t, "no grade: ");
    text_addz(&t, g.below && g.above ? "between VG " : g.below ? "above VG " : "below VG ");
    text_int(&t, g.below ? g.below : g.above);
    if (g.below && g.above) {
        text_addz(&t, " and VG ");
        text_int(&t, g.above);
    }
    return text_str(&t);
}

static bool run_iso_grade(struct calc_call *call, struct err *e)
{
    struct iso_vg g;
    if (!iso_vg_of(in_number(call, "v40"), &g, e)) {
        return false;
    }
    return g.grade ? out_number(call, "grade", g.grade)
                   : out_none(call, "grade", str_z(call->a, between_grades(call->a, g)));
}

static bool run_iso_grade_limits(struct calc_call *call, struct err *e)
{
    struct iso_vg g;
    double grade = in_number(call, "grade");
    if (!domain_within("ISO VG grade", grade, "", 2, 3200, e) ||
        !iso_vg_limits(grade == floor(grade) ? (int)grade : 0, &g, e)) {
        return false;
    }
    return out_number(call, "low", g.low_m2s) && out_number(call, "mid", g.mid_m2s) &&
           out_number(call, "high", g.high_m2s);
}

static bool run_engine_grade(struct calc_call *call, struct err *e)
{
    struct j300 found;
    struct text t = text_new(call->a);
    if (!j300_grades(in_number(call, "v100"), &found, e)) {
        return false;
    }
    for (size_t i = 0; i < found.n; i++) {
        text_join(&t, i ? ", " : "", found.grades[i], (char *)0);
    }
    return out_text(call, "grades", text_str(&t));
}

static bool run_blend_number(struct calc_call *call, struct err *e)
{
    double number = 0;
    return blend_number(in_number(call, "v"), &number, e) && out_number(call, "number", number);
}

/* Shares and viscosities side by side. */
static bool run_blend(struct calc_call *call, struct err *e)
{
    size_t n = 0;
    size_t m = 0;
    const double *shares = in_list(call, "shares", &n);
    const double *v = in_list(call, "v", &m);
    if (n != m || n == 0) {
        return domain_refuse("as many shares as viscosities are needed", "shares = 0.5, 0.5  v = 46 mm2/s, 100 mm2/s",
                             e);
    }
    struct blend_part *parts = ARENA_ARRAY(call->a, struct blend_part, n);
    for (size_t i = 0; i < n; i++) {
        parts[i] = (struct blend_part){shares[i], v[i]};
    }
    double mixed = 0;
    struct str method = in_text(call, "method");
    bool refutas = str_eq(method, S("refutas"));
    if (!refutas && !str_eq(method, S("astm"))) {
        return err_set(e, ERR_INPUT, "refutas or astm", "unknown blending method \"", str_z(e->a, method), "\"",
                       (char *)0);
    }
    return (refutas ? blend_refutas(parts, n, &mixed, e) : blend_astm(parts, n, &mixed, e)) &&
           out_number(call, "v", mixed);
}

static bool run_dilution(struct calc_call *call, struct err *e)
{
    double share = 0;
    return blend_share(in_number(call, "fresh"), in_number(call, "fuel"), in_number(call, "used"), &share, e) &&
           out_number(call, "share", share);
}

static bool run_saybolt(struct calc_call *call, struct err *e)
{
    double s = 0;
    return saybolt_seconds(in_number(call, "v"), &s, e) && out_number(call, "seconds", s);
}

static bool run_saybolt_back(struct calc_call *call, struct err *e)
{
    double v = 0;
    return saybolt_viscosity(in_number(call, "seconds"), &v, e) && out_number(call, "v", v);
}

static bool run_window(struct calc_call *call, struct err *e)
{
    struct viscosity_window w = {in_number(call, "floor"), in_number(call, "optimum-low"),
                                 in_number(call, "optimum-high"), in_number(call, "start-most")};
    enum window_state state = WINDOW_OPTIMUM;
    return viscosity_in_window(w, in_number(call, "v"), &state, e) &&
           out_text(call, "state", str_of(window_state_text(state)));
}

/* Density of a point where the oil's is known; 0 leaves densities out. */
static bool density_at(const struct calc_call *call, const char *temperature, double *rho, struct err *e)
{
    *rho = 0;
    return !in_given(call, "density15") || oil_density(in_number(call, "density15"), in_number(call, "expansion"),
                                                       in_number(call, temperature), rho, e);
}

static bool run_filter_drop(struct calc_call *call, struct err *e)
{
    struct filter_flow from = {.v_m2s = in_number(call, "v1"), .flow_m3s = in_number_or(call, "flow1", 0)};
    struct filter_flow to = {.v_m2s = in_number(call, "v2"), .flow_m3s = in_number_or(call, "flow2", 0)};
    double dp = 0;
    return density_at(call, "t1", &from.rho_kgm3, e) && density_at(call, "t2", &to.rho_kgm3, e) &&
           filter_drop(in_number(call, "drop"), from, to, &dp, e) && out_number(call, "drop", dp);
}

/* The viscosity at which a clean element reaches a limit, and the oil temperature that belongs to it. */
static bool run_filter_cold(struct calc_call *call, struct err *e)
{
    double dp = in_number(call, "drop");
    double limit = in_number(call, "limit");
    double v = in_number(call, "v");
    struct viscosity_line line;
    double t = 0;
    if (!domain_above("pressure drop of the clean element", dp, "bar", 0, e) ||
        !domain_above("limit", limit, "bar", 0, e) || !domain_above("viscosity", v, "mm2/s", 0, e) ||
        !line_of(call, &line, e) || !viscosity_temp(line, v * limit / dp, &t, e)) {
        return false;
    }
    return out_number(call, "v", v * limit / dp) && out_number(call, "t", t);
}

static bool run_filter_assembly(struct calc_call *call, struct err *e)
{
    struct filter_assembly f = {in_number(call, "element"), in_number(call, "element-v"), in_number(call, "housing"),
                                in_number(call, "flow-ratio")};
    double dp = 0;
    return filter_assembly_drop(f, in_number(call, "v"), &dp, e) && out_number(call, "drop", dp);
}

/* Three counts, per ml or per 100 ml. */
static bool run_clean_code(struct calc_call *call, struct err *e)
{
    size_t n = 0;
    size_t raw_n = 0;
    const double *counts = in_list(call, "counts", &n);
    const double *raw = in_list(call, "raw", &raw_n);
    double volume = in_number(call, "per");
    struct iso4406 code;
    struct text t = text_new(call->a);
    if (n != 3 || (raw && raw_n != 3)) {
        return domain_refuse("three counts are needed", "counts of at least 4, 6 and 14 um(c)", e);
    }
    if (!domain_above("volume counted in ml", volume, "", 0, e)) {
        return false;
    }
    double per_ml[3] = {counts[0] / volume, counts[1] / volume, counts[2] / volume};
    if (!iso4406_code(per_ml, raw, &code, e)) {
        return false;
    }
    text_iso4406(&t, code);
    return out_text(call, "code", text_str(&t));
}

static bool run_clean_scale(struct calc_call *call, struct err *e)
{
    int scale = 0;
    if (!iso4406_scale(in_number(call, "count"), &scale, e)) {
        return false;
    }
    return scale == ISO4406_OVER ? out_none(call, "scale", ">28: more than the table's last bound")
                                 : out_number(call, "scale", scale);
}

static bool run_clean_range(struct calc_call *call, struct err *e)
{
    double scale = in_number(call, "scale");
    struct iso4406_band band;
    if (!domain_within("scale number", scale, "", 0, 28, e) || scale != floor(scale)) {
        return domain_refuse("a scale number is whole", "0 .. 28", e);
    }
    return iso4406_range((int)scale, &band, e) && out_number(call, "more-than", band.more_than) &&
           out_number(call, "up-to", band.up_to);
}

static bool run_clean_target(struct calc_call *call, struct err *e)
{
    struct iso4406 code;
    struct iso4406 target;
    struct iso4406_check check;
    return iso4406_parse(in_text(call, "code"), &code, e) && iso4406_parse(in_text(call, "target"), &target, e) &&
           iso4406_meets(code, target, &check, e) && out_flag(call, "meets", check.meets) &&
           out_number(call, "worst-excess", check.worst_excess);
}

static bool run_clean_class(struct calc_call *call, struct err *e)
{
    static const char *const sizes[] = {"a", "b", "c", "d", "e", "f"};
    double counts[6];
    int found = 0;
    for (int i = 0; i < 6; i++) {
        counts[i] = in_number_or(call, sizes[i], (double)NAN);
        if (in_given(call, sizes[i]) && isnan(counts[i])) {
            return domain_refuse("a count is not a number", "0 or more", e);
        }
    }
    if (!as4059_class(counts, &found, e)) {
        return false;
    }
    return found > 12  ? out_none(call, "class", "dirtier than class 12")
           : found < 0 ? out_text(call, "class", found == -1 ? S("00") : S("000"))
                       : out_number(call, "class", found);
}

static bool run_wear_rate(struct calc_call *call, struct err *e)
{
    struct wear_rate rate;
    return used_oil_rate(in_number(call, "concentration"), in_number(call, "sump"), in_number(call, "top-up"),
                         in_number(call, "time") / 3600, &rate, e) &&
           out_number(call, "rate", 100 * rate.corrected_per_h) && out_number(call, "naive", 100 * rate.naive_per_h);
}

static bool run_wear_loss(struct calc_call *call, struct err *e)
{
    double equivalent = 0;
    double hours = in_number(call, "time") / 3600;
    return used_oil_equivalent(in_number(call, "sump"), in_number(call, "loss"), in_number(call, "at-loss"),
                               in_number(call, "now"), &equivalent, e) &&
           domain_above("hours on the oil", hours, "", 0, e) && out_number(call, "equivalent", equivalent) &&
           out_number(call, "rate", 100 * equivalent / hours);
}

/* Gain between two samples when the loss was topped up just after the first. */
static bool run_wear_between(struct calc_call *call, struct err *e)
{
    double first = in_number(call, "first");
    double second = 0;
    return used_oil_equivalent(in_number(call, "sump"), in_number(call, "loss"), first, in_number(call, "second"),
                               &second, e) &&
           out_number(call, "gain", second - first);
}

static bool run_oil_limits(struct calc_call *call, struct err *e)
{
    size_t n = 0;
    size_t kn = 0;
    const double *values = in_list(call, "values", &n);
    const double *k = in_list(call, "k", &kn);
    struct used_oil_statistics s;
    if (!used_oil_statistics(values, n, &s, e)) {
        return false;
    }
    double *limits = ARENA_ARRAY(call->a, double, kn + 1);
    for (size_t i = 0; i < kn; i++) {
        if (!domain_within("number of standard deviations", k[i], "", -10, 10, e)) {
            return false;
        }
        limits[i] = s.mean + k[i] * s.deviation;
    }
    return out_number(call, "mean", s.mean) && out_number(call, "deviation", s.deviation) &&
           out_list(call, "limits", limits, kn);
}

static bool run_oil_change(struct calc_call *call, struct err *e)
{
    double share = 0;
    return used_oil_change(in_number(call, "fresh"), in_number(call, "used"), &share, e) &&
           out_number(call, "change", share);
}

static bool run_oil_limit(struct calc_call *call, struct err *e)
{
    double value = in_number(call, "value");
    double limit = in_number(call, "limit");
    return domain_within("value", value, "", 0, 1e12, e) && domain_within("limit", limit, "", 0, 1e12, e) &&
           out_text(call, "state", value > limit ? S("over limit") : S("within limit"));
}

#define VISCOSITY(name, meaning) NUMBER(name, Q_KINEMATIC_VISCOSITY, "mm2/s", meaning)
#define KELVIN(name, meaning) NUMBER(name, Q_TEMPERATURE, "degC", meaning)
#define DROP(name, meaning) NUMBER(name, Q_PRESSURE, "bar", meaning)
#define LITRE(name, meaning) NUMBER(name, Q_VOLUME, "L", meaning)
#define PPM(name, meaning) NUMBER(name, Q_NONE, "ppm", meaning)
#define COUNT_OPTIONAL(name, size) PRESET(name, Q_NONE, "per 100 ml", "particles larger than " size " um(c)", "")
#define POINTS                                                                                   \
    PRESET("t1", Q_TEMPERATURE, "degC", "first temperature of the data sheet", "40 degC"),       \
        VISCOSITY("v1", "viscosity there"),                                                      \
        PRESET("t2", Q_TEMPERATURE, "degC", "second temperature of the data sheet", "100 degC"), \
        VISCOSITY("v2", "viscosity there"),                                                      \
        PRESET("zero", Q_NONE, "K", "kelvin offset of the line; older sheets use 273", "273.15")
#define D341 "log10 log10 (v + 0.7) = A - B log10 (t + 273.15), full form below 2 mm2/s"

const struct calc calc_oil[] = {
    {"viscosity",
     "Viscosity of an oil at a temperature",
     D341,
     "ASTM D341",
     {POINTS, KELVIN("at", "temperature")},
     {VISCOSITY("v", "viscosity"), NUMBER("a", Q_NONE, NULL, "A of the line"),
      NUMBER("b", Q_NONE, NULL, "B of the line")},
     run_viscosity},
    {"viscosity-temperature",
     "Temperature at which an oil has a viscosity",
     D341,
     "ASTM D341",
     {POINTS, VISCOSITY("v", "viscosity wanted")},
     {KELVIN("t", "temperature")},
     run_viscosity_temperature},
    {"viscosity-index",
     "Viscosity index",
     "VI = 100 (L - U)/(L - H), or (10^N - 1)/0.00715 + 100 where U < H",
     "ASTM D2270, table 1",
     {VISCOSITY("v40", "viscosity at 40 degC"), VISCOSITY("v100", "viscosity at 100 degC")},
     {NUMBER("index", Q_NONE, NULL, "viscosity index"), NUMBER("unrounded", Q_NONE, NULL, "before rounding")},
     run_viscosity_index},
    {"iso-grade",
     "ISO viscosity grade of a hydraulic oil",
     "mid-point +/- 10 %, inclusive; the grades leave gaps",
     "ISO 3448",
     {VISCOSITY("v40", "viscosity at 40 degC")},
     {NUMBER("grade", Q_NONE, NULL, "ISO VG")},
     run_iso_grade},
    {"iso-grade-limits",
     "Limits of an ISO viscosity grade",
     "mid-point +/- 10 %",
     "ISO 3448",
     {NUMBER("grade", Q_NONE, NULL, "ISO VG")},
     {VISCOSITY("low", "lowest at 40 degC"), VISCOSITY("mid", "mid-point"), VISCOSITY("high", "highest")},
     run_iso_grade_limits},
    {"engine-oil-grade",
     "Engine-oil grades of a viscosity at 100 degC",
     "lower bound inclusive, upper exclusive; they overlap below 30",
     "SAE J300 (January 2015)",
     {VISCOSITY("v100", "viscosity at 100 degC")},
     {TEXT("grades", "grades that hold it")},
     run_engine_grade},
    {"blend-number",
     "Viscosity blending number",
     "VBN = 14.534 ln ln (v + 0.8) + 10.975",
     "Refutas; Maples, Petroleum Refinery Process Economics",
     {VISCOSITY("v", "viscosity")},
     {NUMBER("number", Q_NONE, NULL, "blending number")},
     run_blend_number},
    {"blend",
     "Viscosity of a blend",
     "blending numbers weighted by share (refutas: by mass; astm: by volume)",
     "Maples, Petroleum Refinery Process Economics; ASTM D7152",
     {LIST("shares", Q_RATIO, "%", "shares of the parts, adding up to 1"),
      LIST("v", Q_KINEMATIC_VISCOSITY, "mm2/s", "their viscosities at one temperature"),
      {"method", CALC_TEXT, Q_NONE, NULL, "refutas or astm", "refutas"}},
     {VISCOSITY("v", "viscosity of the blend")},
     run_blend},
    {"fuel-dilution",
     "Fuel in an engine oil from its viscosity",
     "share by which the blend of oil and fuel has the used oil's viscosity; good to about 1 %",
     "ASTM D7152 blending",
     {VISCOSITY("fresh", "new oil at 40 degC"), VISCOSITY("used", "used oil at 40 degC"),
      PRESET("fuel", Q_KINEMATIC_VISCOSITY, "mm2/s", "fuel at 40 degC", "3 mm2/s")},
     {NUMBER("share", Q_RATIO, "%", "share of fuel")},
     run_dilution},
    {"saybolt",
     "Saybolt universal seconds of a viscosity",
     "SUS = 4.6324 v + (1 + 0.03264 v)/((3930.2 + 262.7 v + 23.97 v^2 + 1.646 v^3) 1e-5)",
     "ASTM D2161, from memory",
     {VISCOSITY("v", "viscosity at 100 degF")},
     {NUMBER("seconds", Q_DURATION, "s", "SUS")},
     run_saybolt},
    {"saybolt-viscosity",
     "Viscosity of Saybolt universal seconds",
     "the formula of saybolt, inverted",
     "ASTM D2161, from memory",
     {NUMBER("seconds", Q_DURATION, "s", "SUS at 100 degF")},
     {VISCOSITY("v", "viscosity")},
     run_saybolt_back},
    {"pump-window",
     "Where a viscosity stands in a pump's window",
     "floor <= optimum <= start limit",
     "the pump maker's figures, entered",
     {VISCOSITY("v", "viscosity"), VISCOSITY("floor", "lowest allowed"),
      VISCOSITY("optimum-low", "lowest of the optimum"), VISCOSITY("optimum-high", "highest of the optimum"),
      VISCOSITY("start-most", "highest for a start")},
     {TEXT("state", "where it stands")},
     run_window},
    {"filter-drop",
     "Pressure drop of a filter element at another viscosity",
     "dp2 = dp1 (v2 rho2 Q2)/(v1 rho1 Q1)",
     "Darcy's law; filter makers state the same",
     {DROP("drop", "measured pressure drop"), VISCOSITY("v1", "viscosity at the reading"),
      VISCOSITY("v2", "reference viscosity"), PRESET("flow1", Q_FLOW, "L/min", "flow at the reading", ""),
      PRESET("flow2", Q_FLOW, "L/min", "reference flow", ""),
      PRESET("t1", Q_TEMPERATURE, "degC", "oil temperature at the reading, for its density", ""),
      PRESET("t2", Q_TEMPERATURE, "degC", "reference temperature, for its density", ""),
      PRESET("density15", Q_DENSITY, "kg/m3", "density at 15 degC; left out = kinematic ratio", ""),
      PRESET("expansion", Q_NONE, "1/K", "thermal expansion; usual figure from memory", "0.00064")},
     {DROP("drop", "pressure drop at the reference")},
     run_filter_drop},
    {"filter-cold",
     "Oil temperature below which a clean element trips its indicator",
     "v = v_ref limit / dp, then ASTM D341",
     "Darcy's law; ASTM D341",
     {DROP("drop", "drop of the clean element"), VISCOSITY("v", "at this viscosity"),
      DROP("limit", "indicator or bypass setting"), POINTS},
     {VISCOSITY("v", "viscosity at the limit"), KELVIN("t", "oil temperature at the limit")},
     run_filter_cold},
    {"filter-assembly",
     "Pressure drop of element and housing",
     "element (v/v0)(Q/Q0) + housing (Q/Q0)^2",
     "filter makers",
     {DROP("element", "drop of the element"), VISCOSITY("element-v", "at this viscosity"),
      DROP("housing", "drop of the housing"), VISCOSITY("v", "viscosity now"),
      PRESET("flow-ratio", Q_NONE, NULL, "flow over the stated flow", "1")},
     {DROP("drop", "both together")},
     run_filter_assembly},
    {"cleanliness-code",
     "ISO 4406 code of particle counts",
     "each count's band: more than, up to and including; >= under 20 counted",
     "ISO 4406:2017, table 1",
     {LIST("counts", Q_NONE, NULL, "cumulative counts of at least 4, 6 and 14 um(c)"),
      PRESET("per", Q_NONE, "ml", "volume the counts are for", "1"),
      {"raw", CALC_LIST, Q_NONE, NULL, "particles actually counted", ""}},
     {TEXT("code", "code")},
     run_clean_code},
    {"cleanliness-scale",
     "ISO 4406 scale number of a count",
     "more than the lower, up to and including the upper bound",
     "ISO 4406:2017, table 1",
     {NUMBER("count", Q_NONE, "per ml", "particles per ml")},
     {NUMBER("scale", Q_NONE, NULL, "scale number")},
     run_clean_scale},
    {"cleanliness-range",
     "Counts of an ISO 4406 scale number",
     "the table's band",
     "ISO 4406:2017, table 1",
     {NUMBER("scale", Q_NONE, NULL, "scale number")},
     {NUMBER("more-than", Q_NONE, "per ml", "more than"), NUMBER("up-to", Q_NONE, "per ml", "up to and including")},
     run_clean_range},
    {"cleanliness-target",
     "An ISO 4406 code against its target",
     "each number at or below its target",
     "field by field",
     {TEXT("code", "code found"), TEXT("target", "code wanted")},
     {FLAG("meets", "at or below the target"), NUMBER("worst-excess", Q_NONE, NULL, "largest excess over the target")},
     run_clean_target},
    {"cleanliness-class",
     "SAE AS4059 cumulative class",
     "highest class over the sizes given",
     "SAE AS4059 rev E",
     {COUNT_OPTIONAL("a", "4"), COUNT_OPTIONAL("b", "6"), COUNT_OPTIONAL("c", "14"), COUNT_OPTIONAL("d", "21"),
      COUNT_OPTIONAL("e", "38"), COUNT_OPTIONAL("f", "70")},
     {NUMBER("class", Q_NONE, NULL, "class")},
     run_clean_class},
    {"wear-rate",
     "Wear rate from a metal concentration with top-ups",
     "r = C (q/V)/(1 - exp(-q t/V)); burnt oil leaves its metal: C/t",
     "mass balance on a constant sump",
     {PPM("concentration", "metal found"), LITRE("sump", "volume of the sump"),
      LITRE("top-up", "clean oil added per hour"), NUMBER("time", Q_DURATION, "h", "hours on the oil")},
     {NUMBER("rate", Q_NONE, "ppm per 100 h", "if lost oil took its metal along"),
      NUMBER("naive", Q_NONE, "ppm per 100 h", "if the oil was burnt")},
     run_wear_rate},
    {"wear-after-loss",
     "Wear after one loss made good with clean oil",
     "C + C_loss loss/V",
     "mass balance",
     {LITRE("sump", "volume of the sump"), LITRE("loss", "volume lost and replaced"),
      PPM("at-loss", "concentration then"), PPM("now", "concentration now"),
      NUMBER("time", Q_DURATION, "h", "hours on the oil")},
     {PPM("equivalent", "what it would be without the loss"), NUMBER("rate", Q_NONE, "ppm per 100 h", "wear rate")},
     run_wear_loss},
    {"wear-between",
     "Metal gained between two samples with a top-up after the first",
     "C2 + C1 loss/V - C1",
     "mass balance",
     {LITRE("sump", "volume of the sump"), LITRE("loss", "volume replaced after the first"),
      PPM("first", "first sample"), PPM("second", "second sample")},
     {PPM("gain", "gained between them")},
     run_wear_between},
    {"oil-limits",
     "Limits of a wear metal from a fleet's samples",
     "mean + k s, sample standard deviation, at least 10 samples",
     "idea of ASTM D7720 for normal data in control; the minimum is a choice",
     {LIST("values", Q_NONE, "ppm", "results of one family"),
      {"k", CALC_LIST, Q_NONE, NULL, "standard deviations above the mean", "2, 3"}},
     {PPM("mean", "mean"), PPM("deviation", "standard deviation"), LIST("limits", Q_NONE, "ppm", "limits")},
     run_oil_limits},
    {"oil-change",
     "Change of an oil's property",
     "(used - new)/new",
     "arithmetic",
     {NUMBER("fresh", Q_NONE, NULL, "new oil"), NUMBER("used", Q_NONE, NULL, "used oil, same unit")},
     {NUMBER("change", Q_RATIO, "%", "change")},
     run_oil_change},
    {"oil-limit",
     "A result against the limit you enter",
     "value > limit",
     "the limit's own source, entered: none is built in",
     {NUMBER("value", Q_NONE, NULL, "result"), NUMBER("limit", Q_NONE, NULL, "limit, same unit")},
     {TEXT("state", "over or within")},
     run_oil_limit},
};
const size_t calc_oil_count = sizeof calc_oil / sizeof *calc_oil;
