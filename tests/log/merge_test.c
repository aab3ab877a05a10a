/* Export and import: a depot comes back from its lines; logs merge by set union in any order, any number of times; what
 * is wrong is refused with its place. */
#include "scratch.h"

#include <stdlib.h>
#include <string.h>

#define SERIAL "HT-2200-017"

/* Lines of a text, borrowed from it. */
struct lines {
    struct str *at;
    size_t n, cap;
};

static struct lines lines_of(struct bench *b, struct str text)
{
    struct lines lines = {0};
    struct str line;
    while (str_next(&text, '\n', &line)) {
        if (line.n) {
            ARENA_PUSH(&b->a, lines.at, lines.n, lines.cap) = line;
        }
    }
    return lines;
}

/* What depends on the set of entries only: digest, what holds, what is withdrawn. */
static struct str state_of(struct bench *b, struct depot *d)
{
    struct entry_filter holds = {0};
    struct entry_filter gone = {.view = VIEW_WITHDRAWN};
    struct log_hash digest = bench_digest(b, d);
    struct text t = text_new(&b->a);
    text_hex(&t, digest.b, sizeof digest.b);
    text_join(&t, "\n", view_lines(b, d, &holds), "withdrawn:\n", view_lines(b, d, &gone), (char *)0);
    return text_str(&t);
}

static void round_trip(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 11);
    struct depot *d = bench_depot(&b, "a.depot");
    struct log_hash hash;
    must(&b, depot_book_put(d, S("sweeper.yaml"), S("name: sweeper # \"\\\" ½\n"), &hash, bench_err(&b)));
    json_t *body = body_of("{\"hours\": 12.5}");
    struct draft draft = {.kind = KIND_METER,
                          .at = TEST_NOW,
                          .by = S("LQ"),
                          .machine = S(SERIAL),
                          .has_book = true,
                          .book = hash,
                          .body = body};
    must(&b, depot_append(d, &draft, 1, NULL, bench_err(&b)));
    json_decref(body);
    must(&b, depot_blob_put(d, S("\0\xff photo"), &hash, bench_err(&b)));
    struct text t = text_new(&b.a);
    text_addz(&t, "{\"sha256\": \"");
    text_hex(&t, hash.b, sizeof hash.b);
    text_addz(&t, "\", \"name\": \"leak.jpg\", \"type\": \"image/jpeg\", \"bytes\": 8}");
    bench_append(&b, d, KIND_ATTACHMENT, 3, SERIAL, text_z(&t));
    struct str out = read_whole(&b, bench_export(&b, d, "a.ndjson"));

    struct depot *other = bench_depot(&b, "b.depot");
    assert_false(log_hash_eq(depot_key(d), depot_key(other)));
    struct import_report report;
    must(&b, bench_import(&b, other, out, &report));
    assert_int_equal(report.entries_added, 2);
    assert_int_equal(report.editions_added, 1);
    assert_int_equal(report.blobs_added, 1);
    assert_int_equal(report.receipts_added, 2);
    assert_int_equal(report.findings.n, 0);
    assert_true(str_eq(state_of(&b, d), state_of(&b, other)));
    must(&b, bench_import(&b, other, out, &report));
    assert_int_equal(report.entries_added + report.editions_added + report.blobs_added + report.receipts_added, 0);
    assert_int_equal(report.entries_known, 2);
    assert_string_equal(verify_lines(&b, other), "");
    assert_string_equal(verify_lines(&b, d), "");
    /* the same facts give the same lines */
    assert_true(str_eq(out, read_whole(&b, bench_export(&b, d, "again.ndjson"))));
    depot_close(d);
    depot_close(other);
    bench_tear_down(&b);
}

