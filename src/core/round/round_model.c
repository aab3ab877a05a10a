/* From the machine to what the solver works on: the conditions that can be reached, walking times, the points that must
 * be visited for their own sake, and the rules between them. */
#include "round/round_internal.h"

#include <assert.h>
#include <math.h>
#include <string.h>

struct round_partial round_parked(size_t n_variables)
{
    struct round_partial p = {0};
    for (size_t v = 0; v < n_variables && v < ROUND_VARIABLES; v++) {
        p.allowed[v] = 1;
    }
    return p;
}

bool round_holds(const struct round_partial *p, const struct round_condition *c)
{
    for (size_t v = 0; v < ROUND_VARIABLES; v++) {
        if (p->allowed[v] && !(p->allowed[v] >> c->value[v] & 1)) {
            return false;
        }
    }
    return true;
}

int32_t round_walk_s(const struct round_problem *p, int from, int to)
{
    if (from == to || from == ROUND_ANYWHERE || to == ROUND_ANYWHERE) {
        return 0;
    }
    double dx = p->places[from].x_m - p->places[to].x_m;
    double dy = p->places[from].y_m - p->places[to].y_m;
    int64_t micro = llround((p->walk_fixed_s + p->walk_s_per_m * sqrt(dx * dx + dy * dy)) * 1e6);
    int64_t whole = micro / 1000000;
    int64_t part = micro % 1000000;
    bool up = part > 500000 || (part == 500000 && whole % 2 != 0);
    return (int32_t)(up ? whole + 1 : whole);
}

/* The word of a value, or its number. */
static void value_text(struct text *t, const struct round_variable *v, size_t value)
{
    if (v->values) {
        text_add(t, v->values[value]);
    } else {
        text_int(t, (int64_t)value);
    }
}

void round_condition_text(struct text *t, const struct round_problem *p, const struct round_condition *c)
{
    bool any = false;
    for (size_t v = 0; v < p->n_variables; v++) {
        if (c->value[v]) {
            text_join(t, any ? ", " : "", str_z(t->a, p->variables[v].id), " ", (char *)0);
            value_text(t, &p->variables[v], c->value[v]);
            any = true;
        }
    }
    if (!any) {
        text_addz(t, "parked");
    }
}

void round_partial_text(struct text *t, const struct round_problem *p, const struct round_partial *need)
{
    bool any = false;
    for (size_t v = 0; v < p->n_variables; v++) {
        unsigned all = (1u << p->variables[v].n_values) - 1;
        if (!need->allowed[v] || need->allowed[v] == all) {
            continue;
        }
        text_join(t, any ? ", " : "", str_z(t->a, p->variables[v].id), " ", (char *)0);
        bool first = true;
        for (size_t k = 0; k < p->variables[v].n_values; k++) {
            if (need->allowed[v] >> k & 1) {
                text_addz(t, first ? "" : " or ");
                value_text(t, &p->variables[v], k);
                first = false;
            }
        }
        any = true;
    }
    if (!any) {
        text_addz(t, "any condition");
    }
}

/* "point \"id\"" for messages; zero-terminated in the error's arena. */
static const char *named(struct err *e, const char *kind, struct str id)
{
    struct text t = text_new(e->a);
    text_join(&t, kind, " \"", str_z(e->a, id), "\"", (char *)0);
    return text_z(&t);
}

/* Bits needed to hold the values of all variables. */
static unsigned key_bits(const struct round_problem *p)
{
    unsigned bits = 0;
    for (size_t v = 0; v < p->n_variables; v++) {
        for (size_t k = 1; k < p->variables[v].n_values; k *= 2) {
            bits++;
        }
    }
    return bits;
}

static bool check_variables(const struct round_problem *p, struct err *e)
{
    if (p->n_variables > ROUND_VARIABLES) {
        return err_set(e, ERR_DOMAIN, "at most 32", "too many condition variables", (char *)0);
    }
    for (size_t v = 0; v < p->n_variables; v++) {
        if (p->variables[v].n_values < 1 || p->variables[v].n_values > ROUND_VALUES) {
            return err_set(e, ERR_DOMAIN, "1 to 16 values", named(e, "variable", p->variables[v].id),
                           " has no values or too many", (char *)0);
        }
    }
    if (key_bits(p) > 64) {
        return err_set(e, ERR_DOMAIN, "fewer variables or values: all together must fit into 64 bits",
                       "the condition variables are too many", (char *)0);
    }
    return true;
}

static bool check_partial(const struct round_problem *p, const struct round_partial *need, const char *who,
                          struct err *e)
{
    for (size_t v = 0; v < ROUND_VARIABLES; v++) {
        unsigned all = v < p->n_variables ? (1u << p->variables[v].n_values) - 1 : 0;
        if (need->allowed[v] & ~all) {
            return err_set(e, ERR_INPUT, "values of the problem's variables", who,
                           " names a value or variable that does not exist", (char *)0);
        }
    }
    return true;
}

