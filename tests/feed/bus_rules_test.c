/* Identifier, raw values, NAME, transport protocol, faults: every rule of the wire format in rows.
 *
 * Source of the rules: shared/can/J1939_RULES.md, whose sections are named at each table, with the public sources of
 * each rule. Expected values are computed by hand from them unless another source stands beside the table. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "feed_bus.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define N(rows) (sizeof(rows) / sizeof *(rows))

/* Section 1. PF below 240 names a destination; both data page bits belong to the group number. */
static void identifiers(void **state)
{
    (void)state;
    static const struct {
        uint32_t id, pgn;
        uint8_t priority, source, destination;
    } rows[] = {
        {0x0CF00400, 61444, 3, 0, 255},  /* engine controller 1 */
        {0x18FEEE00, 65262, 6, 0, 255},  /* engine temperature 1 */
        {0x18EF0600, 61184, 6, 0, 6},    /* proprietary A, to address 6 */
        {0x18EAFF00, 59904, 6, 0, 255},  /* a request to everybody */
        {0x1CEBFF2A, 60160, 7, 42, 255}, /* transport data */
        {0x00EFF917, 61184, 0, 23, 249}, /* PF 239 is the last that names a destination ... */
        {0x00F0F917, 61689, 0, 23, 255}, /* ... PF 240 the first that does not */
        {0x19FEEE00, 130798, 6, 0, 255}, /* data page 1: 0x1FEEE is not 0x0FEEE */
        {0x1AFEEE00, 196334, 6, 0, 255}, /* extended data page: 0x2FEEE */
        {0x1FFFFFFF, 262143, 7, 255, 255}, {0x00000000, 0, 0, 0, 0},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct bus_id id = bus_id_of(rows[i].id);
        assert_int_equal(id.pgn, rows[i].pgn);
        assert_int_equal(id.priority, rows[i].priority);
        assert_int_equal(id.source, rows[i].source);
        assert_int_equal(id.destination, rows[i].destination);
    }
}

/* Section 2, for lengths of 2, 4, 8, 16 and 32 bits, and the discrete exceptions. */
static void raw_values(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn, spn, raw;
        enum bus_status status;
    } rows[] = {
        {65271, 115, 0x00, BUS_OK},
        {65271, 115, 0xFA, BUS_OK},
        {65271, 115, 0xFB, BUS_RESERVED},
        {65271, 115, 0xFD, BUS_RESERVED},
        {65271, 115, 0xFE, BUS_ERROR},
        {65271, 115, 0xFF, BUS_NOT_AVAILABLE},
        {61444, 190, 0x0000, BUS_OK},
        {61444, 190, 0xFAFF, BUS_OK},
        {61444, 190, 0xFB00, BUS_RESERVED},
        {61444, 190, 0xFDFF, BUS_RESERVED},
        {61444, 190, 0xFE00, BUS_ERROR},
        {61444, 190, 0xFEFF, BUS_ERROR},
        {61444, 190, 0xFF00, BUS_NOT_AVAILABLE},
        {61444, 190, 0xFFFF, BUS_NOT_AVAILABLE},
        {65253, 247, 0xFAFFFFFF, BUS_OK},
        {65253, 247, 0xFB000000, BUS_RESERVED},
        {65253, 247, 0xFDFFFFFF, BUS_RESERVED},
        {65253, 247, 0xFE000000, BUS_ERROR},
        {65253, 247, 0xFEFFFFFF, BUS_ERROR},
        {65253, 247, 0xFF000000, BUS_NOT_AVAILABLE},
        {65279, 97, 0, BUS_OK},
        {65279, 97, 1, BUS_OK},
        {65279, 97, 2, BUS_ERROR},
        {65279, 97, 3, BUS_NOT_AVAILABLE},
        {61444, 1675, 12, BUS_OK},
        {61444, 1675, 14, BUS_ERROR},
        {61444, 1675, 15, BUS_NOT_AVAILABLE},
        {64892, 3700, 2, BUS_OK}, /* regeneration needed: no error */
        {64892, 3699, 2, BUS_RESERVED},
        {64892, 3697, 6, BUS_RESERVED},
        {64892, 3697, 4, BUS_OK},
        {64892, 3697, 7, BUS_NOT_AVAILABLE},
        {65265, 976, 17, BUS_OK},
        {65265, 976, 31, BUS_NOT_AVAILABLE},
    };
    for (size_t i = 0; i < N(rows); i++) {
        size_t n = 0;
        const struct bus_signal *s = bus_table_group(&bus_table_builtin, rows[i].pgn, &n);
        while (n > 0 && s->spn != rows[i].spn) {
            s++;
            n--;
        }
        assert_true(n > 0);
        if (bus_signal_status(s, rows[i].raw) != rows[i].status) {
            fail_msg("SPN %u raw %u: %s", rows[i].spn, rows[i].raw, bus_status_text(bus_signal_status(s, rows[i].raw)));
        }
    }
}

