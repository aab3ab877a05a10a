/* What a recording proposes for the log. The recording is our own made-up mower (tests/data/can/make_mower.py):
 * expected values are those that were decided there, and counts follow from its times by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "feed_bus.h"
#include "quantity/quantity.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define N(rows) (sizeof(rows) / sizeof *(rows))
#define START_MS 1748858400000 /* 2025-06-02T10:00:00Z, as make_mower.py says */

/* Reads tests/data/can/NAME. */
static struct str read_data(struct arena *a, const char *name)
{
    const char *data = getenv("WITMARK_DATA");
    struct text path = text_new(a);
    text_join(&path, data ? data : "tests/data", "/can/", name, (char *)0);
    FILE *f = fopen(text_z(&path), "rb");
    assert_non_null(f);
    struct text t = text_new(a);
    char block[8192];
    size_t n = 0;
    while ((n = fread(block, 1, sizeof block, f)) > 0) {
        text_add(&t, (struct str){block, n});
    }
    fclose(f);
    return text_str(&t);
}

static const struct feed_bus_options plain = {.started_at = INSTANT_NONE, .now = INSTANT_NONE};

/* Reads a recording that is good. */
static struct feed_bus_result read_ok(struct arena *a, struct str log, const struct feed_bus_options *o)
{
    struct feed_bus_result r;
    struct diags d = diags_new(a, 10);
    struct err e = err_new(a);
    bool ok = feed_bus_read(a, log, o, &r, &d, &e);
    if (!ok) {
        fail_msg("%s", str_z(a, err_text(a, &e)));
    }
    return r;
}

/* The proposal of that kind and word, null when there is none. */
static const struct feed_proposal *find(const struct feed_bus_result *r, enum feed_proposal_kind kind, const char *what)
{
    for (size_t i = 0; i < r->n_proposals; i++) {
        if (r->proposals[i].kind == kind && str_eq(r->proposals[i].what, str_of(what))) {
            return &r->proposals[i];
        }
    }
    return NULL;
}

/* Value of a condition, NaN when it is not there. */
static double condition(const struct feed_proposal *p, const char *name)
{
    for (size_t i = 0; i < p->n_conditions; i++) {
        if (str_eq(p->conditions[i].name, str_of(name))) {
            return p->conditions[i].value;
        }
    }
    return NAN;
}

static void readings_match_the_list(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct bus_case_result result;
    bool ok = feed_bus_case(&a, S("mower"), read_data(&a, "depot_mower.log"), S("list"),
                            read_data(&a, "depot_mower.expected_signals.csv"), &result, &e);
    if (!ok) {
        fail_msg("%.*s%s", STR_ARG(result.text), str_z(&a, err_text(&a, &e)));
    }
    assert_true(result.expected > 400);
    arena_free(&a);
}

