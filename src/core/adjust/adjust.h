/* Counted adjustments: the ledger of one screw or valve that is settled in small steps, without losing the way back.
 *
 * Turns are whole numbers of 720ths of a turn, so that halves, thirds, quarters, sixths, eighths, twelfths and
 * sixteenths are exact and no sum drifts: the way back is the sum with the other sign. In (clockwise) is positive.
 *
 * A trial begins with the first turn away from the accepted setting and ends when a setting is accepted, the old one
 * included. As long as it is open the adjuster is on the put-back list.
 *
 * What the rules come from: the book's first step, increment and limit. Common practice for the screws of
 * counterbalance valves is a first step of one and a half turns, then half turns until the noise is gone; for a flush
 * valve half turns (common practice, no source).
 *
 * When to stop. Three things can be: the adjuster is the cause and its cure lies the way the book turns it; it is the
 * cause and the cure lies the other way (the screw may work backwards from what one expects); it is not the cause.
 * Where it is the cause, the setting that cures lies anywhere between the accepted one and the limit with equal
 * probability. A turn over fresh ground that cures nothing takes away the part of that stretch; what was seen besides
 * weighs the three by Bayes' rule with the chances of `adjust_chances`, which are ours, without a source. When the
 * first two together fall under ADJUST_GIVE_UP, more turns have stopped being likely to help. Checked:
 * tests/core/adjust_test.c, against enumeration of every place of the cure; the one-stretch case is the search theory's
 * p (1 - q) / (1 - p q) (Stone 1975, Theory of Optimal Search, chapter 1). */
#ifndef WITMARK_ADJUST_H
#define WITMARK_ADJUST_H

#include "base/err.h"
#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

typedef int32_t turns_t; /* 720ths of a turn, in positive */
#define TURN ((turns_t)720)
#define TURNS_MOST (1000 * TURN) /* of one entry, and of all together */

/* ---- Turns ------------------------------------------------------------------------------------------------------- */

/* The nearest 720th; false when the number is not within TURNS_MOST or no multiple of one (to 0.0001 turn). *t is the
 * nearest one even then, when there is any. */
bool turns_of(double turns, turns_t *t);
double turns_number(turns_t t);
/* "+1.5", "-1/2", "1 1/2 in", "1/4 turn out", "90 deg in", "0". With neither sign nor in and out: ERR_USAGE. */
bool turns_parse(struct str s, turns_t *t, struct err *e);
/* "1½ turns in", "¼ turn out", "as it was" */
void text_turns(struct text *text, turns_t t);
/* "1½ turns", without direction */
void text_turns_size(struct text *text, turns_t t);

/* ---- The ledger -------------------------------------------------------------------------------------------------- */

#define ADJUST_SAWS(X)                                      \
    X(SAW_NOT_SAID, "not said")                             \
    X(SAW_GONE, "gone") /* what was to be cured is cured */ \
    X(SAW_LESS, "less")                                     \
    X(SAW_SAME, "same")                                     \
    X(SAW_WORSE, "worse")
enum adjust_saw {
#define X(symbol, word) symbol,
    ADJUST_SAWS(X)
#undef X
        SAW_COUNT
};
const char *adjust_saw_word(enum adjust_saw saw);
bool adjust_saw_parse(struct str word, enum adjust_saw *saw); /* also the empty word: not said */

struct adjust_rules {
    int way;                           /* the book's direction: +1 in, -1 out */
    turns_t first_step, step, at_most; /* sizes, > 0; at_most counts from where it was found */
    double prior;                      /* chance that this adjuster is the cause, in (0, 1) */
};

/* One entry of the log about this adjuster, in order of time. turns 0: it was only looked at again. */
struct adjust_entry {
    turns_t turns;
    enum adjust_saw saw; /* after the turn */
    bool accepted;       /* this setting stays */
    bool found;          /* the count begins here: a new valve, or found set by somebody else; its turns are 0 */
};

#define ADJUST_GIVE_UP 0.2      /* less than this that it is the cause at all: stop */
#define ADJUST_OTHER_WAY 0.1    /* part of the prior for a cure the other way */
#define ADJUST_PRIOR_UNSAID 0.5 /* where the book's causes say nothing */

struct adjust_ledger {
    turns_t from_found;    /* where it stands, counted from where it was found */
    turns_t from_accepted; /* and from the last accepted setting; not 0 = a trial is open */
    turns_t far[2];        /* farthest it has been in this trial from the accepted setting: [0] the book's way, [1] the
                              other; sizes */
    int steps;             /* turns made in this trial */
    turns_t last;          /* the last turn made in this trial; 0 = none */
    enum adjust_saw saw;   /* at the present setting */
    bool worse;            /* the book's way made it worse */
    bool cured;            /* somewhere in this trial it was gone */
    bool beyond;           /* it was turned past the limit */
    double p_way,
        p_other; /* that it is the cause, and the cure lies the book's way, or the other; the rest: it is not */
};
struct adjust_ledger adjust_begin(const struct adjust_rules *r);
/* Takes one entry up. What an entry says was done, was done: nothing is refused here. */
void adjust_take(const struct adjust_rules *r, struct adjust_ledger *l, const struct adjust_entry *entry);
struct adjust_ledger adjust_read(const struct adjust_rules *r, const struct adjust_entry *at, size_t n);

