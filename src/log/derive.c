/* What follows from the entries: which of them hold, with which body and time.
 *
 * An entry's corrections apply in the order of their ids, each on top of the ones before: a new body or time replaces,
 * void withdraws, and a later new body or time takes a withdrawal back. A correction is an entry and can itself be
 * corrected or withdrawn; so the tree of corrections below an entry is resolved from its leaves. Of entries imported
 * twice (same machine, same import key) the one with the lowest id holds. All of this is a function of the set of
 * entries, not of their arrival.
 */
#include "jcs.h"
#include "log_internal.h"

#include <string.h>

#define CHAIN_MOST 32 /* a correction of a correction of ..., further ones are idle */

/* What an entry comes to. */
struct resolved {
    json_t *body; /* a reference of its own */
    instant_ms at;
    bool voided, moved, changed;
    struct entry_id by; /* the last correction that applies; zeros: none */
};

/* The places of the corrections of an entry, in the order of their ids. */
static bool corrections_of(struct depot *d, struct entry_id id, struct arena *a, int64_t **at, size_t *n, struct err *e)
{
    *at = NULL;
    *n = 0;
    size_t cap = 0;
    sqlite3_stmt *st = db_prepare(&d->db,
                                  "SELECT e.place FROM derived_correction c JOIN entry e ON e.place = c.place "
                                  "WHERE c.target = ?1 ORDER BY e.id",
                                  e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, id.b, sizeof id.b);
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        ARENA_PUSH(a, *at, *n, cap) = sqlite3_column_int64(st, 0);
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

/* Why a new body cannot stand in for the body of `entry`; empty when it can. */
static struct str body_unfit(const struct entry *entry, const json_t *body, struct arena *a)
{
    struct err try = err_new(a);
    if (!kind_check(entry->kind, body, entry->machine, &try)) {
        return try.what;
    }
    if (entry->kind == KIND_CORRECTION && !str_eq(body_str(body, "corrects"), body_str(entry->body, "corrects"))) {
        return S("body.corrects: a correction cannot be turned to another entry");
    }
    return S("");
}

/* Applies the content of a correction to what `entry` has come to so far. */
static void apply(const struct entry *entry, const struct entry *correction, const json_t *content, struct resolved *r,
                  struct arena *a)
{
    json_t *body = json_object_get(content, "body");
    struct str at = body_str(content, "at");
    if (json_object_get(content, "void")) {
        r->voided = true;
        r->by = correction->id;
        return;
    }
    if (body && body_unfit(entry, body, a).n) {
        return;
    }
    if (body) {
        json_decref(r->body);
        r->body = json_incref(body);
        r->changed = true;
    }
    if (at.p && instant_parse(at, &r->at)) {
        r->moved = true;
    }
    r->voided = false;
    r->by = correction->id;
}

/* What an entry comes to with all its corrections. Takes nothing from `entry`; r->body is to be given back. */
static bool resolve(struct depot *d, const struct entry *entry, int depth, struct arena *a, struct resolved *r,
                    struct err *e)
{
    *r = (struct resolved){.body = json_incref(entry->body), .at = entry->at_recorded};
    int64_t *places = NULL;
    size_t n = 0;
    if (depth < CHAIN_MOST && !corrections_of(d, entry->id, a, &places, &n, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        struct entry correction;
        struct resolved inner;
        bool found = false;
        if (!entry_by_place(d, places[i], a, &correction, &found, e)) {
            return false;
        }
        if (!found) {
            continue;
        }
        bool ok = resolve(d, &correction, depth + 1, a, &inner, e);
        if (ok && !inner.voided) {
            apply(entry, &correction, inner.body, r, a);
        }
        json_decref(inner.body);
        entry_free(&correction);
        if (!ok) {
            return false;
        }
    }
    return true;
}

/* Whether another entry with the same machine and import key has a lower id. */
static bool is_duplicate(struct depot *d, const struct entry *entry, bool *is, struct err *e)
{
    *is = false;
    struct entry_id first;
    bool found = false;
    struct str key = body_str(entry->body, "import_key");
    if (key.p && !import_key_find(d, entry->machine, key, &first, &found, e)) {
        return false;
    }
    *is = found && !entry_id_eq(first, entry->id);
    return true;
}

/* Writes the effect of an entry's corrections, or that there is none. */
static bool keep_effect(struct depot *d, const struct entry *entry, const struct resolved *r, enum entry_state state,
                        struct arena *a, struct err *e)
{
    static const char remove[] = "DELETE FROM derived_effect WHERE place = ?1";
    static const char put[] = "INSERT OR REPLACE INTO derived_effect (place, state, at, body, corrected_by) "
                              "VALUES (?1, ?2, ?3, ?4, ?5)";
    sqlite3_stmt *st = db_prepare(&d->db, state == ENTRY_STANDS ? remove : put, e);
    if (!st) {
        return false;
    }
    bind_int(st, 1, entry->place);
    if (state == ENTRY_STANDS) {
        return db_run(&d->db, st, e);
    }
    bind_int(st, 2, state);
    if (r->moved) {
        bind_int(st, 3, r->at);
    }
    struct text body = text_new(a);
    if (r->changed) {
        text_jcs(&body, r->body);
        bind_str(st, 4, text_str(&body));
    }
    struct entry_id none = {{0}};
    if (!entry_id_eq(r->by, none)) {
        bind_bytes(st, 5, r->by.b, sizeof r->by.b);
    }
    return db_run(&d->db, st, e);
}

/* Computes and writes what the entry at a place comes to. */
static bool refresh(struct depot *d, int64_t place, struct arena *a, struct err *e)
{
    struct entry entry;
    struct resolved r = {0};
    bool found = false;
    bool duplicate = false;
    if (!entry_by_place(d, place, a, &entry, &found, e) || !found) {
        return !found && e->kind == ERR_NONE;
    }
    bool ok = is_duplicate(d, &entry, &duplicate, e) && resolve(d, &entry, 0, a, &r, e);
    struct entry_id none = {{0}};
    enum entry_state state = duplicate                  ? ENTRY_DUPLICATE
                             : r.voided                 ? ENTRY_VOIDED
                             : !entry_id_eq(r.by, none) ? ENTRY_CORRECTED
                                                        : ENTRY_STANDS;
    ok = ok && keep_effect(d, &entry, &r, state, a, e);
    json_decref(r.body);
    entry_free(&entry);
    return ok;
}

/* The place of the entry at the root of a correction (of a correction ...); 0 when it is not here or the chain is too
 * long. */
static bool find_root(struct depot *d, const struct entry *from, struct arena *a, int64_t *place, struct err *e)
{
    *place = 0;
    struct entry_id id;
    if (from->kind != KIND_CORRECTION) {
        *place = from->place;
        return true;
    }
    if (!entry_id_parse(body_str(from->body, "corrects"), &id)) {
        return true;
    }
    for (int depth = 0; depth <= CHAIN_MOST; depth++) {
        struct entry next;
        bool found = false;
        if (!entry_by_id(d, id, a, &next, &found, e)) {
            return false;
        }
        if (!found) {
            return true;
        }
        bool on = next.kind == KIND_CORRECTION && entry_id_parse(body_str(next.body, "corrects"), &id);
        *place = on ? 0 : next.place;
        entry_free(&next);
        if (!on) {
            return true;
        }
    }
    *place = 0;
    return true;
}

/* Notes an entry's import key; when it is not the first with it, all of the group are looked at again. */
static bool derive_import(struct depot *d, const struct entry *entry, struct str key, struct arena *a, struct err *e)
{
    struct str machine = entry->machine.p ? entry->machine : S("");
    sqlite3_stmt *st = db_prepare(
        &d->db, "INSERT OR REPLACE INTO derived_import (machine, key, id, place) VALUES (?1, ?2, ?3, ?4)", e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, machine);
    bind_str(st, 2, key);
    bind_bytes(st, 3, entry->id.b, sizeof entry->id.b);
    bind_int(st, 4, entry->place);
    if (!db_run(&d->db, st, e) ||
        !(st = db_prepare(&d->db, "SELECT place FROM derived_import WHERE machine = ?1 AND key = ?2", e))) {
        return false;
    }
    bind_str(st, 1, machine);
    bind_str(st, 2, key);
    int64_t *places = NULL;
    size_t n = 0;
    size_t cap = 0;
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        ARENA_PUSH(a, places, n, cap) = sqlite3_column_int64(st, 0);
    }
    sqlite3_reset(st);
    for (size_t i = 0; row == DB_DONE && n > 1 && i < n; i++) {
        if (!refresh(d, places[i], a, e)) {
            return false;
        }
    }
    return row == DB_DONE;
}

/* Notes which entry a correction corrects. */
static bool derive_correction(struct depot *d, const struct entry *entry, struct err *e)
{
    struct entry_id target;
    if (!entry_id_parse(body_str(entry->body, "corrects"), &target)) {
        return true;
    }
    sqlite3_stmt *st =
        db_prepare(&d->db, "INSERT OR REPLACE INTO derived_correction (target, place) VALUES (?1, ?2)", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, target.b, sizeof target.b);
    bind_int(st, 2, entry->place);
    return db_run(&d->db, st, e);
}

/* Whether corrections of this entry are here (they may have come before it). */
static bool is_corrected(struct depot *d, struct entry_id id, bool *is, struct err *e)
{
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT 1 FROM derived_correction WHERE target = ?1 LIMIT 1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, id.b, sizeof id.b);
    enum db_row row = db_step(&d->db, st, e);
    *is = row == DB_ROW;
    sqlite3_reset(st);
    return row != DB_FAILED;
}

