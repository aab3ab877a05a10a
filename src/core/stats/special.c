/* Incomplete gamma and beta ratios and what follows from them. */
#include "stats/special.h"

#include <float.h>
#include <math.h>

#define PI 3.14159265358979323846
#define SQRT_2PI 2.50662827463100050242
#define LN_SQRT_2PI 0.91893853320467274178
#define TERMS_MOST 100000
#define NOT_A_NUMBER ((double)NAN)

struct tails tails_of_p(double p)
{
    return (struct tails){p, 1 - p};
}

struct tails tails_of_q(double q)
{
    return (struct tails){1 - q, q};
}

static const struct tails no_tails = {NOT_A_NUMBER, NOT_A_NUMBER};

double log_gamma(double x)
{
    return x > 0 ? lgamma(x) : NOT_A_NUMBER;
}

double digamma(double x)
{
    if (!(x > 0)) {
        return NOT_A_NUMBER;
    }
    double sum = 0;
    while (x < 10) {
        sum -= 1 / x;
        x++;
    }
    double r = 1 / (x * x);
    /* Bernoulli numbers B2/2, B4/4, ... */
    double series =
        r * (1.0 / 12 - r * (1.0 / 120 - r * (1.0 / 252 - r * (1.0 / 240 - r * (1.0 / 132 - r * 691.0 / 32760)))));
    return sum + log(x) - 0.5 / x - series;
}

double log_beta(double a, double b)
{
    return log_gamma(a) + log_gamma(b) - log_gamma(a + b);
}

double erf_scaled(double x)
{
    if (x < 25) {
        return exp(x * x) * erfc(x);
    }
    double r = 1 / (2 * x * x); /* asymptotic series, Abramowitz and Stegun 7.1.23 */
    return (1 - r * (1 - r * (3 - r * (15 - r * 105)))) / (x * sqrt(PI));
}

/* log(v/m) - (v - m)/m, without cancellation for v near m and without losing a small v. */
static double log_ratio_less(double v, double m)
{
    double t = (v - m) / m;
    if (fabs(t) > 0.3) {
        return log(v / m) - t;
    }
    /* log(1+t) = 2 atanh(r), r = t/(2+t): log(1+t) - t = 2 (r^3/3 + r^5/5 + ...) - r t, since 2 r = t - r t. */
    double r = t / (2 + t);
    double r2 = r * r;
    double term = r * r2;
    double sum = 0;
    for (int k = 3; k < 60; k += 2) {
        double add = term / k;
        sum += add;
        if (fabs(add) < 1e-18 * fabs(sum)) {
            break;
        }
        term *= r2;
    }
    return 2 * sum - r * t;
}

/* Stirling's remainder: ln Gamma(a + 1) - ((a + 1/2) ln a - a + ln sqrt(2 pi)). */
static double stirling_remainder(double a)
{
    if (a < 10) {
        return lgamma(a + 1) - ((a + 0.5) * log(a) - a + LN_SQRT_2PI);
    }
    double r = 1 / (a * a);
    return (1.0 / 12 - r * (1.0 / 360 - r * (1.0 / 1260 - r * (1.0 / 1680 - r * (1.0 / 1188 - r * 691.0 / 360360))))) /
           a;
}

/* x^a e^-x / Gamma(a + 1) */
static double gamma_front(double a, double x)
{
    if (a < 1) { /* here x may be many times a, and the plain form is exact enough */
        return exp(a * log(x) - x - lgamma(a + 1));
    }
    return exp(a * log_ratio_less(x, a) - stirling_remainder(a)) / (SQRT_2PI * sqrt(a));
}

