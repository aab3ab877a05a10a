/* The exhaust filter and the shelf at the desk: what the log says is what the answers rest on; a dusty week with a fire
 * ban on each of the three books; lists of jobs in their three forms, and wrong ones. */
#include "bench.h"

#include "desk_exhaust.h"
#include "desk_stock.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define DAY_MS 86400000LL

static void begin(struct bench *b, const char *book, const char *serial, const char *options)
{
    char path[64];
    (void)snprintf(path, sizeof path, "books/%s.yaml", book);
    bench_open(b, 11);
    bench_book(b, path);
    bench_machine(b, serial, "X-1", options, "");
}

static struct desk_stamp at(int days_ago)
{
    return (struct desk_stamp){.machine = S("X-1"), .by = S("Ines"), .at = bench_noon() - days_ago * DAY_MS};
}

static void meter(struct bench *b, int days_ago, const char *hours)
{
    struct desk_stamp s = at(days_ago);
    struct desk_recorded out;
    ok(b, desk_record_meter(b->d, &s, str_of(hours), &b->a, &out, &b->e));
}
static void soot(struct bench *b, int days_ago, const char *load)
{
    struct desk_stamp s = at(days_ago);
    struct desk_recorded out;
    ok(b, desk_record_reading(b->d, &s, S("soot"), str_of(load), S(""), &b->a, &out, &b->e));
}
static void burn(struct bench *b, int days_ago, const char *type)
{
    struct desk_stamp s = at(days_ago);
    struct desk_recorded out;
    ok(b, desk_record_burn(b->d, &s, str_of(type), S(""), &b->a, &out, &b->e));
}

/* Half a day's work every day; inhibited all the time, so that nothing burns unseen; soot at twice the book's rate. */
static void learns_and_warns(void **state)
{
    (void)state;
    struct bench b;
    begin(&b, "brine6", "BR6-02204", "cab,exhaust-filter");
    struct desk_exhaust x;
    ok(&b, desk_exhaust(b.d, S("X-1"), &b.a, &x, &b.e));
    assert_true(!x.known && !x.inhibited && x.n_history == 0);
    assert_true(fabs(x.rate - x.book_rate) < 1e-12);
    char text[32];
    burn(&b, 60, "parked");
    burn(&b, 60, "inhibited");
    for (int i = 60; i >= 2; i--) {
        (void)snprintf(text, sizeof text, "%.1f", 1000 + 4.0 * (60 - i));
        meter(&b, i, text);
    }
    /* From 15 % at 10 % an hour and 3.6 % burning off: 20, 40 and 60 % after about 0.5, 2.7 and 5.2 h ... read every
     * day: 15 -> 49.5 -> 79.3 -> (parked burn) ... by hand from dL/dt = 0.106 - 0.036 L over 4 h: L' = 0.866 L + 0.395
     */
    double load = 0.15;
    for (int i = 59; i >= 2; i--) {
        load = 0.866 * load + 0.395;
        (void)snprintf(text, sizeof text, "%.0f %%", 100 * load);
        soot(&b, i, text);
        if (load > 0.75) {
            burn(&b, i, "parked");
            load = 0.15;
        }
    }
    ok(&b, desk_exhaust(b.d, S("X-1"), &b.a, &x, &b.e));
    assert_true(x.known && x.stretches > 40 && x.left_out == 0);
    /* 0.106 an hour is twice the book's 0.053 */
    assert_true(x.rate > 0.095 && x.rate < 0.117 && x.rate_deviation < 0.02);
    assert_true(x.inhibited && x.inhibited_h > 200);
    assert_true(x.demanded.p10 < x.demanded.p50 && x.demanded.p50 < x.derated.p50);
    /* It is on the put-back list and on today's, until it is released. */
    struct desk_today_filter filter = {.machine = S("X-1"), .within_days = -1};
    struct desk_today_list list;
    ok(&b, desk_today(b.d, &filter, &b.a, &list, &b.e));
    bool warned = false;
    bool forecast = false;
    for (size_t i = 0; i < list.n; i++) {
        warned = warned || (list.at[i].kind == DUE_PUT_BACK && str_eq(list.at[i].key, S("burning-inhibited")));
        forecast = forecast || (str_eq(list.at[i].key, S("soot")) && list.at[i].reserve.p50 != DAY_NONE);
    }
    assert_true(warned && forecast);
    struct desk_why why;
    ok(&b, desk_why(b.d, S("X-1"), S("soot"), &b.a, &why, &b.e));
    assert_true(why.n > 6);
    burn(&b, 0, "released");
    ok(&b, desk_exhaust(b.d, S("X-1"), &b.a, &x, &b.e));
    assert_false(x.inhibited);
    assert_true(desk_machine_find(b.d, S("X-1"), &b.e)->n_open == 0);
    bench_close(&b);
}

