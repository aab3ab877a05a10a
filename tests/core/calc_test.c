/* The workshop's arithmetic: what the check cases (tests/data/checks/engineering) do not reach. Published values stand
 * beside their source. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "calc/calc.h"
#include "calendar/duration.h"
#include "calendar/icalendar.h"
#include "calendar/week.h"
#include "calendar/zone.h"
#include "fastener/fastener.h"
#include "fluid/coolant.h"
#include "fluid/viscosity.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define assert_text(s, z) assert_string_equal(str_z(&a, (s)), (z))

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static uint64_t seed_of_run(void)
{
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20260301;
    print_message("# seed %llu\n", (unsigned long long)seed);
    return seed ? seed : 1;
}

/* Every row can be listed and run: names are unique, units are known and of the field's kind, presets can be read. */
static void list_is_whole(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const struct calc *c = NULL;
    size_t n = 0;
    for (; (c = calc_at(n)) != NULL; n++) {
        if (calc_find(str_of(c->name)) != c || !c->title || !c->formula || !c->source || !c->run) {
            fail_msg("calculation %s is not whole", c->name);
        }
        struct calc_call call = calc_call_new(c, &a);
        for (int side = 0; side < 2; side++) {
            const struct calc_field *fields = side ? c->outputs : c->inputs;
            size_t count = side ? calc_output_count(c) : calc_input_count(c);
            assert_true(count > 0);
            for (size_t i = 0; i < count; i++) {
                const struct unit *u = fields[i].kind != Q_NONE ? unit_find(str_of(fields[i].unit)) : NULL;
                if (!fields[i].meaning || (fields[i].kind != Q_NONE && (!u || u->kind != fields[i].kind))) {
                    fail_msg("%s: field %s has no meaning or no unit of its kind", c->name, fields[i].name);
                }
                struct err e = err_new(&a);
                if (!side && fields[i].preset && fields[i].preset[0] &&
                    !calc_give(&call, str_of(fields[i].name), str_of(fields[i].preset), &e)) {
                    fail_msg("%s: preset of %s: %s", c->name, fields[i].name, str_z(&a, err_text(&a, &e)));
                }
            }
        }
    }
    assert_true(n >= 60);
    assert_null(calc_find(S("no-such-thing")));
    assert_string_equal(calc_nearest(S("tire-pressure"))->name, "tyre-pressure");
    arena_free(&a);
}

/* Property: whatever is given, a calculation refuses with what is wrong and what would be right, or gives finite
 * numbers. */
static void never_a_number_from_nonsense(void **state)
{
    (void)state;
    static const double nasty[] = {(double)NAN,
                                   (double)INFINITY,
                                   (double)-INFINITY,
                                   0,
                                   -0.0,
                                   -1,
                                   1,
                                   1e-300,
                                   1e300,
                                   -1e300,
                                   5e-324,
                                   0.5,
                                   2,
                                   10,
                                   100,
                                   273.15,
                                   300,
                                   1e3,
                                   1e5,
                                   1e6,
                                   1e-6,
                                   1e-3,
                                   101325,
                                   -101326};
    uint64_t x = seed_of_run();
    const struct calc *c = NULL;
    size_t answered = 0;
    for (size_t n = 0; (c = calc_at(n)) != NULL; n++) {
        for (int round = 0; round < 300; round++) {
            struct arena a = arena_new(&arena_libc);
            struct calc_call call = calc_call_new(c, &a);
            struct err e = err_new(&a);
            double list[5];
            for (size_t k = 0; k < 5; k++) {
                list[k] = nasty[next_random(&x) % (sizeof nasty / sizeof *nasty)];
            }
            bool bad = false; /* a NaN or infinity was given */
            for (size_t i = 0; i < calc_input_count(c); i++) {
                const struct calc_field *f = &c->inputs[i];
                struct str name = str_of(f->name);
                double v = nasty[next_random(&x) % (sizeof nasty / sizeof *nasty)];
                if (f->preset && next_random(&x) % 2) {
                    continue;
                }
                if (f->form == CALC_NUMBER) {
                    calc_give_number(&call, name, v, &e);
                    bad = bad || !isfinite(v);
                } else if (f->form == CALC_LIST) {
                    calc_give_list(&call, name, list, next_random(&x) % 6, &e);
                } else if (f->form == CALC_FLAG) {
                    calc_give_flag(&call, name, next_random(&x) % 2, &e);
                } else {
                    calc_give_text(&call, name, next_random(&x) % 2 ? S("8.8") : S("ethylene"), &e);
                }
            }
            assert_int_equal(e.kind, ERR_NONE);
            if (!calc_run(&call, &e)) {
                if (e.kind == ERR_NONE || e.what.n == 0 || e.right.n == 0) {
                    fail_msg("%s refuses without saying why or what would be right: %s", c->name,
                             str_z(&a, err_text(&a, &e)));
                }
                arena_free(&a);
                continue;
            }
            answered++;
            if (bad) {
                fail_msg("%s took a number that is none", c->name);
            }
            for (size_t i = 0; i < calc_output_count(c); i++) {
                if (call.out[i].form == CALC_NUMBER && !isfinite(call.out[i].number)) {
                    fail_msg("%s gives %g for %s", c->name, call.out[i].number, c->outputs[i].name);
                }
                for (size_t k = 0; k < call.out[i].n; k++) {
                    assert_true(isfinite(call.out[i].list[k]));
                }
            }
            arena_free(&a);
        }
    }
    assert_true(answered > 100);
}

