/* Lower bounds: a way from `last` through all open nodes contains one step into each of them and all are reached from
 * `last`, so it costs at least the cheapest arborescence. That it leaves each node just once is priced: a price on
 * leaving a node is added to all its steps and taken off again, and subgradient steps at the root find good prices
 * (Held and Karp 1970, 1971). They stay fixed below the root, where only the nodes not yet done take part.
 *
 * Arborescences by Edmonds' method on dense rows (Edmonds 1967; the growing path of Gabow, Galil, Spencer and Tarjan
 * 1986, with plain row merging): O(m^2) for m nodes. The dual value a node has been given bounds how much dearer it is
 * to go there first, which costs nothing extra and is the bound of all children of a state.
 */
#include "round/sop_internal.h"

#include <string.h>

#define SHARP 64            /* prices are in 1/64 of a cost */
#define TRIES 2             /* nodes tried to make entering a merged node dearer */
#define NO_STEP 2000000000  /* in rows: no such step; */
#define NO_LEAST 1000000000 /* anything from here on is none */

/* At the root: a set of nodes (merged or single) got this dual value from the step tail -> head. */
struct tree_event {
    struct bits set;
    struct bits barred; /* but for steps from these */
    int tail, head;
    int32_t value;
};

struct sop_tree {
    struct sop_work *w;
    int64_t sharp;       /* SHARP, or less where costs are large */
    int32_t *into;       /* [n * n] row v, column u: cost of u to v, sharpened, with prices */
    int32_t *price;      /* [n] */
    int32_t *root_price; /* [n] those of the best bound at the root */
    int64_t best_bound;  /* sharpened, at root_price */
    int32_t *best_price; /* [n] those bounds are made with */
    double pace;
    /* the arborescence at hand, over m nodes numbered locally, 0 the root */
    int m;
    int *node;        /* [m] their numbers in the problem */
    int32_t *row;     /* [m * m] row v, column u: what the cheapest step from u into the merged node v costs more */
    int *part;        /* [m] the merged node each belongs to */
    int *next, *end;  /* [m] lists of the nodes merged; end of the list */
    int *state;       /* [m] of a merged node */
    struct bits *set; /* [m] the problem's nodes in a merged node */
    int *path;        /* [m] */
    int32_t *dual;    /* [m] value given to all sets with the node */
    int *head;        /* [m * m] at the root: where the step of the row really leads */
    struct tree_event *events; /* [2 m] at the root, in order */
    int n_events;
    int32_t *slack; /* [n * n] see tree_slack */
};

struct sop_tree *tree_new(struct sop_work *w)
{
    struct sop_tree *t = ARENA_NEW(w->a, struct sop_tree);
    size_t n = (size_t)w->n;
    t->w = w;
    t->into = ARENA_ARRAY(w->a, int32_t, n * n);
    t->price = ARENA_ARRAY(w->a, int32_t, n);
    t->root_price = ARENA_ARRAY(w->a, int32_t, n);
    t->best_price = ARENA_ARRAY(w->a, int32_t, n);
    t->node = ARENA_ARRAY(w->a, int, n);
    t->row = ARENA_ARRAY(w->a, int32_t, n * n);
    t->part = ARENA_ARRAY(w->a, int, n);
    t->next = ARENA_ARRAY(w->a, int, n);
    t->end = ARENA_ARRAY(w->a, int, n);
    t->path = ARENA_ARRAY(w->a, int, n);
    t->head = ARENA_ARRAY(w->a, int, n *n);
    t->events = ARENA_ARRAY(w->a, struct tree_event, 2 * n);
    t->state = ARENA_ARRAY(w->a, int, n);
    t->set = ARENA_ARRAY(w->a, struct bits, n);
    t->dual = ARENA_ARRAY(w->a, int32_t, n);
    t->slack = ARENA_ARRAY(w->a, int32_t, n * n);
    t->best_bound = INT64_MIN;
    t->pace = 1.0;
    int32_t most = 1;
    for (size_t i = 0; i < n * n; i++) {
        most = w->cost[i] < SOP_FAR && w->cost[i] > most ? w->cost[i] : most;
    }
    t->sharp = SHARP;
    while (t->sharp > 1 && most * t->sharp > NO_LEAST / 8) {
        t->sharp /= 2;
    }
    return t;
}

enum { UNSEEN, ON_PATH, JOINED };

