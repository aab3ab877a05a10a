/* What tests of the desk and the server share: a depot in a folder of its own, open as a desk, whose clock stands at
 * noon UTC of 25 November 2026 (a Wednesday). */
#ifndef WITMARK_TESTS_BENCH_H
#define WITMARK_TESTS_BENCH_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "desk.h"

struct web;

struct bench {
    char folder[64], path[96];
    struct world_seeded seeded;
    struct arena a;
    struct err e;
    struct desk *d;
    struct web *w; /* a server over it, where a test starts one */
};

/* The call is true, or the test fails with the bench's error. */
#define ok(b, call)                                                                \
    do {                                                                           \
        if (!(call)) {                                                             \
            fail_msg("%s: %s", #call, str_z(&(b)->a, err_text(&(b)->a, &(b)->e))); \
        }                                                                          \
    } while (0)

/* The tree of the project: WITMARK_SOURCE, or the folder the test runs in. */
const char *source_folder(void);
/* The instant at which the clock stands. */
instant_ms bench_noon(void);

/* An empty depot; its keys and ids follow from the seed. */
void bench_open(struct bench *b, uint64_t seed);
/* What the depot is opened with, for another desk on it. */
struct desk_options bench_options(struct bench *b);
/* Closes the desk and removes the folder. */
void bench_close(struct bench *b);
/* Opens the same depot once more, as another run of the program would; b->d must be closed. */
void bench_open_again(struct bench *b);
/* Takes a book of the project: "books/brine6.yaml", "tests/data/books/gull2.yaml". */
void bench_book(struct bench *b, const char *path);
/* A machine in service since 10 January 2026, taken in on 1 February. Options with commas; site may be "". */
void bench_machine(struct bench *b, const char *serial, const char *label, const char *options, const char *site);
/* Ines, at a time as people write it. */
struct desk_stamp bench_stamp(struct bench *b, const char *machine, const char *when);
/* The hour meter read then. */
void bench_meter(struct bench *b, const char *machine, const char *when, const char *hours);

#endif
