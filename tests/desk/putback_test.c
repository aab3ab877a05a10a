/* No sequence of accepted steps leaves an item open unnoticed: whatever is opened, put back, turned, towed, inhibited
 * and corrected on one machine in an order made by chance, the put-back list is what counting the accepted steps says,
 * handing back is refused exactly while it is not empty, and undoing what is on it, by the words it gives, empties it.
 */
#include "bench.h"
#include "chance.h"

#include "desk_adjust.h"
#include "desk_putback.h"
#include "desk_recover.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void begin(struct bench *b, const char *serial, const char *options)
{
    bench_open(b, 11);
    bench_book(b, "books/brine6.yaml");
    bench_machine(b, serial, "X-1", options, "");
}

/* Time goes on a minute with every step. */
static struct desk_stamp stamp(struct bench *b)
{
    b->seeded.now += 60000;
    return (struct desk_stamp){.machine = S("X-1"), .by = S("Tobiah"), .at = INSTANT_NONE};
}

/* What the test itself counts. */
struct counted {
    bool open[8];
    bool inhibited;
    turns_t trial[2];
};
static const char *const items[] = {"tow-chocks", "tow-bar",   "brake-pump", "bypass",
                                    "sump-plug",  "fuel-cock", "prop",       "radiator-cap"};
static const struct {
    const char *name, *confirmed;
} screws[] = {{"rake-counterbalance", "load-supported,pressure-relieved,oil-warm"},
              {"flush-valve", "wheels-chocked,pressure-relieved,oil-warm"}};

static bool has(const struct desk_left_open *at, size_t n, const char *item)
{
    for (size_t i = 0; i < n; i++) {
        if (str_eq(at[i].item, str_of(item))) {
            return true;
        }
    }
    return false;
}

/* The list is exactly what was counted, and every line of it says how it comes off. */
static void same(struct bench *b, const struct counted *c, int step)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    size_t expected = c->inhibited;
    ok(b, desk_put_back_list(b->d, S("X-1"), &b->a, &at, &n, &b->e));
    for (size_t i = 0; i < sizeof items / sizeof *items; i++) {
        expected += c->open[i];
        if (has(at, n, items[i]) != c->open[i]) {
            fail_msg("step %d: %s is %s the list", step, items[i], c->open[i] ? "not on" : "on");
        }
    }
    for (size_t i = 0; i < 2; i++) {
        expected += c->trial[i] != 0;
        assert_int_equal(has(at, n, screws[i].name), c->trial[i] != 0);
    }
    assert_int_equal(has(at, n, "burning-inhibited"), c->inhibited);
    assert_int_equal(n, expected);
    for (size_t i = 0; i < n; i++) {
        assert_true(at[i].close.n > 0 && at[i].write_down.n > 0 && at[i].by.n > 0);
    }
    const struct desk_machine *m = desk_machine_find(b->d, S("X-1"), &b->e);
    assert_non_null(m);
    assert_int_equal(m->n_open, n);
}

/* One step by chance; whether it was accepted is what the desk says, and only then is it counted. */
static void one(struct bench *b, struct counted *c, uint64_t *seed)
{
    struct desk_stamp s = stamp(b);
    struct desk_recorded made;
    struct err quiet = err_new(&b->a);
    int i = below(seed, 8);
    int screw = below(seed, 2);
    int kind = below(seed, 10);
    if (kind < 4) {
        bool back = below(seed, 2);
        bool taken = desk_record_open(b->d, &s, str_of(items[i]), back, &b->a, &made, &quiet);
        assert_int_equal(taken, c->open[i] == back); /* opened once, put back when open, nothing else */
        c->open[i] = taken ? !back : c->open[i];
    } else if (kind < 8) {
        struct desk_adjuster before;
        ok(b, desk_adjuster(b->d, S("X-1"), str_of(screws[screw].name), &b->a, &before, &b->e));
        struct text turns = text_new(&b->a);
        turns_t turn = TURN / 4 * (below(seed, 9) - 4);
        text_char(&turns, turn < 0 ? '-' : '+');
        text_double(&turns, fabs(turns_number(turn)));
        static const char *const saws[] = {"", "gone", "less", "same", "worse"};
        bool asks_turn = below(seed, 4) > 0;
        struct desk_adjust_ask ask = {.adjuster = str_of(screws[screw].name),
                                      .turn = asks_turn ? text_str(&turns) : (struct str){0},
                                      .saw = str_of(saws[below(seed, 5)]),
                                      .confirmed = str_of(below(seed, 8) ? screws[screw].confirmed : ""),
                                      .accept = below(seed, 6) == 0,
                                      .back = !asks_turn && below(seed, 3) == 0,
                                      .undo = !asks_turn && below(seed, 3) == 0};
        if (desk_adjust(b->d, &s, &ask, &b->a, &made, &quiet)) {
            turns_t by = ask.back ? -c->trial[screw] : ask.undo ? -before.ledger.last : (asks_turn ? turn : 0);
            c->trial[screw] = ask.accept || ask.back ? 0 : c->trial[screw] + by;
        } else {
            assert_true(quiet.kind == ERR_REFUSED || quiet.kind == ERR_USAGE);
            assert_true(quiet.what.n > 0);
        }
    } else if (kind == 8) {
        bool inhibit = below(seed, 2);
        ok(b, desk_record_burn(b->d, &s, inhibit ? S("inhibited") : S("released"), S(""), &b->a, &made, &b->e));
        c->inhibited = inhibit;
    } else {
        struct desk_moved moved = {S("10 m"), S("20 s"), S(""), S("")};
        ok(b, desk_record_moved(b->d, &s, &moved, &b->a, &made, &b->e));
    }
}

