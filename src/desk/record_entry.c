/* One body, one entry. */
#include "record_entry.h"

#include "desk_internal.h"

#include <jansson.h>
#include <math.h>

#define GRACE_MS 86400000 /* a day's grace: clocks and zones differ */

void body_put_str(json_t *body, const char *key, struct str value)
{
    if (value.n) {
        json_object_set_new(body, key, json_stringn(value.p, value.n));
    }
}

void body_put_num(json_t *body, const char *key, double value)
{
    bool whole = value == floor(value) && fabs(value) < 9e15;
    json_object_set_new(body, key, whole ? json_integer((json_int_t)value) : json_real(value));
}

void body_put_quantity(json_t *body, const char *key, struct quantity q)
{
    json_t *value = json_object();
    body_put_num(value, "value", q.value);
    json_object_set_new(value, "unit", json_string(q.unit ? q.unit->symbol : ""));
    json_object_set_new(body, key, value);
}

bool desk_record_entry(struct desk *d, const struct desk_stamp *s, const struct desk_machine *m, enum entry_kind kind,
                       json_t *body, struct arena *a, struct desk_recorded *out, struct err *e)
{
    struct draft draft = {.kind = kind,
                          .at = s->at == INSTANT_NONE ? desk_now(d) : s->at,
                          .by = s->by,
                          .machine = m->serial,
                          .body = body};
    const struct desk_book *book = desk_present_book(d, m->book_id);
    if (book && m->book) {
        draft.has_book = true;
        draft.book = book->hash;
    }
    body_put_str(body, "note", s->note);
    body_put_str(body, "import_key", s->import_key);
    struct appended appended = {0};
    bool ok = (draft.at <= desk_now(d) + GRACE_MS ||
               err_set(e, ERR_INPUT, "a time that has passed", "the time lies in the future", (char *)0)) &&
              depot_append(d->depot, &draft, 1, &appended, e);
    if (ok) {
        out->id = appended.id;
        out->known_already = appended.outcome == APPEND_KNOWN;
        struct entry entry = {.kind = kind, .machine = m->serial, .body = body, .at = draft.at, .by = s->by};
        struct text t = text_new(a);
        text_add(&t, m->name);
        text_addz(&t, ": ");
        text_entry_says(&t, d, &entry);
        out->says = text_str(&t);
    }
    json_decref(body);
    return ok;
}