/* Values by the scales of the table (J1939-71 as quoted in data/j1939_signals.csv); each must be the double nearest to
 * the decimal, so the comparison is exact. */
static void values(void **state)
{
    (void)state;
    static const struct {
        uint32_t pgn;
        uint8_t data[8];
        uint32_t spn;
        double value;
    } rows[] = {
        {61444, {0xFF, 0xFF, 0xFF, 0x68, 0x13, 0xFF, 0xFF, 0xFF}, 190, 621},       /* 4968 / 8 */
        {61444, {0xFF, 0xFF, 0x7D, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 513, 0},         /* 125 - 125 */
        {65253, {0xD3, 0x8A, 0x00, 0x00, 0xFF, 0xFF, 0xFF, 0xFF}, 247, 1776.95},   /* 35539 * 0.05 */
        {65262, {0x83, 0xFF, 0xE0, 0x2E, 0xFF, 0xFF, 0xFF, 0xFF}, 110, 91},        /* 131 - 40 */
        {65262, {0x83, 0xFF, 0xE0, 0x2E, 0xFF, 0xFF, 0xFF, 0xFF}, 175, 102},       /* 12000 / 32 - 273 */
        {65263, {0xFF, 0xFF, 0xFF, 0x3C, 0xFF, 0xFF, 0xFF, 0xFF}, 100, 240},       /* 60 * 4 */
        {65271, {0xFF, 0xFF, 0xFF, 0xFF, 0xFC, 0x00, 0xFF, 0xFF}, 168, 12.6},      /* 252 * 0.05 */
        {65265, {0xFF, 0x01, 0x00, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 84, 0.00390625}, /* 1 / 256 */
        {65263, {0xFF, 0xFF, 0xFF, 0xFF, 0x00, 0x00, 0xFF, 0xFF}, 101, -250},
        {64892, {0xFF, 0xC9, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 3700, 2}, /* bits 2-3 of 1100 1001 */
    };
    for (size_t i = 0; i < N(rows); i++) {
        size_t n = 0;
        const struct bus_signal *s = bus_table_group(&bus_table_builtin, rows[i].pgn, &n);
        while (n > 0 && s->spn != rows[i].spn) {
            s++;
            n--;
        }
        uint32_t raw = 0;
        assert_true(n > 0 && bus_signal_raw(s, rows[i].data, 8, &raw));
        assert_true(bus_signal_value(s, raw) == rows[i].value);
        assert_false(bus_signal_raw(s, rows[i].data, (s->start_bit + s->bits - 1u) / 8, &raw)); /* too short */
    }
}

/* Section 3. Source of the expected fields: expected_summary.json of the tractor and the mower, checked with another
 * decoder. */
static void name_fields(void **state)
{
    (void)state;
    static const struct {
        uint8_t data[8];
        struct bus_name name;
    } rows[] = {
        {{0x56, 0xF5, 0x29, 0x04, 0x00, 0x00, 0x02, 0x20}, {652630, 33, 0, 0, 0, 1, 0, 2, false}},
        {{0xBC, 0x7B, 0x20, 0x08, 0x00, 0x00, 0x00, 0xA0}, {31676, 65, 0, 0, 0, 0, 0, 2, true}},
        {{0x4D, 0x74, 0x30, 0x04, 0x00, 0x34, 0x02, 0x20}, {1078349, 33, 0, 0, 52, 1, 0, 2, false}},
        /* by hand: every field at its most */
        {{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, {0x1FFFFF, 0x7FF, 7, 31, 255, 127, 15, 7, true}},
        /* by hand: ECU instance 5, function instance 18 = 0x95; vehicle system instance 9, industry group 3 = 0x39 */
        {{0, 0, 0, 0, 0x95, 0, 0, 0x39}, {0, 0, 5, 18, 0, 0, 9, 3, false}},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct bus_name n = bus_name_of(rows[i].data);
        const struct bus_name *w = &rows[i].name;
        assert_int_equal(n.identity, w->identity);
        assert_int_equal(n.manufacturer, w->manufacturer);
        assert_int_equal(n.ecu_instance, w->ecu_instance);
        assert_int_equal(n.function_instance, w->function_instance);
        assert_int_equal(n.function, w->function);
        assert_int_equal(n.vehicle_system, w->vehicle_system);
        assert_int_equal(n.vehicle_system_instance, w->vehicle_system_instance);
        assert_int_equal(n.industry_group, w->industry_group);
        assert_int_equal(n.arbitrary_capable, w->arbitrary_capable);
    }
}

/* ---- the decoder, told as text ---- */

static void tell_bytes(struct text *t, const uint8_t *p, size_t n)
{
    static const char digits[] = "0123456789ABCDEF";
    for (size_t i = 0; i < n; i++) {
        text_char(t, digits[p[i] >> 4]);
        text_char(t, digits[p[i] & 15]);
    }
}

/* "3.500 1>255 65259 2/2 complete ABCDEF" */
static void tell_transport(void *ctx, const struct bus_transport_end *e)
{
    struct text *t = ctx;
    text_fixed(t, (double)e->time_us / 1e6, 3);
    text_char(t, ' ');
    text_int(t, e->source);
    text_char(t, '>');
    text_int(t, e->destination);
    text_char(t, ' ');
    text_int(t, e->pgn);
    text_char(t, ' ');
    text_int(t, (int64_t)e->packets);
    text_char(t, '/');
    text_int(t, (int64_t)e->packets_of);
    text_join(t, " ", bus_transport_text(e->outcome), (char *)0);
    if (e->outcome == BUS_TRANSPORT_COMPLETE) {
        text_char(t, ' ');
        tell_bytes(t, e->data, e->size);
    }
    text_char(t, '\n');
}

/* "DM1 from 0 lamps 0 1 0 0: 100.4 x0" */
static void tell_faults(void *ctx, const struct bus_fault_message *f)
{
    struct text *t = ctx;
    text_addz(t, f->active ? "DM1 from " : "DM2 from ");
    text_int(t, f->source);
    const uint8_t lamps[] = {
        f->lamps.protect,       f->lamps.amber,       f->lamps.red,       f->lamps.malfunction,
        f->lamps.protect_flash, f->lamps.amber_flash, f->lamps.red_flash, f->lamps.malfunction_flash};
    text_addz(t, " lamps ");
    for (size_t i = 0; i < sizeof lamps; i++) {
        text_int(t, lamps[i]);
    }
    for (size_t i = 0; i < f->n; i++) {
        text_char(t, ' ');
        text_int(t, f->faults[i].spn);
        text_char(t, '.');
        text_int(t, f->faults[i].failure_mode);
        text_char(t, 'x');
        text_int(t, f->faults[i].occurrences);
        text_addz(t, f->faults[i].conversion_method ? "?" : "");
    }
    text_char(t, '\n');
}

static void tell_identification(void *ctx, const struct bus_identification *i)
{
    struct text *t = ctx;
    text_int(t, i->pgn);
    text_char(t, ' ');
    text_add(t, i->text);
    text_char(t, '\n');
}

static void tell_claim(void *ctx, const struct bus_claim *c)
{
    struct text *t = ctx;
    text_addz(t, "claim ");
    text_int(t, c->source);
    text_char(t, ' ');
    text_int(t, c->name.identity);
    text_char(t, '\n');
}

static void tell_reading(void *ctx, const struct bus_reading *r)
{
    struct text *t = ctx;
    text_int(t, r->signal->spn);
    text_join(t, " ", bus_status_text(r->status), (char *)0);
    if (r->status == BUS_OK) {
        text_char(t, ' ');
        text_number(t, r->value, 3);
    }
    text_char(t, '\n');
}

/* Frames as "ms id data" lines on can0, or "ms interface id data"; what the sink tells. */
static struct str decode(struct arena *a, const char *frames, bool readings, struct bus_decoder_counts *counts)
{
    struct text log = text_new(a);
    struct text *told = ARENA_NEW(a, struct text);
    *told = text_new(a);
    struct str rest = str_of(frames);
    struct str line = {0};
    while (str_next(&rest, '\n', &line)) {
        struct str ms = {0};
        struct str interface = S("can0");
        struct str id = {0};
        int64_t v = 0;
        str_next(&line, ' ', &ms);
        str_next(&line, ' ', &id);
        if (str_starts(id, S("can"))) {
            interface = id;
            str_next(&line, ' ', &id);
        }
        assert_true(num_parse_i64(ms, &v));
        text_addz(&log, "(");
        text_int(&log, v / 1000);
        text_char(&log, '.');
        text_zeros(&log, v % 1000, 3);
        text_addz(&log, ") ");
        text_add(&log, interface);
        text_char(&log, ' ');
        text_add(&log, id);
        text_char(&log, '#');
        text_add(&log, line);
        text_char(&log, '\n');
    }
    struct diags findings = diags_new(a, 5);
    struct err e = err_new(a);
    struct bus_recording r;
    assert_true(bus_recording_open(&r, a, S("rows"), text_str(&log), &findings, &e));
    struct bus_sink sink = {.ctx = told, .claim = tell_claim};
    if (readings) {
        sink.reading = tell_reading;
    } else {
        sink.transport = tell_transport;
        sink.faults = tell_faults;
        sink.identification = tell_identification;
    }
    struct bus_decoder *d = bus_decoder_new(a, &bus_table_builtin, sink);
    struct bus_frame f;
    while (bus_recording_next(&r, &f)) {
        bus_decoder_frame(d, &f);
    }
    bus_decoder_end(d);
    assert_int_equal(findings.n, 0);
    *counts = bus_decoder_counts(d);
    return text_str(told);
}

/* Section 4. 18ECDDSS is control, 1CEBDDSS data, DD the destination (FF: broadcast), SS the sender. */
static void transport(void **state)
{
    (void)state;
    static const struct {
        const char *name, *frames, *told;
        unsigned lost, invalid;
    } rows[] = {
        {"a broadcast of two packets; its time is that of the last packet, padding is cut",
         "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607\n100 1CEBFF01 020809FFFFFFFFFF",
         "0.100 1>255 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"two senders interleave",
         "0 18ECFF01 20090002FFD0FE00\n10 18ECFF02 20090002FFD0FE00\n50 1CEBFF02 0111121314151617\n"
         "60 1CEBFF01 0101020304050607\n100 1CEBFF01 020809FFFFFFFFFF\n110 1CEBFF02 021819FFFFFFFFFF",
         "0.100 1>255 65232 2/2 complete 010203040506070809\n0.110 2>255 65232 2/2 complete 111213141516171819\n", 0,
         0},
        {"one sender on two buses",
         "0 can0 18ECFF01 20090002FFD0FE00\n1 can1 18ECFF01 20090002FFD0FE00\n50 can1 1CEBFF01 0111121314151617\n"
         "60 can0 1CEBFF01 0101020304050607\n100 can0 1CEBFF01 020809FFFFFFFFFF\n110 can1 1CEBFF01 021819FFFFFFFFFF",
         "0.100 1>255 65232 2/2 complete 010203040506070809\n0.110 1>255 65232 2/2 complete 111213141516171819\n", 0,
         0},
        {"a sender's broadcast and its directed session at once",
         "0 18ECFF01 20090002FFD0FE00\n1 18EC0201 10090002FFD1FE00\n2 18EC0102 110201FFFFD1FE00\n"
         "50 1CEBFF01 0101020304050607\n51 1CEB0201 0111121314151617\n52 1CEB0201 021819FFFFFFFFFF\n"
         "53 18EC0102 13090002FFD1FE00\n100 1CEBFF01 020809FFFFFFFFFF",
         "0.052 1>2 65233 2/2 complete 111213141516171819\n0.100 1>255 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"a new broadcast replaces the old one",
         "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607\n80 18ECFF01 20090002FFD1FE00\n"
         "100 1CEBFF01 0111121314151617\n150 1CEBFF01 021819FFFFFFFFFF",
         "0.080 1>255 65232 1/2 replaced by a new one\n0.150 1>255 65233 2/2 complete 111213141516171819\n", 0, 0},
        {"a packet is missing: there is no repair, and what follows belongs to nothing",
         "0 18ECFF01 20100003FFD0FE00\n50 1CEBFF01 0101020304050607\n100 1CEBFF01 030F10FFFFFFFFFF\n"
         "150 1CEBFF01 0208090A0B0C0D0E",
         "0.100 1>255 65232 1/3 packet missing or out of order\n", 1, 0},
        {"a packet sent twice spoils a broadcast",
         "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607\n100 1CEBFF01 0101020304050607",
         "0.100 1>255 65232 1/2 packet missing or out of order\n", 0, 0},
        {"750 ms between packets are just in time",
         "0 18ECFF01 20090002FFD0FE00\n750 1CEBFF01 0101020304050607\n1500 1CEBFF01 020809FFFFFFFFFF",
         "1.500 1>255 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"751 ms are too long",
         "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607\n801 1CEBFF01 020809FFFFFFFFFF",
         "0.800 1>255 65232 1/2 time-out\n", 1, 0},
        {"a directed session with two blocks, overheard",
         "0 18EC0201 10160004FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n20 1CEB0201 0101020304050607\n"
         "30 1CEB0201 0208090A0B0C0D0E\n40 18EC0102 110203FFFFD0FE00\n50 1CEB0201 030F101112131415\n"
         "60 1CEB0201 0416FFFFFFFFFFFF\n70 18EC0102 13160004FFD0FE00",
         "0.060 1>2 65232 4/4 complete 0102030405060708090A0B0C0D0E0F10111213141516\n", 0, 0},
        {"a block asked for again is taken by number",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n20 1CEB0201 0101020304050607\n"
         "30 18EC0102 110201FFFFD0FE00\n40 1CEB0201 0101020304050607\n50 1CEB0201 020809FFFFFFFFFF",
         "0.050 1>2 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"a hold keeps the session for 1050 ms",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 1100FFFFFFD0FE00\n1060 18EC0102 110201FFFFD0FE00\n"
         "1070 1CEB0201 0101020304050607\n1080 1CEB0201 020809FFFFFFFFFF",
         "1.080 1>2 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"and no longer",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 1100FFFFFFD0FE00\n1061 18EC0102 110201FFFFD0FE00\n"
         "1070 1CEB0201 0101020304050607",
         "1.060 1>2 65232 0/2 time-out\n", 1, 0},
        {"1250 ms from the permission to the first packet",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n1260 1CEB0201 0101020304050607\n"
         "1270 1CEB0201 020809FFFFFFFFFF",
         "1.270 1>2 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"1251 ms are too long",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n1261 1CEB0201 0101020304050607",
         "1.260 1>2 65232 0/2 time-out\n", 1, 0},
        {"751 ms within a block are too long",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n20 1CEB0201 0101020304050607\n"
         "771 1CEB0201 020809FFFFFFFFFF",
         "0.770 1>2 65232 1/2 time-out\n", 1, 0},
        {"the receiver aborts",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 FF01FFFFFFD0FE00\n20 1CEB0201 0101020304050607",
         "0.010 1>2 65232 0/2 aborted\n", 1, 0},
        {"the sender aborts", "0 18EC0201 10090002FFD0FE00\n10 18EC0201 FF02FFFFFFD0FE00",
         "0.010 1>2 65232 0/2 aborted\n", 0, 0},
        {"an abort of another group changes nothing",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 FF01FFFFFFD1FE00\n20 18EC0102 110201FFFFD0FE00\n"
         "30 1CEB0201 0101020304050607\n40 1CEB0201 020809FFFFFFFFFF",
         "0.040 1>2 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"an acknowledgement of another group changes nothing",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n20 1CEB0201 0101020304050607\n"
         "30 18EC0102 13090002FFD1FE00\n40 1CEB0201 020809FFFFFFFFFF",
         "0.040 1>2 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"acknowledged, but the listener missed a packet",
         "0 18EC0201 10090002FFD0FE00\n10 18EC0102 110201FFFFD0FE00\n20 1CEB0201 0101020304050607\n"
         "40 18EC0102 13090002FFD0FE00",
         "0.040 1>2 65232 1/2 acknowledged, but packets not seen\n", 0, 0},
        {"a last packet without padding",
         "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607\n100 1CEBFF01 020809",
         "0.100 1>255 65232 2/2 complete 010203040506070809\n", 0, 0},
        {"a last packet that lacks a byte",
         "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607\n100 1CEBFF01 0208",
         "0.100 1>255 65232 1/2 packet missing or out of order\n", 0, 0},
        {"8 bytes need no transport", "0 18ECFF01 20080002FFD0FE00", "", 0, 1},
        {"1786 bytes are too many", "0 18ECFF01 20FA0600FFD0FE00", "", 0, 1},
        {"three packets for nine bytes", "0 18ECFF01 20090003FFD0FE00", "", 0, 1},
        {"a broadcast to one address", "0 18EC0201 20090002FFD0FE00", "", 0, 1},
        {"a request to send to everybody", "0 18ECFF01 10090002FFD0FE00", "", 0, 1},
        {"data that nobody announced", "0 1CEBFF01 0101020304050607", "", 1, 0},
        {"the recording ends", "0 18ECFF01 20090002FFD0FE00\n50 1CEBFF01 0101020304050607",
         "0.050 1>255 65232 1/2 log ended\n", 0, 0},
        {"the low byte of a directed group means nothing",
         "0 18ECFF01 20090002FF2AEF00\n50 1CEBFF01 0101020304050607\n100 1CEBFF01 020809FFFFFFFFFF",
         "0.100 1>255 61184 2/2 complete 010203040506070809\n", 0, 0},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct bus_decoder_counts counts;
        const char *told = str_z(&a, decode(&a, rows[i].frames, false, &counts));
        if (strcmp(told, rows[i].told) != 0 || counts.data_without_session != rows[i].lost ||
            counts.announcements_invalid != rows[i].invalid) {
            fail_msg("%s:\n%s (lost %u, invalid %u)", rows[i].name, told, (unsigned)counts.data_without_session,
                     (unsigned)counts.announcements_invalid);
        }
        arena_free(&a);
    }
}

/* The largest message: 255 packets, 1785 bytes. */
static void largest_message(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    struct bus_decoder_counts counts;
    text_addz(&t, "0 18ECFF01 20F906FFFFD0FE00"); /* 1785 = 0x6F9 */
    struct text expected = text_new(&a);
    text_addz(&expected, "2.550 1>255 65232 255/255 complete ");
    for (int k = 1; k <= 255; k++) {
        char line[64];
        char bytes[16];
        snprintf(bytes, sizeof bytes, "%02X%02X%02X%02X%02X%02X%02X", k, 0, 1, 2, 3, 4, 5);
        snprintf(line, sizeof line, "\n%d 1CEBFF01 %02X%s", k * 10, k, bytes);
        text_addz(&t, line);
        text_addz(&expected, bytes);
    }
    text_addz(&expected, "\n");
    assert_string_equal(str_z(&a, decode(&a, text_z(&t), false, &counts)), text_z(&expected));
    arena_free(&a);
}

/* Sections 5 and 6. 65226 is DM1, 65227 DM2. The six-byte row is the one seen on a real tractor. */
static void faults_and_texts(void **state)
{
    (void)state;
    static const struct {
        const char *frames, *told;
    } rows[] = {
        {"0 18FECA00 00FF00000000FFFF", "DM1 from 0 lamps 00003333\n"},
        {"0 18FECA00 00FFFFFFFFFFFFFF", "DM1 from 0 lamps 00003333\n"},
        {"0 1CFECA00 04FF64000400", "DM1 from 0 lamps 01003333 100.4x0\n"},
        {"0 18FECA2A 04FF6400120AFFFF", "DM1 from 42 lamps 01003333 100.18x10\n"},
        {"0 18FECB00 00FF6400127FFFFF", "DM2 from 0 lamps 00003333 100.18x127\n"},
        /* SPN 266804 = 0x41234: 34 12, 4 in the high bits; failure mode 3 */
        {"0 18FECA00 C10034128301FFFF", "DM1 from 0 lamps 10030000 266804.3x1\n"},
        {"0 18FECA00 5555FFFFFF7FFFFF", "DM1 from 0 lamps 11111111 524287.31x127\n"},
        /* the first zero entry is no fault, a set conversion method makes the number uncertain */
        {"0 18FECA00 10FF64000481FFFF", "DM1 from 0 lamps 00103333 100.4x1?\n"},
        {"0 18FECA00 10", ""},
        {"0 18FECA00 10FF", "DM1 from 0 lamps 00103333\n"},
        /* two faults: 2 + 8 bytes by transport */
        {"0 18ECFF00 200A0002FFCAFE00\n50 1CEBFF00 0104FF6400120287\n100 1CEBFF00 020E0F05FFFFFFFF",
         "0.100 0>255 65226 2/2 complete 04FF64001202870E0F05\nDM1 from 0 lamps 01003333 100.18x2 3719.15x5\n"},
        {"0 18ECFF00 20090002FFEBFE00\n50 1CEBFF00 014F562A4D312A37\n100 1CEBFF00 022A2AFFFFFFFFFF",
         "0.100 0>255 65259 2/2 complete 4F562A4D312A372A2A\n65259 OV*M1*7**\n"},
        {"0 18FEDA00 01412A", "65242 \x01"
                              "A*\n"},
        /* section 3: address 254 could not get an address; a claim of seven bytes is none */
        {"0 18EEFFFE 56F5290400000220\n1 18EEFF00 56F52904000002", "claim 254 652630\n"},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct bus_decoder_counts counts;
        assert_string_equal(str_z(&a, decode(&a, rows[i].frames, false, &counts)), rows[i].told);
        arena_free(&a);
    }
}

/* The three layouts that conversion method 1 may mean, by section 5; the bytes are 64 00 04 81 and 34 12 83 80. */
static void uncertain_numbers(void **state)
{
    (void)state;
    static const struct {
        uint8_t data[4];
        uint32_t spn[3];
    } rows[] = {
        {{0x64, 0x00, 0x04, 0x81}, {204800, 800, 100}}, /* 100 * 2048; 100 * 8 */
        {{0x34, 0x12, 0x83, 0x80}, {0x34u << 11 | 0x12u << 3 | 4, 0x12u << 11 | 0x34u << 3 | 4, 266804}},
    };
    for (size_t i = 0; i < N(rows); i++) {
        uint32_t spn[3];
        struct bus_fault f = bus_fault_of(rows[i].data);
        assert_true(f.conversion_method);
        bus_fault_candidates(&f, spn);
        assert_memory_equal(spn, rows[i].spn, sizeof spn);
    }
}

/* What is not J1939 or not in the table, and messages that end within a signal. */
static void readings(void **state)
{
    (void)state;
    static const struct {
        const char *frames, *told;
    } rows[] = {
        {"0 18FEE500 D38A0000", "247 ok 1776.95\n"},                        /* too short for SPN 249 */
        {"0 18FEE500 D38A00", ""},                                          /* too short for SPN 247 */
        {"0 19FEE500 D38A0000FFFFFFFF", ""},                                /* data page 1 is another bus's */
        {"0 5E5 D38A0000FFFFFFFF", ""},                                     /* 11 bit */
        {"0 18E0FF27 FFFFFFFFFF07FFFF", "3695 not available\n3696 ok 1\n"}, /* CM1, a directed group */
        {"0 18E00027 FFFFFFFFFF07FFFF", "3695 not available\n3696 ok 1\n"},
        {"0 18FEEF00 FFFFFFFE", "94 not available\n22 not available\n98 not available\n100 error\n"},
    };
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct bus_decoder_counts counts;
        assert_string_equal(str_z(&a, decode(&a, rows[i].frames, true, &counts)), rows[i].told);
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(identifiers),      cmocka_unit_test(raw_values),        cmocka_unit_test(values),
        cmocka_unit_test(name_fields),      cmocka_unit_test(transport),         cmocka_unit_test(largest_message),
        cmocka_unit_test(faults_and_texts), cmocka_unit_test(uncertain_numbers), cmocka_unit_test(readings),
    };
    return cmocka_run_group_tests_name("bus_rules", tests, NULL, NULL);
}
