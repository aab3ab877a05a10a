/* Feed: a spreadsheet saved as text. feed_csv.h makes the plan; here it gets the depot's machines and names, and what
 * it proposes becomes entries. */
#include "feed_csv.h"
#include "feed_internal.h"
#include "judge/correction.h"

#include <math.h>
#include <string.h>

/* The names of a machine's book that a spreadsheet may use. */
static void names_of(struct arena *a, const struct book *b, struct feed_csv_machine *m)
{
    struct feed_csv_name *at = ARENA_ARRAY(a, struct feed_csv_name, b->n_checkpoints + b->n_tasks + b->n_parts);
    size_t n = 0;
    for (int i = 0; i < b->n_checkpoints; i++) {
        const struct book_checkpoint *c = &b->checkpoints[i];
        if (c->kind != CHECK_DONE_BY) {
            at[n++] = (struct feed_csv_name){c->kind == CHECK_MEASURE ? FEED_CSV_NAME_MEASURE : FEED_CSV_NAME_LOOK,
                                             c->name,
                                             c->label,
                                             {0},
                                             checkpoint_read_unit(c)};
        }
    }
    for (int i = 0; i < b->n_tasks; i++) {
        at[n++] = (struct feed_csv_name){FEED_CSV_NAME_TASK, b->tasks[i].name, b->tasks[i].label, {0}, NULL};
    }
    for (int i = 0; i < b->n_parts; i++) {
        at[n++] =
            (struct feed_csv_name){FEED_CSV_NAME_PART, b->parts[i].name, b->parts[i].label, b->parts[i].now, NULL};
    }
    m->names = at;
    m->n_names = n;
}

static struct feed_csv_machine *machines_of(struct desk *d, struct arena *a)
{
    struct feed_csv_machine *at = ARENA_ARRAY(a, struct feed_csv_machine, d->n_machines);
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct desk_machine *m = &d->list[i];
        at[i] = (struct feed_csv_machine){
            .serial = m->serial, .label = m->label, .book = m->book_id, .meter_h = NAN, .meter_day = DAY_NONE};
        if (m->use.at != INSTANT_NONE) {
            at[i].meter_h = m->use.hours_now - m->meter.offset;
            at[i].meter_day = desk_day_of(d, m->use.at);
        }
        if (m->book) {
            names_of(a, m->book, &at[i]);
        }
    }
    return at;
}

/* What the plan asks while it is made. */
struct asked {
    struct desk *d;
    struct arena *a;
};

static bool known(void *ctx, struct str import_key)
{
    const struct asked *asked = ctx;
    return map_get(&asked->d->any_import_keys, import_key, NULL);
}

static int zone(void *ctx, day_t day, int minute)
{
    const struct asked *asked = ctx;
    return desk_offset_of_local(asked->d, (instant_ms)day * 86400000 + (instant_ms)minute * 60000);
}

/* One word of the call's options, e.g. "dates=day-first", "decimals=comma", or a column's meaning. */
static bool option(struct arena *a, struct feed_csv_options *o, struct str word, size_t *cap,
                   struct feed_csv_mapping **mappings, struct err *e)
{
    ptrdiff_t equals = str_find(word, S("="));
    struct str name = equals > 0 ? str_cut(word, 0, (size_t)equals) : word;
    struct str value = equals > 0 ? str_cut(word, (size_t)equals + 1, word.n) : (struct str){0};
    if (str_eq(name, S("dates"))) {
        return csv_dates_parse(value, &o->dates) || err_set(e, ERR_USAGE, "day-first, month-first or iso", "dates '",
                                                            str_z(e->a, value), "' are not known", (char *)0);
    }
    if (str_eq(name, S("decimals"))) {
        return csv_decimals_parse(value, &o->decimals) ||
               err_set(e, ERR_USAGE, "point or comma", "decimals '", str_z(e->a, value), "' are not known", (char *)0);
    }
    struct feed_csv_mapping mapping;
    if (!feed_csv_mapping_parse(word, &mapping, e)) {
        return false;
    }
    ARENA_PUSH(a, *mappings, o->n_mappings, *cap) = mapping;
    o->mappings = *mappings;
    return true;
}

static json_t *body_of(const struct feed_csv_proposal *p, enum entry_kind *kind)
{
    json_t *body = json_object();
    feed_put_str(body, "import_key", p->import_key);
    switch (p->kind) {
    case FEED_CSV_METER:
        *kind = KIND_METER;
        feed_put_num(body, "hours", p->value);
        return body;
    case FEED_CSV_READING:
        *kind = KIND_READING;
        feed_put_str(body, "checkpoint", p->name);
        feed_put_num(body, "value", p->value);
        json_object_set_new(body, "unit", json_string(p->unit ? p->unit->symbol : ""));
        break;
    case FEED_CSV_FOUND:
        *kind = KIND_FOUND;
        feed_put_str(body, "checkpoint", p->name);
        feed_put_str(body, "look", p->text);
        break;
    case FEED_CSV_DONE:
        *kind = KIND_DONE;
        feed_put_str(body, "task", p->name);
        if (isfinite(p->labour_min)) {
            feed_put_num(body, "minutes", p->labour_min);
        }
        break;
    case FEED_CSV_FAULT:
        *kind = KIND_FAULT_SEEN;
        if (p->spn >= 0 && p->fmi >= 0) {
            json_object_set_new(body, "spn", json_integer(p->spn));
            json_object_set_new(body, "fmi", json_integer(p->fmi));
            feed_put_str(body, "text", p->text);
        } else {
            feed_put_str(body, "code", p->text);
        }
        return body;
    case FEED_CSV_PART:
        *kind = KIND_STOCK; /* what was taken from the shelf */
        feed_put_str(body, "part", p->name);
        feed_put_num(body, "quantity", -p->value);
        return body;
    case FEED_CSV_NOTE:
    case FEED_CSV_ROW:
        *kind = KIND_NOTE;
        feed_put_str(body, "text", p->text);
        return body;
    }
    feed_put_str(body, "note", p->note);
    return body;
}

