/* The order of repairs that costs least in expectation, where repairs are all there is. */
#ifndef WITMARK_TRACE_CAUSES_H
#define WITMARK_TRACE_CAUSES_H

#include "base/arena.h"
#include "base/err.h"

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
