/* Sequential ordering: against full enumeration on small problems, published instances, reading and its messages. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "round/sop.h"
#include "round_machine.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A small problem by chance. Kinds: anything; costs that are distances (going straight is never dearer) with many
 * zeros; few possible steps. Rules keep to a shuffled order, so that one order exists where all steps are possible. */
static struct sop any_problem(struct arena *a, uint64_t seed, size_t n)
{
    uint64_t r = seed * UINT64_C(0x9e3779b97f4a7c15) | 1;
    for (int i = 0; i < 8; i++) {
        chance_next(&r);
    }
    struct sop p = sop_new(a, n);
    size_t kind = chance(&r, 4);
    size_t many = 2 + chance(&r, 8);
    int32_t at[16];
    for (size_t i = 0; i < n; i++) {
        at[i] = (int32_t)chance(&r, n) * 10;
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < n; k++) {
            int32_t up = at[k] > at[i] ? 3 * (at[k] - at[i]) : at[i] - at[k];
            int32_t c = kind == 1 ? up : (int32_t)chance(&r, kind == 3 ? 3 : 50);
            p.cost[i * n + k] = kind == 2 && chance(&r, 4) == 0 && i != k ? SOP_NEVER : c;
            if (i > 0 && k > i && k + 1 < n && chance(&r, many) == 0) {
                p.before[i * n + k] = true;
            }
        }
    }
    for (size_t i = 1; i + 2 < n; i++) { /* shuffle the names of the inner nodes */
        size_t k = i + chance(&r, n - 1 - i);
        for (size_t x = 0; x < n; x++) {
            int32_t c = p.cost[x * n + i];
            p.cost[x * n + i] = p.cost[x * n + k];
            p.cost[x * n + k] = c;
            bool b = p.before[x * n + i];
            p.before[x * n + i] = p.before[x * n + k];
            p.before[x * n + k] = b;
        }
        for (size_t x = 0; x < n; x++) {
            int32_t c = p.cost[i * n + x];
            p.cost[i * n + x] = p.cost[k * n + x];
            p.cost[k * n + x] = c;
            bool b = p.before[i * n + x];
            p.before[i * n + x] = p.before[k * n + x];
            p.before[k * n + x] = b;
        }
    }
    return p;
}

/* The least cost over all orders, one by one; -1 when none is allowed. */
static int64_t enumerate(const struct sop *p, unsigned seen, size_t last, size_t k, int64_t cost, int64_t least)
{
    if (k == p->n) {
        return least < 0 || cost < least ? cost : least;
    }
    for (size_t b = 1; b < p->n; b++) {
        bool can = !(seen >> b & 1) && p->cost[last * p->n + b] >= 0;
        for (size_t a = 0; a < p->n && can; a++) {
            can = !p->before[a * p->n + b] || (seen >> a & 1);
        }
        if (can) {
            least = enumerate(p, seen | 1u << b, b, k + 1, cost + p->cost[last * p->n + b], least);
        }
    }
    return least;
}

static void enumeration(void **state)
{
    (void)state;
    const char *from = getenv("WITMARK_SEED");
    uint64_t seed = from ? strtoull(from, NULL, 10) : 1;
    size_t none = 0;
    for (int k = 0; k < 400; k++, seed++) {
        struct arena a = arena_new(&arena_libc);
        struct sop p = any_problem(&a, seed, 2 + seed % (seed % 40 == 0 ? 10 : 8));
        struct err e = err_new(&a);
        struct sop_result r;
        bool ok = sop_solve(&p, NULL, &a, &r, &e);
        int64_t least = enumerate(&p, 1, 0, 1, 0, -1);
        int64_t cost = -1;
        bool same = ok ? least >= 0 && r.proven && r.cost == least && r.lower_bound == least &&
                             sop_check(&p, r.order, &cost) && cost == least
                       : least < 0 && (e.kind == ERR_REFUSED || e.kind == ERR_BUSY);
        if (!same) {
            fail_msg("seed %llu: cost %lld, bound %lld, proven %d; by enumeration %lld; %s", (unsigned long long)seed,
                     (long long)r.cost, (long long)r.lower_bound, r.proven, (long long)least,
                     str_z(&a, err_text(&a, &e)));
        }
        none += least < 0;
        arena_free(&a);
    }
    assert_in_range(none, 1, 200);
}

/* A file as text; empty when it is not there. */
static struct str text_file(struct arena *a, const char *folder, const char *below, const char *name)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/%s/%s", folder, below, name);
    FILE *f = fopen(path, "rb");
    if (!f) {
        return S("");
    }
    char *p = arena_alloc(a, 1 << 18, 1);
    size_t n = fread(p, 1, 1 << 18, f);
    fclose(f);
    return (struct str){p, n};
}

/* A file of the shared checks. */
static struct str shared_file(struct arena *a, const char *name)
{
    const char *shared = getenv("WITMARK_SHARED");
    return text_file(a, shared ? shared : "../shared", "checks/sequencing", name);
}

