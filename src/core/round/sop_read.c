/* The text of a sequential ordering instance. */
#include "round/sop_internal.h"

/* Where we are in the text. */
struct reader {
    struct str rest;
    struct where at;
    struct err *e;
};

/* Goes on by one byte. */
static void step(struct reader *r)
{
    if (r->rest.p[0] == '\n') {
        r->at.line++;
        r->at.column = 1;
    } else {
        r->at.column++;
    }
    r->rest = str_cut(r->rest, 1, r->rest.n);
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static void skip_blanks(struct reader *r)
{
    while (r->rest.n && is_blank(r->rest.p[0])) {
        step(r);
    }
}

/* The next word; empty at the end. Its place is in *at. */
static struct str word(struct reader *r, struct where *at)
{
    skip_blanks(r);
    *at = r->at;
    struct str from = r->rest;
    while (r->rest.n && !is_blank(r->rest.p[0])) {
        step(r);
    }
    return str_cut(from, 0, from.n - r->rest.n);
}

/* The rest of the line, without blanks at its ends. */
static struct str line(struct reader *r)
{
    struct str from = r->rest;
    while (r->rest.n && r->rest.p[0] != '\n') {
        step(r);
    }
    return str_trim(str_cut(from, 0, from.n - r->rest.n));
}

/* At most 40 bytes of a text for a message. */
static const char *shown(struct reader *r, struct str s)
{
    return s.n ? str_z(r->e->a, str_cut(s, 0, 40)) : "the end of the text";
}

/* The next whole number. */
static bool number(struct reader *r, int64_t *value, struct where *at, const char *what)
{
    struct str s = word(r, at);
    if (num_parse_i64(s, value)) {
        return true;
    }
    return err_at(r->e, *at, ERR_INPUT, "a whole number", what, ": \"", shown(r, s), "\"", (char *)0);
}

/* One header line that must say something. */
static bool must_say(struct reader *r, struct where at, struct str got, struct str want, const char *key)
{
    if (str_eq_nocase(got, want)) {
        return true;
    }
    return err_at(r->e, at, ERR_INPUT, str_z(r->e->a, want), key, " is \"", shown(r, got),
                  "\", which cannot be read here", (char *)0);
}

/* The header up to EDGE_WEIGHT_SECTION; the dimension, 0 when it was not said. */
static bool read_header(struct reader *r, int64_t *n)
{
    for (;;) {
        struct where at;
        skip_blanks(r);
        at = r->at;
        struct str whole = line(r);
        ptrdiff_t colon = str_find(whole, S(":"));
        struct str key = str_trim(colon < 0 ? whole : str_cut(whole, 0, (size_t)colon));
        struct str value = colon < 0 ? S("") : str_trim(str_cut(whole, (size_t)colon + 1, whole.n));
        if (str_eq(key, S("EDGE_WEIGHT_SECTION"))) {
            return true;
        }
        if (str_eq(key, S("DIMENSION"))) {
            if (!num_parse_i64(value, n) || *n < 2 || *n > SOP_MOST) {
                return err_at(r->e, at, ERR_INPUT, "2 to 256", "DIMENSION is \"", shown(r, value), "\"", (char *)0);
            }
        } else if (str_eq(key, S("TYPE"))) {
            if (!must_say(r, at, value, S("SOP"), "TYPE")) {
                return false;
            }
        } else if (str_eq(key, S("EDGE_WEIGHT_TYPE"))) {
            if (!must_say(r, at, value, S("EXPLICIT"), "EDGE_WEIGHT_TYPE")) {
                return false;
            }
        } else if (str_eq(key, S("EDGE_WEIGHT_FORMAT"))) {
            if (!must_say(r, at, value, S("FULL_MATRIX"), "EDGE_WEIGHT_FORMAT")) {
                return false;
            }
        } else if (!str_eq(key, S("NAME")) && !str_eq(key, S("COMMENT"))) {
            return err_at(r->e, at, ERR_INPUT,
                          "NAME, TYPE, COMMENT, DIMENSION, EDGE_WEIGHT_TYPE, EDGE_WEIGHT_FORMAT, EDGE_WEIGHT_SECTION",
                          key.n ? "unknown header line: \"" : "no EDGE_WEIGHT_SECTION before \"", shown(r, key), "\"",
                          (char *)0);
        }
    }
}

/* How many words the first line has: the size of a bare matrix. */
static int64_t words_of_first_line(struct reader r)
{
    int64_t n = 0;
    struct where at;
    skip_blanks(&r);
    uint32_t first = r.at.line;
    while (word(&r, &at).n && at.line == first) {
        n++;
    }
    return n;
}

/* n * n numbers. */
static bool read_matrix(struct reader *r, struct sop *p)
{
    for (size_t i = 0; i < p->n * p->n; i++) {
        struct where at;
        int64_t value = 0;
        if (!number(r, &value, &at, "in the matrix")) {
            return false;
        }
        if (value < SOP_NEVER || value > SOP_MOST_COST) {
            return err_at(r->e, at, ERR_INPUT, "0 to 100000000, or -1 for a rule", "a cost is out of range", (char *)0);
        }
        size_t row = i / p->n;
        size_t column = i % p->n;
        if (value == SOP_NEVER && row == column) {
            return err_at(r->e, at, ERR_INPUT, "0", "a node cannot come before itself", (char *)0);
        }
        p->cost[i] = (int32_t)value;
        if (value == SOP_NEVER) {
            p->before[column * p->n + row] = true;
        }
    }
    struct where at;
    struct str end = word(r, &at);
    if (end.n && !str_eq(end, S("EOF"))) {
        return err_at(r->e, at, ERR_INPUT, "EOF or nothing", "more after the matrix: \"", shown(r, end), "\"",
                      (char *)0);
    }
    return true;
}

bool sop_read(struct str name, struct str text, struct arena *a, struct sop *p, struct err *e)
{
    struct reader r = {text, {name, 1, 1}, e};
    *p = (struct sop){0};
    int64_t n = 0;
    skip_blanks(&r);
    bool bare = r.rest.n && (r.rest.p[0] == '-' || (r.rest.p[0] >= '0' && r.rest.p[0] <= '9'));
    if (bare) {
        n = words_of_first_line(r);
    } else {
        if (!read_header(&r, &n)) {
            return false;
        }
        struct reader ahead = r;
        struct where at;
        struct str first = word(&ahead, &at);
        int64_t again = 0;
        uint32_t line_of_first = at.line;
        bool alone = num_parse_i64(first, &again) && (word(&ahead, &at).n == 0 || at.line != line_of_first);
        if (alone) { /* the dimension stands once more in front of the matrix */
            if (n && again != n) {
                return err_at(e, (struct where){name, line_of_first, 1}, ERR_INPUT, "the DIMENSION of the header",
                              "the dimension in front of the matrix is \"", shown(&r, first), "\"", (char *)0);
            }
            n = again;
            word(&r, &at);
        }
    }
    if (n < 2 || n > SOP_MOST) {
        return err_at(e, r.at, ERR_INPUT, "2 to 256 nodes", "the number of nodes is not said or out of range",
                      (char *)0);
    }
    *p = sop_new(a, (size_t)n);
    return read_matrix(&r, p);
}
