/* The plots: round marks on the axes, valid XML, nothing that is not a number on paper, letters that stay in their
 * lines. */
#include "plot/plot.h"

#include "base/arena.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* Marks at multiples of 1, 2 or 5 times a power of ten are counted by hand from the span. */
static void test_ticks(void **state)
{
    static const struct {
        double from, to;
        int most;
        double first, step;
        int n, decimals;
    } rows[] = {
        {0, 10, 6, 0, 2, 6, 0},           {0, 100, 11, 0, 10, 11, 0},
        {0.1, 0.9, 5, 0.2, 0.2, 4, 1},    {-3, 3, 7, -3, 1, 7, 0},
        {1.38, 1.62, 6, 1.4, 0.05, 5, 2}, {12.35, 13.05, 4, 12.4, 0.2, 4, 1},
        {0, 1e6, 5, 0, 500000, 3, 0},     {5, 5, 5, 0, 0, 0, 0},
        {0, NAN, 5, 0, 0, 0, 0},          {0, INFINITY, 5, 0, 0, 0, 0},
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct plot_ticks t = plot_ticks_of(rows[i].from, rows[i].to, rows[i].most);
        assert_int_equal(t.n, rows[i].n);
        if (t.n) {
            assert_true(fabs((t.first) - (rows[i].first)) <= 1e-9 * fabs(rows[i].step));
            assert_true(fabs((t.step) - (rows[i].step)) <= 1e-9 * rows[i].step);
            assert_int_equal(t.decimals, rows[i].decimals);
        }
    }
}

static day_t day(int y, int m, int d)
{
    day_t at = 0;
    assert_true(day_of_civil((struct civil){y, m, d}, &at));
    return at;
}

/* Days from a calendar: 2026-11-02 and 2026-11-09 are Mondays (ISO 8601 weekday, as `cal` prints). */
static void test_day_ticks(void **state)
{
    const struct {
        day_t from, to;
        int most, n;
        day_t first;
        const char *label;
    } rows[] = {
        {day(2026, 11, 1), day(2026, 11, 5), 6, 5, day(2026, 11, 1), "1 Nov"},
        {day(2026, 11, 1), day(2026, 11, 29), 5, 4, day(2026, 11, 2), "2 Nov"},
        {day(2026, 1, 15), day(2026, 6, 15), 6, 5, day(2026, 2, 1), "Feb 2026"},
        {day(2025, 11, 20), day(2027, 1, 10), 6, 5, day(2026, 1, 1), "Jan 2026"},
        {day(2020, 5, 1), day(2026, 5, 1), 7, 6, day(2021, 1, 1), "2021"},
    };
    (void)state;
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct plot_day_ticks t = plot_day_ticks_of(rows[i].from, rows[i].to, rows[i].most);
        assert_int_equal(t.n, rows[i].n);
        assert_int_equal((day_t)t.at[0], rows[i].first);
        struct text label = text_new(&a);
        plot_day_label(&label, t.at[0], t.step, NULL);
        assert_string_equal(text_z(&label), rows[i].label);
    }
    assert_int_equal(plot_day_ticks_of(-1e9, 1e9, 5).n, 0);
    assert_int_equal(plot_day_ticks_of(0, NAN, 5).n, 0);
    arena_free(&a);
}

/* A generator of its own, so that a failure can be run again: numerical recipes' LCG. */
static double next(uint64_t *seed)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (double)(*seed >> 11) / 9007199254740992.0;
}

/* Any number, now and then a hostile one. */
static double some(uint64_t *seed)
{
    static const double hostile[] = {NAN, INFINITY, -INFINITY, 1e308, -1e308, 0, 1e-320};
    return next(seed) < 0.1 ? hostile[(size_t)(next(seed) * 7)] : 20000 * next(seed) - 100;
}

#define MOST 30
struct made {
    struct plot p;
    struct plot_reading readings[MOST];
    struct plot_xy line[MOST], a[MOST], b[MOST], middle[MOST];
    struct plot_reset resets[MOST];
};

static void make(struct made *m, uint64_t *seed)
{
    size_t n = (size_t)(next(seed) * MOST);
    for (size_t i = 0; i < n; i++) {
        m->readings[i] = (struct plot_reading){some(seed), some(seed), some(seed), (enum plot_mark)(next(seed) * 4)};
        m->line[i] = (struct plot_xy){some(seed), some(seed)};
        m->a[i] = (struct plot_xy){some(seed), some(seed)};
        m->b[i] = (struct plot_xy){some(seed), some(seed)};
        m->middle[i] = (struct plot_xy){some(seed), some(seed)};
        m->resets[i] = (struct plot_reset){some(seed), S("<oil & \"filter\">\x01\xff")};
    }
    m->p = (struct plot){.title = S("a < b & c"),
                         .machine = S("B-03 ½°"),
                         .unit = S("bar"),
                         .says = S("]]> -->"),
                         .by_hours = next(seed) < 0.5,
                         .now = some(seed),
                         .low = some(seed),
                         .high = some(seed),
                         .end = some(seed),
                         .end_label = S("by <then>"),
                         .readings = m->readings,
                         .n_readings = n,
                         .line = m->line,
                         .n_line = n,
                         .resets = m->resets,
                         .n_resets = n,
                         .band_a = m->a,
                         .band_b = m->b,
                         .middle = m->middle,
                         .n_band = n,
                         .p10 = some(seed),
                         .p50 = some(seed),
                         .p90 = some(seed),
                         .crossing_y = some(seed)};
}

