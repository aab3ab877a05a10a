/* docs/openapi.yaml against the program: every route is described with its role, every described one is there and
 * answers, and takes the parameters that are described. The file is read by its lines, which are regular: two blanks
 * before a path, four before a method. */
#include "web_client.h"

#include "api.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define OPERATIONS_MOST 200

struct operation {
    char method[8], path[96], role[16];
    char query[16][24];
    int n_query;
};
static struct operation described[OPERATIONS_MOST];
static size_t n_described;

/* "      - { $ref: "#/components/parameters/site" }": a parameter of the query has no prefix and is no header. */
static void read_parameter(const char *line, struct operation *o)
{
    const char *at = strstr(line, "#/components/parameters/");
    if (at && strncmp(at + 24, "path-", 5) != 0 && strncmp(at + 24, "token-header", 12) != 0 && o->n_query < 16) {
        (void)sscanf(at + 24, "%23[a-z-]", o->query[o->n_query++]);
    }
}

static void read_document(void)
{
    char path[512];
    char line[1024];
    char current[96] = "";
    (void)snprintf(path, sizeof path, "%s/docs/openapi.yaml", source_folder());
    FILE *f = fopen(path, "r");
    assert_non_null(f);
    bool paths = false;
    while (fgets(line, sizeof line, f)) {
        struct operation *last = n_described ? &described[n_described - 1] : NULL;
        char word[16];
        if (line[0] != ' ' && line[0] != '#') {
            paths = strncmp(line, "paths:", 6) == 0;
        } else if (paths && strncmp(line, "  /", 3) == 0) {
            (void)sscanf(line, "  %95[^:]", current);
        } else if (paths && sscanf(line, "    %15[a-z]:", word) == 1 && line[4] != ' ' &&
                   (strcmp(word, "get") == 0 || strcmp(word, "post") == 0 || strcmp(word, "put") == 0)) {
            assert_true(n_described < OPERATIONS_MOST);
            struct operation *o = &described[n_described++];
            (void)snprintf(o->path, sizeof o->path, "%s", current);
            for (size_t i = 0; word[i]; i++) {
                o->method[i] = (char)toupper((unsigned char)word[i]);
            }
        } else if (paths && last && strncmp(line, "      x-role: ", 14) == 0) {
            (void)sscanf(line + 14, "%15[a-z]", last->role);
        } else if (paths && last && strncmp(line, "        - ", 10) == 0) {
            read_parameter(line, last);
        }
    }
    (void)fclose(f);
    assert_true(n_described > 30);
}

static void prepare(struct bench *b)
{
    read_document();
    struct log_hash hash;
    ok(b, depot_blob_put(desk_depot(b->d), S("abc"), &hash, &b->e));
    struct desk_stamp s = {.machine = S("B/03"), .by = S("Ines"), .at = INSTANT_NONE};
    struct desk_recorded made;
    ok(b, desk_record_reading(b->d, &s, S("front-tyre-left"), S("1.5 bar"), S("temperature=20 degC"), &b->a, &made,
                              &b->e));
}

static int set_up(void **state)
{
    return share_depot(state, prepare, "Ines");
}

static const struct operation *described_as(const char *method, const char *path)
{
    for (size_t i = 0; i < n_described; i++) {
        if (strcmp(described[i].method, method) == 0 && strcmp(described[i].path, path) == 0) {
            return &described[i];
        }
    }
    return NULL;
}

static void every_route_is_described(void **state)
{
    size_t n = 0;
    size_t routes = 0;
    const struct route *const *tables = api_tables(&n);
    (void)state;
    for (size_t k = 0; k < n; k++) {
        for (const struct route *r = tables[k]; r->method; r++) {
            const struct operation *o = described_as(r->method, r->pattern);
            if (!o) {
                fail_msg("docs/openapi.yaml does not describe %s %s", r->method, r->pattern);
            } else if (strcmp(o->role, role_word(r->role)) != 0) {
                fail_msg("%s %s: role %s, described as %s", r->method, r->pattern, role_word(r->role), o->role);
            }
            routes++;
        }
    }
    assert_int_equal(routes, n_described);
}

