/* The whole reading: decode, split, understand the columns, read the rows, hold meters against each other, and mark
 * what the log has already.
 *
 * The import key is the first half of SHA-256 (FIPS 180-4) over the meaning in a fixed form, one fact a line: version,
 * serial number, date with time where given, kind, name, value, unit, words. How the file wrote it is not in it; nor
 * are who, notes and hours beside it, so that a note added to the spreadsheet later does not make an entry twice. */
#include "csv_internal.h"

#include <math.h>
#include <sodium.h>
#include <stdarg.h>

#define FINDINGS_MOST 500

struct where csv_where(const struct csv_reading *r, uint32_t line, uint32_t column)
{
    return (struct where){r->in->name, line, column};
}

struct str csv_say(struct arena *a, const char *first, ...)
{
    struct text t = text_new(a);
    va_list rest;
    va_start(rest, first);
    for (const char *z = first; z; z = va_arg(rest, const char *)) {
        text_addz(&t, z);
    }
    va_end(rest);
    return text_str(&t);
}

/* Adds a reason to the few that a proposal has. */
static void add_reason(struct csv_reading *r, struct feed_csv_proposal *p, struct diag d)
{
    struct diag *why = ARENA_ARRAY(r->a, struct diag, p->n_why + 1);
    for (size_t i = 0; i < p->n_why; i++) {
        why[i] = p->why[i];
    }
    why[p->n_why++] = d;
    p->why = why;
}

void csv_doubt(struct csv_reading *r, struct feed_csv_proposal *p, struct where where, const char *rule,
               struct str what, struct str right)
{
    add_reason(r, p, (struct diag){.level = DIAG_DOUBT, .where = where, .rule = rule, .what = what, .right = right});
    p->mark = p->mark == FEED_CSV_TAKE ? FEED_CSV_DOUBTFUL : p->mark;
}

void csv_refuse(struct csv_reading *r, struct feed_csv_proposal *p, struct where where, const char *rule,
                struct str what, struct str right)
{
    add_reason(r, p, (struct diag){.level = DIAG_ERROR, .where = where, .rule = rule, .what = what, .right = right});
    p->mark = FEED_CSV_REFUSED;
}

/* ---- import keys ---- */

/* Words with every run of white space as one blank. */
static void add_words(struct text *t, struct str s)
{
    bool blank = false;
    for (size_t i = 0; i < s.n; i++) {
        bool white = s.p[i] == ' ' || s.p[i] == '\t' || s.p[i] == '\n' || s.p[i] == '\r';
        if (white) {
            blank = true;
            continue;
        }
        if (blank) {
            text_char(t, ' ');
        }
        blank = false;
        text_char(t, s.p[i]);
    }
}

/* Kinds whose words are what they say; of the others name and value are. */
static bool words_count(const struct feed_csv_proposal *p)
{
    return p->kind == FEED_CSV_NOTE || p->kind == FEED_CSV_FOUND || (p->kind == FEED_CSV_FAULT && p->spn < 0) ||
           (p->kind == FEED_CSV_PART && p->name.n == 0);
}

/* The key of a proposal: see the top of the file. */
static struct str import_key(struct csv_reading *r, const struct feed_csv_proposal *p)
{
    struct text t = text_new(r->scratch);
    text_addz(&t, "witmark csv 1\n");
    text_add(&t, r->in->machines[p->machine].serial);
    text_char(&t, '\n');
    text_day(&t, p->day);
    if (p->minute >= 0) {
        text_char(&t, ' ');
        text_int(&t, p->minute);
    }
    text_join(&t, "\n", feed_csv_kind_text(p->kind), "\n", (char *)0);
    text_add(&t, p->name);
    text_char(&t, '\n');
    if (isfinite(p->value)) {
        text_double(&t, p->value);
    }
    text_join(&t, "\n", p->unit ? p->unit->symbol : "", "\n", (char *)0);
    if (p->kind == FEED_CSV_FAULT && p->spn >= 0) {
        text_int(&t, p->spn);
        text_char(&t, ' ');
        text_int(&t, p->fmi);
    }
    if (words_count(p)) {
        add_words(&t, p->text);
    }
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, (const unsigned char *)t.p, t.n);
    static const char digits[] = "0123456789abcdef";
    struct text key = text_new(r->a);
    for (int i = 0; i < 16; i++) {
        text_char(&key, digits[hash[i] >> 4]);
        text_char(&key, digits[hash[i] & 15]);
    }
    return text_str(&key);
}

