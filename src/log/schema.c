/* The tables, and the steps from one version of them to the next. A step, once released, is never edited: a change is a
 * new step at the end, and a sample of the version before goes to tests/data/. */
#include "log_internal.h"

#include <sodium.h>

/* Version 1. Times are milliseconds of UTC since 1970; ids, hashes, keys and signatures are bytes; bodies are canonical
 * JSON. The triggers keep facts as they are also from other programs; who removes a trigger changes the schema, which
 * shows. */
static const char version_1[] =
    /* facts */
    "CREATE TABLE entry (\n"
    "  place INTEGER PRIMARY KEY,            -- order of arrival\n"
    "  id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),\n"
    "  writer BLOB NOT NULL CHECK (length(writer) = 32),\n"
    "  seq INTEGER NOT NULL CHECK (seq > 0), -- number in the writer's chain\n"
    "  prev BLOB NOT NULL CHECK (length(prev) = 32),\n"
    "  at INTEGER NOT NULL,                  -- when it happened\n"
    "  made INTEGER NOT NULL,                -- when it was written down\n"
    "  by TEXT NOT NULL,\n"
    "  machine TEXT,\n"
    "  book BLOB CHECK (book IS NULL OR length(book) = 32),\n"
    "  kind TEXT NOT NULL,\n"
    "  body TEXT NOT NULL,\n"
    "  hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),\n"
    "  sig BLOB NOT NULL CHECK (length(sig) = 64)\n"
    ") STRICT;\n"
    "CREATE INDEX entry_by_writer ON entry (writer, seq);\n"
    "CREATE INDEX entry_by_at ON entry (at, id);\n"
    "CREATE INDEX entry_by_machine ON entry (machine, at, id);\n"
    "CREATE TABLE receipt (\n"
    "  entry BLOB NOT NULL REFERENCES entry (hash),\n"
    "  depot BLOB NOT NULL CHECK (length(depot) = 32),\n"
    "  received INTEGER NOT NULL,\n"
    "  source TEXT NOT NULL,\n"
    "  sig BLOB NOT NULL CHECK (length(sig) = 64),\n"
    "  PRIMARY KEY (entry, depot)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE tip (                      -- the end of each chain, signed by the depot\n"
    "  writer BLOB NOT NULL PRIMARY KEY CHECK (length(writer) = 32),\n"
    "  depot BLOB NOT NULL CHECK (length(depot) = 32),\n"
    "  seq INTEGER NOT NULL,\n"
    "  entry BLOB NOT NULL CHECK (length(entry) = 32),\n"
    "  count INTEGER NOT NULL,               -- entries of this writer kept here\n"
    "  sig BLOB NOT NULL CHECK (length(sig) = 64)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE edition (\n"
    "  hash BLOB NOT NULL PRIMARY KEY CHECK (length(hash) = 32),\n"
    "  name TEXT NOT NULL,\n"
    "  kept INTEGER NOT NULL,\n"
    "  text BLOB NOT NULL\n"
    ") STRICT;\n"
    "CREATE TABLE blob (\n"
    "  hash BLOB NOT NULL PRIMARY KEY CHECK (length(hash) = 32),\n"
    "  kept INTEGER NOT NULL,\n"
    "  data BLOB NOT NULL\n"
    ") STRICT;\n"
    "CREATE TABLE setting (name TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE key (\n"
    "  role TEXT NOT NULL PRIMARY KEY CHECK (role IN ('writer', 'depot')),\n"
    "  public BLOB NOT NULL CHECK (length(public) = 32),\n"
    "  seed BLOB CHECK (seed IS NULL OR length(seed) = 32)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TRIGGER entry_stays BEFORE UPDATE ON entry BEGIN SELECT raise(ABORT, 'entries are never changed'); END;\n"
    "CREATE TRIGGER entry_kept BEFORE DELETE ON entry BEGIN SELECT raise(ABORT, 'entries are never deleted'); END;\n"
    "CREATE TRIGGER receipt_stays BEFORE UPDATE ON receipt BEGIN SELECT raise(ABORT, 'receipts are never changed'); "
    "END;\n"
    "CREATE TRIGGER receipt_kept BEFORE DELETE ON receipt BEGIN SELECT raise(ABORT, 'receipts are never deleted'); "
    "END;\n"
    "CREATE TRIGGER edition_stays BEFORE UPDATE ON edition BEGIN SELECT raise(ABORT, 'editions are never changed'); "
    "END;\n"
    "CREATE TRIGGER edition_kept BEFORE DELETE ON edition BEGIN SELECT raise(ABORT, 'editions are never deleted'); "
    "END;\n"
    "CREATE TRIGGER blob_stays BEFORE UPDATE ON blob BEGIN SELECT raise(ABORT, 'attachments are never changed'); END;\n"
    "CREATE TRIGGER blob_kept BEFORE DELETE ON blob BEGIN SELECT raise(ABORT, 'attachments are never deleted'); END;\n"
    /* derived: derive.c fills these from the facts */
    "CREATE TABLE derived_correction (       -- which entries correct which\n"
    "  target BLOB NOT NULL,\n"
    "  place INTEGER NOT NULL,\n"
    "  PRIMARY KEY (target, place)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE derived_import (           -- entries that an import made, by what they were made from\n"
    "  machine TEXT NOT NULL,\n"
    "  key TEXT NOT NULL,\n"
    "  id BLOB NOT NULL,\n"
    "  place INTEGER NOT NULL,\n"
    "  PRIMARY KEY (machine, key, id)\n"
    ") STRICT, WITHOUT ROWID;\n"
    "CREATE TABLE derived_effect (           -- entries that do not hold as they were written\n"
    "  place INTEGER PRIMARY KEY,\n"
    "  state INTEGER NOT NULL,               -- enum entry_state\n"
    "  at INTEGER,                           -- corrected time\n"
    "  body TEXT,                            -- corrected body\n"
    "  corrected_by BLOB\n"
    ") STRICT;\n"
    "CREATE INDEX derived_effect_by_at ON derived_effect (at) WHERE at IS NOT NULL;\n";

