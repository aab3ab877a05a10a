/* A depot from the outside: creating, opening, appending, listing, correcting, keeping books and attachments. */
#include "scratch.h"

#include <sqlite3.h>
#include <string.h>
#include <unistd.h>

#define SERIAL "HT-2200-017"

static void create_and_open(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 1);
    struct depot *d = bench_depot(&b, "a.depot");
    struct log_hash writer = depot_writer(d);
    struct log_hash key = depot_key(d);
    assert_false(log_hash_eq(writer, key));
    depot_close(d);
    must(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &d, bench_err(&b)));
    assert_true(log_hash_eq(writer, depot_writer(d)));
    assert_true(log_hash_eq(key, depot_key(d)));
    struct depot *again = NULL;
    struct text t = text_new(&b.a);
    text_join(&t, bench_path(&b, "a.depot"), ": the file already holds something; open it, or name a new file",
              (char *)0);
    refused(&b, depot_create(bench_path(&b, "a.depot"), &b.options, &again, bench_err(&b)), text_z(&t));
    t.n = 0;
    text_join(&t, bench_path(&b, "none.depot"), ": there is no such file; name a depot, or create one", (char *)0);
    refused(&b, depot_open(bench_path(&b, "none.depot"), &b.options, &again, bench_err(&b)), text_z(&t));
    write_whole(bench_path(&b, "text.depot"),
                S("This is a text, and it is longer than the header of a database would be, "
                  "which has one hundred bytes in all."));
    t.n = 0;
    text_join(&t, bench_path(&b, "text.depot"), ": the file is not a depot; name a depot, or create one", (char *)0);
    refused(&b, depot_open(bench_path(&b, "text.depot"), &b.options, &again, bench_err(&b)), text_z(&t));
    write_whole(bench_path(&b, "empty.depot"), S(""));
    t.n = 0;
    text_join(&t, bench_path(&b, "empty.depot"), ": the file is not a depot; name a depot, or create one", (char *)0);
    refused(&b, depot_open(bench_path(&b, "empty.depot"), &b.options, &again, bench_err(&b)), text_z(&t));
    depot_close(d);
    bench_tear_down(&b);
}

/* The same seed gives the same keys, ids and hashes. */
static void seeded_is_deterministic(void **state)
{
    (void)state;
    struct log_hash digest[2];
    for (int i = 0; i < 2; i++) {
        struct bench b;
        bench_set_up(&b, 7);
        struct depot *d = bench_depot(&b, "a.depot");
        bench_append(&b, d, KIND_METER, 0, SERIAL, "{\"hours\": 100.5}");
        b.world.now += 1000;
        bench_append(&b, d, KIND_NOTE, 1, NULL, "{\"text\": \"gate key is with the harbour master\"}");
        digest[i] = bench_digest(&b, d);
        depot_close(d);
        bench_tear_down(&b);
    }
    assert_true(log_hash_eq(digest[0], digest[1]));
}

