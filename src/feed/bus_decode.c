/* Frames in, events out: takes J1939 frames apart, has long messages put together, and tells the sink what a message
 * says. It keeps nothing of what it has told. */
#include "bus_internal.h"

#include <math.h>
#include <string.h>

#define INTERFACES_MOST 16
#define FAULTS_MOST ((BUS_TRANSPORT_MOST - 2) / 4)

struct bus_decoder {
    struct arena *a;
    const struct bus_table *table;
    struct bus_sink sink;
    struct bus_transport transport;
    struct str interfaces[INTERFACES_MOST];
    size_t n_interfaces;
    int64_t now_us;
};

/* Tells the readings of a message. */
static void tell_readings(const struct bus_decoder *d, const struct bus_message *m)
{
    size_t n = 0;
    const struct bus_signal *s = bus_table_group(d->table, m->pgn, &n);
    for (size_t i = 0; i < n; i++) {
        struct bus_reading r = {
            .time_us = m->time_us, .interface = m->interface, .source = m->source, .signal = &s[i], .value = NAN};
        if (!bus_signal_raw(&s[i], m->data, m->n, &r.raw)) {
            continue;
        }
        r.status = bus_signal_status(&s[i], r.raw);
        if (r.status == BUS_OK) {
            r.value = bus_signal_value(&s[i], r.raw);
        }
        d->sink.reading(d->sink.ctx, &r);
    }
}

/* Tells lamps and faults of a DM1 or DM2. A real one of six bytes is accepted; what is left after whole faults is
 * padding. */
static void tell_faults(const struct bus_decoder *d, const struct bus_message *m)
{
    if (m->n < 2) {
        return;
    }
    struct bus_fault faults[FAULTS_MOST];
    size_t n = 0;
    for (size_t at = 2; at + 4 <= m->n; at += 4) {
        const uint8_t *p = m->data + at;
        bool none = p[0] == p[1] && p[1] == p[2] && p[2] == p[3] && (p[0] == 0 || p[0] == 0xFF);
        if (!none) {
            faults[n++] = bus_fault_of(p);
        }
    }
    uint8_t on = m->data[0];
    uint8_t flash = m->data[1];
    struct bus_fault_message f = {
        .time_us = m->time_us,
        .interface = m->interface,
        .source = m->source,
        .active = m->pgn == BUS_PGN_FAULTS_ACTIVE,
        .lamps = {.protect = on & 3,
                  .amber = on >> 2 & 3,
                  .red = on >> 4 & 3,
                  .malfunction = on >> 6 & 3,
                  .protect_flash = flash & 3,
                  .amber_flash = flash >> 2 & 3,
                  .red_flash = flash >> 4 & 3,
                  .malfunction_flash = flash >> 6 & 3},
        .faults = faults,
        .n = n,
    };
    d->sink.faults(d->sink.ctx, &f);
}

/* Tells an address claim. */
static void tell_claim(const struct bus_decoder *d, const struct bus_message *m)
{
    struct bus_claim c = {
        .time_us = m->time_us, .interface = m->interface, .source = m->source, .name = bus_name_of(m->data)};
    memcpy(c.raw, m->data, sizeof c.raw);
    d->sink.claim(d->sink.ctx, &c);
}

/* Tells everything that a whole message says. */
static void tell_message(const struct bus_decoder *d, const struct bus_message *m)
{
    if (d->sink.message) {
        d->sink.message(d->sink.ctx, m);
    }
    switch (m->pgn) {
    case BUS_PGN_FAULTS_ACTIVE:
    case BUS_PGN_FAULTS_PREVIOUS:
        if (d->sink.faults) {
            tell_faults(d, m);
        }
        return;
    case BUS_PGN_ADDRESS_CLAIM:
        if (d->sink.claim && m->n == 8) {
            tell_claim(d, m);
        }
        return;
    case BUS_PGN_VEHICLE:
    case BUS_PGN_COMPONENT:
    case BUS_PGN_SOFTWARE:
        if (d->sink.identification) {
            struct bus_identification i = {.time_us = m->time_us,
                                           .interface = m->interface,
                                           .source = m->source,
                                           .pgn = m->pgn,
                                           .text = {(const char *)m->data, m->n}};
            d->sink.identification(d->sink.ctx, &i);
        }
        return;
    default:
        if (d->sink.reading) {
            tell_readings(d, m);
        }
        return;
    }
}

/* A session ended; a complete one is a message. */
static void transport_ended(void *ctx, const struct bus_transport_end *end)
{
    const struct bus_decoder *d = ctx;
    if (d->sink.transport) {
        d->sink.transport(d->sink.ctx, end);
    }
    if (end->outcome == BUS_TRANSPORT_COMPLETE) {
        struct bus_message m = {.time_us = end->time_us,
                                .interface = end->interface,
                                .pgn = end->pgn,
                                .source = end->source,
                                .destination = end->destination,
                                .transported = true,
                                .data = end->data,
                                .n = end->size};
        tell_message(d, &m);
    }
}

struct bus_decoder *bus_decoder_new(struct arena *a, const struct bus_table *table, struct bus_sink sink)
{
    struct bus_decoder *d = ARENA_NEW(a, struct bus_decoder);
    *d = (struct bus_decoder){.a = a,
                              .table = table,
                              .sink = sink,
                              .transport = {.a = a, .ended = transport_ended, .ctx = d},
                              .now_us = INT64_MIN};
    return d;
}

/* Index of an interface, new ones included; INTERFACES_MOST when there are too many. */
static size_t interface_index(struct bus_decoder *d, struct str name)
{
    for (size_t i = 0; i < d->n_interfaces; i++) {
        if (str_eq(d->interfaces[i], name)) {
            return i;
        }
    }
    if (d->n_interfaces == INTERFACES_MOST) {
        return INTERFACES_MOST;
    }
    d->interfaces[d->n_interfaces] = str_copy(d->a, name);
    return d->n_interfaces++;
}

void bus_decoder_frame(struct bus_decoder *d, const struct bus_frame *frame)
{
    d->now_us = frame->time_us;
    bus_transport_sweep(&d->transport, frame->time_us);
    if (frame->kind != BUS_FRAME_29) {
        return;
    }
    size_t interface = interface_index(d, frame->interface);
    if (interface == INTERFACES_MOST) {
        d->transport.counts.interfaces_too_many++;
        return;
    }
    struct bus_id id = bus_id_of(frame->id);
    struct bus_frame named = *frame;
    named.interface = d->interfaces[interface];
    if (id.pgn == BUS_PGN_TRANSPORT_CONTROL || id.pgn == BUS_PGN_TRANSPORT_DATA) {
        bus_transport_frame(&d->transport, interface, &id, &named);
        return;
    }
    struct bus_message m = {.time_us = frame->time_us,
                            .interface = named.interface,
                            .pgn = id.pgn,
                            .source = id.source,
                            .destination = id.destination,
                            .data = frame->data,
                            .n = frame->n};
    tell_message(d, &m);
}

void bus_decoder_end(struct bus_decoder *d)
{
    bus_transport_end(&d->transport, d->now_us);
}

struct bus_decoder_counts bus_decoder_counts(const struct bus_decoder *d)
{
    return d->transport.counts;
}
