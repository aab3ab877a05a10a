/* Whole requests without a network: the first line is a method and a target, the second a cookie, the rest a body; they
 * go through the gate and their route over a depot in a file of their own. Whatever comes, the answer has a status that
 * belongs there, never 500; JSON is JSON; and the depot still proves afterwards, now and then. */
#include "api.h"
#include "desk_people.h"
#include "gate.h"

#include "desk.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static char folder[64];
static struct api api;

static void check(bool holds)
{
    if (!holds) {
        abort();
    }
}

static void clean_up(void)
{
    char command[160];
    gate_close(api.gate);
    pool_close(&api.desks);
    desk_close(api.desks.desks[0]);
    (void)snprintf(command, sizeof command, "rm -r '%s'", folder);
    check(system(command) == 0);
}

/* One depot for all inputs, with a book, a machine and a person. */
static void open_once(void)
{
    static struct world_seeded world;
    if (folder[0]) {
        return;
    }
    char path[96];
    char book[512];
    const char *source = getenv("WITMARK_SOURCE");
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    strcpy(folder, access("/dev/shm", W_OK) == 0 ? "/dev/shm/witmark-fuzz-XXXXXX" : "/tmp/witmark-fuzz-XXXXXX");
    check(mkdtemp(folder) != NULL);
    (void)snprintf(path, sizeof path, "%s/depot", folder);
    (void)snprintf(book, sizeof book, "%s/books/brine6.yaml", source ? source : ".");
    world = world_seeded_new(3, 1795608000000);
    struct desk_options options = desk_options_default(path);
    options.log.world = world_of_seeded(&world);
    struct desk *d = NULL;
    struct diags findings = diags_new(&a, 50);
    struct log_hash edition;
    struct entry_id id;
    struct desk_machine_new machine = {
        .serial = S("BR6-02204"), .label = S("B-03"), .by = S("Ines"), .in_service = DAY_NONE, .at = INSTANT_NONE};
    check(desk_depot_new(&options, S("Fuzz"), S("Europe/Lisbon"), &e) && desk_open(&options, &d, &e) &&
          desk_book_take(d, book, &findings, &edition, &e) && desk_machine_add(d, &machine, &id, &e) &&
          desk_person_add(d, S("Ines"), ROLE_BOOKS, S("four quiet words"), COST_LEAST, &e));
    pool_open(&api.desks, d);
    (void)pthread_mutex_init(&api.print_lock, NULL);
    struct gate_options gate = {.desk = d};
    check(gate_open(&gate, &api.gate, &e));
    arena_free(&a);
    (void)atexit(clean_up);
}

/* Printing starts a program, rounds search for a second, passwords are slow on purpose, proof reads everything: each
 * has tests of its own. */
static bool left_out(const struct route *r)
{
    static const char *const parts[] = {".pdf", "/round", "/kit", "/login", "/password", "/verify", "/plan", "/trace"};
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
        if (strstr(r->pattern, parts[i])) {
            return true;
        }
    }
    return false;
}

/* As somebody who may everything, through the gate's own check. */
static void run(struct asking *asking, const struct route *route, struct arena *a)
{
    struct err e = err_new(a);
    struct who nobody;
    check(gate_who(api.gate, asking, a, &nobody, &e) && !nobody.signed_in && nobody.login_needed);
    struct who who = {
        .login_needed = true, .signed_in = true, .name = S("Ines"), .role = ROLE_BOOKS, .csrf = S("token")};
    if (gate_check(route, asking, &who, (struct str){0}, a).status || left_out(route) ||
        asking->body.n > route->body_most) {
        return;
    }
    struct answer answer = api_answer(&api, route, asking, &who, a);
    check(answer.status >= 200 && answer.status < 500 && answer.type && (answer.body.p || !answer.body.n));
    if (strstr(answer.type, "json") && !strstr(answer.type, "ndjson")) {
        json_t *json = json_loadb(answer.body.p, answer.body.n, JSON_REJECT_DUPLICATES | JSON_ALLOW_NUL, NULL);
        check(json != NULL);
        json_decref(json);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct str rest = {(const char *)data, size};
    struct str line = {0};
    struct str method = {0};
    struct str args[3];
    struct str allow;
    struct asking asking = {.host = S("localhost"), .from = S("127.0.0.1")};
    open_once();
    (void)str_next(&rest, '\n', &line);
    (void)str_next(&line, ' ', &method);
    (void)str_next(&rest, '\n', &asking.cookie);
    asking.method = str_z(&a, method);
    asking.body = rest;
    asking.token = S("token");
    (void)gate_host(api.gate, asking.cookie);
    if (target_parse(&a, line, &asking.target, &e)) {
        const struct route *route = api_route(asking.method, &asking.target, args, &a, &allow);
        if (route) {
            run(&asking, route, &a);
        }
    }
    arena_free(&a);
    return 0;
}
