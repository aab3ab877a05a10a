/* What each correction computes: fetch the inputs, call the formula, say how. */
#include "drive/drive.h"
#include "electric/electric.h"
#include "fastener/fastener.h"
#include "fluid/coolant.h"
#include "fluid/filter.h"
#include "fluid/level.h"
#include "fluid/viscosity.h"
#include "judge/correction.h"
#include "tyre/tyre.h"

#include <math.h>

#define REST_LEAST_S (4 * 3600.0)          /* common practice, no source: surface charge has gone after some hours */
#define ACID_REFERENCE_K 299.8166666666667 /* 80 degF, where the table of charge holds */
#define ACID_FACTOR_PER_K 0.0007           /* electric.h */
#define GAIN_MOST 0.1 /* of the volume between the marks: what misreading a dipstick can be; no source */
#define COLD_K (CELSIUS_ZERO_K + 20)

/* One correction at work. */
struct work {
    const struct book *b;
    const struct book_checkpoint *c;
    const struct correction_rule *rule;
    enum quantity_kind read;
    double si;
    const struct judge_with *with;
    int n_with;
    const struct judge_with *given; /* the book's figures */
    struct corrected out;
    struct err e;
};

static bool fail(struct work *w, const char *what)
{
    w->out.ok = false;
    struct text t = text_new(w->e.a);
    text_addz(&t, what);
    w->out.how = text_str(&t);
    return false;
}

/* A formula refused: its own words, which name the range. */
static bool refused(struct work *w)
{
    w->out.ok = false;
    w->out.how = err_text(w->e.a, &w->e);
    return false;
}

static double si_of(const struct quantity *q)
{
    return q->unit ? unit_to_si(q->unit, q->value) : q->value;
}

/* The value of an input, NaN when it is not there and need not be. False when it must be, or is of another kind. */
static bool fetch(struct work *w, const char *name, double *si)
{
    const struct correction_input *input = w->rule->inputs;
    while (!str_eq(str_of(input->name), str_of(name))) {
        input++;
    }
    enum quantity_kind kind = input->same ? w->read : input->kind;
    const struct judge_with *from = w->with;
    int i = correction_match(w->rule, input, w->read, w->with, w->n_with);
    if (i < 0) {
        from = w->given;
        i = correction_match(w->rule, input, w->read, w->given, w->c->n_given);
    }
    *si = (double)NAN;
    if (i < 0) {
        return !correction_needs(input, w->read) || fail(w, input->missing);
    }
    const struct quantity *q = &from[i].value;
    if ((q->unit ? q->unit->kind : Q_NONE) != kind) {
        struct text t = text_new(w->e.a);
        text_add(&t, from[i].name);
        text_join(&t, " is a ", quantity_kind_text(q->unit ? q->unit->kind : Q_NONE), ", it should be a ",
                  quantity_kind_text(kind), (char *)0);
        return fail(w, text_z(&t));
    }
    *si = si_of(q);
    if (!isfinite(*si)) {
        struct text t = text_new(w->e.a);
        text_add(&t, from[i].name);
        text_addz(&t, " is no number");
        return fail(w, text_z(&t));
    }
    return true;
}

/* ---- words ---- */

static void add_celsius(struct text *t, double kelvin)
{
    text_number(t, kelvin - CELSIUS_ZERO_K, 1);
    text_addz(t, " °C");
}

/* A value of a kind in a unit, with the decimals that unit deserves. */
static void add_in(struct text *t, double si, const char *unit)
{
    const struct unit *u = unit_find(str_of(unit));
    text_quantity(t, (struct quantity){unit_from_si(u, si), u});
}

static bool done(struct work *w, double si, struct text *how)
{
    w->out = (struct corrected){.ok = true, .si = si, .how = text_str(how)};
    return true;
}

/* ---- pressures ---- */

