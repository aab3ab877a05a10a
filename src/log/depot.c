/* Making, opening and closing a depot; its keys and settings; counts and digest. */
#include "log_internal.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

struct depot_options depot_options_default(void)
{
    return (struct depot_options){.world = world_system(), .busy_ms = 5000};
}

struct key_pair key_of_seed(const uint8_t seed[32])
{
    struct key_pair key = {.have = true};
    crypto_sign_seed_keypair(key.public.b, key.secret, seed);
    return key;
}

struct log_sig key_sign(const struct key_pair *key, struct log_hash hash)
{
    struct log_sig sig;
    crypto_sign_detached(sig.b, NULL, hash.b, sizeof hash.b, key->secret);
    return sig;
}

bool key_verify(struct log_hash public, struct log_hash hash, const struct log_sig *sig)
{
    return crypto_sign_verify_detached(sig->b, hash.b, sizeof hash.b, public.b) == 0;
}

bool depot_may_write(const struct depot *d, struct err *e)
{
    return !d->options.read_only ||
           err_set(e, ERR_REFUSED, "open it for writing", "this depot is open for reading only", (char *)0);
}

bool depot_load_key(struct depot *d, const char *role, struct key_pair *key, struct err *e)
{
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT public, seed FROM key WHERE role = ?1", e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, str_of(role));
    enum db_row row = db_step(&d->db, st, e);
    uint8_t seed[32];
    if (row == DB_ROW && column_bytes(st, 1, seed, sizeof seed)) {
        *key = key_of_seed(seed);
    } else if (row == DB_ROW) {
        *key = (struct key_pair){.have = false};
        (void)column_bytes(st, 0, key->public.b, sizeof key->public.b);
    }
    sodium_memzero(seed, sizeof seed);
    sqlite3_reset(st);
    if (row == DB_DONE) {
        return err_set(e, ERR_SYSTEM, "restore a backup", "the depot has lost its ", role, " key", (char *)0);
    }
    return row == DB_ROW;
}

/* Keeps a key of a role in place of the one before; its seed only if `with_seed`. */
static bool keep_key(struct depot *d, const char *role, const struct key_pair *key, bool with_seed, struct err *e)
{
    sqlite3_stmt *st =
        db_prepare(&d->db,
                   "INSERT INTO key (role, public, seed) VALUES (?1, ?2, ?3) ON CONFLICT (role) DO UPDATE SET "
                   "public = excluded.public, seed = excluded.seed",
                   e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, str_of(role));
    bind_bytes(st, 2, key->public.b, sizeof key->public.b);
    if (with_seed) {
        bind_bytes(st, 3, key->secret, 32); /* libsodium's secret key begins with the seed */
    }
    return db_run(&d->db, st, e);
}

bool depot_new_key(struct depot *d, const char *role, struct key_pair *key, struct err *e)
{
    uint8_t seed[32];
    d->options.world.random(d->options.world.ctx, seed, sizeof seed);
    *key = key_of_seed(seed);
    sodium_memzero(seed, sizeof seed);
    return keep_key(d, role, key, true, e);
}

/* A handle without a connection. */
static struct depot *new_handle(const char *path, const struct depot_options *options, struct err *e)
{
    if (sodium_init() < 0) {
        err_set(e, ERR_SYSTEM, NULL, "the system gives no randomness (libsodium)", (char *)0);
        return NULL;
    }
    struct depot *d = calloc(1, sizeof *d);
    size_t n = strlen(path) + 1;
    char *copy = malloc(n);
    if (!d || !copy) {
        free(d);
        free(copy);
        err_set(e, ERR_SYSTEM, NULL, "out of memory", (char *)0);
        return NULL;
    }
    memcpy(copy, path, n);
    d->path = copy;
    d->options = *options;
    return d;
}

void depot_close(struct depot *d)
{
    if (!d) {
        return;
    }
    db_close(&d->db);
    sodium_memzero(&d->writer, sizeof d->writer);
    sodium_memzero(&d->depot, sizeof d->depot);
    free(d->path);
    free(d);
}

