/* Moving a dead machine and putting back: where a recovery stands after each event of a walk out and back, its limits,
 * and, over events made by chance, that nothing that is open goes unnoticed and the way back always ends. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "chance.h"

#include "recover/putback.h"
#include "recover/recover.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHOCKS = 1, BAR = 2, BRAKE = 4, BYPASS = 8, ELSE = 16 };
/* Chock, connect, release, open, take the chocks away: the order of the trade (safety: chock first). */
static const struct recover_step steps[] = {{CHOCKS, 0}, {BAR, 0}, {BRAKE, 0}, {BYPASS, 0}, {0, CHOCKS}};
#define STEPS 5

static void a_walk(void **state)
{
    (void)state;
    static const struct {
        struct recover_event event;
        enum recover_phase phase;
        uint64_t open;
        int next;
        bool back;
        double distance;
    } rows[] = {
        {{RECOVER_OPENED, CHOCKS, 0, NAN, NAN, NAN}, RECOVER_OUT, CHOCKS, 1, false, 0},
        {{RECOVER_OPENED, BAR, 0, NAN, NAN, NAN}, RECOVER_OUT, CHOCKS | BAR, 2, false, 0},
        {{RECOVER_OPENED, ELSE, 0, NAN, NAN, NAN}, RECOVER_OUT, CHOCKS | BAR, 2, false, 0},
        {{RECOVER_OPENED, BRAKE, 0, NAN, NAN, NAN}, RECOVER_OUT, CHOCKS | BAR | BRAKE, 3, false, 0},
        {{RECOVER_OPENED, BYPASS, 0, NAN, NAN, NAN}, RECOVER_OUT, CHOCKS | BAR | BRAKE | BYPASS, 4, false, 0},
        {{RECOVER_CLOSED, CHOCKS, 0, NAN, NAN, NAN}, RECOVER_MOVING, BAR | BRAKE | BYPASS, 4, true, 0},
        {{RECOVER_MOVED, 0, 120, 180, 0.02, NAN}, RECOVER_MOVING, BAR | BRAKE | BYPASS, 4, true, 120},
        {{RECOVER_MOVED, 0, 80, NAN, 0.04, NAN}, RECOVER_MOVING, BAR | BRAKE | BYPASS, 4, true, 200},
        {{RECOVER_OPENED, CHOCKS, 0, NAN, NAN, NAN}, RECOVER_BACK, CHOCKS | BAR | BRAKE | BYPASS, 3, true, 200},
        {{RECOVER_CLOSED, BYPASS, 0, NAN, NAN, NAN}, RECOVER_BACK, CHOCKS | BAR | BRAKE, 2, true, 200},
        {{RECOVER_CLOSED, BRAKE, 0, NAN, NAN, NAN}, RECOVER_BACK, CHOCKS | BAR, 1, true, 200},
        {{RECOVER_CLOSED, BAR, 0, NAN, NAN, NAN}, RECOVER_BACK, CHOCKS, 0, true, 200},
        {{RECOVER_CLOSED, CHOCKS, 0, NAN, NAN, NAN}, RECOVER_NONE, 0, 0, false, 200},
        {{RECOVER_OPENED, CHOCKS, 0, NAN, NAN, NAN}, RECOVER_OUT, CHOCKS, 1, false, 0}, /* the next one counts anew */
    };
    struct recover_event events[sizeof rows / sizeof *rows];
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        events[i] = rows[i].event;
        struct recover_state s = recover_read(steps, STEPS, events, i + 1);
        if (s.phase != rows[i].phase || s.open != rows[i].open || s.next != rows[i].next ||
            s.next_back != rows[i].back || s.distance_m != rows[i].distance || s.out_of_order) {
            fail_msg("event %zu: %s, open %llu, next %d%s, %g m", i, recover_phase_word(s.phase),
                     (unsigned long long)s.open, s.next, s.next_back ? " back" : "", s.distance_m);
        }
    }
    struct recover_state s = recover_read(steps, STEPS, events, 8);
    assert_true(s.time_s == 180 && s.untimed == 1 && s.moves == 2);
    assert_true(fabs(s.fastest_m_s - 120.0 / 180) < 1e-12 && s.steepest == 0.04);
}

/* Turned round half-way out: what was opened is closed, last first. Opened out of order, it says so and the way back
 * holds the machine first. */
static void turned_round(void **state)
{
    (void)state;
    struct recover_event events[] = {{RECOVER_OPENED, CHOCKS | BAR | BRAKE, 0, NAN, NAN, NAN},
                                     {RECOVER_CLOSED, BRAKE, 0, NAN, NAN, NAN}};
    struct recover_state s = recover_read(steps, STEPS, events, 2);
    int order[STEPS];
    assert_int_equal(s.phase, RECOVER_OUT);
    assert_int_equal(recover_way_back(steps, STEPS, s.open, order), 2);
    assert_int_equal(order[0], 1);
    assert_int_equal(order[1], 0);

    struct recover_event bypass = {RECOVER_OPENED, BYPASS, 0, NAN, NAN, NAN};
    s = recover_read(steps, STEPS, &bypass, 1);
    assert_true(s.out_of_order);
    assert_int_equal(s.next, 0); /* chock it, whatever comes then */
    assert_int_equal(recover_way_back(steps, STEPS, s.open, order), 3);
    assert_int_equal(order[0], 4); /* chock, shut the bypass, take the chocks away */
    assert_int_equal(order[1], 3);
    assert_int_equal(order[2], 0);
}