/* Entries come back as they were written, in a chain. */
static void append_and_list(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 2);
    struct depot *d = bench_depot(&b, "a.depot");
    struct appended one = bench_append(&b, d, KIND_METER, 10, SERIAL, "{\"hours\": 812}");
    struct appended two = bench_append(&b, d, KIND_READING, 5, SERIAL,
                                       "{\"checkpoint\": \"tyre-front\", \"value\": 1.45, \"unit\": \"bar\"}");
    struct appended three = bench_append(&b, d, KIND_NOTE, 7, NULL, "{\"text\": \"wind from the sea\"}");
    assert_int_equal(three.seq, 3);
    struct entry_filter all = {0};
    assert_string_equal(view_lines(&b, d, &all),
                        "reading 5 {\"checkpoint\":\"tyre-front\",\"unit\":\"bar\",\"value\":1.45}\n"
                        "note 7 {\"text\":\"wind from the sea\"}\n"
                        "meter 10 {\"hours\":812}\n");
    struct entry_filter of_machine = {.machine = S(SERIAL), .kinds = KIND_BIT(KIND_METER)};
    assert_string_equal(view_lines(&b, d, &of_machine), "meter 10 {\"hours\":812}\n");
    struct entry_filter window = {.has_since = true,
                                  .since = TEST_NOW + 6 * 60000,
                                  .has_until = true,
                                  .until = TEST_NOW + 10 * 60000,
                                  .newest_first = true};
    assert_string_equal(view_lines(&b, d, &window), "note 7 {\"text\":\"wind from the sea\"}\n");
    struct entry first;
    struct entry second;
    bool found = false;
    must(&b, depot_get(d, one.id, VIEW_EFFECTIVE, &b.a, &first, &found, bench_err(&b)) && found);
    must(&b, depot_get(d, two.id, VIEW_EFFECTIVE, &b.a, &second, &found, bench_err(&b)) && found);
    assert_true(log_hash_eq(second.prev, first.hash));
    assert_true(entry_sig_ok(&first) && entry_sig_ok(&second));
    assert_true(log_hash_eq(entry_hash(&b.a, &second), second.hash));
    struct log_hash zeros = {{0}};
    assert_true(log_hash_eq(first.prev, zeros));
    struct receipt *receipts = NULL;
    size_t n = 0;
    must(&b, depot_receipts(d, first.hash, &b.a, &receipts, &n, bench_err(&b)));
    assert_int_equal(n, 1);
    assert_string_equal(str_z(&b.a, receipts[0].from), "writer");
    entry_free(&first);
    entry_free(&second);
    depot_close(d);
    bench_tear_down(&b);
}

/* The entries of one call stand in the chain, and in the order of their ids, as they were given. */
static void many_at_once(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 19);
    struct depot *d = bench_depot(&b, "a.depot");
    json_t *body = body_of("{\"text\": \"x\"}");
    struct draft drafts[50];
    struct appended done[50];
    for (int i = 0; i < 50; i++) {
        drafts[i] = (struct draft){.kind = KIND_NOTE, .at = TEST_NOW, .by = S("LQ"), .body = body};
    }
    must(&b, depot_append(d, drafts, 50, done, bench_err(&b)));
    for (int i = 0; i < 50; i++) {
        assert_int_equal(done[i].seq, i + 1);
        assert_true(i == 0 || memcmp(done[i - 1].id.b, done[i].id.b, sizeof done[i].id.b) < 0);
    }
    assert_string_equal(verify_lines(&b, d), "");
    json_decref(body);
    depot_close(d);
    bench_tear_down(&b);
}

/* Paging with the cursor gives every entry once, whatever the page size, in both directions. */
static void pages(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 3);
    struct depot *d = bench_depot(&b, "a.depot");
    for (int i = 0; i < 23; i++) {
        bench_append(&b, d, KIND_NOTE, i / 4, NULL, "{\"text\": \"x\"}"); /* several at one time */
    }
    for (size_t size = 1; size < 26; size += 3) {
        for (int back = 0; back < 2; back++) {
            struct entry_filter f = {.limit = size, .newest_first = back};
            size_t seen = 0;
            for (;;) {
                struct entries list;
                must(&b, depot_list(d, &f, &b.a, &list, bench_err(&b)));
                seen += list.n;
                bool more = list.more;
                if (list.n) {
                    f.has_after = true;
                    f.after_at = list.at[list.n - 1].at;
                    f.after_id = list.at[list.n - 1].id;
                }
                entries_free(&list);
                if (!more) {
                    break;
                }
            }
            assert_int_equal(seen, 23);
        }
    }
    depot_close(d);
    bench_tear_down(&b);
}

