/* Any bytes as a book: read, checked, resolved at its first and last serial number, compared along its serial numbers.
 * What the check accepts must resolve. */
#include "bookfile.h"

#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct str text = {(const char *)data, size};
    struct diags d = diags_new(&a, 50);
    struct bookfile *bf = bookfile_read(text, S("fuzz"), &a, &d);
    if (bf) {
        const struct bookfile_head *head = bookfile_head(bf);
        struct err e = err_new(&a);
        struct book b;
        struct book_differences changes;
        bookfile_check(bf, (struct bookfile_folder){0}, &a, &d);
        bool first = bookfile_resolve(bf, head->first, (struct book_texts){0}, &a, &b, &e);
        e = err_new(&a);
        bool last = bookfile_resolve(bf, head->last, (struct book_texts){0}, &a, &b, &e);
        if (d.errors == 0 && d.left_out == 0 && !(first && last)) {
            abort();
        }
        e = err_new(&a);
        if (d.errors == 0 && bookfile_diff_serials(bf, (struct book_texts){0}, &a, &changes, &e)) {
            struct text t = text_new(&a);
            text_book_differences(&t, &changes);
        }
        struct bookfile_serial serial;
        e = err_new(&a);
        bookfile_serial_normalise(bf, text, &a, &serial, &e);
    }
    for (size_t i = 0; i < d.n; i++) {
        struct text t = text_new(&a);
        diag_print(&t, &d.at[i]);
    }
    arena_free(&a);
    return 0;
}
