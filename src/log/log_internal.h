/* What the files of the log share: the connection, the schema, entries on their way in and out. Not for others. */
#ifndef WITMARK_LOG_INTERNAL_H
#define WITMARK_LOG_INTERNAL_H

#include "log.h"

#include "base/map.h"

#include <sqlite3.h>
#include <stdarg.h>

/* jansson's iterators, and a draft's body in an entry, want a tree that could be changed; nobody here changes it. */
static inline json_t *tree_of(const json_t *json)
{
    union {
        const json_t *in;
        json_t *out;
    } same = {json};
    return same.out;
}

/* ---- db.c: the one owner of the connection ---- */

#define DB_STATEMENTS 96

struct db {
    sqlite3 *h;
    struct {
        const char *sql; /* a literal: compared by address */
        sqlite3_stmt *st;
    } kept[DB_STATEMENTS];
    size_t n;
    bool writing; /* inside db_begin .. db_commit */
};

enum db_row { DB_ROW, DB_DONE, DB_FAILED };

/* Opens with our pragmas. flags are SQLITE_OPEN_...; vfs may be null. */
bool db_open(struct db *db, const char *path, int flags, const char *vfs, int busy_ms, struct err *e);
void db_close(struct db *db);
/* Fills e from the connection's last failure; `doing` is for people ("cannot write the entry"). Returns false. */
bool db_fail(struct db *db, const char *doing, struct err *e);
/* The statement of a literal, reset and unbound, owned by db; null on failure. */
sqlite3_stmt *db_prepare(struct db *db, const char *literal, struct err *e);
/* A statement of its own, to be finalized by the caller. */
sqlite3_stmt *db_prepare_once(struct db *db, struct str sql, struct err *e);
enum db_row db_step(struct db *db, sqlite3_stmt *st, struct err *e);
bool db_run(struct db *db, sqlite3_stmt *st, struct err *e); /* step to the end and reset */
bool db_exec(struct db *db, const char *sql, struct err *e);
/* The first column of the first row as a number, or `otherwise`. */
bool db_int(struct db *db, const char *literal, int64_t otherwise, int64_t *value, struct err *e);
bool db_begin(struct db *db, struct err *e);      /* for writing, at once */
bool db_begin_read(struct db *db, struct err *e); /* one view of the data until db_commit or db_rollback */
bool db_commit(struct db *db, struct err *e);     /* rolls back when it fails */
void db_rollback(struct db *db);

void bind_bytes(sqlite3_stmt *st, int i, const uint8_t *p, size_t n);
void bind_str(sqlite3_stmt *st, int i, struct str s); /* p null binds NULL */
void bind_int(sqlite3_stmt *st, int i, int64_t v);
struct str column_str(sqlite3_stmt *st, int i); /* borrowed until the next step; p null for NULL */
/* Exactly n bytes; false when the column is something else. */
bool column_bytes(sqlite3_stmt *st, int i, uint8_t *p, size_t n);

/* ---- schema.c ---- */

#define DEPOT_APPLICATION 0x5749544d /* "WITM" */

/* One step brings version `to - 1` to `to`. */
struct migration {
    int to;
    const char *sql;
};
extern const struct migration schema_steps[];
extern const size_t schema_step_count;

/* Runs the steps that are still to do, each with its version in one transaction (the caller's, if there is one).
 * Errors: ERR_REFUSED the file is newer. */
bool schema_migrate(struct db *db, const struct migration *steps, size_t n, struct err *e);
bool schema_version(struct db *db, int64_t *version, struct err *e);
/* SHA-256 over type, name, table and SQL of everything in the schema. */
bool schema_digest(struct db *db, struct log_hash *digest, struct err *e);
/* The digest that this version's schema must have. */
bool schema_expected(struct log_hash *digest, struct err *e);

/* ---- depot.c ---- */

/* An Ed25519 key pair; `have` false when only the public half is known. */
struct key_pair {
    struct log_hash public;
    uint8_t secret[64];
    bool have;
};

struct depot {
    struct db db;
    struct depot_options options;
    char *path;
    struct key_pair writer, depot;
};

struct key_pair key_of_seed(const uint8_t seed[32]);
struct log_sig key_sign(const struct key_pair *key, struct log_hash hash);
bool key_verify(struct log_hash public, struct log_hash hash, const struct log_sig *sig);
bool depot_may_write(const struct depot *d, struct err *e);
/* Takes the key of a role from the depot. */
bool depot_load_key(struct depot *d, const char *role, struct key_pair *key, struct err *e);
/* Makes a new key of a role and keeps it in place of the old one. */
bool depot_new_key(struct depot *d, const char *role, struct key_pair *key, struct err *e);

/* ---- kind.c ---- */

/* As kind_check; *path is the member that is wrong ("body.parts[1].quantity"), in e's arena. */
bool kind_check_path(enum entry_kind kind, const json_t *body, struct str machine, struct str *path, struct err *e);

/* The members of a kind's body, as docs/entries.md lists them: `hours`, `meter`? */
void text_kind_members(struct text *t, enum entry_kind kind);

/* ---- entry.c ---- */

/* Reads an entry as it stands in an export: every member there, in canonical form; the body checked against its kind.
 * The tree stays the caller's; entry->body is a new reference (entry_free). Errors: ERR_INPUT, `path` (at least as
 * long-lived as e) is the member ("body.hours"). hash and sig are read, not verified. */
