/* A first round: always to the nearest thing that can be done next.
 *
 * Nearest by the time of walking and changes, over (condition, place), Dijkstra's way with early stop. Cold work comes
 * before the engine is started without being told, for a long change makes what lies behind it far. Polynomial, so that
 * there is a round to hand out however little time is given; not always possible, for it may do what can't be undone.
 */
#include "round/round_internal.h"

#include <string.h>

/* Where one can get to. Node = condition * n_places + place. */
struct map {
    const struct round_model *m;
    struct arena *a;
    int32_t *time;
    int *from;       /* the node before */
    int *step;       /* the model's step taken there, -1 = walked */
    uint32_t *stamp; /* of which search the three are */
    uint32_t search;
    struct map_entry {
        int32_t time;
        int node;
    } * heap;
    size_t n, cap;
};

static void map_reach(struct map *p, int node, int32_t time, int from, int step)
{
    if (p->stamp[node] == p->search && p->time[node] <= time) {
        return;
    }
    p->stamp[node] = p->search;
    p->time[node] = time;
    p->from[node] = from;
    p->step[node] = step;
    size_t i = p->n;
    ARENA_PUSH(p->a, p->heap, p->n, p->cap) = (struct map_entry){time, node};
    while (i > 0 && p->heap[(i - 1) / 2].time > time) {
        p->heap[i] = p->heap[(i - 1) / 2];
        i = (i - 1) / 2;
    }
    p->heap[i] = (struct map_entry){time, node};
}

/* The nearest node not left yet; -1 when there is none. */
static int map_next(struct map *p)
{
    while (p->n) {
        struct map_entry top = p->heap[0];
        struct map_entry last = p->heap[--p->n];
        size_t i = 0;
        for (size_t k = 1; k < p->n; k = 2 * i + 1) {
            k += k + 1 < p->n && p->heap[k + 1].time < p->heap[k].time;
            if (last.time <= p->heap[k].time) {
                break;
            }
            p->heap[i] = p->heap[k];
            i = k;
        }
        p->heap[i] = last;
        if (top.time == p->time[top.node]) {
            return top.node;
        }
    }
    return -1;
}

/* A group that can be done at a node with `done` behind; -1 when there is none. */
static int doable(const struct round_model *m, struct bits done, int condition, int place)
{
    struct bits here = bits_less(bits_and(m->in_condition[condition], m->at_place[place]), done);
    for (int g = bits_next(&here, 0); g >= 0; g = bits_next(&here, g + 1)) {
        if (bits_within(&m->groups[g].before, &done)) {
            return g;
        }
    }
    return -1;
}

/* The nearest node where something can be done, or where the round ends when all is done. -1 when there is none. */
static int nearest(struct map *p, struct bits done, int condition, int place)
{
    const struct round_model *m = p->m;
    size_t n = m->n_places;
    bool all = bits_eq(&done, &m->all);
    int finish = m->p->finish_place;
    p->search++;
    p->n = 0;
    map_reach(p, condition * (int)n + place, 0, -1, -1);
    for (int at = map_next(p); at >= 0; at = map_next(p)) {
        int c = at / (int)n;
        int q = at % (int)n;
        if (all ? m->conditions.leave_far[c] == 0 && (finish == q || finish == ROUND_ANYWHERE)
                : doable(m, done, c, q) >= 0) {
            return at;
        }
        for (size_t r = 0; r < n; r++) {
            map_reach(p, c * (int)n + (int)r, p->time[at] + m->walk[(size_t)q * n + r], at, -1);
        }
        for (size_t k = m->conditions.first[c]; k < m->conditions.first[c + 1]; k++) {
            const struct model_step *x = &m->conditions.steps[k];
            if (!x->is_point && m->conditions.leavable[x->to] && (x->place == q || x->place == ROUND_ANYWHERE)) {
                map_reach(p, x->to * (int)n + q, p->time[at] + x->seconds, at, (int)k);
            }
        }
    }
    return -1;
}

/* Goes the way to a node. */
static void go_to(struct walkthrough *w, const struct map *p, int node)
{
    if (p->from[node] < 0) {
        return;
    }
    go_to(w, p, p->from[node]);
    if (p->step[node] < 0) {
        walk_to(w, node % (int)p->m->n_places);
    } else {
        walk_change(w, &p->m->conditions.steps[p->step[node]]);
    }
}

bool walk_greedy(const struct round_model *m, struct arena *a, struct walkthrough *w)
{
    struct arena scratch = arena_new(a->source);
    size_t nodes = m->conditions.n * m->n_places;
    struct map p = {.m = m,
                    .a = &scratch,
                    .time = ARENA_ARRAY(&scratch, int32_t, nodes),
                    .from = ARENA_ARRAY(&scratch, int, nodes),
                    .step = ARENA_ARRAY(&scratch, int, nodes),
                    .stamp = ARENA_ARRAY(&scratch, uint32_t, nodes)};
    *w = walk_begin(m, a);
    struct bits open = walk_undone(w);
    int node = 0;
    bool ends = false;
    while (node >= 0 && !ends) {
        struct bits done = bits_less(m->all, open);
        ends = bits_empty(&open);
        node = nearest(&p, done, w->condition, w->place);
        if (node >= 0) {
            go_to(w, &p, node);
            int g = doable(m, bits_less(m->all, walk_undone(w)), w->condition, w->place);
            if (g >= 0) { /* what sets nothing is done in passing */
                walk_set(w, g);
            }
            open = walk_undone(w);
        }
    }
    arena_free(&scratch);
    return node >= 0;
}
