/* Writes what is made from the table of keys: book_generate ROOT puts books/book.schema.json in place and replaces the
 * part of docs/book.md between its two marks. Run by hand after a change of keys.c; generated_test fails until then. */
#include "generate.h"
#include "bookfile.h"

#include <stdio.h>
#include <string.h>

int main(int argc, char **argv)
{
    if (argc != 2) {
        fputs("usage: book_generate ROOT\n", stderr);
        return 2;
    }
    struct arena a = arena_new(&arena_libc);
    const char *schema_path = generate_path(&a, argv[1], GENERATE_SCHEMA);
    const char *page_path = generate_path(&a, argv[1], GENERATE_PAGE);
    struct str page;
    bool good = generate_read(&a, page_path, &page);
    if (good) {
        struct str schema = generate_schema(&a);
        struct str made = generate_page(&a, page);
        good = made.n && generate_write(schema_path, schema) && generate_write(page_path, made);
    }
    if (!good) {
        fprintf(stderr, "book_generate: %s or %s could not be written, or has lost its marks\n", schema_path,
                page_path);
    }
    arena_free(&a);
    return good ? 0 : 1;
}
