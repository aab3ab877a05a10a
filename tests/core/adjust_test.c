/* Counted adjustments: turns that never drift, a ledger with its way back, the rule that says when to stop, and what is
 * refused. Expected settings are added up by hand; the chances are held against an enumeration of every place where the
 * cure can lie; properties run over histories made by chance. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "chance.h"

#include "adjust/adjust.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* A counterbalance screw by common practice: in first, one and a half turns, then half turns, four at most. */
static const struct adjust_rules screw = {1, 3 * TURN / 2, TURN / 2, 4 * TURN, 0.5};

static void turns_are_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        turns_t t; /* 720ths; 1 = refused */
        const char *shown;
    } rows[] = {
        {"+1.5", 1080, "1½ turns in"},
        {"-0.5", -360, "½ turn out"},
        {"1 1/2 in", 1080, "1½ turns in"},
        {"1/3 turn out", -240, "⅓ turn out"},
        {"90 deg in", 180, "¼ turn in"},
        {"-1/8", -90, "⅛ turn out"},
        {"1/16 in", 45, "0.0625 turn in"},
        {"0", 0, "as it was"},
        {"2 turns in", 1440, "2 turns in"},
        {"1/2", 1, NULL}, /* which way? */
        {"1 bar in", 1, NULL},
        {"0.123 in", 1, NULL}, /* nobody can count that */
        {"in", 1, NULL},
        {"-1 in", 1, NULL},
        {"1001 in", 1, NULL},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&a);
        turns_t t = 0;
        bool read = turns_parse(str_of(rows[i].text), &t, &e);
        if (read != (rows[i].t != 1) || (read && t != rows[i].t)) {
            fail_msg("%s: %d, %s", rows[i].text, (int)t, str_z(&a, err_text(&a, &e)));
        }
        if (read) {
            struct text text = text_new(&a);
            text_turns(&text, t);
            assert_string_equal(text_z(&text), rows[i].shown);
        } else {
            assert_int_equal(e.kind, ERR_USAGE);
            assert_true(e.right.n > 0);
        }
    }
    arena_free(&a);
}

/* A third of a turn three hundred times and back three hundred times is where it was, exactly. */
static void nothing_drifts(void **state)
{
    (void)state;
    struct adjust_rules r = screw;
    struct adjust_ledger l = adjust_begin(&r);
    turns_t third = 0;
    assert_true(turns_of(1.0 / 3, &third));
    for (int i = 0; i < 300; i++) {
        adjust_take(&r, &l, &(struct adjust_entry){.turns = third});
    }
    assert_int_equal(l.from_found, 100 * TURN);
    assert_true(l.beyond);
    adjust_take(&r, &l, &(struct adjust_entry){.turns = adjust_back(&l)});
    assert_int_equal(l.from_found, 0);
    assert_false(l.beyond);
    assert_false(turns_of(0.30001, &(turns_t){0}) && turns_of(0.3002, &(turns_t){0}));
    assert_false(turns_of(NAN, &(turns_t){0}));
    assert_false(turns_of(1e9, &(turns_t){0}));
}

/* By hand: what the ledger says after a few steps of the screw, and what comes next. */
static void ledger_by_hand(void **state)
{
    (void)state;
    struct adjust_ledger l = adjust_begin(&screw);
    struct adjust_next next = adjust_next(&screw, &l);
    assert_int_equal(next.advice, ADVISE_TURN);
    assert_int_equal(next.turns, 3 * TURN / 2);
    assert_true(fabs(next.p_helps - 0.5 * 0.9 * 1.5 / 4) < 1e-12); /* evenly over four turns */

    adjust_take(&screw, &l, &(struct adjust_entry){.turns = 3 * TURN / 2});
    assert_int_equal(adjust_next(&screw, &l).advice, ADVISE_LOOK);
    adjust_take(&screw, &l, &(struct adjust_entry){.saw = SAW_LESS});
    next = adjust_next(&screw, &l);
    assert_int_equal(next.advice, ADVISE_TURN);
    assert_int_equal(next.turns, TURN / 2);
    adjust_take(&screw, &l, &(struct adjust_entry){.turns = TURN / 2, .saw = SAW_GONE});
    assert_int_equal(adjust_next(&screw, &l).advice, ADVISE_ACCEPT);
    assert_int_equal(adjust_back(&l), -2 * TURN);
    assert_int_equal(l.steps, 2);
    adjust_take(&screw, &l, &(struct adjust_entry){.accepted = true});
    assert_int_equal(l.from_found, 2 * TURN);
    assert_int_equal(l.from_accepted, 0);
    assert_int_equal(adjust_back(&l), 0);
    assert_int_equal(adjust_back_to_found(&l), -2 * TURN);

    /* A year later: only two turns are left before the limit from where it was found. */
    struct adjust_ask ask = {.turns = 3 * TURN / 2, .confirmed = true};
    assert_int_equal(adjust_refuses(&screw, &l, &ask), ADJUST_FINE);
    adjust_take(&screw, &l, &(struct adjust_entry){.turns = 3 * TURN / 2, .saw = SAW_SAME});
    adjust_take(&screw, &l, &(struct adjust_entry){.turns = TURN / 2, .saw = SAW_SAME});
    next = adjust_next(&screw, &l);
    assert_int_equal(next.advice, ADVISE_BACK);
    assert_int_equal(next.turns, -2 * TURN);
    adjust_take(&screw, &l, &(struct adjust_entry){.found = true});
    assert_int_equal(l.from_found, 0);
}

