/* The order of a round: how long it takes, and against what.
 *
 * 1. Machines made by chance with short lists: round_solve against plain dynamic programming over all (points done,
 * place, condition), which merges, passes and bounds nothing. Same values; the ratio of times is printed.
 * 2. Lists of 60 steps: times, and how many are proven fastest.
 * 3. The generated rounds of $WITMARK_SHARED/checks/sequencing/rounds, when they are there: the matrix built from the
 * machine data is compared with the .sop file beside it, then both solvers run. With "quick" as argument only up to 50
 * points.
 */
#include "round/round.h"
#include "round/sop.h"
#include "round_machine.h"

#include <jansson.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* Seconds of processor time: other work on the machine does not count. */
static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Says stop at a time. */
static bool before_time(void *ctx)
{
    const double *until = ctx;
    return now() < *until;
}

/* Which of the conditions is c? They include it. */
static size_t number_of(const struct round_condition *all, const struct round_condition *c)
{
    size_t i = 0;
    while (memcmp(&all[i], c, sizeof *c) != 0) {
        i++;
    }
    return i;
}

/* One plain step for the dynamic programme: a change, or a point that then counts as done. */
struct plain_step {
    size_t from, to; /* conditions */
    int place;
    int32_t seconds;
    size_t point; /* SIZE_MAX for a change */
};

/* Everything that can be done in any condition. */
static struct plain_step *plain_steps(struct arena *a, const struct round_problem *p, const struct round_condition *all,
                                      size_t n_all, size_t *n)
{
    struct plain_step *steps = NULL;
    size_t cap = 0;
    *n = 0;
    for (size_t c = 0; c < n_all; c++) {
        for (size_t i = 0; i < p->n_changes + p->n_points; i++) {
            bool point = i >= p->n_changes;
            size_t k = point ? i - p->n_changes : i;
            if (!round_holds(point ? &p->points[k].needs : &p->changes[k].from, &all[c])) {
                continue;
            }
            struct round_condition next = all[c];
            bool never = false;
            for (size_t s = 0; !point && s < p->changes[k].n_sets; s++) {
                next.value[p->changes[k].sets[s].variable] = p->changes[k].sets[s].value;
            }
            for (size_t s = 0; s < p->n_never; s++) {
                never = never || round_holds(&p->never[s], &next);
            }
            if (!never) {
                ARENA_PUSH(a, steps, *n, cap) =
                    (struct plain_step){c, number_of(all, &next), point ? p->points[k].place : p->changes[k].place,
                                        point ? 0 : p->changes[k].seconds, point ? k : SIZE_MAX};
            }
        }
    }
    return steps;
}

/* The least seconds of moves by dynamic programming over all (points done, place, condition). For points that set
 * nothing. */
static int32_t plain(const struct round_problem *p)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct round_condition *all;
    size_t n_all = 0;
    size_t n_steps = 0;
    round_conditions(p, &a, &all, &n_all, &e);
    struct plain_step *steps = plain_steps(&a, p, all, n_all, &n_steps);
    size_t np = p->n_places;
    size_t nodes = n_all * np;
    size_t sets = (size_t)1 << p->n_points;
    int32_t *best = malloc(sets * nodes * sizeof *best);
    memset(best, 0x3f, sets * nodes * sizeof *best);
    best[(size_t)p->start_place] = 0;
    for (size_t set = 0; set < sets; set++) {
        int32_t *at = best + set * nodes;
        bool more = true;
        while (more) {
            more = false;
            for (size_t c = 0; c < n_all; c++) {
                for (size_t i = 0; i < np; i++) {
                    for (size_t k = 0; k < np; k++) {
                        int32_t t = at[c * np + i] + round_walk_s(p, (int)i, (int)k);
                        more = more || t < at[c * np + k];
                        at[c * np + k] = t < at[c * np + k] ? t : at[c * np + k];
                    }
                }
            }
            for (size_t s = 0; s < n_steps; s++) {
                const struct plain_step *x = &steps[s];
                bool point = x->point != SIZE_MAX;
                bool can = !point || !(set >> x->point & 1);
                for (size_t k = 0; point && can && k < p->points[x->point].n_after; k++) {
                    can = set >> p->points[x->point].after[k] & 1;
                }
                int32_t *to = point ? best + (set | (size_t)1 << x->point) * nodes : at;
                for (size_t i = 0; can && i < np; i++) {
                    int32_t t = at[x->from * np + i] + x->seconds;
                    if ((x->place == ROUND_ANYWHERE || x->place == (int)i) && t < to[x->to * np + i]) {
                        to[x->to * np + i] = t;
                        more = more || !point;
                    }
                }
            }
        }
    }
    int32_t least = best[(sets - 1) * nodes + (size_t)p->finish_place]; /* condition 0 is the start, parked */
    free(best);
    arena_free(&a);
    return least;
}

