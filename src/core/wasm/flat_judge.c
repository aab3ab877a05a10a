/* The flat question "judge": a measured checkpoint as the book has it, a reading, its verdict. */
#include "wasm/flat_internal.h"

#include "fluid/coolant.h"
#include "judge/judge.h"

#include <math.h>

static bool get_correction(struct flat *f, struct book_checkpoint *c, struct err *e)
{
    static const char *const all[] = {
#define X(symbol, word) (word),
        BOOK_CORRECTIONS(X)
#undef X
    };
    struct str value;
    if (!flat_get(f, "correction", &value)) {
        return true;
    }
    struct text right = text_new(e->a);
    for (size_t i = 0; i < sizeof all / sizeof *all; i++) {
        if (str_eq(value, str_of(all[i]))) {
            c->correction = (enum book_correction)i;
            return true;
        }
        text_join(&right, i ? ", " : "one of ", all[i], (char *)0);
    }
    return err_set(e, ERR_INPUT, text_z(&right), "correction: \"", str_z(e->a, value), "\"", (char *)0);
}

static bool get_glycol(struct flat *f, struct book_checkpoint *c, struct err *e)
{
    struct str value;
    enum glycol glycol = GLYCOL_ETHYLENE;
    if (!flat_get(f, "glycol", &value)) {
        return true;
    }
    if (!glycol_of(value, &glycol)) {
        return err_set(e, ERR_INPUT, "ethylene or propylene", "glycol: \"", str_z(e->a, value), "\"", (char *)0);
    }
    c->propylene = glycol == GLYCOL_PROPYLENE;
    return true;
}

/* Every line "given NAME=VALUE": the book's figures that the correction takes. */
static bool get_given(struct flat *f, struct book_checkpoint *c, struct err *e)
{
    struct book_given *given = ARENA_ARRAY(f->a, struct book_given, f->n + 1);
    for (size_t i = 0; i < f->n; i++) {
        struct flat_line *line = &f->at[i];
        if (line->taken || !str_starts(line->name, S("given "))) {
            continue;
        }
        line->taken = true;
        given[c->n_given].name = str_cut(line->name, 6, line->name.n);
        if (!quantity_parse(line->value, &given[c->n_given++].value, e)) {
            return err_context(e, line->name);
        }
    }
    c->given = given;
    return true;
}

/* Every line "judged-at NAME=RANGE". */
static bool get_judged_at(struct flat *f, struct book_checkpoint *c, struct err *e)
{
    struct book_judged_at *at = ARENA_ARRAY(f->a, struct book_judged_at, f->n + 1);
    for (size_t i = 0; i < f->n; i++) {
        struct flat_line *line = &f->at[i];
        if (line->taken || !str_starts(line->name, S("judged-at "))) {
            continue;
        }
        line->taken = true;
        at[c->n_judged_at].name = str_cut(line->name, 10, line->name.n);
        if (!range_parse(line->value, &at[c->n_judged_at++].range, e)) {
            return err_context(e, line->name);
        }
    }
    c->judged_at = at;
    return true;
}

/* The checkpoint that a question describes, and its fluid. */
static bool get_checkpoint(struct flat *f, struct book_checkpoint *c, struct book_fluid *fluid, struct err *e)
{
    struct str s;
    bool given = false;
    *c = (struct book_checkpoint){.kind = CHECK_MEASURE, .reference_fluid = 0, .reference_k = (double)NAN};
    if (!flat_need(f, "limits", &s, e)) {
        return false;
    }
    if (!range_parse(s, &c->limits, e)) {
        return err_context(e, S("limits"));
    }
    const struct unit *u = c->limits.unit;
    c->low_si = u && isfinite(c->limits.low) ? unit_to_si(u, c->limits.low) : c->limits.low;
    c->high_si = u && isfinite(c->limits.high) ? unit_to_si(u, c->limits.high) : c->limits.high;
    if (flat_get(f, "gauge", &s) && !range_parse(s, &c->gauge, e)) {
        return err_context(e, S("gauge"));
    }
    enum quantity_kind limits = u ? u->kind : Q_NONE;
    enum quantity_kind gauge = c->gauge.unit ? c->gauge.unit->kind : Q_NONE;
    if (!get_correction(f, c, e) || !flat_si(f, "reference", Q_TEMPERATURE, &c->reference_k, &given, e) ||
        !get_glycol(f, c, e) || !get_given(f, c, e) || !get_judged_at(f, c, e)) {
        return false;
    }
    const struct correction_rule *rule = correction_rule(c->correction);
    if (gauge != Q_NONE && (rule->same ? gauge != limits : !correction_reads(rule, gauge))) {
        return err_set(e, ERR_INPUT, "a range of the kind that is read", "gauge is of another kind", (char *)0);
    }
    if (rule->reference && !given) {
        return err_set(e, ERR_USAGE, "the temperature to refer to", "reference is missing", (char *)0);
    }
    return flat_si(f, "v40", Q_KINEMATIC_VISCOSITY, &fluid->viscosity_40_m2s, &given, e) &&
           flat_si(f, "v100", Q_KINEMATIC_VISCOSITY, &fluid->viscosity_100_m2s, &given, e);
}

