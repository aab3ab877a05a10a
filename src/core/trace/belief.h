/* What may be behind it, and how likely each is: shared by belief.c and plan.c. */
#ifndef WITMARK_TRACE_BELIEF_H
#define WITMARK_TRACE_BELIEF_H

#include "trace/trace.h"

/* One possibility: one cause, two, or none of the list (both -1). */
struct hypothesis {
    int one, two; /* -1 = none */
};

struct belief {
    const struct trace_model *m;
    const struct hypothesis *h;
    int n;
    int *alone; /* [n_causes + 1] place of the hypothesis of that cause alone, of what is not in the list; -1 = none */
    double *p;  /* [n] sums to 1 */
    double *spare; /* [n] */
    double seen;   /* probability of what was seen so far */
};

/* The prior. with_two: also every two causes. */
struct belief belief_new(const struct trace_model *m, bool with_two, struct arena *a);
/* Takes up events. Errors: ERR_DOMAIN: what was seen cannot be. */
bool belief_take(struct belief *b, const struct trace_event *events, int n, struct err *e);
/* How likely the sign is under that hypothesis. */
double belief_sign(const struct belief *b, int sign, int h);
/* A repair that did not put it right: p (not scaled) before and after; returns the probability that it would have. */
double belief_repair(const struct belief *b, int repair, const double *before, double *after);

#endif
