/* Spreadsheets from any bytes: no crash; what would be taken is whole; taken once, a second time adds nothing; every
 * cell written as CSV reads as the same cell. */
#include "csv_depot.h"
#include "csv_internal.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Whether the key is one that the first plan took. */
static bool is_taken(void *ctx, struct str key)
{
    return map_get(ctx, key, NULL);
}

/* Each cell survives being written and read. */
static void write_cells(struct arena *a, struct str text)
{
    struct csv_table t = csv_split(a, text, ';', 50);
    for (size_t i = 0; i < t.n_cells; i++) {
        struct text written = text_new(a);
        csv_write_field(&written, t.cells[i].text, ';');
        struct csv_table back = csv_split(a, text_str(&written), ';', SIZE_MAX);
        if (t.cells[i].text.n && (back.n_cells != 1 || !str_eq(back.cells[0].text, t.cells[i].text))) {
            abort();
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct feed_csv_input in = {.name = S("fuzz"), .bytes = {(const char *)data, size}, .today = 20000};
    in.machines = csv_depot(&a, &in.n_machines);
    in.options.dates = (enum csv_dates)(size % 4);
    in.options.decimals = (enum csv_decimals)(size / 4 % 3);
    struct err e = err_new(&a);
    const struct feed_csv_plan *plan = feed_csv_plan(&a, &in, &e);
    if (!plan && !e.what.n) {
        abort();
    }
    struct map taken = map_new(&a);
    size_t n = 0;
    for (size_t i = 0; plan && i < plan->n_proposals; i++) {
        const struct feed_csv_proposal *p = &plan->proposals[i];
        if (p->mark == FEED_CSV_REFUSED || p->mark == FEED_CSV_KNOWN) {
            continue;
        }
        n++;
        if (p->machine < 0 || p->day == DAY_NONE || !map_put(&taken, p->import_key, 1) || !str_is_utf8(p->text)) {
            abort();
        }
    }
    if (plan) {
        in.known = is_taken;
        in.ctx = &taken;
        struct err again = err_new(&a);
        const struct feed_csv_plan *second = feed_csv_plan(&a, &in, &again);
        if (!second || second->count[FEED_CSV_TAKE] + second->count[FEED_CSV_DOUBTFUL] != 0 ||
            second->count[FEED_CSV_KNOWN] < n) {
            abort();
        }
    }
    if (str_is_utf8(in.bytes)) {
        write_cells(&a, in.bytes);
    }
    arena_free(&a);
    return 0;
}