static bool short_lists(void)
{
    double ours = 0;
    double theirs = 0;
    for (uint64_t seed = 1; seed <= 5; seed++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct round_problem p = machine_real(&a, seed, 10);
        struct round_plan plan;
        double t = now();
        bool ok = round_solve(&p, NULL, &a, &plan, &e);
        ours += now() - t;
        t = now();
        int32_t least = plain(&p);
        theirs += now() - t;
        if (!ok || plan.move_s != least) {
            printf("seed %d: %lld s, by plain dynamic programming %d s\n", (int)seed, (long long)plan.move_s,
                   (int)least);
            return false;
        }
        arena_free(&a);
    }
    printf("lists of 10 steps: %.4f s each, plain dynamic programming %.4f s, ratio %.0f; the same values\n", ours / 5,
           theirs / 5, theirs / ours);
    return true;
}

static bool long_lists(size_t n_points)
{
    double sum = 0;
    double most = 0;
    int proven = 0;
    const int n = 20;
    for (uint64_t seed = 1; seed <= (uint64_t)n; seed++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct round_problem p = machine_real(&a, seed, n_points);
        struct round_plan plan;
        const struct round_options o = {.most_work = 600000}; /* as much as the desk allows itself */
        double t = now();
        if (!round_solve(&p, &o, &a, &plan, &e)) {
            printf("seed %d: %s\n", (int)seed, str_z(&a, err_text(&a, &e)));
            return false;
        }
        t = now() - t;
        sum += t;
        most = t > most ? t : most;
        proven += plan.proven;
        arena_free(&a);
    }
    printf("lists of %zu steps: mean %.3f s, longest %.3f s, %d of %d proven fastest\n", n_points, sum / n, most,
           proven, n);
    return true;
}

/* The place of that name; the first when there is none. */
static int place_named(const struct round_problem *p, const json_t *name)
{
    size_t i = p->n_places - 1;
    while (i > 0 && !str_eq(p->places[i].id, str_of(json_string_value(name)))) {
        i--;
    }
    return (int)i;
}

/* A generated round as a problem. */
static bool read_round(struct arena *a, const char *path, struct round_problem *p)
{
    json_error_t fault;
    json_t *root = json_load_file(path, 0, &fault);
    if (!root) {
        return false;
    }
    size_t n_states = json_array_size(json_object_get(root, "states"));
    struct round_variable *v = ARENA_NEW(a, struct round_variable);
    *v = (struct round_variable){S("state"), NULL, n_states};
    json_t *places = json_object_get(root, "places");
    struct round_place *at = ARENA_ARRAY(a, struct round_place, json_object_size(places));
    *p = (struct round_problem){.variables = v,
                                .n_variables = 1,
                                .places = at,
                                .walk_fixed_s = ROUND_WALK_FIXED_S,
                                .walk_s_per_m = ROUND_WALK_S_PER_M};
    const char *key = NULL;
    json_t *x = NULL;
    json_object_foreach(places, key, x)
    {
        at[p->n_places++] = (struct round_place){str_copy(a, str_of(key)), json_number_value(json_array_get(x, 0)),
                                                 json_number_value(json_array_get(x, 1))};
    }
    size_t i = 0;
    json_t *list = json_object_get(root, "transitions");
    struct round_change *changes = ARENA_ARRAY(a, struct round_change, json_array_size(list));
    json_array_foreach(list, i, x)
    {
        struct round_set *s = ARENA_NEW(a, struct round_set);
        s->value = (uint8_t)json_integer_value(json_object_get(x, "to"));
        changes[i] = (struct round_change){.id = S("change"),
                                           .sets = s,
                                           .n_sets = 1,
                                           .place = place_named(p, json_object_get(x, "place")),
                                           .seconds = (int32_t)json_integer_value(json_object_get(x, "seconds"))};
        changes[i].from.allowed[0] = (uint16_t)(1u << json_integer_value(json_object_get(x, "frm")));
        p->n_changes++;
    }
    p->changes = changes;
    list = json_object_get(root, "points");
    struct round_point *points = ARENA_ARRAY(a, struct round_point, json_array_size(list));
    json_array_foreach(list, i, x)
    {
        points[i] = (struct round_point){.id = S("point"),
                                         .place = place_named(p, json_object_get(x, "place")),
                                         .seconds = (int32_t)json_integer_value(json_object_get(x, "seconds"))};
        points[i].needs.allowed[0] = (uint16_t)(1u << json_integer_value(json_object_get(x, "state")));
        p->n_points++;
    }
    json_array_foreach(json_object_get(root, "before"), i, x)
    {
        struct round_point *late = &points[json_integer_value(json_array_get(x, 1))];
        size_t *after = ARENA_ARRAY(a, size_t, late->n_after + 1);
        for (size_t k = 0; k < late->n_after; k++) {
            after[k] = late->after[k];
        }
        after[late->n_after++] = (size_t)json_integer_value(json_array_get(x, 0));
        late->after = after;
    }
    p->points = points;
    json_t *start = json_object_get(root, "start");
    json_t *finish = json_object_get(root, "finish");
    p->start_place = place_named(p, json_array_get(start, 0));
    p->start.value[0] = (uint8_t)json_integer_value(json_array_get(start, 1));
    p->finish_place = place_named(p, json_array_get(finish, 0));
    p->finish.allowed[0] = (uint16_t)(1u << json_integer_value(json_array_get(finish, 1)));
    json_decref(root);
    return true;
}

