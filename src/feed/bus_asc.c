/* One line of a Vector ASC log, as can-utils' log2asc and python-can write it:
 *
 *     date Tue Jun  1 11:43:50 2021
 *     base hex  timestamps absolute
 *        0.000600 1  CF00400x        Rx   d 8 F0 FF 7D 00 00 FF FF FF
 *
 * Time, channel, identifier (x marks a long one), direction, d or r, length, data; more may follow. "base dec" writes
 * identifiers and data in decimal, "timestamps relative" counts from the event before. Whatever else the logger tells
 * (ErrorFrame, Statistic:, triggers, comments, other buses) is no frame of ours. */
#include "bus_internal.h"

#include <string.h>

#define SHAPE "0.000600 1  CF00400x  Rx  d 8 F0 FF 7D 00 00 FF FF FF"

/* Sums of relative times stop there; far from what 64 bits can count. */
#define LATEST_US 1000000000000000000

/* The next word at *at; empty at the end. */
static struct str word(struct str s, size_t *at)
{
    while (*at < s.n && bus_is_blank(s.p[*at])) {
        ++*at;
    }
    size_t start = *at;
    while (*at < s.n && !bus_is_blank(s.p[*at])) {
        ++*at;
    }
    return str_cut(s, start, *at);
}

/* Reads the whole word as a number of that base, at most `most`. */
static bool number(struct str w, bool hex, uint32_t most, uint32_t *value)
{
    uint64_t v = 0;
    if (w.n == 0 || w.n > 10) {
        return false;
    }
    for (size_t i = 0; i < w.n; i++) {
        int digit = bus_hex_digit(w.p[i]);
        if (digit < 0 || (!hex && digit > 9)) {
            return false;
        }
        v = v * (hex ? 16 : 10) + (uint64_t)digit;
    }
    *value = (uint32_t)v;
    return v <= most;
}

/* "Tue Jun  1 11:43:50 2021", perhaps with a fraction and am or pm; false when it is something else. */
static bool read_date(struct str s, instant_ms *at)
{
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    size_t i = 0;
    word(s, &i); /* the day of the week says nothing new */
    struct str month = word(s, &i);
    uint32_t day = 0;
    uint32_t year = 0;
    uint32_t part[3] = {0};
    if (!number(word(s, &i), false, 31, &day)) {
        return false;
    }
    struct str clock = word(s, &i);
    struct str last = word(s, &i);
    bool pm = str_eq_nocase(last, S("pm"));
    bool twelve = pm || str_eq_nocase(last, S("am"));
    if (!number(twelve ? word(s, &i) : last, false, 9999, &year)) {
        return false;
    }
    int64_t ms = 0;
    ptrdiff_t point = str_find(clock, S("."));
    if (point >= 0) {
        int64_t us = 0;
        int64_t step = 0;
        size_t from = (size_t)point; /* ".159" is read as "n.159": seconds are read below */
        from = from > 0 ? from - 1 : 0;
        if (!bus_seconds(clock, &from, &us, &step) || from != clock.n) {
            return false;
        }
        ms = us % 1000000 / 1000;
        clock.n = (size_t)point;
    }
    struct str piece;
    size_t n = 0;
    while (n < 3 && str_next(&clock, ':', &piece)) {
        if (!number(piece, false, n == 0 ? 23 : 59, &part[n])) {
            return false;
        }
        n++;
    }
    if (n != 3 || (twelve && (part[0] < 1 || part[0] > 12))) {
        return false;
    }
    part[0] = twelve ? part[0] % 12 + (pm ? 12 : 0) : part[0];
    for (int m = 0; m < 12; m++) {
        day_t d = 0;
        if (str_eq_nocase(month, str_of(months[m])) && year > 0 &&
            day_of_civil((struct civil){(int)year, m + 1, (int)day}, &d)) {
            *at = (instant_ms)d * 86400000 + (part[0] * 3600 + part[1] * 60 + part[2]) * 1000LL + ms;
            return true;
        }
    }
    return false;
}

/* Lines that do not begin with a time: the header and what the logger tells about itself. */
static enum bus_line header_line(struct bus_recording *r, struct str first, size_t at)
{
    static const char *const known[] = {"internal", "no", "Begin", "End", "Start"};
    struct str s = r->line;
    instant_ms date = 0;
    if (str_eq_nocase(first, S("date"))) {
        if (!read_date(str_cut(s, at, s.n), &date)) {
            bus_line_bad(r, at, "the date cannot be read, so the recording has none",
                         "date Tue Jun  1 11:43:50 2021, with an English month");
        } else if (r->clock == BUS_CLOCK_NONE) {
            r->clock = BUS_CLOCK_LOCAL;
            r->start_ms = date;
        }
        return BUS_LINE_OTHER;
    }
    if (str_eq_nocase(first, S("base"))) {
        struct str base = word(s, &at);
        if (!str_eq_nocase(base, S("hex")) && !str_eq_nocase(base, S("dec"))) {
            return bus_line_bad(r, at - base.n, "an unknown base of numbers", "base hex or base dec");
        }
        r->hex = str_eq_nocase(base, S("hex"));
        word(s, &at);
        r->relative = str_eq_nocase(word(s, &at), S("relative"));
        return BUS_LINE_OTHER;
    }
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (str_eq_nocase(first, str_of(known[i]))) {
            return BUS_LINE_OTHER;
        }
    }
    if (str_starts(first, S("//"))) {
        return BUS_LINE_OTHER;
    }
    return bus_line_bad(r, at - first.n, "this is no line of an ASC log", SHAPE);
}

