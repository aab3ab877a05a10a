/* Soot, ash and the plan of burns: closed forms, conjugate updates, exhaustive search. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "exhaust/ash.h"
#include "exhaust/burn_plan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/* A filter of round numbers. */
static struct soot_filter plain(void)
{
    return (struct soot_filter){.duty = {{0.05, 0.04, 0.9, 0.6}, {0.08, 0, 0, 0.4}},
                                .n_duties = 2,
                                .begin = 0.8,
                                .demand = 1,
                                .derate = 1.4,
                                .past = 2,
                                .active_leaves = 0.25,
                                .parked_leaves = 0.15,
                                .spread = 0.35,
                                .scatter = 0.3,
                                .gauge = 0.03};
}

static double total(const struct soot_belief *b)
{
    double sum = b->past;
    for (int j = 0; j < SOOT_NODES; j++) {
        for (int l = 0; l < SOOT_LAYERS; l++) {
            for (int i = 0; i < SOOT_CELLS; i++) {
                sum += b->p[j][l][i];
            }
        }
    }
    return sum;
}

/* With hardly any spread the load is the solution of dL/dt = g - b L: L = g/b + (L0 - g/b) exp(-b t). */
static void grows_as_the_equation_says(void **state)
{
    (void)state;
    static const struct {
        double made, burnt, from, hours;
    } rows[] = {
        {0.05, 0, 0.15, 8}, {0.05, 0.04, 0.15, 8}, {0.05, 0.04, 0.6, 3.5}, {0.02, 0.3, 0.7, 20}, {0.08, 0.01, 0, 9}};
    struct arena a = arena_new(&arena_libc);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct soot_filter f = plain();
        f.duty[0] = (struct soot_duty){rows[i].made, rows[i].burnt, 0, 1};
        f.n_duties = 1;
        f.spread = 0.01;
        f.scatter = 0;
        struct soot_rates r = soot_rates_of_book(&f);
        struct soot_belief *b = soot_belief_new(&a, &f, rows[i].from, 0);
        (void)soot_work(&f, &r, b, 0, rows[i].hours, false, &a);
        double even = rows[i].burnt > 0 ? rows[i].made / rows[i].burnt : 0;
        double expected = rows[i].burnt > 0 ? even + (rows[i].from - even) * exp(-rows[i].burnt * rows[i].hours)
                                            : rows[i].from + rows[i].made * rows[i].hours;
        assert_true(fabs(soot_mean(b) - expected) < 1e-4);
        assert_true(fabs(total(b) - 1) < 1e-9);
    }
    arena_free(&a);
}

/* Mean and variance of a day and of several: those of independent days of a common machine factor. */
static void spreads_as_the_factors_say(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct soot_filter f = plain();
    f.duty[0] = (struct soot_duty){0.03, 0, 0, 1};
    f.n_duties = 1;
    struct soot_rates r = soot_rates_of_book(&f);
    struct soot_belief *b = soot_belief_new(&a, &f, 0.1, 0);
    (void)soot_work(&f, &r, b, 0, 16, false, &a);
    double mean = 0.1 + 0.03 * 16;
    assert_true(fabs(soot_mean(b) - mean) < 2e-3);
    /* Var = E[m^2] (2 days of 8 h, each of relative variance s^2) + Var[m] of all, in shares of made^2 */
    double machine = f.spread * f.spread;
    double variance = (1 + machine) * f.scatter * f.scatter * 2 * pow(0.03 * 8, 2) + machine * pow(0.03 * 16, 2);
    double second = 0;
    for (int i = 0; i < SOOT_CELLS; i++) {
        for (int j = 0; j < SOOT_NODES; j++) {
            for (int l = 0; l < SOOT_LAYERS; l++) {
                second += b->p[j][l][i] * pow(i * 0.01 - mean, 2);
            }
        }
    }
    assert_true(fabs(sqrt(second) - sqrt(variance)) <
                0.08 * sqrt(variance)); /* 16 sharings on a grid of 1 % add some */
    arena_free(&a);
}