/* at, from, to in ms from the start; speed NaN = no such condition. */
static void proposals(void **state)
{
    (void)state;
    static const struct {
        enum feed_proposal_kind kind;
        const char *what;
        double value;
        const char *unit;
        int at, from, to;
        unsigned count;
        double speed_rpm;
        bool doubtful;
    } rows[] = {
        {FEED_METER, "engine-hours", 1412.35, "h", 26060, 1060, 26060, 6, 2200, false},
        {FEED_READING, "battery-voltage.stopped", 12.6, "V", 806, 6, 1606, 5, 0, false},
        {FEED_READING, "battery-voltage.cranking", 9.85, "V", 2006, 2006, 2006, 2, 190, false},
        /* steady from 4.8 s at idle, but for the change of speed from 14.2 s until two seconds after 16 s: 24 + 30 */
        {FEED_READING, "battery-voltage.charging", 14.2, "V", 18806, 4806, 29606, 54, 2200, false},
        {FEED_READING, "engine-oil-pressure.low-idle", 248, "kPa", 9205, 4805, 14005, 24, 850, false},
        {FEED_READING, "engine-oil-pressure.working-speed", 412, "kPa", 23605, 18005, 29605, 30, 2200, false},
        {FEED_READING, "coolant-temperature.highest", 78, "degC", 29020, 20, 29020, 30, 2200, false},
        {FEED_READING, "engine-oil-temperature.highest", 90.5, "degC", 29020, 20, 29020, 30, 2200, false},
        {FEED_READING, "hydraulic-oil-temperature.highest", 29, "degC", 28030, 30, 29030, 30, 2200, false},
        {FEED_READING, "fuel-temperature.highest", 31, "degC", 9070, 9070, 9070, 1, 850, true}, /* half marked faulty */
        {FEED_READING, "soot-load", 36, "%", 29050, 50, 29050, 30, 2200, false},
        {FEED_READING, "ash-load", 11, "%", 29050, 50, 29050, 30, 2200, false},
        {FEED_STATE, "burn-state", 0, "", 29040, 40, 29040, 30, NAN, false},
        {FEED_STATE, "hydraulic-filter-restricted", 1, "", 29030, 30, 29030, 30, NAN, false},
        {FEED_BURN, "burn", NAN, "", 18040, 18040, 26040, 8, NAN, false},
        /* two faults come by transport, whose second packet is 120 ms after the announcement at .6 s */
        {FEED_FAULT_SEEN, "fault.97.0", NAN, "", 12720, 12720, 19720, 8, NAN, false},
        {FEED_FAULT_CLEARED, "fault.97.0", NAN, "", 20600, 20600, 20600, 8, NAN, false},
        {FEED_FAULT_SEEN, "fault.100.1", NAN, "", 28720, 28720, 29720, 2, NAN, false},
        {FEED_FAULT_SEEN, "fault-uncertain.800.4", NAN, "", 600, 600, 29720, 30, NAN, true},
        {FEED_FAULT_STORED, "fault.110.16", NAN, "", 4115, 4115, 4115, 1, NAN, false},
        {FEED_FAULT_STORED, "fault.266804.3", NAN, "", 4115, 4115, 4115, 1, NAN, false},
    };
    struct arena a = arena_new(&arena_libc);
    struct feed_bus_result r = read_ok(&a, read_data(&a, "depot_mower.log"), &plain);
    for (size_t i = 0; i < N(rows); i++) {
        const struct feed_proposal *p = find(&r, rows[i].kind, rows[i].what);
        if (!p) {
            fail_msg("no %s %s", feed_proposal_kind_text(rows[i].kind), rows[i].what);
            break; /* for the analyser: fail_msg does not return */
        }
        double speed = condition(p, "engine speed");
        if (!(p->value == rows[i].value || (isnan(p->value) && isnan(rows[i].value))) ||
            !str_eq(p->unit, str_of(rows[i].unit)) || p->at - START_MS != rows[i].at ||
            p->from - START_MS != rows[i].from || p->to - START_MS != rows[i].to || p->count != rows[i].count ||
            !(speed == rows[i].speed_rpm || (isnan(speed) && isnan(rows[i].speed_rpm))) ||
            (p->doubt.n > 0) != rows[i].doubtful) {
            fail_msg("%s: %g %.*s at %lld from %lld to %lld, %u readings, %g rpm, doubt '%.*s'", rows[i].what, p->value,
                     STR_ARG(p->unit), (long long)(p->at - START_MS), (long long)(p->from - START_MS),
                     (long long)(p->to - START_MS), (unsigned)p->count, speed, STR_ARG(p->doubt));
        }
    }
    assert_int_equal(r.n_proposals, N(rows));
    for (size_t i = 0; i < r.n_proposals; i++) { /* whoever shows them finds every unit */
        const struct feed_proposal *p = &r.proposals[i];
        assert_true(p->unit.n == 0 || unit_find(p->unit));
        for (size_t k = 0; k < p->n_conditions; k++) {
            assert_true(p->conditions[k].unit.n == 0 || unit_find(p->conditions[k].unit));
        }
    }
    assert_int_equal(find(&r, FEED_READING, "battery-voltage.charging")->regime, FEED_RUNNING);
    assert_int_equal(find(&r, FEED_READING, "battery-voltage.stopped")->regime, FEED_STOPPED);
    assert_int_equal(find(&r, FEED_READING, "engine-oil-pressure.low-idle")->regime, FEED_LOW_IDLE);
    assert_true(str_eq(find(&r, FEED_STATE, "hydraulic-filter-restricted")->note,
                       S("hydraulic filter restriction: filter restricted")));
    const struct feed_proposal *burn = find(&r, FEED_BURN, "burn");
    assert_true(condition(burn, "soot load before") == 84 && condition(burn, "soot load after") == 36);
    assert_true(condition(burn, "duration") == 8);
    const struct feed_proposal *oil = find(&r, FEED_READING, "engine-oil-pressure.low-idle");
    /* at 9.205 s the nearest second is 9: coolant 20 + 2 * 9, oil 18 + 2.5 * 9, hydraulic oil 15 + 9 / 2 */
    assert_true(condition(oil, "coolant temperature") == 38 && condition(oil, "engine oil temperature") == 40.5 &&
                condition(oil, "hydraulic oil temperature") == 19);
    assert_true(condition(find(&r, FEED_FAULT_SEEN, "fault.97.0"), "occurrences") == 3);
    assert_true(isnan(condition(find(&r, FEED_FAULT_SEEN, "fault.100.1"), "occurrences"))); /* 127: not available */
    arena_free(&a);
}

