/* A trace: found by words, asked of the core, explained. */
#include "trace_internal.h"

#include <math.h>
#include <string.h>

#define NODES 20000 /* of the search; the gap that is left is told */

/* ---- words ---- */

void trace_phrases(const struct book *b, int symptom, int thing, struct arena *a, struct find_phrase **at, size_t *n,
                   size_t *cap)
{
    const struct book_symptom *s = &b->symptoms[symptom];
    ARENA_PUSH(a, *at, *n, *cap) = (struct find_phrase){thing, s->label};
    ARENA_PUSH(a, *at, *n, *cap) = (struct find_phrase){thing, s->name};
    for (int i = 0; i < s->says.n; i++) {
        ARENA_PUSH(a, *at, *n, *cap) = (struct find_phrase){thing, s->says.at[i]};
    }
}

/* One of several candidates, or the error: which it could be. */
static int choose(const struct str *names, const struct str *labels, const double *fit, int n, const char *what,
                  struct str words, struct err *e)
{
    int *order = ARENA_ARRAY(e->a, int, n + 1);
    int best = find_best(fit, n, order);
    if (best >= 0) {
        return best;
    }
    struct text right = text_new(e->a);
    int shown = 0;
    for (int i = 0; i < n && shown < 5 && fit[order[i]] > 0.2; i++) {
        text_addz(&right, shown++ ? "; " : "did you mean ");
        text_add(&right, names[order[i]]);
        text_addz(&right, " (");
        text_add(&right, labels[order[i]]);
        text_char(&right, ')');
    }
    for (int i = 0; i < n && shown == 0 && i < 40; i++) {
        text_addz(&right, i ? ", " : "one of ");
        text_add(&right, names[i]);
    }
    err_set(e, ERR_MISSING, text_z(&right), shown ? "more than one " : "no ", what, shown ? " fits '" : " is like '",
            str_z(e->a, words), "'", (char *)0);
    return -1;
}

int trace_symptom_find(const struct book *b, struct str words, struct err *e)
{
    int exact = book_find_symptom(b, words);
    if (exact != BOOK_NONE && !b->symptoms[exact].clue) {
        return exact;
    }
    struct find_phrase *phrases = NULL;
    size_t n = 0;
    size_t cap = 0;
    int things = 0;
    int *symptom = ARENA_ARRAY(e->a, int, b->n_symptoms + 1);
    struct str *names = ARENA_ARRAY(e->a, struct str, b->n_symptoms + 1);
    struct str *labels = ARENA_ARRAY(e->a, struct str, b->n_symptoms + 1);
    for (int i = 0; i < b->n_symptoms; i++) {
        if (!b->symptoms[i].clue) {
            symptom[things] = i;
            names[things] = b->symptoms[i].name;
            labels[things] = b->symptoms[i].label;
            trace_phrases(b, i, things++, e->a, &phrases, &n, &cap);
        }
    }
    double *fit = ARENA_ARRAY(e->a, double, things + 1);
    find_things(words, phrases, n, things, e->a, fit);
    int at = choose(names, labels, fit, things, "symptom of this machine", words, e);
    return at < 0 ? BOOK_NONE : symptom[at];
}

