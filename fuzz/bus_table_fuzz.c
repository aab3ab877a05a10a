/* Signal tables from any bytes: no crash, a table that is taken is sorted and decodes any message. */
#include "feed_bus.h"

#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const uint8_t message[1785] = {0x12, 0x34, 0xFE, 0xFF};
    struct arena a = arena_new(&arena_libc);
    struct diags d = diags_new(&a, 20);
    struct bus_table t = {0};
    bool ok = bus_table_extend(&a, &bus_table_builtin, S("fuzz"), (struct str){(const char *)data, size}, &t, &d);
    if (ok == (d.errors > 0)) {
        abort();
    }
    for (size_t i = 0; i < t.n; i++) {
        uint32_t raw = 0;
        if ((i > 0 && t.at[i - 1].pgn > t.at[i].pgn) || !bus_signal_raw(&t.at[i], message, sizeof message, &raw)) {
            abort();
        }
        bus_signal_status(&t.at[i], raw);
        bus_signal_value(&t.at[i], raw);
    }
    arena_free(&a);
    return 0;
}
