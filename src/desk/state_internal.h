/* What the files that make a machine's state share: the events of its log. */
#ifndef WITMARK_DESK_STATE_INTERNAL_H
#define WITMARK_DESK_STATE_INTERNAL_H

#include "desk_internal.h"

struct filled {
    struct str fluid;
    double m3;
};

/* An entry with what the state needs of its body, copied out of the tree that the log lends for a moment. */
struct event {
    enum entry_kind kind;
    instant_ms at;
    struct entry_id id;
    struct str by, name, look, text; /* name: checkpoint, task, item, adjuster ... */
    double value, uncertainty;
    struct str unit;
    const struct judge_with *with;
    int n_with;
    const struct filled *fills; /* fluids filled in with work done */
    int n_fills;
    int64_t spn, fmi, count;
    bool flag;
    const struct use_state *used; /* by a task */
    int n_used;
    bool found;                    /* of a turn: the count begins here */
    enum adjust_saw saw;           /* of a turn */
    struct str note;               /* of a turn, a move */
    double time_s, slope, load_kg; /* of a move, whose distance in m is `value`; NAN = not said */
};

/* What of a turn or a move the event needs beyond what every event has. */
void event_take_turn(struct desk *d, const json_t *body, struct event *event);
void event_take_move(struct desk *d, const json_t *body, struct event *event);

/* Everything reversible that was done and not undone, the ledgers of all adjusters, and where a recovery stands: into
 * s->open (by time), s->turns, s->recovery, s->handed_back. events [n] by time; s->m.book may be null. */
void state_of_open(struct desk *d, struct machine_state *s, const struct event *events, size_t n);

#endif
