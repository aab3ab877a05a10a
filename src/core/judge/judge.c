/* Verdicts: check, correct, compare, say why. */
#include "judge/judge.h"

#include <math.h>

#define CELSIUS_0_K 273.15

const char *verdict_word_text(enum verdict_word word)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = (text),
        JUDGE_WORDS(X)
#undef X
    };
    return words[word];
}

const char *unjudged_why_text(enum unjudged_why why)
{
    static const char *const words[] = {
#define X(symbol, text) [symbol] = (text),
        UNJUDGED_WHYS(X)
#undef X
    };
    return words[why];
}

static enum quantity_kind kind_of(const struct unit *u)
{
    return u ? u->kind : Q_NONE;
}

static double to_si(const struct unit *u, double value)
{
    return u && isfinite(value) ? unit_to_si(u, value) : value;
}

/* The size that "close" and rounding are measured by: the span between two limits, else the limit itself. */
static double span_of(const struct book_checkpoint *c)
{
    if (isfinite(c->low_si) && isfinite(c->high_si)) {
        return c->high_si - c->low_si;
    }
    double limit = isfinite(c->low_si) ? c->low_si : c->high_si;
    /* A temperature's size is its distance from freezing, not from absolute zero. */
    double from = kind_of(c->limits.unit) == Q_TEMPERATURE ? CELSIUS_0_K : 0;
    return fabs(limit - from);
}

/* ---- what must hold before anything is judged ---- */

static bool unjudged(struct verdict *v, enum unjudged_why why)
{
    v->word = VERDICT_NOT_JUDGED;
    v->why = why;
    return false;
}

/* The value read under that name; null when there is none. */
static const struct quantity *with_named(const struct judge_input *input, struct str name)
{
    for (int i = 0; i < input->n_with; i++) {
        if (str_eq_nocase(input->with[i].name, name)) {
            return &input->with[i].value;
        }
    }
    return NULL;
}

/* Words for a value outside of where the reading means something. */
static enum unjudged_why outside(struct text *why, const struct book_judged_at *at, const struct quantity *q,
                                 bool below)
{
    enum quantity_kind kind = kind_of(at->range.unit);
    enum unjudged_why word = kind == Q_ROTATION      ? UNJUDGED_SPEED
                             : kind == Q_TEMPERATURE ? UNJUDGED_WARMTH
                             : kind == Q_DURATION    ? UNJUDGED_REST
                                                     : UNJUDGED_CONDITION;
    text_addz(why, word == UNJUDGED_SPEED    ? "not at the required speed: "
                   : word == UNJUDGED_WARMTH ? (below ? "not warm: " : "too warm: ")
                   : word == UNJUDGED_REST   ? (below ? "not long enough: " : "too long: ")
                                             : "not in the condition it is judged in: ");
    text_add(why, at->name);
    text_addz(why, " was ");
    text_quantity(why, *q);
    text_addz(why, ", it is judged at ");
    text_range(why, at->range, UNITS_AS_WRITTEN);
    return word;
}

/* The values that the book says must lie in a range. */
static bool conditions_hold(struct verdict *v, const struct book_checkpoint *c, const struct judge_input *input,
                            struct text *why)
{
    for (int i = 0; i < c->n_judged_at; i++) {
        const struct book_judged_at *at = &c->judged_at[i];
        const struct quantity *q = with_named(input, at->name);
        if (!q) {
            text_addz(why, "the ");
            text_add(why, at->name);
            text_addz(why, " was not read; it is judged at ");
            text_range(why, at->range, UNITS_AS_WRITTEN);
            return unjudged(v, kind_of(at->range.unit) == Q_ROTATION ? UNJUDGED_SPEED : UNJUDGED_CONDITION);
        }
        if (kind_of(q->unit) != kind_of(at->range.unit) || !isfinite(q->value)) {
            text_addz(why, "the ");
            text_add(why, at->name);
            text_join(why, " is no ", quantity_kind_text(kind_of(at->range.unit)), (char *)0);
            return unjudged(v, UNJUDGED_UNIT);
        }
        double si = to_si(q->unit, q->value);
        double low = to_si(at->range.unit, at->range.low);
        double high = to_si(at->range.unit, at->range.high);
        if (si < low || si > high) {
            return unjudged(v, outside(why, at, q, si < low));
        }
    }
    return true;
}

