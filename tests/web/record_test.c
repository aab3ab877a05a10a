/* Recording over HTTP: what a page sends, what a phone has signed, attachments, the log a page at a time; and that
 * nothing changes without the token. */
#include "web_client.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int64_t entries_here(struct bench *b)
{
    struct depot_counts counts;
    ok(b, depot_count(desk_depot(b->d), &counts, &b->e));
    return counts.entries;
}

static void a_session_says_who_and_where(void **state)
{
    struct reply r = get(*state, "/api/session", "Accept-Language: es-ES,es;q=0.9,en;q=0.8\r\n");
    json_t *json = json_of(&r);
    assert_int_equal(r.status, 200);
    assert_string_equal(text_member(json, "depot"), "Test depot");
    assert_string_equal(text_member(json, "name"), "Ines");
    assert_string_equal(text_member(json, "role"), "books");
    assert_string_equal(text_member(json, "language"), "es");
    assert_string_equal(text_member(json, "zone"), "Europe/Lisbon");
    assert_true(json_is_true(json_object_get(json, "signed_in")));
    assert_true(json_is_false(json_object_get(json, "login_needed")));
    assert_true(json_is_true(json_object_get(json, "secure")));
    assert_int_equal(strlen(text_member(json, "csrf")), 64);
    char cache[32];
    assert_string_equal(header(&r, "Cache-Control", cache, sizeof cache), "no-store");
    json_decref(json);
    free(r.text);
}

/* Good and bad records: what is sent, the status, a piece of what is answered. */
static void records_are_checked_like_the_command_line(void **state)
{
    static const struct {
        const char *body;
        int status;
        const char *says;
    } rows[] = {
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"body\":{\"hours\":2204.5}}", 200, "2204.5"},
        {"{\"machine\":\"B/03\",\"kind\":\"note\",\"body\":{\"text\":\"rake bent\"}}", 200, "rake bent"},
        {"{\"kind\":\"note\",\"body\":{\"text\":\"about the depot\"}}", 200, "about the depot"},
        {"{\"machine\":\"B/03\",\"kind\":\"found\",\"body\":{\"checkpoint\":\"engine-oil-level\",\"look\":\"ok\"}}",
         200, "ok"},
        {"{\"machine\":\"B/03\",\"kind\":\"found\",\"body\":{\"checkpoint\":\"engine-oil-lever\",\"look\":\"ok\"}}",
         404, "engine-oil-level?"},
        {"{\"machine\":\"B-99\",\"kind\":\"meter\",\"body\":{\"hours\":1}}", 404, "B-99"},
        {"{\"machine\":\"B/03\",\"kind\":\"metre\",\"body\":{\"hours\":1}}", 400, "meter"},
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"body\":{\"hour\":1}}", 400, "hours"},
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"body\":{\"hours\":-1}}", 400, "hours"},
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"body\":[1]}", 400, "object"},
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"body\":{\"hours\":1},\"colour\":\"red\"}", 400, "colour"},
        {"{\"machine\":\"B/"
         "03\",\"kind\":\"meter\",\"at\":\"2027-11-25T12:00:00Z\",\"body\":{\"hours\":3000,\"meter\":\"a\"}}",
         400, "future"},
        {"{\"machine\":7,\"kind\":\"meter\",\"body\":{\"hours\":1}}", 400, "machine"},
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"id\":\"x y\",\"body\":{\"hours\":1}}", 400, "UUID"},
        {"{\"machine\":\"B/03\",\"kind\":\"meter\",\"body\":{\"hours\":1}", 400, "JSON"},
        {"[]", 400, "object"},
        {"", 400, "JSON"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct bench *b = *state;
        int64_t before = entries_here(b);
        struct reply r = change(b, "POST", "/api/record", "application/json", rows[i].body);
        if (r.status != rows[i].status || !strstr(r.body, rows[i].says)) {
            fail_msg("row %zu: %d\n%s", i, r.status, r.text);
        }
        assert_int_equal(entries_here(b) - before, r.status == 200 ? 1 : 0);
        free(r.text);
    }
}

