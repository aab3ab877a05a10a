/* Prices for what a level does not remember.
 *
 * A group that is not kept costs a level's best way nothing: the way simply misses it. So each such group has a price
 * that a visit earns, half on coming to its place in a condition that suits it, half on leaving (by walking, or by a
 * change after which it does not suit, or the other way round). Every round comes at least once, so the least time less
 * what is earned, with all prices added, is no more than the shortest round (Lagrange; Held and Karp 1971). Prices are
 * kept so low that no walk and no change earns more than it takes: then nothing is gained by going in circles, and the
 * search stays one of shortest ways. This is the dual of the assignment bound, in every condition at once; what it
 * misses, short circles between neighbours, goes as more groups are kept.
 */
#include "round/round_internal.h"

#include <string.h>

/* Groups that can have a price: not kept, at a place, and not changing the condition themselves. */
static struct bits priced(const struct level *l)
{
    struct bits set = bits_less(bits_less(l->m->all, l->keep), bits_or(l->m->setters, l->m->anywhere));
    for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
        if (!l->price || l->price[g] == 0) {
            bits_drop(&set, g);
        }
    }
    return set;
}

/* Half of what a stay at each place earns, and the walks with it taken off. */
static void fill_walks(const struct level *l, struct level_walks *w)
{
    const struct round_model *m = l->m;
    size_t n = m->n_places;
    w->half = ARENA_ARRAY(l->a, int32_t, n);
    w->ticks = ARENA_ARRAY(l->a, int32_t, n * n);
    w->via = ARENA_ARRAY(l->a, int16_t, n * n);
    for (int g = bits_next(&w->open, 0); g >= 0; g = bits_next(&w->open, g + 1)) {
        w->half[m->groups[g].place] += l->price[g] / 2;
    }
    for (size_t p = 0; p < n; p++) {
        for (size_t q = 0; q < n; q++) {
            w->ticks[p * n + q] = p == q ? 0 : m->walk[p * n + q] * LEVEL_TICKS - w->half[p] - w->half[q];
            w->via[p * n + q] = (int16_t)q;
        }
    }
    for (size_t k = 0; k < n; k++) {
        for (size_t p = 0; p < n && w->half[k]; p++) { /* nothing is gained by way of a place that earns nothing */
            for (size_t q = 0; q < n; q++) {
                if (w->ticks[p * n + k] + w->ticks[k * n + q] < w->ticks[p * n + q]) {
                    w->ticks[p * n + q] = w->ticks[p * n + k] + w->ticks[k * n + q];
                    w->via[p * n + q] = w->via[p * n + k];
                }
            }
        }
    }
}

/* Conditions in which the same groups of the set can be done share their walks. */
static void share_walks(struct level *l, struct bits set, struct level_walks ***kinds, size_t *n_kinds)
{
    size_t n = l->m->conditions.n;
    size_t cap = 0;
    *kinds = NULL;
    *n_kinds = 0;
    l->walks = ARENA_ARRAY(l->a, struct level_walks *, n);
    for (size_t c = 0; c < n; c++) {
        struct bits open = bits_and(set, l->m->in_condition[c]);
        size_t k = 0;
        while (k < *n_kinds && !bits_eq(&(*kinds)[k]->open, &open)) {
            k++;
        }
        if (k == *n_kinds) {
            ARENA_PUSH(l->a, *kinds, *n_kinds, cap) = ARENA_NEW(l->a, struct level_walks);
            (*kinds)[k]->open = open;
        }
        l->walks[c] = (*kinds)[k];
    }
}

void level_price(struct level *l)
{
    struct level_walks **kinds;
    size_t n = 0;
    share_walks(l, priced(l), &kinds, &n);
    for (size_t k = 0; k < n; k++) {
        fill_walks(l, kinds[k]);
    }
}

/* The groups at the place that can be done in one of both conditions only. */
static struct bits toggled(const struct level *l, int from, int to, int place)
{
    struct bits a = l->walks[from]->open;
    struct bits b = l->walks[to]->open;
    return bits_and(bits_or(bits_less(a, b), bits_less(b, a)), l->m->at_place[place]);
}

int32_t level_toggle(const struct level *l, int from, int to, int place)
{
    int32_t ticks = 0;
    if (l->walks[from] != l->walks[to]) {
        struct bits set = toggled(l, from, to, place);
        for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
            ticks += l->price[g] / 2;
        }
    }
    return ticks;
}

/* Groups that the level keeps and its guide does not, but prices. */
static struct bits bought(const struct level *l)
{
    return l->guide->price ? bits_less(l->keep, l->guide->keep) : (struct bits){0};
}