/* Signed turns that bring it back: to the last accepted setting, or to where it was found. */
turns_t adjust_back(const struct adjust_ledger *l);
turns_t adjust_back_to_found(const struct adjust_ledger *l);
/* Signed turns that take the last turn of this trial back; 0 = there is none. Twice gives the setting again. */
turns_t adjust_undo(const struct adjust_ledger *l);

/* ---- What next ----------------------------------------------------------------------------------------------------
 */

#define ADJUST_ADVICE(X)                                               \
    X(ADVISE_TURN, "turn")     /* by `turns` */                        \
    X(ADVISE_LOOK, "look")     /* try it and say what is seen */       \
    X(ADVISE_ACCEPT, "accept") /* it is cured: this setting stays */   \
    X(ADVISE_BACK, "back")     /* turn back to the accepted setting */ \
    X(ADVISE_LEAVE, "leave")   /* leave it: look for another cause */
enum adjust_advice {
#define X(symbol, word) symbol,
    ADJUST_ADVICE(X)
#undef X
};
#define ADJUST_REASONS(X)                                               \
    X(BECAUSE_NEXT, "the next step")                                    \
    X(BECAUSE_NOT_SEEN, "nobody has said what the last turn did")       \
    X(BECAUSE_GONE, "it is cured")                                      \
    X(BECAUSE_WORSE, "that way made it worse")                          \
    X(BECAUSE_LIMIT, "the limit is reached")                            \
    X(BECAUSE_UNLIKELY, "more turns have stopped being likely to help") \
    X(BECAUSE_OTHER_WAY, "the book's way made it worse: this screw may work the other way")
enum adjust_reason {
#define X(symbol, word) symbol,
    ADJUST_REASONS(X)
#undef X
};
struct adjust_next {
    enum adjust_advice advice;
    enum adjust_reason reason;
    turns_t turns;  /* ADVISE_TURN, ADVISE_BACK: signed */
    double p_helps; /* ADVISE_TURN: chance that this step cures; else 0 */
    double p_cause; /* chance that this adjuster is the cause, after all that was seen */
};
struct adjust_next adjust_next(const struct adjust_rules *r, const struct adjust_ledger *l);
const char *adjust_advice_word(enum adjust_advice advice);
const char *adjust_reason_text(enum adjust_reason reason);

/* ---- May this step be made ----------------------------------------------------------------------------------------
 */

#define ADJUST_REFUSALS(X)                                            \
    X(ADJUST_FINE, "allowed")                                         \
    X(ADJUST_NOTHING, "nothing is turned")                            \
    X(ADJUST_NOT_CONFIRMED, "not confirmed")                          \
    X(ADJUST_OTHER_OPEN, "another trial is open on the same circuit") \
    X(ADJUST_NOT_SEEN, "not looked at")                               \
    X(ADJUST_WRONG_WAY, "wrong direction")                            \
    X(ADJUST_TOO_LARGE, "step too large")                             \
    X(ADJUST_BEYOND, "beyond the limit")
enum adjust_refusal {
#define X(symbol, word) symbol,
    ADJUST_REFUSALS(X)
#undef X
};
struct adjust_ask {
    turns_t turns;
    bool confirmed;  /* all that must be true first was said to be */
    bool other_open; /* another adjuster of the same circuit stands at a trial setting */
};
/* Turning towards the accepted setting is allowed at any time and by any size, but not past it in one go; so is ground
 * that was turned over before. */
enum adjust_refusal adjust_refuses(const struct adjust_rules *r, const struct adjust_ledger *l,
                                   const struct adjust_ask *ask);
const char *adjust_refusal_word(enum adjust_refusal refusal);
/* The largest size that a step outwards may have from where it stands, on that side (+1 in, -1 out). */
turns_t adjust_largest(const struct adjust_rules *r, const struct adjust_ledger *l, int side);
/* In words: "2 turns in is more than the step of ½ turn that the book allows here". For ADJUST_NOT_CONFIRMED and
 * ADJUST_OTHER_OPEN, `which` names what is missing or open. */
void text_adjust_refusal(struct text *t, const struct adjust_rules *r, const struct adjust_ledger *l,
                         enum adjust_refusal refusal, turns_t turns, struct str which);

/* ---- Parts of it, for its tests ------------------------------------------------------------------------------------
 */

/* P(saw | hypothesis, not cured) where the turn went the way of the cure, the other way, or it is not the cause.
 * Ours, no source. Rows by hypothesis, columns gone, less, same, worse; `gone` of the first row is not used (it follows
 * from where the cure lies). */
extern const double adjust_chances[3][4];

#endif