/* The air around: as read, or that of the altitude, or the standard's. */
static bool atmosphere(struct work *w, double *pa)
{
    double altitude_m = 0;
    if (!fetch(w, "atmosphere", pa) || !fetch(w, "altitude", &altitude_m)) {
        return false;
    }
    if (isfinite(*pa)) {
        return true;
    }
    *pa = STANDARD_ATMOSPHERE_PA;
    return !isfinite(altitude_m) || atmosphere_pressure(altitude_m, pa, &w->e) || refused(w);
}

static bool cold(struct work *w)
{
    struct tyre_place from = {0};
    double si = 0;
    if (!fetch(w, "temperature", &from.temp_k) || !atmosphere(w, &from.ambient_pa)) {
        return false;
    }
    struct tyre_place to = {w->c->reference_k, from.ambient_pa};
    if (!tyre_pressure(w->si, from, to, &si, &w->e)) {
        return refused(w);
    }
    struct text how = text_new(w->e.a);
    text_addz(&how, "brought from ");
    add_celsius(&how, from.temp_k);
    text_addz(&how, " to ");
    add_celsius(&how, to.temp_k);
    text_addz(&how, " by the gas law at constant volume, atmosphere ");
    text_number(&how, from.ambient_pa / 100, 0);
    text_addz(&how, " hPa");
    return done(w, si, &how);
}

/* Viscosity of the book's fluid at a temperature, from its two given points. */
static bool fluid_viscosity(const struct book_fluid *fluid, double kelvin, double *v_m2s, struct err *e)
{
    struct viscosity_line line;
    struct viscosity_point at40 = {CELSIUS_ZERO_K + 40, fluid->viscosity_40_m2s};
    struct viscosity_point at100 = {CELSIUS_ZERO_K + 100, fluid->viscosity_100_m2s};
    return viscosity_fit(at40, at100, CELSIUS_ZERO_K, &line, e) && viscosity_at(line, kelvin, v_m2s, e);
}

static bool viscosity(struct work *w)
{
    double temp_k = 0;
    if (!fetch(w, "temperature", &temp_k)) {
        return false;
    }
    int i = w->c->reference_fluid;
    if (i == BOOK_NONE || !(w->b->fluids[i].viscosity_40_m2s > 0) || !(w->b->fluids[i].viscosity_100_m2s > 0)) {
        return fail(w, "the book does not give the fluid's viscosity at 40 °C and 100 °C");
    }
    const struct book_fluid *fluid = &w->b->fluids[i];
    struct filter_flow from = {0};
    struct filter_flow to = {0};
    double si = 0;
    if (!fluid_viscosity(fluid, temp_k, &from.v_m2s, &w->e) ||
        !fluid_viscosity(fluid, w->c->reference_k, &to.v_m2s, &w->e) || !filter_drop(w->si, from, to, &si, &w->e)) {
        return refused(w);
    }
    struct text how = text_new(w->e.a);
    text_addz(&how, "oil at ");
    add_celsius(&how, temp_k);
    text_addz(&how, " has ");
    text_number(&how, from.v_m2s * 1e6, 0);
    text_addz(&how, " mm²/s, at ");
    add_celsius(&how, w->c->reference_k);
    text_char(&how, ' ');
    text_number(&how, to.v_m2s * 1e6, 0);
    text_addz(&how, " mm²/s (ASTM D341); the drop is laminar and goes with viscosity");
    return done(w, si, &how);
}

/* ---- battery, charging, cranking ---- */

/* Whether a battery has rested; adds how long to `how`. */
static bool rested(struct work *w, struct text *how)
{
    double rest_s = 0;
    if (!fetch(w, "rest", &rest_s)) {
        return false;
    }
    if (rest_s < REST_LEAST_S) {
        (void)fail(w, "the battery has not rested for 4 h: its surface charge would be read");
        w->out.not_rested = true;
        return false;
    }
    text_addz(how, "rested ");
    text_number(how, rest_s / 3600, 1);
    text_addz(how, " h");
    return true;
}

