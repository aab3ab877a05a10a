/* Quantities, ranges and intervals from any bytes: no crash, and what was read prints and reads again. */
#include "quantity/quantity.h"

#include <math.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct str s = {(const char *)data, size};
    struct quantity q = {0};
    struct quantity_range r = {0};
    struct interval i = {0};
    struct err e = err_new(&a);
    if (quantity_parse(s, &q, &e) && (!isfinite(q.value) || (q.unit && unit_find(str_of(q.unit->shown)) != q.unit))) {
        abort();
    }
    struct err e_range = err_new(&a);
    if (range_parse(s, &r, &e_range) && !(r.low <= r.high)) {
        abort();
    }
    struct err e_interval = err_new(&a);
    if (interval_parse(s, &i, &e_interval)) {
        struct text t = text_new(&a);
        text_interval(&t, i);
        struct interval back = {0};
        struct err e_back = err_new(&a);
        /* Hours below what two decimals show print as 0 h, which is refused: nothing else may be. */
        if (!interval_parse(text_str(&t), &back, &e_back) && !(i.hours > 0 && i.hours < 0.005)) {
            abort();
        }
    }
    unit_nearest(s);
    arena_free(&a);
    return 0;
}
