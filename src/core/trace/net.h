/* Exact inference in a discrete Bayesian network: nodes of any number of states, any shape without a circle. */
#ifndef WITMARK_TRACE_NET_H
#define WITMARK_TRACE_NET_H

#include "base/arena.h"
#include "base/err.h"

#define NET_NODES 1024              /* of a net */
#define NET_STATES 64               /* of a node */
#define NET_CELLS ((size_t)1 << 22) /* of the largest table that the way of elimination makes */
#define NET_UNKNOWN (-1)            /* evidence: nothing observed of that node */

/* One node. table [product of the parents' states][states]: the last parent's state runs fastest, then the node's own;
 * each row sums to 1. Parents may stand before or after their child. */
struct net_node {
    int states;
    const int *parents;
    int n_parents;
    const double *table;
};

/* Probability of the evidence, and of every state of every node given it.
 *   evidence    [n] a state, or NET_UNKNOWN
 *   posterior   [n] out: array of that node's states, in `a`
 * Errors: ERR_DOMAIN: too many nodes or states, a circle, a row that is no distribution (tolerance 1e-6), evidence that
 * cannot be or is less likely than 1e-300, a net so entangled that a table of more than NET_CELLS would be needed.
 * Cost: the sum of the tables' cells, by a greedy order of least growth. Source: Dechter (1999), Bucket elimination,
 * Artificial Intelligence 113, 41-85; the way back as Jensen, Lauritzen and Olesen (1990). Checked: against summing
 * over all combinations on random nets, and the published cases of checks/reliability. */
bool net_posterior(const struct net_node *nodes, int n, const int *evidence, struct arena *a, double *p_evidence,
                   double **posterior, struct err *e);

#endif
