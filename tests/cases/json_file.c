/* JSON arrays of cases. */
#include "cases.h"

#include <stdio.h>

/* One case: a line of the tally, or all it gave as JSON. */
static void run_case(const json_t *one, struct tally *t)
{
    struct arena a = arena_new(&arena_libc);
    struct case_outcome o = case_outcome(one, &a);
    if (t->results) {
        struct text line = text_new(&a);
        case_outcome_line(&o, &line);
        puts(text_z(&line));
        t->passed += o.passed;
        t->failed += !o.passed;
    } else {
        tally_line(t, o.passed ? "ok" : "FAIL", o.id, text_z(&o.why));
    }
    json_decref(o.got);
    arena_free(&a);
}

void run_json_file(const char *path, struct tally *t)
{
    json_error_t error;
    json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
    if (!root || !json_is_array(root)) {
        char message[400];
        snprintf(message, sizeof message, "%s:%d:%d: %s", path, root ? 1 : error.line, root ? 1 : error.column,
                 root ? "not an array of cases" : error.text);
        tally_line(t, "FAIL", path, message);
        json_decref(root);
        return;
    }
    size_t i = 0;
    json_t *one = NULL;
    json_array_foreach(root, i, one)
    {
        run_case(one, t);
    }
    json_decref(root);
}
