/* The judge of the cases: what passes, and above all what must not. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "cases.h"

#include <string.h>

static const struct {
    const char *expected, *got, *tolerance;
    const char *why; /* null = passes; else how the reason starts */
} rows[] = {
    {"{\"a\": 1.0}", "{\"a\": 1.009}", "{\"abs\": 0.01}", NULL},
    {"{\"a\": 1.0}", "{\"a\": 1.011}", "{\"abs\": 0.01}", "a: got 1.011, expected 1.0"},
    {"{\"a\": 200}", "{\"a\": 201}", "{\"rel\": 0.01}", NULL},
    {"{\"a\": 200}", "{\"a\": 203}", "{\"rel\": 0.01}", "a: got 203"},
    {"{\"a\": 200}", "{\"a\": 203}", "{\"rel\": 0.01, \"abs\": 4}", NULL},
    {"{\"a\": 3}", "{\"a\": 3.0}", "{\"exact\": true}", NULL},
    {"{\"a\": 3}", "{\"a\": 3.000001}", "{\"exact\": true}", "a: got"},
    {"{\"a\": 1, \"b\": 1}", "{\"a\": 1.05, \"b\": 1}", "{\"a\": {\"abs\": 0.1}, \"b\": {\"exact\": true}}", NULL},
    {"{\"a\": 1, \"b\": 1}", "{\"a\": 1, \"b\": 1.05}", "{\"a\": {\"abs\": 0.1}, \"b\": {\"exact\": true}}", "b: got"},
    {"{\"a\": 1}", "{}", "{\"abs\": 9}", "a: got nothing"},
    {"{\"a\": null}", "{\"a\": null}", "{\"exact\": true}", NULL},
    {"{\"a\": null}", "{\"a\": 0}", "{\"abs\": 9}", "a: got 0, expected null"},
    {"{\"a\": 0}", "{\"a\": null}", "{\"abs\": 9}", "a: got null"},
    {"{\"a\": true}", "{\"a\": false}", "{\"abs\": 9}", "a: got false"},
    {"{\"a\": [1, 2]}", "{\"a\": [1, 2.05]}", "{\"abs\": 0.1}", NULL},
    {"{\"a\": [1, 2]}", "{\"a\": [1]}", "{\"abs\": 0.1}", "a: got [1]"},
    {"{\"a\": [1, 2]}", "{\"a\": [1, 2.5]}", "{\"abs\": 0.1}", "a: got 2.5"},
    {"{\"a\": []}", "{\"a\": [1]}", "{\"abs\": 9}", "a: got [1]"},
    {"{\"a\": 5}", "{\"a\": [5, 5]}", "{\"exact\": true}", NULL},
    {"{\"a\": 5}", "{\"a\": [5, 6]}", "{\"exact\": true}", "a: got 6"},
    {"{\"a\": \"over limit\"}", "{\"a\": \"over limit\"}", "{\"exact\": true}", NULL},
    {"{\"a\": \"too thin\"}", "{\"a\": \"below floor\"}", "{\"exact\": true}", NULL},
    {"{\"a\": \"optimum\"}", "{\"a\": \"below floor\"}", "{\"exact\": true}", "a: got"},
    {"{\"a\": \"17\"}", "{\"a\": 17}", "{\"abs\": 9}", "a: got 17"},
    {"{\"a\": {\"b\": 1}}", "{\"a\": {\"b\": 2}}", "{\"abs\": 0.1}", "b: got 2"},
};

static void judged(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct text why = text_new(&a);
        json_t *expected = json_loads(rows[i].expected, 0, NULL);
        json_t *got = json_loads(rows[i].got, 0, NULL);
        json_t *tolerance = json_loads(rows[i].tolerance, 0, NULL);
        bool passed = case_compare(expected, got, tolerance, &why);
        if (passed != (rows[i].why == NULL) || (rows[i].why && !str_starts(text_str(&why), str_of(rows[i].why)))) {
            fail_msg("row %zu: %s: %s", i, passed ? "passed" : "failed", text_z(&why));
        }
        json_decref(expected);
        json_decref(got);
        json_decref(tolerance);
        arena_free(&a);
    }
}

/* A kind that nobody knows is not quietly another one; a refused kind finds the calculation that reads its inputs. */
static void kinds_found(void **state)
{
    (void)state;
    json_t *inputs = json_loads("{\"kv40\": 3.0, \"kv100\": 1.5}", 0, NULL);
    assert_null(case_kind_find("viscosity", "nonsense", inputs));
    assert_null(case_kind_find("nonsense", "vi", inputs));
    assert_string_equal(case_kind_find("viscosity", "vi", inputs)->calc, "viscosity-index");
    assert_string_equal(case_kind_find("viscosity", "vi_reject", inputs)->calc, "viscosity-index");
    json_decref(inputs);
    inputs = json_loads("{\"something\": 1}", 0, NULL);
    assert_null(case_kind_find("viscosity", "vi_reject", inputs));
    json_decref(inputs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(judged), cmocka_unit_test(kinds_found)};
    return cmocka_run_group_tests_name("cases", tests, NULL, NULL);
}
