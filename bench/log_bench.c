/* Recording and importing signed entries against plain SQLite inserts with the same settings, in one run.
 *
 * usage: log_bench [FOLDER [ENTRIES]]
 *
 * The plain side inserts rows of the same content into a STRICT table with the same columns and indexes, through a
 * prepared statement, in WAL mode with synchronous=FULL; it does not hash, sign, check, receipt or read back. Single
 * writes alternate between the two sides, since a disk's mood changes; bulk work is done three times each way, the best
 * counts. Prints a line per kind of work: both rates and the ratio of the times.
 */
#include "log.h"

#include <sodium.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define SINGLES 400

/* Seconds of a clock that only goes forward. */
static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* The two sides and their files. */
struct run {
    const char *folder;
    struct arena a;
    struct err e;
    struct depot_options options;
};

static _Noreturn void stop(struct run *r, const char *what)
{
    struct str s = err_text(&r->a, &r->e);
    fprintf(stderr, "log_bench: %s: %.*s\n", what, STR_ARG(s));
    exit(1);
}

/* FOLDER/name after removing what an earlier run left of it. */
static const char *fresh(struct run *r, const char *name)
{
    static const char *const ends[] = {"-wal", "-shm", "-journal", ""};
    struct text t = text_new(&r->a);
    for (size_t i = 0; i < 4; i++) {
        t.n = 0;
        text_join(&t, r->folder, "/", name, ends[i], (char *)0);
        unlink(text_z(&t));
    }
    return text_z(&t);
}

static struct depot *open_depot(struct run *r, const char *name)
{
    struct depot *d = NULL;
    if (!depot_create(fresh(r, name), &r->options, &d, &r->e)) {
        stop(r, name);
    }
    return d;
}

/* The plain side's table, and its insert. */
struct plain {
    sqlite3 *h;
    sqlite3_stmt *insert;
};

static struct plain open_plain(struct run *r, const char *name)
{
    struct plain p = {0};
    static const char setup[] =
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
        "CREATE TABLE entry (place INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, writer BLOB NOT NULL, seq INTEGER NOT "
        "NULL,"
        "prev BLOB NOT NULL, at INTEGER NOT NULL, made INTEGER NOT NULL, by TEXT NOT NULL, machine TEXT, book BLOB,"
        "kind TEXT NOT NULL, body TEXT NOT NULL, hash BLOB NOT NULL UNIQUE, sig BLOB NOT NULL) STRICT;"
        "CREATE INDEX entry_by_writer ON entry (writer, seq); CREATE INDEX entry_by_at ON entry (at, id);"
        "CREATE INDEX entry_by_machine ON entry (machine, at, id);";
    if (sqlite3_open(fresh(r, name), &p.h) != SQLITE_OK || sqlite3_exec(p.h, setup, NULL, NULL, NULL) != SQLITE_OK ||
        sqlite3_prepare_v2(
            p.h,
            "INSERT INTO entry (id, writer, seq, prev, at, made, by, machine, book, kind, body, hash, sig) "
            "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, NULL, ?9, ?10, ?11, ?12)",
            -1, &p.insert, NULL) != SQLITE_OK) {
        fprintf(stderr, "log_bench: %s\n", sqlite3_errmsg(p.h));
        exit(1);
    }
    return p;
}

static void close_plain(struct plain *p)
{
    sqlite3_finalize(p->insert);
    sqlite3_close(p->h);
}

/* A body like those of readings; the same on both sides. */
static const char *body_text(int i, char *buffer, size_t n)
{
    snprintf(buffer, n, "{\"checkpoint\":\"tyre-front-left\",\"note\":\"reading %d\",\"unit\":\"bar\",\"value\":%d.%d}",
             i, i % 3, i % 9 + 1);
    return buffer;
}

