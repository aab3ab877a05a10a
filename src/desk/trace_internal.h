/* What the files about tracing share: the traces in the log, and the model of one of them. */
#ifndef WITMARK_DESK_TRACE_INTERNAL_H
#define WITMARK_DESK_TRACE_INTERNAL_H

#include "desk_internal.h"
#include "desk_trace.h"
#include "due_internal.h"

#include "trace/find.h"

/* One trace as the log has it; texts live in the arena it was read into. */
struct trace_chain {
    struct entry_id id;
    struct str machine, symptom; /* serial number */
    instant_ms since, ended_at;  /* INSTANT_NONE = open */
    struct str cause, mode, mechanism, root;
    bool confirmed;
    struct desk_trace_event *events; /* the first is the start */
    size_t n_events, cap_events;
};
struct trace_log {
    struct trace_chain *at; /* by the time they were started */
    size_t n, cap;
};
/* Every trace that holds, of all machines. */
bool trace_log_read(struct desk *d, struct arena *a, struct trace_log *out, struct err *e);
/* The latest open one of that machine, of that symptom when it is not empty; null when there is none. */
const struct trace_chain *trace_log_open(const struct trace_log *log, struct str machine, struct str symptom);

/* The model of one machine and symptom, in the numbers of the core. */
struct trace_build {
    struct desk *d;
    struct arena *a;
    struct machine_state *s;
    const struct book *b;
    const struct trace_log *log;
    const struct trace_chain *chain; /* null = not started */
    struct desk_trace *out;
    struct trace_model m;
    double *weight, *chance, *by_itself, *sign_cost, *repair_cost, *cures;
    int n_signs; /* items 0 .. n_signs - 1; then the cures, then the call */
    struct trace_event *events;
    int n_events, cap_events;
    bool *no_sign, *no_repair;
};
/* Fills the model, the items and causes (not sorted), the events. */
void trace_build(struct trace_build *t);
/* Sorted causes, probabilities, steps, questions. */
bool trace_answer_fill(struct trace_build *t, struct err *e);

/* Start symptoms by words: index, or BOOK_NONE with an error that names the nearest. */
int trace_symptom_find(const struct book *b, struct str words, struct err *e);
/* An item by name or words among those of the sorts in `sorts` (bit 1 << sort). */
int trace_item_find(const struct desk_trace *trace, struct str words, unsigned sorts, struct err *e);
/* The symptom's other words for a phrase list: label, name, says. */
void trace_phrases(const struct book *b, int symptom, int thing, struct arena *a, struct find_phrase **at, size_t *n,
                   size_t *cap);

/* Calls `one` for every symptom a trace can start from, with its model and what was seen in the open trace, without a
 * plan. */
struct trace_each {
    void (*one)(void *ctx, const struct desk_trace *trace, const struct trace_log *log);
    void *ctx;
};
bool trace_every(struct desk *d, struct str machine, struct arena *a, struct trace_each each, struct err *e);

/* The steps one after the other as long as each comes out as it likelier does, and no cure helps; at most `most`. out
 * is the trace as it stands, but for its steps. */
bool trace_path(struct desk *d, struct str machine, struct str words, struct arena *a, struct desk_trace *out,
                struct desk_trace_step *path, int most, int *n, struct err *e);

#define TRACE_PAIR_ODDS 0.1    /* ours: one machine in ten that shows something has a second fault as well */
#define TRACE_OTHER_SHARE 0.05 /* ours: one case in twenty is not in the book */
#define TRACE_CHANCE_CASES 10  /* ours: a chance of the book counts as ten cases seen */
#define TRACE_HELP_MINUTES 240 /* ours, where the book does not say what help costs */

#endif
