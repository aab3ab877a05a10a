/* What is left of a round that is under way: what has been done and what turned out impossible is told, and the rest is
 * ordered again from where the machine and the technician are now. So a step is never offered in a condition it does
 * not allow, whatever was skipped before it. */
#ifndef WITMARK_ROUND_REST_H
#define WITMARK_ROUND_REST_H

#include "round/round.h"

/* One thing that was done: a change or a point. */
struct round_act {
    bool change;
    size_t index;
};

enum round_left_why {
    ROUND_LEFT_NEEDS, /* its condition cannot be had any more, or not left again */
    ROUND_LEFT_AFTER, /* it comes after a point that is not done */
};

/* A point that cannot be done any more. */
struct round_left {
    size_t point;
    enum round_left_why why;
    size_t after; /* ROUND_LEFT_AFTER: the point it waits for */
};

struct round_rest_ask {
    const struct round_act *did; /* [n_did] in order */
    size_t n_did;
    const bool *no_change; /* [n_changes] cannot be made; null for none */
    const bool *no_point;  /* [n_points] will not be done; null for none */
    int at;                /* place where one stands */
    struct round_options options;
};

struct round_rest {
    struct round_condition now;
    bool *may_change;        /* [n_changes] can be made in the present condition, safely */
    bool *may_point;         /* [n_points] likewise, and what it comes after is done */
    struct round_left *left; /* [n_left] */
    size_t n_left;
    bool home;              /* the finish can be reached; else the plan ends where the last point leaves it */
    struct round_plan plan; /* indices are those of the problem; empty when `note` is set */
    struct str note;        /* why there is no plan: the search found none in its limits; empty otherwise */
};

/* The rest of the round `p` (whose `start` is that of its beginning; `done` and `start_place` are not looked at).
 * Everything in `out`'s arena. What was done is taken as it is told, for it has happened.
 * Errors: ERR_INPUT an index out of range, a problem that is wrong, or a present condition that is itself forbidden;
 * ERR_CONFLICT, ERR_DOMAIN as for round_solve. Tested: tests/core/round_rest_test.c. */
bool round_rest(const struct round_problem *p, const struct round_rest_ask *ask, struct arena *a,
                struct round_rest *out, struct err *e);

#endif
