/* Calculations as JSON. */
#include "calc/calc_json.h"

static const char *form_text(enum calc_form form)
{
    switch (form) {
    case CALC_NUMBER:
        return "number";
    case CALC_LIST:
        return "list";
    case CALC_FLAG:
        return "flag";
    case CALC_TEXT:
    case CALC_ABSENT:
    case CALC_NONE:
        break;
    }
    return "text";
}

/* The unit of the table in which a field is shown; null for a bare number or a label. */
static const struct unit *unit_of(const struct calc_field *f)
{
    return f->kind != Q_NONE && f->unit ? unit_find(str_of(f->unit)) : NULL;
}

static void fields(struct json *j, const char *key, const struct calc_field *at, size_t n, bool inputs)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        json_strz(j, "name", at[i].name);
        json_strz(j, "form", form_text(at[i].form));
        json_strz(j, "kind", at[i].kind == Q_NONE ? NULL : quantity_kind_text(at[i].kind));
        json_strz(j, "unit", at[i].unit);
        json_strz(j, "meaning", at[i].meaning);
        if (inputs) {
            json_strz(j, "preset", at[i].preset);
        }
        json_end_object(j);
    }
    json_end_array(j);
}

void json_calc(struct json *j, const char *key, const struct calc *c)
{
    json_begin_object(j, key);
    json_strz(j, "name", c->name);
    json_strz(j, "title", c->title);
    json_strz(j, "formula", c->formula);
    json_strz(j, "source", c->source);
    fields(j, "inputs", c->inputs, calc_input_count(c), true);
    fields(j, "outputs", c->outputs, calc_output_count(c), false);
    json_end_object(j);
}

/* A list as two members: in the field's unit and in SI. */
static void lists(struct json *j, const struct unit *u, const struct calc_value *v)
{
    for (int si = 0; si < 2; si++) {
        json_begin_array(j, si ? "si" : "value");
        for (size_t i = 0; i < v->n; i++) {
            json_num(j, NULL, u && !si ? unit_from_si(u, v->list[i]) : v->list[i]);
        }
        json_end_array(j);
    }
}

static void value_members(struct json *j, const struct calc_field *f, const struct calc_value *v)
{
    const struct unit *u = unit_of(f);
    switch (v->form) {
    case CALC_NUMBER:
        json_num(j, "value", u ? unit_from_si(u, v->number) : v->number);
        json_num(j, "si", v->number);
        json_strz(j, "unit", f->unit);
        break;
    case CALC_LIST:
        lists(j, u, v);
        json_strz(j, "unit", f->unit);
        break;
    case CALC_TEXT:
        json_str(j, "value", v->text);
        break;
    case CALC_FLAG:
        json_bool(j, "value", v->flag);
        break;
    case CALC_NONE:
    case CALC_ABSENT:
        json_put_null(j, "value");
        break;
    }
}

static void values(struct json *j, const char *key, const struct calc_field *at, const struct calc_value *v, size_t n,
                   struct arena *a, enum unit_system system)
{
    json_begin_object(j, key);
    for (size_t i = 0; i < n; i++) {
        if (v[i].form == CALC_ABSENT) {
            continue;
        }
        struct text t = text_new(a);
        json_begin_object(j, at[i].name);
        value_members(j, &at[i], &v[i]);
        text_calc_value(&t, &at[i], &v[i], system);
        json_str(j, "text", v[i].form == CALC_NONE ? v[i].text : text_str(&t));
        json_end_object(j);
    }
    json_end_object(j);
}

void json_calc_answer(struct json *j, const char *key, const struct calc_call *call, enum unit_system system)
{
    const struct calc *c = call->calc;
    json_begin_object(j, key);
    json_strz(j, "calc", c->name);
    json_strz(j, "title", c->title);
    json_strz(j, "formula", c->formula);
    json_strz(j, "source", c->source);
    values(j, "inputs", c->inputs, call->in, calc_input_count(c), call->a, system);
    values(j, "outputs", c->outputs, call->out, calc_output_count(c), call->a, system);
    json_end_object(j);
}

void json_err(struct json *j, const struct err *e)
{
    json_begin_object(j, "error");
    json_strz(j, "kind", err_kind_text(e->kind));
    json_str(j, "what", e->what);
    json_str(j, "right", e->right);
    json_end_object(j);
}
