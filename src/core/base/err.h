/* What goes wrong, said so that it can be put right.
 *
 * A function that can fail returns false (or null) and fills the struct err that its caller handed in, once, where
 * the cause is known. It says where in the input, what is wrong with the offending text, and what would be right.
 * Callers may put a context in front; they never replace it. "Not found" or "not judged" is an answer, not an error.
 *
 * A checker that reports everything collects struct diag in a struct diags.
 */
#ifndef WITMARK_BASE_ERR_H
#define WITMARK_BASE_ERR_H

#include "base/arena.h"
#include "base/text.h"

#include <stdbool.h>

/* Kinds of failure; each has one exit status and one HTTP status, decided in cli and web. */
#define ERR_KINDS(X)                                                                          \
    X(ERR_NONE, "none")         /* all is well */                                             \
    X(ERR_INPUT, "input")       /* the text or file handed in is wrong */                     \
    X(ERR_USAGE, "usage")       /* the call's words are wrong */                              \
    X(ERR_DOMAIN, "domain")     /* a value is outside the range in which the formula holds */ \
    X(ERR_MISSING, "missing")   /* a named thing does not exist */                            \
    X(ERR_CONFLICT, "conflict") /* it would contradict what is already there */               \
    X(ERR_REFUSED, "refused")   /* a rule that does not bend forbids it */                    \
    X(ERR_SYSTEM, "system")     /* file, disk, network, library */                            \
    X(ERR_BUSY, "busy")         /* somebody else holds it; try again */                       \
    X(ERR_INTERNAL, "internal") /* our own mistake */

enum err_kind {
#define X(symbol, text) symbol,
    ERR_KINDS(X)
#undef X
};

/* Where in an input: name of the file or entry, line and column from 1; 0 = not known. */
struct where {
    struct str name;
    uint32_t line;
    uint32_t column;
};

struct err {
    struct arena *a; /* where its texts live; set by err_new */
    enum err_kind kind;
    struct where where;
    struct str what;  /* what is wrong, with the offending text */
    struct str right; /* what would be right; may be empty */
};

struct err err_new(struct arena *a);

/* Fill e and return false. The pieces after `what` are joined to it, ended by a null pointer. The first failure stays:
 * a second call leaves e as it is. `right` may be null. */
bool err_set(struct err *e, enum err_kind kind, const char *right, const char *what, ...);
bool err_at(struct err *e, struct where where, enum err_kind kind, const char *right, const char *what, ...);
#ifdef __clang_analyzer__ /* it looks at one file at a time and could not know what they return */
static inline bool err_false(bool returned)
{
    (void)returned;
    return false;
}
#define err_set(...) err_false(err_set(__VA_ARGS__))
#define err_at(...) err_false(err_at(__VA_ARGS__))
#endif

/* Puts "context: " in front of what is wrong. Returns false. */
bool err_context(struct err *e, struct str context);

/* "name:line:column: what; right" as one line, without the parts that are not known. */
struct str err_text(struct arena *a, const struct err *e);

const char *err_kind_text(enum err_kind kind);

enum diag_level { DIAG_ERROR, DIAG_DOUBT, DIAG_HINT };

/* One finding of a checker. */
struct diag {
    enum diag_level level;
    struct where where;
    const char *rule; /* short stable word of the rule, e.g. "unknown-key" */
    struct str what;
    struct str right;
    struct str excerpt; /* the source line, without its end; may be empty */
};

/* All findings, in the order found; past `most` they are only counted. */
struct diags {
    struct arena *a;
    struct diag *at;
    size_t n, cap;
    size_t most;
    size_t left_out;
    size_t errors; /* how many of all have DIAG_ERROR */
};

struct diags diags_new(struct arena *a, size_t most);
void diags_add(struct diags *d, struct diag finding);
/* Sorts by name, line, column; findings of one place keep their order. */
void diags_sort(struct diags *d);
/* A finding as people read it: "file:3:9: error: what [rule]", the source line, a caret under the column (counted in
 * code points, tabs kept), and "right: ..." - each on a line of its own, ended by a line feed. */
void diag_print(struct text *t, const struct diag *d);
const char *diag_level_text(enum diag_level level);

#endif
