/* The fastest safe order: levels that remember more and more groups, with prices for the rest, and an aim.
 *
 * Level 0 remembers no group at all: the shortest way to the finish. Each further level remembers a few more and uses
 * the one before as its bound, so it looks only at states that can still lead to a round of interest (successive
 * sublimation). What a level does not remember has a price (round_prices.c), so that its value, a lower bound on every
 * round, is near the shortest round long before everything is remembered.
 *
 * The base is a level with the few groups that decide the way through the conditions (round_keep.c), below the length
 * of a first round (round_greedy.c). From there the search dives with an aim a little above the bound: rounds that long
 * or longer are of no interest, so levels stay small however poor the first round is. Either the bound comes up to the
 * aim, and the next dive aims higher, or a level that remembers all groups has a way: the shortest round. A level that
 * grows too large brings the aim down; it comes as near to the bound as it must.
 */
#include "round/round_internal.h"

#include <string.h>

#define MOST_STATES 150000
#define MOST_WORK 10000000
#define WIDTH 48
#define BASE 2000   /* states of the level from which the base is not made finer */
#define SMALL 8000  /* states of a level that bring the aim down, as long as it can come down */
#define PRICED 1000 /* states up to which finding better prices is cheap */

/* Keeps a copy of a walkthrough that does every point in less time than the best round. */
static void take(struct round_search *s, const struct walkthrough *w)
{
    if (w->move_s < s->best_s) {
        struct round_move *moves = ARENA_ARRAY(s->keep_a, struct round_move, w->n + 1);
        if (w->n) {
            memcpy(moves, w->moves, w->n * sizeof *moves);
        }
        s->best = *w;
        s->best.moves = moves;
        s->best_s = (int32_t)w->move_s;
    }
}

/* Takes the level's best way as the best round if it is one, with what it leaves undone put in. */
static void take_level(struct round_search *s, const struct level *l)
{
    if (level_value(l) < l->limit) {
        struct arena a = arena_new(s->keep_a->source);
        struct walkthrough w = walk_level(l, &a);
        if (walk_insert(&w)) {
            take(s, &w);
        }
        arena_free(&a);
    }
}

/* Rounds of this length or more are of no interest now. */
static int32_t no_interest(const struct round_search *s)
{
    return s->best_s < s->aim_s ? s->best_s : s->aim_s;
}

/* The limit in ticks that lets through what is at least a second shorter. */
static int32_t limit_below(int32_t seconds)
{
    return seconds < ROUND_INF ? (seconds - 1) * LEVEL_TICKS + 1 : ROUND_INF;
}

int32_t search_limit(const struct round_search *s)
{
    return limit_below(no_interest(s));
}

struct level *search_level(struct round_search *s, struct arena *a, struct level l)
{
    struct level *x = ARENA_NEW(a, struct level);
    l.a = a;
    l.options = &s->o;
    l.work = &s->work;
    if (l.price) {
        int32_t *price = ARENA_ARRAY(a, int32_t, l.m->n_groups + 1);
        memcpy(price, l.price, l.m->n_groups * sizeof *price);
        l.price = price;
    }
    *x = l;
    level_forward(x);
    level_sweep(x);
    s->stopped = s->stopped || x->stopped;
    return x;
}

/* A level over `keep` with the present guide, to be completed by limits. */
static struct level guided(const struct round_search *s, struct bits keep)
{
    return (struct level){.m = s->m,
                          .keep = keep,
                          .price = s->guide ? s->guide->price : NULL,
                          .guide = s->guide,
                          .limit = search_limit(s)};
}

struct level *search_keep(struct round_search *s, struct arena *a, struct bits keep, int64_t most)
{
    struct level l = guided(s, keep);
    l.most_states = most;
    return search_level(s, a, l);
}

/* Looks for a better round, of any length, with `width` states per layer. */
static void look(struct round_search *s, int width)
{
    struct arena a = arena_new(s->keep_a->source);
    struct level l = guided(s, s->m->all);
    l.limit = limit_below(s->best_s);
    l.width = width;
    l.most_states = s->o.most_states;
    const struct level *all = search_level(s, &a, l);
    bool whole = !all->cut && !all->full && !all->stopped;
    take_level(s, all);
    if (whole) { /* nothing was left out, so nothing better exists */
        s->lower_s = no_interest(s);
    }
    arena_free(&a);
}

