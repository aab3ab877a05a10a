/* Numbers, dates and times as people type them.
 *
 * One cell alone often can't say how it is meant ("1,234", "3/4/27"). So reading goes in two steps: here a cell's form
 * tells what it allows; csv_column.c settles the rest from every value of the column. */
#include "csv_internal.h"

#include <math.h>
#include <string.h>

/* Whether a digit stands at i. */
static bool is_digit_at(struct str s, size_t i)
{
    return i < s.n && s.p[i] >= '0' && s.p[i] <= '9';
}

bool csv_is_digits(struct str s)
{
    for (size_t i = 0; i < s.n; i++) {
        if (!is_digit_at(s, i)) {
            return false;
        }
    }
    return s.n > 0;
}

/* ---- numbers ---- */

/* Bytes of a mark that groups thousands without being a point or comma: ' ’ blank, no-break blanks; 0 = none. */
static size_t group_mark(struct str s, size_t i)
{
    static const char *const marks[] = {"'", "\xE2\x80\x99", " ", "\xC2\xA0", "\xE2\x80\xAF"};
    for (size_t k = 0; k < sizeof marks / sizeof *marks; k++) {
        size_t n = strlen(marks[k]);
        if (i + n <= s.n && memcmp(s.p + i, marks[k], n) == 0) {
            return n;
        }
    }
    return 0;
}

/* Exactly three digits from i, and no fourth. */
static bool three_digits(struct str s, size_t i)
{
    return is_digit_at(s, i) && is_digit_at(s, i + 1) && is_digit_at(s, i + 2) && !is_digit_at(s, i + 3);
}

/* What is between the digits of a number. */
struct number_shape {
    size_t span;
    int points, commas;
    size_t last_point, last_comma; /* where the last of each stands */
    size_t first_mark;             /* where the first point or comma stands */
    bool exponent;
};

/* Looks over the number at the start of s: digits, marks that group or part them, an exponent. */
static struct number_shape shape_of(struct str s)
{
    struct number_shape h = {.first_mark = s.n};
    size_t i = s.n && (s.p[0] == '-' || s.p[0] == '+');
    if (str_starts(s, S("\xE2\x88\x92"))) { /* U+2212 minus */
        i = 3;
    }
    if (!is_digit_at(s, i)) {
        return h;
    }
    for (;;) {
        while (is_digit_at(s, i)) {
            i++;
        }
        h.span = i;
        if (i < s.n && (s.p[i] == '.' || s.p[i] == ',') && is_digit_at(s, i + 1)) {
            h.first_mark = h.first_mark == s.n ? i : h.first_mark;
            if (s.p[i] == '.') {
                h.points++;
                h.last_point = i;
            } else {
                h.commas++;
                h.last_comma = i;
            }
            i++;
            continue;
        }
        size_t mark = group_mark(s, i);
        if (mark == 0 || !three_digits(s, i + mark)) {
            break;
        }
        i += mark;
    }
    if (i + 1 < s.n && (s.p[i] == 'e' || s.p[i] == 'E')) {
        size_t j = i + 1 + (s.p[i + 1] == '+' || s.p[i + 1] == '-');
        while (is_digit_at(s, j)) {
            h.exponent = true;
            h.span = ++j;
        }
    }
    return h;
}

/* Every mark of that kind, from the first mark on, is followed by exactly three digits. */
static bool groups_of_three(struct str s, const struct number_shape *h, char mark, size_t to)
{
    for (size_t i = h->first_mark; i < to; i++) {
        if (s.p[i] == mark && !(three_digits(s, i + 1))) {
            return false;
        }
    }
    return true;
}

/* The form of a number with one kind of mark. */
static enum csv_number_form one_mark_form(struct str s, const struct number_shape *h, char mark, int count, size_t at)
{
    enum csv_number_form decimal = mark == '.' ? CSV_NUMBER_POINT : CSV_NUMBER_COMMA;
    enum csv_number_form thousands = mark == '.' ? CSV_NUMBER_COMMA : CSV_NUMBER_POINT;
    if (count > 1) {
        return groups_of_three(s, h, mark, h->span) ? thousands : CSV_NUMBER_BAD;
    }
    size_t before = 0;
    while (before < at && is_digit_at(s, at - 1 - before)) {
        before++;
    }
    bool could_group = three_digits(s, at + 1) && before >= 1 && before <= 3 && s.p[at - before] != '0';
    return could_group && !h->exponent ? CSV_NUMBER_EITHER : decimal;
}