/* A correction replaces, a correction of the correction takes it back, void withdraws, a later one restores. */
static void corrections(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 4);
    struct depot *d = bench_depot(&b, "a.depot");
    struct entry_filter all = {0};
    struct entry_filter gone = {.view = VIEW_WITHDRAWN};
    struct appended meter = bench_append(&b, d, KIND_METER, 10, SERIAL, "{\"hours\": 8120}");
    bench_append(&b, d, KIND_METER, 20, SERIAL, "{\"hours\": 813}");
    struct text t = text_new(&b.a);
    text_join(&t, "{\"corrects\": \"", id_z(&b, meter.id),
              "\", \"reason\": \"a digit too many\", \"body\": {\"hours\": 812}}", (char *)0);
    struct appended fix = bench_append(&b, d, KIND_CORRECTION, 30, NULL, text_z(&t));
    assert_string_equal(view_lines(&b, d, &all), "meter 10 {\"hours\":812}\nmeter 20 {\"hours\":813}\n");
    struct entry now;
    bool found = false;
    must(&b, depot_get(d, meter.id, VIEW_EFFECTIVE, &b.a, &now, &found, bench_err(&b)) && found);
    assert_int_equal(now.state, ENTRY_CORRECTED);
    assert_true(entry_id_eq(now.corrected_by, fix.id));
    entry_free(&now);
    must(&b, depot_get(d, fix.id, VIEW_RECORDED, &b.a, &now, &found, bench_err(&b)) && found);
    assert_string_equal(str_z(&b.a, now.machine), SERIAL); /* taken from the entry it corrects */
    entry_free(&now);

    /* a new time moves it behind the other; the body of the first correction stays */
    t.n = 0;
    text_join(&t, "{\"corrects\": \"", id_z(&b, meter.id),
              "\", \"reason\": \"it was later\", \"at\": ", "\"2026-03-02T08:25:00.000Z\"}", (char *)0);
    bench_append(&b, d, KIND_CORRECTION, 31, SERIAL, text_z(&t));
    assert_string_equal(view_lines(&b, d, &all), "meter 20 {\"hours\":813}\nmeter 25 {\"hours\":812}\n");

    /* the first correction is withdrawn: the original body is back, at the corrected time */
    t.n = 0;
    text_join(&t, "{\"corrects\": \"", id_z(&b, fix.id), "\", \"reason\": \"it was right\", \"void\": true}",
              (char *)0);
    bench_append(&b, d, KIND_CORRECTION, 32, NULL, text_z(&t));
    assert_string_equal(view_lines(&b, d, &all), "meter 20 {\"hours\":813}\nmeter 25 {\"hours\":8120}\n");

    /* withdrawn, listed apart, then restored by a new body */
    t.n = 0;
    text_join(&t, "{\"corrects\": \"", id_z(&b, meter.id), "\", \"reason\": \"another machine\", \"void\": true}",
              (char *)0);
    bench_append(&b, d, KIND_CORRECTION, 33, NULL, text_z(&t));
    assert_string_equal(view_lines(&b, d, &all), "meter 20 {\"hours\":813}\n");
    assert_string_equal(view_lines(&b, d, &gone), "meter 25 {\"hours\":8120}\n");
    t.n = 0;
    text_join(&t, "{\"corrects\": \"", id_z(&b, meter.id),
              "\", \"reason\": \"this one after all\", \"body\": {\"hours\": 812.5}}", (char *)0);
    bench_append(&b, d, KIND_CORRECTION, 34, NULL, text_z(&t));
    assert_string_equal(view_lines(&b, d, &all), "meter 20 {\"hours\":813}\nmeter 25 {\"hours\":812.5}\n");
    struct entries list;
    must(&b, depot_corrections(d, meter.id, &b.a, &list, bench_err(&b)));
    assert_int_equal(list.n, 4);
    entries_free(&list);
    depot_close(d);
    bench_tear_down(&b);
}

/* What an import has brought once is not added again, also within one call. */
static void import_keys(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 5);
    struct depot *d = bench_depot(&b, "a.depot");
    json_t *body = body_of("{\"hours\": 5, \"import_key\": \"sheet.csv:7\"}");
    struct draft drafts[3];
    for (int i = 0; i < 3; i++) {
        drafts[i] =
            (struct draft){.kind = KIND_METER, .at = TEST_NOW, .by = S("import"), .machine = S(SERIAL), .body = body};
    }
    drafts[2].machine = S("HT-2200-018");
    struct appended out[3];
    must(&b, depot_append(d, drafts, 3, out, bench_err(&b)));
    assert_int_equal(out[0].outcome, APPEND_ADDED);
    assert_int_equal(out[1].outcome, APPEND_KNOWN);
    assert_true(entry_id_eq(out[1].id, out[0].id));
    assert_int_equal(out[2].outcome, APPEND_ADDED);
    struct appended again[3];
    must(&b, depot_append(d, drafts, 3, again, bench_err(&b)));
    for (int i = 0; i < 3; i++) {
        assert_int_equal(again[i].outcome, APPEND_KNOWN);
    }
    json_decref(body);
    depot_close(d);
    bench_tear_down(&b);
}

