/* Forecasts at the desk on the small invented machine of desk_test.c: the band on today's list, its probability on a
 * day, why, a trend that leaves its limits, and the replay. */
#include "bench.h"

#include "desk.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void begin(struct bench *b)
{
    bench_open(b, 7);
    bench_book(b, "tests/data/books/gull2.yaml");
    bench_machine(b, "gu2-500", "G-1", "", "");
    bench_machine(b, "gu2-501", "G-2", "", "");
}

static void meter(struct bench *b, const char *machine, const char *when, double hours)
{
    char text[32];
    (void)snprintf(text, sizeof text, "%.1f", hours);
    bench_meter(b, machine, when, text);
}

static void tyre(struct bench *b, const char *when, const char *value)
{
    struct desk_stamp s = bench_stamp(b, "G-1", when);
    struct desk_recorded r;
    ok(b, desk_record_reading(b->d, &s, S("tyre"), str_of(value), S("temperature=20 degC"), &b->a, &r, &b->e));
}

/* Forty readings of G-1 over ten months, uneven; one reading of G-2. */
static double history(struct bench *b)
{
    static const double days_work[] = {3, 31, 12, 18, 7, 40, 22, 5};
    double hours = 4;
    for (int i = 0; i < 40; i++) {
        char when[32];
        (void)snprintf(when, sizeof when, "2026-%02d-%02d", 2 + i / 4, 2 + 7 * (i % 4));
        hours += days_work[i % 8] / 4;
        if (strcmp(when, "2026-11-24") < 0) {
            meter(b, "G-1", when, hours);
        }
    }
    meter(b, "G-2", "2026-11-20", 500);
    return hours;
}

static struct desk_today_list today(struct bench *b, day_t overdue_on)
{
    struct desk_today_filter filter = {.within_days = -1, .overdue_on = overdue_on};
    struct desk_today_list list;
    ok(b, desk_today(b->d, &filter, &b->a, &list, &b->e));
    return list;
}

static const struct desk_due *find(const struct desk_today_list *list, const char *name, const char *key)
{
    for (size_t i = 0; i < list->n; i++) {
        if (str_eq(list->at[i].key, str_of(key)) && str_eq(list->at[i].machine->name, str_of(name))) {
            return &list->at[i];
        }
    }
    return NULL;
}

static bool has(struct str s, const char *part)
{
    return str_find(s, str_of(part)) >= 0;
}

static void band_and_probability(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    (void)history(&b);
    struct desk_stamp s = bench_stamp(&b, "G-1", "2026-11-20");
    struct desk_recorded r;
    struct desk_done done = {.task = S("torque-wheels")};
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    day_t soon = 0;
    day_t late = 0;
    assert_true(day_parse(S("2026-12-01"), &soon) && day_parse(S("2036-01-01"), &late));
    struct desk_today_list list = today(&b, soon);
    const struct desk_due *wheels = find(&list, "G-1", "wheels"); /* every 250 h: hours alone */
    assert_non_null(wheels);
    assert_true(wheels->reserve.spread_known && wheels->reserve.p10 < wheels->reserve.p50 &&
                wheels->reserve.p50 < wheels->reserve.p90);
    assert_true(has(wheels->says, " h left, about ") && has(wheels->says, " to ") && has(wheels->says, ")"));
    assert_true(wheels->overdue < 0.01);
    struct text t = text_new(&b.a);
    struct json j = json_new(&t, false);
    desk_today_json(&j, b.d, &list);
    assert_true(has(text_str(&t), "\"overdue_on\":\"2026-12-01\"") && has(text_str(&t), "\"overdue\":0"));
    list = today(&b, late);
    assert_true(find(&list, "G-1", "wheels")->overdue > 0.99);
    list = today(&b, 0);
    wheels = find(&list, "G-1", "wheels");
    assert_true(isnan(wheels->overdue));
    struct text plain = text_new(&b.a);
    j = json_new(&plain, false);
    desk_today_json(&j, b.d, &list);
    assert_false(has(text_str(&plain), "overdue\""));
    /* The machine with one reading has the family's forecast. */
    s = bench_stamp(&b, "G-2", "2026-11-20");
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    list = today(&b, 0);
    const struct desk_due *one = find(&list, "G-2", "wheels");
    assert_true(one && one->reserve.spread_known && one->reserve.p10 < one->reserve.p90);
    struct desk_why why;
    ok(&b, desk_why(b.d, S("G-1"), S("wheels"), &b.a, &why, &b.e));
    bool model = false;
    bool formula = false;
    for (size_t i = 0; i < why.n; i++) {
        model = model || (has(why.at[i].says, "Gamma(k s, rate b)") && has(why.at[i].source, "Lawless and Crowder"));
        formula = formula || has(why.at[i].source, "P(H(t) >= L)");
    }
    assert_true(model && formula);
    bench_close(&b);
}