static void a_reading_is_judged(void **state)
{
    struct bench *b = *state;
    struct reply machine = get(b, "/api/machines/B%2F03", "");
    json_t *json = json_of(&machine);
    json_t *limits = json_object_get(json_object_get(json, "card"), "limits");
    assert_true(json_array_size(limits) > 0);
    char body[512];
    (void)snprintf(
        body, sizeof body,
        "{\"machine\":\"B/03\",\"kind\":\"reading\",\"body\":{\"checkpoint\":\"%s\",\"value\":1,\"unit\":\"m2\"}}",
        text_member(json_array_get(limits, 0), "name"));
    struct reply wrong = change(b, "POST", "/api/record", "application/json", body);
    assert_int_equal(wrong.status, 400);
    assert_non_null(strstr(wrong.body, "unit"));
    free(wrong.text);
    struct reply good = change(
        b, "POST", "/api/record", "application/json",
        "{\"machine\":\"B/"
        "03\",\"kind\":\"reading\",\"body\":{\"checkpoint\":\"coolant-freezing\",\"value\":-40,\"unit\":\"degC\"}}");
    json_t *answer = json_of(&good);
    if (good.status == 200) {
        assert_true(strlen(text_member(json_object_get(answer, "verdict"), "word")) > 0);
    } else {
        fail_msg("%s", good.text);
    }
    json_decref(answer);
    free(good.text);
    json_decref(json);
    free(machine.text);
}

/* The same id twice, also for what a rule would refuse the second time: opened while it is open. */
static void an_id_makes_a_record_idempotent(void **state)
{
    struct bench *b = *state;
    struct reply machine = get(b, "/api/machines/B%2F03", "");
    json_t *json = json_of(&machine);
    json_t *items = json_object_get(json_object_get(json, "card"), "put_back_items");
    char body[512];
    (void)snprintf(body, sizeof body,
                   "{\"id\":\"0192f3ab-0000-7000-8000-000000000001\",\"machine\":\"B/03\",\"kind\":\"opened\","
                   "\"body\":{\"what\":\"%s\"}}",
                   text_member(json_array_get(items, 0), "name"));
    int64_t before = entries_here(b);
    char first[64] = "";
    for (int i = 0; i < 3; i++) {
        struct reply r = change(b, "POST", "/api/record", "application/json", body);
        json_t *answer = json_of(&r);
        assert_int_equal(r.status, 200);
        assert_true(json_is_true(json_object_get(answer, "here_already")) == (i > 0));
        if (i == 0) {
            (void)snprintf(first, sizeof first, "%s", text_member(answer, "id"));
        }
        assert_string_equal(text_member(answer, "id"), first);
        json_decref(answer);
        free(r.text);
    }
    assert_int_equal(entries_here(b) - before, 1);
    json_decref(json);
    free(machine.text);
}

static void without_the_token_nothing_changes(void **state)
{
    struct bench *b = *state;
    static const char *const body = "{\"kind\":\"note\",\"body\":{\"text\":\"x\"}}";
    struct reply session = get(b, "/api/session", "");
    json_t *json = json_of(&session);
    const char *token = text_member(json, "csrf");
    static const struct {
        const char *token, *origin;
        int status;
    } rows[] = {{"", "", 403},
                {"0", "", 403},
                {"right", "http://sennet.example", 403},
                {"right", "http://127.0.0.1:1", 403},
                {"right", "https://127.0.0.1", 403},
                {"right", "null", 403},
                {"right", "http://127.0.0.1", 200},
                {"right", "", 200}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char more[512] = "Content-Type: application/json\r\n";
        size_t n = strlen(more);
        if (rows[i].token[0]) {
            n += (size_t)snprintf(more + n, sizeof more - n, "X-Witmark-Token: %s\r\n",
                                  strcmp(rows[i].token, "right") == 0 ? token : rows[i].token);
        }
        if (rows[i].origin[0]) {
            (void)snprintf(more + n, sizeof more - n, "Origin: %s\r\n", rows[i].origin);
        }
        int64_t before = entries_here(b);
        struct reply r = ask(b, "POST", "/api/record", more, body);
        if (r.status != rows[i].status) {
            fail_msg("row %zu: %s", i, r.text);
        }
        assert_int_equal(entries_here(b) - before, r.status == 200 ? 1 : 0);
        free(r.text);
    }
    json_decref(json);
    free(session.text);
}

