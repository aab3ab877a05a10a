/* The schema and the reference page say what the table of keys says. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "generate.h"

#include <stdlib.h>

static const char *root(void)
{
    const char *z = getenv("WITMARK_SOURCE");
    return z ? z : ".";
}

static void schema_is_current(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str kept;
    assert_true(generate_read(&a, generate_path(&a, root(), GENERATE_SCHEMA), &kept));
    assert_true(str_eq(kept, generate_schema(&a))); /* else: run book_generate */
    arena_free(&a);
}

static void page_is_current(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str kept;
    assert_true(generate_read(&a, generate_path(&a, root(), GENERATE_PAGE), &kept));
    assert_true(str_eq(kept, generate_page(&a, kept))); /* else: run book_generate */
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(schema_is_current),
        cmocka_unit_test(page_is_current),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
