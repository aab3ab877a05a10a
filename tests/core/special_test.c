/* Special functions and numerics against values of another origin. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "stats/numeric.h"
#include "stats/special.h"

#include <math.h>

static void close_to(const char *what, double a, double x, double got, double expected)
{
    if (fabs(got - expected) > 3e-13 * fabs(expected)) {
        fail_msg("%s at %.17g, %.17g: %.17g, expected %.17g", what, a, x, got, expected);
    }
}

/* a, x, P, Q: 50-digit arithmetic of mpmath 1.2 (gammainc, regularized). */
static void gamma_table(void **state)
{
    (void)state;
    static const double rows[][4] = {
        {0.05, 1e-06, 0.51482795452517817, 0.48517204547482183},
        {0.05, 2.0, 0.99736145729120347, 0.0026385427087965347},
        {0.5, 0.1, 0.34527915398142298, 0.65472084601857702},
        {1, 30, 0.99999999999990642, 9.3576229688401746e-14},
        {2.5, 0.001, 9.5085345986079498e-9, 0.9999999904914654},
        {10, 3, 0.0011024881301154797, 0.99889751186988452},
        {10, 40, 0.99999999607406777, 3.9259322262861882e-9},
        {250, 250, 0.50841062696899096, 0.49158937303100904},
        {2540.5, 2490.9, 0.16257864309695967, 0.83742135690304033},
        {20000, 20000, 0.50094031623374932, 0.49905968376625068},
        {20000, 19200, 4.970736203182333e-9, 0.9999999950292638},
        {20000, 20800, 0.99999998834797055, 1.1652029448572315e-8},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct tails t = gamma_ratio(rows[i][0], rows[i][1]);
        close_to("P", rows[i][0], rows[i][1], t.p, rows[i][2]);
        close_to("Q", rows[i][0], rows[i][1], t.q, rows[i][3]);
        struct tails given = {rows[i][2], rows[i][3]};
        double back = gamma_quantile(rows[i][0], given);
        /* how far x moves for the rounding of the given probability */
        assert_true(fabs(back / rows[i][1] - 1) < 1e-12);
    }
    assert_true(isnan(gamma_ratio(-1, 1).p) && isnan(gamma_ratio(1, (double)NAN).q) && gamma_ratio(3, 0).q == 1);
    assert_true(isnan(gamma_quantile(2, (struct tails){0.5, 0.6})) && gamma_quantile(2, (struct tails){0, 1}) == 0);
}

/* x, a, b, I, 1 - I: the same (betainc, regularized). */
static void beta_table(void **state)
{
    (void)state;
    static const double rows[][5] = {
        {0.5, 0.5, 0.5, 0.5, 0.5},
        {1e-08, 0.3, 4, 0.0065468723744277624, 0.99345312762557224},
        {0.001, 2, 50, 0.0012340903931170826, 0.99876590960688292},
        {0.9, 3, 0.2, 0.19414127962989722, 0.80585872037010278},
        {0.25, 30, 90, 0.5140354601950156, 0.4859645398049844},
        {0.3, 30, 90, 0.89409096762497719, 0.10590903237502281},
        {0.1, 30, 90, 1.568882135812515e-6, 0.99999843111786419},
        {0.5, 500, 500, 0.5, 0.5},
        {0.53, 500, 500, 0.97119165294610051, 0.028808347053899488},
        {0.02, 12, 900, 0.95190494253801509, 0.04809505746198491},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct tails t = beta_ratio(rows[i][0], 1 - rows[i][0], rows[i][1], rows[i][2]);
        close_to("I", rows[i][1], rows[i][0], t.p, rows[i][3]);
        close_to("1 - I", rows[i][1], rows[i][0], t.q, rows[i][4]);
        struct tails given = {rows[i][3], rows[i][4]};
        double y = 0;
        double back = beta_quantile(given, rows[i][1], rows[i][2], &y);
        assert_true(fabs(back / rows[i][0] - 1) < 1e-11);
        assert_true(fabs(back + y - 1) < 1e-15);
    }
    assert_true(isnan(beta_ratio(0.5, 0.5, 0, 1).p) && beta_ratio(0, 1, 2, 3).q == 1 && beta_ratio(1, 0, 2, 3).p == 1);
}

static double cubic(void *ctx, double x)
{
    (void)ctx;
    return x * x * x - 2;
}

static double bell(void *ctx, double x)
{
    (void)ctx;
    return exp(-x * x / 2);
}

static double rosenbrock(void *ctx, const double *x)
{
    (void)ctx;
    return 100 * (x[1] - x[0] * x[0]) * (x[1] - x[0] * x[0]) + (1 - x[0]) * (1 - x[0]);
}

/* Values by elementary calculus: the cube root of 2, the integral of the bell, the minimum of Rosenbrock's function at
 * (1, 1). */
static void numeric(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    double root = 0;
    double at[2] = {-1.2, 1};
    const double steps[2] = {0.5, 0.5};
    assert_true(find_root(cubic, NULL, 0, 5, &root));
    assert_true(fabs(root - cbrt(2)) < 1e-15);
    assert_false(find_root(cubic, NULL, 2, 5, &root));
    assert_true(fabs(integrate(bell, NULL, -40, 40, 1e-12) - sqrt(2 * 3.14159265358979323846)) < 1e-11);
    minimise(rosenbrock, NULL, at, steps, 2, &a);
    assert_true(fabs(at[0] - 1) < 1e-6 && fabs(at[1] - 1) < 1e-6);
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(gamma_table), cmocka_unit_test(beta_table),
                                       cmocka_unit_test(numeric)};
    return cmocka_run_group_tests_name("special", tests, NULL, NULL);
}
