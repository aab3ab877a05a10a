/* Moving a dead machine: where a recovery stands, from what was opened and put back and from the moves that were
 * entered, and what comes next, on the way out and on the way back.
 *
 * The book's steps are done in order; each opens or closes items of the put-back list. The way back is the same steps
 * in reverse, with what they opened closed and what they closed opened again. A recovery begins with the first of its
 * items that is opened while none is open, and ends when none is open any more. It is on the move once a step has
 * closed something (the chocks were taken away) while all that comes before it is open, or once a move was entered.
 *
 * Items are numbers below 64, their sets are bit masks. */
#ifndef WITMARK_RECOVER_H
#define WITMARK_RECOVER_H

#include "base/text.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define RECOVER_STEPS_MOST 64

struct recover_step {
    uint64_t opens, closes;
};

/* The book's limits; NAN = it gives none. */
struct recover_limits {
    double distance_m, speed_m_s, slope, time_s, load_kg;
};

enum recover_event_kind { RECOVER_OPENED, RECOVER_CLOSED, RECOVER_MOVED };
struct recover_event {
    enum recover_event_kind kind;
    uint64_t items;            /* opened, closed */
    double distance_m, time_s; /* moved; time NAN = not said */
    double slope, load_kg;     /* moved; NAN = not said */
};

#define RECOVER_PHASES(X)            \
    X(RECOVER_NONE, "not begun")     \
    X(RECOVER_OUT, "making ready")   \
    X(RECOVER_MOVING, "on the move") \
    X(RECOVER_BACK, "putting back")
enum recover_phase {
#define X(symbol, word) symbol,
    RECOVER_PHASES(X)
#undef X
};
const char *recover_phase_word(enum recover_phase phase);

struct recover_state {
    enum recover_phase phase;
    uint64_t open;      /* items of the recovery that are open */
    double distance_m;  /* moved since it began; when it has ended, of the last one */
    double time_s;      /* of the moves whose time was said */
    double fastest_m_s; /* mean speed of the fastest move; NAN = no time was said */
    double steepest;    /* NAN = not said */
    int moves, untimed; /* untimed: moves without a time */
    int next;           /* the step that comes next on the way in `phase`; -1 = none */
    bool next_back;     /* it is done backwards */
    bool ended;         /* the moves are those of a recovery that is over: the next one counts anew */
    bool out_of_order;  /* something is open that the steps before it should have been opened for */
};
/* steps [n_steps], n_steps <= RECOVER_STEPS_MOST; events [n] in order of time, only those about its items. */
struct recover_state recover_read(const struct recover_step *steps, int n_steps, const struct recover_event *events,
                                  size_t n);
/* The steps that bring everything back from `open`, in order: numbers of steps, each to be done backwards, into `order`
 * [n_steps]; returns how many. */
int recover_way_back(const struct recover_step *steps, int n_steps, uint64_t open, int *order);

/* ---- Limits ------------------------------------------------------------------------------------------------------ */

#define RECOVER_LIMITS(X)         \
    X(LIMIT_DISTANCE, "distance") \
    X(LIMIT_SPEED, "speed")       \
    X(LIMIT_SLOPE, "slope")       \
    X(LIMIT_TIME, "time")         \
    X(LIMIT_LOAD, "load")
enum recover_limit {
#define X(symbol, word) symbol,
    RECOVER_LIMITS(X)
#undef X
        LIMIT_COUNT
};
const char *recover_limit_word(enum recover_limit limit);

/* What is wanted, beside what was done already; NAN = not said. */
struct recover_plan {
    double distance_m, speed_m_s, slope, load_kg;
};
struct recover_judged {
    bool known; /* the book has the limit and the value is known */
    bool exceeded;
    double value, limit; /* SI; value with what was moved already */
    double left;         /* limit less what is used up; distance and time only, else NAN */
};
/* Each limit against the plan and what was moved so far, nothing where the last recovery has ended. Time at the plan's
 * speed, or without one at the book's top speed: it can't take less. A value that is exactly at its limit is allowed;
 * values are compared to one part in 1e9. Returns whether any is exceeded. */
bool recover_judge(const struct recover_limits *limits, const struct recover_state *state,
                   const struct recover_plan *plan, struct recover_judged out[LIMIT_COUNT]);

/* Force along a slope, in newtons: m g sin(atan(slope)), g = 9.80665 m/s2 (standard gravity, ISO 80000-3). What the tow
 * bar, and nothing else, holds while the machine rolls freely. slope as a ratio of rise to run. */
double recover_slope_force_n(double mass_kg, double slope);

#endif
