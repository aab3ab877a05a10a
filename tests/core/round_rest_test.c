/* The rest of a round: a machine by hand, and machines by chance whose rounds are interrupted anywhere and go on
 * without some change or point. What is handed out is replayed by round_replay, which shares no code with it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/text.h"
#include "round/round_rest.h"
#include "round_machine.h"
#include "wasm/flat_round.h"

#include <stdlib.h>
#include <string.h>

/* Engine (off, idle), body (down, up, propped). Changes: 0 start, 1 stop, 2 raise, 3 prop, 4 unprop, 5 lower.
 * Never engine off with the body up. Points: 0 tyre (anything), 1 dipstick under the propped body with the engine off,
 * 2 belt likewise, after 1; 3 lamp (anything). */
static const char machine[] =
    "variables=2 3\nstart=0 0\nfinish=1 1\nhome=0\nat=0\nplace=0 0\nplace=2 0\n"
    "never=1 2\n"
    "change=0 20 | 1 5 | 0:1\nchange=0 15 | 2 5 | 0:0\nchange=0 35 | 2 1 | 1:1\n"
    "change=0 20 | 2 2 | 1:2\nchange=0 20 | 2 4 | 1:1\nchange=0 30 | 2 2 | 1:0\n"
    "point=1 60 | 0 0 | |\npoint=1 60 | 1 4 | |\npoint=1 60 | 1 4 | | 1\npoint=0 5 | 0 0 | |\n";

static const char *ask(struct arena *a, const char *more)
{
    struct text question = text_new(a);
    struct text answer = text_new(a);
    text_join(&question, machine, more, (char *)0);
    flat_round(text_str(&question), &answer);
    return text_z(&answer);
}

static void has(const char *answer, const char *wanted)
{
    if (!strstr(answer, wanted)) {
        print_error("%s\nis not in %s\n", wanted, answer);
        fail();
    }
}

/* Worked by hand from the rules above. */
static void by_hand(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const char *s = ask(&a, "");
    has(s, "\"may\":{\"changes\":[0],\"points\":[0,3]}");
    has(s, "\"home\":true");
    has(s, "\"left\":[]");
    /* the prop cannot be set: nothing under the body, and no reason to raise it */
    s = ask(&a, "not=c3\n");
    has(s, "{\"point\":1,\"why\":\"needs\"}");
    has(s, "\"point\":2,\"why\"");
    assert_null(strstr(s, "{\"change\":"));
    /* the same with the body up already: the way home is lowering it and stopping */
    s = ask(&a, "did=c0 c2\nnot=c3\n");
    has(s, "\"condition\":[1,1]");
    has(s, "{\"change\":5}");
    has(s, "{\"change\":1}");
    assert_null(strstr(s, "{\"point\":1}"));
    has(s, "\"may\":{\"changes\":[5],\"points\":[0,3]}"); /* not stopping: that would leave the body on oil alone */
    /* the dipstick is skipped: the belt comes after it */
    s = ask(&a, "not=p1\n");
    has(s, "\"left\":[{\"point\":2,\"why\":\"after\",\"after\":1}]");
    /* done: it waits for nothing */
    s = ask(&a, "did=c0 c2 c3 c1 p1\n");
    has(s, "\"may\":{\"changes\":[0],\"points\":[0,2,3]}");
    /* the engine does not start again: what is possible is done, the body stays up */
    s = ask(&a, "did=c0 c2 c3 c1\nnot=c0\n");
    has(s, "\"home\":false");
    has(s, "{\"point\":1}");
    has(s, "\"left\":[]");
    /* all done: the way home alone */
    s = ask(&a, "did=c0 c2 c3 c1 p1 p2 p0 p3\n");
    has(s, "\"plan\":[{\"change\":0},{\"change\":4},{\"change\":5},{\"change\":1}]");
    s = ask(&a, "did=p0 p1 p2 p3\n");
    has(s, "\"plan\":[]");
    arena_free(&a);
}

