/* The JSON Schema of a book, written from the table of keys. It helps an editor to complete and to underline; it
 * accepts whatever the checker accepts, while the checker knows far more. Keywords are those of JSON Schema draft
 * 2020-12. */
#include "base/json.h"
#include "bookfile_internal.h"

/* Names of the definitions, and of a section's schema. */
static const char *section_ref(struct arena *a, enum section s)
{
    struct text t = text_new(a);
    text_addz(&t, "#/$defs/");
    for (const char *z = section_info(s)->word; *z; z++) {
        text_char(&t, *z == ' ' ? '-' : *z);
    }
    return text_z(&t);
}

static void put_ref(struct json *j, const char *key, const char *ref)
{
    json_begin_object(j, key);
    json_strz(j, "$ref", ref);
    json_end_object(j);
}

static void put_type(struct json *j, const char *key, const char *type)
{
    json_begin_object(j, key);
    json_strz(j, "type", type);
    json_end_object(j);
}

static void put_pattern(struct json *j, const char *pattern)
{
    json_strz(j, "type", "string");
    json_strz(j, "pattern", pattern);
}

/* { "type": "object", "additionalProperties": { "$ref": ref } } without the braces */
static void put_map(struct json *j, const char *ref)
{
    json_strz(j, "type", "object");
    put_ref(j, "additionalProperties", ref);
}

static void put_any_of(struct json *j, const char *const *refs, size_t n)
{
    json_begin_array(j, "anyOf");
    for (size_t i = 0; i < n; i++) {
        put_ref(j, NULL, refs[i]);
    }
    json_end_array(j);
}

/* The keywords for one plain value of that type. */
static void put_value(struct json *j, struct arena *a, const struct key *k)
{
    size_t n = 0;
    const char *const *list = NULL;
    switch ((int)k->type) {
    case T_ENUM:
        list = word_list((enum word_list)k->arg, &n);
        json_begin_array(j, "enum");
        for (size_t i = 0; i < n; i++) {
            json_strz(j, NULL, list[i]);
        }
        json_end_array(j);
        break;
    case T_TURN_IN:
        json_begin_array(j, "enum");
        json_strz(j, NULL, "in");
        json_strz(j, NULL, "out");
        json_end_array(j);
        break;
    case T_ID:
        put_pattern(j, "^[a-z0-9]+(-[a-z0-9]+)*$");
        break;
    case T_PATTERN:
        put_pattern(j, "^[^#]*#{1,9}[^#]*$");
        break;
    case T_REFER:
        put_pattern(
            j, "^(cold|viscosity|battery|charge|charging|cranking|freezing|boiling|tension|elongation|nut|consumption|"
               "leak)( |$)");
        break;
    case T_BUS:
        put_pattern(j, "^bus [0-9]+$");
        break;
    case T_COUNT:
        json_strz(j, "type", "integer");
        json_int(j, "minimum", k->arg);
        break;
    case T_YES:
        json_strz(j, "$ref", "#/$defs/yes");
        break;
    case T_POINT:
        json_strz(j, "$ref", k->flags & KEY_UNIT ? "#/$defs/point01" : "#/$defs/point");
        break;
    case T_TEXTS:
    case T_WORDS:
    case T_REFS:
    case T_VALUES:
    case T_SERIALS:
        if (k->flags & KEY_HEADED) {
            put_any_of(j, (const char *const[]){"#/$defs/texts", "#/$defs/mapping"}, 2);
        } else {
            json_strz(j, "$ref", "#/$defs/texts");
        }
        break;
    case T_CONDITION:
        json_strz(j, "$ref", "#/$defs/condition");
        break;
    case T_TO:
    case T_JUDGED_AT:
    case T_VISCOSITY:
    case T_PAIRS:
        put_map(j, "#/$defs/text");
        break;
    case T_GIVEN:
    case T_WORK_OUT:
    case T_USE_FLUIDS:
    case T_USE_PARTS:
    case T_SHOWS:
    case T_FACTORS:
        put_map(j, "#/$defs/value");
        break;
    case T_ALSO:
        put_any_of(j, (const char *const[]){"#/$defs/texts", "#/$defs/mapping"}, 2);
        break;
    case T_OPTIONS:
        put_any_of(j, (const char *const[]){"#/$defs/texts", "#/$defs/options"}, 2);
        break;
    case T_MARKS:
    case T_ENTRIES:
        put_map(j, section_ref(a, (enum section)k->arg));
        break;
    case T_ITEMS:
        json_strz(j, "type", "array");
        put_ref(j, "items", section_ref(a, (enum section)k->arg));
        break;
    case T_MAPPING:
        json_strz(j, "$ref", section_ref(a, (enum section)k->arg));
        break;
    case T_ANY:
        break;
    default:
        json_strz(j, "$ref", "#/$defs/text");
        break;
    }
}

/* A key where the book may say it once, or as a list of variants. */
static void put_key(struct json *j, struct arena *a, const struct key *k)
{
    bool once = (k->flags & KEY_HEAD) || k->type == T_ENTRIES || k->type == T_ITEMS || k->type == T_MAPPING ||
                k->type == T_ANY || k->section == SEC_VARIANT;
    json_begin_object(j, k->name);
    json_strz(j, "description", words(a, k->line, ". ", key_form(a, k), (char *)0));
    if (once) {
        put_value(j, a, k);
    } else {
        json_begin_array(j, "anyOf");
        json_begin_object(j, NULL);
        put_value(j, a, k);
        json_end_object(j);
        put_ref(j, NULL, "#/$defs/variants");
        json_end_array(j);
    }
    json_end_object(j);
}

