/* The reserve of a checkpoint: how long until it leaves its limit.
 *
 * A reserve is a distribution over dates; what is kept of it here are its quantiles. With only a rate of use known the
 * three are equal and `spread_known` is false: no width is pretended. A model of use fills the same structure with a
 * real spread.
 */
#ifndef WITMARK_RESERVE_H
#define WITMARK_RESERVE_H

#include "base/date.h"
#include "meter/usage.h"
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
    /* What the whole distribution is made of; both are borrowed, null when there is none. */
    const struct usage_state *usage;
    const struct reserve_trend *trend;   /* reserve/measured.h */
    const struct reserve_points *points; /* reserve/points.h */
};

/* What a predetermined checkpoint counts from. */
struct reserve_since {
    bool done;      /* false: never done; it counts from the machine's first day and hour 0 (first interval) */
    double total_h; /* total hours then; NAN when not known */
    day_t day;      /* day then; DAY_NONE when not known */
};

/* Nothing is known: no limit, no day, no hours. */
struct reserve reserve_unknown(void);

/* Reserve of a predetermined checkpoint: due at the earliest of its hours and calendar limits, counted from `since`.
 *   interval       what applies now (the first, the severe or the usual one); an empty one gives RESERVE_NONE
 *   hours_now      total hours on `today`, NAN when not known
 *   hours_per_day  present rate of use, NAN when not known; 0 = not used: the hour limit then has no date
 * Projected days are rounded down (a day early rather than late); the due day itself still counts as in time.
 * Dates further than 100 years are DAY_NONE. Source of the rule: EN 13306:2017 7.4 "predetermined maintenance",
 * whichever comes first (clause number from memory). */
struct reserve reserve_predetermined(struct interval interval, struct reserve_since since, double hours_now,
                                     double hours_per_day, day_t today);

/* The same with the usage model of the machine (null or not known: the rate alone, as above). The hours' part is then
 * the first passage of due_total_h, and together with the calendar
 *   P(T <= t) = 1 - (1 - F_hours(t)) (1 - F_calendar(t)),  F_calendar a step at the end of calendar_day,
 * so that a quantile is the earlier of both. p10, p50, p90 are the days on which it runs out, rounded down, and `today`
 * for what may be over already; what is out for sure (by hours or calendar) keeps the day it has and no spread. The
 * usage state is borrowed by the result. */
struct reserve reserve_forecast(struct interval interval, struct reserve_since since, double hours_now,
                                double hours_per_day, day_t today, const struct usage_state *usage);

/* Probability that it is overdue when that day begins; the due day itself still counts as in time. 1 for what is out.
 * Without a model it is 0 or 1 by the days known. NAN when nothing is known. */
double reserve_overdue(const struct reserve *r, day_t day);

/* Orders by what runs out first: out before not, then the earlier p50 (unknown last), then the earlier p10, then fewer
 * hours left. <0, 0, >0. */
int reserve_cmp(const struct reserve *a, const struct reserve *b);

const char *reserve_rule_text(enum reserve_rule rule);

#endif
