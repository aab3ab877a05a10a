/* Kinds of dates, zones, calendar text and CSV: straight to the functions of core/calendar and core/base. */
#include "cases.h"

#include "base/csv.h"
#include "calendar/due.h"
#include "calendar/duration.h"
#include "calendar/icalendar.h"
#include "calendar/week.h"
#include "calendar/zone.h"

#include <math.h>

static bool case_date(const struct case_in *in, const char *name, day_t *day, struct err *e)
{
    struct str s;
    return case_text(in, name, &s, e) &&
           (day_parse(s, day) || err_set(e, ERR_INPUT, "a date of the calendar, YYYY-MM-DD", name, ": no such date: \"",
                                         str_z(e->a, s), "\"", (char *)0));
}

static void set_day(json_t *got, const char *name, day_t day, struct arena *a)
{
    struct text t = text_new(a);
    text_day(&t, day);
    case_set_text(got, name, text_str(&t));
}

static bool whole(const struct case_in *in, const char *name, int *value, struct err *e)
{
    double v = 0;
    if (!case_has(in, name)) {
        *value = 0;
        return true;
    }
    if (!case_number(in, name, &v, e)) {
        return false;
    }
    if (v != floor(v) || fabs(v) > 1e6) {
        return err_set(e, ERR_INPUT, "a whole number", name, " is not whole", (char *)0);
    }
    *value = (int)v;
    return true;
}

bool case_whichever_first(const struct case_in *in, json_t *got, struct err *e)
{
    struct due_input d = {0};
    struct due due;
    if (!case_date(in, "last_date", &d.last_day, e) || !case_number(in, "last_hours", &d.last_hours, e) ||
        (case_has(in, "every_hours") && !case_number(in, "every_hours", &d.every.hours, e)) ||
        !whole(in, "every_months", &d.every.months, e) || !whole(in, "every_days", &d.every.days, e) ||
        !case_date(in, "today", &d.today, e) || !case_number(in, "hours_now", &d.hours_now, e) ||
        !due_whichever_first(d, &due, e)) {
        return false;
    }
    if (!isnan(due.due_hours)) {
        case_set_number(got, "due_hours", due.due_hours);
    }
    if (due.due_day != DAY_NONE) {
        set_day(got, "due_date", due.due_day, in->a);
    }
    if (due.projected != DAY_NONE) {
        set_day(got, "projected", due.projected, in->a);
    } else {
        json_object_set_new(got, "projected", json_null());
    }
    case_set_text(got, "first", due.first == DUE_BY_HOURS ? S("hours") : S("date"));
    return true;
}

bool case_add_months(const struct case_in *in, json_t *got, struct err *e)
{
    day_t day = 0;
    int months = 0;
    if (!case_date(in, "date", &day, e) || !whole(in, "months", &months, e)) {
        return false;
    }
    set_day(got, "date", day_add_months(day, months), in->a);
    return true;
}

bool case_iso_week(const struct case_in *in, json_t *got, struct err *e)
{
    day_t day = 0;
    struct text week = text_new(in->a);
    struct text ordinal = text_new(in->a);
    if (!case_date(in, "date", &day, e)) {
        return false;
    }
    text_week(&week, day);
    text_ordinal(&ordinal, day);
    case_set_text(got, "week_date", text_str(&week));
    case_set_text(got, "ordinal", text_str(&ordinal));
    return true;
}

bool case_valid_date(const struct case_in *in, json_t *got, struct err *e)
{
    day_t day = 0;
    if (!case_date(in, "date", &day, e)) {
        return false;
    }
    set_day(got, "date", day, in->a);
    case_set_flag(got, "accept", true);
    case_set_flag(got, "valid", true);
    return true;
}

/* ---- zones: the core is handed the transitions; zone_system.c finds them ---- */

static bool read_zone(const struct case_in *in, day_t around, struct zone *z, struct err *e)
{
    struct str name;
    return case_text(in, "tz", &name, e) && case_zone(in->a, name, around, z, e);
}

bool case_local_to_utc(const struct case_in *in, json_t *got, struct err *e)
{
    struct str s;
    int64_t local = 0;
    struct zone z;
    if (!case_text(in, "local", &s, e) || !local_parse(s, &local, e) ||
        !read_zone(in, day_of_instant(local, 0), &z, e)) {
        return false;
    }
    struct text t = text_new(in->a);
    text_instant(&t, zone_instant(&z, local));
    struct str utc = text_str(&t); /* with milliseconds, which the cases do not write */
    struct text whole_seconds = text_new(in->a);
    text_add(&whole_seconds, str_cut(utc, 0, 19));
    text_char(&whole_seconds, 'Z');
    case_set_text(got, "utc", text_str(&whole_seconds));
    return true;
}

