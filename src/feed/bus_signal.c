/* One identifier, one raw value: what the bits mean.
 *
 * Identifier and NAME as in the Linux kernel's J1939 documentation and header, raw values that are not readings as in
 * J1939-71 (shared/can/J1939_RULES.md sections 1 to 3, with the sources of each). */
#include "bus_internal.h"

#include <math.h>

struct bus_id bus_id_of(uint32_t id)
{
    uint8_t format = (uint8_t)(id >> 16);
    uint8_t specific = (uint8_t)(id >> 8);
    bool directed = format < 240;
    return (struct bus_id){.priority = (uint8_t)(id >> 26 & 7),
                           .pgn = (id >> 8 & 0x3FF00) | (directed ? 0 : specific),
                           .source = (uint8_t)id,
                           .destination = directed ? specific : BUS_EVERYBODY};
}

struct bus_name bus_name_of(const uint8_t data[8])
{
    uint64_t v = 0;
    for (int i = 7; i >= 0; i--) {
        v = v << 8 | data[i];
    }
    return (struct bus_name){.identity = (uint32_t)(v & 0x1FFFFF),
                             .manufacturer = (uint16_t)(v >> 21 & 0x7FF),
                             .ecu_instance = (uint8_t)(v >> 32 & 7),
                             .function_instance = (uint8_t)(v >> 35 & 0x1F),
                             .function = (uint8_t)(v >> 40 & 0xFF),
                             .vehicle_system = (uint8_t)(v >> 49 & 0x7F),
                             .vehicle_system_instance = (uint8_t)(v >> 56 & 0xF),
                             .industry_group = (uint8_t)(v >> 60 & 7),
                             .arbitrary_capable = v >> 63 != 0};
}

const char *bus_status_text(enum bus_status status)
{
    static const char *const texts[] = {"ok", "reserved", "error", "not available"};
    return texts[status];
}

bool bus_signal_raw(const struct bus_signal *s, const uint8_t *data, size_t n, uint32_t *raw)
{
    size_t first = s->start_bit / 8u;
    size_t last = (s->start_bit + s->bits - 1u) / 8u;
    if (last >= n) {
        return false;
    }
    uint64_t v = 0; /* 32 bits span at most five bytes */
    for (size_t i = last + 1; i-- > first;) {
        v = v << 8 | data[i];
    }
    *raw = (uint32_t)(v >> s->start_bit % 8u & ((UINT64_C(1) << s->bits) - 1));
    return true;
}

/* The state a raw value is in, null when the table names none. */
static const struct bus_state *find_state(const struct bus_signal *s, uint32_t raw)
{
    for (size_t i = 0; i < s->n_states; i++) {
        if (raw >= s->states[i].low && raw <= s->states[i].high) {
            return &s->states[i];
        }
    }
    return NULL;
}

enum bus_status bus_signal_status(const struct bus_signal *s, uint32_t raw)
{
    const struct bus_state *state = find_state(s, raw);
    if (state) {
        return state->status;
    }
    if (raw >= s->not_available_low) {
        return BUS_NOT_AVAILABLE;
    }
    if (raw >= s->error_low && raw <= s->error_high) {
        return BUS_ERROR;
    }
    return raw <= s->valid_max ? BUS_OK : BUS_RESERVED;
}

double bus_signal_value(const struct bus_signal *s, uint32_t raw)
{
    if (s->discrete) {
        return raw;
    }
    /* Both terms are whole, and below 2^53 for every row of the built-in table: the division rounds once, to the double
     * that is nearest to the decimal value. */
    static const double power[] = {1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12};
    return ((double)raw * (double)s->scale + (double)s->offset) / power[s->places];
}

const char *bus_signal_state(const struct bus_signal *s, uint32_t raw)
{
    const struct bus_state *state = find_state(s, raw);
    return state ? state->text : "";
}

struct bus_fault bus_fault_of(const uint8_t data[4])
{
    return (struct bus_fault){.spn = data[0] | (uint32_t)data[1] << 8 | (uint32_t)(data[2] >> 5) << 16,
                              .failure_mode = data[2] & 0x1F,
                              .occurrences = data[3] & 0x7F,
                              .conversion_method = data[3] >> 7 != 0,
                              .raw = {data[0], data[1], data[2], data[3]}};
}

void bus_fault_candidates(const struct bus_fault *f, uint32_t spn_candidates[3])
{
    uint32_t low = f->raw[2] >> 5;
    spn_candidates[0] = (uint32_t)f->raw[0] << 11 | (uint32_t)f->raw[1] << 3 | low;
    spn_candidates[1] = (uint32_t)f->raw[1] << 11 | (uint32_t)f->raw[0] << 3 | low;
    spn_candidates[2] = f->raw[0] | (uint32_t)f->raw[1] << 8 | low << 16;
}

/* Index of the first signal whose pgn is at least that. */
static size_t lower_bound(const struct bus_table *t, uint32_t pgn)
{
    size_t low = 0;
    size_t high = t->n;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (t->at[middle].pgn < pgn) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

const struct bus_signal *bus_table_group(const struct bus_table *t, uint32_t pgn, size_t *n)
{
    size_t first = lower_bound(t, pgn);
    size_t end = first;
    while (end < t->n && t->at[end].pgn == pgn) {
        end++;
    }
    *n = end - first;
    return *n > 0 ? &t->at[first] : NULL;
}

const struct bus_signal *bus_table_spn(const struct bus_table *t, uint32_t spn)
{
    for (size_t i = 0; i < t->n; i++) {
        if (t->at[i].spn == spn) {
            return &t->at[i];
        }
    }
    return NULL;
}
