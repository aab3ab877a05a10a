/* Flat questions: reading their lines, asking the core, writing the answer. */
#include "wasm/flat_internal.h"

#include "calc/calc_json.h"
#include "meter/meter.h"
#include "reserve/reserve.h"

#include <math.h>

/* Lines of a question from line `first` on. Errors: ERR_INPUT: a line without '=', not UTF-8. */
bool flat_read(struct arena *a, struct str question, uint32_t first, struct flat *f, struct err *e)
{
    *f = (struct flat){.a = a};
    if (!str_is_utf8(question)) {
        return err_set(e, ERR_INPUT, "UTF-8", "the question is no text", (char *)0);
    }
    struct str line;
    for (uint32_t number = first; str_next(&question, '\n', &line); number++) {
        ptrdiff_t equals = str_find(line, S("="));
        if (line.n == 0) {
            continue;
        }
        if (equals <= 0) {
            return err_at(e, (struct where){{0}, number, 1}, ERR_INPUT, "NAME=VALUE", "not a line of a question: \"",
                          str_z(e->a, line), "\"", (char *)0);
        }
        ARENA_PUSH(a, f->at, f->n, f->cap) =
            (struct flat_line){str_cut(line, 0, (size_t)equals), str_cut(line, (size_t)equals + 1, line.n), false};
    }
    return true;
}

/* The next line of that name not taken yet; null when there is none. */
struct flat_line *flat_next(struct flat *f, const char *name)
{
    struct str wanted = str_of(name);
    bool known = false;
    for (size_t i = 0; i < f->n_known; i++) {
        known = known || str_eq(f->known[i], wanted);
    }
    if (!known && f->n_known < sizeof f->known / sizeof *f->known) {
        f->known[f->n_known++] = wanted;
    }
    for (size_t i = 0; i < f->n; i++) {
        if (!f->at[i].taken && str_eq(f->at[i].name, wanted)) {
            f->at[i].taken = true;
            return &f->at[i];
        }
    }
    return NULL;
}

/* The value of a name, false when it is not there. */
bool flat_get(struct flat *f, const char *name, struct str *value)
{
    struct flat_line *line = flat_next(f, name);
    *value = line ? line->value : (struct str){0};
    return line;
}

/* Whether every line was asked for. Errors: ERR_USAGE: an unknown name, or one said twice. */
bool flat_done(const struct flat *f, struct err *e)
{
    for (size_t i = 0; i < f->n; i++) {
        if (f->at[i].taken) {
            continue;
        }
        struct text right = text_new(e->a);
        ptrdiff_t near = str_nearest(f->at[i].name, f->known, f->n_known);
        bool twice = near >= 0 && str_eq(f->known[near], f->at[i].name);
        if (near >= 0 && !twice) {
            text_join(&right, "did you mean ", str_z(e->a, f->known[near]), "?", (char *)0);
        }
        return err_set(e, ERR_USAGE, twice ? "each name once" : text_z(&right), "\"", str_z(e->a, f->at[i].name),
                       twice ? "\" is said twice" : "\" is no name of this question", (char *)0);
    }
    return true;
}

bool flat_need(struct flat *f, const char *name, struct str *value, struct err *e)
{
    return flat_get(f, name, value) ||
           err_set(e, ERR_USAGE, "a line NAME=VALUE for it", name, " is missing", (char *)0);
}

bool flat_units(struct flat *f, enum unit_system *system, struct err *e)
{
    struct str value;
    *system = UNITS_AS_WRITTEN;
    return !flat_get(f, "units", &value) || unit_system_parse(value, system) ||
           err_set(e, ERR_USAGE, "as-written, si or us", "units: \"", str_z(e->a, value), "\"", (char *)0);
}

/* A quantity that may be left out; *given says whether it was. */
bool flat_quantity(struct flat *f, const char *name, struct quantity *q, bool *given, struct err *e)
{
    struct str value;
    *given = flat_get(f, name, &value);
    return !*given || quantity_parse(value, q, e) || err_context(e, str_of(name));
}

/* Likewise one of a kind, in SI. */
bool flat_si(struct flat *f, const char *name, enum quantity_kind kind, double *si, bool *given, struct err *e)
{
    struct quantity q = {0};
    if (!flat_quantity(f, name, &q, given, e)) {
        return false;
    }
    if (*given && (q.unit ? q.unit->kind : Q_NONE) != kind) {
        return err_set(e, ERR_INPUT, "a quantity of that kind with its unit", name, " is no ", quantity_kind_text(kind),
                       (char *)0);
    }
    if (*given) {
        *si = q.unit ? unit_to_si(q.unit, q.value) : q.value;
    }
    return true;
}

