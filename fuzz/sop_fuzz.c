/* Sequential ordering instances from any bytes: no crash, and what was read is within its ranges; small ones are
 * solved. */
#include "round/sop.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct sop p;
    if (sop_read(S("fuzz"), (struct str){(const char *)data, size}, &a, &p, &e)) {
        for (size_t i = 0; i < p.n * p.n; i++) {
            if (p.cost[i] < SOP_NEVER || p.cost[i] > SOP_MOST_COST) {
                abort();
            }
        }
        const struct sop_options few = {.most_states = 50, .most_width = 4};
        struct sop_result r;
        int64_t cost = 0;
        if (p.n <= 8 && sop_solve(&p, &few, &a, &r, &e)) {
            if (!sop_check(&p, r.order, &cost) || cost != r.cost || r.lower_bound > r.cost) {
                abort();
            }
        }
    } else if (!e.what.n || !e.where.line) {
        abort();
    }
    arena_free(&a);
    return 0;
}
