/* Properties of reading a bus over random input. The seed is printed first; WITMARK_SEED=N runs that one again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "feed_bus.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* xorshift64; never 0 */
static uint64_t next_random(uint64_t *x)
{
    *x ^= *x << 13;
    *x ^= *x >> 7;
    *x ^= *x << 17;
    return *x;
}

static uint64_t below(uint64_t *x, uint64_t n)
{
    return next_random(x) % n;
}

/* The state of the generator for one round, never 0; the same for the same WITMARK_SEED. */
static uint64_t seed_of(uint64_t round)
{
    const char *given = getenv("WITMARK_SEED");
    return ((given ? strtoull(given, NULL, 10) : 0) + round * 1000003 + 1) * 0x9E3779B97F4A7C15u | 1;
}

/* A source over frames in memory. */
struct frames {
    const struct bus_frame *at;
    size_t n, i;
};

static bool next_frame(void *ctx, struct bus_frame *f)
{
    struct frames *s = ctx;
    if (s->i == s->n) {
        return false;
    }
    *f = s->at[s->i++];
    return true;
}

static void add_random_bytes(struct text *t, uint64_t *x)
{
    static const char *const pieces[] = {"(1546300800.028000) can0 ",
                                         "0CF00400#",
                                         "#R",
                                         "##1",
                                         "F0FF00",
                                         "\n",
                                         "(",
                                         " T",
                                         "date Tue Jun  1 11:43:50 2021\n",
                                         "base hex  timestamps relative\n",
                                         "   0.000600 1  CF00400x Rx   d 8 F0 FF 7D 00 00 FF FF FF\n",
                                         " ErrorFrame",
                                         "18ECFF00#20160004FFEBFE00\n",
                                         "1CEBFF00#0141434D452A5144\n",
                                         "9999999999.9"};
    for (uint64_t n = below(x, 60); n > 0; n--) {
        if (below(x, 3) == 0) {
            text_char(t, (char)below(x, 256));
        } else {
            text_addz(t, pieces[below(x, sizeof pieces / sizeof *pieces)]);
        }
    }
}

/* Whatever the bytes, reading ends, and every line is counted once: frame, other or malformed. */
static void any_bytes(void **state)
{
    (void)state;
    for (uint64_t round = 0; round < 3000; round++) {
        uint64_t seed = seed_of(round);
        uint64_t x = seed;
        struct arena a = arena_new(&arena_libc);
        struct text t = text_new(&a);
        struct diags d = diags_new(&a, 5);
        struct err e = err_new(&a);
        struct bus_recording r;
        struct bus_frame f;
        add_random_bytes(&t, &x);
        uint64_t frames = 0;
        if (bus_recording_open(&r, &a, S("random"), text_str(&t), &d, &e)) {
            while (bus_recording_next(&r, &f)) {
                frames++;
                assert_true(f.kind == BUS_FRAME_FD ? f.n <= 64 : f.kind == BUS_FRAME_REMOTE ? f.n <= 15 : f.n <= 8);
                assert_true(f.id <= 0x1FFFFFFF);
            }
            if (frames + r.malformed + r.other != r.lines) {
                fail_msg("seed %llu: %llu lines", (unsigned long long)seed, (unsigned long long)r.lines);
            }
            struct feed_bus_result result;
            struct feed_bus_options o = {.started_at = INSTANT_NONE, .now = INSTANT_NONE};
            struct err again = err_new(&a);
            bool ok = feed_bus_read(&a, text_str(&t), &o, &result, &d, &again);
            assert_true(ok == (r.frames[BUS_FRAME_29] > 0));
        } else {
            assert_int_equal(e.kind, ERR_INPUT);
        }
        arena_free(&a);
    }
}

/* A random frame, often of transport or of a group in the table. next: packet number that a sender would send next, by
 * its address and whether to all; mostly it does. */
static struct bus_frame random_frame(uint64_t *x, int64_t *now, uint8_t next[3][2])
{
    static const uint32_t formats[] = {0xEC, 0xEB, 0xEB, 0xEB, 0xEB, 0xEE, 0xFE, 0xFD};
    struct bus_frame f = {.interface = below(x, 16) ? S("can0") : S("can1"), .n = (uint8_t)below(x, 9)};
    *now += (int64_t)below(x, below(x, 20) ? 50000 : 2000000) - 1000;
    f.time_us = *now;
    f.n = below(x, 16) ? 8 : f.n;
    f.id = (uint32_t)(formats[below(x, 8)] << 16 | below(x, 256) << 8 | below(x, 3));
    if (below(x, 2)) {
        f.id = (f.id & 0x00FF00FF) | (below(x, 2) ? 0xFF00 : 0x0100);
    }
    for (int i = 0; i < 8; i++) {
        f.data[i] = (uint8_t)below(x, 256);
    }
    static const uint8_t controls[] = {16, 17, 19, 32, 32, 255};
    if ((f.id >> 16 & 0xFF) == 0xEC) {
        uint64_t size = 9 + below(x, 15);
        f.data[0] = controls[below(x, 6)];
        f.data[1] = (uint8_t)size;
        f.data[2] = 0;
        f.data[3] = (uint8_t)((size + 6) / 7);
        f.data[5] = 0xCA;
        f.data[6] = 0xFE;
        f.data[7] = 0;
        next[f.id & 3][(f.id >> 8 & 0xFF) == 0xFF] = 1;
    } else if ((f.id >> 16 & 0xFF) == 0xEB) {
        uint8_t *n = &next[f.id & 3][(f.id >> 8 & 0xFF) == 0xFF];
        f.data[0] = below(x, 16) ? (*n)++ : (uint8_t)below(x, 8);
    }
    return f;
}

