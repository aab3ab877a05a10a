/* Histories made by a process that the usage model does not assume: spells of work and idleness, jobs that last weeks,
 * uneven days, seasons, lay-ups, slips of the pen. Invented, with a seed; for tests and benchmarks. */
#ifndef WITMARK_TESTS_USAGE_WORLD_H
#define WITMARK_TESTS_USAGE_WORLD_H

#include "meter/backtest.h"

#include <stdint.h>

struct usage_world {
    uint64_t seed; /* not 0 */
    int machines, families, days;
    double machine_effect, job_effect, day_effect; /* deviations of the logarithm */
    double stop, start;                            /* chance a day of leaving work, of leaving idleness */
    double tail;   /* > 0: a day's scatter is exp(day_effect x Student's t of so many degrees), else normal */
    double season; /* height of the two peaks of the year, 0 = none */
    bool lay_up;   /* a third of the machines stand for ten weeks a year; half of the times nobody wrote that down */
    double slips;  /* chance that a reading is off by up to 20 h */
};
/* The recipe of the design: 60 machines in three families, 900 days. */
struct usage_world usage_world_plain(uint64_t seed);
/* The machines' readings and pauses; day 0 is a Tuesday, 1 January 2019. */
struct backtest_machine *usage_world_make(struct arena *a, const struct usage_world *w);

double world_uniform(uint64_t *x); /* (0, 1), xorshift of Marsaglia (2003) */
double world_normal(uint64_t *x);  /* Box and Muller (1958) */

#endif