int trace_item_find(const struct desk_trace *trace, struct str words, unsigned sorts, struct err *e)
{
    const struct book *b = trace->machine->book;
    struct find_phrase *phrases = NULL;
    size_t n = 0;
    size_t cap = 0;
    int things = 0;
    int *item = ARENA_ARRAY(e->a, int, trace->n_items + 1);
    struct str *names = ARENA_ARRAY(e->a, struct str, trace->n_items + 1);
    struct str *labels = ARENA_ARRAY(e->a, struct str, trace->n_items + 1);
    for (int i = 0; i < trace->n_items; i++) {
        const struct desk_trace_item *one = &trace->items[i];
        if (!(sorts >> one->sort & 1U)) {
            continue;
        }
        if (str_eq(one->name, words)) {
            return i;
        }
        item[things] = i;
        names[things] = one->name;
        labels[things] = one->label;
        ARENA_PUSH(e->a, phrases, n, cap) = (struct find_phrase){things, one->label};
        ARENA_PUSH(e->a, phrases, n, cap) = (struct find_phrase){things, one->name};
        ARENA_PUSH(e->a, phrases, n, cap) = (struct find_phrase){things, one->yes};
        if (one->sort == TRACE_SYMPTOM) {
            trace_phrases(b, one->index, things, e->a, &phrases, &n, &cap);
        }
        things++;
    }
    double *fit = ARENA_ARRAY(e->a, double, things + 1);
    find_things(words, phrases, n, things, e->a, fit);
    int at = choose(names, labels, fit, things, "step of this trace", words, e);
    return at < 0 ? -1 : item[at];
}

/* ---- the answer ---- */

/* Causes by falling probability; the model's numbers follow. */
static void sort_causes(struct trace_build *t, const double *p)
{
    struct desk_trace *out = t->out;
    int n = out->n_causes;
    int *order = ARENA_ARRAY(t->a, int, n + 1);
    int *place = ARENA_ARRAY(t->a, int, n + 1);
    (void)find_best(p, n, order);
    struct desk_trace_cause *sorted = ARENA_ARRAY(t->a, struct desk_trace_cause, n + 1);
    double *weight = ARENA_ARRAY(t->a, double, n + 1);
    double *chance = ARENA_ARRAY(t->a, double, t->n_signs *n + 1);
    double *cures = ARENA_ARRAY(t->a, double, t->m.n_repairs *n + 1);
    for (int i = 0; i < n; i++) {
        sorted[i] = out->causes[order[i]];
        sorted[i].p = p[order[i]];
        weight[i] = t->weight[order[i]];
        place[order[i]] = i;
        for (int s = 0; s < t->n_signs; s++) {
            chance[s * n + i] = t->chance[s * n + order[i]];
        }
        for (int r = 0; r < t->m.n_repairs; r++) {
            cures[r * n + i] = t->cures[r * n + order[i]];
        }
    }
    for (int i = 0; i < out->n_items; i++) {
        out->items[i].cause = out->items[i].cause < 0 ? -1 : place[out->items[i].cause];
    }
    out->causes = sorted;
    t->m.weight = t->weight = weight;
    t->m.chance = t->chance = chance;
    t->m.cures = t->cures = cures;
}

/* The three likeliest causes when the step comes out that way. */
static int after(struct trace_build *t, const struct trace_step *step, bool yes, struct desk_trace_after *into)
{
    struct trace_event *events = ARENA_ARRAY(t->a, struct trace_event, t->n_events + 1);
    double *p = ARENA_ARRAY(t->a, double, t->out->n_causes);
    int *order = ARENA_ARRAY(t->a, int, t->out->n_causes);
    double other = 0;
    double two = 0;
    double seen = 0;
    struct err e = err_new(t->a);
    memcpy(events, t->events, (size_t)t->n_events * sizeof *events);
    events[t->n_events] = (struct trace_event){step->what, step->index, yes};
    if (step->what == TRACE_HELP ||
        !trace_probabilities(&t->m, events, t->n_events + 1, t->a, p, &other, &two, &seen, &e)) {
        return 0;
    }
    (void)find_best(p, t->out->n_causes, order);
    int n = 0;
    for (int i = 0; i < t->out->n_causes && n < 3; i++) {
        into[n++] = (struct desk_trace_after){order[i], p[order[i]]};
    }
    return n;
}

#define STEPS_SHOWN 4