/* One duty: normal prior and normal reading give the textbook's weighted mean (Gelman and others 2013, 2.5). */
static void learns_as_conjugate(void **state)
{
    (void)state;
    struct soot_filter f = plain();
    f.duty[0] = (struct soot_duty){0.05, 0, 0, 1};
    f.n_duties = 1;
    f.scatter = 0;
    struct soot_rates r = soot_rates_of_book(&f);
    double prior = pow(0.05 * 0.35, 2);
    struct soot_stretch s = {.from = 0.2, .from_sd = 0.03, .to = 0.9, .to_sd = 0.04, .hours = 10};
    assert_true(soot_learn(&f, &r, &s));
    double seen = (0.9 - 0.2) / 10;
    double noise = (0.03 * 0.03 + 0.04 * 0.04) / 100;
    double weight = prior / (prior + noise);
    assert_true(fabs(r.made[0] - (0.05 + weight * (seen - 0.05))) < 1e-12);
    double posterior = prior * noise / (prior + noise);
    assert_true(r.cov[0][0] >= posterior - 1e-15);
    assert_true(r.cov[0][0] < prior);
    assert_int_equal(r.used, 1);
    /* A load that fell although nothing burnt off by itself: a burn went unseen. */
    struct soot_stretch fell = {.from = 0.8, .from_sd = 0.03, .to = 0.3, .to_sd = 0.03, .hours = 5};
    struct soot_rates before = r;
    assert_false(soot_learn(&f, &r, &fell));
    assert_int_equal(r.left_out, 1);
    assert_true(r.made[0] == before.made[0]);
    /* Hours of one duty teach the other by what they have in common, but less. */
    f = plain();
    r = soot_rates_of_book(&f);
    double hours[] = {10, 0};
    struct soot_stretch own = {.from = 0.1, .from_sd = 0.02, .to = 0.85, .to_sd = 0.02, .hours = 10, .by_duty = hours};
    assert_true(soot_learn(&f, &r, &own));
    double first = r.made[0] / 0.05 - 1;
    double second = r.made[1] / 0.08 - 1;
    assert_true(first > second && second > 0);
}

/* Own burns reset the load where they may; inhibited they don't, and the demand comes. */
static void inhibited_hours_fill(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct soot_filter f = plain();
    struct soot_rates r = soot_rates_of_book(&f);
    struct soot_belief *now = soot_belief_new(&a, &f, 0.6, 0.03);
    struct soot_left with = soot_hours_left(&f, &r, now, 0, true, 60, &a);
    struct soot_left without = soot_hours_left(&f, &r, now, 0, false, 60, &a);
    assert_true(with.demanded[with.n] < 0.1);
    double p10 = soot_left_quantile(&without, without.demanded, 0.1);
    double p50 = soot_left_quantile(&without, without.demanded, 0.5);
    double p90 = soot_left_quantile(&without, without.demanded, 0.9);
    assert_true(0 < p10 && p10 < p50 && p50 < p90);
    /* The machine's factor has median 1/sqrt(1 + 0.35^2); at that rate L = even + (0.6 - even) exp(-0.04 t). */
    double even = 0.05 / 0.04 / sqrt(1 + 0.35 * 0.35);
    assert_true(fabs(p50 - log((even - 0.6) / (even - 1)) / 0.04) < 3);
    double derated = soot_left_quantile(&without, without.derated, 0.1);
    assert_true(derated > p10);
    for (int i = 1; i <= without.n; i++) {
        assert_true(without.demanded[i] >= without.demanded[i - 1] - 1e-12);
        assert_true(without.demanded[i] >= without.derated[i] - 1e-12 && without.derated[i] >= without.past[i] - 1e-12);
    }
    /* A parked burn clears a demand; what is past stays past. */
    struct soot_belief *full = soot_belief_new(&a, &f, 1.2, 0);
    assert_true(fabs(soot_demanded(full) - 1) < 1e-9 && soot_derated(full) < 1e-9);
    soot_parked_burn(&f, full, true);
    assert_true(soot_demanded(full) < 1e-9 && fabs(soot_mean(full) - 0.15) < 1e-9);
    struct soot_belief *gone = soot_belief_new(&a, &f, 2.2, 0);
    soot_parked_burn(&f, gone, false);
    assert_true(fabs(gone->past - 1) < 1e-9);
    arena_free(&a);
}

