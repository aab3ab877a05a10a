/* Books over HTTP: the book of one machine, editions as text, checked, taken, compared. */
#include "web_client.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The member `name` of a list of objects. */
static const json_t *named(const json_t *list, const char *name)
{
    for (size_t i = 0; i < json_array_size(list); i++) {
        if (strcmp(text_member(json_array_get(list, i), "name"), name) == 0) {
            return json_array_get(list, i);
        }
    }
    fail_msg("no %s", name);
    return NULL;
}

/* What books/brine6.yaml says for BR6-02204, read there. */
static void the_book_of_a_machine_holds_what_a_phone_needs(void **state)
{
    struct reply r = get(*state, "/api/machines/B%2F03/book", "");
    assert_int_equal(r.status, 200);
    json_t *book = json_of(&r);
    assert_string_equal(text_member(book, "machine"), "BR6-02204");
    assert_string_equal(text_member(book, "label"), "B/03");
    static const char *const lists[] = {"variables", "places",   "figures",   "put_back_items", "changes",
                                        "fluids",    "parts",    "torques",   "fuses",          "checkpoints",
                                        "tasks",     "services", "adjusters", "symptoms",       "causes"};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
        if (json_array_size(json_object_get(book, lists[i])) == 0) {
            fail_msg("%s is empty", lists[i]);
        }
    }
    const json_t *tyre = named(json_object_get(book, "checkpoints"), "front-tyre-left");
    assert_string_equal(text_member(tyre, "kind"), "measured");
    assert_string_equal(text_member(tyre, "unit"), "bar");
    assert_true(json_number_value(json_object_get(tyre, "low")) == 1.4);
    assert_true(json_number_value(json_object_get(tyre, "high")) == 1.6);
    assert_non_null(strstr(text_member(tyre, "judge"), "limits=1.4 .. 1.6 bar\n"));
    assert_non_null(strstr(text_member(tyre, "judge"), "correction=cold\n"));
    const json_t *tasks = json_object_get(book, "tasks");
    for (size_t i = 0; i < json_array_size(tasks); i++) {
        assert_true(json_array_size(json_object_get(json_array_get(tasks, i), "steps")) > 0);
    }
    assert_true(json_array_size(json_object_get(json_object_get(book, "recovery"), "steps")) > 0);
    json_decref(book);
    free(r.text);
    r = get(*state, "/api/machines/X-1/book", "");
    assert_int_equal(r.status, 404);
    free(r.text);
}

static char *text_of_book(struct bench *b, const char *edition)
{
    char target[128];
    (void)snprintf(target, sizeof target, "/api/books/brine6/text%s%s", edition[0] ? "?edition=" : "", edition);
    struct reply r = get(b, target, "");
    char *text = r.status == 200 ? strdup(r.body) : NULL;
    free(r.text);
    return text;
}

