/* Reading quantities, ranges and intervals as people write them in a book or at a prompt.
 *
 * A text is walked with a cursor that knows how much of the whole it has passed, so that every refusal names its
 * column.
 */
#include "quantity_internal.h"

#include <math.h>

/* The text still to be read, and the whole for the column. */
struct cursor {
    struct str whole;
    size_t at;
};

static struct str rest_of(const struct cursor *c)
{
    return str_cut(c->whole, c->at, c->whole.n);
}

static void skip_blanks(struct cursor *c)
{
    while (c->at < c->whole.n && (c->whole.p[c->at] == ' ' || c->whole.p[c->at] == '\t')) {
        c->at++;
    }
}

/* Column in characters from 1, as editors count. */
static struct where place(const struct cursor *c)
{
    return (struct where){.column = (uint32_t)str_chars(str_cut(c->whole, 0, c->at)) + 1};
}

/* Digits of a fraction's part, up to six; returns how many. */
static size_t read_count(struct str s, double *value)
{
    size_t n = 0;
    double v = 0;
    while (n < s.n && n < 6 && s.p[n] >= '0' && s.p[n] <= '9') {
        v = v * 10 + (s.p[n++] - '0');
    }
    *value = v;
    return n;
}

/* "1/2" or one of the three signs for a half and quarters; returns the bytes read, 0 when none is there. */
static size_t read_fraction(struct str s, double *value)
{
    static const struct {
        const char *sign;
        double value;
    } signs[] = {{"\u00bd", 0.5}, {"\u00bc", 0.25}, {"\u00be", 0.75}};
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
        struct str sign = str_of(signs[i].sign);
        if (str_starts(s, sign)) {
            *value = signs[i].value;
            return sign.n;
        }
    }
    double above = 0;
    double below = 0;
    size_t n = read_count(s, &above);
    if (n == 0 || n >= s.n || s.p[n] != '/') {
        return 0;
    }
    size_t m = read_count(str_cut(s, n + 1, s.n), &below);
    if (m == 0 || below == 0) {
        return 0;
    }
    *value = above / below;
    return n + 1 + m;
}

/* A number, a fraction or a whole number followed by a fraction. */
static bool read_number(struct cursor *c, double *value, struct err *e)
{
    skip_blanks(c);
    struct cursor start = *c;
    struct str s = rest_of(c);
    bool minus = s.n && s.p[0] == '-';
    bool sign = minus || (s.n && s.p[0] == '+');
    double fraction = 0;
    size_t n = read_fraction(str_cut(s, sign, s.n), &fraction);
    if (n > 0) {
        c->at += sign + n;
        *value = minus ? -fraction : fraction;
        return true;
    }
    n = num_read(s, value);
    if (n == 0) {
        const char *right = s.n && (s.p[0] == '.' || s.p[0] == ',')
                                ? "a digit before the decimal point: 0.5 bar"
                                : "a number and its unit, such as 1.4 bar, -24 degC or 1 1/2 turns";
        return err_at(e, place(&start), ERR_INPUT, right,
                      s.n ? "no number where a quantity is expected: \"" : "nothing where a quantity is expected",
                      s.n ? str_z(e->a, str_cut(s, 0, 40)) : "", s.n ? "\"" : "", (char *)0);
    }
    c->at += n;
    struct str tail = rest_of(c);
    if (tail.n > 1 && tail.p[0] == ',' && tail.p[1] >= '0' && tail.p[1] <= '9') {
        return err_at(e, place(c), ERR_INPUT, "a point: 1.5", "a comma inside a number: \"", str_z(e->a, str_trim(s)),
                      "\"", (char *)0);
    }
    if (*value == floor(*value)) {
        struct cursor ahead = *c;
        skip_blanks(&ahead);
        n = read_fraction(rest_of(&ahead), &fraction);
        if (n > 0) {
            *value += minus ? -fraction : fraction;
            c->at = ahead.at + n;
        }
    }
    return true;
}

/* Everything up to the end is the unit; none is a bare number. */
static bool read_unit(struct cursor *c, const struct unit **unit, struct err *e)
{
    skip_blanks(c);
    *unit = NULL;
    struct str s = str_trim(rest_of(c));
    if (s.n == 0) {
        return true;
    }
    *unit = unit_find(s);
    if (*unit) {
        return true;
    }
    const char *word = str_z(e->a, str_cut(s, 0, 60));
    const char *choice = unit_ambiguity(s);
    if (choice) {
        return err_at(e, place(c), ERR_INPUT, choice, "\"", word, "\" could mean several units", (char *)0);
    }
    const struct unit *near = unit_nearest(s);
    struct text right = text_new(e->a);
    if (near) {
        text_join(&right, "did you mean ", near->symbol, " (", near->name, ")?", (char *)0);
    } else {
        text_addz(&right, "a unit such as bar, degC, N.m, L, V, h, %");
    }
    return err_at(e, place(c), ERR_INPUT, text_z(&right), "unknown unit \"", word, "\"", (char *)0);
}

