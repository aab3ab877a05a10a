/* Expected against got, under a case's tolerance.
 *
 * A tolerance is {"abs": x}, {"rel": x}, {"exact": true}, or both abs and rel (either will do), for every field; or an
 * object with one such entry per field. Lists go item by item, objects member by member; null, booleans and texts are
 * always exact, but a text that names a meaning may be worded differently: the words we know for each meaning stand
 * below.
 */
#include "cases.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Words for one meaning, each group ended by null: what our functions say first, then what a source may say instead. */
static const char *const meanings[][10] = {
    {"below floor", "too thin", "below the floor", "below minimum", "below floor: too thin", "too thin, below floor",
     NULL},
    {"usable, below optimum", "below optimum", "thin, usable", NULL},
    {"optimum", "within optimum", "in optimum", "optimum range", "in the optimum", NULL},
    {"usable, above optimum", "above optimum", "thick, usable", NULL},
    {"above start limit", "too thick to start", "too thick", "above start-up limit",
     "too thick to start, above start limit", NULL},
    {"below run-in", "slack", "too slack", "below run-in: retension", "loose", "too loose", NULL},
    {"between run-in and new", "within", "between used and new", NULL},
    {"above new", "too tight", "above new: too tight", "tight", NULL},
    {"within guide", "within", NULL},
    {"above guide", "too fast", "over guide", "above the guide", NULL},
    {"low", "below", "below window", "too low", NULL},
    {"within", "ok", "within window", "in window", "normal", NULL},
    {"high", "above", "above window", "too high", NULL},
    {"over limit", "above limit", NULL},
    {"within limit", "at or below limit", "below limit", "within limits", "not over limit", "ok", NULL},
    {"too cold", "below passive range", NULL},
    {"passive range", "passive", NULL},
    {"active range", "active", NULL},
    {"above normal: stop and investigate", "above normal", NULL},
    {"between passive and active range", "between passive and active", "between", NULL},
    {"surface charge or charging", "surface charge", "charging or surface charge", NULL},
    {"from data sheet", "see data sheet", NULL},
};

/* Whether the texts are equal or known to mean the same. */
static bool same_meaning(const char *expected, const char *got)
{
    if (strcmp(expected, got) == 0) {
        return true;
    }
    for (size_t i = 0; i < sizeof meanings / sizeof *meanings; i++) {
        if (strcmp(meanings[i][0], got) != 0) {
            continue;
        }
        for (size_t k = 1; meanings[i][k]; k++) {
            if (str_eq_nocase(str_of(meanings[i][k]), str_of(expected))) {
                return true;
            }
        }
    }
    return false;
}

/* A value as compact JSON, for a message. */
static void add_json(struct text *t, const json_t *value)
{
    char *dump = value ? json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(12)) : NULL;
    text_addz(t, dump ? dump : "nothing");
    free(dump);
}

static bool differ(struct text *why, const char *path, const json_t *expected, const json_t *got)
{
    text_join(why, path, ": got ", (char *)0);
    add_json(why, got);
    text_addz(why, ", expected ");
    add_json(why, expected);
    return false;
}

/* The tolerance of a field: its own entry, else the whole. */
static const json_t *tolerance_of(const json_t *tolerance, const char *field)
{
    const json_t *own = json_object_get(tolerance, field);
    return json_is_object(own) ? own : tolerance;
}

/* Exact numbers may differ in the last bits a conversion between units leaves. */
#define EXACT_REL 1e-12

static bool number_close(double expected, double got, const json_t *tolerance, const char *path)
{
    double rel = json_number_value(json_object_get(tolerance, "rel"));
    double abs_ = json_number_value(json_object_get(tolerance, "abs"));
    double off = fabs(got - expected);
    const json_t *tail = json_object_get(tolerance, "tail_rel");
    if (json_is_number(tail) && (strncmp(path, "cdf", 3) == 0 || strncmp(path, "sf", 2) == 0) &&
        fabs(expected) < 1e-4) {
        rel = json_number_value(tail);
    }
    const json_t *lr_rel = json_object_get(tolerance, "lr_rel");
    if (json_is_number(lr_rel) && strstr(path, "lr_")) {
        rel = json_number_value(lr_rel);
    }
    const json_t *p_rel = json_object_get(tolerance, "p_rel");
    if (json_is_number(p_rel) && (strncmp(path, "p_", 2) == 0 || strstr(path, "_p"))) {
        rel = json_number_value(p_rel);
    }
    return isfinite(got) && (off <= rel * fabs(expected) || off <= abs_ || off <= EXACT_REL * fabs(expected));
}

static bool compare(const json_t *expected, const json_t *got, const json_t *tolerance, const char *path,
                    struct text *why)
{
    const char *key = NULL;
    json_t *member = NULL;
    size_t i = 0;
    if (json_is_number(expected)) {
        /* A list of equal results stands for one: an input was a list that this result does not depend on. */
        if (json_is_array(got) && json_array_size(got) > 0) {
            json_array_foreach((json_t *)(uintptr_t)got, i, member)
            {
                if (!compare(expected, member, tolerance, path, why)) {
                    return false;
                }
            }
            return true;
        }
        return (json_is_number(got) &&
                number_close(json_number_value(expected), json_number_value(got), tolerance, path)) ||
               differ(why, path, expected, got);
    }
    if (json_is_string(expected)) {
        return (json_is_string(got) && same_meaning(json_string_value(expected), json_string_value(got))) ||
               differ(why, path, expected, got);
    }
    if (json_is_array(expected)) {
        if (!json_is_array(got) || json_array_size(got) != json_array_size(expected)) {
            return differ(why, path, expected, got);
        }
        json_array_foreach((json_t *)(uintptr_t)expected, i, member)
        {
            if (!compare(member, json_array_get(got, i), tolerance, path, why)) {
                return false;
            }
        }
        return true;
    }
    if (json_is_object(expected)) {
        json_object_foreach((json_t *)(uintptr_t)expected, key, member)
        {
            const json_t *value = json_object_get(got, key);
            if (!value) {
                return differ(why, key, member, NULL);
            }
            if (!compare(member, value, tolerance_of(tolerance, key), key, why)) {
                return false;
            }
        }
        return true;
    }
    return json_equal((json_t *)(uintptr_t)expected, (json_t *)(uintptr_t)got) || differ(why, path, expected, got);
}

bool case_compare(const json_t *expected, const json_t *got, const json_t *tolerance, struct text *why)
{
    return compare(expected, got, tolerance, "result", why);
}