struct tails gamma_ratio(double a, double x)
{
    if (!(a > 0) || !(x >= 0)) {
        return no_tails;
    }
    if (x == 0) {
        return (struct tails){0, 1};
    }
    if (isinf(x)) {
        return (struct tails){1, 0};
    }
    double front = gamma_front(a, x);
    if (x < a + 1) { /* 6.5.29 */
        double term = 1;
        double sum = 1;
        for (int k = 1; k < TERMS_MOST && term > DBL_EPSILON / 4 * sum; k++) {
            term *= x / (a + k);
            sum += term;
        }
        double p = fmin(1, front * sum);
        return (struct tails){p, 1 - p};
    }
    /* 6.5.31 by modified Lentz */
    double b = x + 1 - a;
    double c = 1 / DBL_MIN;
    double d = 1 / b;
    double h = d;
    for (int k = 1; k < TERMS_MOST; k++) {
        double an = -k * (k - a);
        b += 2;
        d = an * d + b;
        d = fabs(d) < DBL_MIN ? DBL_MIN : d;
        c = b + an / c;
        c = fabs(c) < DBL_MIN ? DBL_MIN : c;
        d = 1 / d;
        double step = d * c;
        h *= step;
        if (fabs(step - 1) < DBL_EPSILON) {
            break;
        }
    }
    double q = fmin(1, front * a * h);
    return (struct tails){1 - q, q};
}

/* A rising distribution function with its density, for the inverses. */
struct distribution {
    struct tails (*tails)(const struct distribution *d, double x);
    double (*density)(const struct distribution *d, double x);
    double a, b;
};

/* x in (low, high) at which the smaller tail is met: Newton's step kept inside a shrinking bracket, halving where it
 * leaves it. On a scale where x is positive and may be tiny, halving goes by the logarithm. */
static double invert(const struct distribution *d, struct tails t, double start, double low, double high)
{
    int lower = t.p <= t.q;
    double x = start;
    for (int i = 0; i < 400; i++) {
        if (!(x > low && x < high)) {
            x = isinf(high)                 ? (low > 0 ? low * 4 : fmax(1, start) * 4)
                : low > 0 && high / low > 4 ? sqrt(low) * sqrt(high)
                                            : (low + high) / 2;
        }
        struct tails at = d->tails(d, x);
        double off = lower ? at.p - t.p : t.q - at.q; /* rises with x */
        if (off == 0) {
            return x;
        }
        if (off > 0) {
            high = x;
        } else {
            low = x;
        }
        double next = x - off / d->density(d, x);
        if (!(next > low && next < high)) {
            if (isinf(high)) {
                next = x * 4;
            } else if (low <= 0) {
                next = high / 1024 > DBL_MIN ? high / 1024 : 0;
            } else {
                next = high / low > 4 ? sqrt(low) * sqrt(high) : (low + high) / 2;
            }
        }
        if (fabs(next - x) <= DBL_EPSILON * fabs(x) || (isfinite(high) && high - low <= DBL_EPSILON * high)) {
            return next;
        }
        x = next;
    }
    return x;
}

static struct tails gamma_tails(const struct distribution *d, double x)
{
    return gamma_ratio(d->a, x);
}

static double gamma_density(const struct distribution *d, double x)
{
    return gamma_front(d->a, x) * d->a / x;
}

static int tails_valid(struct tails t)
{
    return t.p >= 0 && t.q >= 0 && fabs(t.p + t.q - 1) < 1e-9;
}

double gamma_quantile(double a, struct tails t)
{
    if (!(a > 0) || !tails_valid(t)) {
        return NOT_A_NUMBER;
    }
    if (t.p == 0 || t.q == 0) {
        return t.p == 0 ? 0 : HUGE_VAL;
    }
    /* Wilson and Hilferty (1931); for small a or far below, the first term of the series */
    double z = normal_quantile(t);
    double cube = 1 - 1 / (9 * a) + z / (3 * sqrt(a));
    double start = a * cube * cube * cube;
    if (cube <= 0 || a < 0.5 || start < 0.05 * a) {
        start = exp((log(t.p) + lgamma(a + 1)) / a);
    }
    const struct distribution d = {gamma_tails, gamma_density, a, 0};
    return invert(&d, t, start > 0 ? start : DBL_MIN, 0, HUGE_VAL);
}

