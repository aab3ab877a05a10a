/* Sequential ordering: the shortest order of all nodes, first node first, last node last, when going from a to b costs
 * differently than from b to a and some nodes must come before others. (A travelling salesman's path with precedence.)
 *
 * Published instances are read by sop_read and solved by sop_solve. The round of a machine with alternatives is richer
 * and has its own solver (round.h).
 */
#ifndef WITMARK_SOP_H
#define WITMARK_SOP_H

#include "base/err.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

#define SOP_MOST 256            /* nodes */
#define SOP_NEVER (-1)          /* as a cost: this step is not possible */
#define SOP_MOST_COST 100000000 /* the largest cost of a step */

/* A problem. Node 0 is first, node n - 1 last. */
struct sop {
    size_t n;      /* 2..SOP_MOST */
    int32_t *cost; /* [n * n] row a, column b: cost of b directly after a, 0..SOP_MOST_COST, or SOP_NEVER */
    bool *before;  /* [n * n] row a, column b: a must come somewhere before b; need not be closed */
};

/* A problem of n nodes, every cost 0, no rules but that 0 is first and n - 1 last. */
struct sop sop_new(struct arena *a, size_t n);

/* Reads the text of an instance: TSPLIB 95 of TYPE SOP with a full matrix (the dimension repeated in front of it or
 * not), or the bare matrix, a row a line, separated by blanks or tabs. A cost of -1 in row b, column a says that a
 * comes before b. name      for messages Errors: ERR_INPUT with line and column: unknown or contradicting header, not a
 * whole number, too few or too many numbers, a negative cost other than -1, more than SOP_MOST nodes. Rules that form a
 * ring are found by sop_solve. Source: Reinelt, TSPLIB 95 (1995), sections 1 and 2; SOPLIB 2006 for the bare form. */
bool sop_read(struct str name, struct str text, struct arena *a, struct sop *p, struct err *e);

/* How hard to try. Zeroed: until proven or the default limits of work, always the same result. */
struct sop_options {
    bool (*go_on)(void *ctx); /* asked every few milliseconds; false = hand out the best so far. May be null */
    void *ctx;
    uint64_t seed;       /* of the local search's kicks; 0 = a fixed one */
    int64_t most_states; /* states looked at in the exact search, all passes; 0 = 400 000 */
    int most_width;      /* widest pass; 0 = 50 000 */
};

struct sop_result {
    size_t *order; /* [n] */
    int64_t cost;
    int64_t lower_bound; /* no order costs less */
    bool proven;         /* cost == lower_bound */

    int64_t kicks, states; /* work done */
};

/* The cheapest order found within the limits, and a lower bound on all orders.
 *   result    out; order in `out`
 * Errors: ERR_INPUT a size or cost out of range; ERR_CONFLICT rules form a ring (names the nodes, from 0); ERR_REFUSED
 * no order uses only possible steps, ERR_BUSY none was found within the limits. Cost: memory about 30 MB at the default
 * width. Methods: sop_search.c, sop_tree.c, sop_beam.c. Tested: tests/core/sop_test.c: full enumeration, published
 * instances with known optima. */
bool sop_solve(const struct sop *p, const struct sop_options *options, struct arena *out, struct sop_result *result,
               struct err *e);

/* Adds the cost of an order up; false when it misses a node, breaks a rule or uses an impossible step. */
bool sop_check(const struct sop *p, const size_t *order, int64_t *cost);

#endif