/* Number, unit, limits, the gauge's range. */
static bool can_be_judged(struct verdict *v, const struct book_checkpoint *c, const struct judge_input *input,
                          struct text *why)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    enum quantity_kind read = kind_of(input->value.unit);
    enum quantity_kind limits = kind_of(c->limits.unit);
    if (!isfinite(input->value.value)) {
        text_addz(why, "the reading is no number");
        return unjudged(v, UNJUDGED_NO_NUMBER);
    }
    if (!isfinite(c->low_si) && !isfinite(c->high_si)) {
        text_addz(why, "the book gives no limit");
        return unjudged(v, UNJUDGED_NO_LIMIT);
    }
    bool gauge = c->gauge.unit || c->gauge.low < c->gauge.high;
    enum quantity_kind wanted = rule->same ? limits : gauge ? kind_of(c->gauge.unit) : rule->reads[0];
    if (rule->same || gauge ? read != wanted : !correction_reads(rule, read)) {
        text_join(why, "the reading's unit is no ", quantity_kind_text(wanted), (char *)0);
        return unjudged(v, UNJUDGED_UNIT);
    }
    if (correction_gives(rule, read) != limits) {
        text_join(why, "the limits' unit is no ", quantity_kind_text(correction_gives(rule, read)), (char *)0);
        return unjudged(v, UNJUDGED_UNIT);
    }
    v->raw_si = to_si(input->value.unit, input->value.value);
    if (read == Q_TEMPERATURE && v->raw_si < 0) {
        text_addz(why, "below absolute zero");
        return unjudged(v, UNJUDGED_GAUGE);
    }
    if (gauge && kind_of(c->gauge.unit) == read &&
        (v->raw_si < to_si(c->gauge.unit, c->gauge.low) || v->raw_si > to_si(c->gauge.unit, c->gauge.high))) {
        text_addz(why, "the reading lies outside the gauge's range ");
        text_range(why, c->gauge, UNITS_AS_WRITTEN);
        return unjudged(v, UNJUDGED_GAUGE);
    }
    return true;
}

/* ---- uncertainty ---- */

/* The gauge's uncertainty carried through the correction. */
static double carried(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                      const struct judge_input *input, const struct verdict *v)
{
    double u = v->raw_uncertainty_si;
    if (!(u > 0) || c->correction == CORRECT_NONE) {
        return u;
    }
    enum quantity_kind read = kind_of(input->value.unit);
    struct corrected up = correction_run(a, b, c, v->raw_si + u, read, input->with, input->n_with);
    struct corrected down = correction_run(a, b, c, v->raw_si - u, read, input->with, input->n_with);
    bool has_up = up.ok && isfinite(up.si);
    bool has_down = down.ok && isfinite(down.si);
    double half = has_up && has_down ? fabs(up.si - down.si) / 2
                  : has_up           ? fabs(up.si - v->corrected_si)
                  : has_down         ? fabs(down.si - v->corrected_si)
                                     : (double)NAN;
    bool difference = c->correction == CORRECT_CONSUMPTION || c->correction == CORRECT_LEAK;
    return difference ? half * sqrt(2) : half;
}

/* ---- comparison ---- */

void text_uncertainty(struct text *t, double si, const struct unit *unit)
{
    double shown = unit ? si / unit->factor : si; /* a difference has no zero */
    double size = shown > 0 ? floor(log10(shown)) : 0;
    int digits = shown > 0 && shown / pow(10, size) < 2.95 ? 1 : 0; /* a second one where the first is 1 or 2 */
    double decimals = digits - size;
    text_addz(t, "±");
    text_number(t, shown, decimals < 0 ? 0 : decimals > 9 ? 9 : (int)decimals);
    text_join(t, unit ? " " : "", unit ? unit->shown : "", (char *)0);
}

void text_corrected(struct text *t, const struct verdict *v, enum unit_system system)
{
    const struct unit *u = unit_preferred(system, v->corrected.unit);
    double shown = u ? v->uncertainty_si / u->factor : v->uncertainty_si;
    if (!(shown > 0) || !isfinite(v->corrected_si)) {
        text_quantity_in(t, v->corrected, system);
        return;
    }
    double decimals = -floor(log10(shown)); /* of the uncertainty's first digit */
    text_number(t, u ? unit_from_si(u, v->corrected_si) : v->corrected_si,
                decimals < 0   ? 0
                : decimals > 6 ? 6
                               : (int)decimals);
    text_join(t, u ? " " : "", u ? u->shown : "", (char *)0);
}

