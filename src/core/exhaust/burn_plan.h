/* The coming jobs of a machine with an exhaust filter: during which its burning must be inhibited, and at which stops
 * between them a parked burn is best made.
 *
 * What is decided is at which of the n + 1 stops (before each job and after the last) a parked burn is planned. A
 * parked burn forgets all that was before, so that the expected cost of the jobs between two burns depends on nothing
 * else, and the best set of stops comes from dynamic programming over the last one: exact, n (n + 1) / 2 runs of a job
 * at most. Between planned burns a demand that comes as a surprise is met at the first place that permits a burn, at
 * its higher cost. The plan is open-loop: after every reading it is to be made again.
 */
#ifndef WITMARK_EXHAUST_BURN_PLAN_H
#define WITMARK_EXHAUST_BURN_PLAN_H

#include "exhaust/burn_place.h"
#include "exhaust/soot.h"

#define BURN_JOBS_MOST 60
#define BURN_STOP_ENOUGH ((double)INFINITY)

/* A job, and the stop before it. */
struct burn_job {
    struct str name, when;
    int duty; /* SOOT_USUAL = not said */
    double hours;
    burn_places places;
    double stop_min;       /* minutes at hand in the stop before it; INFINITY = as many as needed */
    burn_places stop;      /* what the place of that stop is like */
    struct str stop_name;  /* "depot yard"; empty = unnamed */
    bool wanted, unwanted; /* the plan must have a burn in that stop; must not */
};

/* What things cost, in minutes of work lost: our own figures, shown with the plan. */
struct burn_costs {
    double prepare;     /* to clean, set up and look round before and after a parked burn */
    double forced_here; /* a demand in the middle of a job, where the place permits the burn */
    double forced_away; /* where it does not: break off, move, burn, come back */
    double derated;     /* power reduced: the job is lost for the day */
    double past;        /* past field burning: recovery and workshop */
};
struct burn_costs burn_costs_default(void);

struct burn_ask {
    const struct soot_filter *filter;
    const struct soot_rates *rates;
    const struct soot_belief *now;
    const struct burn_job *jobs;
    int n;
    burn_places added;         /* that forbid burning while working, by the book */
    double burn_min, cool_min; /* a parked burn, and the time to cool before work goes on or it is left */
    struct burn_costs costs;
    burn_places last_stop; /* place of the stop after the last job */
    double last_stop_min;
};

/* The load at a moment: hours worked since now, and of the job. */
struct burn_point {
    int job;
    double hours, p10, p50, p90;
};

struct burn_job_plan {
    bool inhibit;
    burn_places because;            /* what forbids burning while working */
    double p10, p50, p90;           /* load at its end */
    double demanded, derated, past; /* chance that it comes to that in this job, by the plan */
    double active;                  /* burns of its own to be expected */
};
struct burn_stop_plan {
    bool permitted, burn;
    burn_places because; /* what forbids a parked burn there */
    bool too_short;
    bool ask_ban; /* a fire ban: its rules must allow it */
    double needs_min;
    double p50; /* load then */
};

#define BURN_WORDS(X)                            \
    X(BURN_NONE_NEEDED, "no parked burn needed") \
    X(BURN_PLANNED, "parked burn planned")       \
    X(BURN_REFUSED, "no safe plan")              \
    X(BURN_PAST, "past burning in the field")
enum burn_word {
#define X(symbol, says) symbol,
    BURN_WORDS(X)
#undef X
};
const char *burn_word_text(enum burn_word word);

struct burn_plan {
    enum burn_word word;
    struct burn_job_plan *jobs;   /* [n] */
    struct burn_stop_plan *stops; /* [n + 1] */
    int n, n_burns;
    double cost_min;                    /* expected, of this plan */
    double demanded, derated, past;     /* chance that it ever comes to that, by this plan */
    double idle_cost_min;               /* of planning no burn at all */
    double idle_demanded, idle_derated; /* likewise */
    struct burn_point *points;          /* the load along the plan, about every hour */
    int n_points;
    struct str refused; /* why there is no safe plan; empty when there is one */
    struct str right;   /* what would be safe */
    int better_stop;    /* the stop that would make it safe if it permitted a burn; -1 = none */
};

/* A plan is refused when by the best one the chance of lost power is above this, or of being past field burning above
 * a fifth of it. Our own choice. */
#define BURN_RISK_MOST 0.05

/* Errors: ERR_DOMAIN: no job or more than BURN_JOBS_MOST, hours outside 0 .. 24 a job day or 200 in all, a duty that
 * the filter does not have, filter data out of range; ERR_REFUSED: a burn is wanted where it is not permitted. */
bool burn_plan_make(const struct burn_ask *ask, struct arena *a, struct burn_plan *plan, struct err *e);
/* The expected cost of a given set of stops [n + 1]; for tests and for "what if". */
double burn_plan_cost(const struct burn_ask *ask, const bool *burn, struct arena *scratch);

#endif
