/* What the files of the round share: what is asked for, and the ordering problem that it becomes. */
#ifndef WITMARK_DESK_ROUND_POINTS_INTERNAL_H
#define WITMARK_DESK_ROUND_POINTS_INTERNAL_H

#include "due_internal.h"

#include "round/round.h"

/* What a point stands for. */
struct point_of {
    int checkpoint; /* or BOOK_NONE */
    int task, from, to;
    const struct desk_due *due;
    struct str why;
};

struct building {
    struct desk *d;
    struct arena *a;
    const struct machine_state *s;
    const struct book *b;
    struct round_problem p;
    struct round_variable *variables;
    int *item_variable; /* [n_open_items] its variable in the problem, or -1 */
    size_t n_variables;
    struct round_point *points;
    struct point_of *of;
    size_t n, cap, cap_of;
    struct round_partial *nevers;
    size_t n_nevers, cap_nevers;
    struct desk_round_left *left;
    size_t n_left, cap_left;
};

/* A thing that was asked for, most urgent first. */
struct wanted {
    int checkpoint, task;
    const struct desk_due *due;
    struct str why;
};
struct wanted_list {
    struct wanted *at;
    size_t n, cap;
};

/* The scope's words as a list of checks and tasks, most urgent first, and the title of the round. Errors: ERR_MISSING a
 * word that is neither scope, service, checkpoint nor task, with the nearest. */
bool round_want_scope(struct arena *a, struct wanted_list *w, const struct desk_today_list *list, const struct book *b,
                      const struct desk_round_ask *ask, struct text *title, struct err *e);
/* The first n things asked for as points of the ordering problem g->p. g has d, a, s and b set. Errors: ERR_REFUSED a
 * need that its place forbids; ERR_DOMAIN too many things open at once. */
bool round_build(struct building *g, const struct wanted *wanted, size_t n, struct err *e);
/* desk_round, with the ordering problem and the plan that it came from; what they hold lives in `a`. */
bool round_ordered(struct desk *d, const struct desk_round_ask *ask, struct arena *a, struct desk_round *out,
                   struct round_plan *plan, struct building *g, struct err *e);

#endif
