/* The horizon and the calendar on a small invented machine (tests/data/books/gull2.yaml). Days and hours are counted by
 * hand: 25 November 2026 is a Wednesday. */
#include "bench.h"

#include "desk_horizon.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static day_t day(const char *s)
{
    day_t d = 0;
    assert_true(day_parse(str_of(s), &d));
    return d;
}

/* Two machines. */
static int set_up(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    bench_open(b, 7);
    bench_book(b, "tests/data/books/gull2.yaml");
    bench_machine(b, "gu2-500", "G-1", "", "Mole");
    bench_machine(b, "gu2-501", "G-2", "", "Yard");
    *state = b;
    return 0;
}

static int tear_down(void **state)
{
    bench_close(*state);
    free(*state);
    return 0;
}

static struct desk_horizon horizon(struct bench *b, const struct desk_horizon_ask *ask)
{
    struct desk_horizon h;
    ok(b, desk_horizon(b->d, ask, &b->a, &h, &b->e));
    return h;
}

static const struct desk_horizon_mark *mark_of(const struct desk_horizon_lane *lane, const char *key)
{
    for (size_t i = 0; i < lane->n; i++) {
        if (str_eq(lane->marks[i].due->key, str_of(key))) {
            return &lane->marks[i];
        }
    }
    return NULL;
}

/* G-1 has run past everything of the 50 h service that nobody has a record of: one mark for its three points, of two
 * systems. What is open makes a lane the first, and counts as out. */
static void lanes_and_marks(void **state)
{
    struct bench *b = *state;
    bench_meter(b, "G-1", "2026-02-01", "4");
    bench_meter(b, "G-1", "2026-11-20", "300");
    struct desk_horizon_ask ask = {.days = 91, .chance_days = 7};
    struct desk_horizon h = horizon(b, &ask);
    assert_int_equal(h.n, 2);
    assert_true(str_eq(h.lanes[0].machine->name, S("G-1")));
    const struct desk_horizon_mark *service = NULL;
    for (size_t i = 0; i < h.lanes[0].n; i++) {
        service = h.lanes[0].marks[i].n > 1 ? &h.lanes[0].marks[i] : service;
    }
    assert_non_null(service);
    assert_int_equal(service->n, 3);
    assert_int_equal(service->system.n, 0);
    assert_int_equal(h.lanes[0].out, 0);
    struct desk_stamp s = {.machine = S("G-2"), .by = S("Ines"), .at = INSTANT_NONE};
    struct desk_recorded r;
    ok(b, desk_record_open(b->d, &s, S("sump-plug"), false, &b->a, &r, &b->e));
    h = horizon(b, &ask);
    assert_true(str_eq(h.lanes[0].machine->name, S("G-2")));
    assert_int_equal(h.lanes[0].out, 1);
    assert_non_null(mark_of(&h.lanes[0], "sump-plug"));
    ask.system = S("tyres");
    h = horizon(b, &ask);
    assert_int_equal(h.lanes[0].out, 0);
    const struct desk_horizon_mark *tyre = mark_of(&h.lanes[0], "tyre");
    assert_non_null(tyre);
    assert_int_equal(tyre->n, 1); /* two points of the service are not enough for one mark */
    assert_non_null(mark_of(&h.lanes[0], "wheels"));
    assert_null(mark_of(&h.lanes[0], "engine-leaks"));
    ask.site = S("yard");
    h = horizon(b, &ask);
    assert_int_equal(h.n, 1);
    ask = (struct desk_horizon_ask){.days = 91, .kind = S("put back")};
    h = horizon(b, &ask);
    assert_int_equal(h.n, 2);
    assert_int_equal(h.lanes[0].n, 1);
    assert_int_equal(h.lanes[1].n, 0);
}

