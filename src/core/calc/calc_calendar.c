/* Calculations about dates, due dates and durations. Dates are written YYYY-MM-DD. */
#include "calc_internal.h"
#include "calendar/due.h"
#include "calendar/duration.h"
#include "calendar/week.h"
#include "quantity/domain.h"

#define SECONDS_A_DAY 86400.0

static bool read_day(const struct calc_call *call, const char *name, day_t *day, struct err *e)
{
    struct str written = in_text(call, name);
    return day_parse(written, day) || err_set(e, ERR_INPUT, "a date of the calendar, YYYY-MM-DD", name,
                                              ": no such date: \"", str_z(e->a, written), "\"", (char *)0);
}

static bool out_day(struct calc_call *call, const char *name, day_t day)
{
    struct text t = text_new(call->a);
    text_day(&t, day);
    return out_text(call, name, text_str(&t));
}

/* A whole count, at most `most` in size. */
static bool read_whole(const struct calc_call *call, const char *name, double low, double high, int *value,
                       struct err *e)
{
    double v = in_number(call, name);
    if (!domain_within(name, v, "", low, high, e)) {
        return false;
    }
    *value = (int)v;
    return v == floor(v) || domain_refuse("a part of a month or day", "a whole number", e);
}

static bool run_date_after(struct calc_call *call, struct err *e)
{
    day_t day = 0;
    int months = 0;
    int days = 0;
    day_t last = 0;
    if (!read_day(call, "date", &day, e) || !read_whole(call, "months", -12000, 12000, &months, e) ||
        !read_whole(call, "days", -400000, 400000, &days, e)) {
        return false;
    }
    (void)day_of_civil((struct civil){9999, 12, 31}, &last);
    struct civil c = civil_of_day(day);
    int year = c.year + (c.month - 1 + months + 120000) / 12 - 10000;
    day_t first = 0;
    (void)day_of_civil((struct civil){1, 1, 1}, &first);
    if (year < 1 || year > 9999 || day_add_months(day, months) + days < first ||
        day_add_months(day, months) + days > last) {
        return domain_refuse("the date would be outside the calendar", "0001-01-01 .. 9999-12-31", e);
    }
    return out_day(call, "date", day_add_months(day, months) + days);
}

static bool run_date_forms(struct calc_call *call, struct err *e)
{
    day_t day = 0;
    struct text week = text_new(call->a);
    struct text ordinal = text_new(call->a);
    if (!read_day(call, "date", &day, e)) {
        return false;
    }
    text_week(&week, day);
    text_ordinal(&ordinal, day);
    return out_text(call, "week-date", text_str(&week)) && out_text(call, "ordinal", text_str(&ordinal));
}

static bool run_days_between(struct calc_call *call, struct err *e)
{
    day_t from = 0;
    day_t to = 0;
    return read_day(call, "from", &from, e) && read_day(call, "to", &to, e) &&
           out_number(call, "days", ((double)to - from) * SECONDS_A_DAY);
}

static bool run_due(struct calc_call *call, struct err *e)
{
    struct due_input d = {.last_hours = in_number(call, "last-hours") / 3600,
                          .hours_now = in_number(call, "hours-now") / 3600,
                          .every = {.hours = in_number_or(call, "every-hours", 0) / 3600}};
    struct due due;
    if (!read_day(call, "last", &d.last_day, e) || !read_day(call, "today", &d.today, e) ||
        !read_whole(call, "every-months", 0, 12000, &d.every.months, e) ||
        !read_whole(call, "every-days", 0, 400000, &d.every.days, e) || !due_whichever_first(d, &due, e)) {
        return false;
    }
    if (!isnan(due.due_hours)) {
        out_number(call, "due-hours", due.due_hours * 3600);
    }
    if (due.due_day != DAY_NONE) {
        out_day(call, "due-date", due.due_day);
    }
    if (due.projected != DAY_NONE) {
        out_day(call, "hours-reached", due.projected);
    } else {
        out_none(call, "hours-reached", "no hours to reach, or no use since it was last done");
    }
    return out_text(call, "first", due.first == DUE_BY_HOURS ? S("hours") : S("date"));
}

static bool run_duration(struct calc_call *call, struct err *e)
{
    int64_t seconds = 0;
    struct text t = text_new(call->a);
    if (!duration_parse(in_text(call, "duration"), &seconds, e)) {
        return false;
    }
    text_duration(&t, seconds);
    return out_number(call, "time", (double)seconds) && out_text(call, "shortest", text_str(&t));
}

const struct calc calc_calendar[] = {
    {"date-after",
     "The date some months and days on",
     "same day of the month, clamped to its end; then the days",
     "Gregorian calendar as in ISO 8601-1:2019; clamping is common practice, no source",
     {TEXT("date", "from, YYYY-MM-DD"), PRESET("months", Q_NONE, NULL, "months on, negative for back", "0"),
      PRESET("days", Q_NONE, NULL, "days on, negative for back", "0")},
     {TEXT("date", "the date then")},
     run_date_after},
    {"date-forms",
     "Week date and ordinal date",
     "week 1 is the one with the year's first Thursday",
     "ISO 8601-1:2019, 5.2.3",
     {TEXT("date", "YYYY-MM-DD")},
     {TEXT("week-date", "year, week, day of the week"), TEXT("ordinal", "year, day of the year")},
     run_date_forms},
    {"days-between",
     "Days from one date to another",
     "to - from",
     "Gregorian calendar as in ISO 8601-1:2019",
     {TEXT("from", "YYYY-MM-DD"), TEXT("to", "YYYY-MM-DD")},
     {NUMBER("days", Q_DURATION, "d", "negative when `to` is earlier")},
     run_days_between},
    {"due",
     "Due by hours or by date, whichever comes first",
     "hours = last + every; day reached = today + floor(hours left / hours a day since it was last done)",
     "EN 13306:2017, predetermined maintenance",
     {TEXT("last", "date it was last done"), NUMBER("last-hours", Q_DURATION, "h", "meter then"),
      PRESET("every-hours", Q_DURATION, "h", "interval in machine hours", ""),
      PRESET("every-months", Q_NONE, NULL, "interval in months", "0"),
      PRESET("every-days", Q_NONE, NULL, "interval in days", "0"), TEXT("today", "date"),
      NUMBER("hours-now", Q_DURATION, "h", "meter now")},
     {NUMBER("due-hours", Q_DURATION, "h", "meter at which it is due"), TEXT("due-date", "last day in time"),
      TEXT("hours-reached", "day on which the meter gets there at the rate so far"),
      TEXT("first", "which of the two comes first")},
     run_due},
    {"duration",
     "A duration as calendars write it",
     "[+-]P nW | [+-]P nD T nH nM nS; a week is 7 days, a day 24 hours",
     "RFC 5545, 3.3.6; ISO 8601-1:2019",
     {TEXT("duration", "e.g. P15DT5H0M20S")},
     {NUMBER("time", Q_DURATION, "s", "its length"), TEXT("shortest", "the same in its shortest form")},
     run_duration},
};
const size_t calc_calendar_count = sizeof calc_calendar / sizeof *calc_calendar;
