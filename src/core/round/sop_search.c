/* Local search for sequential orders.
 *
 * One move: two neighbouring segments [i+1..j][j+1..k] change places. No segment is turned round, so costs stay local,
 * and the move is legal exactly if nothing of the first must precede something of the second (Gambardella and Dorigo
 * 2000, INFORMS Journal on Computing 12, 237-255: the path-preserving exchange of three steps). Of the three new steps
 * at least one beats the old step that leaves the same node, and the first two together beat theirs (Lin and Kernighan
 * 1973), so it is enough to look at the nearest nodes of each node, and only at nodes whose surroundings have changed.
 *
 * When no move is left the order is kicked by one legal exchange of short segments; worse orders are accepted now and
 * then.
 */
#include "round/sop_internal.h"

#include <string.h>

#define NEAR 12 /* nearest nodes looked at */

struct sop_search {
    struct sop_work *w;
    int *order, *place; /* [n] the present order; where each node stands in it */
    int64_t cost;
    int *kept; /* [n] the order before the kick */
    int64_t kept_cost;
    int *after, *from; /* [n * NEAR] nearest nodes to go to, and to come from; -1 ends */
    bool *waits;       /* [n] is in the queue */
    int *queue;        /* [n] nodes to look at, a ring */
    int head, n_queue;
    const int32_t *slack; /* [n * n] row b, column a: see search_lists; null = costs */
    int longest;          /* segment of a kick */
    uint64_t chance;
    int64_t ops;
    int64_t stale; /* kicks since the best order */
};

/* xorshift64* (Marsaglia 2003, Vigna 2016): a number below n. */
static int below(struct sop_search *s, int n)
{
    s->chance ^= s->chance >> 12;
    s->chance ^= s->chance << 25;
    s->chance ^= s->chance >> 27;
    return (int)((s->chance * UINT64_C(2685821657736338717) >> 33) % (uint64_t)n);
}

static int32_t cost(const struct sop_search *s, int a, int b)
{
    return s->w->usable[(size_t)a * (size_t)s->w->n + (size_t)b];
}

/* How near a -> b is: its cost, or once the bound is known what it costs too much; SOP_FAR when no better order uses
 * it. */
static int32_t farness(const struct sop_search *s, int a, int b)
{
    size_t n = (size_t)s->w->n;
    size_t at = (size_t)a * n + (size_t)b;
    return s->w->cost[at] >= SOP_FAR ? SOP_FAR : s->slack ? s->slack[(size_t)b * n + (size_t)a] : s->w->cost[at];
}

/* The NEAR nearest nodes, by insertion; ties keep the lower number. */
static void nearest(const struct sop_search *s, int a, bool out, int *list)
{
    int n = 0;
    for (int b = 0; b < s->w->n; b++) {
        int32_t c = out ? farness(s, a, b) : farness(s, b, a);
        if (c >= SOP_FAR) {
            continue;
        }
        int k = n < NEAR ? n++ : NEAR;
        while (k > 0 && (out ? farness(s, a, list[k - 1]) : farness(s, list[k - 1], a)) > c) {
            if (k < NEAR) {
                list[k] = list[k - 1];
            }
            k--;
        }
        if (k < NEAR) {
            list[k] = b;
        }
    }
    while (n < NEAR) {
        list[n++] = -1;
    }
}

static void wake(struct sop_search *s, int node)
{
    if (!s->waits[node]) {
        s->waits[node] = true;
        s->queue[(s->head + s->n_queue++) % s->w->n] = node;
    }
}

/* Must anything in [i..j) of the order come before anything in [j..k)? */
static bool blocked(const struct sop_search *s, int i, int j, int k)
{
    struct bits all = {0};
    bool short_first = j - i < k - j;
    for (int x = short_first ? j : i; x < (short_first ? k : j); x++) {
        bits_add(&all, s->order[x]);
    }
    for (int x = short_first ? i : j; x < (short_first ? j : k); x++) {
        const struct bits *rule = short_first ? &s->w->behind[s->order[x]] : &s->w->before[s->order[x]];
        if (bits_meet(rule, &all)) {
            return true;
        }
    }
    return false;
}

/* What the exchange of (i..j] and (j..k] saves; very negative when it uses an impossible step. */
static int64_t saving(const struct sop_search *s, int i, int j, int k)
{
    const int *o = s->order;
    return (int64_t)cost(s, o[i], o[i + 1]) + cost(s, o[j], o[j + 1]) + cost(s, o[k], o[k + 1]) -
           cost(s, o[i], o[j + 1]) - cost(s, o[k], o[i + 1]) - cost(s, o[j], o[k + 1]);
}