int32_t level_earned(const struct level *l, const struct bits *done, int condition, int place)
{
    int32_t ticks = 0;
    struct bits set = bought(l);
    struct bits here = bits_and(l->m->in_condition[condition], l->m->at_place[place]);
    for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
        int32_t price = l->guide->price[g];
        ticks += bits_has(&here, g) ? price / 2 : bits_has(done, g) ? 0 : price;
    }
    return ticks;
}

void level_earned_each(const struct level *l, const struct bits *done, int condition, int32_t *ticks)
{
    int32_t all = 0;
    struct bits set = bought(l);
    for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
        int32_t price = l->guide->price[g];
        bool is_done = bits_has(done, g);
        all += is_done ? 0 : price;
        if (price && bits_has(&l->m->in_condition[condition], g)) {
            ticks[l->m->groups[g].place] += is_done ? price / 2 : -price / 2;
        }
    }
    for (size_t q = 0; q < l->m->n_places; q++) {
        ticks[q] += all;
    }
}

/* One more half visit of the groups of a set. */
static void count(int32_t *twice, struct bits set)
{
    for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
        twice[g]++;
    }
}

/* Half visits on the way from one place to another in a condition. */
static void count_walk(const struct level *l, const struct bits *can, const struct level_walks *w, int from, int to,
                       int32_t *twice)
{
    while (from != to) {
        int next = w->via[(size_t)from * l->m->n_places + (size_t)to];
        count(twice, bits_and(*can, l->m->at_place[from]));
        count(twice, bits_and(*can, l->m->at_place[next]));
        from = next;
    }
}

void level_visits(const struct level *l, int32_t *twice)
{
    const struct round_model *m = l->m;
    struct bits set = bits_less(bits_less(m->all, l->keep), bits_or(m->setters, m->anywhere));
    memset(twice, 0, m->n_groups * sizeof *twice);
    const struct level_state *s = l->start;
    int place = m->p->start_place;
    int at = 0;
    struct bits can = bits_and(set, m->in_condition[s->condition]);
    count(twice, bits_and(can, m->at_place[place]));
    for (const struct level_move *v = level_best(l, s, place, &at); v; v = level_best(l, s, place, &at)) {
        count_walk(l, &can, l->walks[s->condition], place, at, twice);
        place = at;
        s = v->to;
        struct bits then = bits_and(set, m->in_condition[s->condition]);
        struct bits either = bits_or(bits_less(can, then), bits_less(then, can));
        count(twice, bits_and(either, m->at_place[place]));
        can = then;
    }
    at = level_end(l, s, place);
    count_walk(l, &can, l->walks[s->condition], place, at, twice);
    count(twice, bits_and(can, m->at_place[at]));
}

/* Lowers the prices of the set so that together they are at most `most`. */
static void lower(int32_t *price, struct bits set, int64_t most)
{
    int64_t sum = 0;
    for (int g = bits_next(&set, 0); g >= 0; g = bits_next(&set, g + 1)) {
        sum += price[g];
    }
    for (int g = bits_next(&set, 0); g >= 0 && sum > 0 && sum > most; g = bits_next(&set, g + 1)) {
        price[g] = (int32_t)(price[g] * most / sum) & ~1;
    }
}

/* Where prices are limited. */
struct fitting {
    struct level could; /* knows which groups could have a price, and nothing else */
    struct level_walks **kinds;
    size_t n_kinds;
    struct bits set; /* those groups */
};

static struct fitting fitting_new(const struct round_search *s, struct arena *a)
{
    struct fitting f = {.could = {.m = s->m, .a = a, .keep = s->guide->keep}};
    f.set = bits_less(bits_less(s->m->all, s->guide->keep), bits_or(s->m->setters, s->m->anywhere));
    share_walks(&f.could, f.set, &f.kinds, &f.n_kinds);
    return f;
}

/* No walk may earn more than it takes, in any condition. */
static void fit_walks(const struct fitting *f, int32_t *price)
{
    const struct round_model *m = f->could.m;
    size_t n = m->n_places;
    for (size_t k = 0; k < f->n_kinds; k++) {
        for (size_t p = 0; p < n; p++) {
            struct bits here = bits_and(f->kinds[k]->open, m->at_place[p]);
            for (size_t q = 0; q < n && !bits_empty(&here); q++) {
                if (p != q) {
                    lower(price, bits_or(here, bits_and(f->kinds[k]->open, m->at_place[q])),
                          (int64_t)2 * m->walk[p * n + q] * LEVEL_TICKS);
                }
            }
        }
    }
}