/* Below absolute zero there is nothing to read. */
static bool check_temperature(const struct cursor *c, struct quantity q, struct err *e)
{
    double same = 0;
    if (!q.unit || q.unit->kind != Q_TEMPERATURE) {
        return true;
    }
    struct err local = err_new(e->a);
    if (unit_convert(q.value, q.unit, q.unit, &same, &local)) {
        return true;
    }
    return err_at(e, place(c), ERR_INPUT, str_z(e->a, local.right), str_z(e->a, local.what), (char *)0);
}

static bool read_quantity(struct cursor *c, struct quantity *q, struct err *e)
{
    skip_blanks(c);
    struct cursor start = *c;
    return read_number(c, &q->value, e) && read_unit(c, &q->unit, e) && check_temperature(&start, *q, e);
}

bool quantity_parse(struct str s, struct quantity *q, struct err *e)
{
    struct cursor c = {s, 0};
    struct quantity found = {0};
    if (!read_quantity(&c, &found, e)) {
        return false;
    }
    *q = found;
    return true;
}

/* Brings both limits to one unit: that of the only one written, else that of the lower limit. */
static bool join_limits(const struct cursor *c, struct quantity *low, struct quantity *high, struct err *e)
{
    if (!low->unit) {
        low->unit = high->unit;
    } else if (!high->unit) {
        high->unit = low->unit;
    }
    if (low->unit == high->unit) {
        return true;
    }
    struct err local = err_new(e->a);
    double value = 0;
    if (!unit_convert(high->value, high->unit, low->unit, &value, &local)) {
        return err_at(e, place(c), ERR_INPUT, "both limits in units of one kind", str_z(e->a, local.what), (char *)0);
    }
    *high = (struct quantity){value, low->unit};
    return true;
}

#define RANGE_RIGHT "low .. high, such as 1.4 .. 1.6 bar, .. 2.0 bar or 12.4 V .."

bool range_parse(struct str s, struct quantity_range *r, struct err *e)
{
    ptrdiff_t dots = str_find(s, S(".."));
    struct cursor c = {s, 0};
    if (dots < 0) {
        return err_at(e, place(&c), ERR_INPUT, RANGE_RIGHT, "no range: \"", str_z(e->a, str_cut(s, 0, 60)), "\"",
                      (char *)0);
    }
    struct cursor left = {str_cut(s, 0, (size_t)dots), 0};
    struct cursor right = {s, (size_t)dots + 2};
    skip_blanks(&right);
    bool has_low = str_trim(left.whole).n > 0;
    bool has_high = str_trim(rest_of(&right)).n > 0;
    struct quantity low = {0};
    struct quantity high = {0};
    if (!has_low && !has_high) {
        return err_at(e, place(&c), ERR_INPUT, RANGE_RIGHT, "a range without a limit", (char *)0);
    }
    struct cursor high_at = right;
    if ((has_low && !read_quantity(&left, &low, e)) || (has_high && !read_quantity(&right, &high, e))) {
        return false;
    }
    if (has_low && has_high) {
        if (!join_limits(&high_at, &low, &high, e)) {
            return false;
        }
        /* A lower limit written without its unit was read as a bare number. */
        if (!check_temperature(&c, low, e)) {
            return false;
        }
        if (low.value > high.value) {
            return err_at(e, place(&c), ERR_INPUT, "the lower limit first", "limits the wrong way round: \"",
                          str_z(e->a, str_trim(s)), "\"", (char *)0);
        }
    }
    *r = (struct quantity_range){has_low ? low.value : -HUGE_VAL, has_high ? high.value : HUGE_VAL,
                                 has_low ? low.unit : high.unit};
    return true;
}

/* Words for the parts of an interval; scale to hours, months or days. */
enum interval_part { PART_HOURS, PART_MONTHS, PART_DAYS };

static const struct {
    const char *word;
    enum interval_part part;
    int scale;
} interval_words[] = {
    {"h", PART_HOURS, 1},       {"hour", PART_HOURS, 1},   {"hours", PART_HOURS, 1},   {"hr", PART_HOURS, 1},
    {"hrs", PART_HOURS, 1},     {"month", PART_MONTHS, 1}, {"months", PART_MONTHS, 1}, {"year", PART_MONTHS, 12},
    {"years", PART_MONTHS, 12}, {"day", PART_DAYS, 1},     {"days", PART_DAYS, 1},     {"d", PART_DAYS, 1},
    {"week", PART_DAYS, 7},     {"weeks", PART_DAYS, 7},
};

