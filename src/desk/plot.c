/* From a machine's entries to the picture of one checkpoint. The log is asked anew, since the state keeps only what has
 * happened since the last reset. */
#include "desk_plot.h"
#include "due_internal.h"
#include "reading.h"

#include "stats/special.h"

#include <math.h>

#define BAND_POINTS 40

/* What the passes over the log fill. */
struct drawing {
    struct desk *d;
    struct arena *a;
    struct machine_state *s;
    const struct book_checkpoint *c;
    const struct unit *unit; /* shown; null for a bare number */
    bool by_hours;           /* of a trend */
    struct plot_reading *readings;
    size_t n_readings, cap_readings;
    struct plot_xy *line;
    size_t n_line, cap_line;
    struct plot_reset *resets;
    size_t n_resets, cap_resets;
};

static double shown_of(const struct drawing *g, double si)
{
    return g->unit ? unit_from_si(g->unit, si) : si;
}

/* Where an instant lies on the x axis. */
static double x_of(const struct drawing *g, instant_ms at)
{
    return g->by_hours ? meter_total_at(&g->s->m.meter, &g->s->m.use, at) : due_model_day(g->d, at);
}

static void add_line(struct drawing *g, double x, double y)
{
    ARENA_PUSH(g->a, g->line, g->n_line, g->cap_line) = (struct plot_xy){x, y};
}

static bool resets(const struct drawing *g, const struct entry *entry)
{
    const struct book *b = g->s->m.book;
    int task = entry->kind == KIND_DONE ? book_find_task(b, body_str(entry->body, "task")) : BOOK_NONE;
    return task != BOOK_NONE && (task == g->c->mends || (g->c->kind == CHECK_DONE_BY && task == g->c->task));
}

static void add_reset(struct drawing *g, const struct entry *entry)
{
    int task = book_find_task(g->s->m.book, body_str(entry->body, "task"));
    struct plot_reset reset = {x_of(g, entry->at), g->s->m.book->tasks[task].label};
    ARENA_PUSH(g->a, g->resets, g->n_resets, g->cap_resets) = reset;
}

/* ---- What is measured -------------------------------------------------------------------------------------------- */

static void add_reading(struct drawing *g, const struct entry *entry)
{
    const json_t *body = entry->body;
    json_t *with = json_object_get(body, "with");
    struct judge_with *at = ARENA_ARRAY(g->a, struct judge_with, json_object_size(with) + 1);
    struct judge_input input = {
        .value = {body_num(body, "value"), unit_find(body_str(body, "unit"))}, .with = at, .uncertainty_si = NAN};
    const char *key = NULL;
    json_t *member = NULL;
    json_object_foreach(with, key, member)
    {
        at[input.n_with].name = str_copy(g->a, str_of(key));
        at[input.n_with++].value = (struct quantity){body_num(member, "value"), unit_find(body_str(member, "unit"))};
    }
    json_t *gauge = json_object_get(body, "gauge");
    const struct unit *unit = unit_find(body_str(gauge, "unit"));
    input.uncertainty_si = unit ? body_num(gauge, "uncertainty") * unit->factor : (double)NAN;
    struct point_reading read = {entry->at,    meter_total_at(&g->s->m.meter, &g->s->m.use, entry->at),
                                 input.value,  input.with,
                                 input.n_with, input.uncertainty_si};
    struct verdict v = reading_verdict(g->a, g->s, (int)(g->c - g->s->m.book->checkpoints), &read);
    static const enum plot_mark marks[] = {[VERDICT_NOT_JUDGED] = PLOT_HOLLOW,
                                           [VERDICT_IN_LIMITS] = PLOT_IN,
                                           [VERDICT_CLOSE] = PLOT_CLOSE,
                                           [VERDICT_OUT] = PLOT_OUT};
    bool raw = v.word == VERDICT_NOT_JUDGED && correction_rule(g->c->correction)->same;
    double si = raw ? v.raw_si : v.corrected_si;
    if (!isfinite(si)) {
        return;
    }
    double y = shown_of(g, si);
    double spread = isfinite(v.uncertainty_si) ? fabs(shown_of(g, si + v.uncertainty_si) - y) : (double)NAN;
    struct plot_reading reading = {x_of(g, entry->at), y, spread, marks[v.word]};
    ARENA_PUSH(g->a, g->readings, g->n_readings, g->cap_readings) = reading;
}