/* "can0" for channel 1: log2asc numbers the interfaces it is given from 1. */
static struct str interface_of(struct bus_recording *r, uint32_t channel)
{
    struct str *name = &r->interfaces[channel];
    if (name->n == 0) {
        struct text t = text_new(r->a);
        text_addz(&t, "can");
        text_int(&t, channel > 0 ? (int64_t)channel - 1 : 255);
        *name = text_str(&t);
    }
    return *name;
}

/* Reads length and data behind the d or r. */
static enum bus_line read_data(struct bus_recording *r, size_t at, struct bus_frame *frame)
{
    struct str s = r->line;
    struct str w = word(s, &at);
    uint32_t n = 0;
    if (frame->kind == BUS_FRAME_REMOTE) {
        frame->n = (uint8_t)(number(w, r->hex, 15, &n) ? n : 0);
        return BUS_LINE_FRAME;
    }
    if (!number(w, r->hex, 15, &n)) {
        return bus_line_bad(r, at - w.n, "the length is not 0 to 15", SHAPE);
    }
    frame->n = (uint8_t)(n > 8 ? 8 : n); /* codes 9 to 15 mean eight bytes in a classic frame */
    for (size_t i = 0; i < frame->n; i++) {
        uint32_t byte = 0;
        w = word(s, &at);
        if (!number(w, r->hex, 255, &byte)) {
            return bus_line_bad(r, at - w.n,
                                w.n == 0 ? "fewer data bytes than the length says" : "that is no data byte",
                                r->hex ? "00 to FF for each byte" : "0 to 255 for each byte");
        }
        frame->data[i] = (uint8_t)byte;
    }
    return BUS_LINE_FRAME;
}

/* Reads identifier, direction and data behind the channel. */
static enum bus_line read_frame(struct bus_recording *r, size_t at, struct bus_frame *frame)
{
    struct str s = r->line;
    struct str w = word(s, &at);
    if (str_eq_nocase(w, S("ErrorFrame"))) {
        frame->kind = BUS_FRAME_ERROR;
        return BUS_LINE_FRAME;
    }
    if (w.n > 0 && w.p[w.n - 1] == ':') {
        return BUS_LINE_OTHER; /* Statistic: and its like */
    }
    size_t start = at - w.n;
    bool extended = w.n > 0 && (w.p[w.n - 1] == 'x' || w.p[w.n - 1] == 'X');
    w.n -= extended;
    if (!number(w, r->hex, extended ? 0x1FFFFFFF : 0x7FF, &frame->id)) {
        return bus_line_bad(r, start, "that is no identifier",
                            r->hex ? "hex digits up to 7FF, or up to 1FFFFFFF with an x behind"
                                   : "a decimal number up to 2047, or up to 536870911 with an x behind");
    }
    frame->kind = extended ? BUS_FRAME_29 : BUS_FRAME_11;
    struct str direction = word(s, &at);
    if (str_eq_nocase(direction, S("TxRq"))) {
        return BUS_LINE_OTHER; /* the wish to send; the frame itself comes as Tx */
    }
    if (!str_eq_nocase(direction, S("Rx")) && !str_eq_nocase(direction, S("Tx"))) {
        return bus_line_bad(r, at - direction.n, "Rx or Tx should follow the identifier", SHAPE);
    }
    w = word(s, &at);
    if (str_eq_nocase(w, S("r"))) {
        frame->kind = BUS_FRAME_REMOTE;
    } else if (!str_eq_nocase(w, S("d"))) {
        return bus_line_bad(r, at - w.n, "d (data) or r (remote) should follow the direction", SHAPE);
    }
    return read_data(r, at, frame);
}

enum bus_line bus_asc_line(struct bus_recording *r, struct bus_frame *frame)
{
    struct str s = r->line;
    size_t at = 0;
    struct str first = word(s, &at);
    int64_t us = 0;
    int64_t step = 0;
    size_t end = 0;
    if (!bus_seconds(first, &end, &us, &step) || end != first.n) {
        return header_line(r, first, at);
    }
    r->resolution_us = step > r->resolution_us ? step : r->resolution_us;
    if (r->relative && r->asc_us > LATEST_US) {
        return bus_line_bad(r, at - first.n, "the relative times add up to more than a recording can last", SHAPE);
    }
    frame->time_us = r->relative ? r->asc_us + us : us;
    r->asc_us = frame->time_us;
    struct str channel = word(s, &at);
    uint32_t n = 0;
    if (str_eq_nocase(channel, S("CANFD"))) {
        frame->kind = BUS_FRAME_FD;
        bool known = number(word(s, &at), false, 255, &n);
        frame->interface = interface_of(r, known ? n : 0);
        return BUS_LINE_FRAME;
    }
    if (!number(channel, false, 255, &n)) {
        return BUS_LINE_OTHER; /* "Start of measurement", status lines, other buses */
    }
    frame->interface = interface_of(r, n);
    return read_frame(r, at, frame);
}
