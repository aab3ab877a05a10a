/* One level of the search: exact shortest rounds through a part of the groups.
 *
 * A state is (groups done, condition) with the least time for every place. Walking is free of consequence, so times
 * spread to all places by the walking matrix; a state goes on by serving a place where some group can be done now, by a
 * change, or by a point that sets variables. On arriving anywhere, everything that can be done there is done
 * (level_pass): that is never worse, for it costs no move and only frees others, and it leaves states that differ only
 * by the places still to be served. For the same reason nothing else is begun at a place before the work there is done.
 *
 * States are reached in layers by the number of groups done; inside a layer (changes alone) best first. Then a sweep
 * backward gives every state its exact time to go. A state of a finer level maps to one of the guide by forgetting
 * groups, if `keep` holds with a group all that come before it: then what is done in passing maps too. So the guide's
 * time to go is a lower bound, and a state that the guide has not, or that with the bound reaches the limit, is left
 * out (Ibaraki 1987, Annals of Operations Research 11, successive sublimation; Tanaka, Fujikuma and Araki 2009 for one
 * machine).
 */
#include "round/round_internal.h"

#include <string.h>

struct bits level_pass(const struct round_model *m, struct bits keep, struct bits done, int condition, int place)
{
    struct bits here = bits_less(bits_and(bits_and(keep, m->in_condition[condition]), m->at_place[place]), m->setters);
    bool more = true;
    while (more) {
        more = false;
        struct bits open = bits_less(here, done);
        for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
            if (bits_within(&m->groups[g].before, &done)) {
                bits_add(&done, g);
                more = true;
            }
        }
    }
    return done;
}

/* A multiplicative hash, word by word; few groups leave most words empty. */
static uint64_t state_hash(const struct bits *done, int condition)
{
    uint64_t h = (uint64_t)condition * UINT64_C(0x2545f4914f6cdd1d);
    for (int k = 0; k < BITS_WORDS; k++) {
        h = (h ^ done->w[k]) * UINT64_C(0x9e3779b97f4a7c15);
        h ^= h >> 29;
    }
    return h;
}

/* The slot of a state, filled or not. */
static struct level_slot *level_slot(const struct level *l, uint64_t hash, const struct bits *done, int condition)
{
    size_t i = (size_t)hash & (l->cap - 1);
    while (l->slots[i].state && (l->slots[i].hash != hash || l->slots[i].state->condition != condition ||
                                 !bits_eq(&l->slots[i].state->done, done))) {
        i = (i + 1) & (l->cap - 1);
    }
    return &l->slots[i];
}

/* Doubles the table. */
static void level_grow(struct level *l)
{
    const struct level_slot *old = l->slots;
    size_t cap = l->cap;
    l->cap = cap ? cap * 2 : 256;
    l->slots = ARENA_ARRAY(l->a, struct level_slot, l->cap);
    for (size_t i = 0; i < cap; i++) {
        if (old[i].state) {
            *level_slot(l, old[i].hash, &old[i].state->done, old[i].state->condition) = old[i];
        }
    }
}

/* Can a way below the limit lead through the state of a swept level? */
static bool alive(const struct level *l, const struct level_state *s, int32_t limit)
{
    for (size_t q = 0; q < l->m->n_places; q++) {
        if (s->so_far[q] < ROUND_INF && s->to_go[q] < ROUND_INF && s->so_far[q] + s->to_go[q] < limit) {
            return true;
        }
    }
    return false;
}

/* The guide's state for one of ours, or the sieve's. False when it has ruled ours out; null when there is neither. */
static bool guide_state(const struct level *l, const struct bits *done, int condition, const struct level_state **g)
{
    *g = NULL;
    const struct level *by = l->guide ? l->guide : l->sieve;
    if (!by) {
        return true;
    }
    struct bits less = bits_and(*done, by->keep);
    *g = level_slot(by, state_hash(&less, condition), &less, condition)->state;
    return *g && (l->guide || alive(by, *g, l->limit));
}

