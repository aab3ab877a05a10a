/* What a desk costs that stays open: reading a whole depot from its file and computing every reserve, against SQLite
 * alone handing over the same rows; then taking up one entry and answering for its machine again.
 *
 *   desk_bench FOLDER BOOK.yaml [MACHINES]     default 1000, 40 meter readings each
 */
#include "desk.h"

#include "bookfile.h"

#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define READINGS 40
#define SINGLES 50

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

static _Noreturn void stop(struct arena *a, const struct err *e)
{
    struct str s = err_text(a, e);
    (void)fprintf(stderr, "desk_bench: %.*s\n", STR_ARG(s));
    exit(1);
}

/* Kilobytes resident, as the kernel tells (proc(5), statm). */
static double resident_kb(void)
{
    FILE *f = fopen("/proc/self/statm", "r");
    long pages = 0;
    if (!f || fscanf(f, "%*s %ld", &pages) != 1) {
        pages = 0;
    }
    if (f) {
        (void)fclose(f);
    }
    return (double)pages * (double)sysconf(_SC_PAGESIZE) / 1024;
}

/* A spreadsheet of everybody's readings: 25 h a fortnight, more or less. */
static struct str sheet_of(struct arena *a, struct str *serials, int machines, day_t today)
{
    struct text t = text_new(a);
    text_addz(&t, "machine,date,hours\n");
    for (int i = 0; i < machines; i++) {
        double hours = 100 + i % 500;
        for (int k = 0; k < READINGS; k++) {
            hours += 10 + (i * 7 + k * 13) % 31;
            text_add(&t, serials[i]);
            text_char(&t, ',');
            text_day(&t, today - 14 * (READINGS - k));
            text_char(&t, ',');
            text_number(&t, hours, 1);
            text_char(&t, '\n');
        }
    }
    return text_str(&t);
}

static void fill(struct desk *d, struct arena *a, const char *book, int machines, struct err *e)
{
    struct diags findings = diags_new(a, 100);
    struct log_hash edition;
    if (!desk_book_take(d, book, &findings, &edition, e)) {
        stop(a, e);
    }
    struct str *serials = ARENA_ARRAY(a, struct str, machines);
    for (int i = 0; i < machines; i++) {
        struct text t = text_new(a);
        text_addz(&t, "BR6-");
        text_zeros(&t, 2000 + i, 5);
        serials[i] = text_str(&t);
        struct desk_machine_new m = {
            .serial = serials[i], .in_service = desk_today_day(d) - 700, .by = S("bench"), .at = INSTANT_NONE};
        struct entry_id id;
        if (!desk_machine_add(d, &m, &id, e)) {
            stop(a, e);
        }
    }
    struct desk_feed_ask ask = {.name = S("bench.csv"),
                                .data = sheet_of(a, serials, machines, desk_today_day(d)),
                                .take = true,
                                .skip_refused = true,
                                .by = S("bench")};
    struct desk_feed_report report;
    if (!desk_feed_csv(d, &ask, a, &report, e)) {
        stop(a, e);
    }
    (void)printf("%d machines, %zu readings\n", machines, report.added);
}

/* Seconds for SQLite to hand over every row of the depot's entries. */
static double rows_alone(const char *path)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *q = NULL;
    double from = now();
    long bytes = 0;
    if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL) == SQLITE_OK &&
        sqlite3_prepare_v2(db, "SELECT * FROM entry", -1, &q, NULL) == SQLITE_OK) {
        while (sqlite3_step(q) == SQLITE_ROW) {
            for (int i = 0; i < sqlite3_column_count(q); i++) {
                bytes += sqlite3_column_bytes(q, i);
            }
        }
    }
    (void)sqlite3_finalize(q);
    (void)sqlite3_close(db);
    return bytes ? now() - from : (double)NAN;
}

static size_t ask_today(struct desk *d, struct arena *a, const char *machine, struct err *e)
{
    struct desk_today_filter filter = {.machine = str_of(machine), .within_days = -1};
    struct desk_today_list list;
    if (!desk_today(d, &filter, a, &list, e)) {
        stop(a, e);
    }
    return list.n;
}

int main(int argc, char **argv)
{
    if (argc < 3) {
        (void)fprintf(stderr, "usage: desk_bench FOLDER BOOK.yaml [MACHINES]\n");
        return 2;
    }
    int machines = argc > 3 ? atoi(argv[3]) : 1000;
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct text path = text_new(&a);
    text_join(&path, argv[1], "/desk_bench.witmark", (char *)0);
    static const char *const ends[] = {"", "-wal", "-shm"};
    for (size_t i = 0; i < 3; i++) {
        struct text file = text_new(&a);
        text_join(&file, text_z(&path), ends[i], (char *)0);
        (void)unlink(text_z(&file));
    }
    struct desk_options options = desk_options_default(text_z(&path));
    struct desk *d = NULL;
    if (!desk_depot_new(&options, S("bench"), S("UTC"), &e) || !desk_open(&options, &d, &e)) {
        stop(&a, &e);
    }
    fill(d, &a, argv[2], machines, &e);
    desk_close(d);

    double alone = rows_alone(text_z(&path));
    double before = resident_kb();
    double from = now();
    if (!desk_open(&options, &d, &e)) {
        stop(&a, &e);
    }
    struct arena scratch = arena_new(&arena_libc);
    size_t n = ask_today(d, &scratch, "", &e);
    double first = now() - from;
    (void)printf(
        "whole depot from its file, fit and %zu lines of today: %.3f s, %.1f times SQLite handing over the rows; "
        "%.1f kB a machine\n",
        n, first, first / alone, (resident_kb() - before) / machines);
    arena_free(&scratch);
    scratch = arena_new(&arena_libc);
    from = now();
    (void)ask_today(d, &scratch, "", &e);
    (void)printf("all of today again, nothing new: %.1f ms\n", (now() - from) * 1e3);
    arena_free(&scratch);

    double record = 0;
    double update = 0;
    double worst = 0;
    for (int i = 0; i < SINGLES; i++) {
        scratch = arena_new(&arena_libc);
        struct text name = text_new(&scratch);
        text_addz(&name, "BR6-");
        text_zeros(&name, 2000 + i * 7 % machines, 5);
        struct desk_stamp stamp = {.machine = text_str(&name), .by = S("bench"), .at = INSTANT_NONE};
        struct text hours = text_new(&scratch);
        text_number(&hours, 3000 + i, 1);
        struct desk_recorded recorded;
        from = now();
        if (!desk_record_meter(d, &stamp, text_str(&hours), &scratch, &recorded, &e)) {
            stop(&a, &e);
        }
        double middle = now();
        (void)ask_today(d, &scratch, text_z(&name), &e);
        double took = now() - middle;
        record += middle - from;
        update += took;
        worst = fmax(worst, took);
        arena_free(&scratch);
    }
    (void)printf("one entry: recorded in %.2f ms; taken up and its machine's list answered in %.3f ms, worst %.3f ms\n",
                 record / SINGLES * 1e3, update / SINGLES * 1e3, worst * 1e3);
    desk_close(d);
    arena_free(&a);
    return 0;
}
