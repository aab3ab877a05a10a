/* Why: from a figure on today's list down to the book's line and the log's entries. */
#include "stock_internal.h"

#include <math.h>

void because(struct reasons *r, const struct text *t, struct str source)
{
    struct desk_reason reason = {text_str(t), source};
    ARENA_PUSH(r->a, r->at, r->n, r->cap) = reason;
}

static void reason_interval(struct reasons *r, const struct machine_state *s, const struct book_checkpoint *c,
                            const struct counted *counted)
{
    struct text t = text_new(r->a);
    text_add(&t, c->label);
    text_addz(&t, ": ");
    text_interval(&t, counted->interval);
    if (counted->which[0] == 'f') {
        text_addz(&t, " (the first interval, since it was never done; then ");
        text_interval(&t, c->every);
        text_addz(&t, ")");
    } else if (counted->which[0] == 's') {
        text_addz(&t, " (severe duty; otherwise ");
        text_interval(&t, c->every);
        text_addz(&t, ")");
    }
    because(r, &t, desk_book_line(r->a, s->m.book, c->pos));
}

static void reason_since(struct reasons *r, const struct machine_state *s, const struct counted *counted)
{
    struct text t = text_new(r->a);
    if (counted->last.have) {
        text_addz(&t, "last done ");
        text_day_words(&t, counted->since.day);
        if (isfinite(counted->since.total_h)) {
            text_addz(&t, " at ");
            text_number(&t, counted->since.total_h, 1);
            text_addz(&t, " h in all");
        }
        because(r, &t, desk_entry_ref(r->a, counted->last.id));
        return;
    }
    if (counted->from_new) {
        text_addz(&t, "never recorded; counted from new");
    } else {
        text_addz(&t, "no record of it; counted from the first meter reading here");
        if (isfinite(counted->since.total_h)) {
            text_addz(&t, ", ");
            text_number(&t, counted->since.total_h, 1);
            text_addz(&t, " h");
        }
    }
    if (counted->since.day != DAY_NONE) {
        text_addz(&t, ", ");
        text_day_words(&t, counted->since.day);
    }
    (void)s;
    because(r, &t, (struct str){0});
}

/* The meter: last good reading, swaps, the rate and what was left out. */
static void reason_meter(struct reasons *r, const struct machine_state *s)
{
    const struct desk_machine *m = &s->m;
    const struct meter_reading *last = NULL;
    int left_out = 0;
    for (int i = 0; i < m->meter.n; i++) {
        const struct meter_reading *reading = &m->meter.readings[i];
        if (reading->flag == METER_GOOD) {
            last = reading;
        } else if (reading->flag != METER_SAME) {
            left_out++;
        }
    }
    struct text t = text_new(r->a);
    if (!last) {
        text_addz(&t, "the meter was never read");
        because(r, &t, (struct str){0});
        return;
    }
    text_addz(&t, "meter ");
    text_number(&t, last->hours, 1);
    text_addz(&t, " h on ");
    text_day_words(&t, desk_day_of(r->d, last->at));
    if (m->meter.offset != 0) {
        text_addz(&t, ", after a change of the meter ");
        text_number(&t, last->total, 1);
        text_addz(&t, " h in all");
    }
    because(r, &t, desk_entry_ref(r->a, s->meter_ids[last->source]));
    if (m->use.known) {
        t = text_new(r->a);
        text_addz(&t, "used ");
        text_number(&t, m->use.hours_per_day, 2);
        text_addz(&t, " h a day lately: median of the slopes between all pairs of ");
        text_int(&t, m->use.n);
        text_addz(&t, " readings since ");
        text_day_words(&t, desk_day_of(r->d, m->use.since));
        text_addz(&t, "; about ");
        text_number(&t, m->hours_now, 0);
        text_addz(&t, " h today");
        because(r, &t, S("Theil 1950, Sen 1968"));
    }
    for (int i = m->meter.n - 1; i >= 0 && left_out > 0; i--) {
        const struct meter_reading *reading = &m->meter.readings[i];
        if (reading->flag == METER_GOOD || reading->flag == METER_SAME) {
            continue;
        }
        t = text_new(r->a);
        text_addz(&t, "left out: ");
        text_number(&t, reading->hours, 1);
        text_addz(&t, " h on ");
        text_day_words(&t, desk_day_of(r->d, reading->at));
        text_join(&t, ", ", meter_flag_text(reading->flag), (char *)0);
        because(r, &t, desk_entry_ref(r->a, s->meter_ids[reading->source]));
    }
}

