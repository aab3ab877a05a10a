/* Recording: from what a person says to a checked entry. The names are held against the machine's book and the units
 * against what is measured there, before anything is written. */
#include "desk_putback.h"
#include "reading.h"
#include "record_internal.h"
#include "stock_internal.h"

#include <jansson.h>
#include <math.h>
#include <string.h>

/* The stamp's machine and time; a machine is needed unless `may_be_none`. */
struct recording {
    struct desk *d;
    const struct desk_stamp *s;
    const struct desk_machine *m;
    struct draft draft;
    json_t *body;
};

static bool begin(struct recording *r, struct desk *d, const struct desk_stamp *s, enum entry_kind kind, struct err *e)
{
    *r = (struct recording){.d = d, .s = s};
    r->m = desk_machine_find(d, s->machine, e);
    if (!r->m) {
        return false;
    }
    r->body = json_object();
    r->draft = (struct draft){
        .kind = kind, .at = s->at == INSTANT_NONE ? desk_now(d) : s->at, .by = s->by, .machine = r->m->serial};
    const struct desk_book *book = desk_present_book(d, r->m->book_id);
    if (book && r->m->book) {
        r->draft.has_book = true;
        r->draft.book = book->hash;
    }
    return true;
}

static void put_str(json_t *body, const char *key, struct str value)
{
    if (value.n) {
        json_object_set_new(body, key, json_stringn(value.p, value.n));
    }
}

/* Whole numbers stay whole in the log. */
static void put_num(json_t *body, const char *key, double value)
{
    json_object_set_new(
        body, key, value == floor(value) && fabs(value) < 9e15 ? json_integer((json_int_t)value) : json_real(value));
}

/* Writes the entry and says so. Gives the body back. */
static bool finish(struct recording *r, struct arena *a, struct desk_recorded *out, struct err *e)
{
    if (r->draft.kind != KIND_NOTE && r->draft.kind != KIND_METER && r->draft.kind != KIND_METER_REPLACED &&
        r->draft.kind != KIND_MACHINE_OUT && r->draft.kind != KIND_BURN && r->draft.kind != KIND_FAULT_SEEN &&
        r->draft.kind != KIND_FAULT_CLEARED && r->draft.kind != KIND_STOCK) {
        put_str(r->body, "note", r->s->note);
    }
    put_str(r->body, "import_key", r->s->import_key);
    r->draft.body = r->body;
    struct appended appended = {0};
    bool passed = r->draft.at <= desk_now(r->d) + 86400000 || /* a day's grace: clocks and zones differ */
                  err_set(e, ERR_INPUT, "a time that has passed", "the time lies in the future", (char *)0);
    bool ok = passed && depot_append(r->d->depot, &r->draft, 1, &appended, e);
    if (ok) {
        out->id = appended.id;
        out->known_already = appended.outcome == APPEND_KNOWN;
        struct entry entry = {
            .kind = r->draft.kind, .machine = r->draft.machine, .body = r->body, .at = r->draft.at, .by = r->draft.by};
        struct text t = text_new(a);
        if (r->m) {
            text_add(&t, r->m->name);
            text_addz(&t, ": ");
        }
        text_entry_says(&t, r->d, &entry);
        out->says = text_str(&t);
    }
    json_decref(r->body);
    return ok;
}

static bool drop(struct recording *r)
{
    json_decref(r->body);
    return false;
}

/* The machine's book, or the trouble with it as an error. */
static const struct book *book_of(const struct recording *r, struct err *e)
{
    if (!r->m->book) {
        err_set(e, ERR_MISSING, NULL, str_z(e->a, r->m->name), ": ", str_z(e->a, r->m->trouble), (char *)0);
    }
    return r->m->book;
}

/* Says that the book has no such name and which is nearest. */
static bool no_such(struct err *e, const struct book *b, const char *what, struct str name, const struct str *names,
                    size_t n)
{
    ptrdiff_t near = str_nearest(name, names, n);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : "witmark machine show lists them");
    if (near >= 0) {
        text_add(&right, names[near]);
        text_char(&right, '?');
    }
    return err_set(e, ERR_MISSING, text_z(&right), "book ", str_z(e->a, b->id), " has no ", what, " '",
                   str_z(e->a, name), "' for ", str_z(e->a, b->serial), (char *)0);
}

