/* What a reading is judged with: the values read together with it and what the log knows of before. Also a reading
 * tried without being recorded. */
#ifndef WITMARK_DESK_READING_H
#define WITMARK_DESK_READING_H

#include "desk_internal.h"

/* The verdict on a reading of a checkpoint. For corrections that compare with an earlier reading, that one, what was
 * filled in since and the time between are added to what was read with it, unless they were read with it themselves.
 * The earlier reading is the last one that lies far enough back (READING_RUN_H of running, READING_APART_S of the
 * calendar) since the fluid was changed. Texts in `a`. */
struct verdict reading_verdict(struct arena *a, const struct machine_state *s, int checkpoint,
                               const struct point_reading *reading);
/* The values that the log adds, in *out [*n], as of a moment and total hours. */
void reading_from_log(struct arena *a, const struct machine_state *s, int checkpoint, enum quantity_kind read,
                      instant_ms at, double total_h, struct judge_with **out, int *n);

#define READING_RUN_H 20.0            /* common practice, no source: a dipstick is not read finer */
#define READING_APART_S (86400.0 * 2) /* likewise, for what leaks by the calendar */
#define READING_CHANGED 0.8           /* a fill of this share of the capacity is a change of the fluid */

/* A reading checked against the machine's book: the checkpoint exists and is measured, the value and what was read with
 * it can be read and fit. */
struct reading_asked {
    int checkpoint;
    struct quantity value;
    const struct judge_with *with;
    int n_with;
};
bool reading_parse(struct arena *a, const struct book *b, struct str checkpoint, struct str value, struct str with,
                   struct reading_asked *out, struct err *e);

/* The unit must be one that the checkpoint can be read in. Errors: ERR_INPUT, naming what was `written`. */
bool reading_fits(const struct book_checkpoint *c, struct str written, struct quantity value, struct err *e);

/* ", corrected 1.23 bar: in limits, well inside the limits" */
void text_verdict(struct text *t, const struct desk *d, const struct book_checkpoint *c, const struct verdict *v);

#endif