static void refusals(void **state)
{
    (void)state;
    static const struct {
        struct adjust_entry at[3];
        int n;
        struct adjust_ask ask;
        enum adjust_refusal refusal;
    } rows[] = {
        {{{0}}, 0, {0, true, false}, ADJUST_NOTHING},
        {{{0}}, 0, {1080, false, false}, ADJUST_NOT_CONFIRMED},
        {{{0}}, 0, {1080, true, true}, ADJUST_OTHER_OPEN},
        {{{0}}, 0, {1080, true, false}, ADJUST_FINE},
        {{{0}}, 0, {360, true, false}, ADJUST_FINE}, /* less than the first step */
        {{{0}}, 0, {1440, true, false}, ADJUST_TOO_LARGE},
        {{{0}}, 0, {-360, true, false}, ADJUST_WRONG_WAY},
        {{{0}}, 0, {5 * TURN, true, false}, ADJUST_BEYOND},
        {{{1080, SAW_NOT_SAID, false, false}}, 1, {360, true, false}, ADJUST_NOT_SEEN},
        {{{1080, SAW_SAME, false, false}}, 1, {360, true, false}, ADJUST_FINE},
        {{{1080, SAW_SAME, false, false}}, 1, {1080, true, false}, ADJUST_TOO_LARGE},
        {{{1080, SAW_SAME, false, false}},
         1,
         {-1080, true, true},
         ADJUST_FINE}, /* back: always, the other open or not */
        {{{1080, SAW_SAME, false, false}}, 1, {-1080, false, false}, ADJUST_NOT_CONFIRMED},
        {{{1080, SAW_SAME, false, false}}, 1, {-1440, true, false}, ADJUST_WRONG_WAY}, /* past the accepted setting */
        {{{1080, SAW_WORSE, false, false}, {-1080, SAW_SAME, false, false}}, 2, {-1080, true, false}, ADJUST_FINE},
        {{{1080, SAW_SAME, false, false}, {-1080, SAW_SAME, false, false}}, 2, {-1080, true, false}, ADJUST_WRONG_WAY},
        {{{1080, SAW_SAME, false, false}, {-1080, SAW_SAME, false, false}}, 2, {1080, true, false}, ADJUST_FINE},
        {{{3 * TURN, SAW_SAME, true, false}}, 1, {1080, true, false}, ADJUST_BEYOND},
        {{{3 * TURN, SAW_SAME, true, false}}, 1, {TURN, true, false}, ADJUST_FINE},
        {{{3 * TURN, SAW_SAME, true, false}, {0, SAW_NOT_SAID, false, true}}, 2, {1080, true, false}, ADJUST_FINE},
    };
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct adjust_ledger l = adjust_read(&screw, rows[i].at, (size_t)rows[i].n);
        enum adjust_refusal got = adjust_refuses(&screw, &l, &rows[i].ask);
        if (got != rows[i].refusal) {
            fail_msg("row %zu: %s, expected %s", i, adjust_refusal_word(got), adjust_refusal_word(rows[i].refusal));
        }
        struct text t = text_new(&a);
        text_adjust_refusal(&t, &screw, &l, got, rows[i].ask.turns, S("the load is supported"));
        assert_true(t.n > 5);
    }
    arena_free(&a);
}

/* ---- the chances, by enumeration ---- */

#define GRAIN 30 /* 720ths between two places where the cure may lie */

/* Chance of the whole story for a cure at `place` on that side (size, multiple of GRAIN), settings from the accepted
 * one as signed sizes on sides. */
