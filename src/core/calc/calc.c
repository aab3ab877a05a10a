/* The list of calculations and the way to run one. */
#include "calc_internal.h"

#include <assert.h>

#define TABLES(X) \
    X(vehicle)    \
    X(fastener)   \
    X(oil) X(coolant) X(hydraulic) X(electric) X(exhaust) X(drive) X(economics) X(calendar) X(machine) X(units)

const struct calc *calc_at(size_t i)
{
    const struct {
        const struct calc *at;
        size_t n;
    } tables[] = {
#define X(name) {calc_##name, calc_##name##_count},
        TABLES(X)
#undef X
    };
    for (size_t t = 0; t < sizeof tables / sizeof *tables; t++) {
        if (i < tables[t].n) {
            return &tables[t].at[i];
        }
        i -= tables[t].n;
    }
    return NULL;
}

const struct calc *calc_find(struct str name)
{
    const struct calc *c = NULL;
    for (size_t i = 0; (c = calc_at(i)) != NULL; i++) {
        if (str_eq(name, str_of(c->name))) {
            return c;
        }
    }
    return NULL;
}

const struct calc *calc_nearest(struct str name)
{
    const struct calc *best = NULL;
    const struct calc *c = NULL;
    size_t limit = name.n / 3 + 1;
    for (size_t i = 0; (c = calc_at(i)) != NULL; i++) {
        size_t distance = str_distance(name, str_of(c->name), limit);
        if (distance <= limit && (!best || distance < limit)) {
            best = c;
            limit = distance;
        }
    }
    return best;
}

static size_t count_fields(const struct calc_field *fields)
{
    size_t n = 0;
    while (n < CALC_FIELDS && fields[n].name) {
        n++;
    }
    return n;
}

size_t calc_input_count(const struct calc *c)
{
    return count_fields(c->inputs);
}

size_t calc_output_count(const struct calc *c)
{
    return count_fields(c->outputs);
}

/* Place of a field, or -1. */
static ptrdiff_t field_of(const struct calc_field *fields, struct str name)
{
    for (size_t i = 0; i < count_fields(fields); i++) {
        if (str_eq(name, str_of(fields[i].name))) {
            return (ptrdiff_t)i;
        }
    }
    return -1;
}

const struct calc_field *calc_output(const struct calc *c, struct str name)
{
    ptrdiff_t i = field_of(c->outputs, name);
    return i < 0 ? NULL : &c->outputs[i];
}

const struct calc_field *calc_input(const struct calc *c, struct str name)
{
    ptrdiff_t i = field_of(c->inputs, name);
    return i < 0 ? NULL : &c->inputs[i];
}

struct calc_call calc_call_new(const struct calc *c, struct arena *a)
{
    return (struct calc_call){.calc = c, .a = a};
}

/* The input's place, or -1 with a refusal that names the nearest. */
static ptrdiff_t input_of(struct calc_call *call, struct str name, struct err *e)
{
    ptrdiff_t i = field_of(call->calc->inputs, name);
    if (i >= 0) {
        return i;
    }
    struct str names[CALC_FIELDS];
    size_t n = calc_input_count(call->calc);
    struct text right = text_new(e->a);
    for (size_t k = 0; k < n; k++) {
        names[k] = str_of(call->calc->inputs[k].name);
        text_join(&right, k ? ", " : "its inputs are ", call->calc->inputs[k].name, (char *)0);
    }
    ptrdiff_t near = str_nearest(name, names, n);
    if (near >= 0) {
        right = text_new(e->a);
        text_join(&right, "did you mean ", call->calc->inputs[near].name, "?", (char *)0);
    }
    err_set(e, ERR_USAGE, text_z(&right), call->calc->name, " has no input \"", str_z(e->a, name), "\"", (char *)0);
    return -1;
}

/* The input's value to fill, when it has that form. */
static struct calc_value *give(struct calc_call *call, struct str name, enum calc_form form, struct err *e)
{
    ptrdiff_t i = input_of(call, name, e);
    if (i < 0) {
        return NULL;
    }
    if (call->calc->inputs[i].form != form) {
        err_set(e, ERR_USAGE, call->calc->inputs[i].meaning, "input ", call->calc->inputs[i].name,
                " is of another form", (char *)0);
        return NULL;
    }
    call->in[i] = (struct calc_value){.form = form};
    return &call->in[i];
}

bool calc_give_number(struct calc_call *call, struct str name, double value_si, struct err *e)
{
    struct calc_value *v = give(call, name, CALC_NUMBER, e);
    if (v) {
        v->number = value_si;
    }
    return v;
}

bool calc_give_list(struct calc_call *call, struct str name, const double *values_si, size_t n, struct err *e)
{
    struct calc_value *v = give(call, name, CALC_LIST, e);
    if (v) {
        v->list = n ? (const double *)arena_copy(call->a, values_si, n * sizeof *values_si) : NULL;
        v->n = n;
    }
    return v;
}

