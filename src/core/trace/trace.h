/* Tracing a fault: from what is seen to the cause, by the next step that costs least in expectation.
 *
 * A machine shows something. One of n causes is behind it, or two of them at once, or something that is not in the
 * list. A sign is anything that is seen or not: what the machine does, what a look or a measurement shows, a fault
 * code. A repair is anything that may make it go away; whether it did is seen at once. Calling for help always ends it.
 *
 * Model. Prior weights w: of one cause w_i, of what is not in the list `other`, of two causes pairs * w_i * w_j /
 * sum(w). A sign s is seen, given the causes that are there, with 1 - (1 - by_itself_s) prod_i (1 - chance_si): each
 * cause can show it, independently ("noisy or"). What is not in the list shows each sign as often as the causes do on
 * average. A repair k takes cause i away with cures_ki, independently. It is done when no cause is left. A sign or
 * repair is worth doing once (a second look shows the same). Costs are times or money, in one unit; here minutes.
 * Sources: Pearl (1988), Probabilistic Reasoning in Intelligent Systems; Heckerman, Breese and Rommelse (1995),
 * Decision-theoretic troubleshooting, Communications of the ACM 38(3), 49-57. */
#ifndef WITMARK_TRACE_TRACE_H
#define WITMARK_TRACE_TRACE_H

#include "base/arena.h"
#include "base/err.h"

#define TRACE_CAUSES 120 /* of a model */
#define TRACE_SIGNS 200
#define TRACE_REPAIRS 120

struct trace_model {
    int n_causes;
    const double *weight; /* [n_causes] > 0 */
    double other;         /* weight of what is not in the list, >= 0 */
    double pairs;         /* how often two causes come together, against one: odds, 0 = never */
    int n_signs;
    const double *by_itself; /* [n_signs] chance that it is seen without any of the causes, 0 .. 1 */
    const double *chance;    /* [n_signs * n_causes] chance that cause i shows sign s, at s * n_causes + i */
    const double *sign_cost; /* [n_signs] > 0; INFINITY = it can't be looked for, only be told */
    int n_repairs;
    const double *repair_cost; /* [n_repairs] > 0, trying the machine afterwards included */
    const double *cures;       /* [n_repairs * n_causes], 0 .. 1 */
    double help_cost;          /* > 0 */
};

enum trace_what { TRACE_SIGN, TRACE_REPAIR, TRACE_HELP };

/* What was seen or done, in order of time. yes: the sign is there; the repair has put it right. */
struct trace_event {
    enum trace_what what;
    int index;
    bool yes;
};

struct trace_limits {
    const bool *no_sign, *no_repair; /* [n] can't be done here; null = all can */
    int nodes;                       /* of the search, at most */
    double ignore;                   /* causes less likely than this are counted with what is not in the list */
};
struct trace_limits trace_limits_default(void); /* 20000 nodes, 0.001 */

/* One thing that could be done next. */
struct trace_step {
    enum trace_what what;
    int index;
    double cost;      /* of the step itself */
    double p_yes;     /* chance that the sign is there, or that the repair puts it right; 1 for help */
    double low, high; /* expected cost until it is right, this step first and the best known plan after it: what can be
                         reached lies in between */
};

struct trace_answer {
    double *p_cause; /* [n_causes] that it is there, alone or with another */
    double p_other;
    double p_two;             /* that two causes are there at once */
    bool two;                 /* p_two was large enough (TRACE_TWO) for the plan to reckon with two */
    double p_seen;            /* probability of all that was seen, as the model has it */
    struct trace_step *steps; /* by rising `high`; the first is the one to do. Empty once a repair has put it right. */
    int n_steps;
    double low, high; /* the least expected cost lies in between, `high` is reached by the first step's plan */
    bool exact;       /* low = high: every strategy was looked at, or shown not to be better */
    double straight;  /* expected cost of repairing by falling probability over cost, without another look */
    int nodes;        /* that the search took */
};
#define TRACE_TWO 0.1

/* Errors: ERR_DOMAIN a number out of its range; what was seen cannot be. Cost: for the probabilities O(causes^2 signs);
 * for the plan at most limits->nodes times actions * hypotheses. Results live in a. Checked: tests/core/trace_test.c
 * (all strategies of thousands of random models listed one by one; the net of net.h; published orders). */
bool trace_ask(const struct trace_model *m, const struct trace_event *events, int n, const struct trace_limits *limits,
               struct arena *a, struct trace_answer *out, struct err *e);

/* Probabilities only: p_cause [n_causes]. */
bool trace_probabilities(const struct trace_model *m, const struct trace_event *events, int n, struct arena *a,
                         double *p_cause, double *p_other, double *p_two, double *p_seen, struct err *e);

/* How likely that sign is, given that cause alone (the number n_causes = what is not in the list). */
double trace_sign_chance(const struct trace_model *m, int sign, int cause);

#endif