/* "reading front-tyre 1.4 bar on 4 Sep 2026" */
static struct str proposal_says(struct arena *a, const struct feed_csv_proposal *p)
{
    struct text t = text_new(a);
    text_join(&t, feed_csv_kind_text(p->kind), " ", (char *)0);
    text_add(&t, p->name);
    if (isfinite(p->value)) {
        text_char(&t, ' ');
        struct quantity q = {p->value, p->kind == FEED_CSV_METER ? unit_find(S("h")) : p->unit};
        text_quantity(&t, q);
    }
    if (p->text.n) {
        text_addz(&t, p->name.n || isfinite(p->value) ? ": " : "");
        text_add(&t, p->text);
    }
    if (p->day != DAY_NONE) {
        text_addz(&t, ", ");
        text_day_words(&t, p->day);
    }
    return text_str(&t);
}

static struct str reasons(struct arena *a, const struct feed_csv_proposal *p)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < p->n_why; i++) {
        text_addz(&t, i ? "; " : "");
        text_add(&t, p->why[i].what);
        if (p->why[i].right.n) {
            text_addz(&t, " (right: ");
            text_add(&t, p->why[i].right);
            text_char(&t, ')');
        }
    }
    return text_str(&t);
}

static void about(struct text *t, const struct feed_csv_plan *plan)
{
    static const char *const encodings[] = {
#define X(symbol, word) [symbol] = (word),
        CSV_ENCODINGS(X)
#undef X
    };
    text_join(t, encodings[plan->encoding], ", ", (char *)0);
    text_addz(t, plan->separator == '\t'  ? "tabs"
                 : plan->separator == ';' ? "semicolons"
                 : plan->separator == '|' ? "bars"
                                          : "commas");
    text_addz(t, "; columns: ");
    for (size_t i = 0; i < plan->n_columns; i++) {
        text_addz(t, i ? ", " : "");
        text_add(t, plan->columns[i].header);
        text_join(t, " = ", plan->columns[i].meaning ? plan->columns[i].meaning : "left out", (char *)0);
    }
    for (size_t i = 0; i < plan->findings.n; i++) {
        text_addz(t, "; ");
        text_add(t, plan->findings.at[i].what);
    }
}

bool desk_feed_csv(struct desk *d, const struct desk_feed_ask *ask, struct arena *a, struct desk_feed_report *out,
                   struct err *e)
{
    *out = (struct desk_feed_report){0};
    if (!desk_refresh(d, e)) {
        return false;
    }
    struct asked asked = {d, a};
    struct feed_csv_mapping *mappings = NULL;
    size_t cap = 0;
    struct feed_csv_input in = {.name = ask->name,
                                .bytes = ask->data,
                                .options = {.machine = ask->machine, .skip_refused = ask->skip_refused},
                                .machines = machines_of(d, a),
                                .n_machines = d->n_machines,
                                .today = desk_today_day(d),
                                .zone = zone,
                                .known = known,
                                .ctx = &asked};
    for (size_t i = 0; ask->options && ask->options[i]; i++) {
        if (!option(a, &in.options, str_of(ask->options[i]), &cap, &mappings, e)) {
            return false;
        }
    }
    const struct feed_csv_plan *plan = feed_csv_plan(a, &in, e);
    if (!plan) {
        return false;
    }
    struct taking t = {.d = d, .a = a, .report = out};
    for (size_t i = 0; i < plan->n_proposals; i++) {
        const struct feed_csv_proposal *p = &plan->proposals[i];
        const struct desk_machine *m = p->machine >= 0 ? &d->list[p->machine] : NULL;
        struct desk_feed_line line = {.line = p->where.line,
                                      .machine = m ? m->name : (struct str){0},
                                      .says = proposal_says(a, p),
                                      .why = reasons(a, p)};
        line.word = p->mark == FEED_CSV_TAKE       ? LINE_TAKE
                    : p->mark == FEED_CSV_DOUBTFUL ? LINE_DOUBT
                    : p->mark == FEED_CSV_KNOWN    ? LINE_KNOWN
                                                   : LINE_REFUSE;
        taking_line(&t, line);
        if (m && (p->mark == FEED_CSV_TAKE || p->mark == FEED_CSV_DOUBTFUL)) {
            enum entry_kind kind = KIND_NOTE;
            json_t *body = body_of(p, &kind);
            taking_draft(&t, m, kind, p->at, p->by.n ? p->by : ask->by, body);
        }
    }
    struct text words = text_new(a);
    about(&words, plan);
    out->about = text_str(&words);
    out->skip += plan->skipped;
    bool may = plan->may_take || (out->refuse == 0 && !plan->broken);
    if (!taking_end(&t, ask->take && may, e)) {
        return false;
    }
    if (ask->take && !may) {
        return err_set(
            e, ERR_INPUT, "put the lines right, or say --skip-refused to take the rest", str_z(e->a, ask->name),
            plan->broken ? ": the text is damaged, nothing was taken" : ": some lines are refused, nothing was taken",
            (char *)0);
    }
    return true;
}