/* Three writers (two of which know each other's entries and correct them) in random splits, orders and repetitions. */
static void union_any_order(void **state)
{
    (void)state;
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20260302;
    print_message("# seed %llu (WITMARK_SEED)\n", (unsigned long long)seed);
    for (int round = 0; round < 6; round++) {
        struct bench b;
        bench_set_up(&b, seed + (uint64_t)round);
        uint64_t x = (seed + (uint64_t)round) * 2654435761U + 1;
        struct depot *writers[3] = {bench_depot(&b, "w0.depot"), bench_depot(&b, "w1.depot"),
                                    bench_depot(&b, "w2.depot")};
        struct entry_id ids[40];
        struct lines lines = {0};
        struct import_report report;
        for (size_t k = 0; k < 40; k++) {
            size_t w = draw(&x) % 3;
            if (k == 20) { /* writer 1 learns of writer 0 */
                must(&b,
                     bench_import(&b, writers[1], read_whole(&b, bench_export(&b, writers[0], "w0.ndjson")), &report));
            }
            /* a writer corrects only what it has */
            struct entry_id own[40];
            size_t n = 0;
            for (size_t i = 0; i < k; i++) {
                struct entry entry;
                bool found = false;
                must(&b, depot_get(writers[w], ids[i], VIEW_RECORDED, &b.a, &entry, &found, bench_err(&b)));
                if (found) {
                    own[n++] = ids[i];
                    entry_free(&entry);
                }
            }
            ids[k] = random_entry(&b, writers[w], &x, own, n);
        }
        for (int w = 0; w < 3; w++) {
            struct lines some = lines_of(&b, read_whole(&b, bench_export(&b, writers[w], "w.ndjson")));
            for (size_t i = 0; i < some.n; i++) {
                if (str_starts(some.at[i], S("{\"entry\""))) {
                    ARENA_PUSH(&b.a, lines.at, lines.n, lines.cap) = some.at[i];
                }
            }
        }
        struct str first = {0};
        for (int try = 0; try < 4; try++) {
            char name[16];
            snprintf(name, sizeof name, "m%d.depot", try);
            struct depot *d = bench_depot(&b, name);
            for (size_t i = lines.n; i > 1; i--) { /* another order */
                size_t j = draw(&x) % i;
                struct str swap = lines.at[i - 1];
                lines.at[i - 1] = lines.at[j];
                lines.at[j] = swap;
            }
            size_t i = 0;
            while (i < lines.n) { /* in pieces, some lines twice */
                struct text t = text_new(&b.a);
                for (size_t n = draw(&x) % 30 + 1; n > 0 && i < lines.n; n--) {
                    text_add(&t, lines.at[i]);
                    text_char(&t, '\n');
                    if (draw(&x) % 4 == 0) {
                        text_add(&t, lines.at[draw(&x) % (i + 1)]);
                        text_addz(&t, "\r\n\n");
                    }
                    i++;
                }
                must(&b, bench_import(&b, d, text_str(&t), &report));
            }
            struct str now = state_of(&b, d);
            first = try == 0 ? now : first;
            assert_string_equal(str_z(&b.a, now), str_z(&b.a, first));
            struct findings f;
            struct progress none = {0};
            must(&b, depot_verify(d, none, &b.a, &f, bench_err(&b)));
            assert_int_equal(f.errors, 0);
            must(&b, depot_rebuild(d, bench_err(&b)));
            assert_string_equal(str_z(&b.a, state_of(&b, d)), str_z(&b.a, first));
            depot_close(d);
        }
        for (int w = 0; w < 3; w++) {
            depot_close(writers[w]);
        }
        bench_tear_down(&b);
    }
}

