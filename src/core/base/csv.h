/* CSV text exactly as RFC 4180 has it: comma, CRLF, quotes doubled, spaces part of the field. For exchange with
 * programs; a spreadsheet as people save it is read by feed, which knows better what they meant. */
#ifndef WITMARK_BASE_CSV_H
#define WITMARK_BASE_CSV_H

#include "base/err.h"

/* One field, quoted when it must be (comma, quote, CR, LF) or when `quote` says so. RFC 4180 2.5 to 2.7. */
void text_csv_field(struct text *t, struct str field, bool quote);
/* One record with its CRLF. */
void text_csv_record(struct text *t, const struct str *fields, size_t n, bool quote);

struct csv_record {
    struct str *fields;
    size_t n, cap;
};
/* Reads one record off *rest; false at the end of the text, or with e set. Lines may end in CRLF, LF or not at all (the
 * last). *line counts lines from 1 and is moved on. A field's text is borrowed from the input where it had no doubled
 * quote. Errors: ERR_INPUT with line and column in bytes: a quote inside a plain field, text behind a closing quote, a
 * quote never closed. */
bool csv_record_read(struct arena *a, struct str *rest, uint32_t *line, struct csv_record *record, struct err *e);

#endif
