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
    quantity_member(j, d, "corrected", v->corrected, isfinite(v->corrected_si));
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

static struct str quantity_written(struct arena *a, struct quantity q)
{
    struct text t = text_new(a);
    text_double(&t, q.value);
    text_join(&t, q.unit ? " " : "", q.unit ? q.unit->symbol : "", (char *)0);
    return text_str(&t);
}

/* "1.4 bar .. 1.6 bar" so that it reads back the same. */
static struct str range_written(struct arena *a, struct quantity_range r)
{
    struct text t = text_new(a);
    if (isfinite(r.low)) {
        text_add(&t, quantity_written(a, (struct quantity){r.low, r.unit}));
        text_char(&t, ' ');
    }
    text_addz(&t, "..");
    if (isfinite(r.high)) {
        text_char(&t, ' ');
        text_add(&t, quantity_written(a, (struct quantity){r.high, r.unit}));
    }
    return text_str(&t);
}

static void si_member(struct json *j, const char *key, double si, const char *unit)
{
    const struct unit *u = unit_find(str_of(unit));
    json_str(j, key, quantity_written(j->t->a, (struct quantity){unit_from_si(u, si), u}));
}

static void with_members(struct json *j, const char *key, const struct judge_with *at, int n)
{
    if (n == 0) {
        return;
    }
    json_begin_object(j, key);
    for (int i = 0; i < n; i++) {
        json_str_k(j, at[i].name, quantity_written(j->t->a, at[i].value));
    }
    json_end_object(j);
}

/* The correction and what it takes from the book. */
static void correction_members(struct json *j, const struct book *b, const struct book_checkpoint *c)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    json_strz(j, "correction", book_correction_text(c->correction));
    if (rule->reference) {
        si_member(j, "reference", c->reference_k, "K");
    }
    if (rule->viscous && c->reference_fluid != BOOK_NONE) {
        si_member(j, "v40", b->fluids[c->reference_fluid].viscosity_40_m2s, "mm2/s");
        si_member(j, "v100", b->fluids[c->reference_fluid].viscosity_100_m2s, "mm2/s");
    }
    if (rule->glycol) {
        json_strz(j, "glycol", c->propylene ? "propylene" : "ethylene");
    }
    struct judge_with *given = ARENA_ARRAY(j->t->a, struct judge_with, c->n_given + 1);
    for (int i = 0; i < c->n_given; i++) {
        given[i] = (struct judge_with){c->given[i].name, c->given[i].value};
    }
    with_members(j, "given", given, c->n_given);
}

void desk_judge_question_json(struct json *j, const char *key, struct desk *d, const struct desk_machine *m,
                              int checkpoint)
{
    const struct book_checkpoint *c = &m->book->checkpoints[checkpoint];
    struct arena *a = j->t->a;
    json_begin_object(j, key);
    json_str(j, "limits", range_written(a, c->limits));
    if (c->gauge.unit || c->gauge.low < c->gauge.high) {
        json_str(j, "gauge", range_written(a, c->gauge));
    }
    if (c->uncertainty.given) {
        json_str(j, "uncertainty", quantity_written(a, c->uncertainty.q));
    }
    if (c->correction != CORRECT_NONE) {
        correction_members(j, m->book, c);
    }
    if (c->n_judged_at) {
        json_begin_object(j, "judged-at");
        for (int i = 0; i < c->n_judged_at; i++) {
            json_str_k(j, c->judged_at[i].name, range_written(a, c->judged_at[i].range));
        }
        json_end_object(j);
    }
    struct judge_with *log = NULL;
    int n_log = 0;
    const struct unit *read = checkpoint_read_unit(c);
    reading_from_log(a, desk_state_of(d, m), checkpoint, read ? read->kind : Q_NONE, desk_now(d),
                     meter_total_at(&m->meter, &m->use, desk_now(d)), &log, &n_log);
    with_members(j, "log", log, n_log);
    json_end_object(j);
}
