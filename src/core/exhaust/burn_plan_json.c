/* A plan as JSON. */
#include "exhaust/burn_plan_json.h"

#include <math.h>

void text_burn_places(struct text *t, burn_places at)
{
    bool first = true;
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        if (at & 1U << i) {
            text_join(t, first ? "" : ", ", burn_place_says((enum burn_place)i), (char *)0);
            first = false;
        }
    }
}

static void places_json(struct json *j, const char *key, burn_places at)
{
    json_begin_array(j, key);
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        if (at & 1U << i) {
            json_strz(j, NULL, burn_place_word((enum burn_place)i));
        }
    }
    json_end_array(j);
}

/* Why they forbid it, each in words. */
static void because_json(struct json *j, burn_places at)
{
    json_begin_array(j, "because");
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        if (at & 1U << i) {
            json_begin_object(j, NULL);
            json_strz(j, "place", burn_place_word((enum burn_place)i));
            json_strz(j, "says", burn_place_why((enum burn_place)i));
            json_end_object(j);
        }
    }
    json_end_array(j);
}

static void stop_json(struct json *j, const struct burn_ask *ask, const struct burn_plan *plan, int k)
{
    const struct burn_stop_plan *s = &plan->stops[k];
    double minutes = k < ask->n ? ask->jobs[k].stop_min : ask->last_stop_min;
    json_begin_object(j, NULL);
    json_int(j, "stop", k + 1);
    json_str(j, "name", k < ask->n ? ask->jobs[k].stop_name : (struct str){0});
    json_str(j, "before", k < ask->n ? ask->jobs[k].name : (struct str){0});
    json_str(j, "when", k < ask->n ? ask->jobs[k].when : (struct str){0});
    places_json(j, "places", k < ask->n ? ask->jobs[k].stop : ask->last_stop);
    json_num(j, "minutes", minutes);
    json_num(j, "needs_minutes", s->needs_min);
    json_bool(j, "permitted", s->permitted);
    json_bool(j, "too_short", s->too_short);
    json_bool(j, "ask_fire_ban", s->ask_ban);
    because_json(j, s->because);
    json_bool(j, "burn", s->burn);
    json_num(j, "soot", s->p50);
    json_end_object(j);
}

static void job_json(struct json *j, const struct burn_ask *ask, const struct burn_plan *plan, int k,
                     const struct str *duties)
{
    const struct burn_job *job = &ask->jobs[k];
    const struct burn_job_plan *p = &plan->jobs[k];
    json_begin_object(j, NULL);
    json_int(j, "job", k + 1);
    json_str(j, "name", job->name);
    json_str(j, "when", job->when);
    json_str(j, "duty", job->duty == SOOT_USUAL ? (struct str){0} : duties[job->duty]);
    json_num(j, "hours", job->hours);
    places_json(j, "places", job->places);
    json_bool(j, "inhibit", p->inhibit);
    because_json(j, p->because);
    json_begin_object(j, "soot_after");
    json_num(j, "p10", p->p10);
    json_num(j, "p50", p->p50);
    json_num(j, "p90", p->p90);
    json_end_object(j);
    json_num(j, "demanded", p->demanded);
    json_num(j, "derated", p->derated);
    json_num(j, "past", p->past);
    json_num(j, "own_burns", p->active);
    json_end_object(j);
}

void burn_checks_json(struct json *j)
{
    json_begin_array(j, "checklist");
    for (int i = 0; i < BURN_CHECK_COUNT; i++) {
        json_begin_object(j, NULL);
        json_strz(j, "key", burn_check_key((enum burn_check)i));
        json_strz(j, "says", burn_check_says((enum burn_check)i));
        json_end_object(j);
    }
    json_end_array(j);
}

void burn_plan_members_json(struct json *j, const struct burn_ask *ask, const struct burn_plan *plan,
                            const struct str *duties)
{
    json_strz(j, "word", burn_word_text(plan->word));
    json_bool(j, "safe", plan->word == BURN_NONE_NEEDED || plan->word == BURN_PLANNED);
    json_int(j, "burns", plan->n_burns);
    json_num(j, "cost_minutes", plan->cost_min);
    json_num(j, "demanded", plan->demanded);
    json_num(j, "derated", plan->derated);
    json_num(j, "past", plan->past);
    json_begin_object(j, "without_burns");
    json_num(j, "cost_minutes", plan->idle_cost_min);
    json_num(j, "demanded", plan->idle_demanded);
    json_num(j, "derated", plan->idle_derated);
    json_end_object(j);
    json_str(j, "refused", plan->refused);
    json_str(j, "right", plan->right);
    if (plan->better_stop >= 0) {
        json_int(j, "better_stop", plan->better_stop + 1);
    } else {
        json_put_null(j, "better_stop");
    }
    json_begin_object(j, "limits");
    json_num(j, "begin", ask->filter->begin);
    json_num(j, "demand", ask->filter->demand);
    json_num(j, "derate", ask->filter->derate);
    json_num(j, "past", ask->filter->past);
    json_end_object(j);
    json_num(j, "burn_minutes", ask->burn_min);
    json_num(j, "cool_minutes", ask->cool_min);
    json_begin_object(j, "costs_minutes");
    json_num(j, "prepare", ask->costs.prepare);
    json_num(j, "forced_here", ask->costs.forced_here);
    json_num(j, "forced_away", ask->costs.forced_away);
    json_num(j, "derated", ask->costs.derated);
    json_num(j, "past", ask->costs.past);
    json_end_object(j);
    json_begin_array(j, "jobs");
    for (int k = 0; k < ask->n; k++) {
        job_json(j, ask, plan, k, duties);
    }
    json_end_array(j);
    json_begin_array(j, "stops");
    for (int k = 0; k <= ask->n; k++) {
        stop_json(j, ask, plan, k);
    }
    json_end_array(j);
    json_begin_array(j, "points");
    for (int i = 0; i < plan->n_points; i++) {
        const struct burn_point *p = &plan->points[i];
        json_begin_object(j, NULL);
        json_int(j, "job", p->job + 1);
        json_num(j, "hours", p->hours);
        json_num(j, "p10", p->p10);
        json_num(j, "p50", p->p50);
        json_num(j, "p90", p->p90);
        json_end_object(j);
    }
    json_end_array(j);
    burn_checks_json(j);
}