/* Holds the corrected value against the limits and says why, in words that fit the gauge's uncertainty. */
static void hold(struct verdict *v, const struct book_checkpoint *c, struct text *why)
{
    double span = span_of(c);
    double step = span > 0 ? span * 1e-3 : 1e-9;
    double value = round(v->corrected_si / step);
    double low = isfinite(c->low_si) ? round(c->low_si / step) : -(double)INFINITY;
    double high = isfinite(c->high_si) ? round(c->high_si / step) : (double)INFINITY;
    double margin = 0.1 * span / step;
    bool near_low = value < low + margin;
    bool near_high = value > high - margin;
    bool out = value < low || value > high;
    bool open_low = isfinite(v->uncertainty_si) && fabs(v->corrected_si - c->low_si) < v->uncertainty_si;
    bool open_high = isfinite(v->uncertainty_si) && fabs(v->corrected_si - c->high_si) < v->uncertainty_si;
    v->doubtful = open_low || open_high;
    v->word = out ? VERDICT_OUT : near_low || near_high ? VERDICT_CLOSE : VERDICT_IN_LIMITS;
    const char *limit = out ? (value < low ? "lower" : "upper") : near_low || open_low ? "lower" : "upper";
    if (v->doubtful) {
        text_join(why, out ? (value < low ? "below" : "above") : "inside, but nearer to", " the ", limit, " limit ",
                  out ? "by less than" : "than", " the gauge's uncertainty (", (char *)0);
        text_uncertainty(why, v->uncertainty_si, c->limits.unit);
        text_addz(why, out ? "): doubtful, it may be in limits" : "): doubtful, it may be out");
    } else if (out) {
        text_join(why, value < low ? "below" : "above", " the ", limit, " limit", (char *)0);
    } else if (v->word == VERDICT_CLOSE) {
        text_join(why, "inside, near the ", limit, " limit", (char *)0);
    } else {
        text_addz(why, "well inside the limits");
    }
}

static double place(double si, const struct book_checkpoint *c, double span)
{
    double at = isfinite(c->low_si) ? 0.25 + 0.5 * (si - c->low_si) / span : 0.75 + 0.5 * (si - c->high_si) / span;
    return isnan(at) ? at : at < 0 ? 0 : at > 1 ? 1 : at;
}

static void draw(struct verdict *v, const struct book_checkpoint *c)
{
    double span = span_of(c);
    bool same = correction_rule(c->correction)->same;
    if (!(span > 0)) {
        return;
    }
    v->gauge.low = isfinite(c->low_si) ? 0.25 : (double)NAN;
    v->gauge.high = isfinite(c->high_si) ? 0.75 : (double)NAN;
    v->gauge.corrected = place(v->corrected_si, c, span);
    v->gauge.raw = same ? place(v->raw_si, c, span) : (double)NAN;
    if (isfinite(v->uncertainty_si)) {
        v->gauge.from = place(v->corrected_si - v->uncertainty_si, c, span);
        v->gauge.to = place(v->corrected_si + v->uncertainty_si, c, span);
    }
}

/* A time left that has no end: nothing is lost. */
static void endless(struct verdict *v, struct text *why)
{
    v->word = VERDICT_IN_LIMITS;
    v->corrected_si = (double)NAN;
    text_addz(why, "nothing is lost between the two readings: there is no end to foresee");
}

struct verdict judge_reading(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                             const struct judge_input *input)
{
    double nan = (double)NAN;
    struct verdict v = {.raw_si = nan,
                        .corrected_si = nan,
                        .raw = input->value,
                        .corrected = input->value,
                        .raw_uncertainty_si = isfinite(input->uncertainty_si) ? input->uncertainty_si
                                              : c->uncertainty.given          ? c->uncertainty.si
                                                                              : nan,
                        .uncertainty_si = nan,
                        .gauge = {nan, nan, nan, nan, nan, nan}};
    struct text why = text_new(a);
    if (can_be_judged(&v, c, input, &why)) {
        const struct unit *read = checkpoint_read_unit(c);
        v.raw = (struct quantity){read && kind_of(read) == kind_of(input->value.unit) ? unit_from_si(read, v.raw_si)
                                                                                      : input->value.value,
                                  read && kind_of(read) == kind_of(input->value.unit) ? read : input->value.unit};
        v.corrected = v.raw;
        if (conditions_hold(&v, c, input, &why)) {
            struct corrected found =
                correction_run(a, b, c, v.raw_si, kind_of(input->value.unit), input->with, input->n_with);
            if (!found.ok) {
                (void)unjudged(&v, found.not_rested ? UNJUDGED_REST : UNJUDGED_MISSING);
                text_add(&why, found.how);
            } else {
                v.corrected_si = found.si;
                v.correction = found.how;
                v.formula = c->correction == CORRECT_NONE ? NULL : correction_rule(c->correction)->formula;
                v.source = c->correction == CORRECT_NONE ? NULL : correction_rule(c->correction)->source;
                v.corrected = (struct quantity){c->limits.unit ? unit_from_si(c->limits.unit, found.si) : found.si,
                                                c->limits.unit};
                if (isinf(found.si)) {
                    endless(&v, &why);
                } else {
                    v.uncertainty_si = carried(a, b, c, input, &v);
                    hold(&v, c, &why);
                    draw(&v, c);
                }
            }
        }
    }
    v.reason = text_str(&why);
    return v;
}
