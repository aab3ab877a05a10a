/* Bucket elimination forward gives the probability of the evidence; a pass back through the same buckets gives every
 * node's posterior (the buckets are a junction tree). */
#include "trace/net.h"

#include "quantity/domain.h"

#include <math.h>
#include <string.h>

/* A table over some variables, in rising order; the last one's state runs fastest. */
struct factor {
    int *vars;
    int n;
    double *cell;
    size_t cells;
};

/* The cluster of one variable: everything that is multiplied before it is summed out. */
struct bucket {
    struct factor product;
    struct factor message; /* product with the variable summed out */
    int above;             /* variable whose bucket takes the message, -1 = none */
};

struct net {
    const struct net_node *nodes;
    int n;
    const int *evidence;
    struct arena *a;
    struct factor *factors; /* not multiplied yet */
    size_t n_factors, cap_factors;
    bool *gone; /* per variable: summed out, or observed */
    struct bucket *buckets;
    int *order;
    int n_order;
};

/* ---- the net itself ---- */

static bool check_tables(const struct net_node *node, size_t rows, struct err *e)
{
    for (size_t r = 0; r < rows; r++) {
        double sum = 0;
        for (int s = 0; s < node->states; s++) {
            double p = node->table[r * (size_t)node->states + (size_t)s];
            if (!domain_within("probability of a state", p, "", 0, 1, e)) {
                return false;
            }
            sum += p;
        }
        if (!(fabs(sum - 1) <= 1e-6)) {
            return domain_refuse("a row of a node's table does not sum to 1", "one distribution per row", e);
        }
    }
    return true;
}

/* Takes away nodes whose parents are all taken away until none is left. */
static bool check_circle(const struct net_node *nodes, int n, struct arena *a, struct err *e)
{
    bool *taken = ARENA_ARRAY(a, bool, n);
    for (int left = n; left > 0;) {
        int before = left;
        for (int i = 0; i < n; i++) {
            bool free = !taken[i];
            for (int k = 0; free && k < nodes[i].n_parents; k++) {
                free = taken[nodes[i].parents[k]];
            }
            taken[i] = taken[i] || free;
            left -= free ? 1 : 0;
        }
        if (left == before) {
            return domain_refuse("the net has a circle", "causes first, then what they cause", e);
        }
    }
    return true;
}

static bool check(const struct net_node *nodes, int n, const int *evidence, struct arena *a, struct err *e)
{
    if (!domain_within("nodes of the net", n, "", 1, NET_NODES, e)) {
        return false;
    }
    for (int i = 0; i < n; i++) {
        size_t rows = 1;
        if (!domain_within("states of a node", nodes[i].states, "", 1, NET_STATES, e) ||
            !domain_within("observed state", evidence[i], "", NET_UNKNOWN, nodes[i].states - 1, e)) {
            return false;
        }
        for (int k = 0; k < nodes[i].n_parents; k++) {
            int parent = nodes[i].parents[k];
            if (parent < 0 || parent >= n || parent == i) {
                return domain_refuse("a parent is no other node", "places of nodes of the net", e);
            }
            rows *= (size_t)nodes[parent].states;
            if (rows > NET_CELLS) {
                return domain_refuse("a node has too many combinations of parents", "at most 4194304", e);
            }
        }
        if (!check_tables(&nodes[i], rows, e)) {
            return false;
        }
    }
    return check_circle(nodes, n, a, e);
}

/* ---- tables ---- */

static int place_in(const struct factor *f, int var)
{
    for (int i = 0; i < f->n; i++) {
        if (f->vars[i] == var) {
            return i;
        }
    }
    return -1;
}

/* Distance in f's cells per step of each of the variables `vars`; 0 where f does not have it. */
static void strides_of(const struct net *net, const struct factor *f, const int *vars, int n, size_t *stride)
{
    for (int i = 0; i < n; i++) {
        int at = place_in(f, vars[i]);
        stride[i] = at < 0 ? 0 : 1;
        for (int k = at + 1; at >= 0 && k < f->n; k++) {
            stride[i] *= (size_t)net->nodes[f->vars[k]].states;
        }
    }
}

