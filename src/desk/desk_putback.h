/* The put-back list: everything opened, shut, propped, bypassed, released, unplugged, inhibited or left at a trial
 * setting, from the moment it is logged until its undoing is logged; handing a machine back; and the log held against
 * what the books' procedures open and close. */
#ifndef WITMARK_DESK_PUTBACK_H
#define WITMARK_DESK_PUTBACK_H

#include "desk.h"

#define LEFT_KINDS(X)                                                       \
    X(LEFT_ITEM, "opened")       /* put-back takes it off */                \
    X(LEFT_TRIAL, "trial")       /* an adjuster; turned back or accepted */ \
    X(LEFT_INHIBIT, "inhibited") /* burning of the exhaust filter; released */
enum left_kind {
#define X(symbol, word) symbol,
    LEFT_KINDS(X)
#undef X
};
const char *left_kind_word(enum left_kind kind);

struct desk_left_open {
    const struct desk_machine *machine;
    enum left_kind kind;
    struct str item, label;
    instant_ms since;
    struct str by;
    struct entry_id entry; /* that opened it */
    struct str close;      /* how it is closed, in the book's words; empty when the book does not say */
    struct str source;     /* the book's line that says so; may be empty */
    struct str write_down; /* the command that writes it down */
};
/* Of one machine, or with an empty name of all: by machine, then by time. */
bool desk_put_back_list(struct desk *d, struct str machine, struct arena *a, struct desk_left_open **at, size_t *n,
                        struct err *e);
void desk_put_back_json(struct json *j, struct desk *d, const struct desk_left_open *at, size_t n);

/* Whether `item` may be opened (or put back) now. Errors: ERR_MISSING no such item, with the nearest; ERR_REFUSED it is
 * open already, it is not open, or it is one that comes off the list another way. */
bool desk_may_open(struct desk *d, const struct desk_machine *m, struct str item, bool back, struct err *e);

/* The machine goes back to its user. While anything is open: ERR_REFUSED with the list, unless `despite` gives a
 * reason; then the entry holds the list and the reason. Who may do that is the caller's to check. */
bool desk_hand_back(struct desk *d, const struct desk_stamp *s, struct str to, struct str despite, struct arena *a,
                    struct desk_recorded *out, struct err *e);
/* Whether a body of kind handed-back names everything that is open now. Errors: ERR_REFUSED. */
bool desk_hand_back_fits(struct desk *d, const struct desk_machine *m, const json_t *body, struct err *e);

#define LOG_DOUBTS(X)                                                                               \
    X(DOUBT_TWICE, "opened twice")                                                                  \
    X(DOUBT_NEVER_OPENED, "never opened")                                                           \
    X(DOUBT_TASK_LEFT, "left open by a task")                                                       \
    X(DOUBT_HANDED_BACK, "handed back open") /* with something open that the entry does not name */ \
    X(DOUBT_BEYOND, "beyond the limit")      /* an adjuster turned further than the book allows */  \
    X(DOUBT_MOVED, "moved too far")          /* a recovery further, longer or faster than it allows */
enum log_doubt {
#define X(symbol, word) symbol,
    LOG_DOUBTS(X)
#undef X
};
const char *log_doubt_word(enum log_doubt doubt);
struct desk_log_finding {
    enum log_doubt doubt;
    bool open; /* it is so to this day; else it has been put right since */
    const struct desk_machine *machine;
    instant_ms at;
    struct entry_id entry;
    struct str says, right;
};
/* One machine, or with an empty name all: by machine, then by time. */
bool desk_log_check(struct desk *d, struct str machine, struct arena *a, struct desk_log_finding **at, size_t *n,
                    struct err *e);
void desk_log_check_json(struct json *j, struct desk *d, const struct desk_log_finding *at, size_t n);

#endif
