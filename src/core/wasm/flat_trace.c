/* Reading the two questions about faults, asking core/trace, writing the answers. */
#include "wasm/flat_trace.h"

#include "base/json.h"
#include "base/map.h"
#include "trace/find.h"
#include "trace/trace.h"

#include <math.h>

/* Where a name stands in its list. */
struct names {
    struct map index;
    struct str *at;
    size_t n, cap;
};

/* A number between named things: chance or cures. */
struct link {
    double value;
    int from, cause;
};

struct question {
    struct arena *a;
    struct names causes, signs, repairs;
    double *weight, *by_itself, *sign_cost, *repair_cost;
    size_t cap_weight, cap_by, cap_sign_cost, cap_repair_cost, n_weight, n_by, n_sign_cost, n_repair_cost;
    struct link *chances, *cures;
    size_t n_chances, cap_chances, n_cures, cap_cures;
    struct trace_event *events;
    size_t n_events, cap_events;
    struct str *cannot;
    size_t n_cannot, cap_cannot;
    struct trace_model m;
    int nodes;
};

static void refuse(struct text *answer, const struct err *e)
{
    answer->n = 0;
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    json_begin_object(&j, "error");
    json_strz(&j, "kind", err_kind_text(e->kind));
    json_str(&j, "what", e->what);
    json_str(&j, "right", e->right);
    json_end_object(&j);
    json_end_object(&j);
}

static bool wrong(struct err *e, struct str line, const char *right)
{
    return err_set(e, ERR_INPUT, right, "not a line of a question: \"", str_z(e->a, line), "\"", (char *)0);
}

/* Cuts a number off *rest; "-" is infinite. */
static bool cut_number(struct str *rest, double *value)
{
    struct str word = S("");
    if (!str_next(rest, ' ', &word)) {
        return false;
    }
    if (str_eq(word, S("-"))) {
        *value = (double)INFINITY;
        return true;
    }
    return num_parse(word, value);
}

static bool add_name(struct arena *a, struct names *names, struct str name, struct err *e)
{
    if (name.n == 0 || map_get(&names->index, name, NULL)) {
        return err_set(e, ERR_INPUT, "each name once", "the name \"", str_z(e->a, name), "\" is empty or stands twice",
                       (char *)0);
    }
    map_put(&names->index, name, (int64_t)names->n);
    ARENA_PUSH(a, names->at, names->n, names->cap) = name;
    return true;
}

static int place_of(struct names *names, struct str name, struct err *e)
{
    int64_t at = -1;
    if (!map_get(&names->index, name, &at)) {
        err_set(e, ERR_MISSING, "a name said before", "there is no \"", str_z(e->a, name), "\"", (char *)0);
        return -1;
    }
    return (int)at;
}

/* chance=0.9 SIGN CAUSE */
static bool read_link(struct question *q, struct names *from, struct str value, struct link *link, struct err *e)
{
    struct str name = S("");
    if (!cut_number(&value, &link->value) || !str_next(&value, ' ', &name)) {
        return wrong(e, value, "NUMBER NAME CAUSE");
    }
    link->from = place_of(from, name, e);
    link->cause = link->from < 0 ? -1 : place_of(&q->causes, value, e);
    return link->cause >= 0;
}

static bool read_event(struct question *q, struct names *names, enum trace_what what, bool yes, struct str name,
                       struct err *e)
{
    int at = place_of(names, name, e);
    if (at >= 0) {
        ARENA_PUSH(q->a, q->events, q->n_events, q->cap_events) = (struct trace_event){what, at, yes};
    }
    return at >= 0;
}