/* How many groups a level may add to one of n states. */
static int step_size(size_t n)
{
    return n < 1000 ? 4 : n < 4000 ? 2 : 1;
}

/* Takes away the last guide. */
static void drop_guide(struct round_search *s)
{
    arena_free(&s->stack[--s->depth].a);
    s->guide = s->depth ? s->stack[s->depth - 1].level : NULL;
}

/* Puts a complete level on top of the guides. When they are too many states together, the older ones but for the base
 * go. */
static void add_guide(struct round_search *s, struct level *l, struct arena a)
{
    int32_t none = no_interest(s);
    int64_t value = level_value(l) < l->limit ? (level_value(l) + (int64_t)LEVEL_TICKS - 1) / LEVEL_TICKS : none;
    value = value < none ? value : none;
    s->lower_s = value > s->lower_s ? (int32_t)value : s->lower_s;
    take_level(s, l);
    s->stack[s->depth++] = (struct guide){l, a};
    s->guide = l;
    int64_t states = 0;
    for (size_t i = s->depth; i-- > 1;) {
        states += (int64_t)s->stack[i].level->n;
        if (states > s->o.most_states && i + 1 < s->depth) {
            arena_free(&s->stack[i].a);
            memmove(&s->stack[i], &s->stack[i + 1], (s->depth - i - 1) * sizeof *s->stack);
            s->depth--;
        }
    }
}

void search_guide(struct round_search *s, struct level *l, struct arena a)
{
    if (s->depth) {
        drop_guide(s);
    }
    add_guide(s, l, a);
}

/* A level of at most `most` states over `keep` on top of the guides, or in the last one's place; false when it would be
 * larger or was stopped. */
static bool refine(struct round_search *s, struct bits keep, int64_t most, bool on_top)
{
    struct arena a = arena_new(s->keep_a->source);
    struct level *l = search_keep(s, &a, keep, most);
    if (l->full || l->stopped) {
        arena_free(&a);
        return false;
    }
    (on_top ? add_guide : search_guide)(s, l, a);
    return true;
}

/* A first round: the greedy one, or else one along level 0 with more and more states kept. */
static void first_round(struct round_search *s)
{
    struct arena a = arena_new(s->keep_a->source);
    struct walkthrough w;
    if (walk_greedy(s->m, &a, &w)) {
        take(s, &w);
    }
    arena_free(&a);
    int64_t width = refine(s, (struct bits){0}, s->o.most_states, true) ? s->o.width : s->o.most_states;
    for (; !s->stopped && s->best_s == ROUND_INF && width < s->o.most_states; width *= 4) {
        look(s, (int)width);
    }
}

/* The base: what decides the way through the conditions is kept, and prices are found for the rest. */
static void lay_base(struct round_search *s)
{
    keep_alone(s);
    bool decides = true;
    struct bits keep = keep_next(s, 1, &decides);
    while (!s->stopped && decides && s->guide->n < BASE && s->lower_s < s->best_s &&
           refine(s, keep, s->o.most_states, false)) {
        keep = keep_next(s, 1, &decides);
    }
    search_price(s);
    look(s, s->o.width);
}

/* From the guide down to the shortest round, of those shorter than the aim. When a level grows too large the aim comes
 * down to half of the slack between bound and aim. Afterwards the bound has come up to the aim, or the shortest
 * round is found; false when neither. */
static bool dive(struct round_search *s, int32_t *slack)
{
    int64_t most = SMALL < s->o.most_states ? SMALL : s->o.most_states;
    while (!s->stopped && s->guide && s->lower_s < no_interest(s) && !bits_eq(&s->guide->keep, &s->m->all)) {
        int more = step_size(s->guide->n);
        if (refine(s, keep_next(s, more, NULL), most, true) ||
            (more > 1 && refine(s, keep_next(s, 1, NULL), most, true))) {
            if (s->guide->n < PRICED) {
                search_price(s);
            }
        } else if (no_interest(s) > s->lower_s + 1) {
            look(s, s->o.width);
            *slack = (no_interest(s) - s->lower_s + 1) / 2;
            s->aim_s = s->lower_s + *slack;
        } else if (most < s->o.most_states) {
            most = most * 4 < s->o.most_states ? most * 4 : s->o.most_states;
        } else {
            return false;
        }
    }
    return !s->stopped;
}

