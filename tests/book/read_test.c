/* Reading and resolving: what a machine gets from a book, and serial numbers as people type them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "generate.h"

#include <math.h>
#include <stdlib.h>

#define assert_text(s, z) assert_string_equal(str_z(&a, (s)), (z))

/* A book of tests/data/books. */
static struct str data_book(struct arena *a, const char *file)
{
    const char *data = getenv("WITMARK_DATA");
    struct str text = S("");
    assert_true(generate_read(a, generate_path(a, data ? data : "tests/data", file), &text));
    return text;
}

static struct bookfile *read_book(struct arena *a, struct str text, struct diags *d)
{
    *d = diags_new(a, 100);
    return bookfile_read(text, S("sandfly.yaml"), a, d);
}

/* The worked example of docs/book.md is the book of these tests, so the page can't go stale. */
static void page_example(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const char *root = getenv("WITMARK_SOURCE");
    struct str page;
    assert_true(generate_read(&a, generate_path(&a, root ? root : ".", GENERATE_PAGE), &page));
    assert_true(str_find(page, data_book(&a, "books/sandfly.yaml")) > 0);
    arena_free(&a);
}

static void head(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d;
    struct bookfile *bf = read_book(&a, data_book(&a, "books/sandfly.yaml"), &d);
    assert_non_null(bf);
    assert_int_equal(d.n, 0);
    const struct bookfile_head *h = bookfile_head(bf);
    assert_text(h->id, "sandfly");
    assert_text(h->maker, "Castellan Forge");
    assert_text(h->first, "SF-0100");
    assert_text(h->last, "SF-0999");
    assert_false(h->open_upwards);
    assert_int_equal(h->options.n, 1);
    assert_text(h->option_labels.at[0], "Wide rake");
    assert_int_equal(h->hash.n, 7 + 64);
    arena_free(&a);
}

/* Expected digest: sha256sum of GNU coreutils over the same five bytes. */
static void hash(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d;
    struct bookfile *bf = read_book(&a, S("a: b\n"), &d);
    assert_text(bookfile_head(bf)->hash, "sha256:52c9693cf3f219d51ba6af4362ee092c55fb5e6f96d6f9da13c8ede7eff8e71b");
    arena_free(&a);
}

static void resolved(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d;
    struct bookfile *bf = read_book(&a, data_book(&a, "books/sandfly.yaml"), &d);
    struct err e = err_new(&a);
    struct book b;
    assert_true(bookfile_resolve(bf, S("SF-0150"), (struct book_texts){0}, &a, &b, &e));
    assert_text(b.serial, "SF-0150");
    assert_int_equal(b.serial_number, 150);
    assert_int_equal(b.n_variables, 2);
    assert_text(b.variables[0].name, "engine");
    assert_text(b.variables[0].label, "Engine");
    assert_text(b.variables[0].values[1], "idle");
    assert_int_equal(b.start_place, 0);
    const struct book_place *sump = &b.places[book_find_place(&b, S("sump"))];
    assert_true(fabs(sump->x_m - 0.6) < 1e-12 && fabs(sump->y_m - 0.4) < 1e-12);
    assert_int_equal(sump->needs.allow[0], 1); /* engine: off */
    assert_int_equal(sump->needs.allow[1], 0);
    const struct book_change *start = &b.changes[0];
    assert_text(start->name, "start-the-engine");
    assert_int_equal(start->from.allow[0], 1);
    assert_int_equal(start->to[0], 1);
    assert_int_equal(start->to[1], BOOK_NONE);
    assert_true(fabs(start->takes_s - 15) < 1e-12);
    assert_int_equal(start->cautions.n, 1);
    assert_true(b.changes[1].waiting);
    assert_true(fabs(b.fluids[0].capacity.si - 2.8e-3) < 1e-12); /* 1 L = 1e-3 m3 */
    assert_text(b.parts[0].now, "CF-110A");
    assert_int_equal(b.parts[0].chain.n, 2);
    assert_int_equal(b.parts[0].pack, 1);
    const struct book_task *task = &b.tasks[book_find_task(&b, S("change-oil"))];
    assert_true(fabs(task->labour_s - 1200) < 1e-9);
    assert_int_equal(task->n_steps, 4);
    assert_int_equal(task->steps[0].opens.at[0], book_find_open_item(&b, S("sump-plug")));
    assert_int_equal(task->steps[2].torques.n, 1);
    assert_int_equal(task->steps[0].place, BOOK_NONE);
    assert_true(fabs(task->fluids[0].quantity - 2.8e-3) < 1e-12); /* its capacity */
    assert_false(task->fluids[0].written.given);
    const struct book_checkpoint *change = &b.checkpoints[book_find_checkpoint(&b, S("oil-change"))];
    assert_int_equal(change->kind, CHECK_DONE_BY);
    assert_int_equal(change->task, book_find_task(&b, S("change-oil")));
    assert_true(fabs(change->every.hours - 100) < 1e-12);
    assert_int_equal(change->every.months, 12);
    assert_int_equal(change->late, LATE_DAMAGE);
    const struct book_checkpoint *tines = &b.checkpoints[book_find_checkpoint(&b, S("tines"))];
    assert_true(fabs(tines->low_si - 0.060) < 1e-12);
    assert_true(isinf(tines->high_si));
    const struct book_checkpoint *level = &b.checkpoints[book_find_checkpoint(&b, S("oil-level"))];
    assert_int_equal(level->look.n, 2);
    assert_text(level->look.at[1], "no water");
    assert_int_equal(b.services[0].checkpoints.n, 1);
    struct str wide = S("wide-rake");
    assert_true(bookfile_resolve(bf, S("150"), (struct book_texts){&wide, 1}, &a, &b, &e));
    tines = &b.checkpoints[book_find_checkpoint(&b, S("tines"))];
    assert_true(fabs(tines->low_si - 0.080) < 1e-12);
    assert_int_equal(tines->pos.line, 35);
    arena_free(&a);
}