/* Fills `into` from costs and prices. */
static void fill_into(struct sop_tree *t, const int32_t *price)
{
    const struct sop_work *w = t->w;
    size_t n = (size_t)w->n;
    for (size_t u = 0; u < n; u++) {
        for (size_t v = 0; v < n; v++) {
            int32_t c = w->cost[u * n + v];
            t->into[v * n + u] = c >= SOP_FAR ? NO_STEP : (int32_t)(c * t->sharp) + price[u];
        }
    }
}

/* Copies the rows of the m nodes in t->node. */
static void fill_rows(struct sop_tree *t, bool root)
{
    size_t n = (size_t)t->w->n;
    size_t m = (size_t)t->m;
    for (size_t v = 0; v < m; v++) {
        const int32_t *from = t->into + (size_t)t->node[v] * n;
        int32_t *to = t->row + v * m;
        for (size_t u = 0; u < m; u++) {
            to[u] = from[t->node[u]];
        }
        to[v] = NO_STEP;
        t->part[v] = (int)v;
        t->next[v] = -1;
        t->end[v] = (int)v;
        t->state[v] = UNSEEN;
        t->set[v] = (struct bits){0};
        bits_add(&t->set[v], t->node[v]);
        t->dual[v] = 0;
        for (size_t u = 0; u < m && root; u++) {
            t->head[v * m + u] = (int)v;
        }
    }
    t->n_events = 0;
}

/* The cheapest step of row r whose tail is not among `barred`; -1 when there is none. */
static int cheapest(const struct sop_tree *t, const int32_t *r, const struct bits *barred)
{
    int tail = -1;
    for (int u = 0; u < t->m; u++) {
        if (r[u] < (tail < 0 ? NO_LEAST : r[tail]) && !bits_has(barred, t->node[u])) {
            tail = u;
        }
    }
    return tail;
}

/* The step by which merged node x must be entered at least. The way to a node `a` in x never passes what comes behind
 * a, so of the steps into x at least one starts outside of that: a may be chosen so that the cheapest such step is
 * dear. Only when the cheapest of all is barred for some a can that be dearer; a few such a are tried. */
static int entering(const struct sop_tree *t, int x, const int32_t *r, struct bits *barred)
{
    *barred = (struct bits){0};
    int32_t least = NO_STEP;
    for (int u = 0; u < t->m; u++) {
        least = r[u] < least ? r[u] : least;
    }
    if (least >= NO_LEAST) {
        return -1;
    }
    int tail = 0;
    while (r[tail] != least) {
        tail++;
    }
    if (t->next[x] < 0) {
        return tail;
    }
    struct bits choices = bits_and(t->w->before[t->node[tail]], t->set[x]);
    int tries = 0;
    for (int a = bits_next(&choices, 0); a >= 0 && tries < TRIES; a = bits_next(&choices, a + 1), tries++) {
        int other = cheapest(t, r, &t->w->behind[a]);
        if (other >= 0 && r[other] > r[tail]) {
            tail = other;
            *barred = t->w->behind[a];
        }
    }
    return tail;
}

/* Enters merged node x; the step's value goes to the dual of all in x. Returns its tail, -1 when there is none. */
static int enter(struct sop_tree *t, int x, int64_t *total, bool root)
{
    int m = t->m;
    int32_t *r = t->row + (size_t)x * (size_t)m;
    struct bits barred;
    int tail = entering(t, x, r, &barred);
    if (tail < 0) {
        return -1;
    }
    int32_t least = r[tail];
    if (bits_empty(&barred)) {
        for (int u = 0; u < m; u++) {
            r[u] -= least;
        }
    } else {
        for (int u = 0; u < m; u++) {
            r[u] -= bits_has(&barred, t->node[u]) ? 0 : least;
        }
    }
    *total += least;
    struct tree_event *e = root ? &t->events[t->n_events++] : NULL;
    if (e) {
        int head = t->head[(size_t)x * (size_t)m + (size_t)tail];
        *e = (struct tree_event){.barred = barred, .tail = tail, .head = head, .value = least};
    }
    for (int b = x; b >= 0; b = t->next[b]) {
        t->dual[b] += least;
        if (e) {
            bits_add(&e->set, b);
        }
    }
    return tail;
}

