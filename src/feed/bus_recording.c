/* A recording as a source of frames: which format it is, line after line, and what is said about lines that cannot be
 * read. The lines themselves are read in bus_candump.c and bus_asc.c; a further format is a further such file. */
#include "bus_internal.h"

#include <string.h>

int bus_hex_digit(char c)
{
    if (c >= '0' && c <= '9') {
        return c - '0';
    }
    if (c >= 'A' && c <= 'F') {
        return c - 'A' + 10;
    }
    return c >= 'a' && c <= 'f' ? c - 'a' + 10 : -1;
}

bool bus_is_digit(char c)
{
    return c >= '0' && c <= '9';
}

bool bus_is_blank(char c)
{
    return c == ' ' || c == '\t';
}

bool bus_seconds(struct str s, size_t *at, int64_t *us, int64_t *step_us)
{
    size_t i = *at;
    int64_t whole = 0;
    size_t digits = 0;
    for (; i < s.n && bus_is_digit(s.p[i]); i++, digits++) {
        if (digits == 10) {
            return false;
        }
        whole = whole * 10 + (s.p[i] - '0');
    }
    if (digits == 0) {
        return false;
    }
    int64_t part = 0;
    int64_t step = 1000000;
    if (i < s.n && s.p[i] == '.') {
        size_t start = ++i;
        for (; i < s.n && bus_is_digit(s.p[i]); i++) {
            if (i - start == 9) {
                return false;
            }
            if (step > 1) {
                step /= 10;
                part += (s.p[i] - '0') * step;
            }
        }
        if (i == start) {
            return false;
        }
    }
    *at = i;
    *us = whole * 1000000 + part;
    *step_us = step;
    return true;
}

enum bus_line bus_line_bad(struct bus_recording *r, size_t at, const char *what, const char *right)
{
    struct str excerpt = str_cut(r->line, 0, 200);
    for (size_t i = 0; i < excerpt.n; i++) {
        unsigned char c = (unsigned char)excerpt.p[i];
        if ((c < 0x20 && c != '\t') || c == 0x7F) {
            excerpt.n = i; /* what follows would disturb a terminal */
        }
    }
    if (!str_is_utf8(excerpt)) {
        excerpt.n = 0;
    }
    diags_add(r->findings, (struct diag){.level = DIAG_DOUBT,
                                         .where = {r->name, r->number, (uint32_t)at + 1},
                                         .rule = "bus-line",
                                         .what = str_of(what),
                                         .right = str_of(right),
                                         .excerpt = excerpt});
    return BUS_LINE_MALFORMED;
}

/* Puts the next line that is not blank, without its end, into r->line. */
static bool next_line(struct bus_recording *r)
{
    while (str_next(&r->rest, '\n', &r->line)) {
        r->number++;
        while (r->line.n > 0 && (r->line.p[r->line.n - 1] == '\r' || bus_is_blank(r->line.p[r->line.n - 1]))) {
            r->line.n--;
        }
        if (r->line.n > 0) {
            return true;
        }
    }
    return false;
}

/* Which format a line belongs to: 0 candump, 1 ASC, -1 neither. Only what marks the format for sure: an opening
 * bracket; a header word, a comment, or a time and a channel. */
static int format_of(struct str line)
{
    size_t at = 0;
    while (at < line.n && bus_is_blank(line.p[at])) {
        at++;
    }
    struct str s = str_cut(line, at, line.n);
    int64_t us = 0;
    int64_t step = 0;
    size_t i = 1;
    if (s.n > 0 && s.p[0] == '(') {
        return bus_seconds(s, &i, &us, &step) && i < s.n && s.p[i] == ')' ? 0 : -1;
    }
    if (str_starts(s, S("date ")) || str_starts(s, S("base hex")) || str_starts(s, S("base dec")) ||
        str_starts(s, S("//"))) {
        return 1;
    }
    i = 0;
    return bus_seconds(s, &i, &us, &step) && i < s.n && bus_is_blank(s.p[i]) ? 1 : -1;
}

bool bus_recording_open(struct bus_recording *r, struct arena *a, struct str name, struct str text,
                        struct diags *findings, struct err *e)
{
    *r = (struct bus_recording){.a = a,
                                .findings = findings,
                                .name = name,
                                .start_ms = INSTANT_NONE,
                                .resolution_us = 1,
                                .hex = true,
                                .rest = text};
    if (str_starts(text, S("\xEF\xBB\xBF"))) {
        r->rest = str_cut(text, 3, text.n);
    }
    /* A logger may start in the middle of a line: look at some lines, not only the first. */
    struct bus_recording look = *r;
    uint32_t first = 0;
    for (int i = 0; i < 100 && next_line(&look); i++) {
        int format = format_of(look.line);
        first = first ? first : look.number;
        if (format >= 0) {
            r->format = format == 0 ? BUS_FORMAT_CANDUMP : BUS_FORMAT_ASC;
            return true;
        }
    }
    return err_at(
        e, (struct where){name, first ? first : 1, 1}, ERR_INPUT,
        "a candump log with lines like \"(1546300800.028000) can0 0CF00400#F0FF000000FFFFFF\", or a Vector ASC "
        "log beginning with \"date\" and \"base hex\"",
        first ? "this is no bus recording" : "the recording is empty", (char *)0);
}

bool bus_recording_next(struct bus_recording *r, struct bus_frame *frame)
{
    while (next_line(r)) {
        r->lines++;
        *frame = (struct bus_frame){.line = r->number};
        enum bus_line kind = r->format == BUS_FORMAT_CANDUMP ? bus_candump_line(r, frame) : bus_asc_line(r, frame);
        if (kind == BUS_LINE_MALFORMED) {
            r->malformed++;
        } else if (kind == BUS_LINE_OTHER) {
            r->other++;
        } else {
            r->frames[frame->kind]++;
            r->backwards += r->any && frame->time_us < r->last_us;
            r->last_us = frame->time_us;
            r->any = true;
            return true;
        }
    }
    return false;
}

/* bus_recording_next for a bus_source. */
static bool source_next(void *ctx, struct bus_frame *frame)
{
    return bus_recording_next(ctx, frame);
}

struct bus_source bus_recording_source(struct bus_recording *r)
{
    return (struct bus_source){source_next, r};
}