static void refuses_filters(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct soot_filter f = plain();
    struct err fine = err_new(&a);
    assert_true(soot_filter_check(&f, &fine));
    double *const fields[] = {&f.begin,   &f.demand, &f.derate,       &f.past,          &f.active_leaves, &f.spread,
                              &f.scatter, &f.gauge,  &f.duty[1].made, &f.duty[0].burnt, &f.duty[0].finish};
    static const double bad[] = {1.1, 1.5, 2.5, (double)INFINITY, 0.9, 0, (double)NAN, 0, 0, -0.1, 1.01};
    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        double kept = *fields[i];
        struct err e = err_new(&a);
        *fields[i] = bad[i];
        assert_false(soot_filter_check(&f, &e));
        assert_int_equal(e.kind, ERR_DOMAIN);
        assert_true(e.what.n > 0 && e.right.n > 0);
        *fields[i] = kept;
    }
    arena_free(&a);
}

/* ---- places and plans -------------------------------------------------------------------------------------------- */

#define BIT(place) (1U << (place))

static void places_forbid(void **state)
{
    (void)state;
    static const struct {
        burn_places at, added, working, parked;
    } rows[] = {
        {0, 0, 0, 0},
        {BIT(PLACE_HARD), 0, 0, 0},
        {BIT(PLACE_DRY), 0, BIT(PLACE_DRY), BIT(PLACE_DRY)},
        {BIT(PLACE_INDOORS), 0, BIT(PLACE_INDOORS), BIT(PLACE_INDOORS)},
        {BIT(PLACE_COMBUSTIBLES), 0, BIT(PLACE_COMBUSTIBLES), BIT(PLACE_COMBUSTIBLES)},
        {BIT(PLACE_DUSTY), 0, 0, BIT(PLACE_DUSTY)},
        {BIT(PLACE_DUSTY), BIT(PLACE_DUSTY), BIT(PLACE_DUSTY), BIT(PLACE_DUSTY)},
        {BIT(PLACE_PUBLIC), 0, 0, BIT(PLACE_PUBLIC)},
        {BIT(PLACE_FIRE_BAN), 0, BIT(PLACE_FIRE_BAN), BIT(PLACE_FIRE_BAN)},
        {BIT(PLACE_FIRE_BAN) | BIT(PLACE_HARD), 0, BIT(PLACE_FIRE_BAN), 0},
        {BIT(PLACE_FIRE_BAN) | BIT(PLACE_HARD) | BIT(PLACE_DRY), 0, BIT(PLACE_FIRE_BAN) | BIT(PLACE_DRY),
         BIT(PLACE_DRY)},
        /* what a book leaves out stays forbidden, and hard standing is never a reason against */
        {BIT(PLACE_INDOORS) | BIT(PLACE_HARD), BIT(PLACE_HARD), BIT(PLACE_INDOORS), BIT(PLACE_INDOORS)},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(burn_forbids_working(rows[i].at, rows[i].added), rows[i].working);
        assert_int_equal(burn_forbids_parked(rows[i].at), rows[i].parked);
    }
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        enum burn_place found = BURN_PLACE_COUNT;
        assert_true(burn_place_find(str_of(burn_place_word((enum burn_place)i)), &found));
        assert_int_equal(found, i);
    }
    enum burn_place none = PLACE_HARD;
    assert_false(burn_place_find(S("grass"), &none));
    assert_true(burn_ask_ban(BIT(PLACE_FIRE_BAN) | BIT(PLACE_HARD)) && !burn_ask_ban(BIT(PLACE_FIRE_BAN)));
}

static uint32_t next_random(uint32_t *state)
{
    *state = *state * 1664525u + 1013904223u;
    return *state >> 8;
}
static double uniform(uint32_t *state, double low, double high)
{
    return low + (high - low) * next_random(state) / 16777216.0;
}

#define MOST 6
struct world {
    struct soot_filter f;
    struct soot_rates r;
    struct burn_job jobs[MOST];
    struct burn_ask ask;
};

