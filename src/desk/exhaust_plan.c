/* The coming jobs planned around the burns. */
#include "exhaust_internal.h"

#include "feed_jobs.h"

#include <math.h>

static struct burn_duties duties_of(struct arena *a, const struct book *b)
{
    struct str *names = ARENA_ARRAY(a, struct str, b->n_duties + 1);
    struct str *labels = ARENA_ARRAY(a, struct str, b->n_duties + 1);
    for (int i = 0; i < b->n_duties; i++) {
        names[i] = b->duties[i].name;
        labels[i] = b->duties[i].label;
    }
    return (struct burn_duties){names, labels, b->n_duties};
}

static bool read_jobs(const struct desk_jobs *jobs, const struct burn_duties *duties, struct arena *a,
                      struct burn_ask *ask, struct err *e)
{
    struct burn_row *rows = NULL;
    size_t n = 0;
    bool ok = jobs->data.p ? feed_jobs_read(a, jobs->name, jobs->data, &rows, &n, e)
                           : feed_jobs_line(a, jobs->list, &rows, &n, e);
    struct burn_job *at = ARENA_ARRAY(a, struct burn_job, n + 1);
    for (size_t i = 0; ok && i < n; i++) {
        ok = burn_job_of(&rows[i], duties, jobs->fire_ban, &at[i], e);
    }
    ask->jobs = at;
    ask->n = (int)n;
    return ok;
}

bool desk_exhaust_plan(struct desk *d, struct str machine, const struct desk_jobs *jobs, struct arena *a,
                       struct desk_burn_plan *out, struct err *e)
{
    *out = (struct desk_burn_plan){0};
    if (!desk_exhaust(d, machine, a, &out->state, e)) {
        return false;
    }
    struct machine_state *s = desk_state_of(d, out->state.machine);
    const struct exhaust_now *now = exhaust_of(d, s);
    const struct book *b = s->m.book;
    if (!now->belief) {
        return err_set(e, ERR_MISSING, "witmark record reading MACHINE soot, or record burn", str_z(e->a, s->m.name),
                       ": no soot reading and no burn is recorded, so nothing can be planned", (char *)0);
    }
    struct burn_duties duties = duties_of(a, b);
    out->duties = duties.name;
    out->ask = (struct burn_ask){.filter = &now->filter,
                                 .rates = &now->rates,
                                 .now = now->belief,
                                 .added = burn_places_of_book(b),
                                 .burn_min = b->exhaust.burn_s / 60,
                                 .cool_min = b->exhaust.cool_s / 60,
                                 .costs = burn_costs_default(),
                                 .last_stop_min = BURN_STOP_ENOUGH};
    return read_jobs(jobs, &duties, a, &out->ask, e) && burn_plan_make(&out->ask, a, &out->plan, e);
}