/* Values that are there in the depot of the tests. */
static void fill(struct bench *b, const struct operation *o, char *target, size_t size)
{
    static const struct {
        const char *name, *value;
    } values[] = {{"{machine}", "B%2F03"},
                  {"{key}", "engine-oil-level"},
                  {"{book}", "brine6"},
                  {"{adjuster}", "rake-counterbalance"},
                  {"{symptom}", "valve-chatters"},
                  {"{cause}", "counterbalance-low"},
                  {"{sha256}", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}};
    const char *from = o->path;
    size_t n = 0;
    (void)b;
    while (*from && n + 80 < size) {
        const char *value = NULL;
        for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
            value = strncmp(from, values[i].name, strlen(values[i].name)) == 0 ? values[i].value : value;
        }
        if (strncmp(from, "{name}", 6) == 0) {
            value = strstr(o->path, "figures") ? "plan" : "front-tyre-left";
        }
        if (strncmp(from, "{id}", 4) == 0) {
            struct entries first;
            struct text id = text_new(&b->a);
            ok(b, depot_list(desk_depot(b->d), &(struct entry_filter){.limit = 1}, &b->a, &first, &b->e));
            text_entry_id(&id, first.at[0].id);
            entries_free(&first);
            value = text_z(&id);
        }
        if (value) {
            n += (size_t)snprintf(target + n, size - n, "%s", value);
            from = strchr(from, '}') + 1;
        } else if (*from == '{') {
            fail_msg("%s: no value for %s", o->path, from);
            return;
        } else {
            target[n++] = *from++;
        }
    }
    target[n] = '\0';
}

/* A described GET answers with 200; what this depot has none of is 404. */
static void every_described_address_answers(void **state)
{
    struct bench *b = *state;
    for (size_t i = 0; i < n_described; i++) {
        const struct operation *o = &described[i];
        char target[512];
        if (strcmp(o->method, "GET") != 0) {
            continue;
        }
        fill(b, o, target, sizeof target - 40);
        if (strstr(o->path, "/diff")) {
            strcat(target, "?from=2027-03");
        }
        struct reply r = get(b, target, "");
        bool none = strstr(o->path, "authority") != NULL || (strstr(o->path, ".pdf") != NULL && r.status == 503);
        bool may_be_none = strstr(o->path, "{machine}/exhaust") != NULL; /* a machine without a filter, no jobs named */
        if (may_be_none ? r.status != 200 && r.status != 404 && r.status != 400
            : none      ? r.status != 404 && r.status != 503
                        : r.status != 200) {
            fail_msg("GET %s: %s", target, r.text);
        }
        free(r.text);
        r = ask(b, "HEAD", target, "", NULL);
        assert_int_equal(r.n_body, 0);
        free(r.text);
    }
}

/* A parameter that is described is one that is taken: at most its value is wrong. */
static void every_described_parameter_is_known(void **state)
{
    struct bench *b = *state;
    for (size_t i = 0; i < n_described; i++) {
        const struct operation *o = &described[i];
        for (int k = 0; k < o->n_query; k++) {
            char target[512];
            fill(b, o, target, sizeof target - 80);
            size_t n = strlen(target);
            (void)snprintf(target + n, sizeof target - n, "?%s=x&%s=x", o->query[k], "no-such-parameter");
            struct reply r = get(b, target, "");
            assert_true(r.status >= 400);
            if (!strstr(r.body, "no-such-parameter")) {
                fail_msg("GET %s: %s is not taken\n%s", o->path, o->query[k], r.body);
            }
            free(r.text);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(every_route_is_described, set_up),
        cmocka_unit_test_setup(every_described_address_answers, set_up),
        cmocka_unit_test_setup(every_described_parameter_is_known, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, share_end);
}
