/* One line a case, and the count. */
#include "cases.h"

#include <stdio.h>
#include <string.h>

void tally_line(struct tally *t, const char *outcome, const char *id, const char *text)
{
    t->passed += strcmp(outcome, "ok") == 0;
    t->failed += strcmp(outcome, "FAIL") == 0;
    t->skipped += strcmp(outcome, "skip") == 0;
    printf("%s %s%s%s\n", outcome, id, text[0] ? " " : "", text);
    fflush(stdout);
}