/* An empty table over n variables in rising order; cells 0 when it would be too large. */
static struct factor factor_new(const struct net *net, const int *vars, int n, double fill)
{
    struct factor f = {ARENA_ARRAY(net->a, int, n + 1), n, NULL, 1};
    for (int i = 0; i < n; i++) {
        f.vars[i] = vars[i];
        f.cells *= (size_t)net->nodes[vars[i]].states;
        if (f.cells > NET_CELLS) {
            f.cells = 0;
            return f;
        }
    }
    f.cell = ARENA_ARRAY(net->a, double, f.cells);
    for (size_t i = 0; i < f.cells; i++) {
        f.cell[i] = fill;
    }
    return f;
}

/* Next combination of the variables; at[k] is the place in a table with those strides. */
static void step_on(const struct net *net, const struct factor *f, int *state, size_t *place, const size_t *stride)
{
    for (int i = f->n - 1; i >= 0; i--) {
        *place += stride[i];
        if (++state[i] < net->nodes[f->vars[i]].states) {
            return;
        }
        *place -= stride[i] * (size_t)state[i];
        state[i] = 0;
    }
}

/* into *= by, whose variables are among those of into. */
static void multiply(const struct net *net, struct factor *into, const struct factor *by)
{
    size_t stride[NET_NODES];
    int state[NET_NODES] = {0};
    size_t place = 0;
    strides_of(net, by, into->vars, into->n, stride);
    for (size_t i = 0; i < into->cells; i++) {
        into->cell[i] *= by->cell[place];
        step_on(net, into, state, &place, stride);
    }
}

/* Sums `from` over what `onto` (all zeros) does not have. */
static void sum_onto(const struct net *net, const struct factor *from, struct factor *onto)
{
    size_t stride[NET_NODES];
    int state[NET_NODES] = {0};
    size_t place = 0;
    strides_of(net, onto, from->vars, from->n, stride);
    for (size_t i = 0; i < from->cells; i++) {
        onto->cell[place] += from->cell[i];
        step_on(net, from, state, &place, stride);
    }
}

static void sort_vars(int *vars, int n)
{
    for (int i = 1; i < n; i++) {
        int v = vars[i];
        int k = i;
        for (; k > 0 && vars[k - 1] > v; k--) {
            vars[k] = vars[k - 1];
        }
        vars[k] = v;
    }
}

/* A node's table over what was not observed of it and its parents. */
static struct factor node_factor(const struct net *net, int i)
{
    const struct net_node *node = &net->nodes[i];
    int vars[NET_NODES] = {0};
    int n = 0;
    size_t stride_of_var[NET_NODES];
    size_t base = 0;
    size_t stride = 1;
    for (int k = node->n_parents; k >= 0; k--) { /* the node itself runs fastest */
        int var = k == node->n_parents ? i : node->parents[k];
        if (net->evidence[var] == NET_UNKNOWN) {
            vars[n++] = var;
            stride_of_var[var] = stride;
        } else {
            base += stride * (size_t)net->evidence[var];
        }
        stride *= (size_t)net->nodes[var].states;
    }
    sort_vars(vars, n);
    struct factor f = factor_new(net, vars, n, 0);
    size_t strides[NET_NODES];
    int state[NET_NODES] = {0};
    size_t place = base;
    for (int k = 0; k < n; k++) {
        strides[k] = stride_of_var[vars[k]];
    }
    for (size_t c = 0; c < f.cells; c++) {
        f.cell[c] = node->table[place];
        step_on(net, &f, state, &place, strides);
    }
    return f;
}

/* ---- elimination ---- */

/* Variables of all waiting tables that have `var`, in rising order; returns the cells that their product would have. */
static double cluster_of(const struct net *net, int var, int *vars, int *n)
{
    bool in[NET_NODES] = {false};
    double cells = 1;
    *n = 0;
    for (size_t f = 0; f < net->n_factors; f++) {
        if (place_in(&net->factors[f], var) < 0) {
            continue;
        }
        for (int k = 0; k < net->factors[f].n; k++) {
            in[net->factors[f].vars[k]] = true;
        }
    }
    for (int i = 0; i < net->n; i++) {
        if (in[i]) {
            vars[(*n)++] = i;
            cells *= net->nodes[i].states;
        }
    }
    return cells;
}

/* The variable whose product is smallest; -1 when none is left. */
static int cheapest(const struct net *net)
{
    int vars[NET_NODES];
    int n = 0;
    int best = -1;
    double least = INFINITY;
    for (int i = 0; i < net->n; i++) {
        double cells = net->gone[i] ? (double)INFINITY : cluster_of(net, i, vars, &n);
        if (cells < least) {
            least = cells;
            best = i;
        }
    }
    return best;
}

