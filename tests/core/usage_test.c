/* The usage model: its closed forms against integrals, what it makes of histories whose truth is known, and how often
 * its bands hold on histories of another kind. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "stats/numeric.h"
#include "usage_world.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define SEED 20260906u

/* A clock without seasons, from day 0. */
static struct usage_clock flat(struct arena *a)
{
    struct usage_machine none = {0};
    return usage_clock_fit(a, &none, 1, -1, NULL, 366);
}

/* The integrand of P(H >= L): Gamma(shape kappa, rate b) beyond L, b ~ Gamma(C, rate D) on the scale ln b. */
struct mixture {
    double kappa, C, D, L;
};
static double mixed(void *ctx, double ln_b)
{
    const struct mixture *m = ctx;
    double b = exp(ln_b);
    double density = exp(m->C * log(m->D * b) - m->D * b - lgamma(m->C));
    return density * gamma_ratio(m->kappa, b * m->L).q;
}

/* The closed form is the mixture that it stands for: by adaptive quadrature (QUADPACK's rule) over the rate, with the
 * incomplete gamma ratio that tests/data/cases checks against R and mpmath. */
static void passage_is_the_mixture(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct usage_clock clock = flat(&a);
    static const double rows[][4] = {/* k per day, C, D, L */
                                     {0.5, 4, 10, 30},   {0.05, 2, 3, 5},    {2, 40, 60, 400},
                                     {0.3, 0.8, 1, 100}, {1.5, 300, 90, 20}, {0.9, 12, 30, 0.1}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct usage_state u = {
            .known = true, .k = rows[i][0], .c = rows[i][1], .d = rows[i][2], .g = 1, .clock = &clock};
        u.start = usage_clock_at(&clock, 0);
        for (double day = 3; day < 400; day *= 3) {
            struct mixture m = {u.k * day, u.c, u.d, rows[i][3]};
            double centre = log(m.C / m.D);
            double wide = 60 / sqrt(m.C) + 5;
            double direct =
                integrate(mixed, &m, centre - wide, centre, 1e-12) + integrate(mixed, &m, centre, centre + wide, 1e-12);
            struct tails t = usage_passage(&u, m.L, day);
            if (!(fabs(t.p - direct) < 1e-9)) {
                fail_msg("row %zu, day %g: %.12g, by quadrature %.12g", i, day, t.p, direct);
            }
        }
    }
    arena_free(&a);
}

/* A state by chance. */
static struct usage_state some_state(uint64_t *x, const struct usage_clock *clock)
{
    struct usage_state u = {.known = true, .clock = clock};
    u.k = exp(world_normal(x) - 1);
    u.c = exp(1.5 * world_normal(x) + 2);
    u.d = u.c * exp(world_normal(x));
    u.g = 0.3 + world_uniform(x);
    u.n = world_uniform(x) < 0.3 ? 0 : 0.6 * world_uniform(x);
    u.day = 300 * world_uniform(x);
    u.start = usage_clock_at(clock, u.day);
    return u;
}

