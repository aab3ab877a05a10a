/* Where in a JSON text a value stands. jansson keeps no places in its tree, and a message that names none helps nobody;
 * so the text, already known to be valid, is walked once more when there is something to complain about. */
#include "document.h"

#include <string.h>

struct walk {
    struct str json;
    size_t i;
};

static void skip_blank(struct walk *w)
{
    while (w->i < w->json.n && strchr(" \t\r\n", w->json.p[w->i])) {
        w->i++;
    }
}

/* Over a string with its quotes; returns what stands between them, escapes as they are. */
static struct str skip_string(struct walk *w)
{
    size_t from = ++w->i;
    while (w->i < w->json.n && w->json.p[w->i] != '"') {
        w->i += w->json.p[w->i] == '\\' ? 2 : 1;
    }
    struct str inside = str_cut(w->json, from, w->i);
    w->i++;
    return inside;
}

/* Over one value of any kind, by counting brackets outside strings. */
static void skip_value(struct walk *w)
{
    int depth = 0;
    do {
        skip_blank(w);
        char c = w->i < w->json.n ? w->json.p[w->i] : '\0';
        if (c == '\0') {
            return;
        }
        if (c == '"') {
            skip_string(w);
        } else if (c == '{' || c == '[') {
            depth++;
            w->i++;
        } else if (c == '}' || c == ']') {
            depth--;
            w->i++;
        } else if (c == ',' || c == ':') {
            w->i++;
        } else {
            while (w->i < w->json.n && !strchr(",:]}[{\" \t\r\n", w->json.p[w->i])) {
                w->i++;
            }
        }
    } while (depth > 0);
}

/* From the opening bracket of a container to the wanted member or item; false when it is not in there. */
static bool enter(struct walk *w, struct json_step step)
{
    skip_blank(w);
    if (w->i >= w->json.n || w->json.p[w->i] != (step.key ? '{' : '[')) {
        return false;
    }
    w->i++;
    for (size_t nth = 0;; nth++) {
        skip_blank(w);
        if (w->i >= w->json.n || w->json.p[w->i] == '}' || w->json.p[w->i] == ']') {
            return false;
        }
        bool found = !step.key && nth == step.index;
        if (step.key) {
            found = str_eq(skip_string(w), str_of(step.key));
            skip_blank(w);
            w->i++; /* the colon */
            skip_blank(w);
        }
        if (found) {
            return true;
        }
        skip_value(w);
        skip_blank(w);
        if (w->i < w->json.n && w->json.p[w->i] == ',') {
            w->i++;
        }
    }
}

struct where json_where(struct str json, struct str name, const struct json_step *path, size_t n)
{
    struct walk w = {.json = json};
    skip_blank(&w);
    for (size_t k = 0; k < n; k++) {
        size_t container = w.i;
        if (!enter(&w, path[k])) {
            w.i = container; /* a missing member is said of the object that misses it */
            break;
        }
    }
    uint32_t line = 1;
    size_t line_start = 0;
    for (size_t i = 0; i < w.i && i < json.n; i++) {
        if (json.p[i] == '\n') {
            line++;
            line_start = i + 1;
        }
    }
    return (struct where){
        .name = name, .line = line, .column = (uint32_t)(str_chars(str_cut(json, line_start, w.i)) + 1)};
}
