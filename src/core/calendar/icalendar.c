/* Folding and escaping of RFC 5545. */
#include "calendar/icalendar.h"

void ical_escape(struct text *t, struct str value)
{
    for (size_t i = 0; i < value.n; i++) {
        char c = value.p[i];
        if (c == '\r' || c == '\n') {
            text_addz(t, "\\n");
            i += c == '\r' && i + 1 < value.n && value.p[i + 1] == '\n';
        } else if ((unsigned char)c < 0x20 && c != '\t') {
            continue;
        } else {
            if (c == '\\' || c == ';' || c == ',') {
                text_char(t, '\\');
            }
            text_char(t, c);
        }
    }
}

void ical_unescape(struct text *t, struct str escaped)
{
    for (size_t i = 0; i < escaped.n; i++) {
        char c = escaped.p[i];
        char next = i + 1 < escaped.n ? escaped.p[i + 1] : 0;
        if (c == '\\' && (next == 'n' || next == 'N')) {
            text_char(t, '\n');
            i++;
        } else if (c == '\\' && (next == '\\' || next == ';' || next == ',')) {
            text_char(t, next);
            i++;
        } else {
            text_char(t, c);
        }
    }
}

/* Bytes of the character at i: 1 for ASCII and for a byte that starts nothing. */
static size_t octets_at(struct str s, size_t i)
{
    unsigned char c = (unsigned char)s.p[i];
    size_t n = c >= 0xf0 ? 4 : c >= 0xe0 ? 3 : c >= 0xc0 ? 2 : 1;
    if (i + n > s.n) {
        return 1;
    }
    for (size_t k = 1; k < n; k++) {
        if (((unsigned char)s.p[i + k] & 0xc0) != 0x80) {
            return 1;
        }
    }
    return n;
}

void ical_line(struct text *t, struct str line)
{
    size_t used = 0;
    for (size_t i = 0; i < line.n;) {
        size_t n = octets_at(line, i);
        if (used + n > ICAL_LINE_OCTETS) {
            text_addz(t, "\r\n ");
            used = 1;
        }
        text_add(t, str_cut(line, i, i + n));
        used += n;
        i += n;
    }
    text_addz(t, "\r\n");
}

void ical_unfold(struct text *t, struct str lines)
{
    for (size_t i = 0; i < lines.n; i++) {
        size_t brk = lines.p[i] == '\n' ? 1 : lines.p[i] == '\r' && i + 1 < lines.n && lines.p[i + 1] == '\n' ? 2 : 0;
        bool folded = brk && i + brk < lines.n && (lines.p[i + brk] == ' ' || lines.p[i + brk] == '\t');
        if (folded) {
            i += brk;
            continue;
        }
        text_char(t, lines.p[i]);
    }
}