static void put_keys(struct json *j, struct arena *a, enum section section)
{
    size_t n = 0;
    const struct key *k = keys_of(section, &n);
    for (size_t i = 0; i < n; i++) {
        put_key(j, a, &k[i]);
    }
}

/* A mapping of a section. Needed keys are only demanded by the checker, since a variant `fitted: no` has none of them.
 */
static void put_object(struct json *j, struct arena *a, enum section section)
{
    json_strz(j, "type", "object");
    json_begin_object(j, "properties");
    put_keys(j, a, section);
    if (section != SEC_BOOK && section != SEC_SERIALS && section != SEC_AT_MOST) {
        size_t n = 0;
        const struct key *k = keys_of(SEC_VARIANT, &n);
        for (size_t i = 0; i < n; i++) {
            if (!key_find(section, str_of(k[i].name)) && k[i].type != T_ANY) {
                put_key(j, a, &k[i]);
            }
        }
    }
    json_end_object(j);
    if (section == SEC_NEVER || section == SEC_TORQUE) { /* bare condition; names of positions */
        put_ref(j, "additionalProperties", "#/$defs/value");
    } else {
        json_bool(j, "additionalProperties", false);
    }
}

static void put_array_of(struct json *j, const char *key, const char *ref)
{
    json_begin_object(j, key);
    json_strz(j, "type", "array");
    put_ref(j, "items", ref);
    json_end_object(j);
}

/* The definitions of a section: NAME-one is one mapping, NAME is that or a list of variants of it; a condition variable
 * may be a bare list. */
static void put_section(struct json *j, struct arena *a, enum section section)
{
    const char *ref = section_ref(a, section);
    const char *one = words(a, ref, "-one", (char *)0);
    size_t head = sizeof "#/$defs/" - 1;
    json_begin_object(j, one + head);
    put_object(j, a, section);
    json_end_object(j);
    json_begin_object(j, ref + head);
    json_begin_array(j, "anyOf");
    put_ref(j, NULL, one);
    put_array_of(j, NULL, one);
    if (section == SEC_VARIABLE) {
        put_ref(j, NULL, "#/$defs/texts");
    }
    json_end_array(j);
    json_end_object(j);
}

/* [x, y] of numbers, from 0 to 1 when `unit`. */
static void put_point(struct json *j, const char *name, bool unit)
{
    json_begin_object(j, name);
    json_strz(j, "type", "array");
    json_begin_object(j, "items");
    json_strz(j, "type", "number");
    if (unit) {
        json_int(j, "minimum", 0);
        json_int(j, "maximum", 1);
    }
    json_end_object(j);
    json_int(j, "minItems", 2);
    json_int(j, "maxItems", 2);
    json_end_object(j);
}

/* Small definitions that the sections share. */
static void put_common(struct json *j, struct arena *a)
{
    json_begin_object(j, "text");
    json_begin_array(j, "type");
    json_strz(j, NULL, "string");
    json_strz(j, NULL, "number");
    json_end_array(j);
    json_end_object(j);

    json_begin_object(j, "yes");
    json_begin_array(j, "enum");
    json_bool(j, NULL, true);
    json_bool(j, NULL, false);
    json_strz(j, NULL, "yes");
    json_strz(j, NULL, "no");
    json_end_array(j);
    json_end_object(j);

    put_type(j, "mapping", "object");
    put_point(j, "point", false);
    put_point(j, "point01", true);
    json_begin_object(j, "texts");
    json_begin_array(j, "anyOf");
    put_ref(j, NULL, "#/$defs/text");
    put_array_of(j, NULL, "#/$defs/value");
    json_end_array(j);
    json_end_object(j);

    json_begin_object(j, "condition");
    put_map(j, "#/$defs/texts");
    json_end_object(j);
    json_begin_object(j, "options");
    put_map(j, "#/$defs/value");
    json_end_object(j);

    json_begin_object(j, "value");
    put_any_of(j, (const char *const[]){"#/$defs/text", "#/$defs/texts", "#/$defs/mapping"}, 3);
    json_end_object(j);

    json_begin_object(j, "variant-value");
    json_strz(j, "type", "object");
    json_begin_object(j, "properties");
    put_keys(j, a, SEC_VARIANT);
    json_end_object(j);
    json_bool(j, "additionalProperties", false);
    json_end_object(j);
    json_begin_object(j, "variants");
    json_begin_array(j, "anyOf");
    put_ref(j, NULL, "#/$defs/variant-value");
    put_array_of(j, NULL, "#/$defs/variant-value");
    json_end_array(j);
    json_end_object(j);
}

void book_schema(struct text *t)
{
    struct json j = json_new(t, true);
    struct arena *a = t->a;
    json_begin_object(&j, NULL);
    json_strz(&j, "$schema", "https://json-schema.org/draft/2020-12/schema");
    json_strz(&j, "$comment", "Made from the table of keys in src/book/keys.c; not edited by hand.");
    json_strz(&j, "title", "Service book");
    put_object(&j, a, SEC_BOOK);
    json_begin_array(&j, "required");
    size_t n = 0;
    const struct key *k = keys_of(SEC_BOOK, &n);
    for (size_t i = 0; i < n; i++) {
        if (k[i].flags & KEY_REQUIRED) {
            json_strz(&j, NULL, k[i].name);
        }
    }
    json_end_array(&j);
    json_begin_object(&j, "$defs");
    for (int s = SEC_SERIALS; s < SEC_VARIANT; s++) {
        put_section(&j, a, (enum section)s);
    }
    put_common(&j, a);
    json_end_object(&j);
    json_end_object(&j);
    text_char(t, '\n');
}