static void wrong_asks(void **state)
{
    struct bench *b = *state;
    static const struct {
        struct desk_horizon_ask ask;
        enum err_kind kind;
        const char *says;
    } rows[] = {
        {{.days = 0}, ERR_USAGE, "so many days are no horizon; 1 to 3660"},
        {{.days = 7, .kind = {"check", 5}},
         ERR_USAGE,
         "no kind 'check'; checkpoint, reading, found, torque again, put back or fault"},
        {{.days = 7, .system = {"tyre", 4}}, ERR_MISSING, "no machine has a system 'tyre'; electric, engine, tyres"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct desk_horizon h;
        struct err e = err_new(&b->a);
        assert_false(desk_horizon(b->d, &rows[i].ask, &b->a, &h, &e));
        assert_int_equal(e.kind, rows[i].kind);
        struct str said = err_text(&b->a, &e);
        if (!str_starts(said, str_of(rows[i].says))) {
            fail_msg("'%s' instead of '%s'", str_z(&b->a, said), rows[i].says);
        }
    }
}

static struct str planned(struct bench *b, const char *machine, struct desk_calendar_new item)
{
    struct desk_stamp s = {.machine = str_of(machine), .by = S("Ines"), .at = INSTANT_NONE};
    struct desk_recorded r;
    ok(b, desk_calendar_add(b->d, &s, &item, &b->a, &r, &b->e));
    struct text id = text_new(&b->a);
    text_entry_id(&id, r.id);
    return text_str(&id);
}

/* Hands for 12 days from a Wednesday at 28 h a week: 5/7 of a week, then a whole one, then none. A visit counts in the
 * week it begins in. */
static void weeks(void **state)
{
    struct bench *b = *state;
    (void)planned(b, "",
                  (struct desk_calendar_new){
                      S("hands"), S("two"), {0}, .from = day("2026-11-25"), .to = day("2026-12-06"), .hours = 28});
    struct str visit = planned(
        b, "G-1",
        (struct desk_calendar_new){S("visit"), S("oil"), {0}, .from = day("2026-11-30"), .to = DAY_NONE, .hours = 2.5});
    (void)planned(
        b, "",
        (struct desk_calendar_new){
            S("event"), S("long past"), {0}, .from = day("2026-01-01"), .to = day("2026-11-22"), .hours = NAN});
    struct desk_horizon_ask ask = {.days = 14};
    struct desk_horizon h = horizon(b, &ask);
    assert_int_equal(h.n_calendar, 2);
    assert_int_equal(h.n_weeks, 3);
    assert_int_equal(h.weeks[0].monday, day("2026-11-23"));
    assert_true(h.weeks[0].hands == 20 && h.weeks[1].hands == 28 && h.weeks[2].hands == 0);
    assert_true(h.weeks[0].taken == 0 && h.weeks[1].taken == 2.5 && h.weeks[2].taken == 0);
    assert_true(str_eq(h.calendar[1].name, S("G-1")) && str_eq(h.calendar[1].machine, S("GU2-0500")));
    struct desk_recorded r;
    ok(b, desk_calendar_remove(b->d, visit, S("Ines"), S(""), &b->a, &r, &b->e));
    h = horizon(b, &ask);
    assert_int_equal(h.n_calendar, 1);
    assert_true(h.weeks[1].taken == 0);
}

static void wrong_items(void **state)
{
    struct bench *b = *state;
    day_t d = day("2026-12-01");
    const struct {
        const char *machine;
        struct desk_calendar_new item;
        const char *says;
    } rows[] = {
        {"",
         {S("holiday"), S("x"), {0}, d, d, NAN},
         "'holiday' is nothing that a calendar holds; season, event, blocked"},
        {"", {S("season"), S("x"), {0}, DAY_NONE, d, NAN}, "no day is given; its first day"},
        {"", {S("season"), S("x"), {0}, d, d - 1, NAN}, "calendar: body.to: \"2026-11-30\" is before `from`"},
        {"", {S("season"), S("x"), {0}, d, d, 3}, "hours for a season; hours only for a visit or for hands"},
        {"",
         {S("visit"), S("x"), {0}, d, d, 3},
         "calendar: body: a visit without a machine; name the machine that is visited"},
        {"G-1", {S("visit"), S("x"), {0}, d, d, NAN}, "a visit without hours; the hours that it takes"},
        {"G-1", {S("event"), S("x"), {0}, d, d, NAN}, "only a visit is about one machine; name a site instead"},
        {"G-7", {S("visit"), S("x"), {0}, d, d, 3}, "no machine 'G-7'; did you mean G-1?"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct desk_stamp s = {.machine = str_of(rows[i].machine), .by = S("Ines"), .at = INSTANT_NONE};
        struct desk_recorded r;
        struct err e = err_new(&b->a);
        assert_false(desk_calendar_add(b->d, &s, &rows[i].item, &b->a, &r, &e));
        struct str said = err_text(&b->a, &e);
        if (!str_starts(said, str_of(rows[i].says))) {
            fail_msg("'%s' instead of '%s'", str_z(&b->a, said), rows[i].says);
        }
    }
    /* An entry of another kind is not taken out as if it were one of the calendar's. */
    bench_meter(b, "G-1", "2026-11-20", "300");
    struct entry_filter filter = {.kinds = KIND_BIT(KIND_METER)};
    struct entries found = {0};
    ok(b, depot_list(desk_depot(b->d), &filter, &b->a, &found, &b->e));
    assert_int_equal(found.n, 1);
    struct text id = text_new(&b->a);
    text_entry_id(&id, found.at[0].id);
    entries_free(&found);
    struct desk_recorded r;
    assert_false(desk_calendar_remove(b->d, text_str(&id), S("Ines"), S(""), &b->a, &r, &b->e));
    assert_int_equal(b->e.kind, ERR_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(lanes_and_marks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(wrong_asks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(weeks, set_up, tear_down),
        cmocka_unit_test_setup_teardown(wrong_items, set_up, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
