/* Cutting and decoding a request's target. Cut first, decode afterwards: an encoded separator separates nothing. */
#include "target.h"

static int hex_digit(char c)
{
    return c >= '0' && c <= '9'   ? c - '0'
           : c >= 'a' && c <= 'f' ? c - 'a' + 10
           : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                  : -1;
}

static bool wrong(struct err *e, size_t at, const char *what, const char *right)
{
    return err_at(e, (struct where){S("request target"), 1, (uint32_t)at + 1}, ERR_INPUT, right, what, (char *)0);
}

/* Decodes one part that begins at byte `at` of the target. */
static bool decode(struct arena *a, struct str s, size_t at, bool plus, struct str *out, struct err *e)
{
    char *p = ARENA_ARRAY(a, char, s.n + 1);
    size_t n = 0;
    for (size_t i = 0; i < s.n; i++) {
        char c = s.p[i];
        size_t from = i;
        if (c == '%') {
            int high = i + 1 < s.n ? hex_digit(s.p[i + 1]) : -1;
            int low = i + 2 < s.n ? hex_digit(s.p[i + 2]) : -1;
            if (high < 0 || low < 0) {
                return wrong(e, at + i, "a percent sign without two hexadecimal digits", "%25 for a percent sign");
            }
            c = (char)(high * 16 + low);
            i += 2;
        } else if (plus && c == '+') {
            c = ' ';
        }
        if ((unsigned char)c < 0x20 || c == 0x7f) {
            return wrong(e, at + from, "a control character", NULL);
        }
        p[n++] = c;
    }
    *out = (struct str){p, n};
    return str_is_utf8(*out) || wrong(e, at, "text that is not UTF-8", NULL);
}

static bool parse_path(struct arena *a, struct target *t, struct err *e)
{
    if (t->path.n == 0 || t->path.p[0] != '/') {
        return wrong(e, 0, "a path that does not begin with a slash", "/");
    }
    for (size_t at = 1; at < t->path.n;) {
        size_t end = at;
        while (end < t->path.n && t->path.p[end] != '/') {
            end++;
        }
        if (t->n == TARGET_PARTS_MOST) {
            return wrong(e, at, "too many parts", NULL);
        }
        struct str *part = &t->parts[t->n++];
        if (!decode(a, str_cut(t->path, at, end), at, false, part, e)) {
            return false;
        }
        if (part->n == 0 || str_eq(*part, S(".")) || str_eq(*part, S(".."))) {
            return wrong(e, at, "an empty part, '.' or '..' in the path", NULL);
        }
        if (end + 1 == t->path.n) {
            return wrong(e, end, "a slash at the end", "the path without it");
        }
        at = end + 1;
    }
    return true;
}

static bool parse_query(struct arena *a, struct str query, size_t at, struct target *t, struct err *e)
{
    struct str rest = query;
    struct str piece;
    while (str_next(&rest, '&', &piece)) {
        if (piece.n == 0) {
            continue;
        }
        size_t from = at + (size_t)(piece.p - query.p);
        if (t->n_pairs == TARGET_PAIRS_MOST) {
            return wrong(e, from, "too many parameters", NULL);
        }
        size_t equals = 0;
        while (equals < piece.n && piece.p[equals] != '=') {
            equals++;
        }
        struct target_pair *pair = &t->pairs[t->n_pairs++];
        size_t value = equals < piece.n ? equals + 1 : equals;
        if (!decode(a, str_cut(piece, 0, equals), from, true, &pair->name, e) ||
            !decode(a, str_cut(piece, value, piece.n), from + value, true, &pair->value, e)) {
            return false;
        }
    }
    return true;
}

bool target_parse(struct arena *a, struct str sent, struct target *t, struct err *e)
{
    *t = (struct target){0};
    size_t end = 0;
    while (end < sent.n && sent.p[end] != '?') {
        end++;
    }
    t->path = str_cut(sent, 0, end);
    struct str query = end < sent.n ? str_cut(sent, end + 1, sent.n) : (struct str){0};
    return parse_path(a, t, e) && parse_query(a, query, end + 1, t, e);
}

const struct str *target_value(const struct target *t, const char *name)
{
    for (size_t i = 0; i < t->n_pairs; i++) {
        if (str_eq(t->pairs[i].name, str_of(name))) {
            return &t->pairs[i].value;
        }
    }
    return NULL;
}

/* "site, days, machine" */
static const char *listed(struct arena *a, const char *const *names)
{
    struct text t = text_new(a);
    for (size_t i = 0; names[i]; i++) {
        text_join(&t, i ? ", " : "", names[i], (char *)0);
    }
    return t.n ? text_z(&t) : "no parameters here";
}

bool target_only(const struct target *t, const char *const *names, struct err *e)
{
    for (size_t i = 0; i < t->n_pairs; i++) {
        struct str name = t->pairs[i].name;
        bool known = false;
        for (size_t k = 0; names[k]; k++) {
            known = known || str_eq(name, str_of(names[k]));
        }
        if (!known) {
            return err_set(e, ERR_USAGE, listed(e->a, names), "parameter '", str_z(e->a, name), "' is not known",
                           (char *)0);
        }
        for (size_t k = 0; k < i; k++) {
            if (str_eq(name, t->pairs[k].name)) {
                return err_set(e, ERR_USAGE, "once", "parameter '", str_z(e->a, name), "' is given twice", (char *)0);
            }
        }
    }
    return true;
}
