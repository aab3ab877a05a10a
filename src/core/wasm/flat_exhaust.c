/* The exhaust filter as a flat question. */
#include "wasm/flat_exhaust.h"

#include "exhaust/burn_jobs.h"
#include "exhaust/burn_plan_json.h"
#include "wasm/flat_internal.h"

#include <math.h>

#define AHEAD_H 160.0
#define FIELDS_MOST 32

/* What was asked. */
struct exhaust_given {
    struct soot_filter filter;
    struct soot_rates rates;
    struct str names[SOOT_DUTIES_MOST], labels[SOOT_DUTIES_MOST];
    burn_places added;
    double burn_min, cool_min, load, deviation, since, inhibited;
    bool fire_ban;
    struct burn_row rows[BURN_JOBS_MOST];
    int n_rows;
};

/* "a|b|c" in pieces; returns how many. */
static int pieces_of(struct str value, struct str *at, int most)
{
    int n = 0;
    struct str rest = value;
    struct str piece;
    while (n < most && str_next(&rest, '|', &piece)) {
        at[n++] = piece;
    }
    return n;
}

static bool number_of(const char *name, struct str s, double *value, struct err *e)
{
    return (num_parse(str_trim(s), value) && isfinite(*value)) ||
           err_set(e, ERR_INPUT, "a number", name, ": '", str_z(e->a, s), "'", (char *)0);
}

static bool get_number(struct flat *f, const char *name, double *value, struct err *e)
{
    struct str s;
    return flat_need(f, name, &s, e) && number_of(name, s, value, e);
}

/* NAME|LABEL|MADE|BURNT|FINISH|SHARE|OWN|COV... */
static bool get_duty(struct exhaust_given *g, struct str value, struct err *e)
{
    struct str at[FIELDS_MOST];
    int n = pieces_of(value, at, FIELDS_MOST);
    int i = g->filter.n_duties;
    if (i == SOOT_DUTIES_MOST || n < 7) {
        return err_set(e, ERR_INPUT, "NAME|LABEL|MADE|BURNT|FINISH|SHARE|OWN|COV...", "duty: '", str_z(e->a, value),
                       "'", (char *)0);
    }
    struct soot_duty *d = &g->filter.duty[i];
    double *const numbers[] = {&d->made, &d->burnt, &d->finish, &d->share, &g->rates.made[i]};
    g->names[i] = at[0];
    g->labels[i] = at[1];
    for (int k = 0; k < 5; k++) {
        if (!number_of("duty", at[2 + k], numbers[k], e)) {
            return false;
        }
    }
    for (int k = 7; k < n && k - 7 < SOOT_DUTIES_MOST; k++) {
        if (!number_of("duty", at[k], &g->rates.cov[i][k - 7], e)) {
            return false;
        }
    }
    g->filter.n_duties++;
    return true;
}

static bool get_job(struct exhaust_given *g, struct str value, struct err *e)
{
    if (g->n_rows == BURN_JOBS_MOST) {
        return err_set(e, ERR_INPUT, "at most 60 jobs", "too many jobs", (char *)0);
    }
    struct burn_row *row = &g->rows[g->n_rows++];
    *row = (struct burn_row){.where = {.name = S("job"), .line = (uint32_t)g->n_rows}};
    (void)pieces_of(value, row->field, BURN_ROW_FIELD_COUNT);
    return true;
}

static bool get_given(struct flat *f, struct exhaust_given *g, struct err *e)
{
    struct str s;
    while (flat_get(f, "duty", &s)) {
        if (!get_duty(g, s, e)) {
            return false;
        }
    }
    while (flat_get(f, "job", &s)) {
        if (!get_job(g, s, e)) {
            return false;
        }
    }
    struct {
        const char *name;
        double *to;
    } const numbers[] = {{"begin", &g->filter.begin},
                         {"demand", &g->filter.demand},
                         {"derate", &g->filter.derate},
                         {"past", &g->filter.past},
                         {"own-burn-leaves", &g->filter.active_leaves},
                         {"parked-burn-leaves", &g->filter.parked_leaves},
                         {"spread", &g->filter.spread},
                         {"scatter", &g->filter.scatter},
                         {"gauge", &g->filter.gauge},
                         {"burn-minutes", &g->burn_min},
                         {"cool-minutes", &g->cool_min},
                         {"load", &g->load},
                         {"load-deviation", &g->deviation},
                         {"hours-since", &g->since},
                         {"hours-inhibited", &g->inhibited}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        if (!get_number(f, numbers[i].name, numbers[i].to, e)) {
            return false;
        }
    }
    g->fire_ban = flat_get(f, "fire-ban", &s) && str_eq(s, S("yes"));
    (void)flat_get(f, "inhibit", &s);
    return burn_places_parse(s, (struct where){.name = S("inhibit")}, &g->added, e) && flat_done(f, e) &&
           soot_filter_check(&g->filter, e);
}

