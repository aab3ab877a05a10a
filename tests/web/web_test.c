/* The server as a stranger sees it: a real one on a free loopback port, spoken to with a bare socket. Status codes and
 * headers after RFC 9110 (405 must carry Allow: 15.5.6; 304 and If-None-Match: 13.1.2, 15.4.5; Vary: 12.5.5), problems
 * after RFC 9457. */
#include "web_client.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static int set_up(void **state)
{
    return share_depot(state, NULL, NULL);
}

/* ---- what is there and what is not ---- */

static void answers_have_their_status_and_type(void **state)
{
    static const struct {
        const char *target;
        int status;
        const char *type;
    } rows[] = {
        {"/", 200, "text/html; charset=utf-8"},
        {"/index.html", 200, "text/html; charset=utf-8"},
        {"/style.css", 200, "text/css; charset=utf-8"},
        {"/main.js", 200, "text/javascript; charset=utf-8"},
        {"/icon.svg", 200, "image/svg+xml"},
        {"/api/today", 200, "application/json"},
        {"/api/today?days=30&site=Mole", 200, "application/json"},
        {"/api/machines", 200, "application/json"},
        {"/api/machines/G-1", 200, "application/json"},
        {"/api/machines/l72-1544", 200, "application/json"},
        {"/api/machines/B%2F03", 200, "application/json"},
        {"/api/machines/B%2f03/figures/plan", 200, "image/svg+xml"},
        {"/api/machines/B%2F03/why/engine-oil-level", 200, "application/json"},
        {"/api/machines/B%2F03/round?scope=daily", 200, "application/json"},
        {"/api/machines/B%2F03/round?within=50&minutes=30", 200, "application/json"},
        {"/api/machines/B%2F03/plots", 200, "application/json"},
        {"/api/machines/B%2F03/plot/engine-oil", 200, "application/json"},
        {"/api/machines/B%2F03/plot/engine-oil.svg?width=360&language=es", 200, "image/svg+xml"},
        {"/api/machines/B%2F03/plot/engine-oil.svg?width=20", 400, "application/problem+json"},
        {"/api/machines/B%2F03/plot/engine-oil.svg?language=tlh", 400, "application/problem+json"},
        {"/api/machines/B%2F03/plot/engine-oli.svg", 404, "application/problem+json"},
        {"/nothing", 404, "application/problem+json"},
        {"/api", 404, "application/problem+json"},
        {"/api/machines/B/03", 404, "application/problem+json"},
        {"/api/machines/G-1/figures/plam", 404, "application/problem+json"},
        {"/api/machines/G-1/why/nothing", 404, "application/problem+json"},
        {"/api/machines/X-9", 404, "application/problem+json"},
        {"/api/machines/G-1/round?scope=nothing", 404, "application/problem+json"},
        {"/api/today?day=3", 400, "application/problem+json"},
        {"/api/today?days=x", 400, "application/problem+json"},
        {"/api/today?days=1&days=2", 400, "application/problem+json"},
        {"/api/machines/G-1/round?minutes=-1", 400, "application/problem+json"},
        {"/api/machines/G-1/round?minutes=1e999", 400, "application/problem+json"},
        {"/api/machines/G-1/sheet.pdf?paper=A3", 400, "application/problem+json"},
        {"/api/machines/", 400, "application/problem+json"},
        {"/api//machines", 400, "application/problem+json"},
        {"/api/machines/%", 400, "application/problem+json"},
        {"/api/machines/%00", 400, "application/problem+json"},
        {"/api/machines/%ff", 400, "application/problem+json"},
        {"/../etc/passwd", 400, "application/problem+json"},
        {"/%2e%2e/etc/passwd", 400, "application/problem+json"},
        {"/..%2f..%2fetc%2fpasswd", 404, "application/problem+json"},
        {"/lib/%2e%2e%2fmain.js", 404, "application/problem+json"},
        {"/.gitignore", 404, "application/problem+json"},
        {"//etc/passwd", 400, "application/problem+json"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = get(*state, rows[i].target, "");
        char type[128];
        (void)header(&r, "Content-Type", type, sizeof type);
        if (r.status != rows[i].status || strcmp(type, rows[i].type) != 0) {
            fail_msg("%s: %d %s, not %d %s\n%s", rows[i].target, r.status, type, rows[i].status, rows[i].type, r.text);
        }
        free(r.text);
    }
}

/* The core for the browser: its media type is what a browser asks before it compiles while loading (WebAssembly Web
 * API), and it begins with the magic of the WebAssembly core specification, 5.5.16. */
static void the_core_is_served_as_webassembly(void **state)
{
    struct reply r = get(*state, "/core.wasm", "");
    char type[64];
    if (r.status == 404) { /* built without clang for wasm */
        free(r.text);
        skip();
    }
    assert_int_equal(r.status, 200);
    assert_string_equal(header(&r, "Content-Type", type, sizeof type), "application/wasm");
    assert_memory_equal(r.body, "\0asm\1\0\0", 8);
    free(r.text);
}

/* RFC 9457 3.1: type, title, status, detail; with about:blank the title is that of the status. */
static void a_problem_says_what_is_wrong_and_right(void **state)
{
    struct reply r = get(*state, "/api/machines/G-2", "");
    json_t *json = json_of(&r);
    assert_string_equal(json_string_value(json_object_get(json, "type")), "about:blank");
    assert_string_equal(json_string_value(json_object_get(json, "title")), "Not Found");
    assert_int_equal(json_integer_value(json_object_get(json, "status")), 404);
    assert_string_equal(json_string_value(json_object_get(json, "kind")), "missing");
    assert_non_null(strstr(json_string_value(json_object_get(json, "detail")), "G-2"));
    assert_non_null(strstr(json_string_value(json_object_get(json, "right")), "G-1"));
    json_decref(json);
    free(r.text);
    r = get(*state, "/api/machines/ab%zz", "");
    json = json_of(&r);
    assert_int_equal(json_integer_value(json_object_get(json_object_get(json, "where"), "column")), 17);
    json_decref(json);
    free(r.text);
}

static void a_method_that_is_not_there_is_refused(void **state)
{
    struct bench *b = *state;
    static const struct {
        const char *request, *allow;
    } rows[] = {
        {"POST /api/today HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: 2\r\n\r\n{}",
         "GET, HEAD"},
        {"PUT / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: 0\r\n\r\n", "GET, HEAD"},
        {"DELETE /api/machines/G-1 HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "GET, HEAD"},
        {"OPTIONS / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "GET, HEAD"},
        {"BREW / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "GET, HEAD"},
        {"GET /api/record HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "POST"},
        {"DELETE /api/attachments/00 HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", "GET, HEAD, PUT"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = say(web_port(b->w), rows[i].request);
        char allow[64];
        assert_int_equal(r.status, 405);
        assert_string_equal(header(&r, "Allow", allow, sizeof allow), rows[i].allow);
        free(r.text);
    }
}

static void a_head_has_no_body(void **state)
{
    struct bench *b = *state;
    struct reply whole = get(b, "/style.css", "");
    struct reply head =
        say(web_port(b->w), "HEAD /style.css HTTP/1.1\r\nHost: localhost:8075\r\nConnection: close\r\n\r\n");
    char length[32];
    assert_int_equal(head.status, 200);
    assert_int_equal(head.n_body, 0);
    assert_int_equal(strtoull(header(&head, "Content-Length", length, sizeof length), NULL, 10), whole.n_body);
    free(whole.text);
    free(head.text);
}

static void too_much_is_refused(void **state)
{
    struct bench *b = *state;
    char target[4000];
    memset(target, 'a', sizeof target);
    target[0] = '/';
    target[2047] = '\0';
    struct reply r = get(b, target, "");
    assert_int_equal(r.status, 404);
    free(r.text);
    target[2047] = 'a';
    target[2100] = '\0';
    r = get(b, target, "");
    assert_int_equal(r.status, 414);
    free(r.text);
    r = say(web_port(b->w), "GET / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nConnection: close\r\n\r\nhello");
    assert_int_equal(r.status, 413);
    free(r.text);
    r = say(web_port(b->w),
            "GET / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\n0\r\n\r\n");
    assert_int_equal(r.status, 413);
    free(r.text);
    /* A header of 100 kB is more than the memory that a connection gets: the library answers 431 by itself. */
    size_t n = 100000;
    char *more = malloc(n + 16);
    assert_non_null(more);
    memset(more, 'x', n);
    memcpy(more, "X-Long: ", 8);
    strcpy(more + n, "\r\n");
    r = get(b, "/", more);
    assert_true(r.status == 431 || r.status == 413 || r.status == 0);
    free(more);
    free(r.text);
    r = get(b, "/", "");
    assert_int_equal(r.status, 200);
    free(r.text);
}

/* Another name may point at 127.0.0.1: a page of somebody else must not read the depot that way. */
static void a_foreign_host_gets_nothing(void **state)
{
    struct bench *b = *state;
    static const struct {
        const char *host;
        int status;
    } rows[] = {{"localhost", 200},
                {"LOCALHOST:8075", 200},
                {"127.0.0.1:8075", 200},
                {"127.9.9.9", 200},
                {"[::1]:8075", 200},
                {"sennet.example", 421},
                {"127.0.0.1.sennet.example", 421},
                {"localhost:x", 421},
                {"128.0.0.1", 421},
                {"[::2]", 421},
                {"", 421}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char request[256];
        (void)snprintf(request, sizeof request, "GET /api/today HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n",
                       rows[i].host);
        struct reply r = say(web_port(b->w), request);
        if (r.status != rows[i].status) {
            fail_msg("host '%s': %d, not %d", rows[i].host, r.status, rows[i].status);
        }
        free(r.text);
    }
    struct reply r = say(web_port(b->w), "GET / HTTP/1.1\r\nConnection: close\r\n\r\n");
    assert_true(r.status == 400 || r.status == 421);
    free(r.text);
}

/* ---- headers ---- */

static void every_answer_guards_itself(void **state)
{
    static const char *const targets[] = {"/", "/main.js", "/api/today", "/api/machines/B%2F03/figures/plan", "/nope"};
    static const char *const caches[] = {"no-cache", "no-cache", "private, no-cache", "private, no-cache", "no-store"};
    for (size_t i = 0; i < sizeof targets / sizeof *targets; i++) {
        struct reply r = get(*state, targets[i], "");
        char value[512];
        assert_string_equal(header(&r, "X-Content-Type-Options", value, sizeof value), "nosniff");
        assert_string_equal(header(&r, "Referrer-Policy", value, sizeof value), "no-referrer");
        assert_string_equal(header(&r, "Cache-Control", value, sizeof value), caches[i]);
        (void)header(&r, "Content-Security-Policy", value, sizeof value);
        assert_non_null(strstr(value, "default-src 'none'"));
        assert_non_null(strstr(value, "frame-ancestors 'none'"));
        assert_null(strstr(value, "'unsafe-eval'"));            /* only WebAssembly may be compiled */
        assert_true(i == 3 || !strstr(value, "unsafe-inline")); /* a drawing may have styles, but runs nothing */
        assert_true(i != 3 || strstr(value, "sandbox"));
        free(r.text);
    }
}

static void what_is_unchanged_is_not_sent_again(void **state)
{
    static const char *const targets[] = {"/", "/api/machines", "/api/machines/B%2F03/figures/plan"};
    for (size_t i = 0; i < sizeof targets / sizeof *targets; i++) {
        struct reply r = get(*state, targets[i], "");
        char etag[64];
        char more[256];
        char value[64];
        assert_true(strlen(header(&r, "ETag", etag, sizeof etag)) > 4);
        const char *const same[] = {"%s", "\"other\", %s", "W/%s", "*"};
        for (size_t k = 0; k < 4; k++) {
            char list[128];
            (void)snprintf(list, sizeof list, "%s", same[k]);
            char *at = strstr(list, "%s");
            if (at) {
                char head[64];
                (void)snprintf(head, sizeof head, "%.*s", (int)(at - list), list);
                (void)snprintf(list, sizeof list, "%s%s", head, etag);
            }
            (void)snprintf(more, sizeof more, "If-None-Match: %s\r\n", list);
            struct reply again = get(*state, targets[i], more);
            assert_int_equal(again.status, 304);
            assert_int_equal(again.n_body, 0);
            assert_string_equal(header(&again, "ETag", value, sizeof value), etag);
            free(again.text);
        }
        struct reply other = get(*state, targets[i], "If-None-Match: \"0123456789abcdef\"\r\n");
        assert_int_equal(other.status, 200);
        free(other.text);
        free(r.text);
    }
}

static void a_record_changes_the_etag(void **state)
{
    struct bench *b = *state;
    struct reply before = get(b, "/api/machines/G-1", "");
    char old[64];
    char new[64];
    (void)header(&before, "ETag", old, sizeof old);
    struct desk_stamp s = {.machine = S("G-1"), .by = S("Ines"), .at = INSTANT_NONE};
    struct desk_recorded recorded;
    ok(b, desk_record_meter(b->d, &s, S("12"), &b->a, &recorded, &b->e));
    struct reply after = get(b, "/api/machines/G-1", "");
    assert_string_not_equal(header(&after, "ETag", new, sizeof new), old);
    json_t *json = json_of(&after);
    assert_true(json_number_value(json_object_get(json_object_get(json, "meter"), "read_h")) == 12);
    json_decref(json);
    free(before.text);
    free(after.text);
}

static void gzip_goes_to_those_who_take_it(void **state)
{
    static const struct {
        const char *header;
        bool packed;
    } rows[] = {{"", false},
                {"Accept-Encoding: gzip\r\n", true},
                {"Accept-Encoding: br, GZIP;q=0.5\r\n", true},
                {"Accept-Encoding: gzip;q=0\r\n", false},
                {"Accept-Encoding: br\r\n", false}};
    struct reply plain = get(*state, "/style.css", "");
    char plain_etag[64];
    (void)header(&plain, "ETag", plain_etag, sizeof plain_etag);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = get(*state, "/style.css", rows[i].header);
        char value[64];
        assert_string_equal(header(&r, "Content-Encoding", value, sizeof value), rows[i].packed ? "gzip" : "");
        assert_string_equal(header(&r, "Vary", value, sizeof value), "Accept-Encoding");
        assert_true(rows[i].packed ? r.n_body < plain.n_body && memcmp(r.body, "\x1f\x8b", 2) == 0
                                   : r.n_body == plain.n_body);
        /* RFC 9110 8.8.3.3: another coding is another representation, with another ETag. */
        assert_true((strcmp(header(&r, "ETag", value, sizeof value), plain_etag) != 0) == rows[i].packed);
        free(r.text);
    }
    free(plain.text);
}

/* ---- many at once, beginning and end ---- */

struct caller {
    struct bench *b;
    int wrong;
};

static void *call_often(void *p)
{
    static const char *const targets[] = {"/api/today", "/", "/api/machines/G-1",
                                          "/api/machines/B%2F03/why/engine-oil-level",
                                          "/api/machines/B%2F03/round?scope=front-tyre-left"};
    struct caller *c = p;
    for (int i = 0; i < 20; i++) {
        struct reply r = get(c->b, targets[i % 5], "");
        c->wrong += r.status != 200 || r.n_body == 0;
        free(r.text);
    }
    return NULL;
}

static void many_at_once_get_whole_answers(void **state)
{
    pthread_t threads[8];
    struct caller callers[8];
    for (int i = 0; i < 8; i++) {
        callers[i] = (struct caller){*state, 0};
        assert_int_equal(pthread_create(&threads[i], NULL, call_often, &callers[i]), 0);
    }
    for (int i = 0; i < 8; i++) {
        assert_int_equal(pthread_join(threads[i], NULL), 0);
        assert_int_equal(callers[i].wrong, 0);
    }
}

static void one_connection_serves_several_requests(void **state)
{
    struct bench *b = *state;
    struct reply r = say(web_port(b->w), "GET /icon.svg HTTP/1.1\r\nHost: localhost\r\n\r\n"
                                         "GET /icon.svg HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
    const char *second = strstr(r.body, "HTTP/1.1 200");
    assert_int_equal(r.status, 200);
    assert_non_null(second);
    free(r.text);
}

static void only_loopback_is_listened_on(void **state)
{
    struct bench *b = *state;
    static const struct {
        const char *address;
        enum err_kind kind;
        const char *what;
    } rows[] = {{"0.0.0.0", ERR_REFUSED, "nobody could sign in"}, {"192.168.7.4", ERR_REFUSED, "nobody could sign in"},
                {"::", ERR_REFUSED, "nobody could sign in"},      {"2001:db8::1", ERR_REFUSED, "nobody could sign in"},
                {"sennet.example", ERR_USAGE, "no address"},      {"", ERR_USAGE, "no address"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct err e = err_new(&b->a);
        struct web *w = NULL;
        struct web_options options = {.desk = b->d, .address = rows[i].address};
        assert_false(web_start(&options, &w, &e));
        assert_int_equal(e.kind, rows[i].kind);
        assert_true(str_find(e.what, str_of(rows[i].what)) >= 0);
    }
    /* A port that is taken is said. */
    struct err e = err_new(&b->a);
    struct web *w = NULL;
    struct web_options options = {.desk = b->d, .address = "127.0.0.1", .port = web_port(b->w)};
    assert_false(web_start(&options, &w, &e));
    assert_int_equal(e.kind, ERR_SYSTEM);
    assert_true(str_find(e.what, S("cannot listen on 127.0.0.1 port ")) >= 0);
}

static void a_folder_serves_what_it_holds_and_nothing_above(void **state)
{
    struct bench *b = *state;
    char folder[96];
    char file[128];
    (void)snprintf(folder, sizeof folder, "%s/page", b->folder);
    assert_int_equal(mkdir(folder, 0700), 0);
    (void)snprintf(file, sizeof file, "%s/index.html", folder);
    FILE *f = fopen(file, "w");
    assert_non_null(f);
    (void)fputs("mine", f);
    assert_int_equal(fclose(f), 0);
    struct bench other = *b;
    struct web_options options = {.desk = b->d, .address = "localhost", .files = folder};
    ok(b, web_start(&options, &other.w, &b->e));
    static const struct {
        const char *target;
        int status;
    } rows[] = {{"/", 200},
                {"/index.html", 200},
                {"/main.js", 404},
                {"/../depot", 400},
                {"/%2e%2e/depot", 400},
                {"/..%2fdepot", 404},
                {"/index.html%2f..%2f..%2fdepot", 404},
                {"/.", 400}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = get(&other, rows[i].target, "");
        if (r.status != rows[i].status || (r.status == 200 && memcmp(r.body, "mine", 4) != 0)) {
            fail_msg("%s: %d", rows[i].target, r.status);
        }
        free(r.text);
    }
    web_stop(other.w, 1000);
    options.files = "/no/such/folder";
    struct err e = err_new(&b->a);
    assert_false(web_start(&options, &other.w, &e));
    assert_int_equal(e.kind, ERR_MISSING);
}

/* The whole of web_serve in a process of its own: the address on standard output, an answer, and status 0 after the
 * signal although a connection is still open. */
static void a_signal_ends_it_cleanly(void **state)
{
    (void)state;
    static const int signals[] = {SIGTERM, SIGINT};
    for (size_t i = 0; i < 2; i++) {
        int out[2];
        assert_int_equal(pipe(out), 0);
        pid_t child = fork();
        if (child == 0) {
            struct bench b = {0};
            (void)dup2(out[1], 1);
            open_depot(&b);
            struct web_options options = {.desk = b.d, .address = "127.0.0.1"};
            bool fine = web_serve(&options, &b.e);
            desk_close(b.d);
            arena_free(&b.a);
            char command[160];
            (void)snprintf(command, sizeof command, "rm -r '%s'", b.folder);
            _exit(fine && system(command) == 0 ? 0 : 1);
        }
        (void)close(out[1]);
        char line[128] = "";
        FILE *f = fdopen(out[0], "r");
        assert_non_null(f);
        unsigned int port = 0;
        while (!port && fgets(line, sizeof line, f)) {
            (void)sscanf(line, "http://127.0.0.1:%u/", &port);
        }
        assert_true(port > 0 && port <= 65535);
        struct reply r = say((uint16_t)port, "GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
        assert_int_equal(r.status, 200);
        free(r.text);
        int idle = connect_to((uint16_t)port);
        assert_true(idle >= 0);
        assert_int_equal(kill(child, signals[i]), 0);
        int status = -1;
        assert_int_equal(waitpid(child, &status, 0), child);
        assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
        assert_int_equal(connect_to((uint16_t)port), -1);
        (void)close(idle);
        (void)fclose(f);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        /* first: it forks, and a process with threads had better not */
        cmocka_unit_test(a_signal_ends_it_cleanly),
        cmocka_unit_test_setup(answers_have_their_status_and_type, set_up),
        cmocka_unit_test_setup(the_core_is_served_as_webassembly, set_up),
        cmocka_unit_test_setup(a_problem_says_what_is_wrong_and_right, set_up),
        cmocka_unit_test_setup(a_method_that_is_not_there_is_refused, set_up),
        cmocka_unit_test_setup(a_head_has_no_body, set_up),
        cmocka_unit_test_setup(too_much_is_refused, set_up),
        cmocka_unit_test_setup(a_foreign_host_gets_nothing, set_up),
        cmocka_unit_test_setup(every_answer_guards_itself, set_up),
        cmocka_unit_test_setup(what_is_unchanged_is_not_sent_again, set_up),
        cmocka_unit_test_setup(a_record_changes_the_etag, set_up),
        cmocka_unit_test_setup(gzip_goes_to_those_who_take_it, set_up),
        cmocka_unit_test_setup(many_at_once_get_whole_answers, set_up),
        cmocka_unit_test_setup(one_connection_serves_several_requests, set_up),
        cmocka_unit_test_setup(only_loopback_is_listened_on, set_up),
        cmocka_unit_test_setup(a_folder_serves_what_it_holds_and_nothing_above, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, share_end);
}