/* The quantile undoes the passage to 1e-9; P rises with the day and falls with the hours; so do the days. */
static void quantiles_and_monotony(void **state)
{
    (void)state;
    uint64_t x = SEED;
    print_message("# seed %u\n", SEED);
    struct arena a = arena_new(&arena_libc);
    struct usage_clock clock = flat(&a);
    int met = 0;
    for (int i = 0; i < 1500; i++) {
        struct usage_state u = some_state(&x, &clock);
        double L = exp(2 * world_normal(&x) + 3);
        double p = world_uniform(&x);
        double day = usage_quantile(&u, L, p);
        if (isfinite(day) && day > u.day + 1e-9) {
            struct tails t = usage_passage(&u, L, day);
            if (!(fabs(t.p - p) < 1e-9)) {
                fail_msg("case %d: P %.12g at the quantile of %.12g", i, t.p, p);
            }
            met++;
        }
        double later = u.day + 3000 * world_uniform(&x) * world_uniform(&x);
        double more = L * (1 + world_uniform(&x));
        double here = usage_passage(&u, L, later).p;
        assert_true(usage_passage(&u, L, later + 1).p >= here - 1e-12);
        assert_true(usage_passage(&u, more, later).p <= here + 1e-12);
        assert_true(usage_quantile(&u, more, p) >= day);
        double three[3];
        usage_quantiles(&u, L, (const double[]){0.1, 0.5, 0.9}, 3, three);
        assert_true(three[0] <= three[1] && three[1] <= three[2]);
    }
    assert_true(met > 1000);
    /* What is no number, or no probability, is refused. */
    struct usage_state u = some_state(&x, &clock);
    struct usage_state unknown = {.clock = &clock};
    assert_true(isnan(usage_passage(&u, NAN, 10).p) && isnan(usage_passage(&u, 5, NAN).p));
    assert_true(isnan(usage_passage(&unknown, 5, 10).p) && isnan(usage_quantile(&unknown, 5, 0.5)));
    assert_true(isnan(usage_quantile(&u, 5, 0)) && isnan(usage_quantile(&u, 5, 1)) &&
                isnan(usage_quantile(&u, NAN, 0.5)));
    assert_true(usage_passage(&u, 0, 10).p == 1 && usage_quantile(&u, -3, 0.5) == u.day);
    assert_true(isnan(usage_shape_quantile(-1, 0, 2, tails_of_p(0.5), 0)));
    arena_free(&a);
}

/* Gamma by Marsaglia and Tsang (2000), shape below one by Stuart's power. */
static double some_gamma(uint64_t *x, double shape)
{
    if (shape < 1) {
        return some_gamma(x, shape + 1) * pow(world_uniform(x), 1 / shape);
    }
    double d = shape - 1.0 / 3;
    double c = 1 / sqrt(9 * d);
    for (;;) {
        double z = world_normal(x);
        double v = pow(1 + c * z, 3);
        if (v > 0 && log(world_uniform(x)) < z * z / 2 + d - d * v + d * log(v)) {
            return d * v;
        }
    }
}

/* Machines of a true gamma process: k = 0.8 a day, b ~ Gamma(6, 1.5 h). */
static struct usage_machine *true_machines(struct arena *a, uint64_t *x, int n, int readings)
{
    struct usage_machine *m = ARENA_ARRAY(a, struct usage_machine, n);
    for (int i = 0; i < n; i++) {
        double b = some_gamma(x, 6) / 1.5;
        double *day = ARENA_ARRAY(a, double, readings);
        double *total = ARENA_ARRAY(a, double, readings);
        for (int j = 1; j < readings; j++) {
            double days = 1 + floor(20 * world_uniform(x));
            day[j] = day[j - 1] + days;
            total[j] = total[j - 1] + some_gamma(x, 0.8 * days) / b;
        }
        m[i] = (struct usage_machine){.day = day, .total = total, .n = readings};
    }
    return m;
}

/* Parameters come back within their sampling error (95 machines: c to about a seventh, k to a few hundredths). */
static void fit_finds_the_truth(void **state)
{
    (void)state;
    uint64_t x = SEED;
    struct arena a = arena_new(&arena_libc);
    struct usage_machine *m = true_machines(&a, &x, 95, 60);
    struct usage_fleet fleet = usage_fit(&a, m, 95, 1, 640);
    const struct usage_model *f = &fleet.families[0];
    assert_true(f->fitted && f->machines == 95 && f->scored > 60);
    print_message("# k %.3f (0.8) c %.2f (6) k d / (c - 1) %.3f (0.24); left out %d of %d\n", f->k, f->c,
                  f->k * f->d / (f->c - 1), f->left_out, f->steps);
    assert_true(fabs(f->k - 0.8) < 0.08 && fabs(f->c - 6) < 2);
    assert_true(fabs(f->k * f->d / (f->c - 1) / 0.24 - 1) < 0.15);
    assert_true(f->left_out < f->steps / 50); /* right readings are hardly ever left out */
    /* A true gamma process needs no tempering to speak of: its forecasts score best with nearly all history. */
    assert_true(f->weight.a >= 0.6 && f->weight.n <= 0.2);
    arena_free(&a);
}