/* Missing entries are named, and come later. */
static void not_here_yet(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 13);
    struct depot *d = bench_depot(&b, "a.depot");
    for (int i = 0; i < 9; i++) {
        bench_append(&b, d, KIND_NOTE, i, NULL, "{\"text\": \"x\"}");
    }
    struct lines lines = lines_of(&b, read_whole(&b, bench_export(&b, d, "a.ndjson")));
    assert_int_equal(lines.n, 11); /* header, nine entries, tip */
    struct depot *other = bench_depot(&b, "b.depot");
    struct text t = text_new(&b.a);
    for (size_t i = 1; i <= 8; i++) {
        if (i < 5 || i == 8) {
            text_add(&t, lines.at[i]);
            text_char(&t, '\n');
        }
    }
    struct import_report report;
    must(&b, bench_import(&b, other, text_str(&t), &report));
    assert_string_equal(finding_lines(&b, &report.findings), "not-here-yet 5-7\n");
    assert_non_null(strstr(str_z(&b.a, report.findings.at[0].what), ": entries 5-7 not here yet"));
    assert_string_equal(verify_lines(&b, other), "not-here-yet 5-7\n");
    /* the tip of the export tells that there is a ninth */
    must(&b, bench_import(&b, other, lines.at[10], &report));
    assert_string_equal(finding_lines(&b, &report.findings), "not-here-yet 9-9\n");
    t.n = 0;
    for (size_t i = 5; i <= 9; i++) {
        text_add(&t, lines.at[i]);
        text_char(&t, '\n');
    }
    must(&b, bench_import(&b, other, text_str(&t), &report));
    assert_string_equal(finding_lines(&b, &report.findings), "");
    assert_string_equal(verify_lines(&b, other), "");
    depot_close(d);
    depot_close(other);
    bench_tear_down(&b);
}

/* A writer key used in two places: both entries are kept, and the fork is told. */
static void forks(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 14);
    uint8_t seed[32] = {42};
    b.options.writer_seed = seed;
    struct depot *one = bench_depot(&b, "a.depot");
    struct depot *two = bench_depot(&b, "b.depot");
    bench_append(&b, one, KIND_NOTE, 0, NULL, "{\"text\": \"here\"}");
    bench_append(&b, two, KIND_NOTE, 0, NULL, "{\"text\": \"there\"}");
    struct import_report report;
    must(&b, bench_import(&b, one, read_whole(&b, bench_export(&b, two, "b.ndjson")), &report));
    assert_string_equal(finding_lines(&b, &report.findings), "forked 1-1\n");
    assert_string_equal(verify_lines(&b, one), "forked 1-1\n");
    must(&b, bench_import(&b, two, read_whole(&b, bench_export(&b, one, "a.ndjson")), &report));
    assert_true(str_eq(state_of(&b, one), state_of(&b, two)));
    depot_close(one);
    depot_close(two);
    bench_tear_down(&b);
}

/* The text with one piece replaced by another. */
static struct str replaced(struct bench *b, struct str s, const char *from, const char *to)
{
    ptrdiff_t i = str_find(s, str_of(from));
    assert_true(i >= 0);
    struct text t = text_new(&b->a);
    text_add(&t, str_cut(s, 0, (size_t)i));
    text_addz(&t, to);
    text_add(&t, str_cut(s, (size_t)i + strlen(from), s.n));
    return text_str(&t);
}

/* Refused lines, with file, line and column; nothing of the import is kept. Columns were counted by hand in the line
 * that begins {"entry":{"at":"2026-03-02T08:00:00.000Z","body":{"hours":12.5},"book":null,"by":"L. Quay","hash":" */
