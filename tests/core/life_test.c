/* Life, repairs, spares, causes and trends: every refusal provoked, and properties that no single case shows. The
 * published values are in the check cases (tests/data/checks/reliability). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "life/fit.h"
#include "life/repairs.h"
#include "life/replacement.h"
#include "life/survival.h"
#include "stats/passage.h"
#include "stats/rates.h"
#include "stats/robust.h"
#include "stats/trend.h"
#include "stock/spares.h"
#include "trace/causes.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static struct arena a;

static int open_arena(void **state)
{
    (void)state;
    a = arena_new(&arena_libc);
    return 0;
}

static int close_arena(void **state)
{
    (void)state;
    arena_free(&a);
    return 0;
}

/* The call must be false, of kind domain, and say that. */
#define REFUSED(call, text)                              \
    do {                                                 \
        struct err e = err_new(&a);                      \
        assert_false(call);                              \
        assert_int_equal(e.kind, ERR_DOMAIN);            \
        assert_true(e.right.n > 0);                      \
        if (str_find(e.what, str_of(text)) < 0) {        \
            fail_msg("%s", str_z(&a, err_text(&a, &e))); \
        }                                                \
    } while (0)

#define NO_NUMBER ((double)NAN)

static void refusals_of_life(void **state)
{
    (void)state;
    struct survival_step *steps = NULL;
    struct mcf_step *mcf = NULL;
    size_t n = 0;
    struct life_fit fit;
    struct life_mean mean;
    struct known_shape known;
    struct power_law law;
    struct age_policy age;
    struct renewals renewals;
    struct repair_policy repair;
    struct mtbf_limits limits;
    const struct life_row late = {5, 5, true, 1};
    const struct life_row half = {0, 5, true, 0.5};
    const struct life_observation running = {LIFE_RUNNING, 5, 0, 1, 0};
    const struct life_observation backwards = {LIFE_BETWEEN, 5, 4, 1, 0};
    const double falling[] = {5, 3};
    const struct repair_history fallen = {10, falling, 2};
    const struct repair_history outside = {4, falling, 1};
    const struct weibull w = {2, 1000};
    REFUSED(survival_estimate(NULL, 0, 0.95, &steps, &n, &a, &e), "no parts");
    REFUSED(survival_estimate(&late, 1, 0.95, &steps, &n, &a, &e), "time (after entry)");
    REFUSED(survival_estimate(&half, 1, 0.95, &steps, &n, &a, &e), "a count is not whole");
    REFUSED(life_fit(LIFE_WEIBULL, &running, 1, 0.95, &fit, &a, &e), "no failure");
    REFUSED(life_fit(LIFE_WEIBULL, &backwards, 1, 0.95, &fit, &a, &e), "end of an interval");
    REFUSED(life_mean(&running, 1, 0.95, &mean, &e), "no failure");
    REFUSED(life_known_shape(2, NULL, 0, NULL, 0, 0.9, &known, &e), "sum of the times");
    REFUSED(repairs_mcf(&fallen, 1, 0.95, &mcf, &n, &a, &e), "events that do not rise");
    REFUSED(repairs_mcf(&outside, 1, 0.95, &mcf, &n, &a, &e), "event (up to the end of observation) is 5");
    REFUSED(repairs_power_law(&outside, 1, false, 0.95, &law, &e), "event (up to the end");
    REFUSED(repairs_mtbf_limits(2, 100, 0.99, &limits, &e), "too few for an upper limit");
    REFUSED(age_policy(w, (struct replacement_costs){0, 10}, &age, &e), "cost of a planned replacement");
    REFUSED(weibull_renewals(w, 4000, &renewals, &e), "time is 4000");
    REFUSED(minimal_repair_policy((struct weibull){1, 1000}, 10, 1, &repair, &e), "shape beta");
}