/* Puts merged node x into y: the rows' least, the lists joined. */
static void merge(struct sop_tree *t, int y, int x, bool root)
{
    size_t m = (size_t)t->m;
    int32_t *ry = t->row + (size_t)y * m;
    const int32_t *rx = t->row + (size_t)x * m;
    for (size_t u = 0; u < m && root; u++) {
        if (rx[u] < ry[u]) {
            t->head[(size_t)y * m + u] = t->head[(size_t)x * m + u];
        }
    }
    for (size_t u = 0; u < m; u++) {
        ry[u] = rx[u] < ry[u] ? rx[u] : ry[u];
    }
    for (int b = x; b >= 0; b = t->next[b]) {
        t->part[b] = y;
    }
    t->set[y] = bits_or(t->set[y], t->set[x]);
    t->next[t->end[y]] = x;
    t->end[y] = t->end[x];
}

/* The cost of the cheapest arborescence from local node 0; SOP_NONE when there is none. */
static int64_t grow(struct sop_tree *t, bool root)
{
    int64_t total = 0;
    t->state[0] = JOINED;
    for (int v = 1; v < t->m; v++) {
        int n = 0;
        if (t->state[t->part[v]] != UNSEEN) {
            continue;
        }
        t->path[n++] = v;
        t->state[v] = ON_PATH;
        while (n) {
            int x = t->path[n - 1];
            int tail = enter(t, x, &total, root);
            if (tail < 0) {
                return SOP_NONE;
            }
            int y = t->part[tail];
            if (t->state[y] == JOINED) {
                while (n) {
                    t->state[t->path[--n]] = JOINED;
                }
            } else if (t->state[y] == UNSEEN) {
                t->state[y] = ON_PATH;
                t->path[n++] = y;
            } else {
                while (t->path[n - 1] != y) {
                    merge(t, y, t->path[--n], root);
                }
                for (int b = y; b >= 0; b = t->next[b]) {
                    t->row[(size_t)y * (size_t)t->m + (size_t)b] = NO_STEP;
                }
            }
        }
    }
    return total;
}

/* Takes last and the open nodes in; the sum of their prices. */
static int64_t choose_nodes(struct sop_tree *t, const struct bits *done, int last, const int32_t *price)
{
    int n = t->w->n;
    int64_t sum = last == n - 1 ? 0 : price[last];
    t->m = 0;
    t->node[t->m++] = last;
    for (int v = 0; v < n; v++) {
        if (!bits_has(done, v) && v != last) {
            t->node[t->m++] = v;
            sum += v == n - 1 ? 0 : price[v];
        }
    }
    return sum;
}

/* Next comes only what is allowed now. */
static void close_first_steps(struct sop_tree *t, const struct bits *done)
{
    for (int v = 1; v < t->m; v++) {
        if (!bits_within(&t->w->before[t->node[v]], done)) {
            t->row[(size_t)v * (size_t)t->m] = NO_STEP;
        }
    }
}

/* The arborescence from last over the open nodes at these prices, which are taken off again; degrees of leaving. */
static int64_t grow_priced(struct sop_tree *t, const struct bits *done, int last, const int32_t *price, int *degree)
{
    fill_into(t, price);
    int64_t prices = choose_nodes(t, done, last, price);
    fill_rows(t, true);
    close_first_steps(t, done);
    int64_t total = grow(t, true);
    if (total >= SOP_NONE) {
        return SOP_NONE;
    }
    memset(degree, 0, (size_t)t->w->n * sizeof *degree);
    struct bits entered = {
        0}; /* latest sets first: a step into a set is the step into all its parts that hold its head */
    for (int k = t->n_events - 1; k >= 0; k--) {
        const struct tree_event *e = &t->events[k];
        if (!bits_meet(&e->set, &entered)) {
            bits_add(&entered, e->head);
            degree[t->node[e->tail]]++;
        }
    }
    return total - prices;
}

/* Least whole cost that is not below the sharpened bound. */
static int64_t whole(const struct sop_tree *t, int64_t bound)
{
    return bound <= 0 ? 0 : (bound + t->sharp - 1) / t->sharp;
}