bool csv_is_first(const struct csv_reading *r, size_t i)
{
    int64_t first = -1;
    return map_get(&r->keys, r->proposals[i].import_key, &first) && first == (int64_t)i;
}

/* Marks what an earlier row or the log has already. */
static void mark_known(struct csv_reading *r, size_t i)
{
    struct feed_csv_proposal *p = &r->proposals[i];
    struct arena_mark mark = arena_mark(r->scratch);
    p->import_key = import_key(r, p);
    arena_rewind(r->scratch, mark);
    int64_t earlier = 0;
    struct diag d = {.level = DIAG_HINT, .where = p->where};
    if (map_get(&r->keys, p->import_key, &earlier)) {
        struct text line = text_new(r->a);
        text_int(&line, r->proposals[earlier].where.line);
        d.rule = "twice";
        d.what = csv_say(r->a, "line ", text_z(&line), " says the same", (char *)0);
    } else {
        map_put(&r->keys, p->import_key, (int64_t)i);
        if (!r->in->known || !r->in->known(r->in->ctx, p->import_key)) {
            return;
        }
        d.rule = "known";
        d.what = S("the log has it already");
    }
    add_reason(r, p, d);
    p->mark = FEED_CSV_KNOWN;
}

/* Marks, checks the meters against each other, counts. */
static void finish_proposals(struct csv_reading *r)
{
    for (size_t i = 0; i < r->n_proposals; i++) {
        if (r->proposals[i].mark != FEED_CSV_REFUSED) {
            mark_known(r, i);
        }
    }
    csv_meters_check(r);
    for (size_t i = 0; i < r->n_proposals; i++) {
        const struct feed_csv_proposal *p = &r->proposals[i];
        r->plan->count[p->mark]++;
        r->plan->asks += p->asks && p->mark == FEED_CSV_DOUBTFUL;
    }
}

/* ---- the file as a whole ---- */

/* Whether any column has that meaning. */
static bool has_column(const struct csv_reading *r, enum csv_meaning m)
{
    for (size_t k = 0; k < r->n_columns; k++) {
        if (r->columns[k].meaning == m) {
            return true;
        }
    }
    return false;
}

/* A machine that stands in a cell above the header, or in the file's name. */
static int machine_above_table(struct csv_reading *r)
{
    for (size_t row = 0; r->has_header && row < r->header; row++) {
        for (size_t k = 0; k < r->table.rows[row].n; k++) {
            const struct csv_cell *cell = &r->table.cells[r->table.rows[row].first + k];
            struct csv_found_machine f =
                cell->text.n ? csv_find_machine(r, cell->text) : (struct csv_found_machine){.index = -1};
            if (f.index >= 0 && f.exact) {
                return f.index;
            }
        }
    }
    struct csv_found_machine f = csv_find_machine(r, r->in->name);
    return f.exact ? f.index : -1;
}

/* Finds the one machine the file is about, where no column names one. */
static bool find_only_machine(struct csv_reading *r, struct err *e)
{
    r->only_machine = -1;
    if (r->in->options.machine.n) {
        struct csv_found_machine f = csv_find_machine(r, r->in->options.machine);
        if (f.index < 0) {
            return err_set(e, ERR_USAGE, str_z(r->a, f.right), str_z(r->a, f.why_not), (char *)0);
        }
        r->only_machine = f.index;
        return true;
    }
    if (has_column(r, CSV_MACHINE)) {
        return true;
    }
    r->only_machine = machine_above_table(r);
    r->only_machine_doubtful = true;
    if (r->only_machine < 0) {
        return err_at(e, csv_where(r, r->plan->header_line, 1), ERR_INPUT,
                      "a column such as Serial or Machine, or say which machine the file is about",
                      "no column names the machine", (char *)0);
    }
    return true;
}

