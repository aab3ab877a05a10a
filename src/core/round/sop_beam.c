/* The exact search: dynamic programming over (nodes done, last node) in layers, bounded.
 *
 * Of the ways to a state only the cheapest is kept. A state's bound is looked at when its turn comes; until then it has
 * the bound its predecessor's arborescence gave it. What cannot beat the best order is dropped; of the rest at most
 * `width` states a layer are taken, the most promising first. If none had to be left out, the best order is proven. A
 * node that can follow at once without cost (sop_order.c, twins) is the only one tried.
 */
#include "round/sop_internal.h"

#include <string.h>

struct beam_state {
    struct bits done;
    int64_t bound; /* of the whole order through this state */
    int64_t cost;  /* up to here */
    int32_t from;  /* index in the layer before */
    int16_t last;
};

/* One layer: states, and a table to find them by (done, last). */
struct layer {
    struct beam_state *at;
    size_t n, cap;
    uint32_t *slots; /* index + 1 */
    size_t n_slots;  /* a power of two */
};

/* What is kept of the states taken, to trace an order back. */
struct trail {
    int32_t *from;
    int16_t *last;
    size_t n;
};

static uint32_t *layer_slot(struct layer *l, const struct bits *done, int last)
{
    size_t i = (size_t)bits_hash(done, (uint64_t)last) & (l->n_slots - 1);
    while (l->slots[i] && (l->at[l->slots[i] - 1].last != last || !bits_eq(&l->at[l->slots[i] - 1].done, done))) {
        i = (i + 1) & (l->n_slots - 1);
    }
    return &l->slots[i];
}

/* Adds a state, or makes the one that is there cheaper. */
static void layer_add(struct layer *l, struct arena *a, const struct beam_state *s)
{
    if (2 * l->n >= l->n_slots) {
        l->n_slots = l->n_slots ? 2 * l->n_slots : 1024;
        l->slots = ARENA_ARRAY(a, uint32_t, l->n_slots);
        for (size_t i = 0; i < l->n; i++) {
            *layer_slot(l, &l->at[i].done, l->at[i].last) = (uint32_t)i + 1;
        }
    }
    uint32_t *slot = layer_slot(l, &s->done, s->last);
    if (!*slot) {
        ARENA_PUSH(a, l->at, l->n, l->cap) = *s;
        *slot = (uint32_t)l->n;
    } else if (s->cost < l->at[*slot - 1].cost) {
        l->at[*slot - 1] = *s;
    }
}

/* Traces the order back that ends with state i of layer k, and fills it up to the end. */
static void trace(struct sop_work *w, const struct trail *trails, int k, int32_t i, int64_t cost)
{
    int order[SOP_MOST];
    order[w->n - 1] = w->n - 1;
    for (; k >= 0; k--) {
        order[k] = trails[k].last[i];
        i = trails[k].from[i];
    }
    work_take(w, order, cost);
}

/* Sorts indices by the states' bounds, then costs, then numbers (heap sort: no recursion, no extra memory). */
static bool sooner(const struct layer *l, uint32_t x, uint32_t y)
{
    const struct beam_state *a = &l->at[x];
    const struct beam_state *b = &l->at[y];
    return a->bound != b->bound ? a->bound < b->bound : a->cost != b->cost ? a->cost > b->cost : x < y;
}

static void sift(const struct layer *l, uint32_t *index, size_t i, size_t n)
{
    for (size_t k = 2 * i + 1; k < n; k = 2 * i + 1) {
        if (k + 1 < n && sooner(l, index[k], index[k + 1])) {
            k++;
        }
        if (!sooner(l, index[i], index[k])) {
            return;
        }
        uint32_t x = index[i];
        index[i] = index[k];
        index[k] = x;
        i = k;
    }
}

static uint32_t *sorted(const struct layer *l, struct arena *a)
{
    uint32_t *index = ARENA_ARRAY(a, uint32_t, l->n + 1);
    for (size_t i = 0; i < l->n; i++) {
        index[i] = (uint32_t)i;
    }
    for (size_t i = l->n / 2; i-- > 0;) {
        sift(l, index, i, l->n);
    }
    for (size_t n = l->n; n-- > 1;) {
        uint32_t x = index[0];
        index[0] = index[n];
        index[n] = x;
        sift(l, index, 0, n);
    }
    return index;
}

