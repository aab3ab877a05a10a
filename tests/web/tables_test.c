/* Tables and the calendar over HTTP: CSV after RFC 4180, iCalendar after RFC 5545 (lines of 75 octets and CRLF: 3.1;
 * UID and DTSTAMP needed: 3.6.1; DTEND of an all-day event is the day after: 3.6.1). */
#include "web_client.h"

#include "base/csv.h"
#include "desk_tables.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void prepare(struct bench *b)
{
    struct desk_stamp s = {.machine = S("B/03"), .by = S("Ines"), .at = INSTANT_NONE, .note = S("=1+1, \"quoted\"")};
    struct desk_recorded made;
    ok(b, desk_record_meter(b->d, &s, S("120"), &b->a, &made, &b->e));
    ok(b, desk_record_note(b->d, &s, &b->a, &made, &b->e));
}

static int set_up(void **state)
{
    return share_depot(state, prepare, "Ines");
}

/* The records of a table, all of one width. */
static size_t records(struct bench *b, const struct reply *r, struct csv_record *at, size_t most)
{
    struct str rest = {r->body, r->n_body};
    uint32_t line = 1;
    size_t n = 0;
    while (n < most) {
        at[n] = (struct csv_record){0};
        if (!csv_record_read(&b->a, &rest, &line, &at[n], &b->e)) {
            break;
        }
        assert_int_equal(at[n].n, at[0].n);
        n++;
    }
    assert_int_equal(b->e.kind, ERR_NONE);
    return n;
}

static size_t column(const struct csv_record *header, const char *name)
{
    for (size_t i = 0; i < header->n; i++) {
        if (str_eq(header->fields[i], str_of(name))) {
            return i;
        }
    }
    fail_msg("no column %s", name);
    return 0;
}

/* A row per item of the JSON at the same address, with the same texts. */
static void tables_say_what_the_json_says(void **state)
{
    struct bench *b = *state;
    static const struct {
        const char *json, *csv, *list, *key;
    } rows[] = {{"/api/today", "/api/today.csv", "due", "key"},
                {"/api/machines", "/api/machines.csv", NULL, "serial"},
                {"/api/log", "/api/log.csv", "entries", "id"},
                {"/api/machines/G-1/entries", "/api/machines/G-1/entries.csv", "entries", "id"},
                {"/api/parts", "/api/parts.csv", NULL, "number"},
                {"/api/books", "/api/books.csv", NULL, "hash"}};
    struct csv_record *at = calloc(2000, sizeof *at);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply json = get(b, rows[i].json, "");
        struct reply csv = get(b, rows[i].csv, "");
        char type[64];
        assert_int_equal(csv.status, 200);
        assert_true(strncmp(header(&csv, "Content-Type", type, sizeof type), "text/csv", 8) == 0);
        json_t *root = json_of(&json);
        const json_t *list = rows[i].list ? json_object_get(root, rows[i].list) : root;
        size_t n = records(b, &csv, at, 2000);
        assert_int_equal(n, json_array_size(list) + 1);
        assert_true(n > 1);
        size_t key = column(&at[0], rows[i].key);
        for (size_t k = 1; k < n; k++) {
            const char *value = json_string_value(json_object_get(json_array_get(list, k - 1), rows[i].key));
            assert_true(str_eq(at[k].fields[key], str_of(value)));
        }
        json_decref(root);
        free(json.text);
        free(csv.text);
    }
    free(at);
}

/* OWASP, "CSV injection": what begins like a formula must not be one; RFC 4180 2.7: quotes are doubled. */
static void a_formula_becomes_text(void **state)
{
    struct bench *b = *state;
    struct reply r = get(b, "/api/log.csv?kind=note", "");
    assert_null(strstr(r.body, ",=1+1"));
    free(r.text);
    struct text t = text_new(&b->a);
    ok(b, desk_table_csv(&t, "people",
                         S("[{\"name\":\"=1+1\",\"role\":\"look\"},{\"name\":\"a\\\"b\",\"role\":\"-x\"}]"), &b->e));
    assert_true(str_eq(text_str(&t), S("name,role\r\n'=1+1,look\r\n\"a\"\"b\",'-x\r\n")));
    struct err e = err_new(&b->a);
    assert_false(desk_table_csv(&t, "nothing", S("[]"), &e));
    assert_int_equal(e.kind, ERR_USAGE);
}

