/* Rounds of the demo's books: lists as long as a real service is are proven fastest within the work that the desk
 * allows itself, with no clock. */
#include "bench.h"

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
        char path[64];
        (void)snprintf(path, sizeof path, "books/%s.yaml", rows[i].book);
        struct bench b;
        bench_open(&b, 7);
        bench_book(&b, path);
        bench_machine(&b, rows[i].serial, "X-1", rows[i].options, "Mole");
        struct desk_round_ask ask = {.machine = S("X-1"), .scope = str_of(rows[i].scope), .go_on = always};
        struct desk_round round;
        ok(&b, desk_round(b.d, &ask, &b.a, &round, &b.e));
        size_t steps = 0;
        for (size_t k = 0; k < round.n; k++) {
            steps += round.steps[k].type != STEP_WALK;
        }
        if (!round.proven || steps < rows[i].least) {
            fail_msg("%s: %zu steps, %.0f s, bound %.0f s", rows[i].book, steps, round.moves_s, round.bound_s);
        }
        bench_close(&b);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(proven)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