/* No machine, no reading, one, two, a thousand: each gets an answer that fits. */
static void few_and_many_readings(void **state)
{
    (void)state;
    uint64_t x = SEED + 1;
    struct arena a = arena_new(&arena_libc);
    struct usage_fleet none = usage_fit(&a, NULL, 0, 1, 600);
    assert_false(none.all.fitted || none.families[0].fitted);
    struct usage_machine lone = {0};
    assert_false(usage_fit(&a, &lone, 1, 1, 600).all.fitted);
    struct usage_machine *few = true_machines(&a, &x, 1, 5); /* three parameters want more than three stretches */
    few->n = 4;
    assert_false(usage_fit(&a, few, 1, 1, 600).all.fitted);
    few->n = 5;
    assert_true(usage_fit(&a, few, 1, 1, 600).all.fitted);
    struct usage_machine *m = true_machines(&a, &x, 20, 30);
    struct usage_machine *many = true_machines(&a, &x, 1, 1000);
    m[0].n = 0;
    m[1].n = 1;
    m[2].n = 2;
    m[3] = many[0];
    m[4].family = 1; /* alone in its family */
    struct usage_fleet fleet = usage_fit(&a, m, 20, 2, (day_t)many[0].day[999]);
    struct usage_state u[5];
    for (int i = 0; i < 5; i++) {
        u[i] = usage_state_of(&a, &fleet.families[m[i].family], &m[i], (double)INFINITY);
        assert_true(u[i].known == (i > 0));
    }
    assert_true(fleet.families[1].fitted && fleet.families[1].k > 0);
    /* The less is known, the wider the band, measured against its middle. */
    double width[5];
    for (int i = 1; i < 5; i++) {
        double q[3];
        usage_quantiles(&u[i], 50, (const double[]){0.1, 0.5, 0.9}, 3, q);
        width[i] = (q[2] - q[0]) / (q[1] - u[i].day);
    }
    assert_true(width[1] > width[3] && width[2] > width[3]);
    arena_free(&a);
}

/* Standing still: steps of 0.0 h count as less than the meter can show, and push the forecast out. */
static void standing_still(void **state)
{
    (void)state;
    uint64_t x = SEED + 2;
    struct arena a = arena_new(&arena_libc);
    struct usage_machine *m = true_machines(&a, &x, 12, 30);
    struct usage_machine still = m[0];
    double *total = ARENA_ARRAY(&a, double, still.n);
    for (int i = 0; i < still.n; i++) {
        total[i] = i < 20 ? still.total[i] : still.total[19];
    }
    struct usage_fleet fleet = usage_fit(&a, m, 12, 1, 400);
    struct usage_state before = usage_state_of(&a, &fleet.families[0], &still, still.day[19]);
    still.total = total;
    struct usage_state after = usage_state_of(&a, &fleet.families[0], &still, (double)INFINITY);
    assert_true(isfinite(after.c) && isfinite(after.d));
    assert_true(usage_quantile(&after, 20, 0.5) - after.day > usage_quantile(&before, 20, 0.5) - before.day);
    m[0] = still;
    struct usage_fleet with = usage_fit(&a, m, 12, 1, 400);
    assert_true(with.all.fitted && with.families[0].k > 0 && with.families[0].k <= fleet.families[0].k * 1.01);
    arena_free(&a);
}

/* One slip among thirty readings that stays between its neighbours passes the cleaning; the model leaves it out. A
 * wrong last reading is doubted. */
