/* See the header. */
#include "round_machine.h"

#include <string.h>

uint64_t chance_next(uint64_t *state)
{
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    return *state * UINT64_C(2685821657736338717);
}

size_t chance(uint64_t *state, size_t n)
{
    return (size_t)((chance_next(state) >> 33) % n);
}

/* "p3" and so on. */
static struct str id_of(struct arena *a, const char *head, size_t i)
{
    struct text t = text_new(a);
    text_addz(&t, head);
    text_int(&t, (int64_t)i);
    return text_str(&t);
}

/* One assignment as a list of its own. */
static struct round_set *set_one(struct arena *a, size_t variable, size_t value)
{
    struct round_set *s = ARENA_NEW(a, struct round_set);
    *s = (struct round_set){(uint8_t)variable, (uint8_t)value};
    return s;
}

static struct round_variable *make_variables(struct arena *a, uint64_t *r, size_t n)
{
    struct round_variable *v = ARENA_ARRAY(a, struct round_variable, n);
    for (size_t i = 0; i < n; i++) {
        v[i] = (struct round_variable){id_of(a, "v", i), NULL, 2 + chance(r, 2)};
    }
    return v;
}

static struct round_place *make_places(struct arena *a, uint64_t *r, size_t n)
{
    struct round_place *p = ARENA_ARRAY(a, struct round_place, n);
    for (size_t i = 0; i < n; i++) {
        p[i] = (struct round_place){id_of(a, "place", i), (double)chance(r, 60) / 10, (double)chance(r, 60) / 10};
    }
    return p;
}

/* A need that asks for some variables. */
static struct round_partial make_need(const struct round_variable *v, size_t n, uint64_t *r, size_t one_in)
{
    struct round_partial need = {0};
    for (size_t i = 0; i < n; i++) {
        if (chance(r, one_in) == 0) {
            need.allowed[i] = (uint16_t)(1 + chance(r, (1u << v[i].n_values) - 1));
        }
    }
    return need;
}

/* After-rules only to earlier numbers of a shuffled order, so that there is no ring. */
static void make_rules(struct arena *a, uint64_t *r, struct round_point *points, size_t n, size_t one_in)
{
    size_t *order = ARENA_ARRAY(a, size_t, n + 1);
    for (size_t i = 0; i < n; i++) {
        size_t k = chance(r, i + 1);
        order[i] = order[k];
        order[k] = i;
    }
    for (size_t i = 1; i < n; i++) {
        size_t *after = ARENA_ARRAY(a, size_t, i);
        size_t k = 0;
        for (size_t j = 0; j < i; j++) {
            if (chance(r, one_in) == 0) {
                after[k++] = order[j];
            }
        }
        points[order[i]].after = after;
        points[order[i]].n_after = k;
    }
}

struct round_problem machine_any(struct arena *a, uint64_t seed, size_t n_points)
{
    uint64_t r = seed * UINT64_C(0x9e3779b97f4a7c15) | 1;
    for (int i = 0; i < 8; i++) {
        chance_next(&r);
    }
    size_t nv = 1 + chance(&r, 4);
    size_t np = 2 + chance(&r, 4);
    struct round_variable *v = make_variables(a, &r, nv);
    size_t nc = nv * (2 + chance(&r, 4));
    struct round_change *changes = ARENA_ARRAY(a, struct round_change, nc);
    for (size_t i = 0; i < nc; i++) {
        size_t which = i % nv;
        changes[i] = (struct round_change){.id = id_of(a, "c", i),
                                           .from = make_need(v, nv, &r, 4),
                                           .n_sets = 1,
                                           .sets = set_one(a, which, i < nv ? 0 : chance(&r, v[which].n_values)),
                                           .place = chance(&r, 4) ? (int)chance(&r, np) : ROUND_ANYWHERE,
                                           .seconds = (int32_t)(chance(&r, 5) * chance(&r, 20))};
    }
    struct round_point *points = ARENA_ARRAY(a, struct round_point, n_points + 1);
    for (size_t i = 0; i < n_points; i++) {
        points[i] = (struct round_point){.id = id_of(a, "p", i),
                                         .place = chance(&r, 9) ? (int)chance(&r, np) : ROUND_ANYWHERE,
                                         .needs = make_need(v, nv, &r, 3),
                                         .seconds = (int32_t)chance(&r, 40)};
        if (chance(&r, 5) == 0) {
            size_t which = chance(&r, nv);
            points[i].sets = set_one(a, which, chance(&r, v[which].n_values));
            points[i].n_sets = 1;
        }
    }
    make_rules(a, &r, points, n_points, 6);
    size_t nn = chance(&r, 3);
    struct round_partial *never = ARENA_ARRAY(a, struct round_partial, nn + 1);
    for (size_t i = 0; i < nn; i++) {
        never[i] = make_need(v, nv, &r, 2);
        never[i].allowed[chance(&r, nv)] = 2; /* asks for something, and not for parked */
    }
    struct round_problem p = {.variables = v,
                              .n_variables = nv,
                              .places = make_places(a, &r, np),
                              .n_places = np,
                              .never = never,
                              .n_never = nn,
                              .changes = changes,
                              .n_changes = nc,
                              .points = points,
                              .n_points = n_points,
                              .finish = round_parked(nv),
                              .walk_fixed_s = (double)chance(&r, 3) * 2,
                              .walk_s_per_m = 2.2};
    p.start_place = (int)chance(&r, np);
    p.finish_place = chance(&r, 5) ? (int)chance(&r, np) : ROUND_ANYWHERE;
    return p;
}

