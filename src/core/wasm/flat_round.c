/* Reading the lines of a round, asking the core, writing the answer. */
#include "wasm/flat_round.h"

#include "base/json.h"
#include "round/round_rest.h"

#include <math.h>

#define STATES_MOST 20000 /* about 10 MB; what a phone has at hand */
#define WORK_MOST 600000  /* as much as the desk allows itself */

/* The problem while it is read. */
struct reading {
    struct arena *a;
    struct err *e;
    struct round_problem p;
    struct round_variable *variables;
    struct round_place *places;
    struct round_partial *never;
    struct round_change *changes;
    struct round_point *points;
    size_t cap_places, cap_never, cap_changes, cap_points;
    struct round_act *did;
    size_t n_did, cap_did;
    struct round_act *not_;
    size_t n_not, cap_not;
    int at;
};

/* "line: what" */
static bool wrong(struct reading *r, struct str line, const char *right)
{
    return err_set(r->e, ERR_INPUT, right, "not a line of a round: \"", str_z(r->e->a, str_cut(line, 0, 60)), "\"",
                   (char *)0);
}

/* The next word; false at the end. */
static bool word(struct str *rest, struct str *out)
{
    *rest = str_trim(*rest);
    return rest->n && str_next(rest, ' ', out);
}

static bool whole(struct str s, int64_t low, int64_t high, int64_t *out)
{
    return num_parse_i64(s, out) && *out >= low && *out <= high;
}

/* Whole numbers, at most `most` of them; -1 when one is wrong. */
static int numbers(struct str s, int64_t low, int64_t high, int64_t *out, int most)
{
    int n = 0;
    struct str one;
    while (word(&s, &one)) {
        if (n == most || !whole(one, low, high, &out[n])) {
            return -1;
        }
        n++;
    }
    return n;
}

/* A mask for each variable. */
static bool partial(const struct reading *r, struct str s, struct round_partial *out)
{
    int64_t masks[ROUND_VARIABLES] = {0};
    int n = numbers(s, 0, 0xffff, masks, ROUND_VARIABLES);
    *out = (struct round_partial){{0}};
    for (int i = 0; i < n; i++) {
        out->allowed[i] = (uint16_t)masks[i];
    }
    return n == (int)r->p.n_variables;
}

static bool condition(const struct reading *r, struct str s, struct round_condition *out)
{
    int64_t values[ROUND_VARIABLES] = {0};
    int n = numbers(s, 0, ROUND_VALUES - 1, values, ROUND_VARIABLES);
    *out = (struct round_condition){{0}};
    for (int i = 0; i < n; i++) {
        out->value[i] = (uint8_t)values[i];
    }
    return n == (int)r->p.n_variables;
}

/* "2:1 0:3" */
static bool sets(struct reading *r, struct str s, const struct round_set **out, size_t *n)
{
    struct round_set *at = ARENA_ARRAY(r->a, struct round_set, ROUND_VARIABLES);
    struct str one;
    *n = 0;
    while (word(&s, &one)) {
        struct str variable;
        int64_t v = 0;
        int64_t value = 0;
        if (*n == ROUND_VARIABLES || !str_next(&one, ':', &variable) ||
            !whole(variable, 0, (int64_t)r->p.n_variables - 1, &v) || !whole(one, 0, ROUND_VALUES - 1, &value)) {
            return false;
        }
        at[(*n)++] = (struct round_set){(uint8_t)v, (uint8_t)value};
    }
    *out = at;
    return true;
}

/* "3 40 | 1 0 | 2:1 | 5 6" in its parts: place, seconds, condition, sets, what it comes after. */
struct act_line {
    int place;
    int32_t seconds;
    struct round_partial needs;
    const struct round_set *sets;
    size_t n_sets;
    struct str after;
};

static bool act_line(struct reading *r, struct str s, struct act_line *out)
{
    struct str head;
    struct str needs;
    struct str sets_of;
    int64_t two[2] = {0};
    if (!str_next(&s, '|', &head) || !str_next(&s, '|', &needs)) {
        return false;
    }
    (void)str_next(&s, '|', &sets_of);
    out->after = s;
    if (numbers(head, -1, INT32_MAX, two, 2) != 2 || two[0] >= ROUND_MOST_PLACES || two[1] < 0) {
        return false;
    }
    out->place = (int)two[0];
    out->seconds = (int32_t)two[1];
    return partial(r, needs, &out->needs) && sets(r, sets_of, &out->sets, &out->n_sets);
}

