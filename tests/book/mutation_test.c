/* Books spoiled at random: reading and checking always come to an end, every finding has its place in the text, and a
 * book in which the check finds no error resolves for every serial number at which anything changes, with every set of
 * options.
 *
 *   mutation_test [SEED]     the seed is printed
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/map.h"
#include "generate.h"

#include <stdlib.h>

#define MUTATIONS 350
#define LINES_MOST 4096

static uint64_t seed = 20270301;

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static size_t below(uint64_t *x, size_t n)
{
    return n ? (size_t)(next_random(x) % n) : 0;
}

static struct str good_book(struct arena *a)
{
    const char *data = getenv("WITMARK_DATA");
    struct str text = S("");
    assert_true(generate_read(a, generate_path(a, data ? data : "tests/data", "books/good.yaml"), &text));
    return text;
}

/* A word of the text: between blanks and brackets. */
static struct str word_at(struct str s, size_t i)
{
    static const char ends[] = " \n{}[],:";
    size_t to = i;
    while (to < s.n && !memchr(ends, s.p[to], sizeof ends - 1)) {
        to++;
    }
    while (i > 0 && !memchr(ends, s.p[i - 1], sizeof ends - 1)) {
        i--;
    }
    return str_cut(s, i, to);
}

/* A line left out, one twice, two exchanged, a word put in another's place, bytes spoiled. */
static struct str mutate(struct arena *a, struct str text, uint64_t *x)
{
    struct str line[LINES_MOST];
    size_t n = 0;
    struct str rest = text;
    while (n < LINES_MOST && str_next(&rest, '\n', &line[n])) {
        n++;
    }
    size_t i = below(x, n);
    size_t j = below(x, n);
    struct text t = text_new(a);
    size_t what = below(x, 5);
    if (what == 2) {
        struct str other = line[i];
        line[i] = line[j];
        line[j] = other;
    }
    for (size_t k = 0; k < n; k++) {
        int times = k != i ? 1 : what == 0 ? 0 : what == 1 ? 2 : 1;
        for (int m = 0; m < times; m++) {
            text_add(&t, line[k]);
            text_addz(&t, k + 1 < n ? "\n" : "");
        }
    }
    struct str made = text_str(&t);
    if (what == 3 && made.n) {
        struct str from = word_at(made, below(x, made.n));
        struct str put = word_at(made, below(x, made.n));
        struct text u = text_new(a);
        text_add(&u, str_cut(made, 0, (size_t)(from.p - made.p)));
        text_add(&u, put);
        text_add(&u, str_cut(made, (size_t)(from.p - made.p) + from.n, made.n));
        made = text_str(&u);
    }
    for (size_t k = 0; what == 4 && made.n && k < 3; k++) {
        t.p[below(x, made.n)] = (char)next_random(x);
    }
    return made;
}

/* Every finding lies in the text, its line is the one shown, and it stands only once. */
static void assert_places(const struct diags *d, struct str text, struct arena *a)
{
    struct map seen = map_new(a);
    for (size_t i = 0; i < d->n; i++) {
        const struct diag *one = &d->at[i];
        assert_true(one->where.line >= 1);
        assert_true(one->where.column >= 1);
        assert_true(one->excerpt.n == 0 ||
                    (one->excerpt.p >= text.p && one->excerpt.p + one->excerpt.n <= text.p + text.n));
        assert_true(one->what.n > 0);
        struct text t = text_new(a);
        diag_print(&t, one);
        assert_true(map_put(&seen, text_str(&t), 1));
    }
}

