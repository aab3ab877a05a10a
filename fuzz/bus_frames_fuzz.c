/* The decoder from any frames: 16 bytes make one (3 of time since the last, 4 of identifier, 1 of length and interface,
 * 8 of data). No crash, and a session ends once. */
#include "feed_bus.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct frames {
    const uint8_t *p;
    size_t n;
    int64_t now_us;
};

static bool next_frame(void *ctx, struct bus_frame *f)
{
    struct frames *s = ctx;
    if (s->n < 16) {
        return false;
    }
    const uint8_t *p = s->p;
    s->now_us += p[0] | p[1] << 8 | p[2] << 16;
    *f = (struct bus_frame){.time_us = s->now_us,
                            .interface = p[7] & 0x10 ? S("can1") : S("can0"),
                            .id =
                                (p[3] | (uint32_t)p[4] << 8 | (uint32_t)p[5] << 16 | (uint32_t)p[6] << 24) & 0x1FFFFFFF,
                            .n = (uint8_t)((p[7] & 0xF) > 8 ? 8 : p[7] & 0xF)};
    memcpy(f->data, p + 8, 8);
    s->p += 16;
    s->n -= 16;
    return true;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct frames frames = {data, size, 0};
    struct bus_summary *s = bus_summarise(&a, &bus_table_builtin, (struct bus_source){next_frame, &frames});
    uint64_t ended = 0;
    for (int i = 0; i < BUS_TRANSPORT_OUTCOMES; i++) {
        ended += s->transports[i];
    }
    if (ended < s->n_ended || s->frames[BUS_FRAME_29] != size / 16) {
        abort();
    }
    arena_free(&a);
    return 0;
}