static void accept_asks_for_a_table(void **state)
{
    static const struct {
        const char *target, *accept, *type;
    } rows[] = {{"/api/today?days=9", "Accept: text/csv\r\n", "text/csv"},
                {"/api/today?days=9", "Accept: application/json\r\n", "application/json"},
                {"/api/today?days=9", "Accept: */*\r\n", "application/json"},
                {"/api/session", "Accept: text/csv\r\n", "application/json"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = get(*state, rows[i].target, rows[i].accept);
        char type[64];
        assert_int_equal(r.status, 200);
        assert_true(strncmp(header(&r, "Content-Type", type, sizeof type), rows[i].type, strlen(rows[i].type)) == 0);
        free(r.text);
    }
}

static void the_calendar_keeps_its_form(void **state)
{
    struct bench *b = *state;
    struct reply r = get(b, "/api/calendar.ics?days=700", "");
    char type[64];
    assert_int_equal(r.status, 200);
    assert_true(strncmp(header(&r, "Content-Type", type, sizeof type), "text/calendar", 13) == 0);
    assert_true(strncmp(r.body, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n", 30) == 0);
    assert_true(str_ends((struct str){r.body, r.n_body}, S("END:VCALENDAR\r\n")));
    struct str rest = {r.body, r.n_body};
    struct str line;
    int events = 0;
    int uids = 0;
    int stamps = 0;
    struct str *seen = ARENA_ARRAY(&b->a, struct str, 2000);
    while (str_next(&rest, '\n', &line)) {
        assert_true(line.n == 0 || line.p[line.n - 1] == '\r');
        assert_true(line.n <= 76); /* with its CR */
        events += str_starts(line, S("BEGIN:VEVENT"));
        stamps += str_starts(line, S("DTSTAMP:20261125T000000Z"));
        if (str_starts(line, S("UID:"))) {
            for (int i = 0; i < uids; i++) {
                assert_false(str_eq(seen[i], line));
            }
            seen[uids++] = line;
        }
    }
    assert_true(events > 3);
    assert_int_equal(uids, events);
    assert_int_equal(stamps, events);
    free(r.text);
    r = get(b, "/api/calendar.ics?machine=G-1", "");
    assert_null(strstr(r.body, "SUMMARY:B/03"));
    assert_non_null(strstr(r.body, "SUMMARY:G-1"));
    free(r.text);
}

/* What moves keeps its UID: another day of asking gives the same events. */
static void an_event_that_moves_keeps_its_uid(void **state)
{
    struct bench *b = *state;
    struct desk_ics_ask ask = {.machine = S("G-1"), .days = 700};
    struct text first = text_new(&b->a);
    ok(b, desk_calendar_feed(b->d, &ask, &first, &b->e));
    struct desk_options options = desk_options_default(b->path);
    options.log.world = world_of_seeded(&b->seeded);
    assert_true(day_parse(S("2026-12-09"), &options.today));
    struct desk *later = NULL;
    ok(b, desk_open(&options, &later, &b->e));
    struct text second = text_new(&b->a);
    ok(b, desk_calendar_feed(later, &ask, &second, &b->e));
    desk_close(later);
    struct str rest = text_str(&first);
    struct str line;
    int kept = 0;
    while (str_next(&rest, '\n', &line)) {
        if (str_starts(line, S("UID:"))) {
            assert_true(str_find(text_str(&second), line) >= 0);
            kept++;
        }
    }
    assert_true(kept > 1);
    assert_false(str_eq(text_str(&first), text_str(&second)));
}

static void the_token_opens_the_calendar_and_nothing_else(void **state)
{
    struct bench *b = *state;
    struct reply r = get(b, "/api/session", "");
    json_t *session = json_of(&r);
    const char *token = json_string_value(json_object_get(session, "calendar"));
    assert_non_null(token);
    assert_true(strlen(token) > 33);
    char target[256];
    (void)snprintf(target, sizeof target, "/api/calendar.ics?token=%s&site=Mole", token);
    struct reply feed = get(b, target, "");
    assert_int_equal(feed.status, 200);
    free(feed.text);
    (void)snprintf(target, sizeof target, "/api/today?token=%s", token);
    feed = get(b, target, "");
    assert_int_equal(feed.status, 400); /* no parameter there */
    free(feed.text);
    json_decref(session);
    free(r.text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(tables_say_what_the_json_says, set_up),
        cmocka_unit_test_setup(a_formula_becomes_text, set_up),
        cmocka_unit_test_setup(accept_asks_for_a_table, set_up),
        cmocka_unit_test_setup(the_calendar_keeps_its_form, set_up),
        cmocka_unit_test_setup(an_event_that_moves_keeps_its_uid, set_up),
        cmocka_unit_test_setup(the_token_opens_the_calendar_and_nothing_else, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, share_end);
}