/* The reading: value, uncertainty and every "with NAME". A difference has no zero, so an uncertainty of a temperature
 * is taken as one of a difference. */
static bool get_reading(struct flat *f, struct judge_input *input, struct err *e)
{
    bool given = false;
    struct quantity q = {0};
    struct judge_with *with = ARENA_ARRAY(f->a, struct judge_with, f->n + 1);
    struct str value;
    *input = (struct judge_input){.with = with, .uncertainty_si = (double)NAN};
    if (!flat_need(f, "value", &value, e)) {
        return false;
    }
    if (!quantity_parse(value, &input->value, e)) {
        return err_context(e, S("value"));
    }
    if (!flat_quantity(f, "uncertainty", &q, &given, e)) {
        return false;
    }
    if (given) {
        input->uncertainty_si = q.unit ? q.value * q.unit->factor : q.value;
    }
    for (size_t i = 0; i < f->n; i++) {
        struct str name = f->at[i].name;
        if (!f->at[i].taken && str_starts(name, S("with "))) {
            f->at[i].taken = true;
            with[input->n_with].name = str_cut(name, 5, name.n);
            if (!quantity_parse(f->at[i].value, &with[input->n_with++].value, e)) {
                return err_context(e, name);
            }
        }
    }
    return true;
}

static void put_quantity(struct json *j, const char *key, struct quantity q, double si, struct str says)
{
    if (!isfinite(si)) {
        json_put_null(j, key);
        return;
    }
    json_begin_object(j, key);
    json_num(j, "value", q.value);
    json_strz(j, "unit", q.unit ? q.unit->symbol : NULL);
    json_num(j, "si", si);
    json_str(j, "text", says);
    json_end_object(j);
}

static bool judge_question(struct str question, struct text *answer, struct err *e)
{
    struct flat f;
    enum unit_system system;
    struct book_checkpoint c;
    struct book_fluid fluid = {0};
    struct judge_input input;
    if (!flat_read(answer->a, question, 1, &f, e) || !flat_units(&f, &system, e) ||
        !get_checkpoint(&f, &c, &fluid, e) || !get_reading(&f, &input, e) || !flat_done(&f, e)) {
        return false;
    }
    struct book book = {.fluids = &fluid, .n_fluids = 1};
    struct verdict v = judge_reading(answer->a, &book, &c, &input);
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    json_strz(&j, "verdict", verdict_word_text(v.word));
    struct text raw = text_new(answer->a);
    struct text corrected = text_new(answer->a);
    text_quantity_in(&raw, v.raw, system);
    text_corrected(&corrected, &v, system);
    put_quantity(&j, "raw", v.raw, v.raw_si, text_str(&raw));
    put_quantity(&j, "corrected", v.corrected, v.corrected_si, text_str(&corrected));
    json_num(&j, "uncertainty", v.uncertainty_si);
    json_num(&j, "raw_uncertainty", v.raw_uncertainty_si);
    json_bool(&j, "doubtful", v.doubtful);
    json_strz(&j, "why", v.why == UNJUDGED_NOT ? NULL : unjudged_why_text(v.why));
    json_str(&j, "reason", v.reason);
    json_str(&j, "correction", v.correction);
    json_strz(&j, "formula", v.formula);
    json_strz(&j, "source", v.source);
    json_begin_object(&j, "gauge");
    json_num(&j, "low", v.gauge.low);
    json_num(&j, "high", v.gauge.high);
    json_num(&j, "raw", v.gauge.raw);
    json_num(&j, "corrected", v.gauge.corrected);
    json_num(&j, "from", v.gauge.from);
    json_num(&j, "to", v.gauge.to);
    json_end_object(&j);
    json_end_object(&j);
    return true;
}

void flat_judge(struct str question, struct text *answer)
{
    struct err e = err_new(answer->a);
    if (!judge_question(question, answer, &e)) {
        flat_err(answer, &e);
    }
}
