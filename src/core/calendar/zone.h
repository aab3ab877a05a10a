/* Local time and UTC, with a zone's transitions handed in: where they come from (the system's zone files, a browser) is
 * the caller's business. Civil dates stay civil: a day is from midnight to midnight, 23, 24 or 25 hours long. */
#ifndef WITMARK_CALENDAR_ZONE_H
#define WITMARK_CALENDAR_ZONE_H

#include "base/date.h"
#include "base/err.h"

struct zone_change {
    instant_ms at;      /* from this instant on */
    int offset_minutes; /* local time is UTC + offset */
};
struct zone {
    int offset_minutes;                /* before the first change */
    const struct zone_change *changes; /* [n] by rising instant */
    size_t n;
};

int zone_offset(const struct zone *z, instant_ms at);
/* Milliseconds since 1970-01-01T00:00 on the local clock. */
int64_t zone_local(const struct zone *z, instant_ms at);
/* The instant of a local time. One that comes twice means its first coming; one that does not exist is read with the
 * offset before the gap. Source: RFC 5545 3.3.5. */
instant_ms zone_instant(const struct zone *z, int64_t local_ms);
/* Length of a civil day. */
int64_t zone_day_ms(const struct zone *z, day_t day);

/* YYYY-MM-DDThh:mm[:ss], no offset, the whole text; or the basic form YYYYMMDDThhmmss of RFC 5545. Errors: ERR_INPUT.
 */
bool local_parse(struct str s, int64_t *local_ms, struct err *e);

#endif