/* A bare number of at least 0; NaN when it is left out. */
bool flat_hours(struct flat *f, const char *name, double *value, struct err *e)
{
    struct str s;
    *value = (double)NAN;
    return !flat_get(f, name, &s) || (num_parse(s, value) && *value >= 0 && isfinite(*value)) ||
           err_set(e, ERR_INPUT, "a number of hours, 0 or more", name, ": \"", str_z(e->a, s), "\"", (char *)0);
}

bool flat_day(struct flat *f, const char *name, day_t *day, struct err *e)
{
    struct str s;
    *day = DAY_NONE;
    return !flat_get(f, name, &s) || day_parse(s, day) ||
           err_set(e, ERR_INPUT, "a date, YYYY-MM-DD", name, ": no such date: \"", str_z(e->a, s), "\"", (char *)0);
}

/* The only member of an answer that is a refusal. */
void flat_err(struct text *answer, const struct err *e)
{
    answer->n = 0;
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    json_err(&j, e);
    json_end_object(&j);
}

/* ---- calc ---- */

void flat_calculations(struct text *answer)
{
    struct json j = json_new(answer, false);
    json_begin_array(&j, NULL);
    for (size_t i = 0; calc_at(i); i++) {
        json_calc(&j, NULL, calc_at(i));
    }
    json_end_array(&j);
}

static bool calc_question(struct str question, struct text *answer, struct err *e)
{
    struct str name = {0};
    struct flat f;
    enum unit_system system;
    (void)str_next(&question, '\n', &name);
    const struct calc *c = calc_find(name);
    if (!c) {
        const struct calc *near = calc_nearest(name);
        struct text right = text_new(e->a);
        text_join(&right, near ? "did you mean " : "the name of a calculation on the first line",
                  near ? near->name : "", near ? "?" : "", (char *)0);
        return err_set(e, ERR_MISSING, text_z(&right), "no calculation \"", str_z(e->a, name), "\"", (char *)0);
    }
    if (!flat_read(answer->a, question, 2, &f, e) || !flat_units(&f, &system, e)) {
        return false;
    }
    struct calc_call call = calc_call_new(c, answer->a);
    for (size_t i = 0; i < f.n; i++) {
        if (!f.at[i].taken && !calc_give(&call, f.at[i].name, f.at[i].value, e)) {
            return false;
        }
    }
    if (!calc_run(&call, e)) {
        return false;
    }
    struct json j = json_new(answer, false);
    json_calc_answer(&j, NULL, &call, system);
    return true;
}

/* ---- reserve ---- */

void flat_put_day(struct json *j, const char *key, day_t day)
{
    struct text t = text_new(j->t->a);
    if (day == DAY_NONE) {
        json_put_null(j, key);
        return;
    }
    text_day(&t, day);
    json_str(j, key, text_str(&t));
}

static bool reserve_question(struct str question, struct text *answer, struct err *e)
{
    struct flat f;
    struct str s;
    struct interval interval;
    struct reserve_since since;
    double hours_now = 0;
    double hours_per_day = 0;
    day_t first = 0;
    day_t today = 0;
    if (!flat_read(answer->a, question, 1, &f, e) || !flat_need(&f, "interval", &s, e)) {
        return false;
    }
    if (!interval_parse(s, &interval, e)) {
        return err_context(e, S("interval"));
    }
    if (!flat_hours(&f, "last-hours", &since.total_h, e) || !flat_day(&f, "last-day", &since.day, e) ||
        !flat_day(&f, "first-day", &first, e) || !flat_hours(&f, "hours-now", &hours_now, e) ||
        !flat_hours(&f, "hours-per-day", &hours_per_day, e) || !flat_day(&f, "today", &today, e) || !flat_done(&f, e)) {
        return false;
    }
    if (today == DAY_NONE) {
        return err_set(e, ERR_USAGE, "the date to answer for", "today is missing", (char *)0);
    }
    since.done = since.day != DAY_NONE || !isnan(since.total_h);
    if (!since.done) {
        since.total_h = 0;
        since.day = first;
    }
    struct reserve r = reserve_predetermined(interval, since, hours_now, hours_per_day, today);
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    json_strz(&j, "rule", reserve_rule_text(r.rule));
    json_bool(&j, "out", r.out);
    json_num(&j, "hours_left", r.hours_left);
    json_num(&j, "due_total", r.due_total_h);
    flat_put_day(&j, "calendar_day", r.calendar_day);
    flat_put_day(&j, "hours_day", r.hours_day);
    flat_put_day(&j, "p10", r.p10);
    flat_put_day(&j, "p50", r.p50);
    flat_put_day(&j, "p90", r.p90);
    json_bool(&j, "spread_known", r.spread_known);
    json_end_object(&j);
    return true;
}

/* ---- meter ---- */

/* The next word of a value, as an instant. */
static bool word_instant(struct str *rest, const char *name, instant_ms *at, struct err *e)
{
    struct str word = {0};
    return (str_next(rest, ' ', &word) && instant_parse(word, at)) ||
           err_set(e, ERR_INPUT, "an instant such as 2026-09-06T07:40Z", name, ": no instant: \"", str_z(e->a, word),
                   "\"", (char *)0);
}

