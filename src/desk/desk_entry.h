/* Entries that come as JSON: recorded on a page that cannot sign, or signed elsewhere and brought in. */
#ifndef WITMARK_DESK_ENTRY_H
#define WITMARK_DESK_ENTRY_H

#include "desk.h"

/* What the page sends: a kind and a body as docs/entries.md has them. Held against the machine's book like what the
 * other desk_record_... take (names exist, units fit, an item is open before it is put back, no time to come), then
 * written by this depot's writer. stamp->import_key "page:ID" makes it idempotent: the second time known_already is
 * true and nothing is written. Errors: ERR_MISSING with the nearest name; ERR_INPUT; ERR_REFUSED. */
bool desk_record_body(struct desk *d, const struct desk_stamp *stamp, enum entry_kind kind, const json_t *body,
                      struct arena *a, struct desk_recorded *out, struct err *e);

/* A page of entries, newest first. */
struct desk_log_ask {
    struct str machine; /* name as in desk_machine_find; empty = all */
    struct str before;  /* id of the last entry of the page before; empty = from the newest */
    struct str kind;    /* words with commas; empty = any */
    bool has_since, has_until;
    instant_ms since, until;
    enum entry_view view;
    size_t limit;
};
/* As JSON: {entries: [entry], next: id or null}. Errors: ERR_MISSING no such machine or entry; ERR_USAGE no such kind.
 */
bool desk_log_json(struct json *j, struct desk *d, const struct desk_log_ask *ask, struct err *e);
/* Words of kinds with commas as a bit set. Errors: ERR_USAGE with the nearest. */
bool desk_kinds(struct str words, uint32_t *kinds, struct err *e);

#endif
