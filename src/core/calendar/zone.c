/* Both odd cases of RFC 5545 3.3.5 come out as "the offset before the change". */
#include "calendar/zone.h"

#define MINUTE_MS INT64_C(60000)
#define DAY_MS INT64_C(86400000)

/* Offset of stretch i: 0 is before the first change. */
static int64_t offset_ms(const struct zone *z, size_t i)
{
    return MINUTE_MS * (i == 0 ? z->offset_minutes : z->changes[i - 1].offset_minutes);
}

int zone_offset(const struct zone *z, instant_ms at)
{
    size_t i = 0;
    while (i < z->n && z->changes[i].at <= at) {
        i++;
    }
    return (int)(offset_ms(z, i) / MINUTE_MS);
}

int64_t zone_local(const struct zone *z, instant_ms at)
{
    return at + MINUTE_MS * zone_offset(z, at);
}

instant_ms zone_instant(const struct zone *z, int64_t local_ms)
{
    /* The first stretch whose end is not yet reached by the local time read with its own offset. In a gap the stretch
     * before has ended and the one after has not begun: then the offset before it is taken. */
    for (size_t i = 0;; i++) {
        instant_ms at = local_ms - offset_ms(z, i);
        if (i == z->n || at < z->changes[i].at) {
            return at;
        }
        instant_ms after = local_ms - offset_ms(z, i + 1);
        if (after < z->changes[i].at) {
            return at;
        }
    }
}

int64_t zone_day_ms(const struct zone *z, day_t day)
{
    return zone_instant(z, (day + 1) * DAY_MS) - zone_instant(z, day * DAY_MS);
}

/* Two digits at i, or -1. */
static int two(struct str s, size_t i)
{
    if (i + 2 > s.n || s.p[i] < '0' || s.p[i] > '9' || s.p[i + 1] < '0' || s.p[i + 1] > '9') {
        return -1;
    }
    return (s.p[i] - '0') * 10 + (s.p[i + 1] - '0');
}

bool local_parse(struct str s, int64_t *local_ms, struct err *e)
{
    struct text basic = text_new(e->a); /* without its separators the extended form is the basic one */
    bool extended = s.n > 4 && s.p[4] == '-';
    bool shape = extended ? (s.n == 16 || s.n == 19) && s.p[7] == '-' && s.p[10] == 'T' && s.p[13] == ':' &&
                                (s.n == 16 || s.p[16] == ':')
                          : s.n == 15 && s.p[8] == 'T';
    for (size_t i = 0; shape && i < s.n; i++) {
        bool separator = extended && (i == 4 || i == 7 || i == 13 || i == 16);
        if (!separator) {
            text_char(&basic, s.p[i]);
        }
    }
    struct str b = text_str(&basic);
    struct civil c = {two(b, 0) * 100 + two(b, 2), two(b, 4), two(b, 6)};
    int hour = two(b, 9);
    int minute = two(b, 11);
    int second = b.n > 13 ? two(b, 13) : 0;
    day_t day = 0;
    bool digits = two(b, 0) >= 0 && two(b, 2) >= 0;
    if (!shape || !digits || !day_of_civil(c, &day) || hour < 0 || hour > 23 || minute < 0 || minute > 59 ||
        second < 0 || second > 59) {
        return err_set(e, ERR_INPUT, "YYYY-MM-DDThh:mm:ss", "no local date and time: \"",
                       str_z(e->a, str_cut(s, 0, 40)), "\"", (char *)0);
    }
    *local_ms = day * DAY_MS + ((hour * 60 + minute) * INT64_C(60) + second) * 1000;
    return true;
}
