/* Topic of causes and repairs. */
#include "cases.h"

#include "trace/causes.h"
#include "trace/net.h"

#include <math.h>
#include <string.h>

/* ---- nets ---- */

#define NODES_MOST 64

struct net {
    int n;
    const char *names[NODES_MOST];
    struct net_node nodes[NODES_MOST];
};

static int place_of(const struct net *net, const char *name)
{
    for (int i = 0; name && i < net->n; i++) {
        if (strcmp(net->names[i], name) == 0) {
            return i;
        }
    }
    return -1;
}

/* [["yes", "no"], 0.94]: the row that the states name; state 1 is yes, the last parent's runs fastest. */
static bool read_row(const json_t *row, int n_parents, double *table)
{
    const json_t *states = json_array_get(row, 0);
    size_t at = 0;
    double yes = json_number_value(json_array_get(row, 1));
    if ((int)json_array_size(states) != n_parents || !json_is_number(json_array_get(row, 1))) {
        return false;
    }
    for (int k = 0; k < n_parents; k++) {
        const char *state = json_string_value(json_array_get(states, (size_t)k));
        at = 2 * at + (state && strcmp(state, "yes") == 0 ? 1U : 0U);
    }
    table[2 * at] = 1 - yes;
    table[2 * at + 1] = yes;
    return true;
}

/* First the names, then each node's parents and table. */
static bool read_net(const struct case_in *in, struct net *net, struct err *e)
{
    const json_t *list = json_object_get(in->inputs, "network");
    size_t n = json_array_size(list);
    net->n = 0;
    if (n == 0 || n > NODES_MOST) {
        return err_set(e, ERR_DOMAIN, "1 .. 64 nodes", "too many nodes or none", (char *)0);
    }
    for (size_t i = 0; i < n; i++) {
        net->names[net->n++] = json_string_value(json_object_get(json_array_get(list, i), "node"));
    }
    for (size_t i = 0; i < n; i++) {
        const json_t *node = json_array_get(list, i);
        const json_t *parents = json_object_get(node, "parents");
        const json_t *rows = json_object_get(node, "p_yes");
        int count = (int)json_array_size(parents);
        int *places = ARENA_ARRAY(in->a, int, count + 1);
        double *table = ARENA_ARRAY(in->a, double, (size_t)2 << count);
        bool ready = net->names[i] && json_array_size(rows) == (size_t)1 << count;
        for (int k = 0; k < count; k++) {
            places[k] = place_of(net, json_string_value(json_array_get(parents, (size_t)k)));
        }
        for (size_t k = 0; k < json_array_size(rows) && ready; k++) {
            ready = read_row(json_array_get(rows, k), count, table);
        }
        if (!ready) {
            return err_set(e, ERR_INPUT, "every combination of the parents once", "the net has a hole", (char *)0);
        }
        net->nodes[i] = (struct net_node){2, places, count, table};
    }
    return true;
}

static bool queries(const struct case_in *in, json_t *got, struct err *e)
{
    struct net net;
    const json_t *sets = json_object_get(in->inputs, "evidence_sets");
    json_t *answers = json_array();
    json_object_set_new(got, "queries", answers);
    if (!read_net(in, &net, e)) {
        return false;
    }
    for (size_t i = 0; i < json_array_size(sets); i++) {
        int evidence[NODES_MOST];
        double *posterior[NODES_MOST];
        double p = 0;
        const char *key = NULL;
        json_t *value = NULL;
        for (int k = 0; k < net.n; k++) {
            evidence[k] = NET_UNKNOWN;
        }
        json_object_foreach(json_array_get(sets, i), key, value)
        {
            int place = place_of(&net, key);
            if (place < 0 || !json_is_string(value)) {
                return err_set(e, ERR_INPUT, "a node of the net", "evidence on no node: ", key, (char *)0);
            }
            evidence[place] = strcmp(json_string_value(value), "yes") == 0;
        }
        if (!net_posterior(net.nodes, net.n, evidence, in->a, &p, posterior, e)) {
            return false;
        }
        json_t *answer = json_object();
        json_t *yes = json_object();
        json_array_append_new(answers, answer);
        json_object_set(answer, "evidence", json_array_get(sets, i));
        case_set_number(answer, "p_evidence", p);
        json_object_set_new(answer, "p_yes", yes);
        for (int k = 0; k < net.n; k++) {
            case_set_number(yes, net.names[k], posterior[k][1]);
        }
    }
    return true;
}