static void make_world(struct world *w, uint32_t *seed, struct arena *a)
{
    static const burn_places kinds[] = {0,
                                        BIT(PLACE_DRY),
                                        BIT(PLACE_DUSTY),
                                        BIT(PLACE_HARD),
                                        BIT(PLACE_INDOORS),
                                        BIT(PLACE_HARD) | BIT(PLACE_FIRE_BAN),
                                        BIT(PLACE_FIRE_BAN),
                                        BIT(PLACE_PUBLIC)};
    *w = (struct world){.f = plain()};
    w->r = soot_rates_of_book(&w->f);
    int n = 1 + (int)(next_random(seed) % MOST);
    for (int k = 0; k < n; k++) {
        w->jobs[k] = (struct burn_job){.name = S("job"),
                                       .duty = (int)(next_random(seed) % 3) - 1,
                                       .hours = uniform(seed, 1, 9),
                                       .places = kinds[next_random(seed) % 8],
                                       .stop = kinds[next_random(seed) % 8],
                                       .stop_min = next_random(seed) % 3 ? (double)INFINITY : uniform(seed, 0, 120)};
    }
    w->ask = (struct burn_ask){.filter = &w->f,
                               .rates = &w->r,
                               .now = soot_belief_new(a, &w->f, uniform(seed, 0.1, 1.2), 0.03),
                               .jobs = w->jobs,
                               .n = n,
                               .burn_min = 25,
                               .cool_min = 25,
                               .costs = burn_costs_default(),
                               .last_stop_min = BURN_STOP_ENOUGH};
}

/* No permitted set of stops costs less than the plan's, over all of them. */
static void plan_is_the_best_of_all(void **state)
{
    (void)state;
    const char *given = getenv("WITMARK_SEED");
    uint32_t seed = given ? (uint32_t)strtoul(given, NULL, 10) : 20261125u;
    print_message("seed %u\n", seed);
    int planned = 0;
    for (int round = 0; round < 24; round++) {
        struct arena a = arena_new(&arena_libc);
        struct world w;
        struct burn_plan plan;
        struct err e = err_new(&a);
        make_world(&w, &seed, &a);
        assert_true(burn_plan_make(&w.ask, &a, &plan, &e));
        double least = (double)INFINITY;
        for (unsigned set = 0; set < 1U << w.ask.n; set++) {
            bool burn[MOST];
            bool permitted = true;
            for (int k = 0; k < w.ask.n; k++) {
                burn[k] = set >> k & 1;
                permitted = permitted && (!burn[k] || plan.stops[k].permitted);
            }
            struct arena scratch = arena_new(&arena_libc);
            if (permitted) {
                least = fmin(least, burn_plan_cost(&w.ask, burn, &scratch));
            }
            arena_free(&scratch);
        }
        assert_true(fabs(plan.cost_min - least) < 1e-6 * (1 + least));
        for (int k = 0; k < w.ask.n; k++) {
            assert_true(!plan.stops[k].burn || plan.stops[k].permitted);
            assert_true(plan.stops[k].permitted ==
                        (burn_forbids_parked(w.jobs[k].stop) == 0 && w.jobs[k].stop_min >= 65));
            assert_true(plan.jobs[k].inhibit == (burn_forbids_working(w.jobs[k].places, 0) != 0));
        }
        planned += plan.n_burns > 0;
        arena_free(&a);
    }
    assert_true(planned >= 5); /* else the comparison would be empty */
}

/* A dusty week under a fire ban: the burn stands before the ban, where it is permitted; without such a stop the plan is
 * refused and says what would do. */
