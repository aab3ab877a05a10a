/* Writing JSON (RFC 8259) into a text: no tree, no state to free. Reading is jansson's job, outside the core.
 * Commas and indentation are the writer's work; pairing of open and close is asserted.
 * No name here is one of jansson's (json_object, json_array, json_null ...): both are linked into one program, and a
 * function of ours with such a name would be called by jansson itself. */
#ifndef WITMARK_BASE_JSON_H
#define WITMARK_BASE_JSON_H

#include "base/text.h"

#define JSON_DEPTH 64

struct json {
    struct text *t;
    bool pretty; /* two blanks per level, a line per member */
    int depth;
    bool first[JSON_DEPTH];
};

struct json json_new(struct text *t, bool pretty);
void json_begin_object(struct json *j, const char *key); /* { ; key is null for an item of an array and for the root */
void json_begin_array(struct json *j, const char *key);  /* [ */
void json_end_object(struct json *j);
void json_end_array(struct json *j);
void json_str(struct json *j, const char *key, struct str value);
void json_strz(struct json *j, const char *key, const char *value); /* null pointer gives null */
void json_num(struct json *j, const char *key, double value);       /* NaN and infinities give null */
void json_int(struct json *j, const char *key, int64_t value);
void json_bool(struct json *j, const char *key, bool value);
void json_put_null(struct json *j, const char *key);
void json_raw(struct json *j, const char *key, struct str text); /* text that is already JSON */
/* Keys that are not literals. */
void json_str_k(struct json *j, struct str key, struct str value);

/* The text as a JSON string with its quotes, escaped as RFC 8785 3.2.2.2 (only what must be; control characters as
 * \b \t \n \f \r or \u00xx). Invalid UTF-8 bytes become U+FFFD. */
void text_json_string(struct text *t, struct str s);

#endif
