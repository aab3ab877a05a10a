/* Reading entries: rows into structs, and the lists and look-ups over them. The SQL of a list is put together from
 * constant pieces; what the caller gives is always bound. */
#include "log_internal.h"

#include <stdlib.h>
#include <string.h>

#define AT_LEAST (-62135596800000) /* 0001-01-01T00:00:00Z */
#define AT_MOST 253402300799999    /* 9999-12-31T23:59:59.999Z */

bool instant_is_civil(instant_ms at)
{
    return at >= AT_LEAST && at <= AT_MOST;
}

/* Text of a row that can be hashed as it is: valid UTF-8, or NULL. */
static struct str row_text(sqlite3_stmt *st, int i, struct arena *a, bool *sound)
{
    struct str s = column_str(st, i);
    if (!s.p) {
        return s;
    }
    *sound = *sound && str_is_utf8(s);
    return str_copy(a, s);
}

static instant_ms row_time(sqlite3_stmt *st, int i, bool *sound)
{
    instant_ms at = sqlite3_column_int64(st, i);
    if (!instant_is_civil(at)) {
        *sound = false;
        return 0;
    }
    return at;
}

bool entry_of_row(sqlite3_stmt *st, struct arena *a, struct entry *out, bool *sound, struct err *e)
{
    bool ok = true;
    memset(out, 0, sizeof *out);
    out->place = sqlite3_column_int64(st, 0);
    ok = column_bytes(st, 1, out->id.b, sizeof out->id.b) && ok;
    ok = column_bytes(st, 2, out->writer.b, sizeof out->writer.b) && ok;
    out->seq = sqlite3_column_int64(st, 3);
    ok = column_bytes(st, 4, out->prev.b, sizeof out->prev.b) && ok;
    out->at_recorded = out->at = row_time(st, 5, &ok);
    out->made = row_time(st, 6, &ok);
    out->by = row_text(st, 7, a, &ok);
    out->machine = row_text(st, 8, a, &ok);
    out->has_book = sqlite3_column_type(st, 9) != SQLITE_NULL;
    ok = (!out->has_book || column_bytes(st, 9, out->book.b, sizeof out->book.b)) && ok;
    ok = kind_parse(column_str(st, 10), &out->kind) && ok;
    out->body_text = row_text(st, 11, a, &ok);
    ok = column_bytes(st, 12, out->hash.b, sizeof out->hash.b) && ok;
    ok = column_bytes(st, 13, out->sig.b, sizeof out->sig.b) && ok;
    out->body = json_loadb(out->body_text.p ? out->body_text.p : "", out->body_text.n, JSON_REJECT_DUPLICATES, NULL);
    if (sound) {
        *sound = ok && json_is_object(out->body);
        return true;
    }
    if (!ok || !json_is_object(out->body)) {
        json_decref(out->body);
        out->body = NULL;
        return err_set(e, ERR_SYSTEM, "run verify; restore a backup", str_z(e->a, entry_label(e->a, out)),
                       " is damaged", (char *)0);
    }
    return true;
}