static void put_band(struct json *j, const char *key, double p10, double p50, double p90)
{
    json_begin_object(j, key);
    json_num(j, "p10", p10);
    json_num(j, "p50", p50);
    json_num(j, "p90", p90);
    json_end_object(j);
}

static void put_left(struct json *j, const char *key, const struct soot_left *left, const double *of)
{
    put_band(j, key, soot_left_quantile(left, of, 0.1), soot_left_quantile(left, of, 0.5),
             soot_left_quantile(left, of, 0.9));
}

static void put_places(struct json *j)
{
    json_begin_array(j, "places");
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        json_begin_object(j, NULL);
        json_strz(j, "word", burn_place_word((enum burn_place)i));
        json_strz(j, "says", burn_place_says((enum burn_place)i));
        json_end_object(j);
    }
    json_end_array(j);
}

/* The belief now: as the desk has it (desk/exhaust.c). */
static struct soot_belief *believe(const struct exhaust_given *g, struct arena *a)
{
    struct soot_belief *b = soot_belief_new(a, &g->filter, g->load, g->deviation);
    double since = fmin(fmax(g->since, 0), 400);
    double inhibited = fmin(fmax(g->inhibited, 0), since);
    if (since > inhibited) {
        (void)soot_work(&g->filter, &g->rates, b, SOOT_USUAL, since - inhibited, true, a);
    }
    if (inhibited > 0) {
        (void)soot_work(&g->filter, &g->rates, b, SOOT_USUAL, inhibited, false, a);
    }
    return b;
}

static bool put_plan(struct json *j, const struct exhaust_given *g, const struct soot_belief *now, struct arena *a,
                     struct err *e)
{
    struct burn_job *jobs = ARENA_ARRAY(a, struct burn_job, g->n_rows);
    struct burn_duties duties = {g->names, g->labels, g->filter.n_duties};
    struct burn_plan plan;
    for (int i = 0; i < g->n_rows; i++) {
        if (!burn_job_of(&g->rows[i], &duties, g->fire_ban, &jobs[i], e)) {
            return false;
        }
    }
    struct burn_ask ask = {.filter = &g->filter,
                           .rates = &g->rates,
                           .now = now,
                           .jobs = jobs,
                           .n = g->n_rows,
                           .added = g->added,
                           .burn_min = g->burn_min,
                           .cool_min = g->cool_min,
                           .costs = burn_costs_default(),
                           .last_stop_min = BURN_STOP_ENOUGH};
    if (!burn_plan_make(&ask, a, &plan, e)) {
        return false;
    }
    json_begin_object(j, "plan");
    burn_plan_members_json(j, &ask, &plan, g->names);
    json_end_object(j);
    return true;
}

static bool exhaust_question(struct str question, struct text *answer, struct err *e)
{
    struct flat f;
    struct arena *a = answer->a;
    struct exhaust_given *g = ARENA_NEW(a, struct exhaust_given);
    if (!flat_read(a, question, 1, &f, e) || !get_given(&f, g, e)) {
        return false;
    }
    const struct soot_belief *now = believe(g, a);
    bool may_burn = g->inhibited <= 0;
    struct soot_left left = soot_hours_left(&g->filter, &g->rates, now, SOOT_USUAL, may_burn, AHEAD_H, a);
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    put_band(&j, "now", soot_quantile(now, 0.1), soot_quantile(now, 0.5), soot_quantile(now, 0.9));
    json_begin_object(&j, "left");
    put_left(&j, "demanded", &left, left.demanded);
    put_left(&j, "power_reduced", &left, left.derated);
    put_left(&j, "past_burning", &left, left.past);
    json_end_object(&j);
    put_places(&j);
    burn_checks_json(&j);
    if (g->n_rows && !put_plan(&j, g, now, a, e)) {
        return false;
    }
    json_end_object(&j);
    return true;
}

void flat_exhaust(struct str question, struct text *answer)
{
    struct err e = err_new(answer->a);
    if (!exhaust_question(question, answer, &e)) {
        flat_err(answer, &e);
    }
}