static void fill_steps(struct trace_build *t, const struct trace_answer *got)
{
    struct desk_trace *out = t->out;
    out->steps = ARENA_ARRAY(t->a, struct desk_trace_step, STEPS_SHOWN + 1);
    for (int i = 0; i < got->n_steps; i++) {
        const struct trace_step *s = &got->steps[i];
        if (out->n_steps >= STEPS_SHOWN && s->what != TRACE_HELP) {
            continue;
        }
        struct desk_trace_step step = {.item = s->what == TRACE_SIGN     ? s->index
                                               : s->what == TRACE_REPAIR ? t->n_signs + s->index
                                                                         : out->n_items - 1,
                                       .minutes = s->cost,
                                       .p_yes = s->p_yes,
                                       .low = s->low,
                                       .high = s->high};
        step.n_yes = s->what == TRACE_SIGN ? after(t, s, true, step.if_yes) : 0;
        step.n_no = after(t, s, false, step.if_no);
        out->steps[out->n_steps++] = step;
        if (s->what == TRACE_HELP) {
            break;
        }
    }
}

static void add_link(struct text *t, const char *key, double value, struct str from, struct str cause)
{
    text_addz(t, key);
    text_double(t, value);
    text_char(t, ' ');
    text_add(t, from);
    text_char(t, ' ');
    text_add(t, cause);
    text_char(t, '\n');
}

/* The model as lines of a flat question, exact to the last digit, and what was seen as such lines. */
static void fill_question(struct trace_build *t)
{
    struct desk_trace *out = t->out;
    struct text q = text_new(t->a);
    struct text seen = text_new(t->a);
    int n = out->n_causes;
    for (int i = 0; i < n; i++) {
        text_addz(&q, "cause=");
        text_double(&q, t->m.weight[i]);
        text_char(&q, ' ');
        text_add(&q, out->causes[i].name);
        text_char(&q, '\n');
    }
    for (int s = 0; s < t->n_signs; s++) {
        text_addz(&q, "sign=");
        text_double(&q, t->by_itself[s]);
        text_char(&q, ' ');
        if (isfinite(t->sign_cost[s])) {
            text_double(&q, t->sign_cost[s]);
        } else {
            text_char(&q, '-');
        }
        text_char(&q, ' ');
        text_add(&q, out->items[s].name);
        text_char(&q, '\n');
        for (int i = 0; i < n; i++) {
            if (t->m.chance[s * n + i] > 0) {
                add_link(&q, "chance=", t->m.chance[s * n + i], out->items[s].name, out->causes[i].name);
            }
        }
    }
    for (int r = 0; r < t->m.n_repairs; r++) {
        struct str name = out->items[t->n_signs + r].name;
        text_addz(&q, "repair=");
        text_double(&q, t->repair_cost[r]);
        text_char(&q, ' ');
        text_add(&q, name);
        text_char(&q, '\n');
        for (int i = 0; i < n; i++) {
            if (t->m.cures[r * n + i] > 0) {
                add_link(&q, "cures=", t->m.cures[r * n + i], name, out->causes[i].name);
            }
        }
    }
    text_addz(&q, "other=");
    text_double(&q, t->m.other);
    text_addz(&q, "\npairs=");
    text_double(&q, t->m.pairs);
    text_addz(&q, "\nhelp=");
    text_double(&q, t->m.help_cost);
    text_addz(&q, "\nnodes=");
    text_int(&q, NODES);
    text_char(&q, '\n');
    for (int i = 0; i < t->n_events; i++) {
        const struct trace_event *e = &t->events[i];
        bool sign = e->what == TRACE_SIGN;
        text_addz(&seen, sign ? (e->yes ? "saw=" : "not=") : (e->yes ? "cured=" : "tried="));
        text_add(&seen, out->items[sign ? e->index : t->n_signs + e->index].name);
        text_char(&seen, '\n');
    }
    for (int i = 0; i < out->n_items; i++) {
        if (out->items[i].state == ITEM_CANNOT) {
            text_addz(&seen, "cannot=");
            text_add(&seen, out->items[i].name);
            text_char(&seen, '\n');
        }
    }
    out->question = text_str(&q);
    out->evidence = text_str(&seen);
}

