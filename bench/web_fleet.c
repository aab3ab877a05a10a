/* Makes the depot that bench/web.py serves: many machines of one book, each with some meter readings.
 *
 *   web_fleet DEPOT BOOK.yaml MACHINES READINGS
 */
#include "desk.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>

#define BATCH 2000

static _Noreturn void stop(struct arena *a, const struct err *e)
{
    struct str s = err_text(a, e);
    (void)fprintf(stderr, "web_fleet: %.*s\n", STR_ARG(s));
    exit(1);
}

/* Entries on their way into the log, many at once: one by one each would be its own safe write. */
struct batch {
    struct depot *depot;
    struct arena a;
    struct draft drafts[BATCH];
    json_t *bodies[BATCH];
    size_t n;
    struct err *e;
};

static void flush(struct batch *b)
{
    if (b->n && !depot_append(b->depot, b->drafts, b->n, NULL, b->e)) {
        stop(b->e->a, b->e);
    }
    for (size_t i = 0; i < b->n; i++) {
        json_decref(b->bodies[i]);
    }
    b->n = 0;
    arena_free(&b->a);
}

static void add(struct batch *b, struct draft draft, json_t *body)
{
    draft.machine = str_copy(&b->a, draft.machine);
    draft.body = body;
    draft.by = S("bench");
    b->bodies[b->n] = body;
    b->drafts[b->n++] = draft;
    if (b->n == BATCH) {
        flush(b);
    }
}

/* Registration, readings every fortnight, of which each machine has another rate. */
static void add_machine(struct batch *b, int i, int readings, instant_ms now)
{
    char serial[16];
    char since[16];
    (void)snprintf(serial, sizeof serial, "BR6-%05d", 2000 + i);
    (void)snprintf(since, sizeof since, "2025-%02d-%02d", 1 + i % 12, 1 + i % 28);
    instant_ms day = 86400000;
    add(b, (struct draft){.kind = KIND_MACHINE_IN, .at = now - 400 * day, .machine = str_of(serial)},
        json_pack("{s:s,s:s,s:[],s:s}", "book", "brine6", "serial", serial, "options", "in_service", since));
    double hours = 100 + i % 500;
    for (int k = 0; k < readings; k++) {
        hours += 10 + (i * 7 + k * 13) % 31;
        add(b, (struct draft){.kind = KIND_METER, .at = now - (readings - k) * 14 * day, .machine = str_of(serial)},
            json_pack("{s:f}", "hours", hours));
    }
}

int main(int argc, char **argv)
{
    static struct batch b;
    if (argc != 5) {
        (void)fprintf(stderr, "usage: web_fleet DEPOT BOOK.yaml MACHINES READINGS\n");
        return 2;
    }
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct desk_options options = desk_options_default(argv[1]);
    struct desk *d = NULL;
    struct diags findings = diags_new(&a, 100);
    struct log_hash edition;
    if (!desk_depot_new(&options, S("Bench"), S("Europe/Lisbon"), &e) || !desk_open(&options, &d, &e) ||
        !desk_book_take(d, argv[2], &findings, &edition, &e)) {
        stop(&a, &e);
    }
    b = (struct batch){.depot = desk_depot(d), .a = arena_new(&arena_libc), .e = &e};
    for (int i = 0; i < atoi(argv[3]); i++) {
        add_machine(&b, i, atoi(argv[4]), desk_now(d));
    }
    flush(&b);
    desk_close(d);
    arena_free(&a);
    return 0;
}
