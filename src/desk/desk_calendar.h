/* The depot's calendar: seasons, events, days on which no machine can be had, planned visits, and the hands there are.
 * Every item is an entry of kind calendar; it is taken out by withdrawing that entry. */
#ifndef WITMARK_DESK_CALENDAR_H
#define WITMARK_DESK_CALENDAR_H

#include "desk.h"

#define CALENDAR_TYPES(X)                                            \
    X(CALENDAR_SEASON, "season")                                     \
    X(CALENDAR_EVENT, "event")                                       \
    X(CALENDAR_BLOCKED, "blocked") /* no machine can be had */       \
    X(CALENDAR_VISIT, "visit")     /* planned work on one machine */ \
    X(CALENDAR_HANDS, "hands")     /* hours a week that there are to work with */
enum calendar_type {
#define X(symbol, text) symbol,
    CALENDAR_TYPES(X)
#undef X
};
const char *calendar_type_text(enum calendar_type type);

struct desk_calendar_new {
    struct str type, label; /* type: a word of the list above */
    struct str site;        /* empty = everywhere */
    day_t from, to;         /* both included; to DAY_NONE = one day */
    double hours;           /* visit: what it takes; hands: a week; NAN = not said */
};
/* s->machine is the machine visited, else empty. Errors: ERR_INPUT an unknown word (with the list), `to` before `from`,
 * a visit without a machine or hours, hands without hours; ERR_MISSING no such machine. */
bool desk_calendar_add(struct desk *d, const struct desk_stamp *s, const struct desk_calendar_new *item,
                       struct arena *a, struct desk_recorded *out, struct err *e);

struct desk_calendar_item {
    struct entry_id id;
    enum calendar_type type;
    struct str label, site, note, by;
    struct str machine, name; /* serial number and name of the machine visited; empty = none */
    day_t from, to;
    double hours; /* NAN = not said */
};
/* Items that touch the days from..to, by first day. */
bool desk_calendar_list(struct desk *d, day_t from, day_t to, struct arena *a, struct desk_calendar_item **at,
                        size_t *n, struct err *e);
/* entry: id or unique beginning of an item's. Errors: ERR_MISSING; ERR_INPUT it is no item of the calendar. */
bool desk_calendar_remove(struct desk *d, struct str entry, struct str by, struct str reason, struct arena *a,
                          struct desk_recorded *out, struct err *e);

/* An array; key: of the object it stands in, null for the root. */
void desk_calendar_json(struct json *j, const char *key, const struct desk_calendar_item *at, size_t n);

#endif
