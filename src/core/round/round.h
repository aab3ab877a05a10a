/* The round: one machine, check points at its places, conditions of the machine, and the fastest order that is safe.
 *
 * The machine's condition is a handful of variables (engine, body, cock, heat ...). A *change* sets some of them, takes
 * seconds, and may be possible at one place only. A *point* is a check or a step at a place; it *needs* a partial
 * condition and may itself set variables (a step that takes a cover off sets cover to open). *Never* lists combinations
 * that must not exist, whatever the order: no change or point may lead into one. Some points come *after* others. The
 * round begins at the start, does every point once, and ends at the finish. Walking and changing cost time; the points'
 * own times are constant.
 *
 * How a book's facts are written here:
 *   value 0 of every variable     parked: off, down, shut, cold. The finish of a round is normally all zero.
 *   "while X is open, never Y"    a variable for X (0 shut, 1 open), set by the point or change that opens and closes
 * it, and a never-combination of X open with Y. The finish asks for 0, so nothing stays open. A thing that blocks
 * nothing needs no variable: an after-rule from opening to closing does. drain before refill           an after-rule:
 * refill comes after drain. waiting (cooling, half an hour)  a change with a long time. Then cold work is done first
 * without being told. skipped, failed, interrupted  solve again with `start` where the machine is now and `done` for
 * what is behind.
 *
 * Safety is in the graph and not in a penalty: an order that breaks a rule is not a dear one, it does not exist. What
 * the solver hands out is replayed by round_replay first, which shares no code with it; a round that fails there is
 * refused.
 *
 * Everything is borrowed for the call; results live in the arena given. Seconds are whole seconds.
 */
#ifndef WITMARK_ROUND_H
#define WITMARK_ROUND_H

#include "base/err.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

#define ROUND_VARIABLES \
    32                  /* most variables; together they must fit into 64 bits (a variable of two values takes one) */
#define ROUND_VALUES 16 /* most values of one */
#define ROUND_ANYWHERE (-1)         /* as a place: wherever one stands */
#define ROUND_MOST_CONDITIONS 20000 /* conditions that can be reached; more is ERR_DOMAIN */
#define ROUND_MOST_POINTS 1024
#define ROUND_MOST_PLACES 250

/* A full condition: a value for every variable. Zeroed it is parked. */
struct round_condition {
    uint8_t value[ROUND_VARIABLES];
};

/* A partial condition: per variable the values that will do, bit v for value v; 0 = any. Zeroed it holds always. */
struct round_partial {
    uint16_t allowed[ROUND_VARIABLES];
};

/* One variable gets a value. */
struct round_set {
    uint8_t variable;
    uint8_t value;
};

struct round_variable {
    struct str id;
    const struct str *values; /* [n_values], their words; may be null, then messages show numbers */
    size_t n_values;          /* 1..ROUND_VALUES */
};

struct round_place {
    struct str id;
    double x_m, y_m; /* plan view */
};

/* A change of condition. */
struct round_change {
    struct str id;
    struct round_partial from;    /* what it starts from */
    const struct round_set *sets; /* [n_sets] */
    size_t n_sets;
    int place;       /* index, or ROUND_ANYWHERE */
    int32_t seconds; /* >= 0 */
};

/* A check or step to be done once. */
struct round_point {
    struct str id;
    int place; /* index, or ROUND_ANYWHERE */
    struct round_partial needs;
    const struct round_set *sets; /* [n_sets] what it changes itself; usually nothing */
    size_t n_sets;
    int32_t seconds;     /* >= 0 */
    const size_t *after; /* [n_after] points that must be done before this one */
    size_t n_after;
};

struct round_problem {
    const struct round_variable *variables;
    size_t n_variables;
    const struct round_place *places;
    size_t n_places;
    const struct round_partial *never; /* each a combination that must not exist; one that is all "any" is an error */
    size_t n_never;
    const struct round_change *changes;
    size_t n_changes;
    const struct round_point *points; /* in the printed order, which is kept where it costs nothing */
    size_t n_points;
    int start_place;
    struct round_condition start;
    int finish_place;            /* or ROUND_ANYWHERE */
    struct round_partial finish; /* round_parked() for "everything 0" */
    const bool *done;            /* [n_points] already done, or null for none */
    double walk_fixed_s; /* walking takes 0 at the same place, else fixed + per_m * distance, rounded to whole */
    double walk_s_per_m; /* seconds, half to even. Both 0: walking is free. ROUND_WALK_FIXED_S and so on */
};

/* Common practice, no source: getting up and about 4 s, then 0.45 m/s around a machine, looking where one steps. */
#define ROUND_WALK_FIXED_S 4.0
#define ROUND_WALK_S_PER_M 2.2