static void no_filter(void **state)
{
    (void)state;
    struct bench b;
    begin(&b, "brine6", "BR6-01177", "cab");
    struct desk_exhaust x;
    assert_false(desk_exhaust(b.d, S("X-1"), &b.a, &x, &b.e));
    assert_int_equal(b.e.kind, ERR_MISSING);
    bench_close(&b);
}

/* A dusty week under a fire ban. On the yard's hard standing before it a burn fits; with no such stop it is refused and
 * the answer says which stop would do. */
static void dusty_week_with_a_fire_ban(void **state)
{
    (void)state;
    static const struct {
        const char *book, *serial, *options, *duty;
    } rows[] = {{"brine6", "BR6-03415", "cab,exhaust-filter", "raking"},
                {"lark72", "L72-2210", "exhaust-filter", "mowing-dry"},
                {"stoat24", "ST24-01520", "exhaust-filter", "loading"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct bench b;
        begin(&b, rows[i].book, rows[i].serial, rows[i].options);
        meter(&b, 3, "500");
        soot(&b, 3, "45 %");
        struct text jobs = text_new(&b.a);
        for (int day = 0; day < 4; day++) {
            text_join(&jobs, rows[i].duty, " 6 dusty dry-vegetation stop 120 hard-standing; ", (char *)0);
        }
        struct desk_jobs ask = {.list = text_str(&jobs), .fire_ban = true};
        struct desk_burn_plan p;
        ok(&b, desk_exhaust_plan(b.d, S("X-1"), &ask, &b.a, &p, &b.e));
        assert_int_equal(p.plan.word, BURN_PLANNED);
        for (int k = 0; k < p.plan.n; k++) {
            assert_true(p.plan.jobs[k].inhibit);
            assert_true(!p.plan.stops[k].burn || (p.plan.stops[k].permitted && p.plan.stops[k].ask_ban));
        }
        /* The same week out on the site, with twice the days: nowhere to burn. */
        jobs = text_new(&b.a);
        for (int day = 0; day < 8; day++) {
            text_join(&jobs, rows[i].duty, " 6 dusty dry-vegetation; ", (char *)0);
        }
        ask.list = text_str(&jobs);
        ok(&b, desk_exhaust_plan(b.d, S("X-1"), &ask, &b.a, &p, &b.e));
        assert_int_equal(p.plan.word, BURN_REFUSED);
        assert_int_equal(p.plan.n_burns, 0);
        assert_true(p.plan.right.n > 0);
        bench_close(&b);
    }
}

/* The same two jobs as CSV, as a colleague's CSV, as YAML, on one line. */
static void jobs_in_every_form(void **state)
{
    (void)state;
    static const struct {
        const char *name, *data;
    } forms[] = {
        {"jobs.csv",
         "job,duty,hours,places,stop,at\nbeach,raking,6.5,dry-vegetation fire-ban,,\n,transfer,2,,60,hard-standing\n"},
        {"jobs.csv", "\xef\xbb\xbfjob;duty;hours;places;stop;at\r\nbeach;raking;6,5;dry-vegetation "
                     "fire-ban;;\r\n;transfer;2;;60;hard-standing\r\n"},
        {"jobs.yaml", "- { job: beach, duty: raking, hours: 6.5, places: [dry-vegetation, fire-ban] }\n"
                      "- duty: transfer\n  hours: 2\n  stop: 60\n  at: hard-standing\n"},
        {"jobs", "[{\"job\": \"beach\", \"duty\": \"Raking dry sand\", \"hours\": 6.5, \"places\": "
                 "[\"dry-vegetation\", \"fire-ban\"]},"
                 " {\"duty\": \"transfer\", \"hours\": 2, \"stop\": 60, \"at\": \"hard-standing\"}]"},
        {NULL, "raking 6.5 dry-vegetation fire-ban; transfer 2 stop 60 hard-standing"},
    };
    static const struct {
        const char *name, *data, *says;
        uint32_t line;
    } wrong[] = {
        {"jobs.csv", "", "empty", 1},
        {"jobs.csv", "job,duty,hours\n", "no job", 1},
        {"jobs.csv", "job,dutty,hours\nx,raking,7\n", "dutty", 1},
        {"jobs.csv", "job,duty,hours\nx,rakin,7\n", "no duty", 2},
        {"jobs.csv", "job,duty,hours\nx,raking,seven\n", "hours", 2},
        {"jobs.csv", "job,duty,hours\nx,raking,-7\n", "hours", 2},
        {"jobs.csv", "job,duty,hours,places\nx,raking,7,lawn\n", "lawn", 2},
        {"jobs.csv", "job,duty,hours\nx,raking,7,8\n", "more fields", 2},
        {"jobs.csv", "job,duty,hours,burn\nx,raking,7,maybe\n", "burn", 2},
        {"jobs.csv", "job,duty,hours,stop\nx,raking,7,long\n", "no duration", 2},
        {"jobs.yaml", "- [a, b]\n", "not a list of jobs", 1},
        {"jobs.yaml", "jobs: 7\n", "not a list of jobs", 1},
        {"jobs.yaml", "- { duty: raking, hours: 7\n", "", 2},
        {"jobs.yaml", "- &a { duty: raking, hours: 7 }\n- *a\n", "aliases", 2},
        {"jobs.yaml", "- { duty: raking, hours: 7 }\n---\n- { duty: raking, hours: 7 }\n", "second document", 2},
        {NULL, "raking", "without hours", 0},
        {NULL, " ", "no job", 0},
    };
    struct bench b;
    begin(&b, "brine6", "BR6-02204", "exhaust-filter");
    meter(&b, 3, "500");
    soot(&b, 3, "45 %");
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++) {
        struct desk_jobs ask = {.list = str_of(forms[i].name ? "" : forms[i].data)};
        if (forms[i].name) {
            ask.name = str_of(forms[i].name);
            ask.data = str_of(forms[i].data);
        }
        struct desk_burn_plan p;
        ok(&b, desk_exhaust_plan(b.d, S("X-1"), &ask, &b.a, &p, &b.e));
        assert_int_equal(p.ask.n, 2);
        assert_true(p.ask.jobs[0].hours == 6.5 && p.ask.jobs[1].hours == 2 && p.ask.jobs[1].stop_min == 60);
        assert_int_equal(p.ask.jobs[0].places, 1U << PLACE_DRY | 1U << PLACE_FIRE_BAN);
        assert_int_equal(p.ask.jobs[1].stop, 1U << PLACE_HARD);
        assert_true(p.ask.jobs[0].duty == 0 && p.ask.jobs[1].duty == 2);
        assert_true(p.plan.jobs[0].inhibit && !p.plan.jobs[1].inhibit && p.plan.stops[1].too_short);
    }
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct desk_jobs ask = {.list = str_of(wrong[i].name ? "" : wrong[i].data)};
        struct err e = err_new(&b.a);
        if (wrong[i].name) {
            ask.name = str_of(wrong[i].name);
            ask.data = (struct str){wrong[i].data, strlen(wrong[i].data)};
        }
        struct desk_burn_plan p;
        if (desk_exhaust_plan(b.d, S("X-1"), &ask, &b.a, &p, &e) || str_find(e.what, str_of(wrong[i].says)) < 0 ||
            (wrong[i].line && e.where.line != wrong[i].line)) {
            fail_msg("%s: %s", wrong[i].data, str_z(&b.a, err_text(&b.a, &e)));
        }
    }
    bench_close(&b);
}

