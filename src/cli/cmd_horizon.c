/* witmark horizon, witmark calendar ... */
#include "cli.h"
#include "desk_calendar.h"
#include "desk_horizon.h"
#include "desk_tables.h"

#include <math.h>

/* A whole number from an option; `otherwise` when it was not given. */
static bool whole(struct call *c, const char *name, int least, int most, int otherwise, int *value)
{
    int64_t read = otherwise;
    if (option_given(c, name) && (!num_parse_i64(option_str(c, name), &read) || read < least || read > most)) {
        struct text right = text_new(&c->arena);
        text_int(&right, least);
        text_addz(&right, " to ");
        text_int(&right, most);
        return err_set(&c->err, ERR_USAGE, text_z(&right), "--", name, " '", option_value(c, name), "'", (char *)0);
    }
    *value = (int)read;
    return true;
}

/* "1 Dec" */
static struct str near_day(struct arena *a, day_t day)
{
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    struct civil c = civil_of_day(day);
    struct text t = text_new(a);
    text_int(&t, c.day);
    text_join(&t, " ", months[c.month - 1], (char *)0);
    return text_str(&t);
}

/* One sign a week: how many points run out in it, + from ten on. */
static struct str weeks_of(struct arena *a, const struct desk_horizon *h, const struct desk_horizon_lane *lane)
{
    int *counts = ARENA_ARRAY(a, int, h->n_weeks);
    for (size_t i = 0; i < lane->n; i++) {
        const struct desk_due *due = lane->marks[i].due;
        day_t day = due->reserve.p50;
        if (due->urgency > 0 && day != DAY_NONE && day <= h->until) {
            day = day < h->day ? h->day : day;
            counts[(day - h->weeks[0].monday) / 7] += lane->marks[i].n;
        }
    }
    struct text t = text_new(a);
    for (size_t i = 0; i < h->n_weeks; i++) {
        text_char(&t, (char)(counts[i] == 0 ? '.' : counts[i] > 9 ? '+' : '0' + counts[i]));
    }
    return text_str(&t);
}

/* What comes first of a lane: "50 h service, 19 points: 79 h over". */
static struct str first_of(struct arena *a, const struct desk_horizon_lane *lane)
{
    struct text t = text_new(a);
    if (lane->n == 0) {
        return S("nothing");
    }
    const struct desk_horizon_mark *mark = &lane->marks[0];
    text_add(&t, mark->n > 1 ? mark->due->machine->book->services[mark->due->service].label : mark->due->label);
    if (mark->n > 1) {
        text_addz(&t, ", ");
        text_int(&t, mark->n);
        text_addz(&t, " points");
    }
    text_addz(&t, ": ");
    text_add(&t, mark->due->says);
    return text_str(&t);
}

static void calendar_lines(struct text *t, struct call *c, const struct desk_calendar_item *at, size_t n, bool entries)
{
    struct table table = table_new(&c->arena, entries ? 5 : 4);
    for (size_t i = 0; i < n; i++) {
        struct text days = text_new(&c->arena);
        text_day(&days, at[i].from);
        if (at[i].to != at[i].from) {
            text_addz(&days, " to ");
            text_day(&days, at[i].to);
        }
        struct text what = text_new(&c->arena);
        text_add(&what, at[i].label);
        if (isfinite(at[i].hours)) {
            text_addz(&what, ", ");
            text_number(&what, at[i].hours, 1);
            text_addz(&what, at[i].type == CALENDAR_HANDS ? " h a week" : " h");
        }
        table_add(&table, text_str(&days));
        table_addz(&table, calendar_type_text(at[i].type));
        table_add(&table, at[i].name.n ? at[i].name : at[i].site);
        table_add(&table, text_str(&what));
        if (entries) {
            struct text id = text_new(&c->arena);
            text_entry_id(&id, at[i].id);
            table_add(&table, str_cut(text_str(&id), 0, 18));
        }
    }
    table_print(t, &table);
}

/* Hours of the hands per week, where the calendar says any. */
static void week_lines(struct text *t, struct call *c, const struct desk_horizon *h)
{
    struct table table = table_new(&c->arena, 2);
    for (size_t i = 0; i < h->n_weeks; i++) {
        const struct desk_horizon_week *week = &h->weeks[i];
        if (week->taken <= 0 && week->hands <= 0) {
            continue;
        }
        struct text hours = text_new(&c->arena);
        text_number(&hours, week->taken, 1);
        text_addz(&hours, " of ");
        text_number(&hours, week->hands, 1);
        text_addz(&hours, week->taken > week->hands ? " h: too much" : " h");
        table_add(&table, near_day(&c->arena, week->monday));
        table_add(&table, text_str(&hours));
    }
    if (table.n) {
        text_addz(t, "\nHands, by weeks\n");
        table_print(t, &table);
    }
}