/* Multiplies everything that has `var` and sums it out. */
static bool eliminate(struct net *net, int var, struct err *e)
{
    int vars[NET_NODES];
    int n = 0;
    struct bucket *b = &net->buckets[var];
    (void)cluster_of(net, var, vars, &n);
    b->product = factor_new(net, vars, n, 1);
    if (b->product.cells == 0) {
        return domain_refuse("the net is too entangled", "fewer parents that share children", e);
    }
    size_t kept = 0;
    for (size_t f = 0; f < net->n_factors; f++) {
        if (place_in(&net->factors[f], var) < 0) {
            net->factors[kept++] = net->factors[f];
        } else {
            multiply(net, &b->product, &net->factors[f]);
        }
    }
    net->n_factors = kept;
    int rest = 0;
    for (int i = 0; i < n; i++) {
        if (vars[i] != var) {
            vars[rest++] = vars[i];
        }
    }
    b->message = factor_new(net, vars, rest, 0);
    sum_onto(net, &b->product, &b->message);
    ARENA_PUSH(net->a, net->factors, net->n_factors, net->cap_factors) = b->message;
    net->gone[var] = true;
    net->order[net->n_order++] = var;
    return true;
}

/* The bucket that took a bucket's message is that of the first variable of the message to be eliminated later. */
static void link_buckets(struct net *net)
{
    for (int i = 0; i < net->n_order; i++) {
        struct bucket *b = &net->buckets[net->order[i]];
        b->above = -1;
        for (int k = i + 1; k < net->n_order && b->above < 0; k++) {
            b->above = place_in(&b->message, net->order[k]) >= 0 ? net->order[k] : -1;
        }
    }
}

/* From the last bucket to the first: what the bucket above knows beyond this one's own message is multiplied in. */
static void back(struct net *net, double **posterior)
{
    for (int i = net->n_order - 1; i >= 0; i--) {
        int var = net->order[i];
        struct bucket *b = &net->buckets[var];
        if (b->above >= 0) {
            struct factor known = factor_new(net, b->message.vars, b->message.n, 0);
            sum_onto(net, &net->buckets[b->above].product, &known);
            for (size_t c = 0; c < known.cells; c++) {
                known.cell[c] = b->message.cell[c] > 0 ? known.cell[c] / b->message.cell[c] : 0;
            }
            multiply(net, &b->product, &known);
        }
        struct factor alone = factor_new(net, &var, 1, 0);
        sum_onto(net, &b->product, &alone);
        double sum = 0;
        for (size_t c = 0; c < alone.cells; c++) {
            sum += alone.cell[c];
        }
        for (size_t c = 0; c < alone.cells; c++) {
            posterior[var][c] = alone.cell[c] / sum;
        }
    }
}

bool net_posterior(const struct net_node *nodes, int n, const int *evidence, struct arena *a, double *p_evidence,
                   double **posterior, struct err *e)
{
    struct net net = {.nodes = nodes, .n = n, .evidence = evidence, .a = a};
    if (!check(nodes, n, evidence, a, e)) {
        return false;
    }
    net.gone = ARENA_ARRAY(a, bool, n);
    net.buckets = ARENA_ARRAY(a, struct bucket, n);
    net.order = ARENA_ARRAY(a, int, n);
    for (int i = 0; i < n; i++) {
        net.gone[i] = evidence[i] != NET_UNKNOWN;
        posterior[i] = ARENA_ARRAY(a, double, nodes[i].states);
        if (net.gone[i]) {
            posterior[i][evidence[i]] = 1;
        }
        ARENA_PUSH(a, net.factors, net.n_factors, net.cap_factors) = node_factor(&net, i);
    }
    for (int var = cheapest(&net); var >= 0; var = cheapest(&net)) {
        if (!eliminate(&net, var, e)) {
            return false;
        }
    }
    double p = 1;
    for (size_t f = 0; f < net.n_factors; f++) { /* all variables are gone: numbers */
        p *= net.factors[f].cell[0];
    }
    if (!(p > 1e-300)) {
        return domain_refuse("what was observed cannot be, as the net has it", "observations that the net allows", e);
    }
    *p_evidence = p;
    link_buckets(&net);
    back(&net, posterior);
    return true;
}