/* One line: its name and its value. */
static bool read_line(struct question *q, struct str name, struct str value, struct str line, struct err *e)
{
    double number = 0;
    double second = 0;
    if (str_eq(name, S("cause"))) {
        if (!cut_number(&value, &number)) {
            return wrong(e, line, "cause=WEIGHT NAME");
        }
        ARENA_PUSH(q->a, q->weight, q->n_weight, q->cap_weight) = number;
        return add_name(q->a, &q->causes, value, e);
    }
    if (str_eq(name, S("sign"))) {
        if (!cut_number(&value, &number) || !cut_number(&value, &second)) {
            return wrong(e, line, "sign=BY-ITSELF MINUTES NAME");
        }
        ARENA_PUSH(q->a, q->by_itself, q->n_by, q->cap_by) = number;
        ARENA_PUSH(q->a, q->sign_cost, q->n_sign_cost, q->cap_sign_cost) = second;
        return add_name(q->a, &q->signs, value, e);
    }
    if (str_eq(name, S("repair"))) {
        if (!cut_number(&value, &number)) {
            return wrong(e, line, "repair=MINUTES NAME");
        }
        ARENA_PUSH(q->a, q->repair_cost, q->n_repair_cost, q->cap_repair_cost) = number;
        return add_name(q->a, &q->repairs, value, e);
    }
    if (str_eq(name, S("chance"))) {
        struct link link = {0};
        bool ok = read_link(q, &q->signs, value, &link, e);
        ARENA_PUSH(q->a, q->chances, q->n_chances, q->cap_chances) = link;
        return ok;
    }
    if (str_eq(name, S("cures"))) {
        struct link link = {0};
        bool ok = read_link(q, &q->repairs, value, &link, e);
        ARENA_PUSH(q->a, q->cures, q->n_cures, q->cap_cures) = link;
        return ok;
    }
    if (str_eq(name, S("saw")) || str_eq(name, S("not"))) {
        return read_event(q, &q->signs, TRACE_SIGN, str_eq(name, S("saw")), value, e);
    }
    if (str_eq(name, S("tried")) || str_eq(name, S("cured"))) {
        return read_event(q, &q->repairs, TRACE_REPAIR, str_eq(name, S("cured")), value, e);
    }
    if (str_eq(name, S("cannot"))) {
        ARENA_PUSH(q->a, q->cannot, q->n_cannot, q->cap_cannot) = value;
        return true;
    }
    if (!cut_number(&value, &number)) {
        return wrong(e, line, "NAME=VALUE");
    }
    if (str_eq(name, S("other"))) {
        q->m.other = number;
    } else if (str_eq(name, S("pairs"))) {
        q->m.pairs = number;
    } else if (str_eq(name, S("help"))) {
        q->m.help_cost = number;
    } else if (str_eq(name, S("nodes")) && number >= 1 && number <= 200000) {
        q->nodes = (int)number;
    } else {
        return wrong(e, line,
                     "cause, sign, chance, repair, cures, saw, not, tried, cured, cannot, other, pairs, help, nodes");
    }
    return true;
}

static bool each_line(struct str text, struct question *q, struct err *e)
{
    struct str line;
    if (!str_is_utf8(text)) {
        return err_set(e, ERR_INPUT, "UTF-8", "the question is no text", (char *)0);
    }
    while (str_next(&text, '\n', &line)) {
        ptrdiff_t equals = str_find(line, S("="));
        if (line.n == 0) {
            continue;
        }
        if (equals <= 0) {
            return wrong(e, line, "NAME=VALUE");
        }
        if (!read_line(q, str_cut(line, 0, (size_t)equals), str_cut(line, (size_t)equals + 1, line.n), line, e)) {
            return false;
        }
    }
    return true;
}

/* The tables from the lines. */
static void fill_model(struct question *q)
{
    size_t n = q->causes.n;
    double *chance = ARENA_ARRAY(q->a, double, q->signs.n *n + 1);
    double *cures = ARENA_ARRAY(q->a, double, q->repairs.n *n + 1);
    for (size_t i = 0; i < q->n_chances; i++) {
        chance[(size_t)q->chances[i].from * n + (size_t)q->chances[i].cause] = q->chances[i].value;
    }
    for (size_t i = 0; i < q->n_cures; i++) {
        cures[(size_t)q->cures[i].from * n + (size_t)q->cures[i].cause] = q->cures[i].value;
    }
    q->m.n_causes = (int)n;
    q->m.weight = q->weight;
    q->m.n_signs = (int)q->signs.n;
    q->m.by_itself = q->by_itself;
    q->m.chance = chance;
    q->m.sign_cost = q->sign_cost;
    q->m.n_repairs = (int)q->repairs.n;
    q->m.repair_cost = q->repair_cost;
    q->m.cures = cures;
}

/* Causes by falling probability, at most `most`. */
static void put_causes(struct json *j, const char *key, const struct question *q, const double *p, int most)
{
    int *order = ARENA_ARRAY(q->a, int, q->m.n_causes + 1);
    (void)find_best(p, q->m.n_causes, order);
    json_begin_array(j, key);
    for (int i = 0; i < q->m.n_causes && i < most; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", q->causes.at[order[i]]);
        json_num(j, "p", p[order[i]]);
        json_end_object(j);
    }
    json_end_array(j);
}

/* What would be likely after the step came out that way. */
static void put_after(struct json *j, const char *key, struct question *q, const struct trace_step *step, bool yes)
{
    struct trace_event *events = ARENA_ARRAY(q->a, struct trace_event, q->n_events + 1);
    double *p = ARENA_ARRAY(q->a, double, q->m.n_causes);
    double other = 0;
    double two = 0;
    double seen = 0;
    struct err e = err_new(q->a);
    for (size_t i = 0; i < q->n_events; i++) {
        events[i] = q->events[i];
    }
    events[q->n_events] = (struct trace_event){step->what, step->index, yes};
    if (trace_probabilities(&q->m, events, (int)q->n_events + 1, q->a, p, &other, &two, &seen, &e)) {
        put_causes(j, key, q, p, 3);
    }
}

