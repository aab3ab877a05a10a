/* Summing over all combinations, and sorting by probability over cost. */
#include "trace/causes.h"

#include "quantity/domain.h"

#include <math.h>

static bool check_nodes(const struct cause_node *nodes, int n, struct err *e)
{
    if (!domain_within("nodes of the net", n, "", 1, CAUSE_NODES, e)) {
        return false;
    }
    for (int i = 0; i < n; i++) {
        if (!domain_within("parents of a node", nodes[i].n_parents, "", 0, CAUSE_PARENTS, e)) {
            return false;
        }
        for (int k = 0; k < nodes[i].n_parents; k++) {
            if (nodes[i].parents[k] < 0 || nodes[i].parents[k] >= i) {
                return domain_refuse("a node stands before one of its parents", "causes first, then what they cause",
                                     e);
            }
        }
        for (int k = 0; k < 1 << nodes[i].n_parents; k++) {
            if (!domain_within("probability of yes", nodes[i].p_yes[k], "", 0, 1, e)) {
                return false;
            }
        }
    }
    return true;
}

/* Probability of one combination, bit i set = node i says yes. */
static double joint(const struct cause_node *nodes, int n, unsigned states)
{
    double product = 1;
    for (int i = 0; i < n && product > 0; i++) {
        unsigned row = 0;
        for (int k = 0; k < nodes[i].n_parents; k++) {
            row |= (states >> nodes[i].parents[k] & 1U) << k;
        }
        double yes = nodes[i].p_yes[row];
        product *= states >> i & 1U ? yes : 1 - yes;
    }
    return product;
}

bool cause_posterior(const struct cause_node *nodes, int n, const enum cause_state *evidence, double *p_evidence,
                     double *posterior, struct err *e)
{
    double sums[CAUSE_NODES] = {0};
    double total = 0;
    unsigned known = 0;
    unsigned wanted = 0;
    if (!check_nodes(nodes, n, e)) {
        return false;
    }
    for (int i = 0; i < n; i++) {
        known |= (evidence[i] != CAUSE_UNKNOWN ? 1U : 0U) << i;
        wanted |= (evidence[i] == CAUSE_YES ? 1U : 0U) << i;
    }
    for (unsigned states = 0; states < 1U << n; states++) {
        if ((states & known) != wanted) {
            continue;
        }
        double p = joint(nodes, n, states);
        total += p;
        for (int i = 0; i < n; i++) {
            sums[i] += states >> i & 1U ? p : 0;
        }
    }
    if (!(total > 0)) {
        return domain_refuse("what was observed cannot be, as the net has it", "observations that the net allows", e);
    }
    *p_evidence = total;
    for (int i = 0; i < n; i++) {
        posterior[i] = sums[i] / total;
    }
    return true;
}

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
