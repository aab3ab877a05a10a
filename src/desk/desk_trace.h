/* Tracing a fault on one machine: the book's clues, what the log knows, what was seen and done so far, the causes and
 * the next step; and the fault codes it has shown.
 *
 * A trace is a chain of entries of kind `trace` (docs/entries.md): started from a symptom, what was seen and what not,
 * what was done and whether it cured, what can't be done there, ended with a cause. It is as resumable as the log is:
 * on another day, on another device. The weights of the causes are the book's, as so many cases seen, plus the depot's
 * own confirmed ones (Dirichlet); chances are the book's, as ten cases, plus what confirmed traces say (Beta). Both
 * follow the log: correct or withdraw the entry that ended a trace and its count is gone.
 */
#ifndef WITMARK_DESK_TRACE_H
#define WITMARK_DESK_TRACE_H

#include "desk.h"

#include "trace/trace.h"

/* What the log says for or against a cause: times likelier. */
struct desk_trace_fact {
    double factor;
    struct str says, source;
};

struct desk_trace_cause {
    int cause; /* index in the book */
    struct str name, label;
    double book_weight;
    int confirmed; /* traces of this depot that ended with it, from the same book */
    double factor; /* product of the facts */
    double p;      /* that it is there */
    const struct desk_trace_fact *facts;
    int n_facts;
};

enum desk_trace_sort { TRACE_SYMPTOM, TRACE_TEST, TRACE_CURE, TRACE_CALL };
enum desk_trace_state { ITEM_OPEN, ITEM_YES, ITEM_NO, ITEM_CANNOT };

/* A sign or a repair as people see it. */
struct desk_trace_item {
    enum desk_trace_sort sort;
    int index; /* symptom or test of the book; -1 = a test of words, a cure, the call */
    struct str name, label, act;
    struct str yes, no;            /* tests: what is seen then */
    const char *kind;              /* look, measure, adjust, swap, repair, call for help */
    struct str place, needs, note; /* in words; may be empty */
    struct book_texts tools;
    const struct book_caution *const *cautions;
    int n_cautions;
    double minutes;      /* time and what is used up, together */
    double work_minutes; /* time alone */
    bool asked;          /* can be looked for */
    int cause;           /* cures: the first cause it cures; else -1 */
    int task, adjuster;  /* of a cure; BOOK_NONE */
    enum desk_trace_state state;
    struct str from; /* what said so: "entry 0192f3", "fault 110/0"; empty */
};

struct desk_trace_after {
    int cause; /* index in causes */
    double p;
};

/* A proposed step: core's numbers and what it would tell. */
struct desk_trace_step {
    int item; /* index in items */
    double minutes, p_yes, low, high;
    struct desk_trace_after if_yes[3], if_no[3];
    int n_yes, n_no;
};

struct desk_trace_event {
    struct entry_id id;
    instant_ms at;
    struct str by, step, what, result, note;
};

struct desk_trace {
    const struct desk_machine *machine;
    int symptom; /* index in the book */
    bool started, ended;
    struct entry_id id; /* of the entry that started it */
    instant_ms since;
    struct str ended_cause, mode, mechanism, root; /* once ended; empty = without a cause */
    bool confirmed;
    const struct desk_trace_event *events;
    size_t n_events;
    struct desk_trace_cause *causes; /* by falling p */
    int n_causes;
    double p_other, p_two;
    bool two;
    struct desk_trace_item *items; /* signs first, then cures, then the call */
    int n_items;
    struct desk_trace_step *steps; /* the first three and the call; the first is the one to do */
    int n_steps;
    double low, high, straight; /* minutes */
    bool exact, cured;
    struct str question; /* the model as a flat question (wasm/flat_trace.h), without what was seen; what was seen */
    struct str evidence;
};

/* The machine's trace from what somebody says; without words the one that is open (the latest). Nothing is written.
 * Errors: ERR_MISSING no such symptom or several, naming the nearest; no open trace; no book. */
bool desk_trace(struct desk *d, struct str machine, struct str words, struct arena *a, struct desk_trace *out,
                struct err *e);

/* What is recorded in one call; empty = not said. */
struct desk_trace_note {
    struct str words;                 /* of the symptom; empty = the open trace */
    struct str saw, saw_not;          /* signs, comma separated */
    struct str did, result;           /* a test (yes, no) or a cure (cured, still) */
    struct str cannot;                /* what can't be done here, comma separated */
    struct str cause;                 /* ends it; "none" = given up without a cause */
    struct str mode, mechanism, root; /* words of ISO 14224; empty = those of the book */
    bool start;                       /* begin it even when nothing else is said */
};
/* Writes the entries, starting the trace first when none is open for that symptom. says: a line per entry. Errors:
 * ERR_MISSING with the nearest name, ERR_INPUT a result that is none, ERR_REFUSED what was done or ended already. */
bool desk_trace_record(struct desk *d, const struct desk_stamp *s, const struct desk_trace_note *note, struct arena *a,
                       struct str *says, struct err *e);

/* Traces of all machines (machine empty) or one, newest first. */
struct desk_trace_head {
    const struct desk_machine *machine;
    struct str symptom, label, cause;
    struct entry_id id;
    instant_ms since, ended_at; /* ended_at INSTANT_NONE = open */
    bool confirmed;
    size_t n_events;
};
bool desk_traces(struct desk *d, struct str machine, struct arena *a, struct desk_trace_head **at, size_t *n,
                 struct err *e);

/* One factor after the other, for `why`: key is a cause's or an item's name. */
bool desk_trace_why(struct desk *d, struct str machine, struct str words, struct str key, struct arena *a,
                    struct desk_why *out, struct err *e);

void desk_trace_json(struct json *j, struct desk *d, const struct desk_trace *trace);
/* Everything that a phone needs to trace on this machine without the depot: symptoms, clues, items, causes, a flat
 * model per symptom, the traces so far (docs/json.md). */
bool desk_trace_book_json(struct json *j, struct desk *d, struct str machine, struct err *e);
void desk_traces_json(struct json *j, struct desk *d, const struct desk_trace_head *at, size_t n);

/* The document of a printed trace (docs/print.md): what is known, the ladder, the steps in the order in which they
 * would come, with their cautions and blanks, the end. */
bool desk_print_trace(struct desk *d, struct str machine, struct str words, struct str paper, struct text *out,
                      struct err *e);

/* ---- Fault codes ---- */

struct desk_fault {
    const struct desk_machine *machine;
    struct str key;     /* "110/0", or the code as shown */
    int64_t spn, fmi;   /* -1 = not given */
    struct str signal;  /* what the SPN is, from the table of signals; empty = not known */
    struct str meaning; /* of the FMI in our words */
    struct str reading; /* for a technician: what to think of first */
    struct str text;    /* as it came */
    instant_ms first, last;
    int64_t count;
    bool active;
    const int *symptoms; /* of the machine's book that this code is */
    int n_symptoms;
};
/* Codes of one machine, or all: active first, then by the last time seen. */
bool desk_faults(struct desk *d, struct str machine, bool with_cleared, struct arena *a, struct desk_fault **at,
                 size_t *n, struct err *e);
void desk_faults_json(struct json *j, struct desk *d, const struct desk_fault *at, size_t n);

#endif
