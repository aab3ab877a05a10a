/* The connection: opening, statements, transactions, and SQLite's failures in words. Values are always bound. */
#include "log_internal.h"

#include <assert.h>
#include <limits.h>
#include <string.h>

bool db_fail(struct db *db, const char *doing, struct err *e)
{
    int code = db->h ? sqlite3_extended_errcode(db->h) : SQLITE_NOMEM;
    const char *says = db->h ? sqlite3_errmsg(db->h) : "out of memory";
    switch (code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return err_set(e, ERR_BUSY, "try again when it has finished", doing,
                       ": another program is writing to the depot", (char *)0);
    case SQLITE_FULL:
        return err_set(e, ERR_SYSTEM, "free some space; nothing of this was kept", doing, ": the disk is full",
                       (char *)0);
    case SQLITE_READONLY:
        return err_set(e, ERR_REFUSED, NULL, doing, ": the depot can only be read here", (char *)0);
    case SQLITE_NOTADB:
        return err_set(e, ERR_INPUT, "name a depot, or create one", "the file is not a depot", (char *)0);
    case SQLITE_CANTOPEN:
        return err_set(e, ERR_SYSTEM, "check the path and its permissions", doing, ": the file cannot be opened",
                       (char *)0);
    case SQLITE_CORRUPT:
        return err_set(e, ERR_SYSTEM, "restore a backup", doing, ": the file is damaged (", says, ")", (char *)0);
    default:
        return err_set(e, ERR_SYSTEM, NULL, doing, ": ", says, (char *)0);
    }
}

bool db_open(struct db *db, const char *path, int flags, const char *vfs, int busy_ms, struct err *e)
{
    memset(db, 0, sizeof *db);
    if (sqlite3_open_v2(path, &db->h, flags | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE, vfs) != SQLITE_OK) {
        db_fail(db, "cannot open the depot", e);
        db_close(db);
        return false;
    }
    sqlite3_busy_timeout(db->h, busy_ms);
    /* synchronous is not stored in the file: it must be set by every connection. */
    if (!db_exec(
            db,
            "PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON; PRAGMA trusted_schema=OFF; PRAGMA cell_size_check=ON;"
            "PRAGMA temp_store=MEMORY;",
            e)) {
        db_close(db);
        return false;
    }
    return true;
}

void db_close(struct db *db)
{
    for (size_t i = 0; i < db->n; i++) {
        sqlite3_finalize(db->kept[i].st);
    }
    db->n = 0;
    sqlite3_close(db->h);
    db->h = NULL;
}

sqlite3_stmt *db_prepare(struct db *db, const char *literal, struct err *e)
{
    for (size_t i = 0; i < db->n; i++) {
        if (db->kept[i].sql == literal) {
            sqlite3_reset(db->kept[i].st);
            sqlite3_clear_bindings(db->kept[i].st);
            return db->kept[i].st;
        }
    }
    assert(db->n < DB_STATEMENTS);
    sqlite3_stmt *st = NULL;
    if (sqlite3_prepare_v3(db->h, literal, -1, SQLITE_PREPARE_PERSISTENT, &st, NULL) != SQLITE_OK) {
        db_fail(db, "cannot read the depot", e);
        return NULL;
    }
    db->kept[db->n].sql = literal;
    db->kept[db->n++].st = st;
    return st;
}

sqlite3_stmt *db_prepare_once(struct db *db, struct str sql, struct err *e)
{
    sqlite3_stmt *st = NULL;
    if (sqlite3_prepare_v2(db->h, sql.p, (int)sql.n, &st, NULL) != SQLITE_OK) {
        db_fail(db, "cannot read the depot", e);
        return NULL;
    }
    return st;
}

enum db_row db_step(struct db *db, sqlite3_stmt *st, struct err *e)
{
    int code = sqlite3_step(st);
    if (code == SQLITE_ROW) {
        return DB_ROW;
    }
    if (code == SQLITE_DONE) {
        return DB_DONE;
    }
    db_fail(db, sqlite3_stmt_readonly(st) ? "cannot read the depot" : "cannot write to the depot", e);
    sqlite3_reset(st);
    return DB_FAILED;
}

bool db_run(struct db *db, sqlite3_stmt *st, struct err *e)
{
    if (!st) {
        return false;
    }
    enum db_row row = DB_ROW;
    while (row == DB_ROW) {
        row = db_step(db, st, e);
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

bool db_exec(struct db *db, const char *sql, struct err *e)
{
    return sqlite3_exec(db->h, sql, NULL, NULL, NULL) == SQLITE_OK || db_fail(db, "cannot work on the depot", e);
}

bool db_int(struct db *db, const char *literal, int64_t otherwise, int64_t *value, struct err *e)
{
    sqlite3_stmt *st = db_prepare(db, literal, e);
    if (!st) {
        return false;
    }
    enum db_row row = db_step(db, st, e);
    *value = row == DB_ROW && sqlite3_column_type(st, 0) != SQLITE_NULL ? sqlite3_column_int64(st, 0) : otherwise;
    sqlite3_reset(st);
    return row != DB_FAILED;
}

bool db_begin(struct db *db, struct err *e)
{
    assert(!db->writing);
    db->writing = db_exec(db, "BEGIN IMMEDIATE", e);
    return db->writing;
}

bool db_begin_read(struct db *db, struct err *e)
{
    assert(!db->writing);
    db->writing = db_exec(db, "BEGIN", e);
    return db->writing;
}

bool db_commit(struct db *db, struct err *e)
{
    assert(db->writing);
    if (sqlite3_exec(db->h, "COMMIT", NULL, NULL, NULL) == SQLITE_OK) {
        db->writing = false;
        return true;
    }
    db_fail(db, "cannot write to the depot", e);
    db_rollback(db);
    return false;
}

void db_rollback(struct db *db)
{
    if (!db->writing) {
        return;
    }
    for (size_t i = 0; i < db->n; i++) {
        sqlite3_reset(db->kept[i].st);
    }
    /* After some failures SQLite has rolled back by itself; then this says so and there is nothing to do. */
    (void)sqlite3_exec(db->h, "ROLLBACK", NULL, NULL, NULL);
    db->writing = false;
}

void bind_bytes(sqlite3_stmt *st, int i, const uint8_t *p, size_t n)
{
    sqlite3_bind_blob64(st, i, p, n, SQLITE_TRANSIENT);
}

void bind_str(sqlite3_stmt *st, int i, struct str s)
{
    if (s.p) {
        sqlite3_bind_text64(st, i, s.p, s.n, SQLITE_TRANSIENT, SQLITE_UTF8);
    } else {
        sqlite3_bind_null(st, i);
    }
}

void bind_int(sqlite3_stmt *st, int i, int64_t v)
{
    sqlite3_bind_int64(st, i, v);
}

struct str column_str(sqlite3_stmt *st, int i)
{
    if (sqlite3_column_type(st, i) == SQLITE_NULL) {
        return (struct str){NULL, 0};
    }
    const char *p = sqlite3_column_blob(st, i); /* the bytes as stored, without conversion */
    size_t n = (size_t)sqlite3_column_bytes(st, i);
    return (struct str){p ? p : "", n};
}

bool column_bytes(sqlite3_stmt *st, int i, uint8_t *p, size_t n)
{
    if (sqlite3_column_type(st, i) != SQLITE_BLOB || (size_t)sqlite3_column_bytes(st, i) != n) {
        memset(p, 0, n);
        return false;
    }
    memcpy(p, sqlite3_column_blob(st, i), n);
    return true;
}
