/* The reserve of a checkpoint: how long until it leaves its limit.
 *
 * A reserve is a distribution over dates; what is kept of it here are its quantiles. With only a rate of use known the
 * three are equal and `spread_known` is false: no width is pretended. A model of use fills the same structure with a
 * real spread.
 */
#ifndef WITMARK_RESERVE_H
#define WITMARK_RESERVE_H

#include "base/date.h"
#include "quantity/quantity.h"

#include <stdbool.h>

/* Which limit decides. */
#define RESERVE_RULES(X)                                                            \
    X(RESERVE_NONE, "nothing")      /* no limit applies, or nothing is known yet */ \
    X(RESERVE_HOURS, "hours")       /* machine hours since last done */             \
    X(RESERVE_CALENDAR, "calendar") /* months or days since last done */            \
    X(RESERVE_READING, "reading")   /* the last reading is out of its limits, or its trend reaches them */
enum reserve_rule {
#define X(symbol, text) symbol,
    RESERVE_RULES(X)
#undef X
};

struct reserve {
    enum reserve_rule rule;
    bool out;            /* already past the limit on the day asked for */
    double hours_left;   /* machine hours to the hour limit; NAN when there is none or nothing is known */
    double due_total_h;  /* total hours at which it is due; NAN likewise */
    day_t calendar_day;  /* due by the calendar; DAY_NONE when there is no such limit */
    day_t hours_day;     /* due by hours, at the present rate of use; DAY_NONE when not known */
    day_t p10, p50, p90; /* quantiles of the day it runs out; DAY_NONE when not known */
    bool spread_known;   /* p10 and p90 come from a model, not from the rate alone */
};

/* What a predetermined checkpoint counts from. */
struct reserve_since {
    bool done;      /* false: never done; it counts from the machine's first day and hour 0 (first interval) */
    double total_h; /* total hours then; NAN when not known */
    day_t day;      /* day then; DAY_NONE when not known */
};

/* Reserve of a predetermined checkpoint: due at the earliest of its hours and calendar limits, counted from `since`.
 *   interval       what applies now (the first, the severe or the usual one); an empty one gives RESERVE_NONE
 *   hours_now      total hours on `today`, NAN when not known
 *   hours_per_day  present rate of use, NAN when not known; 0 = not used: the hour limit then has no date
 * Projected days are rounded down (a day early rather than late); the due day itself still counts as in time.
 * Dates further than 100 years are DAY_NONE. Source of the rule: EN 13306:2017 7.4 "predetermined maintenance",
 * whichever comes first (clause number from memory). */
struct reserve reserve_predetermined(struct interval interval, struct reserve_since since, double hours_now,
                                     double hours_per_day, day_t today);

/* Orders by what runs out first: out before not, then the earlier p50 (unknown last), then fewer hours left. <0, 0, >0.
 */
int reserve_cmp(const struct reserve *a, const struct reserve *b);

const char *reserve_rule_text(enum reserve_rule rule);

#endif