/* Inputs as a technician writes them, and each refusal of writing. */
static void written_inputs(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct calc_call call = calc_call_new(calc_find(S("tyre-pressure")), &a);
    assert_true(calc_give(&call, S("gauge"), S("20 psi"), &e));
    assert_true(calc_give(&call, S("from"), S("70 degF"), &e));
    assert_true(calc_give(&call, S("to"), S("50 degF"), &e));
    assert_true(calc_run(&call, &e));
    struct text t = text_new(&a);
    text_calc_value(&t, calc_output(call.calc, S("gauge")), calc_result(&call, S("gauge")), UNITS_US);
    assert_text(text_str(&t), "18.69 psi"); /* as printed in the worked example of the check case tyres-01 */
    static const struct {
        const char *calc, *input, *written, *message;
    } bad[] = {
        {"tyre-pressure", "gage", "20 psi", "tyre-pressure has no input \"gage\"; did you mean gauge?"},
        {"tyre-pressure", "gauge", "20", "gauge needs a unit: it is a pressure; bar"},
        {"tyre-pressure", "gauge", "20 degC", "gauge is a pressure, not a temperature; bar"},
        {"tyre-pressure", "gauge", "20 pzi", "gauge: unknown unit \"pzi\""},
        {"bolt-torque", "k", "0.2 N", "k: no number: \"0.2 N\"; a bare number"},
        {"chain-limit", "fixed", "maybe", "fixed: \"maybe\"; yes or no"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err own = err_new(&a);
        struct calc_call one = calc_call_new(calc_find(str_of(bad[i].calc)), &a);
        assert_false(calc_give(&one, str_of(bad[i].input), str_of(bad[i].written), &own));
        struct str text = err_text(&a, &own);
        if (str_find(text, str_of(bad[i].message)) < 0) {
            fail_msg("got \"%s\", expected \"%s\"", str_z(&a, text), bad[i].message);
        }
    }
    struct calc_call empty = calc_call_new(calc_find(S("bolt-torque")), &a);
    struct err missing = err_new(&a);
    assert_false(calc_run(&empty, &missing));
    assert_int_equal(missing.kind, ERR_USAGE);
    assert_text(missing.what, "bolt-torque needs k");
    arena_free(&a);
}

/* IAPWS-IF97 release (2007), table 36: saturation temperature by the backward equation. */
static void water_boils_as_iapws_says(void **state)
{
    (void)state;
    static const double rows[][2] = {{0.1e6, 0.372755919e3}, {1e6, 0.453035632e3}, {10e6, 0.584149488e3}};
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < 3; i++) {
        struct err e = err_new(&a);
        double t = 0;
        assert_true(water_boiling(rows[i][0], &t, &e));
        assert_true(fabs(t - rows[i][1]) < 1e-6);
    }
    arena_free(&a);
}