/* The keys to use from now on: those of the options before those of the depot. */
static bool load_keys(struct depot *d, struct err *e)
{
    if (!depot_load_key(d, "writer", &d->writer, e) || !depot_load_key(d, "depot", &d->depot, e)) {
        return false;
    }
    if (d->options.writer_seed) {
        d->writer = key_of_seed(d->options.writer_seed);
    }
    if (d->options.depot_seed) {
        d->depot = key_of_seed(d->options.depot_seed);
    }
    d->options.writer_seed = NULL; /* borrowed for the call only */
    d->options.depot_seed = NULL;
    return true;
}

/* A new depot's key of a role: of the options (then without its seed) or a new one. */
static bool first_key(struct depot *d, const char *role, const uint8_t *seed, struct err *e)
{
    struct key_pair key;
    if (!seed) {
        return depot_new_key(d, role, &key, e);
    }
    key = key_of_seed(seed);
    return keep_key(d, role, &key, false, e);
}

/* Schema, mark and keys, in one transaction: a file is either no depot or a whole one. */
static bool fill_new(struct depot *d, struct err *e)
{
    int64_t tables = 0;
    if (!db_begin(&d->db, e)) {
        return false;
    }
    bool ok = db_int(&d->db, "SELECT count(*) FROM sqlite_schema", 0, &tables, e);
    if (ok && tables > 0) {
        ok = err_set(e, ERR_CONFLICT, "open it, or name a new file", "the file already holds something", (char *)0);
    }
    struct text mark = text_new(e->a);
    text_addz(&mark, "PRAGMA application_id=");
    text_int(&mark, DEPOT_APPLICATION);
    ok = ok && db_exec(&d->db, text_z(&mark), e) && schema_migrate(&d->db, schema_steps, schema_step_count, e) &&
         first_key(d, "writer", d->options.writer_seed, e) && first_key(d, "depot", d->options.depot_seed, e);
    if (!ok) {
        db_rollback(&d->db);
        return false;
    }
    return db_commit(&d->db, e);
}

bool depot_create(const char *path, const struct depot_options *options, struct depot **out, struct err *e)
{
    struct depot *d = new_handle(path, options, e);
    if (!d) {
        return false;
    }
    d->options.read_only = false;
    bool ok = db_open(&d->db, path, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, options->vfs, options->busy_ms, e) &&
              fill_new(d, e) && db_exec(&d->db, "PRAGMA journal_mode=WAL", e) && load_keys(d, e);
    if (!ok) {
        depot_close(d);
        return err_context(e, str_of(path));
    }
    *out = d;
    return true;
}

/* That the open file is a depot, brought forward to our schema. */
static bool recognise(struct depot *d, struct err *e)
{
    int64_t mark = 0;
    int64_t version = 0;
    if (!db_int(&d->db, "PRAGMA application_id", 0, &mark, e) || !schema_version(&d->db, &version, e)) {
        return false;
    }
    if (mark != DEPOT_APPLICATION || version < 1) {
        return err_set(e, ERR_INPUT, "name a depot, or create one", "the file is not a depot", (char *)0);
    }
    int newest = schema_steps[schema_step_count - 1].to;
    if (d->options.read_only && version < newest) {
        return err_set(e, ERR_REFUSED, "open it once for writing", "the depot has an older schema", (char *)0);
    }
    return schema_migrate(&d->db, schema_steps, schema_step_count, e) &&
           (d->options.read_only || db_exec(&d->db, "PRAGMA journal_mode=WAL", e));
}

bool depot_open(const char *path, const struct depot_options *options, struct depot **out, struct err *e)
{
    struct stat is;
    if (stat(path, &is) != 0) {
        return err_set(e, ERR_MISSING, "name a depot, or create one", path, ": there is no such file", (char *)0);
    }
    struct depot *d = new_handle(path, options, e);
    if (!d) {
        return false;
    }
    int flags = options->read_only ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE;
    if (!db_open(&d->db, path, flags, options->vfs, options->busy_ms, e) || !recognise(d, e) || !load_keys(d, e)) {
        depot_close(d);
        return err_context(e, str_of(path));
    }
    *out = d;
    return true;
}