/* The single row of a statement as an entry. */
static bool one_entry(struct depot *d, sqlite3_stmt *st, struct arena *a, struct entry *out, bool *found, struct err *e)
{
    enum db_row row = db_step(&d->db, st, e);
    *found = false;
    if (row == DB_ROW) {
        *found = entry_of_row(st, a, out, NULL, e);
        row = *found ? DB_DONE : DB_FAILED;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

bool entry_by_id(struct depot *d, struct entry_id id, struct arena *a, struct entry *out, bool *found, struct err *e)
{
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT " ENTRY_COLUMNS " FROM entry e WHERE id = ?1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, id.b, sizeof id.b);
    return one_entry(d, st, a, out, found, e);
}

bool entry_by_place(struct depot *d, int64_t place, struct arena *a, struct entry *out, bool *found, struct err *e)
{
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT " ENTRY_COLUMNS " FROM entry e WHERE place = ?1", e);
    if (!st) {
        return false;
    }
    bind_int(st, 1, place);
    return one_entry(d, st, a, out, found, e);
}

/* After ENTRY_COLUMNS: what derived_effect says, and the time to order by. */
enum { AFTER_STATE = 14, AFTER_AT, AFTER_BODY, AFTER_BY };
#define EFFECT_COLUMNS ", f.state, f.at, f.body, f.corrected_by"

/* Reads a row of ENTRY_COLUMNS EFFECT_COLUMNS in the asked view. */
static bool viewed_entry(sqlite3_stmt *st, enum entry_view view, struct arena *a, struct entry *out, struct err *e)
{
    if (!entry_of_row(st, a, out, NULL, e)) {
        return false;
    }
    if (sqlite3_column_type(st, AFTER_STATE) == SQLITE_NULL) {
        return true;
    }
    int state = sqlite3_column_int(st, AFTER_STATE);
    out->state = state >= ENTRY_STANDS && state <= ENTRY_DUPLICATE ? (enum entry_state)state : ENTRY_STANDS;
    (void)column_bytes(st, AFTER_BY, out->corrected_by.b, sizeof out->corrected_by.b);
    if (view == VIEW_RECORDED) {
        return true;
    }
    if (sqlite3_column_type(st, AFTER_AT) != SQLITE_NULL) {
        out->at = sqlite3_column_int64(st, AFTER_AT);
    }
    struct str body = column_str(st, AFTER_BODY);
    if (body.p) {
        json_decref(out->body);
        out->body_text = str_copy(a, body);
        out->body = json_loadb(body.p, body.n, JSON_REJECT_DUPLICATES, NULL);
    }
    if (!json_is_object(out->body)) {
        entry_free(out);
        return err_set(e, ERR_SYSTEM, "rebuild the derived tables", str_z(e->a, entry_label(e->a, out)),
                       ": its corrected body is damaged", (char *)0);
    }
    return true;
}

/* The conditions of a filter over one of the two arms of a list; `at` is the column that orders it. */
static void add_conditions(struct text *sql, const struct entry_filter *f, const char *at)
{
    if (f->machine.p) {
        text_addz(sql, " AND e.machine = ?1");
    }
    if (f->kinds) {
        const char *sep = " AND e.kind IN ('";
        for (int k = 0; k < KIND_COUNT; k++) {
            if (f->kinds & KIND_BIT(k)) {
                text_join(sql, sep, kind_word((enum entry_kind)k), (char *)0);
                sep = "','";
            }
        }
        text_addz(sql, "')");
    }
    if (f->has_since) {
        text_join(sql, " AND ", at, " >= ?2", (char *)0);
    }
    if (f->has_until) {
        text_join(sql, " AND ", at, " < ?3", (char *)0);
    }
    if (f->writer) {
        text_addz(sql, " AND e.writer = ?4");
    }
    if (f->has_after) {
        text_join(sql, " AND (", at, ", e.id) ", f->newest_first ? "<" : ">", " (?5, ?6)", (char *)0);
    }
    if (f->after_place > 0) {
        text_addz(sql, " AND e.place > ?7");
    }
    if (f->view == VIEW_EFFECTIVE) {
        text_addz(sql, " AND e.kind <> 'correction' AND coalesce(f.state, 0) < 2");
    } else if (f->view == VIEW_WITHDRAWN) {
        text_addz(sql, " AND f.state >= 2");
    }
}

/* The statement of a list. Entries whose time was corrected come from the small table of effects, all others by the
 * index; SQLite merges the two sorted arms. */
static sqlite3_stmt *list_open(struct depot *d, const struct entry_filter *f, struct err *e)
{
    struct text sql = text_new(e->a);
    bool recorded = f->view == VIEW_RECORDED;
    /* What arrived lately is found by its place; the index by time would be walked from end to end for it. */
    text_addz(&sql, "SELECT " ENTRY_COLUMNS EFFECT_COLUMNS ", e.at AS t FROM entry e ");
    text_addz(&sql, f->after_place > 0 ? "NOT INDEXED " : "");
    text_addz(&sql, "LEFT JOIN derived_effect f ON f.place = e.place WHERE ");
    text_addz(&sql, recorded ? "1" : "f.at IS NULL");
    add_conditions(&sql, f, "e.at");
    if (!recorded) {
        text_addz(&sql, " UNION ALL SELECT " ENTRY_COLUMNS EFFECT_COLUMNS
                        ", f.at AS t FROM derived_effect f CROSS JOIN entry e "
                        "ON e.place = f.place WHERE f.at IS NOT NULL");
        add_conditions(&sql, f, "f.at");
    }
    text_addz(&sql, f->newest_first ? " ORDER BY t DESC, id DESC LIMIT ?8" : " ORDER BY t, id LIMIT ?8");
    sqlite3_stmt *st = db_prepare_once(&d->db, text_str(&sql), e);
    if (!st) {
        return NULL;
    }
    bind_str(st, 1, f->machine);
    bind_int(st, 2, f->since);
    bind_int(st, 3, f->until);
    if (f->writer) {
        bind_bytes(st, 4, f->writer->b, sizeof f->writer->b);
    }
    bind_int(st, 5, f->after_at);
    bind_bytes(st, 6, f->after_id.b, sizeof f->after_id.b);
    bind_int(st, 7, f->after_place);
    bind_int(st, 8, f->limit ? (int64_t)f->limit + 1 : -1);
    return st;
}

bool depot_list(struct depot *d, const struct entry_filter *filter, struct arena *a, struct entries *out, struct err *e)
{
    *out = (struct entries){0};
    size_t cap = 0;
    sqlite3_stmt *st = list_open(d, filter, e);
    if (!st) {
        return false;
    }
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        if (filter->limit && out->n == filter->limit) {
            out->more = true;
            row = DB_DONE;
            break;
        }
        struct entry entry;
        if (!viewed_entry(st, filter->view, a, &entry, e)) {
            row = DB_FAILED;
            break;
        }
        ARENA_PUSH(a, out->at, out->n, cap) = entry;
    }
    sqlite3_finalize(st);
    if (row == DB_FAILED) {
        entries_free(out);
    }
    return row != DB_FAILED;
}

