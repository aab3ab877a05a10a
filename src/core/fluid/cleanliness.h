/* Particle counts of hydraulic oil: ISO 4406 codes both ways, SAE AS4059 cumulative classes. */
#ifndef WITMARK_FLUID_CLEANLINESS_H
#define WITMARK_FLUID_CLEANLINESS_H

#include "base/err.h"

#define ISO4406_OVER 29     /* written ">28": more than the table's last bound */
#define ISO4406_ABSENT (-1) /* "-": this size was not counted */

/* Scale number of a count: band i is more than bound i - 1, up to and including bound i. The bounds are the printed,
 * rounded ones (1300, not 1280). 0 counted gives 0. Errors: ERR_DOMAIN: negative, not finite. Source: ISO 4406:2017,
 * table 1. */
bool iso4406_scale(double per_ml, int *scale, struct err *e);
/* The band of a scale number 0 .. 28. Errors: ERR_DOMAIN. */
struct iso4406_band {
    double more_than, up_to; /* particles per ml; 0 and 0.01 for scale 0 */
};
bool iso4406_range(int scale, struct iso4406_band *out, struct err *e);

/* A code such as 19/16/12: particles of at least 4, 6 and 14 um(c) per ml. */
struct iso4406 {
    int scale[3];     /* 0 .. 28, ISO4406_OVER, ISO4406_ABSENT */
    bool at_least[3]; /* fewer than 20 particles were counted: written ">=" */
};
/* Code of cumulative counts per ml.
 *   per_ml      [3], falling: counts are cumulative
 *   raw_counts  [3] particles actually counted, or null when not known; under 20 the number is marked
 * Errors: ERR_DOMAIN: a larger size with more particles than a smaller one (columns swapped, or differential counts).
 */
bool iso4406_code(const double *per_ml, const double *raw_counts, struct iso4406 *out, struct err *e);
/* "19/16/12", "14/12/>=7", ">28/16/12", "-/16/12". */
void text_iso4406(struct text *t, struct iso4406 code);
/* Reads such a code. Errors: ERR_INPUT. */
bool iso4406_parse(struct str s, struct iso4406 *out, struct err *e);

/* Whether each of the three is at or below its target; worst_excess is the largest difference, 0 or less when met. */
struct iso4406_check {
    bool meets;
    int worst_excess;
};
/* Sizes absent on either side are left out. Errors: ERR_DOMAIN when nothing can be compared. */
bool iso4406_meets(struct iso4406 code, struct iso4406 target, struct iso4406_check *out, struct err *e);

/* Highest class over the sizes given, of cumulative counts per 100 ml larger than 4, 6, 14, 21, 38, 70 um(c) (codes A
 * to F); NaN for a size that was not counted. Classes -2 (000), -1 (00), 0 .. 12; 13 = above 12. Errors: ERR_DOMAIN:
 * negative, rising with size, none given. Source: SAE AS4059 rev E, table 2 (cumulative). */
bool as4059_class(const double per_100ml[6], int *class_number, struct err *e);

#endif