bool entry_of_json(const json_t *json, struct arena *a, struct entry *out, struct str *path, struct err *e);
/* The entry's name for messages: "entry 0190... (writer 3f2a..., number 7)". */
struct str entry_label(struct arena *a, const struct entry *entry);
struct str id_str(struct arena *a, struct entry_id id);
struct str hash_str(struct arena *a, struct log_hash hash);
struct str number_str(struct arena *a, int64_t value);

void text_receipt_canonical(struct text *t, const struct receipt *r);
void text_receipt(struct text *t, const struct receipt *r);
struct log_hash receipt_hash(struct arena *a, const struct receipt *r);
bool receipt_of_json(const json_t *json, struct arena *a, struct receipt *out, struct err *e);

/* The end of a writer's chain, as the depot signed for it. */
struct tip {
    struct log_hash depot, writer;
    int64_t seq;           /* highest number here */
    struct log_hash entry; /* its hash; of a fork, the greatest */
    int64_t count;         /* entries of this writer here */
    struct log_sig sig;    /* over the SHA-256 of the tip's canonical JSON without sig */
};
void text_tip(struct text *t, const struct tip *tip, bool with_sig);
struct log_hash tip_hash(struct arena *a, const struct tip *tip);
bool tip_of_json(const json_t *json, struct arena *a, struct tip *out, struct err *e);

/* ---- query.c ---- */

/* Whether the instant lies in the years 1 to 9999, which text_instant can write. */
bool instant_is_civil(instant_ms at);

#define ENTRY_COLUMNS \
    "e.place, e.id, e.writer, e.seq, e.prev, e.at, e.made, e.by, e.machine, e.book, e.kind, e.body, e.hash, e.sig"
/* Reads a row that starts with ENTRY_COLUMNS. Texts are copied into `a`. With `lenient`, an unreadable body leaves
 * body null (verify goes on), and *sound tells whether every column had its form. */
bool entry_of_row(sqlite3_stmt *st, struct arena *a, struct entry *out, bool *sound, struct err *e);
/* The entry with that id or place, as recorded. */
bool entry_by_id(struct depot *d, struct entry_id id, struct arena *a, struct entry *out, bool *found, struct err *e);
bool entry_by_place(struct depot *d, int64_t place, struct arena *a, struct entry *out, bool *found, struct err *e);

/* ---- append.c: inside a transaction ---- */

/* Inserts an entry whose hash and signature are known to be right, and what is derived from it. Sets entry->place. */
bool entry_insert(struct depot *d, struct entry *entry, struct err *e);
bool receipt_insert(struct depot *d, const struct receipt *r, bool *added, struct err *e);
/* The depot's own receipt for an entry. */
bool receipt_give(struct depot *d, const struct entry *entry, struct str from, struct err *e);
/* Brings the tip of a writer up to date and signs it. */
bool tip_update(struct depot *d, struct log_hash writer, struct err *e);
/* The entry with the same machine and import key, if there is one. */
bool import_key_find(struct depot *d, struct str machine, struct str key, struct entry_id *id, bool *found,
                     struct err *e);
/* Reads the row back and compares it with what was meant. */
bool entry_read_back(struct depot *d, const struct entry *entry, struct err *e);

/* ---- derive.c ---- */

/* Adds what follows from a new entry to the derived tables. */
bool derive_entry(struct depot *d, const struct entry *entry, struct err *e);
/* Empties the derived tables and fills them again; inside a transaction. */
bool derive_all(struct depot *d, struct err *e);
/* Makes empty derived tables of this connection's own, which stand in for the depot's until the transaction is rolled
 * back; so a depot that is in use, or only read, can be derived anew for comparison. */
bool derive_apart(struct depot *d, struct err *e);
/* Why a correction that is here cannot apply; empty when it can. */
bool derive_idle(struct depot *d, const struct entry *correction, struct arena *a, struct str *why, struct err *e);

/* ---- findings.c ---- */

/* Adds a finding; the pieces of its sentence end with a null pointer. */
void findings_add(struct findings *f, struct finding one, const char *what, ...);
struct finding finding_of_entry(enum finding_kind kind, const struct entry *entry);

/* ---- chain.c ---- */

/* The altered entries that verify has found, by their stored and their recomputed hashes. */
struct altered {
    struct arena *a;
    struct map by_hash;
    struct log_hash *prev;
    size_t n, cap;
};
void altered_add(struct altered *set, const struct entry *entry, struct log_hash recomputed);
/* Whether an altered entry has this hash, and then what it names as its previous one. */
bool altered_has(const struct altered *set, struct log_hash hash, struct log_hash *prev);

/* Checks one writer's chain. altered null: during an import, which reports gaps as not here yet and leaves the tip out.
 */
bool chain_check(struct depot *d, struct log_hash writer, struct log_hash depot_key, const struct altered *altered,
                 struct findings *out, struct err *e);

/* ---- locate.c ---- */

/* Where in a valid JSON text the value at a path ("entry.body.parts[1].quantity") begins: the column, in characters
 * from 1. A member that is not there gives the innermost value around it that is. */
uint32_t json_column(struct str json, struct str path);

#endif