static void insert_plain(struct plain *p, int i)
{
    char body[128];
    unsigned char bytes[64] = {0};
    memcpy(bytes, &i, sizeof i);
    body_text(i, body, sizeof body);
    sqlite3_bind_blob(p->insert, 1, bytes, 16, SQLITE_STATIC);
    sqlite3_bind_blob(p->insert, 2, bytes + 16, 32, SQLITE_STATIC);
    sqlite3_bind_int(p->insert, 3, i);
    sqlite3_bind_blob(p->insert, 4, bytes, 32, SQLITE_STATIC);
    sqlite3_bind_int64(p->insert, 5, 1772438400000 + i);
    sqlite3_bind_int64(p->insert, 6, 1772438400000 + i);
    sqlite3_bind_text(p->insert, 7, "L. Quay", -1, SQLITE_STATIC);
    sqlite3_bind_text(p->insert, 8, "HT-2200-017", -1, SQLITE_STATIC);
    sqlite3_bind_text(p->insert, 9, "reading", -1, SQLITE_STATIC);
    sqlite3_bind_text(p->insert, 10, body, -1, SQLITE_STATIC);
    sqlite3_bind_blob(p->insert, 11, bytes, 32, SQLITE_STATIC);
    sqlite3_bind_blob(p->insert, 12, bytes, 64, SQLITE_STATIC);
    if (sqlite3_step(p->insert) != SQLITE_DONE) {
        fprintf(stderr, "log_bench: %s\n", sqlite3_errmsg(p->h));
        exit(1);
    }
    sqlite3_reset(p->insert);
}

static json_t *body_tree(int i)
{
    char body[128];
    return json_loads(body_text(i, body, sizeof body), 0, NULL);
}

static struct draft draft_of(json_t *body, int i)
{
    return (struct draft){
        .kind = KIND_READING, .at = 1772438400000 + i, .by = S("L. Quay"), .machine = S("HT-2200-017"), .body = body};
}

static void print(const char *what, int n, double ours, double plain)
{
    printf("%-34s %9.0f entries/s  plain %9.0f rows/s  ratio of times %.2f\n", what, n / ours, n / plain, ours / plain);
}

/* One durable write at a time, the sides in turns. */
static void singles(struct run *r)
{
    struct depot *d = open_depot(r, "bench.depot");
    struct plain p = open_plain(r, "bench.plain");
    double ours = 0;
    double plain = 0;
    for (int i = 0; i < SINGLES; i++) {
        json_t *body = body_tree(i);
        struct draft draft = draft_of(body, i);
        double t0 = now_s();
        if (!depot_append(d, &draft, 1, NULL, &r->e)) {
            stop(r, "append");
        }
        double t1 = now_s();
        insert_plain(&p, i);
        double t2 = now_s();
        ours += t1 - t0;
        plain += t2 - t1;
        json_decref(body);
    }
    print("record, one durable write each", SINGLES, ours, plain);
    depot_close(d);
    close_plain(&p);
}

/* n rows in one transaction. */
static double bulk_plain(struct run *r, int n)
{
    struct plain p = open_plain(r, "bench.plain");
    double t0 = now_s();
    sqlite3_exec(p.h, "BEGIN IMMEDIATE", NULL, NULL, NULL);
    for (int i = 0; i < n; i++) {
        insert_plain(&p, i);
    }
    sqlite3_exec(p.h, "COMMIT", NULL, NULL, NULL);
    double t1 = now_s();
    close_plain(&p);
    return t1 - t0;
}

/* n drafts in one transaction; the depot stays open in *d. */
static double bulk_append(struct run *r, int n, struct depot **d)
{
    *d = open_depot(r, "bench.depot");
    struct draft *drafts = calloc((size_t)n, sizeof *drafts);
    json_t **bodies = calloc((size_t)n, sizeof *bodies);
    if (!drafts || !bodies) {
        exit(1);
    }
    for (int i = 0; i < n; i++) {
        bodies[i] = body_tree(i);
        drafts[i] = draft_of(bodies[i], i);
    }
    double t0 = now_s();
    if (!depot_append(*d, drafts, (size_t)n, NULL, &r->e)) {
        stop(r, "append");
    }
    double t1 = now_s();
    for (int i = 0; i < n; i++) {
        json_decref(bodies[i]);
    }
    free(drafts);
    free(bodies);
    return t1 - t0;
}