static void reason_limit(struct reasons *r, const struct reserve *reserve, const struct counted *counted)
{
    struct text t = text_new(r->a);
    if (isfinite(reserve->hours_left)) {
        text_number(&t, counted->since.total_h, 1);
        text_addz(&t, " h + ");
        text_number(&t, counted->interval.hours, 0);
        text_addz(&t, " h = due at ");
        text_number(&t, reserve->due_total_h, 1);
        text_addz(&t, " h: ");
        text_hours(&t, fabs(reserve->hours_left));
        text_addz(&t, reserve->hours_left < 0 ? " over" : " left");
        if (reserve->hours_left >= 0 && reserve->hours_day != DAY_NONE) {
            text_addz(&t, ", at the present rate ");
            text_day_words(&t, reserve->hours_day);
        }
        because(r, &t, (struct str){0});
    }
    if (reserve->calendar_day != DAY_NONE) {
        t = text_new(r->a);
        text_addz(&t, "by the calendar due ");
        text_day_words(&t, reserve->calendar_day);
        because(r, &t, (struct str){0});
    }
    if (reserve->rule != RESERVE_NONE && isfinite(reserve->hours_left) && reserve->calendar_day != DAY_NONE) {
        t = text_new(r->a);
        text_join(&t, "whichever comes first: ", reserve_rule_text(reserve->rule), (char *)0);
        because(r, &t, S("EN 13306, predetermined maintenance"));
    }
}

static void reason_reading(struct reasons *r, const struct machine_state *s, int i)
{
    const struct book_checkpoint *c = &s->m.book->checkpoints[i];
    const struct point_state *point = &s->points[i];
    struct verdict verdict;
    if (!due_judge(r->a, s, i, &verdict)) {
        return;
    }
    struct text t = text_new(r->a);
    text_addz(&t, "read ");
    text_quantity_in(&t, point->value, r->d->units);
    for (int k = 0; k < point->n_with; k++) {
        text_addz(&t, k ? ", " : " with ");
        text_add(&t, point->with[k].name);
        text_char(&t, ' ');
        text_quantity_in(&t, point->with[k].value, r->d->units);
    }
    text_addz(&t, " on ");
    text_day_words(&t, desk_day_of(r->d, point->reading.at));
    because(r, &t, desk_entry_ref(r->a, point->reading.id));
    if (verdict.correction.n) {
        t = text_new(r->a);
        if (isfinite(verdict.corrected_si)) {
            text_addz(&t, "corrected ");
            text_corrected(&t, &verdict, r->d->units);
            if (verdict.uncertainty_si > 0) {
                text_char(&t, ' ');
                text_uncertainty(&t, verdict.uncertainty_si, unit_preferred(r->d->units, verdict.corrected.unit));
            }
            text_addz(&t, ": ");
        }
        text_add(&t, verdict.correction);
        struct text source = text_new(r->a);
        text_join(&source, verdict.formula, "; ", verdict.source, (char *)0);
        because(r, &t, text_str(&source));
    }
    t = text_new(r->a);
    text_addz(&t, "limits ");
    text_limits(&t, r->d, c->limits);
    text_join(&t, ": ", verdict_word_text(verdict.word), ", ", (char *)0);
    text_add(&t, verdict.reason);
    because(r, &t, desk_book_line(r->a, s->m.book, c->pos));
}

static void reason_found(struct reasons *r, const struct machine_state *s, int i)
{
    const struct point_state *point = &s->points[i];
    if (!point->found.have) {
        return;
    }
    struct text t = text_new(r->a);
    text_addz(&t, "looked at ");
    text_day_words(&t, desk_day_of(r->d, point->found.at));
    text_addz(&t, ": ");
    text_add(&t, point->found_says);
    because(r, &t, desk_entry_ref(r->a, point->found.id));
}