/* ---- orders of repairs ---- */

#define ACTIONS_MOST 7

struct orders {
    const char *names[ACTIONS_MOST];
    struct repair_action actions[ACTIONS_MOST];
    size_t n;
};

static json_t *names_of(const struct orders *o, const size_t *order)
{
    json_t *list = json_array();
    for (size_t i = 0; i < o->n; i++) {
        json_array_append_new(list, json_string(o->names[order[i]]));
    }
    return list;
}

/* The next arrangement by rising places; false after the last. */
static bool next_order(size_t *order, size_t n)
{
    size_t i = n;
    while (i > 1 && order[i - 2] >= order[i - 1]) {
        i--;
    }
    if (i < 2) {
        return false;
    }
    size_t pivot = i - 2;
    size_t k = n - 1;
    while (order[k] <= order[pivot]) {
        k--;
    }
    size_t swap = order[pivot];
    order[pivot] = order[k];
    order[k] = swap;
    for (size_t a = pivot + 1, b = n - 1; a < b; a++, b--) {
        swap = order[a];
        order[a] = order[b];
        order[b] = swap;
    }
    return true;
}

/* Every arrangement with its cost; the least and the largest come from all of them, the greedy order from the product's
 * own function. */
static bool arrangements(const struct orders *o, double penalty, json_t *got, struct err *e)
{
    size_t order[ACTIONS_MOST];
    size_t best[ACTIONS_MOST];
    double least = 0;
    double largest = 0;
    json_t *all = json_array();
    json_t *ties = json_array();
    json_object_set_new(got, "all_orderings", all);
    json_object_set_new(got, "best_orderings", ties);
    if (!repair_order_best(o->actions, o->n, best, e) ||
        !repair_order_cost(o->actions, best, o->n, penalty, &least, e)) {
        return false;
    }
    for (size_t i = 0; i < o->n; i++) {
        order[i] = i;
    }
    do {
        double cost = 0;
        if (!repair_order_cost(o->actions, order, o->n, penalty, &cost, e)) {
            return false;
        }
        json_t *row = json_array();
        json_array_append_new(row, names_of(o, order));
        json_array_append_new(row, json_real(cost));
        json_array_append_new(all, row);
        largest = fmax(largest, cost);
        if (cost <= least * (1 + 1e-12)) {
            json_array_append_new(ties, names_of(o, order));
        }
    } while (next_order(order, o->n));
    case_set_number(got, "best_cost", least);
    case_set_number(got, "worst_cost", largest);
    json_object_set_new(got, "greedy_p_over_c_order", names_of(o, best));
    return true;
}

static bool repairs(const struct case_in *in, json_t *got, struct err *e)
{
    struct orders o = {.n = 0};
    const json_t *list = json_object_get(in->inputs, "actions");
    json_t *efficiency = json_array();
    json_object_set_new(got, "efficiency", efficiency);
    double penalty = 0;
    if (json_array_size(list) == 0 || json_array_size(list) > ACTIONS_MOST) {
        return err_set(e, ERR_DOMAIN, "1 .. 7 actions, all orders are listed", "too many actions or none", (char *)0);
    }
    if (case_has(in, "penalty_if_unsolved") && !case_number(in, "penalty_if_unsolved", &penalty, e)) {
        return false;
    }
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *row = json_array_get(list, i);
        const char *name = json_string_value(json_array_get(row, 0));
        double p = json_number_value(json_array_get(row, 1));
        double cost = json_number_value(json_array_get(row, 2));
        o.names[i] = name ? name : "";
        o.actions[i] = (struct repair_action){p, cost};
        json_t *ratio = json_array();
        json_array_append_new(ratio, json_string(o.names[i]));
        json_array_append_new(ratio, json_real(cost > 0 ? p / cost : 0));
        json_array_append_new(efficiency, ratio);
    }
    o.n = json_array_size(list);
    return arrangements(&o, penalty, got, e);
}

bool case_trace(const struct case_in *in, json_t *got, struct err *e)
{
    return case_has(in, "network") ? queries(in, got, e) : repairs(in, got, e);
}
