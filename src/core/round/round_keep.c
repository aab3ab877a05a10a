/* Which groups a level is to keep next.
 *
 * First those that decide the way through the conditions: that can be done in no condition that the guide's best way
 * comes through. Of those the one first that would cost most if it were alone on the list, with all that come before
 * it: a cold check after warm work forces a long cooling down, and a bound that does not know it is worth nothing. Then
 * those that the way misses by most, or visits more often than once for the price.
 */
#include "round/round_internal.h"

#include <string.h>

/* By how much the bound may rise, in ticks, when a group is kept: the detour that the way has not made, over the price
 * set down for it; or what visits have earned beyond the first. ROUND_INF and more when there is no such detour. */
static int32_t gain(const struct round_search *s, const struct walkthrough *w, const struct gaps *gaps,
                    const int32_t *twice, int g)
{
    int32_t price = s->guide->price ? s->guide->price[g] : 0;
    if (!bits_has(&gaps->undone, g)) {
        return twice[g] > 2 ? price * (twice[g] - 2) / 2 : 0;
    }
    size_t at = 0;
    int32_t far = gaps_detour(w, gaps, g, &at);
    return far < ROUND_INF ? 1 + far * LEVEL_TICKS - price : ROUND_INF + s->alone[g];
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

/* Do both need the same, but for the place? */
static bool alike(const struct round_model *m, int g, int h)
{
    bool like = bits_eq(&m->groups[h].before, &m->groups[g].before);
    for (size_t c = 0; c < m->conditions.n && like; c++) {
        like = bits_has(&m->in_condition[c], g) == bits_has(&m->in_condition[c], h);
    }
    return like;
}

/* The gains of all groups. */
static int32_t *gains(const struct round_search *s, struct arena *a)
{
    struct walkthrough w = walk_level(s->guide, a);
    const struct gaps gaps = gaps_find(&w, a);
    int32_t *twice = ARENA_ARRAY(a, int32_t, s->m->n_groups + 1);
    int32_t *all = ARENA_ARRAY(a, int32_t, s->m->n_groups + 1);
    level_visits(s->guide, twice);
    for (size_t g = 0; g < s->m->n_groups; g++) {
        all[g] = gain(s, &w, &gaps, twice, (int)g);
    }
    return all;
}

void keep_alone(struct round_search *s)
{
    s->alone = ARENA_ARRAY(s->keep_a, int32_t, s->m->n_groups + 1);
    struct arena a = arena_new(s->keep_a->source);
    const int32_t *gain_of = gains(s, &a);
    for (int g = 0; g < (int)s->m->n_groups && !s->stopped; g++) {
        if (gain_of[g] < ROUND_INF) {
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
        int32_t value = level_value(search_keep(s, &alone, keep, s->o.most_states));
        s->alone[g] = value < ROUND_INF ? value : ROUND_INF - 1;
        arena_free(&alone);
    }
    arena_free(&a);
}

struct bits keep_next(struct round_search *s, int more, bool *decides)
{
    struct arena a = arena_new(s->keep_a->source);
    struct bits keep = s->guide->keep;
    int32_t *gain_of = gains(s, &a);
    struct bits open = bits_less(s->m->all, keep);
    if (decides) {
        *decides = false;
    }
    for (; more > 0 && !bits_empty(&open); more--) {
        int choice = bits_next(&open, 0);
        for (int g = choice; g >= 0; g = bits_next(&open, g + 1)) {
            choice = gain_of[g] > gain_of[choice] ? g : choice;
        }
        if (gain_of[choice] == 0 && !bits_eq(&keep, &s->guide->keep)) {
            break;
        }
        if (decides) {
            *decides = *decides || gain_of[choice] >= ROUND_INF;
        }
        bits_add(&keep, choice);
        keep = bits_or(keep, s->m->groups[choice].before);
        open = bits_less(open, keep);
        for (int g = bits_next(&open, 0); g >= 0; g = bits_next(&open, g + 1)) {
            int32_t d = detour_from(s->m, choice, g);
            d = d < ROUND_INF ? d * LEVEL_TICKS : d;
            gain_of[g] = d < gain_of[g] ? d : gain_of[g];
        }
    }
    arena_free(&a);
    return keep;
}
