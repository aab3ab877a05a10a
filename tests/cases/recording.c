/* Bus recordings: X.log or X.asc with X.expected_signals.csv beside it. */
#include "cases.h"

#include "feed_bus.h"

#include <stdio.h>
#include <string.h>

/* A whole file; false when it cannot be read. */
static bool read_file(struct arena *a, const char *path, struct str *out)
{
    FILE *f = fopen(path, "rb");
    if (!f) {
        return false;
    }
    struct text t = text_new(a);
    char block[65536];
    size_t n = 0;
    while ((n = fread(block, 1, sizeof block, f)) > 0) {
        text_add(&t, (struct str){block, n});
    }
    bool ok = !ferror(f);
    fclose(f);
    *out = text_str(&t);
    return ok;
}

/* "dir/X.log" -> "dir/X.expected_signals.csv" */
static const char *expected_path(struct arena *a, const char *path)
{
    struct text t = text_new(a);
    size_t n = strlen(path);
    text_add(&t, (struct str){path, n - 4});
    text_addz(&t, ".expected_signals.csv");
    return text_z(&t);
}

void run_recording(const char *path, struct tally *t)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct text why = text_new(&a);
    struct bus_case_result result = {0};
    struct str recording;
    struct str expected;
    const char *beside = expected_path(&a, path);
    bool passed = false;
    if (!read_file(&a, path, &recording)) {
        text_addz(&why, "cannot be read");
    } else if (!read_file(&a, beside, &expected)) {
        text_join(&why, "no expected readings beside it: ", beside, (char *)0);
    } else {
        passed = feed_bus_case(&a, str_of(path), recording, str_of(beside), expected, &result, &e);
        if (e.kind != ERR_NONE) {
            text_add(&why, err_text(&a, &e));
        } else {
            text_int(&why, (int64_t)result.readings);
            text_addz(&why, " readings, ");
            text_int(&why, (int64_t)result.differences);
            text_addz(&why, " differences");
            if (result.text.n) {
                text_addz(&why, "\n");
                text_add(&why, result.text);
            }
        }
    }
    tally_line(t, passed ? "ok" : "FAIL", path, text_z(&why));
    arena_free(&a);
}
