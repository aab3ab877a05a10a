/* A reading tried without being recorded, and what a phone needs to judge one itself. */
#ifndef WITMARK_DESK_JUDGE_H
#define WITMARK_DESK_JUDGE_H

#include "desk.h"

struct desk_judged {
    const struct desk_machine *machine;
    int checkpoint;
    struct quantity value;
    const struct judge_with *with; /* as read, then what the log added */
    int n_with;
    struct verdict verdict;
};
/* Judges as desk_record_reading would, and writes nothing. at: INSTANT_NONE = now. */
bool desk_judge(struct desk *d, struct str machine, struct str checkpoint, struct str value, struct str with,
                instant_ms at, struct arena *a, struct desk_judged *out, struct err *e);
void desk_judged_json(struct json *j, struct desk *d, const struct desk_judged *judged);
/* The verdict's members, inside an object that is open (docs/json.md, verdict). */
void desk_verdict_members_json(struct json *j, struct desk *d, const struct verdict *v);

/* The lines of the flat question "judge" (core/wasm/flat.h) for a measured checkpoint of a machine with a book, but for
 * the value and what is read with it: limits, gauge, uncertainty, the correction with the book's figures, conditions,
 * and what the log knows now of before (with before=..., with run=...). */
void text_judge_question(struct text *t, struct desk *d, const struct desk_machine *m, int checkpoint);

#endif
