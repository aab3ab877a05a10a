/* The desk end to end on a small invented machine (tests/data/books/gull2.yaml): what is due, out, open; why; rounds
 * that keep the rules; kits; feeds that add nothing twice. Expected days and hours are counted by hand from the book's
 * intervals. */
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
    bench_machine(b, "gu2-500", "G-1", "lamp", "Mole");
}

static struct desk_stamp at(struct bench *b, const char *when)
{
    return bench_stamp(b, "G-1", when);
}

static void meter(struct bench *b, const char *when, const char *hours)
{
    bench_meter(b, "G-1", when, hours);
}

static struct desk_today_list today(struct bench *b)
{
    struct desk_today_filter filter = {.within_days = -1};
    struct desk_today_list list;
    ok(b, desk_today(b->d, &filter, &b->a, &list, &b->e));
    return list;
}

static const struct desk_due *find(const struct desk_today_list *list, const char *key)
{
    for (size_t i = 0; i < list->n; i++) {
        if (str_eq(list->at[i].key, str_of(key))) {
            return &list->at[i];
        }
    }
    return NULL;
}

static const struct desk_due *must(const struct desk_today_list *list, const char *key)
{
    const struct desk_due *due = find(list, key);
    if (!due) {
        fail_msg("'%s' is not on the list", key);
    }
    return due;
}

#define assert_says(b, s, z) assert_string_equal(str_z(&(b)->a, (s)), (z))

/* From new: the first interval; once done, the usual one; whichever comes first. */
static void due_by_hours_and_calendar(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    meter(&b, "2026-02-01", "4");
    struct desk_today_list list = today(&b);
    assert_true(must(&list, "engine-oil")->reserve.due_total_h == 50); /* first: 50 h from new */
    meter(&b, "2026-02-11", "54");                                     /* 5 h a day */
    list = today(&b);
    const struct desk_due *oil = must(&list, "engine-oil");
    assert_int_equal(oil->urgency, 1); /* past it, but nobody knows whether it was done before the log began */
    assert_says(&b, oil->says, "no record of it yet");
    struct desk_stamp s = at(&b, "2026-03-01");
    struct desk_recorded r;
    struct desk_done done = {.task = S("engine-oil"), .hours = S("60")}; /* people name the checkpoint */
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    assert_says(&b, r.says, "G-1: done: change-engine-oil at 60 h; parts 1 x HG-101; fluids 4.4 L engine-oil");
    meter(&b, "2026-11-24", "300");
    list = today(&b);
    oil = must(&list, "engine-oil");
    assert_int_equal(oil->urgency, 3);
    assert_true(oil->reserve.due_total_h == 310);
    day_t calendar = 0;
    assert_true(day_parse(S("2027-03-01"), &calendar));
    assert_int_equal(oil->reserve.calendar_day, calendar);
    assert_int_equal(oil->reserve.rule, RESERVE_HOURS);
    meter(&b, "2026-11-25 11:00", "316");
    list = today(&b);
    oil = must(&list, "engine-oil");
    assert_int_equal(oil->urgency, 0);
    assert_true(fabs(oil->reserve.hours_left + 6) < 0.2);
    struct desk_why why;
    ok(&b, desk_why(b.d, S("g-1"), S("engine-oil"), &b.a, &why, &b.e));
    bool line = false;
    bool entry = false;
    struct text id = text_new(&b.a);
    text_entry_id(&id, r.id);
    for (size_t i = 0; i < why.n; i++) {
        line = line || str_find(why.at[i].source, S("book gull2 2026-11, line ")) == 0;
        entry = entry || str_find(why.at[i].source, text_str(&id)) > 0;
    }
    assert_true(line && entry);
    assert_false(desk_why(b.d, S("G-1"), S("engine-oli"), &b.a, &why, &b.e));
    assert_int_equal(b.e.kind, ERR_MISSING);
    assert_says(&b, b.e.right, "did you mean engine-oil?");
    bench_close(&b);
}

