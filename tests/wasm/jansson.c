/* JSON for the case runner as WebAssembly; see jansson.h. */
#include <jansson.h>

#include "base/arena.h"
#include "base/json.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct member {
    const char *key;
    json_t *value;
};

struct json_value {
    enum json_type type;
    double number;
    struct str text;
    struct member *at; /* of an object; of an array without keys */
    size_t n, cap;
};

static struct arena arena = {.source = &arena_libc};

void json_forget(void)
{
    arena_free(&arena);
}

static json_t *value_new(enum json_type type)
{
    json_t *v = ARENA_NEW(&arena, json_t);
    v->type = type;
    return v;
}

enum json_type json_type_of(const json_t *v)
{
    return v ? v->type : JSON_NULL;
}

json_t *json_object(void)
{
    return value_new(JSON_OBJECT);
}

json_t *json_array(void)
{
    return value_new(JSON_ARRAY);
}

json_t *json_stringn(const char *p, size_t n)
{
    json_t *v = value_new(JSON_STRING);
    v->text = (struct str){arena_copy(&arena, p, n), n};
    return v;
}

json_t *json_string(const char *z)
{
    return z ? json_stringn(z, strlen(z)) : NULL;
}

json_t *json_real(double value)
{
    json_t *v = isfinite(value) ? value_new(JSON_REAL) : NULL;
    if (v) {
        v->number = value;
    }
    return v;
}

json_t *json_integer(json_int_t value)
{
    json_t *v = value_new(JSON_INTEGER);
    v->number = (double)value;
    return v;
}

json_t *json_null(void)
{
    return value_new(JSON_NULL);
}

json_t *json_boolean(int value)
{
    return value_new(value ? JSON_TRUE : JSON_FALSE);
}

size_t json_object_size(const json_t *v)
{
    return json_is_object(v) ? v->n : 0;
}

/* The member of that key; null when there is none. */
static struct member *member_of(const json_t *v, const char *key)
{
    for (size_t i = 0; i < json_object_size(v); i++) {
        if (strcmp(v->at[i].key, key) == 0) {
            return &v->at[i];
        }
    }
    return NULL;
}

json_t *json_object_get(const json_t *v, const char *key)
{
    struct member *m = key ? member_of(v, key) : NULL;
    return m ? m->value : NULL;
}

int json_object_set_new(json_t *v, const char *key, json_t *value)
{
    if (!json_is_object(v) || !key || !value) {
        return -1;
    }
    struct member *m = member_of(v, key);
    if (m) {
        m->value = value;
    } else {
        ARENA_PUSH(&arena, v->at, v->n, v->cap) = (struct member){arena_copy(&arena, key, strlen(key)), value};
    }
    return 0;
}

int json_object_set(json_t *v, const char *key, json_t *value)
{
    return json_object_set_new(v, key, value);
}

void *json_object_iter(json_t *v)
{
    return json_object_size(v) ? v->at : NULL;
}

void *json_object_iter_next(json_t *v, void *at)
{
    struct member *next = (struct member *)at + 1;
    return next < v->at + v->n ? next : NULL;
}

const char *json_object_iter_key(void *at)
{
    return ((struct member *)at)->key;
}

json_t *json_object_iter_value(void *at)
{
    return ((struct member *)at)->value;
}

size_t json_array_size(const json_t *v)
{
    return json_is_array(v) ? v->n : 0;
}

json_t *json_array_get(const json_t *v, size_t i)
{
    return i < json_array_size(v) ? v->at[i].value : NULL;
}

int json_array_append_new(json_t *v, json_t *value)
{
    if (!json_is_array(v) || !value) {
        return -1;
    }
    ARENA_PUSH(&arena, v->at, v->n, v->cap) = (struct member){NULL, value};
    return 0;
}

int json_array_append(json_t *v, json_t *value)
{
    return json_array_append_new(v, value);
}

const char *json_string_value(const json_t *v)
{
    return json_is_string(v) ? v->text.p : NULL;
}

size_t json_string_length(const json_t *v)
{
    return json_is_string(v) ? v->text.n : 0;
}

double json_number_value(const json_t *v)
{
    return json_is_number(v) ? v->number : 0;
}

int json_equal(const json_t *a, const json_t *b)
{
    if (!a || !b || a->type != b->type || a->n != b->n || a->number != b->number || !str_eq(a->text, b->text)) {
        return 0;
    }
    for (size_t i = 0; i < a->n; i++) {
        const json_t *other = a->type == JSON_OBJECT ? json_object_get(b, a->at[i].key) : b->at[i].value;
        if (!json_equal(a->at[i].value, other)) {
            return 0;
        }
    }
    return 1;
}

void json_decref(json_t *v)
{
    (void)v;
}