bool calc_give_text(struct calc_call *call, struct str name, struct str text, struct err *e)
{
    struct calc_value *v = give(call, name, CALC_TEXT, e);
    if (v) {
        v->text = str_copy(call->a, text);
    }
    return v;
}

bool calc_give_flag(struct calc_call *call, struct str name, bool flag, struct err *e)
{
    struct calc_value *v = give(call, name, CALC_FLAG, e);
    if (v) {
        v->flag = flag;
    }
    return v;
}

/* A number as written, in SI of the field. */
static bool read_number(const struct calc_field *f, struct str written, double *si, struct err *e)
{
    struct quantity q = {0};
    if (f->kind == Q_NONE) {
        if (num_parse(str_trim(written), si)) {
            return true;
        }
        return err_set(e, ERR_INPUT, f->unit ? f->unit : "a bare number", f->name, ": no number: \"",
                       str_z(e->a, written), "\"", (char *)0);
    }
    if (!quantity_parse(written, &q, e)) {
        return err_context(e, str_of(f->name));
    }
    if (!q.unit && f->kind == Q_RATIO) {
        *si = q.value;
        return true;
    }
    if (!q.unit || q.unit->kind != f->kind) {
        return err_set(e, ERR_INPUT, str_z(e->a, str_of(f->unit)), f->name,
                       q.unit ? " is a " : " needs a unit: it is a ", quantity_kind_text(f->kind),
                       q.unit ? ", not a " : "", q.unit ? quantity_kind_text(q.unit->kind) : "", (char *)0);
    }
    *si = unit_to_si(q.unit, q.value);
    return true;
}

static bool read_list(const struct calc_field *f, struct str written, struct calc_value *v, struct arena *a,
                      struct err *e)
{
    double *list = NULL;
    size_t n = 0;
    size_t cap = 0;
    struct str rest = written;
    struct str piece;
    while (str_next(&rest, ',', &piece)) {
        double si = 0;
        if (!read_number(f, piece, &si, e)) {
            return false;
        }
        ARENA_PUSH(a, list, n, cap) = si;
    }
    v->list = list;
    v->n = n;
    return true;
}

static bool read_flag(const struct calc_field *f, struct str written, bool *flag, struct err *e)
{
    *flag = str_eq_nocase(written, S("yes")) || str_eq_nocase(written, S("true"));
    if (*flag || str_eq_nocase(written, S("no")) || str_eq_nocase(written, S("false"))) {
        return true;
    }
    return err_set(e, ERR_INPUT, "yes or no", f->name, ": \"", str_z(e->a, written), "\"", (char *)0);
}

bool calc_give(struct calc_call *call, struct str name, struct str written, struct err *e)
{
    ptrdiff_t i = input_of(call, name, e);
    if (i < 0) {
        return false;
    }
    const struct calc_field *f = &call->calc->inputs[i];
    struct calc_value v = {.form = f->form};
    bool ok = true;
    if (str_trim(written).n == 0) {
        return err_set(e, ERR_INPUT, f->unit ? f->unit : f->meaning, f->name, " is empty", (char *)0);
    }
    switch (f->form) {
    case CALC_NUMBER:
        ok = read_number(f, written, &v.number, e);
        break;
    case CALC_LIST:
        ok = read_list(f, written, &v, call->a, e);
        break;
    case CALC_FLAG:
        ok = read_flag(f, str_trim(written), &v.flag, e);
        break;
    case CALC_TEXT:
    case CALC_ABSENT:
    case CALC_NONE:
        v.text = str_copy(call->a, str_trim(written));
        break;
    }
    if (ok) {
        call->in[i] = v;
    }
    return ok;
}

/* Also an input that this call's formula would not have looked at. */
static bool inputs_finite(const struct calc_call *call, struct err *e)
{
    for (size_t i = 0; i < calc_input_count(call->calc); i++) {
        const struct calc_value *v = &call->in[i];
        bool finite = v->form != CALC_NUMBER || isfinite(v->number);
        for (size_t k = 0; k < v->n; k++) {
            finite = finite && isfinite(v->list[k]);
        }
        if (!finite) {
            return err_set(e, ERR_DOMAIN, "a finite number", call->calc->inputs[i].name, " is not a number or infinite",
                           (char *)0);
        }
    }
    return true;
}

/* The formulas bound each input, but not every combination of sizes that only a slip of the unit can produce. */
static bool results_finite(const struct calc_call *call, struct err *e)
{
    for (size_t i = 0; i < calc_output_count(call->calc); i++) {
        const struct calc_value *v = &call->out[i];
        bool finite = v->form != CALC_NUMBER || isfinite(v->number);
        for (size_t k = 0; k < v->n; k++) {
            finite = finite && isfinite(v->list[k]);
        }
        if (!finite) {
            return err_set(e, ERR_DOMAIN, "inputs of a sensible size", call->calc->outputs[i].name,
                           " is too large to compute", (char *)0);
        }
    }
    return true;
}

