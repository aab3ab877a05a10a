/* Feed: a recording of a machine's bus. feed_bus.h proposes; here the proposals meet the machine's book and become
 * entries. */
#include "feed_bus.h"
#include "feed_internal.h"
#include "judge/correction.h"

#include <math.h>

/* The engine's values in which a book writes what a recording calls its regime; null = any. */
static const char *engine_of(enum feed_regime regime)
{
    switch (regime) {
    case FEED_STOPPED:
        return "off";
    case FEED_LOW_IDLE:
        return "low-idle";
    case FEED_WORKING:
        return "working";
    case FEED_CRANKING:
        return "cranking";
    case FEED_RUNNING:
    case FEED_ANY:
        break;
    }
    return NULL;
}

/* Would the checkpoint be read in what the machine was doing? A book that says nothing of the engine takes any steady
 * reading but not one while cranking; one that says so takes only its own. */
static bool in_regime(const struct book *b, const struct book_checkpoint *c, enum feed_regime regime)
{
    const char *value = engine_of(regime);
    for (int v = 0; v < b->n_variables; v++) {
        if (!str_eq(b->variables[v].name, S("engine")) || c->needs.allow[v] == 0) {
            continue;
        }
        for (int i = 0; i < b->variables[v].n_values; i++) {
            bool asked = (c->needs.allow[v] >> i) & 1;
            bool is_off = str_eq(b->variables[v].values[i], S("off"));
            if (asked && (value ? str_eq(b->variables[v].values[i], str_of(value)) : !is_off)) {
                return true;
            }
        }
        return false;
    }
    return regime != FEED_CRANKING;
}

/* The checkpoint that the book says this signal reads in this regime, else the proposal's own stable word. */
static struct str checkpoint_of(const struct desk_machine *m, const struct feed_proposal *p)
{
    for (int i = 0; m->book && i < m->book->n_checkpoints; i++) {
        const struct book_checkpoint *c = &m->book->checkpoints[i];
        const struct unit *unit = unit_find(p->unit);
        const struct unit *read = checkpoint_read_unit(c);
        if (c->kind == CHECK_MEASURE && c->bus_spn > 0 && (uint32_t)c->bus_spn == p->spn && read && unit &&
            unit->kind == read->kind && in_regime(m->book, c, p->regime)) {
            return c->name;
        }
    }
    return p->what;
}

static void put_conditions(json_t *body, const struct feed_proposal *p)
{
    if (p->n_conditions == 0) {
        return;
    }
    json_t *with = json_object();
    for (size_t i = 0; i < p->n_conditions; i++) {
        json_t *value = json_object();
        feed_put_num(value, "value", p->conditions[i].value);
        json_object_set_new(value, "unit", json_stringn(p->conditions[i].unit.p, p->conditions[i].unit.n));
        json_object_setn_new(with, p->conditions[i].name.p, p->conditions[i].name.n, value);
    }
    json_object_set_new(body, "with", with);
}

static json_t *body_of(const struct desk_machine *m, const struct feed_proposal *p, enum entry_kind *kind)
{
    json_t *body = json_object();
    feed_put_str(body, "import_key", p->import_key);
    switch (p->kind) {
    case FEED_METER:
        *kind = KIND_METER;
        feed_put_num(body, "hours", p->value);
        break;
    case FEED_READING:
        *kind = KIND_READING;
        feed_put_str(body, "checkpoint", checkpoint_of(m, p));
        feed_put_num(body, "value", p->value);
        json_object_set_new(body, "unit", json_stringn(p->unit.p ? p->unit.p : "", p->unit.n));
        put_conditions(body, p);
        feed_put_str(body, "note", p->name);
        break;
    case FEED_FAULT_SEEN:
    case FEED_FAULT_STORED:
    case FEED_FAULT_CLEARED:
        *kind = p->kind == FEED_FAULT_SEEN ? KIND_FAULT_SEEN : KIND_FAULT_CLEARED;
        json_object_set_new(body, "spn", json_integer(p->spn));
        json_object_set_new(body, "fmi", json_integer(p->failure_mode));
        feed_put_str(body, "text", p->name);
        json_object_set_new(body, "count", json_integer((json_int_t)p->count));
        break;
    case FEED_BURN:
        *kind = KIND_BURN;
        json_object_set_new(body, "type", json_string("active"));
        feed_put_num(body, "minutes", (double)(p->to - p->from) / 60000.0);
        break;
    case FEED_STATE:
        *kind = KIND_NOTE;
        feed_put_str(body, "text", p->note.n ? p->note : p->name);
        break;
    }
    return body;
}

