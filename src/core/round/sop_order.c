/* Rules and steps of a sequential ordering problem made ready: rules closed transitively, steps that no order can use
 * taken out (b before a; or a before c before b), and pairs found that can be put together at once. */
#include "round/sop_internal.h"

#include <string.h>

struct sop sop_new(struct arena *a, size_t n)
{
    struct sop p = {.n = n, .cost = ARENA_ARRAY(a, int32_t, n * n), .before = ARENA_ARRAY(a, bool, n *n)};
    for (size_t i = 0; i + 1 < n; i++) {
        p.before[i * n + n - 1] = true;
        p.before[i + 1] = true;
    }
    return p;
}

bool sop_check(const struct sop *p, const size_t *order, int64_t *cost)
{
    bool seen[SOP_MOST] = {false};
    *cost = 0;
    for (size_t i = 0; i < p->n; i++) {
        size_t b = order[i];
        if (b >= p->n || seen[b] || (i == 0 && b != 0) || (i + 1 == p->n && b != p->n - 1)) {
            return false;
        }
        for (size_t a = 0; a < p->n; a++) {
            if (p->before[a * p->n + b] && !seen[a]) {
                return false;
            }
        }
        seen[b] = true;
        int32_t step = i ? p->cost[order[i - 1] * p->n + b] : 0;
        if (step < 0) {
            return false;
        }
        *cost += step;
    }
    return true;
}

/* Sizes and costs in range? */
static bool check(const struct sop *p, struct err *e)
{
    if (p->n < 2 || p->n > SOP_MOST) {
        return err_set(e, ERR_INPUT, "2 to 256", "the number of nodes is out of range", (char *)0);
    }
    for (size_t i = 0; i < p->n * p->n; i++) {
        if (p->cost[i] < SOP_NEVER || p->cost[i] > SOP_MOST_COST) {
            return err_set(e, ERR_INPUT, "0 to 100000000, or -1 for a step that is not possible",
                           "a cost is out of range", (char *)0);
        }
    }
    return true;
}

/* Names a ring of rules through node i. */
static bool ring_error(const struct sop *p, const struct bits *before, int i, struct err *e)
{
    struct text t = text_new(e->a);
    struct bits seen = {0};
    int at = i;
    text_int(&t, i);
    do { /* go back along rules inside the ring until a node comes twice */
        bits_add(&seen, at);
        int back = -1;
        for (int b = 0; b < (int)p->n && back < 0; b++) {
            if (p->before[(size_t)b * p->n + (size_t)at] && (b == i || bits_has(&before[b], i)) &&
                bits_has(&before[at], b)) {
                back = b;
            }
        }
        at = back;
        text_addz(&t, " after ");
        text_int(&t, at);
    } while (!bits_has(&seen, at));
    return err_set(e, ERR_CONFLICT, "drop one of these rules", "rules form a ring, no order keeps them: ", text_z(&t),
                   (char *)0);
}

/* Transitive closure (Warshall) over bit rows. */
static bool close_rules(struct sop_work *w, struct err *e)
{
    int n = w->n;
    for (int b = 0; b < n; b++) {
        for (int a = 0; a < n; a++) {
            bool ends = (a == 0 && b != 0) || (b == n - 1 && a != n - 1);
            if (ends || w->p->before[(size_t)a * (size_t)n + (size_t)b]) {
                bits_add(&w->before[b], a);
            }
        }
    }
    for (int k = 0; k < n; k++) {
        for (int b = 0; b < n; b++) {
            if (bits_has(&w->before[b], k)) {
                w->before[b] = bits_or(w->before[b], w->before[k]);
            }
        }
    }
    for (int b = 0; b < n; b++) {
        if (bits_has(&w->before[b], b)) {
            return ring_error(w->p, w->before, b, e);
        }
        for (int a = bits_next(&w->before[b], 0); a >= 0; a = bits_next(&w->before[b], a + 1)) {
            bits_add(&w->behind[a], b);
        }
    }
    return true;
}

/* Can y never follow x directly, whatever it costs? */
static bool apart(const struct sop_work *w, int x, int y)
{
    return x == y || bits_has(&w->before[x], y) || bits_meet(&w->behind[x], &w->before[y]);
}

/* Does going x, y directly never cost more than by way of b? */
static bool skips_well(const struct sop_work *w, int b)
{
    int n = w->n;
    const int32_t *c = w->p->cost;
    for (int x = 0; x < n; x++) {
        for (int y = 0; y < n; y++) {
            int32_t in = c[x * n + b];
            int32_t on = c[b * n + y];
            bool never = x == b || y == b || in < 0 || on < 0 || apart(w, x, y);
            if (!never && (c[x * n + y] < 0 || c[x * n + y] > in + on)) {
                return false;
            }
        }
    }
    return true;
}

/* Node b can be put right after a at once, whenever it is allowed: it costs nothing, going on from b is no dearer than
 * from a, and leaving b out where it would have stood costs nothing. So some best order does it. */
static void find_twins(struct sop_work *w)
{
    int n = w->n;
    for (int b = 1; b + 1 < n; b++) {
        if (!skips_well(w, b)) {
            continue;
        }
        for (int a = 0; a + 1 < n; a++) {
            const int32_t *ca = w->p->cost + (size_t)a * (size_t)n;
            const int32_t *cb = w->p->cost + (size_t)b * (size_t)n;
            bool twin = a != b && ca[b] == 0;
            for (int z = 1; z < n && twin; z++) {
                bool met = z == b || ca[z] < 0 || bits_has(&w->before[b], z) || apart(w, a, z);
                twin = met || (cb[z] >= 0 && cb[z] <= ca[z]);
            }
            if (twin) {
                bits_add(&w->twin[a], b);
            }
        }
    }
}

bool work_build(const struct sop *p, const struct sop_options *o, struct arena *a, struct sop_work *w, struct err *e)
{
    if (!check(p, e)) {
        return false;
    }
    size_t n = p->n;
    *w = (struct sop_work){.p = p, .a = a, .o = o, .n = (int)n, .best_cost = SOP_NONE};
    w->before = ARENA_ARRAY(a, struct bits, n);
    w->behind = ARENA_ARRAY(a, struct bits, n);
    w->twin = ARENA_ARRAY(a, struct bits, n);
    w->usable = ARENA_ARRAY(a, int32_t, n * n);
    w->cost = ARENA_ARRAY(a, int32_t, n * n);
    w->best = ARENA_ARRAY(a, int, n);
    if (!close_rules(w, e)) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < n; k++) {
            bool never = i == k || p->cost[i * n + k] < 0 || bits_has(&w->before[i], (int)k) ||
                         bits_meet(&w->behind[i], &w->before[k]);
            w->cost[i * n + k] = never ? SOP_FAR : p->cost[i * n + k];
        }
    }
    memcpy(w->usable, w->cost, n * n * sizeof *w->cost);
    find_twins(w);
    return true;
}

bool work_go_on(struct sop_work *w, int64_t ops)
{
    bool ask = (w->ops ^ (w->ops + ops)) >> 17 != 0; /* about every hundred thousand steps */
    w->ops += ops;
    if (ask && w->o->go_on && !w->o->go_on(w->o->ctx)) {
        w->stopped = true;
    }
    return !w->stopped;
}

bool work_take(struct sop_work *w, const int *order, int64_t cost)
{
    if (cost >= w->best_cost) {
        return false;
    }
    w->best_cost = cost;
    memcpy(w->best, order, (size_t)w->n * sizeof *order);
    return true;
}
