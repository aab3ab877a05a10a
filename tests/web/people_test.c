/* People at the gate: accounts, sessions, roles on every route of the table, guessing, cookies that are none. */
#include "web_client.h"

#include "api.h"
#include "desk_people.h"
#include "gate.h"
#include "throttle.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const names[] = {"Lena", "Ines", "Marc", "Bela"}; /* by role */
#define PASSWORD "four quiet words here"

static void prepare(struct bench *b)
{
    for (int i = 0; i < 4; i++) {
        ok(b, desk_person_add(b->d, str_of(names[i]), (enum role)i, S(PASSWORD), COST_LEAST, &b->e));
    }
}

static int set_up(void **state)
{
    return share_depot(state, prepare, NULL);
}

static void csrf_of(struct bench *b, const char *cookie, char *csrf, size_t size)
{
    char more[256] = "";
    if (cookie[0]) {
        (void)snprintf(more, sizeof more, "Cookie: %s\r\n", cookie);
    }
    struct reply r = get(b, "/api/session", more);
    json_t *json = json_of(&r);
    (void)snprintf(csrf, size, "%s", json_string_value(json_object_get(json, "csrf")));
    json_decref(json);
    free(r.text);
}

/* A request with cookie and its token. */
static struct reply as(struct bench *b, const char *cookie, const char *method, const char *target, const char *type,
                       const char *body)
{
    char csrf[80];
    char more[512];
    csrf_of(b, cookie, csrf, sizeof csrf);
    (void)snprintf(more, sizeof more, "%s%s%sX-Witmark-Token: %s\r\n%s%s%s", cookie[0] ? "Cookie: " : "", cookie,
                   cookie[0] ? "\r\n" : "", csrf, type ? "Content-Type: " : "", type ? type : "", type ? "\r\n" : "");
    return ask(b, method, target, more, body);
}

static struct reply sign_in(struct bench *b, const char *name, const char *password)
{
    char body[256];
    (void)snprintf(body, sizeof body, "{\"name\":\"%s\",\"password\":\"%s\"}", name, password);
    return as(b, "", "POST", "/api/login", "application/json", body);
}

/* The cookie of somebody who signed in: "witmark=...". */
static void cookie_of(struct bench *b, const char *name, char *cookie, size_t size)
{
    struct reply r = sign_in(b, name, PASSWORD);
    char value[256];
    assert_int_equal(r.status, 200);
    (void)header(&r, "Set-Cookie", value, sizeof value);
    (void)snprintf(cookie, size, "%.*s", (int)strcspn(value, ";"), value);
    free(r.text);
}

static void signing_in_gives_a_guarded_cookie(void **state)
{
    struct bench *b = *state;
    struct reply r = sign_in(b, "Ines", PASSWORD);
    char cookie[256];
    assert_int_equal(r.status, 200);
    (void)header(&r, "Set-Cookie", cookie, sizeof cookie);
    assert_non_null(strstr(cookie, "; HttpOnly"));
    assert_non_null(strstr(cookie, "; SameSite=Strict"));
    assert_non_null(strstr(cookie, "; Path=/"));
    assert_null(strstr(cookie, "Domain"));
    free(r.text);
    static const struct {
        const char *name, *password;
    } wrong[] = {{"Ines", "wrong"}, {"ines", PASSWORD}, {"Nobody", PASSWORD}, {"Ines", " " PASSWORD}};
    for (size_t i = 0; i < 4; i++) {
        r = sign_in(b, wrong[i].name, wrong[i].password);
        assert_int_equal(r.status, 401);
        assert_string_equal(header(&r, "Set-Cookie", cookie, sizeof cookie), "");
        assert_non_null(strstr(r.body, "name or password are wrong")); /* not which of them */
        free(r.text);
    }
    r = sign_in(b, "Ines", PASSWORD); /* forgives this address */
    assert_int_equal(r.status, 200);
    free(r.text);
}

static void a_session_ends(void **state)
{
    struct bench *b = *state;
    char cookie[256];
    cookie_of(b, "Ines", cookie, sizeof cookie);
    struct reply r = as(b, cookie, "GET", "/api/today", NULL, NULL);
    assert_int_equal(r.status, 200);
    free(r.text);
    r = as(b, cookie, "POST", "/api/logout", "application/json", "{}");
    assert_int_equal(r.status, 200);
    char gone[256];
    assert_non_null(strstr(header(&r, "Set-Cookie", gone, sizeof gone), "Max-Age=0"));
    free(r.text);
    r = as(b, cookie, "GET", "/api/today", NULL, NULL);
    assert_int_equal(r.status, 401);
    free(r.text);
    /* Time and a new password end it as well. */
    cookie_of(b, "Ines", cookie, sizeof cookie);
    b->seeded.now += 31LL * 86400000;
    r = as(b, cookie, "GET", "/api/today", NULL, NULL);
    assert_int_equal(r.status, 401);
    free(r.text);
    b->seeded.now -= 31LL * 86400000;
    cookie_of(b, "Lena", cookie, sizeof cookie);
    ok(b, desk_person_password(b->d, S("Lena"), S(PASSWORD), COST_LEAST, &b->e));
    r = as(b, cookie, "GET", "/api/today", NULL, NULL);
    assert_int_equal(r.status, 401);
    free(r.text);
}