/* Specific gravity at a reference temperature. */
static bool gravity(struct work *w, double reference_k, double *sg, struct text *how)
{
    double temp_k = 0;
    if (!fetch(w, "temperature", &temp_k)) {
        return false;
    }
    if (!gravity_corrected(w->si, temp_k, reference_k, ACID_FACTOR_PER_K, sg, &w->e)) {
        return refused(w);
    }
    text_addz(how, "acid brought from ");
    add_celsius(how, temp_k);
    text_addz(how, " to ");
    add_celsius(how, reference_k);
    text_addz(how, ", 0.0007 per K");
    return true;
}

static bool battery(struct work *w)
{
    struct text how = text_new(w->e.a);
    double si = w->si;
    if (w->read == Q_NONE) {
        return gravity(w, w->c->reference_k, &si, &how) && done(w, si, &how);
    }
    if (!rested(w, &how)) {
        return false;
    }
    text_addz(&how, "; rest voltage is taken as read");
    return done(w, si, &how);
}

/* The system's voltage, 12 V when the book does not say. */
static bool system_voltage(struct work *w, double *volts)
{
    if (!fetch(w, "system", volts)) {
        return false;
    }
    *volts = isfinite(*volts) ? *volts : 12;
    return *volts == 12 || *volts == 24 || fail(w, "the system's voltage is neither 12 V nor 24 V");
}

static bool charge(struct work *w)
{
    struct text how = text_new(w->e.a);
    struct charge found = {0};
    double sg = 0;
    double system_v = 12;
    bool by_voltage = w->read == Q_VOLTAGE;
    if (by_voltage ? !rested(w, &how) || !system_voltage(w, &system_v) : !gravity(w, ACID_REFERENCE_K, &sg, &how)) {
        return false;
    }
    if (by_voltage ? !charge_of_voltage(w->si, system_v, &found, &w->e) : !charge_of_gravity(sg, &found, &w->e)) {
        return refused(w);
    }
    if (!found.known) {
        return fail(w, found.why);
    }
    text_addz(&how, "; ");
    text_number(&how, by_voltage ? w->si : sg, by_voltage ? 2 : 3);
    text_addz(&how, by_voltage ? " V" : "");
    text_addz(&how, " is a state of charge of ");
    text_number(&how, found.share * 100, 0);
    text_addz(&how, " % by the table of a flooded battery");
    return done(w, found.share, &how);
}

/* Voltages while charging and cranking go down or up with the temperature; moved to the reference by what the maker's
 * window moves. */
static bool window_shift(struct work *w, bool cranking)
{
    double temp_k = 0;
    double system_v = 0;
    struct voltage_window here = {0};
    struct voltage_window there = {0};
    if (!fetch(w, "temperature", &temp_k) || !system_voltage(w, &system_v)) {
        return false;
    }
    double part = system_v / 12;
    struct charging window = charging_12v;
    window.nominal_v *= part;
    window.slope_v_per_k *= part;
    bool ok = cranking ? cranking_window(system_v, temp_k, w->si, &here, &w->e) &&
                             cranking_window(system_v, w->c->reference_k, w->si, &there, &w->e)
                       : charging_window(window, temp_k, w->si, &here, &w->e) &&
                             charging_window(window, w->c->reference_k, w->si, &there, &w->e);
    if (!ok) {
        return refused(w);
    }
    double shift = there.low_v - here.low_v;
    struct text how = text_new(w->e.a);
    text_addz(&how, "read at ");
    add_celsius(&how, temp_k);
    text_addz(&how, cranking ? ", where the floor is " : ", where the regulator's middle is ");
    text_number(&how, cranking ? here.low_v : (here.low_v + here.high_v) / 2, 2);
    text_addz(&how, " V; at ");
    add_celsius(&how, w->c->reference_k);
    text_addz(&how, " it is ");
    text_number(&how, cranking ? there.low_v : (there.low_v + there.high_v) / 2, 2);
    text_addz(&how, " V: moved by ");
    text_addz(&how, shift > 0 ? "+" : "");
    text_number(&how, shift, 2);
    text_addz(&how, " V");
    return done(w, w->si + shift, &how);
}

static bool charging(struct work *w)
{
    return window_shift(w, false);
}

