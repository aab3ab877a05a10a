/* Breadth-first search over conditions; the way back by the same edges reversed. */
#include "book/condition_graph.h"

#include <string.h>

#define BITS 4 /* BOOK_VALUES_MAX values */

static int value_of(condition_state s, int variable)
{
    return (int)((s >> (BITS * variable)) & ((1U << BITS) - 1));
}

bool condition_holds(condition_state s, struct book_condition c, int n_variables)
{
    for (int v = 0; v < n_variables; v++) {
        if (c.allow[v] && !(c.allow[v] & (1U << value_of(s, v)))) {
            return false;
        }
    }
    return true;
}

struct book_condition condition_of_state(condition_state s, int n_variables)
{
    struct book_condition c = {{0}};
    for (int v = 0; v < n_variables; v++) {
        c.allow[v] = (uint16_t)(1U << value_of(s, v));
    }
    return c;
}

/* The first forbidden combination that holds, or BOOK_NONE. A combination that names nothing forbids nothing. */
static int forbidden_in(const struct book *b, condition_state s)
{
    static const struct book_condition nothing;
    for (int i = 0; i < b->n_nevers; i++) {
        if (memcmp(&b->nevers[i].when, &nothing, sizeof nothing) != 0 &&
            condition_holds(s, b->nevers[i].when, b->n_variables)) {
            return i;
        }
    }
    return BOOK_NONE;
}

static condition_state after(const struct book *b, const struct book_change *c, condition_state s)
{
    for (int v = 0; v < b->n_variables; v++) {
        if (c->to[v] != BOOK_NONE) {
            s &= ~((((condition_state)1 << BITS) - 1) << (BITS * v));
            s |= (condition_state)(unsigned)c->to[v] << (BITS * v);
        }
    }
    return s;
}

/* Numbers of conditions, by open addressing. */
struct numbers {
    condition_state *key;
    int *number; /* 0 = free, else number + 1 */
    size_t cap;  /* a power of two */
};

/* The slot of s: where it is or would be. Multiplication by the golden ratio spreads the few low bits. */
static size_t slot_of(const struct numbers *t, condition_state s)
{
    size_t i = (size_t)((s * 0x9e3779b97f4a7c15U) >> 20) & (t->cap - 1);
    while (t->number[i] && t->key[i] != s) {
        i = (i + 1) & (t->cap - 1);
    }
    return i;
}

/* A search under way. */
struct search {
    const struct book *b;
    struct arena *a;
    struct condition_graph *g;
    struct numbers numbers;
    condition_state *state;
    size_t cap_state;
    int *first, *to, *by;
    size_t cap_first, n_edges, cap_to, cap_by;
    int most;
};

/* The number of a condition, a new one when it was not met before; BOOK_NONE when there are too many. */
static int number_of(struct search *x, condition_state s)
{
    size_t i = slot_of(&x->numbers, s);
    if (!x->numbers.number[i]) {
        if (x->g->n == x->most) {
            x->g->complete = false;
            return BOOK_NONE;
        }
        size_t n = (size_t)x->g->n;
        ARENA_PUSH(x->a, x->state, n, x->cap_state) = s;
        x->g->n = (int)n;
        x->numbers.key[i] = s;
        x->numbers.number[i] = x->g->n;
        if (n * 2 > x->numbers.cap) { /* grown before it gets slow; numbers stay */
            struct numbers larger = {.cap = x->numbers.cap * 4};
            larger.key = ARENA_ARRAY(x->a, condition_state, larger.cap);
            larger.number = ARENA_ARRAY(x->a, int, larger.cap);
            for (size_t k = 0; k < n; k++) {
                size_t j = slot_of(&larger, x->state[k]);
                larger.key[j] = x->state[k];
                larger.number[j] = (int)k + 1;
            }
            x->numbers = larger;
        }
        return (int)n - 1;
    }
    return x->numbers.number[i] - 1;
}

/* All changes that can be made in condition number `at`. */
static void expand(struct search *x, int at)
{
    const struct book *b = x->b;
    condition_state s = x->state[at];
    for (int i = 0; i < b->n_changes; i++) {
        const struct book_change *c = &b->changes[i];
        struct condition_change *seen = &x->g->changes[i];
        if (!condition_holds(s, c->from, b->n_variables) ||
            (c->place != BOOK_NONE && !condition_holds(s, b->places[c->place].needs, b->n_variables))) {
            continue;
        }
        seen->held = true;
        condition_state t = after(b, c, s);
        int never = forbidden_in(b, t);
        if (never != BOOK_NONE) {
            if (seen->forbidden == BOOK_NONE) {
                seen->forbidden = never;
                seen->forbidden_from = s;
            }
            continue;
        }
        seen->possible = true;
        int to = number_of(x, t);
        if (to != BOOK_NONE) {
            size_t n = x->n_edges;
            ARENA_PUSH(x->a, x->to, n, x->cap_to) = to;
            ARENA_PUSH(x->a, x->by, x->n_edges, x->cap_by) = i;
        }
    }
}

