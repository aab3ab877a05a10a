/* Trying a reading, and what a phone needs for it. */
#include "desk_judge.h"
#include "reading.h"

#include <math.h>

bool desk_judge(struct desk *d, struct str machine, struct str checkpoint, struct str value, struct str with,
                instant_ms at, struct arena *a, struct desk_judged *out, struct err *e)
{
    *out = (struct desk_judged){0};
    if (!desk_refresh(d, e)) {
        return false;
    }
    const struct desk_machine *m = desk_machine_find(d, machine, e);
    struct reading_asked asked;
    if (!m) {
        return false;
    }
    if (!m->book) {
        return err_set(e, ERR_MISSING, NULL, str_z(e->a, m->name), ": ", str_z(e->a, m->trouble), (char *)0);
    }
    if (!reading_parse(a, m->book, checkpoint, value, with, &asked, e)) {
        return false;
    }
    instant_ms when = at == INSTANT_NONE ? desk_now(d) : at;
    struct point_reading reading = {
        when, meter_total_at(&m->meter, &m->use, when), asked.value, asked.with, asked.n_with, NAN};
    *out = (struct desk_judged){.machine = m,
                                .checkpoint = asked.checkpoint,
                                .value = asked.value,
                                .with = asked.with,
                                .n_with = asked.n_with,
                                .verdict = reading_verdict(a, desk_state_of(d, m), asked.checkpoint, &reading)};
    return true;
}

static void quantity_member(struct json *j, const struct desk *d, const char *key, struct quantity q, bool have)
{
    const struct unit *unit = q.unit ? unit_preferred(d->units, q.unit) : NULL;
    struct text t = text_new(j->t->a);
    text_quantity_in(&t, q, d->units);
    json_begin_object(j, key);
    json_num(j, "value", have ? unit ? unit_from_si(unit, unit_to_si(q.unit, q.value)) : q.value : (double)NAN);
    json_strz(j, "unit", unit ? unit->symbol : "");
    json_str(j, "text", have ? text_str(&t) : (struct str){0});
    json_end_object(j);
}

static void corrected_member(struct json *j, const struct desk *d, const struct verdict *v)
{
    bool have = isfinite(v->corrected_si);
    const struct unit *unit = v->corrected.unit ? unit_preferred(d->units, v->corrected.unit) : NULL;
    struct text t = text_new(j->t->a);
    text_corrected(&t, v, d->units);
    json_begin_object(j, "corrected");
    json_num(j, "value", have ? unit ? unit_from_si(unit, v->corrected_si) : v->corrected_si : (double)NAN);
    json_strz(j, "unit", unit ? unit->symbol : "");
    json_str(j, "text", have ? text_str(&t) : (struct str){0});
    json_end_object(j);
}

/* A difference in the unit in which its value is shown. */
static void difference_member(struct json *j, const struct desk *d, const char *key, double si, const struct unit *unit)
{
    const struct unit *shown = unit ? unit_preferred(d->units, unit) : NULL;
    json_num(j, key, shown ? si / shown->factor : si);
}

void desk_verdict_members_json(struct json *j, struct desk *d, const struct verdict *v)
{
    json_strz(j, "word", verdict_word_text(v->word));
    quantity_member(j, d, "raw", v->raw, isfinite(v->raw_si));
    corrected_member(j, d, v);
    difference_member(j, d, "raw_uncertainty", v->raw_uncertainty_si, v->raw.unit);
    difference_member(j, d, "uncertainty", v->uncertainty_si, v->corrected.unit);
    json_bool(j, "doubtful", v->doubtful);
    json_strz(j, "why", v->why == UNJUDGED_NOT ? NULL : unjudged_why_text(v->why));
    json_str(j, "reason", v->reason);
    json_str(j, "correction", v->correction);
    json_strz(j, "formula", v->formula);
    json_strz(j, "source", v->source);
    json_begin_object(j, "gauge");
    json_num(j, "low", v->gauge.low);
    json_num(j, "high", v->gauge.high);
    json_num(j, "raw", v->gauge.raw);
    json_num(j, "corrected", v->gauge.corrected);
    json_num(j, "from", v->gauge.from);
    json_num(j, "to", v->gauge.to);
    json_end_object(j);
}

