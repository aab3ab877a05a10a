/* Whole distributions of reserves: hours with the calendar, and trends of what is measured. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "reserve/measured.h"
#include "stats/trend.h"
#include "usage_world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define SEED 20260907u
#define TODAY 20000

/* A machine read today at 1000 h, about 2 h a day. */
static struct usage_state state_at(const struct usage_clock *clock)
{
    return (struct usage_state){.known = true,
                                .k = 0.6,
                                .c = 9,
                                .d = 27,
                                .g = 1,
                                .n = 0.2,
                                .day = TODAY,
                                .total = 1000,
                                .start = usage_clock_at(clock, TODAY),
                                .clock = clock};
}

static struct usage_clock clock_of(struct arena *a)
{
    struct usage_machine none = {0};
    return usage_clock_fit(a, &none, 1, -1, NULL, TODAY);
}

/* Hours, calendar, both, out, no model: rows counted by hand from the definition in reserve.h. */
static void hours_and_calendar(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct usage_clock clock = clock_of(&a);
    struct usage_state u = state_at(&clock);
    struct interval hours = {.hours = 100};
    struct interval both = {.hours = 100, .days = 60};
    struct reserve_since since = {true, 960, TODAY - 20}; /* 60 h and 40 days left */
    struct reserve h = reserve_forecast(hours, since, 1000, 2, TODAY, &u);
    assert_true(h.spread_known && h.rule == RESERVE_HOURS);
    assert_true(TODAY < h.p10 && h.p10 < h.p50 && h.p50 < h.p90 && h.hours_day == h.p50);
    double q = usage_quantile(&u, 60, 0.5);
    assert_int_equal(h.p50, (day_t)floor(q));
    struct reserve b = reserve_forecast(both, since, 1000, 2, TODAY, &u);
    assert_int_equal(b.calendar_day, TODAY + 40);
    assert_int_equal(b.p10, h.p10 < TODAY + 40 ? h.p10 : TODAY + 40);
    assert_int_equal(b.p90, TODAY + 40); /* P90 by hours lies beyond it */
    assert_true(h.p90 > TODAY + 40);
    for (int day = 0; day < 120; day += 7) {
        double by_hours = usage_passage(&u, 60, TODAY + day).p;
        double by_calendar = day > 40 ? 1 : 0; /* the due day itself is in time */
        double both_ways = 1 - (1 - by_hours) * (1 - by_calendar);
        assert_true(fabs(reserve_overdue(&h, TODAY + day) - by_hours) < 1e-12);
        assert_true(fabs(reserve_overdue(&b, TODAY + day) - both_ways) < 1e-12);
    }
    assert_true(reserve_overdue(&b, TODAY + 40) < 1 && reserve_overdue(&b, TODAY + 41) == 1);
    /* Out for sure: the day it had, no spread, certain. */
    struct reserve over = reserve_forecast(hours, (struct reserve_since){true, 890, TODAY - 20}, 1000, 2, TODAY, &u);
    assert_true(over.out && !over.spread_known && reserve_overdue(&over, TODAY) == 1);
    /* No model: as by the rate alone. */
    struct usage_state unknown = {0};
    struct reserve plain = reserve_predetermined(hours, since, 1000, 2, TODAY);
    struct reserve fallen_back = reserve_forecast(hours, since, 1000, 2, TODAY, &unknown);
    assert_true(!fallen_back.spread_known && fallen_back.p50 == plain.p50 && fallen_back.p10 == plain.p50);
    assert_true(reserve_overdue(&plain, plain.p50) == 0 && reserve_overdue(&plain, plain.p50 + 1) == 1);
    struct reserve nothing = reserve_forecast((struct interval){0}, since, 1000, 2, TODAY, &u);
    assert_true(nothing.rule == RESERVE_NONE && isnan(reserve_overdue(&nothing, TODAY)));
    struct reserve never_read = reserve_forecast(hours, since, NAN, NAN, TODAY, &unknown);
    assert_true(never_read.p50 == DAY_NONE && isnan(reserve_overdue(&never_read, TODAY)));
    arena_free(&a);
}