/* From which conditions parked can be reached: the edges reversed, from number 0. */
static void search_back(struct search *x)
{
    struct condition_graph *g = x->g;
    int *first = ARENA_ARRAY(x->a, int, g->n + 1);
    int *from = ARENA_ARRAY(x->a, int, x->n_edges + 1);
    int *queue = ARENA_ARRAY(x->a, int, g->n + 1);
    bool *back = ARENA_ARRAY(x->a, bool, g->n + 1);
    for (size_t e = 0; e < x->n_edges; e++) {
        first[x->to[e]]++;
    }
    for (int i = 0, sum = 0; i <= g->n; i++) {
        sum += i < g->n ? first[i] : 0;
        first[i] = sum;
    }
    for (int i = 0; i < g->n; i++) {
        for (int e = x->first[i]; e < x->first[i + 1]; e++) {
            from[--first[x->to[e]]] = i;
        }
    }
    int n_queue = 0;
    back[0] = g->n > 0;
    queue[n_queue++] = 0;
    for (int head = 0; head < n_queue && g->n > 0; head++) {
        for (int e = first[queue[head]]; e < first[queue[head] + 1]; e++) {
            if (!back[from[e]]) {
                back[from[e]] = true;
                queue[n_queue++] = from[e];
            }
        }
    }
    for (int i = 0; i < g->n; i++) {
        for (int e = x->first[i]; e < x->first[i + 1]; e++) {
            if (back[i] && !back[x->to[e]]) {
                g->changes[x->by[e]].no_return = true;
            }
        }
    }
    g->back = back;
}

struct condition_graph condition_graph_build(const struct book *b, int most, struct arena *a)
{
    struct condition_graph g = {.n_variables = b->n_variables, .complete = true};
    g.changes = ARENA_ARRAY(a, struct condition_change, b->n_changes + 1);
    for (int i = 0; i < b->n_changes; i++) {
        g.changes[i].forbidden = BOOK_NONE;
    }
    g.parked_forbidden = forbidden_in(b, 0);
    struct search x = {.b = b, .a = a, .g = &g, .most = most};
    x.numbers.cap = 256;
    x.numbers.key = ARENA_ARRAY(a, condition_state, x.numbers.cap);
    x.numbers.number = ARENA_ARRAY(a, int, x.numbers.cap);
    number_of(&x, 0);
    size_t n_first = 0;
    for (int i = 0; i < g.n; i++) {
        ARENA_PUSH(a, x.first, n_first, x.cap_first) = (int)x.n_edges;
        expand(&x, i);
    }
    ARENA_PUSH(a, x.first, n_first, x.cap_first) = (int)x.n_edges;
    search_back(&x);
    g.state = x.state;
    g.first = x.first;
    g.to = x.to;
    g.by = x.by;
    return g;
}

bool condition_graph_usable(const struct condition_graph *g, uint8_t *set)
{
    bool any = false;
    for (int i = 0; i < g->n; i++) {
        set[i] = g->back[i];
        any = any || g->back[i];
    }
    return any;
}

bool condition_graph_keep(const struct condition_graph *g, struct book_condition c, uint8_t *set)
{
    bool any = false;
    for (int i = 0; i < g->n; i++) {
        set[i] = set[i] && condition_holds(g->state[i], c, g->n_variables);
        any = any || set[i];
    }
    return any;
}

bool condition_graph_spread(const struct condition_graph *g, struct book_condition c, uint8_t *set)
{
    bool any = condition_graph_keep(g, c, set);
    for (int i = 0; i < g->n && any; i++) {
        int next = i;
        for (int e = g->first[i]; set[i] == 1 && e < g->first[i + 1]; e++) {
            int to = g->to[e];
            if (!set[to] && g->back[to] && condition_holds(g->state[to], c, g->n_variables)) {
                set[to] = 1;
                next = to < next ? to : next; /* go back to what was passed already */
            }
        }
        set[i] = set[i] ? 2 : 0; /* its changes are followed */
        i = next < i ? next - 1 : i;
    }
    for (int i = 0; i < g->n; i++) {
        set[i] = set[i] != 0;
    }
    return any;
}
