/* The exhaust filter as JSON (docs/json.md), and as the question a page asks the core. */
#include "exhaust_internal.h"

#include "exhaust/burn_plan_json.h"

#include <math.h>

static void instant_member(struct json *j, const struct desk *d, const char *key, const char *local, instant_ms at)
{
    if (at == INSTANT_NONE) {
        json_put_null(j, key);
        json_put_null(j, local);
        return;
    }
    struct text t = text_new(j->t->a);
    text_instant(&t, at);
    json_str(j, key, text_str(&t));
    t = text_new(j->t->a);
    text_local(&t, d, at);
    json_str(j, local, text_str(&t));
}

static void band(struct json *j, const char *key, struct desk_band b)
{
    json_begin_object(j, key);
    json_num(j, "p10", b.p10);
    json_num(j, "p50", b.p50);
    json_num(j, "p90", b.p90);
    json_end_object(j);
}

static void day_member(struct json *j, const char *key, day_t day)
{
    if (day == DAY_NONE) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(j->t->a);
    text_day(&t, day);
    json_str(j, key, text_str(&t));
}

static void days(struct json *j, const char *key, const struct reserve *r)
{
    json_begin_object(j, key);
    json_bool(j, "out", r->out);
    day_member(j, "p10", r->p10);
    day_member(j, "p50", r->p50);
    day_member(j, "p90", r->p90);
    json_end_object(j);
}

static void ash_json(struct json *j, const struct desk_exhaust *x)
{
    if (!x->ash_known) {
        json_put_null(j, "ash");
        return;
    }
    json_begin_object(j, "ash");
    json_num(j, "grams", x->ash_kg * 1000);
    json_num(j, "at_most_grams", x->ash_limit_kg * 1000);
    json_num(j, "hours_since_clean", x->ash_hours);
    band(j, "hours_left", x->ash_left);
    days(j, "days", &x->ash_reserve);
    json_num(j, "oil_ml_per_hour", x->oil_per_h * 1e6);
    json_num(j, "book_oil_ml_per_hour", x->book_oil_per_h * 1e6);
    json_num(j, "topped_up_l", x->oil_topped_m3 * 1e3);
    json_num(j, "topped_up_over_hours", x->oil_hours);
    json_end_object(j);
}

static void duties_json(struct json *j, const struct exhaust_now *now, const struct book *b)
{
    json_begin_array(j, "duties");
    for (int i = 0; i < b->n_duties; i++) {
        double deviation = 0;
        json_begin_object(j, NULL);
        json_str(j, "name", b->duties[i].name);
        json_str(j, "label", b->duties[i].label);
        json_num(j, "soot_per_hour", soot_rate(&now->filter, &now->rates, i, &deviation));
        json_num(j, "deviation", deviation);
        json_num(j, "book_soot_per_hour", b->duties[i].made);
        json_num(j, "burns_off_per_hour", b->duties[i].burnt);
        json_num(j, "share", b->duties[i].share);
        json_end_object(j);
    }
    json_end_array(j);
}

static void history_json(struct json *j, struct desk *d, const struct desk_exhaust *x)
{
    json_begin_array(j, "history");
    for (size_t i = 0; i < x->n_history; i++) {
        const struct desk_burn *burn = &x->history[i];
        bool reading = str_eq(str_of(burn->word), S("reading"));
        json_begin_object(j, NULL);
        json_strz(j, "what", burn->word);
        instant_member(j, d, "at", "at_local", burn->at);
        json_num(j, "total_h", burn->total_h);
        json_num(j, "load", reading ? burn->value : (double)NAN);
        json_num(j, "minutes", reading ? (double)NAN : burn->value);
        json_str(j, "by", burn->by);
        struct text t = text_new(j->t->a);
        text_entry_id(&t, burn->id);
        json_str(j, "entry", text_str(&t));
        json_end_object(j);
    }
    json_end_array(j);
}

static void state_members(struct json *j, struct desk *d, const struct desk_exhaust *x)
{
    struct machine_state *s = desk_state_of(d, x->machine);
    const struct exhaust_now *now = exhaust_of(d, s);
    const struct book *b = s->m.book;
    json_str(j, "machine", x->machine->serial);
    json_str(j, "name", x->machine->name);
    json_bool(j, "known", x->known);
    if (x->known) {
        band(j, "load", x->load);
        json_begin_object(j, "from");
        json_strz(j, "what", x->from);
        instant_member(j, d, "at", "at_local", x->from_at);
        json_num(j, "load", x->from_load);
        json_num(j, "hours_since", x->hours_since);
        json_end_object(j);
        json_begin_object(j, "hours_left");
        band(j, "demanded", x->demanded);
        band(j, "power_reduced", x->derated);
        band(j, "past_burning", x->past);
        band(j, "demanded_if_inhibited", x->inhibited_demanded);
        json_end_object(j);
        days(j, "days", &x->soot_reserve);
        struct text t = text_new(j->t->a);
        text_soot(&t, d, now);
        json_str(j, "says", text_str(&t));
    }
    json_bool(j, "inhibited", x->inhibited);
    instant_member(j, d, "inhibited_since", "inhibited_since_local", x->inhibited ? x->inhibited_since : INSTANT_NONE);
    json_str(j, "inhibited_by", x->inhibited_by);
    json_num(j, "inhibited_hours", x->inhibited ? x->inhibited_h : (double)NAN);
    json_begin_object(j, "limits");
    json_num(j, "begin", now->filter.begin);
    json_num(j, "demand", now->filter.demand);
    json_num(j, "derate", now->filter.derate);
    json_num(j, "past", now->filter.past);
    json_end_object(j);
    json_num(j, "burn_minutes", b->exhaust.burn_s / 60);
    json_num(j, "cool_minutes", b->exhaust.cool_s / 60);
    json_begin_object(j, "rate");
    json_num(j, "soot_per_hour", x->rate);
    json_num(j, "deviation", x->rate_deviation);
    json_num(j, "book_soot_per_hour", x->book_rate);
    json_int(j, "stretches", x->stretches);
    json_int(j, "left_out", x->left_out);
    json_end_object(j);
    duties_json(j, now, b);
    ash_json(j, x);
    burn_checks_json(j);
}