/* All states that follow s, which is number `from` of its layer. False when s itself can't beat the best order. */
static bool expand(struct sop_work *w, struct sop_tree *t, const struct beam_state *s, int32_t from, struct layer *next,
                   struct arena *a)
{
    int64_t ahead[SOP_MOST];
    int n = w->n;
    int64_t bound = tree_bound(t, &s->done, s->last, ahead);
    if (bound >= SOP_NONE || s->cost + bound >= w->best_cost) {
        return false;
    }
    int twin = -1;
    struct bits open = bits_less(w->twin[s->last], s->done);
    for (int b = bits_next(&open, 0); b >= 0 && twin < 0; b = bits_next(&open, b + 1)) {
        twin = bits_within(&w->before[b], &s->done) ? b : -1;
    }
    for (int b = 1; b < n; b++) {
        int32_t step = b == twin ? 0 : w->cost[(size_t)s->last * (size_t)n + (size_t)b];
        if (bits_has(&s->done, b) || step >= SOP_FAR || (twin >= 0 && b != twin) ||
            !bits_within(&w->before[b], &s->done)) {
            continue;
        }
        int64_t f = s->cost + (b == twin ? bound : ahead[b]);
        f = f > s->bound ? f : s->bound;
        if (f < w->best_cost) {
            struct beam_state to = {s->done, f, s->cost + step, from, (int16_t)b};
            bits_add(&to.done, b);
            layer_add(next, a, &to);
        }
    }
    return true;
}

/* Everything one run holds. */
struct beam {
    struct sop_work *w;
    struct sop_tree *t;
    int width;
    struct arena keep;    /* trails */
    struct arena turn[2]; /* layers, in turns */
    struct trail *trails; /* [n] */
    int64_t left_out;     /* the least bound of what was left out */
};

/* What could be the last of layer k + 1 = n - 1: the order is whole. */
static void finish(struct beam *b, int k, const struct beam_state *s, int32_t i)
{
    struct sop_work *w = b->w;
    int32_t step = w->cost[(size_t)s->last * (size_t)w->n + (size_t)w->n - 1];
    if (step < SOP_FAR && s->cost + step < w->best_cost) {
        trace(w, b->trails, k, i, s->cost + step);
    }
}

/* Goes on from the best `width` states of layer k that can still beat the best order, and makes the next layer. */
static void next_layer(struct beam *b, int k, struct layer *now, struct layer *next)
{
    struct sop_work *w = b->w;
    struct arena *a = &b->turn[(k + 1) % 2];
    arena_free(a);
    *next = (struct layer){0};
    uint32_t *index = sorted(now, &b->turn[k % 2]);
    size_t most = now->n < (size_t)b->width ? now->n : (size_t)b->width;
    struct trail *trail = &b->trails[k];
    trail->from = ARENA_ARRAY(&b->keep, int32_t, most + 1);
    trail->last = ARENA_ARRAY(&b->keep, int16_t, most + 1);
    size_t taken = 0;
    for (size_t i = 0; i < now->n; i++) {
        const struct beam_state *s = &now->at[index[i]];
        if (s->bound >= w->best_cost) {
            break; /* sorted: no other is better */
        }
        if (taken == most || w->stopped || w->states >= w->o->most_states) {
            b->left_out = s->bound < b->left_out ? s->bound : b->left_out;
            break;
        }
        trail->from[taken] = s->from;
        trail->last[taken] = s->last;
        if (k + 2 == w->n) {
            finish(b, k, s, (int32_t)taken);
            taken++;
        } else {
            taken += expand(w, b->t, s, (int32_t)taken, next, a);
            w->states++;
            work_go_on(w, (int64_t)(w->n - k) * (w->n - k));
        }
    }
}

bool beam_run(struct sop_work *w, struct sop_tree *t, int width)
{
    struct beam b = {.w = w, .t = t, .width = width, .left_out = SOP_NONE};
    b.keep = arena_new(w->a->source);
    b.turn[0] = arena_new(w->a->source);
    b.turn[1] = arena_new(w->a->source);
    b.trails = ARENA_ARRAY(&b.keep, struct trail, w->n);
    struct layer now = {0};
    struct beam_state start = {.bound = w->lower, .last = 0, .from = -1};
    bits_add(&start.done, 0);
    layer_add(&now, &b.turn[0], &start);
    for (int k = 0; k + 1 < w->n && now.n; k++) {
        struct layer next;
        next_layer(&b, k, &now, &next);
        now = next;
    }
    int64_t lower = b.left_out < w->best_cost ? b.left_out : w->best_cost;
    if (w->best_cost < SOP_NONE || b.left_out < SOP_NONE) {
        w->lower = lower > w->lower ? lower : w->lower;
    }
    arena_free(&b.turn[0]);
    arena_free(&b.turn[1]);
    arena_free(&b.keep);
    return b.left_out >= SOP_NONE;
}
