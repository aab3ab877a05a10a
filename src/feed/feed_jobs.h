/* A list of coming jobs from a file: CSV (comma or semicolon, first line names the columns) or a small YAML document, a
 * list of mappings. Columns and keys are the fields of exhaust/burn_jobs.h; a YAML value may be a list of words. Which
 * of the two it is, is seen by the name's end (.yaml, .yml, .csv), else by the text.
 */
#ifndef WITMARK_FEED_JOBS_H
#define WITMARK_FEED_JOBS_H

#include "exhaust/burn_jobs.h"

#define FEED_JOBS_BYTES_MOST ((size_t)256 << 10)

/* Rows in the arena. Errors: ERR_INPUT with name, line and column: no list, an unknown column with the nearest, too
 * long, no row at all, more than BURN_JOBS_MOST. */
bool feed_jobs_read(struct arena *a, struct str name, struct str data, struct burn_row **rows, size_t *n,
                    struct err *e);
/* The same on one line: jobs ended by ';', each DUTY HOURS [PLACE...] [stop MINUTES [PLACE...]] [burn|no-burn], as in
 * "raking 7 dry-vegetation; raking 7 stop 60 hard-standing". Errors: ERR_USAGE. */
bool feed_jobs_line(struct arena *a, struct str line, struct burn_row **rows, size_t *n, struct err *e);

#endif