/* An entry changes the forecast of its machine, through the state that grew as through one made anew. */
static void an_entry_counts(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    double hours = history(&b);
    struct desk_stamp s = bench_stamp(&b, "G-1", "2026-11-20");
    struct desk_recorded r;
    struct desk_done done = {.task = S("torque-wheels")};
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    struct desk_today_list before = today(&b, 0);
    day_t p50 = find(&before, "G-1", "wheels")->reserve.p50;
    meter(&b, "G-1", "2026-11-24 10:00", hours + 60); /* much used in the last days */
    struct desk_today_list after = today(&b, 0);
    const struct desk_due *grown = find(&after, "G-1", "wheels");
    assert_true(grown->reserve.p50 < p50);
    struct desk_options options = bench_options(&b);
    struct desk *anew = NULL;
    ok(&b, desk_open(&options, &anew, &b.e));
    struct desk_today_filter filter = {.within_days = -1};
    struct desk_today_list list;
    ok(&b, desk_today(anew, &filter, &b.a, &list, &b.e));
    const struct desk_due *fresh = find(&list, "G-1", "wheels");
    assert_true(str_eq(fresh->says, grown->says) && fresh->reserve.p10 == grown->reserve.p10);
    desk_close(anew);
    bench_close(&b);
}

/* A tyre that leaks steadily: on the list before it is out, with the day; filled up again, and the trend is over. */
static void a_leaking_tyre(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    (void)history(&b);
    static const char *const values[][2] = {{"2026-10-20", "1.57 bar"}, {"2026-10-27", "1.55 bar"},
                                            {"2026-11-03", "1.53 bar"}, {"2026-11-10", "1.51 bar"},
                                            {"2026-11-17", "1.49 bar"}, {"2026-11-24", "1.47 bar"}};
    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        tyre(&b, values[i][0], values[i][1]);
    }
    struct desk_today_list list = today(&b, 0);
    const struct desk_due *due = find(&list, "G-1", "tyre");
    assert_true(due && due->kind == DUE_CHECKPOINT && due->reserve.rule == RESERVE_READING);
    day_t hand = 0; /* 0.07 bar at 0.02 a week from 24 November: three weeks and a half */
    assert_true(day_parse(S("2026-12-18"), &hand));
    assert_true(abs(due->reserve.p50 - hand) <= 3);
    assert_true(has(due->says, "at its trend out of 1.4 to 1.6 bar about "));
    struct desk_why why;
    ok(&b, desk_why(b.d, S("G-1"), S("tyre"), &b.a, &why, &b.e));
    bool trend = false;
    for (size_t i = 0; i < why.n; i++) {
        trend = trend || has(why.at[i].says, "trend of the last 6 readings");
    }
    assert_true(trend);
    tyre(&b, "2026-11-25 08:00", "1.35 bar"); /* out ... */
    tyre(&b, "2026-11-25 09:00", "1.55 bar"); /* ... and filled up: what was before no longer counts */
    list = today(&b, 0);
    due = find(&list, "G-1", "tyre");
    assert_true(!due || due->reserve.rule != RESERVE_READING);
    bench_close(&b);
}

static void replay(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    struct backtest out;
    ok(&b, desk_backtest(b.d, &b.a, &out, &b.e)); /* nothing yet: an answer all the same */
    assert_int_equal(out.rows[out.n - 1].forecasts, 0);
    (void)history(&b);
    ok(&b, desk_backtest(b.d, &b.a, &out, &b.e));
    const struct backtest_row *all = &out.rows[out.n - 1];
    assert_true(out.n == 4 && out.moments >= 4 && all->forecasts > 0);
    assert_true(all->forecasts == out.rows[0].forecasts + out.rows[1].forecasts + out.rows[2].forecasts);
    assert_true(all->held50 <= all->held80 && all->held80 <= 1);
    struct text t = text_new(&b.a);
    struct json j = json_new(&t, false);
    desk_backtest_json(&j, &out);
    assert_true(has(text_str(&t), "\"held_80\":") && has(text_str(&t), "\"mean_rate\":{\"mean_absolute_error_days\":"));
    bench_close(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(band_and_probability),
        cmocka_unit_test(an_entry_counts),
        cmocka_unit_test(a_leaking_tyre),
        cmocka_unit_test(replay),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
