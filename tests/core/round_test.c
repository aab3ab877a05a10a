/* The round: against full enumeration on small machines, its safety on many, its messages, hand-made machines. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "round/round.h"
#include "round_machine.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The least seconds of moves over every order whatever, by relaxing times over all (points done, place, condition) with
 * single moves until nothing changes: nothing is merged, passed or bounded. -1 when no safe round exists. */
static int64_t enumerate(const struct round_problem *p)
{
    struct arena a = arena_new(&arena_libc);
    size_t values = 1;
    for (size_t v = 0; v < p->n_variables; v++) {
        values *= 4;
    }
    size_t n_nodes = values * p->n_places;
    size_t n_sets = (size_t)1 << p->n_points;
    int32_t *best = ARENA_ARRAY(&a, int32_t, n_sets * n_nodes);
    memset(best, 0x3f, n_sets * n_nodes * sizeof *best);
    const int32_t none = 0x3f3f3f3f;
    struct round_condition *of = ARENA_ARRAY(&a, struct round_condition, values);
    bool *safe = ARENA_ARRAY(&a, bool, values);
    for (size_t c = 0; c < values; c++) {
        safe[c] = true;
        for (size_t v = 0; v < p->n_variables; v++) {
            of[c].value[v] = (uint8_t)(c >> 2 * v & 3);
            safe[c] = safe[c] && of[c].value[v] < p->variables[v].n_values;
        }
        for (size_t i = 0; i < p->n_never; i++) {
            safe[c] = safe[c] && !round_holds(&p->never[i], &of[c]);
        }
    }
    size_t start = 0;
    for (size_t v = 0; v < p->n_variables; v++) {
        start |= (size_t)p->start.value[v] << 2 * v;
    }
    size_t done = 0;
    for (size_t i = 0; i < p->n_points; i++) {
        done |= p->done && p->done[i] ? (size_t)1 << i : 0;
    }
    best[done * n_nodes + start * p->n_places + (size_t)p->start_place] = 0;
    for (size_t set = done; set < n_sets; set++) {
        bool more = true;
        while (more) {
            more = false;
            for (size_t node = 0; node < n_nodes; node++) {
                int32_t now = best[set * n_nodes + node];
                if (now == none) {
                    continue;
                }
                size_t c = node / p->n_places;
                int at = (int)(node % p->n_places);
                for (int q = 0; q < (int)p->n_places; q++) {
                    int32_t *to = &best[set * n_nodes + c * p->n_places + (size_t)q];
                    int32_t t = now + round_walk_s(p, at, q);
                    more = more || t < *to;
                    *to = t < *to ? t : *to;
                }
                for (size_t i = 0; i < p->n_changes + p->n_points; i++) {
                    bool point = i >= p->n_changes;
                    const struct round_point *x = point ? &p->points[i - p->n_changes] : NULL;
                    const struct round_change *y = point ? NULL : &p->changes[i];
                    size_t to_set = point ? set | (size_t)1 << (i - p->n_changes) : set;
                    bool can = round_holds(point ? &x->needs : &y->from, &of[c]) && !(point && to_set == set);
                    int place = point ? x->place : y->place;
                    for (size_t k = 0; point && k < x->n_after; k++) {
                        can = can && set >> x->after[k] & 1;
                    }
                    size_t to_c = c;
                    for (size_t k = 0; k < (point ? x->n_sets : y->n_sets); k++) {
                        const struct round_set *s = point ? &x->sets[k] : &y->sets[k];
                        to_c = (to_c & ~((size_t)3 << 2 * s->variable)) | (size_t)s->value << 2 * s->variable;
                    }
                    if (can && (place == ROUND_ANYWHERE || place == at) && safe[to_c]) {
                        int32_t *to = &best[to_set * n_nodes + to_c * p->n_places + (size_t)at];
                        int32_t t = now + (point ? 0 : y->seconds);
                        more = more || (t < *to && to_set == set);
                        *to = t < *to ? t : *to;
                    }
                }
            }
        }
    }
    int64_t least = -1;
    for (size_t node = 0; node < n_nodes; node++) {
        int at = (int)(node % p->n_places);
        int32_t t = best[(n_sets - 1) * n_nodes + node];
        bool home = round_holds(&p->finish, &of[node / p->n_places]) &&
                    (p->finish_place == ROUND_ANYWHERE || p->finish_place == at);
        least = home && t != none && (least < 0 || t < least) ? t : least;
    }
    arena_free(&a);
    return least;
}

/* A seed from the environment repeats one case. */
static uint64_t first_seed(void)
{
    const char *seed = getenv("WITMARK_SEED");
    return seed ? strtoull(seed, NULL, 10) : 1;
}

/* Solves and checks against enumeration; the seed is in the failure. Returns whether there was a round. */
static bool same_as_enumeration(const struct round_problem *p, uint64_t seed, const char *what)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct round_plan plan;
    bool ok = round_solve(p, NULL, &a, &plan, &e);
    int64_t least = enumerate(p);
    if (ok != (least >= 0) || (ok && (plan.move_s != least || !plan.proven || plan.lower_bound_s != least)) ||
        (!ok && e.kind != ERR_REFUSED)) {
        fail_msg("%s, seed %llu: %s %lld s (bound %lld, proven %d), by enumeration %lld s; %s", what,
                 (unsigned long long)seed, ok ? "solved" : "refused", (long long)plan.move_s,
                 (long long)plan.lower_bound_s, plan.proven, (long long)least, str_z(&a, err_text(&a, &e)));
    }
    arena_free(&a);
    return ok;
}

static void enumeration_any(void **state)
{
    (void)state;
    size_t solved = 0;
    uint64_t seed = first_seed();
    for (uint64_t k = 0; k < 400; k++, seed++) {
        struct arena a = arena_new(&arena_libc);
        struct round_problem p = machine_any(&a, seed, seed % 7 + (seed % 50 == 0 ? 3 : 0));
        solved += same_as_enumeration(&p, seed, "any machine");
        arena_free(&a);
    }
    assert_in_range(solved, 100, 390); /* both kinds are met */
}

static void enumeration_real(void **state)
{
    (void)state;
    uint64_t seed = first_seed();
    for (uint64_t k = 0; k < 6; k++, seed++) {
        struct arena a = arena_new(&arena_libc);
        struct round_problem p = machine_real(&a, seed, 6);
        assert_true(same_as_enumeration(&p, seed, "real machine"));
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(enumeration_any),
        cmocka_unit_test(enumeration_real),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