static void books_blobs_settings(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 6);
    struct depot *d = bench_depot(&b, "a.depot");
    struct log_hash hash;
    struct edition edition;
    bool found = false;
    /* FIPS 180-4 example: SHA-256 of "abc" */
    must(&b, depot_book_put(d, S("abc.yaml"), S("abc"), &hash, bench_err(&b)));
    struct text t = text_new(&b.a);
    text_edition(&t, hash);
    assert_string_equal(text_z(&t), "sha256:ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    must(&b, depot_book_put(d, S("other name.yaml"), S("abc"), &hash, bench_err(&b)));
    must(&b, depot_book_get(d, hash, &b.a, &edition, &found, bench_err(&b)) && found);
    assert_string_equal(str_z(&b.a, edition.text), "abc");
    assert_string_equal(str_z(&b.a, edition.name), "abc.yaml");
    struct edition *list = NULL;
    size_t n = 0;
    must(&b, depot_book_list(d, &b.a, &list, &n, bench_err(&b)));
    assert_int_equal(n, 1);
    assert_int_equal(list[0].bytes, 3);
    refused(&b, depot_book_put(d, S("x.yaml"), S("\xff"), &hash, bench_err(&b)),
            "x.yaml: the book is not text in UTF-8; a book is UTF-8 text");
    struct str data;
    must(&b, depot_blob_put(d, S("\0\1\2"), &hash, bench_err(&b)));
    must(&b, depot_blob_get(d, hash, &b.a, &data, &found, bench_err(&b)) && found);
    assert_int_equal(data.n, 3);
    assert_memory_equal(data.p, "\0\1\2", 3);
    struct str value;
    assert_false(depot_setting_get(d, "zone", &b.a, &value, bench_err(&b)));
    assert_int_equal(b.e.kind, ERR_NONE);
    must(&b, depot_setting_put(d, "zone", S("Europe/Lisbon"), bench_err(&b)));
    must(&b, depot_setting_get(d, "zone", &b.a, &value, bench_err(&b)));
    assert_string_equal(str_z(&b.a, value), "Europe/Lisbon");
    must(&b, depot_setting_put(d, "zone", S(""), bench_err(&b)));
    assert_false(depot_setting_get(d, "zone", &b.a, &value, bench_err(&b)));
    depot_close(d);
    bench_tear_down(&b);
}

