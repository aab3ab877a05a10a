/* Verdicts: correct, compare, say why. */
#include "judge/judge.h"

#include "fluid/filter.h"
#include "fluid/viscosity.h"
#include "tyre/tyre.h"

#include <math.h>

#define REST_LEAST_S (4 * 3600.0) /* common practice, no source: surface charge has gone after some hours */

const char *verdict_word_text(enum verdict_word word)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = (text),
        JUDGE_WORDS(X)
#undef X
    };
    return words[word];
}

/* The value of that kind read together with the reading; null when there is none. */
static const struct quantity *with_kind(const struct judge_input *input, enum quantity_kind kind)
{
    for (int i = 0; i < input->n_with; i++) {
        if (input->with[i].value.unit && input->with[i].value.unit->kind == kind) {
            return &input->with[i].value;
        }
    }
    return NULL;
}

static double si_of(const struct quantity *q)
{
    return unit_to_si(q->unit, q->value);
}

/* A correction's result: either a value, or why there is none. */
struct corrected {
    bool ok;
    double si;
    struct text how; /* the correction, or what is missing */
};

static struct corrected missing(struct arena *a, const char *what)
{
    struct corrected c = {.how = text_new(a)};
    text_addz(&c.how, what);
    return c;
}

/* A computation refused its input: its own words, which name the range. */
static struct corrected refused(struct arena *a, const struct err *e)
{
    struct corrected c = {.how = text_new(a)};
    text_add(&c.how, err_text(a, e));
    return c;
}

static void add_celsius(struct text *t, double kelvin)
{
    text_number(t, kelvin - CELSIUS_ZERO_K, 1);
    text_addz(t, " °C");
}

static struct corrected cold_pressure(struct arena *a, const struct book_checkpoint *c, const struct judge_input *input,
                                      double si)
{
    const struct quantity *temperature = with_kind(input, Q_TEMPERATURE);
    if (!temperature) {
        return missing(a, "the tyre's temperature was not read");
    }
    double atmosphere_pa = STANDARD_ATMOSPHERE_PA;
    for (int i = 0; i < input->n_with; i++) {
        if (str_eq(input->with[i].name, S("atmosphere")) && input->with[i].value.unit &&
            input->with[i].value.unit->kind == Q_PRESSURE) {
            atmosphere_pa = si_of(&input->with[i].value);
        }
    }
    struct corrected out = {.how = text_new(a)};
    struct err e = err_new(a);
    struct tyre_place from = {si_of(temperature), atmosphere_pa};
    struct tyre_place to = {c->reference_k, atmosphere_pa};
    if (!tyre_pressure(si, from, to, &out.si, &e)) {
        return refused(a, &e);
    }
    out.ok = true;
    text_addz(&out.how, "brought from ");
    add_celsius(&out.how, from.temp_k);
    text_addz(&out.how, " to ");
    add_celsius(&out.how, to.temp_k);
    text_addz(&out.how, " by the gas law at constant volume, atmosphere ");
    text_number(&out.how, atmosphere_pa / 100, 0);
    text_addz(&out.how, " hPa");
    return out;
}

/* Viscosity of the book's fluid at a temperature, from its two given points. */
static bool fluid_viscosity(const struct book_fluid *fluid, double kelvin, double *v_m2s, struct err *e)
{
    struct viscosity_line line;
    struct viscosity_point at40 = {CELSIUS_ZERO_K + 40, fluid->viscosity_40_m2s};
    struct viscosity_point at100 = {CELSIUS_ZERO_K + 100, fluid->viscosity_100_m2s};
    return viscosity_fit(at40, at100, CELSIUS_ZERO_K, &line, e) && viscosity_at(line, kelvin, v_m2s, e);
}

static struct corrected filter_pressure(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                                        const struct judge_input *input, double si)
{
    const struct quantity *temperature = with_kind(input, Q_TEMPERATURE);
    if (!temperature) {
        return missing(a, "the oil's temperature was not read");
    }
    if (c->reference_fluid == BOOK_NONE || !(b->fluids[c->reference_fluid].viscosity_40_m2s > 0) ||
        !(b->fluids[c->reference_fluid].viscosity_100_m2s > 0)) {
        return missing(a, "the book does not give the fluid's viscosity at 40 °C and 100 °C");
    }
    const struct book_fluid *fluid = &b->fluids[c->reference_fluid];
    struct err e = err_new(a);
    struct filter_flow from = {0};
    struct filter_flow to = {0};
    struct corrected out = {.how = text_new(a)};
    if (!fluid_viscosity(fluid, si_of(temperature), &from.v_m2s, &e) ||
        !fluid_viscosity(fluid, c->reference_k, &to.v_m2s, &e) || !filter_drop(si, from, to, &out.si, &e)) {
        return refused(a, &e);
    }
    out.ok = true;
    text_addz(&out.how, "oil at ");
    add_celsius(&out.how, si_of(temperature));
    text_addz(&out.how, " has ");
    text_number(&out.how, from.v_m2s * 1e6, 0);
    text_addz(&out.how, " mm²/s, at ");
    add_celsius(&out.how, c->reference_k);
    text_char(&out.how, ' ');
    text_number(&out.how, to.v_m2s * 1e6, 0);
    text_addz(&out.how, " mm²/s (ASTM D341); the drop is laminar and goes with viscosity");
    return out;
}

