/* Forecasts at the desk on the small invented machine of desk_test.c: the band on today's list, its probability on a
 * day, why, a trend that leaves its limits, and the replay. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "desk.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A depot in a folder of its own, whose clock stands at noon of 25 November 2026. */
struct bench {
    char folder[64], path[96];
    struct world_seeded seeded;
    struct arena a;
    struct err e;
    struct desk *d;
};

#define ok(b, call)                                                                \
    do {                                                                           \
        if (!(call)) {                                                             \
            fail_msg("%s: %s", #call, str_z(&(b)->a, err_text(&(b)->a, &(b)->e))); \
        }                                                                          \
    } while (0)

static struct desk_options options_of(struct bench *b)
{
    struct desk_options options = desk_options_default(b->path);
    options.log.world = world_of_seeded(&b->seeded);
    return options;
}

static void add_machine(struct bench *b, const char *serial, const char *label)
{
    struct desk_machine_new machine = {.serial = str_of(serial), .label = str_of(label), .by = S("Ines")};
    assert_true(day_parse(S("2026-01-10"), &machine.in_service));
    ok(b, desk_instant(b->d, S("2026-02-01"), &machine.at, &b->e));
    struct entry_id id;
    ok(b, desk_machine_add(b->d, &machine, &id, &b->e));
}

static void bench_open(struct bench *b)
{
    strcpy(b->folder, "/tmp/witmark-forecast-XXXXXX");
    assert_non_null(mkdtemp(b->folder));
    (void)snprintf(b->path, sizeof b->path, "%s/depot", b->folder);
    b->a = arena_new(&arena_libc);
    b->e = err_new(&b->a);
    instant_ms now = 0;
    assert_true(instant_parse(S("2026-11-25T12:00:00Z"), &now));
    b->seeded = world_seeded_new(7, now);
    struct desk_options options = options_of(b);
    ok(b, desk_depot_new(&options, S("Test depot"), S("Europe/Lisbon"), &b->e));
    ok(b, desk_open(&options, &b->d, &b->e));
    char book[512];
    (void)snprintf(book, sizeof book, "%s/books/gull2.yaml",
                   getenv("WITMARK_DATA") ? getenv("WITMARK_DATA") : "tests/data");
    struct diags findings = diags_new(&b->a, 50);
    struct log_hash edition;
    ok(b, desk_book_take(b->d, book, &findings, &edition, &b->e));
    add_machine(b, "gu2-500", "G-1");
    add_machine(b, "gu2-501", "G-2");
}

static void bench_close(struct bench *b)
{
    desk_close(b->d);
    arena_free(&b->a);
    char command[160];
    (void)snprintf(command, sizeof command, "rm -r '%s'", b->folder);
    assert_int_equal(system(command), 0);
}

static struct desk_stamp at(struct bench *b, const char *machine, const char *when)
{
    struct desk_stamp s = {.machine = str_of(machine), .by = S("Ines"), .at = INSTANT_NONE};
    ok(b, desk_instant(b->d, str_of(when), &s.at, &b->e));
    return s;
}

static void meter(struct bench *b, const char *machine, const char *when, double hours)
{
    struct desk_stamp s = at(b, machine, when);
    struct desk_recorded r;
    char text[32];
    (void)snprintf(text, sizeof text, "%.1f", hours);
    ok(b, desk_record_meter(b->d, &s, str_of(text), &b->a, &r, &b->e));
}

static void tyre(struct bench *b, const char *when, const char *value)
{
    struct desk_stamp s = at(b, "G-1", when);
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
    bench_open(&b);
    (void)history(&b);
    struct desk_stamp s = at(&b, "G-1", "2026-11-20");
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
    s = at(&b, "G-2", "2026-11-20");
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
    bench_open(&b);
    double hours = history(&b);
    struct desk_stamp s = at(&b, "G-1", "2026-11-20");
    struct desk_recorded r;
    struct desk_done done = {.task = S("torque-wheels")};
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    struct desk_today_list before = today(&b, 0);
    day_t p50 = find(&before, "G-1", "wheels")->reserve.p50;
    meter(&b, "G-1", "2026-11-24 10:00", hours + 60); /* much used in the last days */
    struct desk_today_list after = today(&b, 0);
    const struct desk_due *grown = find(&after, "G-1", "wheels");
    assert_true(grown->reserve.p50 < p50);
    struct desk_options options = options_of(&b);
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
    bench_open(&b);
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
    bench_open(&b);
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
