/* From symptoms to causes: exact inference in a small net of yes-or-no nodes, and the order of repairs that costs least
 * in expectation. */
#ifndef WITMARK_TRACE_CAUSES_H
#define WITMARK_TRACE_CAUSES_H

#include "base/arena.h"
#include "base/err.h"

#define CAUSE_NODES 20   /* of a net: every combination is summed */
#define CAUSE_PARENTS 10 /* of a node */

/* A node after its parents. p_yes [2^n_parents]: probability of yes for each combination of the parents' states, bit k
 * set = parent k says yes. */
struct cause_node {
    const int *parents; /* places of earlier nodes */
    int n_parents;
    const double *p_yes;
};
enum cause_state { CAUSE_UNKNOWN, CAUSE_YES, CAUSE_NO };

/* Probability of the evidence, and of yes for each node given it.
 *   evidence, posterior  [n]
 * Errors: ERR_DOMAIN: too many nodes or parents, a parent that is no earlier node, a probability outside 0 .. 1,
 * evidence that cannot be. Cost: 2^n. Source: Pearl (1988), Probabilistic Reasoning in Intelligent Systems. */
bool cause_posterior(const struct cause_node *nodes, int n, const enum cause_state *evidence, double *p_evidence,
                     double *posterior, struct err *e);

/* One repair: the chance that it cures, and what it costs. One fault, perfect repairs, costs that do not depend on the
 * order. */
struct repair_action {
    double probability, cost; /* cost > 0 */
};
/* Expected cost of doing them in `order` [n] until one cures: each cost times the chance that it is reached, the last
 * included, and the penalty for what none of them cures. Errors: ERR_DOMAIN: chances that add up to more than 1. */
bool repair_order_cost(const struct repair_action *actions, const size_t *order, size_t n, double penalty, double *cost,
                       struct err *e);
/* The order of least expected cost: by falling probability over cost; equal ones keep their order. Source: Kadane and
 * Simon (1977); Heckerman, Breese and Rommelse (1995), Communications of the ACM 38(3), 49-57. */
bool repair_order_best(const struct repair_action *actions, size_t n, size_t *order, struct err *e);

#endif
