/* Cleaning an hour meter, its rate, and what is due by hours or calendar. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "meter/meter.h"
#include "reserve/reserve.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DAY ((instant_ms)86400000)

/* A history in days and hours, and the flag each reading must get: g good, b backwards, f too fast, s said twice. The
 * flags follow from the definition in meter.h, counted by hand. */
static void cleaning(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int n;
        double day[8], hours[8];
        const char *flags;
    } rows[] = {
        {"all well", 3, {0, 10, 20}, {100, 130, 150}, "ggg"},
        {"one digit too many costs itself alone", 4, {0, 10, 20, 30}, {100, 1300, 150, 170}, "gfgg"},
        {"one digit missing", 4, {0, 10, 20, 30}, {1000, 103, 1050, 1070}, "gbgg"},
        {"swapped digits beyond 24 h a day", 4, {0, 1, 2, 3}, {1268, 1628, 1280, 1290}, "gfgg"},
        {"the last one is wrong", 4, {0, 10, 20, 30}, {100, 130, 150, 15}, "gggb"},
        {"standing still is good", 3, {0, 10, 20}, {100, 100, 100}, "ggg"},
        {"twice within a minute", 3, {0, 10, 10.0002}, {100, 130, 130}, "ggs"},
        {"24 h a day is possible", 2, {0, 10}, {100, 340}, "gg"},
        {"a little more is rounding, much more is not", 3, {0, 1, 2}, {100, 124.4, 149.5}, "ggf"},
        {"negative", 3, {0, 10, 20}, {100, -5, 150}, "gbg"},
        {"not a number", 3, {0, 10, 20}, {100, NAN, 150}, "gbg"},
        {"single", 1, {0}, {100}, "g"},
        {"none", 0, {0}, {0}, ""},
    };
    static const char letters[] = {
        [METER_GOOD] = 'g', [METER_BACKWARDS] = 'b', [METER_TOO_FAST] = 'f', [METER_SAME] = 's'};
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct meter_reading readings[8];
        for (int k = 0; k < rows[i].n; k++) { /* handed in backwards: order must not matter */
            int from = rows[i].n - 1 - k;
            readings[k] = (struct meter_reading){
                .at = (instant_ms)(rows[i].day[from] * (double)DAY), .hours = rows[i].hours[from], .source = from};
        }
        struct meter_history h = meter_clean(&a, readings, rows[i].n, NULL, 0);
        char got[9] = "";
        for (int k = 0; k < h.n; k++) {
            got[k] = letters[h.readings[k].flag];
            assert_int_equal(h.readings[k].source, k);
        }
        if (strcmp(got, rows[i].flags) != 0) {
            fail_msg("%s: got %s, expected %s", rows[i].name, got, rows[i].flags);
        }
    }
    arena_free(&a);
}

/* A new meter at 1200 h that starts at 0, and one that starts at 3 h with the old one unreadable. */
static void swaps(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const struct meter_reading readings[] = {
        {.at = 0, .hours = 1100},
        {.at = 10 * DAY, .hours = 1190},
        {.at = 20 * DAY, .hours = 40},
        {.at = 40 * DAY, .hours = 15},
    };
    const struct meter_swap two[] = {{30 * DAY, (double)NAN, 3}, {11 * DAY, 1200, 0}};
    struct meter_history h = meter_clean(&a, readings, 4, two, 2);
    assert_int_equal(h.n_good, 4);
    assert_true(h.readings[2].total == 1240);
    assert_true(h.readings[3].total == 1240 + 12);
    assert_true(h.offset == 1237);
    struct meter_use use = meter_use(&a, &h, NULL, 0, 365, 2);
    assert_true(use.known && use.hours_now == 1252 && use.n == 4);
    /* Totals 1100, 1190, 1240, 1252 on days 0, 10, 20, 40: slopes 9, 7, 3.8, 5, 2.0667, 0.6; their median is (3.8 + 5)
     * / 2. */
    assert_true(fabs(use.hours_per_day - 4.4) < 1e-12);
    assert_true(fabs(meter_total_at(&h, &use, 15 * DAY) - 1215) < 1e-9);
    assert_true(fabs(meter_total_at(&h, &use, 50 * DAY) - (1252 + 44)) < 1e-9);
    assert_true(meter_total_at(&h, &use, -DAY) == 1100);
    /* Twenty of the last days out of service: the same hours in half the days. */
    const struct meter_pause pause = {20 * DAY, 40 * DAY};
    struct meter_history two_readings = meter_clean(
        &a, (const struct meter_reading[]){{.at = 0, .hours = 0}, {.at = 40 * DAY, .hours = 40}}, 2, NULL, 0);
    assert_true(fabs(meter_use(&a, &two_readings, NULL, 0, 90, 2).hours_per_day - 1) < 1e-12);
    assert_true(fabs(meter_use(&a, &two_readings, &pause, 1, 90, 2).hours_per_day - 2) < 1e-12);
    arena_free(&a);
}

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

/* Property: of a true history with some readings mistyped by a factor of ten, the true ones stay good and the rate is
 * found. */