static bool cranking(struct work *w)
{
    return window_shift(w, true);
}

/* ---- coolant ---- */

/* The share of glycol: as a refractometer shows it, or by a hydrometer. */
static bool glycol_share(struct work *w, enum glycol glycol, double *share, struct text *how)
{
    *share = w->si;
    double temp_k = 0;
    if (w->read != Q_RATIO) {
        if (!fetch(w, "temperature", &temp_k)) {
            return false;
        }
        if (!coolant_share(glycol, w->si, temp_k, share, &w->e)) {
            return refused(w);
        }
        text_addz(how, "hydrometer at ");
        add_celsius(how, temp_k);
        text_addz(how, ": ");
    }
    text_number(how, *share * 100, 0);
    text_join(how, " % ", glycol == GLYCOL_ETHYLENE ? "ethylene" : "propylene", " glycol by volume", (char *)0);
    return true;
}

static bool freezing(struct work *w)
{
    enum glycol glycol = w->c->propylene ? GLYCOL_PROPYLENE : GLYCOL_ETHYLENE;
    struct text how = text_new(w->e.a);
    double share = 0;
    double temp_k = 0;
    if (!glycol_share(w, glycol, &share, &how)) {
        return false;
    }
    if (!coolant_freezing(glycol, share, &temp_k, &w->e)) {
        return refused(w);
    }
    text_addz(&how, " freezes at ");
    text_number(&how, temp_k - CELSIUS_ZERO_K, 0);
    text_addz(&how, " °C; published tables differ by 1 to 2 K");
    return done(w, temp_k, &how);
}

static bool boiling(struct work *w)
{
    enum glycol glycol = w->c->propylene ? GLYCOL_PROPYLENE : GLYCOL_ETHYLENE;
    struct text how = text_new(w->e.a);
    double share = 0;
    double cap_pa = 0;
    double ambient_pa = 0;
    double temp_k = 0;
    if (!fetch(w, "cap", &cap_pa) || !atmosphere(w, &ambient_pa) || !glycol_share(w, glycol, &share, &how)) {
        return false;
    }
    if (!coolant_boiling(glycol, share, cap_pa, ambient_pa, &temp_k, &w->e)) {
        return refused(w);
    }
    text_addz(&how, " under a cap of ");
    add_in(&how, cap_pa, "bar");
    text_addz(&how, " and an atmosphere of ");
    text_number(&how, ambient_pa / 100, 0);
    text_addz(&how, " hPa boils at ");
    text_number(&how, temp_k - CELSIUS_ZERO_K, 0);
    text_addz(&how, " °C, within about 2 K");
    return done(w, temp_k, &how);
}

/* ---- belts, chains, nuts ---- */

static bool tension(struct work *w)
{
    double span_m = 0;
    double force_n = w->si;
    double deflection_m = w->si;
    double tension_n = 0;
    bool by_length = w->read == Q_LENGTH;
    if (!fetch(w, "span", &span_m) ||
        !fetch(w, by_length ? "force" : "deflection", by_length ? &force_n : &deflection_m)) {
        return false;
    }
    if (!belt_tension(force_n, span_m, deflection_m, &tension_n, &w->e)) {
        return refused(w);
    }
    struct text how = text_new(w->e.a);
    add_in(&how, force_n, "N");
    text_addz(&how, " in the middle of a span of ");
    add_in(&how, span_m, "mm");
    text_addz(&how, " pressed it ");
    add_in(&how, deflection_m, "mm");
    text_addz(&how, ": tension F L / (4 q)");
    return done(w, tension_n, &how);
}

static bool elongation(struct work *w)
{
    double pitch_m = 0;
    double pitches = 0;
    double share = 0;
    if (!fetch(w, "pitch", &pitch_m) || !fetch(w, "pitches", &pitches)) {
        return false;
    }
    if (!chain_elongation(pitches, pitch_m, w->si, &share, &w->e)) {
        return refused(w);
    }
    struct text how = text_new(w->e.a);
    text_number(&how, pitches, 0);
    text_addz(&how, " pitches of ");
    text_number(&how, pitch_m * 1e3, 3);
    text_addz(&how, " mm are ");
    text_number(&how, pitches * pitch_m * 1e3, 1);
    text_addz(&how, " mm when new");
    return done(w, share, &how);
}

