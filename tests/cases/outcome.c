/* One case by itself: run, judged, and told as a line. What reads cases from files is json_file.c. */
#include "cases.h"

#include <stdlib.h>
#include <string.h>

bool case_has(const struct case_in *in, const char *name)
{
    const json_t *v = json_object_get(in->inputs, name);
    return v && !json_is_null(v);
}

bool case_number(const struct case_in *in, const char *name, double *value, struct err *e)
{
    const json_t *v = json_object_get(in->inputs, name);
    if (!json_is_number(v)) {
        return err_set(e, ERR_INPUT, "a number", name, ": missing or no number", (char *)0);
    }
    *value = json_number_value(v);
    return true;
}

bool case_text(const struct case_in *in, const char *name, struct str *text, struct err *e)
{
    const json_t *v = json_object_get(in->inputs, name);
    if (!json_is_string(v)) {
        return err_set(e, ERR_INPUT, "a text", name, ": missing or no text", (char *)0);
    }
    *text = (struct str){json_string_value(v), json_string_length(v)};
    return true;
}

void case_set_number(json_t *got, const char *name, double value)
{
    json_object_set_new(got, name, json_real(value));
}

void case_set_text(json_t *got, const char *name, struct str text)
{
    json_object_set_new(got, name, json_stringn(text.p ? text.p : "", text.n));
}

void case_set_flag(json_t *got, const char *name, bool flag)
{
    json_object_set_new(got, name, json_boolean(flag));
}

/* Judges the outcome of a case that was run. */
static bool judge(const json_t *one, bool ran, const json_t *got, const struct err *e, struct text *why)
{
    const json_t *expected = json_object_get(one, "expected");
    const json_t *accept = json_object_get(expected, "accept");
    if (accept && json_is_false(accept)) {
        if (!ran && e->kind != ERR_INTERNAL && e->what.n > 0) {
            text_addz(why, "refused: ");
            text_add(why, err_text(why->a, e));
            return true;
        }
        text_addz(why, ran ? "accepted, a refusal was expected" : "refused without a reason");
        return false;
    }
    if (!ran) {
        text_addz(why, "refused: ");
        text_add(why, err_text(why->a, e));
        return false;
    }
    if (accept && json_is_true(accept) && json_object_size(expected) == 1) {
        return true;
    }
    return case_compare(expected, got, json_object_get(one, "tolerance"), why);
}

struct case_outcome case_outcome(const json_t *one, struct arena *a)
{
    struct case_outcome o = {.why = text_new(a), .err = err_new(a)};
    const char *id = json_string_value(json_object_get(one, "id"));
    const char *topic = json_string_value(json_object_get(one, "topic"));
    const char *kind = json_string_value(json_object_get(one, "kind"));
    const json_t *inputs = json_object_get(one, "inputs");
    o.id = id ? id : "?";
    kind = kind ? kind : "";
    if (!topic || !json_is_object(inputs) || !json_is_object(json_object_get(one, "expected"))) {
        text_addz(&o.why, "no case: topic, inputs and expected are needed");
        return o;
    }
    const struct case_kind *row = case_kind_find(topic, kind, inputs);
    if (!row) {
        text_join(&o.why, "unknown topic or kind: ", topic, " ", kind, (char *)0);
        return o;
    }
    struct case_in in = {kind, inputs, json_object_get(one, "expected"), a};
    o.got = json_object();
    o.ran = case_run(row, &in, o.got, &o.err);
    o.passed = judge(one, o.ran, o.got, &o.err, &o.why);
    return o;
}

void case_outcome_line(const struct case_outcome *o, struct text *line)
{
    json_t *all = json_object();
    json_object_set_new(all, "id", json_string(o->id));
    json_object_set_new(all, "passed", json_boolean(o->passed));
    case_set_text(all, "why", text_str(&o->why));
    if (o->ran) {
        json_object_set(all, "got", o->got);
    } else {
        case_set_text(all, "refused", err_text(line->a, &o->err));
    }
    char *dump = json_dumps(all, JSON_COMPACT | JSON_REAL_PRECISION(17));
    text_addz(line, dump);
    free(dump);
    json_decref(all);
}
