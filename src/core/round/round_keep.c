/* Which groups a level is to keep next.
 *
 * First those that decide the way through the conditions: that can be done in no condition that the guide's best way
 * comes through. Of those the one first that would cost most if it were alone on the list, with all that come before
 * it: a cold check after warm work forces a long cooling down, and a bound that does not know it is worth nothing. Then
 * those that the way misses by most, or visits more often than once for the price.
 */
#include "round/round_internal.h"

#include <string.h>

/* Between which moves of a walkthrough group g may be put in: after those before it, before those behind it. */
static void stretch(const struct walkthrough *w, int g, size_t *first, size_t *last)
{
    const struct round_model *m = w->m;
    *first = 0;
    *last = w->n;
    for (size_t i = 0; i < w->n; i++) {
        int k = w->moves[i].kind == ROUND_POINT ? m->group_of[w->moves[i].index] : -1;
        if (k >= 0 && bits_has(&m->groups[g].before, k)) {
            *first = i + 1;
        }
        if (k >= 0 && bits_has(&m->groups[k].before, g) && i < *last) {
            *last = i;
        }
    }
}

/* The detour that group g would be from a walkthrough; large when no condition that suits comes where it may be put in.
 */
static int32_t detour(const struct walkthrough *w, const struct bits *suits, int g)
{
    const struct round_model *m = w->m;
    int q = m->groups[g].place;
    int32_t least = ROUND_INF;
    size_t n = m->n_places;
    size_t first = 0;
    size_t last = 0;
    stretch(w, g, &first, &last);
    for (size_t i = first; i <= last; i++) {
        int from = i > 0 ? w->moves[i - 1].place : m->p->start_place;
        int to = i < w->n ? w->moves[i].place : from;
        if (bits_has(&suits[i], g)) {
            int32_t d = q == ROUND_ANYWHERE
                            ? 0
                            : m->walk[(size_t)from * n + (size_t)q] + m->walk[(size_t)q * n + (size_t)to] -
                                  m->walk[(size_t)from * n + (size_t)to];
            least = d < least ? d : least;
        }
    }
    return least;
}

/* The groups that suit each stretch of a walkthrough: the condition before move i, and the last. */
static struct bits *suiting(const struct walkthrough *w, struct arena *a)
{
    struct bits *suits = ARENA_ARRAY(a, struct bits, w->n + 1);
    const struct model_conditions *cs = &w->m->conditions;
    int c = 0;
    suits[0] = w->m->in_condition[0];
    for (size_t i = 0; i < w->n; i++) {
        for (size_t k = 0; memcmp(&cs->at[c], &w->moves[i].condition, sizeof *cs->at) != 0 && k < cs->n; k++) {
            c = (int)k;
        }
        suits[i + 1] = w->m->in_condition[c];
    }
    return suits;
}

/* The detour from group h, which the way will visit, to group g and back; large when no condition suits both. */
static int32_t detour_from(const struct round_model *m, int h, int g)
{
    bool both = false;
    for (size_t c = 0; c < m->conditions.n && !both; c++) {
        both = bits_has(&m->in_condition[c], h) && bits_has(&m->in_condition[c], g);
    }
    int p = m->groups[h].place;
    int q = m->groups[g].place;
    return !both ? ROUND_INF : p < 0 || q < 0 ? 0 : 2 * m->walk[(size_t)p * m->n_places + (size_t)q];
}

/* What the best way of the guide tells about a group. */
struct telling {
    struct walkthrough w;
    struct bits undone;
    struct bits *suits;
    int32_t *twice;
};

static struct telling tell(const struct round_search *s, struct arena *a)
{
    struct telling t = {.w = walk_level(s->guide, a)};
    t.undone = walk_undone(&t.w);
    t.suits = suiting(&t.w, a);
    t.twice = ARENA_ARRAY(a, int32_t, s->m->n_groups + 1);
    level_visits(s->guide, t.twice);
    return t;
}

/* By how much the bound may rise, in ticks, when a group is kept: the detour that the way has not made, over the price
 * set down for it; or what visits have earned beyond the first. ROUND_INF and more: the way comes through no condition
 * that suits where it could be put in. */
static int32_t gain(const struct round_search *s, const struct telling *t, int g)
{
    int32_t price = s->guide->price ? s->guide->price[g] : 0;
    if (!bits_has(&t->undone, g)) {
        return t->twice[g] > 2 ? price * (t->twice[g] - 2) / 2 : 0;
    }
    int32_t far = detour(&t->w, t->suits, g);
    return far < ROUND_INF ? 1 + far * LEVEL_TICKS - price : ROUND_INF + s->alone[g];
}

/* Do both need the same, but for the place? */
static bool alike(const struct round_model *m, int g, int h)
{
    bool like = bits_eq(&m->groups[h].before, &m->groups[g].before);
    for (size_t c = 0; c < m->conditions.n && like; c++) {
        like = bits_has(&m->in_condition[c], g) == bits_has(&m->in_condition[c], h);
    }
    return like;
}

void keep_alone(struct round_search *s)
{
    s->alone = ARENA_ARRAY(s->keep_a, int32_t, s->m->n_groups + 1);
    struct arena a = arena_new(s->keep_a->source);
    const struct telling t = tell(s, &a);
    for (int g = 0; g < (int)s->m->n_groups && !s->stopped; g++) {
        if (gain(s, &t, g) < ROUND_INF) {
            continue;
        }
        int like = 0;
        while (like < g && !(s->alone[like] && alike(s->m, g, like))) {
            like++;
        }
        if (like < g) {
            s->alone[g] = s->alone[like];
            continue;
        }
        struct arena alone = arena_new(s->keep_a->source);
        struct bits keep = s->m->groups[g].before;
        bits_add(&keep, g);
        int32_t value = level_value(search_keep(s, &alone, keep, 0, s->o.most_states));
        s->alone[g] = value < ROUND_INF ? value : ROUND_INF - 1;
        arena_free(&alone);
    }
    arena_free(&a);
}

struct bits keep_next(struct round_search *s, int more, bool *decides)
{
    struct arena a = arena_new(s->keep_a->source);
    struct bits keep = s->guide->keep;
    const struct telling t = tell(s, &a);
    int32_t *gains = ARENA_ARRAY(&a, int32_t, s->m->n_groups + 1);
    for (size_t g = 0; g < s->m->n_groups; g++) {
        gains[g] = gain(s, &t, (int)g);
    }
    struct bits open = bits_less(s->m->all, keep);
    if (decides) {
        *decides = false;
    }
    for (; more > 0 && !bits_empty(&open); more--) {
        int choice = bits_next(&open, 0);
        for (int g = choice; g >= 0; g = bits_next(&open, g + 1)) {
            choice = gains[g] > gains[choice] ? g : choice;
        }
        if (gains[choice] == 0 && !bits_eq(&keep, &s->guide->keep)) {
            break;
        }
        if (decides) {
            *decides = *decides || gains[choice] >= ROUND_INF;
        }
        bits_add(&keep, choice);
        keep = bits_or(keep, s->m->groups[choice].before);
        open = bits_less(open, keep);
        for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
            int32_t d = detour_from(s->m, choice, g);
            d = d < ROUND_INF ? d * LEVEL_TICKS : d;
            gains[g] = d < gains[g] ? d : gains[g];
        }
    }
    arena_free(&a);
    return keep;
}