/* A text file; empty when it cannot be read. */
static struct str read_text(struct arena *a, const char *path)
{
    FILE *f = fopen(path, "rb");
    if (!f) {
        return S("");
    }
    char *p = arena_alloc(a, 1 << 18, 1);
    size_t n = fread(p, 1, 1 << 18, f);
    fclose(f);
    return (struct str){p, n};
}

/* Seconds from one point (or start or finish) to another on the machine: a round of no points between them. */
static int64_t distance(const struct round_problem *p, size_t from, size_t to)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct round_problem q = *p;
    struct round_plan plan;
    q.n_points = 0;
    if (from > 0) {
        const struct round_point *x = &p->points[from - 1];
        q.start_place = x->place;
        q.start.value[0] = (uint8_t)__builtin_ctz(x->needs.allowed[0]);
    }
    if (to <= p->n_points) {
        q.finish_place = p->points[to - 1].place;
        q.finish = p->points[to - 1].needs;
    }
    int64_t s = round_solve(&q, NULL, &a, &plan, &e) ? plan.move_s : -1;
    arena_free(&a);
    return s;
}

/* Must point k come before point i, by a rule or by way of others? The rules have no rings. */
static bool comes_before(const struct round_problem *p, size_t k, size_t i)
{
    for (size_t x = 0; x < p->points[i].n_after; x++) {
        size_t b = p->points[i].after[x];
        if (b == k || comes_before(p, k, b)) {
            return true;
        }
    }
    return false;
}

/* How many entries of the .sop file, whose rules are closed, differ from what the machine says. */
static size_t differences(const struct round_problem *p, const struct sop *m)
{
    size_t n = p->n_points + 2;
    if (n != m->n) {
        return n * n;
    }
    size_t differ = 0;
    for (size_t i = 0; i + 1 < n; i++) {
        for (size_t k = 1; k < n; k++) {
            if (i == k || (i == 0 && k + 1 == n)) {
                continue; /* the way from start to finish stands as "never" in the file */
            }
            bool rule = i > 0 && k + 1 < n && comes_before(p, k - 1, i - 1);
            differ += m->cost[i * n + k] != (rule ? SOP_NEVER : (int32_t)distance(p, i, k));
        }
    }
    return differ;
}

/* One generated round: compared, then solved by both solvers within 10 s each. */
static bool generated(const char *folder, const char *name, int64_t known)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    char path[1024];
    struct round_problem p;
    struct sop m;
    struct round_plan plan;
    struct sop_result r;
    snprintf(path, sizeof path, "%s/%s.json", folder, name);
    if (!read_round(&a, path, &p)) {
        printf("%s: skipped, not there\n", name);
        return true;
    }
    snprintf(path, sizeof path, "%s/%s.sop", folder, name);
    if (!sop_read(str_of(name), read_text(&a, path), &a, &m, &e)) {
        printf("%s\n", str_z(&a, err_text(&a, &e)));
        return false;
    }
    size_t differ = differences(&p, &m);
    double until = now() + 10;
    const struct round_options o = {.go_on = before_time, .ctx = &until};
    double t = now();
    bool ok = round_solve(&p, &o, &a, &plan, &e);
    double as_round = now() - t;
    until = now() + 10;
    const struct sop_options so = {.go_on = before_time, .ctx = &until, .most_states = INT64_MAX};
    t = now();
    ok = ok && sop_solve(&m, &so, &a, &r, &e);
    double as_sop = now() - t;
    if (!ok) {
        printf("%s\n", str_z(&a, err_text(&a, &e)));
        return false;
    }
    printf(
        "%s: known %lld; matrix differs in %zu entries; as a round %lld s (bound %lld, %s, %zu groups) in %.2f s; as a "
        "matrix %lld s (bound %lld, %s) in %.2f s\n",
        name, (long long)known, differ, (long long)plan.move_s, (long long)plan.lower_bound_s,
        plan.proven ? "proven" : "open", plan.groups, as_round, (long long)r.cost, (long long)r.lower_bound,
        r.proven ? "proven" : "open", as_sop);
    arena_free(&a);
    return differ == 0 && plan.move_s <= known && r.cost <= known;
}

int main(int argc, char **argv)
{
    bool quick = argc > 1 && strcmp(argv[1], "quick") == 0;
    bool ok = short_lists() && long_lists(30) && long_lists(60);
    /* values of rounds/optima.csv: those of 20 to 50 points proven, the others the best known */
    static const struct {
        const char *name;
        int64_t known;
    } rounds[] = {{"round-20_0", 878}, {"round-30_0", 906}, {"round-40_0", 906},
                  {"round-50_0", 923}, {"round-60_0", 973}, {"round-80_0", 1034}};
    const char *shared = getenv("WITMARK_SHARED");
    char folder[900];
    snprintf(folder, sizeof folder, "%s/checks/sequencing/rounds", shared ? shared : "../shared");
    for (size_t i = 0; i < (quick ? 4 : 6); i++) {
        ok = generated(folder, rounds[i].name, rounds[i].known) && ok;
    }
    return ok ? 0 : 1;
}
