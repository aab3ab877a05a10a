/* Arena, text, numbers, dates, JSON writing, findings. Sources of expected values stand beside the tables. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/date.h"
#include "base/err.h"
#include "base/json.h"
#include "base/map.h"
#include "base/text.h"

#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define assert_text(s, z) assert_string_equal(str_z(&a, (s)), (z))

/* RFC 8785 appendix B, table of IEEE 754 bits and their JSON form. */
static void number_rfc8785(void **state)
{
    (void)state;
    static const struct {
        uint64_t bits;
        const char *text;
    } rows[] = {
        {0x0000000000000000, "0"},
        {0x8000000000000000, "0"},
        {0x0000000000000001, "5e-324"},
        {0x8000000000000001, "-5e-324"},
        {0x7fefffffffffffff, "1.7976931348623157e+308"},
        {0xffefffffffffffff, "-1.7976931348623157e+308"},
        {0x4340000000000000, "9007199254740992"},
        {0xc340000000000000, "-9007199254740992"},
        {0x4430000000000000, "295147905179352830000"},
        {0x44b52d02c7e14af5, "9.999999999999997e+22"},
        {0x44b52d02c7e14af6, "1e+23"},
        {0x44b52d02c7e14af7, "1.0000000000000001e+23"},
        {0x444b1ae4d6e2ef4e, "999999999999999700000"},
        {0x444b1ae4d6e2ef4f, "999999999999999900000"},
        {0x444b1ae4d6e2ef50, "1e+21"},
        {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
        {0x3eb0c6f7a0b5ed8d, "0.000001"},
        {0x41b3de4355555553, "333333333.3333332"},
        {0x41b3de4355555554, "333333333.33333325"},
        {0x41b3de4355555555, "333333333.3333333"},
        {0x41b3de4355555556, "333333333.3333334"},
        {0x41b3de4355555557, "333333333.33333343"},
        {0xbecbf647612f3696, "-0.0000033333333333333333"},
        {0x43143ff3c1cb0959, "1424953923781206.2"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double v = 0;
        memcpy(&v, &rows[i].bits, sizeof v);
        struct text t = text_new(&a);
        text_double(&t, v);
        assert_text(text_str(&t), rows[i].text);
    }
    arena_free(&a);
}

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

/* Property: the text reads back as the same double, and no text with one digit less does (the C library is the judge).
 */
static void number_shortest_round_trip(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    uint64_t x = 88172645463325252U;
    for (int i = 0; i < 20000; i++) {
        uint64_t bits = next_random(&x);
        double v = 0;
        memcpy(&v, &bits, sizeof v);
        if (i % 2) {
            v = (double)(int64_t)(bits % 2000000) / 1000.0;
        }
        if (!isfinite(v)) {
            continue;
        }
        struct arena_mark mark = arena_mark(&a);
        struct text t = text_new(&a);
        text_double(&t, v);
        double back = 0;
        assert_true(num_parse(text_str(&t), &back));
        assert_true(back == v);
        char shorter[40];
        int digits = 0;
        for (size_t k = 0; k < t.n && t.p[k] != 'e'; k++) {
            digits += t.p[k] >= '0' && t.p[k] <= '9' && !(digits == 0 && t.p[k] == '0');
        }
        while (digits > 1 && strchr(text_z(&t), 'e') == NULL && t.p[t.n - 1] == '0' &&
               strchr(text_z(&t), '.') == NULL) {
            digits--;
            t.n--;
        }
        if (digits > 1 && digits <= 17) {
            snprintf(shorter, sizeof shorter, "%.*e", digits - 2, v);
            assert_true(strtod(shorter, NULL) != v);
        }
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

static void number_fixed(void **state)
{
    (void)state;
    static const struct {
        double v;
        int decimals;
        const char *text, *short_text;
    } rows[] = {
        {1.005, 2, "1.01", "1.01"},
        {0.125, 2, "0.13", "0.13"},
        {-0.004, 2, "0.00", "0"},
        {9.995, 2, "10.00", "10"},
        {1500, 1, "1500.0", "1500"},
        {0.05, 1, "0.1", "0.1"},
        {0.0499, 1, "0.0", "0"},
        {-2.5, 0, "-3", "-3"},
        {1e21, 1, "1000000000000000000000.0", "1000000000000000000000"},
        {0.99, 0, "1", "1"},
        {0, 3, "0.000", "0"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text t = text_new(&a);
        text_fixed(&t, rows[i].v, rows[i].decimals);
        assert_text(text_str(&t), rows[i].text);
        t = text_new(&a);
        text_number(&t, rows[i].v, rows[i].decimals);
        assert_text(text_str(&t), rows[i].short_text);
    }
    arena_free(&a);
}

static void number_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        size_t read;
        double v;
    } rows[] = {
        {"12", 2, 12}, {"-1.5 bar", 4, -1.5}, {"1e3", 3, 1000}, {"1e", 1, 1},    {"1.", 1, 1}, {".5", 0, 0}, {"", 0, 0},
        {"inf", 0, 0}, {"nan", 0, 0},         {"0x10", 1, 0},   {"1e999", 0, 0}, {"+7", 2, 7}, {"-", 0, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        double v = 0;
        assert_int_equal(num_read(str_of(rows[i].text), &v), rows[i].read);
        assert_true(v == rows[i].v);
    }
    int64_t n = 0;
    assert_true(num_parse_i64(S("-9223372036854775808"), &n) && n == INT64_MIN);
    assert_true(num_parse_i64(S("9223372036854775807"), &n) && n == INT64_MAX);
    assert_false(num_parse_i64(S("9223372036854775808"), &n));
    assert_false(num_parse_i64(S("12a"), &n));
    assert_false(num_parse_i64(S(""), &n));
}

/* Every day of 800 years against a plain count of month lengths. */
static void dates_count(void **state)
{
    (void)state;
    day_t day = 0;
    assert_true(day_of_civil((struct civil){1800, 1, 1}, &day));
    for (int y = 1800; y < 2600; y++) {
        bool leap = (y % 4 == 0 && y % 100 != 0) || y % 400 == 0;
        int lengths[12] = {31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
        for (int m = 1; m <= 12; m++) {
            for (int d = 1; d <= lengths[m - 1]; d++) {
                day_t got = 0;
                assert_true(day_of_civil((struct civil){y, m, d}, &got));
                assert_int_equal(got, day);
                struct civil c = civil_of_day(day);
                assert_true(c.year == y && c.month == m && c.day == d);
                day++;
            }
            assert_false(day_of_civil((struct civil){y, m, lengths[m - 1] + 1}, &(day_t){0}));
        }
    }
}

static void dates_text(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    day_t d = 0;
    assert_true(day_parse(S("2026-08-31"), &d));
    struct text t = text_new(&a);
    text_day(&t, day_add_months(d, 6));
    assert_text(text_str(&t), "2027-02-28");
    assert_int_equal(day_weekday(d), 1);
    assert_false(day_parse(S("2027-02-29"), &d));
    assert_false(day_parse(S("2027-2-9"), &d));
    assert_false(day_parse(S("2027-02-09 "), &d));
    /* RFC 3339 section 5.8, examples: the first two name the same kind of instant by different offsets. */
    instant_ms at = 0;
    instant_ms same = 0;
    assert_true(instant_parse(S("1985-04-12T23:20:50.52Z"), &at));
    t = text_new(&a);
    text_instant(&t, at);
    assert_text(text_str(&t), "1985-04-12T23:20:50.520Z");
    assert_true(instant_parse(S("1996-12-19T16:39:57-08:00"), &at));
    assert_true(instant_parse(S("1996-12-20T00:39:57Z"), &same));
    assert_true(at == same);
    assert_true(instant_parse(S("1990-12-31T23:59:60Z"), &at));
    static const char *const bad[] = {"2026-01-01T00:00:00",
                                      "2026-01-01T24:00:00Z",
                                      "2026-01-01",
                                      "2026-01-01T00:00:00+1:00",
                                      "2026-01-01T00:00:00.Z",
                                      "2026-01-01T00:00:00Zx",
                                      ""};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_false(instant_parse(str_of(bad[i]), &at));
    }
    assert_int_equal(day_of_instant(-1, 0), -1);
    assert_int_equal(day_of_instant(86399999, 1), 1);
    arena_free(&a);
}

static void text_tools(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str rest = S("a,,b");
    struct str piece;
    assert_true(str_next(&rest, ',', &piece) && str_eq(piece, S("a")));
    assert_true(str_next(&rest, ',', &piece) && piece.n == 0);
    assert_true(str_next(&rest, ',', &piece) && str_eq(piece, S("b")));
    assert_false(str_next(&rest, ',', &piece));
    static const struct {
        const char *word;
        ptrdiff_t nearest;
    } rows[] = {{"labuor", 0}, {"stpes", 1}, {"zzz", -1}, {"parst", 2}};
    static const struct str keys[] = {{"labour", 6}, {"steps", 5}, {"parts", 5}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(str_nearest(str_of(rows[i].word), keys, 3), rows[i].nearest);
    }
    /* Well-formedness examples: RFC 3629 sections 3 and 10 (overlong, surrogate, past U+10FFFF). */
    assert_true(str_is_utf8(S("gr\xc3\xb6\xc3\x9f"
                              "e \xe2\x89\xa5 \xf0\x9f\x9a\x9c")));
    assert_false(str_is_utf8(S("\xc0\x80")));
    assert_false(str_is_utf8(S("\xed\xa0\x80")));
    assert_false(str_is_utf8(S("\xf4\x90\x80\x80")));
    assert_false(str_is_utf8(S("\xe2\x89")));
    assert_int_equal(str_chars(S("\xc2\xb0"
                                 "C")),
                     2);
    arena_free(&a);
}

static void json_writer(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_str(&j, "s", S("a\"\\\n\x01\xff"));
    json_begin_array(&j, "n");
    json_num(&j, NULL, 0.1);
    json_num(&j, NULL, NAN);
    json_end_array(&j);
    json_begin_object(&j, "o");
    json_end_object(&j);
    json_end_object(&j);
    assert_text(text_str(&t), "{\"s\":\"a\\\"\\\\\\n\\u0001\xef\xbf\xbd\",\"n\":[0.1,null],\"o\":{}}");
    arena_free(&a);
}

static void findings(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 2);
    struct diag late = {DIAG_ERROR,    {S("b.yaml"), 3, 9},
                        "unknown-key", S("unknown key 'labuor'"),
                        S("labour"),   S("\ttask: { labuor: 25 min }")};
    struct diag early = {DIAG_DOUBT, {S("b.yaml"), 1, 1}, "gap", S("gap"), S(""), S("")};
    diags_add(&d, late);
    diags_add(&d, early);
    diags_add(&d, late);
    diags_sort(&d);
    assert_int_equal(d.n, 2);
    assert_int_equal(d.left_out, 1);
    assert_int_equal(d.errors, 2);
    assert_string_equal(d.at[0].rule, "gap");
    struct text t = text_new(&a);
    diag_print(&t, &d.at[1]);
    assert_text(text_str(&t), "b.yaml:3:9: error: unknown key 'labuor' [unknown-key]\n"
                              "    \ttask: { labuor: 25 min }\n    \t       ^\n    right: labour\n");
    struct err e = err_new(&a);
    assert_false(
        err_at(&e, (struct where){S("x.csv"), 2, 0}, ERR_INPUT, "a date", "'", "32.1.", "' is no date", (char *)0));
    assert_false(err_set(&e, ERR_SYSTEM, NULL, "later", (char *)0));
    err_context(&e, S("import"));
    assert_text(err_text(&a, &e), "x.csv:2: import: '32.1.' is no date; a date");
    arena_free(&a);
}

static void maps(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct map m = map_new(&a);
    for (int i = 0; i < 1000; i++) {
        struct text t = text_new(&a);
        text_int(&t, i * 7919);
        assert_true(map_put(&m, text_str(&t), i));
        assert_false(map_put(&m, text_str(&t), i));
    }
    int64_t v = -1;
    assert_true(map_get(&m, S("7919"), &v) && v == 1);
    assert_false(map_get(&m, S("8"), NULL));
    assert_int_equal(m.n, 1000);
    arena_free(&a);
}

static void arenas(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct arena_mark start = arena_mark(&a);
    char *p = arena_alloc(&a, 1, 1000);
    p[999] = 1;
    struct arena_mark mark = arena_mark(&a);
    for (int i = 0; i < 100; i++) {
        char *q = arena_alloc(&a, 100000, 1);
        assert_int_equal(q[99999], 0);
        q[0] = 1;
    }
    arena_rewind(&a, mark);
    assert_int_equal(p[999], 1);
    arena_rewind(&a, start);
    assert_int_equal(a.total, 0);
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(number_rfc8785), cmocka_unit_test(number_shortest_round_trip),
        cmocka_unit_test(number_fixed),   cmocka_unit_test(number_read),
        cmocka_unit_test(dates_count),    cmocka_unit_test(dates_text),
        cmocka_unit_test(text_tools),     cmocka_unit_test(json_writer),
        cmocka_unit_test(findings),       cmocka_unit_test(maps),
        cmocka_unit_test(arenas),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
