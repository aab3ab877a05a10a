/* What is due as iCalendar. Nothing in it depends on the hour, so that the same day gives the same bytes. */
#include "calendar/icalendar.h"
#include "desk_internal.h"
#include "desk_tables.h"
#include "due_internal.h"

#include <math.h>

#define ITEMS_SAID 40 /* per event; a service has some twenty points */

/* One event on its way: a service of a machine, or one thing. */
struct event_of_due {
    const struct desk_due *first;
    day_t day;
    struct text says; /* the items, a line each */
    int n;
    bool out;
};

static void line(struct text *out, const char *name, struct str value, bool escaped)
{
    struct text t = text_new(out->a);
    text_addz(&t, name);
    if (escaped) {
        ical_escape(&t, value);
    } else {
        text_add(&t, value);
    }
    ical_line(out, text_str(&t));
}

static void line_day(struct text *out, const char *name, day_t day)
{
    struct civil c = civil_of_day(day);
    struct text t = text_new(out->a);
    text_zeros(&t, c.year, 4);
    text_zeros(&t, c.month, 2);
    text_zeros(&t, c.day, 2);
    line(out, name, text_str(&t), false);
}

/* "witmark-" and a hash of serial number and service or key: the same whatever the date. */
static struct str uid_of(struct arena *a, const struct desk_due *due)
{
    bool service = due->service != BOOK_NONE;
    struct text t = text_new(a);
    text_add(&t, due->machine->serial);
    text_addz(&t, service ? "\nservice\n" : "\n");
    text_addz(&t, service ? "" : desk_due_kind_text(due->kind));
    text_addz(&t, service ? "" : "\n");
    text_add(&t, service ? due->machine->book->services[due->service].name : due->key);
    struct log_hash hash = log_sha256(text_str(&t));
    struct text uid = text_new(a);
    text_addz(&uid, "witmark-");
    text_hex(&uid, hash.b, 16);
    return text_str(&uid);
}

static struct str summary_of(struct arena *a, const struct event_of_due *event)
{
    const struct desk_due *due = event->first;
    struct text t = text_new(a);
    text_add(&t, due->machine->name);
    text_addz(&t, event->out ? ": OUT: " : ": ");
    text_add(&t, due->service != BOOK_NONE ? due->machine->book->services[due->service].label : due->label);
    if (event->n > 1) {
        text_addz(&t, " (");
        text_int(&t, event->n);
        text_addz(&t, " points)");
    }
    return text_str(&t);
}

static void write_event(struct text *out, const struct desk *d, const struct event_of_due *event, day_t today)
{
    struct text stamp = text_new(out->a);
    struct civil c = civil_of_day(today);
    text_zeros(&stamp, c.year, 4);
    text_zeros(&stamp, c.month, 2);
    text_zeros(&stamp, c.day, 2);
    text_addz(&stamp, "T000000Z");
    (void)d;
    ical_line(out, S("BEGIN:VEVENT"));
    line(out, "UID:", uid_of(out->a, event->first), false);
    line(out, "DTSTAMP:", text_str(&stamp), false);
    line_day(out, "DTSTART;VALUE=DATE:", event->day);
    line_day(out, "DTEND;VALUE=DATE:", event->day + 1);
    line(out, "SUMMARY:", summary_of(out->a, event), true);
    line(out, "DESCRIPTION:", text_str(&event->says), true);
    if (event->first->machine->site.n) {
        line(out, "LOCATION:", event->first->machine->site, true);
    }
    ical_line(out, S("TRANSP:TRANSPARENT")); /* it does not make anybody busy */
    ical_line(out, S("END:VEVENT"));
}

/* The day an item stands on: what is out stands on today; without a day it has none. */
static day_t day_of_due(const struct desk_due *due, day_t today)
{
    if (due->urgency == 0 || due->reserve.out) {
        return today;
    }
    if (due->reserve.p50 == DAY_NONE) {
        return DAY_NONE;
    }
    return due->reserve.p50 < today ? today : due->reserve.p50;
}

static void add_item(struct event_of_due *event, const struct desk_due *due, day_t day)
{
    event->day = day < event->day ? day : event->day;
    event->out = event->out || due->urgency == 0;
    event->n++;
    if (event->n <= ITEMS_SAID) {
        text_addz(&event->says, event->n > 1 ? "\n" : "");
        text_add(&event->says, due->label);
        text_addz(&event->says, due->says.n ? ": " : "");
        text_add(&event->says, due->says);
    }
}

bool desk_calendar_feed(struct desk *d, const struct desk_ics_ask *ask, struct text *out, struct err *e)
{
    struct arena *a = out->a;
    struct desk_today_filter filter = {
        .machine = ask->machine, .site = ask->site, .book = ask->book, .within_days = ask->days};
    struct desk_today_list list;
    if (!desk_today(d, &filter, a, &list, e)) {
        return false;
    }
    struct event_of_due *events = ARENA_ARRAY(a, struct event_of_due, list.n);
    size_t n = 0;
    struct map by_uid = map_new(a);
    for (size_t i = 0; i < list.n; i++) {
        const struct desk_due *due = &list.at[i];
        day_t day = day_of_due(due, list.day);
        int64_t index = 0;
        struct str uid = uid_of(a, due);
        if (day == DAY_NONE) {
            continue;
        }
        if (!map_get(&by_uid, uid, &index)) {
            index = (int64_t)n++;
            events[index] = (struct event_of_due){.first = due, .day = day, .says = text_new(a)};
            map_put(&by_uid, uid, index);
        }
        add_item(&events[index], due, day);
    }
    struct text name = text_new(a);
    text_add(&name, d->name);
    text_addz(&name, ": what is due");
    ical_line(out, S("BEGIN:VCALENDAR"));
    ical_line(out, S("VERSION:2.0"));
    ical_line(out, S("PRODID:-//Witmark//What is due//EN"));
    ical_line(out, S("CALSCALE:GREGORIAN"));
    ical_line(out, S("REFRESH-INTERVAL;VALUE=DURATION:PT12H")); /* RFC 7986 5.7 */
    line(out, "NAME:", text_str(&name), true);                  /* RFC 7986 5.1 */
    line(out, "X-WR-CALNAME:", text_str(&name), true);
    for (size_t i = 0; i < n; i++) {
        write_event(out, d, &events[i], list.day);
    }
    ical_line(out, S("END:VCALENDAR"));
    return true;
}