/* The model of use: the family's numbers, this machine's own history, and what they give for these hours. */
static void reason_model(struct reasons *r, const struct machine_state *s, const struct reserve *reserve)
{
    const struct usage_model *model = desk_usage_model(r->d, s);
    const struct usage_state *u = reserve->usage;
    if (!model || !u || !u->known || !reserve->spread_known) {
        return;
    }
    struct text t = text_new(r->a);
    text_addz(
        &t,
        "how unevenly such machines work: hours over s days of clock are Gamma(k s, rate b), b ~ Gamma(c, d): k = ");
    text_number(&t, model->k, 3);
    text_addz(&t, ", c = ");
    text_number(&t, model->c, 2);
    text_addz(&t, ", d = ");
    text_number(&t, model->d, 2);
    text_addz(&t, " h, from ");
    text_int(&t, model->steps);
    text_addz(&t, " stretches between readings of ");
    text_int(&t, model->machines);
    text_addz(&t, model->machines == 1 ? " machine" : " machines");
    text_addz(&t, " with this book, drawn toward the whole depot's");
    if (model->left_out) {
        text_addz(&t, "; ");
        text_int(&t, model->left_out);
        text_addz(&t, " readings left out that split the hours impossibly");
    }
    because(r, &t, S("Lawless and Crowder 2004, Lifetime Data Analysis 10, 213; docs/forecast.md"));
    t = text_new(r->a);
    text_addz(&t, "its own history: ");
    text_int(&t, u->steps);
    text_addz(&t, " stretches, ");
    text_number(&t, u->hours, 0);
    text_addz(&t, " h over ");
    text_number(&t, u->s, 0);
    text_addz(&t, " days of clock that count");
    if (isfinite(model->weight.forget)) {
        text_addz(&t, " (older ones fade over ");
        text_number(&t, model->weight.forget, 0);
        text_addz(&t, " days)");
    }
    text_addz(&t, "; to the power a = ");
    text_number(&t, model->weight.a, 2);
    text_addz(&t, ", evenness g = ");
    text_number(&t, model->weight.g, 2);
    text_addz(&t, " at 30 days, less by the power n = ");
    text_number(&t, model->weight.n, 2);
    text_addz(&t, ": C = ");
    text_number(&t, u->c, 1);
    text_addz(&t, ", D = ");
    text_number(&t, u->d, 1);
    text_addz(&t, " h; ");
    if (model->scored) {
        text_addz(&t, "chosen by ");
        text_int(&t, model->scored);
        text_addz(&t, " forecasts of the past");
    } else {
        text_addz(&t, "the usual weight, as there is too little past to choose by");
    }
    because(r, &t, S("power prior, Ibrahim and Chen 2000; witmark backtest tells how often the bands held"));
    double day = (double)desk_today_day(r->d);
    t = text_new(r->a);
    text_addz(&t, "the depot's clock: 30 days from today count ");
    text_number(&t, usage_clock_at(u->clock, day + 30) - usage_clock_at(u->clock, day), 1);
    text_addz(&t, " (season and day of the week, from ");
    text_number(&t, u->clock->machine_days, 0);
    text_addz(&t, " machine days)");
    because(r, &t, (struct str){0});
    t = text_new(r->a);
    text_addz(&t, "in one case of ten by ");
    text_day_words(&t, reserve->p10);
    text_addz(&t, ", in five by ");
    text_day_words(&t, reserve->p50);
    if (reserve->p90 != DAY_NONE) {
        text_addz(&t, ", in nine by ");
        text_day_words(&t, reserve->p90);
    }
    because(r, &t, S("P(H(t) >= L) = 1 - I(L/(L + D/e); e k S(t), C), e = g (S/30)^-n"));
}

/* The line through the readings since the last reset. */
static void reason_trend(struct reasons *r, const struct machine_state *s, int i)
{
    struct reserve_trend trend;
    if (!due_trend(r->d, r->a, s, i, &trend)) {
        return;
    }
    const struct book_checkpoint *c = &s->m.book->checkpoints[i];
    struct reserve drift = reserve_measured(&trend, s->m.hours_now, desk_today_day(r->d), &s->usage);
    struct text t = text_new(r->a);
    text_addz(&t, "trend of the last ");
    text_int(&t, trend.n);
    text_addz(&t, trend.logarithm  ? " readings since it was put right, by hours on the logarithm"
                  : trend.by_hours ? " readings since it was put right, by hours"
                                   : " readings since it was put right, by days");
    text_addz(&t, trend.upper ? ": rising, sure to " : ": falling, sure to ");
    text_number(&t, 100 * reserve_trend_passage(&trend, (double)INFINITY), 0);
    text_addz(&t, " %; out of ");
    text_limits(&t, r->d, c->limits);
    if (drift.p50 == DAY_NONE) {
        text_addz(&t, " on no day that can be told");
    } else {
        text_addz(&t, " about ");
        text_day_words(&t, drift.p50);
        text_addz(&t, ", in one case of ten by ");
        text_day_words(&t, drift.p10);
    }
    because(r, &t, S("Bayesian straight line, Student's t; crossing by Fieller 1954"));
}

/* The item of today's list with that key, for the answer line. */
static const struct desk_due *item_of(const struct desk_today_list *list, struct str key)
{
    for (size_t i = 0; i < list->n; i++) {
        if (str_eq(list->at[i].key, key)) {
            return &list->at[i];
        }
    }
    return NULL;
}

/* Everything that can be asked about on this machine, for "did you mean". */
static bool unknown_key(const struct machine_state *s, const struct desk_today_list *list, struct str key,
                        struct err *e)
{
    size_t n = list->n;
    int checkpoints = s->m.book ? s->m.book->n_checkpoints : 0;
    struct str *names = ARENA_ARRAY(e->a, struct str, n + (size_t)checkpoints);
    for (size_t i = 0; i < n; i++) {
        names[i] = list->at[i].key;
    }
    for (int i = 0; i < checkpoints; i++) {
        names[n++] = s->m.book->checkpoints[i].name;
    }
    ptrdiff_t near = str_nearest(key, names, n);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : "a name from witmark today --machine");
    if (near >= 0) {
        text_add(&right, names[near]);
        text_char(&right, '?');
    }
    return err_set(e, ERR_MISSING, text_z(&right), str_z(e->a, s->m.name), " has no '", str_z(e->a, key), "'",
                   (char *)0);
}

