/* Recordings from any bytes, candump or ASC: no crash, every line counted once, and reading again proposes the same. */
#include "feed_bus.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 20);
    struct err e = err_new(&a);
    struct str text = {(const char *)data, size};
    struct feed_bus_options o = {.name = S("fuzz"), .started_at = INSTANT_NONE, .now = INSTANT_NONE};
    struct feed_bus_result r;
    struct feed_bus_result again;
    if (feed_bus_read(&a, text, &o, &r, &d, &e)) {
        uint64_t frames = 0;
        for (int i = 0; i < BUS_FRAME_KINDS; i++) {
            frames += r.summary->frames[i];
        }
        if (frames + r.malformed + r.other != r.lines || !feed_bus_read(&a, text, &o, &again, &d, &e) ||
            again.n_proposals != r.n_proposals) {
            abort();
        }
        for (size_t i = 0; i < r.n_proposals; i++) {
            if (!str_eq(r.proposals[i].import_key, again.proposals[i].import_key)) {
                abort();
            }
        }
        struct text t = text_new(&a);
        struct json j = json_new(&t, false);
        bus_summary_json(&j, r.summary);
    }
    struct text t = text_new(&a);
    for (size_t i = 0; i < d.n; i++) {
        diag_print(&t, &d.at[i]);
    }
    arena_free(&a);
    return 0;
}
