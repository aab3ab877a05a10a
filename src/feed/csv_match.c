/* Which machine, checkpoint or task a cell's words mean.
 *
 * Serial numbers come back from spreadsheets without leading zeros, in lower case, with blanks for hyphens. A cell that
 * is not a serial number or label as it stands is compared under ever looser readings; the first reading that fits
 * exactly one machine is proposed, and said; one that fits several is refused.
 *
 * Words are compared as sets of words of the trade (csv_concepts). A name fits when the text holds all of its words or
 * its words hold all of the text's; the fit is 2 |both| / (|text| + |name|) (Dice's coefficient). */
#include "csv_internal.h"

#include <string.h>

#define REMEMBER_MOST 4096

/* ---- machines ---- */

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

static bool all_digits(struct str s)
{
    for (size_t i = 0; i < s.n; i++) {
        if (s.p[i] < '0' || s.p[i] > '9') {
            return false;
        }
    }
    return s.n > 0;
}

/* A serial number that a spreadsheet took for a number: "71234.0" -> "71234". */
static struct str without_zero_decimals(struct str s)
{
    for (size_t n = 2; n <= 3; n++) {
        struct str end = n == 2 ? str_cut(s, s.n > 2 ? s.n - 2 : 0, s.n) : str_cut(s, s.n > 3 ? s.n - 3 : 0, s.n);
        if ((str_eq(end, S(".0")) || str_eq(end, S(",0")) || str_eq(end, S(".00")) || str_eq(end, S(",00"))) &&
            all_digits(str_cut(s, 0, s.n - n))) {
            return str_cut(s, 0, s.n - n);
        }
    }
    return s;
}

/* Readings of a cell, from strict to loose. */
enum reading { READ_SERIAL, READ_LABEL, READ_INSIDE, READ_BARE, READ_ZEROS, READ_JOINED, READ_NUMBER, READINGS };

/* Whether the machine's serial or label stands in the text as whole words. */
static bool stands_inside(struct str text, struct str word)
{
    if (word.n < 4) {
        return false;
    }
    for (size_t i = 0; i + word.n <= text.n; i++) {
        if (str_eq(str_cut(text, i, i + word.n), word)) {
            bool starts = i == 0 || strchr(" ,;:()[]/_", text.p[i - 1]);
            bool ends = i + word.n == text.n || strchr(" ,;:()[]/_.", text.p[i + word.n]);
            if (starts && ends) {
                return true;
            }
        }
    }
    return false;
}

/* Whether the cell means the machine under that reading. */
static bool means_machine(struct arena *scratch, const struct feed_csv_machine *m, struct str cell,
                          enum reading reading)
{
    struct arena *a = scratch;
    switch (reading) {
    case READ_SERIAL:
        return str_eq(cell, m->serial);
    case READ_LABEL:
        return m->label.n > 0 && str_eq(csv_fold(a, cell), csv_fold(a, m->label));
    case READ_INSIDE:
        return stands_inside(cell, m->serial);
    case READ_BARE:
        return str_eq(bare(a, cell), bare(a, m->serial)) || (m->label.n && str_eq(bare(a, cell), bare(a, m->label)));
    case READ_ZEROS:
        return str_eq(loose(a, cell, false), loose(a, m->serial, false));
    case READ_JOINED:
        return str_eq(loose(a, cell, true), loose(a, m->serial, true));
    case READ_NUMBER:
        return all_digits(cell) && (str_eq(last_number(cell), last_number(m->serial)) ||
                                    (m->label.n > 0 && str_eq(last_number(cell), last_number(m->label))));
    case READINGS:
        break;
    }
    return false;
}