/* The candump text as ASC, times from the first frame. */
static struct str as_asc(struct arena *a, struct str log)
{
    struct text t = text_new(a);
    struct diags d = diags_new(a, 10);
    struct err e = err_new(a);
    struct bus_recording r;
    struct bus_frame f;
    text_addz(&t, "date Mon Jun  2 12:00:00 2025\nbase hex  timestamps absolute\nno internal events logged\n");
    assert_true(bus_recording_open(&r, a, S("log"), log, &d, &e));
    while (bus_recording_next(&r, &f)) {
        char line[160];
        int64_t us = f.time_us - START_MS * 1000LL;
        int n = snprintf(line, sizeof line, "%4lld.%06lld ", (long long)(us / 1000000), (long long)(us % 1000000));
        size_t at = (size_t)n;
        int channel = f.interface.p[3] - '0' + 1;
        if (f.kind == BUS_FRAME_ERROR) {
            at += (size_t)snprintf(line + at, sizeof line - at, "%d  ErrorFrame", channel);
        } else if (f.kind == BUS_FRAME_FD) {
            at += (size_t)snprintf(line + at, sizeof line - at, "CANFD   %d Rx %Xx", channel, f.id);
        } else {
            at += (size_t)snprintf(line + at, sizeof line - at, "%d  %X%s Rx %c %d", channel, f.id,
                                   f.kind == BUS_FRAME_11 ? "" : "x", f.kind == BUS_FRAME_REMOTE ? 'r' : 'd', f.n);
            for (int i = 0; f.kind != BUS_FRAME_REMOTE && i < f.n; i++) {
                at += (size_t)snprintf(line + at, sizeof line - at, " %02X", f.data[i]);
            }
        }
        text_addz(&t, line);
        text_char(&t, '\n');
    }
    return text_str(&t);
}

/* Importing again adds nothing: keys hang on the frames, not on the file. */
static void keys_are_stable(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str log = read_data(&a, "depot_mower.log");
    struct feed_bus_result r = read_ok(&a, log, &plain);
    struct text crlf = text_new(&a);
    text_addz(&crlf, "\xEF\xBB\xBF\r\n");
    for (size_t i = 0; i < log.n; i++) {
        text_addz(&crlf, log.p[i] == '\n' ? "\r" : "");
        text_char(&crlf, log.p[i]);
    }
    struct feed_bus_options later = plain;
    later.name = S("another name");
    later.started_at = START_MS + 86400000;
    struct feed_bus_result same = read_ok(&a, text_str(&crlf), &later);
    assert_int_equal(same.n_proposals, r.n_proposals);
    for (size_t i = 0; i < r.n_proposals; i++) {
        assert_int_equal(r.proposals[i].import_key.n, 64);
        assert_true(str_eq(r.proposals[i].import_key, same.proposals[i].import_key));
        assert_int_equal(same.proposals[i].at, r.proposals[i].at + 86400000);
        for (size_t k = 0; k < i; k++) {
            assert_false(str_eq(r.proposals[i].import_key, r.proposals[k].import_key));
        }
    }
    /* One bit of one frame makes it another recording. */
    char *changed = arena_copy(&a, log.p, log.n);
    changed[str_find(log, S("0CF00400#FFFFFF")) + 9] = 'E';
    struct feed_bus_result other = read_ok(&a, (struct str){changed, log.n}, &plain);
    assert_false(str_eq(r.proposals[0].import_key, other.proposals[0].import_key));
    arena_free(&a);
}