static bool take_measured(void *ctx, const struct entry *entry)
{
    struct drawing *g = ctx;
    if (entry->kind == KIND_READING && str_eq(body_str(entry->body, "checkpoint"), g->c->name)) {
        add_reading(g, entry);
    } else if (resets(g, entry)) {
        add_reset(g, entry);
    }
    return true;
}

/* Height of the trend's line at x with probability p, in the unit shown. */
static double trend_height(const struct drawing *g, const struct reserve_trend *t, double x, double p)
{
    double away = x - t->middle;
    double z = p == 0.5 ? 0 : student_quantile((struct tails){p, 1 - p}, t->df);
    double y = t->mean + t->slope * away + z * sqrt(t->var_mean + t->var_slope * away * away);
    return shown_of(g, t->logarithm ? exp(y) : y);
}

/* The line and its 80 % band from the first reading of the trend to where nine in ten have crossed the limit, or a
 * while on when they never do. */
static void add_trend(struct drawing *g, const struct reserve_trend *t, struct plot *out)
{
    double p10 = reserve_trend_quantile(t, 0.1);
    double p90 = reserve_trend_quantile(t, 0.9);
    double beyond = t->last + 1.5 * fmax(t->last - t->first, 1);
    double to = isfinite(p90) ? fmin(fmax(p90, t->last), beyond) : beyond;
    struct plot_xy *at = ARENA_ARRAY(g->a, struct plot_xy, 3 * BAND_POINTS);
    for (size_t i = 0; i < BAND_POINTS; i++) {
        double x = t->first + (to - t->first) * (double)i / (BAND_POINTS - 1);
        at[i] = (struct plot_xy){x, trend_height(g, t, x, 0.1)};
        at[BAND_POINTS + i] = (struct plot_xy){x, trend_height(g, t, x, 0.9)};
        at[2 * BAND_POINTS + i] = (struct plot_xy){x, trend_height(g, t, x, 0.5)};
    }
    out->band_a = at;
    out->band_b = at + BAND_POINTS;
    out->middle = at + 2 * (size_t)BAND_POINTS;
    out->n_band = BAND_POINTS;
    out->p10 = p10;
    out->p50 = reserve_trend_quantile(t, 0.5);
    out->p90 = p90;
    out->crossing_y = shown_of(g, t->limit);
}

static bool draw_measured(struct drawing *g, const struct entry_filter *filter, struct plot *out, struct err *e)
{
    struct reserve_trend trend;
    bool known = due_trend(g->d, g->a, g->s, (int)(g->c - g->s->m.book->checkpoints), &trend);
    g->by_hours = out->by_hours = known && trend.by_hours;
    g->unit = g->c->limits.unit ? unit_preferred(g->d->units, g->c->limits.unit) : NULL;
    out->unit = str_of(g->unit ? g->unit->shown : "");
    out->low = isfinite(g->c->low_si) ? shown_of(g, g->c->low_si) : (double)NAN;
    out->high = isfinite(g->c->high_si) ? shown_of(g, g->c->high_si) : (double)NAN;
    if (!depot_each(g->d->depot, filter, take_measured, g, e)) {
        return false;
    }
    if (g->n_readings == 0) {
        return err_set(e, ERR_REFUSED, "record one: witmark record reading", "nothing was read yet at ",
                       str_z(g->a, g->c->label), (char *)0);
    }
    if (known) {
        add_trend(g, &trend, out);
    }
    return true;
}

/* ---- What is counted --------------------------------------------------------------------------------------------- */

/* Times when it was done, and the meter's readings, put in order of time. */
struct counting {
    struct drawing *g;
    double base; /* hours in all, or days, when last done */
    bool days;
};