#define INTERVAL_RIGHT "machine hours, months or days, such as 250 h, 12 months, 10 days or 250 h or 12 months"
#define INTERVAL_MOST 1e6 /* hours, months or days; more is a slip of the pen */

/* The letters at the cursor. */
static struct str read_word(struct cursor *c)
{
    skip_blanks(c);
    size_t from = c->at;
    while (c->at < c->whole.n && ((c->whole.p[c->at] | 0x20) >= 'a' && (c->whole.p[c->at] | 0x20) <= 'z')) {
        c->at++;
    }
    return str_cut(c->whole, from, c->at);
}

/* Row of interval_words, or -1 with the refusal in e. */
static ptrdiff_t interval_word(struct cursor *c, struct err *e)
{
    skip_blanks(c);
    struct where at = place(c);
    struct str word = read_word(c);
    struct str known[sizeof interval_words / sizeof *interval_words];
    for (size_t i = 0; i < sizeof interval_words / sizeof *interval_words; i++) {
        known[i] = str_of(interval_words[i].word);
        if (str_eq_nocase(word, known[i])) {
            return (ptrdiff_t)i;
        }
    }
    ptrdiff_t near = word.n > 1 ? str_nearest(word, known, sizeof known / sizeof *known) : -1;
    struct text right = text_new(e->a);
    if (near >= 0) {
        text_join(&right, "did you mean ", interval_words[near].word, "?", (char *)0);
    } else {
        text_addz(&right, INTERVAL_RIGHT);
    }
    struct str shown = word.n ? word : str_trim(str_cut(rest_of(c), 0, 20));
    err_at(e, at, ERR_INPUT, text_z(&right), shown.n ? "no unit of an interval: \"" : "an interval without its unit",
           shown.n ? str_z(e->a, shown) : "", shown.n ? "\"" : "", (char *)0);
    return -1;
}

/* One part: a positive count and its word, put into its field. */
static bool interval_part(struct cursor *c, struct interval *i, struct err *e)
{
    skip_blanks(c);
    struct where at = place(c);
    double count = 0;
    if (!read_number(c, &count, e)) {
        return false;
    }
    ptrdiff_t row = interval_word(c, e);
    if (row < 0) {
        return false;
    }
    const char *word = interval_words[row].word;
    enum interval_part part = interval_words[row].part;
    double total = count * interval_words[row].scale;
    if (!(total > 0)) {
        return err_at(e, at, ERR_INPUT, "more than 0", "an interval of nothing or less", (char *)0);
    }
    if (total > INTERVAL_MOST) {
        return err_at(e, at, ERR_INPUT, "at most 1000000 hours, months or days",
                      "an interval beyond any machine's life", (char *)0);
    }
    if (part != PART_HOURS && total != floor(total)) {
        return err_at(e, at, ERR_INPUT, part == PART_MONTHS ? "a whole number of months" : "a whole number of days",
                      "a part of a ", part == PART_MONTHS ? "month" : "day", (char *)0);
    }
    bool taken = part == PART_HOURS ? i->hours > 0 : part == PART_MONTHS ? i->months > 0 : i->days > 0;
    if (taken) {
        return err_at(e, at, ERR_INPUT, "each of hours, months and days once", "a second count in ", word, (char *)0);
    }
    switch (part) {
    case PART_HOURS:
        i->hours = total;
        break;
    case PART_MONTHS:
        i->months = (int)total;
        break;
    case PART_DAYS:
        i->days = (int)total;
        break;
    }
    return true;
}

bool interval_parse(struct str s, struct interval *i, struct err *e)
{
    static const struct str ending = {", whichever comes first", sizeof ", whichever comes first" - 1};
    s = str_cut(s, 0, s.n);
    struct str body = s;
    while (body.n > 0 && (body.p[body.n - 1] == ' ' || body.p[body.n - 1] == '\t')) {
        body.n--;
    }
    if (str_ends(body, ending)) {
        body.n -= ending.n;
    }
    struct cursor c = {body, 0};
    struct interval found = {0};
    do {
        if (!interval_part(&c, &found, e)) {
            return false;
        }
        skip_blanks(&c);
        if (c.at == body.n) {
            *i = found;
            return true;
        }
        struct where at = place(&c);
        struct str rest = str_cut(rest_of(&c), 0, 40);
        if (!str_eq_nocase(read_word(&c), S("or"))) {
            return err_at(e, at, ERR_INPUT, "\"or\" between the parts: 250 h or 12 months", "unexpected \"",
                          str_z(e->a, rest), "\"", (char *)0);
        }
    } while (true);
}