bool depot_each(struct depot *d, const struct entry_filter *filter, bool (*each)(void *ctx, const struct entry *entry),
                void *ctx, struct err *e)
{
    sqlite3_stmt *st = list_open(d, filter, e);
    if (!st) {
        return false;
    }
    struct arena scratch = arena_new(e->a->source);
    size_t left = filter->limit ? filter->limit : SIZE_MAX;
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && left-- > 0 && (row = db_step(&d->db, st, e)) == DB_ROW) {
        struct arena_mark mark = arena_mark(&scratch);
        struct entry entry;
        ok = viewed_entry(st, filter->view, &scratch, &entry, e);
        if (!ok) {
            break;
        }
        bool on = each(ctx, &entry);
        entry_free(&entry);
        arena_rewind(&scratch, mark);
        if (!on) {
            break;
        }
    }
    sqlite3_finalize(st);
    arena_free(&scratch);
    return ok && row != DB_FAILED && e->kind == ERR_NONE;
}

bool depot_get(struct depot *d, struct entry_id id, enum entry_view view, struct arena *a, struct entry *out,
               bool *found, struct err *e)
{
    *found = false;
    sqlite3_stmt *st = db_prepare(&d->db,
                                  "SELECT " ENTRY_COLUMNS EFFECT_COLUMNS
                                  " FROM entry e LEFT JOIN derived_effect f ON f.place = e.place WHERE e.id = ?1",
                                  e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, id.b, sizeof id.b);
    enum db_row row = db_step(&d->db, st, e);
    if (row == DB_ROW) {
        *found = viewed_entry(st, view, a, out, e);
        row = *found ? DB_DONE : DB_FAILED;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

/* The ids from `low` to `high` that a prefix of hex digits stands for; false when it is none. */
static bool prefix_range(struct str prefix, struct entry_id *low, struct entry_id *high)
{
    char digits[33];
    size_t n = 0;
    for (size_t i = 0; i < prefix.n; i++) {
        char c = prefix.p[i];
        if (c == '-') {
            continue;
        }
        bool hex = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
        if (!hex || n == 32) {
            return false;
        }
        digits[n++] = c >= 'A' && c <= 'F' ? (char)(c - 'A' + 'a') : c;
    }
    if (n < 4) {
        return false;
    }
    char full[33];
    memcpy(full, digits, n);
    memset(full + n, '0', 32 - n);
    bool ok = hex_parse((struct str){full, 32}, low->b, sizeof low->b);
    memset(full + n, 'f', 32 - n);
    return ok && hex_parse((struct str){full, 32}, high->b, sizeof high->b);
}

bool depot_find(struct depot *d, struct str prefix, enum entry_view view, struct arena *a, struct entry *out,
                struct err *e)
{
    struct entry_id low;
    struct entry_id high;
    const char *shown = str_z(e->a, str_cut(prefix, 0, 40));
    if (!prefix_range(prefix, &low, &high)) {
        return err_set(e, ERR_INPUT, "give at least 4 of its hex digits", "\"", shown,
                       "\" is not the beginning of an entry's id", (char *)0);
    }
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT id FROM entry WHERE id BETWEEN ?1 AND ?2 ORDER BY id LIMIT 5", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, low.b, sizeof low.b);
    bind_bytes(st, 2, high.b, sizeof high.b);
    struct entry_id first = {{0}};
    struct text names = text_new(e->a);
    int n = 0;
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        struct entry_id id;
        (void)column_bytes(st, 0, id.b, sizeof id.b);
        first = n++ == 0 ? id : first;
        text_addz(&names, n > 1 ? ", " : "");
        text_entry_id(&names, id);
    }
    sqlite3_reset(st);
    if (row == DB_FAILED) {
        return false;
    }
    if (n != 1) {
        text_addz(&names, n == 5 ? " ..." : "");
        return n == 0 ? err_set(e, ERR_MISSING, NULL, "no entry's id begins with \"", shown, "\"", (char *)0)
                      : err_set(e, ERR_CONFLICT, text_z(&names), "several entries' ids begin with \"", shown, "\"",
                                (char *)0);
    }
    bool found = false;
    return depot_get(d, first, view, a, out, &found, e) && found;
}

bool depot_corrections(struct depot *d, struct entry_id of, struct arena *a, struct entries *out, struct err *e)
{
    *out = (struct entries){0};
    size_t cap = 0;
    sqlite3_stmt *st =
        db_prepare(&d->db,
                   "SELECT " ENTRY_COLUMNS " FROM derived_correction c JOIN entry e ON e.place = c.place "
                   "WHERE c.target = ?1 ORDER BY e.id",
                   e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, of.b, sizeof of.b);
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        struct entry entry;
        if (!entry_of_row(st, a, &entry, NULL, e)) {
            row = DB_FAILED;
            break;
        }
        ARENA_PUSH(a, out->at, out->n, cap) = entry;
    }
    sqlite3_reset(st);
    if (row == DB_FAILED) {
        entries_free(out);
    }
    return row == DB_DONE;
}

bool depot_receipts(struct depot *d, struct log_hash entry, struct arena *a, struct receipt **at, size_t *n,
                    struct err *e)
{
    *at = NULL;
    *n = 0;
    size_t cap = 0;
    sqlite3_stmt *st =
        db_prepare(&d->db, "SELECT depot, received, source, sig FROM receipt WHERE entry = ?1 ORDER BY depot", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, entry.b, sizeof entry.b);
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        struct receipt r = {
            .entry = entry, .received = sqlite3_column_int64(st, 1), .from = str_copy(a, column_str(st, 2))};
        (void)column_bytes(st, 0, r.depot.b, sizeof r.depot.b);
        (void)column_bytes(st, 3, r.sig.b, sizeof r.sig.b);
        ARENA_PUSH(a, *at, *n, cap) = r;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}
