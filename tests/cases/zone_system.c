/* Time zones for the cases from the C library, which reads the system's zone files. */
#define _DEFAULT_SOURCE /* tm_gmtoff */
#include "cases.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static int system_offset(time_t at)
{
    struct tm tm;
    return localtime_r(&at, &tm) ? (int)(tm.tm_gmtoff / 60) : 0;
}

/* The instant within (low, high] from which the offset is another; they differ at the ends. */
static time_t change_between(time_t low, time_t high)
{
    int before = system_offset(low);
    while (high - low > 1) {
        time_t mid = low + (high - low) / 2;
        if (system_offset(mid) == before) {
            low = mid;
        } else {
            high = mid;
        }
    }
    return high;
}

bool case_zone(struct arena *a, struct str name, day_t around, struct zone *z, struct err *e)
{
    char path[512];
    snprintf(path, sizeof path, "/usr/share/zoneinfo/%s", str_z(a, name));
    FILE *f = str_find(name, S("..")) < 0 && name.n > 0 ? fopen(path, "rb") : NULL;
    if (!f) {
        return err_set(e, ERR_MISSING, "a name of the zone database, such as Europe/Berlin", "no time zone \"",
                       str_z(e->a, name), "\"", (char *)0);
    }
    fclose(f);
    setenv("TZ", str_z(a, name), 1);
    tzset();
    struct zone_change *changes = NULL;
    size_t n = 0;
    size_t cap = 0;
    const time_t day = 86400;
    time_t at = (around - 730) * day;
    z->offset_minutes = system_offset(at);
    for (; at < (around + 730) * day; at += day) {
        if (system_offset(at) != system_offset(at + day)) {
            time_t change = change_between(at, at + day);
            ARENA_PUSH(a, changes, n, cap) = (struct zone_change){(instant_ms)change * 1000, system_offset(change)};
        }
    }
    z->changes = changes;
    z->n = n;
    return true;
}