/* Longer intervals and later starts never run out sooner; a later day is never less probably overdue. */
static void never_shorter(void **state)
{
    (void)state;
    uint64_t x = SEED;
    print_message("# seed %u\n", SEED);
    struct arena a = arena_new(&arena_libc);
    struct usage_clock clock = clock_of(&a);
    for (int i = 0; i < 600; i++) {
        struct usage_state u = state_at(&clock);
        u.k = exp(world_normal(&x) - 1);
        u.c = exp(world_normal(&x) + 2);
        u.d = u.c * exp(world_normal(&x) + 1);
        struct interval every = {.hours = 1 + 400 * world_uniform(&x),
                                 .days = world_uniform(&x) < 0.5 ? 0 : 1 + (int)(400 * world_uniform(&x))};
        struct reserve_since since = {true, 1000 - 200 * world_uniform(&x), TODAY - (int)(100 * world_uniform(&x))};
        struct interval more = every;
        more.hours += 50 * world_uniform(&x);
        more.days += every.days ? 1 : 0;
        struct reserve_since a_day_later = since;
        a_day_later.day++;
        struct reserve r = reserve_forecast(every, since, 1000, 2, TODAY, &u);
        const struct reserve others[] = {reserve_forecast(more, since, 1000, 2, TODAY, &u),
                                         reserve_forecast(every, a_day_later, 1000, 2, TODAY, &u)};
        for (int k = 0; k < 2; k++) {
            const day_t pairs[][2] = {{r.p10, others[k].p10}, {r.p50, others[k].p50}, {r.p90, others[k].p90}};
            for (int j = 0; j < 3 && !r.out; j++) {
                assert_true(pairs[j][1] == DAY_NONE || (pairs[j][0] != DAY_NONE && pairs[j][1] >= pairs[j][0]));
            }
        }
        double before = 0;
        for (day_t day = TODAY; day < TODAY + 900; day += 1 + (day_t)(60 * world_uniform(&x))) {
            double now = reserve_overdue(&r, day);
            assert_true(now >= before - 1e-12 && now <= 1);
            before = now;
        }
    }
    arena_free(&a);
}

/* Out first, then P50, then P10, then hours; what is not known is last. */
static void order(void **state)
{
    (void)state;
    const struct reserve rising[] = {
        {.out = true, .p10 = 9, .p50 = 9, .hours_left = -1},
        {.p10 = 5, .p50 = 10, .hours_left = 50},
        {.p10 = 7, .p50 = 10, .hours_left = 3},
        {.p10 = 7, .p50 = 10, .hours_left = 4},
        {.p10 = 1, .p50 = 11, .hours_left = 1},
        {.p10 = DAY_NONE, .p50 = DAY_NONE, .hours_left = 2},
        {.p10 = DAY_NONE, .p50 = DAY_NONE, .hours_left = NAN},
    };
    for (size_t i = 0; i < sizeof rising / sizeof *rising; i++) {
        for (size_t k = 0; k < sizeof rising / sizeof *rising; k++) {
            int c = reserve_cmp(&rising[i], &rising[k]);
            assert_true(i < k ? c < 0 : i > k ? c > 0 : c == 0);
        }
    }
}

/* A pressure falling by 0.002 bar a day from 1.5, read to 0.005: slope as ordinary least squares has it (checked
 * against NIST's sets), the crossing as draws from the posterior say. */
static void trend_crosses(void **state)
{
    (void)state;
    uint64_t x = SEED;
    struct arena a = arena_new(&arena_libc);
    struct trend_reading readings[7];
    double rows[14];
    double y[7];
    for (int i = 0; i < 7; i++) {
        double at = TODAY - 60 + 9 * i;
        readings[i] = (struct trend_reading){at, 1.5 - 0.002 * (at - TODAY + 60) + 0.005 * world_normal(&x)};
        rows[2 * i] = 1;
        rows[2 * i + 1] = at - TODAY;
        y[i] = readings[i].value;
    }
    struct trend_ask ask = {.readings = readings, .n = 7, .low = 1.3, .high = 1.6, .deviation = 0.005};
    struct reserve_trend t = reserve_trend_of(&ask);
    struct err e = err_new(&a);
    struct least_squares ls;
    assert_true(least_squares(rows, y, 7, 2, &ls, &a, &e));
    assert_true(t.known && !t.upper && fabs(t.slope - ls.coef[1]) < 1e-12);
    for (int i = 1; i < 20; i++) {
        double p = i / 20.0;
        double at = reserve_trend_quantile(&t, p);
        assert_true(isfinite(at) && fabs(reserve_trend_passage(&t, at) - p) < 1e-9);
    }
    /* Draws of height and slope: a normal over the root of a chi-square. */
    int crossed = 0;
    const int draws = 40000;
    double at = reserve_trend_quantile(&t, 0.8);
    for (int i = 0; i < draws; i++) {
        double chi = 0;
        for (int k = 0; k < (int)t.df; k++) {
            double z = world_normal(&x);
            chi += z * z;
        }
        double scale = sqrt(t.df / chi);
        double height = t.mean + scale * sqrt(t.var_mean) * world_normal(&x);
        double slope = t.slope + scale * sqrt(t.var_slope) * world_normal(&x);
        crossed += height + slope * (at - t.middle) < 1.3;
    }
    assert_true(fabs((double)crossed / draws - 0.8) < 0.01);
    struct reserve r = reserve_measured(&t, 1000, TODAY, NULL);
    assert_true(r.rule == RESERVE_READING && r.p10 <= r.p50 && r.p50 <= r.p90);
    assert_true(abs(r.p50 - (TODAY + 40)) < 12); /* 0.2 bar at 0.002 a day from 60 days ago */
    assert_true(reserve_overdue(&r, r.p10) < 0.2 && reserve_overdue(&r, r.p90 + 2) > 0.89);
    arena_free(&a);
}