/* Three filters there, one used since, two to be kept; superseded numbers are the same part; what no book has is kept
 * apart. */
static void shelf_counts(void **state)
{
    (void)state;
    struct bench b;
    begin(&b, "brine6", "BR6-02204", "cab,exhaust-filter");
    struct desk_recorded out;
    char text[32];
    for (int i = 99; i >= 1; i -= 7) {
        (void)snprintf(text, sizeof text, "%.1f", 1000 + 4.0 * (99 - i));
        meter(&b, i, text);
    }
    struct desk_stamp then = {.by = S("Ines"), .at = bench_noon() - 90 * DAY_MS};
    ok(&b, desk_record_stock(b.d, &then, S("HT-1104"), S("3"), &b.a, &out, &b.e));
    ok(&b, desk_record_stock(b.d, &then, S("rope"), S("2"), &b.a, &out, &b.e));
    bench_book(&b,
               "books/lark72.yaml"); /* both books have an oil filter: its name means two parts once a mower is there */
    struct desk_machine_new mower = {
        .serial = S("L72-2210"), .label = S("X-2"), .by = S("Ines"), .at = bench_noon(), .in_service = DAY_NONE};
    struct entry_id id;
    ok(&b, desk_machine_add(b.d, &mower, &id, &b.e));
    struct err several = err_new(&b.a);
    assert_false(desk_record_stock(b.d, &then, S("oil-filter"), S("3"), &b.a, &out, &several));
    assert_int_equal(several.kind, ERR_CONFLICT);
    assert_true(str_find(several.right, S("HT-1104B")) >= 0);
    struct desk_stamp s = at(40);
    struct desk_done done = {.task = S("change-engine-oil")};
    ok(&b, desk_record_done(b.d, &s, &done, &b.a, &out, &b.e));
    struct desk_shelf shelf;
    ok(&b, desk_shelf(b.d, &b.a, &shelf, &b.e));
    const struct desk_part *filter = NULL;
    const struct desk_part *rope = NULL;
    for (size_t i = 0; i < shelf.n; i++) {
        filter = str_eq(shelf.parts[i].number, S("HT-1104B")) ? &shelf.parts[i] : filter;
        rope = str_eq(shelf.parts[i].number, S("rope")) ? &shelf.parts[i] : rope;
        assert_false(str_eq(shelf.parts[i].number, S("HT-1104")));
    }
    assert_true(filter && rope && !rope->in_a_book && rope->have == 2);
    assert_true(filter->counted && filter->have == 2 && filter->keep == 2 && filter->n_needs > 0);
    /* 250 h at 4 h a day: the first change about 22 days from now, the second about 85, the third about 147. Two are
     * there: the shelf is short when the third falls due. */
    day_t third = desk_today_day(b.d) + 147;
    assert_true(filter->runs_out.p10 < third && third < filter->runs_out.p90);
    assert_true(filter->runs_out.p50 > third - 45 && filter->runs_out.p50 < third + 60);
    assert_true(filter->order_by == DAY_NONE || filter->order_by == filter->runs_out.p10 - STOCK_LEAD_DAYS);
    struct desk_why why;
    ok(&b, desk_why(b.d, S("shelf"), S("HT-1104B"), &b.a, &why, &b.e));
    assert_true(why.n > 3);
    assert_false(desk_why(b.d, S("shelf"), S("HT-1105B"), &b.a, &why, &b.e));
    assert_true(str_find(b.e.right, S("HT-1104B")) >= 0);
    bench_close(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(learns_and_warns),
        cmocka_unit_test(no_filter),
        cmocka_unit_test(dusty_week_with_a_fire_ban),
        cmocka_unit_test(jobs_in_every_form),
        cmocka_unit_test(shelf_counts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