struct tally {
    uint64_t readings, messages, ends[BUS_TRANSPORT_OUTCOMES];
};

static void count_reading(void *ctx, const struct bus_reading *r)
{
    struct tally *t = ctx;
    t->readings++;
    assert_true((r->status == BUS_OK) == (r->value == r->value)); /* NaN unless it is one */
}

static void count_message(void *ctx, const struct bus_message *m)
{
    struct tally *t = ctx;
    t->messages++;
    assert_true(m->n <= 1785 && m->pgn < 0x40000);
}

static void count_end(void *ctx, const struct bus_transport_end *e)
{
    struct tally *t = ctx;
    t->ends[e->outcome]++;
    assert_true(e->size >= 9 && e->size <= 1785 && e->packets <= e->packets_of);
    assert_true((e->outcome == BUS_TRANSPORT_COMPLETE) == (e->packets == e->packets_of));
}

/* Whatever the frames, every session ends once, and only whole ones are messages. */
static void any_frames(void **state)
{
    (void)state;
    uint64_t all[BUS_TRANSPORT_OUTCOMES] = {0};
    for (uint64_t round = 0; round < 200; round++) {
        uint64_t x = seed_of(round);
        int64_t now = 0;
        struct arena a = arena_new(&arena_libc);
        struct tally t = {0};
        struct bus_sink sink = {.ctx = &t, .reading = count_reading, .message = count_message, .transport = count_end};
        struct bus_decoder *d = bus_decoder_new(&a, &bus_table_builtin, sink);
        uint8_t next[3][2] = {0};
        uint64_t single = 0;
        uint64_t begun = 0;
        uint64_t bad = 0; /* a broadcast to one, or a request to all */
        for (int i = 0; i < 500; i++) {
            struct bus_frame f = random_frame(&x, &now, next);
            uint32_t pgn = bus_id_of(f.id).pgn;
            single += pgn != 60416 && pgn != 60160;
            bool begins = pgn == 60416 && f.n == 8 && (f.data[0] == 16 || f.data[0] == 32);
            begun += begins;
            bad += begins && (f.data[0] == 16) == (bus_id_of(f.id).destination == BUS_EVERYBODY);
            bus_decoder_frame(d, &f);
        }
        bus_decoder_end(d);
        uint64_t ended = 0;
        for (int i = 0; i < BUS_TRANSPORT_OUTCOMES; i++) {
            ended += t.ends[i];
            all[i] += t.ends[i];
        }
        assert_int_equal(ended + bad, begun);
        assert_int_equal(t.messages, single + t.ends[BUS_TRANSPORT_COMPLETE]);
        arena_free(&a);
    }
    assert_true(all[BUS_TRANSPORT_COMPLETE] > 0 && all[BUS_TRANSPORT_TIMEOUT] > 0 && all[BUS_TRANSPORT_REPLACED] > 0);
}

#define SENDERS 6
#define OF_SENDER 12

/* Frames of one sender: a broadcast of 22 bytes and single frames around it, in its own order. */
static void frames_of_sender(uint64_t *x, uint8_t source, struct bus_frame out[OF_SENDER])
{
    for (size_t i = 0; i < OF_SENDER; i++) {
        out[i] = (struct bus_frame){.interface = S("can0"), .n = 8};
        for (int k = 0; k < 8; k++) {
            out[i].data[k] = (uint8_t)below(x, 256);
        }
        bool packet = i % 2 == 1 && i / 2 < 5;
        out[i].id = (packet ? (i == 1 ? 0x18ECFF00u : 0x1CEBFF00u) : 0x18FEEE00u) | source;
        out[i].data[0] = packet && i > 1 ? (uint8_t)(i / 2) : out[i].data[0];
    }
    memcpy(out[1].data, (const uint8_t[]){32, 22, 0, 4, 255, 0xEB, 0xFE, 0}, 8);
}

