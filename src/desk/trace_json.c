/* Traces and fault codes as JSON (docs/json.md). */
#include "trace_internal.h"

#include "trace/failure_words.h"

#include <math.h>

static void put_id(struct json *j, const char *key, struct entry_id id)
{
    struct text t = text_new(j->t->a);
    text_entry_id(&t, id);
    json_str(j, key, text_str(&t));
}

static void put_instant(struct json *j, const char *key, instant_ms at)
{
    if (at == INSTANT_NONE) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(j->t->a);
    text_instant(&t, at);
    json_str(j, key, text_str(&t));
}

static void put_texts(struct json *j, const char *key, struct book_texts texts)
{
    json_begin_array(j, key);
    for (int i = 0; i < texts.n; i++) {
        json_str(j, NULL, texts.at[i]);
    }
    json_end_array(j);
}

static const char *state_word(enum desk_trace_state state)
{
    static const char *const words[] = {"open", "yes", "no", "cannot"};
    return words[state];
}

static void put_item(struct json *j, const struct desk_trace_item *item)
{
    static const char *const sorts[] = {"symptom", "test", "cure", "help"};
    json_begin_object(j, NULL);
    json_str(j, "name", item->name);
    json_strz(j, "sort", sorts[item->sort]);
    json_str(j, "label", item->label);
    json_strz(j, "kind", item->kind);
    json_str(j, "do", item->act);
    json_str(j, "yes", item->yes);
    json_str(j, "no", item->no);
    json_begin_array(j, "cautions");
    for (int i = 0; i < item->n_cautions; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", item->cautions[i]->name);
        json_strz(j, "level", book_caution_level_text(item->cautions[i]->level));
        json_str(j, "say", item->cautions[i]->say);
        json_end_object(j);
    }
    json_end_array(j);
    json_num(j, "minutes", item->minutes);
    json_num(j, "work_minutes", item->work_minutes);
    json_str(j, "at", item->place);
    json_str(j, "needs", item->needs);
    put_texts(j, "tools", item->tools);
    json_str(j, "note", item->note);
    json_bool(j, "asked", item->asked);
    json_bool(j, "task", item->task != BOOK_NONE);
    json_bool(j, "adjuster", item->adjuster != BOOK_NONE);
    json_strz(j, "state", state_word(item->state));
    json_str(j, "from", item->from);
    json_end_object(j);
}

static void put_word(struct json *j, const char *key, enum failure_table table, int word)
{
    size_t n = 0;
    json_strz(j, key, word > 0 ? failure_words(table, &n)[word] : "");
}

static void put_cause(struct json *j, const struct desk_trace *trace, const struct desk_trace_cause *c)
{
    const struct book_cause *k = &trace->machine->book->causes[c->cause];
    json_begin_object(j, NULL);
    json_str(j, "name", c->name);
    json_str(j, "label", c->label);
    json_num(j, "p", c->p);
    json_num(j, "weight", c->book_weight);
    json_int(j, "confirmed", c->confirmed);
    json_num(j, "factor", c->factor);
    json_begin_array(j, "facts");
    for (int i = 0; i < c->n_facts; i++) {
        json_begin_object(j, NULL);
        json_num(j, "factor", c->facts[i].factor);
        json_str(j, "says", c->facts[i].says);
        json_str(j, "source", c->facts[i].source);
        json_end_object(j);
    }
    json_end_array(j);
    json_str(j, "note", k->note);
    put_word(j, "mode", FAILURE_MODE, k->mode);
    put_word(j, "mechanism", FAILURE_MECHANISM, k->mechanism);
    put_word(j, "root", FAILURE_CAUSE, k->root);
    json_end_object(j);
}

static void put_events(struct json *j, const struct desk_trace_event *events, size_t n)
{
    json_begin_array(j, "events");
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        put_id(j, "entry", events[i].id);
        put_instant(j, "at", events[i].at);
        json_str(j, "by", events[i].by);
        json_str(j, "step", events[i].step);
        json_str(j, "what", events[i].what);
        json_str(j, "result", events[i].result);
        json_str(j, "note", events[i].note);
        json_end_object(j);
    }
    json_end_array(j);
}

static void put_after(struct json *j, const char *key, const struct desk_trace *trace,
                      const struct desk_trace_after *at, int n)
{
    json_begin_array(j, key);
    for (int i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", trace->causes[at[i].cause].name);
        json_num(j, "p", at[i].p);
        json_end_object(j);
    }
    json_end_array(j);
}

/* Symptom, state, causes, items, the question: what both forms share, in an object that is open. */
static void put_members(struct json *j, const struct desk_trace *trace)
{
    const struct book_symptom *s = &trace->machine->book->symptoms[trace->symptom];
    json_str(j, "symptom", s->name);
    json_str(j, "label", s->label);
    json_bool(j, "started", trace->started);
    if (trace->started) {
        put_id(j, "trace", trace->id);
        put_instant(j, "since", trace->since);
    } else {
        json_put_null(j, "trace");
        json_put_null(j, "since");
    }
    json_begin_array(j, "causes");
    for (int i = 0; i < trace->n_causes; i++) {
        put_cause(j, trace, &trace->causes[i]);
    }
    json_end_array(j);
    json_str(j, "question", trace->question);
    json_str(j, "evidence", trace->evidence);
    put_events(j, trace->events, trace->n_events);
}