static void wrong_readings(void **state)
{
    (void)state;
    uint64_t x = SEED + 3;
    struct arena a = arena_new(&arena_libc);
    struct usage_machine *m = ARENA_ARRAY(&a, struct usage_machine, 10);
    for (int i = 0; i < 10; i++) { /* steady: about 4 h a day, read every eight days */
        double *day = ARENA_ARRAY(&a, double, 40);
        double *total = ARENA_ARRAY(&a, double, 40);
        for (int j = 1; j < 40; j++) {
            day[j] = j * 8;
            total[j] = total[j - 1] + 4 * some_gamma(&x, 1.5 * 8) / 1.5;
        }
        m[i] = (struct usage_machine){.day = day, .total = total, .n = 40};
    }
    struct usage_fleet right = usage_fit(&a, m, 10, 1, 320);
    double *slip = ARENA_ARRAY(&a, double, 40);
    for (int j = 0; j < 40; j++) {
        slip[j] = m[0].total[j];
    }
    slip[20] = m[0].total[21] - 0.3; /* nearly all of the next stretch is said to have been worked already */
    slip[30] = m[0].total[29] + 0.4;
    struct usage_machine wrong = m[0];
    wrong.total = slip;
    struct usage_state good = usage_state_of(&a, &right.families[0], &m[0], (double)INFINITY);
    struct usage_state bad = usage_state_of(&a, &right.families[0], &wrong, (double)INFINITY);
    assert_int_equal(bad.steps, good.steps - 2);
    m[0] = wrong;
    struct usage_fleet with = usage_fit(&a, m, 10, 1, 320);
    assert_true(with.families[0].left_out >= 2);
    assert_true(fabs(with.families[0].k / right.families[0].k - 1) < 0.05);
    slip[20] = m[1].total[20];
    for (int j = 0; j < 40; j++) {
        slip[j] = m[1].total[j];
    }
    wrong = m[1];
    wrong.total = slip;
    good = usage_state_of(&a, &right.families[0], &m[1], (double)INFINITY);
    slip[39] = slip[38] + 170; /* 21 h a day: the cleaning lets it pass */
    bad = usage_state_of(&a, &right.families[0], &wrong, (double)INFINITY);
    double rate_good = good.hours / good.s;
    double rate_bad = bad.hours / bad.s;
    assert_true(rate_bad < rate_good * 1.05);
    arena_free(&a);
}

/* A day out of service after the last reading never brings a day nearer, before it changes nothing but the rate. */
static void a_day_more(void **state)
{
    (void)state;
    uint64_t x = SEED + 4;
    struct arena a = arena_new(&arena_libc);
    struct usage_machine *m = true_machines(&a, &x, 12, 30);
    struct usage_fleet fleet = usage_fit(&a, m, 12, 1, 400);
    for (int i = 0; i < 12; i++) {
        double last = m[i].day[29];
        double before = -(double)INFINITY;
        for (int days = 0; days < 40; days++) {
            const double pause[1][2] = {{last + 1, last + 1 + days}};
            m[i].pauses = pause;
            m[i].n_pauses = days > 0;
            struct usage_state u = usage_state_of(&a, &fleet.families[0], &m[i], last + 100);
            double day = usage_quantile(&u, 40, 0.1);
            assert_true(day >= before);
            before = day;
        }
    }
    arena_free(&a);
}