/* Continued fraction 26.5.8 for x below the mean. */
static double beta_fraction(double x, double a, double b)
{
    double c = 1;
    double d = 1 - (a + b) * x / (a + 1);
    d = 1 / (fabs(d) < DBL_MIN ? DBL_MIN : d);
    double h = d;
    for (int m = 1; m < TERMS_MOST; m++) {
        for (int odd = 0; odd < 2; odd++) {
            double an = odd ? -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
                            : m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
            d = 1 + an * d;
            d = 1 / (fabs(d) < DBL_MIN ? DBL_MIN : d);
            c = 1 + an / c;
            c = fabs(c) < DBL_MIN ? DBL_MIN : c;
            h *= d * c;
        }
        if (fabs(d * c - 1) < DBL_EPSILON) {
            break;
        }
    }
    return h;
}

/* x^a y^b / B(a, b) */
static double beta_front(double x, double y, double a, double b)
{
    /* Both exponents around the mean cancel against the beta function; taken together they keep their digits for large
     * a and b. */
    if (a >= 10 && b >= 10) {
        double n = a + b;
        /* the linear terms add up to zero since x + y = 1 */
        double lead = a * log_ratio_less(x * n, a) + b * log_ratio_less(y * n, b);
        return exp(lead + stirling_remainder(n) - stirling_remainder(a) - stirling_remainder(b)) * sqrt(a * b / n) /
               SQRT_2PI;
    }
    return exp(a * log(x) + b * log(y) - log_beta(a, b));
}

struct tails beta_ratio(double x, double y, double a, double b)
{
    if (!(a > 0) || !(b > 0) || !(x >= 0) || !(y >= 0)) {
        return no_tails;
    }
    if (x == 0 || y == 0) {
        return x == 0 ? (struct tails){0, 1} : (struct tails){1, 0};
    }
    double front = beta_front(x, y, a, b);
    if (x < (a + 1) / (a + b + 2)) {
        double p = fmin(1, front * beta_fraction(x, a, b) / a);
        return (struct tails){p, 1 - p};
    }
    double q = fmin(1, front * beta_fraction(y, b, a) / b);
    return (struct tails){1 - q, q};
}

static struct tails beta_tails(const struct distribution *d, double x)
{
    return beta_ratio(x, 1 - x, d->a, d->b);
}

static double beta_density(const struct distribution *d, double x)
{
    return beta_front(x, 1 - x, d->a, d->b) / (x * (1 - x));
}

double beta_quantile(struct tails t, double a, double b, double *y)
{
    if (!(a > 0) || !(b > 0) || !tails_valid(t)) {
        return NOT_A_NUMBER;
    }
    double x = t.p == 0 ? 0 : 1;
    double other = 1 - x;
    if (t.p > 0 && t.q > 0) {
        /* Solve for whichever of x and 1 - x is below one half, where it has its digits. */
        struct tails half = beta_ratio(0.5, 0.5, a, b);
        int lower = half.p >= t.p;
        const struct distribution d = {beta_tails, beta_density, lower ? a : b, lower ? b : a};
        struct tails target = lower ? t : (struct tails){t.q, t.p};
        double mean = d.a / (d.a + d.b);
        double first = exp((log(target.p) + log(d.a) + log_beta(d.a, d.b)) / d.a);
        double start = first < 0.1 * mean ? first : fmin(mean, 0.4);
        double found = invert(&d, target, start, 0, 0.5 * (1 + 1e-15));
        x = lower ? found : 1 - found;
        other = lower ? 1 - found : found;
    }
    if (y) {
        *y = other;
    }
    return x;
}

struct tails normal_tails(double z)
{
    return (struct tails){0.5 * erfc(-z / sqrt(2)), 0.5 * erfc(z / sqrt(2))};
}

double normal_log_cdf(double z)
{
    return z > -5 ? log(normal_tails(z).p) : log(0.5 * erf_scaled(-z / sqrt(2))) - z * z / 2;
}

/* c0 + c1 r + ... */
static double polynomial(const double *c, int n, double r)
{
    double sum = 0;
    for (int i = n - 1; i >= 0; i--) {
        sum = sum * r + c[i];
    }
    return sum;
}