static bool check_sets(const struct round_problem *p, const struct round_set *sets, size_t n, const char *who,
                       struct err *e)
{
    for (size_t i = 0; i < n; i++) {
        if (sets[i].variable >= p->n_variables || sets[i].value >= p->variables[sets[i].variable].n_values) {
            return err_set(e, ERR_INPUT, "values of the problem's variables", who,
                           " sets a value or variable that does not exist", (char *)0);
        }
    }
    return true;
}

static bool check_place(const struct round_problem *p, int place, bool anywhere, const char *who, struct err *e)
{
    if ((anywhere && place == ROUND_ANYWHERE) || (place >= 0 && (size_t)place < p->n_places)) {
        return true;
    }
    return err_set(e, ERR_INPUT, "one of the problem's places", who, " is at a place that does not exist", (char *)0);
}

static bool check_seconds(int32_t seconds, const char *who, struct err *e)
{
    if (seconds < 0 || seconds > 1000000) {
        return err_set(e, ERR_INPUT, "0 to 1000000 s", who, " takes an impossible time", (char *)0);
    }
    return true;
}

static bool check_point(const struct round_problem *p, size_t i, struct err *e)
{
    const struct round_point *t = &p->points[i];
    const char *who = named(e, "point", t->id);
    for (size_t k = 0; k < t->n_after; k++) {
        if (t->after[k] >= p->n_points) {
            return err_set(e, ERR_INPUT, "one of the problem's points", who, " comes after a point that does not exist",
                           (char *)0);
        }
    }
    return check_place(p, t->place, true, who, e) && check_partial(p, &t->needs, who, e) &&
           check_sets(p, t->sets, t->n_sets, who, e) && check_seconds(t->seconds, who, e);
}

static bool check_places(const struct round_problem *p, struct err *e)
{
    if (p->n_places < 1 || p->n_places > ROUND_MOST_PLACES) {
        return err_set(e, ERR_DOMAIN, "1 to 250 places", "no places or too many", (char *)0);
    }
    for (size_t i = 0; i < p->n_places; i++) {
        if (!(fabs(p->places[i].x_m) < 1e5) || !(fabs(p->places[i].y_m) < 1e5)) {
            return err_set(e, ERR_INPUT, "metres from the machine's corner", named(e, "place", p->places[i].id),
                           " is out of reach", (char *)0);
        }
    }
    if (!(p->walk_fixed_s >= 0 && p->walk_fixed_s < 1e4 && p->walk_s_per_m >= 0 && p->walk_s_per_m < 1e2)) {
        return err_set(e, ERR_DOMAIN, "0 to 10000 s, 0 to 100 s/m", "the walking times are out of range", (char *)0);
    }
    return true;
}

bool model_check(const struct round_problem *p, struct err *e)
{
    if (p->n_points > ROUND_MOST_POINTS) {
        return err_set(e, ERR_DOMAIN, "at most 1024", "too many points", (char *)0);
    }
    if (!check_variables(p, e) || !check_places(p, e) || !check_place(p, p->start_place, false, "the start", e) ||
        !check_place(p, p->finish_place, true, "the finish", e) || !check_partial(p, &p->finish, "the finish", e)) {
        return false;
    }
    for (size_t i = 0; i < p->n_never; i++) {
        bool asks = false;
        for (size_t v = 0; v < p->n_variables; v++) {
            asks = asks || p->never[i].allowed[v];
        }
        if (!asks) {
            return err_set(e, ERR_INPUT, "at least one variable",
                           "a never-combination asks for nothing and would forbid all", (char *)0);
        }
        if (!check_partial(p, &p->never[i], "a never-combination", e)) {
            return false;
        }
    }
    for (size_t i = 0; i < p->n_changes; i++) {
        const struct round_change *c = &p->changes[i];
        const char *who = named(e, "change", c->id);
        if (!check_place(p, c->place, true, who, e) || !check_partial(p, &c->from, who, e) ||
            !check_sets(p, c->sets, c->n_sets, who, e) || !check_seconds(c->seconds, who, e)) {
            return false;
        }
    }
    for (size_t i = 0; i < p->n_points; i++) {
        if (!check_point(p, i, e)) {
            return false;
        }
    }
    for (size_t v = 0; v < ROUND_VARIABLES; v++) {
        if (p->start.value[v] >= (v < p->n_variables ? p->variables[v].n_values : 1)) {
            return err_set(e, ERR_INPUT, "values of the problem's variables",
                           "the start has a value or variable that does not exist", (char *)0);
        }
    }
    if (!model_allowed(p, &p->start)) {
        struct text t = text_new(e->a);
        round_condition_text(&t, p, &p->start);
        return err_set(e, ERR_INPUT, "a start outside the never-combinations", "the start is forbidden: ", text_z(&t),
                       (char *)0);
    }
    return true;
}

struct round_condition model_apply(const struct round_condition *c, const struct round_set *sets, size_t n)
{
    struct round_condition next = *c;
    for (size_t i = 0; i < n; i++) {
        next.value[sets[i].variable] = sets[i].value;
    }
    return next;
}

bool model_allowed(const struct round_problem *p, const struct round_condition *c)
{
    for (size_t i = 0; i < p->n_never; i++) {
        if (round_holds(&p->never[i], c)) {
            return false;
        }
    }
    return true;
}