enum { ENGINE, BODY, COVER, COCK, HEAT, N_REAL }; /* off idle work; down up propped; shut open; open shut; cold warm */

#define WORD(z)          \
    {                    \
        z, sizeof(z) - 1 \
    }
static const struct str ENGINE_WORDS[] = {WORD("off"), WORD("idle"), WORD("working")};
static const struct str BODY_WORDS[] = {WORD("down"), WORD("up"), WORD("propped")};
static const struct str COVER_WORDS[] = {WORD("shut"), WORD("open")};
static const struct str COCK_WORDS[] = {WORD("open"), WORD("shut")};
static const struct str HEAT_WORDS[] = {WORD("cold"), WORD("warm")};

static const struct round_variable REAL_VARIABLES[N_REAL] = {{WORD("engine"), ENGINE_WORDS, 3},
                                                             {WORD("body"), BODY_WORDS, 3},
                                                             {WORD("cover"), COVER_WORDS, 2},
                                                             {WORD("cock"), COCK_WORDS, 2},
                                                             {WORD("heat"), HEAT_WORDS, 2}};

static const struct round_place REAL_PLACES[] = {
    {WORD("seat"), 0, 0},        {WORD("front"), 0, 2.2},   {WORD("rear"), 0, -2.4},     {WORD("left"), -1.3, 0},
    {WORD("right"), 1.3, 0},     {WORD("fl"), -1.2, 1.8},   {WORD("fr"), 1.2, 1.8},      {WORD("rl"), -1.2, -1.9},
    {WORD("rr"), 1.2, -1.9},     {WORD("hopper"), 0, -1.6}, {WORD("engine-l"), -0.8, 1}, {WORD("engine-r"), 0.8, 1},
    {WORD("under"), -0.4, -0.5}, {WORD("panel"), 0.4, 0.3}};

/* Variable, value before (bits), value after, place, seconds, and one more variable with its bits. */
static const struct {
    const char *id;
    uint8_t variable, from, to;
    int place;
    int32_t seconds;
    uint8_t other, other_bits;
} REAL_CHANGES[] = {
    {"start", ENGINE, 1, 1, 0, 20, COCK, 1},
    {"stop", ENGINE, 6, 0, 0, 10, BODY, 5},
    {"throttle up", ENGINE, 2, 2, 0, 5, BODY, 1},
    {"throttle down", ENGINE, 4, 1, 0, 5, ENGINE, 0},
    {"raise", BODY, 1, 1, 0, 35, ENGINE, 2},
    {"prop", BODY, 2, 2, 2, 15, ENGINE, 2},
    {"unprop", BODY, 4, 1, 2, 15, ENGINE, 2},
    {"lower", BODY, 2, 0, 0, 30, ENGINE, 2},
    {"open cover", COVER, 1, 1, 1, 25, ENGINE, 3},
    {"shut cover", COVER, 2, 0, 1, 25, ENGINE, 0},
    {"shut cock", COCK, 1, 1, 3, 8, ENGINE, 1},
    {"open cock", COCK, 2, 0, 3, 8, ENGINE, 0},
    {"warm up", HEAT, 1, 1, ROUND_ANYWHERE, 720, ENGINE, 4},
    {"cool down", HEAT, 2, 0, ROUND_ANYWHERE, 1800, ENGINE, 1},
};
#define N_REAL_CHANGES (sizeof REAL_CHANGES / sizeof *REAL_CHANGES)