bool trace_answer_fill(struct trace_build *t, struct err *e)
{
    struct desk_trace *out = t->out;
    if (out->n_causes == 0) {
        return err_set(e, ERR_MISSING, "a cause in the book", "the book knows no cause of '",
                       str_z(e->a, t->b->symptoms[out->symptom].label), "' for ", str_z(e->a, t->b->serial), (char *)0);
    }
    double *p = ARENA_ARRAY(t->a, double, out->n_causes);
    double seen = 0;
    if (!trace_probabilities(&t->m, t->events, t->n_events, t->a, p, &out->p_other, &out->p_two, &seen, e)) {
        return false;
    }
    sort_causes(t, p);
    struct trace_limits limits = trace_limits_default();
    limits.nodes = NODES;
    limits.no_sign = t->no_sign;
    limits.no_repair = t->no_repair;
    struct trace_answer got;
    if (!trace_ask(&t->m, t->events, t->n_events, &limits, t->a, &got, e)) {
        return false;
    }
    out->two = got.two;
    out->low = got.low;
    out->high = got.high;
    out->straight = got.straight;
    out->exact = got.exact;
    fill_steps(t, &got);
    fill_question(t);
    return true;
}

/* ---- one machine's trace ---- */

/* The chain that the words mean: the open one of that symptom, else the latest; words empty: the open one. */
static bool find_chain(struct trace_build *t, struct str words, struct err *e)
{
    struct str machine = t->s->m.serial;
    t->out->symptom = BOOK_NONE;
    if (str_trim(words).n) {
        t->out->symptom = trace_symptom_find(t->b, str_trim(words), e);
        if (t->out->symptom == BOOK_NONE) {
            return false;
        }
        t->chain = trace_log_open(t->log, machine, t->b->symptoms[t->out->symptom].name);
        return true;
    }
    t->chain = trace_log_open(t->log, machine, (struct str){0});
    if (!t->chain) {
        return err_set(e, ERR_MISSING, "say what it does: witmark trace MACHINE WORDS", "no trace is open for ",
                       str_z(e->a, t->s->m.name), (char *)0);
    }
    t->out->symptom = book_find_symptom(t->b, t->chain->symptom);
    return t->out->symptom != BOOK_NONE ||
           err_set(e, ERR_MISSING, "end it, and start it by the words of this edition", "the book has no symptom '",
                   str_z(e->a, t->chain->symptom), "' for ", str_z(e->a, t->b->serial), " any more", (char *)0);
}

/* Machine, book and log into a build; the symptom is not chosen yet. */
static bool open_build(struct trace_build *t, struct desk *d, struct str machine, struct arena *a,
                       struct desk_trace *out, struct trace_log *log, struct err *e)
{
    *out = (struct desk_trace){0};
    *t = (struct trace_build){.d = d, .a = a, .out = out, .log = log};
    if (!desk_refresh(d, e)) {
        return false;
    }
    const struct desk_machine *m = desk_machine_find(d, machine, e);
    if (!m) {
        return false;
    }
    if (!m->book) {
        return err_set(e, ERR_MISSING, NULL, str_z(e->a, m->name), ": ", str_z(e->a, m->trouble), (char *)0);
    }
    t->s = desk_state_of(d, m);
    t->b = m->book;
    out->machine = m;
    return trace_log_read(d, a, log, e);
}

static bool prepare(struct trace_build *t, struct desk *d, struct str machine, struct str words, struct arena *a,
                    struct desk_trace *out, struct trace_log *log, struct err *e)
{
    if (!open_build(t, d, machine, a, out, log, e) || !find_chain(t, words, e)) {
        return false;
    }
    if (t->chain) {
        out->started = true;
        out->id = t->chain->id;
        out->since = t->chain->since;
        out->events = t->chain->events;
        out->n_events = t->chain->n_events;
    }
    trace_build(t);
    return trace_answer_fill(t, e);
}

