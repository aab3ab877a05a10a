/* Book editions and attachments: bytes kept once, by their SHA-256. */
#include "log_internal.h"

#include <string.h>

bool depot_book_put(struct depot *d, struct str name, struct str text, struct log_hash *hash, struct err *e)
{
    if (!depot_may_write(d, e)) {
        return false;
    }
    if (text.n == 0 || !str_is_utf8(text) || memchr(text.p, 0, text.n)) {
        return err_set(e, ERR_INPUT, "a book is UTF-8 text", str_z(e->a, name),
                       text.n ? ": the book is not text in UTF-8" : ": the book is empty", (char *)0);
    }
    *hash = log_sha256(text);
    sqlite3_stmt *st = db_prepare(
        &d->db, "INSERT INTO edition (hash, name, kept, text) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, hash->b, sizeof hash->b);
    bind_str(st, 2, name.p ? name : S(""));
    bind_int(st, 3, d->options.world.now(d->options.world.ctx));
    bind_bytes(st, 4, (const uint8_t *)text.p, text.n);
    return db_run(&d->db, st, e);
}

bool depot_book_get(struct depot *d, struct log_hash hash, struct arena *a, struct edition *out, bool *found,
                    struct err *e)
{
    *found = false;
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT name, kept, text FROM edition WHERE hash = ?1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, hash.b, sizeof hash.b);
    enum db_row row = db_step(&d->db, st, e);
    if (row == DB_ROW) {
        *found = true;
        *out = (struct edition){.hash = hash,
                                .name = str_copy(a, column_str(st, 0)),
                                .kept = sqlite3_column_int64(st, 1),
                                .text = str_copy(a, column_str(st, 2))};
        out->bytes = (int64_t)out->text.n;
    }
    sqlite3_reset(st);
    if (row == DB_ROW && !log_hash_eq(log_sha256(out->text), hash)) {
        return err_set(e, ERR_SYSTEM, "restore a backup", "book edition sha256:", str_z(e->a, hash_str(e->a, hash)),
                       " has been altered: its text has another hash", (char *)0);
    }
    return row != DB_FAILED;
}

bool depot_book_list(struct depot *d, struct arena *a, struct edition **at, size_t *n, struct err *e)
{
    *at = NULL;
    *n = 0;
    size_t cap = 0;
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT hash, name, kept, length(text) FROM edition ORDER BY kept, hash", e);
    if (!st) {
        return false;
    }
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        struct edition one = {.name = str_copy(a, column_str(st, 1)),
                              .kept = sqlite3_column_int64(st, 2),
                              .bytes = sqlite3_column_int64(st, 3)};
        (void)column_bytes(st, 0, one.hash.b, sizeof one.hash.b);
        ARENA_PUSH(a, *at, *n, cap) = one;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

bool depot_blob_put(struct depot *d, struct str data, struct log_hash *hash, struct err *e)
{
    if (!depot_may_write(d, e)) {
        return false;
    }
    if (data.n == 0 || data.n > BLOB_MOST) {
        return err_set(e, ERR_INPUT, "1 byte to 64 MiB",
                       data.n ? "the attachment is too large" : "the attachment is empty", (char *)0);
    }
    *hash = log_sha256(data);
    sqlite3_stmt *st =
        db_prepare(&d->db, "INSERT INTO blob (hash, kept, data) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, hash->b, sizeof hash->b);
    bind_int(st, 2, d->options.world.now(d->options.world.ctx));
    bind_bytes(st, 3, (const uint8_t *)data.p, data.n);
    return db_run(&d->db, st, e);
}

bool depot_blob_get(struct depot *d, struct log_hash hash, struct arena *a, struct str *data, bool *found,
                    struct err *e)
{
    *found = false;
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT data FROM blob WHERE hash = ?1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, hash.b, sizeof hash.b);
    enum db_row row = db_step(&d->db, st, e);
    if (row == DB_ROW) {
        *found = true;
        *data = str_copy(a, column_str(st, 0));
    }
    sqlite3_reset(st);
    if (row == DB_ROW && !log_hash_eq(log_sha256(*data), hash)) {
        return err_set(e, ERR_SYSTEM, "restore a backup", "attachment ", str_z(e->a, hash_str(e->a, hash)),
                       " has been altered: its bytes have another hash", (char *)0);
    }
    return row != DB_FAILED;
}
