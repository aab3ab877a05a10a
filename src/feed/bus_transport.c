/* Messages of 9 to 1785 bytes that come in packets of seven (J1939-21): broadcasts (BAM) and directed sessions (RTS,
 * CTS, data, acknowledgement) overheard by a listener that answers nothing.
 *
 * Invariants
 *   1. at most one open session for an (interface, source, destination);
 *   2. a session has fewer packets than it needs: the last one completes it and it is gone;
 *   3. times only decide whether a session is over, never the order of packets: frames come in the order of the source.
 *
 * Rules and time-outs: shared/can/J1939_RULES.md section 4, after AgIsoStack-plus-plus and python-can-j1939. */
#include "bus_internal.h"

#include <string.h>

#define CONTROL_RTS 16
#define CONTROL_CTS 17
#define CONTROL_ACKNOWLEDGE 19
#define CONTROL_BAM 32
#define CONTROL_ABORT 255

#define T1_US 750000  /* between the packets of a block or broadcast */
#define T2_US 1250000 /* from CTS to the first packet */
#define T3_US 1250000 /* from the last packet of a block (or RTS) to the next CTS */
#define T4_US 1050000 /* after a CTS that holds the sender */

const char *bus_transport_text(enum bus_transport_outcome outcome)
{
    static const char *const texts[BUS_TRANSPORT_OUTCOMES] = {
        "complete", "packet missing or out of order",     "time-out",  "replaced by a new one",
        "aborted",  "acknowledged, but packets not seen", "log ended", "too many at once"};
    return texts[outcome];
}

/* Takes session i out and tells how it ended. */
static void finish(struct bus_transport *t, size_t i, int64_t time_us, enum bus_transport_outcome outcome)
{
    struct bus_session *s = t->open[i];
    t->open[i] = t->open[--t->n_open];
    struct bus_transport_end end = {.time_us = time_us,
                                    .interface = s->interface_name,
                                    .pgn = s->pgn,
                                    .source = s->source,
                                    .destination = s->destination,
                                    .directed = s->directed,
                                    .size = s->size,
                                    .packets = s->got,
                                    .packets_of = s->packets,
                                    .outcome = outcome,
                                    .data = s->data};
    t->ended(t->ctx, &end);
    ARENA_PUSH(t->a, t->spare, t->n_spare, t->cap_spare) = s;
}

/* Index of the session, or n_open. */
static size_t find(const struct bus_transport *t, size_t interface, uint8_t source, uint8_t destination)
{
    size_t i = 0;
    while (i < t->n_open && !(t->open[i]->interface == interface && t->open[i]->source == source &&
                              t->open[i]->destination == destination)) {
        i++;
    }
    return i;
}

/* The group number of a control message; its low byte means nothing in a directed group. */
static uint32_t pgn_of(const uint8_t *d)
{
    uint32_t pgn = d[5] | (uint32_t)d[6] << 8 | (uint32_t)(d[7] & 3) << 16;
    return d[6] < 240 ? pgn & 0x3FF00 : pgn;
}

/* Index of the session that was silent for longest. */
static size_t stalest(const struct bus_transport *t)
{
    size_t oldest = 0;
    for (size_t i = 1; i < t->n_open; i++) {
        oldest = t->open[i]->last_us < t->open[oldest]->last_us ? i : oldest;
    }
    return oldest;
}

/* BAM or RTS: begins a session, ending the one it replaces. */
static void announce(struct bus_transport *t, size_t interface, const struct bus_id *id, const struct bus_frame *f)
{
    const uint8_t *d = f->data;
    bool directed = d[0] == CONTROL_RTS;
    unsigned size = d[1] | (unsigned)d[2] << 8;
    size_t old = find(t, interface, id->source, id->destination);
    if (old < t->n_open) {
        finish(t, old, f->time_us, BUS_TRANSPORT_REPLACED);
    }
    if (size < 9 || size > BUS_TRANSPORT_MOST || d[3] != (size + 6) / 7 ||
        directed == (id->destination == BUS_EVERYBODY)) {
        t->counts.announcements_invalid++;
        return;
    }
    if (t->n_open == BUS_SESSIONS_MOST) {
        finish(t, stalest(t), f->time_us, BUS_TRANSPORT_CROWDED);
    }
    struct bus_session *s = t->n_spare > 0 ? t->spare[--t->n_spare] : ARENA_NEW(t->a, struct bus_session);
    *s = (struct bus_session){.last_us = f->time_us,
                              .wait_us = directed ? T3_US : T1_US,
                              .interface = interface,
                              .interface_name = f->interface,
                              .pgn = pgn_of(d),
                              .source = id->source,
                              .destination = id->destination,
                              .directed = directed,
                              .size = (uint16_t)size,
                              .packets = d[3]};
    ARENA_PUSH(t->a, t->open, t->n_open, t->cap_open) = s;
}

