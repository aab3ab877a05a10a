/* Location, spread and limits of a sample, by ordinary and by robust means; tolerance factors of a normal sample. */
#ifndef WITMARK_STATS_ROBUST_H
#define WITMARK_STATS_ROBUST_H

#include "base/arena.h"
#include "base/err.h"

/* How a quantile falls between two values: programs differ, so the one used is named. */
enum quantile_rule {
    QUANTILE_TYPE6, /* h = p (n + 1): NIST handbook */
    QUANTILE_TYPE7, /* h = 1 + (n - 1) p: most spreadsheets */
    QUANTILE_TUKEY, /* quartiles only: Tukey's hinges */
};
/* sorted [n >= 1] rising; 0 <= p <= 1. */
double sample_quantile(enum quantile_rule rule, const double *sorted, size_t n, double p);

struct fences {
    double q1, q3, spread;     /* quartiles and their distance */
    double inner[2], outer[2]; /* 1.5 and 3 spreads beyond */
    size_t outside_inner, outside_outer;
};
struct sample_summary {
    size_t n;
    double mean, deviation; /* n - 1 */
    double median;
    double mad;     /* median of |x - median|, raw; times 1.4826 for a normal's deviation */
    double *sorted; /* [n], in the arena */
};
#define MAD_TO_DEVIATION 1.4826
/* n >= 2. Errors: ERR_DOMAIN. Source of the fences: NIST/SEMATECH e-Handbook 7.1.6. */
bool sample_summary(const double *x, size_t n, struct sample_summary *out, struct arena *a, struct err *e);
struct fences sample_fences(const struct sample_summary *s, enum quantile_rule rule);

/* Modified z scores 0.6745 (x - median) / MAD: the largest size and how many pass 3.5. Errors: ERR_DOMAIN when the MAD
 * is 0: more than half of the values are equal and no limit can stand on it. Source: Iglewicz and Hoaglin (1993). */
struct modified_z {
    double largest;
    size_t over;
};
bool sample_modified_z(const struct sample_summary *s, double limit, struct modified_z *out, struct err *e);

/* Huber's location with the scale fixed at 1.4826 MAD, and his proposal 2 for both, k = 1.5. Errors: ERR_DOMAIN: MAD 0.
 * Source: Huber (1981), Robust Statistics; Venables and Ripley, Modern Applied Statistics with S, section 5.5. */
struct huber {
    double location, scale;
};
bool sample_huber(const struct sample_summary *s, struct huber *out, struct err *e);
bool sample_huber2(const struct sample_summary *s, struct huber *out, struct err *e);

/* k such that mean +/- k s (two-sided) or mean + k s (one-sided) covers a share of a normal population with a
 * confidence. n >= 2. Sources: Howe (1969), Natrella (1963), NIST/SEMATECH e-Handbook 7.2.6.3; exact: noncentral t, and
 * the double integral over mean and deviation. */
struct tolerance_factors {
    double howe, two_sided, natrella, one_sided;
};
bool tolerance_factors(size_t n, double coverage, double confidence, struct tolerance_factors *out, struct err *e);

#endif