/* No less than this is to go from each place of a state. */
static void fill_bound(const struct level *l, const struct bits *done, int condition, const struct level_state *g,
                       int32_t *bound)
{
    for (size_t q = 0; q < l->m->n_places; q++) {
        bound[q] = l->guide ? g->to_go[q] : l->price ? -ROUND_INF : 0;
    }
    if (l->guide) {
        level_earned_each(l, done, condition, bound);
    }
}

/* Finds or makes a state; null when the guide rules it out. */
static struct level_state *level_state(struct level *l, const struct bits *done, int condition)
{
    if (l->n * 2 >= l->cap) {
        level_grow(l);
    }
    uint64_t hash = state_hash(done, condition);
    struct level_slot *slot = level_slot(l, hash, done, condition);
    if (slot->state) {
        return slot->state;
    }
    const struct level_state *g = NULL;
    if (!guide_state(l, done, condition, &g)) {
        return NULL;
    }
    size_t n = l->m->n_places;
    struct level_state *s = ARENA_NEW(l->a, struct level_state);
    int32_t *times = ARENA_ARRAY(l->a, int32_t, 3 * n);
    *s = (struct level_state){.done = *done,
                              .condition = condition,
                              .layer = bits_count(done),
                              .best = ROUND_INF,
                              .so_far = times,
                              .to_go = times + n,
                              .bound = times + 2 * n,
                              .fell = ARENA_ARRAY(l->a, uint32_t, n)};
    for (size_t q = 0; q < n; q++) {
        s->so_far[q] = ROUND_INF;
        s->to_go[q] = ROUND_INF;
    }
    fill_bound(l, done, condition, g, s->bound);
    *slot = (struct level_slot){hash, s};
    l->n++;
    s->next = l->layers[s->layer];
    l->layers[s->layer] = s;
    l->full = (int64_t)l->n > l->most_states;
    return s;
}

/* States of one layer that wait, least key first. Entries may be stale; the state's `best` tells. */
struct queue {
    struct arena *a;
    struct {
        int32_t key;
        struct level_state *s;
    } * at;
    size_t n, cap;
};

static void queue_push(struct queue *h, struct level_state *s)
{
    s->queued = true;
    size_t i = h->n;
    ARENA_PUSH(h->a, h->at, h->n, h->cap).s = s;
    h->at[i].key = s->best;
    while (i > 0 && h->at[(i - 1) / 2].key > h->at[i].key) {
        __typeof__(*h->at) x = h->at[i];
        h->at[i] = h->at[(i - 1) / 2];
        h->at[(i - 1) / 2] = x;
        i = (i - 1) / 2;
    }
}

/* The waiting state with the least key; null when none is left. */
static struct level_state *queue_pop(struct queue *h)
{
    while (h->n) {
        struct level_state *s = h->at[0].s;
        bool fresh = s->queued && h->at[0].key == s->best;
        h->at[0] = h->at[--h->n];
        size_t i = 0;
        for (;;) {
            size_t k = 2 * i + 1;
            if (k + 1 < h->n && h->at[k + 1].key < h->at[k].key) {
                k++;
            }
            if (k >= h->n || h->at[i].key <= h->at[k].key) {
                break;
            }
            __typeof__(*h->at) x = h->at[i];
            h->at[i] = h->at[k];
            h->at[k] = x;
            i = k;
        }
        if (fresh) {
            s->queued = false;
            return s;
        }
    }
    return NULL;
}

/* What one expansion needs. */
struct expansion {
    struct level *l;
    struct level_state *s;
    struct queue *h;
    int32_t *time;    /* [n_places] least time to be at each place in this state */
    struct bits work; /* places where a group can be served now */
    struct level_move *moves;
    size_t n, cap;
};

/* One can be at place q of state s at this time. */
static void relax(struct expansion *x, struct level_state *s, int q, int32_t time)
{
    if (time + s->bound[q] >= x->l->limit || time >= s->so_far[q]) {
        return;
    }
    s->so_far[q] = time;
    int32_t key = time + s->bound[q];
    if (s->queued && key >= s->best) {
        return;
    }
    s->best = key;
    s->queued = true;
    if (s->layer == x->s->layer) {
        queue_push(x->h, s);
    }
}