static void dump(struct json *j, const char *key, const json_t *v)
{
    switch (json_type_of(v)) {
    case JSON_OBJECT:
        json_begin_object(j, key);
        for (size_t i = 0; i < v->n; i++) {
            dump(j, v->at[i].key, v->at[i].value);
        }
        json_end_object(j);
        break;
    case JSON_ARRAY:
        json_begin_array(j, key);
        for (size_t i = 0; i < v->n; i++) {
            dump(j, NULL, v->at[i].value);
        }
        json_end_array(j);
        break;
    case JSON_STRING:
        json_str(j, key, v->text);
        break;
    case JSON_INTEGER:
    case JSON_REAL:
        json_num(j, key, v->number);
        break;
    case JSON_TRUE:
    case JSON_FALSE:
        json_bool(j, key, v->type == JSON_TRUE);
        break;
    case JSON_NULL:
        json_put_null(j, key);
        break;
    }
}

char *json_dumps(const json_t *v, size_t flags)
{
    (void)flags;
    struct text t = text_new(&arena);
    struct json j = json_new(&t, false);
    dump(&j, NULL, v);
    char *copy = malloc(t.n + 1);
    if (copy) {
        memcpy(copy, text_z(&t), t.n + 1);
    }
    return copy;
}

/* ---- reading: what a test hands over was written by JSON.stringify ---- */

static void skip_blanks(struct str *s)
{
    while (s->n && strchr(" \t\r\n", s->p[0])) {
        *s = str_cut(*s, 1, s->n);
    }
}

static bool take(struct str *s, char c)
{
    skip_blanks(s);
    bool there = s->n && s->p[0] == c;
    if (there) {
        *s = str_cut(*s, 1, s->n);
    }
    return there;
}

static bool take_word(struct str *s, const char *word)
{
    bool there = str_starts(*s, str_of(word));
    if (there) {
        *s = str_cut(*s, strlen(word), s->n);
    }
    return there;
}

/* \uXXXX outside the surrogates, which JSON.stringify only writes for lone ones. */
static void take_escape(struct str *s, struct text *t)
{
    static const char from[] = "bfnrt";
    static const char to[] = "\b\f\n\r\t";
    char c = s->n ? s->p[0] : '"';
    *s = str_cut(*s, s->n ? 1 : 0, s->n);
    const char *known = strchr(from, c);
    if (c == 'u' && s->n >= 4) {
        uint32_t code = 0;
        for (int i = 0; i < 4; i++) {
            char h = s->p[i];
            code = code * 16 + (uint32_t)(h <= '9' ? h - '0' : (h | 0x20) - 'a' + 10);
        }
        text_utf8(t, code);
        *s = str_cut(*s, 4, s->n);
    } else {
        text_char(t, known ? to[known - from] : c);
    }
}

static bool take_string(struct str *s, struct str *string)
{
    struct text t = text_new(&arena);
    if (!take(s, '"')) {
        return false;
    }
    while (s->n && s->p[0] != '"') {
        char c = s->p[0];
        *s = str_cut(*s, 1, s->n);
        if (c == '\\') {
            take_escape(s, &t);
        } else {
            text_char(&t, c);
        }
    }
    *string = (struct str){text_z(&t), t.n};
    return take(s, '"');
}

static json_t *take_value(struct str *s);

static json_t *take_members(struct str *s, enum json_type type)
{
    char end = type == JSON_OBJECT ? '}' : ']';
    json_t *v = value_new(type);
    if (take(s, end)) {
        return v;
    }
    do {
        struct str key = {"", 0};
        if (type == JSON_OBJECT && (!take_string(s, &key) || !take(s, ':'))) {
            return NULL;
        }
        json_t *member = take_value(s);
        if (!member) {
            return NULL;
        }
        ARENA_PUSH(&arena, v->at, v->n, v->cap) = (struct member){key.p, member};
    } while (take(s, ','));
    return take(s, end) ? v : NULL;
}

static json_t *take_value(struct str *s)
{
    skip_blanks(s);
    struct str string;
    double number = 0;
    if (take(s, '{')) {
        return take_members(s, JSON_OBJECT);
    }
    if (take(s, '[')) {
        return take_members(s, JSON_ARRAY);
    }
    if (s->n && s->p[0] == '"') {
        return take_string(s, &string) ? json_stringn(string.p, string.n) : NULL;
    }
    if (take_word(s, "true") || take_word(s, "false")) {
        return json_boolean(s->p[-2] == 'u');
    }
    if (take_word(s, "null")) {
        return json_null();
    }
    size_t n = num_read(*s, &number);
    *s = str_cut(*s, n, s->n);
    return n ? json_real(number) : NULL;
}

json_t *json_text(const char *p, size_t n)
{
    struct str s = {p, n};
    json_t *v = take_value(&s);
    skip_blanks(&s);
    return s.n == 0 ? v : NULL;
}