static void limits_hold(void **state)
{
    (void)state;
    /* 300 m, 3 km/h, 5 %, 15 min: at 3 km/h 300 m take 6 min. */
    const struct recover_limits limits = {300, 3 / 3.6, 0.05, 900, 100};
    static const struct {
        double moved, time;
        struct recover_plan plan;
        unsigned exceeded; /* bit per limit */
        double left_m;
    } rows[] = {
        {0, 0, {200, NAN, 0.03, NAN}, 0, 300},
        {0, 0, {300, 3 / 3.6, 0.05, 100}, 0, 300}, /* exactly at the limits */
        {0, 0, {301, NAN, NAN, NAN}, 1 << LIMIT_DISTANCE, 300},
        {200, 400, {101, NAN, NAN, NAN}, 1 << LIMIT_DISTANCE, 100},
        {0, 0, {100, 3.1 / 3.6, 0.051, 101}, 1 << LIMIT_SPEED | 1 << LIMIT_SLOPE | 1 << LIMIT_LOAD, 300},
        {100, 800, {100, NAN, NAN, NAN}, 1 << LIMIT_TIME, 200},  /* 120 s more */
        {0, 0, {250, 0.25, NAN, NAN}, 1 << LIMIT_TIME, 300},     /* 1000 s */
        {200, 200, {NAN, NAN, NAN, NAN}, 1 << LIMIT_SPEED, 100}, /* it was pulled at 3.6 km/h */
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct recover_event event = {RECOVER_MOVED, 0, rows[i].moved, rows[i].time, NAN, NAN};
        struct recover_state s = recover_read(steps, STEPS, &event, rows[i].moved > 0);
        struct recover_judged out[LIMIT_COUNT];
        bool any = recover_judge(&limits, &s, &rows[i].plan, out);
        unsigned exceeded = 0;
        for (int k = 0; k < LIMIT_COUNT; k++) {
            exceeded |= (unsigned)out[k].exceeded << k;
        }
        if (exceeded != rows[i].exceeded || any != (exceeded != 0) || out[LIMIT_DISTANCE].left != rows[i].left_m) {
            fail_msg("row %zu: exceeded %u, %g m left", i, exceeded, out[LIMIT_DISTANCE].left);
        }
    }
    /* A recovery that is over: its 200 m do not count for the next one. */
    struct recover_event over[] = {{RECOVER_OPENED, CHOCKS, 0, NAN, NAN, NAN},
                                   {RECOVER_MOVED, 0, 200, NAN, NAN, NAN},
                                   {RECOVER_CLOSED, CHOCKS, 0, NAN, NAN, NAN}};
    struct recover_judged anew[LIMIT_COUNT];
    struct recover_state ended = recover_read(steps, STEPS, over, 3);
    assert_true(ended.ended && ended.distance_m == 200);
    assert_false(recover_judge(&limits, &ended, &(struct recover_plan){300, NAN, NAN, NAN}, anew));
    assert_true(anew[LIMIT_DISTANCE].left == 300);
    const struct recover_limits none = {NAN, NAN, NAN, NAN, NAN};
    struct recover_judged out[LIMIT_COUNT];
    struct recover_state s = recover_read(steps, STEPS, NULL, 0);
    assert_false(recover_judge(&none, &s, &rows[2].plan, out));
    assert_false(out[LIMIT_DISTANCE].known);
    /* 1000 kg on 100 %: m g / sqrt 2. */
    assert_true(fabs(recover_slope_force_n(1000, 1) - 9806.65 / sqrt(2)) < 1e-6);
}

/* Whatever is opened and closed, in order or not: what is open is known, there is a next step as long as something is
 * open, and the way back ends with nothing open, the machine held before anything is shut. */