/* Exchanges (i..j] and (j..k]. */
static void exchange(struct sop_search *s, int i, int j, int k)
{
    int *o = s->order;
    int tmp[SOP_MOST];
    s->cost -= saving(s, i, j, k);
    int ends[6] = {o[i], o[i + 1], o[j], o[j + 1], o[k], o[k + 1]};
    size_t first = (size_t)(j - i);
    size_t second = (size_t)(k - j);
    memcpy(tmp, o + i + 1, first * sizeof *o);
    memmove(o + i + 1, o + j + 1, second * sizeof *o);
    memcpy(o + i + 1 + second, tmp, first * sizeof *o);
    for (int x = i + 1; x <= k; x++) {
        s->place[o[x]] = x;
    }
    for (int x = 0; x < 6; x++) {
        wake(s, ends[x]);
    }
    s->ops += k - i;
}

/* Tries one exchange given by its three places in any turn. */
static bool try_exchange(struct sop_search *s, int i, int j, int k)
{
    s->ops++;
    if (i < 0 || i >= j || j >= k || k + 1 >= s->w->n || saving(s, i, j, k) <= 0) {
        return false;
    }
    s->ops += k - i;
    if (blocked(s, i + 1, j + 1, k + 1)) {
        return false;
    }
    exchange(s, i, j, k);
    return true;
}

/* The third step of an exchange: `sure` is what is saved so far, the old step that falls away with `end` included.
 * Either a near node comes before `head`, or one follows `end`; `role` says which of the three places is still open. */
enum role { FIRST, SECOND, THIRD };

static bool third_step(struct sop_search *s, int a, int b, enum role open, int head, int end, int64_t sure)
{
    const int *p = s->place;
    for (int q = 0; q < NEAR; q++) {
        int u = s->from[head * NEAR + q];
        if (u < 0) {
            break;
        }
        if (cost(s, u, head) < sure) {
            int at = p[u];
            if (open == FIRST    ? try_exchange(s, at, a, b)
                : open == SECOND ? try_exchange(s, a, at, b)
                                 : try_exchange(s, a, b, at)) {
                return true;
            }
        }
    }
    for (int q = 0; q < NEAR; q++) {
        int y = s->after[end * NEAR + q];
        if (y < 0) {
            break;
        }
        if (cost(s, end, y) < sure) {
            int at = p[y] - 1;
            if (open == FIRST    ? try_exchange(s, at, a, b)
                : open == SECOND ? try_exchange(s, a, at, b)
                                 : try_exchange(s, a, b, at)) {
                return true;
            }
        }
    }
    return false;
}

/* Exchanges in which the step leaving the node at place x becomes a step to a nearer node v. The node is the end before
 * the first segment (then v heads the second), of the first (v follows the second), or of the second (v heads the
 * first). */
static bool improve_at(struct sop_search *s, int x)
{
    const int *o = s->order;
    if (x < 0 || x + 1 >= s->w->n) {
        return false;
    }
    int64_t old = cost(s, o[x], o[x + 1]);
    for (int m = 0; m < NEAR; m++) {
        int v = s->after[o[x] * NEAR + m];
        if (v < 0) {
            break;
        }
        int64_t gain = old - cost(s, o[x], v);
        int y = s->place[v] - 1; /* the step from y into v falls away */
        if (gain <= 0 || y < 0 || y == x) {
            continue;
        }
        int64_t sure = gain + cost(s, o[y], v);
        int head = o[x + 1];
        int end = o[y];
        s->ops += 4;
        if (y > x ? third_step(s, x, y, THIRD, head, end, sure) || third_step(s, x, y, FIRST, head, end, sure)
                  : third_step(s, y, x, SECOND, head, end, sure)) {
            return true;
        }
    }
    return false;
}

/* Improves until nothing waits. */
static void descend(struct sop_search *s)
{
    while (s->n_queue) {
        int node = s->queue[s->head];
        s->head = (s->head + 1) % s->w->n;
        s->n_queue--;
        s->waits[node] = false;
        while (improve_at(s, s->place[node]) || improve_at(s, s->place[node] - 1)) {
        }
    }
}

/* One to three legal exchanges of short segments by chance. */
static void kick(struct sop_search *s)
{
    int n = s->w->n;
    int left = 1 + below(s, 3);
    for (int tries = 0; tries < 60 && left; tries++) {
        int i = below(s, n - 3);
        int j = i + 1 + below(s, s->longest);
        int k = j + 1 + below(s, s->longest);
        s->ops += 4;
        if (k + 1 < n && saving(s, i, j, k) > -SOP_FAR / 2 && !blocked(s, i + 1, j + 1, k + 1)) {
            exchange(s, i, j, k);
            left--;
        }
    }
}

