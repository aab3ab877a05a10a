/* Recording what a page sends as kind and body. What can be checked of any kind is checked by the names of its members;
 * only what has a rule of its own (readings, meters, open items, machines) has a function. */
#include "desk_entry.h"
#include "desk_internal.h"
#include "desk_putback.h"
#include "reading.h"
#include "record_internal.h"

#include <jansson.h>
#include <math.h>

#define GRACE_MS 86400000 /* a day's grace: clocks and zones differ */

/* What is being recorded. */
struct body_record {
    struct desk *d;
    const struct desk_stamp *s;
    const struct desk_machine *m; /* null: about no machine */
    enum entry_kind kind;
    const json_t *body;
    bool known; /* an entry with this import key is here: names need no second look */
};

/* The names in a list of objects: body.parts[].part, body.fluids[].fluid. */
static bool check_list(const struct body_record *r, const char *list, const char *member,
                       int (*named)(const struct book *b, struct str name, struct err *e), struct err *e)
{
    const json_t *items = json_object_get(r->body, list);
    for (size_t i = 0; i < json_array_size(items); i++) {
        if (named(r->m->book, body_str(json_array_get(items, i), member), e) == BOOK_NONE) {
            return false;
        }
    }
    return true;
}

/* Every member that names something of the book names something that is there. */
static bool check_names(const struct body_record *r, struct err *e)
{
    static const struct {
        const char *member;
        int (*named)(const struct book *b, struct str name, struct err *e);
    } rows[] = {{"checkpoint", named_checkpoint},
                {"task", named_task},
                {"adjuster", named_adjuster},
                {"symptom", named_symptom},
                {"cause", named_cause}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct str name = body_str(r->body, rows[i].member);
        if (!name.p || (r->kind != KIND_READING && r->kind != KIND_FOUND && r->kind != KIND_DONE &&
                        r->kind != KIND_TURN && r->kind != KIND_TRACE)) {
            continue;
        }
        if (!r->m->book) {
            return err_set(e, ERR_MISSING, NULL, str_z(e->a, r->m->name), ": ", str_z(e->a, r->m->trouble), (char *)0);
        }
        if (rows[i].named(r->m->book, name, e) == BOOK_NONE) {
            return false;
        }
    }
    return r->kind != KIND_DONE || !r->m->book ||
           (check_list(r, "parts", "part", named_part, e) && check_list(r, "fluids", "fluid", named_fluid, e));
}

/* A quantity {value, unit}; the unit must be a known one. */
static bool quantity_of(const json_t *at, const char *path, struct quantity *q, struct err *e)
{
    struct str unit = body_str(at, "unit");
    *q = (struct quantity){body_num(at, "value"), unit.n ? unit_find(unit) : NULL};
    if (unit.n && !q->unit) {
        const struct unit *near = unit_nearest(unit);
        return err_set(e, ERR_INPUT, near ? near->symbol : "a unit of docs/book.md", path, ": unit '",
                       str_z(e->a, unit), "' is not known", (char *)0);
    }
    return true;
}

/* The unit fits what is measured there; then the verdict. */
static bool judge_body(const struct body_record *r, struct arena *a, struct desk_recorded *out, struct err *e)
{
    const struct book *b = r->m->book;
    const struct book_checkpoint *c = &b->checkpoints[book_find_checkpoint(b, body_str(r->body, "checkpoint"))];
    struct judge_input input = {.uncertainty_si = NAN};
    if (c->kind != CHECK_MEASURE) {
        return err_set(e, ERR_INPUT, c->kind == CHECK_LOOK ? "an entry of kind found" : "an entry of kind done", "'",
                       str_z(e->a, c->name), "' is not measured", (char *)0);
    }
    if (!quantity_of(r->body, "body", &input.value, e)) {
        return false;
    }
    if (!reading_fits(c, S("body.unit"), input.value, e)) {
        return false;
    }
    json_t *with = json_object_get(r->body, "with");
    struct judge_with *also = ARENA_ARRAY(a, struct judge_with, json_object_size(with));
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach(with, key, value)
    {
        struct judge_with *one = &also[input.n_with++];
        one->name = str_copy(a, str_of(key));
        if (!quantity_of(value, "body.with", &one->value, e)) {
            return false;
        }
    }
    const json_t *gauge = json_object_get(r->body, "gauge");
    struct quantity sure = {0};
    if (gauge && quantity_of(gauge, "body.gauge", &sure, e) && sure.unit) {
        double wide = body_num(gauge, "uncertainty");
        input.uncertainty_si = unit_to_si(sure.unit, wide) - unit_to_si(sure.unit, 0);
    }
    instant_ms at = r->s->at == INSTANT_NONE ? desk_now(r->d) : r->s->at;
    struct point_reading reading = {
        at, meter_total_at(&r->m->meter, &r->m->use, at), input.value, also, input.n_with, input.uncertainty_si};
    out->verdict = reading_verdict(a, desk_state_of(r->d, r->m), (int)(c - b->checkpoints), &reading);
    out->judged = true;
    return e->kind == ERR_NONE;
}

