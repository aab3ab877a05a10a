/* The search over conditions against plain enumeration: every condition of the product, changes applied until nothing
 * new comes, on machines made at random. The rules it must follow are those of book/condition_graph.h. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "book/condition_graph.h"

#include <stdlib.h>
#include <string.h>

static uint64_t seed = 31415926;

static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static int below(uint64_t *x, int n)
{
    return (int)(next_random(x) % (uint64_t)n);
}

#define VARIABLES 4
#define VALUES 3
#define ALL 81 /* VALUES to the power of VARIABLES */

/* A machine made at random: a few changes and forbidden combinations over four variables of three values. */
struct machine {
    struct book book;
    struct book_variable variables[VARIABLES];
    struct book_never nevers[3];
    struct book_change changes[12];
    struct book_place places[2];
};

static struct book_condition some_condition(uint64_t *x, int chance)
{
    struct book_condition c = {{0}};
    for (int v = 0; v < VARIABLES; v++) {
        if (below(x, 100) < chance) {
            c.allow[v] = (uint16_t)(1 + below(x, 7));
        }
    }
    return c;
}

static void make(struct machine *m, uint64_t *x)
{
    *m = (struct machine){0};
    for (int v = 0; v < VARIABLES; v++) {
        m->variables[v].n_values = VALUES;
    }
    for (int i = 0; i < 3; i++) {
        m->nevers[i].when = some_condition(x, 60);
    }
    m->places[1].needs = some_condition(x, 20);
    for (int i = 0; i < 12; i++) {
        m->changes[i].from = some_condition(x, 35);
        m->changes[i].place = below(x, 3) - 1; /* BOOK_NONE, 0, 1 */
        for (int v = 0; v < VARIABLES; v++) {
            m->changes[i].to[v] = (int8_t)(below(x, 3) ? BOOK_NONE : below(x, VALUES));
        }
    }
    m->book = (struct book){.variables = m->variables,
                            .n_variables = VARIABLES,
                            .nevers = m->nevers,
                            .n_nevers = below(x, 4),
                            .changes = m->changes,
                            .n_changes = 2 + below(x, 11),
                            .places = m->places,
                            .n_places = 2};
}

/* Condition number k of the product, as its values. */
static void values_of(int k, int *value)
{
    for (int v = 0; v < VARIABLES; v++, k /= VALUES) {
        value[v] = k % VALUES;
    }
}

static bool holds(const int *value, struct book_condition c)
{
    for (int v = 0; v < VARIABLES; v++) {
        if (c.allow[v] && !(c.allow[v] >> value[v] & 1)) {
            return false;
        }
    }
    return true;
}

static bool names_nothing(struct book_condition c)
{
    return !c.allow[0] && !c.allow[1] && !c.allow[2] && !c.allow[3];
}

/* Where change i leads from condition k, or -1. */
static int step(const struct book *b, int i, int k)
{
    const struct book_change *c = &b->changes[i];
    int value[VARIABLES];
    values_of(k, value);
    if (!holds(value, c->from) || (c->place != BOOK_NONE && !holds(value, b->places[c->place].needs))) {
        return -1;
    }
    int to = 0;
    for (int v = VARIABLES - 1; v >= 0; v--) {
        value[v] = c->to[v] == BOOK_NONE ? value[v] : c->to[v];
        to = to * VALUES + value[v];
    }
    for (int n = 0; n < b->n_nevers; n++) {
        if (!names_nothing(b->nevers[n].when) && holds(value, b->nevers[n].when)) {
            return -1;
        }
    }
    return to;
}

/* reach[i][j]: condition j can be brought about from i. Warshall's closure over the whole product. */
static void closure(const struct book *b, bool reach[ALL][ALL])
{
    memset(reach, 0, sizeof(bool[ALL][ALL]));
    for (int k = 0; k < ALL; k++) {
        reach[k][k] = true;
        for (int i = 0; i < b->n_changes; i++) {
            int to = step(b, i, k);
            if (to >= 0) {
                reach[k][to] = true;
            }
        }
    }
    for (int m = 0; m < ALL; m++) {
        for (int i = 0; i < ALL; i++) {
            for (int j = 0; reach[i][m] && j < ALL; j++) {
                reach[i][j] = reach[i][j] || reach[m][j];
            }
        }
    }
}