/* What append refuses, word for word. */
static void append_refuses(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 8);
    struct depot *d = bench_depot(&b, "a.depot");
    struct appended old = bench_append(&b, d, KIND_METER, 0, SERIAL, "{\"hours\": 1}");
    json_t *good = body_of("{\"hours\": 2}");
    json_t *bad = body_of("{\"hours\": \"2\"}");
    struct draft drafts[2] = {{.kind = KIND_METER, .at = TEST_NOW, .by = S("LQ"), .machine = S(SERIAL), .body = good},
                              {.kind = KIND_METER, .at = TEST_NOW, .by = S("LQ"), .machine = S(SERIAL), .body = bad}};
    refused(&b, depot_append(d, drafts, 2, NULL, bench_err(&b)),
            "entry 2 (meter): body.hours: \"2\" is text, not a number; write a number without quotes");
    drafts[0].by = S(" ");
    refused(&b, depot_append(d, drafts, 1, NULL, bench_err(&b)), "meter: by: it is missing; name it");
    drafts[0].by = S("LQ");
    drafts[0].machine = (struct str){NULL, 0};
    refused(&b, depot_append(d, drafts, 1, NULL, bench_err(&b)),
            "meter: machine: an entry of this kind is about a machine; name its serial number");
    drafts[0].machine = S("a\nb");
    refused(&b, depot_append(d, drafts, 1, NULL, bench_err(&b)),
            "meter: machine: \"a\nb\" cannot be kept; 1 to 200 bytes of UTF-8 in one line");
    drafts[0].machine = S(SERIAL);
    drafts[0].has_book = true;
    refused(
        &b, depot_append(d, drafts, 1, NULL, bench_err(&b)),
        "meter: book: edition sha256:0000000000000000000000000000000000000000000000000000000000000000 is not in this "
        "depot; keep the edition first");
    drafts[0].has_book = false;
    drafts[0].at = INSTANT_NONE;
    refused(&b, depot_append(d, drafts, 1, NULL, bench_err(&b)),
            "meter: at: the time is out of range; a time of the years 1 to 9999");
    json_t *fix = body_of("{\"corrects\": \"%s\", \"reason\": \"typing\", \"body\": {\"hour\": 3}}", id_z(&b, old.id));
    struct draft correction = {.kind = KIND_CORRECTION, .at = TEST_NOW, .by = S("LQ"), .body = fix};
    refused(&b, depot_append(d, &correction, 1, NULL, bench_err(&b)),
            "correction: the new body: body.hour: there is no such member; did you mean \"hours\"?");
    correction.machine = S("another");
    refused(&b, depot_append(d, &correction, 1, NULL, bench_err(&b)),
            "correction: machine: a correction is about the machine of the entry it corrects; withdraw the entry "
            "(void: true) "
            "and record it for the right machine");
    json_t *lost =
        body_of("{\"corrects\": \"01890a5d-ac96-774b-bcce-b302099a8057\", \"reason\": \"typing\", \"void\": true}");
    correction.body = lost;
    refused(&b, depot_append(d, &correction, 1, NULL, bench_err(&b)),
            "correction: body.corrects: entry 01890a5d-ac96-774b-bcce-b302099a8057 is not in this depot; name an entry "
            "that is "
            "here");
    struct depot_counts counts;
    must(&b, depot_count(d, &counts, bench_err(&b)));
    assert_int_equal(counts.entries, 1);
    depot_close(d);
    b.options.read_only = true;
    must(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &d, bench_err(&b)));
    refused(&b, depot_append(d, drafts, 1, NULL, bench_err(&b)),
            "this depot is open for reading only; open it for writing");
    struct entry_filter all = {0};
    assert_string_equal(view_lines(&b, d, &all), "meter 0 {\"hours\":1}\n");
    depot_close(d);
    json_decref(good);
    json_decref(bad);
    json_decref(fix);
    json_decref(lost);
    bench_tear_down(&b);
}

/* Ids are found by their beginning; an ambiguous one names the candidates. */
static void find_by_prefix(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 9);
    struct depot *d = bench_depot(&b, "a.depot");
    struct appended one = bench_append(&b, d, KIND_NOTE, 0, NULL, "{\"text\": \"one\"}");
    struct appended two = bench_append(&b, d, KIND_NOTE, 0, NULL, "{\"text\": \"two\"}");
    struct entry entry;
    const char *id = id_z(&b, two.id);
    must(&b, depot_find(d, (struct str){id, 36}, VIEW_EFFECTIVE, &b.a, &entry, bench_err(&b)));
    assert_string_equal(str_z(&b.a, entry.body_text), "{\"text\":\"two\"}");
    entry_free(&entry);
    must(&b, depot_find(d, (struct str){id, 18}, VIEW_EFFECTIVE, &b.a, &entry, bench_err(&b)));
    entry_free(&entry);
    struct text t = text_new(&b.a);
    text_addz(&t, "several entries' ids begin with \"");
    text_add(&t, (struct str){id, 9});
    text_join(&t, "\"; ", id_z(&b, one.id), ", ", id, (char *)0);
    refused(&b, depot_find(d, (struct str){id, 9}, VIEW_EFFECTIVE, &b.a, &entry, bench_err(&b)), text_z(&t));
    refused(&b, depot_find(d, S("ffff"), VIEW_EFFECTIVE, &b.a, &entry, bench_err(&b)),
            "no entry's id begins with \"ffff\"");
    refused(&b, depot_find(d, S("12x4"), VIEW_EFFECTIVE, &b.a, &entry, bench_err(&b)),
            "\"12x4\" is not the beginning of an entry's id; give at least 4 of its hex digits");
    depot_close(d);
    bench_tear_down(&b);
}