static bool take_done(void *ctx, const struct entry *entry)
{
    struct counting *k = ctx;
    struct drawing *g = k->g;
    bool seen = g->c->kind != CHECK_DONE_BY && (entry->kind == KIND_FOUND || entry->kind == KIND_READING) &&
                str_eq(body_str(entry->body, "checkpoint"), g->c->name);
    if (!seen && !(g->c->kind == CHECK_DONE_BY && resets(g, entry))) {
        return true;
    }
    double day = due_model_day(g->d, entry->at);
    double now = k->days ? day : meter_total_at(&g->s->m.meter, &g->s->m.use, entry->at);
    if (isfinite(now) && isfinite(k->base)) {
        add_line(g, day, now - k->base);
    }
    add_line(g, NAN, NAN);
    add_line(g, day, 0);
    k->base = now;
    if (seen) {
        ARENA_PUSH(g->a, g->resets, g->n_resets, g->cap_resets) = (struct plot_reset){day, {0}};
    } else {
        add_reset(g, entry);
    }
    return true;
}

/* The meter's readings set in between the times it was done: hours since then. */
static void add_meter(struct drawing *g, const struct counting *first)
{
    const struct meter_history *h = &g->s->m.meter;
    struct plot_xy *joined = NULL;
    size_t n = 0;
    size_t cap = 0;
    size_t k = 0;
    double base = first->base;
    for (int i = 0; i < h->n; i++) {
        const struct meter_reading *r = &h->readings[i];
        if (r->flag != METER_GOOD) {
            continue;
        }
        double day = due_model_day(g->d, r->at);
        while (k < g->n_line && !(g->line[k].x > day)) { /* a NAN is passed over too */
            ARENA_PUSH(g->a, joined, n, cap) = g->line[k];
            if (g->line[k].y == 0 && k > 0 && isnan(g->line[k - 1].x)) {
                base = meter_total_at(h, &g->s->m.use,
                                      (instant_ms)llround(g->line[k].x * 86400000.0) - due_offset_ms(g->d));
            }
            k++;
        }
        struct plot_reading reading = {day, r->total - base, NAN, PLOT_IN};
        ARENA_PUSH(g->a, g->readings, g->n_readings, g->cap_readings) = reading;
        ARENA_PUSH(g->a, joined, n, cap) = (struct plot_xy){day, r->total - base};
    }
    for (; k < g->n_line; k++) {
        ARENA_PUSH(g->a, joined, n, cap) = g->line[k];
    }
    g->line = joined;
    g->n_line = n;
}

/* The band of the hours to come: for each height the days by which it is reached with 10, 50 and 90 %. */
static void add_hours_band(struct drawing *g, const struct reserve *r, double base, double limit, struct plot *out)
{
    const struct usage_state *u = r->usage;
    if (!u || !u->known || !isfinite(base)) {
        return;
    }
    static const double p[] = {0.1, 0.5, 0.9};
    struct plot_xy *at = ARENA_ARRAY(g->a, struct plot_xy, 3 * BAND_POINTS);
    double from = u->total - base;
    double to = fmax(limit * 1.15, from + limit * 0.15);
    for (size_t i = 0; i < BAND_POINTS; i++) {
        double y = from + (to - from) * (double)i / (BAND_POINTS - 1);
        double day[3] = {u->day, u->day, u->day};
        if (i > 0) {
            usage_quantiles(u, y - from, p, 3, day);
        }
        at[i] = (struct plot_xy){day[0], y};
        at[BAND_POINTS + i] = (struct plot_xy){day[2], y};
        at[2 * BAND_POINTS + i] = (struct plot_xy){day[1], y};
        if (!isfinite(day[0] + day[1] + day[2])) {
            break;
        }
        out->n_band = i + 1;
    }
    out->band_a = at;
    out->band_b = at + BAND_POINTS;
    out->middle = at + 2 * (size_t)BAND_POINTS;
    double day[3] = {NAN, NAN, NAN};
    if (limit > from) {
        usage_quantiles(u, limit - from, p, 3, day);
    }
    out->p10 = day[0];
    out->p50 = isfinite(day[1]) ? day[1] : (double)NAN;
    out->p90 = day[2];
    out->crossing_y = limit;
}

