/* A week belongs to the year of its Thursday. */
#include "calendar/week.h"

int day_of_year(day_t day)
{
    struct civil c = civil_of_day(day);
    day_t first = 0;
    day_of_civil((struct civil){c.year, 1, 1}, &first);
    return day - first + 1;
}

struct iso_week week_of_day(day_t day)
{
    int weekday = day_weekday(day);
    day_t thursday = day - weekday + 4;
    return (struct iso_week){civil_of_day(thursday).year, (day_of_year(thursday) - 1) / 7 + 1, weekday};
}

void text_week(struct text *t, day_t day)
{
    struct iso_week w = week_of_day(day);
    text_zeros(t, w.year, 4);
    text_addz(t, "-W");
    text_zeros(t, w.week, 2);
    text_char(t, '-');
    text_int(t, w.weekday);
}

void text_ordinal(struct text *t, day_t day)
{
    text_zeros(t, civil_of_day(day).year, 4);
    text_char(t, '-');
    text_zeros(t, day_of_year(day), 3);
}