/* ---- entries signed elsewhere ---- */

/* A phone: another depot whose entries are exported as lines, with the machine taken over first. */
struct phone {
    char path[96];
    struct world_seeded seeded;
    struct depot *depot;
    char *lines[8];
    size_t n;
};

static void note_on(struct bench *b, struct phone *p, const char *text)
{
    json_t *body = json_pack("{s:s}", "text", text);
    struct draft draft = {
        .kind = KIND_NOTE, .at = p->seeded.now, .by = S("Ines"), .machine = S("BR6-02204"), .body = body};
    ok(b, depot_append(p->depot, &draft, 1, NULL, &b->e));
    json_decref(body);
    p->seeded.now += 60000;
}

static void make_phone(struct bench *b, struct phone *p, uint64_t seed)
{
    *p = (struct phone){0};
    (void)snprintf(p->path, sizeof p->path, "%s/phone-%d", b->folder, (int)seed);
    p->seeded = world_seeded_new(seed, b->seeded.now - 3600000);
    struct depot_options options = depot_options_default();
    options.world = world_of_seeded(&p->seeded);
    ok(b, depot_create(p->path, &options, &p->depot, &b->e));
    for (int i = 0; i < 3; i++) {
        char text[32];
        (void)snprintf(text, sizeof text, "phone %d note %d", (int)seed, i);
        note_on(b, p, text);
    }
    char *buffer = NULL;
    size_t size = 0;
    FILE *f = open_memstream(&buffer, &size);
    struct export_options all = {0};
    ok(b, depot_export(p->depot, f, &all, &b->e));
    (void)fclose(f);
    for (char *line = strtok(buffer, "\n"); line; line = strtok(NULL, "\n")) {
        if (strncmp(line, "{\"entry\"", 8) == 0) {
            p->lines[p->n++] = strdup(line);
        }
    }
    free(buffer);
    assert_int_equal(p->n, 3);
}

static void drop_phone(struct phone *p)
{
    for (size_t i = 0; i < p->n; i++) {
        free(p->lines[i]);
    }
    depot_close(p->depot);
}

/* How many results have that state. */
static size_t states(const json_t *answer, const char *state)
{
    size_t n = 0;
    const json_t *results = json_object_get(answer, "results");
    for (size_t i = 0; i < json_array_size(results); i++) {
        n += strcmp(text_member(json_array_get(results, i), "state"), state) == 0;
    }
    return n;
}

/* Two phones, their entries in any order and twice: the union, whatever the order (RFC 9562 ids, set union). */
static void two_phones_merge_in_any_order(void **state)
{
    struct bench *b = *state;
    struct phone one;
    struct phone two;
    make_phone(b, &one, 1001);
    make_phone(b, &two, 1002);
    const char *all[6] = {two.lines[2], one.lines[1], two.lines[0], one.lines[0], one.lines[2], two.lines[1]};
    int64_t before = entries_here(b);
    for (int round = 0; round < 2; round++) {
        for (size_t i = 0; i < 6; i += 2) {
            size_t n = strlen(all[i]) + strlen(all[i + 1]) + 3;
            char *body = malloc(n);
            (void)snprintf(body, n, "%s\n%s\n", all[i], all[i + 1]);
            struct reply r = change(b, "POST", "/api/entries", "application/x-ndjson", body);
            json_t *answer = json_of(&r);
            assert_int_equal(r.status, 200);
            assert_int_equal(states(answer, round ? "here" : "new"), 2);
            json_decref(answer);
            free(r.text);
            free(body);
        }
        assert_int_equal(entries_here(b) - before, 6);
    }
    struct findings findings = {.a = &b->a};
    ok(b, depot_verify(desk_depot(b->d), (struct progress){0}, &b->a, &findings, &b->e));
    assert_int_equal(findings.errors, 0);
    drop_phone(&one);
    drop_phone(&two);
}

