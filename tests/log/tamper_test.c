/* Whatever is changed in the file behind the depot's back is found, and named. A second connection does what an
 * attacker or a bad disk would: it drops the triggers, changes something, and puts the triggers back. */
#include "scratch.h"

#include "log_internal.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define SERIAL "HT-2200-017"

/* A depot with entries of two writers, and the connection of the attacker. */
struct scene {
    struct bench b;
    struct depot *d;
    sqlite3 *raw;
    struct log_hash own, other; /* writers */
};

static void run(struct scene *s, const char *sql)
{
    char *says = NULL;
    if (sqlite3_exec(s->raw, sql, NULL, NULL, &says) != SQLITE_OK) {
        print_error("%s: %s\n", sql, says);
        sqlite3_free(says);
        fail();
    }
}

static void set_scene(struct scene *s)
{
    bench_set_up(&s->b, 21);
    struct bench *b = &s->b;
    s->d = bench_depot(b, "a.depot");
    s->own = depot_writer(s->d);
    struct log_hash hash;
    must(b, depot_book_put(s->d, S("sweeper.yaml"), S("name: sweeper\n"), &hash, bench_err(b)));
    must(b, depot_blob_put(s->d, S("photo"), &hash, bench_err(b)));
    struct appended meter = bench_append(b, s->d, KIND_METER, 0, SERIAL, "{\"hours\": 100}");
    bench_append(b, s->d, KIND_READING, 1, SERIAL,
                 "{\"checkpoint\": \"tyre\", \"value\": 1.5, \"unit\": \"bar\", \"note\": \"\\u00bd turn\"}");
    struct text t = text_new(&b->a);
    text_join(&t, "{\"corrects\": \"", id_z(b, meter.id), "\", \"reason\": \"misread\", \"body\": {\"hours\": 101}}",
              (char *)0);
    bench_append(b, s->d, KIND_CORRECTION, 2, NULL, text_z(&t));
    bench_append(b, s->d, KIND_NOTE, 3, NULL, "{\"text\": \"last\"}");
    struct depot *phone = bench_depot(b, "b.depot");
    s->other = depot_writer(phone);
    for (int i = 0; i < 3; i++) {
        bench_append(b, phone, KIND_NOTE, 10 + i, SERIAL, "{\"text\": \"from the phone\"}");
    }
    struct import_report report;
    must(b, bench_import(b, s->d, read_whole(b, bench_export(b, phone, "b.ndjson")), &report));
    depot_close(phone);
    assert_string_equal(verify_lines(b, s->d), "");
    assert_int_equal(sqlite3_open(bench_path(b, "a.depot"), &s->raw), SQLITE_OK);
    run(s, "PRAGMA synchronous=OFF; PRAGMA foreign_keys=OFF; PRAGMA ignore_check_constraints=ON");
}

static void strike_scene(struct scene *s)
{
    sqlite3_close(s->raw);
    depot_close(s->d);
    bench_tear_down(&s->b);
}

/* Runs sql with the triggers out of the way. */
static void tamper(struct scene *s, const char *sql)
{
    struct text triggers = text_new(&s->b.a);
    struct text drops = text_new(&s->b.a);
    sqlite3_stmt *st = NULL;
    assert_int_equal(
        sqlite3_prepare_v2(s->raw, "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'", -1, &st, NULL),
        SQLITE_OK);
    while (sqlite3_step(st) == SQLITE_ROW) {
        text_join(&drops, "DROP TRIGGER ", (const char *)sqlite3_column_text(st, 0), ";", (char *)0);
        text_join(&triggers, (const char *)sqlite3_column_text(st, 1), ";", (char *)0);
    }
    sqlite3_finalize(st);
    run(s, "BEGIN");
    run(s, text_z(&drops));
    run(s, sql);
    run(s, text_z(&triggers));
    run(s, "COMMIT");
}