/* A first order: always the cheapest allowed node next; costs of impossible steps count as SOP_FAR and are then
 * improved. */
static void first_order(struct sop_search *s)
{
    int n = s->w->n;
    struct bits done = {0};
    int at = 0;
    bits_add(&done, 0);
    for (int k = 1; k < n; k++) {
        int next = -1;
        for (int b = 0; b < n; b++) {
            if (!bits_has(&done, b) && bits_within(&s->w->before[b], &done) &&
                (next < 0 || cost(s, at, b) < cost(s, at, next))) {
                next = b;
            }
        }
        s->order[k] = next;
        s->cost += cost(s, at, next);
        bits_add(&done, next);
        at = next;
    }
    for (int k = 0; k < n; k++) {
        s->place[s->order[k]] = k;
        wake(s, s->order[k]);
    }
}

/* Takes the present order as the best when it is. */
static void keep_best(struct sop_search *s)
{
    if (s->cost < SOP_FAR && work_take(s->w, s->order, s->cost)) {
        s->stale = 0;
    }
}

/* Makes another order the present one. */
static void restart_from(struct sop_search *s, const int *order, int64_t c)
{
    memcpy(s->order, order, (size_t)s->w->n * sizeof *order);
    for (int k = 0; k < s->w->n; k++) {
        s->place[s->order[k]] = k;
    }
    s->cost = c;
}

void search_lists(struct sop_search *s, const int32_t *slack)
{
    s->slack = slack;
    for (int a = 0; a < s->w->n; a++) {
        nearest(s, a, true, s->after + a * NEAR);
        nearest(s, a, false, s->from + a * NEAR);
    }
}

struct sop_search *search_new(struct sop_work *w)
{
    struct sop_search *s = ARENA_NEW(w->a, struct sop_search);
    int n = w->n;
    s->w = w;
    s->order = ARENA_ARRAY(w->a, int, n);
    s->place = ARENA_ARRAY(w->a, int, n);
    s->kept = ARENA_ARRAY(w->a, int, n);
    s->queue = ARENA_ARRAY(w->a, int, n);
    s->waits = ARENA_ARRAY(w->a, bool, n);
    s->after = ARENA_ARRAY(w->a, int, n *NEAR);
    s->from = ARENA_ARRAY(w->a, int, n *NEAR);
    s->chance = w->o->seed ? w->o->seed : UINT64_C(0x9e3779b97f4a7c15);
    search_lists(s, NULL);
    first_order(s);
    descend(s);
    keep_best(s);
    memcpy(s->kept, s->order, (size_t)n * sizeof *s->kept);
    s->kept_cost = s->cost;
    return s;
}

/* Is a worse order accepted? With about the probability exp(-d / t) for t = cost / (5 n): halving for each 0.7 t,
 * linear in between, in whole numbers so that it is the same everywhere. */
static bool accept(struct sop_search *s)
{
    int64_t d = s->cost - s->kept_cost;
    if (d <= 0) {
        return true;
    }
    int64_t eighths = d * 400 * s->w->n / (7 * (s->kept_cost + 1)); /* of a halving */
    return eighths < 160 && below(s, 1 << 24) < (int)(((16 - eighths % 8) << 20) >> (eighths / 8));
}

void search_run(struct sop_search *s, int longest, int64_t ops)
{
    s->longest = longest;
    int64_t until = s->ops + ops;
    if (s->w->n < 4) {
        return;
    }
    while (s->ops < until && s->w->best_cost > s->w->lower) {
        int64_t before = s->ops;
        kick(s);
        descend(s);
        s->w->kicks++;
        keep_best(s);
        if (accept(s)) {
            memcpy(s->kept, s->order, (size_t)s->w->n * sizeof *s->kept);
            s->kept_cost = s->cost;
        } else {
            restart_from(s, s->kept, s->kept_cost);
        }
        if (++s->stale % 5000 == 0 && s->w->best_cost < SOP_NONE) {
            restart_from(s, s->w->best, s->w->best_cost);
            memcpy(s->kept, s->order, (size_t)s->w->n * sizeof *s->kept);
            s->kept_cost = s->cost;
        }
        s->ops += s->w->n / 4;
        if (!work_go_on(s->w, s->ops - before)) {
            return;
        }
    }
}