/* Resolves at every boundary with every set of options. */
static void assert_resolves(const struct bookfile *bf, struct arena *a, struct str text)
{
    size_t n = 0;
    const struct bookfile_class *classes = bookfile_serial_classes(bf, a, &n);
    struct book_texts all = bookfile_head(bf)->options;
    for (size_t i = 0; i < n; i++) {
        for (unsigned set = 0; set < 1U << (all.n > 4 ? 4 : all.n); set++) {
            struct arena_mark mark = arena_mark(a);
            struct str options[4];
            int count = 0;
            for (int k = 0; k < all.n && k < 4; k++) {
                if (set & (1U << k)) {
                    options[count++] = all.at[k];
                }
            }
            struct err e = err_new(a);
            struct book b;
            bool good = bookfile_resolve(bf, i % 2 ? classes[i].last : classes[i].first,
                                         (struct book_texts){options, count}, a, &b, &e);
            if (!good && e.kind != ERR_USAGE) { /* ERR_USAGE: these options can't be together there */
                fail_msg("accepted, but: %s in\n%s", str_z(a, err_text(a, &e)), str_z(a, text));
            }
            arena_rewind(a, mark);
        }
    }
}

static void spoiled_books(void **state)
{
    (void)state;
    print_message("# seed %llu\n", (unsigned long long)seed);
    struct arena keep = arena_new(&arena_libc);
    struct str good = good_book(&keep);
    uint64_t x = seed;
    int accepted = 0;
    for (int i = 0; i < MUTATIONS; i++) {
        struct arena a = arena_new(&arena_libc);
        struct str text = mutate(&a, good, &x);
        for (size_t more = below(&x, 3); more > 0; more--) {
            text = mutate(&a, text, &x);
        }
        struct diags d = diags_new(&a, 1000);
        struct bookfile *bf = bookfile_read(text, S("b"), &a, &d);
        assert_true(bf || d.errors > 0);
        if (bf) {
            bookfile_check(bf, (struct bookfile_folder){0}, &a, &d);
        }
        assert_places(&d, text, &a);
        if (bf && d.errors == 0) {
            accepted++;
            assert_resolves(bf, &a, text);
        }
        arena_free(&a);
    }
    print_message("# %d of %d still good\n", accepted, MUTATIONS);
    assert_true(accepted > 0);         /* some changes do no harm: a remark doubled, a label exchanged */
    assert_true(accepted < MUTATIONS); /* most do */
    arena_free(&keep);
}

/* Long, deep and repeated input comes to an end soon: what could take quadratic time or memory. */
static void hostile_books(void **state)
{
    (void)state;
    static const struct {
        const char *head, *again, *tail;
        int times;
    } rows[] = {
        {"book: x\nplaces: {", "a: 1, ", "}\n", 20000},
        {"book: x\nplaces:\n", "  p: { needs: { a: b } }\n", "", 5000},
        {"x: ", "[", "", 100000},
        {"x: ", "{a: ", "", 50000},
        {"x: \"", "\\u00e9", "\"\n", 50000},
        {"- ", "- ", "x\n", 10000},
        {"? ", "? ", "x\n", 10000},
        {"serials: { pattern: \"A-####\", from: A-0001 }\nfluids:\n  o:\n",
         "    - { serials: A-0001..A-0002, is: x }\n", "", 3000},
        {"serials: { pattern: \"A-####\", from: A-0001 }\noptions: [a, b, c, d, e, f, g, h, i, j, k, l, m, n, "
         "o]\nfluids:\n  o:\n",
         "    - { with: [a, b, c, d, e, f, g, h, i, j, k, l, m, n, o], is: x }\n", "", 300},
        {"conditions: { a: [b] }\nchanges:\n", "  - { do: x, to: { a: b } }\n", "", 5000},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct text t = text_new(&a);
        text_addz(&t, rows[i].head);
        for (int k = 0; k < rows[i].times; k++) {
            text_addz(&t, rows[i].again);
        }
        text_addz(&t, rows[i].tail);
        struct diags d = diags_new(&a, 100);
        struct bookfile *bf = bookfile_read(text_str(&t), S("b"), &a, &d);
        if (bf) {
            bookfile_check(bf, (struct bookfile_folder){0}, &a, &d);
        }
        assert_true(d.errors > 0);
        arena_free(&a);
    }
}

int main(int argc, char **argv)
{
    if (argc > 1) {
        seed = strtoull(argv[1], NULL, 10);
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(spoiled_books),
        cmocka_unit_test(hostile_books),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