static void a_text_is_checked_without_being_kept(void **state)
{
    struct bench *b = *state;
    char *text = text_of_book(b, "");
    assert_non_null(text);
    struct reply r = change(b, "POST", "/api/books/check", "application/yaml", text);
    json_t *check = json_of(&r);
    assert_int_equal(r.status, 200);
    assert_int_equal(json_integer_value(json_object_get(check, "errors")), 0);
    json_decref(check);
    free(r.text);
    free(text);
    static const struct {
        const char *text, *rule;
    } rows[] = {
        {"book: brine6\ncolour: red\n", "unknown-key"}, {"book: [", "syntax"}, {"- a\n", "shape"}, {"", "shape"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        r = change(b, "POST", "/api/books/check", "application/yaml", rows[i].text);
        check = json_of(&r);
        assert_int_equal(r.status, 200);
        assert_true(json_integer_value(json_object_get(check, "errors")) > 0);
        const json_t *findings = json_object_get(check, "findings");
        bool found = false;
        for (size_t k = 0; k < json_array_size(findings); k++) {
            const json_t *one = json_array_get(findings, k);
            found = found || strcmp(text_member(one, "rule"), rows[i].rule) == 0;
            assert_true(json_integer_value(json_object_get(one, "line")) > 0);
        }
        if (!found) {
            fail_msg("row %zu: %s", i, r.body);
        }
        json_decref(check);
        free(r.text);
    }
    r = get(b, "/api/books", "");
    json_t *books = json_of(&r);
    assert_int_equal(json_array_size(books), 2);
    json_decref(books);
    free(r.text);
}

static struct reply put(struct bench *b, const char *target, const char *if_match, const char *body)
{
    struct reply session = get(b, "/api/session", "");
    json_t *json = json_of(&session);
    char more[512];
    (void)snprintf(more, sizeof more, "X-Witmark-Token: %s\r\nContent-Type: application/yaml\r\n%s%s%s",
                   text_member(json, "csrf"), if_match[0] ? "If-Match: " : "", if_match, if_match[0] ? "\r\n" : "");
    json_decref(json);
    free(session.text);
    return ask(b, "PUT", target, more, body);
}

/* A new edition is kept with its drawings, machines go by it, the old one stays readable, and the difference is said.
 */
static void a_new_edition_is_taken_and_compared(void **state)
{
    struct bench *b = *state;
    char *old = text_of_book(b, "");
    assert_non_null(old);
    struct reply head = get(b, "/api/books/brine6", "");
    char etag[128];
    (void)header(&head, "ETag", etag, sizeof etag);
    free(head.text);
    char *new = strdup(old);
    char *limits = strstr(new, "1.4 .. 1.6 bar");
    char *edition = strstr(new, "edition: 2027-03");
    assert_non_null(limits);
    assert_non_null(edition);
    memcpy(limits, "1.5 .. 1.7", 10);
    memcpy(edition, "edition: 2027-09", 16);
    char *want = strstr(limits, "want: 1.5 bar");
    if (want) {
        memcpy(want, "want: 1.6 bar", 13);
    }
    struct reply r = put(b, "/api/books/lark72", "", new);
    assert_int_equal(r.status, 400); /* the text of another book */
    free(r.text);
    r = put(b, "/api/books/brine6", "\"sha256:0000000000000000000000000000000000000000000000000000000000000000\"", new);
    assert_int_equal(r.status, 412);
    free(r.text);
    char *wrong = strdup(new);
    memcpy(strstr(wrong, "1.5 .. 1.7"), "1.7 .. 1.5", 10);
    r = put(b, "/api/books/brine6", etag, wrong);
    assert_int_equal(r.status, 422);
    json_t *answer = json_of(&r);
    assert_true(json_integer_value(json_object_get(json_object_get(answer, "check"), "errors")) > 0);
    json_decref(answer);
    free(r.text);
    free(wrong);
    r = put(b, "/api/books/brine6", etag, new);
    if (r.status != 200) {
        fail_msg("%s", r.text);
    }
    free(r.text);
    char *now = text_of_book(b, "");
    char *before = text_of_book(b, "2027-03");
    assert_string_equal(now, new);
    assert_string_equal(before, old);
    r = get(b, "/api/machines/B%2F03/book", "");
    answer = json_of(&r);
    assert_string_equal(text_member(answer, "edition"), "2027-09");
    json_decref(answer);
    free(r.text);
    r = get(b, "/api/machines/B%2F03/figures/plan", "");
    assert_int_equal(r.status, 200);
    free(r.text);
    r = get(b, "/api/books/brine6/diff?from=2027-03", "");
    answer = json_of(&r);
    assert_int_equal(r.status, 200);
    assert_true(json_array_size(answer) > 0);
    assert_non_null(strstr(r.body, "1.4"));
    assert_non_null(strstr(r.body, "1.7"));
    json_decref(answer);
    free(r.text);
    free(before);
    free(now);
    free(new);
    free(old);
}

static void what_is_not_there_is_named(void **state)
{
    static const struct {
        const char *target;
        int status;
        const char *says;
    } rows[] = {{"/api/books/brine7", 404, "brine6?"},
                {"/api/books/brine6?edition=2027-04", 404, "2027-0"},
                {"/api/books/brine6?version=1", 400, "edition"},
                {"/api/books/brine6/diff", 400, "from"},
                {"/api/books/brine6/diff?from=2020-01", 404, "2020-01"},
                {"/api/books/brine6/diff?from=2027-03&to=2027-03", 200, "[]"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct reply r = get(*state, rows[i].target, "");
        if (r.status != rows[i].status || !strstr(r.body, rows[i].says)) {
            fail_msg("%s: %s", rows[i].target, r.text);
        }
        free(r.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(the_book_of_a_machine_holds_what_a_phone_needs, share_plain),
        cmocka_unit_test_setup(a_text_is_checked_without_being_kept, share_plain),
        cmocka_unit_test_setup(a_new_edition_is_taken_and_compared, share_plain),
        cmocka_unit_test_setup(what_is_not_there_is_named, share_plain),
    };
    return cmocka_run_group_tests(tests, NULL, share_end);
}