static struct str proposal_says(struct arena *a, struct desk *d, const struct feed_proposal *p)
{
    struct text t = text_new(a);
    text_join(&t, feed_proposal_kind_text(p->kind), " ", (char *)0);
    text_add(&t, p->kind == FEED_STATE && p->note.n ? p->note : p->name);
    if (isfinite(p->value) && p->kind != FEED_STATE) {
        text_char(&t, ' ');
        text_quantity_in(&t, (struct quantity){p->value, unit_find(p->unit)}, d->units);
    }
    for (size_t i = 0; i < p->n_conditions; i++) {
        text_addz(&t, i ? ", " : " at ");
        text_add(&t, p->conditions[i].name);
        text_char(&t, ' ');
        text_quantity_in(&t, (struct quantity){p->conditions[i].value, unit_find(p->conditions[i].unit)}, d->units);
    }
    if (p->at != INSTANT_NONE) {
        text_addz(&t, ", ");
        text_local(&t, d, p->at);
    }
    return text_str(&t);
}

/* A meter that does not follow on the last reading: another machine's recording, or another meter. It is kept and left
 * out. */
static struct str meter_doubt(struct arena *a, const struct desk_machine *m, const struct feed_proposal *p)
{
    double last = m->use.hours_now - m->meter.offset;
    struct text t = text_new(a);
    if (m->use.at == INSTANT_NONE || p->at < m->use.at) {
        return text_str(&t);
    }
    bool back = p->value < last;
    bool fast = p->value - last > (double)(p->at - m->use.at) / 3600000.0 + 0.5;
    if (back || fast) {
        text_addz(&t, back ? "lower than the last reading, " : "more than 24 h a day since the last reading, ");
        text_hours(&t, last);
        text_addz(&t, ": is this the recording of this machine?");
    }
    return text_str(&t);
}

/* Options of the call: "started=2026-09-04 07:10" for a recording without a date of its own. */
static bool options_of(struct desk *d, const struct desk_feed_ask *ask, struct feed_bus_options *o, struct err *e)
{
    for (size_t i = 0; ask->options && ask->options[i]; i++) {
        struct str word = str_of(ask->options[i]);
        if (!str_starts(word, S("started="))) {
            return err_set(e, ERR_USAGE, "started=2026-09-04 07:10", "'", ask->options[i],
                           "' is no option of a bus recording", (char *)0);
        }
        if (!desk_instant(d, str_cut(word, 8, word.n), &o->started_at, e)) {
            return false;
        }
    }
    return true;
}

#define SIGNALS_SETTING "bus-signals"
#define SIGNALS_BYTES_MAX ((size_t)4 << 20)

bool desk_signals_take(struct desk *d, const char *path, struct diags *findings, size_t *added, struct err *e)
{
    struct str csv = {0};
    struct bus_table table;
    struct log_hash hash;
    if (!desk_read_file(e->a, path, SIGNALS_BYTES_MAX, &csv, e)) {
        return false;
    }
    if (!bus_table_extend(e->a, &bus_table_builtin, str_of(path), csv, &table, findings) || findings->errors) {
        return err_set(e, ERR_INPUT, "the columns of the table of signals that is built in (docs/bus.md)", path,
                       " is not taken: it has errors", (char *)0);
    }
    *added = table.n - bus_table_builtin.n;
    if (!depot_blob_put(d->depot, csv, &hash, e)) {
        return false;
    }
    struct text hex = text_new(e->a);
    text_hex(&hex, hash.b, sizeof hash.b);
    return depot_setting_put(d->depot, SIGNALS_SETTING, text_str(&hex), e);
}