/* A machine comes under the depot's care: the same way as from the command line. */
static bool take_machine(const struct body_record *r, struct arena *a, struct desk_recorded *out, struct err *e)
{
    struct text options = text_new(e->a);
    const json_t *list = json_object_get(r->body, "options");
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *one = json_array_get(list, i);
        text_addz(&options, i ? "," : "");
        text_addz(&options, json_is_string(one) ? json_string_value(one) : "");
    }
    struct desk_machine_new m = {.serial = body_str(r->body, "serial"),
                                 .label = body_str(r->body, "label"),
                                 .book = body_str(r->body, "book"),
                                 .site = body_str(r->body, "site"),
                                 .options = text_str(&options),
                                 .in_service = DAY_NONE,
                                 .severe = body_bool(r->body, "severe", false),
                                 .by = r->s->by,
                                 .at = r->s->at};
    struct str since = body_str(r->body, "in_service");
    if (since.n && !day_parse(since, &m.in_service)) {
        return err_set(e, ERR_INPUT, "YYYY-MM-DD", "body.in_service: '", str_z(e->a, since), "' is no date", (char *)0);
    }
    if (!desk_machine_add(r->d, &m, &out->id, e)) {
        return false;
    }
    struct text t = text_new(a);
    text_add(&t, m.serial);
    text_addz(&t, ": machine taken in");
    out->says = text_str(&t);
    return true;
}

/* A plain meter reading goes the way of the command line, which says when it is doubtful. */
static bool record_meter(const struct body_record *r, struct arena *a, struct desk_recorded *out, struct err *e)
{
    const json_t *hours = json_object_get(r->body, "hours");
    struct text t = text_new(e->a);
    if (json_is_number(hours)) {
        text_double(&t, json_number_value(hours));
    }
    return desk_record_meter(r->d, r->s, text_str(&t), a, out, e);
}

/* "B-03: measured engine oil 1.4 bar: in limits. ..." */
static void say(const struct body_record *r, instant_ms at, const json_t *body, struct arena *a,
                struct desk_recorded *out)
{
    json_t *copy = json_deep_copy(body);
    struct entry entry = {
        .kind = r->kind, .machine = r->m ? r->m->serial : (struct str){0}, .body = copy, .at = at, .by = r->s->by};
    struct text t = text_new(a);
    if (r->m) {
        text_add(&t, r->m->name);
        text_addz(&t, ": ");
    }
    text_entry_says(&t, r->d, &entry);
    if (out->judged && r->m && r->m->book) {
        int checkpoint = book_find_checkpoint(r->m->book, body_str(r->body, "checkpoint"));
        text_verdict(&t, r->d, &r->m->book->checkpoints[checkpoint], &out->verdict);
    }
    out->says = text_str(&t);
    json_decref(copy);
}

/* Writes the entry with the stamp's import key in its body. */
static bool append(const struct body_record *r, instant_ms at, struct arena *a, struct desk_recorded *out,
                   struct err *e)
{
    json_t *body = json_deep_copy(r->body);
    if (r->s->import_key.n) {
        json_object_set_new(body, "import_key", json_stringn(r->s->import_key.p, r->s->import_key.n));
    }
    struct draft draft = {.kind = r->kind, .at = at, .by = r->s->by, .body = body};
    const struct desk_book *book = NULL;
    if (r->m) {
        draft.machine = r->m->serial;
        book = desk_present_book(r->d, r->m->book_id);
        draft.has_book = book && r->m->book;
        draft.book = draft.has_book ? book->hash : draft.book;
    }
    struct appended appended = {0};
    bool ok = depot_append(r->d->depot, &draft, 1, &appended, e);
    if (ok) {
        out->id = appended.id;
        out->known_already = appended.outcome == APPEND_KNOWN;
        say(r, at, r->body, a, out);
    }
    json_decref(body);
    return ok;
}

/* Whether an entry with the stamp's import key is in the log and holds. */
static bool key_known(const struct body_record *r, struct arena *scratch)
{
    if (r->s->import_key.n == 0 || !r->m) {
        return false;
    }
    struct text key = text_new(scratch);
    text_add(&key, r->m->serial);
    text_char(&key, '\n');
    text_add(&key, r->s->import_key);
    return map_get(&r->d->import_keys, text_str(&key), NULL);
}

bool desk_record_body(struct desk *d, const struct desk_stamp *s, enum entry_kind kind, const json_t *body,
                      struct arena *a, struct desk_recorded *out, struct err *e)
{
    *out = (struct desk_recorded){0};
    struct body_record r = {.d = d, .s = s, .kind = kind, .body = body};
    if (!desk_refresh(d, e)) {
        return false;
    }
    if (kind == KIND_MACHINE_IN) {
        return kind_check(kind, body, body_str(body, "serial"), e) && take_machine(&r, a, out, e);
    }
    bool needs = kind_needs_machine(kind);
    if (s->machine.n || needs) {
        r.m = desk_machine_find(d, s->machine, e);
        if (!r.m) {
            return false;
        }
    }
    instant_ms at = s->at == INSTANT_NONE ? desk_now(d) : s->at;
    if (at > desk_now(d) + GRACE_MS) {
        return err_set(e, ERR_INPUT, "a time that has passed", "the time lies in the future", (char *)0);
    }
    if (!kind_check(kind, body, r.m ? r.m->serial : (struct str){0}, e)) {
        return false;
    }
    r.known = key_known(&r, e->a);
    if (kind == KIND_METER && !r.known && !json_object_get(body, "meter")) {
        return record_meter(&r, a, out, e);
    }
    bool ok = r.known || !r.m || check_names(&r, e);
    bool opens = kind == KIND_OPENED || kind == KIND_PUT_BACK;
    ok = ok && (r.known || !opens || desk_may_open(d, r.m, body_str(body, "what"), kind == KIND_PUT_BACK, e));
    ok = ok && (r.known || kind != KIND_HANDED_BACK || desk_hand_back_fits(d, r.m, body, e));
    ok = ok && (kind != KIND_READING || r.known || !r.m || judge_body(&r, a, out, e));
    return ok && append(&r, at, a, out, e);
}