/* CTS or acknowledgement from the receiver of the data. */
static void answer(struct bus_transport *t, size_t interface, const struct bus_id *id, const struct bus_frame *f)
{
    const uint8_t *d = f->data;
    size_t i = find(t, interface, id->destination, id->source);
    if (i == t->n_open || !t->open[i]->directed || t->open[i]->pgn != pgn_of(d)) {
        return;
    }
    struct bus_session *s = t->open[i];
    if (d[0] == CONTROL_ACKNOWLEDGE) {
        finish(t, i, f->time_us, BUS_TRANSPORT_UNSEEN); /* a complete one would be gone */
        return;
    }
    s->last_us = f->time_us;
    s->cts_seen = true;
    s->wait_us = d[1] == 0 ? T4_US : T2_US;
    s->block_end = d[1] == 0 ? s->block_end : (uint8_t)(d[2] + d[1] - 1 > s->packets ? s->packets : d[2] + d[1] - 1);
}

/* Either side gives up; which of them shows only in the pgn. */
static void give_up(struct bus_transport *t, size_t interface, const struct bus_id *id, const struct bus_frame *f)
{
    uint32_t pgn = pgn_of(f->data);
    for (int way = 0; way < 2; way++) {
        size_t i = way == 0 ? find(t, interface, id->source, id->destination)
                            : find(t, interface, id->destination, id->source);
        if (i < t->n_open && t->open[i]->directed && t->open[i]->pgn == pgn) {
            finish(t, i, f->time_us, BUS_TRANSPORT_ABORTED);
        }
    }
}

/* A packet of data. */
static void packet(struct bus_transport *t, size_t interface, const struct bus_id *id, const struct bus_frame *f)
{
    size_t i = find(t, interface, id->source, id->destination);
    if (i == t->n_open) {
        t->counts.data_without_session++;
        return;
    }
    struct bus_session *s = t->open[i];
    unsigned number = f->n > 0 ? f->data[0] : 0;
    size_t from = number > 0 ? (number - 1) * 7u : 0;
    size_t wanted = number > 0 && from < s->size ? (s->size - from < 7 ? s->size - from : 7) : 0;
    if (number == 0 || number > s->packets || f->n < 1 + wanted || (!s->directed && number != s->got + 1u)) {
        if (!s->directed) {
            finish(t, i, f->time_us, BUS_TRANSPORT_GAP); /* a broadcast is not repaired */
        }
        return; /* a directed one may be asked for again */
    }
    s->last_us = f->time_us;
    s->wait_us = s->directed && (!s->cts_seen || number == s->block_end) ? T3_US : T1_US;
    if (s->have[number / 8] >> number % 8 & 1) {
        return; /* a block sent again */
    }
    s->have[number / 8] = (uint8_t)(s->have[number / 8] | 1u << number % 8);
    memcpy(s->data + from, f->data + 1, wanted);
    if (++s->got == s->packets) {
        finish(t, i, f->time_us, BUS_TRANSPORT_COMPLETE);
    }
}

void bus_transport_frame(struct bus_transport *t, size_t interface, const struct bus_id *id,
                         const struct bus_frame *frame)
{
    if (id->pgn == BUS_PGN_TRANSPORT_DATA) {
        packet(t, interface, id, frame);
        return;
    }
    if (frame->n < 8) {
        t->counts.announcements_invalid++;
        return;
    }
    switch (frame->data[0]) {
    case CONTROL_RTS:
    case CONTROL_BAM:
        announce(t, interface, id, frame);
        break;
    case CONTROL_CTS:
    case CONTROL_ACKNOWLEDGE:
        answer(t, interface, id, frame);
        break;
    case CONTROL_ABORT:
        give_up(t, interface, id, frame);
        break;
    default: /* a control byte of a later standard */
        break;
    }
}

void bus_transport_sweep(struct bus_transport *t, int64_t now_us)
{
    for (size_t i = 0; i < t->n_open;) {
        const struct bus_session *s = t->open[i];
        if (now_us - s->last_us > s->wait_us) {
            finish(t, i, s->last_us + s->wait_us, BUS_TRANSPORT_TIMEOUT);
        } else {
            i++;
        }
    }
}

void bus_transport_end(struct bus_transport *t, int64_t now_us)
{
    while (t->n_open > 0) {
        finish(t, 0, now_us, BUS_TRANSPORT_LOG_ENDED);
    }
}