double normal_quantile(struct tails t)
{
    /* AS 241, PPND16 */
    static const double a[] = {3.3871328727963666080,    1.3314166789178437745e+2, 1.9715909503065514427e+3,
                               1.3731693765509461125e+4, 4.5921953931549871457e+4, 6.7265770927008700853e+4,
                               3.3430575583588128105e+4, 2.5090809287301226727e+3};
    static const double b[] = {1,
                               4.2313330701600911252e+1,
                               6.8718700749205790830e+2,
                               5.3941960214247511077e+3,
                               2.1213794301586595867e+4,
                               3.9307895800092710610e+4,
                               2.8729085735721942674e+4,
                               5.2264952788528545610e+3};
    static const double c[] = {1.42343711074968357734,    4.63033784615654529590,   5.76949722146069140550,
                               3.64784832476320460504,    1.27045825245236838258,   2.41780725177450611770e-1,
                               2.27238449892691845833e-2, 7.74545014278341407640e-4};
    static const double d[] = {1,
                               2.05319162663775882187,
                               1.67638483018380384940,
                               6.89767334985100004550e-1,
                               1.48103976427480074590e-1,
                               1.51986665636164571966e-2,
                               5.47593808499534494600e-4,
                               1.05075007164441684324e-9};
    static const double e[] = {6.65790464350110377720,    5.46378491116411436990,    1.78482653991729133580,
                               2.96560571828504891230e-1, 2.65321895265761230930e-2, 1.24266094738807843860e-3,
                               2.71155556874348757815e-5, 2.01033439929228813265e-7};
    static const double f[] = {1,
                               5.99832206555887937690e-1,
                               1.36929880922735805310e-1,
                               1.48753612908506148525e-2,
                               7.86869131145613259100e-4,
                               1.84631831751005468180e-5,
                               1.42151175831644588870e-7,
                               2.04426310338993978564e-15};
    if (!tails_valid(t)) {
        return NOT_A_NUMBER;
    }
    if (t.p == 0 || t.q == 0) {
        return t.p == 0 ? -HUGE_VAL : HUGE_VAL;
    }
    double q = t.p - 0.5;
    double z = 0;
    if (fabs(q) <= 0.425) {
        double r = 0.180625 - q * q;
        z = q * polynomial(a, 8, r) / polynomial(b, 8, r);
    } else {
        double r = sqrt(-log(fmin(t.p, t.q)));
        z = r <= 5 ? polynomial(c, 8, r - 1.6) / polynomial(d, 8, r - 1.6)
                   : polynomial(e, 8, r - 5) / polynomial(f, 8, r - 5);
        z = q < 0 ? -z : z;
    }
    /* One step of Halley on the smaller tail, where the density has not vanished. */
    double density = exp(-z * z / 2) / SQRT_2PI;
    if (density > 0) {
        struct tails at = normal_tails(z);
        double u = (t.p <= t.q ? at.p - t.p : t.q - at.q) / density;
        z -= u / (1 + z * u / 2);
    }
    return z;
}

struct tails student_tails(double t, double df)
{
    if (!(df > 0) || isnan(t)) {
        return no_tails;
    }
    double n = df + t * t;
    double far = 0.5 * beta_ratio(df / n, t * t / n, df / 2, 0.5).p;
    return t > 0 ? (struct tails){1 - far, far} : (struct tails){far, 1 - far};
}

double student_quantile(struct tails t, double df)
{
    if (!(df > 0) || !tails_valid(t)) {
        return NOT_A_NUMBER;
    }
    double tail = fmin(t.p, t.q);
    double y = 0;
    double x = beta_quantile((struct tails){2 * tail, 1 - 2 * tail}, df / 2, 0.5, &y);
    double size = sqrt(df * y / x);
    return t.p < t.q ? -size : size;
}

struct tails chi_square_tails(double x, double df)
{
    return gamma_ratio(df / 2, x / 2);
}

double chi_square_quantile(struct tails t, double df)
{
    return 2 * gamma_quantile(df / 2, t);
}
