/* Rounds of the demo's books: lists as long as a real service is are proven fastest within the work that the desk
 * allows itself, with no clock. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "desk.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool always(void *ctx)
{
    (void)ctx;
    return true;
}

/* A depot with one machine of the book. */
static struct desk *open_desk(struct arena *a, struct err *e, const char *folder, const char *book, const char *serial,
                              const char *options)
{
    instant_ms now = 0;
    assert_true(instant_parse(S("2026-11-25T12:00:00Z"), &now));
    struct world_seeded *seeded = ARENA_NEW(a, struct world_seeded);
    *seeded = world_seeded_new(7, now);
    char path[512];
    (void)snprintf(path, sizeof path, "%s/depot", folder);
    struct desk_options how = desk_options_default(str_z(a, str_copy(a, str_of(path))));
    how.log.world = world_of_seeded(seeded);
    struct desk *d = NULL;
    assert_true(desk_depot_new(&how, S("Test depot"), S("Europe/Lisbon"), e) && desk_open(&how, &d, e));
    const char *source = getenv("WITMARK_SOURCE");
    (void)snprintf(path, sizeof path, "%s/books/%s.yaml", source ? source : ".", book);
    struct diags findings = diags_new(a, 50);
    struct log_hash edition;
    struct entry_id id;
    struct desk_machine_new machine = {.serial = str_of(serial),
                                       .label = S("X-1"),
                                       .options = str_of(options),
                                       .site = S("Mole"),
                                       .by = S("Ines"),
                                       .in_service = DAY_NONE,
                                       .at = INSTANT_NONE};
    assert_true(day_parse(S("2026-01-10"), &machine.in_service));
    if (!desk_book_take(d, path, &findings, &edition, e) || !desk_machine_add(d, &machine, &id, e)) {
        fail_msg("%s: %s", book, str_z(a, err_text(a, e)));
    }
    return d;
}

static void proven(void **state)
{
    (void)state;
    static const struct {
        const char *book, *serial, *options, *scope;
        size_t least; /* steps, walks not counted */
    } rows[] = {
        {"lark72", "L72-1402", "", "daily,50-h,250-h", 70},
        {"brine6", "BR6-02204", "cab,exhaust-filter", "daily,50-h,250-h", 70},
        {"stoat24", "ST24-00207", "", "daily,50-h,250-h", 65},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct arena a = arena_new(&arena_libc);
        struct err e = err_new(&a);
        char folder[] = "/tmp/witmark-round-XXXXXX";
        assert_non_null(mkdtemp(folder));
        struct desk *d = open_desk(&a, &e, folder, rows[i].book, rows[i].serial, rows[i].options);
        struct desk_round_ask ask = {.machine = S("X-1"), .scope = str_of(rows[i].scope), .go_on = always};
        struct desk_round round;
        if (!desk_round(d, &ask, &a, &round, &e)) {
            fail_msg("%s: %s", rows[i].book, str_z(&a, err_text(&a, &e)));
        }
        size_t steps = 0;
        for (size_t k = 0; k < round.n; k++) {
            steps += round.steps[k].type != STEP_WALK;
        }
        if (!round.proven || steps < rows[i].least) {
            fail_msg("%s: %zu steps, %.0f s, bound %.0f s", rows[i].book, steps, round.moves_s, round.bound_s);
        }
        desk_close(d);
        arena_free(&a);
        char command[64];
        (void)snprintf(command, sizeof command, "rm -r '%s'", folder);
        assert_int_equal(system(command), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(proven)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