static bool nut(struct work *w)
{
    struct crowfoot c = {0};
    double torque_nm = w->si;
    struct text how = text_new(w->e.a);
    if (!fetch(w, "extension", &c.adapter_m)) {
        return false;
    }
    if (c.adapter_m == 0) {
        text_addz(&how, "no extension: the nut got what was set");
        return done(w, torque_nm, &how);
    }
    if (!fetch(w, "wrench", &c.wrench_m) || !fetch(w, "angle", &c.angle_rad)) {
        return false;
    }
    c.angle_rad = isfinite(c.angle_rad) ? c.angle_rad : 0;
    if (!crowfoot_applied(c, w->si, &torque_nm, &w->e)) {
        return refused(w);
    }
    text_addz(&how, "an extension of ");
    add_in(&how, c.adapter_m, "mm");
    text_addz(&how, " on a wrench of ");
    add_in(&how, c.wrench_m, "mm");
    text_addz(&how, c.angle_rad == 0 ? ", straight out, makes it " : ", at the angle it stood, makes it ");
    text_number(&how, torque_nm / w->si, 3);
    text_addz(&how, " of what was set");
    return done(w, torque_nm, &how);
}

/* ---- levels ---- */

/* How much volume one unit of the reading is: of a share of the distance between the marks, or of a height. */
static bool volume_per_unit(struct work *w, bool needed, double *m3)
{
    double between_m3 = 0;
    double marks_m = 0;
    if (!fetch(w, "between", &between_m3) || !fetch(w, "marks", &marks_m)) {
        return false;
    }
    *m3 = w->read == Q_LENGTH ? between_m3 / marks_m : between_m3;
    return isfinite(*m3) ? *m3 > 0 || fail(w, "the volume between the marks is not more than nothing")
                         : !needed || fail(w, "the book does not give the volume between the marks");
}

static bool consumption(struct work *w)
{
    double before = 0;
    double added_m3 = 0;
    double run_s = 0;
    double per_unit_m3 = 0;
    double between_m3 = 0;
    double per_h = 0;
    if (!fetch(w, "before", &before) || !fetch(w, "run", &run_s) || !fetch(w, "added", &added_m3) ||
        !fetch(w, "between", &between_m3) || !volume_per_unit(w, true, &per_unit_m3)) {
        return false;
    }
    added_m3 = isfinite(added_m3) ? added_m3 : 0;
    if (!level_consumption(before * per_unit_m3, w->si * per_unit_m3, added_m3, run_s / 3600, &per_h, &w->e)) {
        return refused(w);
    }
    if (per_h * run_s / 3600 < -GAIN_MOST * between_m3) {
        return fail(w,
                    "there is more in than there was and than was topped up: a top-up was not written down, or water "
                    "or fuel came in");
    }
    struct text how = text_new(w->e.a);
    add_in(&how, fabs(before - w->si) * per_unit_m3, "L");
    text_addz(&how, before < w->si ? " more in than at the earlier level, " : " less in than at the earlier level, ");
    add_in(&how, added_m3, "L");
    text_addz(&how, " topped up, ");
    text_number(&how, run_s / 3600, 0);
    text_addz(&how, " h run");
    return done(w, per_h / 3600, &how);
}