static void nothing_open_unnoticed(void **state)
{
    (void)state;
    uint64_t seed = seed_of_run();
    for (int run = 0; run < 20000; run++) {
        struct recover_event events[30];
        uint64_t open = 0;
        int n = 1 + below(&seed, 30);
        for (int i = 0; i < n; i++) {
            uint64_t items = UINT64_C(1) << below(&seed, 5);
            int kind = below(&seed, 5);
            events[i] = (struct recover_event){
                kind == 4 ? RECOVER_MOVED : kind < 2 ? RECOVER_OPENED : RECOVER_CLOSED, items, 10, NAN, NAN, NAN};
            open = kind == 4 ? open : kind < 2 ? open | items : open & ~items;
        }
        open &= CHOCKS | BAR | BRAKE | BYPASS;
        struct recover_state s = recover_read(steps, STEPS, events, (size_t)n);
        assert_true(s.open == open);
        assert_true((s.phase == RECOVER_NONE) == (open == 0));
        assert_true(open == 0 || s.next >= 0 || s.phase == RECOVER_OUT);
        int order[STEPS];
        int back = recover_way_back(steps, STEPS, open, order);
        for (int i = 0; i < back; i++) {
            bool releases = steps[order[i]].closes != 0;
            assert_true(i == 0 || !releases); /* it is held first, before anything is shut */
            if (!releases && order[i] != 0) {
                assert_true(open & CHOCKS);
            }
            open = (open | steps[order[i]].closes) & ~steps[order[i]].opens;
        }
        assert_true(open == 0);
    }
}

/* ---- the put-back list ---- */

static void list_by_hand(void **state)
{
    (void)state;
    static const int closes[] = {3};
    static const struct putback_task tasks[] = {{NULL, closes, 0, 1}};
    static const struct putback_act acts[] = {
        {ACT_OPEN, 3, 10},  {ACT_OPEN, 4, 11},  {ACT_OPEN, 3, 12}, /* 3 a second time */
        {ACT_CLOSE, 5, 13},                                        /* never opened */
        {ACT_TASK, 0, 14},                                         /* closes 3, says its procedure */
        {ACT_CLOSE, 4, 15}, {ACT_CLOSE, 3, 16}, {ACT_TASK, 0, 17}, /* nothing to find */
        {ACT_OPEN, 3, 18},  {ACT_TASK, 0, 19},
    };
    struct arena a = arena_new(&arena_libc);
    struct putback p = putback_replay(&a, acts, sizeof acts / sizeof *acts, tasks);
    assert_int_equal(p.n_open, 1);
    assert_int_equal(p.open[0].item, 3);
    assert_int_equal(p.open[0].source, 18);
    static const struct putback_finding expected[] = {{PUTBACK_TWICE, 3, -1, 12, 10, false},
                                                      {PUTBACK_NEVER_OPENED, 5, -1, 13, 13, false},
                                                      {PUTBACK_TASK_LEFT, 3, 0, 14, 10, false},
                                                      {PUTBACK_TASK_LEFT, 3, 0, 19, 18, true}};
    assert_int_equal(p.n_findings, 4);
    for (size_t i = 0; i < 4; i++) {
        const struct putback_finding *f = &p.findings[i];
        if (f->kind != expected[i].kind || f->item != expected[i].item || f->task != expected[i].task ||
            f->source != expected[i].source || f->opened != expected[i].opened || f->still != expected[i].still) {
            fail_msg("finding %zu: %s item %d", i, putback_finding_word(f->kind), f->item);
        }
    }
    arena_free(&a);
}

/* Against counting: an item is on the list exactly when the last that was said of it is that it was opened. */
static void list_by_counting(void **state)
{
    (void)state;
    uint64_t seed = seed_of_run();
    static const int closes[] = {0, 1, 2};
    static const struct putback_task tasks[] = {{NULL, closes, 0, 3}};
    for (int run = 0; run < 5000; run++) {
        struct arena a = arena_new(&arena_libc);
        struct putback_act acts[40];
        bool is_open[6] = {false};
        size_t n = 1 + (size_t)below(&seed, 40);
        size_t odd = 0;
        for (size_t i = 0; i < n; i++) {
            int kind = below(&seed, 5);
            acts[i] = (struct putback_act){kind < 2   ? ACT_OPEN
                                           : kind < 4 ? ACT_CLOSE
                                                      : ACT_TASK,
                                           kind < 4 ? below(&seed, 6) : 0, i};
            if (kind < 4) {
                odd += is_open[acts[i].item] == (kind < 2);
                is_open[acts[i].item] = kind < 2;
            } else {
                odd += (size_t)(is_open[0] + is_open[1] + is_open[2]);
            }
        }
        struct putback p = putback_replay(&a, acts, n, tasks);
        size_t open = 0;
        for (int i = 0; i < 6; i++) {
            open += is_open[i];
        }
        assert_int_equal(p.n_open, open);
        assert_int_equal(p.n_findings, odd);
        for (size_t i = 0; i < p.n_open; i++) {
            assert_true(is_open[p.open[i].item]);
        }
        for (size_t i = 0; i < p.n_findings; i++) {
            const struct putback_finding *f = &p.findings[i];
            if (f->kind == PUTBACK_TASK_LEFT) { /* still: the very opening that it found is on the list today */
                bool on_list = false;
                for (size_t k = 0; k < p.n_open; k++) {
                    on_list = on_list || p.open[k].source == f->opened;
                }
                assert_int_equal(f->still, on_list);
            }
        }
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_walk),       cmocka_unit_test(turned_round),     cmocka_unit_test(limits_hold),
        cmocka_unit_test(list_by_hand), cmocka_unit_test(list_by_counting), cmocka_unit_test(nothing_open_unnoticed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
