/* The JSON writer. */
#include "base/json.h"

#include <assert.h>
#include <math.h>

struct json json_new(struct text *t, bool pretty)
{
    return (struct json){.t = t, .pretty = pretty, .first = {true}};
}

/* The comma, the line and the key that come before a value. */
static void before(struct json *j, struct str key)
{
    if (!j->first[j->depth]) {
        text_char(j->t, ',');
    }
    if (j->depth > 0 && j->pretty) {
        text_char(j->t, '\n');
        for (int i = 0; i < j->depth; i++) {
            text_addz(j->t, "  ");
        }
    }
    j->first[j->depth] = false;
    if (key.p) {
        text_json_string(j->t, key);
        text_addz(j->t, j->pretty ? ": " : ":");
    }
}

static void open_with(struct json *j, const char *key, char bracket)
{
    before(j, str_of(key));
    text_char(j->t, bracket);
    assert(j->depth + 1 < JSON_DEPTH);
    j->depth++;
    j->first[j->depth] = true;
}

static void close_with(struct json *j, char bracket)
{
    assert(j->depth > 0);
    bool empty = j->first[j->depth];
    j->depth--;
    if (!empty && j->pretty) {
        text_char(j->t, '\n');
        for (int i = 0; i < j->depth; i++) {
            text_addz(j->t, "  ");
        }
    }
    text_char(j->t, bracket);
}

void json_begin_object(struct json *j, const char *key)
{
    open_with(j, key, '{');
}

void json_begin_array(struct json *j, const char *key)
{
    open_with(j, key, '[');
}

void json_end_object(struct json *j)
{
    close_with(j, '}');
}

void json_end_array(struct json *j)
{
    close_with(j, ']');
}

void json_str(struct json *j, const char *key, struct str value)
{
    before(j, str_of(key));
    text_json_string(j->t, value);
}

void json_strz(struct json *j, const char *key, const char *value)
{
    if (value) {
        json_str(j, key, str_of(value));
    } else {
        json_put_null(j, key);
    }
}

void json_num(struct json *j, const char *key, double value)
{
    before(j, str_of(key));
    if (isfinite(value)) {
        text_double(j->t, value);
    } else {
        text_addz(j->t, "null");
    }
}

void json_int(struct json *j, const char *key, int64_t value)
{
    before(j, str_of(key));
    text_int(j->t, value);
}

void json_bool(struct json *j, const char *key, bool value)
{
    before(j, str_of(key));
    text_addz(j->t, value ? "true" : "false");
}

void json_put_null(struct json *j, const char *key)
{
    before(j, str_of(key));
    text_addz(j->t, "null");
}

void json_raw(struct json *j, const char *key, struct str text)
{
    before(j, str_of(key));
    text_add(j->t, text);
}

void json_str_k(struct json *j, struct str key, struct str value)
{
    before(j, key);
    text_json_string(j->t, value);
}

void text_json_string(struct text *t, struct str s)
{
    static const char hex[] = "0123456789abcdef";
    bool clean = str_is_utf8(s);
    text_char(t, '"');
    for (size_t i = 0; i < s.n; i++) {
        unsigned char c = (unsigned char)s.p[i];
        if (c == '"' || c == '\\') {
            text_char(t, '\\');
            text_char(t, (char)c);
        } else if (c < 0x20) {
            const char *shortcut = c == '\b'   ? "\\b"
                                   : c == '\t' ? "\\t"
                                   : c == '\n' ? "\\n"
                                   : c == '\f' ? "\\f"
                                   : c == '\r' ? "\\r"
                                               : NULL;
            if (shortcut) {
                text_addz(t, shortcut);
            } else {
                text_addz(t, "\\u00");
                text_char(t, hex[c >> 4]);
                text_char(t, hex[c & 15]);
            }
        } else if (clean || c < 0x80) {
            text_char(t, (char)c);
        } else {
            text_utf8(t, 0xfffd);
        }
    }
    text_char(t, '"');
}
