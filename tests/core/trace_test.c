/* Tracing: the net against summing over everything, the plan against every strategy listed one by one. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "trace/causes.h"
#include "trace/net.h"
#include "trace/trace.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static uint64_t seed_of(uint64_t otherwise)
{
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : otherwise;
    printf("# seed %llu (WITMARK_SEED)\n", (unsigned long long)seed);
    return seed ? seed : 1;
}

/* (0, 1), xorshift of Marsaglia (2003). */
static double uniform(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return ((double)(*x >> 11) + 0.5) / 9007199254740992.0;
}
static int below(uint64_t *x, int n)
{
    return (int)(uniform(x) * n);
}

/* ---- nets ---- */

#define NODES 7

/* A node with some earlier parents and random rows; now and then a row with certainties. */
static struct net_node random_node(uint64_t *x, struct arena *a, const struct net_node *nodes, int i)
{
    int *parents = ARENA_ARRAY(a, int, 4);
    int n = 0;
    size_t rows = 1;
    for (int k = 0; k < i && n < 3; k++) {
        if (uniform(x) < 0.4) {
            parents[n++] = k;
            rows *= (size_t)nodes[k].states;
        }
    }
    int states = 1 + below(x, 4);
    double *table = ARENA_ARRAY(a, double, rows *(size_t)states);
    for (size_t r = 0; r < rows; r++) {
        double sum = 0;
        for (int s = 0; s < states; s++) {
            double w = uniform(x) < 0.1 ? 0 : uniform(x);
            w = s + 1 == states && sum == 0 ? 1 : w;
            table[r * (size_t)states + (size_t)s] = w;
            sum += w;
        }
        for (int s = 0; s < states; s++) {
            table[r * (size_t)states + (size_t)s] /= sum;
        }
    }
    return (struct net_node){states, parents, n, table};
}

/* Probability of one combination. */
static double joint(const struct net_node *nodes, int n, const int *state)
{
    double p = 1;
    for (int i = 0; i < n; i++) {
        size_t row = 0;
        for (int k = 0; k < nodes[i].n_parents; k++) {
            row = row * (size_t)nodes[nodes[i].parents[k]].states + (size_t)state[nodes[i].parents[k]];
        }
        p *= nodes[i].table[row * (size_t)nodes[i].states + (size_t)state[i]];
    }
    return p;
}

static void compare_net(const struct net_node *nodes, int n, const int *evidence, struct arena *a, int round)
{
    double direct[NODES][4] = {{0}};
    int state[NODES] = {0};
    double total = 0;
    for (bool more = true; more;) {
        double p = joint(nodes, n, state);
        for (int i = 0; i < n; i++) {
            p = evidence[i] == NET_UNKNOWN || evidence[i] == state[i] ? p : 0;
        }
        total += p;
        for (int i = 0; i < n; i++) {
            direct[i][state[i]] += p;
        }
        more = false;
        for (int i = 0; i < n && !more; i++) {
            more = ++state[i] < nodes[i].states;
            state[i] = more ? state[i] : 0;
        }
    }
    double *posterior[NODES];
    double p_evidence = 0;
    struct err e = err_new(a);
    bool ok = net_posterior(nodes, n, evidence, a, &p_evidence, posterior, &e);
    if (ok != (total > 1e-300)) {
        fail_msg("round %d: evidence of probability %g, answered %d", round, total, ok);
    }
    for (int i = 0; i < n && ok; i++) {
        for (int s = 0; s < nodes[i].states; s++) {
            if (!(fabs(posterior[i][s] - direct[i][s] / total) < 1e-12) || !(fabs(p_evidence - total) < 1e-12)) {
                fail_msg("round %d, node %d state %d: %.15g, summed %.15g", round, i, s, posterior[i][s],
                         direct[i][s] / total);
            }
        }
    }
}

