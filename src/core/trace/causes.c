/* Sorting by probability over cost. */
#include "trace/causes.h"

#include "quantity/domain.h"

#include <math.h>

static bool check_actions(const struct repair_action *actions, size_t n, double *sum, struct err *e)
{
    *sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (!domain_within("probability that a repair cures", actions[i].probability, "", 0, 1, e) ||
            !domain_above("cost of a repair", actions[i].cost, "", 0, e) ||
            !domain_within("cost of a repair", actions[i].cost, "", 0, 1e15, e)) {
            return false;
        }
        *sum += actions[i].probability;
    }
    return domain_within("sum of the probabilities (one fault)", *sum, "", 0, 1 + 1e-9, e);
}

bool repair_order_cost(const struct repair_action *actions, const size_t *order, size_t n, double penalty, double *cost,
                       struct err *e)
{
    double sum = 0;
    if (!check_actions(actions, n, &sum, e) || !domain_within("penalty", penalty, "", 0, 1e15, e)) {
        return false;
    }
    double found = fmax(0, 1 - sum) * penalty;
    double cured = 0;
    for (size_t i = 0; i < n; i++) {
        found += actions[order[i]].cost * (1 - cured);
        cured += actions[order[i]].probability;
    }
    *cost = found;
    return true;
}

bool repair_order_best(const struct repair_action *actions, size_t n, size_t *order, struct err *e)
{
    double sum = 0;
    if (!check_actions(actions, n, &sum, e)) {
        return false;
    }
    /* Inserted one by one behind all that are at least as good: few actions, and equal ones keep their order. Compared
     * crosswise, without dividing. */
    for (size_t i = 0; i < n; i++) {
        size_t at = i;
        while (at > 0 && actions[i].probability * actions[order[at - 1]].cost >
                             actions[order[at - 1]].probability * actions[i].cost * (1 + 1e-12)) {
            order[at] = order[at - 1];
            at--;
        }
        order[at] = i;
    }
    return true;
}