/* A pressure is compared cold: 20 degC, when temperatures were read both times. */
static bool leak_pressures(struct work *w, double *now, double *before)
{
    double temp_k = 0;
    double before_k = (double)NAN;
    if (!fetch(w, "temperature", &temp_k)) {
        return false;
    }
    for (int i = 0; i < w->n_with; i++) {
        const struct unit *u = w->with[i].value.unit;
        if (str_eq_nocase(w->with[i].name, S("before temperature")) && u && u->kind == Q_TEMPERATURE) {
            before_k = si_of(&w->with[i].value);
        }
    }
    if (!isfinite(temp_k) || !isfinite(before_k)) {
        return fail(w, "the temperature was not read both times: a change of it would look like a leak");
    }
    struct tyre_place to = {COLD_K, STANDARD_ATMOSPHERE_PA};
    struct tyre_place at_now = {temp_k, STANDARD_ATMOSPHERE_PA};
    struct tyre_place at_before = {before_k, STANDARD_ATMOSPHERE_PA};
    return (tyre_pressure(*now, at_now, to, now, &w->e) && tyre_pressure(*before, at_before, to, before, &w->e)) ||
           refused(w);
}

static bool leak(struct work *w)
{
    double now = w->si;
    double before = 0;
    double apart_s = 0;
    double minimum = 0;
    double added_m3 = 0;
    double per_unit_m3 = 0;
    double left_s = 0;
    if (!fetch(w, "before", &before) || !fetch(w, "apart", &apart_s) || !fetch(w, "minimum", &minimum) ||
        !fetch(w, "added", &added_m3)) {
        return false;
    }
    added_m3 = isfinite(added_m3) ? added_m3 : 0;
    if (w->read == Q_PRESSURE) {
        if (!leak_pressures(w, &now, &before)) {
            return false;
        }
        per_unit_m3 = 1;
        added_m3 = 0;
    } else if (!volume_per_unit(w, added_m3 > 0, &per_unit_m3)) {
        return false;
    }
    double added = added_m3 > 0 ? added_m3 / per_unit_m3 : 0;
    if (!level_left(before, now, added, minimum, apart_s, &left_s, &w->e)) {
        return refused(w);
    }
    struct text how = text_new(w->e.a);
    const char *unit = w->read == Q_PRESSURE ? "bar" : w->read == Q_LENGTH ? "mm" : "%";
    double lost = before + added - now;
    add_in(&how, fabs(lost), unit);
    text_addz(&how, lost < 0 ? " gained in " : " lost in ");
    add_in(&how, apart_s, "d");
    if (added_m3 > 0) {
        text_addz(&how, ", ");
        add_in(&how, added_m3, "L");
        text_addz(&how, " topped up");
    }
    text_addz(&how, w->read == Q_PRESSURE ? ", both at 20 °C; least " : "; least ");
    add_in(&how, minimum, unit);
    return done(w, left_s, &how);
}

static bool as_read(struct work *w)
{
    struct text how = text_new(w->e.a);
    return done(w, w->si, &how);
}

struct corrected correction_run(struct arena *a, const struct book *b, const struct book_checkpoint *c, double si,
                                enum quantity_kind read, const struct judge_with *with, int n)
{
    static bool (*const formulas[])(struct work *) = {
        [CORRECT_NONE] = as_read,
        [CORRECT_COLD] = cold,
        [CORRECT_VISCOSITY] = viscosity,
        [CORRECT_BATTERY] = battery,
        [CORRECT_CHARGE] = charge,
        [CORRECT_CHARGING] = charging,
        [CORRECT_CRANKING] = cranking,
        [CORRECT_FREEZING] = freezing,
        [CORRECT_BOILING] = boiling,
        [CORRECT_TENSION] = tension,
        [CORRECT_ELONGATION] = elongation,
        [CORRECT_NUT] = nut,
        [CORRECT_CONSUMPTION] = consumption,
        [CORRECT_LEAK] = leak,
    };
    struct judge_with *given = ARENA_ARRAY(a, struct judge_with, c->n_given + 1);
    for (int i = 0; i < c->n_given; i++) {
        given[i] = (struct judge_with){c->given[i].name, c->given[i].value};
    }
    struct work w = {.b = b,
                     .c = c,
                     .rule = correction_rule(c->correction),
                     .read = read,
                     .si = si,
                     .with = with,
                     .n_with = n,
                     .given = given,
                     .e = err_new(a)};
    (void)formulas[c->correction](&w);
    return w.out;
}
