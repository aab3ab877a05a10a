/* Errors and findings: filling, ordering, printing. */
#include "base/err.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

struct err err_new(struct arena *a)
{
    return (struct err){.a = a};
}

/* The joined pieces, in e's arena. */
static struct str joined(struct arena *a, const char *first, va_list pieces)
{
    struct text t = text_new(a);
    for (const char *z = first; z; z = va_arg(pieces, const char *)) {
        text_addz(&t, z);
    }
    return text_str(&t);
}

bool(err_set)(struct err *e, enum err_kind kind, const char *right, const char *what, ...)
{
    if (e->kind != ERR_NONE) {
        return false;
    }
    va_list pieces;
    va_start(pieces, what);
    e->kind = kind;
    e->what = joined(e->a, what, pieces);
    e->right = right ? str_copy(e->a, str_of(right)) : S("");
    va_end(pieces);
    return false;
}

bool(err_at)(struct err *e, struct where where, enum err_kind kind, const char *right, const char *what, ...)
{
    if (e->kind != ERR_NONE) {
        return false;
    }
    va_list pieces;
    va_start(pieces, what);
    e->kind = kind;
    e->where = where;
    e->where.name = str_copy(e->a, where.name);
    e->what = joined(e->a, what, pieces);
    e->right = right ? str_copy(e->a, str_of(right)) : S("");
    va_end(pieces);
    return false;
}

bool err_context(struct err *e, struct str context)
{
    struct text t = text_new(e->a);
    text_add(&t, context);
    text_addz(&t, ": ");
    text_add(&t, e->what);
    e->what = text_str(&t);
    return false;
}

/* "name:line:column: " without the parts that are not known. */
static void add_where(struct text *t, const struct where *where)
{
    if (where->name.n == 0 && where->line == 0) {
        return;
    }
    text_add(t, where->name);
    if (where->line) {
        text_addz(t, where->name.n ? ":" : "line ");
        text_int(t, where->line);
        if (where->column) {
            text_char(t, ':');
            text_int(t, where->column);
        }
    }
    text_addz(t, ": ");
}

struct str err_text(struct arena *a, const struct err *e)
{
    struct text t = text_new(a);
    add_where(&t, &e->where);
    text_add(&t, e->what);
    if (e->right.n) {
        text_addz(&t, "; ");
        text_add(&t, e->right);
    }
    return text_str(&t);
}

const char *err_kind_text(enum err_kind kind)
{
    static const char *const names[] = {
#define X(symbol, text) [symbol] = (text),
        ERR_KINDS(X)
#undef X
    };
    return names[kind];
}

const char *diag_level_text(enum diag_level level)
{
    static const char *const names[] = {[DIAG_ERROR] = "error", [DIAG_DOUBT] = "doubtful", [DIAG_HINT] = "hint"};
    return names[level];
}

struct diags diags_new(struct arena *a, size_t most)
{
    return (struct diags){.a = a, .most = most};
}

void diags_add(struct diags *d, struct diag finding)
{
    if (finding.level == DIAG_ERROR) {
        d->errors++;
    }
    if (d->n >= d->most) {
        d->left_out++;
        return;
    }
    ARENA_PUSH(d->a, d->at, d->n, d->cap) = finding;
}

static int by_place(const struct diag *a, const struct diag *b)
{
    int c = str_cmp(a->where.name, b->where.name);
    if (c != 0) {
        return c;
    }
    if (a->where.line != b->where.line) {
        return a->where.line < b->where.line ? -1 : 1;
    }
    if (a->where.column != b->where.column) {
        return a->where.column < b->where.column ? -1 : 1;
    }
    return 0;
}

/* Merge sort: stable, and n log n also for a book that is wrong everywhere. */
static void merge_sort(struct diag *at, struct diag *spare, size_t n)
{
    if (n < 2) {
        return;
    }
    size_t half = n / 2;
    merge_sort(at, spare, half);
    merge_sort(at + half, spare, n - half);
    memcpy(spare, at, half * sizeof *at);
    size_t i = 0;
    size_t j = half;
    for (size_t k = 0; i < half; k++) {
        at[k] = j < n && by_place(&at[j], &spare[i]) < 0 ? at[j++] : spare[i++];
    }
}

void diags_sort(struct diags *d)
{
    merge_sort(d->at, ARENA_ARRAY(d->a, struct diag, d->n), d->n);
}

#define SHOWN_MOST 400 /* bytes of a line or message */

void diag_print(struct text *t, const struct diag *d)
{
    add_where(t, &d->where);
    text_join(t, diag_level_text(d->level), ": ", (char *)0);
    text_shown(t, d->what, SHOWN_MOST);
    text_join(t, " [", d->rule, "]\n", (char *)0);
    if (d->excerpt.n) {
        text_addz(t, "    ");
        text_shown(t, d->excerpt, SHOWN_MOST);
        text_addz(t, "\n    ");
        /* Blanks of the same width as the text before the column: a tab stays a tab. */
        size_t column = 1;
        for (size_t i = 0; i < d->excerpt.n && i < SHOWN_MOST && column < d->where.column; i++) {
            char c = d->excerpt.p[i];
            if (((unsigned char)c & 0xc0) == 0x80) {
                continue;
            }
            text_char(t, c == '\t' ? '\t' : ' ');
            column++;
        }
        text_addz(t, "^\n");
    }
    if (d->right.n) {
        text_addz(t, "    right: ");
        text_add(t, d->right);
        text_char(t, '\n');
    }
}