/* An ASC file of the same frames gives the same entries; its date is local time, 120 minutes ahead here. */
static void asc_gives_the_same(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct str log = read_data(&a, "depot_mower.log");
    struct feed_bus_options summer = plain;
    summer.offset_minutes = 120;
    struct feed_bus_result r = read_ok(&a, log, &plain);
    struct feed_bus_result same = read_ok(&a, as_asc(&a, log), &summer);
    assert_int_equal(same.clock, BUS_CLOCK_LOCAL);
    assert_int_equal(same.n_proposals, r.n_proposals);
    for (size_t i = 0; i < r.n_proposals; i++) {
        assert_true(str_eq(r.proposals[i].what, same.proposals[i].what));
        assert_int_equal(r.proposals[i].at, same.proposals[i].at);
        assert_true(str_eq(r.proposals[i].interface, same.proposals[i].interface));
        assert_true(str_eq(r.proposals[i].import_key, same.proposals[i].import_key));
    }
    arena_free(&a);
}

/* True when the dry run says that of that: in its list, or as the doubt of a proposal. */
static bool says(const struct feed_bus_result *r, bool refused, const char *what, const char *why)
{
    for (size_t i = 0; i < r->n_remarks; i++) {
        if (r->remarks[i].refused == refused && str_find(r->remarks[i].what, str_of(what)) >= 0 &&
            str_find(r->remarks[i].why, str_of(why)) >= 0) {
            return true;
        }
    }
    for (size_t i = 0; !refused && i < r->n_proposals; i++) {
        if (str_find(r->proposals[i].name, str_of(what)) >= 0 && str_find(r->proposals[i].doubt, str_of(why)) >= 0) {
            return true;
        }
    }
    return false;
}

/* What is doubtful or left out is said, and why. */
static void remarks(void **state)
{
    (void)state;
    static const struct {
        const char *log;
        bool refused;
        const char *what, *why;
    } rows[] = {
        {"(1.5) can0 18FEEE00#48FFFFFFFFFFFFFF", false, "date", "give the time of its start"},
        {"(1.5) can0 18FEEE00#48FFFFFFFFFFFFFF", true, "engine hours", "read the meter"},
        {"(4102444800.0) can0 18FEEE00#48FFFFFFFFFFFFFF", false, "date", "dated after now"},
        {"(1700000000.0) can0 18FEEE00#48FF\nrubbish", false, "lines", "1 line could not be read"},
        {"(1700000001.0) can0 18FEEE00#48FF\n(1700000000.0) can0 18FEEE00#48FF", false, "times", "dated before"},
        {"(1700000000.0) can0 18FEEE00#FAFF", false, "coolant temperature", "not plausible"},
        {"(1700000000.0) can0 18FEEE00#48FF\n(1700000000.1) can0 18FEEE03#49FF", false, "coolant temperature",
         "address 3 on can0 sends it too (last 33 degC)"},
        {"(1700000000.0) can0 18FEEE03#48FF\n(1700000000.1) can0 18FEEE00#49FF", false, "coolant temperature",
         "taken from address 0"},
        {"(1700000000.0) can0 18FEEF00#FFFFFFFE\n(1700000000.1) can0 1CFECA00#04FF64000400", true,
         "Engine oil pressure", "fault 100.4 is active: voltage too low"},
        {"(1700000000.0) can0 18FEEF00#FFFFFF32", true, "oil pressure, steady at low idle", "did not run"},
        {"(1700000000.0) can0 18FEF700#FFFFFFFFF800FFFF", true, "battery voltage, lowest while cranking", "no start"},
        {"(1700000000.0) can0 18FEE500#60EA0000\n(1700000001.0) can0 18FEE500#5FEA0000", false, "engine hours",
         "goes backwards"},
        {"(1700000000.0) can0 18FEE500#00000000\n(1700000001.0) can0 18FEE500#40000000", false, "engine hours",
         "gains more hours"},
        {"(1700000000.0) can0 18FEE500#80969800", false, "engine hours", "not plausible"}, /* 10000000 * 0.05 h */
        {"(1700000000.0) can0 18FEF600#FFFFFFFF00FFFFFF", false, "air filter", "may not be fitted"},
        {"(1700000000.0) can0 18FD7C00#FF04FFFFFFFFFFFF", false, "regeneration", "under way when the recording began"},
        {"(1700000000.0) can0 18FD7C00#FF04FFFFFFFFFFFF", false, "regeneration", "not ended"},
        {"(1700000000.0) can0 18ECFF00#20090002FFD0FE00\n(1700000002.0) can0 18FEEE00#48FF", false, "long messages",
         "1 message"},
    };
    struct feed_bus_options o = plain;
    o.now = 1800000000000; /* 2027 */
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct feed_bus_result r = read_ok(&a, str_of(rows[i].log), &o);
        if (!says(&r, rows[i].refused, rows[i].what, rows[i].why)) {
            for (size_t k = 0; k < r.n_remarks; k++) {
                print_error("%d %.*s: %.*s\n", r.remarks[k].refused, STR_ARG(r.remarks[k].what),
                            STR_ARG(r.remarks[k].why));
            }
            fail_msg("row %zu: nothing says '%s'", i, rows[i].why);
        }
        arena_free(&a);
    }
}