static void refusals(void **state)
{
    (void)state;
    static const struct {
        const char *more, *says;
    } rows[] = {
        {"did=c9\n", "names something that does not exist"},
        {"not=p4\n", "names something that does not exist"},
        {"did=x1\n", "not a line of a round"},
        {"point=1 60 | 0 | |\n", "not a line of a round"},
        {"point=1 -60 | 0 0 | |\n", "not a line of a round"},
        {"point=1 60 | 0 0 | 7:1 |\n", "not a line of a round"},
        {"change=0 1 | 0 0 | 0:9\n", "\"error\""},
        {"at=7\n", "\"error\""},
        {"did=c2 \n", "\"error\""}, /* engine off, body up: forbidden */
        {"zero=1\n", "not a line of a round"},
        {"\xff=1\n", "no text"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        has(ask(&a, rows[i].more), rows[i].says);
        arena_free(&a);
    }
    struct arena a = arena_new(&arena_libc);
    struct text answer = text_new(&a);
    flat_round(S(""), &answer);
    has(text_z(&answer), "variables is missing");
    arena_free(&a);
}

/* Holds the plan of a rest against the rules: the rest as a problem whose finish is as promised, replayed. */
static void replayed(const struct round_problem *p, const struct round_rest_ask *ask, const struct round_rest *rest,
                     struct arena *a)
{
    struct round_problem q = *p;
    bool *done = ARENA_ARRAY(a, bool, p->n_points);
    for (size_t i = 0; i < ask->n_did; i++) {
        if (!ask->did[i].change) {
            done[ask->did[i].index] = true;
        }
    }
    for (size_t i = 0; i < rest->plan.n; i++) {
        const struct round_move *move = &rest->plan.moves[i];
        assert_false(move->kind == ROUND_CHANGE && ask->no_change[move->index]);
        if (move->kind == ROUND_POINT) {
            assert_false(ask->no_point[move->index] || done[move->index]);
            const struct round_point *x = &p->points[move->index];
            for (size_t k = 0; k < x->n_after; k++) { /* really done before, not merely called so below */
                assert_true(done[x->after[k]]);
            }
            done[move->index] = true;
        }
    }
    for (size_t i = 0; i < rest->n_left; i++) {
        assert_false(done[rest->left[i].point]);
    }
    size_t all = 0;
    for (size_t i = 0; i < p->n_points; i++) {
        all += done[i] || ask->no_point[i];
    }
    assert_int_equal(all + rest->n_left, p->n_points);
    bool *behind = ARENA_ARRAY(a, bool, p->n_points); /* for the replay, what is not in the plan is behind */
    memset(behind, 1, p->n_points * sizeof *behind);
    for (size_t i = 0; i < rest->plan.n; i++) {
        if (rest->plan.moves[i].kind == ROUND_POINT) {
            behind[rest->plan.moves[i].index] = false;
        }
    }
    q.start = rest->now;
    q.start_place = ask->at;
    q.done = behind;
    if (!rest->home) {
        q.finish = (struct round_partial){{0}};
        q.finish_place = ROUND_ANYWHERE;
    }
    struct err e = err_new(a);
    if (!round_replay(&q, rest->plan.moves, rest->plan.n, &e)) {
        print_error("%s\n", str_z(a, err_text(a, &e)));
        fail();
    }
}

static void interrupted(void **state)
{
    (void)state;
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 0) : 20261125;
    print_message("# WITMARK_SEED=%llu\n", (unsigned long long)seed);
    size_t went_on = 0;
    size_t some_left = 0;
    for (int k = 0; k < 120; k++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        uint64_t x = seed + (uint64_t)k;
        struct round_problem p = k % 2 ? machine_real(&a, x, 12) : machine_any(&a, x, 7);
        struct round_plan plan;
        struct round_options options = {.most_states = 20000};
        if (round_solve(&p, &options, &a, &plan, &e) && plan.n) {
            struct round_act *did = ARENA_ARRAY(&a, struct round_act, plan.n);
            bool *no_change = ARENA_ARRAY(&a, bool, p.n_changes);
            bool *no_point = ARENA_ARRAY(&a, bool, p.n_points);
            size_t stop = chance(&x, plan.n);
            struct round_rest_ask ask = {
                .did = did, .no_change = no_change, .no_point = no_point, .at = p.start_place, .options = options};
            for (size_t i = 0; i < stop; i++) {
                ask.at = plan.moves[i].place;
                if (plan.moves[i].kind != ROUND_WALK) {
                    did[ask.n_did++] = (struct round_act){plan.moves[i].kind == ROUND_CHANGE, plan.moves[i].index};
                }
            }
            const struct round_move *skipped = &plan.moves[stop];
            if (skipped->kind == ROUND_CHANGE) {
                no_change[skipped->index] = true;
            } else if (skipped->kind == ROUND_POINT) {
                no_point[skipped->index] = true;
            }
            struct round_rest rest;
            if (!round_rest(&p, &ask, &a, &rest, &e)) {
                print_error("%s\n", str_z(&a, err_text(&a, &e)));
                fail();
            }
            if (rest.note.n == 0) {
                replayed(&p, &ask, &rest, &a);
                went_on++;
                some_left += rest.n_left > 0;
            }
        }
        arena_free(&a);
    }
    print_message("# %zu went on, %zu of them without something\n", went_on, some_left);
    assert_true(went_on > 60);
    assert_true(some_left > 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(by_hand), cmocka_unit_test(refusals),
                                       cmocka_unit_test(interrupted)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
