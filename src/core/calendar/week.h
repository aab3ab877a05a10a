/* Week and ordinal dates of ISO 8601. The year of a week is not always the calendar year. */
#ifndef WITMARK_CALENDAR_WEEK_H
#define WITMARK_CALENDAR_WEEK_H

#include "base/date.h"

struct iso_week {
    int year, week, weekday; /* week 1 .. 53; weekday 1 = Monday .. 7 = Sunday */
};
/* Week 1 is the one with the year's first Thursday. Source: ISO 8601-1:2019, 5.2.3. */
struct iso_week week_of_day(day_t day);
int day_of_year(day_t day);                   /* 1 .. 366 */
void text_week(struct text *t, day_t day);    /* 2026-W53-5 */
void text_ordinal(struct text *t, day_t day); /* 2027-001 */

#endif
