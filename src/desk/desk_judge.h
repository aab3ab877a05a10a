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

/* What the flat question "judge" (core/wasm/flat.h) asks of a measured checkpoint, but for the value and what is read
 * with it: {"limits", "gauge", "uncertainty", "correction", "reference", "v40", "v100", "glycol", "given": {},
 * "judged-at": {}, "log": {}}, texts as written; members that say nothing are left out. "log" is what the log adds to
 * what is read with a reading now ("before", "added", "run", "apart"). */
void desk_judge_question_json(struct json *j, const char *key, struct desk *d, const struct desk_machine *m,
                              int checkpoint);

#endif
