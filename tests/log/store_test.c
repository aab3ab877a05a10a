/* The file: schema versions, samples of old ones, backup and restore. */
#include "scratch.h"

#include "log_internal.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define SERIAL "HT-2200-017"

static bool is_there(const char *path)
{
    struct stat is;
    return stat(path, &is) == 0;
}

/* Steps run in order, each once; a failing one leaves what was there; a newer file is refused. */
static void migration_steps(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 31);
    static const struct migration steps[] = {
        {1, "CREATE TABLE one (x INTEGER) STRICT; INSERT INTO one VALUES (1);"},
        {2, "ALTER TABLE one ADD COLUMN y TEXT; UPDATE one SET y = 'two';"},
        {3, "CREATE TABLE three (z) STRICT"}, /* STRICT wants a type */
    };
    struct db db;
    int64_t version = 0;
    int64_t value = 0;
    must(&b, db_open(&db, bench_path(&b, "m.db"), SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, NULL, 0, bench_err(&b)));
    must(&b, schema_migrate(&db, steps, 1, bench_err(&b)));
    must(&b, schema_version(&db, &version, bench_err(&b)));
    assert_int_equal(version, 1);
    refused(&b, schema_migrate(&db, steps, 3, bench_err(&b)),
            "cannot bring the depot forward to version 3: cannot work on the depot: missing datatype for three.z");
    must(&b, schema_version(&db, &version, bench_err(&b)));
    assert_int_equal(version, 2);
    must(&b, db_int(&db, "SELECT count(*) FROM one WHERE y = 'two'", 0, &value, bench_err(&b)));
    assert_int_equal(value, 1);
    must(&b, schema_migrate(&db, steps, 2, bench_err(&b))); /* nothing to do */
    refused(&b, schema_migrate(&db, steps, 1, bench_err(&b)),
            "the depot has schema version 2; this program knows versions up to 1; open it with a newer Witmark");
    db_close(&db);
    bench_tear_down(&b);
}