static void refuses_and_says_what_would_do(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct soot_filter f = plain();
    struct soot_rates r = soot_rates_of_book(&f);
    struct burn_job jobs[5];
    for (int k = 0; k < 5; k++) {
        jobs[k] = (struct burn_job){.name = k == 0 ? S("monday") : S("later"),
                                    .duty = 0,
                                    .hours = 7,
                                    .places = BIT(PLACE_DRY) | BIT(PLACE_FIRE_BAN),
                                    .stop = BIT(PLACE_FIRE_BAN),
                                    .stop_min = BURN_STOP_ENOUGH};
    }
    struct burn_ask ask = {.filter = &f,
                           .rates = &r,
                           .now = soot_belief_new(&a, &f, 0.5, 0.03),
                           .jobs = jobs,
                           .n = 5,
                           .burn_min = 25,
                           .cool_min = 25,
                           .costs = burn_costs_default(),
                           .last_stop_min = BURN_STOP_ENOUGH};
    struct burn_plan plan;
    struct err e = err_new(&a);
    assert_true(burn_plan_make(&ask, &a, &plan, &e));
    assert_int_equal(plan.word, BURN_REFUSED);
    assert_int_equal(plan.n_burns, 0);
    assert_true(plan.derated > BURN_RISK_MOST && plan.refused.n > 0 && plan.right.n > 0);
    assert_in_range(plan.better_stop, 0, 4);
    /* That stop on hard standing, and it is safe; its ban must be asked about. */
    int better = plan.better_stop;
    jobs[better].stop |= BIT(PLACE_HARD);
    assert_true(burn_plan_make(&ask, &a, &plan, &e));
    assert_int_equal(plan.word, BURN_PLANNED);
    assert_true(plan.stops[better].burn && plan.stops[better].ask_ban && plan.derated <= BURN_RISK_MOST);
    assert_true(plan.derated < plan.idle_derated && plan.cost_min < plan.idle_cost_min);
    for (int k = 0; k < 5; k++) {
        assert_true(plan.jobs[k].inhibit);
    }
    /* A burn wanted where it is forbidden is refused, with the reason. */
    int other = better == 0 ? 1 : 0;
    jobs[other].wanted = true;
    struct err refused = err_new(&a);
    assert_false(burn_plan_make(&ask, &a, &plan, &refused));
    assert_int_equal(refused.kind, ERR_REFUSED);
    assert_true(str_find(refused.what, S("fire ban")) >= 0);
    jobs[other].wanted = false;
    /* Bad questions. */
    static const double hours[] = {0, -1, (double)NAN, 101};
    for (size_t i = 0; i < sizeof hours / sizeof *hours; i++) {
        struct err bad = err_new(&a);
        jobs[2].hours = hours[i];
        assert_false(burn_plan_make(&ask, &a, &plan, &bad));
        assert_int_equal(bad.kind, ERR_DOMAIN);
    }
    jobs[2].hours = 7;
    jobs[2].duty = 2;
    struct err duty = err_new(&a);
    assert_false(burn_plan_make(&ask, &a, &plan, &duty));
    arena_free(&a);
}

/* ---- ash --------------------------------------------------------------------------------------------------------- */

/* 4 mL/h of 0.865 kg/L oil with 1 % ash, three quarters kept: 25.95 mg/h; 4.2 L at 30 g/L = 126 g: 4855.5 h. By hand
 * from the mass balance; the mass balance itself is checked by tests/data/checks/engineering/10_dpf.json. */
static void ash_by_mass_balance(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct ash_filter f = {
        .oil = {865, 0.01, 0.75}, .oil_m3_per_h = 4e-6, .spread = 0.5, .volume_m3 = 4.2e-3, .limit_kgm3 = 30};
    struct ash_rate rate;
    double kg = 0;
    double p10 = 0;
    double p50 = 0;
    double p90 = 0;
    assert_true(ash_rate_of_book(&f, &rate, &e));
    assert_true(ash_now(&f, &rate, 1000, &kg, &e));
    assert_true(fabs(kg - 0.02595) < 1e-6);
    assert_true(ash_quantile(&f, &rate, 1000, 0.1, &p10, &e) && ash_quantile(&f, &rate, 1000, 0.5, &p50, &e) &&
                ash_quantile(&f, &rate, 1000, 0.9, &p90, &e));
    /* The median of a lognormal of mean m and relative deviation s is m / sqrt(1 + s^2). */
    assert_true(fabs(p50 - (4855.491 * sqrt(1.25) - 1000)) < 0.5);
    assert_true(p10 < p50 && p50 < p90);
    /* Three litres in 500 h, 6 mL/h: the estimate goes there and is surer. */
    struct ash_rate learned = rate;
    ash_learn(&f, &learned, 3e-3, 500);
    assert_true(learned.mean > 5e-6 && learned.mean < 6e-6 && learned.deviation < rate.deviation / 1.5);
    ash_learn(&f, &rate, 1e-3, 10); /* too short */
    assert_true(rate.mean == 4e-6);
    f.oil.ash_share = 0;
    assert_false(ash_rate_of_book(&f, &rate, &e));
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(grows_as_the_equation_says),
        cmocka_unit_test(spreads_as_the_factors_say),
        cmocka_unit_test(learns_as_conjugate),
        cmocka_unit_test(inhibited_hours_fill),
        cmocka_unit_test(refuses_filters),
        cmocka_unit_test(places_forbid),
        cmocka_unit_test(plan_is_the_best_of_all),
        cmocka_unit_test(refuses_and_says_what_would_do),
        cmocka_unit_test(ash_by_mass_balance),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