/* Adds a frame at that many ms of 2023-11-14T22:13:20Z. */
static void add_frame(struct text *t, int ms, const char *interface, const char *frame)
{
    text_addz(t, "(");
    text_int(t, 1700000000 + ms / 1000);
    text_char(t, '.');
    text_zeros(t, ms % 1000, 3);
    text_join(t, ") ", interface, " ", frame, "\n", (char *)0);
}

/* Adds the engine speed of that address ten times a second, from ms up to end. */
static void add_speed(struct text *t, int ms, int end, unsigned source, unsigned rpm)
{
    for (; ms < end; ms += 100) {
        char frame[40];
        unsigned raw = rpm * 8;
        snprintf(frame, sizeof frame, "0CF004%02X#FFFFFF%02X%02XFFFFFF", source, raw & 0xFF, raw >> 8);
        add_frame(t, ms, "can0", frame);
    }
}

/* Address 0 counts before others; the controller's own word on low idle before the lowest speed seen; and an engine
 * that is running down is not being started. Pressures: 25 * 4 = 100, 50 * 4 = 200; voltages 190 * 0.05 = 9.5, 280 *
 * 0.05 = 14. */
static void engine_of_the_recording(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    add_speed(&t, 0, 100, 3, 1300); /* a second controller speaks first */
    add_speed(&t, 10, 4050, 0, 700);
    add_frame(&t, 4050, "can0", "18FEEF00#FFFFFF19");
    add_frame(&t, 4060, "can0", "18FEEE00#48FF"); /* 32 degC, the highest */
    add_speed(&t, 4110, 5000, 0, 700);
    add_speed(&t, 5010, 9050, 0, 900);
    add_frame(&t, 9050, "can0", "18FEEF00#FFFFFF32");
    add_frame(&t, 9060, "can0", "18FEEF00#FFFFFF32");
    add_frame(&t, 9070, "can0", "18FEEF00#FFFFFF32");
    add_frame(&t, 9080, "can0", "18FEF700#FFFFFFFF1801FFFF");
    add_speed(&t, 9110, 9500, 0, 900);
    struct text unsaid = text_new(&a);
    text_add(&unsaid, text_str(&t));
    struct feed_bus_result lowest = read_ok(&a, text_str(&unsaid), &plain);
    assert_true(find(&lowest, FEED_READING, "engine-oil-pressure.low-idle")->value == 100);
    add_frame(&t, 9500, "can0", "18ECFF00#20090002FFE3FE00"); /* SPN 188 = 0x1C20 / 8 = 900 rpm, by transport */
    add_frame(&t, 9550, "can0", "1CEBFF00#01201CFFFFFFFFFF");
    add_frame(&t, 9600, "can0", "1CEBFF00#02FFFFFFFFFFFFFF");
    add_speed(&t, 10010, 10200, 0, 300);
    add_frame(&t, 10200, "can0", "18FEF700#FFFFFFFFBE00FFFF");
    struct feed_bus_result r = read_ok(&a, text_str(&t), &plain);
    assert_true(find(&r, FEED_READING, "engine-oil-pressure.low-idle")->value == 200);
    assert_true(condition(find(&r, FEED_READING, "coolant-temperature.highest"), "engine speed") == 700);
    assert_null(find(&r, FEED_READING, "battery-voltage.cranking"));
    assert_true(find(&r, FEED_READING, "battery-voltage.charging")->value == 14);
    arena_free(&a);
}

