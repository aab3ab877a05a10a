/* Adjusters, the put-back list and recovery over HTTP: a step is held against the ledger, handing back is refused while
 * anything is open, a record by kind and body likewise. */
#include "web_client.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The status, and whether the answer has these words. */
static void answers(struct bench *b, const char *method, const char *target, const char *body, int status,
                    const char *words)
{
    struct reply r = body ? change(b, method, target, "application/json", body) : get(b, target, "");
    if (r.status != status || !strstr(r.body, words)) {
        fail_msg("%s %s: %d, expected %d with '%s'\n%s", method, target, r.status, status, words, r.body);
    }
    free(r.text);
}

#define SCREW "/api/machines/B%2F03/adjusters/rake-counterbalance"
#define CONFIRMED "\"confirmed\": \"load-supported,pressure-relieved,oil-warm\""

static void a_step_is_held_against_the_ledger(void **state)
{
    answers(*state, "GET", "/api/machines/B%2F03/adjusters", NULL, 200, "\"rake-counterbalance\"");
    answers(*state, "GET", SCREW, NULL, 200, "\"was never turned\"");
    answers(*state, "GET", "/api/machines/B%2F03/adjusters/rake-counterbalanze", NULL, 404, "rake-counterbalance?");
    answers(*state, "POST", SCREW, "{\"turn\": \"1 1/2 in\"}", 422, "not confirmed");
    answers(*state, "POST", SCREW, "{\"turn\": \"2 in\", " CONFIRMED "}", 422, "first step");
    answers(*state, "POST", SCREW, "{\"turn\": \"sideways\"}", 400, "no adjustment");
    answers(*state, "POST", SCREW, "{\"turn\": \"1 1/2 in\", \"saw\": \"less\", " CONFIRMED "}", 200,
            "\"trial_open\":true");
    struct reply r = get(*state, "/api/machines/B%2F03/put-back", "");
    json_t *list = json_of(&r);
    bool found = false;
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        found = found || (strcmp(text_member(item, "item"), "rake-counterbalance") == 0 &&
                          strcmp(text_member(item, "kind"), "trial") == 0);
    }
    assert_true(found);
    json_decref(list);
    free(r.text);
}

static void handing_back_is_refused_while_open(void **state)
{
    answers(*state, "POST", "/api/machines/B%2F03/hand-back", "{\"to\": \"the gang\"}", 422, "can't be handed back");
    answers(*state, "POST", "/api/record", "{\"machine\": \"B/03\", \"kind\": \"handed-back\", \"body\": {}}", 422,
            "can't be handed back");
    answers(*state, "POST", SCREW, "{\"back\": true, " CONFIRMED "}", 200, "\"trial_open\":false");
    struct reply r = get(*state, "/api/machines/B%2F03/put-back", "");
    json_t *list = json_of(&r);
    bool open = json_array_size(list) > 0; /* what the depot of the tests has open besides */
    json_decref(list);
    free(r.text);
    answers(*state, "POST", "/api/machines/B%2F03/hand-back",
            open ? "{\"despite\": \"goes to the bay\"}" : "{\"to\": \"the gang\"}", 200, "handed back");
    answers(*state, "GET", "/api/log-check?machine=B%2F03", NULL, 200, "[");
}

static void a_recovery_has_limits(void **state)
{
    answers(*state, "GET", "/api/machines/B%2F03/recover?distance=200%20m&slope=3%20%25", NULL, 200,
            "\"exceeded\":false");
    answers(*state, "GET", "/api/machines/B%2F03/recover?distance=301%20m", NULL, 200, "\"exceeded\":true");
    answers(*state, "GET", "/api/machines/B%2F03/recover?distance=3%20bar", NULL, 400, "200 m");
    answers(*state, "GET", "/api/machines/B%2F03/recover", NULL, 200, "\"question\"");
    answers(*state, "POST", "/api/record",
            "{\"machine\": \"B/03\", \"kind\": \"moved\", \"body\": {\"distance\": {\"value\": 5, \"unit\": \"bar\"}}}",
            400, "a distance");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test_setup(a_step_is_held_against_the_ledger, share_plain),
                                       cmocka_unit_test_setup(handing_back_is_refused_while_open, share_plain),
                                       cmocka_unit_test_setup_teardown(a_recovery_has_limits, share_plain, share_end)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