static double import_file(struct run *r, struct depot *d, const char *path)
{
    struct import_options options = {.name = S("bench")};
    struct import_report report;
    FILE *f = fopen(path, "rb");
    double t0 = now_s();
    if (!f || !depot_import(d, f, &options, &r->a, &report, &r->e)) {
        stop(r, "import");
    }
    double t1 = now_s();
    fclose(f);
    return t1 - t0;
}

/* The lesser of two times, 0 being none yet. */
static double least(double best, double time)
{
    return best > 0 && best < time ? best : time;
}

static void bulk(struct run *r, int n)
{
    double plain = 0;
    double append = 0;
    double written = 0;
    double import = 0;
    double again = 0;
    double proof = 0;
    for (int round = 0; round < 3; round++) {
        struct depot *d = NULL;
        plain = least(plain, bulk_plain(r, n));
        append = least(append, bulk_append(r, n, &d));
        const char *path = fresh(r, "bench.ndjson");
        FILE *f = fopen(path, "wb");
        double t0 = now_s();
        if (!f || !depot_export(d, f, NULL, &r->e)) {
            stop(r, "export");
        }
        fclose(f);
        written = least(written, now_s() - t0);
        struct depot *other = open_depot(r, "bench.other");
        import = least(import, import_file(r, other, path));
        again = least(again, import_file(r, other, path));
        struct findings found;
        struct progress none = {0};
        t0 = now_s();
        if (!depot_verify(other, none, &r->a, &found, &r->e) || found.n > 0) {
            stop(r, "verify");
        }
        proof = least(proof, now_s() - t0);
        depot_close(d);
        depot_close(other);
    }
    print("record, all in one transaction", n, append, plain);
    print("import from NDJSON", n, import, plain);
    print("import again, nothing new", n, again, plain);
    print("export to NDJSON", n, written, plain);
    print("verify", n, proof, plain);
}

/* What libsodium needs for one signature and for checking one. */
static void signatures(void)
{
    unsigned char public[32];
    unsigned char secret[64];
    unsigned char sig[64];
    unsigned char hash[32] = {1};
    crypto_sign_keypair(public, secret);
    double t0 = now_s();
    for (int i = 0; i < 2000; i++) {
        crypto_sign_detached(sig, NULL, hash, sizeof hash, secret);
    }
    double t1 = now_s();
    for (int i = 0; i < 2000; i++) {
        if (crypto_sign_verify_detached(sig, hash, sizeof hash, public) != 0) {
            exit(1);
        }
    }
    double t2 = now_s();
    printf("Ed25519 alone                      %9.0f signed/s  %9.0f checked/s\n", 2000 / (t1 - t0), 2000 / (t2 - t1));
}

int main(int argc, char **argv)
{
    struct run r = {
        .folder = argc > 1 ? argv[1] : ".", .a = arena_new(&arena_libc), .options = depot_options_default()};
    int n = argc > 2 ? atoi(argv[2]) : 20000; /* NOLINT(cert-err34-c): a number of ours */
    r.e = err_new(&r.a);
    if (n < 1) {
        fprintf(stderr, "usage: log_bench [FOLDER [ENTRIES]]\n");
        return 2;
    }
    printf("# %d entries, SQLite %s\n", n, sqlite3_libversion());
    singles(&r);
    bulk(&r, n);
    signatures();
    static const char *const files[] = {"bench.depot", "bench.plain", "bench.other", "bench.ndjson"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        (void)fresh(&r, files[i]);
    }
    arena_free(&r.a);
    return 0;
}
