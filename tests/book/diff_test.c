/* What differs between machines and between editions, in words. The expected lines follow from the changes that the
 * test makes in tests/data/books/good.yaml. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "generate.h"

#include <stdlib.h>

static struct str good_book(struct arena *a)
{
    const char *data = getenv("WITMARK_DATA");
    struct str text = S("");
    assert_true(generate_read(a, generate_path(a, data ? data : "tests/data", "books/good.yaml"), &text));
    return text;
}

static struct bookfile *read_book(struct arena *a, struct str text)
{
    struct diags d = diags_new(a, 100);
    struct bookfile *bf = bookfile_read(text, S("b.yaml"), a, &d);
    assert_non_null(bf);
    assert_int_equal(d.n, 0);
    return bf;
}

/* The text with `old`, which stands there once, replaced. */
static struct str put(struct arena *a, struct str text, const char *old, const char *new)
{
    ptrdiff_t at = str_find(text, str_of(old));
    assert_true(at >= 0);
    struct text t = text_new(a);
    text_add(&t, str_cut(text, 0, (size_t)at));
    text_addz(&t, new);
    text_add(&t, str_cut(text, (size_t)at + str_of(old).n, text.n));
    return text_str(&t);
}

static void assert_printed(struct arena *a, const struct book_differences *d, const char *expected)
{
    struct text t = text_new(a);
    text_book_differences(&t, d);
    assert_string_equal(text_z(&t), expected);
}

static void along_the_serial_line(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct bookfile *bf = read_book(&a, good_book(&a));
    struct book_differences d;
    struct err e = err_new(&a);
    assert_true(bookfile_diff_serials(bf, (struct book_texts){0}, &a, &d, &e));
    assert_printed(
        &a, &d,
        "from GN-2200 on:\n"
        "  fluids\n"
        "    Hydraulic oil: ISO 3448 VG 46 -> ISO 3448 VG 68; capacity 38 L -> 41 L; "
        "viscosity 46 mm2/s at 40 degC, 6.8 mm2/s at 100 degC -> 68 mm2/s at 40 degC, 8.6 mm2/s at 100 degC\n");
    arena_free(&a);
}

static void between_options(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct bookfile *bf = read_book(&a, good_book(&a));
    struct book one;
    struct book other;
    struct err e = err_new(&a);
    struct str options[] = {S("cab"), S("filter")};
    assert_true(bookfile_resolve(bf, S("GN-3000"), (struct book_texts){0}, &a, &one, &e));
    assert_true(bookfile_resolve(bf, S("GN-3000"), (struct book_texts){options, 2}, &a, &other, &e));
    struct book_differences d = bookfile_diff_machines(&one, &other, &a);
    assert_printed(
        &a, &d,
        "  checkpoints\n"
        "    Soot: new\n"
        "    Cab filter: new\n"
        "  tasks\n"
        "    Change oil: step \"Change the filter\", tools new: long reach\n"
        "    Burn: new\n"
        "  services\n"
        "    Daily round: checks new: Soot, Cab filter\n"
        "  duties\n"
        "    Sweeping: new\n"
        "    Idling: new\n"
        "  exhaust\n"
        "    soot new: Soot; parked-burn new: Burn; begins new: 80 %; demanded new: 100 %; power-reduced new: "
        "140 %; past-burning new: 200 %; own-burn-leaves new: 25 %; parked-burn-leaves new: 15 %; spread new: "
        "35 %; scatter new: 30 %; burn-takes new: 25 min; cools new: 25 min; inhibit new: public; oil new: "
        "Engine oil; oil-per-hour new: 4 mL; oil-spread new: 50 %; oil-density new: 870 g/L; oil-ash new: 1 %; "
        "ash-kept new: 75 %; filter-volume new: 4 L; ash-at-most new: 30 g/L\n");
    d = bookfile_diff_machines(&one, &one, &a);
    assert_int_equal(d.n, 0);
    arena_free(&a);
}

static void editions(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str text = good_book(&a);
    struct bookfile *before = read_book(&a, text);
    text = put(&a, text, "edition: 2027-02", "edition: 2027-03");
    text = put(&a, text, "- { serials: GN-2200.., is: ISO 3448 VG 68, capacity: 41 L",
               "- { serials: GN-2200.., is: ISO 3448 VG 68, capacity: 42 L");
    text = put(&a, text, "then: [OV-11, OV-12]", "then: [OV-11, OV-12, OV-13]");
    text = put(&a, text, "{ with: cab, look: [clogged], every: 6 months }",
               "{ with: cab, look: [clogged], every: 3 months }");
    text = put(&a, text, "      - { do: Change the filter,",
               "      - { do: Wipe the seat }\n      - { do: Change the filter,");
    text = put(&a, text, "  bypass: { label: Bypass is open }",
               "  bypass: { label: Bypass is open, while-open: { engine: off } }");
    struct bookfile *after = read_book(&a, text);
    struct book_differences d;
    struct err e = err_new(&a);
    assert_true(bookfile_diff_editions(before, after, &a, &d, &e));
    assert_printed(&a, &d,
                   "  edition 2027-02 -> 2027-03\n"
                   "  put-back\n"
                   "    Bypass is open: while-open new: Engine off\n"
                   "  parts\n"
                   "    Oil filter: then new: OV-13\n"
                   "  tasks\n"
                   "    Change oil: step new: Wipe the seat\n"
                   "with cab:\n"
                   "  checkpoints\n"
                   "    Cab filter: every 6 months -> 3 months\n"
                   "from GN-2200 on:\n"
                   "  fluids\n"
                   "    Hydraulic oil: capacity 41 L -> 42 L\n");
    assert_true(bookfile_diff_editions(before, before, &a, &d, &e));
    assert_int_equal(d.n, 0);
    struct bookfile *other = read_book(&a, put(&a, text, "book: gannet", "book: heron"));
    assert_false(bookfile_diff_editions(before, other, &a, &d, &e));
    assert_int_equal(e.kind, ERR_CONFLICT);
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(along_the_serial_line),
        cmocka_unit_test(between_options),
        cmocka_unit_test(editions),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