enum csv_number_form csv_number_form(struct str s, size_t *span)
{
    struct number_shape h = shape_of(s);
    *span = h.span;
    if (h.span == 0) {
        return CSV_NUMBER_NONE;
    }
    if (h.points && h.commas) {
        bool point = h.last_point > h.last_comma;
        char thousands = point ? ',' : '.';
        bool well = (point ? h.points : h.commas) == 1 &&
                    groups_of_three(s, &h, thousands, point ? h.last_point : h.last_comma);
        return !well ? CSV_NUMBER_BAD : point ? CSV_NUMBER_POINT : CSV_NUMBER_COMMA;
    }
    if (h.points) {
        return one_mark_form(s, &h, '.', h.points, h.last_point);
    }
    return h.commas ? one_mark_form(s, &h, ',', h.commas, h.last_comma) : CSV_NUMBER_PLAIN;
}

bool csv_number_read(struct arena *scratch, struct str number, enum csv_decimals decimals, double *value)
{
    size_t span = 0;
    enum csv_number_form form = csv_number_form(number, &span);
    if (form == CSV_NUMBER_NONE || form == CSV_NUMBER_BAD || span != number.n || span > 60) {
        return false;
    }
    bool comma = form == CSV_NUMBER_COMMA || (form == CSV_NUMBER_EITHER && decimals == CSV_COMMA);
    struct text t = text_new(scratch);
    size_t i = 0;
    if (str_starts(number, S("\xE2\x88\x92"))) {
        text_char(&t, '-');
        i = 3;
    }
    for (; i < number.n; i++) {
        char c = number.p[i];
        if (c == (comma ? ',' : '.')) {
            text_char(&t, '.');
        } else if ((c >= '0' && c <= '9') || c == '-' || c == '+' || c == 'e' || c == 'E') {
            text_char(&t, c);
        }
    }
    return num_parse(text_str(&t), value);
}

/* ---- dates ---- */

/* Reads 1 to `most` digits at *i. Returns how many. */
static int read_digits(struct str s, size_t *i, int most, int *value)
{
    int n = 0;
    *value = 0;
    while (n < most && is_digit_at(s, *i)) {
        *value = *value * 10 + (s.p[*i] - '0');
        (*i)++;
        n++;
    }
    return is_digit_at(s, *i) ? 0 : n;
}

/* Bytes that belong to a word: letters, and every byte of a character beyond ASCII. */
static size_t word_length(struct str s, size_t i)
{
    size_t n = 0;
    while (i + n < s.n && (((unsigned char)s.p[i + n] >= 0x80) || (s.p[i + n] >= 'a' && s.p[i + n] <= 'z') ||
                           (s.p[i + n] >= 'A' && s.p[i + n] <= 'Z'))) {
        n++;
    }
    return n;
}

/* Passes blanks, and at most one of the marks, then blanks. Returns the mark, ' ' when only blanks were there, 0 =
 * none. */
static char pass_mark(struct str s, size_t *i, const char *marks)
{
    size_t from = *i;
    char mark = 0;
    while (*i < s.n && s.p[*i] == ' ') {
        (*i)++;
    }
    if (*i < s.n && s.p[*i] && strchr(marks, s.p[*i])) {
        mark = s.p[(*i)++];
        while (*i < s.n && s.p[*i] == ' ') {
            (*i)++;
        }
    }
    return mark ? mark : *i > from ? ' ' : 0;
}

/* A month's name at *i, with the point of an abbreviation. */
static int read_month(struct arena *scratch, struct str s, size_t *i)
{
    size_t n = word_length(s, *i);
    int month = n ? csv_month_word(csv_fold(scratch, str_cut(s, *i, *i + n))) : 0;
    if (month) {
        *i += n;
        *i += *i < s.n && s.p[*i] == '.';
    }
    return month;
}

/* The year of two digits as POSIX strptime reads %y: 69-99 are 1969-1999, 00-68 are 2000-2068. */
static int full_year(int year, int digits)
{
    return digits > 2 ? year : year >= 69 ? 1900 + year : 2000 + year;
}

/* An offset from UTC at the end of a time: Z, +hh:mm, -hhmm. Returns false when something else is there. */
static bool read_offset(struct str s, size_t i, struct csv_date *d)
{
    if (i == s.n) {
        return true;
    }
    if (s.n - i == 1 && (s.p[i] == 'Z' || s.p[i] == 'z')) {
        d->has_offset = true;
        return true;
    }
    int sign = s.p[i] == '-' ? -1 : 1;
    int hours = 0;
    int minutes = 0;
    if (s.p[i] != '+' && s.p[i] != '-') {
        return false;
    }
    i++;
    if (!is_digit_at(s, i) || !is_digit_at(s, i + 1)) {
        return false;
    }
    hours = (s.p[i] - '0') * 10 + (s.p[i + 1] - '0');
    i += 2;
    i += i < s.n && s.p[i] == ':';
    if (i < s.n && (read_digits(s, &i, 2, &minutes) != 2 || i != s.n)) {
        return false;
    }
    d->has_offset = hours <= 14 && minutes < 60;
    d->offset_min = sign * (hours * 60 + minutes);
    return d->has_offset;
}