/* The next word as hours; "?" is NaN where that is allowed. */
static bool word_hours(struct str *rest, const char *name, bool may_miss, double *hours, struct err *e)
{
    struct str word = {0};
    bool there = str_next(rest, ' ', &word);
    if (there && may_miss && str_eq(word, S("?"))) {
        *hours = (double)NAN;
        return true;
    }
    return (there && num_parse(word, hours) && *hours >= 0) ||
           err_set(e, ERR_INPUT, "a number of hours, 0 or more", name, ": no hours: \"", str_z(e->a, word), "\"",
                   (char *)0);
}

/* Readings, swaps and pauses of a question. */
struct meter_given {
    struct meter_reading *readings;
    struct meter_swap *swaps;
    struct meter_pause *pauses;
    int n, n_swaps, n_pauses;
    instant_ms at;
};

static bool get_meter(struct flat *f, struct meter_given *g, struct err *e)
{
    *g = (struct meter_given){.readings = ARENA_ARRAY(f->a, struct meter_reading, f->n + 1),
                              .swaps = ARENA_ARRAY(f->a, struct meter_swap, f->n + 1),
                              .pauses = ARENA_ARRAY(f->a, struct meter_pause, f->n + 1),
                              .at = INSTANT_NONE};
    struct str s;
    while (flat_get(f, "reading", &s)) {
        struct meter_reading *r = &g->readings[g->n];
        r->source = g->n++;
        if (!word_instant(&s, "reading", &r->at, e) || !word_hours(&s, "reading", false, &r->hours, e)) {
            return false;
        }
    }
    while (flat_get(f, "swap", &s)) {
        struct meter_swap *w = &g->swaps[g->n_swaps++];
        if (!word_instant(&s, "swap", &w->at, e) || !word_hours(&s, "swap", true, &w->old_hours, e) ||
            !word_hours(&s, "swap", false, &w->new_hours, e)) {
            return false;
        }
    }
    while (flat_get(f, "pause", &s)) {
        struct meter_pause *p = &g->pauses[g->n_pauses++];
        if (!word_instant(&s, "pause", &p->from, e) || !word_instant(&s, "pause", &p->to, e)) {
            return false;
        }
    }
    return !flat_get(f, "at", &s) || word_instant(&s, "at", &g->at, e);
}

static void put_instant(struct json *j, const char *key, instant_ms at)
{
    struct text t = text_new(j->t->a);
    text_instant(&t, at);
    json_str(j, key, text_str(&t));
}

#define USE_DAYS 90.0 /* window of the rate of use, and how many readings it wants at least: as the desk has it */
#define USE_READINGS 5

static bool meter_question(struct str question, struct text *answer, struct err *e)
{
    struct flat f;
    struct meter_given g;
    if (!flat_read(answer->a, question, 1, &f, e) || !get_meter(&f, &g, e) || !flat_done(&f, e)) {
        return false;
    }
    struct meter_history h = meter_clean(answer->a, g.readings, g.n, g.swaps, g.n_swaps);
    struct meter_use use = meter_use(answer->a, &h, g.pauses, g.n_pauses, USE_DAYS, USE_READINGS);
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    json_begin_array(&j, "readings");
    for (int i = 0; i < h.n; i++) {
        json_begin_object(&j, NULL);
        put_instant(&j, "at", h.readings[i].at);
        json_num(&j, "hours", h.readings[i].hours);
        json_num(&j, "total", h.readings[i].total);
        json_strz(&j, "flag", meter_flag_text(h.readings[i].flag));
        json_bool(&j, "good", h.readings[i].flag == METER_GOOD);
        json_end_object(&j);
    }
    json_end_array(&j);
    if (use.known) {
        json_begin_object(&j, "use");
        json_num(&j, "hours_now", use.hours_now);
        put_instant(&j, "at", use.at);
        json_num(&j, "hours_per_day", use.hours_per_day);
        json_int(&j, "readings", use.n);
        put_instant(&j, "since", use.since);
        json_end_object(&j);
    } else {
        json_put_null(&j, "use");
    }
    json_num(&j, "total_at", g.at == INSTANT_NONE ? (double)NAN : meter_total_at(&h, &use, g.at));
    json_end_object(&j);
    return true;
}

/* ---- the questions, each with its refusal ---- */

#define QUESTIONS(X) X(calc) X(reserve) X(meter)
#define X(name)                                                \
    void flat_##name(struct str question, struct text *answer) \
    {                                                          \
        struct err e = err_new(answer->a);                     \
        if (!name##_question(question, answer, &e)) {          \
            flat_err(answer, &e);                              \
        }                                                      \
    }
QUESTIONS(X)
#undef X