static bool take_change(struct reading *r, struct str value)
{
    struct act_line line = {0};
    if (!act_line(r, value, &line)) {
        return false;
    }
    ARENA_PUSH(r->a, r->changes, r->p.n_changes, r->cap_changes) =
        (struct round_change){S(""), line.needs, line.sets, line.n_sets, line.place, line.seconds};
    return true;
}

static bool take_point(struct reading *r, struct str value)
{
    struct act_line line = {0};
    int64_t *indices = ARENA_ARRAY(r->a, int64_t, 64);
    if (r->p.n_points == ROUND_MOST_POINTS || !act_line(r, value, &line)) {
        return false;
    }
    int n = numbers(line.after, 0, ROUND_MOST_POINTS - 1, indices, 64);
    size_t *after = ARENA_ARRAY(r->a, size_t, 64);
    for (int i = 0; i < n; i++) {
        after[i] = (size_t)indices[i];
    }
    struct round_point point = {.id = S(""),
                                .place = line.place,
                                .needs = line.needs,
                                .sets = line.sets,
                                .n_sets = line.n_sets,
                                .seconds = line.seconds,
                                .after = after,
                                .n_after = n < 0 ? 0 : (size_t)n};
    ARENA_PUSH(r->a, r->points, r->p.n_points, r->cap_points) = point;
    return n >= 0;
}

/* "c0 p3" */
static bool acts(struct reading *r, struct str s, struct round_act **at, size_t *n, size_t *cap)
{
    struct str one;
    while (word(&s, &one)) {
        int64_t index = 0;
        if ((one.p[0] != 'c' && one.p[0] != 'p') || !whole(str_cut(one, 1, one.n), 0, ROUND_MOST_POINTS, &index)) {
            return false;
        }
        ARENA_PUSH(r->a, *at, *n, *cap) = (struct round_act){one.p[0] == 'c', (size_t)index};
    }
    return true;
}

static bool take_variables(struct reading *r, struct str value)
{
    int64_t counts[ROUND_VARIABLES] = {0};
    int n = numbers(value, 1, ROUND_VALUES, counts, ROUND_VARIABLES);
    r->variables = ARENA_ARRAY(r->a, struct round_variable, ROUND_VARIABLES);
    for (int i = 0; i < n; i++) {
        r->variables[i] = (struct round_variable){S(""), NULL, (size_t)counts[i]};
    }
    r->p.n_variables = n < 0 ? 0 : (size_t)n;
    return n > 0;
}

static bool take_place(struct reading *r, struct str value)
{
    struct round_place place = {.id = S("")};
    struct str x;
    struct str y;
    if (r->p.n_places == ROUND_MOST_PLACES || !word(&value, &x) || !word(&value, &y) || !num_parse(x, &place.x_m) ||
        !num_parse(y, &place.y_m)) {
        return false;
    }
    ARENA_PUSH(r->a, r->places, r->p.n_places, r->cap_places) = place;
    return true;
}

static bool take_never(struct reading *r, struct str value)
{
    struct round_partial never;
    bool ok = partial(r, value, &never);
    ARENA_PUSH(r->a, r->never, r->p.n_never, r->cap_never) = never;
    return ok;
}

static bool take_line(struct reading *r, struct str name, struct str value)
{
    int64_t number = 0;
    if (str_eq(name, S("variables"))) {
        return take_variables(r, value);
    }
    if (str_eq(name, S("start"))) {
        return condition(r, value, &r->p.start);
    }
    if (str_eq(name, S("finish"))) {
        return partial(r, value, &r->p.finish);
    }
    if (str_eq(name, S("home")) || str_eq(name, S("at"))) {
        bool ok = whole(value, -1, ROUND_MOST_PLACES - 1, &number);
        *(str_eq(name, S("at")) ? &r->at : &r->p.finish_place) = (int)number;
        return ok;
    }
    if (str_eq(name, S("place"))) {
        return take_place(r, value);
    }
    if (str_eq(name, S("never"))) {
        return take_never(r, value);
    }
    if (str_eq(name, S("change"))) {
        return take_change(r, value);
    }
    if (str_eq(name, S("point"))) {
        return take_point(r, value);
    }
    return str_eq(name, S("did")) ? acts(r, value, &r->did, &r->n_did, &r->cap_did)
                                  : str_eq(name, S("not")) && acts(r, value, &r->not_, &r->n_not, &r->cap_not);
}