static int run_horizon(struct call *c)
{
    struct desk_horizon_ask ask = {.site = option_str(c, "site"),
                                   .book = option_str(c, "book"),
                                   .system = option_str(c, "system"),
                                   .kind = option_str(c, "kind"),
                                   .with_stopped = option_given(c, "all")};
    struct desk_horizon h;
    if (!whole(c, "within", 1, 3660, 91, &ask.days) || !whole(c, "chance", 0, 3660, 7, &ask.chance_days) ||
        !desk_horizon(c->desk, &ask, &c->arena, &h, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_horizon_json(&j, c->desk, &h);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, desk_name(c->desk));
    text_addz(&t, ", ");
    text_day(&t, h.day);
    text_addz(&t, " to ");
    text_day(&t, h.until);
    text_addz(&t, "; a sign a week: points that run out in it\n\n");
    struct table table = table_new(&c->arena, 4);
    table_addz(&table, "");
    table_addz(&table, "out");
    table_add(&table, near_day(&c->arena, h.weeks[0].monday));
    table_addz(&table, "first");
    for (size_t i = 0; i < h.n; i++) {
        struct text out = text_new(&c->arena);
        text_int(&out, h.lanes[i].out);
        table_add(&table, h.lanes[i].machine->name);
        table_add(&table, text_str(&out));
        table_add(&table, weeks_of(&c->arena, &h, &h.lanes[i]));
        table_add(&table, first_of(&c->arena, &h.lanes[i]));
    }
    table_print(&t, &table);
    if (h.n_calendar) {
        text_addz(&t, "\nCalendar\n");
        calendar_lines(&t, c, h.calendar, h.n_calendar, false);
    }
    week_lines(&t, c, &h);
    return print_text(&t);
}

/* A day from an option; DAY_NONE when it was not given. */
static bool day_option(struct call *c, const char *name, day_t *day)
{
    instant_ms at = 0;
    *day = DAY_NONE;
    if (option_given(c, name)) {
        if (!desk_instant(c->desk, option_str(c, name), &at, &c->err)) {
            return false;
        }
        *day = desk_day_of(c->desk, at);
    }
    return true;
}

/* Says what was written down. */
static int written(struct call *c, const struct desk_recorded *r)
{
    struct text t = text_new(&c->arena);
    struct text id = text_new(&c->arena);
    text_entry_id(&id, r->id);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_object(&j, NULL);
        json_str(&j, "entry", text_str(&id));
        json_str(&j, "says", r->says);
        json_end_object(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, r->says);
    text_addz(&t, "\nentry ");
    text_add(&t, text_str(&id));
    text_char(&t, '\n');
    return print_text(&t);
}

static int run_calendar_add(struct call *c)
{
    struct desk_calendar_new item = {
        .type = str_of(c->arguments[0]), .label = str_of(c->arguments[1]), .site = option_str(c, "site"), .hours = NAN};
    struct desk_stamp stamp;
    struct desk_recorded out = {0};
    if (option_given(c, "hours") && !num_parse(option_str(c, "hours"), &item.hours)) {
        (void)err_set(&c->err, ERR_USAGE, "a number", "--hours '", option_value(c, "hours"), "'", (char *)0);
        return failed(c);
    }
    if (!day_option(c, "from", &item.from) || !day_option(c, "to", &item.to) ||
        !call_stamp(c, option_str(c, "machine"), &stamp) ||
        !desk_calendar_add(c->desk, &stamp, &item, &c->arena, &out, &c->err)) {
        return failed(c);
    }
    return written(c, &out);
}

static int run_calendar_list(struct call *c)
{
    struct desk_calendar_item *at = NULL;
    size_t n = 0;
    int days = 0;
    day_t today = desk_today_day(c->desk);
    if (!whole(c, "within", 1, 36600, 366, &days) ||
        !desk_calendar_list(c->desk, option_given(c, "all") ? -719162 : today,
                            option_given(c, "all") ? 2932896 : today + days, &c->arena, &at, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_calendar_json(&j, NULL, at, n);
        text_char(&t, '\n');
        return print_text(&t);
    }
    if (n == 0) {
        text_addz(&t, "nothing; add something with: witmark calendar add season LABEL --from DAY --to DAY\n");
    }
    calendar_lines(&t, c, at, n, true);
    return print_text(&t);
}

static int run_calendar_remove(struct call *c)
{
    struct desk_stamp stamp;
    struct desk_recorded out = {0};
    if (!call_stamp(c, (struct str){0}, &stamp) ||
        !desk_calendar_remove(c->desk, str_of(c->arguments[0]), stamp.by, stamp.note, &c->arena, &out, &c->err)) {
        return failed(c);
    }
    return written(c, &out);
}

static const struct option_def horizon_options[] = {
    {"site", 0, "SITE", "only machines of this site"},
    {"book", 0, "ID", "only machines of this book"},
    {"system", 0, "SYSTEM", "only checkpoints of this system: tyres, hydraulic ..."},
    {"kind", 0, "KIND", "only checkpoint, reading, found, torque again, put back or fault"},
    {"within", 'w', "DAYS", "how far to look (otherwise 91 days)"},
    {"chance", 0, "DAYS", "with --json: how probable it is that each is overdue in so many days (otherwise 7)"},
    {"all", 'a', NULL, "also machines out of service"},
    END_OF_OPTIONS,
};
static const struct option_def calendar_add_options[] = {
    {"from", 0, "DAY", "its first day"},
    {"to", 0, "DAY", "its last day (otherwise the first)"},
    {"machine", 'm', "MACHINE", "the machine that is visited"},
    {"site", 0, "SITE", "the site that it is about (otherwise everywhere)"},
    {"hours", 0, "HOURS", "visit: hours that it takes; hands: hours a week that there are"},
    {"at", 0, "TIME", "when it was planned (otherwise now)"},
    {"note", 'n', "TEXT", "a remark"},
    END_OF_OPTIONS,
};
static const struct option_def calendar_list_options[] = {
    {"within", 'w', "DAYS", "how far to look (otherwise 366 days)"},
    {"all", 'a', NULL, "also what has passed"},
    END_OF_OPTIONS,
};
static const struct option_def calendar_remove_options[] = {
    {"note", 'n', "TEXT", "why"},
    END_OF_OPTIONS,
};

static int run_feed(struct call *c)
{
    double days = 400;
    struct text t = text_new(&c->arena);
    if (option_given(c, "within") && (!num_parse(option_str(c, "within"), &days) || days < 1 || days > 3660)) {
        (void)err_set(&c->err, ERR_USAGE, "1 to 3660 days", "--within '", option_value(c, "within"), "'", (char *)0);
        return failed(c);
    }
    struct desk_ics_ask ask = {.machine = option_str(c, "machine"),
                               .site = option_str(c, "site"),
                               .book = option_str(c, "book"),
                               .days = (int)days};
    return desk_calendar_feed(c->desk, &ask, &t, &c->err) ? print_text(&t) : failed(c);
}

static const struct option_def feed_options[] = {
    {"machine", 'm', "MACHINE", "only this machine"},
    {"site", 0, "SITE", "only machines of this site"},
    {"book", 0, "ID", "only machines of this book"},
    {"within", 'w', "DAYS", "how far to look (otherwise 400 days)"},
    {NULL, 0, NULL, NULL},
};

const struct command horizon_commands[] = {
    {"horizon", "", 0, 0, "the fleet on one sheet of time: what runs out when, and what is planned",
     "A line per machine, the one that runs out first on top: how many points are out, then a sign per week (1 to 9, + "
     "for "
     "more) for those that run out in it, then what comes first. Below it the calendar and, by weeks, the hours that "
     "planned visits take of those that there are.",
     horizon_options, run_horizon, false, false},
    {"calendar add", "TYPE LABEL", 2, 2, "put a season, event, blocked days, a visit or hands into the calendar",
     "TYPE is season, event, blocked (no machine can be had), visit (needs --machine and --hours) or hands (needs "
     "--hours, a "
     "week). Example: witmark calendar add visit 'rake chain' --machine B-03 --from 2026-11-30 --hours 2.5",
     calendar_add_options, run_calendar_add, false, true},
    {"calendar list", "", 0, 0, "what the calendar holds, with its entries", NULL, calendar_list_options,
     run_calendar_list, false, false},
    {"calendar feed", "", 0, 0, "what is due as an iCalendar file (RFC 5545)",
     "An all-day event for each service of a machine, or thing that is due by itself. To subscribe, use the address "
     "that "
     "the page shows: /api/calendar.ics with its token.",
     feed_options, run_feed, false, false},
    {"calendar remove", "ENTRY", 1, 1, "take an item out of the calendar: its entry is withdrawn, and stays in the log",
     NULL, calendar_remove_options, run_calendar_remove, false, true},
    {0},
};
