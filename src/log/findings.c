/* Findings of verify and import: their words, and the list. */
#include "log_internal.h"

#include "base/json.h"

const char *finding_word(enum finding_kind kind)
{
    static const char *const words[] = {
#define X(symbol, word, level) [symbol] = (word),
        FINDING_KINDS(X)
#undef X
    };
    return words[kind];
}

enum diag_level finding_level(enum finding_kind kind)
{
    static const enum diag_level levels[] = {
#define X(symbol, word, level) [symbol] = (level),
        FINDING_KINDS(X)
#undef X
    };
    return levels[kind];
}

/* The joined pieces. */
static struct str joined(struct arena *a, const char *first, va_list pieces)
{
    struct text t = text_new(a);
    for (const char *z = first; z; z = va_arg(pieces, const char *)) {
        text_addz(&t, z);
    }
    return text_str(&t);
}

void findings_add(struct findings *f, struct finding one, const char *what, ...)
{
    va_list pieces;
    va_start(pieces, what);
    one.what = joined(f->a, what, pieces);
    va_end(pieces);
    f->errors += finding_level(one.kind) == DIAG_ERROR;
    ARENA_PUSH(f->a, f->at, f->n, f->cap) = one;
}

struct finding finding_of_entry(enum finding_kind kind, const struct entry *entry)
{
    return (struct finding){.kind = kind,
                            .id = entry->id,
                            .writer = entry->writer,
                            .seq = entry->seq,
                            .seq_to = entry->seq,
                            .hash = entry->hash};
}

/* Whether any byte is set. */
static bool is_set(const uint8_t *p, size_t n)
{
    uint8_t any = 0;
    for (size_t i = 0; i < n; i++) {
        any |= p[i];
    }
    return any != 0;
}

void text_findings(struct text *t, const struct findings *f)
{
    struct json j = json_new(t, false);
    json_begin_array(&j, NULL);
    for (size_t i = 0; i < f->n; i++) {
        const struct finding *one = &f->at[i];
        json_begin_object(&j, NULL);
        json_strz(&j, "finding", finding_word(one->kind));
        json_strz(&j, "level", diag_level_text(finding_level(one->kind)));
        if (is_set(one->id.b, sizeof one->id.b)) {
            json_str(&j, "id", id_str(t->a, one->id));
        }
        if (is_set(one->writer.b, sizeof one->writer.b)) {
            json_str(&j, "writer", hash_str(t->a, one->writer));
        }
        if (one->seq) {
            json_int(&j, "seq", one->seq);
            json_int(&j, "seq_to", one->seq_to);
        }
        if (is_set(one->hash.b, sizeof one->hash.b)) {
            json_str(&j, "hash", hash_str(t->a, one->hash));
        }
        json_str(&j, "what", one->what);
        json_end_object(&j);
    }
    json_end_array(&j);
}
