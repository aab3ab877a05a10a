/* Private to this folder: the sequential ordering problem as its solver sees it. */
#ifndef WITMARK_ROUND_SOP_INTERNAL_H
#define WITMARK_ROUND_SOP_INTERNAL_H

#include "round/bits_internal.h"
#include "round/sop.h"

#define SOP_FAR (INT32_MAX / 4)  /* cost of an impossible step inside the search */
#define SOP_NONE (INT64_MAX / 4) /* no order known */

/* The problem with rules closed and useless steps taken out. */
struct sop_work {
    const struct sop *p;
    struct arena *a;
    const struct sop_options *o;
    int n;
    int32_t *usable;     /* [n * n] SOP_FAR where the step can be part of no order */
    int32_t *cost;       /* [n * n] SOP_FAR also where it can be part of no better order than the best */
    struct bits *before; /* [n] closed */
    struct bits *behind; /* [n] closed */
    struct bits *twin;   /* [n] nodes that, once allowed, may follow at no cost at once (see sop_order.c) */
    int *best;           /* [n] the best order known */
    int64_t best_cost;   /* SOP_NONE when none */
    int64_t lower;       /* proven lower bound */
    int64_t kicks, states;
    int64_t ops; /* elementary steps of all methods, to share the work out */
    bool stopped;
};

/* Closes the rules and fills everything but the best order. */
bool work_build(const struct sop *p, const struct sop_options *o, struct arena *a, struct sop_work *w, struct err *e);
/* Counts work; false when go_on says no. */
bool work_go_on(struct sop_work *w, int64_t ops);
/* Keeps an order that is better than the best. True when it is. */
bool work_take(struct sop_work *w, const int *order, int64_t cost);

/* Local search (sop_search.c), kicked by segments of at most `longest` nodes: until `ops` steps are spent, the bound is
 * met or go_on says no. Makes a first order when there is none. */
struct sop_search;
struct sop_search *search_new(struct sop_work *w);
void search_run(struct sop_search *s, int longest, int64_t ops);
/* Takes as near what costs least too much: slack as tree_slack gives it; null = by cost. */
void search_lists(struct sop_search *s, const int32_t *slack);

/* Bound (sop_tree.c): cheapest arborescences with prices on leaving a node. */
struct sop_tree;
struct sop_tree *tree_new(struct sop_work *w);
/* Improves the prices for `steps` steps, raises w->lower, and takes out steps that no better order uses. */
void tree_improve(struct sop_tree *t, int steps);
/* [n * n] row b, column a: by how much the bound rises, sharpened, when an order goes from a to b. Of the last
 * improvement. */
const int32_t *tree_slack(const struct sop_tree *t);
/* A lower bound on what is to come at `last` with `done` behind; and for each open node the least if it is next.
 *   next   [n] out, bounds including the step from last; only nodes not done
 * SOP_NONE when there is no way on. */
int64_t tree_bound(struct sop_tree *t, const struct bits *done, int last, int64_t *next);

/* Exact search (sop_beam.c) with at most `width` states a layer. True when nothing was left out: then the best is
 * proven. */
bool beam_run(struct sop_work *w, struct sop_tree *t, int width);

#endif
