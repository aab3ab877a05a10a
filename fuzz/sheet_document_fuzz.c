/* Any bytes as the document to print: it is read, or refused with a place; what was read has only values in range. */
#include "document.h"

#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct document d;
    bool good = document_read(&a, (struct str){(const char *)data, size}, S("fuzz"), &d, &e);
    if (good != (e.kind == ERR_NONE) || (!good && (e.where.line == 0 || e.what.n == 0))) {
        abort();
    }
    for (size_t i = 0; good && i < d.steps_n; i++) {
        const struct gauge *g = &d.steps[i].read.gauge;
        if (d.steps[i].label.n == 0 || d.steps[i].number < 1 || g->low >= g->high || d.steps[i].takes_s < 0) {
            abort();
        }
    }
    arena_free(&a);
    return 0;
}