/* Steps that would lift the bound to the best order's cost or above can be part of no better order. */
static void drop_steps(struct sop_tree *t, int64_t bound)
{
    struct sop_work *w = t->w;
    size_t n = (size_t)w->n;
    memcpy(t->slack, t->into, n * n * sizeof *t->slack);
    for (int k = 0; k < t->n_events; k++) {
        const struct tree_event *e = &t->events[k];
        for (int v = bits_next(&e->set, 0); v >= 0; v = bits_next(&e->set, v + 1)) {
            for (size_t u = 0; u < n; u++) {
                t->slack[(size_t)v * n + u] -= bits_has(&e->set, (int)u) || bits_has(&e->barred, (int)u) ? 0 : e->value;
            }
        }
    }
    for (size_t v = 1; v < n; v++) {
        for (size_t u = 0; u + 1 < n; u++) {
            if (w->cost[u * n + v] < SOP_FAR && whole(t, bound + t->slack[v * n + u]) >= w->best_cost) {
                w->cost[u * n + v] = SOP_FAR;
            }
        }
    }
}

/* One subgradient step of the prices of last and the open nodes: up where more than one step leaves, down where none
 * does. Its length is pace * gap / norm. False when every node is left once: then the bound is a way and no price is
 * better. */
static bool move_prices(struct sop_tree *t, int32_t *price, const int *degree, double gap)
{
    int64_t norm = 0;
    for (int k = 0; k < t->m; k++) {
        int d = t->node[k] == t->w->n - 1 ? 0 : degree[t->node[k]] - 1;
        norm += (int64_t)d * d;
    }
    double step = norm ? t->pace * (gap > 1 ? gap : 1) / (double)norm : 0;
    for (int k = 0; k < t->m; k++) {
        int a = t->node[k];
        if (a != t->w->n - 1) {
            double to = price[a] + step * (degree[a] - 1);
            const int64_t whole = NO_LEAST / 8;
            const double most = (double)whole;
            to = to > most ? most : to < -most ? -most : to;
            price[a] = (int32_t)(to < 0 ? to - 0.5 : to + 0.5);
        }
    }
    return norm > 0;
}

void tree_improve(struct sop_tree *t, int steps)
{
    struct sop_work *w = t->w;
    size_t n = (size_t)w->n;
    int degree[SOP_MOST];
    int idle = 0;
    struct bits done = {0};
    bits_add(&done, 0);
    memcpy(t->price, t->root_price, n * sizeof *t->price);
    for (int k = 0; k < steps && w->lower < w->best_cost; k++) {
        int64_t bound = grow_priced(t, &done, 0, t->price, degree);
        if (bound >= SOP_NONE) { /* no arborescence: nothing better than the best exists */
            w->lower = w->best_cost;
            return;
        }
        if (bound > t->best_bound) {
            t->best_bound = bound;
            memcpy(t->root_price, t->price, n * sizeof *t->price);
            idle = 0;
        } else if (++idle >= 10) {
            idle = 0;
            t->pace *= 0.7;
        }
        int64_t gap = w->best_cost >= SOP_NONE ? bound / 10 + 1 : w->best_cost * t->sharp - bound;
        if (!move_prices(t, t->price, degree, (double)gap) || t->pace < 1e-4 || !work_go_on(w, 2 * (int64_t)(n * n))) {
            break;
        }
    }
    t->pace = t->pace < 0.1 ? 0.1 : t->pace;
    int64_t lower = whole(t, t->best_bound);
    lower = lower < w->best_cost ? lower : w->best_cost;
    w->lower = lower > w->lower ? lower : w->lower;
    int64_t bound = grow_priced(t, &done, 0, t->root_price, degree);
    if (bound < SOP_NONE && w->best_cost < SOP_NONE) {
        drop_steps(t, bound);
    }
    memcpy(t->best_price, t->root_price, n * sizeof *t->price);
    fill_into(t, t->best_price);
}

const int32_t *tree_slack(const struct sop_tree *t)
{
    return t->slack;
}

int64_t tree_bound(struct sop_tree *t, const struct bits *done, int last, int64_t *next)
{
    int n = t->w->n;
    int64_t prices = choose_nodes(t, done, last, t->best_price);
    fill_rows(t, false);
    close_first_steps(t, done);
    int64_t total = grow(t, false);
    if (total >= SOP_NONE) {
        return SOP_NONE;
    }
    for (int v = 1; v < t->m; v++) {
        int32_t first = t->into[(size_t)t->node[v] * (size_t)n + (size_t)last];
        next[t->node[v]] = first >= NO_LEAST ? SOP_NONE : whole(t, total - prices + first - t->dual[v]);
    }
    return whole(t, total - prices);
}
