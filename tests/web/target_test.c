/* Request targets. The percent-encodings are those of RFC 3986 2.1, the blanks those of the URL Standard's
 * application/x-www-form-urlencoded parser ("a+b" is "a b", only in a query). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "target.h"

#include <stdlib.h>
#include <string.h>

/* The target as one text: "part|part?name=value&..." */
static const char *shown(struct arena *a, const struct target *t)
{
    struct text out = text_new(a);
    for (size_t i = 0; i < t->n; i++) {
        text_addz(&out, i ? "|" : "");
        text_add(&out, t->parts[i]);
    }
    for (size_t i = 0; i < t->n_pairs; i++) {
        text_addz(&out, i ? "&" : "?");
        text_add(&out, t->pairs[i].name);
        text_addz(&out, "=");
        text_add(&out, t->pairs[i].value);
    }
    return text_z(&out);
}

static void targets_are_cut_and_then_decoded(void **state)
{
    (void)state;
    static const struct {
        const char *sent, *shown;
    } rows[] = {
        {"/", ""},
        {"/?", ""},
        {"/api/today", "api|today"},
        {"/api/machines/B%2F03/why/100%2f4", "api|machines|B/03|why|100/4"},
        {"/a+b?c+d=e+f", "a+b?c d=e f"},
        {"/a?b", "a?b="},
        {"/a?b=", "a?b="},
        {"/a?b=c=d&&e=%26", "a?b=c=d&e=&"},
        {"/%C3%A9", "\xc3\xa9"},
        {"/a?b=/../?", "a?b=/../?"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct target t;
        assert_true(target_parse(&a, str_of(rows[i].sent), &t, &e));
        assert_string_equal(shown(&a, &t), rows[i].shown);
        arena_free(&a);
    }
}

static void a_bad_target_is_named_with_its_place(void **state)
{
    (void)state;
    static const struct {
        const char *sent;
        uint32_t column;
        const char *what;
    } rows[] = {
        {"", 1, "does not begin with a slash"},
        {"*", 1, "does not begin with a slash"},
        {"a/b", 1, "does not begin with a slash"},
        {"/a%", 3, "percent sign"},
        {"/a%2", 3, "percent sign"},
        {"/a/%g0", 4, "percent sign"},
        {"/a?b=%", 6, "percent sign"},
        {"/%0a", 2, "control character"},
        {"/a?b=%00", 6, "control character"},
        {"/a/%7F", 4, "control character"},
        {"/%c0%af", 2, "not UTF-8"},
        {"/a/..", 4, "'..'"},
        {"/%2e", 2, "'..'"},
        {"/%2e%2E/b", 2, "'..'"},
        {"/a//b", 4, "empty part"},
        {"/a/", 3, "slash at the end"},
        {"/1/2/3/4/5/6/7/8/9/10/11/12/13", 29, "too many parts"},
        {"/?1&2&3&4&5&6&7&8&9&10&11&12&13&14&15&16&17", 42, "too many parameters"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct target t;
        assert_false(target_parse(&a, str_of(rows[i].sent), &t, &e));
        if (str_find(e.what, str_of(rows[i].what)) < 0 || e.where.column != rows[i].column) {
            fail_msg("%s: column %u: %s", rows[i].sent, e.where.column, str_z(&a, e.what));
        }
        arena_free(&a);
    }
}

static void parameters_are_known_and_given_once(void **state)
{
    (void)state;
    static const char *const names[] = {"days", "site", NULL};
    static const struct {
        const char *sent, *what;
    } rows[] = {{"/a?days=1&site=x", NULL},
                {"/a", NULL},
                {"/a?day=1", "'day' is not known"},
                {"/a?Days=1", "'Days' is not known"},
                {"/a?days=1&days=1", "'days' is given twice"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct target t;
        assert_true(target_parse(&a, str_of(rows[i].sent), &t, &e));
        assert_int_equal(target_only(&t, names, &e), rows[i].what == NULL);
        assert_true(!rows[i].what || str_find(e.what, str_of(rows[i].what)) >= 0);
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(targets_are_cut_and_then_decoded),
        cmocka_unit_test(a_bad_target_is_named_with_its_place),
        cmocka_unit_test(parameters_are_known_and_given_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
