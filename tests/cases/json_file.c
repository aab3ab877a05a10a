/* JSON arrays of cases. */
#include "cases.h"

#include <stdio.h>

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

static void run_case(const json_t *one, struct tally *t)
{
    struct arena a = arena_new(&arena_libc);
    struct text why = text_new(&a);
    struct err e = err_new(&a);
    const char *id = json_string_value(json_object_get(one, "id"));
    const char *topic = json_string_value(json_object_get(one, "topic"));
    const char *kind = json_string_value(json_object_get(one, "kind"));
    const json_t *inputs = json_object_get(one, "inputs");
    bool passed = false;
    if (!topic || !json_is_object(inputs) || !json_is_object(json_object_get(one, "expected"))) {
        text_addz(&why, "no case: topic, inputs and expected are needed");
    } else {
        kind = kind ? kind : "";
        const struct case_kind *row = case_kind_find(topic, kind, inputs);
        if (!row) {
            text_join(&why, "unknown topic or kind: ", topic, " ", kind, (char *)0);
        } else {
            struct case_in in = {kind, inputs, json_object_get(one, "expected"), &a};
            json_t *got = json_object();
            bool ran = case_run(row, &in, got, &e);
            passed = judge(one, ran, got, &e, &why);
            json_decref(got);
        }
    }
    tally_line(t, passed ? "ok" : "FAIL", id ? id : "?", text_z(&why));
    arena_free(&a);
}

void run_json_file(const char *path, struct tally *t)
{
    json_error_t error;
    json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
    if (!root || !json_is_array(root)) {
        char message[400];
        snprintf(message, sizeof message, "%s:%d:%d: %s", path, root ? 1 : error.line, root ? 1 : error.column,
                 root ? "not an array of cases" : error.text);
        tally_line(t, "FAIL", path, message);
        json_decref(root);
        return;
    }
    size_t i = 0;
    json_t *one = NULL;
    json_array_foreach(root, i, one)
    {
        run_case(one, t);
    }
    json_decref(root);
}