static bool draw_counted(struct drawing *g, const struct entry_filter *filter, struct plot *out, struct err *e)
{
    struct counted counted;
    struct reserve r = due_reserve(g->d, g->s, (int)(g->c - g->s->m.book->checkpoints), &counted);
    if (r.rule == RESERVE_NONE) {
        return err_set(e, ERR_REFUSED, "witmark plot MACHINE names those that can be drawn",
                       "no limit in hours or months applies to ", str_z(g->a, g->c->label), (char *)0);
    }
    bool hours = counted.interval.hours > 0;
    const struct meter_history *h = &g->s->m.meter;
    struct counting k = {.g = g, .days = !hours, .base = NAN};
    for (int i = 0; i < h->n && hours && isnan(k.base); i++) {
        if (h->readings[i].flag == METER_GOOD) {
            k.base = h->readings[i].total <= counted.interval.hours ? 0 : h->readings[i].total;
        }
    }
    struct counting first = k;
    if (!depot_each(g->d->depot, filter, take_done, &k, e)) {
        return false;
    }
    out->unit = hours ? S("h") : S("days");
    if (hours) {
        add_meter(g, &first);
        out->high = counted.interval.hours;
        add_hours_band(g, &r, k.base, counted.interval.hours, out);
    } else {
        double today = due_model_day(g->d, desk_now(g->d));
        if (isfinite(k.base)) {
            add_line(g, today, today - k.base);
        }
        out->high = r.calendar_day != DAY_NONE && counted.since.day != DAY_NONE
                        ? (double)(r.calendar_day - counted.since.day)
                        : (double)NAN;
    }
    if (r.calendar_day != DAY_NONE) {
        out->end = r.calendar_day;
        struct text t = text_new(g->a);
        text_addz(&t, "by ");
        text_day_words(&t, r.calendar_day);
        out->end_label = text_str(&t);
    }
    if (g->n_readings == 0 && g->n_line == 0) {
        return err_set(e, ERR_REFUSED, "record a meter reading or that it was done", "nothing is known yet of ",
                       str_z(g->a, g->c->label), (char *)0);
    }
    return true;
}

/* ---- The desk's part --------------------------------------------------------------------------------------------- */

/* What today says of it; before that, of what is measured, the last reading and how it was judged. */
static struct str says_of(struct drawing *g)
{
    struct desk_today_filter filter = {.machine = g->s->m.serial, .within_days = -1, .with_stopped = true};
    struct desk_today_list list = {0};
    struct text t = text_new(g->a);
    struct verdict v;
    (void)due_list(g->d, &filter, g->a, &list);
    const struct desk_due *due = NULL;
    for (size_t i = 0; i < list.n && !due; i++) {
        due = str_eq(list.at[i].key, g->c->name) ? &list.at[i] : NULL;
    }
    if (due && due->kind != DUE_CHECKPOINT) {
        return due->says; /* out, close or found */
    }
    if (due_judge(g->a, g->s, (int)(g->c - g->s->m.book->checkpoints), &v)) {
        text_quantity_in(&t, v.word == VERDICT_NOT_JUDGED ? v.raw : v.corrected, g->d->units);
        text_join(&t, ", ", verdict_word_text(v.word), due ? "; " : "", (char *)0);
    }
    if (due) {
        text_addz(&t, g->c->kind == CHECK_MEASURE ? "next check: " : "");
        text_add(&t, due->says);
    }
    return text_str(&t);
}

static bool find(struct desk *d, struct str machine, struct str checkpoint, struct drawing *g, struct err *e)
{
    const struct desk_machine *m = desk_machine_find(d, machine, e);
    if (!m) {
        return false;
    }
    if (!m->book) {
        return err_set(e, ERR_REFUSED, NULL, str_z(g->a, m->trouble), (char *)0);
    }
    g->d = d;
    g->s = desk_state_of(d, m);
    int i = book_find_checkpoint(m->book, checkpoint);
    if (i == BOOK_NONE) {
        struct str *names = ARENA_ARRAY(g->a, struct str, m->book->n_checkpoints);
        for (int k = 0; k < m->book->n_checkpoints; k++) {
            names[k] = m->book->checkpoints[k].name;
        }
        ptrdiff_t near = str_nearest(checkpoint, names, (size_t)m->book->n_checkpoints);
        return err_set(e, ERR_MISSING, near >= 0 ? str_z(g->a, names[near]) : "witmark plot MACHINE lists them",
                       str_z(g->a, m->name), " has no checkpoint '", str_z(g->a, checkpoint), "'", (char *)0);
    }
    g->c = &m->book->checkpoints[i];
    return true;
}

