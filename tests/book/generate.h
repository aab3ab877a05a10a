/* What is made from the table of keys, shared by the generator and the test that it was run. */
#ifndef WITMARK_TEST_GENERATE_H
#define WITMARK_TEST_GENERATE_H

#include "bookfile.h"

#include <stdio.h>
#include <string.h>

#define GENERATE_SCHEMA "books/book.schema.json"
#define GENERATE_PAGE "docs/book.md"
#define GENERATE_BEGIN "<!-- made from src/book/keys.c by book_generate: begin -->\n"
#define GENERATE_END "<!-- made from src/book/keys.c by book_generate: end -->\n"

static inline const char *generate_path(struct arena *a, const char *root, const char *file)
{
    struct text t = text_new(a);
    text_join(&t, root, "/", file, (char *)0);
    return text_z(&t);
}

/* The whole file. */
static inline bool generate_read(struct arena *a, const char *path, struct str *out)
{
    FILE *f = fopen(path, "rb");
    if (!f) {
        return false;
    }
    struct text t = text_new(a);
    char piece[4096];
    size_t n = 0;
    while ((n = fread(piece, 1, sizeof piece, f)) > 0) {
        text_add(&t, (struct str){piece, n});
    }
    *out = text_str(&t);
    return fclose(f) == 0;
}

static inline bool generate_write(const char *path, struct str s)
{
    FILE *f = fopen(path, "wb");
    if (!f) {
        return false;
    }
    bool good = fwrite(s.p, 1, s.n, f) == s.n;
    return fclose(f) == 0 && good;
}

static inline struct str generate_schema(struct arena *a)
{
    struct text t = text_new(a);
    book_schema(&t);
    return text_str(&t);
}

/* The page with its generated part made anew; empty when it has lost a mark. */
static inline struct str generate_page(struct arena *a, struct str page)
{
    ptrdiff_t begin = str_find(page, str_of(GENERATE_BEGIN));
    ptrdiff_t end = str_find(page, str_of(GENERATE_END));
    struct text t = text_new(a);
    if (begin >= 0 && end > begin) {
        text_add(&t, str_cut(page, 0, (size_t)begin));
        text_addz(&t, GENERATE_BEGIN);
        book_reference(&t);
        text_char(&t, '\n');
        text_add(&t, str_cut(page, (size_t)end, page.n));
    }
    return text_str(&t);
}

#endif
