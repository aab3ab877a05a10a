/* Text of iCalendar files (RFC 5545): escaping of values, folding of lines. Lines end in CRLF; a file is written line
 * by line with ical_line. */
#ifndef WITMARK_CALENDAR_ICALENDAR_H
#define WITMARK_CALENDAR_ICALENDAR_H

#include "base/text.h"

#define ICAL_LINE_OCTETS 75 /* without the line break; the blank that starts a continuation counts */

/* A TEXT value: backslash, semicolon and comma get a backslash, a line break (LF, CRLF or CR) becomes \n; never the
 * colon; other control characters are left out, since no TEXT may hold them. Source: RFC 5545 3.3.11. */
void ical_escape(struct text *t, struct str value);
/* The value back: \\ \; \, \n \N; a backslash before anything else stays. */
void ical_unescape(struct text *t, struct str escaped);

/* One content line folded to ICAL_LINE_OCTETS, with its CRLF. No character of UTF-8 is cut; a byte that is no UTF-8
 * counts as one. Source: RFC 5545 3.1. */
void ical_line(struct text *t, struct str line);
/* Content lines joined again: a line break (CRLF or LF) followed by one blank or tab is removed, exactly one. */
void ical_unfold(struct text *t, struct str lines);

#endif