/* The picture when machine and checkpoint are found and the state is fresh. */
static bool draw(struct drawing *g, struct plot *out, struct err *e)
{
    *out = (struct plot){.title = g->c->label,
                         .low = NAN,
                         .high = NAN,
                         .end = NAN,
                         .p10 = NAN,
                         .p50 = NAN,
                         .p90 = NAN,
                         .crossing_y = NAN};
    struct text name = text_new(g->a);
    text_add(&name, g->s->m.name);
    if (!str_eq(g->s->m.name, g->s->m.serial)) {
        text_addz(&name, "  ");
        text_add(&name, g->s->m.serial);
    }
    out->machine = text_str(&name);
    struct entry_filter filter = {.view = VIEW_EFFECTIVE,
                                  .machine = g->s->m.serial,
                                  .kinds = KIND_BIT(KIND_READING) | KIND_BIT(KIND_DONE) | KIND_BIT(KIND_FOUND),
                                  .has_until = true,
                                  .until = desk_now(g->d) + 1};
    bool measured = g->c->kind == CHECK_MEASURE;
    if (measured ? !draw_measured(g, &filter, out, e) : !draw_counted(g, &filter, out, e)) {
        return false;
    }
    out->now = x_of(g, desk_now(g->d));
    out->readings = g->readings;
    out->n_readings = g->n_readings;
    out->line = g->line;
    out->n_line = g->n_line;
    out->resets = g->resets;
    out->n_resets = g->n_resets;
    out->says = says_of(g);
    return true;
}

bool desk_plot(struct desk *d, struct str machine, struct str checkpoint, struct arena *a, struct plot *out,
               struct err *e)
{
    struct drawing g = {.a = a};
    if (!desk_refresh(d, e)) {
        return false;
    }
    desk_forecast_ready(d);
    return find(d, machine, checkpoint, &g, e) && draw(&g, out, e);
}

bool desk_plot_language(struct plot *plot, struct str language, struct err *e)
{
#define WORD(text)             \
    {                          \
        text, sizeof(text) - 1 \
    }
    static const struct str spanish[] = {WORD("ene"), WORD("feb"), WORD("mar"), WORD("abr"), WORD("may"), WORD("jun"),
                                         WORD("jul"), WORD("ago"), WORD("sep"), WORD("oct"), WORD("nov"), WORD("dic")};
#undef WORD
    if (language.n == 0 || str_eq(language, S("en"))) {
        return true;
    }
    if (!str_eq(language, S("es"))) {
        return err_set(e, ERR_USAGE, "en or es", "no such language '", str_z(e->a, language), "'", (char *)0);
    }
    plot->months = spanish;
    plot->word_now = S("hoy");
    plot->word_limit = S("límite");
    plot->word_hours = S("horas de máquina");
    return true;
}

bool desk_plots_of(struct desk *d, struct str machine, struct arena *a, const struct str **names, size_t *n,
                   struct err *e)
{
    *names = NULL;
    *n = 0;
    const struct desk_machine *m = desk_refresh(d, e) ? desk_machine_find(d, machine, e) : NULL;
    if (!m) {
        return false;
    }
    if (!m->book) {
        return err_set(e, ERR_REFUSED, NULL, str_z(a, m->trouble), (char *)0);
    }
    desk_forecast_ready(d);
    const struct machine_state *s = desk_state_of(d, m);
    struct str *at = ARENA_ARRAY(a, struct str, m->book->n_checkpoints + 1);
    for (int i = 0; i < m->book->n_checkpoints; i++) {
        const struct book_checkpoint *c = &m->book->checkpoints[i];
        struct counted counted;
        bool some = c->kind == CHECK_MEASURE ? s->points[i].reading.have
                                             : due_reserve(d, s, i, &counted).rule != RESERVE_NONE &&
                                                   (counted.last.have || counted.interval.hours > 0);
        if (some) {
            at[(*n)++] = c->name;
        }
    }
    *names = at;
    return true;
}

