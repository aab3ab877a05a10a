/* Which machine a cell means.
 *
 * Serial numbers come back from spreadsheets without leading zeros, in lower case, with blanks for hyphens. A cell that
 * is not a serial number or label as it stands is compared under ever looser readings; the first reading that fits
 * exactly one machine is proposed, and said; one that fits several is refused. Every reading has its own table of what
 * the machines are called under it, so that a look-up costs the same in a depot of ten and of ten thousand. */
#include "csv_internal.h"

#include <string.h>

#define REMEMBER_MOST 4096

/* Letters and digits only, upper case. */
static struct str bare(struct arena *a, struct str s)
{
    struct text t = text_new(a);
    struct str folded = csv_fold(a, s);
    for (size_t i = 0; i < folded.n; i++) {
        char c = folded.p[i];
        if (c != ' ') {
            text_char(&t, c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c);
        }
    }
    return text_str(&t);
}

/* As bare, but each run of digits without its leading zeros, and with a point wherever a run of digits met something
 * else than a letter: "BR6-01234" -> "BR6.1234". With `joined` the points are left out: "BR61234". */
static struct str loose(struct arena *a, struct str s, bool joined)
{
    struct text t = text_new(a);
    struct str folded = csv_fold(a, s);
    bool in_digits = false;
    for (size_t i = 0; i < folded.n; i++) {
        char c = folded.p[i];
        bool digit = c >= '0' && c <= '9';
        if (c == '0' && !in_digits && i + 1 < folded.n && folded.p[i + 1] >= '0' && folded.p[i + 1] <= '9') {
            continue; /* a leading zero, not the last digit of its run */
        }
        in_digits = digit;
        if (c == ' ') {
            if (!joined) {
                text_char(&t, '.');
            }
        } else {
            text_char(&t, c >= 'a' && c <= 'z' ? (char)(c - 'a' + 'A') : c);
        }
    }
    return text_str(&t);
}

/* The last run of digits, without leading zeros; empty when there is none. */
static struct str last_number(struct str s)
{
    size_t to = s.n;
    while (to > 0 && (s.p[to - 1] < '0' || s.p[to - 1] > '9')) {
        to--;
    }
    size_t from = to;
    while (from > 0 && s.p[from - 1] >= '0' && s.p[from - 1] <= '9') {
        from--;
    }
    while (from + 1 < to && s.p[from] == '0') {
        from++;
    }
    return str_cut(s, from, to);
}

/* A serial number that a spreadsheet took for a number: "71234.0" -> "71234". */
static struct str without_zero_decimals(struct str s)
{
    for (size_t n = 2; n <= 3; n++) {
        struct str end = n == 2 ? str_cut(s, s.n > 2 ? s.n - 2 : 0, s.n) : str_cut(s, s.n > 3 ? s.n - 3 : 0, s.n);
        if ((str_eq(end, S(".0")) || str_eq(end, S(",0")) || str_eq(end, S(".00")) || str_eq(end, S(",00"))) &&
            csv_is_digits(str_cut(s, 0, s.n - n))) {
            return str_cut(s, 0, s.n - n);
        }
    }
    return s;
}

/* The words of a serial number or label under a reading; empty when that reading does not apply to it. */
static struct str words_under(struct arena *a, enum csv_machine_reading reading, struct str s, bool is_label)
{
    switch (reading) {
    case READ_SERIAL:
        return is_label ? (struct str){0} : s;
    case READ_LABEL:
        return is_label ? csv_fold(a, s) : (struct str){0};
    case READ_BARE:
        return bare(a, s);
    case READ_ZEROS:
        return is_label ? (struct str){0} : loose(a, s, false);
    case READ_JOINED:
        return is_label ? (struct str){0} : loose(a, s, true);
    case READ_NUMBER:
        return last_number(s);
    case READ_INSIDE:
    case READINGS:
        break;
    }
    return (struct str){0};
}

/* The same of a cell, which may be either. Only a cell that is a number is read as one. */
static struct str cell_under(struct arena *a, enum csv_machine_reading reading, struct str cell)
{
    if (reading == READ_NUMBER) {
        return csv_is_digits(cell) ? last_number(cell) : (struct str){0};
    }
    return words_under(a, reading, cell, reading == READ_LABEL);
}

/* A first and another machine for one word, in one number, and back; other = -1: none. */
static int64_t pair_of(int first, int other)
{
    return (int64_t)(other + 1) * INT32_MAX + first;
}
static int first_of(int64_t pair)
{
    return (int)(pair % INT32_MAX);
}
static int other_of(int64_t pair)
{
    return (int)(pair / INT32_MAX) - 1;
}

/* Notes that a word means a machine; a second machine makes it ambiguous. */
static void note_word(struct map *m, struct str word, int machine)
{
    int64_t pair = 0;
    if (word.n == 0) {
        return;
    }
    if (!map_get(m, word, &pair)) {
        map_put(m, word, pair_of(machine, -1));
    } else if (first_of(pair) != machine && other_of(pair) < 0) {
        map_put(m, word, pair_of(first_of(pair), machine));
    }
}

