/* Civil dates and instants, without a clock and without a time zone database: both are the caller's.
 *
 * A date is a count of days of the proleptic Gregorian calendar, 1970-01-01 = 0. An instant is milliseconds of
 * UTC since 1970-01-01T00:00:00Z, without leap seconds, as RFC 9562 and SQLite count. Years 0001 to 9999.
 */
#ifndef WITMARK_BASE_DATE_H
#define WITMARK_BASE_DATE_H

#include "base/text.h"

#include <stdbool.h>
#include <stdint.h>

typedef int32_t day_t;      /* days since 1970-01-01 */
typedef int64_t instant_ms; /* milliseconds since 1970-01-01T00:00:00Z */

#define DAY_NONE INT32_MIN
#define INSTANT_NONE INT64_MIN

struct civil {
    int year, month, day; /* 1..9999, 1..12, 1..31 */
};

/* Day count of a civil date; false when there is no such date. Source of the algorithm: the day-number formulas of the
 * Gregorian calendar (400-year cycle of 146 097 days). */
bool day_of_civil(struct civil c, day_t *day);
struct civil civil_of_day(day_t day);
/* The same day of the month n months on, clamped to the month's end (31 Aug + 6 months = 28 Feb). */
day_t day_add_months(day_t day, int months);
int day_weekday(day_t day); /* 1 = Monday .. 7 = Sunday, ISO 8601 */

/* ISO 8601 calendar date YYYY-MM-DD, the whole text. */
bool day_parse(struct str s, day_t *day);
void text_day(struct text *t, day_t day);

/* RFC 3339 date-time, the whole text: YYYY-MM-DDThh:mm[:ss[.fff...]](Z|+hh:mm|-hh:mm); a blank or t for T. Digits past
 * the millisecond are cut. The offset is needed: a time without one is not an instant. */
bool instant_parse(struct str s, instant_ms *at);
/* YYYY-MM-DDThh:mm:ss.sssZ */
void text_instant(struct text *t, instant_ms at);

day_t day_of_instant(instant_ms at, int offset_minutes); /* the civil date where the clock is offset from UTC */

#endif
