/* Lines of an export, as depot_import reads them: whatever comes, nothing but a refusal with its place, or a whole
 * import. */
#include "log.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* One depot in memory for all inputs: every import is a dry run, so that none sees what another left. */
static struct depot *depot_for_all(void)
{
    static struct depot *d;
    static struct world_seeded world;
    if (!d) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        world = world_seeded_new(1, 1772438400000);
        struct depot_options options = depot_options_default();
        options.world = world_of_seeded(&world);
        if (!depot_create(":memory:", &options, &d, &e)) {
            abort();
        }
        arena_free(&a);
    }
    return d;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct import_options options = {.name = S("fuzz"), .dry_run = true};
    struct import_report report;
    FILE *f = size ? fmemopen((void *)(uintptr_t)data, size, "rb") : NULL;
    if (f) {
        bool ok = depot_import(depot_for_all(), f, &options, &a, &report, &e);
        fclose(f);
        if (ok != (e.kind == ERR_NONE) || (!ok && (e.where.line == 0 || e.where.column == 0 || e.what.n == 0))) {
            abort();
        }
    }
    arena_free(&a);
    return 0;
}