const struct migration schema_steps[] = {{1, version_1}};
const size_t schema_step_count = sizeof schema_steps / sizeof *schema_steps;

bool schema_version(struct db *db, int64_t *version, struct err *e)
{
    return db_int(db, "PRAGMA user_version", 0, version, e);
}

/* "PRAGMA user_version=N": pragmas take no bound values; N is one of our own steps. */
static bool set_version(struct db *db, int version, struct err *e)
{
    struct text t = text_new(e->a);
    text_addz(&t, "PRAGMA user_version=");
    text_int(&t, version);
    return db_exec(db, text_z(&t), e);
}

/* One step with its version, in the caller's transaction or in its own. Another process may have been faster. */
static bool run_step(struct db *db, const struct migration *step, struct err *e)
{
    bool own = !db->writing;
    int64_t version = 0;
    if (own && !db_begin(db, e)) {
        return false;
    }
    bool ok = schema_version(db, &version, e) &&
              (version >= step->to || (db_exec(db, step->sql, e) && set_version(db, step->to, e)));
    if (!ok) {
        db_rollback(db);
        return false;
    }
    return !own || db_commit(db, e);
}

bool schema_migrate(struct db *db, const struct migration *steps, size_t n, struct err *e)
{
    int64_t version = 0;
    if (!schema_version(db, &version, e)) {
        return false;
    }
    if (version > steps[n - 1].to) {
        struct str has = number_str(e->a, version);
        struct str knows = number_str(e->a, steps[n - 1].to);
        return err_set(e, ERR_REFUSED, "open it with a newer Witmark", "the depot has schema version ",
                       str_z(e->a, has), "; this program knows versions up to ", str_z(e->a, knows), (char *)0);
    }
    for (size_t i = 0; i < n; i++) {
        if (steps[i].to > version && !run_step(db, &steps[i], e)) {
            struct text t = text_new(e->a);
            text_addz(&t, "cannot bring the depot forward to version ");
            text_int(&t, steps[i].to);
            return err_context(e, text_str(&t));
        }
    }
    return true;
}

bool schema_digest(struct db *db, struct log_hash *digest, struct err *e)
{
    sqlite3_stmt *st = db_prepare(db,
                                  "SELECT type, name, tbl_name, coalesce(sql, '') FROM sqlite_schema WHERE name NOT "
                                  "LIKE 'sqlite_stat%' ORDER BY 1, 2",
                                  e);
    if (!st) {
        return false;
    }
    crypto_hash_sha256_state hash;
    crypto_hash_sha256_init(&hash);
    enum db_row row = db_step(db, st, e);
    for (; row == DB_ROW; row = db_step(db, st, e)) {
        for (int i = 0; i < 4; i++) {
            struct str s = column_str(st, i);
            crypto_hash_sha256_update(&hash, (const unsigned char *)s.p, s.n);
            crypto_hash_sha256_update(&hash, (const unsigned char *)"", 1);
        }
    }
    sqlite3_reset(st);
    crypto_hash_sha256_final(&hash, digest->b);
    return row == DB_DONE;
}

bool schema_expected(struct log_hash *digest, struct err *e)
{
    struct db db;
    if (!db_open(&db, ":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL, 0, e)) {
        return false;
    }
    bool ok = schema_migrate(&db, schema_steps, schema_step_count, e) && schema_digest(&db, digest, e);
    db_close(&db);
    return ok;
}
