/* The exhaust filter at the desk: where a machine's soot and ash stand, and the coming jobs planned around its burns.
 * Nothing here sends anything to a machine: inhibiting and burning is done by people with the machine's own switches,
 * and recorded.
 */
#ifndef WITMARK_DESK_EXHAUST_H
#define WITMARK_DESK_EXHAUST_H

#include "desk.h"
#include "exhaust/burn_jobs.h"
#include "exhaust/soot.h"

/* Quantiles P10, P50, P90; INFINITY = not within what was looked at. */
struct desk_band {
    double p10, p50, p90;
};

struct desk_burn {
    instant_ms at;
    const char *word;      /* "reading", "passive", "active", "parked", "inhibited", "released", "cleaned" */
    double total_h, value; /* load of a reading, minutes of a burn; NAN = not said */
    struct str by;
    struct entry_id id;
};

struct desk_exhaust {
    const struct desk_machine *machine;
    bool known;            /* a reading or a burn is there to start from */
    struct desk_band load; /* now, shares of full */
    const char *from;      /* what it starts from: "reading", "parked" ... */
    instant_ms from_at;
    double from_load, from_deviation, hours_since; /* load then; machine hours since, NAN without a meter */
    bool inhibited;
    instant_ms inhibited_since;
    struct str inhibited_by;
    double inhibited_h;                       /* machine hours since; NAN without a meter */
    struct desk_band demanded, derated, past; /* machine hours left of usual work, as the inhibition stands now */
    struct desk_band inhibited_demanded;      /* the same if burning were inhibited from now on */
    double rate, rate_deviation, book_rate;   /* soot of a usual hour: its own, and the book's */
    int stretches, left_out;                  /* learned from; left out as a burn went unseen */
    bool ash_known;
    double ash_kg, ash_limit_kg, ash_hours; /* now, at most, machine hours since the element was clean */
    struct desk_band ash_left;
    double oil_per_h, book_oil_per_h, oil_topped_m3, oil_hours; /* m3 */
    const struct desk_burn *history;                            /* newest first, at most 200 */
    size_t n_history;
    struct reserve soot_reserve, ash_reserve;
};

/* Errors: ERR_MISSING no such machine, or its book has no exhaust filter for it. */
bool desk_exhaust(struct desk *d, struct str machine, struct arena *a, struct desk_exhaust *out, struct err *e);

/* "about 62 % now; parked burn demanded in 14 h (9 to 22)" and a warning line while burning is inhibited. */
struct str desk_exhaust_says(struct desk *d, struct arena *a, const struct desk_exhaust *x);

struct desk_jobs {
    struct str name, data; /* of a CSV or YAML file; data.p null: none */
    struct str list;       /* "raking 7 dry-vegetation; raking 7": see docs/exhaust.md; empty: none */
    bool fire_ban;         /* in force all the time */
};
struct desk_burn_plan {
    struct desk_exhaust state;
    struct burn_ask ask;
    struct burn_plan plan;
    const struct str *duties; /* names, by index */
};
/* Errors: as desk_exhaust; what is wrong in the jobs, with its place; ERR_REFUSED: a burn is wanted where it is not
 * permitted. A plan that is not safe is an answer: plan.word. */
bool desk_exhaust_plan(struct desk *d, struct str machine, const struct desk_jobs *jobs, struct arena *a,
                       struct desk_burn_plan *out, struct err *e);

void desk_exhaust_json(struct json *j, struct desk *d, const struct desk_exhaust *x);
/* Every machine with a filter: an array of what desk_exhaust_json has, without history and question. */
bool desk_exhaust_all_json(struct json *j, struct desk *d, struct err *e);
void desk_exhaust_plan_json(struct json *j, struct desk *d, const struct desk_burn_plan *p);
/* The machine's filter, rates and load as lines of the core's flat question `exhaust` (src/core/wasm/flat_exhaust.h),
 * to which a page adds the jobs. */
void text_exhaust_question(struct text *t, struct desk *d, const struct desk_exhaust *x);

#endif