/* One bad line does not keep the others out, and is named. */
static void a_wrong_line_is_refused_alone(void **state)
{
    struct bench *b = *state;
    struct phone p;
    make_phone(b, &p, 1003);
    size_t room = strlen(p.lines[0]) * 4 + 400;
    char *body = malloc(room);
    char *altered = strdup(p.lines[1]);
    char *at = strstr(altered, "note 1");
    assert_non_null(at);
    at[5] = '9';
    (void)snprintf(body, room, "%s\n%s\nnot JSON\n{\"tip\":{}}\n\n%s\n", p.lines[0], altered, p.lines[2]);
    int64_t before = entries_here(b);
    struct reply r = change(b, "POST", "/api/entries", "application/x-ndjson", body);
    json_t *answer = json_of(&r);
    assert_int_equal(r.status, 200);
    assert_int_equal(states(answer, "new"), 2);
    assert_int_equal(states(answer, "refused"), 3);
    assert_int_equal(entries_here(b) - before, 2);
    const json_t *refused = json_array_get(json_object_get(answer, "results"), 1);
    assert_int_equal(strlen(text_member(refused, "id")), 36);
    assert_non_null(strstr(text_member(refused, "what"), "altered"));
    assert_true(strlen(text_member(refused, "right")) > 0);
    json_decref(answer);
    free(r.text);
    /* The right line comes later and closes the gap. */
    r = change(b, "POST", "/api/entries", "application/x-ndjson", p.lines[1]);
    answer = json_of(&r);
    assert_int_equal(states(answer, "new"), 1);
    json_decref(answer);
    free(r.text);
    struct findings findings = {.a = &b->a};
    ok(b, depot_verify(desk_depot(b->d), (struct progress){0}, &b->a, &findings, &b->e));
    assert_int_equal(findings.errors, 0);
    free(altered);
    free(body);
    drop_phone(&p);
}

/* ---- bodies ---- */

static void bodies_have_limits(void **state)
{
    struct bench *b = *state;
    struct reply session = get(b, "/api/session", "");
    json_t *json = json_of(&session);
    char head[256];
    (void)snprintf(head, sizeof head, "Host: 127.0.0.1\r\nConnection: close\r\nX-Witmark-Token: %s\r\n",
                   text_member(json, "csrf"));
    static const struct {
        const char *line, *more;
        int status;
    } rows[] = {
        {"POST /api/record", "Content-Type: application/json\r\nContent-Length: 65537\r\n\r\n", 413},
        {"POST /api/record", "Content-Type: application/json\r\nContent-Length: 99999999999999999999\r\n\r\n", 0},
        {"POST /api/record", "Content-Type: text/plain\r\nContent-Length: 2\r\n\r\n{}", 415},
        {"POST /api/record", "Content-Length: 2\r\n\r\n{}", 415},
        {"POST /api/record", "Content-Type: application/json; charset=utf-8\r\nContent-Length: 2\r\n\r\n{}", 400},
        {"POST /api/record", "Content-Type: application/json\r\nContent-Encoding: gzip\r\nContent-Length: 2\r\n\r\n{}",
         415},
        {"POST /api/record", "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n",
         411},
        {"POST /api/record", "Content-Type: application/json\r\n\r\n", 411},
        {"PUT /api/attachments/zz", "Content-Length: 1\r\n\r\nx", 400},
        {"PUT /api/attachments/"
         "0000000000000000000000000000000000000000000000000000000000000000",
         "Content-Length: 1\r\n\r\nx", 422},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char request[1024];
        (void)snprintf(request, sizeof request, "%s HTTP/1.1\r\n%s%s", rows[i].line, head, rows[i].more);
        struct reply r = say(web_port(b->w), request);
        bool as_said = rows[i].status ? r.status == rows[i].status : r.status == 0 || r.status >= 400;
        if (!as_said) {
            fail_msg("row %zu: %d\n%s", i, r.status, r.text);
        }
        free(r.text);
    }
    json_decref(json);
    free(session.text);
}