/* A mistyped meter is kept and left out; a correction brings it back. */
static void mistyped_meter(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    meter(&b, "2026-10-01", "100");
    meter(&b, "2026-10-11", "130");
    struct desk_stamp s = at(&b, "2026-10-21");
    struct desk_recorded r;
    ok(&b, desk_record_meter(b.d, &s, S("1600"), &b.a, &r, &b.e));
    assert_true(str_find(r.says, S("Doubtful: more than 24 h a day")) > 0);
    const struct desk_machine *m = desk_machine_find(b.d, S("GU2-0500"), &b.e);
    assert_true(m->meter.n == 3 && m->meter.n_good == 2 && m->use.hours_now == 130);
    struct text id = text_new(&b.a);
    text_entry_id(&id, r.id);
    struct desk_recorded corrected;
    assert_false(
        desk_correct(b.d, text_str(&id), S(""), INSTANT_NONE, false, S("Ines"), S("slip"), &b.a, &corrected, &b.e));
    b.e = err_new(&b.a);
    ok(&b, desk_correct(b.d, text_str(&id), S("hours=160"), INSTANT_NONE, false, S("Ines"), S("a nought too many"),
                        &b.a, &corrected, &b.e));
    m = desk_machine_find(b.d, S("gu2500"), &b.e);
    assert_true(m && m->meter.n_good == 3 && m->use.hours_now == 160);
    bench_close(&b);
}