/* A time of day at the start of s: *end is where it stops. */
static bool read_clock(struct arena *scratch, struct str s, size_t *end, int *minute)
{
    size_t i = 0;
    int hour = 0;
    int minutes = 0;
    int seconds = 0;
    if (read_digits(s, &i, 2, &hour) == 0) {
        return false;
    }
    bool has_minutes = false;
    if (i < s.n && (s.p[i] == ':' || s.p[i] == '.' || s.p[i] == 'h' || s.p[i] == 'H')) {
        bool letter = s.p[i] == 'h' || s.p[i] == 'H';
        i++;
        has_minutes = read_digits(s, &i, 2, &minutes) == 2;
        if (!has_minutes && !letter) {
            return false;
        }
        has_minutes = true;
    }
    if (has_minutes && i < s.n && s.p[i] == ':') {
        i++;
        if (read_digits(s, &i, 2, &seconds) != 2) {
            return false;
        }
        while (i < s.n && (s.p[i] == '.' || s.p[i] == ',' || is_digit_at(s, i))) {
            i++; /* parts of a second */
        }
    }
    size_t word = i;
    while (word < s.n && s.p[word] == ' ') {
        word++;
    }
    struct str rest = csv_fold(scratch, str_cut(s, word, s.n));
    bool pm = str_eq(rest, S("pm")) || str_eq(rest, S("p m"));
    bool am = str_eq(rest, S("am")) || str_eq(rest, S("a m"));
    bool said = str_eq(rest, S("uhr")) || str_eq(rest, S("h"));
    if ((pm || am) && (hour < 1 || hour > 12)) {
        return false;
    }
    if (!has_minutes && !pm && !am && !said) {
        return false;
    }
    hour = pm && hour < 12 ? hour + 12 : am && hour == 12 ? 0 : hour;
    *end = pm || am || said ? s.n : i;
    *minute = hour * 60 + minutes;
    return hour < 24 && minutes < 60 && seconds < 61;
}

bool csv_time_read(struct arena *scratch, struct str s, int *minute)
{
    size_t end = 0;
    return read_clock(scratch, s, &end, minute) && end == s.n;
}

/* What follows the date: nothing, or a time of day with an offset perhaps. */
static void read_rest(struct arena *scratch, struct str s, size_t i, struct csv_date *d)
{
    d->minute = -1;
    while (i < s.n && (s.p[i] == ' ' || s.p[i] == 'T' || s.p[i] == ',')) {
        i++;
    }
    if (i == s.n) {
        return;
    }
    size_t end = 0;
    struct str clock = str_cut(s, i, s.n);
    if (!read_clock(scratch, clock, &end, &d->minute) || !read_offset(clock, end, d)) {
        d->bad_time = true;
        d->minute = -1;
    }
}

/* "14 April 2027", "14. Apr. 27", "14-Apr-2027", "April 14, 2027": a month's name settles the order. */
static bool read_named(struct arena *scratch, struct str s, size_t *i, struct csv_date *d)
{
    int day = 0;
    int year = 0;
    size_t at = *i;
    int month = read_month(scratch, s, &at);
    if (month) {
        pass_mark(s, &at, "-./");
        if (read_digits(s, &at, 2, &day) == 0) {
            return false;
        }
        pass_mark(s, &at, ",.");
    } else {
        if (read_digits(s, &at, 2, &day) == 0) {
            return false;
        }
        pass_mark(s, &at, "-./");
        struct str of = S("de ");
        at += str_starts(str_cut(s, at, s.n), of) ? of.n : 0;
        month = read_month(scratch, s, &at);
        if (!month) {
            return false;
        }
        pass_mark(s, &at, "-./,");
        at += str_starts(str_cut(s, at, s.n), of) ? of.n : 0;
    }
    int digits = read_digits(s, &at, 4, &year);
    d->no_year = digits == 0;
    d->two_digits = digits == 2;
    if (digits != 0 && digits != 2 && digits != 4) {
        return false;
    }
    d->civil = (struct civil){full_year(year, digits), month, day};
    day_t check;
    *i = at;
    return d->no_year || day_of_civil(d->civil, &check);
}