/* Dives with higher and higher aims, each from the last guide that is complete so far. */
static void search(struct round_search *s)
{
    first_round(s);
    if (!s->guide) {
        return;
    }
    lay_base(s);
    int32_t slack = s->lower_s / 500 + 2;
    bool whole = true;
    while (whole && !s->stopped && s->lower_s < s->best_s) {
        s->aim_s = slack < ROUND_INF / LEVEL_TICKS ? s->lower_s + slack : ROUND_INF;
        while (s->depth > 1 && s->guide->limit < search_limit(s)) {
            drop_guide(s);
        }
        whole = dive(s, &slack);
        slack += s->best_s < ROUND_INF ? slack : 9 * slack; /* there may be no round at all */
    }
    s->aim_s = ROUND_INF;
    for (int64_t width = 4 * (int64_t)s->o.width; !s->stopped && s->lower_s < s->best_s && width < s->o.most_states / 8;
         width *= 4) {
        look(s, (int)width);
    }
}

/* No order at all, although each point alone is possible: says what the furthest way leaves undone. */
static bool no_order(struct round_search *s, struct err *e)
{
    struct arena a = arena_new(s->keep_a->source);
    struct level all = {.m = s->m, .keep = s->m->all, .limit = ROUND_INF, .most_states = s->o.most_states};
    const struct level *l = search_level(s, &a, all);
    const struct level_state *far = l->start;
    for (int k = 0; k < l->n_layers; k++) {
        for (const struct level_state *x = l->layers[k]; x; x = x->next) {
            far = x->expanded && x->layer > far->layer ? x : far;
        }
    }
    struct text t = text_new(e->a);
    struct bits left = bits_less(s->m->all, far->done);
    for (int g = bits_next(&left, 0); g >= 0; g = bits_next(&left, g + 1)) {
        text_join(&t, t.n ? ", " : "", str_z(e->a, s->m->p->points[s->m->groups[g].point].id), (char *)0);
    }
    arena_free(&a);
    return err_set(e, ERR_REFUSED, "other after-rules or needs for these points",
                   "no safe order exists; at best these stay undone: ",
                   t.n ? text_z(&t) : "none, but the finish is then out of reach", (char *)0);
}

/* Replays the best round and hands it out. */
static bool hand_out(const struct round_search *s, struct arena *out, struct round_plan *plan, struct err *e)
{
    const struct walkthrough *w = &s->best;
    *plan = (struct round_plan){.n = w->n,
                                .total_s = w->at_s,
                                .move_s = w->move_s,
                                .lower_bound_s = s->lower_s,
                                .proven = s->lower_s >= s->best_s,
                                .groups = s->m->n_groups,
                                .states = s->work};
    plan->moves = ARENA_ARRAY(out, struct round_move, w->n + 1);
    if (w->n) {
        memcpy(plan->moves, w->moves, w->n * sizeof *w->moves);
    }
    struct err fault = err_new(e->a);
    if (!round_replay(s->m->p, plan->moves, plan->n, &fault)) {
        return err_set(e, ERR_INTERNAL, "",
                       "the round found breaks a rule and is refused: ", str_z(e->a, err_text(e->a, &fault)),
                       (char *)0);
    }
    return true;
}

bool round_solve(const struct round_problem *p, const struct round_options *options, struct arena *out,
                 struct round_plan *plan, struct err *e)
{
    *plan = (struct round_plan){0};
    if (!model_check(p, e)) {
        return false;
    }
    struct arena a = arena_new(out->source);
    struct round_model m;
    bool ok = model_build(p, &a, &m, e);
    if (ok) {
        struct round_search s = {.m = &m,
                                 .o = options ? *options : (struct round_options){0},
                                 .keep_a = &a,
                                 .best_s = ROUND_INF,
                                 .aim_s = ROUND_INF};
        s.o.most_states = s.o.most_states > 0 ? s.o.most_states : MOST_STATES;
        s.o.most_work = s.o.most_work > 0 ? s.o.most_work : MOST_WORK;
        s.o.width = s.o.width > 0 ? s.o.width : WIDTH;
        search(&s);
        if (s.best_s < ROUND_INF) {
            ok = hand_out(&s, out, plan, e);
        } else if (s.lower_s >= ROUND_INF) {
            ok = no_order(&s, e);
        } else {
            ok = err_set(e, ERR_BUSY, "more time or memory", "stopped before any round was found", (char *)0);
        }
        while (s.depth) {
            drop_guide(&s);
        }
    }
    arena_free(&a);
    return ok;
}