static void newer_and_foreign(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 32);
    struct depot *d = bench_depot(&b, "a.depot");
    depot_close(d);
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(bench_path(&b, "a.depot"), &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "PRAGMA user_version=99", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
    struct text t = text_new(&b.a);
    text_join(&t, bench_path(&b, "a.depot"), ": the depot has schema version 99; this program knows versions up to ",
              (char *)0);
    text_int(&t, schema_steps[schema_step_count - 1].to);
    text_addz(&t, "; open it with a newer Witmark");
    refused(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &d, bench_err(&b)), text_z(&t));
    assert_int_equal(b.e.kind, ERR_REFUSED);
    assert_int_equal(sqlite3_open(bench_path(&b, "b.db"), &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "CREATE TABLE other (x)", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(raw);
    t.n = 0;
    text_join(&t, bench_path(&b, "b.db"), ": the file is not a depot; name a depot, or create one", (char *)0);
    refused(&b, depot_open(bench_path(&b, "b.db"), &b.options, &d, bench_err(&b)), text_z(&t));
    bench_tear_down(&b);
}

/* What the samples of tests/data/ were made from; WITMARK_SAMPLE=FILE writes the newest one again. */
static void fill_sample(struct bench *b, struct depot *d)
{
    struct log_hash hash;
    must(b, depot_setting_put(d, "name", S("Port Sennet harbour and parks"), bench_err(b)));
    must(b, depot_book_put(d, S("beach-cleaner.yaml"), S("name: beach cleaner\n"), &hash, bench_err(b)));
    must(b, depot_blob_put(d, S("a photo"), &hash, bench_err(b)));
    bench_append(b, d, KIND_MACHINE_IN, 0, SERIAL,
                 "{\"book\": \"beach-cleaner\", \"serial\": \"" SERIAL "\", \"options\": [\"cab\"]}");
    struct appended meter = bench_append(b, d, KIND_METER, 1, SERIAL, "{\"hours\": 1200.5, \"import_key\": \"row 1\"}");
    struct text t = text_new(&b->a);
    text_join(&t, "{\"corrects\": \"", id_z(b, meter.id), "\", \"reason\": \"misread\", \"body\": {\"hours\": 1205}}",
              (char *)0);
    bench_append(b, d, KIND_CORRECTION, 2, NULL, text_z(&t));
    bench_append(b, d, KIND_READING, 3, SERIAL,
                 "{\"checkpoint\": \"tyre-front\", \"value\": 1.45, \"unit\": \"bar\", \"note\": \"\\u00bd turn of the "
                 "valve cap\"}");
}

/* Every version of the file that we ever wrote opens, verifies and shows the same. */
static void old_versions_open(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 33);
    const char *sample = getenv("WITMARK_SAMPLE");
    if (sample) {
        struct depot *d = bench_depot(&b, "sample.depot");
        struct progress none = {0};
        fill_sample(&b, d);
        must(&b, depot_backup(d, sample, true, none, bench_err(&b)));
        depot_close(d);
    }
    const char *source = getenv("WITMARK_SOURCE");
    for (int version = 1; version <= schema_steps[schema_step_count - 1].to; version++) {
        struct text from = text_new(&b.a);
        text_join(&from, source ? source : ".", "/tests/data/log/version_", (char *)0);
        text_int(&from, version);
        text_addz(&from, ".depot");
        const char *path = bench_path(&b, "old.depot");
        write_whole(path, read_whole(&b, text_z(&from)));
        struct depot *d = NULL;
        must(&b, depot_open(path, &b.options, &d, bench_err(&b)));
        assert_string_equal(verify_lines(&b, d), "");
        struct entry_filter all = {0};
        assert_string_equal(view_lines(&b, d, &all),
                            "machine-in 0 {\"book\":\"beach-cleaner\",\"options\":[\"cab\"],\"serial\":\"" SERIAL
                            "\"}\n"
                            "meter 1 {\"hours\":1205}\n"
                            "reading 3 {\"checkpoint\":\"tyre-front\",\"note\":\"\xc2\xbd turn of the valve "
                            "cap\",\"unit\":\"bar\",\"value\":1.45}\n");
        struct str name;
        must(&b, depot_setting_get(d, "name", &b.a, &name, bench_err(&b)));
        assert_string_equal(str_z(&b.a, name), "Port Sennet harbour and parks");
        bench_append(&b, d, KIND_NOTE, 4, NULL, "{\"text\": \"and goes on\"}");
        assert_string_equal(verify_lines(&b, d), "");
        depot_close(d);
        unlink(path);
    }
    bench_tear_down(&b);
}