/* Conditions by value: open addressing over their indices. */
struct finder {
    struct arena *a;
    int *slots; /* index + 1 */
    size_t cap;
};

static uint64_t condition_hash(const struct round_condition *c)
{
    struct bits key;
    _Static_assert(sizeof key == sizeof *c, "a condition is four words");
    memcpy(&key, c, sizeof key);
    return bits_hash(&key, 0);
}

/* The slot where the condition is or would be. */
static int *finder_slot(const struct finder *f, const struct model_conditions *cs, const struct round_condition *c)
{
    size_t i = (size_t)condition_hash(c) & (f->cap - 1);
    while (f->slots[i] && memcmp(&cs->at[f->slots[i] - 1], c, sizeof *c) != 0) {
        i = (i + 1) & (f->cap - 1);
    }
    return &f->slots[i];
}

/* The number of a condition, new ones at the end. */
static int condition_number(struct finder *f, struct model_conditions *cs, const struct round_condition *c, int from,
                            size_t by)
{
    int *slot = finder_slot(f, cs, c);
    if (!*slot && cs->n <= ROUND_MOST_CONDITIONS) {
        size_t n = cs->n;
        cs->at[n] = *c;
        cs->from[n] = from;
        cs->by[n] = by;
        *slot = (int)n + 1;
        cs->n++;
    }
    return *slot - 1;
}

/* Adds the step when it can be taken in condition c. */
static void try_step(const struct round_problem *p, struct arena *a, struct finder *f, struct model_conditions *cs,
                     int c, struct model_step step)
{
    const struct round_partial *need = step.is_point ? &p->points[step.index].needs : &p->changes[step.index].from;
    const struct round_set *sets = step.is_point ? p->points[step.index].sets : p->changes[step.index].sets;
    size_t n_sets = step.is_point ? p->points[step.index].n_sets : p->changes[step.index].n_sets;
    if (!round_holds(need, &cs->at[c])) {
        return;
    }
    struct round_condition next = model_apply(&cs->at[c], sets, n_sets);
    bool still = memcmp(&next, &cs->at[c], sizeof next) == 0;
    if ((still && !step.is_point) || !model_allowed(p, &next)) {
        return;
    }
    step.to = condition_number(f, cs, &next, c, cs->n_steps);
    if (step.to >= 0) {
        ARENA_PUSH(a, cs->steps, cs->n_steps, cs->cap_steps) = step;
    }
}

/* From each condition: can the finish be reached, and by which step in fewest steps? Breadth first, backwards, by
 * sweeps. */
static void find_leavable(const struct round_problem *p, struct arena *a, struct model_conditions *cs)
{
    cs->leavable = ARENA_ARRAY(a, bool, cs->n);
    cs->leave_by = ARENA_ARRAY(a, size_t, cs->n);
    cs->leave_far = ARENA_ARRAY(a, int, cs->n);
    for (size_t c = 0; c < cs->n; c++) {
        cs->leavable[c] = round_holds(&p->finish, &cs->at[c]);
        cs->leave_far[c] = cs->leavable[c] ? 0 : -1;
    }
    bool more = true;
    for (int far = 1; more; far++) {
        more = false;
        for (size_t c = 0; c < cs->n; c++) {
            for (size_t s = cs->first[c]; s < cs->first[c + 1] && !cs->leavable[c]; s++) {
                if (cs->leave_far[cs->steps[s].to] == far - 1) {
                    cs->leavable[c] = true;
                    cs->leave_far[c] = far;
                    cs->leave_by[c] = s;
                    more = true;
                }
            }
        }
    }
}

bool model_reach(const struct round_problem *p, struct arena *a, struct model_conditions *cs, struct err *e)
{
    *cs = (struct model_conditions){0};
    size_t cap = ROUND_MOST_CONDITIONS + 2;
    cs->at = ARENA_ARRAY(a, struct round_condition, cap);
    cs->from = ARENA_ARRAY(a, int, cap);
    cs->by = ARENA_ARRAY(a, size_t, cap);
    cs->first = ARENA_ARRAY(a, size_t, cap);
    struct finder f = {a, ARENA_ARRAY(a, int, 65536), 65536};
    condition_number(&f, cs, &p->start, -1, 0);
    for (size_t c = 0; c < cs->n; c++) {
        cs->first[c] = cs->n_steps;
        for (size_t i = 0; i < p->n_changes; i++) {
            const struct round_change *x = &p->changes[i];
            try_step(p, a, &f, cs, (int)c, (struct model_step){(int)i, false, 0, x->place, x->seconds});
        }
        for (size_t i = 0; i < p->n_points; i++) {
            if (p->points[i].n_sets && !(p->done && p->done[i])) {
                try_step(p, a, &f, cs, (int)c, (struct model_step){(int)i, true, 0, p->points[i].place, 0});
            }
        }
        if (cs->n > ROUND_MOST_CONDITIONS) {
            return err_set(e, ERR_DOMAIN, "fewer variables: only what blocks something needs one",
                           "the machine has more than 20000 conditions that can be reached", (char *)0);
        }
    }
    cs->first[cs->n] = cs->n_steps;
    find_leavable(p, a, cs);
    return true;
}
