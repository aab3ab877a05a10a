/* One line of a candump log file:
 *
 *     (seconds.micros) interface ID#DATA [R|T]
 *
 * ID of 3 hex digits is short, of 8 long; bit 29 of a long one marks an error frame. #R[n] is a remote frame, ##F... a
 * CAN FD frame with its flags, and newer writers end a line with its direction. Eight data bytes may be followed by _
 * and the raw length 9 to F. Source: the text forms told in can-utils' lib.h, and shared/can/J1939_RULES.md "Log
 * formats". */
#include "bus_internal.h"

#include <string.h>

#define SHAPE "(1546300800.028000) can0 0CF00400#F0FF000000FFFFFF"

/* Times before that are no date but a count from some start: 2000-01-01. */
#define FIRST_DATE_US 946684800000000

/* Reads the bracketed time at *at. */
static bool read_time(struct bus_recording *r, size_t *at, struct bus_frame *frame)
{
    struct str s = r->line;
    if (s.p[*at] != '(') {
        bus_line_bad(r, *at, "the line does not begin with a time in brackets", SHAPE);
        return false;
    }
    ++*at;
    int64_t step = 0;
    size_t start = *at;
    if (!bus_seconds(s, at, &frame->time_us, &step) || *at >= s.n || s.p[*at] != ')') {
        bus_line_bad(r, start, "the time is not seconds with a fraction and a closing bracket", SHAPE);
        return false;
    }
    ++*at;
    r->resolution_us = step > r->resolution_us ? step : r->resolution_us;
    if (!r->any) {
        r->clock = frame->time_us >= FIRST_DATE_US ? BUS_CLOCK_UTC : BUS_CLOCK_NONE;
        r->start_ms = r->clock == BUS_CLOCK_UTC ? 0 : INSTANT_NONE;
    }
    return true;
}

/* Passes blanks; false when there are none. */
static bool pass_blanks(struct str s, size_t *at)
{
    size_t start = *at;
    while (*at < s.n && bus_is_blank(s.p[*at])) {
        ++*at;
    }
    return *at > start;
}

/* Reads the interface's name. */
static bool read_interface(struct bus_recording *r, size_t *at, struct bus_frame *frame)
{
    struct str s = r->line;
    if (!pass_blanks(s, at) || *at >= s.n) {
        bus_line_bad(r, *at, "an interface should follow the time", SHAPE);
        return false;
    }
    size_t start = *at;
    while (*at < s.n && (unsigned char)s.p[*at] > 0x20) {
        ++*at;
    }
    frame->interface = str_cut(s, start, *at);
    if (frame->interface.n == 0 || frame->interface.n > 32 || !str_is_utf8(frame->interface)) {
        bus_line_bad(r, start, "that is no interface's name", "a short name such as can0");
        return false;
    }
    if (!pass_blanks(s, at) || *at >= s.n) {
        bus_line_bad(r, *at, "an identifier should follow the interface", SHAPE);
        return false;
    }
    return true;
}

/* Reads the identifier and its '#'. */
static bool read_id(struct bus_recording *r, size_t *at, struct bus_frame *frame)
{
    struct str s = r->line;
    size_t start = *at;
    uint32_t id = 0;
    while (*at < s.n && *at - start < 9 && bus_hex_digit(s.p[*at]) >= 0) {
        id = id << 4 | (uint32_t)bus_hex_digit(s.p[*at]);
        ++*at;
    }
    size_t digits = *at - start;
    if (digits != 3 && digits != 8) {
        bus_line_bad(r, start, "the identifier does not have 3 or 8 hex digits", "e.g. 0CF00400#");
        return false;
    }
    if (*at >= s.n || s.p[*at] != '#') {
        bus_line_bad(r, *at, "# should follow the identifier", "e.g. 0CF00400#F0FF");
        return false;
    }
    if (digits == 3 && id > 0x7FF) {
        bus_line_bad(r, start, "a short identifier cannot be above 7FF", "000 to 7FF, or 8 hex digits");
        return false;
    }
    if (id >= 0x40000000) {
        bus_line_bad(r, start, "a long identifier cannot be above 1FFFFFFF", "00000000 to 1FFFFFFF");
        return false;
    }
    ++*at;
    frame->kind = digits == 3 ? BUS_FRAME_11 : id & 0x20000000 ? BUS_FRAME_ERROR : BUS_FRAME_29;
    frame->id = id & 0x1FFFFFFF;
    return true;
}

/* Reads pairs of hex digits, at most `most`; keeps the first eight bytes. */
static bool read_data(struct bus_recording *r, size_t *at, struct bus_frame *frame, size_t most)
{
    struct str s = r->line;
    size_t n = 0;
    for (; *at < s.n && bus_hex_digit(s.p[*at]) >= 0; n++, *at += 2) {
        if (n == most) {
            bus_line_bad(r, *at, "more data than a frame can hold", "at most 8 bytes");
            return false;
        }
        if (*at + 1 >= s.n || bus_hex_digit(s.p[*at + 1]) < 0) {
            bus_line_bad(r, *at, "half a byte", "two hex digits for each byte");
            return false;
        }
        if (n < sizeof frame->data) {
            frame->data[n] = (uint8_t)(bus_hex_digit(s.p[*at]) << 4 | bus_hex_digit(s.p[*at + 1]));
        }
    }
    frame->n = (uint8_t)n;
    return true;
}

/* Passes "_9" to "_F" behind full data: the length code as it stood on the wire. */
static void pass_raw_length(struct str s, size_t *at, uint8_t n)
{
    if (n == 8 && *at + 1 < s.n && s.p[*at] == '_' && bus_hex_digit(s.p[*at + 1]) >= 9) {
        *at += 2;
    }
}

/* Reads what follows the '#'. */
static bool read_body(struct bus_recording *r, size_t *at, struct bus_frame *frame)
{
    struct str s = r->line;
    if (*at < s.n && s.p[*at] == '#') {
        ++*at;
        if (*at >= s.n || bus_hex_digit(s.p[*at]) < 0) {
            bus_line_bad(r, *at, "the flags of a CAN FD frame should follow ##", "one hex digit");
            return false;
        }
        ++*at;
        frame->kind = BUS_FRAME_FD;
        return read_data(r, at, frame, 64);
    }
    if (*at < s.n && (s.p[*at] == 'R' || s.p[*at] == 'r')) {
        ++*at;
        frame->kind = BUS_FRAME_REMOTE;
        if (*at < s.n && s.p[*at] >= '0' && s.p[*at] <= '8') {
            frame->n = (uint8_t)(s.p[*at] - '0');
            ++*at;
        }
        pass_raw_length(s, at, frame->n);
        return true;
    }
    if (!read_data(r, at, frame, 8)) {
        return false;
    }
    pass_raw_length(s, at, frame->n);
    return true;
}

enum bus_line bus_candump_line(struct bus_recording *r, struct bus_frame *frame)
{
    size_t at = 0;
    pass_blanks(r->line, &at);
    if (!read_time(r, &at, frame) || !read_interface(r, &at, frame) || !read_id(r, &at, frame) ||
        !read_body(r, &at, frame)) {
        return BUS_LINE_MALFORMED;
    }
    struct str s = r->line;
    size_t end = at;
    if (pass_blanks(s, &end) && end + 1 == s.n && (s.p[end] == 'R' || s.p[end] == 'T')) {
        return BUS_LINE_FRAME;
    }
    return at == s.n ? BUS_LINE_FRAME
                     : bus_line_bad(r, at, "something follows the data that is neither hex nor a direction",
                                    "the end of the line, or R or T behind a blank");
}