static void robust(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20260906;
    for (int round = 0; round < 300; round++) {
        uint64_t x = seed + (uint64_t)round * 7919 + 1;
        struct arena_mark mark = arena_mark(&a);
        struct meter_reading readings[40];
        bool wrong[40];
        double rate = 0.5 + (double)(next_random(&x) % 70) / 10;
        int n_wrong = 0;
        for (int i = 0; i < 40; i++) {
            wrong[i] = i > 0 && next_random(&x) % 10 == 0;
            n_wrong += wrong[i];
            double hours = 500 + rate * 7 * i;
            readings[i] =
                (struct meter_reading){.at = 7 * i * DAY,
                                       .hours = wrong[i] ? (next_random(&x) % 2 ? hours * 10 : hours / 10) : hours,
                                       .source = i};
        }
        struct meter_history h = meter_clean(&a, readings, 40, NULL, 0);
        for (int i = 0; i < 40; i++) {
            if ((h.readings[i].flag == METER_GOOD) == wrong[i]) {
                fail_msg("seed %llu round %d: reading %d of %g h is %s", (unsigned long long)seed, round, i,
                         h.readings[i].hours, meter_flag_text(h.readings[i].flag));
            }
        }
        assert_int_equal(h.n_good, 40 - n_wrong);
        struct meter_use use = meter_use(&a, &h, NULL, 0, 120, 5);
        assert_true(fabs(use.hours_per_day - rate) < 1e-9);
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

static day_t day(const char *iso)
{
    day_t d = DAY_NONE;
    assert_true(day_parse(str_of(iso), &d));
    return d;
}

/* The first row is case calendar-01 of tests/data/checks/engineering/15_calendar_text.json (rule: the earlier of the
 * two limits); the others follow from the same rule by hand. 146 h in 259 days project the hour limit of the first to
 * late May 2027. */
static void whichever_first(void **state)
{
    (void)state;
    static const struct {
        struct interval every;
        double since_h;
        const char *since;
        double now_h, per_day;
        const char *today, *p50, *calendar;
        double left;
        enum reserve_rule rule;
        bool out;
    } rows[] = {
        {{250, 12, 0},
         812,
         "2026-03-10",
         958,
         146.0 / 259,
         "2026-11-24",
         "2027-03-10",
         "2027-03-10",
         104,
         RESERVE_CALENDAR,
         false},
        {{250, 12, 0}, 812, "2026-03-10", 958, 5, "2026-11-24", "2026-12-14", "2027-03-10", 104, RESERVE_HOURS, false},
        {{250, 12, 0}, 812, "2026-03-10", 1062, 5, "2026-11-24", "2026-11-24", "2027-03-10", 0, RESERVE_HOURS, false},
        {{250, 12, 0}, 812, "2026-03-10", 1070, 5, "2026-11-24", "2026-11-24", "2027-03-10", -8, RESERVE_HOURS, true},
        {{250, 12, 0},
         812,
         "2025-03-10",
         900,
         1,
         "2026-11-24",
         "2026-03-10",
         "2026-03-10",
         162,
         RESERVE_CALENDAR,
         true},
        {{250, 12, 0},
         812,
         "2025-11-24",
         900,
         0,
         "2026-11-24",
         "2026-11-24",
         "2026-11-24",
         162,
         RESERVE_CALENDAR,
         false},
        {{0, 6, 0}, 812, "2026-08-31", 900, 1, "2026-11-24", "2027-02-28", "2027-02-28", NAN, RESERVE_CALENDAR, false},
        {{100, 0, 0}, 812, "2026-03-10", 862, 0, "2026-11-24", NULL, NULL, 50, RESERVE_HOURS, false},
        {{100, 0, 0}, 812, "2026-03-10", NAN, NAN, "2026-11-24", NULL, NULL, NAN, RESERVE_NONE, false},
        {{0, 0, 10}, NAN, "2026-11-20", 862, 1, "2026-11-24", "2026-11-30", "2026-11-30", NAN, RESERVE_CALENDAR, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reserve_since since = {true, rows[i].since_h, day(rows[i].since)};
        struct reserve r =
            reserve_predetermined(rows[i].every, since, rows[i].now_h, rows[i].per_day, day(rows[i].today));
        day_t p50 = rows[i].p50 ? day(rows[i].p50) : DAY_NONE;
        day_t calendar = rows[i].calendar ? day(rows[i].calendar) : DAY_NONE;
        bool left = isnan(rows[i].left) ? isnan(r.hours_left) : r.hours_left == rows[i].left;
        if (r.p50 != p50 || r.calendar_day != calendar || !left || r.rule != rows[i].rule || r.out != rows[i].out) {
            fail_msg("row %zu: p50 %d (%d), calendar %d (%d), left %g (%g), rule %s, out %d", i, r.p50, p50,
                     r.calendar_day, calendar, r.hours_left, rows[i].left, reserve_rule_text(r.rule), r.out);
        }
    }
}

/* Adding hours to the interval, or lowering the rate, never brings the day forward. */
static void reserve_monotone(void **state)
{
    (void)state;
    uint64_t x = 99;
    for (int i = 0; i < 2000; i++) {
        struct interval every = {(double)(next_random(&x) % 500), (int)(next_random(&x) % 24), 0};
        struct reserve_since since = {true, (double)(next_random(&x) % 1000), (day_t)(20000 + next_random(&x) % 1000)};
        double now_h = since.total_h + (double)(next_random(&x) % 600);
        double rate = (double)(next_random(&x) % 80) / 10;
        struct reserve r = reserve_predetermined(every, since, now_h, rate, 21000);
        struct interval more = every;
        more.hours += every.hours > 0 ? 25 : 0;
        struct reserve later = reserve_predetermined(more, since, now_h, rate / 2, 21000);
        assert_true(later.p50 == DAY_NONE || (r.p50 != DAY_NONE && later.p50 >= r.p50));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cleaning),         cmocka_unit_test(swaps),
        cmocka_unit_test(robust),           cmocka_unit_test(whichever_first),
        cmocka_unit_test(reserve_monotone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
