/* Reserves per second: P10, P50, P90 of 40 checkpoints a machine, against the same three days by halving on the same
 * incomplete beta ratio, in one run; how the time grows with the machines; and what fitting and one entry cost.
 *
 *   reserve_bench [MOST]     machines at most, default 100 000
 *   reserve_bench --rows N   what the quantile search was asked and answered, for reserve_scipy.py
 */
#include "meter/usage.h"
#include "reserve/reserve.h"
#include "usage_world.h"

#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define CHECKPOINTS 40
#define TODAY 18797

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* The three days by halving until the clock since the reading is known to 1e-11, as one would with a library's vectors.
 */
static double by_halving(const struct usage_state *u, double L, double p)
{
    double low = u->start;
    double high = u->start + 1;
    while (usage_passage(u, L, usage_clock_day(u->clock, high)).p < p && high < u->start + 40000) {
        high = u->start + 2 * (high - u->start);
    }
    while (high - low > 1e-11 * (high - u->start)) {
        double middle = (low + high) / 2;
        if (usage_passage(u, L, usage_clock_day(u->clock, middle)).p < p) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return usage_clock_day(u->clock, high);
}

static double hours_of(int checkpoint)
{
    return 5 + 25.0 * checkpoint;
}

/* States of n machines: those of the sixty that were made, each with some hours more. */
static struct usage_state *states_of(struct arena *a, const struct usage_state *made, int n_made, int n)
{
    struct usage_state *u = ARENA_ARRAY(a, struct usage_state, n);
    for (int i = 0; i < n; i++) {
        u[i] = made[i % n_made];
        u[i].c += 0.001 * (i / n_made);
        u[i].d += 0.002 * (i / n_made);
    }
    return u;
}

/* One core's share. */
struct share {
    const struct usage_state *u;
    int n;
    int64_t sum;
};

static void *run_share(void *arg);

/* Seconds for all reserves of n machines on so many cores. */
static double run_on(int cores, const struct usage_state *u, int n, int64_t *sum)
{
    pthread_t threads[8];
    struct share shares[8];
    double from = now();
    for (int i = 0; i < cores; i++) {
        int first = (int)((int64_t)n * i / cores);
        shares[i] = (struct share){u + first, (int)((int64_t)n * (i + 1) / cores) - first, 0};
        if (pthread_create(&threads[i], NULL, run_share, &shares[i]) != 0) {
            exit(1);
        }
    }
    for (int i = 0; i < cores; i++) {
        (void)pthread_join(threads[i], NULL);
        *sum += shares[i].sum;
    }
    return now() - from;
}

/* Seconds for all reserves of n machines. */
static double run(const struct usage_state *u, int n, int64_t *sum)
{
    double from = now();
    for (int i = 0; i < n; i++) {
        for (int k = 0; k < CHECKPOINTS; k++) {
            struct interval every = {.hours = hours_of(k)};
            struct reserve_since since = {true, u[i].total, TODAY};
            struct reserve r = reserve_forecast(every, since, u[i].total, 2, TODAY, &u[i]);
            *sum += r.p10 ^ r.p90;
        }
    }
    return now() - from;
}

static void *run_share(void *arg)
{
    struct share *s = arg;
    (void)run(s->u, s->n, &s->sum);
    return NULL;
}

/* What the quantile search alone is asked, in lines for reserve_scipy.py: machines of many histories, hours left, three
 * probabilities. */
static int write_rows(const struct usage_state *made, int n_made, int n)
{
    static const double p[] = {0.1, 0.5, 0.9};
    double *kappa = malloc((size_t)n * sizeof *kappa);
    if (!kappa) {
        return 1;
    }
    double from = now();
    for (int i = 0; i < n; i++) {
        const struct usage_state *u = &made[i / 3 % n_made];
        double C = u->c + 1e-4 * i;
        double ratio = hours_of(i / 3 % CHECKPOINTS) / (u->d + 2e-4 * i);
        double power = u->n / (1 - u->n);
        kappa[i] =
            usage_shape_quantile(ratio, power, C, (struct tails){p[i % 3], 1 - p[i % 3]}, i % 3 ? kappa[i - 1] : 0);
    }
    double seconds = now() - from;
    for (int i = 0; i < n; i++) {
        const struct usage_state *u = &made[i / 3 % n_made];
        (void)printf("%.17g %.17g %.17g %.17g %.17g\n", hours_of(i / 3 % CHECKPOINTS) / (u->d + 2e-4 * i),
                     u->n / (1 - u->n), u->c + 1e-4 * i, p[i % 3], kappa[i]);
    }
    (void)printf("seconds %.9g\n", seconds);
    free(kappa);
    return 0;
}

int main(int argc, char **argv)
{
    bool rows = argc > 2 && strcmp(argv[1], "--rows") == 0;
    int most = argc > 1 ? atoi(argv[1]) : 100000;
    struct arena a = arena_new(&arena_libc);
    struct usage_world w = usage_world_plain(5);
    struct backtest_machine *made = usage_world_make(&a, &w);
    struct usage_machine *m = ARENA_ARRAY(&a, struct usage_machine, w.machines);
    int readings = 0;
    for (int i = 0; i < w.machines; i++) {
        struct meter_history h = meter_clean(&a, made[i].readings, made[i].n, NULL, 0);
        m[i] = usage_machine_of(&a, &h, made[i].pauses, made[i].n_pauses, 0, made[i].family);
        readings += m[i].n;
    }
    double from = now();
    struct usage_fleet fleet = usage_fit(&a, m, w.machines, w.families, TODAY);
    if (!rows) {
        (void)printf("fit: %d machines, %d readings, %d families: %.1f ms\n", w.machines, readings, w.families,
                     (now() - from) * 1e3);
    }
    struct usage_state *u = ARENA_ARRAY(&a, struct usage_state, w.machines);
    from = now();
    for (int i = 0; i < w.machines; i++) {
        u[i] = usage_state_of(&a, &fleet.families[m[i].family], &m[i], (double)INFINITY);
    }
    if (rows) {
        int status = write_rows(u, w.machines, atoi(argv[2]));
        arena_free(&a);
        return status;
    }
    (void)printf("one machine's state: %.1f us\n", (now() - from) / w.machines * 1e6);

    /* Against halving, on the same machines, with the largest difference of a day. */
    static const double p[] = {0.1, 0.5, 0.9};
    double ours = 0;
    double halving = 0;
    double apart = 0;
    for (int i = 0; i < w.machines; i++) {
        for (int k = 0; k < CHECKPOINTS; k++) {
            double quick[3];
            double slow[3];
            from = now();
            usage_quantiles(&u[i], hours_of(k), p, 3, quick);
            double middle = now();
            for (int j = 0; j < 3; j++) {
                slow[j] = by_halving(&u[i], hours_of(k), p[j]);
            }
            ours += middle - from;
            halving += now() - middle;
            for (int j = 0; j < 3; j++) {
                apart = isfinite(quick[j]) ? fmax(apart, fabs(quick[j] - slow[j]) / (1 + slow[j] - u[i].day)) : apart;
            }
        }
    }
    (void)printf("three days by secant: %.2f us; by halving: %.2f us; %.1f times; largest difference %.1e\n",
                 ours / w.machines / CHECKPOINTS * 1e6, halving / w.machines / CHECKPOINTS * 1e6, halving / ours,
                 apart);

    double sx = 0;
    double sy = 0;
    double sxx = 0;
    double sxy = 0;
    int n_sizes = 0;
    int64_t sum = 0;
    for (int n = 100; n <= most; n *= 10) {
        struct arena_mark mark = arena_mark(&a);
        struct usage_state *many = states_of(&a, u, w.machines, n);
        double seconds = run(many, n, &sum);
        double both = run_on(2, many, n, &sum);
        (void)printf("%6d machines: %8.3f s, %.0f reserves a second, on two cores %.2f times as many; %zu bytes a "
                     "machine\n",
                     n, seconds, (double)n * CHECKPOINTS / seconds, seconds / both, sizeof *many);
        double x = log(n);
        double y = log(seconds);
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
        n_sizes++;
        arena_rewind(&a, mark);
    }
    if (n_sizes > 1) {
        (void)printf("log-log slope %.3f (checksum %lld)\n", (n_sizes * sxy - sx * sy) / (n_sizes * sxx - sx * sx),
                     (long long)sum);
    }
    arena_free(&a);
    return 0;
}