static void import_refuses(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 15);
    struct depot *d = bench_depot(&b, "a.depot");
    bench_append(&b, d, KIND_METER, 0, SERIAL, "{\"hours\": 12.5}");
    struct str good = lines_of(&b, read_whole(&b, bench_export(&b, d, "a.ndjson"))).at[1];
    struct depot *other = bench_depot(&b, "b.depot");
    static const struct {
        const char *from, *to, *text; /* %E: the entry's name */
    } rows[] = {
        {"{\"entry\"", "{\"entri\"", "in.ndjson:2:10: there is no line of type \"entri\"; did you mean \"entry\"?"},
        {"12.5", "12.6",
         "in.ndjson:2:99: %E: its members give another hash: it has been altered; get it again from its writer"},
        {"12.5", "\"x\"", "in.ndjson:2:59: body.hours: \"x\" is text, not a number; write a number without quotes"},
        {"\"hours\"", "\"hour\"", "in.ndjson:2:58: body.hour: there is no such member; did you mean \"hours\"?"},
        {"\"hours\":12.5", "", "in.ndjson:2:50: body.hours: it is missing; add it"},
        {"\"kind\":\"meter\"", "\"kind\":\"metre\"",
         "in.ndjson:2:217: kind: there is no kind \"metre\"; did you mean \"meter\"?"},
        {"08:00:00.000Z\",\"body", "08:00:00Z\",\"body",
         "in.ndjson:2:16: at: it is not a time in UTC; YYYY-MM-DDThh:mm:ss.sssZ"},
        {"\"v\":1", "\"v\":2", NULL},
        {"\"book\":null", "\"book\":null,\"book\":null", NULL},
        {"{\"entry\":", "{\"entry\":,", NULL},
        {"{\"entry\":", "[\"entry\":", NULL},
    };
    struct depot_counts counts;
    struct import_report report;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = text_new(&b.a);
        text_addz(&t, "{\"export\":{\"v\":1}}\n");
        text_add(&t, replaced(&b, good, rows[i].from, rows[i].to));
        text_char(&t, '\n');
        bool ok = bench_import(&b, other, text_str(&t), &report);
        if (rows[i].text) {
            struct str wanted = str_of(rows[i].text);
            if (str_find(wanted, S("%E")) >= 0) {
                struct text label = text_new(&b.a);
                text_addz(&label, "entry ");
                text_add(&label, str_cut(good, (size_t)str_find(good, S("\"id\":")) + 6,
                                         (size_t)str_find(good, S("\"id\":")) + 42));
                text_addz(&label, " (writer ");
                struct log_hash writer = depot_writer(d);
                text_hex(&label, writer.b, 4);
                text_addz(&label, ", number 1)");
                wanted = replaced(&b, wanted, "%E", text_z(&label));
            }
            refused(&b, ok, str_z(&b.a, wanted));
        } else {
            assert_false(ok);
            print_message("# %s\n", str_z(&b.a, err_text(&b.a, &b.e)));
            assert_int_equal(b.e.where.line, 2);
            assert_true(b.e.where.column > 0);
        }
        must(&b, depot_count(other, &counts, bench_err(&b)));
        assert_int_equal(counts.entries, 0);
    }
    /* a good line before a bad one is not kept either */
    struct text t = text_new(&b.a);
    text_add(&t, good);
    text_addz(&t, "\n{\"entry\": 5}\n");
    refused(&b, bench_import(&b, other, text_str(&t), &report), "in.ndjson:2:11: it is not an object; an object");
    must(&b, depot_count(other, &counts, bench_err(&b)));
    assert_int_equal(counts.entries + counts.receipts, 0);
    /* a dry run tells, and keeps nothing */
    struct import_options dry = {.name = S("x"), .dry_run = true};
    FILE *f = fopen(bench_path(&b, "a.ndjson"), "rb");
    assert_non_null(f);
    must(&b, depot_import(other, f, &dry, &b.a, &report, bench_err(&b)));
    fclose(f);
    assert_int_equal(report.entries_added, 1);
    must(&b, depot_count(other, &counts, bench_err(&b)));
    assert_int_equal(counts.entries, 0);
    depot_close(d);
    depot_close(other);
    bench_tear_down(&b);
}

/* A part of a log: the entries of one machine, with the edition they name and nothing else. */
static void part_of_a_log(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 17);
    struct depot *d = bench_depot(&b, "a.depot");
    struct log_hash named;
    struct log_hash other;
    must(&b, depot_book_put(d, S("one.yaml"), S("name: one\n"), &named, bench_err(&b)));
    must(&b, depot_book_put(d, S("two.yaml"), S("name: two\n"), &other, bench_err(&b)));
    json_t *body = body_of("{\"hours\": 1}");
    struct draft draft = {.kind = KIND_METER,
                          .at = TEST_NOW,
                          .by = S("LQ"),
                          .machine = S(SERIAL),
                          .has_book = true,
                          .book = named,
                          .body = body};
    must(&b, depot_append(d, &draft, 1, NULL, bench_err(&b)));
    bench_append(&b, d, KIND_METER, 1, "CF-810", "{\"hours\": 2}");
    must(&b, depot_append(d, &draft, 1, NULL, bench_err(&b)));
    json_decref(body);
    struct export_options options = {.filtered = true, .only = {.machine = S(SERIAL)}};
    const char *path = bench_path(&b, "part.ndjson");
    FILE *f = fopen(path, "wb");
    assert_non_null(f);
    must(&b, depot_export(d, f, &options, bench_err(&b)));
    fclose(f);
    struct lines lines = lines_of(&b, read_whole(&b, path));
    assert_int_equal(lines.n, 4);
    assert_true(str_find(lines.at[0], S("\"whole\":false")) > 0);
    assert_true(str_find(lines.at[1], S("{\"edition\"")) == 0 && str_find(lines.at[1], S("name: one")) > 0);
    struct depot *to = bench_depot(&b, "b.depot");
    struct import_report report;
    must(&b, bench_import(&b, to, read_whole(&b, path), &report));
    assert_int_equal(report.entries_added, 2);
    assert_string_equal(finding_lines(&b, &report.findings), "not-here-yet 2-2\n");
    depot_close(d);
    depot_close(to);
    bench_tear_down(&b);
}

