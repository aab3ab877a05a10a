/* Collecting findings, each once, with the source line it is about. */
#include "bookfile_internal.h"

#include <stdarg.h>

#define EXCERPT_COLUMNS 1000
#define EXCERPT_AFTER 400 /* bytes past the place, at least */

struct finds finds_new(const struct source *s, struct arena *a)
{
    return (struct finds){.a = a, .source = s, .seen = map_new(a)};
}

const char *rule_word(enum bookfile_rule rule)
{
    static const char *const rules[] = {
#define X(symbol, word, line) [symbol] = (word),
        BOOKFILE_RULES(X)
#undef X
    };
    return rules[rule];
}

const char *words(struct arena *a, const char *first, ...)
{
    struct text t = text_new(a);
    va_list pieces;
    va_start(pieces, first);
    for (const char *z = first; z; z = va_arg(pieces, const char *)) {
        text_addz(&t, z);
    }
    va_end(pieces);
    return text_z(&t);
}

/* Counts the class of machines that is looked at, once per class. */
static void count_class(struct finds *f, struct held *h)
{
    if (h->n_classes == 0) {
        h->first_class = f->class_now;
    }
    if (h->n_classes == 0 || h->last_class != f->class_now) {
        h->n_classes++;
        h->last_class = f->class_now;
    }
}

/* Keeps a finding that is not there yet; counts the class of machines for which it holds. */
static void keep(struct finds *f, struct diag d)
{
    struct text t = text_new(f->a);
    text_int(&t, d.where.line);
    text_char(&t, ':');
    text_int(&t, d.where.column);
    text_join(&t, ":", d.rule, ":", (char *)0);
    text_add(&t, d.what);
    int64_t at = 0;
    if (!map_get(&f->seen, text_str(&t), &at)) {
        at = (int64_t)f->n;
        map_put(&f->seen, text_str(&t), at);
        ARENA_PUSH(f->a, f->at, f->n, f->cap) = (struct held){.diag = d};
        f->errors += d.level == DIAG_ERROR;
    }
    count_class(f, &f->at[at]);
}

/* The source line, cut where it goes on too long; nothing when the place itself is far out in a line without end. */
static struct str excerpt_of(const struct source *s, struct book_pos pos)
{
    struct str line = source_line(s, pos.line);
    size_t most = pos.column * 4U + EXCERPT_AFTER;
    if (pos.column > EXCERPT_COLUMNS) {
        return S("");
    }
    while (line.n > most && ((unsigned char)line.p[most] & 0xc0) == 0x80) {
        most++; /* not within a character */
    }
    return str_cut(line, 0, most);
}

/* Joins the pieces and keeps the finding. */
static void add(struct finds *f, enum diag_level level, struct book_pos pos, enum bookfile_rule rule, const char *right,
                const char *first, va_list pieces)
{
    struct text t = text_new(f->a);
    for (const char *z = first; z; z = va_arg(pieces, const char *)) {
        text_addz(&t, z);
    }
    keep(f, (struct diag){
                .level = level,
                .where = {f->source->name, pos.line, pos.column},
                .rule = rule_word(rule),
                .what = text_str(&t),
                .right = right ? str_copy(f->a, str_of(right)) : S(""),
                .excerpt = excerpt_of(f->source, pos),
            });
}

bool find(struct finds *f, struct book_pos pos, enum bookfile_rule rule, const char *right, const char *what, ...)
{
    va_list pieces;
    va_start(pieces, what);
    add(f, DIAG_ERROR, pos, rule, right, what, pieces);
    va_end(pieces);
    return false;
}

bool find_level(struct finds *f, enum diag_level level, struct book_pos pos, enum bookfile_rule rule, const char *right,
                const char *what, ...)
{
    va_list pieces;
    va_start(pieces, what);
    add(f, level, pos, rule, right, what, pieces);
    va_end(pieces);
    return false;
}