void desk_exhaust_json(struct json *j, struct desk *d, const struct desk_exhaust *x)
{
    json_begin_object(j, NULL);
    state_members(j, d, x);
    history_json(j, d, x);
    struct text t = text_new(j->t->a);
    text_exhaust_question(&t, d, x);
    json_str(j, "question", text_str(&t));
    json_end_object(j);
}

void desk_exhaust_member_json(struct json *j, struct desk *d, const struct desk_machine *m)
{
    desk_forecast_ready(d);
    const struct exhaust_now *now = exhaust_of(d, desk_state_of(d, m));
    if (!now) {
        json_put_null(j, "exhaust");
        return;
    }
    json_begin_object(j, "exhaust");
    state_members(j, d, &now->x);
    json_end_object(j);
}

bool desk_exhaust_all_json(struct json *j, struct desk *d, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return false;
    }
    desk_forecast_ready(d);
    json_begin_array(j, NULL);
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct exhaust_now *now = d->machines[i].m.book ? exhaust_of(d, &d->machines[i]) : NULL;
        if (now) {
            json_begin_object(j, NULL);
            state_members(j, d, &now->x);
            json_end_object(j);
        }
    }
    json_end_array(j);
    return true;
}

void desk_exhaust_plan_json(struct json *j, struct desk *d, const struct desk_burn_plan *p)
{
    json_begin_object(j, NULL);
    json_str(j, "machine", p->state.machine->serial);
    json_str(j, "name", p->state.machine->name);
    json_bool(j, "inhibited", p->state.inhibited);
    (void)d;
    burn_plan_members_json(j, &p->ask, &p->plan, p->duties);
    json_end_object(j);
}

/* ---- the question ------------------------------------------------------------------------------------------------ */

static void line(struct text *t, const char *name, double value)
{
    text_join(t, name, "=", (char *)0);
    text_double(t, value);
    text_char(t, '\n');
}

void text_exhaust_question(struct text *t, struct desk *d, const struct desk_exhaust *x)
{
    struct machine_state *s = desk_state_of(d, x->machine);
    const struct exhaust_now *now = exhaust_of(d, s);
    const struct book *b = s->m.book;
    const struct soot_filter *f = &now->filter;
    for (int i = 0; i < f->n_duties; i++) {
        text_addz(t, "duty=");
        text_add(t, b->duties[i].name);
        text_char(t, '|');
        text_add(t, b->duties[i].label);
        const double numbers[] = {f->duty[i].made, f->duty[i].burnt, f->duty[i].finish, f->duty[i].share,
                                  now->rates.made[i]};
        for (size_t k = 0; k < sizeof numbers / sizeof *numbers; k++) {
            text_char(t, '|');
            text_double(t, numbers[k]);
        }
        for (int k = 0; k < f->n_duties; k++) {
            text_char(t, '|');
            text_double(t, now->rates.cov[i][k]);
        }
        text_char(t, '\n');
    }
    line(t, "begin", f->begin);
    line(t, "demand", f->demand);
    line(t, "derate", f->derate);
    line(t, "past", f->past);
    line(t, "own-burn-leaves", f->active_leaves);
    line(t, "parked-burn-leaves", f->parked_leaves);
    line(t, "spread", f->spread);
    line(t, "scatter", f->scatter);
    line(t, "gauge", f->gauge);
    line(t, "burn-minutes", b->exhaust.burn_s / 60);
    line(t, "cool-minutes", b->exhaust.cool_s / 60);
    text_addz(t, "inhibit=");
    for (int i = 0; i < b->exhaust.inhibit.n; i++) {
        text_addz(t, i ? " " : "");
        text_add(t, b->exhaust.inhibit.at[i]);
    }
    text_char(t, '\n');
    if (x->known) {
        double load = x->from_load;
        line(t, "load", load);
        line(t, "load-deviation", x->from_deviation);
        double since = isfinite(x->hours_since) ? x->hours_since : 0;
        double inhibited = x->inhibited && isfinite(x->inhibited_h) ? fmin(since, x->inhibited_h) : 0;
        line(t, "hours-since", since);
        line(t, "hours-inhibited", inhibited);
    }
}
