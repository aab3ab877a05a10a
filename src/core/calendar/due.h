/* When a predetermined checkpoint falls due: by machine hours or by date, whichever comes first, at the rate of use
 * since it was last done. The reserve of later work gives the whole distribution; this is the plain rule a technician
 * can redo by hand. */
#ifndef WITMARK_CALENDAR_DUE_H
#define WITMARK_CALENDAR_DUE_H

#include "base/date.h"
#include "base/err.h"
#include "quantity/quantity.h"

struct due_input {
    day_t last_day; /* when it was last done, and at what meter reading */
    double last_hours;
    struct interval every; /* at least one part given */
    day_t today;
    double hours_now; /* not below last_hours */
};

enum due_first { DUE_BY_DATE, DUE_BY_HOURS };

struct due {
    double due_hours; /* NaN when the interval has no hours */
    day_t due_day;    /* inclusive; DAY_NONE when the interval has neither months nor days */
    day_t
        projected; /* day on which due_hours is reached at the rate so far, days rounded down; DAY_NONE when not used */
    enum due_first first;
};

/* Due date and hours. Months keep the day and clamp to the month's end; projected days are rounded down; without use
 * there is no projection and the date decides. Errors: ERR_DOMAIN: today before the last day, hours falling, nothing
 * given, a date past 9999. */
bool due_whichever_first(struct due_input in, struct due *out, struct err *e);

#endif
