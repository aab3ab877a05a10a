/* What the tests of the log share: a seeded depot in a scratch folder, and short ways to write entries. */
#ifndef WITMARK_TESTS_LOG_SCRATCH_H
#define WITMARK_TESTS_LOG_SCRATCH_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "log.h"

#include <stdio.h>

/* 2026-03-02T08:00:00Z, a Monday */
#define TEST_NOW 1772438400000

/* A test's own folder and arena; `e` is ready for the next call. */
struct bench {
    char folder[64];
    struct arena a;
    struct err e;
    struct world_seeded world;
    struct depot_options options;
};

/* A new folder under TMPDIR, /dev/shm or /tmp, and a world with that seed. */
void bench_set_up(struct bench *b, uint64_t seed);
/* Removes the folder with all files in it. */
void bench_tear_down(struct bench *b);
/* FOLDER/name, in the arena. */
const char *bench_path(struct bench *b, const char *name);
/* Creates a depot in the folder; fails the test when it cannot. */
struct depot *bench_depot(struct bench *b, const char *name);
/* Ready for the next call that may fail. */
struct err *bench_err(struct bench *b);
/* Fails the test with the error's text unless ok. */
#define must(b, call) must_at((b), (call), __FILE__, __LINE__)
void must_at(struct bench *b, bool ok, const char *file, int line);
/* The call failed, with exactly that text. */
#define refused(b, call, text) refused_at((b), (call), (text), __FILE__, __LINE__)
void refused_at(struct bench *b, bool ok, const char *text, const char *file, int line);

/* Appends one entry at TEST_NOW + minutes for machine "HT-2200-017" (or none when `machine` is null). */
struct appended bench_append(struct bench *b, struct depot *d, enum entry_kind kind, int minutes, const char *machine,
                             const char *body);
/* As above; `body` is a printf format. */
json_t *body_of(const char *format, ...) __attribute__((format(printf, 1, 2)));
const char *id_z(struct bench *b, struct entry_id id);
/* The effective entries as "kind at-minutes body" lines. */
const char *view_lines(struct bench *b, struct depot *d, const struct entry_filter *filter);
struct log_hash bench_digest(struct bench *b, struct depot *d);
/* Whole file as text; fails the test when it cannot be read. */
struct str read_whole(struct bench *b, const char *path);
void write_whole(const char *path, struct str s);
/* A seeded generator for properties: xorshift; *x must not be 0. */
uint64_t draw(uint64_t *x);
/* Exports everything to a file and returns its path. */
const char *bench_export(struct bench *b, struct depot *d, const char *name);
/* Imports a text as "in.ndjson" from "test". */
bool bench_import(struct bench *b, struct depot *d, struct str text, struct import_report *report);
/* Findings as "word seq-seq_to" lines, and those of a verification. */
const char *finding_lines(struct bench *b, const struct findings *f);
const char *verify_lines(struct bench *b, struct depot *d);
/* Appends one entry at random: a meter (some with one of a few import keys), a reading, a note, or a correction of one
 * of `old`. Returns its id (of the earlier one, if its import key is known). */
struct entry_id random_entry(struct bench *b, struct depot *d, uint64_t *x, const struct entry_id *old, size_t n_old);

#endif