struct log_hash depot_writer(const struct depot *d)
{
    return d->writer.public;
}

struct log_hash depot_key(const struct depot *d)
{
    return d->depot.public;
}

const char *depot_path(const struct depot *d)
{
    return d->path;
}

struct world depot_world(const struct depot *d)
{
    return d->options.world;
}

/* Adds the first column (32 bytes) of every row to the hash. */
static bool digest_rows(struct depot *d, const char *literal, crypto_hash_sha256_state *hash, struct err *e)
{
    sqlite3_stmt *st = db_prepare(&d->db, literal, e);
    if (!st) {
        return false;
    }
    enum db_row row = db_step(&d->db, st, e);
    for (; row == DB_ROW; row = db_step(&d->db, st, e)) {
        struct str s = column_str(st, 0);
        crypto_hash_sha256_update(hash, (const unsigned char *)s.p, s.n);
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

bool depot_digest(struct depot *d, struct log_hash *digest, struct err *e)
{
    crypto_hash_sha256_state hash;
    crypto_hash_sha256_init(&hash);
    if (!digest_rows(d, "SELECT hash FROM entry ORDER BY hash", &hash, e) ||
        !digest_rows(d, "SELECT hash FROM edition ORDER BY hash", &hash, e) ||
        !digest_rows(d, "SELECT hash FROM blob ORDER BY hash", &hash, e)) {
        return false;
    }
    crypto_hash_sha256_final(&hash, digest->b);
    return true;
}

bool depot_count(struct depot *d, struct depot_counts *counts, struct err *e)
{
    return db_int(&d->db, "SELECT count(*) FROM entry", 0, &counts->entries, e) &&
           db_int(&d->db, "SELECT count(DISTINCT writer) FROM entry", 0, &counts->writers, e) &&
           db_int(&d->db, "SELECT count(*) FROM receipt", 0, &counts->receipts, e) &&
           db_int(&d->db, "SELECT count(*) FROM edition", 0, &counts->editions, e) &&
           db_int(&d->db, "SELECT count(*) FROM blob", 0, &counts->blobs, e) &&
           db_int(&d->db, "SELECT count(DISTINCT machine) FROM entry", 0, &counts->machines, e);
}

bool depot_rebuild(struct depot *d, struct err *e)
{
    if (!depot_may_write(d, e) || !db_begin(&d->db, e)) {
        return false;
    }
    if (!derive_all(d, e)) {
        db_rollback(&d->db);
        return false;
    }
    return db_commit(&d->db, e);
}

bool depot_setting_get(struct depot *d, const char *name, struct arena *a, struct str *value, struct err *e)
{
    *value = (struct str){NULL, 0};
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT value FROM setting WHERE name = ?1", e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, str_of(name));
    enum db_row row = db_step(&d->db, st, e);
    if (row == DB_ROW) {
        *value = str_copy(a, column_str(st, 0));
    }
    sqlite3_reset(st);
    return row == DB_ROW;
}

bool depot_setting_put(struct depot *d, const char *name, struct str value, struct err *e)
{
    if (!depot_may_write(d, e)) {
        return false;
    }
    if (!str_is_utf8(value)) {
        return err_set(e, ERR_INPUT, "write it in UTF-8", "setting ", name, ": the value is not UTF-8", (char *)0);
    }
    sqlite3_stmt *st =
        value.n ? db_prepare(&d->db,
                             "INSERT INTO setting (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE "
                             "SET value = excluded.value",
                             e)
                : db_prepare(&d->db, "DELETE FROM setting WHERE name = ?1", e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, str_of(name));
    if (value.n) {
        bind_str(st, 2, value);
    }
    return db_run(&d->db, st, e);
}