bool desk_print_plots(struct desk *d, struct str machine, const struct str *names, size_t n, struct str paper,
                      struct text *out, struct err *e)
{
    struct arena *a = out->a;
    if (n == 0 && !desk_plots_of(d, machine, a, &names, &n, e)) {
        return false;
    }
    if (n == 0) {
        return err_set(e, ERR_REFUSED, "record readings first", "there is nothing to draw yet for ", str_z(a, machine),
                       (char *)0);
    }
    const struct desk_machine *m = desk_machine_find(d, machine, e);
    struct json j = json_new(out, true);
    if (!m) {
        return false;
    }
    json_begin_object(&j, NULL);
    json_strz(&j, "type", "plots");
    json_str(&j, "paper", paper.n ? paper : S("A4"));
    json_strz(&j, "title", "Trends and reserves");
    json_str(&j, "depot", d->name);
    struct text made = text_new(a);
    text_local(&made, d, desk_now(d));
    json_str(&j, "made", text_str(&made));
    json_begin_object(&j, "machine");
    json_str(&j, "label", m->name);
    json_str(&j, "serial", m->serial);
    json_str(&j, "title", m->book->title);
    json_end_object(&j);
    json_begin_array(&j, "plots");
    for (size_t i = 0; i < n; i++) {
        struct plot plot;
        if (!desk_plot(d, m->serial, names[i], a, &plot, e)) {
            return false;
        }
        struct text svg = text_new(a);
        plot_svg(&svg, &plot, 700, 300);
        json_begin_object(&j, NULL);
        json_str(&j, "name", names[i]);
        json_str(&j, "svg", text_str(&svg));
        json_end_object(&j);
    }
    json_end_array(&j);
    json_end_object(&j);
    text_char(out, '\n');
    return true;
}

/* ---- JSON -------------------------------------------------------------------------------------------------------- */

static void x_json(struct json *j, const struct desk *d, const struct plot *p, const char *name, double x)
{
    if (!isfinite(x)) {
        json_put_null(j, name);
    } else if (p->by_hours) {
        json_num(j, name, x);
    } else {
        struct text t = text_new(j->t->a);
        text_instant(&t, (instant_ms)llround(x * 86400000.0) - due_offset_ms(d));
        json_str(j, name, text_str(&t));
    }
}

static void border_json(struct json *j, const struct desk *d, const struct plot *p, const char *name,
                        const struct plot_xy *at, size_t n)
{
    json_begin_array(j, name);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        x_json(j, d, p, "x", at[i].x);
        json_num(j, "y", at[i].y);
        json_end_object(j);
    }
    json_end_array(j);
}

void desk_plot_json(struct json *j, const struct desk *d, const struct plot *p)
{
    static const char *const marks[] = {
        [PLOT_IN] = "in limits", [PLOT_CLOSE] = "close", [PLOT_OUT] = "out", [PLOT_HOLLOW] = "not judged"};
    json_begin_object(j, NULL);
    json_str(j, "title", p->title);
    json_str(j, "says", p->says);
    json_strz(j, "x", p->by_hours ? "machine hours" : "time");
    json_str(j, "unit", p->unit);
    json_num(j, "low", p->low);
    json_num(j, "high", p->high);
    x_json(j, d, p, "now", p->now);
    x_json(j, d, p, "calendar_end", p->end);
    x_json(j, d, p, "p10", p->p10);
    x_json(j, d, p, "p50", p->p50);
    x_json(j, d, p, "p90", p->p90);
    json_begin_array(j, "readings");
    for (size_t i = 0; i < p->n_readings; i++) {
        json_begin_object(j, NULL);
        x_json(j, d, p, "x", p->readings[i].x);
        json_num(j, "y", p->readings[i].y);
        json_num(j, "uncertainty", p->readings[i].spread);
        json_strz(j, "verdict", marks[p->readings[i].mark]);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "resets");
    for (size_t i = 0; i < p->n_resets; i++) {
        json_begin_object(j, NULL);
        x_json(j, d, p, "x", p->resets[i].x);
        json_str(j, "what", p->resets[i].label);
        json_end_object(j);
    }
    json_end_array(j);
    border_json(j, d, p, "band_early", p->band_a, p->n_band);
    border_json(j, d, p, "band_late", p->band_b, p->n_band);
    border_json(j, d, p, "middle", p->middle, p->n_band);
    json_end_object(j);
}