/* "/api/machines/{machine}/why/{key}" with something in the braces. */
static void fill(const char *pattern, char *target, size_t size)
{
    size_t n = 0;
    for (const char *c = pattern; *c && n + 4 < size; c++) {
        if (*c == '{') {
            target[n++] = 'x';
            c = strchr(c, '}');
        } else {
            target[n++] = *c;
        }
    }
    target[n] = '\0';
}

/* Every route of the table, by everybody: who may not gets 401 or 403, who may gets anything else. */
static void every_route_asks_for_its_role(void **state)
{
    struct bench *b = *state;
    char cookies[4][256];
    size_t n = 0;
    const struct route *const *tables = api_tables(&n);
    for (int i = 0; i < 4; i++) {
        cookie_of(b, names[i], cookies[i], sizeof cookies[i]);
    }
    for (size_t k = 0; k < n; k++) {
        for (const struct route *r = tables[k]; r->method; r++) {
            char target[256];
            bool open = (r->flags & ROUTE_OPEN) != 0;
            fill(r->pattern, target, sizeof target);
            if (open) {
                continue; /* tested above; signing in and out would end the sessions */
            }
            for (int i = -1; i < 4; i++) {
                struct reply reply = as(b, i < 0 ? "" : cookies[i], r->method, target, r->takes ? r->takes : "x/y",
                                        r->body_most ? "{}" : NULL);
                int refused = i < 0 ? 401 : i < (int)r->role ? 403 : 0;
                bool right =
                    refused ? reply.status == refused : reply.status != 401 && reply.status != 403 && reply.status != 0;
                if (!right) {
                    fail_msg("%s %s by %s: %d\n%s", r->method, r->pattern, i < 0 ? "nobody" : names[i], reply.status,
                             reply.text);
                }
                free(reply.text);
            }
        }
    }
}

/* The same routes without the token, by somebody who may everything: nothing is changed from a foreign page. */
static void every_change_asks_for_the_token(void **state)
{
    struct bench *b = *state;
    char cookie[256];
    char more[512];
    size_t n = 0;
    int seen = 0;
    const struct route *const *tables = api_tables(&n);
    cookie_of(b, "Bela", cookie, sizeof cookie);
    for (size_t k = 0; k < n; k++) {
        for (const struct route *r = tables[k]; r->method; r++) {
            if (strcmp(r->method, "GET") == 0) {
                continue;
            }
            char target[256];
            fill(r->pattern, target, sizeof target);
            (void)snprintf(more, sizeof more, "Cookie: %s\r\nContent-Type: %s\r\n", cookie,
                           r->takes ? r->takes : "x/y");
            struct reply reply = ask(b, r->method, target, more, "{}");
            if (reply.status != 403) {
                fail_msg("%s %s: %s", r->method, r->pattern, reply.text);
            }
            free(reply.text);
            seen++;
        }
    }
    assert_true(seen >= 7);
}