/* The hand-made instances; their optima are worked out in tests/data/sequencing/README.md. */
static void hand_made(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    const char *data = getenv("WITMARK_DATA");
    struct str rest = text_file(&a, data ? data : "tests/data", "sequencing", "optima.csv");
    struct str line;
    int n = 0;
    str_next(&rest, '\n', &line); /* the header */
    while (str_next(&rest, '\n', &line) && line.n) {
        struct str name = {0};
        struct str size = {0};
        struct str best = {0};
        int64_t optimum = 0;
        int64_t cost = 0;
        assert_true(str_next(&line, ',', &name) && str_next(&line, ',', &size) && str_next(&line, ',', &best));
        assert_true(num_parse_i64(best, &optimum));
        struct text file = text_new(&a);
        text_join(&file, str_z(&a, name), ".sop", (char *)0);
        struct err e = err_new(&a);
        struct sop p;
        struct sop_result r;
        assert_true(sop_read(name, text_file(&a, data ? data : "tests/data", "sequencing", text_z(&file)), &a, &p, &e));
        assert_true(sop_solve(&p, NULL, &a, &r, &e));
        assert_true(r.proven && sop_check(&p, r.order, &cost));
        assert_int_equal(r.cost, optimum);
        assert_int_equal(cost, optimum);
        n++;
    }
    assert_int_equal(n, 4);
    arena_free(&a);
}

/* Published instances that are proven quickly. Source of the optima: TSPLIB 95 SOP and SOPLIB 2006, values and proofs
 * from the table of the ImprovedPnB study code (Rudich and others 2023) and a public solver table for R.*, as in
 * optima.csv there. */
static void published_proven(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        int64_t optimum;
    } rows[] = {
        {"ESC07.sop", 2125}, {"ESC12.sop", 1675}, {"ESC25.sop", 1681},
        {"ESC63.sop", 62},   {"br17.10.sop", 55}, {"R.200.1000.60.sop", 71556},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct str text = shared_file(&a, rows[i].file);
        struct err e = err_new(&a);
        struct sop p;
        struct sop_result r;
        int64_t cost = 0;
        if (!text.n) {
            arena_free(&a);
            skip();
        }
        assert_true(sop_read(str_of(rows[i].file), text, &a, &p, &e));
        assert_true(sop_solve(&p, NULL, &a, &r, &e));
        assert_true(r.proven);
        assert_int_equal(r.cost, rows[i].optimum);
        assert_true(sop_check(&p, r.order, &cost));
        assert_int_equal(cost, r.cost);
        arena_free(&a);
    }
}

/* Instances that take longer, with little work: an order within 1 % of the best known and never below the published
 * bound, and a bound that is not above the best known. Sources as above. */
static void published_bounded(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        int64_t bound, best;
    } rows[] = {
        {"ry48p.1.sop", 15805, 15805},
        {"p43.4.sop", 83005, 83005},
        {"ft53.4.sop", 14425, 14425},
        {"rbg048a.sop", 351, 351},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct str text = shared_file(&a, rows[i].file);
        struct err e = err_new(&a);
        struct sop p;
        struct sop_result r;
        const struct sop_options few = {.most_states = 500};
        if (!text.n) {
            arena_free(&a);
            skip();
        }
        assert_true(sop_read(str_of(rows[i].file), text, &a, &p, &e));
        assert_true(sop_solve(&p, &few, &a, &r, &e));
        if (r.cost < rows[i].bound || r.cost > rows[i].best + rows[i].best / 100 || r.lower_bound > rows[i].best) {
            fail_msg("%s: %lld, bound %lld; published %lld..%lld", rows[i].file, (long long)r.cost,
                     (long long)r.lower_bound, (long long)rows[i].bound, (long long)rows[i].best);
        }
        arena_free(&a);
    }
}

/* Counts down; the search must stop when it says no and still hand out an order with an honest bound. */
static bool count_down(void *ctx)
{
    int *left = ctx;
    return --*left > 0;
}

static void stopped(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct sop p = sop_new(&a, 120);
    uint64_t r = 7;
    for (size_t i = 0; i < p.n * p.n; i++) {
        p.cost[i] = 1 + (int32_t)chance(&r, 1000);
    }
    int left = 3;
    struct err e = err_new(&a);
    struct sop_result result;
    const struct sop_options o = {.go_on = count_down, .ctx = &left};
    assert_true(sop_solve(&p, &o, &a, &result, &e));
    assert_int_equal(left, 0);
    assert_false(result.proven);
    assert_true(result.lower_bound <= result.cost);
    struct sop_result again;
    left = 3;
    assert_true(sop_solve(&p, &o, &a, &again, &e)); /* the same work gives the same order */
    assert_memory_equal(result.order, again.order, p.n * sizeof *again.order);
    arena_free(&a);
}

