/* Special functions of statistics: incomplete gamma and beta ratios with both tails and inverses, normal and Student
 * distributions.
 *
 * Written for both ends: a tail probability is computed as such and never as 1 minus the other, so that 1e-12 keeps its
 * digits. Pure functions of doubles; the platform's exp, log, lgamma and erfc underneath, so native and WebAssembly
 * agree to about 1e-13. Arguments out of range give NaN: callers check theirs where a person's input is concerned.
 * Checked: tests/core/stats_test.c against another library of general purpose, 1e-12 in the middle and 1e-10 in the
 * tails.
 */
#ifndef WITMARK_STATS_SPECIAL_H
#define WITMARK_STATS_SPECIAL_H

/* Two probabilities that add up to one, each with its own digits. */
struct tails {
    double p; /* lower, P(X <= x) */
    double q; /* upper, P(X > x) */
};

double log_gamma(double x); /* ln Gamma(x), x > 0 */
double digamma(double x);   /* derivative of log_gamma, x > 0; shift to 10, then the asymptotic series (Abramowitz and
                               Stegun 6.3.18) */
double log_beta(double a, double b); /* ln B(a, b) */
double erf_scaled(double x);         /* exp(x^2) erfc(x), no overflow for x >= 0 */

/* Incomplete gamma ratio P(a, x) and Q(a, x), a > 0, x >= 0. Series below a + 1, continued fraction above (Abramowitz
 * and Stegun 6.5.29, 6.5.31), with a prefactor that does not cancel for large a (Temme 1979: x^a e^-x / Gamma(a+1) by
 * log(1+t) - t and Stirling's remainder). Cost: about sqrt(a) terms near x = a. */
struct tails gamma_ratio(double a, double x);
/* x with P(a, x) = t.p, found on the smaller tail; t.p + t.q = 1. */
double gamma_quantile(double a, struct tails t);

/* Incomplete beta ratio I_x(a, b) and its complement, a, b > 0, 0 <= x <= 1, y = 1 - x handed in so that a small y
 * keeps its digits. Continued fraction (Abramowitz and Stegun 26.5.8), modified Lentz. */
struct tails beta_ratio(double x, double y, double a, double b);
/* x with I_x(a, b) = t.p; *y (may be null) gets 1 - x. */
double beta_quantile(struct tails t, double a, double b, double *y);

struct tails normal_tails(double z);    /* standard normal */
double normal_quantile(struct tails t); /* Wichura (1988), Applied Statistics 37, AS 241, then one step of Halley */
double normal_log_cdf(double z);        /* ln P, far into the lower tail */
struct tails student_tails(double t, double df);
double student_quantile(struct tails t, double df);
struct tails chi_square_tails(double x, double df);
double chi_square_quantile(struct tails t, double df);

/* {p, 1 - p} and {1 - q, q} */
struct tails tails_of_p(double p);
struct tails tails_of_q(double q);

#endif