static bool take_lines(struct reading *r, struct str question)
{
    struct str line;
    if (!str_is_utf8(question)) {
        return err_set(r->e, ERR_INPUT, "UTF-8", "the question is no text", (char *)0);
    }
    while (str_next(&question, '\n', &line)) {
        struct str value = line;
        struct str name;
        if (line.n && (str_find(line, S("=")) <= 0 || !str_next(&value, '=', &name) || !take_line(r, name, value))) {
            return wrong(r, line, "as flat_round.h says; variables first");
        }
    }
    r->p.variables = r->variables;
    r->p.places = r->places;
    r->p.never = r->never;
    r->p.changes = r->changes;
    r->p.points = r->points;
    r->p.walk_fixed_s = ROUND_WALK_FIXED_S;
    r->p.walk_s_per_m = ROUND_WALK_S_PER_M;
    return r->p.n_variables ||
           err_set(r->e, ERR_USAGE, "how many values each variable has", "variables is missing", (char *)0);
}

/* The flags of changes and points that cannot be done. */
static bool impossible(struct reading *r, bool **no_change, bool **no_point)
{
    *no_change = ARENA_ARRAY(r->a, bool, r->p.n_changes);
    *no_point = ARENA_ARRAY(r->a, bool, r->p.n_points);
    for (size_t i = 0; i < r->n_not; i++) {
        size_t most = r->not_[i].change ? r->p.n_changes : r->p.n_points;
        if (r->not_[i].index >= most) {
            return err_set(r->e, ERR_INPUT, NULL, "not= names something that does not exist", (char *)0);
        }
        (r->not_[i].change ? *no_change : *no_point)[r->not_[i].index] = true;
    }
    return true;
}

static void indices(struct json *j, const char *key, const bool *flags, size_t n)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        if (flags[i]) {
            json_int(j, NULL, (int64_t)i);
        }
    }
    json_end_array(j);
}

static void plan_json(struct json *j, const struct round_plan *plan)
{
    json_begin_array(j, "plan");
    for (size_t i = 0; i < plan->n; i++) {
        if (plan->moves[i].kind != ROUND_WALK) {
            json_begin_object(j, NULL);
            json_int(j, plan->moves[i].kind == ROUND_CHANGE ? "change" : "point", (int64_t)plan->moves[i].index);
            json_end_object(j);
        }
    }
    json_end_array(j);
}

static void rest_json(struct json *j, const struct reading *r, const struct round_rest *rest)
{
    json_begin_object(j, NULL);
    json_begin_array(j, "condition");
    for (size_t i = 0; i < r->p.n_variables; i++) {
        json_int(j, NULL, rest->now.value[i]);
    }
    json_end_array(j);
    json_begin_object(j, "may");
    indices(j, "changes", rest->may_change, r->p.n_changes);
    indices(j, "points", rest->may_point, r->p.n_points);
    json_end_object(j);
    plan_json(j, &rest->plan);
    json_begin_array(j, "left");
    for (size_t i = 0; i < rest->n_left; i++) {
        json_begin_object(j, NULL);
        json_int(j, "point", (int64_t)rest->left[i].point);
        json_strz(j, "why", rest->left[i].why == ROUND_LEFT_NEEDS ? "needs" : "after");
        if (rest->left[i].why == ROUND_LEFT_AFTER) {
            json_int(j, "after", (int64_t)rest->left[i].after);
        }
        json_end_object(j);
    }
    json_end_array(j);
    json_bool(j, "home", rest->home);
    json_int(j, "seconds", rest->plan.total_s);
    json_bool(j, "proven", rest->plan.proven);
    json_str(j, "note", rest->note);
    json_end_object(j);
}

void flat_round(struct str question, struct text *answer)
{
    struct err e = err_new(answer->a);
    struct reading r = {.a = answer->a, .e = &e, .at = ROUND_ANYWHERE, .p = {.finish_place = ROUND_ANYWHERE}};
    struct round_rest rest;
    bool *no_change = NULL;
    bool *no_point = NULL;
    struct json j = json_new(answer, false);
    if (take_lines(&r, question) && impossible(&r, &no_change, &no_point)) {
        struct round_rest_ask ask = {.did = r.did,
                                     .n_did = r.n_did,
                                     .no_change = no_change,
                                     .no_point = no_point,
                                     .at = r.at,
                                     .options = {.most_states = STATES_MOST, .most_work = WORK_MOST}};
        if (round_rest(&r.p, &ask, answer->a, &rest, &e)) {
            rest_json(&j, &r, &rest);
            return;
        }
    }
    json_begin_object(&j, NULL);
    json_begin_object(&j, "error");
    json_strz(&j, "kind", err_kind_text(e.kind));
    json_str(&j, "what", e.what);
    json_str(&j, "right", e.right);
    json_end_object(&j);
    json_end_object(&j);
}