bool desk_trace(struct desk *d, struct str machine, struct str words, struct arena *a, struct desk_trace *out,
                struct err *e)
{
    struct trace_build t;
    struct trace_log log;
    return prepare(&t, d, machine, words, a, out, &log, e);
}

bool trace_path(struct desk *d, struct str machine, struct str words, struct arena *a, struct desk_trace *out,
                struct desk_trace_step *path, int most, int *n, struct err *e)
{
    struct trace_build t;
    struct trace_log log;
    *n = 0;
    if (!prepare(&t, d, machine, words, a, out, &log, e)) {
        return false;
    }
    struct trace_event *events = ARENA_ARRAY(a, struct trace_event, t.n_events + most + 1);
    memcpy(events, t.events, (size_t)t.n_events * sizeof *events);
    t.events = events;
    while (*n < most && !out->cured && out->n_steps > 0) {
        struct desk_trace_step step = out->steps[0];
        path[(*n)++] = step;
        if (out->items[step.item].sort == TRACE_CALL) {
            break;
        }
        bool sign = step.item < t.n_signs;
        events[t.n_events++] = (struct trace_event){sign ? TRACE_SIGN : TRACE_REPAIR,
                                                    sign ? step.item : step.item - t.n_signs, sign && step.p_yes > 0.5};
        struct trace_limits limits = {.no_sign = t.no_sign, .no_repair = t.no_repair, .nodes = 3000, .ignore = 0.001};
        struct trace_answer got;
        out->n_steps = 0;
        if (!trace_ask(&t.m, t.events, t.n_events, &limits, a, &got, e)) {
            return false;
        }
        fill_steps(&t, &got);
    }
    return true;
}

/* ---- why ---- */

struct reasons {
    struct arena *a;
    struct desk_reason *at;
    size_t n, cap;
};

static void because(struct reasons *r, const struct text *t, struct str source)
{
    ARENA_PUSH(r->a, r->at, r->n, r->cap) = (struct desk_reason){text_str(t), source};
}

static void text_percent(struct text *t, double p)
{
    text_number(t, 100 * p, p < 0.1 ? 1 : 0);
    text_addz(t, " %");
}

static void why_prior(struct reasons *r, const struct trace_build *t, const struct desk_trace_cause *c)
{
    const struct book_cause *k = &t->b->causes[c->cause];
    double all = 0;
    for (int i = 0; i < t->out->n_causes; i++) {
        all += t->out->causes[i].book_weight;
    }
    struct text w = text_new(r->a);
    text_addz(&w, "the book's weight ");
    text_number(&w, c->book_weight, 2);
    text_addz(&w, " of ");
    text_number(&w, all, 1);
    text_addz(&w, " among ");
    text_int(&w, t->out->n_causes);
    text_addz(&w, " causes: ");
    text_percent(&w, c->book_weight / all);
    because(r, &w, desk_book_line(r->a, t->b, k->pos));
    w = text_new(r->a);
    if (c->confirmed) {
        text_addz(&w, "confirmed in this depot ");
        text_int(&w, c->confirmed);
        text_addz(&w, c->confirmed == 1 ? " time: weight " : " times: weight ");
        text_number(&w, c->book_weight + c->confirmed, 2);
    } else {
        text_addz(&w, "never confirmed in this depot: the weight stays");
    }
    because(r, &w,
            S("Dirichlet counts: the book's weights as cases seen, plus confirmed ones; correct the entry to take one "
              "back"));
    for (int i = 0; i < c->n_facts; i++) {
        w = text_new(r->a);
        text_add(&w, c->facts[i].says);
        text_addz(&w, ": ");
        text_number(&w, c->facts[i].factor, 2);
        text_addz(&w, c->facts[i].factor >= 1 ? " times likelier" : " times as likely");
        because(r, &w, c->facts[i].source);
    }
}

