/* Durations as ISO 8601 and RFC 5545 write them. A week is 7 days and a day 24 hours here (nominal); years and months
 * have no fixed length and are refused. */
#ifndef WITMARK_CALENDAR_DURATION_H
#define WITMARK_CALENDAR_DURATION_H

#include "base/err.h"

/* The whole text: [+-]P nW | [+-]P nD [T nH nM nS] | [+-]PT ..., whole numbers, at least one part, in falling order.
 * Seconds out, negative for a leading minus. Errors: ERR_INPUT with the column. Source: RFC 5545 3.3.6, dur-value. */
bool duration_parse(struct str s, int64_t *seconds, struct err *e);
/* "P15DT5H0M20S" style, shortest: weeks only when they come out even; "PT0S" for nothing. */
void text_duration(struct text *t, int64_t seconds);

#endif