static void reading(void **state)
{
    (void)state;
    static const char *rows[] = {
        "NAME: x\nTYPE: SOP\nDIMENSION: 3\nEDGE_WEIGHT_TYPE: EXPLICIT\nEDGE_WEIGHT_FORMAT: "
        "FULL_MATRIX\nEDGE_WEIGHT_SECTION\n3\n"
        "0 4 1000\n-1 0 7\n-1 -1 0\nEOF\n",
        "TYPE : SOP\r\nDIMENSION : 3\r\nEDGE_WEIGHT_SECTION\r\n  0 4 1000\r\n -1 0 7\r\n -1 -1 0\r\n",
        "0\t4\t1000\n-1\t0\t7\n-1\t-1\t0\n",
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct sop p;
        if (!sop_read(S("x"), str_of(rows[i]), &a, &p, &e)) {
            fail_msg("row %zu: %s", i, str_z(&a, err_text(&a, &e)));
        }
        assert_int_equal(p.n, 3);
        assert_int_equal(p.cost[1], 4);
        assert_int_equal(p.cost[2], 1000);
        assert_int_equal(p.cost[5], 7);
        assert_int_equal(p.cost[3], SOP_NEVER);
        assert_true(p.before[1] && p.before[2] && p.before[5]);
        struct sop_result r;
        assert_true(sop_solve(&p, NULL, &a, &r, &e));
        assert_int_equal(r.cost, 11);
        arena_free(&a);
    }
}

static void reading_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *message;
    } rows[] = {
        {"", "x:1:1: no EDGE_WEIGHT_SECTION before \"the end of the text\"; NAME, TYPE, COMMENT, DIMENSION, "
             "EDGE_WEIGHT_TYPE, EDGE_WEIGHT_FORMAT, EDGE_WEIGHT_SECTION"},
        {"TYPE: TSP\n", "x:1:1: TYPE is \"TSP\", which cannot be read here; SOP"},
        {"DIMENSION: 300\n", "x:1:1: DIMENSION is \"300\"; 2 to 256"},
        {"EDGE_WEIGHT_FORMAT: UPPER_ROW\n",
         "x:1:1: EDGE_WEIGHT_FORMAT is \"UPPER_ROW\", which cannot be read here; FULL_MATRIX"},
        {"NAME: a\nCOLOUR: red\n",
         "x:2:1: unknown header line: \"COLOUR\"; NAME, TYPE, COMMENT, DIMENSION, EDGE_WEIGHT_TYPE, "
         "EDGE_WEIGHT_FORMAT, EDGE_WEIGHT_SECTION"},
        {"DIMENSION: 2\nEDGE_WEIGHT_SECTION\n3\n0 1 2\n",
         "x:3:1: the dimension in front of the matrix is \"3\"; the DIMENSION "
         "of the header"},
        {"0 1\n-1 x\n", "x:2:4: in the matrix: \"x\"; a whole number"},
        {"0 1\n-1\n", "x:3:1: in the matrix: \"the end of the text\"; a whole number"},
        {"0 1\n-1 0\n5\n", "x:3:1: more after the matrix: \"5\"; EOF or nothing"},
        {"0 -2\n-1 0\n", "x:1:3: a cost is out of range; 0 to 100000000, or -1 for a rule"},
        {"0 1\n-1 -1\n", "x:2:4: a node cannot come before itself; 0"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        struct sop p;
        assert_false(sop_read(S("x"), str_of(rows[i].text), &a, &p, &e));
        assert_string_equal(str_z(&a, err_text(&a, &e)), rows[i].message);
        arena_free(&a);
    }
}

static void ring_named(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct sop p = sop_new(&a, 6);
    struct sop_result r;
    p.before[1 * 6 + 2] = p.before[2 * 6 + 3] = p.before[3 * 6 + 1] = true;
    assert_false(sop_solve(&p, NULL, &a, &r, &e));
    assert_int_equal(e.kind, ERR_CONFLICT);
    assert_string_equal(str_z(&a, e.what), "rules form a ring, no order keeps them: 1 after 3 after 2 after 1");
    arena_free(&a);
}

/* Are the published instances beside the project? They come from public repositories and are never part of it. */
static bool published_here(void)
{
    struct arena a = arena_new(&arena_libc);
    const char *shared = getenv("WITMARK_SHARED");
    bool here = text_file(&a, shared ? shared : "../shared", "checks/sequencing", "ESC07.sop").n > 0;
    arena_free(&a);
    return here;
}

int main(void)
{
    const struct CMUnitTest own[] = {
        cmocka_unit_test(enumeration),     cmocka_unit_test(stopped),    cmocka_unit_test(reading),
        cmocka_unit_test(reading_refused), cmocka_unit_test(ring_named), cmocka_unit_test(hand_made),
    };
    const struct CMUnitTest all[] = {
        cmocka_unit_test(enumeration), cmocka_unit_test(published_proven), cmocka_unit_test(published_bounded),
        cmocka_unit_test(stopped),     cmocka_unit_test(reading),          cmocka_unit_test(reading_refused),
        cmocka_unit_test(ring_named),  cmocka_unit_test(hand_made),
    };
    if (!published_here()) {
        printf("# SKIP: the published instances of $WITMARK_SHARED/checks/sequencing are not here\n");
        return cmocka_run_group_tests(own, NULL, NULL);
    }
    return cmocka_run_group_tests(all, NULL, NULL);
}
