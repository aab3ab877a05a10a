/* Special functions against the GNU Scientific Library (tests only; this file is built where it is installed), at many
 * random places. Its own error is up to 1e-10 here and there (checked with 40-digit arithmetic), so the tight
 * comparison is special_test.c's table. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "stats/special.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_sf_gamma.h>
#include <gsl/gsl_sf_psi.h>

#include <math.h>
#include <stdlib.h>

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

/* Between 10^low and 10^high, evenly by logarithm. */
static double log_uniform(uint64_t *x, double low, double high)
{
    return pow(10, low + (high - low) * (double)(next_random(x) >> 11) / 9007199254740992.0);
}

static uint64_t seed_of_run(void)
{
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20260301;
    print_message("# seed %llu\n", (unsigned long long)seed);
    gsl_set_error_handler_off();
    return seed ? seed : 1;
}

static void close_to(const char *what, double a, double b, double got, double expected, double rel)
{
    if (fabs(got - expected) > rel * fabs(expected) && fabs(expected) > 1e-290) {
        fail_msg("%s at %.17g, %.17g: %.17g, other library %.17g", what, a, b, got, expected);
    }
}

static void gamma_against_gsl(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    for (int i = 0; i < 4000; i++) {
        double a = log_uniform(&x, -1.5, 4.5);
        double at = a * log_uniform(&x, -0.3, 0.3);
        struct tails t = gamma_ratio(a, at);
        close_to("P", a, at, t.p, gsl_cdf_gamma_P(at, a, 1), 1e-8);
        close_to("Q", a, at, t.q, gsl_cdf_gamma_Q(at, a, 1), 1e-8);
        if (t.p > 1e-12 && t.q > 1e-12) {
            close_to("quantile", a, t.p, gamma_quantile(a, t), at, 1e-9);
        }
        assert_true(fabs(digamma(a) - gsl_sf_psi(a)) < 1e-13 * (1 + fabs(gsl_sf_psi(a)) + 1 / a));
    }
}

static void beta_against_gsl(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    for (int i = 0; i < 4000; i++) {
        double a = log_uniform(&x, -1, 3);
        double b = log_uniform(&x, -1, 3);
        double mean = a / (a + b);
        double sd = sqrt(mean * (1 - mean) / (a + b + 1));
        double at = mean + sd * (((double)(next_random(&x) % 8001) - 4000) / 1000);
        if (!(at > 0 && at < 1)) {
            continue;
        }
        struct tails t = beta_ratio(at, 1 - at, a, b);
        close_to("I", a, at, t.p, gsl_cdf_beta_P(at, a, b), 1e-8);
        close_to("1 - I", a, at, t.q, gsl_cdf_beta_Q(at, a, b), 1e-8);
        if (t.p > 1e-10 && t.q > 1e-10) {
            close_to("quantile", a, t.p, beta_quantile(t, a, b, NULL), at, 1e-8);
        }
    }
}

static void normal_and_student_against_gsl(void **state)
{
    (void)state;
    uint64_t x = seed_of_run();
    for (int i = 0; i < 4000; i++) {
        double p = log_uniform(&x, -30, -0.31);
        close_to("normal quantile", p, 0, normal_quantile((struct tails){p, 1 - p}), gsl_cdf_ugaussian_Pinv(p), 1e-13);
        close_to("normal quantile", p, 1, normal_quantile((struct tails){1 - p, p}), gsl_cdf_ugaussian_Qinv(p), 1e-13);
        double z = ((double)(next_random(&x) % 16001) - 8000) / 1000;
        close_to("normal", z, 0, normal_tails(z).p, gsl_cdf_ugaussian_P(z), 1e-12);
        close_to("ln normal", z, 0, normal_log_cdf(z), log(gsl_cdf_ugaussian_P(z)), 1e-10);
        double df = 1 + (double)(next_random(&x) % 200);
        close_to("student", z, df, student_tails(z, df).p, gsl_cdf_tdist_P(z, df), 1e-9);
        if (p > 1e-12) {
            close_to("student quantile", p, df, student_quantile((struct tails){p, 1 - p}, df),
                     gsl_cdf_tdist_Pinv(p, df), p < 1e-6 ? 1e-4 : 1e-7);
            close_to("chi-square quantile", p, df, chi_square_quantile((struct tails){p, 1 - p}, df),
                     gsl_cdf_chisq_Pinv(p, df), 1e-9);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(gamma_against_gsl), cmocka_unit_test(beta_against_gsl),
                                       cmocka_unit_test(normal_and_student_against_gsl)};
    return cmocka_run_group_tests_name("stats against another library", tests, NULL, NULL);
}
