/* Reading a spreadsheet into a plan against libcsv merely splitting the same bytes, in one run.
 *
 *   csv_bench [ROWS]     default 40 000 rows, about 2.5 MB
 */
#include "csv_depot.h"
#include "csv_internal.h"

#include <csv.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static void count_cell(void *cell, size_t n, void *data)
{
    (void)cell;
    *(size_t *)data += n;
}

static void count_row(int end, void *data)
{
    (void)end;
    (void)data;
}

/* Seconds for libcsv to split the bytes once. */
static double split_with_libcsv(struct str bytes)
{
    struct csv_parser p;
    size_t sum = 0;
    double from = now();
    if (csv_init(&p, 0) != 0) {
        exit(1);
    }
    csv_parse(&p, bytes.p, bytes.n, count_cell, count_row, &sum);
    csv_fini(&p, count_cell, count_row, &sum);
    csv_free(&p);
    return now() - from;
}

/* Seconds for our own splitting, which keeps every cell with its line and column. */
static double split_with_places(struct str bytes)
{
    struct arena a = arena_new(&arena_libc);
    double from = now();
    struct csv_table t = csv_split(&a, bytes, ';', SIZE_MAX);
    double took = now() - from;
    if (t.n_rows == 0) {
        exit(1);
    }
    arena_free(&a);
    return took;
}

/* A table as a depot would keep it for years. */
static struct str make_table(struct arena *a, int rows)
{
    static const char *const work[] = {"", "Change the engine oil", "", "grease rake, torque wheel nuts",
                                       "", "radio mended"};
    struct text t = text_new(a);
    text_addz(&t, "Date;Machine;Hours;Tyre FL (bar);Work;Technician;Notes\r\n");
    day_t day = 20000;
    for (int i = 0; i < rows; i++) {
        text_day(&t, day + i / 8);
        text_addz(&t, i % 2 ? ";BR6-01240;" : ";Beach 1;");
        text_fixed(&t, 400 + i * 0.4, 1);
        text_char(&t, ';');
        text_fixed(&t, 1.4 + i % 20 / 100.0, 2);
        text_join(&t, ";", work[i % 6], ";P. Marsh;", i % 5 ? "" : "left \"rake\" noisy", "\r\n", (char *)0);
    }
    return text_str(&t);
}

int main(int argc, char **argv)
{
    int rows = argc > 1 ? atoi(argv[1]) : 40000;
    struct arena a = arena_new(&arena_libc);
    struct feed_csv_input in = {.name = S("bench.csv"), .bytes = make_table(&a, rows), .today = DAY_NONE};
    in.machines = csv_depot(&a, &in.n_machines);
    double best_plan = 1e9;
    double best_split = 1e9;
    double best_own = 1e9;
    size_t proposals = 0;
    for (int run = 0; run < 5; run++) {
        double split = split_with_libcsv(in.bytes);
        double own = split_with_places(in.bytes);
        struct arena work = arena_new(&arena_libc);
        struct err e = err_new(&work);
        double from = now();
        const struct feed_csv_plan *plan = feed_csv_plan(&work, &in, &e);
        double took = now() - from;
        if (!plan) {
            fprintf(stderr, "csv_bench: %s\n", str_z(&work, err_text(&work, &e)));
            return 1;
        }
        proposals = plan->n_proposals;
        best_plan = took < best_plan ? took : best_plan;
        best_own = own < best_own ? own : best_own;
        best_split = split < best_split ? split : best_split;
        arena_free(&work);
    }
    double mb = (double)in.bytes.n / 1e6;
    printf("csv: %.2f MB, %d rows, %zu proposals\n", mb, rows, proposals);
    printf("  libcsv splitting      %6.1f MB/s\n", mb / best_split);
    printf("  splitting with places %6.1f MB/s, time / libcsv %.1f\n", mb / best_own, best_own / best_split);
    printf("  whole plan            %6.1f MB/s, time / libcsv %.1f\n", mb / best_plan, best_plan / best_split);
    arena_free(&a);
    return 0;
}
