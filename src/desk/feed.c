/* Writing what a feed proposes: all of it in one transaction, or nothing. */
#include "feed_internal.h"

#include <math.h>

void feed_put_str(json_t *body, const char *key, struct str value)
{
    if (value.n) {
        json_object_set_new(body, key, json_stringn(value.p, value.n));
    }
}

void feed_put_num(json_t *body, const char *key, double value)
{
    json_object_set_new(
        body, key, value == floor(value) && fabs(value) < 9e15 ? json_integer((json_int_t)value) : json_real(value));
}

void taking_draft(struct taking *t, const struct desk_machine *m, enum entry_kind kind, instant_ms at, struct str by,
                  json_t *body)
{
    struct draft draft = {.kind = kind, .at = at, .by = by, .machine = m->serial, .body = body};
    const struct desk_book *book = desk_present_book(t->d, m->book_id);
    if (book && m->book) {
        draft.has_book = true;
        draft.book = book->hash;
    }
    ARENA_PUSH(t->a, t->drafts, t->n, t->cap) = draft;
}

void taking_line(struct taking *t, struct desk_feed_line line)
{
    struct desk_feed_report *r = t->report;
    size_t *counts[] = {[LINE_TAKE] = &r->take,
                        [LINE_DOUBT] = &r->doubt,
                        [LINE_REFUSE] = &r->refuse,
                        [LINE_KNOWN] = &r->known,
                        [LINE_SKIP] = &r->skip};
    ++*counts[line.word];
    ARENA_PUSH(t->a, t->lines, t->n_lines, t->cap_lines) = line;
}

bool taking_end(struct taking *t, bool write, struct err *e)
{
    bool ok = true;
    if (write && t->n) {
        struct appended *appended = ARENA_ARRAY(t->a, struct appended, t->n);
        ok = depot_append(t->d->depot, t->drafts, t->n, appended, e);
        for (size_t i = 0; ok && i < t->n; i++) {
            t->report->added += appended[i].outcome == APPEND_ADDED;
        }
    }
    for (size_t i = 0; i < t->n; i++) {
        json_decref((json_t *)(uintptr_t)t->drafts[i].body);
    }
    t->report->at = t->lines;
    t->report->n = t->n_lines;
    return ok;
}

bool feed_known(struct desk *d, struct str machine, struct str import_key)
{
    int64_t unused = 0;
    struct text t = text_new(&d->state);
    text_add(&t, machine);
    text_char(&t, '\n');
    text_add(&t, import_key);
    return map_get(&d->import_keys, text_str(&t), &unused);
}