static void put_steps(struct json *j, struct question *q, const struct trace_answer *got)
{
    static const char *const kinds[] = {"sign", "repair", "help"};
    json_begin_array(j, "steps");
    for (int i = 0; i < got->n_steps; i++) {
        const struct trace_step *s = &got->steps[i];
        json_begin_object(j, NULL);
        json_strz(j, "what", kinds[s->what]);
        json_str(j, "name",
                 s->what == TRACE_SIGN     ? q->signs.at[s->index]
                 : s->what == TRACE_REPAIR ? q->repairs.at[s->index]
                                           : S("help"));
        json_num(j, "minutes", s->cost);
        json_num(j, "p_yes", s->p_yes);
        json_num(j, "low", s->low);
        json_num(j, "high", s->high);
        if (i < 3 && s->what != TRACE_HELP) {
            put_after(j, "if_yes", q, s, true);
            put_after(j, "if_no", q, s, false);
        }
        json_end_object(j);
    }
    json_end_array(j);
}

static bool trace_question(struct str text, struct text *answer, struct err *e)
{
    struct question q = {.a = answer->a, .nodes = 3000, .m = {.help_cost = 240}};
    q.causes.index = map_new(q.a);
    q.signs.index = map_new(q.a);
    q.repairs.index = map_new(q.a);
    if (!each_line(text, &q, e)) {
        return false;
    }
    fill_model(&q);
    bool *no_sign = ARENA_ARRAY(q.a, bool, q.signs.n + 1);
    bool *no_repair = ARENA_ARRAY(q.a, bool, q.repairs.n + 1);
    for (size_t i = 0; i < q.n_cannot; i++) {
        int64_t at = 0;
        if (map_get(&q.signs.index, q.cannot[i], &at)) {
            no_sign[at] = true;
        }
        if (map_get(&q.repairs.index, q.cannot[i], &at)) {
            no_repair[at] = true;
        }
    }
    struct trace_limits limits = trace_limits_default();
    limits.no_sign = no_sign;
    limits.no_repair = no_repair;
    limits.nodes = q.nodes;
    struct trace_answer got;
    if (!trace_ask(&q.m, q.events, (int)q.n_events, &limits, q.a, &got, e)) {
        return false;
    }
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    put_causes(&j, "causes", &q, got.p_cause, q.m.n_causes);
    json_num(&j, "other", got.p_other);
    json_num(&j, "two", got.p_two);
    json_bool(&j, "plans_two", got.two);
    json_num(&j, "seen", got.p_seen);
    put_steps(&j, &q, &got);
    json_num(&j, "low", got.low);
    json_num(&j, "high", got.high);
    json_bool(&j, "exact", got.exact);
    json_num(&j, "straight", got.straight);
    json_int(&j, "nodes", got.nodes);
    json_end_object(&j);
    return true;
}

void flat_trace(struct str question, struct text *answer)
{
    struct err e = err_new(answer->a);
    if (!trace_question(question, answer, &e)) {
        refuse(answer, &e);
    }
}

void flat_find(struct str question, struct text *answer)
{
    struct arena *a = answer->a;
    struct names things = {.index = map_new(a)};
    struct find_phrase *phrases = NULL;
    size_t n = 0;
    size_t cap = 0;
    struct str said = S("");
    struct str line;
    struct err e = err_new(a);
    while (str_next(&question, '\n', &line)) {
        struct str name = S("");
        int64_t at = 0;
        if (str_starts(line, S("said="))) {
            said = str_cut(line, 5, line.n);
        } else if (str_starts(line, S("phrase="))) {
            struct str rest = str_cut(line, 7, line.n);
            (void)str_next(&rest, ' ', &name);
            if (!map_get(&things.index, name, &at)) {
                at = (int64_t)things.n;
                (void)add_name(a, &things, name, &e);
            }
            ARENA_PUSH(a, phrases, n, cap) = (struct find_phrase){(int)at, rest};
        } else if (line.n) {
            (void)wrong(&e, line, "said=WORDS or phrase=NAME WORDS");
        }
    }
    if (e.kind != ERR_NONE) {
        refuse(answer, &e);
        return;
    }
    double *fit = ARENA_ARRAY(a, double, things.n + 1);
    int *order = ARENA_ARRAY(a, int, things.n + 1);
    find_things(said, phrases, n, (int)things.n, a, fit);
    int best = find_best(fit, (int)things.n, order);
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    if (best >= 0 && things.at) {
        json_str(&j, "best", things.at[best]);
    } else {
        json_put_null(&j, "best");
    }
    json_begin_array(&j, "things");
    for (size_t i = 0; i < things.n && fit[order[i]] > 0; i++) {
        json_begin_object(&j, NULL);
        json_str(&j, "name", things.at[order[i]]);
        json_num(&j, "fit", fit[order[i]]);
        json_end_object(&j);
    }
    json_end_array(&j);
    json_end_object(&j);
}