/* A fault that comes back is not cleared; the same fault of two buses gives two keys; a burn says who forced it. */
static void events(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    add_frame(&t, 0, "can0", "18FECA00#04FF64000401FFFF");
    add_frame(&t, 0, "can1", "18FECA00#04FF64000401FFFF");
    add_frame(&t, 1000, "can0", "18FECA00#00FF00000000FFFF");
    add_frame(&t, 1000, "can1", "18FECA00#00FF00000000FFFF");
    add_frame(&t, 2000, "can0", "18FECA00#04FF64000402FFFF");
    add_frame(&t, 3000, "can0", "18FD7C00#FF00FFFFFFFFDFFF"); /* byte 7 bits 6-8: forced 6 = reserved, so not told */
    add_frame(&t, 4000, "can0", "18FD7C00#FF04FFFFFFFF3FFF"); /* 1 = forced by switch */
    add_frame(&t, 5000, "can0", "18FD7C00#FF00FFFFFFFF1FFF");
    struct feed_bus_result r = read_ok(&a, text_str(&t), &plain);
    const struct feed_proposal *seen[2] = {0};
    size_t cleared = 0;
    size_t n = 0;
    for (size_t i = 0; i < r.n_proposals; i++) {
        const struct feed_proposal *p = &r.proposals[i];
        cleared += p->kind == FEED_FAULT_CLEARED;
        if (p->kind == FEED_FAULT_SEEN) {
            assert_true(n < 2);
            seen[n++] = p;
        }
    }
    assert_int_equal(n, 2);
    assert_int_equal(cleared, 1); /* on can1 */
    assert_true(str_eq(seen[0]->interface, S("can0")) && seen[0]->count == 2);
    assert_true(condition(seen[0], "occurrences") == 2);
    assert_false(str_eq(seen[0]->import_key, seen[1]->import_key));
    assert_true(str_eq(find(&r, FEED_BURN, "burn")->note, S("forced by the operator's switch")));
    arena_free(&a);
}

/* A pressure switch that sends a fixed value is no gauge. Source: note of SPN 100 in data/j1939_signals.csv. */
static void oil_switch(void **state)
{
    (void)state;
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    for (int k = 0; k < 40; k++) { /* 2 s at 850 rpm, then ten readings of 200 kPa */
        char line[100];
        snprintf(line, sizeof line, "(17000000%02d.%d) can0 0CF00400#FFFFFF901AFFFFFF\n", k / 10, k % 10);
        text_addz(&t, line);
        snprintf(line, sizeof line, "(17000000%02d.%d5) can0 18FEEF00#FFFFFF32\n", k / 10, k % 10);
        text_addz(&t, line);
    }
    struct feed_bus_result r = read_ok(&a, text_str(&t), &plain);
    const struct feed_proposal *p = find(&r, FEED_READING, "engine-oil-pressure.low-idle");
    assert_non_null(p);
    assert_true(p->value == 200 && str_find(p->doubt, S("switch")) >= 0);
    arena_free(&a);
}

static void no_recording(void **state)
{
    (void)state;
    static const struct {
        const char *log, *what;
    } rows[] = {
        {"", "rec:1:1: the recording is empty"},
        {"\n\nserial;hours\nX1;200\n", "rec:3:1: this is no bus recording"},
        {"(1700000000.0) can0 123#00\n", "rec:1:1: no frame of the recording has a 29-bit identifier"},
        {"date Mon Jun  2 12:00:00 2025\n", "rec:1:1: no frame of the recording has a 29-bit identifier"},
    };
    struct feed_bus_options o = plain;
    o.name = S("rec");
    for (size_t i = 0; i < N(rows); i++) {
        struct arena a = arena_new(&arena_libc);
        struct feed_bus_result r;
        struct diags d = diags_new(&a, 10);
        struct err e = err_new(&a);
        assert_false(feed_bus_read(&a, str_of(rows[i].log), &o, &r, &d, &e));
        assert_int_equal(e.kind, ERR_INPUT);
        assert_true(str_starts(err_text(&a, &e), str_of(rows[i].what)));
        assert_true(e.right.n > 0);
        arena_free(&a);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(readings_match_the_list),
        cmocka_unit_test(proposals),
        cmocka_unit_test(keys_are_stable),
        cmocka_unit_test(asc_gives_the_same),
        cmocka_unit_test(remarks),
        cmocka_unit_test(oil_switch),
        cmocka_unit_test(no_recording),
        cmocka_unit_test(engine_of_the_recording),
        cmocka_unit_test(events),
    };
    return cmocka_run_group_tests_name("bus_propose", tests, NULL, NULL);
}