void desk_trace_json(struct json *j, struct desk *d, const struct desk_trace *trace)
{
    (void)d;
    json_begin_object(j, NULL);
    json_str(j, "machine", trace->machine->serial);
    json_str(j, "name", trace->machine->name);
    put_members(j, trace);
    json_num(j, "other", trace->p_other);
    json_num(j, "two", trace->p_two);
    json_bool(j, "plans_two", trace->two);
    json_bool(j, "cured", trace->cured);
    json_begin_array(j, "items");
    for (int i = 0; i < trace->n_items; i++) {
        put_item(j, &trace->items[i]);
    }
    json_end_array(j);
    json_begin_array(j, "steps");
    for (int i = 0; i < trace->n_steps; i++) {
        const struct desk_trace_step *s = &trace->steps[i];
        json_begin_object(j, NULL);
        json_str(j, "name", trace->items[s->item].name);
        json_str(j, "label", trace->items[s->item].label);
        json_num(j, "minutes", s->minutes);
        json_num(j, "p_yes", s->p_yes);
        json_num(j, "low", s->low);
        json_num(j, "high", s->high);
        put_after(j, "if_yes", trace, s->if_yes, s->n_yes);
        put_after(j, "if_no", trace, s->if_no, s->n_no);
        json_end_object(j);
    }
    json_end_array(j);
    json_num(j, "low", trace->low);
    json_num(j, "high", trace->high);
    json_bool(j, "exact", trace->exact);
    json_num(j, "straight", trace->straight);
    json_end_object(j);
}

/* ---- for a phone ---- */

struct book_out {
    struct json *j;
    bool *put; /* items by name that were written */
    struct map seen;
    struct text items; /* the items of all symptoms, each once */
    struct json items_j;
    size_t n;
};

static void put_one(void *ctx, const struct desk_trace *trace, const struct trace_log *log)
{
    struct book_out *out = ctx;
    const struct book_symptom *s = &trace->machine->book->symptoms[trace->symptom];
    (void)log;
    json_begin_object(out->j, NULL);
    put_texts(out->j, "says", s->says);
    json_str(out->j, "where", s->part);
    put_members(out->j, trace);
    json_begin_array(out->j, "items");
    for (int i = 0; i < trace->n_items; i++) {
        json_str(out->j, NULL, trace->items[i].name);
        if (map_put(&out->seen, trace->items[i].name, 1)) {
            put_item(&out->items_j, &trace->items[i]);
        }
    }
    json_end_array(out->j);
    json_end_object(out->j);
}

bool desk_trace_book_json(struct json *j, struct desk *d, struct str machine, struct err *e)
{
    struct arena *a = j->t->a;
    struct desk_trace_head *heads = NULL;
    size_t n = 0;
    if (!desk_traces(d, machine, a, &heads, &n, e)) {
        return false;
    }
    const struct desk_machine *m = desk_machine_find(d, machine, e);
    struct book_out out = {.j = j, .seen = map_new(a), .items = text_new(a)};
    out.items_j = json_new(&out.items, false);
    json_begin_array(&out.items_j, NULL);
    json_begin_object(j, NULL);
    json_str(j, "machine", m->serial);
    json_str(j, "name", m->name);
    json_begin_array(j, "symptoms");
    bool ok = trace_every(d, machine, a, (struct trace_each){put_one, &out}, e);
    json_end_array(j);
    json_end_array(&out.items_j);
    json_raw(j, "items", text_str(&out.items));
    json_begin_array(j, "traces");
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        put_id(j, "trace", heads[i].id);
        json_str(j, "symptom", heads[i].symptom);
        json_str(j, "label", heads[i].label);
        put_instant(j, "since", heads[i].since);
        put_instant(j, "ended", heads[i].ended_at);
        json_str(j, "cause", heads[i].cause);
        json_end_object(j);
    }
    json_end_array(j);
    json_end_object(j);
    return ok;
}

void desk_traces_json(struct json *j, struct desk *d, const struct desk_trace_head *at, size_t n)
{
    (void)d;
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        json_str(j, "machine", at[i].machine->serial);
        json_str(j, "name", at[i].machine->name);
        put_id(j, "trace", at[i].id);
        json_str(j, "symptom", at[i].symptom);
        json_str(j, "label", at[i].label);
        put_instant(j, "since", at[i].since);
        put_instant(j, "ended", at[i].ended_at);
        json_str(j, "cause", at[i].cause);
        json_bool(j, "confirmed", at[i].confirmed);
        json_int(j, "entries", (int64_t)at[i].n_events);
        json_end_object(j);
    }
    json_end_array(j);
}

void desk_faults_json(struct json *j, struct desk *d, const struct desk_fault *at, size_t n)
{
    (void)d;
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        const struct desk_fault *f = &at[i];
        json_begin_object(j, NULL);
        json_str(j, "machine", f->machine->serial);
        json_str(j, "name", f->machine->name);
        json_str(j, "fault", f->key);
        if (f->spn >= 0) {
            json_int(j, "spn", f->spn);
        } else {
            json_put_null(j, "spn");
        }
        if (f->fmi >= 0) {
            json_int(j, "fmi", f->fmi);
        } else {
            json_put_null(j, "fmi");
        }
        json_str(j, "signal", f->signal);
        json_str(j, "meaning", f->meaning);
        json_str(j, "reading", f->reading);
        json_str(j, "text", f->text);
        json_bool(j, "active", f->active);
        json_int(j, "count", f->count);
        put_instant(j, "first", f->first);
        put_instant(j, "last", f->last);
        json_begin_array(j, "symptoms");
        for (int k = 0; k < f->n_symptoms; k++) {
            json_begin_object(j, NULL);
            json_str(j, "name", f->machine->book->symptoms[f->symptoms[k]].name);
            json_str(j, "label", f->machine->book->symptoms[f->symptoms[k]].label);
            json_bool(j, "clue", f->machine->book->symptoms[f->symptoms[k]].clue);
            json_end_object(j);
        }
        json_end_array(j);
        json_end_object(j);
    }
    json_end_array(j);
}