/* SHA-256 of "abc": FIPS 180-4, example B.1. */
static void an_attachment_is_kept_under_its_hash(void **state)
{
    struct bench *b = *state;
    static const char *const target =
        "/api/attachments/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    struct reply r = get(b, target, "");
    assert_int_equal(r.status, 404);
    free(r.text);
    for (int i = 0; i < 2; i++) {
        r = change(b, "PUT", target, "image/jpeg", "abc");
        assert_int_equal(r.status, 200);
        free(r.text);
    }
    r = get(b, target, "");
    char value[128];
    assert_int_equal(r.status, 200);
    assert_int_equal(r.n_body, 3);
    assert_memory_equal(r.body, "abc", 3);
    assert_string_equal(header(&r, "Content-Type", value, sizeof value), "application/octet-stream");
    assert_non_null(strstr(header(&r, "Cache-Control", value, sizeof value), "immutable"));
    assert_non_null(strstr(header(&r, "Content-Security-Policy", value, sizeof value), "sandbox"));
    free(r.text);
    r = change(b, "POST", "/api/record", "application/json",
               "{\"machine\":\"B/03\",\"kind\":\"attachment\",\"body\":{\"sha256\":"
               "\"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad\",\"name\":\"rake.jpg\",\"type\":"
               "\"image/jpeg\",\"bytes\":3}}");
    assert_int_equal(r.status, 200);
    free(r.text);
}

/* Every entry once, newest first, whatever the size of a page. */
static void the_log_comes_in_pages(void **state)
{
    struct bench *b = *state;
    static const int sizes[] = {1, 3, 1000};
    size_t whole = 0;
    for (size_t s = 0; s < 3; s++) {
        char target[160];
        char before[64] = "";
        char last_at[64] = "9999";
        size_t n = 0;
        bool more = true;
        while (more) {
            (void)snprintf(target, sizeof target, "/api/log?limit=%d%s%s", sizes[s], before[0] ? "&before=" : "",
                           before);
            struct reply r = get(b, target, "");
            json_t *answer = json_of(&r);
            const json_t *list = json_object_get(answer, "entries");
            assert_true(json_array_size(list) <= (size_t)sizes[s]);
            for (size_t i = 0; i < json_array_size(list); i++) {
                const char *at = text_member(json_array_get(list, i), "at");
                assert_true(strcmp(at, last_at) <= 0);
                (void)snprintf(last_at, sizeof last_at, "%s", at);
            }
            n += json_array_size(list);
            more = json_is_string(json_object_get(answer, "next"));
            (void)snprintf(before, sizeof before, "%s", text_member(answer, "next"));
            json_decref(answer);
            free(r.text);
        }
        whole = s == 0 ? n : whole;
        assert_int_equal(n, whole);
    }
    assert_true(whole > 5);
    static const struct {
        const char *target;
        int status;
    } rows[] = {{"/api/log?kind=note,meter", 200},
                {"/api/log?kind=notes", 400},
                {"/api/log?limit=0", 400},
                {"/api/log?limit=1001", 400},
                {"/api/log?before=zz", 400},
                {"/api/log?before=00000000", 404},
                {"/api/log?machine=B%2F03", 200},
                {"/api/log?machine=nobody", 404},
                {"/api/log?since=2026-11-25", 200},
                {"/api/log?since=yesterday", 400},
                {"/api/log?view=recorded", 200},
                {"/api/log?view=all", 400},
                {"/api/machines/G-1/entries", 200},
                {"/api/machines/G-1/entries?limit=1&kind=note", 200},
                {"/api/machines/X-1/entries", 404},
                {"/api/machines/G-1/entries?machine=G-1", 400},
                {"/api/log/zz", 400}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = get(b, rows[i].target, "");
        if (r.status != rows[i].status) {
            fail_msg("%s: %d\n%s", rows[i].target, r.status, r.text);
        }
        free(r.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(a_session_says_who_and_where, share_plain),
        cmocka_unit_test_setup(records_are_checked_like_the_command_line, share_plain),
        cmocka_unit_test_setup(a_reading_is_judged, share_plain),
        cmocka_unit_test_setup(an_id_makes_a_record_idempotent, share_plain),
        cmocka_unit_test_setup(without_the_token_nothing_changes, share_plain),
        cmocka_unit_test_setup(two_phones_merge_in_any_order, share_plain),
        cmocka_unit_test_setup(a_wrong_line_is_refused_alone, share_plain),
        cmocka_unit_test_setup(bodies_have_limits, share_plain),
        cmocka_unit_test_setup(an_attachment_is_kept_under_its_hash, share_plain),
        cmocka_unit_test_setup(the_log_comes_in_pages, share_plain),
    };
    return cmocka_run_group_tests(tests, NULL, share_end);
}