static void nets_are_the_sum_over_everything(void **state)
{
    (void)state;
    uint64_t x = seed_of(20270101);
    struct arena a = arena_new(&arena_libc);
    for (int round = 0; round < 1500; round++) {
        struct arena_mark mark = arena_mark(&a);
        struct net_node nodes[NODES];
        int evidence[NODES];
        int n = 1 + below(&x, NODES);
        for (int i = 0; i < n; i++) {
            nodes[i] = random_node(&x, &a, nodes, i);
            evidence[i] = uniform(&x) < 0.3 ? below(&x, nodes[i].states) : NET_UNKNOWN;
        }
        compare_net(nodes, n, evidence, &a, round);
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

/* Sixty nodes of four states in a chain, each with an observed child: the forward recursion of a hidden Markov model
 * (Rabiner 1989, Proceedings of the IEEE 77, 257-286, equations 19 to 21) gives the same probability. */
static void a_long_chain_is_the_forward_recursion(void **state)
{
    (void)state;
    enum { LONG = 60, K = 4 };
    uint64_t x = seed_of(20270102);
    struct arena a = arena_new(&arena_libc);
    struct net_node nodes[2 * LONG];
    int evidence[2 * LONG];
    int parents[2 * LONG];
    double forward[K] = {0};
    double p = 0;
    for (int i = 0; i < LONG; i++) {
        for (int part = 0; part < 2; part++) { /* the hidden node, then what is seen of it */
            int at = part ? LONG + i : i;
            int rows = part || i ? K : 1;
            double *table = ARENA_ARRAY(&a, double, rows *K);
            for (int r = 0; r < rows; r++) {
                double sum = 0;
                for (int s = 0; s < K; s++) {
                    sum += table[r * K + s] = uniform(&x);
                }
                for (int s = 0; s < K; s++) {
                    table[r * K + s] /= sum;
                }
            }
            parents[at] = part ? i : i - 1;
            nodes[at] = (struct net_node){K, &parents[at], part || i ? 1 : 0, table};
            evidence[at] = part ? below(&x, K) : NET_UNKNOWN;
        }
        double next[K];
        for (int s = 0; s < K; s++) {
            next[s] = i ? 0 : nodes[0].table[s];
            for (int r = 0; i && r < K; r++) {
                next[s] += forward[r] * nodes[i].table[r * K + s];
            }
            next[s] *= nodes[LONG + i].table[s * K + evidence[LONG + i]];
        }
        p = 0;
        for (int s = 0; s < K; s++) {
            p += forward[s] = next[s];
        }
    }
    double *posterior[2 * LONG];
    double found = 0;
    struct err e = err_new(&a);
    assert_true(net_posterior(nodes, 2 * LONG, evidence, &a, &found, posterior, &e));
    assert_true(fabs(found / p - 1) < 1e-10);
    for (int s = 0; s < K; s++) {
        assert_true(fabs(posterior[LONG - 1][s] - forward[s] / p) < 1e-10);
    }
    arena_free(&a);
}

static void wrong_nets_are_refused(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    static const int to_1[] = {1};
    static const int to_0[] = {0};
    static const double half[] = {0.5, 0.5, 0.5, 0.5};
    static const double wrong[] = {0.5, 0.6, 0.5, 0.5};
    const struct net_node circle[] = {{2, to_1, 1, half}, {2, to_0, 1, half}};
    const struct net_node row[] = {{2, NULL, 0, wrong}};
    const struct net_node far[] = {{2, to_1, 1, half}};
    const struct {
        const struct net_node *nodes;
        int n, evidence;
        const char *what;
    } rows[] = {{circle, 2, NET_UNKNOWN, "the net has a circle"},
                {row, 1, NET_UNKNOWN, "a row of a node's table does not sum to 1"},
                {far, 1, NET_UNKNOWN, "a parent is no other node"},
                {circle, 1, 2, "observed state is 2; within -1 .. 1"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        int evidence[2] = {rows[i].evidence, NET_UNKNOWN};
        double *posterior[2];
        double p = 0;
        struct err e = err_new(&a);
        assert_false(net_posterior(rows[i].nodes, rows[i].n, evidence, &a, &p, posterior, &e));
        if (str_find(err_text(&a, &e), str_of(rows[i].what)) < 0) {
            fail_msg("row %zu: %.*s", i, STR_ARG(err_text(&a, &e)));
        }
    }
    arena_free(&a);
}

/* ---- every strategy ---- */

/* A small model in plain arrays. */
struct small {
    struct trace_model m;
    double weight[4], by_itself[3], chance[3 * 4], sign_cost[3], repair_cost[4], cures[4 * 4];
};

/* pairs: with two causes at once. */
static void random_model(uint64_t *x, struct small *s, int causes, int signs, int repairs, bool pairs, bool perfect)
{
    *s = (struct small){.m = {.n_causes = causes,
                              .weight = s->weight,
                              .other = uniform(x) < 0.3 ? 0 : uniform(x),
                              .pairs = pairs ? 0.2 + 2 * uniform(x) : 0,
                              .n_signs = signs,
                              .by_itself = s->by_itself,
                              .chance = s->chance,
                              .sign_cost = s->sign_cost,
                              .n_repairs = repairs,
                              .repair_cost = s->repair_cost,
                              .cures = s->cures,
                              .help_cost = 5 + 60 * uniform(x)}};
    for (int i = 0; i < causes; i++) {
        s->weight[i] = 0.05 + uniform(x);
    }
    for (int k = 0; k < signs; k++) {
        s->by_itself[k] = uniform(x) < 0.3 ? 0 : 0.3 * uniform(x);
        s->sign_cost[k] = 0.2 + 6 * uniform(x);
        for (int i = 0; i < causes; i++) {
            s->chance[k * causes + i] = uniform(x) < 0.4 ? 0 : uniform(x) < 0.3 ? 1 : uniform(x);
        }
    }
    for (int k = 0; k < repairs; k++) {
        s->repair_cost[k] = 1 + 30 * uniform(x);
        for (int i = 0; i < causes; i++) {
            bool cures = i == k % causes || (!perfect && uniform(x) < 0.2);
            s->cures[k * causes + i] = !cures ? 0 : perfect || uniform(x) < 0.5 ? 1 : uniform(x);
        }
    }
}

/* The possibilities of the oracle: one cause, none of the list, every two. Written apart from the product's. */
struct world {
    const struct trace_model *m;
    int n;
    int one[12], two[12]; /* -1 = none */
    double p[12];
};

static struct world world_of(const struct trace_model *m)
{
    struct world w = {.m = m};
    double all = m->other;
    for (int i = 0; i < m->n_causes; i++) {
        all += m->weight[i];
        w.one[w.n] = i;
        w.two[w.n] = -1;
        w.p[w.n++] = m->weight[i];
    }
    w.one[w.n] = w.two[w.n] = -1;
    w.p[w.n++] = m->other;
    for (int i = 0; m->pairs > 0 && i < m->n_causes; i++) {
        for (int k = i + 1; k < m->n_causes; k++) {
            w.one[w.n] = i;
            w.two[w.n] = k;
            w.p[w.n++] = m->pairs * m->weight[i] * m->weight[k] / all;
        }
    }
    double sum = 0;
    for (int i = 0; i < w.n; i++) {
        sum += w.p[i];
    }
    for (int i = 0; i < w.n; i++) {
        w.p[i] /= sum;
    }
    return w;
}

static int find_world(const struct world *w, int one)
{
    int at = 0;
    while (w->one[at] != one || w->two[at] >= 0) {
        at++;
    }
    return at;
}

static double shows(const struct world *w, int sign, int h)
{
    const struct trace_model *m = w->m;
    if (w->one[h] < 0) {
        double sum = 0;
        double weights = 0;
        for (int i = 0; i < m->n_causes; i++) {
            sum += m->weight[i] * (1 - (1 - m->by_itself[sign]) * (1 - m->chance[sign * m->n_causes + i]));
            weights += m->weight[i];
        }
        return sum / weights;
    }
    double hidden = (1 - m->by_itself[sign]) * (1 - m->chance[sign * m->n_causes + w->one[h]]);
    return 1 - (w->two[h] < 0 ? hidden : hidden * (1 - m->chance[sign * m->n_causes + w->two[h]]));
}

/* Every strategy that uses some of the steps `left` (bit k: sign k; bit n_signs + k: repair k), each as what it costs
 * in expectation under each possibility. No probabilities of causes and no rule of Bayes in here. */
struct strategies {
    double (*cost)[12];
    size_t n, cap;
};
static void list_strategies(const struct world *w, unsigned left, struct arena *a, struct strategies *out)
{
    double help[12];
    *out = (struct strategies){0};
    for (int h = 0; h < w->n; h++) {
        help[h] = w->m->help_cost;
    }
    out->cost = arena_grow(a, out->cost, out->n, &out->cap, sizeof *out->cost);
    memcpy(out->cost[out->n++], help, sizeof help);
    for (int k = 0; k < w->m->n_signs + w->m->n_repairs; k++) {
        struct strategies next;
        if (!(left >> k & 1U)) {
            continue;
        }
        list_strategies(w, left & ~(1U << k), a, &next);
        bool sign = k < w->m->n_signs;
        for (size_t i = 0; i < next.n; i++) {
            for (size_t j = 0; j < (sign ? next.n : 1); j++) {
                double cost[12] = {0};
                for (int h = 0; h < w->n; h++) {
                    if (sign) {
                        double yes = shows(w, k, h);
                        cost[h] = w->m->sign_cost[k] + yes * next.cost[i][h] + (1 - yes) * next.cost[j][h];
                        continue;
                    }
                    const double *cures = &w->m->cures[(k - w->m->n_signs) * w->m->n_causes];
                    double one = w->one[h] < 0 ? 0 : cures[w->one[h]];
                    cost[h] = w->m->repair_cost[k - w->m->n_signs];
                    if (w->two[h] < 0) {
                        cost[h] += (1 - one) * next.cost[i][h];
                    } else {
                        double two = cures[w->two[h]];
                        cost[h] += (1 - one) * (1 - two) * next.cost[i][h];
                        cost[h] += one * (1 - two) * next.cost[i][find_world(w, w->two[h])];
                        cost[h] += (1 - one) * two * next.cost[i][find_world(w, w->one[h])];
                    }
                }
                out->cost = arena_grow(a, out->cost, out->n, &out->cap, sizeof *out->cost);
                memcpy(out->cost[out->n++], cost, sizeof cost);
            }
        }
    }
}

static void plans_cost_what_the_best_of_all_strategies_costs(void **state)
{
    (void)state;
    static const int shapes[][3] = {{2, 1, 1}, {3, 1, 2}, {2, 2, 1}, {3, 0, 4}, {4, 1, 3}, {3, 2, 2}, {4, 2, 2}};
    uint64_t x = seed_of(20270103);
    struct arena a = arena_new(&arena_libc);
    size_t strategies = 0;
    int two = 0;
    for (int round = 0; round < 3000; round++) {
        struct arena_mark mark = arena_mark(&a);
        const int *shape = shapes[round % 20 == 0 ? 5 + below(&x, 2) : below(&x, 5)];
        struct small s;
        random_model(&x, &s, shape[0], shape[1], shape[2], round % 3 == 0, false);
        struct world w = world_of(&s.m);
        struct trace_limits limits = {.nodes = 2000, .ignore = 0};
        struct trace_answer got;
        struct err e = err_new(&a);
        if (!trace_ask(&s.m, NULL, 0, &limits, &a, &got, &e)) {
            fail_msg("round %d: %.*s", round, STR_ARG(err_text(&a, &e)));
        }
        if (got.p_two > 0 && !got.two) { /* planned with one cause at a time: so is the oracle */
            s.m.pairs = 0;
            w = world_of(&s.m);
        }
        two += got.two;
        struct strategies all;
        list_strategies(&w, (1U << (s.m.n_signs + s.m.n_repairs)) - 1, &a, &all);
        double best = INFINITY;
        for (size_t i = 0; i < all.n; i++) {
            double cost = 0;
            for (int h = 0; h < w.n; h++) {
                cost += w.p[h] * all.cost[i][h];
            }
            best = fmin(best, cost);
        }
        strategies += all.n;
        if (!got.exact || !(fabs(got.high - best) < 1e-6) || !(got.low <= got.high)) {
            fail_msg(
                "round %d (%d causes, %d signs, %d repairs, two %d): %.10g (exact %d, from %.10g), best of %zu: %.10g",
                round, shape[0], shape[1], shape[2], got.two, got.high, got.exact, got.low, all.n, best);
        }
        if (!(got.steps[0].high <= got.high + 1e-6)) {
            fail_msg("round %d: the first step's plan costs %g, not %g", round, got.steps[0].high, got.high);
        }
        arena_rewind(&a, mark);
    }
    printf("# %zu strategies of 3000 models, %d planned for two causes\n", strategies, two);
    assert_true(two > 300);
    arena_free(&a);
}

/* One cause, perfect repairs, nothing to look at, help too dear: the order of probability over cost is the best there
 * is (Kadane and Simon 1977), and its cost is that of repair_order_cost. */
static void repairs_alone_go_by_probability_over_cost(void **state)
{
    (void)state;
    uint64_t x = seed_of(20270104);
    struct arena a = arena_new(&arena_libc);
    for (int round = 0; round < 2000; round++) {
        struct arena_mark mark = arena_mark(&a);
        struct small s;
        int n = 2 + below(&x, 3);
        random_model(&x, &s, n, 0, n, false, true);
        s.m.help_cost = 100000;
        struct repair_action actions[4];
        size_t order[4];
        double weights = s.m.other;
        double cost = 0;
        struct err e = err_new(&a);
        for (int i = 0; i < n; i++) {
            weights += s.weight[i];
        }
        for (int i = 0; i < n; i++) {
            actions[i] = (struct repair_action){s.weight[i] / weights, s.repair_cost[i]};
        }
        assert_true(repair_order_best(actions, (size_t)n, order, &e));
        assert_true(repair_order_cost(actions, order, (size_t)n, s.m.help_cost, &cost, &e));
        struct trace_limits limits = {.nodes = 5000, .ignore = 0};
        struct trace_event events[4];
        struct trace_answer got;
        for (int k = 0; k < n; k++) { /* each failed repair leads to the next of the order */
            assert_true(trace_ask(&s.m, events, k, &limits, &a, &got, &e));
            if (k == 0 && !(got.exact && fabs(got.high / cost - 1) < 1e-9)) {
                fail_msg("round %d: %.12g, the order's cost %.12g", round, got.high, cost);
            }
            if (s.m.other == 0 && k + 1 == n) {
                break; /* certain by now */
            }
            if (got.steps[0].what != TRACE_REPAIR || got.steps[0].index != (int)order[k]) {
                fail_msg("round %d: step %d is repair %d, in the order %zu", round, k, got.steps[0].index, order[k]);
            }
            events[k] = (struct trace_event){TRACE_REPAIR, (int)order[k], false};
        }
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

/* The probabilities are those of a net with one node for what is behind it and one per sign. */
static void probabilities_are_those_of_the_net(void **state)
{
    (void)state;
    uint64_t x = seed_of(20270105);
    struct arena a = arena_new(&arena_libc);
    static const int first[] = {0};
    for (int round = 0; round < 1000; round++) {
        struct arena_mark mark = arena_mark(&a);
        struct small s;
        random_model(&x, &s, 4, 3, 1, round % 2 == 0, false);
        struct world w = world_of(&s.m);
        struct net_node nodes[4] = {{w.n, NULL, 0, w.p}};
        int evidence[4] = {NET_UNKNOWN};
        struct trace_event events[3];
        int n = 0;
        for (int k = 0; k < 3; k++) {
            double *table = ARENA_ARRAY(&a, double, 2 * w.n);
            for (int h = 0; h < w.n; h++) {
                table[2 * h] = 1 - shows(&w, k, h);
                table[2 * h + 1] = shows(&w, k, h);
            }
            nodes[k + 1] = (struct net_node){2, first, 1, table};
            evidence[k + 1] = below(&x, 3) - 1;
            if (evidence[k + 1] >= 0) {
                events[n++] = (struct trace_event){TRACE_SIGN, k, evidence[k + 1] == 1};
            }
        }
        double p_cause[4];
        double p_other = 0;
        double p_two = 0;
        double seen = 0;
        double p = 0;
        double *posterior[4];
        struct err e = err_new(&a);
        struct err e2 = err_new(&a);
        bool ok = net_posterior(nodes, 4, evidence, &a, &p, posterior, &e);
        if (ok != trace_probabilities(&s.m, events, n, &a, p_cause, &p_other, &p_two, &seen, &e2)) {
            fail_msg("round %d: one says that this cannot be, the other not", round);
        }
        for (int i = 0; i < 4 && ok; i++) {
            double sum = 0;
            for (int h = 0; h < w.n; h++) {
                sum += w.one[h] == i || w.two[h] == i ? posterior[0][h] : 0;
            }
            if (!(fabs(sum - p_cause[i]) < 1e-12) || !(fabs(seen - p) < 1e-12)) {
                fail_msg("round %d: cause %d %.15g, by the net %.15g", round, i, p_cause[i], sum);
            }
        }
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

/* Where the nodes are few, the true cost lies between the bounds that are told; more nodes never loosen them. */
static void bounds_hold_when_the_search_is_cut_short(void **state)
{
    (void)state;
    uint64_t x = seed_of(20270106);
    struct arena a = arena_new(&arena_libc);
    int open = 0;
    for (int round = 0; round < 150; round++) {
        struct arena_mark mark = arena_mark(&a);
        struct small s;
        random_model(&x, &s, 4, 2, 4, round % 3 == 0, false);
        struct trace_answer whole;
        struct trace_limits limits = {.nodes = 8000, .ignore = 0};
        struct err e = err_new(&a);
        assert_true(trace_ask(&s.m, NULL, 0, &limits, &a, &whole, &e));
        assert_true(whole.exact);
        for (limits.nodes = 1; limits.nodes < 3000; limits.nodes *= 6) {
            struct trace_answer cut;
            assert_true(trace_ask(&s.m, NULL, 0, &limits, &a, &cut, &e));
            open += !cut.exact;
            if (!(cut.low <= whole.high + 1e-6 && cut.high >= whole.high - 1e-6)) {
                fail_msg("round %d, %d nodes: %.10g .. %.10g, but it is %.10g", round, limits.nodes, cut.low, cut.high,
                         whole.high);
            }
        }
        arena_rewind(&a, mark);
    }
    assert_true(open > 100);
    arena_free(&a);
}

/* What cannot be done here is not proposed, and never makes it cheaper. */
static void what_cannot_be_done_is_not_proposed(void **state)
{
    (void)state;
    uint64_t x = seed_of(20270107);
    struct arena a = arena_new(&arena_libc);
    for (int round = 0; round < 500; round++) {
        struct arena_mark mark = arena_mark(&a);
        struct small s;
        random_model(&x, &s, 4, 2, 3, false, false);
        bool no_sign[2] = {uniform(&x) < 0.5, uniform(&x) < 0.5};
        bool no_repair[3] = {uniform(&x) < 0.5, uniform(&x) < 0.5, uniform(&x) < 0.5};
        struct trace_limits limits = {.nodes = 5000, .ignore = 0};
        struct trace_answer all;
        struct trace_answer less;
        struct err e = err_new(&a);
        assert_true(trace_ask(&s.m, NULL, 0, &limits, &a, &all, &e));
        limits.no_sign = no_sign;
        limits.no_repair = no_repair;
        assert_true(trace_ask(&s.m, NULL, 0, &limits, &a, &less, &e));
        assert_true(less.high >= all.high - 1e-6);
        for (int i = 0; i < less.n_steps; i++) {
            const struct trace_step *step = &less.steps[i];
            assert_false(step->what == TRACE_SIGN && no_sign[step->index]);
            assert_false(step->what == TRACE_REPAIR && no_repair[step->index]);
        }
        arena_rewind(&a, mark);
    }
    arena_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nets_are_the_sum_over_everything),
        cmocka_unit_test(a_long_chain_is_the_forward_recursion),
        cmocka_unit_test(wrong_nets_are_refused),
        cmocka_unit_test(plans_cost_what_the_best_of_all_strategies_costs),
        cmocka_unit_test(repairs_alone_go_by_probability_over_cost),
        cmocka_unit_test(probabilities_are_those_of_the_net),
        cmocka_unit_test(bounds_hold_when_the_search_is_cut_short),
        cmocka_unit_test(what_cannot_be_done_is_not_proposed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