/* The signals built in, with the depot's own added; null on an error. */
static const struct bus_table *signals(struct desk *d, struct arena *a, struct err *e)
{
    struct str hex = {0};
    struct str csv = {0};
    struct log_hash hash;
    bool found = false;
    if (!depot_setting_get(d->depot, SIGNALS_SETTING, a, &hex, e)) {
        return e->kind == ERR_NONE ? &bus_table_builtin : NULL;
    }
    struct bus_table *table = ARENA_NEW(a, struct bus_table);
    struct diags findings = diags_new(a, 10);
    if (!hex_parse(hex, hash.b, sizeof hash.b) || !depot_blob_get(d->depot, hash, a, &csv, &found, e) || !found ||
        !bus_table_extend(a, &bus_table_builtin, S("the depot's signals"), csv, table, &findings)) {
        (void)err_set(e, ERR_MISSING, "witmark feed signals FILE", "the depot's table of signals can't be read",
                      (char *)0);
        return NULL;
    }
    return table;
}

bool desk_feed_bus(struct desk *d, const struct desk_feed_ask *ask, struct arena *a, struct desk_feed_report *out,
                   struct err *e)
{
    *out = (struct desk_feed_report){0};
    const struct desk_machine *m = desk_machine_find(d, ask->machine, e);
    if (!m) {
        return false;
    }
    struct feed_bus_options options = {.name = ask->name,
                                       .started_at = INSTANT_NONE,
                                       .now = desk_now(d),
                                       .offset_minutes = desk_offset_of_local(d, desk_now(d))};
    struct feed_bus_result result = {0};
    struct diags findings = diags_new(a, 50);
    options.table = signals(d, a, e);
    if (!options.table || !options_of(d, ask, &options, e) ||
        !feed_bus_read(a, ask->data, &options, &result, &findings, e)) {
        return false;
    }
    struct taking t = {.d = d, .a = a, .report = out};
    for (size_t i = 0; i < result.n_proposals; i++) {
        const struct feed_proposal *p = &result.proposals[i];
        struct desk_feed_line line = {.word = p->doubt.n ? LINE_DOUBT : LINE_TAKE,
                                      .machine = m->name,
                                      .says = proposal_says(a, d, p),
                                      .why = p->doubt};
        if (p->at == INSTANT_NONE) {
            line.word = LINE_REFUSE;
            line.why = S("the recording has no date: say started=DATE TIME");
        } else if (p->kind == FEED_FAULT_STORED) {
            line.word = LINE_SKIP;
            line.why = S("a stored fault: when it was active is not known");
        } else if (feed_known(d, m->serial, p->import_key)) {
            line.word = LINE_KNOWN;
        }
        if (line.word == LINE_TAKE && p->kind == FEED_METER) {
            line.why = meter_doubt(a, m, p);
            line.word = line.why.n ? LINE_DOUBT : LINE_TAKE;
        }
        taking_line(&t, line);
        if (line.word == LINE_TAKE || line.word == LINE_DOUBT) {
            enum entry_kind kind = KIND_NOTE;
            json_t *body = body_of(m, p, &kind);
            taking_draft(&t, m, kind, p->at, ask->by, body);
        }
    }
    for (size_t i = 0; i < result.n_remarks; i++) {
        taking_line(&t, (struct desk_feed_line){.word = LINE_SKIP,
                                                .machine = m->name,
                                                .says = result.remarks[i].what,
                                                .why = result.remarks[i].why});
    }
    for (size_t i = 0; i < findings.n; i++) {
        taking_line(&t, (struct desk_feed_line){.word = LINE_SKIP,
                                                .line = findings.at[i].where.line,
                                                .says = findings.at[i].what,
                                                .why = findings.at[i].right});
    }
    struct text words = text_new(a);
    text_int(&words, (int64_t)result.lines);
    text_addz(&words, " lines, ");
    text_int(&words, (int64_t)result.malformed);
    text_addz(&words, " of them unreadable");
    out->about = text_str(&words);
    bool may = out->refuse == 0 || ask->skip_refused;
    if (!taking_end(&t, ask->take && may, e)) {
        return false;
    }
    return !ask->take || may ||
           err_set(e, ERR_INPUT, "say when it was recorded: started=DATE TIME", str_z(e->a, ask->name),
                   " was not taken", (char *)0);
}
