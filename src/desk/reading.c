/* What a reading is judged with. */
#include "reading.h"

#include <math.h>

/* The last time that fluid was changed before a moment; INSTANT_NONE when it was not. */
static instant_ms changed_at(const struct machine_state *s, int fluid, instant_ms before)
{
    instant_ms at = INSTANT_NONE;
    double capacity = s->m.book->fluids[fluid].capacity.given ? s->m.book->fluids[fluid].capacity.si : (double)NAN;
    for (size_t i = 0; i < s->n_fills; i++) {
        const struct fill_state *fill = &s->fills[i];
        if (fill->fluid == fluid && fill->at <= before && fill->m3 >= READING_CHANGED * capacity) {
            at = fill->at;
        }
    }
    return at;
}

/* What was filled in from one moment (with it) to another (without it). */
static double filled_between(const struct machine_state *s, int fluid, instant_ms from, instant_ms to)
{
    double m3 = 0;
    for (size_t i = 0; i < s->n_fills; i++) {
        const struct fill_state *fill = &s->fills[i];
        m3 += fill->fluid == fluid && fill->at >= from && fill->at < to ? fill->m3 : 0;
    }
    return m3;
}

static struct judge_with named(const char *name, double si, const char *unit)
{
    const struct unit *u = unit_find(str_of(unit));
    return (struct judge_with){str_of(name), {unit_from_si(u, si), u}};
}

void reading_from_log(struct arena *a, const struct machine_state *s, int checkpoint, enum quantity_kind read,
                      instant_ms at, double total_h, struct judge_with **out, int *n)
{
    const struct book_checkpoint *c = &s->m.book->checkpoints[checkpoint];
    const struct point_state *point = &s->points[checkpoint];
    bool by_hours = c->correction == CORRECT_CONSUMPTION;
    *n = 0;
    if (!by_hours && c->correction != CORRECT_LEAK) {
        return;
    }
    int fluid = c->reference_fluid;
    instant_ms since = fluid == BOOK_NONE ? INSTANT_NONE : changed_at(s, fluid, at);
    const struct point_reading *before = NULL;
    for (size_t i = 0; i < point->n_history; i++) {
        const struct point_reading *r = &point->history[i];
        bool same = (r->value.unit ? r->value.unit->kind : Q_NONE) == read;
        bool far = by_hours ? total_h - r->total_h >= READING_RUN_H : (double)(at - r->at) / 1e3 >= READING_APART_S;
        if (r->at < at && r->at >= since && same && far) {
            before = r;
        }
    }
    if (!before) {
        return;
    }
    *out = ARENA_ARRAY(a, struct judge_with, 5);
    (*out)[(*n)++] = (struct judge_with){S("before"), before->value};
    if (fluid != BOOK_NONE) {
        (*out)[(*n)++] = named("added", filled_between(s, fluid, before->at, at), "L");
    }
    (*out)[(*n)++] = by_hours ? named("run", (total_h - before->total_h) * 3600, "h")
                              : named("apart", (double)(at - before->at) / 1e3, "d");
    for (int i = 0; i < before->n_with && read == Q_PRESSURE; i++) {
        const struct unit *u = before->with[i].value.unit;
        if (u && u->kind == Q_TEMPERATURE) {
            (*out)[(*n)++] = (struct judge_with){S("before temperature"), before->with[i].value};
            break;
        }
    }
}

/* Both lists, what was read first; a name that was read is not taken from the log. */
static void both(struct arena *a, struct judge_input *input, const struct judge_with *log, int n_log)
{
    struct judge_with *all = ARENA_ARRAY(a, struct judge_with, input->n_with + n_log + 1);
    int n = 0;
    for (int i = 0; i < input->n_with; i++) {
        all[n++] = input->with[i];
    }
    for (int i = 0; i < n_log; i++) {
        bool read = false;
        for (int k = 0; k < input->n_with; k++) {
            read = read || str_eq_nocase(input->with[k].name, log[i].name);
        }
        if (!read) {
            all[n++] = log[i];
        }
    }
    input->with = all;
    input->n_with = n;
}

struct verdict reading_verdict(struct arena *a, const struct machine_state *s, int checkpoint,
                               const struct point_reading *reading)
{
    struct judge_input input = {reading->value, reading->with, reading->n_with, reading->uncertainty_si};
    struct judge_with *log = NULL;
    int n_log = 0;
    reading_from_log(a, s, checkpoint, reading->value.unit ? reading->value.unit->kind : Q_NONE, reading->at,
                     reading->total_h, &log, &n_log);
    if (n_log) {
        both(a, &input, log, n_log);
    }
    return judge_reading(a, s->m.book, &s->m.book->checkpoints[checkpoint], &input);
}

/* ---- from words ---- */

bool reading_fits(const struct book_checkpoint *c, struct str written, struct quantity value, struct err *e)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    enum quantity_kind kind = value.unit ? value.unit->kind : Q_NONE;
    enum quantity_kind limits = c->limits.unit ? c->limits.unit->kind : Q_NONE;
    const struct unit *unit = checkpoint_read_unit(c);
    bool gauge = c->gauge.unit || c->gauge.low < c->gauge.high;
    bool fits = !rule->same && gauge ? kind == (unit ? unit->kind : Q_NONE)
                : rule->same         ? kind == limits
                                     : correction_reads(rule, kind);
    if (fits) {
        return true;
    }
    return err_set(e, ERR_INPUT, unit ? unit->symbol : "a number without a unit", "'", str_z(e->a, written), "' is no ",
                   quantity_kind_text(unit ? unit->kind : Q_NONE), (char *)0);
}

bool reading_parse(struct arena *a, const struct book *b, struct str checkpoint, struct str value, struct str with,
                   struct reading_asked *out, struct err *e)
{
    struct pair *pairs = NULL;
    size_t n = 0;
    *out = (struct reading_asked){.checkpoint = desk_named_checkpoint(b, checkpoint, e)};
    if (out->checkpoint == BOOK_NONE) {
        return false;
    }
    const struct book_checkpoint *c = &b->checkpoints[out->checkpoint];
    if (c->kind != CHECK_MEASURE) {
        return err_set(e, ERR_INPUT, c->kind == CHECK_LOOK ? "record found" : "record done", "'",
                       str_z(e->a, checkpoint), "' is not measured", (char *)0);
    }
    if (!quantity_parse(value, &out->value, e) || !reading_fits(c, value, out->value, e) ||
        !desk_pairs(a, with, &pairs, &n, e)) {
        return false;
    }
    struct judge_with *at = ARENA_ARRAY(a, struct judge_with, n + 1);
    for (size_t i = 0; i < n; i++) {
        at[i].name = pairs[i].name;
        if (!quantity_parse(pairs[i].value, &at[i].value, e)) {
            return err_context(e, pairs[i].name);
        }
    }
    out->with = at;
    out->n_with = (int)n;
    return true;
}

void text_verdict(struct text *t, const struct desk *d, const struct book_checkpoint *c, const struct verdict *v)
{
    if (c->correction != CORRECT_NONE && isfinite(v->corrected_si)) {
        text_addz(t, ", corrected ");
        text_corrected(t, v, d->units);
    }
    text_join(t, ": ", verdict_word_text(v->word), ", ", (char *)0);
    text_add(t, v->reason);
}