static void reason_entry(struct reasons *r, const struct desk_due *item)
{
    struct text t = text_new(r->a);
    text_add(&t, item->label);
    text_addz(&t, ": ");
    text_add(&t, item->says);
    because(r, &t, item->has_entry ? desk_entry_ref(r->a, item->entry) : (struct str){0});
}

/* A service: each of its points with what it says; ask for one of them to see more. */
static void why_service(struct reasons *r, const struct machine_state *s, const struct desk_today_list *list,
                        int service, struct desk_why *out)
{
    const struct book *b = s->m.book;
    int n = 0;
    for (size_t i = 0; i < list->n; i++) {
        const struct desk_due *due = &list->at[i];
        if (due->service != service) {
            continue;
        }
        struct text t = text_new(r->a);
        text_add(&t, due->label);
        text_addz(&t, ": ");
        text_add(&t, due->says);
        text_addz(&t, " (");
        text_add(&t, due->key);
        text_char(&t, ')');
        because(r, &t, desk_book_line(r->a, b, b->checkpoints[due->checkpoint].pos));
        n++;
    }
    struct text title = text_new(r->a);
    text_add(&title, s->m.name);
    text_addz(&title, ": ");
    text_add(&title, b->services[service].label);
    out->title = text_str(&title);
    struct text answer = text_new(r->a);
    text_int(&answer, n);
    text_addz(&answer, " points; ask why for one of them to see what it counts from");
    out->answer = text_str(&answer);
}

bool desk_why(struct desk *d, struct str machine, struct str key, struct arena *a, struct desk_why *out, struct err *e)
{
    *out = (struct desk_why){0};
    if (str_eq_nocase(machine, S(SHELF_NAME))) {
        return desk_refresh(d, e) && stock_why(d, key, a, out, e);
    }
    const struct desk_machine *m = desk_machine_find(d, machine, e);
    if (!m) {
        return false;
    }
    struct machine_state *s = desk_state_of(d, m);
    struct desk_today_filter filter = {.machine = m->serial, .within_days = -1, .with_stopped = true};
    struct desk_today_list list;
    if (!due_list(d, &filter, a, &list)) {
        return false;
    }
    struct reasons r = {.d = d, .a = a};
    const struct desk_due *item = item_of(&list, key);
    int i = m->book ? book_find_checkpoint(m->book, key) : BOOK_NONE;
    int service = m->book && i == BOOK_NONE && !item ? book_find_service(m->book, key) : BOOK_NONE;
    if (service != BOOK_NONE) {
        why_service(&r, s, &list, service, out);
        out->at = r.at;
        out->n = r.n;
        return true;
    }
    if (i == BOOK_NONE && !item) {
        return unknown_key(s, &list, key, e);
    }
    struct text title = text_new(a);
    text_add(&title, m->name);
    text_addz(&title, ": ");
    text_add(&title, item ? item->label : m->book->checkpoints[i].label);
    out->title = text_str(&title);
    out->answer = item ? item->says : S("nothing runs out here yet");
    if (i != BOOK_NONE) {
        struct counted counted = {0};
        struct reserve reserve = due_reserve(d, s, i, &counted);
        bool soot = m->book->exhaust.given && m->book->exhaust.soot == i;
        reason_reading(&r, s, i);
        if (soot) {
            why_soot(&r, s);
        } else {
            reason_trend(&r, s, i);
        }
        if (m->book->exhaust.given && m->book->exhaust.ash == i) {
            why_ash(&r, s);
        }
        reason_found(&r, s, i);
        if (reserve.rule != RESERVE_NONE) {
            reason_interval(&r, s, &m->book->checkpoints[i], &counted);
            reason_since(&r, s, &counted);
            reason_limit(&r, &reserve, &counted);
            reason_meter(&r, s);
            reason_model(&r, s, &reserve);
        }
    } else {
        reason_entry(&r, item);
        if (item->kind == DUE_AGAIN && m->book) {
            for (int k = 0; k < m->book->n_torques; k++) {
                if (str_eq(m->book->torques[k].name, key)) {
                    struct text t = text_new(a);
                    text_addz(&t, "to be torqued again ");
                    text_quantity_in(&t, m->book->torques[k].again_after.q, d->units);
                    text_addz(&t, " after refitting");
                    because(&r, &t, desk_book_line(a, m->book, m->book->torques[k].pos));
                }
            }
            reason_meter(&r, s);
            reason_model(&r, s, &item->reserve);
        }
    }
    out->at = r.at;
    out->n = r.n;
    return true;
}
