/* Sequencing instances: X.sop with optima.csv beside it. */
#include "cases.h"

void run_sequencing(const char *path, struct tally *t)
{
    tally_line(t, "skip", path, "this build has no solver for sequencing instances");
}