bool calc_run(struct calc_call *call, struct err *e)
{
    for (size_t i = 0; i < calc_input_count(call->calc); i++) {
        const struct calc_field *f = &call->calc->inputs[i];
        if (call->in[i].form != CALC_ABSENT) {
            continue;
        }
        if (!f->preset) {
            return err_set(e, ERR_USAGE, f->meaning, call->calc->name, " needs ", f->name, (char *)0);
        }
        if (f->preset[0] && !calc_give(call, str_of(f->name), str_of(f->preset), e)) {
            return false;
        }
    }
    for (size_t i = 0; i < CALC_FIELDS; i++) {
        call->out[i] = (struct calc_value){.form = CALC_ABSENT};
    }
    if (inputs_finite(call, e) && call->calc->run(call, e) && results_finite(call, e)) {
        return true;
    }
    for (size_t i = 0; i < CALC_FIELDS; i++) {
        call->out[i] = (struct calc_value){.form = CALC_ABSENT};
    }
    return false;
}

const struct calc_value *calc_result(const struct calc_call *call, struct str name)
{
    ptrdiff_t i = field_of(call->calc->outputs, name);
    return i < 0 ? NULL : &call->out[i];
}

/* ---- for the tables ---- */

static const struct calc_value *in_value(const struct calc_call *call, const char *name)
{
    ptrdiff_t i = field_of(call->calc->inputs, str_of(name));
    assert(i >= 0);
    return &call->in[i];
}

bool in_given(const struct calc_call *call, const char *name)
{
    return in_value(call, name)->form != CALC_ABSENT;
}

double in_number(const struct calc_call *call, const char *name)
{
    const struct calc_value *v = in_value(call, name);
    return v->form == CALC_NUMBER ? v->number : (double)NAN;
}

double in_number_or(const struct calc_call *call, const char *name, double otherwise)
{
    return in_given(call, name) ? in_number(call, name) : otherwise;
}

struct str in_text(const struct calc_call *call, const char *name)
{
    return in_value(call, name)->text;
}

bool in_flag(const struct calc_call *call, const char *name)
{
    return in_value(call, name)->flag;
}

const double *in_list(const struct calc_call *call, const char *name, size_t *n)
{
    const struct calc_value *v = in_value(call, name);
    *n = v->n;
    return v->list;
}

static struct calc_value *out_value(struct calc_call *call, const char *name)
{
    ptrdiff_t i = field_of(call->calc->outputs, str_of(name));
    assert(i >= 0);
    return &call->out[i];
}

bool out_number(struct calc_call *call, const char *name, double value_si)
{
    *out_value(call, name) = (struct calc_value){.form = CALC_NUMBER, .number = value_si};
    return true;
}

bool out_list(struct calc_call *call, const char *name, const double *values, size_t n)
{
    const double *copy = n ? (const double *)arena_copy(call->a, values, n * sizeof *values) : NULL;
    *out_value(call, name) = (struct calc_value){.form = CALC_LIST, .list = copy, .n = n};
    return true;
}

bool out_text(struct calc_call *call, const char *name, struct str text)
{
    *out_value(call, name) = (struct calc_value){.form = CALC_TEXT, .text = str_copy(call->a, text)};
    return true;
}

bool out_flag(struct calc_call *call, const char *name, bool flag)
{
    *out_value(call, name) = (struct calc_value){.form = CALC_FLAG, .flag = flag};
    return true;
}

bool out_none(struct calc_call *call, const char *name, const char *why)
{
    *out_value(call, name) = (struct calc_value){.form = CALC_NONE, .text = str_of(why)};
    return true;
}

#define CALC_DIGITS 5 /* significant digits shown: more than any gauge, fewer than noise */

/* A number of a field in the reader's unit; a bare one with up to six decimals and its label. */
static void add_number(struct text *t, const struct calc_field *f, double si, enum unit_system system)
{
    const struct unit *u = f->kind != Q_NONE && f->unit ? unit_find(str_of(f->unit)) : NULL;
    if (u) {
        const struct unit *shown = unit_preferred(system, u);
        text_quantity_digits(t, (struct quantity){unit_from_si(shown, si), shown}, CALC_DIGITS);
        return;
    }
    text_quantity_digits(t, (struct quantity){si, NULL}, CALC_DIGITS);
    if (f->unit) {
        text_join(t, " ", f->unit, (char *)0);
    }
}

void text_calc_value(struct text *t, const struct calc_field *field, const struct calc_value *value,
                     enum unit_system system)
{
    switch (value->form) {
    case CALC_NUMBER:
        add_number(t, field, value->number, system);
        break;
    case CALC_LIST:
        text_char(t, '[');
        for (size_t i = 0; i < value->n; i++) {
            text_addz(t, i ? ", " : "");
            add_number(t, field, value->list[i], system);
        }
        text_char(t, ']');
        break;
    case CALC_TEXT:
        text_add(t, value->text);
        break;
    case CALC_FLAG:
        text_addz(t, value->flag ? "yes" : "no");
        break;
    case CALC_NONE:
        text_addz(t, "none: ");
        text_add(t, value->text);
        break;
    case CALC_ABSENT:
        break;
    }
}