/* Adds a move and spreads its time. */
static void go(struct expansion *x, const struct bits *done, int condition, int place, struct level_move move)
{
    move.ticks -= level_toggle(x->l, x->s->condition, condition, place);
    const struct level_state *g = NULL;
    if (!guide_state(x->l, done, condition, &g) ||
        (x->l->guide &&
         x->time[place] + move.ticks + g->to_go[place] + level_earned(x->l, done, condition, place) >= x->l->limit)) {
        return;
    }
    struct level_state *to = level_state(x->l, done, condition);
    if (!to) {
        return;
    }
    move.to = to;
    move.place = place;
    ARENA_PUSH(x->h->a, x->moves, x->n, x->cap) = move;
    relax(x, to, place, x->time[place] + move.ticks);
}

/* A step that can be taken anywhere: one move for all places where nothing comes of it in passing, one for each other.
 */
static void go_anywhere(struct expansion *x, const struct bits *done, int condition, struct level_move move)
{
    const struct round_model *m = x->l->m;
    struct bits plain = {0};
    for (size_t q = 0; q < m->n_places; q++) {
        if (bits_has(&x->work, (int)q) || x->time[q] >= ROUND_INF) {
            continue;
        }
        struct bits then = level_pass(m, x->l->keep, *done, condition, (int)q);
        if (bits_eq(&then, done) && level_toggle(x->l, x->s->condition, condition, (int)q) == 0) {
            bits_add(&plain, (int)q);
        } else {
            go(x, &then, condition, (int)q, move);
        }
    }
    struct level_state *to = bits_empty(&plain) ? NULL : level_state(x->l, done, condition);
    if (!to) {
        return;
    }
    move.to = to;
    move.place = ROUND_ANYWHERE;
    struct bits *where = ARENA_NEW(x->l->a, struct bits);
    *where = plain;
    move.where = where;
    ARENA_PUSH(x->h->a, x->moves, x->n, x->cap) = move;
    for (int q = bits_next(&plain, 0); q >= 0; q = bits_next(&plain, q + 1)) {
        relax(x, to, q, x->time[q] + move.ticks);
    }
}

/* A change or a setting point, at its place or anywhere. */
static void go_step(struct expansion *x, const struct bits *done, int condition, int place, struct level_move move)
{
    if (place == ROUND_ANYWHERE) {
        go_anywhere(x, done, condition, move);
    } else if (!bits_has(&x->work, place)) {
        struct bits then = level_pass(x->l->m, x->l->keep, *done, condition, place);
        go(x, &then, condition, place, move);
    }
}

/* Groups of the level that can be done now, in the state's condition. */
static struct bits available(const struct level *l, const struct level_state *s)
{
    struct bits open = bits_and(bits_less(l->keep, s->done), l->m->in_condition[s->condition]);
    struct bits can = {0};
    for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
        if (bits_within(&l->m->groups[g].before, &s->done)) {
            bits_add(&can, g);
        }
    }
    return can;
}

