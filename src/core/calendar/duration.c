/* The grammar of RFC 5545 3.3.6, read left to right with the units falling. */
#include "calendar/duration.h"

static const struct part {
    char letter;
    bool time; /* after the T */
    int64_t seconds;
} parts[] = {
    {'W', false, 604800}, {'D', false, 86400}, {'H', true, 3600}, {'M', true, 60}, {'S', true, 1},
};
#define PARTS (sizeof parts / sizeof *parts)

static bool refuse(struct str s, size_t at, const char *what, struct err *e)
{
    return err_at(e, (struct where){.column = (uint32_t)at + 1}, ERR_INPUT,
                  "a duration such as P7D, PT1H30M, P15DT5H0M20S or P2W", what, ": \"", str_z(e->a, str_cut(s, 0, 40)),
                  "\"", (char *)0);
}

/* Row of the letter after T or before it, or -1. */
static int part_of(char letter, bool time)
{
    for (size_t i = 0; i < PARTS; i++) {
        if (parts[i].letter == letter && parts[i].time == time) {
            return (int)i;
        }
    }
    return -1;
}

bool duration_parse(struct str s, int64_t *seconds, struct err *e)
{
    size_t i = s.n && (s.p[0] == '-' || s.p[0] == '+') ? 1 : 0;
    bool minus = i && s.p[0] == '-';
    if (i >= s.n || s.p[i] != 'P') {
        return refuse(s, i, "a duration starts with P", e);
    }
    i++;
    bool time = false;
    bool last_was_t = false;
    int last = -1;
    int64_t sum = 0;
    while (i < s.n) {
        if (s.p[i] == 'T' && !time) {
            time = true;
            last_was_t = true;
            i++;
            continue;
        }
        size_t from = i;
        int64_t count = 0;
        while (i < s.n && s.p[i] >= '0' && s.p[i] <= '9' && i - from < 12) {
            count = count * 10 + (s.p[i++] - '0');
        }
        int row = i > from && i < s.n ? part_of(s.p[i], time) : -1;
        if (row < 0) {
            bool calendar = i < s.n && !time && (s.p[i] == 'Y' || s.p[i] == 'M') && i > from;
            return refuse(s, i, calendar ? "years and months have no fixed length" : "not a duration", e);
        }
        if (row <= last || last == 0) {
            return refuse(s, i, last == 0 ? "weeks stand alone" : "units in the wrong order", e);
        }
        last = row;
        last_was_t = false;
        sum += count * parts[row].seconds;
        if (sum > INT64_C(400) * 366 * 86400 * 100) {
            return refuse(s, from, "too long a duration", e);
        }
        i++;
    }
    if (last < 0 || last_was_t) {
        return refuse(s, i, "a duration without a number", e);
    }
    *seconds = minus ? -sum : sum;
    return true;
}

void text_duration(struct text *t, int64_t seconds)
{
    uint64_t left = seconds < 0 ? 0 - (uint64_t)seconds : (uint64_t)seconds;
    text_addz(t, seconds < 0 ? "-P" : "P");
    if (left > 0 && left % 604800 == 0) {
        text_int(t, (int64_t)(left / 604800));
        text_char(t, 'W');
        return;
    }
    bool time = false;
    for (size_t i = 1; i < PARTS; i++) {
        int64_t count = (int64_t)(left / (uint64_t)parts[i].seconds);
        left %= (uint64_t)parts[i].seconds;
        if (count == 0 && !(i == PARTS - 1 && seconds == 0)) {
            continue;
        }
        if (parts[i].time && !time) {
            text_char(t, 'T');
            time = true;
        }
        text_int(t, count);
        text_char(t, parts[i].letter);
    }
}
