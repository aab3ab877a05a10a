/* Counted adjustments at the desk: the ledger of every adjuster of a machine, what comes next, and recording a step. */
#ifndef WITMARK_DESK_ADJUST_H
#define WITMARK_DESK_ADJUST_H

#include "adjust/adjust.h"
#include "desk.h"

/* One turn, with where it stands after it. */
struct desk_turn {
    instant_ms at;
    struct entry_id id;
    struct str by, note;
    struct adjust_entry entry;
    turns_t from_found, from_accepted;
};
struct desk_adjuster {
    const struct desk_machine *machine;
    struct str name, label;
    int adjuster; /* in the machine's book; BOOK_NONE: it was turned, but the book has none of that name */
    struct adjust_rules rules;
    struct adjust_ledger ledger;
    struct adjust_next next;
    struct str other_open; /* another adjuster of the same circuit that stands at a trial setting; empty = none */
    const struct desk_turn *turns;
    size_t n;
    size_t trial; /* the first turn of the open trial; n when none is open */
};

/* All adjusters of a machine, the book's in its order, then others that were turned. */
bool desk_adjusters(struct desk *d, struct str machine, struct arena *a, struct desk_adjuster **at, size_t *n,
                    struct err *e);
/* One of them by name or label. Errors: ERR_MISSING with the nearest. */
bool desk_adjuster(struct desk *d, struct str machine, struct str adjuster, struct arena *a, struct desk_adjuster *out,
                   struct err *e);

struct desk_adjust_ask {
    struct str adjuster;
    struct str turn;      /* "+1.5", "1/2 out"; may be empty */
    struct str saw;       /* gone, less, same, worse; may be empty */
    struct str confirmed; /* names of what was confirmed, with commas */
    bool accept;          /* this setting stays */
    bool back;            /* turned back to the accepted setting, which stays */
    bool back_to_found;   /* turned back to where it was found */
    bool undo;            /* the last turn taken back */
    bool found;           /* count from here: a new valve */
};
/* Checks the step against the ledger and the book, then writes it down. ERR_REFUSED says why a step may not be made and
 * what would be right. */
bool desk_adjust(struct desk *d, const struct desk_stamp *s, const struct desk_adjust_ask *ask, struct arena *a,
                 struct desk_recorded *out, struct err *e);

/* Where it stands and what comes next, in words: the caution first. */
void text_adjuster(struct text *t, struct desk *d, const struct desk_adjuster *adjuster);
/* "stands 2 turns in from the accepted setting, 2 turns in from where it was found" */
void text_adjuster_stands(struct text *t, const struct desk_adjuster *adjuster);
/* "next: ½ turn in", and why */
void text_adjuster_next(struct text *t, const struct desk_adjuster *adjuster);

/* The document of docs/print.md: what the book says of it, the turns so far, and blanks for more. */
bool desk_print_adjuster(struct desk *d, const struct desk_adjuster *adjuster, struct str paper, struct text *out,
                         struct err *e);

void desk_adjuster_json(struct json *j, struct desk *d, const struct desk_adjuster *adjuster);
void desk_adjusters_json(struct json *j, struct desk *d, const struct desk_adjuster *at, size_t n);

#endif