static void refused(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d;
    struct bookfile *bf = read_book(&a, data_book(&a, "books/sandfly.yaml"), &d);
    struct book b;
    struct err e = err_new(&a);
    struct str wrong = S("wide-rak");
    assert_false(bookfile_resolve(bf, S("SF-0150"), (struct book_texts){&wrong, 1}, &a, &b, &e));
    assert_int_equal(e.kind, ERR_USAGE);
    assert_text(e.right, "\"wide-rake\"?");
    e = err_new(&a);
    assert_false(bookfile_resolve(bf, S("SF-1000"), (struct book_texts){0}, &a, &b, &e));
    assert_int_equal(e.kind, ERR_MISSING);
    e = err_new(&a);
    assert_false(bookfile_resolve(bf, S("XX-0150"), (struct book_texts){0}, &a, &b, &e));
    assert_int_equal(e.kind, ERR_INPUT);
    arena_free(&a);
}

static void serials(void **state)
{
    (void)state;
    static const struct {
        const char *pattern, *from, *typed, *serial, *note; /* serial null: refused */
    } rows[] = {
        {"BR6-#####", "BR6-01000", "BR6-01234", "BR6-01234", ""},
        {"BR6-#####", "BR6-01000", " br6-01234 ", "BR6-01234", "written in the pattern's letters"},
        {"BR6-#####", "BR6-01000", "BR6-1234", "BR6-01234", "leading zeros added"},
        {"BR6-#####", "BR6-01000", "br6 01234", "BR6-01234", "blanks and hyphens put right"},
        {"BR6-#####", "BR6-01000", "1234", "BR6-01234", "completed to the pattern BR6-#####"},
        {"BR6-#####", "BR6-01000", "999", NULL, NULL},        /* before the first */
        {"BR6-#####", "BR6-01000", "BR6-001234", NULL, NULL}, /* a digit too many */
        {"BR6-#####", "BR6-01000", "", NULL, NULL},
        {"BR6-#####", "BR6-01000", "BR7-01234", NULL, NULL},
        {"###", "001", "7", "007", "leading zeros added"}, /* nothing but digits */
        {"6-####", "6-0001", "6123", NULL, NULL},          /* 6-0123 or 6-6123 */
        {"LD##K", "LD01K", "ld7k", "LD07K", "leading zeros added"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const char *pieces[] = {"book: x\ntitle: x\nmaker: x\nedition: x\nserials: { pattern: \"", rows[i].pattern,
                                "\", from: \"", rows[i].from,
                                "\" }\nplaces: { seat: { at: [0, 0], label: Seat } }\nconditions: { engine: [off] }\n"};
        struct text t = text_new(&a);
        for (size_t k = 0; k < sizeof pieces / sizeof *pieces; k++) {
            text_addz(&t, pieces[k]);
        }
        struct diags d;
        struct bookfile *bf = read_book(&a, text_str(&t), &d);
        assert_non_null(bf);
        assert_int_equal(d.n, 0);
        struct bookfile_serial out;
        struct err e = err_new(&a);
        bool good = bookfile_serial_normalise(bf, str_of(rows[i].typed), &a, &out, &e);
        if (good != (rows[i].serial != NULL)) {
            fail_msg("row %zu: \"%s\" %s", i, rows[i].typed, good ? "accepted" : str_z(&a, err_text(&a, &e)));
        }
        if (good) {
            assert_text(out.serial, rows[i].serial);
            assert_text(out.note, rows[i].note);
        }
    }
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(page_example), cmocka_unit_test(head),    cmocka_unit_test(hash),
        cmocka_unit_test(resolved),     cmocka_unit_test(refused), cmocka_unit_test(serials),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