static void refusals_of_statistics(void **state)
{
    (void)state;
    double t = 0;
    struct tails tails;
    struct wiener_moments moments;
    struct rate_fit fit;
    struct rate_prior prior;
    struct sample_summary s;
    struct modified_z z;
    struct trend trend;
    struct least_squares l;
    const double same_x[] = {1, 1, 1};
    const double values[] = {1, 2, NO_NUMBER};
    const double good[] = {1, 2, 3};
    const double none[] = {0, 0, 0};
    const double dependent[] = {1, 2, 2, 4, 3, 6};
    const double equal[] = {5, 5, 5, 9};
    REFUSED(wiener_passage((struct wiener){1, 0}, 10, 1, &tails, &e), "variance");
    REFUSED(wiener_passage((struct wiener){1, 1}, -3, 1, &tails, &e), "distance to the limit");
    REFUSED(wiener_moments((struct wiener){-1, 50}, 20, &moments, &e), "drift towards the limit");
    REFUSED(wiener_quantile((struct wiener){-1, 50}, 20, 0.9, &t, &e), "never reached with that probability");
    REFUSED(gamma_passage_quantile((struct gamma_process){1, 1}, 10, 1, &t, &e), "probability");
    REFUSED(rate_fit((struct rate_data){none, good, 3}, &fit, &a, &e), "number of events in all");
    REFUSED(rate_prior_of_judgement(100, 200, &prior, &e), "median mean time");
    REFUSED(sample_summary(values, 3, &s, &a, &e), "value is not a number");
    REFUSED(trend_of(same_x, good, 3, 0.95, &trend, &a, &e), "all points stand at one x");
    REFUSED(least_squares(dependent, good, 3, 2, &l, &a, &e), "columns that depend on each other");
    REFUSED(least_squares(dependent, good, 2, 2, &l, &a, &e), "not more points than coefficients");
    struct err none_expected = err_new(&a);
    assert_true(sample_summary(equal, 4, &s, &a, &none_expected));
    REFUSED(sample_modified_z(&s, 3.5, &z, &e), "the median deviation is 0");
}

static void refusals_of_stock_and_causes(void **state)
{
    (void)state;
    struct spares_level level;
    struct croston c;
    struct demand_point *sum = NULL;
    size_t n = 0;
    unsigned stock = 0;
    size_t order[2];
    const struct demand_point short_of_one[] = {{0, 0.5}, {1, 0.4}};
    const double negative[] = {1, -1};
    const struct repair_action two[] = {{0.7, 10}, {0.6, 20}};
    REFUSED(spares_poisson(0, 3, &level, &e), "mean demand");
    REFUSED(spares_least(2, 1, false, &stock, &e), "target");
    REFUSED(demand_sum(short_of_one, 2, 3, &sum, &n, &a, &e), "sum of the probabilities");
    REFUSED(croston(negative, 2, 0.1, &c, &a, &e), "demand is -1");
    REFUSED(croston(negative, 2, 0, &c, &a, &e), "smoothing alpha");
    REFUSED(repair_order_best(two, 2, order, &e), "sum of the probabilities");
}

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static uint64_t seed_of_run(void)
{
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20260301;
    print_message("# seed %llu\n", (unsigned long long)seed);
    return seed ? seed : 1;
}

static double uniform(uint64_t *x)
{
    return ((double)(next_random(x) >> 11) + 0.5) / 9007199254740992.0;
}

/* Property: without suspensions the estimate is the share still alive, counted; a suspension at the end of all changes
 * no earlier step. */
static void survival_counts(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    for (int round = 0; round < 200; round++) {
        struct life_row rows[21];
        size_t n = 2 + next_random(&x) % 18;
        for (size_t i = 0; i < n; i++) {
            rows[i] = (struct life_row){0, 1 + (double)(next_random(&x) % 12), true, 1};
        }
        struct survival_step *steps = NULL;
        size_t n_steps = 0;
        struct err e = err_new(&a);
        assert_true(survival_estimate(rows, n, 0.95, &steps, &n_steps, &a, &e));
        for (size_t k = 0; k < n_steps; k++) {
            double alive = 0;
            for (size_t i = 0; i < n; i++) {
                alive += rows[i].time > steps[k].time;
            }
            assert_true(fabs(steps[k].survival - alive / (double)n) < 1e-12);
            assert_true(isnan(steps[k].plain[0]) ||
                        (steps[k].plain[0] <= steps[k].survival && steps[k].survival <= steps[k].plain[1]));
            assert_true(isnan(steps[k].loglog[0]) ||
                        (steps[k].loglog[0] < steps[k].survival && steps[k].survival < steps[k].loglog[1]));
        }
    }
}

