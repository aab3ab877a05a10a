/* The put-back list: what was opened, shut, propped, bypassed, released or unplugged and not yet put back, from the
 * acts that the log has; and what in those acts does not fit together, or not with the book's procedures.
 *
 * Items are numbered by the caller; a set of items is not limited. Acts are in order of time. */
#ifndef WITMARK_PUTBACK_H
#define WITMARK_PUTBACK_H

#include "base/arena.h"

#include <stdbool.h>
#include <stddef.h>

enum putback_act_kind {
    ACT_OPEN,
    ACT_CLOSE,
    ACT_TASK, /* a task of the book is done: item is its number */
};
struct putback_act {
    enum putback_act_kind kind;
    int item;
    size_t source; /* the caller's number of the entry */
};

/* What the steps of a task open and close. */
struct putback_task {
    const int *opens, *closes;
    int n_opens, n_closes;
};

#define PUTBACK_FINDINGS(X)                                                                          \
    X(PUTBACK_TWICE, "opened twice")            /* it was open already; the list has it once */      \
    X(PUTBACK_NEVER_OPENED, "never opened")     /* put back, and nothing says that it was opened */  \
    X(PUTBACK_TASK_LEFT, "left open by a task") /* the task was said to be done, its steps close it, \
                                                 and no put-back did */
enum putback_finding_kind {
#define X(symbol, word) symbol,
    PUTBACK_FINDINGS(X)
#undef X
};
struct putback_finding {
    enum putback_finding_kind kind;
    int item, task; /* task: BOOK_NONE's -1 unless PUTBACK_TASK_LEFT */
    size_t source;  /* the entry that shows it: the second opening, the put-back, the task done */
    size_t opened;  /* PUTBACK_TWICE, PUTBACK_TASK_LEFT: the entry that opened it */
    bool still;     /* PUTBACK_TASK_LEFT: it is open to this day; else it was put back later */
};

struct putback_open {
    int item;
    size_t source; /* the entry that opened it */
};
struct putback {
    const struct putback_open *open; /* in order of opening */
    size_t n_open;
    const struct putback_finding *findings; /* in order of source */
    size_t n_findings;
};

/* Replays the acts. A task that only closes (a look after the work, say) needs nothing; one whose steps close what is
 * open when it is said to be done, leaves it on the list: only the put-back takes it off, and the finding says so.
 * Cost: O(acts x (open + items of a task)). */
struct putback putback_replay(struct arena *a, const struct putback_act *acts, size_t n,
                              const struct putback_task *tasks);

const char *putback_finding_word(enum putback_finding_kind kind);

#endif
