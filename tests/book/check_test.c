/* The checker: one broken book per rule, each made from tests/data/books/good.yaml by putting another text in the place
 * of one that stands there. A paragraph sign in the new text marks where a finding must be; the words beside it are the
 * rules expected, in order of place. No other error or doubt may be found. Which text is wrong follows from the rules
 * of docs/book.md; the places are the marks themselves. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "generate.h"

#include <stdlib.h>

#define MARK "\xc2\xa7" /* the paragraph sign, nowhere else in these books */

struct broken {
    const char *rules; /* of the marks, in order; a + in front: the finding names a machine ("first for") */
    const char *says;  /* stands in one of the findings or in what would be right; null = whatever */
    struct {
        const char *old, *new; /* old stands once in the good book; empty = new goes in front of all */
    } put[3];
};

static const struct broken rows[] = {
#include "check_rows.h"
};

static struct str good_book(struct arena *a)
{
    const char *data = getenv("WITMARK_DATA");
    struct str text = S("");
    assert_true(generate_read(a, generate_path(a, data ? data : "tests/data", "books/good.yaml"), &text));
    return text;
}

/* The good book with the row's texts put in, marks and all. */
static struct str put_in(struct arena *a, struct str text, const struct broken *row)
{
    for (size_t i = 0; i < 3 && row->put[i].old; i++) {
        struct str old = str_of(row->put[i].old);
        ptrdiff_t at = str_find(text, old);
        size_t end = (size_t)at + old.n;
        if (at < 0 || (old.n && str_find(str_cut(text, end, text.n), old) >= 0)) {
            fail_msg("\"%s\" does not stand exactly once in the good book", row->put[i].old);
        }
        struct text t = text_new(a);
        text_add(&t, str_cut(text, 0, (size_t)at));
        text_addz(&t, row->put[i].new);
        text_add(&t, str_cut(text, end, text.n));
        text = text_str(&t);
    }
    return text;
}

/* The broken text without its marks; places of the marks as "line:column rule". */
static struct str broken_text(struct arena *a, struct str good, const struct broken *row, struct text *expected)
{
    struct str marked = put_in(a, good, row);
    struct str rules = str_of(row->rules);
    struct text t = text_new(a);
    uint32_t line = 1;
    uint32_t column = 1;
    for (size_t i = 0; i < marked.n; i++) {
        struct str rule;
        if (!str_starts(str_cut(marked, i, marked.n), S(MARK))) {
            char c = marked.p[i];
            text_char(&t, c);
            column += ((unsigned char)c & 0xc0) != 0x80;
            line += c == '\n';
            column = c == '\n' ? 1 : column;
            continue;
        }
        if (!str_next(&rules, ' ', &rule)) {
            fail_msg("row \"%s\" has more marks than rules", row->put[0].new);
        }
        text_int(expected, line);
        text_char(expected, ':');
        text_int(expected, column);
        text_char(expected, ' ');
        text_add(expected, rule);
        text_char(expected, '\n');
        i += sizeof MARK - 2; /* the mark's bytes, one of which the loop counts */
    }
    if (rules.n) {
        fail_msg("row \"%s\" has fewer marks than rules", row->put[0].new);
    }
    return text_str(&t);
}

/* Whether the findings are as marked; prints both when not. */
static bool one_broken(const struct broken *row, struct str good, struct arena *a)
{
    struct text expected = text_new(a);
    struct str text = broken_text(a, good, row, &expected);
    struct diags d = diags_new(a, 100);
    struct bookfile *bf = bookfile_read(text, S("b"), a, &d);
    if (bf) {
        bookfile_check(bf, (struct bookfile_folder){0}, a, &d);
    }
    struct text found = text_new(a);
    struct text printed = text_new(a);
    bool hints = str_find(str_of(row->rules), S("unused")) >= 0 || str_find(str_of(row->rules), S("never-due")) >= 0 ||
                 str_find(str_of(row->rules), S("(hint)")) >= 0;
    bool says = row->says == NULL;
    for (size_t i = 0; i < d.n; i++) {
        diag_print(&printed, &d.at[i]);
        says =
            says || str_find(d.at[i].what, str_of(row->says)) >= 0 || str_find(d.at[i].right, str_of(row->says)) >= 0;
        if (d.at[i].level == DIAG_HINT && !hints) {
            continue;
        }
        text_int(&found, d.at[i].where.line);
        text_char(&found, ':');
        text_int(&found, d.at[i].where.column);
        text_char(&found, ' ');
        text_addz(&found, str_find(d.at[i].what, S(" - first for ")) >= 0 ? "+" : "");
        text_addz(&found, d.at[i].rule);
        text_addz(&found, d.at[i].level == DIAG_HINT && hints && str_find(str_of(row->rules), S("(hint)")) >= 0
                              ? "(hint)"
                              : "");
        text_char(&found, '\n');
    }
    if (!str_eq(text_str(&found), text_str(&expected)) || !says) {
        print_message("row \"%s\": expected\n%s%s\nbut found\n%s%s", row->put[0].new, text_z(&expected),
                      says ? "" : row->says, text_z(&found), text_z(&printed));
        return false;
    }
    return true;
}

