/* What the feeds share: drafts to be written together, and lines of the report. */
#ifndef WITMARK_DESK_FEED_INTERNAL_H
#define WITMARK_DESK_FEED_INTERNAL_H

#include "desk_internal.h"

struct taking {
    struct desk *d;
    struct arena *a;
    struct draft *drafts; /* their bodies are given back by taking_end */
    size_t n, cap;
    struct desk_feed_line *lines;
    size_t n_lines, cap_lines;
    struct desk_feed_report *report;
};

/* Adds an entry to be written; the body now belongs to t. */
void taking_draft(struct taking *t, const struct desk_machine *m, enum entry_kind kind, instant_ms at, struct str by,
                  json_t *body);
/* Adds a line to the report and counts it. */
void taking_line(struct taking *t, struct desk_feed_line line);
/* Writes all drafts in one transaction when `write`, fills the report, gives the bodies back. */
bool taking_end(struct taking *t, bool write, struct err *e);

/* Is an entry with that machine and import key in the log? */
bool feed_known(struct desk *d, struct str machine, struct str import_key);

void feed_put_str(json_t *body, const char *key, struct str value);
void feed_put_num(json_t *body, const char *key, double value);

#endif
