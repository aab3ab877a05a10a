/* Reading a bus recording against a naive splitter of the same text in the same run.
 *
 * usage: bus_bench RECORDING [REPEATS]
 *
 * The recording's text is repeated (100 times unless told) and gone over four times each way; the best of four counts.
 * The naive splitter only finds the line ends and the two blanks of each line, which any reader has to do. Prints a
 * line for each stage: frames a second and its time as a multiple of the splitter's. */
#include "feed_bus.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

/* Seconds of a clock that only goes forward. */
static double now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

/* Line ends and blanks; the sum keeps the compiler from dropping the work. */
static uint64_t split(struct arena *a, struct str text)
{
    (void)a;
    uint64_t n = 0;
    struct str line = {0};
    while (str_next(&text, '\n', &line)) {
        const char *first = memchr(line.p, ' ', line.n);
        const char *second = first ? memchr(first + 1, ' ', line.n - (size_t)(first + 1 - line.p)) : NULL;
        n += second != NULL;
    }
    return n;
}

/* Frames only. */
static uint64_t frames(struct arena *a, struct str text)
{
    struct diags d = diags_new(a, 10);
    struct err e = err_new(a);
    struct bus_recording r;
    struct bus_frame f;
    uint64_t n = 0;
    if (bus_recording_open(&r, a, S("bench"), text, &d, &e)) {
        while (bus_recording_next(&r, &f)) {
            n++;
        }
    }
    return n;
}

static void count_reading(void *ctx, const struct bus_reading *r)
{
    *(uint64_t *)ctx += r->status == BUS_OK;
}

/* Frames, messages, readings. */
static uint64_t readings(struct arena *a, struct str text)
{
    struct diags d = diags_new(a, 10);
    struct err e = err_new(a);
    struct bus_recording r;
    struct bus_frame f;
    uint64_t n = 0;
    uint64_t good = 0;
    struct bus_decoder *decoder =
        bus_decoder_new(a, &bus_table_builtin, (struct bus_sink){.ctx = &good, .reading = count_reading});
    if (bus_recording_open(&r, a, S("bench"), text, &d, &e)) {
        for (; bus_recording_next(&r, &f); n++) {
            bus_decoder_frame(decoder, &f);
        }
    }
    bus_decoder_end(decoder);
    return good > 0 ? n : 0;
}

/* Everything up to the proposals. */
static uint64_t proposals(struct arena *a, struct str text)
{
    struct diags d = diags_new(a, 10);
    struct err e = err_new(a);
    struct feed_bus_options o = {.name = S("bench"), .started_at = INSTANT_NONE, .now = INSTANT_NONE};
    struct feed_bus_result r;
    uint64_t n = 0;
    if (feed_bus_read(a, text, &o, &r, &d, &e)) {
        for (int i = 0; i < BUS_FRAME_KINDS; i++) {
            n += r.summary->frames[i];
        }
    }
    return n;
}

/* Best of four, in seconds; *memory is what the arena held. */
static double best_of(uint64_t (*stage)(struct arena *, struct str), struct str text, uint64_t *n, size_t *memory)
{
    double best = 1e9;
    for (int i = 0; i < 4; i++) {
        struct arena a = arena_new(&arena_libc);
        double start = now_s();
        *n = stage(&a, text);
        double took = now_s() - start;
        *memory = a.total;
        best = took < best ? took : best;
        arena_free(&a);
    }
    return best;
}

int main(int argc, char **argv)
{
    static const struct {
        const char *name;
        uint64_t (*run)(struct arena *, struct str);
    } stages[] = {{"split lines", split}, {"frames", frames}, {"readings", readings}, {"proposals", proposals}};
    struct arena a = arena_new(&arena_libc);
    struct text one = text_new(&a);
    struct text all = text_new(&a);
    FILE *f = argc > 1 ? fopen(argv[1], "rb") : NULL;
    if (!f) {
        fprintf(stderr, "usage: bus_bench RECORDING [REPEATS]\n");
        return 2;
    }
    char block[65536];
    size_t n = 0;
    while ((n = fread(block, 1, sizeof block, f)) > 0) {
        text_add(&one, (struct str){block, n});
    }
    fclose(f);
    long repeats = argc > 2 ? strtol(argv[2], NULL, 10) : 100;
    for (long i = 0; i < repeats; i++) {
        text_add(&all, text_str(&one));
    }
    double naive = 0;
    for (size_t i = 0; i < sizeof stages / sizeof *stages; i++) {
        uint64_t count = 0;
        size_t memory = 0;
        double took = best_of(stages[i].run, text_str(&all), &count, &memory);
        naive = i == 0 ? took : naive;
        printf("bus %-12s %9.0f frames/s %7.1f MB/s %5.2f x naive %6.2f MB held\n", stages[i].name,
               (double)count / took, (double)all.n / took / 1e6, took / naive, (double)memory / 1e6);
    }
    arena_free(&a);
    return 0;
}