/* By hours: the crossing's spread and the usage's together, wider than either; on the logarithm a filter's growth. */
static void trend_by_hours(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct usage_clock clock = clock_of(&a);
    struct usage_state u = state_at(&clock);
    struct trend_reading readings[6];
    for (int i = 0; i < 6; i++) {
        double at = 900 + 20 * i;
        readings[i] = (struct trend_reading){at, 50e3 * exp(0.005 * (at - 900)) * (i % 2 ? 1.03 : 0.97)};
    }
    struct trend_ask ask = {
        .readings = readings, .n = 6, .low = NAN, .high = 100e3, .deviation = 1e3, .logarithm = true, .by_hours = true};
    struct reserve_trend t = reserve_trend_of(&ask);
    assert_true(t.known && t.upper);
    struct reserve r = reserve_measured(&t, 1000, TODAY, &u);
    assert_true(fabs(r.due_total_h - (900 + log(2) / 0.005)) < 15); /* doubled */
    assert_true(r.p10 < r.p50 && r.p50 < r.p90 && r.spread_known);
    double three[3];
    usage_quantiles(&u, r.due_total_h - 1000, (const double[]){0.1, 0.5, 0.9}, 3, three);
    assert_true(r.p90 - r.p10 >= three[2] - three[0] - 1);
    double before = 0;
    for (day_t day = TODAY; day < TODAY + 400; day += 10) {
        double now = reserve_overdue(&r, day);
        assert_true(now >= before - 1e-12);
        before = now;
    }
    struct reserve undated = reserve_measured(&t, 1000, TODAY, NULL);
    assert_true(undated.p50 == DAY_NONE && isfinite(undated.hours_left));
    arena_free(&a);
}

/* What is too little or no number gives no trend; what drifts away from every limit never crosses with certainty. */
static void no_trend(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int n;
        double at[4], value[4], low, high, deviation;
        bool logarithm;
    } rows[] = {
        {"two readings", 2, {0, 10}, {1, 2}, 0, 9, 0.1, false},
        {"all at once", 3, {5, 5, 5}, {1, 2, 3}, 0, 9, 0.1, false},
        {"not a number", 3, {0, 1, 2}, {1, NAN, 3}, 0, 9, 0.1, false},
        {"infinite time", 3, {0, 1, INFINITY}, {1, 2, 3}, 0, 9, 0.1, false},
        {"logarithm of a negative", 3, {0, 1, 2}, {1, -2, 3}, 0, 9, 0.1, true},
        {"no limit that way", 3, {0, 1, 2}, {1, 2, 3}, 0, NAN, 0.1, false},
        {"no deviation", 3, {0, 1, 2}, {1, 2, 3}, 0, 9, 0, false},
        {"no slope", 3, {0, 1, 2}, {2, 2, 2}, 0, 9, 0.1, false},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct trend_reading readings[4];
        for (int k = 0; k < rows[i].n; k++) {
            readings[k] = (struct trend_reading){rows[i].at[k], rows[i].value[k]};
        }
        struct trend_ask ask = {.readings = readings,
                                .n = rows[i].n,
                                .low = rows[i].low,
                                .high = rows[i].high,
                                .deviation = rows[i].deviation,
                                .logarithm = rows[i].logarithm};
        struct reserve_trend t = reserve_trend_of(&ask);
        if (t.known) {
            fail_msg("%s: a trend was made of it", rows[i].name);
        }
        assert_true(isnan(reserve_trend_quantile(&t, 0.5)) && isnan(reserve_trend_passage(&t, 1)));
        assert_int_equal(reserve_measured(&t, 0, TODAY, NULL).rule, RESERVE_NONE);
    }
    /* Hardly a slope: the late quantiles never come, the early ones do; the order of the three holds. */
    uint64_t x = SEED;
    int never = 0;
    for (int i = 0; i < 500; i++) {
        struct trend_reading readings[5];
        for (int k = 0; k < 5; k++) {
            readings[k] = (struct trend_reading){TODAY - 50 + 10 * k, 5 + 0.2 * world_normal(&x)};
        }
        struct trend_ask ask = {.readings = readings, .n = 5, .low = 4, .high = 6, .deviation = 0.1};
        struct reserve_trend t = reserve_trend_of(&ask);
        double p10 = reserve_trend_quantile(&t, 0.1);
        double p50 = reserve_trend_quantile(&t, 0.5);
        double p90 = reserve_trend_quantile(&t, 0.9);
        assert_true(p10 <= p50 && p50 <= p90);
        never += isinf(p90) && p90 > 0;
    }
    assert_true(never > 200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hours_and_calendar), cmocka_unit_test(never_shorter),  cmocka_unit_test(order),
        cmocka_unit_test(trend_crosses),      cmocka_unit_test(trend_by_hours), cmocka_unit_test(no_trend),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