static void each_rule(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str good = good_book(&a);
    int wrong = 0;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena_mark mark = arena_mark(&a);
        wrong += !one_broken(&rows[i], good, &a);
        arena_rewind(&a, mark);
    }
    arena_free(&a);
    assert_int_equal(wrong, 0);
}

/* Every rule that bookfile.h lists has a row, but for those that a row can't make: a drawing that is not there. */
static void every_rule_has_a_row(void **state)
{
    (void)state;
    static const char *const words[] = {
#define X(symbol, word, line) word,
        BOOKFILE_RULES(X)
#undef X
    };
    for (size_t w = 0; w < sizeof words / sizeof *words; w++) {
        bool any = false;
        for (size_t i = 0; i < sizeof rows / sizeof *rows && !any; i++) {
            struct str rest = str_of(rows[i].rules);
            struct str rule;
            while (str_next(&rest, ' ', &rule)) {
                rule = str_starts(rule, S("+")) ? str_cut(rule, 1, rule.n) : rule;
                rule = str_ends(rule, S("(hint)")) ? str_cut(rule, 0, rule.n - 6) : rule;
                any = any || str_eq(rule, str_of(words[w]));
            }
        }
        if (!any) {
            fail_msg("no row for the rule %s", words[w]);
        }
    }
}

static void good_is_good(void **state)
{
    (void)state;
    static const char *const files[] = {"books/good.yaml", "books/sandfly.yaml"};
    struct arena a = arena_new(&arena_libc);
    const char *data = getenv("WITMARK_DATA");
    for (size_t i = 0; i < 2; i++) {
        struct str text;
        assert_true(generate_read(&a, generate_path(&a, data ? data : "tests/data", files[i]), &text));
        struct diags d = diags_new(&a, 100);
        struct bookfile *bf = bookfile_read(text, str_of(files[i]), &a, &d);
        assert_non_null(bf);
        bookfile_check(bf, (struct bookfile_folder){0}, &a, &d);
        for (size_t k = 0; k < d.n; k++) {
            struct text t = text_new(&a);
            diag_print(&t, &d.at[k]);
            print_message("%s", text_z(&t));
        }
        assert_int_equal(d.n, 0);
    }
    arena_free(&a);
}

/* A folder in which nothing is. */
static bool nothing_there(void *ctx, struct str name)
{
    (void)name;
    ++*(int *)ctx;
    return false;
}

static void missing_drawing(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 100);
    struct bookfile *bf = bookfile_read(good_book(&a), S("b"), &a, &d);
    int asked = 0;
    bookfile_check(bf, (struct bookfile_folder){nothing_there, &asked}, &a, &d);
    assert_int_equal(d.n, 1);
    assert_int_equal(asked, 1); /* once, though there are many classes of machines */
    assert_string_equal(d.at[0].rule, "figure");
    assert_int_equal(d.at[0].where.line, 49);
    arena_free(&a);
}

/* What a finding looks like in print: the place, the line, the caret, what would be right. */
static void printed(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 100);
    bookfile_read(S("book: x\nserials: { pattern: \"A-##\", from: A-1 }\n"), S("x.yaml"), &a, &d);
    assert_int_equal(d.n, 1);
    struct text t = text_new(&a);
    diag_print(&t, &d.at[0]);
    assert_string_equal(text_z(&t), "x.yaml:2:35: error: \"A-1\" is no serial number of this book [serials]\n"
                                    "    serials: { pattern: \"A-##\", from: A-1 }\n"
                                    "                                      ^\n"
                                    "    right: as the pattern A-## writes it\n");
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_is_good),    cmocka_unit_test(each_rule), cmocka_unit_test(every_rule_has_a_row),
        cmocka_unit_test(missing_drawing), cmocka_unit_test(printed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