static struct corrected battery_voltage(struct arena *a, const struct judge_input *input, double si)
{
    const struct quantity *rest = with_kind(input, Q_DURATION);
    if (!rest) {
        return missing(a, "how long the battery rested was not said");
    }
    if (si_of(rest) < REST_LEAST_S) {
        return missing(a, "the battery has not rested for 4 h: its surface charge would be read");
    }
    struct corrected out = {.ok = true, .si = si, .how = text_new(a)};
    text_addz(&out.how, "rested ");
    text_number(&out.how, si_of(rest) / 3600, 1);
    text_addz(&out.how, " h; rest voltage is taken as read");
    return out;
}

static struct corrected correct(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                                const struct judge_input *input, double si)
{
    switch (c->correction) {
    case CORRECT_COLD:
        return cold_pressure(a, c, input, si);
    case CORRECT_VISCOSITY:
        return filter_pressure(a, b, c, input, si);
    case CORRECT_BATTERY:
        return battery_voltage(a, input, si);
    case CORRECT_NONE:
        break;
    }
    return (struct corrected){.ok = true, .si = si, .how = text_new(a)};
}

/* The size that "close" and rounding are measured by: the span between two limits, else the limit itself. */
static double span_of(const struct book_checkpoint *c)
{
    if (isfinite(c->low_si) && isfinite(c->high_si)) {
        return c->high_si - c->low_si;
    }
    double limit = isfinite(c->low_si) ? c->low_si : c->high_si;
    /* A temperature's size is its distance from freezing, not from absolute zero. */
    double from = c->limits.unit && c->limits.unit->kind == Q_TEMPERATURE ? CELSIUS_ZERO_K : 0;
    return fabs(limit - from);
}

/* Holds the corrected value against the limits and says why. */
static void hold(struct verdict *v, const struct book_checkpoint *c, struct text *why)
{
    double span = span_of(c);
    double step = span > 0 ? span * 1e-3 : 1e-9;
    double value = round(v->corrected_si / step);
    double low = isfinite(c->low_si) ? round(c->low_si / step) : -(double)INFINITY;
    double high = isfinite(c->high_si) ? round(c->high_si / step) : (double)INFINITY;
    double margin = 0.1 * span / step;
    if (value < low || value > high) {
        v->word = VERDICT_OUT;
        text_addz(why, value < low ? "below the lower limit" : "above the upper limit");
    } else if (value < low + margin || value > high - margin) {
        v->word = VERDICT_CLOSE;
        text_addz(why,
                  value < low + margin ? "within a tenth of the lower limit" : "within a tenth of the upper limit");
    } else {
        v->word = VERDICT_IN_LIMITS;
        text_addz(why, "well inside the limits");
    }
    if (isfinite(v->uncertainty_si) && (fabs(v->corrected_si - c->low_si) < v->uncertainty_si ||
                                        fabs(v->corrected_si - c->high_si) < v->uncertainty_si)) {
        v->doubtful = true;
        text_addz(why, "; doubtful, the limit lies within the gauge's uncertainty");
    }
}

struct verdict judge_reading(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                             const struct judge_input *input)
{
    struct verdict v = {.raw_si = NAN,
                        .corrected_si = NAN,
                        .raw = input->value,
                        .corrected = input->value,
                        .uncertainty_si = isfinite(input->uncertainty_si) ? input->uncertainty_si
                                          : c->uncertainty.given          ? c->uncertainty.si
                                                                          : (double)NAN};
    struct text why = text_new(a);
    const struct unit *unit = c->limits.unit;
    const struct unit *read_in = input->value.unit;
    enum quantity_kind kind = unit ? unit->kind : Q_NONE;
    if (!isfinite(input->value.value)) {
        text_addz(&why, "the reading is no number");
    } else if ((read_in ? read_in->kind : Q_NONE) != kind) {
        text_join(&why, "the reading's unit is no ", quantity_kind_text(kind), (char *)0);
    } else if (!isfinite(c->low_si) && !isfinite(c->high_si)) {
        text_addz(&why, "the book gives no limit");
    } else {
        v.raw_si = read_in ? si_of(&input->value) : input->value.value;
        double gauge_low = c->gauge.unit ? unit_to_si(c->gauge.unit, c->gauge.low) : -(double)INFINITY;
        double gauge_high = c->gauge.unit ? unit_to_si(c->gauge.unit, c->gauge.high) : (double)INFINITY;
        struct corrected corrected = {0};
        if (v.raw_si < gauge_low || v.raw_si > gauge_high) {
            text_addz(&why, "the reading lies outside the gauge's range");
        } else {
            corrected = correct(a, b, c, input, v.raw_si);
            if (!corrected.ok) {
                text_add(&why, text_str(&corrected.how));
            }
        }
        v.raw = (struct quantity){unit ? unit_from_si(unit, v.raw_si) : v.raw_si, unit};
        v.corrected = v.raw;
        if (corrected.ok) {
            v.corrected_si = corrected.si;
            v.corrected.value = unit ? unit_from_si(unit, corrected.si) : corrected.si;
            v.correction = text_str(&corrected.how);
            hold(&v, c, &why);
        }
    }
    v.reason = text_str(&why);
    return v;
}
