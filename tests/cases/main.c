/* witmark-cases FILE...: runs files of published cases, a line each, and closes with "N passed, N failed".
 *
 *   FILE.json               array of cases (topic, kind, inputs, expected, tolerance)
 *   FILE.log, FILE.asc      bus recording, its readings in FILE.expected_signals.csv
 *   FILE.sop                sequencing instance, its best value in optima.csv beside it
 *
 * With --results first, each case of the JSON files prints all it gave as JSON instead.
 *
 * Exit status: 0 when nothing failed, 1 when something did, 2 for a wrong call.
 */
#include "cases.h"

#include <stdio.h>
#include <string.h>

static bool ends(const char *path, const char *tail)
{
    size_t n = strlen(path);
    size_t m = strlen(tail);
    return n > m && strcmp(path + n - m, tail) == 0;
}

int main(int argc, char **argv)
{
    struct tally t = {0};
    if (argc < 2) {
        fprintf(stderr, "usage: %s FILE.json|FILE.log|FILE.asc|FILE.sop ...\n", argv[0]);
        return 2;
    }
    int from = 1;
    if (strcmp(argv[1], "--results") == 0) {
        t.results = true;
        from = 2;
    }
    for (int i = from; i < argc; i++) {
        if (ends(argv[i], ".json")) {
            run_json_file(argv[i], &t);
        } else if (ends(argv[i], ".log") || ends(argv[i], ".asc")) {
            run_recording(argv[i], &t);
        } else if (ends(argv[i], ".sop")) {
            run_sequencing(argv[i], &t);
        } else {
            tally_line(&t, "FAIL", argv[i], "unknown sort of file: .json, .log, .asc or .sop");
        }
    }
    if (t.skipped) {
        printf("%zu skipped\n", t.skipped);
    }
    printf("%zu passed, %zu failed\n", t.passed, t.failed);
    return t.failed > 0;
}