/* Elements open and close in order, attributes are quoted, no raw '<' or '&': enough of XML 1.0 for what is written. */
static bool well_formed(const char *z)
{
    const char *open[32];
    size_t depth = 0;
    while (*z) {
        if (*z == '&') {
            const char *end = strchr(z, ';');
            if (!end || end - z > 6) {
                return false;
            }
        }
        if (*z != '<') {
            z++;
            continue;
        }
        const char *end = strchr(z, '>');
        size_t name = end ? strcspn(z + 1 + (z[1] == '/'), " />") : 0;
        if (!name) {
            return false;
        }
        if (z[1] == '/') {
            if (depth == 0 || strncmp(open[--depth], z + 2, name) != 0) {
                return false;
            }
        } else if (end[-1] != '/') {
            open[depth++] = z + 1;
        }
        int quotes = 0;
        for (const char *c = z + 1; c < end; c++) {
            quotes += *c == '"';
            if (*c == '<') {
                return false;
            }
        }
        if (quotes % 2) {
            return false;
        }
        z = end + 1;
    }
    return depth == 0;
}

static void test_any_plot(void **state)
{
    (void)state;
    for (uint64_t first = 1; first <= 3000; first++) {
        uint64_t seed = first;
        struct arena a = arena_new(&arena_libc);
        struct made m = {0};
        make(&m, &seed);
        struct text svg = text_new(&a);
        plot_svg(&svg, &m.p, 700 * next(&seed), 300 * next(&seed));
        const char *z = text_z(&svg);
        if (!well_formed(z) || strstr(z, "not a number") || strstr(z, "inf") || !str_is_utf8(text_str(&svg))) {
            fail_msg("seed %llu: %s", (unsigned long long)first, z);
        }
        struct text letters = text_new(&a);
        int columns = 24 + (int)(next(&seed) * 100), rows = 5 + (int)(next(&seed) * 30), lines = 0;
        plot_text(&letters, &m.p, columns, rows);
        struct str rest = text_str(&letters), one;
        while (str_next(&rest, '\n', &one)) {
            lines += one.n > 0 || rest.n > 0;
            if (str_chars(one) > (size_t)columns + 6) {
                fail_msg("seed %llu: %zu characters in a line of %d", (unsigned long long)first, str_chars(one),
                         columns);
            }
        }
        assert_in_range(lines, rows - 1, rows + 1);
        arena_free(&a);
    }
}

/* Where a reading lies: in the middle of the field when it is alone between limits at equal distance. */
static void test_place(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct plot_reading r = {20000, 1.5, 0.05, PLOT_OUT};
    struct plot p = {.title = S("t"),
                     .low = 1,
                     .high = 2,
                     .readings = &r,
                     .n_readings = 1,
                     .now = NAN,
                     .end = NAN,
                     .p10 = NAN,
                     .p50 = NAN,
                     .p90 = NAN,
                     .crossing_y = NAN};
    struct plot_view v = plot_view_of(&p);
    assert_true(v.x0 < 20000 && v.x1 > 20000 && v.y0 < 1 && v.y1 > 2);
    assert_true(fabs((v.x0 + v.x1) - (40000)) <= 1e-9);
    assert_true(fabs((v.y0 + v.y1) - (3)) <= 1e-9);
    struct text letters = text_new(&a);
    plot_text(&letters, &p, 41, 21);
    struct str rest = text_str(&letters), line;
    int row = 0, at_row = -1;
    ptrdiff_t at_column = -1;
    for (; str_next(&rest, '\n', &line); row++) {
        ptrdiff_t x = str_find(line, S("x"));
        at_row = x >= 0 ? row : at_row;
        at_column = x >= 0 ? x : at_column;
    }
    assert_int_equal(at_row, 9);        /* of 19 rows of the field the middle one */
    assert_in_range(at_column, 24, 25); /* 9 of the axis and the middle of 32 */
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ticks),
        cmocka_unit_test(test_day_ticks),
        cmocka_unit_test(test_any_plot),
        cmocka_unit_test(test_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