/* Index of the named thing, or the error with the nearest name. */
#define NAMED(function, find, list, what)                                   \
    int function(const struct book *b, struct str name, struct err *e)      \
    {                                                                       \
        int i = find(b, name);                                              \
        if (i == BOOK_NONE) {                                               \
            struct str *names = ARENA_ARRAY(e->a, struct str, b->n_##list); \
            for (int k = 0; k < b->n_##list; k++) {                         \
                names[k] = b->list[k].name;                                 \
            }                                                               \
            (void)no_such(e, b, what, name, names, (size_t)b->n_##list);    \
        }                                                                   \
        return i;                                                           \
    }

NAMED(named_checkpoint, book_find_checkpoint, checkpoints, "checkpoint")
NAMED(named_task, book_find_task, tasks, "task")
NAMED(named_part, book_find_part, parts, "part")
NAMED(named_fluid, book_find_fluid, fluids, "fluid")
NAMED(named_adjuster, book_find_adjuster, adjusters, "adjuster")
NAMED(named_open_item, book_find_open_item, open_items, "put-back item")
NAMED(named_symptom, book_find_symptom, symptoms, "symptom")
NAMED(named_cause, book_find_cause, causes, "cause")

int desk_named_checkpoint(const struct book *b, struct str name, struct err *e)
{
    return named_checkpoint(b, name, e);
}

/* What was read together with a value, as the member `with`. */
static void put_with(struct recording *r, const struct judge_with *with, int n)
{
    json_t *members = json_object();
    for (int i = 0; i < n; i++) {
        json_t *value = json_object();
        put_num(value, "value", with[i].value.value);
        json_object_set_new(value, "unit", json_string(with[i].value.unit ? with[i].value.unit->symbol : ""));
        json_object_setn_new(members, with[i].name.p, with[i].name.n, value);
    }
    if (n) {
        json_object_set_new(r->body, "with", members);
    } else {
        json_decref(members);
    }
}

bool desk_record_reading(struct desk *d, const struct desk_stamp *s, struct str checkpoint, struct str value,
                         struct str with, struct arena *a, struct desk_recorded *out, struct err *e)
{
    struct recording r;
    struct reading_asked asked;
    *out = (struct desk_recorded){0};
    if (!begin(&r, d, s, KIND_READING, e)) {
        return false;
    }
    const struct book *b = book_of(&r, e);
    if (!b || !reading_parse(a, b, checkpoint, value, with, &asked, e)) {
        return drop(&r);
    }
    const struct book_checkpoint *c = &b->checkpoints[asked.checkpoint];
    put_str(r.body, "checkpoint", c->name);
    put_num(r.body, "value", asked.value.value);
    json_object_set_new(r.body, "unit", json_string(asked.value.unit ? asked.value.unit->symbol : ""));
    put_with(&r, asked.with, asked.n_with);
    struct point_reading reading = {
        r.draft.at, meter_total_at(&r.m->meter, &r.m->use, r.draft.at), asked.value, asked.with, asked.n_with, NAN};
    out->verdict = reading_verdict(a, desk_state_of(d, r.m), asked.checkpoint, &reading);
    out->judged = true;
    if (!finish(&r, a, out, e)) {
        return false;
    }
    struct text t = text_new(a);
    text_add(&t, out->says);
    text_verdict(&t, d, c, &out->verdict);
    out->says = text_str(&t);
    return true;
}

/* "2204.5" or "2204.5 h", at least 0. */
static bool hours_of(struct str text, double *hours, struct err *e)
{
    struct str s = str_trim(text);
    if (str_ends(s, S("h"))) {
        s = str_trim(str_cut(s, 0, s.n - 1));
    }
    if (!num_parse(s, hours) || *hours < 0 || *hours > 1e6) {
        return err_set(e, ERR_INPUT, "hours from 0 to 1000000, e.g. 2204.5", "'", str_z(e->a, text),
                       "' is no meter reading", (char *)0);
    }
    return true;
}

bool desk_record_meter(struct desk *d, const struct desk_stamp *s, struct str hours, struct arena *a,
                       struct desk_recorded *out, struct err *e)
{
    struct recording r;
    double h = 0;
    *out = (struct desk_recorded){0};
    if (!hours_of(hours, &h, e) || !begin(&r, d, s, KIND_METER, e)) {
        return false;
    }
    put_num(r.body, "hours", h);
    const struct desk_machine *m = r.m;
    double expected = m->hours_now - m->meter.offset;
    double last = m->use.hours_now - m->meter.offset;
    bool back = isfinite(last) && h < last && r.draft.at >= m->use.at;
    bool fast =
        isfinite(last) && r.draft.at >= m->use.at && h - last > (double)(r.draft.at - m->use.at) / 3600000.0 + 0.5;
    if (!finish(&r, a, out, e)) {
        return false;
    }
    if (back || fast) {
        struct text t = text_new(a);
        text_add(&t, out->says);
        text_addz(&t, back ? ". Doubtful: lower than the last reading, "
                           : ". Doubtful: more than 24 h a day since the last reading, ");
        text_hours(&t, last);
        text_addz(&t, "; it is kept and left out. About ");
        text_hours(&t, expected);
        text_addz(&t, " was expected; correct it if it was mistyped, or record meter-replaced");
        out->says = text_str(&t);
    }
    return true;
}

bool desk_record_meter_replaced(struct desk *d, const struct desk_stamp *s, struct str old_hours, struct str new_hours,
                                struct arena *a, struct desk_recorded *out, struct err *e)
{
    struct recording r;
    double before = 0;
    double after = 0;
    *out = (struct desk_recorded){0};
    if (!hours_of(old_hours, &before, e) || !hours_of(new_hours, &after, e) ||
        !begin(&r, d, s, KIND_METER_REPLACED, e)) {
        return false;
    }
    put_num(r.body, "old", before);
    put_num(r.body, "new", after);
    return finish(&r, a, out, e);
}

bool desk_record_found(struct desk *d, const struct desk_stamp *s, struct str checkpoint, struct str look,
                       struct arena *a, struct desk_recorded *out, struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    if (!begin(&r, d, s, KIND_FOUND, e)) {
        return false;
    }
    const struct book *b = book_of(&r, e);
    int i = b ? named_checkpoint(b, checkpoint, e) : BOOK_NONE;
    if (i == BOOK_NONE) {
        return drop(&r);
    }
    if (str_trim(look).n == 0) {
        err_set(e, ERR_USAGE, "ok, or what was found", "nothing was said of '", str_z(e->a, checkpoint), "'",
                (char *)0);
        return drop(&r);
    }
    put_str(r.body, "checkpoint", b->checkpoints[i].name);
    put_str(r.body, "look", str_trim(look));
    return finish(&r, a, out, e);
}

/* Parts that a task used: as named, or as the book says. */
static bool put_parts(struct recording *r, const struct book *b, const struct book_task *task, struct str parts,
                      struct err *e)
{
    if (str_eq_nocase(str_trim(parts), S("none"))) {
        return true;
    }
    json_t *list = json_array();
    if (str_trim(parts).n == 0) {
        for (int i = 0; i < task->n_parts; i++) {
            const struct book_part *part = &b->parts[task->parts[i].item];
            json_t *used = json_object();
            put_str(used, "part", part->name);
            put_str(used, "number", part->now);
            put_num(used, "quantity", task->parts[i].quantity);
            json_array_append_new(list, used);
        }
    }
    struct pair *pairs = NULL;
    size_t n = 0;
    bool ok = desk_pairs(e->a, parts, &pairs, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        int part = named_part(b, pairs[i].name, e);
        double quantity = 0;
        ok = part != BOOK_NONE &&
             ((num_parse(pairs[i].value, &quantity) && quantity > 0) ||
              err_set(e, ERR_USAGE, "a number", "'", str_z(e->a, pairs[i].value), "' is no quantity", (char *)0));
        if (ok) {
            json_t *used = json_object();
            put_str(used, "part", b->parts[part].name);
            put_str(used, "number", b->parts[part].now);
            put_num(used, "quantity", quantity);
            json_array_append_new(list, used);
        }
    }
    if (ok && json_array_size(list)) {
        json_object_set(r->body, "parts", list);
    }
    json_decref(list);
    return ok;
}

static void add_fluid(json_t *list, const struct book_fluid *fluid, struct quantity q)
{
    json_t *used = json_object();
    put_str(used, "fluid", fluid->name);
    put_num(used, "value", q.value);
    json_object_set_new(used, "unit", json_string(q.unit->symbol));
    json_array_append_new(list, used);
}

static bool put_fluids(struct recording *r, const struct book *b, const struct book_task *task, struct str fluids,
                       struct err *e)
{
    if (str_eq_nocase(str_trim(fluids), S("none"))) {
        return true;
    }
    json_t *list = json_array();
    for (int i = 0; str_trim(fluids).n == 0 && i < task->n_fluids; i++) {
        const struct book_use *use = &task->fluids[i];
        const struct book_quantity *q = use->written.given ? &use->written : &b->fluids[use->item].capacity;
        if (q->given && q->q.unit) {
            add_fluid(list, &b->fluids[use->item], q->q);
        }
    }
    struct pair *pairs = NULL;
    size_t n = 0;
    bool ok = desk_pairs(e->a, fluids, &pairs, &n, e);
    for (size_t i = 0; ok && i < n; i++) {
        int fluid = named_fluid(b, pairs[i].name, e);
        struct quantity q = {0};
        ok = fluid != BOOK_NONE && quantity_parse(pairs[i].value, &q, e) &&
             ((q.unit && q.unit->kind == Q_VOLUME && q.value > 0) ||
              err_set(e, ERR_USAGE, "a volume, e.g. 7.5 L", "'", str_z(e->a, pairs[i].value), "' is no volume",
                      (char *)0));
        if (ok) {
            add_fluid(list, &b->fluids[fluid], q);
        }
    }
    if (ok && json_array_size(list)) {
        json_object_set(r->body, "fluids", list);
    }
    json_decref(list);
    return ok;
}

bool desk_record_done(struct desk *d, const struct desk_stamp *s, const struct desk_done *done, struct arena *a,
                      struct desk_recorded *out, struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    if (!begin(&r, d, s, KIND_DONE, e)) {
        return false;
    }
    const struct book *b = book_of(&r, e);
    int i = BOOK_NONE;
    if (b) {
        /* People name the checkpoint as often as the task that resets it. */
        int checkpoint = book_find_checkpoint(b, done->task);
        bool by_checkpoint = checkpoint != BOOK_NONE && b->checkpoints[checkpoint].kind == CHECK_DONE_BY;
        i = by_checkpoint ? b->checkpoints[checkpoint].task : named_task(b, done->task, e);
    }
    if (i == BOOK_NONE) {
        return drop(&r);
    }
    const struct book_task *task = &b->tasks[i];
    put_str(r.body, "task", task->name);
    double number = 0;
    if (str_trim(done->hours).n) {
        if (!hours_of(done->hours, &number, e)) {
            return drop(&r);
        }
        put_num(r.body, "hours", number);
    }
    if (str_trim(done->minutes).n) {
        if (!num_parse(str_trim(done->minutes), &number) || number < 0) {
            err_set(e, ERR_USAGE, "minutes, a number", "'", str_z(e->a, done->minutes), "' is no duration", (char *)0);
            return drop(&r);
        }
        put_num(r.body, "minutes", number);
    }
    if (!put_parts(&r, b, task, done->parts, e) || !put_fluids(&r, b, task, done->fluids, e)) {
        return drop(&r);
    }
    return finish(&r, a, out, e);
}

bool desk_record_turn(struct desk *d, const struct desk_stamp *s, struct str adjuster, struct str turns, bool accepted,
                      struct arena *a, struct desk_recorded *out, struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    if (!begin(&r, d, s, KIND_TURN, e)) {
        return false;
    }
    const struct book *b = book_of(&r, e);
    int i = b ? named_adjuster(b, adjuster, e) : BOOK_NONE;
    if (i == BOOK_NONE) {
        return drop(&r);
    }
    struct str t = str_trim(turns);
    bool out_wards = str_ends(t, S("out"));
    bool in_wards = str_ends(t, S("in"));
    struct str number = str_trim(str_cut(t, 0, t.n - (out_wards ? 3 : in_wards ? 2 : 0)));
    struct text with_unit = text_new(e->a);
    text_add(&with_unit, number);
    text_addz(&with_unit, str_find(number, S("turn")) >= 0 ? "" : " turn");
    struct quantity q = {0};
    if ((!out_wards && !in_wards) || !quantity_parse(text_str(&with_unit), &q, &(struct err){.a = e->a}) ||
        q.value < 0) {
        err_set(e, ERR_USAGE, "turns and direction: '1/2 in', '1 1/4 out'", "'", str_z(e->a, turns),
                "' is no adjustment", (char *)0);
        return drop(&r);
    }
    put_str(r.body, "adjuster", b->adjusters[i].name);
    put_num(r.body, "turns", out_wards ? -q.value : q.value);
    if (accepted) {
        json_object_set_new(r.body, "accepted", json_true());
    }
    return finish(&r, a, out, e);
}

bool desk_record_fault(struct desk *d, const struct desk_stamp *s, struct str fault, bool cleared, struct arena *a,
                       struct desk_recorded *out, struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    fault = str_trim(fault);
    if (fault.n == 0) {
        return err_set(e, ERR_USAGE, "SPN/FMI such as 100/4, or the code the machine shows", "no fault is named",
                       (char *)0);
    }
    if (!begin(&r, d, s, cleared ? KIND_FAULT_CLEARED : KIND_FAULT_SEEN, e)) {
        return false;
    }
    ptrdiff_t slash = str_find(fault, S("/"));
    int64_t spn = 0;
    int64_t fmi = 0;
    if (slash > 0 && num_parse_i64(str_cut(fault, 0, (size_t)slash), &spn) &&
        num_parse_i64(str_cut(fault, (size_t)slash + 1, fault.n), &fmi)) {
        json_object_set_new(r.body, "spn", json_integer(spn));
        json_object_set_new(r.body, "fmi", json_integer(fmi));
    } else {
        put_str(r.body, "code", fault);
    }
    put_str(r.body, "text", s->note);
    return finish(&r, a, out, e);
}

bool desk_record_burn(struct desk *d, const struct desk_stamp *s, struct str type, struct str minutes, struct arena *a,
                      struct desk_recorded *out, struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    double number = 0;
    if (str_trim(minutes).n && (!num_parse(str_trim(minutes), &number) || number < 0)) {
        return err_set(e, ERR_USAGE, "minutes, a number", "'", str_z(e->a, minutes), "' is no duration", (char *)0);
    }
    if (!begin(&r, d, s, KIND_BURN, e)) {
        return false;
    }
    put_str(r.body, "type", str_trim(type));
    if (str_trim(minutes).n) {
        put_num(r.body, "minutes", number);
    }
    return finish(&r, a, out, e);
}

bool desk_record_open(struct desk *d, const struct desk_stamp *s, struct str item, bool back, struct arena *a,
                      struct desk_recorded *out, struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    if (!begin(&r, d, s, back ? KIND_PUT_BACK : KIND_OPENED, e)) {
        return false;
    }
    if (!desk_may_open(d, r.m, item, back, e)) {
        return drop(&r);
    }
    put_str(r.body, "what", item);
    return finish(&r, a, out, e);
}

bool desk_record_stock(struct desk *d, const struct desk_stamp *s, struct str part, struct str quantity,
                       struct arena *a, struct desk_recorded *out, struct err *e)
{
    *out = (struct desk_recorded){0};
    double number = 0;
    if (!num_parse(str_trim(quantity), &number)) {
        return err_set(e, ERR_USAGE, "a number; with - for what was taken", "'", str_z(e->a, quantity),
                       "' is no quantity", (char *)0);
    }
    if (!desk_refresh(d, e) || !stock_one_part(d, str_trim(part), e)) {
        return false;
    }
    struct recording r = {
        .d = d,
        .s = s,
        .body = json_object(),
        .draft = {.kind = KIND_STOCK, .at = s->at == INSTANT_NONE ? desk_now(d) : s->at, .by = s->by}};
    put_str(r.body, "part", str_trim(part));
    put_num(r.body, "quantity", number);
    return finish(&r, a, out, e);
}

bool desk_record_note(struct desk *d, const struct desk_stamp *s, struct arena *a, struct desk_recorded *out,
                      struct err *e)
{
    struct recording r = {.d = d, .s = s};
    *out = (struct desk_recorded){0};
    if (s->machine.n) {
        if (!begin(&r, d, s, KIND_NOTE, e)) {
            return false;
        }
    } else {
        r.body = json_object();
        r.draft = (struct draft){.kind = KIND_NOTE, .at = s->at == INSTANT_NONE ? desk_now(d) : s->at, .by = s->by};
    }
    put_str(r.body, "text", s->note);
    return finish(&r, a, out, e);
}

bool desk_record_out(struct desk *d, const struct desk_stamp *s, struct arena *a, struct desk_recorded *out,
                     struct err *e)
{
    struct recording r;
    *out = (struct desk_recorded){0};
    if (!begin(&r, d, s, KIND_MACHINE_OUT, e)) {
        return false;
    }
    put_str(r.body, "reason", s->note);
    return finish(&r, a, out, e);
}

bool desk_record_attachment(struct desk *d, const struct desk_stamp *s, const char *path, struct str about,
                            struct arena *a, struct desk_recorded *out, struct err *e)
{
    *out = (struct desk_recorded){0};
    struct str data = {0};
    struct recording r;
    if (!desk_read_file(e->a, path, BLOB_MOST, &data, e) || !begin(&r, d, s, KIND_ATTACHMENT, e)) {
        return false;
    }
    json_decref(r.body);
    struct text id = text_new(e->a);
    if (about.n) {
        struct entry entry;
        if (!depot_find(d->depot, about, VIEW_RECORDED, e->a, &entry, e)) {
            return false;
        }
        text_entry_id(&id, entry.id);
        entry_free(&entry);
    }
    struct str name = str_of(strrchr(path, '/') ? strrchr(path, '/') + 1 : path);
    struct appended appended;
    if (!desk_attach(d, r.draft, name, data, text_str(&id), &appended, e)) {
        return false;
    }
    out->id = appended.id;
    struct text t = text_new(a);
    text_add(&t, r.m->name);
    text_addz(&t, ": kept ");
    text_add(&t, name);
    out->says = text_str(&t);
    return true;
}

/* A value of a correction: a number or a truth as such, everything else as text. */
static json_t *json_of_text(struct str s)
{
    double number = 0;
    if (str_eq(s, S("true")) || str_eq(s, S("false"))) {
        return json_boolean(str_eq(s, S("true")));
    }
    if (num_parse(s, &number)) {
        return number == floor(number) && fabs(number) < 9e15 ? json_integer((json_int_t)number) : json_real(number);
    }
    return json_stringn(s.p, s.n);
}

bool desk_correct(struct desk *d, struct str entry_name, struct str member_values, instant_ms at, bool withdraw,
                  struct str by, struct str reason, struct arena *a, struct desk_recorded *out, struct err *e)
{
    *out = (struct desk_recorded){0};
    struct entry entry;
    struct pair *pairs = NULL;
    size_t n = 0;
    if (!desk_pairs(e->a, member_values, &pairs, &n, e) ||
        !depot_find(d->depot, entry_name, VIEW_EFFECTIVE, e->a, &entry, e)) {
        return false;
    }
    struct text id = text_new(e->a);
    text_entry_id(&id, entry.id);
    json_t *body = json_pack("{s:s%,s:s%}", "corrects", id.p, id.n, "reason", reason.p ? reason.p : "", reason.n);
    if (withdraw) {
        json_object_set_new(body, "void", json_true());
    }
    if (n) {
        json_t *replaced = json_deep_copy(entry.body);
        for (size_t i = 0; i < n; i++) {
            json_object_setn_new(replaced, pairs[i].name.p, pairs[i].name.n, json_of_text(pairs[i].value));
        }
        json_object_set_new(body, "body", replaced);
    }
    if (at != INSTANT_NONE) {
        struct text t = text_new(e->a);
        text_instant(&t, at);
        json_object_set_new(body, "at", json_stringn(t.p, t.n));
    }
    bool says_something = withdraw || n > 0 || at != INSTANT_NONE;
    bool ok = says_something ||
              err_set(e, ERR_USAGE, "MEMBER=VALUE, --at or --withdraw", "the correction changes nothing", (char *)0);
    struct appended appended;
    struct draft draft = {.kind = KIND_CORRECTION,
                          .at = desk_now(d),
                          .by = by,
                          .machine = entry.machine,
                          .has_book = entry.has_book,
                          .book = entry.book,
                          .body = body};
    ok = ok && depot_append(d->depot, &draft, 1, &appended, e);
    if (ok) {
        out->id = appended.id;
        struct text t = text_new(a);
        text_addz(&t, withdraw ? "withdrawn: " : "was: ");
        text_entry_says(&t, d, &entry);
        if (n) {
            struct entry corrected = entry;
            corrected.body = json_object_get(body, "body");
            text_addz(&t, "; now: ");
            text_entry_says(&t, d, &corrected);
        }
        out->says = text_str(&t);
    }
    json_decref(body);
    entry_free(&entry);
    return ok;
}
