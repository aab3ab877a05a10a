/* What the files of the usage model share: one machine's history as steps along the clock. */
#ifndef WITMARK_METER_USAGE_INTERNAL_H
#define WITMARK_METER_USAGE_INTERNAL_H

#include "meter/usage.h"

#define USAGE_LEAST_H 0.05    /* half of what a meter shows: less is known only as less */
#define USAGE_LEAST_DAYS 0.25 /* readings closer than that are one */

/* From one reading to the next. */
struct usage_step {
    double from, to; /* days */
    double s, h;     /* clock, hours */
    double w;        /* 0 .. 1: how sure it is that the hours are right */
};
struct usage_steps {
    struct usage_step *at;
    int n;
    int left_out;
    double last_day, last_total; /* of the last reading used */
    bool any;                    /* is there a reading at all */
};
/* The steps of a machine until a day, along a clock. With k > 0 (as fitted before) and the family's prior, readings
 * that split their neighbours' hours impossibly are left out and a last step that is too long is doubted; k = 0: as
 * they are. */
struct usage_steps usage_steps_of(struct arena *a, const struct usage_clock *clock, const struct usage_machine *m,
                                  double until, double k, double c, double d);

/* C as it counts while part of the season is unknown: 1/C + 0.5 unknown, as if the rate itself were so much less sure.
 */
double usage_unsure(const struct usage_clock *clock, double C);

/* e = g (s/30)^-n: how much more even than its steps say the process is taken to be over a clock s. */
double usage_evenness(double g, double n, double s);

/* ln density of gaining h hours over the shape kappa from the state (C, D), times 2 USAGE_LEAST_H; below USAGE_LEAST_H
 * ln P(H < USAGE_LEAST_H). */
double usage_log_density(double kappa, double h, double C, double D);

/* The weight that would have forecast best, of a few; *scored = forecasts it stands on. */
struct usage_weight usage_best_weight(struct arena *a, const struct usage_fleet *fleet, const struct usage_machine *m,
                                      int n, int *scored);
extern const struct usage_weight usage_default_weight;

#endif