/* Property: a Weibull that made the lives is found again within its own limits nearly always; limits hold the estimate.
 */
static void weibull_found_again(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    int held = 0;
    const int rounds = 40;
    for (int round = 0; round < rounds; round++) {
        struct life_observation o[40];
        for (size_t i = 0; i < 40; i++) {
            double t = 500 * pow(-log(uniform(&x)), 1 / 1.8);
            o[i] = t > 700 ? (struct life_observation){LIFE_RUNNING, 700, 0, 1, 0}
                           : (struct life_observation){LIFE_FAILED, t, 0, 1, 0};
        }
        struct life_fit f;
        struct err e = err_new(&a);
        assert_true(life_fit(LIFE_WEIBULL, o, 40, 0.95, &f, &a, &e));
        assert_true(f.exists && f.shape.ratio[0] < 1 / f.sigma && 1 / f.sigma < f.shape.ratio[1]);
        assert_true(f.scale.ratio[0] < exp(f.mu) && exp(f.mu) < f.scale.ratio[1]);
        held += f.shape.ratio[0] < 1.8 && 1.8 < f.shape.ratio[1];
    }
    /* 95 % nominal; 30 of 40 or fewer would come once in a million runs */
    assert_true(held > 30);
}

/* Property: first passages rise with time, and quantiles invert them in both tails. */
static void passages_invert(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    for (int round = 0; round < 500; round++) {
        struct wiener w = {0.1 + 10 * uniform(&x), 0.01 + 20 * uniform(&x)};
        struct gamma_process g = {0.05 + 3 * uniform(&x), 0.1 + 5 * uniform(&x)};
        double level = 1 + 300 * uniform(&x);
        double p = pow(10, -6 * uniform(&x));
        p = round % 2 ? 1 - p * 0.5 : p * 0.5;
        for (int gamma = 0; gamma < 2; gamma++) {
            struct tails at;
            struct tails later;
            double t = 0;
            struct err e = err_new(&a);
            assert_true(gamma ? gamma_passage_quantile(g, level, p, &t, &e) : wiener_quantile(w, level, p, &t, &e));
            assert_true(gamma ? gamma_passage(g, level, t, &at, &e) : wiener_passage(w, level, t, &at, &e));
            assert_true(gamma ? gamma_passage(g, level, 1.01 * t, &later, &e)
                              : wiener_passage(w, level, 1.01 * t, &later, &e));
            assert_true(fabs(at.p - p) < 1e-9 * p && fabs(at.q - (1 - p)) < 1e-7 * (1 - p));
            assert_true(later.p >= at.p && later.q <= at.q);
        }
    }
}

/* Property: no order of repairs costs less than the best one. */
static void best_order_is_best(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    for (int round = 0; round < 500; round++) {
        struct repair_action actions[5];
        size_t best[5];
        size_t order[5] = {0, 1, 2, 3, 4};
        double least = 0;
        double cost = 0;
        struct err e = err_new(&a);
        for (size_t i = 0; i < 5; i++) {
            actions[i] = (struct repair_action){uniform(&x) / 5, 1 + 100 * uniform(&x)};
        }
        assert_true(repair_order_best(actions, 5, best, &e) && repair_order_cost(actions, best, 5, 50, &least, &e));
        for (int shuffle = 0; shuffle < 30; shuffle++) {
            size_t i = next_random(&x) % 5;
            size_t k = next_random(&x) % 5;
            size_t swap = order[i];
            order[i] = order[k];
            order[k] = swap;
            assert_true(repair_order_cost(actions, order, 5, 50, &cost, &e));
            assert_true(cost >= least * (1 - 1e-12));
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(refusals_of_life),
        cmocka_unit_test(refusals_of_statistics),
        cmocka_unit_test(refusals_of_stock_and_causes),
        cmocka_unit_test(survival_counts),
        cmocka_unit_test(weibull_found_again),
        cmocka_unit_test(passages_invert),
        cmocka_unit_test(best_order_is_best),
    };
    return cmocka_run_group_tests_name("life", tests, open_arena, close_arena);
}