/* Each sign that was seen or not, and each cure that did not help: how many times likelier it makes the cause, against
 * what the others together say. */
static void why_signs(struct reasons *r, const struct trace_build *t, int cause)
{
    int n = t->out->n_causes;
    for (int i = 0; i < t->n_events; i++) {
        const struct trace_event *ev = &t->events[i];
        struct text w = text_new(r->a);
        if (ev->what != TRACE_SIGN) {
            const struct desk_trace_item *item = &t->out->items[t->n_signs + ev->index];
            double cures = t->m.cures[ev->index * n + cause];
            text_add(&w, item->label);
            text_addz(&w, ev->yes ? " cured it; it cures this cause in " : " did not cure it; it would have in ");
            text_percent(&w, cures);
            because(r, &w, item->from);
            continue;
        }
        const struct desk_trace_item *item = &t->out->items[ev->index];
        double mine = trace_sign_chance(&t->m, ev->index, cause);
        double others = 0;
        double weights = 0;
        for (int k = 0; k < n; k++) {
            if (k != cause) {
                others += t->m.weight[k] * trace_sign_chance(&t->m, ev->index, k);
                weights += t->m.weight[k];
            }
        }
        others = weights > 0 ? others / weights : mine;
        double ratio = ev->yes ? mine / others : (1 - mine) / (1 - others);
        text_add(&w, item->label);
        text_addz(&w, ev->yes ? ": yes. Shown by this cause in " : ": no. Shown by this cause in ");
        text_percent(&w, mine);
        text_addz(&w, ", by the others in ");
        text_percent(&w, others);
        text_addz(&w, ": ");
        text_number(&w, ratio, 2);
        text_addz(&w, ratio >= 1 ? " times likelier" : " times as likely");
        because(r, &w, item->from.n ? item->from : S("what the trace began with"));
    }
}

static void why_cause(struct reasons *r, const struct trace_build *t, int cause, struct desk_why *out)
{
    const struct desk_trace_cause *c = &t->out->causes[cause];
    struct text answer = text_new(r->a);
    text_percent(&answer, c->p);
    text_addz(&answer, " likely");
    why_prior(r, t, c);
    why_signs(r, t, cause);
    struct text w = text_new(r->a);
    text_addz(&w, "all together, by the rule of Bayes: ");
    text_percent(&w, c->p);
    text_addz(&w, "; not in the book ");
    text_percent(&w, t->out->p_other);
    text_addz(&w, ", two causes at once ");
    text_percent(&w, t->out->p_two);
    because(r, &w, S("signs by noisy-or, Pearl 1988; docs/trace.md"));
    out->answer = text_str(&answer);
}

static void why_step(struct reasons *r, const struct trace_build *t, int item, struct desk_why *out)
{
    const struct desk_trace *trace = t->out;
    const struct desk_trace_step *step = NULL;
    for (int i = 0; i < trace->n_steps; i++) {
        step = trace->steps[i].item == item ? &trace->steps[i] : step;
    }
    struct text answer = text_new(r->a);
    if (!step) {
        text_addz(&answer, "not among the next steps");
        out->answer = text_str(&answer);
        return;
    }
    text_addz(&answer, "expected ");
    text_number(&answer, step->high, 0);
    text_addz(&answer, " min until it is right, this step first");
    out->answer = text_str(&answer);
    struct text w = text_new(r->a);
    text_addz(&w, "it takes ");
    text_number(&w, step->minutes, 0);
    text_addz(&w, " min, what is used up counted as time");
    because(r, &w, (struct str){0});
    w = text_new(r->a);
    text_addz(&w, trace->items[item].sort == TRACE_CURE ? "it cures in " : "it comes out yes in ");
    text_percent(&w, step->p_yes);
    because(r, &w, (struct str){0});
    for (int i = 0; i < trace->n_steps; i++) {
        if (trace->steps[i].item != item) {
            w = text_new(r->a);
            text_add(&w, trace->items[trace->steps[i].item].label);
            text_addz(&w, " first: ");
            text_number(&w, trace->steps[i].high, 0);
            text_addz(&w, " min");
            because(r, &w, (struct str){0});
        }
    }
    w = text_new(r->a);
    text_addz(&w, "cures by probability over cost, without another look: ");
    text_number(&w, trace->straight, 0);
    text_addz(&w, " min");
    because(r, &w, S("Kadane and Simon 1977; Heckerman, Breese and Rommelse 1995"));
    w = text_new(r->a);
    if (trace->exact) {
        text_addz(&w, "no order of steps costs less: all were looked at or shown to be dearer");
    } else {
        text_addz(&w, "looked ahead as far as time allowed: no order of steps can cost less than ");
        text_number(&w, trace->low, 0);
        text_addz(&w, " min");
    }
    because(r, &w, S("search over what can be seen, docs/trace.md"));
}