/* Nobody works on Sundays and twice as much in high summer: read daily, the clock shows it. */
static void clock_learns(void **state)
{
    (void)state;
    uint64_t x = SEED + 5;
    struct arena a = arena_new(&arena_libc);
    struct usage_machine *m = ARENA_ARRAY(&a, struct usage_machine, 20);
    const day_t first = 18262; /* 2020-01-01 */
    for (int i = 0; i < 20; i++) {
        double *day = ARENA_ARRAY(&a, double, 800);
        double *total = ARENA_ARRAY(&a, double, 800);
        day[0] = first;
        for (int j = 1; j < 800; j++) {
            int month = civil_of_day(first + j - 1).month;
            double works = day_weekday(first + j - 1) == 7 ? 0 : month >= 6 && month <= 8 ? 2 : 1;
            day[j] = first + j;
            total[j] = total[j - 1] + (works > 0 ? some_gamma(&x, works * 2) : 0);
        }
        m[i] = (struct usage_machine){.day = day, .total = total, .n = 800};
    }
    struct usage_clock c = usage_clock_fit(&a, m, 20, -1, NULL, first + 800);
    assert_true(c.weekday[6] < 0.1 && c.weekday[2] > 1.05 && c.weekday[2] < 1.3);
    assert_true(fabs(c.week[28] / c.week[8] - 2) < 0.25); /* mid July against the end of February */
    for (int i = 0; i < 400; i++) {                       /* there and back, never falling */
        double day = first + 7000 * world_uniform(&x) - 100;
        double s = usage_clock_at(&c, day);
        assert_true(fabs(usage_clock_day(&c, s) - day) < 1e-6);
        assert_true(usage_clock_at(&c, day + world_uniform(&x)) >= s);
    }
    arena_free(&a);
}

/* The promise: on histories of another kind (on and off, jobs of weeks, heavy tails, seasons, lay-ups that nobody wrote
 * down, slips) the 80 % band holds 75 to 85 % of the time and the loss is below that of both rivals. */
static void bands_hold(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        uint64_t seed;
        double tail, slips;
        bool lay_up;
    } rows[] = {
        {"on and off, seasons", 1, 0, 0, false},
        {"lay-ups", 101, 0, 0, true},
        {"heavy tails", 201, 3, 0, false},
        {"slips and lay-ups", 301, 0, 0.03, true},
    };
    static const double ahead[] = {30, 100, 250};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct usage_world w = usage_world_plain(rows[i].seed);
        w.tail = rows[i].tail;
        w.slips = rows[i].slips;
        w.lay_up = rows[i].lay_up;
        struct backtest_machine *m = usage_world_make(&a, &w);
        struct backtest_ask ask = {
            .ahead_h = ahead, .n_ahead = 3, .every_days = 120, .history_days = 400, .stale_days = 70, .gap_days = 14};
        struct backtest b;
        backtest_run(m, w.machines, w.families, &ask, &a, &b);
        for (int k = 0; k < b.n; k++) {
            const struct backtest_row *r = &b.rows[k];
            print_message("# %s, +%.0f h: %d forecasts, held 50: %.1f 80: %.1f 95: %.1f; loss %.2f, last rate %.2f, "
                          "mean rate %.2f days\n",
                          rows[i].name, r->ahead_h, r->forecasts, 100 * r->held50, 100 * r->held80, 100 * r->held95,
                          r->score[BACKTEST_MODEL].pinball, r->score[BACKTEST_LAST_RATE].pinball,
                          r->score[BACKTEST_MEAN_RATE].pinball);
            assert_true(r->score[BACKTEST_MODEL].pinball < r->score[BACKTEST_LAST_RATE].pinball);
            assert_true(r->score[BACKTEST_MODEL].pinball < r->score[BACKTEST_MEAN_RATE].pinball);
        }
        const struct backtest_row *all = &b.rows[b.n - 1];
        assert_true(all->forecasts > 400);
        assert_true(all->held80 >= 0.75 && all->held80 <= 0.85);
        assert_true(all->held50 > 0.4 && all->held50 < 0.6 && all->held95 > 0.9);
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(passage_is_the_mixture),
        cmocka_unit_test(quantiles_and_monotony),
        cmocka_unit_test(fit_finds_the_truth),
        cmocka_unit_test(few_and_many_readings),
        cmocka_unit_test(standing_still),
        cmocka_unit_test(wrong_readings),
        cmocka_unit_test(a_day_more),
        cmocka_unit_test(clock_learns),
        cmocka_unit_test(bands_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
