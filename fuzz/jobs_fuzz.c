/* Lists of jobs from any bytes, as CSV, as YAML and on one line: no crash, and what was read becomes jobs or a refusal.
 */
#include "feed_jobs.h"

#include <math.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void as_jobs(struct arena *a, const struct burn_row *rows, size_t n)
{
    static const struct str names[] = {{"raking", 6}, {"idling", 6}};
    struct burn_duties duties = {names, names, 2};
    for (size_t i = 0; i < n; i++) {
        struct burn_job job;
        struct err e = err_new(a);
        bool ok = burn_job_of(&rows[i], &duties, i % 2, &job, &e);
        if (ok ? !(job.hours >= 0) || !(job.stop_min >= 0) || job.name.n == 0 || job.duty > 1 : e.what.n == 0) {
            abort();
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const forms[] = {"jobs.csv", "jobs.yaml", "jobs"};
    struct arena a = arena_new(&arena_libc);
    struct str s = {(const char *)data, size};
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++) {
        struct burn_row *rows = NULL;
        size_t n = 0;
        struct err e = err_new(&a);
        bool ok = feed_jobs_read(&a, str_of(forms[i]), s, &rows, &n, &e);
        if (ok ? n == 0 || n > BURN_JOBS_MOST : e.what.n == 0) {
            abort();
        }
        as_jobs(&a, rows, ok ? n : 0);
    }
    struct burn_row *rows = NULL;
    size_t n = 0;
    struct err e = err_new(&a);
    if (feed_jobs_line(&a, s, &rows, &n, &e)) {
        as_jobs(&a, rows, n);
    }
    arena_free(&a);
    return 0;
}
