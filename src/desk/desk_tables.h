/* What is due as a calendar to subscribe to, and answers as tables for a spreadsheet. */
#ifndef WITMARK_DESK_TABLES_H
#define WITMARK_DESK_TABLES_H

#include "desk.h"

/* An iCalendar file (RFC 5545): an all-day event for what is due or out, one per machine and service, else one per
 * checkpoint. The UID follows from machine and service or key alone, so that a calendar moves an event when its date
 * moves. What is out already stands on today. */
struct desk_ics_ask {
    struct str machine, site, book; /* empty = all */
    int days;                       /* how far to look, 1 to 3660 */
};
bool desk_calendar_feed(struct desk *d, const struct desk_ics_ask *ask, struct text *out, struct err *e);

/* JSON that the desk wrote as CSV (RFC 4180, with a header; cells that a spreadsheet would take for a formula get an
 * apostrophe in front). name: "today", "machines", "log", "kit", "parts", "books", "people", "shelf", "put-back",
 * "horizon". Errors: ERR_USAGE there is no such table. */
bool desk_table_csv(struct text *out, const char *name, struct str json, struct err *e);
bool desk_table_known(const char *name);

/* Every part of every machine's book: [{machine, name, part, label, number, instead_of, pack, keep}], by machine. */
bool desk_parts_json(struct json *j, struct desk *d, struct err *e);

#endif
