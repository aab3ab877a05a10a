/* The depot that tests share. */
#include "bench.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *source_folder(void)
{
    const char *source = getenv("WITMARK_SOURCE");
    return source ? source : ".";
}

instant_ms bench_noon(void)
{
    instant_ms now = 0;
    assert_true(instant_parse(S("2026-11-25T12:00:00Z"), &now));
    return now;
}

struct desk_options bench_options(struct bench *b)
{
    struct desk_options options = desk_options_default(b->path);
    options.log.world = world_of_seeded(&b->seeded);
    return options;
}

void bench_open_again(struct bench *b)
{
    struct desk_options options = bench_options(b);
    ok(b, desk_open(&options, &b->d, &b->e));
}

void bench_open(struct bench *b, uint64_t seed)
{
    *b = (struct bench){.a = arena_new(&arena_libc)};
    b->e = err_new(&b->a);
    (void)snprintf(b->folder, sizeof b->folder, "/tmp/witmark-test-XXXXXX");
    assert_non_null(mkdtemp(b->folder));
    (void)snprintf(b->path, sizeof b->path, "%s/depot", b->folder);
    b->seeded = world_seeded_new(seed, bench_noon());
    struct desk_options options = bench_options(b);
    ok(b, desk_depot_new(&options, S("Test depot"), S("Europe/Lisbon"), &b->e));
    bench_open_again(b);
}

void bench_close(struct bench *b)
{
    desk_close(b->d);
    arena_free(&b->a);
    char command[160];
    (void)snprintf(command, sizeof command, "rm -r '%s'", b->folder);
    assert_int_equal(system(command), 0);
}

void bench_book(struct bench *b, const char *path)
{
    char whole[512];
    struct diags findings = diags_new(&b->a, 50);
    struct log_hash edition;
    (void)snprintf(whole, sizeof whole, "%s/%s", source_folder(), path);
    ok(b, desk_book_take(b->d, whole, &findings, &edition, &b->e));
}

void bench_machine(struct bench *b, const char *serial, const char *label, const char *options, const char *site)
{
    struct desk_machine_new m = {.serial = str_of(serial),
                                 .label = str_of(label),
                                 .options = str_of(options),
                                 .site = str_of(site),
                                 .by = S("Ines")};
    struct entry_id id;
    assert_true(day_parse(S("2026-01-10"), &m.in_service));
    ok(b, desk_instant(b->d, S("2026-02-01"), &m.at, &b->e));
    ok(b, desk_machine_add(b->d, &m, &id, &b->e));
}

struct desk_stamp bench_stamp(struct bench *b, const char *machine, const char *when)
{
    struct desk_stamp s = {.machine = str_of(machine), .by = S("Ines"), .at = INSTANT_NONE};
    ok(b, desk_instant(b->d, str_of(when), &s.at, &b->e));
    return s;
}

void bench_meter(struct bench *b, const char *machine, const char *when, const char *hours)
{
    struct desk_stamp s = bench_stamp(b, machine, when);
    struct desk_recorded r;
    ok(b, desk_record_meter(b->d, &s, str_of(hours), &b->a, &r, &b->e));
}
