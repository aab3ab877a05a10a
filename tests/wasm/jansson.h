/* The part of jansson's interface that the case runner uses, so that the runner itself also builds as WebAssembly,
 * where that library is not packaged. For tests only; in an ordinary build the real one is used.
 *
 * Values live in one arena that json_forget frees; references are not counted. As there: a number that is not finite is
 * no value, and setting or appending no value does nothing.
 */
#ifndef WITMARK_TESTS_WASM_JANSSON_H
#define WITMARK_TESTS_WASM_JANSSON_H

#include <stdbool.h>
#include <stddef.h>

enum json_type { JSON_OBJECT, JSON_ARRAY, JSON_STRING, JSON_INTEGER, JSON_REAL, JSON_TRUE, JSON_FALSE, JSON_NULL };
typedef long long json_int_t;
typedef struct json_value json_t;

#define JSON_COMPACT 0x20
#define JSON_ENCODE_ANY 0x200
#define JSON_REAL_PRECISION(n) (((n)&0x1f) << 11)

enum json_type json_type_of(const json_t *v); /* JSON_NULL also for no value */
#define json_is_object(v) ((v) && json_type_of(v) == JSON_OBJECT)
#define json_is_array(v) ((v) && json_type_of(v) == JSON_ARRAY)
#define json_is_string(v) ((v) && json_type_of(v) == JSON_STRING)
#define json_is_number(v) ((v) && (json_type_of(v) == JSON_REAL || json_type_of(v) == JSON_INTEGER))
#define json_is_true(v) ((v) && json_type_of(v) == JSON_TRUE)
#define json_is_false(v) ((v) && json_type_of(v) == JSON_FALSE)
#define json_is_boolean(v) (json_is_true(v) || json_is_false(v))
#define json_is_null(v) ((v) && json_type_of(v) == JSON_NULL)

json_t *json_object(void);
json_t *json_array(void);
json_t *json_string(const char *z);
json_t *json_stringn(const char *p, size_t n);
json_t *json_real(double value);
json_t *json_integer(json_int_t value);
json_t *json_null(void);
json_t *json_boolean(int value);

size_t json_object_size(const json_t *v);
json_t *json_object_get(const json_t *v, const char *key);
int json_object_set_new(json_t *v, const char *key, json_t *value);
int json_object_set(json_t *v, const char *key, json_t *value);
void *json_object_iter(json_t *v);
void *json_object_iter_next(json_t *v, void *at);
const char *json_object_iter_key(void *at);
json_t *json_object_iter_value(void *at);
#define json_object_foreach(object, key, value)                                                            \
    for (void *at_##key = json_object_iter(object);                                                        \
         at_##key && ((key) = json_object_iter_key(at_##key), (value) = json_object_iter_value(at_##key)); \
         at_##key = json_object_iter_next(object, at_##key))

size_t json_array_size(const json_t *v);
json_t *json_array_get(const json_t *v, size_t i);
int json_array_append_new(json_t *v, json_t *value);
int json_array_append(json_t *v, json_t *value);
#define json_array_foreach(array, i, value) \
    for ((i) = 0; (i) < json_array_size(array) && ((value) = json_array_get(array, i)); (i)++)

const char *json_string_value(const json_t *v);
size_t json_string_length(const json_t *v);
double json_number_value(const json_t *v);
int json_equal(const json_t *a, const json_t *b);
void json_decref(json_t *v);

/* Compact whatever the flags; from malloc. Reals print as the shortest text that reads back the same. */
char *json_dumps(const json_t *v, size_t flags);

/* Reads a whole JSON text; null when it is none. */
json_t *json_text(const char *p, size_t n);
void json_forget(void);

#endif