void desk_judged_json(struct json *j, struct desk *d, const struct desk_judged *judged)
{
    const struct book_checkpoint *c = &judged->machine->book->checkpoints[judged->checkpoint];
    struct text limits = text_new(j->t->a);
    text_limits(&limits, d, c->limits);
    json_begin_object(j, NULL);
    json_str(j, "machine", judged->machine->serial);
    json_str(j, "name", judged->machine->name);
    json_str(j, "checkpoint", c->name);
    json_str(j, "limits", text_str(&limits));
    json_begin_object(j, "verdict");
    desk_verdict_members_json(j, d, &judged->verdict);
    json_end_object(j);
    json_end_object(j);
}

/* ---- the question for a phone ---- */

static void quantity_line(struct text *t, const char *word, struct str name, struct quantity q)
{
    text_join(t, word, name.n ? " " : "", (char *)0);
    text_add(t, name);
    text_char(t, '=');
    text_double(t, q.value);
    text_join(t, q.unit ? " " : "", q.unit ? q.unit->symbol : "", "\n", (char *)0);
}

/* "limits=1.4 .. 1.6 bar", so that it reads back the same. */
static void range_line(struct text *t, const char *word, struct str name, struct quantity_range r)
{
    text_join(t, word, name.n ? " " : "", (char *)0);
    text_add(t, name);
    text_char(t, '=');
    if (isfinite(r.low)) {
        text_double(t, r.low);
        text_join(t, !isfinite(r.high) && r.unit ? " " : "", !isfinite(r.high) && r.unit ? r.unit->symbol : "", " ",
                  (char *)0);
    }
    text_addz(t, "..");
    if (isfinite(r.high)) {
        text_char(t, ' ');
        text_double(t, r.high);
        text_join(t, r.unit ? " " : "", r.unit ? r.unit->symbol : "", (char *)0);
    }
    text_char(t, '\n');
}

static void si_line(struct text *t, const char *word, double si, const char *unit)
{
    const struct unit *u = unit_find(str_of(unit));
    quantity_line(t, word, (struct str){0}, (struct quantity){unit_from_si(u, si), u});
}

/* The correction and what it takes from the book. */
static void correction_lines(struct text *t, const struct book *b, const struct book_checkpoint *c)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    text_join(t, "correction=", book_correction_text(c->correction), "\n", (char *)0);
    if (rule->reference) {
        si_line(t, "reference", c->reference_k, "K");
    }
    if (rule->viscous && c->reference_fluid != BOOK_NONE && b->fluids[c->reference_fluid].viscosity_40_m2s > 0) {
        si_line(t, "v40", b->fluids[c->reference_fluid].viscosity_40_m2s, "mm2/s");
        si_line(t, "v100", b->fluids[c->reference_fluid].viscosity_100_m2s, "mm2/s");
    }
    if (rule->glycol) {
        text_join(t, "glycol=", c->propylene ? "propylene" : "ethylene", "\n", (char *)0);
    }
    for (int i = 0; i < c->n_given; i++) {
        quantity_line(t, "given", c->given[i].name, c->given[i].value);
    }
}

void text_judge_question(struct text *t, struct desk *d, const struct desk_machine *m, int checkpoint)
{
    const struct book_checkpoint *c = &m->book->checkpoints[checkpoint];
    const struct str none = {0};
    range_line(t, "limits", none, c->limits);
    if (c->gauge.unit || c->gauge.low < c->gauge.high) {
        range_line(t, "gauge", none, c->gauge);
    }
    if (c->uncertainty.given) {
        quantity_line(t, "uncertainty", none, c->uncertainty.q);
    }
    if (c->correction != CORRECT_NONE) {
        correction_lines(t, m->book, c);
    }
    for (int i = 0; i < c->n_judged_at; i++) {
        range_line(t, "judged-at", c->judged_at[i].name, c->judged_at[i].range);
    }
    struct judge_with *log = NULL;
    int n_log = 0;
    const struct unit *read = checkpoint_read_unit(c);
    reading_from_log(t->a, desk_state_of(d, m), checkpoint, read ? read->kind : Q_NONE, desk_now(d),
                     meter_total_at(&m->meter, &m->use, desk_now(d)), &log, &n_log);
    for (int i = 0; i < n_log; i++) {
        quantity_line(t, "with", log[i].name, log[i].value);
    }
}