/* The serial numbers nearest to a word, as "did you mean". */
static struct str nearest_machine(struct csv_reading *r, struct str cell)
{
    int best = -1;
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
    for (int reading = READ_SERIAL; reading < READINGS; reading++) {
        int found = -1;
        int other = -1;
        for (size_t i = 0; i < r->in->n_machines && other < 0; i++) {
            if (means_machine(r->scratch, &r->in->machines[i], reading == READ_SERIAL ? cell : word,
                              (enum reading)reading)) {
                other = found >= 0 ? (int)i : -1;
                found = found >= 0 ? found : (int)i;
            }
        }
        if (other >= 0) {
            f.why_not =
                csv_say(r->a, "\"", str_z(r->a, cell), "\" could be ", str_z(r->a, r->in->machines[found].serial),
                        " or ", str_z(r->a, r->in->machines[other].serial), (char *)0);
            f.right = S("the whole serial number");
            return f;
        }
        if (found >= 0) {
            f.index = found;
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

/* ---- names ---- */

/* Words that alone say nothing about what they were done to. */
static bool is_doing(struct str word)
{
    return str_eq(word, S("change")) || str_eq(word, S("clean")) || str_eq(word, S("check"));
}

/* How well words fit a name: 0 = not, 1 = the same. */
static double fit(const struct csv_concepts *words, const struct csv_concepts *name)
{
    int shared = 0;
    int things = 0; /* of the shared */
    for (int i = 0, k = 0; i < words->n && k < name->n;) {
        int order = str_cmp(words->at[i], name->at[k]);
        shared += order == 0;
        things += order == 0 && !is_doing(words->at[i]);
        i += order <= 0;
        k += order >= 0;
    }
    if (things == 0 || (shared < words->n && shared < name->n)) {
        return 0;
    }
    return 2.0 * shared / (words->n + name->n);
}

/* Whether the words hold that one. */
static bool holds(const struct csv_concepts *c, struct str word)
{
    for (int i = 0; i < c->n; i++) {
        if (str_eq(c->at[i], word)) {
            return true;
        }
    }
    return false;
}

void csv_names_prepare(struct csv_reading *r)
{
    r->concepts = ARENA_ARRAY(r->a, const struct csv_concepts *, r->in->n_machines + 1);
    for (size_t i = 0; i < r->in->n_machines; i++) {
        const struct feed_csv_machine *m = &r->in->machines[i];
        for (size_t k = i; k-- > 0 && !r->concepts[i];) {
            bool same = r->in->machines[k].names == m->names && r->in->machines[k].n_names == m->n_names;
            r->concepts[i] = same ? r->concepts[k] : NULL;
        }
        if (r->concepts[i]) {
            continue;
        }
        struct csv_concepts *made = ARENA_ARRAY(r->a, struct csv_concepts, 2 * m->n_names + 1);
        for (size_t k = 0; k < m->n_names; k++) {
            made[2 * k] = csv_concepts(r->a, m->names[k].name);
            made[2 * k + 1] = csv_concepts(r->a, m->names[k].label);
        }
        r->concepts[i] = made;
    }
}

/* Exactly the name, its label or its part number. */
static int exact_name(struct arena *scratch, const struct feed_csv_machine *m, struct str words, unsigned kinds)
{
    struct str folded = csv_fold(scratch, words);
    for (size_t i = 0; folded.n && i < m->n_names; i++) {
        const struct feed_csv_name *n = &m->names[i];
        if ((n->kind & kinds) &&
            (str_eq(words, n->name) || (n->number.n && str_eq_nocase(words, n->number)) ||
             str_eq(folded, csv_fold(scratch, n->label)) || str_eq(folded, csv_fold(scratch, n->name)))) {
            return (int)i;
        }
    }
    return -1;
}

/* Looks through the machine's names of those kinds. "Oil" without more is the engine's: common practice, so a name that
 * has that one word more than the text wins a tie, and stays doubtful. */
static struct csv_found_name search_name(struct csv_reading *r, int machine, struct str words, unsigned kinds)
{
    struct csv_found_name f = {.index = -1, .other = -1};
    const struct feed_csv_machine *m = &r->in->machines[machine];
    f.index = exact_name(r->scratch, m, words, kinds);
    if (f.index >= 0) {
        f.sure = true;
        f.score = 1;
        return f;
    }
    struct csv_concepts text = csv_concepts(r->scratch, words);
    const struct csv_concepts *names = r->concepts[machine];
    double best = 0;
    double second = 0;
    bool best_engine = false;
    bool plain_oil = holds(&text, S("oil")) && !holds(&text, S("engine"));
    for (size_t i = 0; i < m->n_names; i++) {
        if (!(m->names[i].kind & kinds)) {
            continue;
        }
        double by_name = fit(&text, &names[2 * i]);
        double by_label = fit(&text, &names[2 * i + 1]);
        double score = by_name > by_label ? by_name : by_label;
        bool engine = holds(&names[2 * i], S("engine")) || holds(&names[2 * i + 1], S("engine"));
        bool wins_tie = score > 0 && score == best && engine && !best_engine && plain_oil;
        if (score > best || wins_tie) {
            second = best;
            f.other = f.index;
            best = score;
            f.index = (int)i;
            best_engine = engine;
        } else if (score > second) {
            second = score;
            f.other = (int)i;
        }
    }
    if (best < 0.4) {
        return (struct csv_found_name){.index = -1, .other = -1};
    }
    f.score = best;
    f.sure = best == 1 && second < 1;
    f.tie = second == best && !(best_engine && plain_oil);
    f.other = second > 0 ? f.other : -1;
    return f;
}

struct csv_found_name csv_find_name(struct csv_reading *r, int machine, struct str words, unsigned kinds)
{
    struct text key = text_new(r->scratch);
    text_int(&key, (int64_t)(intptr_t)r->concepts[machine]); /* stands for the table of names */
    text_char(&key, ' ');
    text_int(&key, (int64_t)kinds);
    text_char(&key, ' ');
    text_add(&key, words);
    int64_t at = 0;
    if (map_get(&r->names, text_str(&key), &at)) {
        return r->found_names[at];
    }
    struct csv_found_name f = search_name(r, machine, words, kinds);
    if (r->n_found_names < REMEMBER_MOST) {
        map_put(&r->names, str_copy(r->a, text_str(&key)), (int64_t)r->n_found_names);
        ARENA_PUSH(r->a, r->found_names, r->n_found_names, r->cap_found_names) = f;
    }
    return f;
}

bool csv_names_something(struct csv_reading *r, struct str words)
{
    unsigned kinds = FEED_CSV_NAME_MEASURE | FEED_CSV_NAME_LOOK | FEED_CSV_NAME_TASK;
    for (size_t i = 0; i < r->in->n_machines; i++) {
        if (i > 0 && r->concepts[i] == r->concepts[i - 1]) {
            continue;
        }
        struct csv_found_name f = csv_find_name(r, (int)i, words, kinds);
        if (f.index >= 0 && !f.tie) {
            return true;
        }
    }
    return false;
}