bool desk_trace_why(struct desk *d, struct str machine, struct str words, struct str key, struct arena *a,
                    struct desk_why *out, struct err *e)
{
    struct trace_build t;
    struct trace_log log;
    struct desk_trace trace;
    struct reasons r = {.a = a};
    *out = (struct desk_why){0};
    if (!prepare(&t, d, machine, words, a, &trace, &log, e)) {
        return false;
    }
    int n = trace.n_causes + trace.n_items;
    struct str *names = ARENA_ARRAY(e->a, struct str, n);
    for (int i = 0; i < n; i++) {
        names[i] = i < trace.n_causes ? trace.causes[i].name : trace.items[i - trace.n_causes].name;
        if (!str_eq(names[i], key)) {
            continue;
        }
        struct text title = text_new(a);
        text_add(&title, trace.machine->name);
        text_addz(&title, ", ");
        text_add(&title, t.b->symptoms[trace.symptom].label);
        text_addz(&title, ": ");
        text_add(&title, i < trace.n_causes ? trace.causes[i].label : trace.items[i - trace.n_causes].label);
        out->title = text_str(&title);
        if (i < trace.n_causes) {
            why_cause(&r, &t, i, out);
        } else {
            why_step(&r, &t, i - trace.n_causes, out);
        }
        out->at = r.at;
        out->n = r.n;
        return true;
    }
    ptrdiff_t near = str_nearest(key, names, (size_t)n);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : "the name of a cause or step of the trace");
    if (near >= 0) {
        text_add(&right, names[near]);
        text_char(&right, '?');
    }
    return err_set(e, ERR_MISSING, text_z(&right), "this trace has no '", str_z(e->a, key), "'", (char *)0);
}

/* ---- for a phone ---- */

bool trace_every(struct desk *d, struct str machine, struct arena *a, struct trace_each each, struct err *e)
{
    struct trace_build t;
    struct trace_log log;
    struct desk_trace out;
    if (!open_build(&t, d, machine, a, &out, &log, e)) {
        return false;
    }
    const struct desk_machine *m = out.machine;
    for (int i = 0; i < m->book->n_symptoms; i++) {
        if (m->book->symptoms[i].clue) {
            continue;
        }
        struct desk_trace trace = {.machine = m, .symptom = i};
        struct trace_build one = {.d = d, .a = a, .s = desk_state_of(d, m), .b = m->book, .log = &log, .out = &trace};
        one.chain = trace_log_open(&log, m->serial, m->book->symptoms[i].name);
        trace_build(&one);
        if (trace.n_causes) {
            double *p = ARENA_ARRAY(a, double, trace.n_causes);
            double seen = 0;
            struct err none = err_new(a);
            if (trace_probabilities(&one.m, one.events, one.n_events, a, p, &trace.p_other, &trace.p_two, &seen,
                                    &none)) {
                sort_causes(&one, p);
            }
            fill_question(&one);
            each.one(each.ctx, &trace, &log);
        }
    }
    return true;
}