/* Eight digits, YYYYMMDD. */
static bool read_compact(struct str s, size_t *i, struct csv_date *d)
{
    size_t at = *i;
    int number = 0;
    if (read_digits(s, &at, 8, &number) != 8) {
        return false;
    }
    d->civil = (struct civil){number / 10000, number / 100 % 100, number % 100};
    day_t check;
    *i = at;
    return d->civil.year >= 1900 && d->civil.year < 2200 && day_of_civil(d->civil, &check);
}

/* Three numbers between equal marks. Four digits first are a year, and the order is that of ISO 8601. */
static bool read_triple(struct str s, size_t *i, struct csv_date *d)
{
    size_t at = *i;
    int n[3] = {0};
    n[0] = read_digits(s, &at, 4, &d->g[0]);
    char mark = pass_mark(s, &at, "/.-");
    n[1] = n[0] ? read_digits(s, &at, 2, &d->g[1]) : 0;
    if (!mark || !n[1]) {
        return false;
    }
    char second = pass_mark(s, &at, "/.-");
    n[2] = read_digits(s, &at, 4, &d->g[2]);
    if (n[2] == 0 && n[0] <= 2 && (at == s.n)) {
        d->no_year = true;
        return true;
    }
    if (second != mark || n[0] == 3 || n[2] == 3 || n[2] == 0) {
        return false;
    }
    d->mark = mark;
    *i = at;
    if (n[0] == 4) {
        d->civil = (struct civil){d->g[0], d->g[1], d->g[2]};
        day_t check;
        return n[2] <= 2 && day_of_civil(d->civil, &check);
    }
    d->numbers = true;
    d->two_digits = n[2] <= 2;
    return n[2] == 4 || n[2] == 2;
}

/* A spreadsheet's day number, 1900 system: 25569 = 1970-01-01. Source: ISO/IEC 29500-1 18.17.4.1. Only those of the
 * years 1990 to 2100 are taken for a date; the part after the point is the time of day. */
static bool read_day_number(struct arena *scratch, struct str s, struct csv_date *d)
{
    double v = 0;
    if (!csv_number_read(scratch, s, CSV_POINT, &v) || v < 32874 || v > 73415 || s.n < 5 || is_digit_at(s, 5)) {
        return false;
    }
    double whole = floor(v);
    d->civil = civil_of_day((day_t)whole - 25569);
    int minute = (int)floor((v - whole) * 1440 + 0.5);
    d->minute = v > whole && minute < 1440 ? minute : -1;
    d->day_number = true;
    return true;
}

/* Passes "Mo ", "Mon,", "Montag, " in front of a date. */
static size_t pass_weekday(struct arena *scratch, struct str s)
{
    size_t n = word_length(s, 0);
    if (n < 2 || !csv_is_weekday_word(csv_fold(scratch, str_cut(s, 0, n)))) {
        return 0;
    }
    while (n < s.n && (s.p[n] == '.' || s.p[n] == ',' || s.p[n] == ' ')) {
        n++;
    }
    return is_digit_at(s, n) ? n : 0;
}

struct csv_date csv_date_read(struct arena *scratch, struct str s)
{
    struct csv_date none = {.minute = -1};
    if (s.n > 60) {
        return none;
    }
    size_t from[2] = {pass_weekday(scratch, s), 0};
    for (int k = 0; k < 2; k++) {
        size_t i = from[k];
        struct csv_date d = none;
        if (read_compact(s, &i, &d)) {
            d.ok = true;
        } else {
            d = none;
            i = from[k];
            d.ok = read_triple(s, &i, &d);
        }
        if (!d.ok) {
            d = none;
            i = from[k];
            d.ok = read_named(scratch, s, &i, &d);
        }
        if (d.ok) {
            d.ok = !d.no_year;
            if (d.ok) {
                read_rest(scratch, s, i, &d);
            }
            return d;
        }
        if (from[0] == 0) {
            break;
        }
    }
    struct csv_date d = none;
    d.ok = read_day_number(scratch, s, &d);
    return d.ok ? d : none;
}

bool csv_date_in_order(const struct csv_date *d, enum csv_dates order, day_t *day)
{
    if (!d->numbers) {
        return day_of_civil(d->civil, day);
    }
    int digits = d->two_digits ? 2 : 4;
    struct civil c = {full_year(d->g[2], digits), d->g[1], d->g[0]};
    if (order == CSV_MONTH_FIRST) {
        c.month = d->g[0];
        c.day = d->g[1];
    } else if (order == CSV_ISO) {
        c = (struct civil){full_year(d->g[0], 2), d->g[1], d->g[2]};
    }
    return (order != CSV_ISO || d->two_digits) && day_of_civil(c, day);
}
