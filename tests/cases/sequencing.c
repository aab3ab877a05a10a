/* Sequencing instances: X.sop with optima.csv beside it. Ten seconds each; passes within 1 % of the best known value,
 * and never with a cost below the published bound or a bound above the best known. */
#include "cases.h"

#include "round/sop.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#define SECONDS 10

/* A whole file; false when it cannot be read. */
static bool read_file(struct arena *a, const char *path, struct str *out)
{
    FILE *f = fopen(path, "rb");
    if (!f) {
        return false;
    }
    struct text t = text_new(a);
    char block[65536];
    size_t n = 0;
    while ((n = fread(block, 1, sizeof block, f)) > 0) {
        text_add(&t, (struct str){block, n});
    }
    bool ok = !ferror(f);
    fclose(f);
    *out = text_str(&t);
    return ok;
}

/* Says stop at a time. */
static bool in_time(void *ctx)
{
    const struct timespec *until = ctx;
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec < until->tv_sec || (now.tv_sec == until->tv_sec && now.tv_nsec < until->tv_nsec);
}

/* What is published of an instance. */
struct published {
    int64_t best, bound; /* bound is 0 when none is given */
};

/* The row of optima.csv: instance,n,best_known,proven,lower_bound,... False when it has none. */
static bool find_published(struct str csv, struct str name, struct published *p)
{
    struct str line;
    while (str_next(&csv, '\n', &line)) {
        struct str cell[5];
        size_t n = 0;
        while (n < 5 && str_next(&line, ',', &cell[n])) {
            n++;
        }
        if (n == 5 && str_eq(cell[0], name)) {
            *p = (struct published){0};
            (void)num_parse_i64(str_trim(cell[4]), &p->bound);
            return num_parse_i64(str_trim(cell[2]), &p->best);
        }
    }
    return false;
}

/* Reads, solves and judges; what came of it is in `said`. */
static bool solve(struct arena *a, struct str name, struct str text, const struct published *known, struct text *said)
{
    struct err e = err_new(a);
    struct sop p;
    struct sop_result r;
    struct timespec until;
    (void)clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += SECONDS;
    const struct sop_options o = {.go_on = in_time, .ctx = &until, .most_states = INT64_MAX};
    if (!sop_read(name, text, a, &p, &e) || !sop_solve(&p, &o, a, &r, &e)) {
        text_add(said, err_text(a, &e));
        return false;
    }
    int64_t cost = 0;
    bool sound = sop_check(&p, r.order, &cost) && cost == r.cost;
    text_addz(said, "value ");
    text_int(said, r.cost);
    text_addz(said, ", bound ");
    text_int(said, r.lower_bound);
    text_addz(said, r.proven ? ", proven; best known " : ", not proven; best known ");
    text_int(said, known->best);
    return sound && r.cost <= known->best + known->best / 100 && r.cost >= known->bound && r.lower_bound <= known->best;
}

void run_sequencing(const char *path, struct tally *t)
{
    struct arena a = arena_new(&arena_libc);
    const char *slash = strrchr(path, '/');
    size_t folder = slash ? (size_t)(slash - path) + 1 : 0;
    struct str file = str_of(path + folder);
    struct str name = str_cut(file, 0, file.n - 4); /* ".sop" */
    struct text optima = text_new(&a);
    struct text said = text_new(&a);
    struct str text, csv;
    struct published known;
    text_add(&optima, (struct str){path, folder});
    text_addz(&optima, "optima.csv");
    if (!read_file(&a, path, &text)) {
        tally_line(t, "FAIL", path, "the file cannot be read");
    } else if (!read_file(&a, text_z(&optima), &csv) || !find_published(csv, name, &known)) {
        tally_line(t, "FAIL", path, "optima.csv beside it has no row for this instance");
    } else {
        bool ok = solve(&a, file, text, &known, &said);
        tally_line(t, ok ? "ok" : "FAIL", path, text_z(&said));
    }
    arena_free(&a);
}