/* Hints about lines that are no rows, and the damage of a quote that is never closed. */
static void say_lines(struct csv_reading *r)
{
    struct csv_table *t = &r->table;
    if (r->has_header && r->header > 0) {
        struct text n = text_new(r->a);
        text_int(&n, (int64_t)r->header);
        diags_add(&r->plan->findings,
                  (struct diag){.level = DIAG_HINT,
                                .where = csv_where(r, t->rows[0].line, 1),
                                .rule = "title",
                                .what = csv_say(r->a, text_z(&n), r->header == 1 ? " line" : " lines",
                                                " above the header left out", (char *)0)});
    }
    if (t->n_blank) {
        struct text n = text_new(r->a);
        text_int(&n, (int64_t)t->n_blank);
        diags_add(&r->plan->findings,
                  (struct diag){.level = DIAG_HINT,
                                .where = csv_where(r, t->first_blank, 1),
                                .rule = "blank",
                                .what = csv_say(r->a, text_z(&n), t->n_blank == 1 ? " blank line" : " blank lines",
                                                ", the first here", (char *)0)});
    }
    if (t->open_line) {
        r->plan->broken = true;
        diags_add(&r->plan->findings,
                  (struct diag){
                      .level = DIAG_ERROR,
                      .where = csv_where(r, t->open_line, t->open_column),
                      .rule = "quote",
                      .what = S("the quote that starts here is never closed"),
                      .right = S("a quote at the end of the cell, or two quotes for one that belongs to the text")});
    }
}

/* Refuses inputs that contradict themselves. */
static bool check_options(const struct feed_csv_input *in, struct err *e)
{
    char s = in->options.separator;
    if (s == '"' || s == '\n' || s == '\r' || s == ' ' || (unsigned char)s >= 0x80) {
        return err_set(e, ERR_USAGE, "comma, semicolon, tab or bar", "that can't separate cells", (char *)0);
    }
    return true;
}

/* Everything after the columns are understood. */
static bool read_rows(struct csv_reading *r, struct err *e)
{
    if (!has_column(r, CSV_DATE)) {
        return err_at(e, csv_where(r, r->plan->header_line, 1), ERR_INPUT,
                      "a column such as Date, Datum, Fecha; or say which it is: column=date",
                      "no column holds the date", (char *)0);
    }
    if (!find_only_machine(r, e)) {
        return false;
    }
    csv_columns_decide(r);
    r->above = (struct csv_above){-1, DAY_NONE, 0};
    for (size_t row = csv_first_data(r); row < r->table.n_rows; row++) {
        struct arena_mark mark = arena_mark(r->scratch);
        csv_row_read(r, row);
        arena_rewind(r->scratch, mark);
    }
    finish_proposals(r);
    say_lines(r);
    return true;
}

/* What the caller gets to see of the columns. */
static void publish_columns(struct csv_reading *r)
{
    struct feed_csv_column *columns = ARENA_ARRAY(r->a, struct feed_csv_column, r->n_columns + 1);
    for (size_t k = 0; k < r->n_columns; k++) {
        columns[k] = r->columns[k].is;
        columns[k].meaning = csv_meaning_text(r->columns[k].meaning);
    }
    r->plan->columns = columns;
    r->plan->n_columns = r->n_columns;
}

const struct feed_csv_plan *feed_csv_plan(struct arena *a, const struct feed_csv_input *in, struct err *e)
{
    struct feed_csv_plan *plan = ARENA_NEW(a, struct feed_csv_plan);
    struct arena scratch = arena_new(a->source);
    struct csv_reading r = {.a = a,
                            .scratch = &scratch,
                            .in = in,
                            .plan = plan,
                            .machines = map_new(a),
                            .names = map_new(a),
                            .keys = map_new(a)};
    plan->name = in->name;
    plan->findings = diags_new(a, FINDINGS_MOST);
    csv_machines_prepare(&r);
    csv_names_prepare(&r);
    bool ok = check_options(in, e) && csv_decode(a, in, &r.text, &plan->encoding, &plan->findings, e) &&
              csv_columns_find(&r, e) && read_rows(&r, e);
    if (ok) {
        publish_columns(&r);
        plan->proposals = r.proposals;
        plan->n_proposals = r.n_proposals;
        plan->may_take = !plan->broken && (plan->count[FEED_CSV_REFUSED] == 0 || in->options.skip_refused);
        diags_sort(&plan->findings);
    }
    arena_free(&scratch);
    return ok ? plan : NULL;
}