static int number_of(condition_state s)
{
    int k = 0;
    for (int v = VARIABLES - 1; v >= 0; v--) {
        k = k * VALUES + (int)(s >> (4 * v) & 15);
    }
    return k;
}

static void same_as_enumeration(void **state)
{
    (void)state;
    print_message("# seed %llu\n", (unsigned long long)seed);
    uint64_t x = seed;
    static bool reach[ALL][ALL];
    int with_more = 0;
    int one_way = 0;
    for (int round = 0; round < 500; round++) {
        struct machine m;
        struct arena a = arena_new(&arena_libc);
        make(&m, &x);
        closure(&m.book, reach);
        struct condition_graph g = condition_graph_build(&m.book, 1000, &a);
        int expected = 0;
        for (int k = 0; k < ALL; k++) {
            expected += reach[0][k];
        }
        assert_true(g.complete);
        assert_int_equal(g.n, expected);
        with_more += g.n > 3;
        for (int i = 0; i < g.n; i++) {
            int k = number_of(g.state[i]);
            assert_true(reach[0][k]);
            assert_int_equal(g.back[i], reach[k][0]);
            one_way += !g.back[i];
        }
        for (int i = 0; i < m.book.n_changes; i++) {
            bool possible = false;
            bool no_return = false;
            for (int k = 0; k < ALL; k++) {
                int to = reach[0][k] ? step(&m.book, i, k) : -1;
                possible = possible || to >= 0;
                no_return = no_return || (to >= 0 && reach[k][0] && !reach[to][0]);
            }
            assert_int_equal(g.changes[i].possible, possible);
            assert_int_equal(g.changes[i].no_return, no_return);
        }
        arena_free(&a);
    }
    assert_true(with_more > 50); /* the machines are not all dull */
    assert_true(one_way > 50);
}

/* Spreading keeps a condition all the way: compared with spreading one condition at a time. */
static void spread_keeps(void **state)
{
    (void)state;
    uint64_t x = seed;
    for (int round = 0; round < 500; round++) {
        struct machine m;
        struct arena a = arena_new(&arena_libc);
        make(&m, &x);
        struct book_condition keep = some_condition(&x, 40);
        struct condition_graph g = condition_graph_build(&m.book, 1000, &a);
        uint8_t *set = ARENA_ARRAY(&a, uint8_t, g.n);
        uint8_t *slow = ARENA_ARRAY(&a, uint8_t, g.n);
        for (int i = 0; i < g.n; i++) {
            set[i] = below(&x, 4) == 0;
            slow[i] = set[i] && condition_holds(g.state[i], keep, VARIABLES);
        }
        for (int pass = 0; pass < g.n; pass++) {
            for (int i = 0; i < g.n; i++) {
                for (int e = g.first[i]; slow[i] && e < g.first[i + 1]; e++) {
                    slow[g.to[e]] |= g.back[g.to[e]] && condition_holds(g.state[g.to[e]], keep, VARIABLES);
                }
            }
        }
        condition_graph_spread(&g, keep, set);
        assert_memory_equal(set, slow, (size_t)g.n);
        arena_free(&a);
    }
}

/* More conditions than asked for: the search stops and says so. */
static void too_many(void **state)
{
    (void)state;
    uint64_t x = 7;
    struct machine m;
    struct arena a = arena_new(&arena_libc);
    make(&m, &x);
    m.book.n_nevers = 0;
    m.book.n_changes = VARIABLES;
    for (int v = 0; v < VARIABLES; v++) {
        m.changes[v] = (struct book_change){.place = BOOK_NONE, .to = {-1, -1, -1, -1}};
        m.changes[v].to[v] = 1;
    }
    struct condition_graph g = condition_graph_build(&m.book, 16, &a);
    assert_true(g.complete); /* two values of four variables */
    assert_int_equal(g.n, 16);
    g = condition_graph_build(&m.book, 15, &a);
    assert_false(g.complete);
    assert_int_equal(g.n, 15);
    arena_free(&a);
}

int main(int argc, char **argv)
{
    if (argc > 1) {
        seed = strtoull(argv[1], NULL, 10);
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(same_as_enumeration),
        cmocka_unit_test(spread_keeps),
        cmocka_unit_test(too_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