/* How hard to try. Zeroed is a good choice: no clock, limits by work, so the same call gives the same round. */
struct round_options {
    bool (*go_on)(void *ctx); /* asked every few milliseconds; false = stop and hand out the best so far. May be null */
    void *ctx;
    int64_t most_states; /* states held at once, about 500 bytes each; 0 = 150 000 */
    int64_t most_work;   /* states looked at, a few microseconds each; then stop as if go_on said so; 0 = 10 000 000 */
    int width;           /* states kept per step when looking for a better round; 0 = 48 */
};

enum round_move_kind { ROUND_WALK, ROUND_CHANGE, ROUND_POINT };

/* One thing to do. */
struct round_move {
    enum round_move_kind kind;
    size_t index;                     /* of the place walked to, the change, the point */
    int place;                        /* where one is afterwards */
    struct round_condition condition; /* of the machine afterwards */
    int32_t seconds;                  /* it takes this long */
    int64_t at_s;                     /* seconds since the start when it begins */
};

struct round_plan {
    struct round_move *moves; /* [n] in order */
    size_t n;
    int64_t total_s;       /* moves and points */
    int64_t move_s;        /* walking and changing alone: what the order decides */
    int64_t lower_bound_s; /* no safe order has less move_s than this */
    bool proven;           /* move_s == lower_bound_s: there is no faster round */
    size_t groups;         /* points that remained after merging those done in passing */
    int64_t states;        /* work done: states looked at */
};

/* The partial condition "every variable is 0" for the problem's variables. */
struct round_partial round_parked(size_t n_variables);
/* Does the condition satisfy the partial one? */
bool round_holds(const struct round_partial *p, const struct round_condition *c);
/* Seconds from one place to another by the problem's rule. ROUND_ANYWHERE on either side: 0. */
int32_t round_walk_s(const struct round_problem *p, int from, int to);
/* "engine idle, body up" for people; variables at 0 are left out, all at 0 is "parked". */
void round_condition_text(struct text *t, const struct round_problem *p, const struct round_condition *c);
/* "engine off or idle, body propped"; "any condition" when nothing is asked. */
void round_partial_text(struct text *t, const struct round_problem *p, const struct round_partial *need);

/* The fastest safe order of all points that are not done, from start to finish.
 * Points at one place whose needs allow it are done in one stop. Among rounds equally fast it prefers the printed order
 * (not proven to be the most alike). plan      out; moves in `out` Errors: ERR_INPUT an index, value or time out of
 * range, a start that is itself forbidden; ERR_CONFLICT rules that form a cycle (names the points in a ring);
 * ERR_REFUSED a point whose condition cannot be reached from the start, or from which the finish cannot be reached
 * (names point and need), or no order at all (names the points that stay undone); ERR_DOMAIN too many conditions or
 * points; ERR_BUSY stopped by go_on or the limits before any round was found, which can only be where always going to
 * the nearest leads to a dead end; ERR_INTERNAL own replay failed. Cost: exponential at worst; lists of 60 steps of the
 * demo's machines take up to 400 000 states. Method and source: round_solve.c. Tested: tests/core/round_test.c (full
 * enumeration on small machines). */
bool round_solve(const struct round_problem *p, const struct round_options *options, struct arena *out,
                 struct round_plan *plan, struct err *e);

/* Walks through the moves and checks every one: places follow, walking times, a change's and point's need and place,
 * never- combinations after each move, after-rules, each point once and none left, the condition noted, times, and the
 * finish. Errors: ERR_REFUSED names the first move that breaks a rule (number from 1) and the rule. Shares no code with
 * the solver. */
bool round_replay(const struct round_problem *p, const struct round_move *moves, size_t n, struct err *e);

/* For checking a book
 * ------------------------------------------------------------------------------------------------------ */

/* A way through conditions: the changes and points, in order, that lead there. */
struct round_way {
    struct round_move
        *moves; /* [n] only ROUND_CHANGE and ROUND_POINT; walking is left out; seconds and at_s of the moves */
    size_t n;
    struct round_condition end;
};

/* What a partial condition allows. */
struct round_reach {
    bool reachable; /* some condition that satisfies it can be reached from the start */
    bool leavable;  /* ... and from one of those the finish can be reached */
    struct round_way
        there; /* fewest changes from the start, to a leavable one where there is one; empty when not reachable */
    struct round_way back; /* from there to the finish; empty when not leavable */
};

/* Every condition that can be reached from the problem's start by changes and by points that set variables (each as
 * often as one likes, after-rules aside), never through a forbidden one. In order of fewest moves, the start first.
 *   conditions, n   out, in `out`
 * Errors: ERR_INPUT, ERR_DOMAIN as for round_solve. */
bool round_conditions(const struct round_problem *p, struct arena *out, struct round_condition **conditions, size_t *n,
                      struct err *e);

/* Can this partial condition be reached from the start, and left again to the finish? With the ways as witnesses.
 * Errors: ERR_INPUT, ERR_DOMAIN as for round_solve. */
bool round_reachable(const struct round_problem *p, const struct round_partial *need, struct arena *out,
                     struct round_reach *reach, struct err *e);

#endif