/* All moves from a state. */
static void expand(struct expansion *x)
{
    struct level *l = x->l;
    const struct round_model *m = l->m;
    struct level_state *s = x->s;
    size_t n = m->n_places;
    for (size_t q = 0; q < n; q++) {
        x->time[q] = ROUND_INF;
    }
    for (size_t p = 0; p < n; p++) {
        const int32_t *walk = l->walks[s->condition]->ticks + p * n;
        for (size_t q = 0; q < n && s->so_far[p] < ROUND_INF; q++) {
            int32_t t = s->so_far[p] + walk[q];
            x->time[q] = t < x->time[q] ? t : x->time[q];
        }
    }
    x->n = 0;
    x->work = (struct bits){0};
    struct bits can = available(l, s);
    struct bits serve = bits_less(can, m->setters);
    for (int g = bits_next(&serve, 0); g >= 0; g = bits_next(&serve, g + 1)) {
        int q = m->groups[g].place;
        if (!bits_has(&x->work, q)) {
            bits_add(&x->work, q);
            struct bits then = level_pass(m, l->keep, s->done, s->condition, q);
            go(x, &then, s->condition, q, (struct level_move){.index = (int)m->groups[g].point, .kind = LEVEL_SERVE});
        }
    }
    const struct model_conditions *cs = &m->conditions;
    for (size_t k = cs->first[s->condition]; k < cs->first[s->condition + 1]; k++) {
        const struct model_step *c = &cs->steps[k];
        bool kept = c->is_point && bits_has(&l->keep, m->group_of[c->index]);
        if (!kept && c->to != s->condition && cs->leavable[c->to]) {
            go_step(x, &s->done, c->to, c->place,
                    (struct level_move){.ticks = c->seconds * LEVEL_TICKS,
                                        .index = c->index,
                                        .kind = c->is_point ? LEVEL_POINT : LEVEL_CHANGE});
        }
    }
    struct bits set = bits_and(can, m->setters);
    for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
        struct bits then = s->done;
        bits_add(&then, g);
        go_step(x, &then, m->point_to[g][s->condition], m->groups[g].place,
                (struct level_move){.index = (int)m->groups[g].point, .kind = LEVEL_POINT});
    }
    if ((int)x->n > s->n_moves) {
        s->moves = ARENA_ARRAY(l->a, struct level_move, x->n);
    }
    s->n_moves = (int)x->n;
    if (x->n) {
        memcpy(s->moves, x->moves, x->n * sizeof *x->moves);
    }
    s->expanded = true;
}

/* Asks now and then whether to go on. */
static bool level_go_on(struct level *l)
{
    const struct round_options *o = l->options;
    ++*l->work;
    bool enough = *l->work >= o->most_work;
    if (enough || (*l->work % 64 == 0 && o->go_on && !o->go_on(o->ctx))) {
        l->stopped = true;
    }
    return !l->stopped && !l->full;
}

/* Expands what waits in a layer. */
static bool expand_layer(struct level *l, int k, struct expansion *x)
{
    x->h->n = 0;
    for (struct level_state *s = l->layers[k]; s; s = s->next) {
        if (s->queued) {
            queue_push(x->h, s);
        }
    }
    int count = 0;
    for (struct level_state *s = queue_pop(x->h); s; s = queue_pop(x->h)) {
        if (l->width && count >= l->width) {
            l->cut = true;
            break;
        }
        count += !s->expanded;
        x->s = s;
        expand(x);
        if (!level_go_on(l)) {
            return false;
        }
    }
    return true;
}

/* What stands against the prices at the start: all of them, but for half of those that can be earned where one is. */
static int32_t level_begin(const struct level *l)
{
    struct bits open = bits_less(l->m->all, l->keep);
    int32_t ticks = -l->walks[0]->half[l->m->p->start_place];
    for (int g = bits_next(&open, 0); l->price && g >= 0; g = bits_next(&open, g + 1)) {
        ticks += l->price[g];
    }
    return ticks;
}

bool level_forward(struct level *l)
{
    struct arena scratch = arena_new(l->a->source);
    struct queue h = {.a = &scratch};
    struct expansion x = {.l = l, .h = &h, .time = ARENA_ARRAY(&scratch, int32_t, l->m->n_places)};
    l->n_layers = bits_count(&l->keep) + 1;
    l->layers = ARENA_ARRAY(l->a, struct level_state *, l->n_layers);
    level_price(l);
    struct bits done = level_pass(l->m, l->keep, (struct bits){0}, 0, l->m->p->start_place);
    l->start = level_state(l, &done, 0);
    bool whole = true;
    if (l->start) {
        int q = l->m->p->start_place;
        l->start->so_far[q] = level_begin(l);
        l->start->best = l->start->so_far[q] + l->start->bound[q];
        l->start->queued = l->start->best < l->limit;
        for (int k = 0; k < l->n_layers && whole; k++) {
            whole = expand_layer(l, k, &x);
        }
    }
    arena_free(&scratch);
    return whole;
}

/* The places where a move can be made: the first for p = -1, then the next; -1 when there is none. */
static int move_place(const struct level_move *v, int p)
{
    if (v->place != ROUND_ANYWHERE) {
        return p < 0 ? v->place : -1;
    }
    return bits_next(v->where, p + 1);
}