static double story(const struct adjust_rules *r, const struct adjust_entry *at, int n, int side, turns_t place)
{
    double p = 1;
    turns_t far[2] = {0, 0};
    turns_t position = 0;
    for (int i = 0; i < n; i++) {
        position += at[i].turns;
        int here = position >= 0 ? 1 : -1;
        turns_t size = position < 0 ? -position : position;
        turns_t *f = &far[here == r->way ? 0 : 1];
        if (size <= *f || position == 0) {
            continue;
        }
        if (here == side && place > *f && place <= size) {
            p *= at[i].saw == SAW_GONE;
        } else if (here == side) {
            p *= at[i].saw == SAW_GONE || place <= *f ? 0 : adjust_chances[0][at[i].saw - SAW_GONE];
        } else {
            p *= adjust_chances[side == 0 ? 2 : 1][at[i].saw - SAW_GONE];
        }
        *f = size;
    }
    return p;
}

static void chances_by_enumeration(void **state)
{
    (void)state;
    uint64_t seed = seed_of_run();
    int told = 0;
    for (int run = 0; run < 4000; run++) {
        struct adjust_rules r = {below(&seed, 2) ? 1 : -1, 1080, 360, 2880, 0.05 + 0.9 * below(&seed, 100) / 100};
        struct adjust_entry at[6];
        int n = 1 + below(&seed, 6);
        turns_t position = 0;
        for (int i = 0; i < n; i++) {
            turns_t to = GRAIN * (below(&seed, 2 * 96 + 1) - 96); /* within the limit on both sides */
            at[i] = (struct adjust_entry){.turns = to - position, .saw = SAW_LESS + (enum adjust_saw)below(&seed, 3)};
            position = to;
        }
        at[n - 1].saw = below(&seed, 3) ? at[n - 1].saw : SAW_GONE; /* a cure ends the story */
        struct adjust_ledger l = adjust_read(&r, at, (size_t)n);
        double way = 0;
        double other = 0;
        int places = r.at_most / GRAIN;
        for (int k = 1; k <= places; k++) {
            way += story(&r, at, n, r.way, k * GRAIN) / places;
            other += story(&r, at, n, -r.way, k * GRAIN) / places;
        }
        way *= r.prior * (1 - ADJUST_OTHER_WAY);
        other *= r.prior * ADJUST_OTHER_WAY;
        double rest = (1 - r.prior) * story(&r, at, n, 0, 0);
        double all = way + other + rest;
        if (all <= 1e-12) {
            continue; /* a story that cannot be */
        }
        told++;
        if (fabs(l.p_way - way / all) > 1e-9 || fabs(l.p_other - other / all) > 1e-9) {
            fail_msg("run %d: %.12g %.12g, enumerated %.12g %.12g", run, l.p_way, l.p_other, way / all, other / all);
        }
    }
    assert_true(told > 3500);
}

/* ---- properties over histories made by chance ---- */

/* What a technician might do next: mostly a step that is asked for, some that will be refused. */
static turns_t some_turn(uint64_t *seed, const struct adjust_rules *r, const struct adjust_ledger *l)
{
    switch (below(seed, 6)) {
    case 0:
        return adjust_back(l);
    case 1:
        return adjust_undo(l);
    case 2:
        return adjust_next(r, l).turns;
    case 3:
        return r->way * r->step;
    default:
        return 45 * (below(seed, 65) - 32);
    }
}

/* Whatever was accepted, refused and corrected: the way back leads to where it was found, to the last 720th; a trial
 * that is not over shows; what was allowed keeps the limit; undo of undo is where one was. */