bool case_day_length(const struct case_in *in, json_t *got, struct err *e)
{
    day_t day = 0;
    struct zone z;
    if (!case_date(in, "date", &day, e) || !read_zone(in, day, &z, e)) {
        return false;
    }
    case_set_number(got, "hours", (double)zone_day_ms(&z, day) / 3600000);
    return true;
}

bool case_duration(const struct case_in *in, json_t *got, struct err *e)
{
    struct str s;
    int64_t seconds = 0;
    if (!case_text(in, "duration", &s, e) || !duration_parse(s, &seconds, e)) {
        return false;
    }
    case_set_number(got, "seconds", (double)seconds);
    return true;
}

/* ---- calendar text ---- */

bool case_ical_unfold(const struct case_in *in, json_t *got, struct err *e)
{
    const json_t *lines = json_object_get(in->inputs, "lines");
    struct text folded = text_new(in->a);
    struct text out = text_new(in->a);
    size_t i = 0;
    json_t *line = NULL;
    json_array_foreach((json_t *)(uintptr_t)lines, i, line)
    {
        text_addz(&folded, i ? "\r\n" : "");
        text_add(&folded, (struct str){json_string_value(line), json_string_length(line)});
    }
    if (folded.n == 0) {
        return err_set(e, ERR_INPUT, "lines as texts", "no lines", (char *)0);
    }
    ical_unfold(&out, text_str(&folded));
    case_set_text(got, "unfolded", text_str(&out));
    return true;
}

bool case_ical_escape(const struct case_in *in, json_t *got, struct err *e)
{
    struct str s;
    struct text t = text_new(in->a);
    if (!case_text(in, "text", &s, e)) {
        return false;
    }
    ical_escape(&t, s);
    case_set_text(got, "escaped", text_str(&t));
    return true;
}

/* The three properties of a folded line, measured on what came out. */
bool case_ical_fold(const struct case_in *in, json_t *got, struct err *e)
{
    struct str line;
    struct text folded = text_new(in->a);
    struct text back = text_new(in->a);
    if (!case_text(in, "line", &line, e)) {
        return false;
    }
    ical_line(&folded, line);
    struct str rest = text_str(&folded);
    size_t longest = 0;
    bool intact = true;
    ptrdiff_t end = 0;
    while (rest.n && (end = str_find(rest, S("\r\n"))) >= 0) {
        struct str piece = str_cut(rest, 0, (size_t)end);
        longest = piece.n > longest ? piece.n : longest;
        intact = intact && str_is_utf8(piece);
        rest = str_cut(rest, (size_t)end + 2, rest.n);
    }
    ical_unfold(&back, text_str(&folded));
    struct str unfolded = str_cut(text_str(&back), 0, back.n - 2);
    double limit = json_number_value(json_object_get(in->expected, "max_octets"));
    /* The case states the limit, not the length of this line's longest piece. */
    case_set_number(got, "max_octets", (double)longest <= limit ? limit : (double)longest);
    case_set_flag(got, "characters_intact", intact && rest.n == 0);
    case_set_flag(got, "unfolds_to_input", str_eq(unfolded, line));
    return true;
}

/* ---- CSV ---- */

bool case_csv_write(const struct case_in *in, json_t *got, struct err *e)
{
    const json_t *fields = json_object_get(in->inputs, "fields");
    size_t n = json_array_size(fields);
    struct str *texts = ARENA_ARRAY(in->a, struct str, n + 1);
    struct text t = text_new(in->a);
    for (size_t i = 0; i < n; i++) {
        const json_t *field = json_array_get(fields, i);
        if (!json_is_string(field)) {
            return err_set(e, ERR_INPUT, "fields as texts", "a field is no text", (char *)0);
        }
        texts[i] = (struct str){json_string_value(field), json_string_length(field)};
    }
    text_csv_record(&t, texts, n, json_is_true(json_object_get(in->inputs, "quote_all")));
    case_set_text(got, "line", str_cut(text_str(&t), 0, t.n - 2));
    case_set_text(got, "record", text_str(&t));
    return true;
}

bool case_csv_read(const struct case_in *in, json_t *got, struct err *e)
{
    struct str rest;
    struct csv_record record;
    uint32_t line = 1;
    if (!case_text(in, "text", &rest, e)) {
        return false;
    }
    json_t *records = json_array();
    while (csv_record_read(in->a, &rest, &line, &record, e)) {
        json_t *fields = json_array();
        for (size_t i = 0; i < record.n; i++) {
            json_array_append_new(fields,
                                  json_stringn(record.fields[i].n ? record.fields[i].p : "", record.fields[i].n));
        }
        json_array_append_new(records, fields);
    }
    json_object_set_new(got, "records", records);
    return e->kind == ERR_NONE;
}
