/* The horizon: the fleet on one sheet of time. A lane per machine, the one that runs out first on top; on it a mark for
 * each checkpoint, or for several of one service that run out together; beside them the calendar, and per week the
 * hours that visits take against those that there are. */
#ifndef WITMARK_DESK_HORIZON_H
#define WITMARK_DESK_HORIZON_H

#include "desk.h"
#include "desk_calendar.h"

struct desk_horizon_ask {
    struct str site, book, system; /* empty = all; system as the book names it, "tyres" */
    struct str kind;               /* a word of DUE_KINDS; empty = all */
    int days;                      /* how far to look, 1 to 3660 */
    int chance_days;               /* for the probability that a mark is overdue so many days from now */
    bool with_stopped;             /* also machines out of service */
};

struct desk_horizon_mark {
    const struct desk_due *due; /* of several the first */
    int n;                      /* points that it stands for; from three on of one service with the same days */
    struct str system;          /* empty when they are of several, or of none (a fault, something open) */
    double chance;              /* the greatest probability that it is overdue then; NAN = not known */
};
struct desk_horizon_lane {
    const struct desk_machine *machine;
    const struct desk_horizon_mark *marks; /* what is out first, then by day */
    size_t n;
    int out; /* marks that are out or open */
};
struct desk_horizon_week {
    day_t monday;
    double taken, hands; /* hours of the visits that begin in it; hours that there are, by days */
};
struct desk_horizon {
    day_t day, until, chance_on; /* until: the last day shown */
    const struct desk_horizon_lane *lanes;
    size_t n;
    const struct desk_calendar_item *calendar;
    size_t n_calendar;
    const struct desk_horizon_week *weeks; /* from the week of `day` to that of `until` */
    size_t n_weeks;
};
/* Errors: ERR_USAGE no such kind, days out of range; ERR_MISSING no such system, with those that there are. */
bool desk_horizon(struct desk *d, const struct desk_horizon_ask *ask, struct arena *a, struct desk_horizon *out,
                  struct err *e);

void desk_horizon_json(struct json *j, struct desk *d, const struct desk_horizon *h);

#endif