/* Everything on the list is undone as the list says, then nothing is left and the machine may go. */
static void undo_all(struct bench *b)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    struct desk_recorded made;
    ok(b, desk_put_back_list(b->d, S("X-1"), &b->a, &at, &n, &b->e));
    for (size_t i = 0; i < n; i++) {
        struct desk_stamp s = stamp(b);
        if (at[i].kind == LEFT_ITEM) {
            ok(b, desk_record_open(b->d, &s, at[i].item, true, &b->a, &made, &b->e));
        } else if (at[i].kind == LEFT_INHIBIT) {
            ok(b, desk_record_burn(b->d, &s, S("released"), S(""), &b->a, &made, &b->e));
        } else {
            size_t screw = str_eq(at[i].item, str_of(screws[0].name)) ? 0 : 1;
            struct desk_adjust_ask ask = {
                .adjuster = at[i].item, .confirmed = str_of(screws[screw].confirmed), .back = true};
            ok(b, desk_adjust(b->d, &s, &ask, &b->a, &made, &b->e));
        }
    }
}

static void nothing_open_unnoticed(void **state)
{
    (void)state;
    uint64_t seed = seed_of_run();
    struct bench b;
    begin(&b, "BR6-03415", "cab,exhaust-filter");
    struct counted c = {0};
    int refused = 0;
    for (int step = 0; step < 160; step++) {
        one(&b, &c, &seed);
        ok(&b, desk_refresh(b.d, &b.e));
        same(&b, &c, step);
        struct desk_left_open *at = NULL;
        size_t n = 0;
        ok(&b, desk_put_back_list(b.d, S("X-1"), &b.a, &at, &n, &b.e));
        if (step % 8 == 7) {
            struct desk_stamp s = stamp(&b);
            struct desk_recorded made;
            struct err quiet = err_new(&b.a);
            bool gone = desk_hand_back(b.d, &s, S(""), S(""), &b.a, &made, &quiet);
            assert_int_equal(gone, n == 0);
            refused += !gone;
        }
    }
    assert_true(refused > 5);
    undo_all(&b);
    c = (struct counted){0};
    same(&b, &c, -1);
    struct desk_stamp s = stamp(&b);
    struct desk_recorded made;
    ok(&b, desk_hand_back(b.d, &s, S("the driver"), S(""), &b.a, &made, &b.e));
    /* The log itself: a desk that is opened anew reads the same list from it. */
    desk_close(b.d);
    struct desk_options options = desk_options_default(b.path);
    options.log.world = world_of_seeded(&b.seeded);
    ok(&b, desk_open(&options, &b.d, &b.e));
    same(&b, &c, -2);
    bench_close(&b);
}

/* The whole way of a recovery by its own steps, turned round at every place: the list is empty at the end of each. */
static void there_and_back(void **state)
{
    (void)state;
    struct bench b;
    begin(&b, "BR6-01177", "cab");
    struct desk_recorded made;
    struct desk_recover r;
    struct desk_recover_ask ask = {.machine = S("X-1")};
    ok(&b, desk_recover(b.d, &ask, &b.a, &r, &b.e));
    for (size_t out = 1; out < r.n_out; out++) {
        for (size_t i = 0; i < out; i++) {
            struct desk_stamp s = stamp(&b);
            ok(&b, desk_recover_did(b.d, &s, false, &b.a, &made, &b.e));
        }
        for (size_t i = 0; i < out; i++) {
            struct desk_stamp s = stamp(&b);
            ok(&b, desk_recover_did(b.d, &s, true, &b.a, &made, &b.e));
        }
        struct counted none = {0};
        same(&b, &none, (int)out);
    }
    for (size_t i = 0; i < r.n_out + r.n_back; i++) {
        struct desk_stamp s = stamp(&b);
        ok(&b, desk_recover_did(b.d, &s, false, &b.a, &made, &b.e));
        struct desk_recover now;
        ok(&b, desk_recover(b.d, &ask, &b.a, &now, &b.e));
        enum recover_phase phase = i + 1 < r.n_out              ? RECOVER_OUT
                                   : i + 1 == r.n_out           ? RECOVER_MOVING
                                   : i + 1 < r.n_out + r.n_back ? RECOVER_BACK
                                                                : RECOVER_NONE;
        assert_int_equal(now.state.phase, phase);
        assert_false(now.state.out_of_order);
    }
    struct counted none = {0};
    same(&b, &none, -3);
    struct desk_log_finding *found = NULL;
    size_t n = 0;
    ok(&b, desk_log_check(b.d, S(""), &b.a, &found, &n, &b.e));
    assert_int_equal(n, 0);
    bench_close(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_open_unnoticed), cmocka_unit_test(there_and_back)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