/* ISO 898-1, nominal stress areas of the coarse series, as printed (tables.json of the check cases). */
static void stress_areas_as_printed(void **state)
{
    (void)state;
    static const double rows[][2] = {{5, 14.2}, {6, 20.1}, {8, 36.6}, {10, 58.0}, {12, 84.3}, {14, 115},
                                     {16, 157}, {18, 192}, {20, 245}, {22, 303},  {24, 353}};
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        double area = 0;
        assert_true(
            thread_stress_area(THREAD_ISO, rows[i][0] * 1e-3, thread_coarse_pitch(rows[i][0] * 1e-3), &area, &e));
        double step = rows[i][1] < 100 ? 0.05 : 0.5; /* half of the last digit printed */
        if (fabs(area * 1e6 - rows[i][1]) > step * 1.01) {
            fail_msg("M%g: %.3f mm2, printed %g", rows[i][0], area * 1e6, rows[i][1]);
        }
    }
    arena_free(&a);
}

/* Property: a viscosity line there and back, also through the standard's low range. */
static void viscosity_there_and_back(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    struct arena a = arena_new(&arena_libc);
    for (int i = 0; i < 2000; i++) {
        struct arena_mark mark = arena_mark(&a);
        double v40 = 2 + (double)(next_random(&x) % 5000) / 10;
        double v100 = v40 / (2 + (double)(next_random(&x) % 150) / 10);
        double t = 263.15 + (double)(next_random(&x) % 1300) / 10;
        struct viscosity_line line;
        struct err e = err_new(&a);
        double v = 0;
        double back = 0;
        if (v100 > 0.3 &&
            viscosity_fit((struct viscosity_point){313.15, v40 * 1e-6}, (struct viscosity_point){373.15, v100 * 1e-6},
                          273.15, &line, &e) &&
            viscosity_at(line, t, &v, &e)) {
            assert_true(viscosity_temp(line, v, &back, &e));
            assert_true(fabs(back - t) < 1e-6);
            double edge = 0;
            assert_true(viscosity_at(line, 313.15, &edge, &e));
            assert_true(fabs(edge / (v40 * 1e-6) - 1) < 1e-9);
        }
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

/* RFC 5545 3.3.6 and its grammar. */
static void durations(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t seconds;
        const char *printed;
    } rows[] = {
        {"P15DT5H0M20S", 1314020, "P15DT5H20S"},
        {"P7W", 4233600, "P7W"},
        {"PT0S", 0, "PT0S"},
        {"-PT15M", -900, "-PT15M"},
        {"+P1D", 86400, "P1D"},
        {"PT1H30M", 5400, "PT1H30M"},
        {"PT36H", 129600, "P1DT12H"},
    };
    static const char *const bad[][2] = {
        {"", "a duration starts with P"},
        {"15D", "a duration starts with P"},
        {"P", "a duration without a number"},
        {"P1DT", "a duration without a number"},
        {"P1H", "not a duration"},
        {"P1Y", "years and months have no fixed length"},
        {"P1M", "years and months have no fixed length"},
        {"P1W2D", "weeks stand alone"},
        {"PT1M1H", "units in the wrong order"},
        {"P1.5D", "not a duration"},
        {"P1DT1", "not a duration"},
        {"P999999999999W", "too long a duration"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        int64_t seconds = 1;
        struct text t = text_new(&a);
        assert_true(duration_parse(str_of(rows[i].text), &seconds, &e));
        assert_int_equal(seconds, rows[i].seconds);
        text_duration(&t, seconds);
        assert_text(text_str(&t), rows[i].printed);
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err e = err_new(&a);
        int64_t seconds = 1;
        assert_false(duration_parse(str_of(bad[i][0]), &seconds, &e));
        assert_int_equal(seconds, 1);
        if (!str_starts(e.what, str_of(bad[i][1]))) {
            fail_msg("\"%s\": %s", bad[i][0], str_z(&a, e.what));
        }
    }
    arena_free(&a);
}

/* ISO 8601-1:2019, 5.2.3 week dates of days around new year (computed by the rule of the first Thursday; agree with the
 * standard's 1995 and 2008 examples). */
static void weeks(void **state)
{
    (void)state;
    static const char *const rows[][3] = {
        {"1995-01-01", "1994-W52-7", "1995-001"},
        {"2008-12-29", "2009-W01-1", "2008-364"},
        {"2010-01-03", "2009-W53-7", "2010-003"},
        {"2024-12-31", "2025-W01-2", "2024-366"},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        day_t day = 0;
        struct text week = text_new(&a);
        struct text ordinal = text_new(&a);
        assert_true(day_parse(str_of(rows[i][0]), &day));
        text_week(&week, day);
        text_ordinal(&ordinal, day);
        assert_text(text_str(&week), rows[i][1]);
        assert_text(text_str(&ordinal), rows[i][2]);
    }
    arena_free(&a);
}

/* RFC 5545 3.3.5: New York, 2007 rules: forward 2007-03-11 07:00Z, back 2007-11-04 06:00Z. */
static void local_times(void **state)
{
    (void)state;
    const struct zone_change changes[] = {{1173596400000, -240}, {1194156000000, -300}};
    const struct zone z = {-300, changes, 2};
    static const char *const rows[][2] = {
        {"2007-01-15T12:00:00", "2007-01-15T17:00:00.000Z"},
        {"2007-07-15T12:00", "2007-07-15T16:00:00.000Z"},
        {"20070311T023000", "2007-03-11T07:30:00.000Z"},
        {"2007-11-04T01:30:00", "2007-11-04T05:30:00.000Z"}, /* first coming */
        {"2007-11-04T02:00:00", "2007-11-04T07:00:00.000Z"},
        {"2007-03-11T03:00:00", "2007-03-11T07:00:00.000Z"},
    };
    static const char *const bad[] = {"",
                                      "2007-02-29T12:00:00",
                                      "2007-01-15 12:00:00",
                                      "2007-01-15T24:00:00",
                                      "2007-01-15T12:60:00",
                                      "2007-01-15T12:00:00Z",
                                      "x007-01-15T12:00:00"};
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        int64_t local = 0;
        struct text t = text_new(&a);
        assert_true(local_parse(str_of(rows[i][0]), &local, &e));
        text_instant(&t, zone_instant(&z, local));
        assert_text(text_str(&t), rows[i][1]);
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err e = err_new(&a);
        int64_t local = 0;
        assert_false(local_parse(str_of(bad[i]), &local, &e));
    }
    day_t day = 0;
    assert_true(day_parse(S("2007-03-11"), &day));
    assert_int_equal(zone_day_ms(&z, day), 23 * 3600000);
    assert_true(day_parse(S("2007-11-04"), &day));
    assert_int_equal(zone_day_ms(&z, day), 25 * 3600000);
    arena_free(&a);
}

/* Property: any text folds to lines of at most 75 octets without cutting a character, and unfolds and unescapes to
 * itself. */
static void calendar_text_there_and_back(void **state)
{
    (void)state;
    static const char *const pieces[] = {"a", "é", "€", "𝄞", ";", ",", "\\", "\n", " ", ":", "Filter", "\t"};
    uint64_t x = seed_of_run();
    struct arena a = arena_new(&arena_libc);
    for (int i = 0; i < 2000; i++) {
        struct arena_mark mark = arena_mark(&a);
        struct text value = text_new(&a);
        for (size_t n = next_random(&x) % 120; n > 0; n--) {
            text_addz(&value, pieces[next_random(&x) % (sizeof pieces / sizeof *pieces)]);
        }
        struct text escaped = text_new(&a);
        struct text folded = text_new(&a);
        struct text unfolded = text_new(&a);
        struct text back = text_new(&a);
        ical_escape(&escaped, text_str(&value));
        ical_line(&folded, text_str(&escaped));
        struct str rest = text_str(&folded);
        while (rest.n > 0) {
            ptrdiff_t end = str_find(rest, S("\r\n"));
            assert_true(end >= 0 && end <= 75);
            assert_true(str_is_utf8(str_cut(rest, 0, (size_t)end)));
            rest = str_cut(rest, (size_t)end + 2, rest.n);
        }
        ical_unfold(&unfolded, str_cut(text_str(&folded), 0, folded.n - 2));
        ical_unescape(&back, text_str(&unfolded));
        assert_true(str_eq(text_str(&back), text_str(&value)));
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(list_is_whole),
        cmocka_unit_test(never_a_number_from_nonsense),
        cmocka_unit_test(written_inputs),
        cmocka_unit_test(water_boils_as_iapws_says),
        cmocka_unit_test(stress_areas_as_printed),
        cmocka_unit_test(viscosity_there_and_back),
        cmocka_unit_test(durations),
        cmocka_unit_test(weeks),
        cmocka_unit_test(local_times),
        cmocka_unit_test(calendar_text_there_and_back),
    };
    return cmocka_run_group_tests_name("calc", tests, NULL, NULL);
}