/* ---- words of options and kinds ---- */

const char *feed_csv_kind_text(enum feed_csv_kind kind)
{
    static const char *const words[] = {
#define X(symbol, word) word,
        FEED_CSV_KINDS(X)
#undef X
    };
    return words[kind];
}

const char *feed_csv_mark_text(enum feed_csv_mark mark)
{
    static const char *const words[] = {
#define X(symbol, word) word,
        FEED_CSV_MARKS(X)
#undef X
    };
    return words[mark];
}

/* The index of a word in a table; false when it is not there. */
static bool word_index(struct str word, const char *const *words, size_t n, int *index)
{
    for (size_t i = 0; i < n; i++) {
        if (str_eq_nocase(word, str_of(words[i]))) {
            *index = (int)i;
            return true;
        }
    }
    return false;
}

bool csv_dates_parse(struct str word, enum csv_dates *dates)
{
    static const char *const words[] = {
#define X(symbol, text) text,
        CSV_DATE_ORDERS(X)
#undef X
    };
    int index = 0;
    bool found = word_index(word, words, sizeof words / sizeof *words, &index);
    *dates = found ? (enum csv_dates)index : *dates;
    return found;
}

bool csv_decimals_parse(struct str word, enum csv_decimals *decimals)
{
    static const char *const words[] = {
#define X(symbol, text) text,
        CSV_DECIMAL_SIGNS(X)
#undef X
    };
    int index = 0;
    bool found = word_index(word, words, sizeof words / sizeof *words, &index);
    *decimals = found ? (enum csv_decimals)index : *decimals;
    return found;
}

bool csv_encoding_parse(struct str word, enum csv_encoding *encoding)
{
    static const char *const words[] = {"find", "utf-8", "utf-16le", "utf-16be", "windows-1252", "latin-1", "utf8"};
    static const enum csv_encoding encodings[] = {CSV_ENCODING_FIND, CSV_UTF8,        CSV_UTF16LE, CSV_UTF16BE,
                                                  CSV_WINDOWS1252,   CSV_WINDOWS1252, CSV_UTF8};
    int index = 0;
    bool found = word_index(word, words, sizeof words / sizeof *words, &index);
    *encoding = found ? encodings[index] : *encoding;
    return found;
}

bool csv_separator_parse(struct str word, char *separator)
{
    static const char *const words[] = {"comma", "semicolon", "tab", "bar", ",", ";", "\t", "|"};
    int index = 0;
    bool found = word_index(word, words, sizeof words / sizeof *words, &index);
    *separator = found ? ",;\t|"[index % 4] : *separator;
    return found;
}

bool feed_csv_mapping_parse(struct str option, struct feed_csv_mapping *mapping, struct err *e)
{
    size_t at = option.n;
    while (at > 0 && option.p[at - 1] != '=') {
        at--;
    }
    if (at == 0) {
        return err_set(e, ERR_USAGE, "column=meaning, such as \"Hrs at visit=meter\"", "\"", str_z(e->a, option),
                       "\" has no '='", (char *)0);
    }
    mapping->column = str_trim(str_cut(option, 0, at - 1));
    mapping->meaning = str_trim(str_cut(option, at, option.n));
    if (mapping->column.n == 0 || mapping->meaning.n == 0) {
        return err_set(e, ERR_USAGE, feed_csv_meanings(), "\"", str_z(e->a, option), "\" lacks ",
                       mapping->column.n ? "the meaning behind the '='" : "the column before the '='", (char *)0);
    }
    return true;
}