/* From place q of the state the finish is this near. True when that is news. */
static bool fall(struct level *l, struct level_state *s, size_t q, int32_t time)
{
    if (time >= s->to_go[q]) {
        return false;
    }
    s->to_go[q] = time;
    s->fell[q] = ++l->falls;
    s->fell_last = l->falls;
    return true;
}

int level_end(const struct level *l, const struct level_state *s, int place)
{
    const struct level_walks *w = l->walks[s->condition];
    size_t n = l->m->n_places;
    int best = l->m->p->finish_place;
    if (best == ROUND_ANYWHERE) {
        best = place;
        for (size_t r = 0; r < n; r++) {
            const int32_t *walk = w->ticks + (size_t)place * n;
            best = walk[r] - w->half[r] < walk[best] - w->half[best] ? (int)r : best;
        }
    }
    return best;
}

/* Lowers a state's times to go by its moves and the finish; true when one fell. */
static bool sweep_state(struct level *l, struct level_state *s)
{
    const struct round_model *m = l->m;
    const struct level_walks *w = l->walks[s->condition];
    size_t n = m->n_places;
    bool fell = false;
    bool home = bits_eq(&s->done, &l->keep) && m->conditions.leave_far[s->condition] == 0;
    for (size_t q = 0; q < n && home; q++) {
        size_t f = (size_t)level_end(l, s, (int)q);
        fell = fall(l, s, q, w->ticks[q * n + f] - w->half[f]) || fell;
    }
    for (int k = 0; k < s->n_moves; k++) {
        const struct level_move *v = &s->moves[k];
        for (int p = move_place(v, -1); p >= 0; p = move_place(v, p)) {
            int32_t then = v->to->to_go[p] < ROUND_INF ? v->ticks + v->to->to_go[p] : ROUND_INF;
            for (size_t q = 0; q < n && then < ROUND_INF; q++) {
                fell = fall(l, s, q, w->ticks[q * n + (size_t)p] + then) || fell;
            }
        }
    }
    return fell;
}

/* Has a time to go that this state's depend on fallen since? Those of later layers are settled. */
static bool stale(const struct level_state *s)
{
    for (int k = 0; k < s->n_moves; k++) {
        if (s->moves[k].to->layer == s->layer && s->moves[k].to->fell_last > s->swept) {
            return true;
        }
    }
    return false;
}

void level_sweep(struct level *l)
{
    for (int k = l->n_layers - 1; k >= 0; k--) {
        bool fell = true;
        for (bool first = true; fell; first = false) {
            fell = false;
            for (struct level_state *s = l->layers[k]; s; s = s->next) {
                if (s->expanded && (first || stale(s))) {
                    s->swept = l->falls;
                    fell = sweep_state(l, s) || fell;
                }
            }
        }
    }
}

int32_t level_value(const struct level *l)
{
    int q = l->m->p->start_place;
    return l->start && l->start->to_go[q] < ROUND_INF ? level_begin(l) + l->start->to_go[q] : ROUND_INF;
}

/* Points before changes, in the printed order. */
static int rank(const struct level_move *v)
{
    return v->kind == LEVEL_CHANGE ? ROUND_MOST_POINTS + v->index : v->index;
}

const struct level_move *level_best(const struct level *l, const struct level_state *s, int place, int *at)
{
    const int32_t *walk = l->walks[s->condition]->ticks + (size_t)place * l->m->n_places;
    const struct level_move *best = NULL;
    for (int k = 0; k < s->n_moves; k++) {
        const struct level_move *v = &s->moves[k];
        for (int p = move_place(v, -1); p >= 0; p = move_place(v, p)) {
            const struct level_state *to = v->to;
            bool tight = to->to_go[p] < ROUND_INF && walk[p] + v->ticks + to->to_go[p] == s->to_go[place];
            bool idle = walk[p] + v->ticks == 0 && to->layer == s->layer; /* could lead in a circle */
            if (!tight || (idle && to->fell[p] >= s->fell[place])) {
                continue;
            }
            if (!best || rank(v) < rank(best) || (v == best && walk[p] < walk[*at])) {
                best = v;
                *at = p;
            }
        }
    }
    return best;
}