void csv_machines_prepare(struct csv_reading *r)
{
    for (int reading = 0; reading < READINGS; reading++) {
        r->machines_by[reading] = map_new(r->a);
        for (size_t i = 0; i < r->in->n_machines; i++) {
            const struct feed_csv_machine *m = &r->in->machines[i];
            struct map *by = &r->machines_by[reading];
            note_word(by, words_under(r->a, (enum csv_machine_reading)reading, m->serial, false), (int)i);
            note_word(by, words_under(r->a, (enum csv_machine_reading)reading, m->label, true), (int)i);
        }
    }
}

/* Serial numbers that stand in the text as whole words: "Sweeper (BR6-01234)", "log_BR6-01234.csv". */
static bool find_inside(const struct csv_reading *r, struct str text, int64_t *pair)
{
    bool found = false;
    for (size_t i = 0; i < text.n;) {
        size_t from = i;
        while (i < text.n && !strchr(" ,;:()[]/_\n\r", text.p[i])) {
            i++;
        }
        struct str word = str_cut(text, from, i);
        ptrdiff_t point = str_find(word, S("."));
        int64_t here = 0;
        bool known = map_get(&r->machines_by[READ_SERIAL], word, &here) ||
                     (point > 0 && map_get(&r->machines_by[READ_SERIAL], str_cut(word, 0, (size_t)point), &here));
        if (known && word.n >= 4 && word.n < text.n) {
            *pair = !found || first_of(*pair) == first_of(here) ? here : pair_of(first_of(*pair), first_of(here));
            found = true;
        }
        i++;
    }
    return found;
}

/* The serial numbers nearest to a word, as "did you mean". */
static struct str nearest_machine(struct csv_reading *r, struct str cell)
{
    int best = -1;
    if (r->n_found_machines == REMEMBER_MOST) { /* a file of nonsense must not cost machines times rows */
        return S("the serial number or label of a machine of this depot");
    }
    size_t least = cell.n / 2 + 2;
    for (size_t i = 0; i < r->in->n_machines; i++) {
        const struct feed_csv_machine *m = &r->in->machines[i];
        size_t d = str_distance(bare(r->scratch, str_cut(cell, 0, 80)), bare(r->scratch, m->serial), least);
        if (m->label.n) {
            size_t by_label = str_distance(bare(r->scratch, str_cut(cell, 0, 80)), bare(r->scratch, m->label), least);
            d = by_label < d ? by_label : d;
        }
        if (d < least) {
            least = d;
            best = (int)i;
        }
    }
    if (best < 0) {
        return S("the serial number or label of a machine of this depot");
    }
    const struct feed_csv_machine *m = &r->in->machines[best];
    return csv_say(r->a, "perhaps ", str_z(r->a, m->serial), m->label.n ? " (" : "",
                   m->label.n ? str_z(r->a, m->label) : "", m->label.n ? "), the nearest known" : ", the nearest known",
                   (char *)0);
}

/* Looks through all readings. */
static struct csv_found_machine search_machine(struct csv_reading *r, struct str cell)
{
    struct csv_found_machine f = {.index = -1};
    struct str word = without_zero_decimals(cell);
    for (int k = READ_SERIAL; k < READINGS; k++) {
        enum csv_machine_reading reading = (enum csv_machine_reading)k;
        struct str under = cell_under(r->scratch, reading, reading == READ_SERIAL ? cell : word);
        int64_t pair = 0;
        bool found = reading == READ_INSIDE ? find_inside(r, cell, &pair)
                                            : under.n && map_get(&r->machines_by[reading], under, &pair);
        if (found && other_of(pair) >= 0) {
            const struct feed_csv_machine *m = r->in->machines;
            f.why_not = csv_say(r->a, "\"", str_z(r->a, cell), "\" could be ", str_z(r->a, m[first_of(pair)].serial),
                                " or ", str_z(r->a, m[other_of(pair)].serial), (char *)0);
            f.right = S("the whole serial number");
            return f;
        }
        if (found) {
            f.index = first_of(pair);
            f.exact = reading <= READ_INSIDE;
            return f;
        }
    }
    f.why_not = csv_say(r->a, "no machine \"", str_z(r->a, cell), "\" is known", (char *)0);
    f.right = nearest_machine(r, cell);
    return f;
}

struct csv_found_machine csv_find_machine(struct csv_reading *r, struct str cell)
{
    int64_t at = 0;
    if (map_get(&r->machines, cell, &at)) {
        return r->found_machines[at];
    }
    struct csv_found_machine f = search_machine(r, cell);
    if (r->n_found_machines < REMEMBER_MOST) {
        map_put(&r->machines, cell, (int64_t)r->n_found_machines);
        ARENA_PUSH(r->a, r->found_machines, r->n_found_machines, r->cap_found_machines) = f;
    }
    return f;
}
