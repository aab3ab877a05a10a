/* Canonical JSON. Sorting by UTF-16 code units differs from sorting by bytes only where a character beyond U+FFFF (a
 * surrogate pair from D800 on) meets one of U+E000 to U+FFFF. */
#include "jcs.h"
#include "log_internal.h"

#include "base/json.h"

#include <string.h>

/* The code point at s[*i], and moves on; s is valid UTF-8. */
static uint32_t next_char(struct str s, size_t *i)
{
    unsigned char c = (unsigned char)s.p[(*i)++];
    if (c < 0x80) {
        return c;
    }
    int more = c < 0xe0 ? 1 : c < 0xf0 ? 2 : 3;
    uint32_t v = c & (0x3fU >> more);
    for (; more > 0 && *i < s.n; more--) {
        v = v << 6 | ((unsigned char)s.p[(*i)++] & 0x3fU);
    }
    return v;
}

/* First UTF-16 code unit of a character, then the rest of it in the low half: compares as the sequence of units does.
 */
static uint32_t utf16_rank(uint32_t c)
{
    if (c < 0x10000) {
        return c << 16;
    }
    c -= 0x10000;
    return (0xd800U + (c >> 10)) << 16 | (0xdc00U + (c & 0x3ff));
}

int jcs_key_cmp(struct str a, struct str b)
{
    size_t i = 0;
    size_t j = 0;
    while (i < a.n && j < b.n) {
        uint32_t x = utf16_rank(next_char(a, &i));
        uint32_t y = utf16_rank(next_char(b, &j));
        if (x != y) {
            return x < y ? -1 : 1;
        }
    }
    return i < a.n ? 1 : j < b.n ? -1 : 0;
}

struct member {
    struct str key;
    const json_t *value;
};

/* Merge sort of members; keys are distinct. */
static void sort_members(struct member *at, struct member *spare, size_t n)
{
    if (n < 2) {
        return;
    }
    size_t half = n / 2;
    sort_members(at, spare, half);
    sort_members(at + half, spare, n - half);
    memcpy(spare, at, half * sizeof *at);
    size_t i = 0;
    size_t j = half;
    for (size_t k = 0; i < half; k++) {
        at[k] = j < n && jcs_key_cmp(at[j].key, spare[i].key) < 0 ? at[j++] : spare[i++];
    }
}

/* The members of an object in canonical order, in the text's arena. */
static void add_object(struct text *t, const json_t *object)
{
    json_t *tree = tree_of(object);
    size_t n = json_object_size(object);
    struct member *members = ARENA_ARRAY(t->a, struct member, n ? n : 1);
    struct member *spare = ARENA_ARRAY(t->a, struct member, n ? n : 1);
    size_t k = 0;
    for (void *it = json_object_iter(tree); it; it = json_object_iter_next(tree, it)) {
        members[k++] = (struct member){str_of(json_object_iter_key(it)), json_object_iter_value(it)};
    }
    sort_members(members, spare, n);
    text_char(t, '{');
    for (size_t i = 0; i < n; i++) {
        if (i) {
            text_char(t, ',');
        }
        text_json_string(t, members[i].key);
        text_char(t, ':');
        text_jcs(t, members[i].value);
    }
    text_char(t, '}');
}

static void add_array(struct text *t, const json_t *array)
{
    text_char(t, '[');
    for (size_t i = 0; i < json_array_size(array); i++) {
        if (i) {
            text_char(t, ',');
        }
        text_jcs(t, json_array_get(array, i));
    }
    text_char(t, ']');
}

void text_jcs(struct text *t, const json_t *value)
{
    switch (json_typeof(value)) {
    case JSON_OBJECT:
        add_object(t, value);
        break;
    case JSON_ARRAY:
        add_array(t, value);
        break;
    case JSON_STRING:
        text_json_string(t, (struct str){json_string_value(value), json_string_length(value)});
        break;
    case JSON_INTEGER:
        text_double(t, (double)json_integer_value(value));
        break;
    case JSON_REAL:
        text_double(t, json_real_value(value));
        break;
    case JSON_TRUE:
        text_addz(t, "true");
        break;
    case JSON_FALSE:
        text_addz(t, "false");
        break;
    case JSON_NULL:
        text_addz(t, "null");
        break;
    }
}

#define EXACT_MOST 9007199254740991.0 /* 2^53 - 1 */

bool jcs_inexact(const json_t *value, struct text *path)
{
    size_t from = path->n;
    if (json_is_number(value)) {
        double v = json_number_value(value);
        return v > EXACT_MOST || v < -EXACT_MOST;
    }
    if (json_is_array(value)) {
        for (size_t i = 0; i < json_array_size(value); i++) {
            text_char(path, '[');
            text_int(path, (int64_t)i);
            text_char(path, ']');
            if (jcs_inexact(json_array_get(value, i), path)) {
                return true;
            }
            path->n = from;
        }
    } else if (json_is_object(value)) {
        json_t *tree = tree_of(value);
        for (void *it = json_object_iter(tree); it; it = json_object_iter_next(tree, it)) {
            text_addz(path, path->n ? "." : "");
            text_addz(path, json_object_iter_key(it));
            if (jcs_inexact(json_object_iter_value(it), path)) {
                return true;
            }
            path->n = from;
        }
    }
    return false;
}