/* Two handles write in turns into one chain; while one is writing, the other waits and then says so. */
static void two_handles(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 10);
    struct depot *one = bench_depot(&b, "a.depot");
    struct depot *two = NULL;
    b.options.busy_ms = 20;
    must(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &two, bench_err(&b)));
    for (int i = 0; i < 6; i++) {
        struct appended done = bench_append(&b, i % 2 ? one : two, KIND_NOTE, i, NULL, "{\"text\": \"x\"}");
        assert_int_equal(done.seq, i + 1);
    }
    assert_string_equal(verify_lines(&b, one), "");
    sqlite3 *third = NULL;
    assert_int_equal(sqlite3_open(bench_path(&b, "a.depot"), &third), SQLITE_OK);
    assert_int_equal(sqlite3_exec(third, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    json_t *body = body_of("{\"text\": \"y\"}");
    struct draft draft = {.kind = KIND_NOTE, .at = TEST_NOW, .by = S("LQ"), .body = body};
    refused(&b, depot_append(two, &draft, 1, NULL, bench_err(&b)),
            "cannot work on the depot: another program is writing to the depot; try again when it has finished");
    assert_int_equal(b.e.kind, ERR_BUSY);
    assert_string_equal(verify_lines(&b, two), ""); /* reading and proving go on meanwhile */
    assert_int_equal(sqlite3_exec(third, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(third);
    must(&b, depot_append(two, &draft, 1, NULL, bench_err(&b)));
    json_decref(body);
    depot_close(one);
    depot_close(two);
    bench_tear_down(&b);
}

/* A key that is given is used and not stored; without it the depot can be read, not written. */
static void key_kept_elsewhere(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 12);
    const uint8_t seed[32] = {7, 7, 7};
    b.options.writer_seed = seed;
    struct depot *d = bench_depot(&b, "a.depot");
    struct log_hash writer = depot_writer(d);
    bench_append(&b, d, KIND_NOTE, 0, NULL, "{\"text\": \"x\"}");
    depot_close(d);
    struct str file = read_whole(&b, bench_path(&b, "a.depot"));
    assert_true(str_find(file, (struct str){(const char *)seed, 32}) < 0);
    b.options.writer_seed = NULL;
    must(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &d, bench_err(&b)));
    assert_true(log_hash_eq(depot_writer(d), writer));
    json_t *body = body_of("{\"text\": \"y\"}");
    struct draft draft = {.kind = KIND_NOTE, .at = TEST_NOW, .by = S("LQ"), .body = body};
    refused(&b, depot_append(d, &draft, 1, NULL, bench_err(&b)),
            "the secret key to sign entries with is not here; open the depot with the key");
    assert_string_equal(verify_lines(&b, d), "");
    depot_close(d);
    b.options.writer_seed = seed;
    must(&b, depot_open(bench_path(&b, "a.depot"), &b.options, &d, bench_err(&b)));
    must(&b, depot_append(d, &draft, 1, NULL, bench_err(&b)));
    assert_string_equal(verify_lines(&b, d), "");
    json_decref(body);
    depot_close(d);
    bench_tear_down(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(create_and_open), cmocka_unit_test(seeded_is_deterministic),
        cmocka_unit_test(append_and_list), cmocka_unit_test(many_at_once),
        cmocka_unit_test(pages),           cmocka_unit_test(corrections),
        cmocka_unit_test(import_keys),     cmocka_unit_test(books_blobs_settings),
        cmocka_unit_test(append_refuses),  cmocka_unit_test(find_by_prefix),
        cmocka_unit_test(two_handles),     cmocka_unit_test(key_kept_elsewhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