/* No change may. */
static void fit_changes(const struct fitting *f, int32_t *price)
{
    const struct round_model *m = f->could.m;
    const struct model_conditions *cs = &m->conditions;
    for (size_t c = 0; c < cs->n; c++) {
        for (size_t k = cs->first[c]; k < cs->first[c + 1]; k++) {
            const struct model_step *x = &cs->steps[k];
            size_t first = x->place < 0 ? 0 : (size_t)x->place;
            size_t last = x->place < 0 ? m->n_places : first + 1;
            for (size_t q = first; q < last && f->could.walks[c] != f->could.walks[x->to]; q++) {
                lower(price, toggled(&f->could, (int)c, x->to, (int)q), (int64_t)2 * x->seconds * LEVEL_TICKS);
            }
        }
    }
}

/* Moves prices along the subgradient of the bound: up for what the level's best way misses, down for what it visits
 * more than once. False when all are visited once. */
static bool move_prices(const struct fitting *f, const struct level *l, double by, int32_t *price, int32_t *twice)
{
    level_visits(l, twice);
    double norm = 0;
    for (int g = bits_next(&f->set, 0); g >= 0; g = bits_next(&f->set, g + 1)) {
        norm += (2 - twice[g]) * (2 - twice[g]) / 4.0;
    }
    for (int g = bits_next(&f->set, 0); g >= 0 && norm > 0; g = bits_next(&f->set, g + 1)) {
        double to = price[g] + by / norm * (2 - twice[g]) / 2;
        price[g] = to > 0 ? (int32_t)to & ~1 : 0;
    }
    fit_walks(f, price);
    fit_changes(f, price);
    return norm > 0;
}

/* The guide's groups with other prices, below a limit. */
static struct level *with_prices(struct round_search *s, struct arena *a, const int32_t *price, int32_t limit)
{
    return search_level(s, a,
                        (struct level){.m = s->m,
                                       .keep = s->guide->keep,
                                       .price = price,
                                       .sieve = s->guide,
                                       .limit = limit,
                                       .most_states = s->o.most_states});
}

#define STEPS 20   /* trials of prices */
#define PATIENCE 4 /* trials without gain */

/* Tries prices, with an eye only on ways a little longer than the shortest, which are few. Leaves the best prices and
 * returns the value with them; 0 when none are better than the guide's. */
static int32_t try_prices(struct round_search *s, struct arena *a, int32_t *price)
{
    const struct fitting f = fitting_new(s, a);
    size_t size = s->m->n_groups * sizeof *price;
    int32_t *twice = ARENA_ARRAY(a, int32_t, s->m->n_groups + 1);
    int32_t *now = ARENA_ARRAY(a, int32_t, s->m->n_groups + 1);
    memcpy(now, price, size);
    int32_t full = search_limit(s);
    int32_t best = level_value(s->guide);
    int32_t start = best;
    struct arena trial_a = arena_new(a->source);
    const struct level *at = s->guide;
    double pace = 1;
    for (int step = 0, idle = 0; step < STEPS && idle < PATIENCE; step++) {
        int32_t value = level_value(at);
        int32_t gap = full - value < value / 20 ? full - value : value / 20;
        if (gap <= 0 || !move_prices(&f, at, pace * gap, now, twice)) {
            break;
        }
        int64_t limit = best + best / 100 + 16 * LEVEL_TICKS;
        do {
            arena_free(&trial_a);
            at = with_prices(s, &trial_a, now, limit < full ? (int32_t)limit : full);
            limit += limit / 16;
        } while (level_value(at) >= at->limit && at->limit < full && !s->stopped);
        if (at->full || s->stopped) {
            break;
        }
        value = level_value(at);
        bool better = value > best;
        idle = better ? 0 : idle + 1;
        pace *= better ? 1 : 0.7;
        if (better) {
            best = value;
            memcpy(price, now, size);
        }
    }
    arena_free(&trial_a);
    return best > start && !s->stopped ? best : 0;
}

void search_price(struct round_search *s)
{
    struct arena scratch = arena_new(s->keep_a->source);
    int32_t *price = ARENA_ARRAY(&scratch, int32_t, s->m->n_groups + 1);
    if (s->guide->price) {
        memcpy(price, s->guide->price, s->m->n_groups * sizeof *price);
    }
    if (level_value(s->guide) < s->guide->limit && try_prices(s, &scratch, price)) {
        struct arena a = arena_new(s->keep_a->source);
        struct level *l = with_prices(s, &a, price, search_limit(s));
        if (l->full || l->stopped) {
            arena_free(&a);
        } else {
            search_guide(s, l, a);
        }
    }
    arena_free(&scratch);
}
