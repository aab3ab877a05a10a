/* Civil dates and instants. Day numbers by counting from 1 March of year 0, so that the leap day is the last of its
 * year and months have a regular length pattern of 153 days in five months. */
#include "base/date.h"

#define MS_PER_DAY 86400000

static bool is_leap(int year)
{
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static int month_days(int year, int month)
{
    static const int days[12] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return month == 2 && is_leap(year) ? 29 : days[month - 1];
}

bool day_of_civil(struct civil c, day_t *day)
{
    if (c.year < 1 || c.year > 9999 || c.month < 1 || c.month > 12 || c.day < 1 ||
        c.day > month_days(c.year, c.month)) {
        return false;
    }
    int y = c.month <= 2 ? c.year - 1 : c.year;
    int era = y / 400;
    int year_of_era = y - era * 400;
    int day_of_year = (153 * (c.month + (c.month > 2 ? -3 : 9)) + 2) / 5 + c.day - 1;
    int day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    *day = era * 146097 + day_of_era - 719468;
    return true;
}

struct civil civil_of_day(day_t day)
{
    int z = day + 719468;
    int era = (z >= 0 ? z : z - 146096) / 146097;
    int day_of_era = z - era * 146097;
    int year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int m = (5 * day_of_year + 2) / 153;
    struct civil c = {
        .year = year_of_era + era * 400,
        .month = m < 10 ? m + 3 : m - 9,
        .day = day_of_year - (153 * m + 2) / 5 + 1,
    };
    c.year += c.month <= 2;
    return c;
}

day_t day_add_months(day_t day, int months)
{
    struct civil c = civil_of_day(day);
    int m = c.year * 12 + (c.month - 1) + months;
    c.year = m / 12;
    c.month = m % 12 + 1;
    if (m < 12) { /* before year 1 */
        c = (struct civil){1, 1, 1};
    } else if (c.year > 9999) {
        c = (struct civil){9999, 12, 31};
    } else if (c.day > month_days(c.year, c.month)) {
        c.day = month_days(c.year, c.month);
    }
    day_t to = 0;
    (void)day_of_civil(c, &to);
    return to;
}

int day_weekday(day_t day)
{
    int w = (day + 3) % 7; /* 1970-01-01 was a Thursday */
    return (w < 0 ? w + 7 : w) + 1;
}

/* Exactly n digits at *i; moves *i past them. */
static bool digits(struct str s, size_t *i, int n, int *value)
{
    int v = 0;
    for (int k = 0; k < n; k++, (*i)++) {
        if (*i >= s.n || s.p[*i] < '0' || s.p[*i] > '9') {
            return false;
        }
        v = v * 10 + (s.p[*i] - '0');
    }
    *value = v;
    return true;
}

static bool literal(struct str s, size_t *i, char c)
{
    return *i < s.n && s.p[(*i)++] == c;
}

static bool date_part(struct str s, size_t *i, day_t *day)
{
    struct civil c = {0};
    return digits(s, i, 4, &c.year) && literal(s, i, '-') && digits(s, i, 2, &c.month) && literal(s, i, '-') &&
           digits(s, i, 2, &c.day) && day_of_civil(c, day);
}

bool day_parse(struct str s, day_t *day)
{
    size_t i = 0;
    return date_part(s, &i, day) && i == s.n;
}

void text_day(struct text *t, day_t day)
{
    struct civil c = civil_of_day(day);
    text_zeros(t, c.year, 4);
    text_char(t, '-');
    text_zeros(t, c.month, 2);
    text_char(t, '-');
    text_zeros(t, c.day, 2);
}

/* Z or +hh:mm; minutes east of UTC. */
static bool offset_part(struct str s, size_t *i, int *minutes)
{
    if (*i >= s.n) {
        return false;
    }
    char sign = s.p[(*i)++];
    if (sign == 'Z' || sign == 'z') {
        *minutes = 0;
        return true;
    }
    int h = 0;
    int m = 0;
    if ((sign != '+' && sign != '-') || !digits(s, i, 2, &h) || !literal(s, i, ':') || !digits(s, i, 2, &m) || h > 23 ||
        m > 59) {
        return false;
    }
    *minutes = (sign == '-' ? -1 : 1) * (h * 60 + m);
    return true;
}

bool instant_parse(struct str s, instant_ms *at)
{
    size_t i = 0;
    day_t day = 0;
    int h = 0;
    int m = 0;
    int sec = 0;
    int ms = 0;
    int offset = 0;
    if (!date_part(s, &i, &day) || i >= s.n || (s.p[i] != 'T' && s.p[i] != 't' && s.p[i] != ' ')) {
        return false;
    }
    i++;
    if (!digits(s, &i, 2, &h) || !literal(s, &i, ':') || !digits(s, &i, 2, &m)) {
        return false;
    }
    if (i < s.n && s.p[i] == ':') {
        i++;
        if (!digits(s, &i, 2, &sec)) {
            return false;
        }
        if (i < s.n && s.p[i] == '.') {
            i++;
            int weight = 100;
            size_t from = i;
            for (; i < s.n && s.p[i] >= '0' && s.p[i] <= '9'; i++) {
                ms += (s.p[i] - '0') * weight;
                weight /= 10;
            }
            if (i == from) {
                return false;
            }
        }
    }
    if (h > 23 || m > 59 || sec > 60 || !offset_part(s, &i, &offset) || i != s.n) {
        return false;
    }
    if (sec == 60) { /* a leap second has no place of its own: the last millisecond before it */
        sec = 59;
        ms = 999;
    }
    *at = (instant_ms)day * MS_PER_DAY + (((int64_t)h * 60 + m - offset) * 60 + sec) * 1000 + ms;
    return true;
}

/* Floor division: the day before 1970 is -1. */
static int64_t floor_div(int64_t a, int64_t b)
{
    int64_t q = a / b;
    return a % b < 0 ? q - 1 : q;
}

void text_instant(struct text *t, instant_ms at)
{
    int64_t day = floor_div(at, MS_PER_DAY);
    int64_t ms = at - day * MS_PER_DAY;
    text_day(t, (day_t)day);
    text_char(t, 'T');
    text_zeros(t, ms / 3600000, 2);
    text_char(t, ':');
    text_zeros(t, ms / 60000 % 60, 2);
    text_char(t, ':');
    text_zeros(t, ms / 1000 % 60, 2);
    text_char(t, '.');
    text_zeros(t, ms % 1000, 3);
    text_char(t, 'Z');
}

day_t day_of_instant(instant_ms at, int offset_minutes)
{
    return (day_t)floor_div(at + (int64_t)offset_minutes * 60000, MS_PER_DAY);
}