/* One column of one row, with byte `at` of it flipped by `mask` (of an integer: its bit `at`). */
static void set_flipped(struct scene *s, const char *table, const char *column, int64_t rowid, const char *key,
                        size_t at, int mask)
{
    struct text sql = text_new(&s->b.a);
    text_join(&sql, "SELECT ", column, " FROM ", table, " WHERE ", key, " = ", (char *)0);
    text_int(&sql, rowid);
    sqlite3_stmt *st = NULL;
    assert_int_equal(sqlite3_prepare_v2(s->raw, text_z(&sql), -1, &st, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(st), SQLITE_ROW);
    int type = sqlite3_column_type(st, 0);
    sql.n = 0;
    text_join(&sql, "UPDATE ", table, " SET ", column, " = ", (char *)0);
    if (type == SQLITE_INTEGER) {
        text_int(&sql, (int64_t)sqlite3_column_int64(st, 0) ^ ((int64_t)1 << at));
    } else {
        struct str old = column_str(st, 0);
        char *bytes = arena_copy(&s->b.a, old.p, old.n);
        bytes[at] = (char)(bytes[at] ^ mask);
        text_addz(&sql, type == SQLITE_TEXT ? "CAST(x'" : "x'");
        text_hex(&sql, (const uint8_t *)bytes, old.n);
        text_addz(&sql, type == SQLITE_TEXT ? "' AS TEXT)" : "'");
    }
    sqlite3_finalize(st);
    text_join(&sql, " WHERE ", key, " = ", (char *)0);
    text_int(&sql, rowid);
    tamper(s, text_z(&sql));
}

static int64_t ask(struct scene *s, const char *sql)
{
    sqlite3_stmt *st = NULL;
    assert_int_equal(sqlite3_prepare_v2(s->raw, sql, -1, &st, NULL), SQLITE_OK);
    int64_t value =
        sqlite3_step(st) == SQLITE_ROW && sqlite3_column_type(st, 0) != SQLITE_NULL ? sqlite3_column_int64(st, 0) : -1;
    sqlite3_finalize(st);
    return value;
}

/* Bytes (of an integer: bits to try) of a column. */
static size_t width(struct scene *s, const char *table, const char *column, int64_t rowid)
{
    struct text sql = text_new(&s->b.a);
    text_join(&sql, "SELECT CASE typeof(", column, ") WHEN 'integer' THEN 40 WHEN 'null' THEN 0 ELSE length(CAST(",
              column, " AS BLOB)) END FROM ", table, " WHERE rowid = ", (char *)0);
    text_int(&sql, rowid);
    return (size_t)ask(s, text_z(&sql));
}

/* Every column of every entry, some bytes each (one entry: many bytes): exactly one finding, for that entry. */
static void any_byte_of_an_entry(void **state)
{
    (void)state;
    struct scene s;
    set_scene(&s);
    static const char *const columns[] = {"id", "writer",  "seq",  "prev", "at",   "made",
                                          "by", "machine", "kind", "body", "hash", "sig"};
    uint64_t x = 77;
    for (int64_t place = 1; place <= 7; place++) {
        for (size_t c = 0; c < sizeof columns / sizeof *columns; c++) {
            size_t n = width(&s, "entry", columns[c], place);
            for (size_t at = 0; at < n; at += place == 2 ? 3 + draw(&x) % 8 : n / 2 + 1) {
                struct arena_mark mark = arena_mark(&s.b.a);
                int mask = 1 << (draw(&x) % 8);
                int64_t seq = ask(&s, "SELECT 0");
                set_flipped(&s, "entry", columns[c], place, "place", at, mask);
                struct text sql = text_new(&s.b.a);
                text_addz(&sql, "SELECT seq FROM entry WHERE place = ");
                text_int(&sql, place);
                seq = ask(&s, text_z(&sql));
                struct text wanted = text_new(&s.b.a);
                text_addz(&wanted, strcmp(columns[c], "sig") == 0 ? "forged " : "altered ");
                text_int(&wanted, seq);
                text_char(&wanted, '-');
                text_int(&wanted, seq);
                text_char(&wanted, '\n');
                const char *is = verify_lines(&s.b, s.d);
                bool unchecked = seq <= 0 && strcmp(is, "file-damaged\naltered\n") == 0; /* the table's own CHECK */
                if (strcmp(is, text_z(&wanted)) != 0 && !unchecked) {
                    print_error("column %s, entry at place %d, byte %d, mask %d:\n", columns[c], (int)place, (int)at,
                                mask);
                    assert_string_equal(is, text_z(&wanted));
                }
                set_flipped(&s, "entry", columns[c], place, "place", at, mask);
                arena_rewind(&s.b.a, mark);
            }
        }
    }
    assert_string_equal(verify_lines(&s.b, s.d), "");
    strike_scene(&s);
}

/* What is altered elsewhere is found. `sql` is run, then undone by putting the saved file back. */
static void anything_else(void **state)
{
    (void)state;
    static const struct {
        const char *sql, *found;
    } rows[] = {
        {"UPDATE receipt SET received = received + 1 WHERE entry = (SELECT hash FROM entry WHERE place = 2)",
         "receipt-altered\n"},
        {"UPDATE receipt SET source = 'me' WHERE entry = (SELECT hash FROM entry WHERE place = 2)",
         "receipt-altered\n"},
        {"UPDATE receipt SET sig = zeroblob(64) WHERE entry = (SELECT hash FROM entry WHERE place = 5)",
         "receipt-altered\nreceipt-altered\n"}, /* the phone's own and this depot's */
        {"DELETE FROM receipt WHERE entry = (SELECT hash FROM entry WHERE place = 3)", "no-receipt 3-3\n"},
        {"UPDATE edition SET text = CAST('name: other' AS BLOB)", "edition-altered\n"},
        {"UPDATE edition SET hash = zeroblob(32)", "edition-altered\n"},
        {"UPDATE blob SET data = CAST('fake' AS BLOB)", "blob-altered\n"},
        {"UPDATE key SET seed = zeroblob(32) WHERE role = 'writer'", "key-altered\n"},
        {"UPDATE key SET public = zeroblob(32) WHERE role = 'depot'", "key-altered\n"},
        {"UPDATE tip SET seq = seq - 1, count = count - 1 WHERE seq = 4", "tip-altered\n"},
        {"UPDATE tip SET sig = zeroblob(64) WHERE seq = 4", "tip-altered\n"},
        {"DELETE FROM tip WHERE seq = 4", "tip-altered\n"},
        {"DROP INDEX entry_by_at", "schema-altered\n"},
        {"DELETE FROM derived_effect", "derived-stale\n"},
        {"UPDATE derived_effect SET body = '{\"hours\":1}'", "derived-stale\n"},
        {"INSERT INTO derived_correction SELECT id, 4 FROM entry WHERE place = 2", "derived-stale\n"},
        {"DELETE FROM entry WHERE place = 2; DELETE FROM receipt WHERE entry NOT IN (SELECT hash FROM entry)",
         "removed 2-2\n"},
        {"DELETE FROM entry WHERE place IN (1, 2); DELETE FROM receipt WHERE entry NOT IN (SELECT hash FROM entry);"
         "DELETE FROM derived_effect",
         "removed 1-2\ncorrection-idle 3-3\n"},
        {"DELETE FROM entry WHERE place = 4; DELETE FROM receipt WHERE entry NOT IN (SELECT hash FROM entry)",
         "removed 4-4\n"},
        {"DELETE FROM entry WHERE place = 4", "removed 4-4\nreceipt-altered\n"},
        {"DELETE FROM entry WHERE place > 4; DELETE FROM receipt WHERE entry NOT IN (SELECT hash FROM entry)",
         "removed 1-3\n"},
        {"UPDATE entry SET body = CASE place WHEN 1 THEN '{\"text\":\"last\"}' ELSE '{\"hours\":100}' END WHERE place "
         "IN (1, 4)",
         "altered 1-1\naltered 4-4\n"},
        {"UPDATE entry SET seq = 3 - seq WHERE place IN (1, 2)", "altered 2-2\naltered 1-1\n"},
        {"UPDATE entry SET place = place + 100 WHERE place = 1", "derived-stale\n"},
        {"UPDATE entry SET body = '{\"hours\":100}x' WHERE place = 1", "altered 1-1\n"},
        {"UPDATE entry SET body = '{\"hours\":1e2}' WHERE place = 1", "altered 1-1\n"},
        {"UPDATE entry SET machine = NULL WHERE place = 2", "altered 2-2\n"},
        {"UPDATE entry SET book = zeroblob(32) WHERE place = 2", "altered 2-2\n"},
        {"UPDATE entry SET seq = 9007199254740991 WHERE place = 2", "altered 9007199254740991-9007199254740991\n"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct scene s;
        set_scene(&s);
        tamper(&s, rows[i].sql);
        depot_close(s.d);
        must(&s.b, depot_open(bench_path(&s.b, "a.depot"), &s.b.options, &s.d, bench_err(&s.b)));
        const char *is = verify_lines(&s.b, s.d);
        if (strcmp(is, rows[i].found) != 0) {
            print_error("%s\n", rows[i].sql);
            assert_string_equal(is, rows[i].found);
        }
        /* a handle that can only read finds the same */
        depot_close(s.d);
        s.b.options.read_only = true;
        must(&s.b, depot_open(bench_path(&s.b, "a.depot"), &s.b.options, &s.d, bench_err(&s.b)));
        assert_string_equal(verify_lines(&s.b, s.d), rows[i].found);
        strike_scene(&s);
    }
}

/* Findings as JSON name what a program needs to go on. */
static void findings_as_json(void **state)
{
    (void)state;
    struct scene s;
    set_scene(&s);
    tamper(&s, "UPDATE entry SET by = 'M. Slipway' WHERE place = 2");
    struct findings f;
    struct progress none = {0};
    must(&s.b, depot_verify(s.d, none, &s.b.a, &f, bench_err(&s.b)));
    assert_int_equal(f.errors, 1);
    struct text t = text_new(&s.b.a);
    text_findings(&t, &f);
    json_t *list = json_loadb(t.p, t.n, JSON_REJECT_DUPLICATES, NULL);
    assert_int_equal(json_array_size(list), 1);
    const json_t *one = json_array_get(list, 0);
    assert_string_equal(str_z(&s.b.a, body_str(one, "finding")), "altered");
    assert_string_equal(str_z(&s.b.a, body_str(one, "level")), "error");
    assert_true(body_num(one, "seq") == 2 && body_num(one, "seq_to") == 2);
    assert_true(str_eq(body_str(one, "writer"), hash_str(&s.b.a, s.own)));
    struct entry_id id;
    assert_true(entry_id_parse(body_str(one, "id"), &id));
    struct text what = text_new(&s.b.a);
    text_join(&what, "entry ", id_z(&s.b, id), " (writer ", str_z(&s.b.a, str_cut(hash_str(&s.b.a, s.own), 0, 8)),
              ", number 2): its members do not give its hash", (char *)0);
    assert_string_equal(str_z(&s.b.a, body_str(one, "what")), text_z(&what));
    json_decref(list);
    strike_scene(&s);
}

/* Facts cannot be changed or deleted as long as the triggers stand, by whatever program. */
static void triggers_stand(void **state)
{
    (void)state;
    struct scene s;
    set_scene(&s);
    static const struct {
        const char *sql, *says;
    } rows[] = {
        {"UPDATE entry SET by = 'x'", "entries are never changed"},
        {"DELETE FROM entry", "entries are never deleted"},
        {"UPDATE receipt SET received = 1", "receipts are never changed"},
        {"DELETE FROM receipt", "receipts are never deleted"},
        {"UPDATE edition SET name = 'x'", "editions are never changed"},
        {"DELETE FROM edition", "editions are never deleted"},
        {"UPDATE blob SET kept = 1", "attachments are never changed"},
        {"DELETE FROM blob", "attachments are never deleted"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char *says = NULL;
        assert_int_equal(sqlite3_exec(s.raw, rows[i].sql, NULL, NULL, &says), SQLITE_CONSTRAINT);
        assert_string_equal(says, rows[i].says);
        sqlite3_free(says);
    }
    strike_scene(&s);
}

/* The entry at a place as an attacker rewrites it: another note, hashed and signed anew with `key`, naming `prev`. */
static void rewrite(struct scene *s, int64_t place, const struct key_pair *key, bool as_writer,
                    const struct log_hash *prev, struct log_hash *hash)
{
    struct entry entry;
    bool found = false;
    must(&s->b, entry_by_place(s->d, place, &s->b.a, &entry, &found, bench_err(&s->b)) && found);
    entry.body_text = S("{\"text\":\"another\"}");
    entry.writer = as_writer ? key->public : entry.writer;
    entry.prev = prev ? *prev : entry.prev;
    entry.hash = entry_hash(&s->b.a, &entry);
    entry.sig = key_sign(key, entry.hash);
    *hash = entry.hash;
    struct text sql = text_new(&s->b.a);
    text_addz(&sql, "UPDATE entry SET body = '{\"text\":\"another\"}', writer = x'");
    text_hex(&sql, entry.writer.b, 32);
    text_addz(&sql, "', prev = x'");
    text_hex(&sql, entry.prev.b, 32);
    text_addz(&sql, "', hash = x'");
    text_hex(&sql, entry.hash.b, 32);
    text_addz(&sql, "', sig = x'");
    text_hex(&sql, entry.sig.b, 64);
    text_addz(&sql, "' WHERE place = ");
    text_int(&sql, place);
    tamper(s, text_z(&sql));
    entry_free(&entry);
}

/* Signed again: with a stranger's key under the old name or an own one, and with the writer's own key. */
static void signed_again(void **state)
{
    (void)state;
    const uint8_t seed[32] = {9};
    struct scene s;
    struct log_hash hash;
    struct key_pair stranger;

    set_scene(&s);
    stranger = key_of_seed(seed);
    rewrite(&s, 6, &stranger, false, NULL, &hash); /* the phone's second */
    assert_string_equal(verify_lines(&s.b, s.d),
                        "forged 2-2\nreordered 3-3\nreceipt-altered\nreceipt-altered\nno-receipt 2-2\n");
    strike_scene(&s);

    set_scene(&s);
    rewrite(&s, 6, &stranger, true, NULL, &hash);
    const char *is = verify_lines(&s.b, s.d);
    assert_non_null(strstr(is, "removed 2-2\n"));      /* of the phone */
    assert_non_null(strstr(is, "not-here-yet 1-1\n")); /* of the stranger */
    assert_non_null(strstr(is, "tip-altered\n"));      /* for whom the depot has not signed */
    assert_non_null(strstr(is, "no-receipt 2-2\n"));
    strike_scene(&s);

    set_scene(&s);
    struct key_pair own = s.d->writer;
    rewrite(&s, 4, &own, false, NULL, &hash); /* the last one of this depot's own writer */
    assert_string_equal(verify_lines(&s.b, s.d), "receipt-altered\nno-receipt 4-4\n");
    strike_scene(&s);
}

/* A writer that signs a chain out of order is taken at its word, and found out. */
static void out_of_order(void **state)
{
    (void)state;
    struct scene s;
    set_scene(&s);
    struct log_hash hash;
    struct log_hash zeros = {{0}};
    struct key_pair own = s.d->writer;
    rewrite(&s, 4, &own, false, &zeros, &hash);
    assert_non_null(strstr(verify_lines(&s.b, s.d), "reordered 4-4\n"));
    strike_scene(&s);
}

/* Any byte of the file flipped: it is found, or it did not matter: then the export is the same to the byte. Never a
 * crash. */
static void any_byte_of_the_file(void **state)
{
    (void)state;
    struct scene s;
    set_scene(&s);
    uint64_t x = 4711;
    struct str export = read_whole(&s.b, bench_export(&s.b, s.d, "good.ndjson"));
    run(&s, "PRAGMA wal_checkpoint(TRUNCATE)");
    sqlite3_close(s.raw);
    depot_close(s.d);
    s.raw = NULL;
    s.d = NULL;
    struct str good = read_whole(&s.b, bench_path(&s.b, "a.depot"));
    char *bytes = arena_copy(&s.b.a, good.p, good.n);
    const char *path = bench_path(&s.b, "flipped.depot");
    int found = 0;
    int harmless = 0;
    for (int i = 0; i < 100; i++) {
        size_t at = draw(&x) % good.n;
        char mask = (char)(1 << (draw(&x) % 8));
        if (good.p[at] == 0 && draw(&x) % 8) { /* most of the file is empty room */
            i--;
            continue;
        }
        struct arena_mark mark = arena_mark(&s.b.a);
        bytes[at] = (char)(bytes[at] ^ mask);
        write_whole(path, (struct str){bytes, good.n});
        unlink(bench_path(&s.b, "flipped.depot-wal"));
        unlink(bench_path(&s.b, "flipped.depot-shm"));
        struct depot *d = NULL;
        struct findings f = {0};
        struct progress none = {0};
        bool ok =
            depot_open(path, &s.b.options, &d, bench_err(&s.b)) && depot_verify(d, none, &s.b.a, &f, bench_err(&s.b));
        if (ok && f.errors == 0) {
            /* a label (an edition's name, a setting's value) or unused room */
            struct str again = read_whole(&s.b, bench_export(&s.b, d, "flipped.ndjson"));
            bool same = str_eq(again, export);
            bool label = str_find(again, S("sweeper.yaml")) < 0;
            if (!same && !label) {
                print_error("byte %d, mask %d is not found\n", (int)at, mask);
            }
            assert_true(same || label);
            harmless++;
        } else {
            found++;
        }
        depot_close(d);
        bytes[at] = (char)(bytes[at] ^ mask);
        arena_rewind(&s.b.a, mark);
    }
    print_message("# %d found, %d without effect\n", found, harmless);
    assert_true(found > 20);
    strike_scene(&s);
}

/* ---- The stranger's script ---- */

/* Runs docs/verify_export.py over a text; its lines without comments. Null when there is no Python. */
static const char *stranger_says(struct bench *b, struct str text, bool with_signatures)
{
    /* A module set to None cannot be imported: as on a system without it. */
    static const char without[] =
        "python3 -W ignore -c \"import sys, runpy; sys.modules['cryptography'] = None; sys.argv = sys.argv[1:]; "
        "runpy.run_path(sys.argv[0], run_name='__main__')\" ";
    const char *source = getenv("WITMARK_SOURCE");
    write_whole(bench_path(b, "given.ndjson"), text);
    struct text command = text_new(&b->a);
    text_join(&command, with_signatures ? "python3 -W ignore " : without, source ? source : ".",
              "/docs/verify_export.py ", bench_path(b, "given.ndjson"), " > ", bench_path(b, "said"), (char *)0);
    int status = system(text_z(&command)); /* NOLINT(cert-env33-c): a test's own paths */
    if (status == -1 || (status >> 8) > 1) {
        return NULL;
    }
    struct str said = read_whole(b, bench_path(b, "said"));
    struct text t = text_new(&b->a);
    struct str line;
    while (str_next(&said, '\n', &line)) {
        if (line.n && line.p[0] == '#') {
            if (str_find(line, S("NOT")) >= 0) {
                text_addz(&t, "unsigned\n");
            }
            continue;
        }
        text_add(&t, line);
        text_addz(&t, line.n ? "\n" : "");
    }
    return text_z(&t);
}

/* The same verdict as ours over a good export and over altered ones. */
static void stranger_agrees(void **state)
{
    (void)state;
    struct scene s;
    set_scene(&s);
    struct bench *b = &s.b;
    /* every form that a number can have in canonical JSON */
    static const char *const values[] = {
        "0.1",    "1e15", "1e-7", "0.000001", "-3.5e-10",          "123456789012.34567", "9007199254740991",
        "5e-324", "4.35", "100",  "-0.0",     "33.333333333333336"};
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        struct text t = text_new(&b->a);
        text_join(&t,
                  "{\"checkpoint\": \"x\", \"unit\": \"bar\", \"with\": {\"\\ud83d\\ude00\": {\"value\": ", values[i],
                  ", \"unit\": \"\"}, \"\\ufb33 \\\" \\\\ \\u0080\": {\"value\": 1, \"unit\": \"bar\"}}, \"value\": ",
                  values[i], "}", (char *)0);
        bench_append(b, s.d, KIND_READING, 20, SERIAL, text_z(&t));
    }
    struct str good = read_whole(b, bench_export(b, s.d, "good.ndjson"));
    const char *says = stranger_says(b, good, true);
    if (!says || strcmp(says, "unsigned\n") == 0) {
        print_message("# skipped: no python3 with cryptography here\n");
        strike_scene(&s);
        skip();
    }
    assert_string_equal(says, "");
    struct str line[64];
    size_t n = 0;
    struct str rest = good;
    while (n < 64 && str_next(&rest, '\n', &line[n])) {
        n += line[n].n > 0;
    }
    static const struct {
        const char *from, *to, *stranger, *ours;
    } rows[] = {
        {"\"hours\":100", "\"hours\":101", "altered ", "it has been altered"},
        {"\"by\":\"L. Quay\"", "\"by\":\"L. Quai\"", "altered ", "it has been altered"},
        {"\"value\":1e-7", "\"value\":1.0000000000000001e-7", "altered ", "it has been altered"},
        {"\"sig\":\"", "\"sig\":\"0000", "forged ", "it has been forged"},
        {"\"received\":\"2026-03-02T08:00:00.000Z\"", "\"received\":\"2026-03-02T08:00:00.001Z\"", "receipt ",
         "a receipt is not signed by its depot for this entry"},
        {"name: sweeper", "name: sweepex", "bytes ", "the text has another hash"},
        {"\"data\":\"cGhvdG8=\"", "\"data\":\"cGhv!G8=\"", "unreadable", "it is not base64"},
        {"\"data\":\"cGhvdG8=\"", "\"data\":\"cGhvdGE=\"", "bytes ", "the bytes have another hash"},
        {"\"count\":3", "\"count\":2", "tip ", "the signature is not that of its depot"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        ptrdiff_t at = str_find(good, str_of(rows[i].from));
        if (at < 0) {
            print_error("%s is not in the export\n", rows[i].from);
        }
        assert_true(at >= 0);
        struct text t = text_new(&b->a);
        text_add(&t, str_cut(good, 0, (size_t)at));
        text_addz(&t, rows[i].to);
        size_t skip_over = strlen(rows[i].from) + (strcmp(rows[i].from, "\"sig\":\"") == 0 ? 4 : 0);
        text_add(&t, str_cut(good, (size_t)at + skip_over, good.n));
        struct depot *d = bench_depot(b, "judge.depot");
        struct import_report report;
        assert_false(bench_import(b, d, text_str(&t), &report));
        const char *ours = str_z(&b->a, err_text(&b->a, &b->e));
        says = stranger_says(b, text_str(&t), true);
        if (!strstr(ours, rows[i].ours) || !str_starts(str_of(says), str_of(rows[i].stranger))) {
            print_error("%s -> %s\nours: %s\nstranger: %s\n", rows[i].from, rows[i].to, ours, says);
            fail();
        }
        /* without signatures it says so, and finds what hashes show */
        bool needs_signature = strcmp(rows[i].stranger, "forged ") == 0 || strcmp(rows[i].stranger, "receipt ") == 0 ||
                               strcmp(rows[i].stranger, "tip ") == 0;
        const char *unsigned_says = stranger_says(b, text_str(&t), false);
        assert_true(str_ends(str_of(unsigned_says), S("unsigned\n")));
        assert_true(needs_signature == (strcmp(unsigned_says, "unsigned\n") == 0));
        depot_close(d);
        unlink(bench_path(b, "judge.depot"));
    }
    /* a line left out: the same numbers are missing for both; lines in another order are no matter to either */
    for (size_t out = 3; out < 6; out++) {
        struct text t = text_new(&b->a);
        for (size_t i = n; i > 0; i--) {
            if (i - 1 != out) {
                text_add(&t, line[i - 1]);
                text_char(&t, '\n');
            }
        }
        struct depot *d = bench_depot(b, "judge.depot");
        struct import_report report;
        must(b, bench_import(b, d, text_str(&t), &report));
        struct text missing = text_new(&b->a);
        for (size_t i = 0; i < report.findings.n; i++) {
            text_addz(&missing, "missing ");
            text_hex(&missing, report.findings.at[i].writer.b, 32);
            text_char(&missing, ' ');
            text_int(&missing, report.findings.at[i].seq);
            text_char(&missing, '-');
            text_int(&missing, report.findings.at[i].seq_to);
            text_char(&missing, '\n');
        }
        assert_int_equal(report.findings.n, 1);
        assert_string_equal(stranger_says(b, text_str(&t), true), text_z(&missing));
        depot_close(d);
        unlink(bench_path(b, "judge.depot"));
    }
    strike_scene(&s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_byte_of_an_entry), cmocka_unit_test(anything_else),   cmocka_unit_test(triggers_stand),
        cmocka_unit_test(findings_as_json),     cmocka_unit_test(signed_again),    cmocka_unit_test(out_of_order),
        cmocka_unit_test(any_byte_of_the_file), cmocka_unit_test(stranger_agrees),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