/* What a step needs: bits per variable, and where such steps are. */
static const struct {
    uint8_t bits[N_REAL];
    int8_t places[8]; /* ended by -1 */
} REAL_NEEDS[] = {
    {{1}, {3, 4, 5, 6, 7, 8, 13, -1}},   /* engine off */
    {{1}, {1, 2, 3, 4, 5, 6, 7, -1}},    /* engine off */
    {{1, 1}, {2, 7, 8, 9, -1}},          /* engine off, body down */
    {{1, 4}, {9, 12, 7, 8, -1}},         /* engine off, body propped */
    {{1, 4, 0, 2}, {12, 3, -1}},         /* and the cock shut */
    {{1, 0, 2}, {10, 11, 1, -1}},        /* engine off, cover open */
    {{1, 0, 2, 0, 1}, {10, 11, -1}},     /* and cold */
    {{2, 1}, {0, 13, -1}},               /* idle */
    {{2, 0, 0, 0, 2}, {0, 3, 4, -1}},    /* idle, warm */
    {{1, 0, 0, 0, 1}, {5, 6, 7, 8, -1}}, /* engine off, cold */
    {{0}, {0, 3, 4, -1}},                /* any */
};
#define N_REAL_NEEDS (sizeof REAL_NEEDS / sizeof *REAL_NEEDS)

static struct round_change *real_changes(struct arena *a)
{
    struct round_change *c = ARENA_ARRAY(a, struct round_change, N_REAL_CHANGES);
    for (size_t i = 0; i < N_REAL_CHANGES; i++) {
        c[i] = (struct round_change){.id = str_of(REAL_CHANGES[i].id),
                                     .n_sets = 1,
                                     .place = REAL_CHANGES[i].place,
                                     .sets = set_one(a, REAL_CHANGES[i].variable, REAL_CHANGES[i].to),
                                     .seconds = REAL_CHANGES[i].seconds};
        c[i].from.allowed[REAL_CHANGES[i].other] = REAL_CHANGES[i].other_bits;
        c[i].from.allowed[REAL_CHANGES[i].variable] |= REAL_CHANGES[i].from;
    }
    return c;
}

/* Engine running with the cover open or the cock shut; the body up without prop and the engine off; work with the body
 * up. */
static struct round_partial *real_never(struct arena *a)
{
    struct round_partial *n = ARENA_ARRAY(a, struct round_partial, 4);
    n[0].allowed[ENGINE] = 4;
    n[0].allowed[COVER] = 2;
    n[1].allowed[ENGINE] = 6;
    n[1].allowed[COCK] = 2;
    n[2].allowed[ENGINE] = 1;
    n[2].allowed[BODY] = 2;
    n[3].allowed[ENGINE] = 4;
    n[3].allowed[BODY] = 6;
    return n;
}

struct round_problem machine_real(struct arena *a, uint64_t seed, size_t n_points)
{
    uint64_t r = seed * UINT64_C(0x9e3779b97f4a7c15) | 1;
    for (int i = 0; i < 8; i++) {
        chance_next(&r);
    }
    struct round_point *points = ARENA_ARRAY(a, struct round_point, n_points + 1);
    size_t chain = 0; /* steps still to come in the task */
    size_t need = 0;
    for (size_t i = 0; i < n_points; i++) {
        bool goes_on = chain > 0;
        if (!goes_on) {
            need = chance(&r, N_REAL_NEEDS);
            chain = chance(&r, 4) == 0 ? 2 + chance(&r, 4) : 1;
        }
        chain--;
        size_t places = 0;
        while (REAL_NEEDS[need].places[places] >= 0) {
            places++;
        }
        points[i] = (struct round_point){.id = id_of(a, "step", i),
                                         .place = REAL_NEEDS[need].places[chance(&r, places)],
                                         .seconds = (int32_t)(8 + chance(&r, 50))};
        for (size_t v = 0; v < N_REAL; v++) {
            points[i].needs.allowed[v] = REAL_NEEDS[need].bits[v];
        }
        if (goes_on) {
            size_t *after = ARENA_NEW(a, size_t);
            *after = i - 1;
            points[i].after = after;
            points[i].n_after = 1;
        }
    }
    return (struct round_problem){.variables = REAL_VARIABLES,
                                  .n_variables = N_REAL,
                                  .places = REAL_PLACES,
                                  .n_places = sizeof REAL_PLACES / sizeof *REAL_PLACES,
                                  .never = real_never(a),
                                  .n_never = 4,
                                  .changes = real_changes(a),
                                  .n_changes = N_REAL_CHANGES,
                                  .points = points,
                                  .n_points = n_points,
                                  .finish = round_parked(N_REAL),
                                  .walk_fixed_s = ROUND_WALK_FIXED_S,
                                  .walk_s_per_m = ROUND_WALK_S_PER_M};
}
