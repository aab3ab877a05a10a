/* Where a value stands in a line of JSON. jansson keeps no positions, so the text is read again, only when something is
 * wrong with it; it is known to be valid. */
#include "log_internal.h"

/* Over blanks. */
static size_t blanks(struct str s, size_t i)
{
    while (i < s.n && (s.p[i] == ' ' || s.p[i] == '\t' || s.p[i] == '\r' || s.p[i] == '\n')) {
        i++;
    }
    return i;
}

/* Over a string that begins at i. */
static size_t over_string(struct str s, size_t i)
{
    for (i++; i < s.n && s.p[i] != '"'; i++) {
        if (s.p[i] == '\\') {
            i++;
        }
    }
    return i < s.n ? i + 1 : s.n;
}

/* Over the value that begins at i. */
static size_t over_value(struct str s, size_t i)
{
    int depth = 0;
    while (i < s.n) {
        char c = s.p[i];
        if (c == '"') {
            i = over_string(s, i);
        } else if (c == '{' || c == '[') {
            depth++;
            i++;
        } else if (c == '}' || c == ']') {
            depth--;
            i++;
        } else if (depth == 0 && (c == ',' || c == ' ')) {
            break;
        } else {
            i++;
            continue; /* inside a number, a word, or between values */
        }
        if (depth <= 0) {
            break;
        }
    }
    return i;
}

/* The first step of a path: a member's name, or "[3]". Cuts it off. */
static struct str next_step(struct str *path)
{
    size_t n = 0;
    if (path->n && path->p[0] == '.') {
        *path = str_cut(*path, 1, path->n);
    }
    if (path->n && path->p[0] == '[') {
        while (n < path->n && path->p[n] != ']') {
            n++;
        }
        n += n < path->n;
    } else {
        while (n < path->n && path->p[n] != '.' && path->p[n] != '[') {
            n++;
        }
    }
    struct str step = str_cut(*path, 0, n);
    *path = str_cut(*path, n, path->n);
    return step;
}

/* The member of that name in the object at i, or the item of that number in the array at i; s.n when it is not there.
 */
static size_t descend(struct str s, size_t i, struct str step)
{
    bool object = i < s.n && s.p[i] == '{';
    int64_t wanted = -1;
    if (!object && (i >= s.n || s.p[i] != '[' || step.n < 3 || !num_parse_i64(str_cut(step, 1, step.n - 1), &wanted))) {
        return s.n;
    }
    i = blanks(s, i + 1);
    for (int64_t k = 0; i < s.n && s.p[i] != '}' && s.p[i] != ']'; k++) {
        bool here = k == wanted;
        if (object) {
            size_t end = over_string(s, i);
            here = str_eq(str_cut(s, i + 1, end - 1), step);
            i = blanks(s, blanks(s, end) + 1); /* over the colon */
        }
        if (here) {
            return i;
        }
        size_t end = over_value(s, i);
        i = blanks(s, end > i ? end : i + 1);
        if (i < s.n && s.p[i] == ',') {
            i = blanks(s, i + 1);
        }
    }
    return s.n;
}

uint32_t json_column(struct str json, struct str path)
{
    size_t at = blanks(json, 0);
    while (path.n) {
        struct str step = next_step(&path);
        size_t next = step.n ? descend(json, at, step) : json.n;
        if (next >= json.n) {
            break;
        }
        at = next;
    }
    return (uint32_t)str_chars(str_cut(json, 0, at)) + 1;
}