static void way_back_from_anywhere(void **state)
{
    (void)state;
    uint64_t seed = seed_of_run();
    int refused = 0;
    int taken = 0;
    for (int run = 0; run < 3000; run++) {
        struct adjust_rules r = {below(&seed, 2) ? 1 : -1, 90 * (1 + below(&seed, 16)), 45 * (1 + below(&seed, 8)),
                                 90 * (4 + below(&seed, 40)), 0.1 + 0.8 * below(&seed, 10) / 10};
        struct adjust_entry at[24];
        int n = 0;
        struct adjust_ledger l = adjust_begin(&r);
        turns_t sum = 0;
        turns_t accepted = 0;
        while (n < 20) {
            struct adjust_ask ask = {some_turn(&seed, &r, &l), below(&seed, 10) > 0, below(&seed, 10) == 0};
            if (adjust_refuses(&r, &l, &ask) != ADJUST_FINE) {
                refused++;
                ask.turns = 0; /* only looked at again */
            }
            struct adjust_entry entry = {ask.turns, (enum adjust_saw)below(&seed, SAW_COUNT), below(&seed, 8) == 0,
                                         false};
            at[n++] = entry;
            taken += entry.turns != 0;
            adjust_take(&r, &l, &entry);
            sum += entry.turns;
            accepted = entry.accepted ? sum : accepted;
            assert_int_equal(l.from_found, sum);
            assert_int_equal(l.from_accepted, sum - accepted); /* a trial that is open shows */
            assert_false(l.beyond);
            assert_true(l.p_way >= 0 && l.p_other >= 0 && l.p_way + l.p_other <= 1 + 1e-12);
            struct adjust_ledger twice = l;
            adjust_take(&r, &twice, &(struct adjust_entry){.turns = adjust_undo(&twice)});
            adjust_take(&r, &twice, &(struct adjust_entry){.turns = adjust_undo(&twice)});
            assert_int_equal(twice.from_found, l.from_found);
            assert_int_equal(twice.from_accepted, l.from_accepted);
        }
        /* Corrections: some entries are withdrawn, some say another turn. What holds is read anew, and so is its way.
         */
        turns_t corrected = 0;
        int kept = 0;
        for (int i = 0; i < n; i++) {
            struct adjust_entry entry = at[i];
            int fate = below(&seed, 5);
            if (fate == 0) {
                continue;
            }
            entry.turns = fate == 1 ? 45 * (below(&seed, 33) - 16) : entry.turns;
            corrected += entry.turns;
            at[kept++] = entry;
        }
        l = adjust_read(&r, at, (size_t)kept);
        assert_int_equal(l.from_found, corrected);
        struct adjust_ledger back = l;
        adjust_take(&r, &back, &(struct adjust_entry){.turns = adjust_back(&back), .accepted = true});
        assert_int_equal(back.from_accepted, 0);
        back = l;
        adjust_take(&r, &back, &(struct adjust_entry){.turns = adjust_back_to_found(&back), .accepted = true});
        assert_int_equal(back.from_found, 0);
        assert_int_equal(adjust_refuses(&r, &l, &(struct adjust_ask){adjust_back(&l), true, true}),
                         adjust_back(&l) ? ADJUST_FINE : ADJUST_NOTHING);
    }
    assert_true(refused > 3000 && taken > 3000);
}

/* A technician who follows the advice is never refused, comes to an end, and leaves nothing at a trial setting. Where
 * the cure lies within the limits and every look tells, it is found as long as the chance holds. */
static void advice_ends(void **state)
{
    (void)state;
    uint64_t seed = seed_of_run();
    int cured = 0;
    for (int run = 0; run < 3000; run++) {
        struct adjust_rules r = {below(&seed, 2) ? 1 : -1, 360 * (1 + below(&seed, 3)), 90 * (1 + below(&seed, 4)),
                                 360 * (4 + below(&seed, 8)), 0.3 + 0.6 * below(&seed, 10) / 10};
        bool is_it = below(&seed, 3) > 0;
        int side = below(&seed, 5) ? r.way : -r.way;
        turns_t cure = 45 * (1 + below(&seed, r.at_most / 45));
        struct adjust_ledger l = adjust_begin(&r);
        bool over = false;
        int steps = 0;
        for (; steps < 200 && !over; steps++) {
            struct adjust_next next = adjust_next(&r, &l);
            struct adjust_entry entry = {0};
            over = next.advice == ADVISE_LEAVE || next.advice == ADVISE_ACCEPT;
            entry.accepted = over;
            cured += next.advice == ADVISE_ACCEPT;
            if (next.advice == ADVISE_TURN || next.advice == ADVISE_BACK) {
                assert_int_equal(adjust_refuses(&r, &l, &(struct adjust_ask){next.turns, true, false}), ADJUST_FINE);
                entry.turns = next.turns;
                turns_t to = l.from_accepted + next.turns;
                bool there = is_it && side * to >= cure;
                bool away = is_it && side * to < 0;
                int luck = below(&seed, 100);
                entry.saw = there                ? SAW_GONE
                            : away               ? (luck < 60 ? SAW_WORSE : SAW_SAME)
                            : luck < 30 && is_it ? SAW_LESS
                            : luck < 95          ? SAW_SAME
                                                 : SAW_WORSE;
                entry.saw = to == 0 ? SAW_SAME : entry.saw;
            }
            adjust_take(&r, &l, &entry);
        }
        if (!over) {
            fail_msg("run %d does not end", run);
        }
        assert_int_equal(l.from_accepted, 0);
        assert_false(l.beyond);
    }
    assert_true(cured > 900); /* of about 1600 that could be cured the book's way */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(turns_are_read),
        cmocka_unit_test(nothing_drifts),
        cmocka_unit_test(ledger_by_hand),
        cmocka_unit_test(refusals),
        cmocka_unit_test(chances_by_enumeration),
        cmocka_unit_test(way_back_from_anywhere),
        cmocka_unit_test(advice_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