bool derive_entry(struct depot *d, const struct entry *entry, struct err *e)
{
    struct arena_mark mark = arena_mark(e->a);
    bool corrected = false;
    int64_t root = 0;
    struct str key = body_str(entry->body, "import_key");
    bool ok = (!key.p || derive_import(d, entry, key, e->a, e)) &&
              (entry->kind != KIND_CORRECTION || derive_correction(d, entry, e)) &&
              is_corrected(d, entry->id, &corrected, e);
    if (ok && (corrected || entry->kind == KIND_CORRECTION)) {
        ok = find_root(d, entry, e->a, &root, e) && (root == 0 || refresh(d, root, e->a, e));
    }
    if (ok) {
        arena_rewind(e->a, mark);
    }
    return ok;
}

bool derive_all(struct depot *d, struct err *e)
{
    if (!db_exec(&d->db, "DELETE FROM derived_correction; DELETE FROM derived_import; DELETE FROM derived_effect;",
                 e)) {
        return false;
    }
    int64_t last = 0;
    if (!db_int(&d->db, "SELECT max(place) FROM entry", 0, &last, e)) {
        return false;
    }
    sqlite3_stmt *st = db_prepare_once(&d->db, S("SELECT place FROM entry ORDER BY place"), e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = db_step(&d->db, st, e);
    for (; ok && row == DB_ROW; row = ok ? db_step(&d->db, st, e) : row) {
        struct arena_mark mark = arena_mark(e->a);
        struct entry entry;
        bool found = false;
        ok = entry_by_place(d, sqlite3_column_int64(st, 0), e->a, &entry, &found, e);
        if (ok && found) {
            ok = derive_entry(d, &entry, e);
            entry_free(&entry);
        }
        if (ok) {
            arena_rewind(e->a, mark);
        }
    }
    sqlite3_finalize(st);
    return ok && row == DB_DONE;
}

bool derive_apart(struct depot *d, struct err *e)
{
    /* SQLite looks for a name among a connection's temporary tables first. */
    return db_exec(
        &d->db,
        "CREATE TEMP TABLE derived_correction (target, place, PRIMARY KEY (target, place)) WITHOUT ROWID;"
        "CREATE TEMP TABLE derived_import (machine, key, id, place, PRIMARY KEY (machine, key, id)) WITHOUT ROWID;"
        "CREATE TEMP TABLE derived_effect (place INTEGER PRIMARY KEY, state, at, body, corrected_by);",
        e);
}

bool derive_idle(struct depot *d, const struct entry *correction, struct arena *a, struct str *why, struct err *e)
{
    *why = S("");
    struct entry_id target;
    struct entry old;
    bool found = false;
    if (!entry_id_parse(body_str(correction->body, "corrects"), &target) ||
        !entry_by_id(d, target, a, &old, &found, e)) {
        return e->kind == ERR_NONE;
    }
    if (!found) {
        *why = S("the entry it corrects is not here");
        return true;
    }
    const json_t *body = json_object_get(correction->body, "body");
    if (body) {
        *why = body_unfit(&old, body, a);
    }
    int64_t root = 0;
    bool ok = find_root(d, correction, a, &root, e);
    if (ok && !why->n && root == 0) {
        *why = S("the chain of corrections it stands in does not end at an entry");
    }
    entry_free(&old);
    return ok;
}