/* Work that is told to stop keeps nothing. */
static bool never(void *ctx, uint64_t done, uint64_t total)
{
    (void)done;
    (void)total;
    ++*(int *)ctx;
    return false;
}

static void stopped(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 18);
    struct depot *d = bench_depot(&b, "a.depot");
    json_t *body = body_of("{\"text\": \"x\"}");
    struct draft drafts[300];
    for (int i = 0; i < 300; i++) {
        drafts[i] = (struct draft){.kind = KIND_NOTE, .at = TEST_NOW, .by = S("LQ"), .body = body};
    }
    must(&b, depot_append(d, drafts, 300, NULL, bench_err(&b)));
    json_decref(body);
    int asked = 0;
    struct import_options options = {.name = S("x"), .progress = {never, &asked}};
    struct import_report report;
    struct depot *to = bench_depot(&b, "b.depot");
    FILE *f = fopen(bench_export(&b, d, "a.ndjson"), "rb");
    assert_non_null(f);
    refused(&b, depot_import(to, f, &options, &b.a, &report, bench_err(&b)),
            "the import was stopped; nothing of it was kept");
    fclose(f);
    assert_int_equal(asked, 1);
    struct depot_counts counts;
    must(&b, depot_count(to, &counts, bench_err(&b)));
    assert_int_equal(counts.entries, 0);
    refused(&b, depot_backup(d, bench_path(&b, "c.depot"), false, options.progress, bench_err(&b)),
            "the copy was stopped");
    FILE *none = fopen(bench_path(&b, "c.depot"), "rb");
    assert_null(none);
    depot_close(d);
    depot_close(to);
    bench_tear_down(&b);
}

/* Two depots that imported the same sheet apart: after merging, each row holds once. */
static void same_import_twice(void **state)
{
    (void)state;
    struct bench b;
    bench_set_up(&b, 16);
    struct depot *one = bench_depot(&b, "a.depot");
    struct depot *two = bench_depot(&b, "b.depot");
    bench_append(&b, one, KIND_METER, 0, SERIAL, "{\"hours\": 5, \"import_key\": \"k\"}");
    b.world.now += 10;
    bench_append(&b, two, KIND_METER, 0, SERIAL, "{\"hours\": 5, \"import_key\": \"k\"}");
    struct import_report report;
    must(&b, bench_import(&b, one, read_whole(&b, bench_export(&b, two, "b.ndjson")), &report));
    must(&b, bench_import(&b, two, read_whole(&b, bench_export(&b, one, "a.ndjson")), &report));
    struct entry_filter all = {0};
    assert_string_equal(view_lines(&b, one, &all), "meter 0 {\"hours\":5,\"import_key\":\"k\"}\n");
    assert_true(str_eq(state_of(&b, one), state_of(&b, two)));
    depot_close(one);
    depot_close(two);
    bench_tear_down(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(round_trip),    cmocka_unit_test(union_any_order), cmocka_unit_test(not_here_yet),
        cmocka_unit_test(forks),         cmocka_unit_test(import_refuses),  cmocka_unit_test(same_import_twice),
        cmocka_unit_test(part_of_a_log), cmocka_unit_test(stopped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