static void an_entry_is_by_who_is_signed_in(void **state)
{
    struct bench *b = *state;
    char ines[256];
    char marc[256];
    cookie_of(b, "Ines", ines, sizeof ines);
    cookie_of(b, "Marc", marc, sizeof marc);
    const struct {
        const char *cookie, *body;
        int status;
        const char *by;
    } rows[] = {
        {ines, "{\"machine\":\"G-1\",\"kind\":\"note\",\"body\":{\"text\":\"x\"}}", 200, "\"by\":\"Ines\""},
        {ines, "{\"machine\":\"G-1\",\"kind\":\"note\",\"by\":\"Ines\",\"body\":{\"text\":\"x\"}}", 200,
         "\"by\":\"Ines\""},
        {ines, "{\"machine\":\"G-1\",\"kind\":\"note\",\"by\":\"Marc\",\"body\":{\"text\":\"x\"}}", 403, "signed in"},
        {marc, "{\"machine\":\"G-1\",\"kind\":\"note\",\"by\":\"Ines\",\"body\":{\"text\":\"x\"}}", 200,
         "\"by\":\"Ines\""},
        {ines, "{\"machine\":\"G-1\",\"kind\":\"machine-out\",\"body\":{\"reason\":\"x\"}}", 403, "plan"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = as(b, rows[i].cookie, "POST", "/api/record", "application/json", rows[i].body);
        if (r.status != rows[i].status || !strstr(r.body, rows[i].by)) {
            fail_msg("row %zu: %s", i, r.text);
        }
        free(r.text);
    }
}

/* Cookies of any shape never sign anybody in and never end the server. Seed printed. */
static void cookies_that_are_none(void **state)
{
    struct bench *b = *state;
    uint64_t seed = getenv("WITMARK_SEED") ? strtoull(getenv("WITMARK_SEED"), NULL, 10) : 20261125;
    char cookie[256];
    cookie_of(b, "Ines", cookie, sizeof cookie);
    print_message("seed %llu\n", (unsigned long long)seed);
    for (int i = 0; i < 300; i++) {
        char broken[300];
        char more[400];
        (void)snprintf(broken, sizeof broken, "%s", cookie);
        size_t n = strlen(broken);
        for (int k = 0; k < 1 + i % 3; k++) {
            seed = seed * 6364136223846793005U + 1442695040888963407U;
            char c = (char)(33 + (seed >> 40) % 94);
            broken[8 + (seed >> 33) % (n - 8)] = c == cookie[8] ? '0' : c;
        }
        if (strcmp(broken, cookie) == 0) {
            continue;
        }
        (void)snprintf(more, sizeof more, "Cookie: %s\r\n", i % 7 ? broken : "witmark=; witmark; =; ;;;witmark==");
        struct reply r = get(b, "/api/today", more);
        if (r.status != 401) {
            fail_msg("%s: %d", broken, r.status);
        }
        free(r.text);
    }
    (void)snprintf(cookie + strlen(cookie), 30, "; other=1");
    char more[400];
    (void)snprintf(more, sizeof more, "Cookie: a=b; %s\r\n", cookie);
    struct reply r = get(b, "/api/today", more);
    assert_int_equal(r.status, 200);
    free(r.text);
}

/* With accounts the calendar opens by the token of a person, until their password changes; a made-up one does not. */
static void a_calendar_token_ends_with_the_password(void **state)
{
    struct bench *b = *state;
    char cookie[256];
    char more[300];
    char target[256];
    cookie_of(b, "Lena", cookie, sizeof cookie);
    (void)snprintf(more, sizeof more, "Cookie: %s\r\n", cookie);
    struct reply session = get(b, "/api/session", more);
    json_t *json = json_of(&session);
    (void)snprintf(target, sizeof target, "/api/calendar.ics?token=%s",
                   json_string_value(json_object_get(json, "calendar")));
    json_decref(json);
    free(session.text);
    for (int i = 0; i < 3; i++) {
        struct reply r = get(b, target, "");
        assert_int_equal(r.status, i == 0 ? 200 : 401);
        free(r.text);
        if (i == 0) {
            ok(b, desk_person_password(b->d, S("Lena"), S(PASSWORD), COST_LEAST, &b->e));
        } else {
            target[strlen(target) - 1] ^= 1;
        }
    }
    struct reply r = get(b, "/api/calendar.ics", "");
    assert_int_equal(r.status, 401);
    free(r.text);
}

static void guessing_gets_slow(void **state)
{
    struct bench *b = *state;
    int refused = 0;
    int limited = 0;
    for (int i = 0; i < 12; i++) {
        struct reply r = sign_in(b, "Marc", "a wrong password");
        refused += r.status == 401;
        limited += r.status == 429;
        if (r.status == 429) {
            char wait[16];
            assert_true(atoi(header(&r, "Retry-After", wait, sizeof wait)) > 0);
        }
        free(r.text);
    }
    assert_int_equal(refused, 6); /* five for nothing, one that starts the clock */
    assert_int_equal(limited, 6);
    struct reply r = sign_in(b, "Marc", PASSWORD); /* the right one waits as well */
    assert_int_equal(r.status, 429);
    free(r.text);
}

static void waits_double_and_are_forgotten(void **state)
{
    struct throttle *t = calloc(1, sizeof *t);
    (void)state;
    assert_non_null(t);
    t->free_attempts = 2;
    t->first_s = 5;
    t->most_s = 60;
    static const int waits[] = {0, 0, 5, 10, 20, 40, 60, 60};
    for (size_t i = 0; i < 8; i++) {
        throttle_failed(t, S("a"), 1000);
        assert_int_equal(throttle_wait(t, S("a"), 1000), waits[i]);
    }
    assert_int_equal(throttle_wait(t, S("a"), 1059), 1);
    assert_int_equal(throttle_wait(t, S("a"), 1060), 0);
    assert_int_equal(throttle_wait(t, S("b"), 1000), 0);
    throttle_failed(t, S("a"), 1000 + 86500);
    assert_int_equal(throttle_wait(t, S("a"), 1000 + 86500), 0);
    throttle_passed(t, S("a"));
    for (int i = 0; i < 5000; i++) { /* many keys: old ones are forgotten, nothing breaks */
        char key[16];
        (void)snprintf(key, sizeof key, "k%d", i);
        throttle_failed(t, str_of(key), 2000 + i);
    }
    free(t);
}

static void people_are_kept_with_care(void **state)
{
    struct bench *b = *state;
    struct err e = err_new(&b->a);
    assert_false(desk_person_add(b->d, S("Ines"), ROLE_LOOK, S(PASSWORD), COST_LEAST, &e));
    assert_int_equal(e.kind, ERR_CONFLICT);
    e = err_new(&b->a);
    assert_false(desk_person_add(b->d, S("New"), ROLE_LOOK, S("1234567"), COST_LEAST, &e));
    assert_int_equal(e.kind, ERR_INPUT);
    e = err_new(&b->a);
    assert_false(desk_person_add(b->d, S(" New"), ROLE_LOOK, S(PASSWORD), COST_LEAST, &e));
    assert_int_equal(e.kind, ERR_INPUT);
    e = err_new(&b->a);
    assert_false(desk_person_remove(b->d, S("Bela"), &e));
    assert_int_equal(e.kind, ERR_REFUSED);
    e = err_new(&b->a);
    assert_false(desk_person_role(b->d, S("Bella"), ROLE_LOOK, &e));
    assert_int_equal(e.kind, ERR_MISSING);
    assert_non_null(strstr(str_z(&b->a, e.right), "Bela"));
    /* Kept as argon2id (RFC 9106), never as it is. */
    struct desk_person person;
    bool found = false;
    ok(b, desk_person_find(b->d, S("Ines"), &b->a, &person, &found, &b->e));
    assert_true(found && str_starts(person.password, S("$argon2id$")));
}

static void beyond_this_machine_more_is_asked(void **state)
{
    struct bench *b = *state;
    struct bench other = {0};
    open_depot(&other);
    struct web_options options = {.desk = other.d, .address = "0.0.0.0"};
    struct web *w = NULL;
    struct err e = err_new(&b->a);
    assert_false(web_start(&options, &w, &e)); /* nobody could sign in */
    assert_int_equal(e.kind, ERR_REFUSED);
    assert_non_null(strstr(str_z(&b->a, e.right), "person add"));
    ok(&other, desk_person_add(other.d, S("Bela"), ROLE_BOOKS, S(PASSWORD), COST_LEAST, &other.e));
    e = err_new(&b->a);
    assert_false(web_start(&options, &w, &e)); /* readable on the way */
    assert_int_equal(e.kind, ERR_REFUSED);
    assert_non_null(strstr(str_z(&b->a, e.right), "authority make"));
    options.behind_proxy = true;
    ok(&other, web_start(&options, &other.w, &other.e));
    struct reply r =
        say(web_port(other.w), "GET /api/today HTTP/1.1\r\nHost: depot.example\r\nConnection: close\r\n\r\n");
    assert_int_equal(r.status, 401);
    free(r.text);
    close_depot(&other);
}

static void hosts_are_those_that_were_named(void **state)
{
    struct bench *b = *state;
    struct gate *g = NULL;
    struct gate_options options = {.desk = b->d, .hosts = "depot.local,192.168.1.20"};
    ok(b, gate_open(&options, &g, &b->e));
    static const struct {
        const char *host;
        bool ours;
    } rows[] = {{"depot.local", true}, {"DEPOT.local:8075", true}, {"192.168.1.20:8075", true},
                {"localhost", true},   {"192.168.1.21", false},    {"depot.local.example", false},
                {"", false},           {"depot.local:x", false}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_int_equal(gate_host(g, str_of(rows[i].host)), rows[i].ours);
    }
    gate_close(g);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(signing_in_gives_a_guarded_cookie, set_up),
        cmocka_unit_test_setup(a_session_ends, set_up),
        cmocka_unit_test_setup(every_route_asks_for_its_role, set_up),
        cmocka_unit_test_setup(every_change_asks_for_the_token, set_up),
        cmocka_unit_test_setup(an_entry_is_by_who_is_signed_in, set_up),
        cmocka_unit_test_setup(cookies_that_are_none, set_up),
        cmocka_unit_test_setup(a_calendar_token_ends_with_the_password, set_up),
        cmocka_unit_test_setup(people_are_kept_with_care, set_up),
        cmocka_unit_test_setup(beyond_this_machine_more_is_asked, set_up),
        cmocka_unit_test_setup(hosts_are_those_that_were_named, set_up),
        cmocka_unit_test(waits_double_and_are_forgotten),
        cmocka_unit_test_setup(guessing_gets_slow, set_up), /* last: afterwards this address waits */
    };
    return cmocka_run_group_tests(tests, NULL, share_end);
}