/* Readings and findings: on the list while they stand, gone once put right or read again. */
static void readings_and_findings(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    meter(&b, "2026-11-01", "100");
    meter(&b, "2026-11-20", "120");
    struct desk_stamp s = at(&b, "2026-11-21");
    struct desk_recorded r;
    ok(&b, desk_record_reading(b.d, &s, S("tyre"), S("1.3 bar"), S("temperature=20 degC"), &b.a, &r, &b.e));
    assert_int_equal(r.verdict.word, VERDICT_OUT);
    struct desk_today_list list = today(&b);
    assert_int_equal(must(&list, "tyre")->kind, DUE_READING);
    assert_int_equal(must(&list, "tyre")->urgency, 0);
    s = at(&b, "2026-11-22");
    ok(&b, desk_record_reading(b.d, &s, S("tyre"), S("150 kPa"), S("temperature=20 degC"), &b.a, &r, &b.e));
    list = today(&b);
    assert_int_equal(must(&list, "tyre")->kind, DUE_CHECKPOINT);
    /* An earlier reading that arrives late does not change what the last one says. */
    s = at(&b, "2026-11-20 13:00");
    ok(&b, desk_record_reading(b.d, &s, S("tyre"), S("1.1 bar"), S("temperature=20 degC"), &b.a, &r, &b.e));
    list = today(&b);
    assert_int_equal(must(&list, "tyre")->kind, DUE_CHECKPOINT);
    s = at(&b, "2026-11-22");
    ok(&b, desk_record_found(b.d, &s, S("engine-leaks"), S("wet sump"), &b.a, &r, &b.e));
    list = today(&b);
    assert_int_equal(must(&list, "engine-leaks")->kind, DUE_FOUND);
    s = at(&b, "2026-11-23");
    struct desk_done done = {.task = S("change-engine-oil"), .parts = S("none"), .fluids = S("none")};
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    list = today(&b);
    assert_int_equal(must(&list, "engine-leaks")->kind, DUE_CHECKPOINT);
    static const struct {
        const char *checkpoint, *value, *with;
        enum err_kind kind;
        const char *right;
    } bad[] = {
        {"tire", "1.5 bar", "", ERR_MISSING, "did you mean tyre?"},
        {"tyre", "1.5 V", "", ERR_INPUT, "bar"},
        {"tyre", "1.5 br", "", ERR_INPUT, "bar"},
        {"lights", "1.5 bar", "", ERR_INPUT, "record found"},
        {"engine-oil", "1.5 bar", "", ERR_INPUT, "record done"},
        {"tyre", "1.5 bar", "temperature", ERR_USAGE, "NAME=VALUE"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        b.e = err_new(&b.a);
        assert_false(desk_record_reading(b.d, &s, str_of(bad[i].checkpoint), str_of(bad[i].value), str_of(bad[i].with),
                                         &b.a, &r, &b.e));
        if (b.e.kind != bad[i].kind || str_find(b.e.right, str_of(bad[i].right)) < 0) {
            fail_msg("row %zu: %s", i, str_z(&b.a, err_text(&b.a, &b.e)));
        }
    }
    bench_close(&b);
}

/* Opened things stay on the list until they are put back; wheel nuts come back after running in. */
static void put_back_and_torque_again(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    meter(&b, "2026-11-01", "100");
    meter(&b, "2026-11-20", "120");
    struct desk_stamp s = at(&b, "2026-11-21");
    struct desk_recorded r;
    assert_false(desk_record_open(b.d, &s, S("prop"), true, &b.a, &r, &b.e));
    assert_int_equal(b.e.kind, ERR_REFUSED);
    b.e = err_new(&b.a);
    ok(&b, desk_record_open(b.d, &s, S("prop"), false, &b.a, &r, &b.e));
    assert_false(desk_record_open(b.d, &s, S("prop"), false, &b.a, &r, &b.e));
    b.e = err_new(&b.a);
    struct desk_today_list list = today(&b);
    assert_int_equal(list.at[0].kind, DUE_PUT_BACK);
    /* The machine stands propped: a round begins by taking the prop out, and ends parked. */
    struct desk_round round;
    struct desk_round_ask ask = {.machine = S("G-1"), .scope = S("lights")};
    ok(&b, desk_round(b.d, &ask, &b.a, &round, &b.e));
    ok(&b, desk_record_open(b.d, &s, S("prop"), true, &b.a, &r, &b.e));
    list = today(&b);
    assert_null(find(&list, "prop"));
    struct desk_done done = {.task = S("torque-wheels"), .hours = S("121")};
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
    list = today(&b);
    assert_null(find(&list, "wheel-nut")); /* torqued without having been off */
    bench_close(&b);
}

static int step_of(const struct desk_round *round, enum step_type type, int index)
{
    for (size_t i = 0; i < round->n; i++) {
        const struct desk_round_step *s = &round->steps[i];
        if (s->type == type && (type == STEP_CHECK  ? s->checkpoint
                                : type == STEP_TASK ? s->task
                                                    : s->change) == index) {
            return (int)i;
        }
    }
    return -1;
}

/* The oil change under the propped body: raise, prop, stop before it; afterwards all of it back. */
static void rounds(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    meter(&b, "2026-11-01", "100");
    struct desk_round_ask ask = {.machine = S("G-1"),
                                 .scope = S("engine-oil, tyre, oil-pressure, engine-leaks, lights")};
    struct desk_round round;
    ok(&b, desk_round(b.d, &ask, &b.a, &round, &b.e));
    assert_true(round.proven);
    const struct book *book = round.machine->book;
    int oil = step_of(&round, STEP_TASK, book_find_task(book, S("change-engine-oil")));
    int leaks = step_of(&round, STEP_CHECK, book_find_checkpoint(book, S("engine-leaks")));
    int pressure = step_of(&round, STEP_CHECK, book_find_checkpoint(book, S("oil-pressure")));
    int tyre = step_of(&round, STEP_CHECK, book_find_checkpoint(book, S("tyre")));
    assert_true(oil >= 0 && leaks > oil && pressure >= 0 && tyre >= 0); /* looked at again after what mends it */
    /* Walk through the changes: the body is propped and the engine off at the oil; the engine runs at the pressure;
     * parked at the end. */
    int engine = 0;
    int body = 0;
    for (size_t i = 0; i < round.n; i++) {
        const struct desk_round_step *s = &round.steps[i];
        if (s->type == STEP_CHANGE) {
            const struct book_change *c = &book->changes[s->change];
            engine = c->to[0] >= 0 ? c->to[0] : engine;
            body = c->to[1] >= 0 ? c->to[1] : body;
            assert_false(engine == 0 && body == 1);
        } else if ((int)i == oil || (int)i == leaks) {
            assert_true(engine == 0 && body == 2);
        } else if ((int)i == pressure) {
            assert_true(engine == 1);
        }
    }
    assert_true(engine == 0 && body == 0);
    struct desk_kit kit;
    ok(&b, desk_kit_of_round(b.d, &round, &b.a, &kit, &b.e));
    assert_int_equal(kit.n_parts, 1);
    assert_says(&b, kit.parts[0].number, "HG-101");
    assert_says(&b, kit.parts[0].instead_of, "HG-100");
    assert_says(&b, kit.fluids[0].quantity, "4.4 L");
    assert_int_equal(kit.n_waste, 2);
    /* What there is time for: the lights alone take 20 s, the oil change does not fit into two minutes. */
    ask.scope = S("lights, engine-oil");
    ask.minutes = 2;
    ok(&b, desk_round(b.d, &ask, &b.a, &round, &b.e));
    assert_int_equal(round.n_left, 1);
    assert_true(round.total_s <= 120);
    ask.minutes = 0;
    ask.scope = S("lihgts");
    assert_false(desk_round(b.d, &ask, &b.a, &round, &b.e));
    assert_says(&b, b.e.right, "did you mean lights?");
    b.e = err_new(&b.a);
    ask.scope = S("daily");
    ok(&b, desk_round(b.d, &ask, &b.a, &round, &b.e));
    struct text document = text_new(&b.a);
    ok(&b, desk_print_round(b.d, &round, S("Letter"), &document, &b.e));
    json_error_t where;
    json_t *tree = json_loadb(document.p, document.n, JSON_REJECT_DUPLICATES, &where);
    assert_non_null(tree);
    assert_string_equal(json_string_value(json_object_get(tree, "paper")), "Letter");
    json_decref(tree);
    bench_close(&b);
}

/* The same spreadsheet twice, and all or nothing. */
static void spreadsheets(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    static const char good[] = "Date,Machine,Hours\n2026-11-01,G-1,100\n2026-11-08,gu2-0500,117.5\n";
    static const char half[] = "Date,Machine,Hours\n2026-11-15,G-1,130\n2026-11-16,G-9,10\n";
    struct desk_feed_ask ask = {.name = S("week.csv"), .data = str_of(good), .by = S("Ines")};
    struct desk_feed_report report;
    ok(&b, desk_feed_csv(b.d, &ask, &b.a, &report, &b.e));
    assert_true(report.take + report.doubt == 2 && report.added == 0);
    ask.take = true;
    ok(&b, desk_feed_csv(b.d, &ask, &b.a, &report, &b.e));
    assert_int_equal(report.added, 2);
    ok(&b, desk_feed_csv(b.d, &ask, &b.a, &report, &b.e));
    assert_true(report.known == 2 && report.added == 0);
    ask.data = str_of(half);
    assert_false(desk_feed_csv(b.d, &ask, &b.a, &report, &b.e));
    assert_true(report.refuse == 1 && report.added == 0);
    b.e = err_new(&b.a);
    const struct desk_machine *m = desk_machine_find(b.d, S("G-1"), &b.e);
    assert_true(m->meter.n == 2 && m->use.hours_now == 117.5);
    ask.skip_refused = true;
    ok(&b, desk_feed_csv(b.d, &ask, &b.a, &report, &b.e));
    assert_int_equal(report.added, 1);
    bench_close(&b);
}

/* Taking up entries as they arrive gives the same list as reading the whole log anew. */
static void growing_is_reading_anew(void **state)
{
    (void)state;
    struct bench b;
    begin(&b);
    meter(&b, "2026-06-01", "10");
    (void)today(&b);
    uint64_t x = 11;
    for (int i = 0; i < 60; i++) {
        x = x * 6364136223846793005U + 1442695040888963407U;
        char when[32];
        (void)snprintf(when, sizeof when, "2026-%02d-%02d", 6 + (int)((x >> 33) % 6), 1 + (int)((x >> 40) % 24));
        struct desk_stamp s = at(&b, when);
        struct desk_recorded r;
        struct desk_done done = {.task = S("torque-wheels")};
        switch ((x >> 50) % 4) {
        case 0:
            ok(&b, desk_record_reading(b.d, &s, S("tyre"), i % 2 ? S("1.5 bar") : S("1.2 bar"),
                                       S("temperature=18 degC"), &b.a, &r, &b.e));
            break;
        case 1:
            ok(&b, desk_record_found(b.d, &s, S("lamp"), i % 3 ? S("ok") : S("dark"), &b.a, &r, &b.e));
            break;
        case 2:
            ok(&b, desk_record_done(b.d, &s, &done, &b.a, &r, &b.e));
            break;
        default:
            ok(&b, desk_record_fault(b.d, &s, S("100/4"), i % 2, &b.a, &r, &b.e));
            break;
        }
        struct desk_today_list grown = today(&b);
        struct desk_options options = bench_options(&b);
        struct bench anew = {.a = arena_new(&arena_libc)};
        anew.e = err_new(&anew.a);
        ok(&anew, desk_open(&options, &anew.d, &anew.e));
        struct desk_today_list list = today(&anew);
        assert_int_equal(grown.n, list.n);
        for (size_t k = 0; k < list.n; k++) {
            assert_true(str_eq(grown.at[k].key, list.at[k].key) && str_eq(grown.at[k].says, list.at[k].says));
        }
        desk_close(anew.d);
        arena_free(&anew.a);
    }
    bench_close(&b);
}

/* RFC 5545 3.3.5: a local time that does not exist counts with the offset before the gap, one that occurs twice is the
 * first. In Lisbon the clocks went forward at 01:00 on 29 March 2026 and back at 02:00 on 25 October 2026 (IANA time
 * zone database). */
static void local_times(void **state)
{
    (void)state;
    static const struct {
        const char *local, *utc;
    } rows[] = {
        {"2026-03-29 00:59", "2026-03-29T00:59:00.000Z"}, {"2026-03-29 01:30", "2026-03-29T01:30:00.000Z"},
        {"2026-03-29 02:30", "2026-03-29T01:30:00.000Z"}, {"2026-10-25 00:30", "2026-10-24T23:30:00.000Z"},
        {"2026-10-25 01:30", "2026-10-25T00:30:00.000Z"}, {"2026-10-25 02:30", "2026-10-25T02:30:00.000Z"},
        {"2026-07-01", "2026-07-01T11:00:00.000Z"},       {"2026-07-01T10:00:00+02:00", "2026-07-01T08:00:00.000Z"},
    };
    struct bench b;
    begin(&b);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        instant_ms when = 0;
        ok(&b, desk_instant(b.d, str_of(rows[i].local), &when, &b.e));
        struct text t = text_new(&b.a);
        text_instant(&t, when);
        assert_string_equal(text_z(&t), rows[i].utc);
    }
    instant_ms when = 0;
    assert_false(desk_instant(b.d, S("2026-02-30"), &when, &b.e));
    assert_int_equal(b.e.kind, ERR_USAGE);
    bench_close(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(due_by_hours_and_calendar),
        cmocka_unit_test(mistyped_meter),
        cmocka_unit_test(readings_and_findings),
        cmocka_unit_test(put_back_and_torque_again),
        cmocka_unit_test(rounds),
        cmocka_unit_test(spreadsheets),
        cmocka_unit_test(growing_is_reading_anew),
        cmocka_unit_test(local_times),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