/* The readings and texts of each sender are the same however the senders interleave. */
static void interleaving_does_not_matter(void **state)
{
    (void)state;
    for (uint64_t round = 0; round < 100; round++) {
        uint64_t seed = seed_of(round);
        uint64_t x = seed;
        struct bus_frame of[SENDERS][OF_SENDER];
        for (uint8_t s = 0; s < SENDERS; s++) {
            frames_of_sender(&x, s, of[s]);
        }
        struct arena a = arena_new(&arena_libc);
        struct str told[2];
        for (int order = 0; order < 2; order++) {
            struct bus_frame mixed[SENDERS * OF_SENDER];
            size_t at[SENDERS] = {0};
            for (size_t n = 0; n < SENDERS * OF_SENDER; n++) {
                size_t s = order == 0 ? n / OF_SENDER : below(&x, SENDERS);
                while (at[s] == OF_SENDER) {
                    s = (s + 1) % SENDERS;
                }
                mixed[n] = of[s][at[s]++];
                mixed[n].time_us = (int64_t)n * 1000; /* far below any time-out */
            }
            struct frames source = {mixed, SENDERS * OF_SENDER, 0};
            struct text t = text_new(&a);
            struct json j = json_new(&t, true);
            struct bus_summary *s = bus_summarise(&a, &bus_table_builtin, (struct bus_source){next_frame, &source});
            assert_int_equal(s->n_identifications, SENDERS);
            assert_int_equal(s->transports[BUS_TRANSPORT_COMPLETE], SENDERS);
            s->n_ended = 0; /* listed in order of ending, which may differ */
            bus_summary_json(&j, s);
            told[order] = text_str(&t);
        }
        if (!str_eq(told[0], told[1])) {
            fail_msg("seed %llu", (unsigned long long)seed);
        }
        arena_free(&a);
    }
}

/* A source of n coolant temperatures, one a second, rising by 1 degree every n / 100. */
struct ramp {
    int64_t n, i;
};

static bool next_of_ramp(void *ctx, struct bus_frame *f)
{
    struct ramp *r = ctx;
    *f = (struct bus_frame){.time_us = r->i * 1000000, .interface = S("can0"), .id = 0x18FEEE00, .n = 8};
    memset(f->data, 0xFF, 8);
    f->data[0] = (uint8_t)(40 + r->i * 100 / r->n);
    return r->i++ < r->n;
}

/* However long a recording is, a series keeps its first sample, spans it all evenly, and stays small; extremes are
 * exact. */
static void long_series_are_thinned(void **state)
{
    (void)state;
    static const int64_t lengths[] = {1, 2, 4095, 4096, 4097, 20000, 100000};
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++) {
        struct arena a = arena_new(&arena_libc);
        struct ramp ramp = {lengths[i], 0};
        struct bus_summary *s = bus_summarise(&a, &bus_table_builtin, (struct bus_source){next_of_ramp, &ramp});
        const struct bus_signal_summary *x = NULL;
        for (size_t k = 0; k < s->n_signals; k++) {
            x = s->signals[k]->signal->spn == 110 ? s->signals[k] : x;
        }
        assert_non_null(x);
        assert_int_equal(x->n[BUS_OK], lengths[i]);
        assert_true(x->series.n <= 4096 && (lengths[i] <= 4096) == (x->series.n == (size_t)lengths[i]));
        assert_true(x->series.at[0].time_us == 0 && x->last.time_us == (lengths[i] - 1) * 1000000);
        int64_t least = INT64_MAX;
        int64_t most = 0;
        for (size_t k = 1; k < x->series.n; k++) {
            int64_t gap = x->series.at[k].time_us - x->series.at[k - 1].time_us;
            least = gap < least ? gap : least;
            most = gap > most ? gap : most;
        }
        assert_true(x->series.n < 2 || most <= 2 * least);
        assert_true(x->lowest.value == 0 && x->highest.value == (double)((lengths[i] - 1) * 100 / lengths[i]));
        arena_free(&a);
    }
}

/* Encoding a raw value into any place of a message and reading it back gives the same; neighbours do not matter. */
static void raw_round_trip(void **state)
{
    (void)state;
    for (uint64_t round = 0; round < 2000; round++) {
        uint64_t x = seed_of(round);
        uint8_t data[40];
        for (size_t i = 0; i < sizeof data; i++) {
            data[i] = (uint8_t)below(&x, 256);
        }
        struct bus_signal s = {.start_bit = (uint16_t)below(&x, 280), .bits = (uint8_t)(1 + below(&x, 32))};
        uint32_t raw = (uint32_t)(next_random(&x) & ((UINT64_C(1) << s.bits) - 1));
        for (uint32_t b = 0; b < s.bits; b++) { /* bit by bit, another way than the reader's */
            uint32_t at = s.start_bit + b;
            data[at / 8] = (uint8_t)((data[at / 8] & ~(1u << at % 8)) | (raw >> b & 1) << at % 8);
        }
        uint32_t read = 0;
        assert_true(bus_signal_raw(&s, data, sizeof data, &read));
        assert_int_equal(read, raw);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_bytes),
        cmocka_unit_test(any_frames),
        cmocka_unit_test(interleaving_does_not_matter),
        cmocka_unit_test(raw_round_trip),
        cmocka_unit_test(long_series_are_thinned),
    };
    if (!getenv("WITMARK_SEED")) {
        char seed[32];
        snprintf(seed, sizeof seed, "%lld", (long long)time(NULL));
        setenv("WITMARK_SEED", seed, 1);
    }
    printf("# WITMARK_SEED=%s\n", getenv("WITMARK_SEED"));
    return cmocka_run_group_tests_name("bus_prop", tests, NULL, NULL);
}