static void backup_and_restore(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 34);
    struct progress none = {0};
    struct depot *d = bench_depot(&b, "a.depot");
    fill_sample(&b, d);
    struct log_hash then = bench_digest(&b, d);
    const char *copy = bench_path(&b, "copy.depot");
    must(&b, depot_backup(d, copy, false, none, bench_err(&b)));
    struct text t = text_new(&b.a);
    text_join(&t, copy, ": the file exists; name a new file, or ask to replace it", (char *)0);
    refused(&b, depot_backup(d, copy, false, none, bench_err(&b)), text_z(&t));
    bench_append(&b, d, KIND_NOTE, 9, NULL, "{\"text\": \"after the backup\"}");
    struct log_hash now = bench_digest(&b, d);

    /* restored elsewhere: the same facts, another writer, the same depot */
    const char *to = bench_path(&b, "b.depot");
    must(&b, depot_restore(copy, to, false, &b.options, bench_err(&b)));
    struct depot *back = NULL;
    must(&b, depot_open(to, &b.options, &back, bench_err(&b)));
    assert_true(log_hash_eq(bench_digest(&b, back), then));
    assert_true(log_hash_eq(depot_key(back), depot_key(d)));
    assert_false(log_hash_eq(depot_writer(back), depot_writer(d)));
    assert_string_equal(verify_lines(&b, back), "");
    /* entries made after the backup and after the restore meet again without a fork */
    bench_append(&b, back, KIND_NOTE, 10, NULL, "{\"text\": \"after the restore\"}");
    struct import_report report;
    must(&b, bench_import(&b, back, read_whole(&b, bench_export(&b, d, "a.ndjson")), &report));
    assert_int_equal(report.entries_added, 1);
    assert_int_equal(report.findings.n, 0);
    assert_string_equal(verify_lines(&b, back), "");
    depot_close(back);

    /* over a depot that is open: refused; over a closed one: only when told, and the old one is kept */
    t.n = 0;
    text_join(&t, bench_path(&b, "a.depot"), ": the depot is open in another program; close it there first", (char *)0);
    refused(&b, depot_restore(copy, bench_path(&b, "a.depot"), true, &b.options, bench_err(&b)), text_z(&t));
    assert_true(log_hash_eq(bench_digest(&b, d), now));
    depot_close(d);
    t.n = 0;
    text_join(&t, bench_path(&b, "a.depot"), ": the file exists; name a new file, or ask to replace it", (char *)0);
    refused(&b, depot_restore(copy, bench_path(&b, "a.depot"), false, &b.options, bench_err(&b)), text_z(&t));
    must(&b, depot_restore(copy, bench_path(&b, "a.depot"), true, &b.options, bench_err(&b)));
    must(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &d, bench_err(&b)));
    assert_true(log_hash_eq(bench_digest(&b, d), then));
    depot_close(d);
    must(&b, depot_open(bench_path(&b, "a.depot.before-restore"), &b.options, &d, bench_err(&b)));
    assert_true(log_hash_eq(bench_digest(&b, d), now));
    depot_close(d);
    bench_tear_down(&b);
}

/* A depot that does not verify is still copied, but never over a good backup; and no such copy is restored. */
static void bad_copies(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 35);
    struct progress none = {0};
    struct depot *d = bench_depot(&b, "a.depot");
    fill_sample(&b, d);
    const char *copy = bench_path(&b, "copy.depot");
    must(&b, depot_backup(d, copy, false, none, bench_err(&b)));
    struct str good = read_whole(&b, copy);
    sqlite3 *raw = NULL;
    assert_int_equal(sqlite3_open(bench_path(&b, "a.depot"), &raw), SQLITE_OK);
    assert_int_equal(sqlite3_exec(raw, "UPDATE key SET public = zeroblob(32) WHERE role = 'writer'", NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(raw);
    assert_false(depot_backup(d, copy, true, none, bench_err(&b)));
    assert_int_equal(b.e.kind, ERR_CONFLICT);
    const char *says = str_z(&b.a, err_text(&b.a, &b.e));
    assert_non_null(strstr(says,
                           ": it does not verify: the secret key of the writer does not belong to its public key; "
                           "the copy is kept as "));
    assert_true(str_eq(read_whole(&b, copy), good));
    const char *kept = bench_path(&b, "copy.depot.unverified");
    assert_true(is_there(kept));
    assert_false(depot_restore(kept, bench_path(&b, "c.depot"), false, &b.options, bench_err(&b)));
    assert_int_equal(b.e.kind, ERR_CONFLICT);
    assert_false(is_there(bench_path(&b, "c.depot")));
    write_whole(bench_path(&b, "no.depot"),
                S("no depot at all, but long enough to have the header of a database file in it, "
                  "which takes a hundred bytes"));
    struct text t = text_new(&b.a);
    text_join(&t, bench_path(&b, "no.depot"), ": the file is not a depot; name a depot, or create one", (char *)0);
    refused(&b, depot_restore(bench_path(&b, "no.depot"), bench_path(&b, "c.depot"), false, &b.options, bench_err(&b)),
            text_z(&t));
    assert_false(is_there(bench_path(&b, "c.depot")));
    depot_close(d);
    bench_tear_down(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(migration_steps),    cmocka_unit_test(newer_and_foreign), cmocka_unit_test(old_versions_open),
        cmocka_unit_test(backup_and_restore), cmocka_unit_test(bad_copies),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
