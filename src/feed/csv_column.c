/* What the columns mean, and how their numbers and dates are written.
 *
 * The separator is the one under which some row near the top is most plainly a header: it is scored by how many of its
 * cells are words that csv_words.c knows or that name a checkpoint or task. Rows above it are titles.
 *
 * Order of day and month, and the decimal sign, are settled by every value of a column: 14/4/2027 can only be day
 * first, 12,5 only a decimal comma. Where no value settles it, other columns do (for numbers), or the day of today (a
 * reading from the future is none); else it is a guess that every row with such a value says, and that an option
 * settles. */
#include "csv_internal.h"

#include <string.h>

#define HEADER_ROWS 60      /* how far down a header is looked for */
#define HEADER_CELL_MOST 60 /* a longer cell is a sentence */

/* A cell of the table; null where the row is shorter. */
static const struct csv_cell *cell_at(const struct csv_table *t, size_t row, size_t column)
{
    return column < t->rows[row].n ? &t->cells[t->rows[row].first + column] : NULL;
}

/* ---- units in headers ---- */

/* The text within the last ( ) or [ ], and what is left without it. Empty when there is none. */
static struct str in_brackets(struct arena *a, struct str header, struct str *left)
{
    *left = header;
    for (size_t i = header.n; i-- > 0;) {
        char close = header.p[i] == '(' ? ')' : header.p[i] == '[' ? ']' : 0;
        if (close) {
            const char *end = memchr(header.p + i, close, header.n - i);
            size_t to = end ? (size_t)(end - header.p) : header.n;
            struct text t = text_new(a);
            text_add(&t, str_cut(header, 0, i));
            text_char(&t, ' ');
            text_add(&t, str_cut(header, to + 1, header.n));
            *left = str_trim(text_str(&t));
            return str_trim(str_cut(header, i + 1, to));
        }
    }
    return (struct str){0};
}

/* The unit at the end of a header without brackets: "Druck in bar", "Pressure / psi", "presion en bar". */
static const struct unit *unit_at_end(struct str header, struct str *left)
{
    static const char *const joins[] = {" in ", " en ", " / ", "/", ", "};
    for (size_t k = 0; k < sizeof joins / sizeof *joins; k++) {
        size_t n = strlen(joins[k]);
        for (size_t i = header.n; i-- > 1;) {
            if (i + n < header.n && memcmp(header.p + i, joins[k], n) == 0) {
                const struct unit *u = unit_find(str_trim(str_cut(header, i + n, header.n)));
                if (u) {
                    *left = str_trim(str_cut(header, 0, i));
                }
                if (u) {
                    return u;
                }
                break;
            }
        }
    }
    return NULL;
}

/* The order of dates that a header tells: "(dd/mm/yyyy)", "[TT.MM.JJJJ]", "(mm-dd-yy)", "(jj/mm/aaaa)". */
static enum csv_dates told_order(struct str folded)
{
    static const struct {
        const char *words;
        enum csv_dates order;
    } told[] = {
        {"dd mm", CSV_DAY_FIRST},   {"tt mm", CSV_DAY_FIRST},   {"jj mm", CSV_DAY_FIRST}, {"d m y", CSV_DAY_FIRST},
        {"mm dd", CSV_MONTH_FIRST}, {"m d y", CSV_MONTH_FIRST}, {"yy mm", CSV_ISO},       {"yyyy mm", CSV_ISO},
    };
    for (size_t i = 0; i < sizeof told / sizeof *told; i++) {
        if (str_starts(folded, str_of(told[i].words))) {
            return told[i].order;
        }
    }
    return CSV_DATES_FIND;
}

/* ---- meanings ---- */

/* The mapping that speaks of a column: by its header, or by its number. */
static const struct feed_csv_mapping *mapping_of(struct csv_reading *r, size_t column, struct str header)
{
    const struct feed_csv_options *o = &r->in->options;
    struct str folded = csv_fold(r->scratch, header);
    for (size_t i = 0; i < o->n_mappings; i++) {
        if (str_eq(o->mappings[i].column, header) ||
            (folded.n && str_eq(csv_fold(r->scratch, o->mappings[i].column), folded))) {
            return &o->mappings[i];
        }
    }
    for (size_t i = 0; i < o->n_mappings; i++) {
        int64_t number = 0;
        if (num_parse_i64(o->mappings[i].column, &number) && number == (int64_t)column + 1) {
            return &o->mappings[i];
        }
    }
    return NULL;
}

/* Whether the cell reads as a date or a number: then its row is no header. */
static bool is_data(struct csv_reading *r, struct str cell)
{
    size_t span = 0;
    return csv_date_read(r->scratch, cell).ok || (csv_number_form(cell, &span) != CSV_NUMBER_NONE && span == cell.n);
}

/* What a header cell means; fills the column. Mappings are applied later. */
static void read_header(struct csv_reading *r, struct arena *a, struct str header, struct csv_column *c)
{
    struct str words = header;
    struct str inside = in_brackets(a, header, &words);
    c->is.header = header;
    c->is.unit = inside.n ? unit_find(inside) : unit_at_end(header, &words);
    c->is.dates = told_order(csv_fold(a, inside));
    bool hours = csv_is_hours_word(csv_fold(a, inside));
    if (inside.n && !c->is.unit && !hours && c->is.dates == CSV_DATES_FIND) {
        words = header;
    }
    c->words = csv_fold(a, words);
    bool exact = false;
    enum csv_meaning m = csv_header_meaning(c->words, &exact);
    if (!exact && m != CSV_LEAVE_OUT && c->words.n && csv_names_something(r, c->words)) {
        m = CSV_NAMED;
    }
    if (m == CSV_UNKNOWN && hours) {
        m = CSV_METER;
    }
    c->meaning = m;
}

/* How plainly a row is a header: 0 = it is none. */
static int header_score(struct csv_reading *r, const struct csv_table *t, size_t row)
{
    int score = 0;
    int words = 0;
    for (size_t k = 0; k < t->rows[row].n && k < FEED_CSV_COLUMNS_MAX; k++) {
        struct str cell = cell_at(t, row, k)->text;
        if (cell.n == 0 || cell.n > HEADER_CELL_MOST) {
            continue;
        }
        if (is_data(r, cell)) {
            return 0;
        }
        struct csv_column c = {0};
        read_header(r, r->scratch, cell, &c);
        bool exact = false;
        csv_header_meaning(c.words, &exact);
        const struct feed_csv_mapping *m = mapping_of(r, FEED_CSV_COLUMNS_MAX, cell);
        int gain = m ? 4 : exact ? 3 : c.meaning == CSV_NAMED ? 2 : c.meaning != CSV_UNKNOWN ? 1 : 0;
        score += gain;
        words += gain > 0;
    }
    return words >= 2 && score >= 3 ? score : 0;
}

/* The best header of a table: its row, with *score 0 when there is none. */
static size_t best_header(struct csv_reading *r, const struct csv_table *t, int *score)
{
    size_t best = 0;
    *score = 0;
    for (size_t row = 0; row < t->n_rows && row < HEADER_ROWS; row++) {
        int s = header_score(r, t, row);
        if (s > *score) {
            *score = s;
            best = row;
        }
    }
    return best;
}

/* Rows that have as many cells, more than one, as the first row does; for files without a header. */
static int consistency(const struct csv_table *t)
{
    int same = 0;
    for (size_t row = 0; row < t->n_rows; row++) {
        same += t->rows[row].n > 1 && t->rows[row].n == t->rows[0].n;
    }
    return same;
}

/* Chooses the separator, from those given, on the top of the file. Ties go to the first. */
static char choose_separator(struct csv_reading *r, struct str text)
{
    static const char candidates[] = ",;\t|";
    char best = ',';
    int most = -1;
    for (size_t i = 0; candidates[i]; i++) {
        struct arena_mark mark = arena_mark(r->scratch);
        struct csv_table t = csv_split(r->scratch, text, candidates[i], HEADER_ROWS);
        int score = 0;
        best_header(r, &t, &score);
        score = score * 1000 + consistency(&t);
        arena_rewind(r->scratch, mark);
        if (score > most) {
            most = score;
            best = candidates[i];
        }
    }
    return best;
}

/* ---- mappings ---- */

/* Whether any machine has that very name. */
static bool is_a_name(struct csv_reading *r, struct str name)
{
    for (size_t i = 0; i < r->in->n_machines; i++) {
        for (size_t k = 0; k < r->in->machines[i].n_names; k++) {
            if (str_eq(r->in->machines[i].names[k].name, name)) {
                return true;
            }
        }
    }
    return false;
}

/* Applies a mapping to its column. */
static bool apply_mapping(struct csv_reading *r, struct csv_column *c, const struct feed_csv_mapping *m, struct err *e)
{
    c->said = true;
    if (csv_meaning_parse(m->meaning, &c->meaning)) {
        return true;
    }
    if (is_a_name(r, m->meaning)) {
        c->meaning = CSV_NAMED;
        c->name = m->meaning;
        return true;
    }
    return err_set(e, ERR_USAGE, feed_csv_meanings(), "column \"", str_z(r->a, m->column), "\" can't mean \"",
                   str_z(r->a, m->meaning), "\"", (char *)0);
}

/* Every mapping must have found its column. */
static bool mappings_used(struct csv_reading *r, struct err *e)
{
    const struct feed_csv_options *o = &r->in->options;
    for (size_t i = 0; i < o->n_mappings; i++) {
        bool used = false;
        for (size_t k = 0; k < r->n_columns && !used; k++) {
            used = mapping_of(r, k, r->columns[k].is.header) == &o->mappings[i];
        }
        if (!used) {
            struct text t = text_new(r->a);
            text_addz(&t, "one of");
            for (size_t k = 0; k < r->n_columns && k < 20; k++) {
                text_addz(&t, k ? ", \"" : " \"");
                text_add(&t, r->columns[k].is.header);
                text_addz(&t, "\"");
            }
            return err_set(e, ERR_USAGE, text_z(&t), "there is no column \"", str_z(r->a, o->mappings[i].column), "\"",
                           (char *)0);
        }
    }
    return true;
}

/* Meanings that one column alone can have; a second one is left out, and said. */
static bool is_single(enum csv_meaning m)
{
    return m == CSV_DATE || m == CSV_TIME || m == CSV_UNIT || m == CSV_BY || m == CSV_LABOUR || m == CSV_QUANTITY ||
           m == CSV_VALUE || m == CSV_CHECKPOINT;
}

/* Leaves out later columns of a meaning that only one can have. */
static void single_out(struct csv_reading *r)
{
    for (size_t i = 0; i < r->n_columns; i++) {
        for (size_t k = 0; k < i; k++) {
            struct csv_column *c = &r->columns[i];
            if (is_single(c->meaning) && r->columns[k].meaning == c->meaning) {
                diags_add(&r->plan->findings,
                          (struct diag){.level = DIAG_DOUBT,
                                        .where = c->is.where,
                                        .rule = "column",
                                        .what = csv_say(r->a, "column \"", str_z(r->a, c->is.header), "\" also means ",
                                                        csv_meaning_text(c->meaning), "; \"",
                                                        str_z(r->a, r->columns[k].is.header),
                                                        "\" is read, this one left out", (char *)0),
                                        .right = S("column=meaning says which one counts")});
                c->meaning = CSV_LEAVE_OUT;
                c->said = true;
            }
        }
    }
}

/* Fills the columns from the header row, or by number alone. */
static bool fill_columns(struct csv_reading *r, struct err *e)
{
    const struct csv_table *t = &r->table;
    size_t n = r->has_header ? t->rows[r->header].n : 0;
    for (size_t row = 0; !r->has_header && row < t->n_rows && row < HEADER_ROWS; row++) {
        n = t->rows[row].n > n ? t->rows[row].n : n;
    }
    r->n_columns = n < FEED_CSV_COLUMNS_MAX ? n : FEED_CSV_COLUMNS_MAX;
    r->columns = ARENA_ARRAY(r->a, struct csv_column, r->n_columns + 1);
    for (size_t k = 0; k < r->n_columns; k++) {
        struct csv_column *c = &r->columns[k];
        struct text number = text_new(r->a);
        text_int(&number, (int64_t)k + 1);
        c->is.header = text_str(&number);
        c->is.where = csv_where(r, t->n_rows ? t->rows[0].line : 1, 1);
        if (r->has_header) {
            const struct csv_cell *cell = cell_at(t, r->header, k);
            read_header(r, r->a, cell->text, c);
            c->is.header = cell->text.n ? cell->text : text_str(&number);
            c->is.where = csv_where(r, cell->line, cell->column);
        }
        const struct feed_csv_mapping *m = mapping_of(r, k, c->is.header);
        if (m && !apply_mapping(r, c, m, e)) {
            return false;
        }
    }
    return mappings_used(r, e);
}

/* A row of units below the header ("", "", h, bar): every cell that holds something holds a unit. Its units are those
 * of the columns. */
static void take_units_row(struct csv_reading *r)
{
    size_t row = r->header + 1;
    size_t units = 0;
    if (!r->has_header || row >= r->table.n_rows) {
        return;
    }
    for (size_t k = 0; k < r->table.rows[row].n; k++) {
        struct str s = cell_at(&r->table, row, k)->text;
        bool unit = unit_find(s) || csv_is_hours_word(csv_fold(r->scratch, s));
        if (s.n && (!unit || csv_is_digits(s))) {
            return;
        }
        units += s.n > 0;
    }
    for (size_t k = 0; units && k < r->n_columns; k++) {
        const struct csv_cell *cell = cell_at(&r->table, row, k);
        r->columns[k].is.unit = cell && cell->text.n ? unit_find(cell->text) : r->columns[k].is.unit;
    }
    r->has_units_row = units > 0;
}

bool csv_columns_find(struct csv_reading *r, struct err *e)
{
    size_t skip = 0;
    char told = csv_told_separator(r->text, &skip);
    r->text = str_cut(r->text, skip, r->text.n);
    char separator = r->in->options.separator ? r->in->options.separator : told ? told : choose_separator(r, r->text);
    r->plan->separator = separator;
    r->table = csv_split(r->a, r->text, separator, SIZE_MAX);
    if (r->table.n_rows == 0) {
        return err_at(e, csv_where(r, 1, 1), ERR_INPUT, "a header row and rows below it", "the file is empty",
                      (char *)0);
    }
    int score = 0;
    r->header = best_header(r, &r->table, &score);
    r->has_header = score > 0;
    bool numbered = r->in->options.n_mappings > 0;
    for (size_t i = 0; i < r->in->options.n_mappings; i++) {
        int64_t number = 0;
        numbered = numbered && num_parse_i64(r->in->options.mappings[i].column, &number);
    }
    if (!r->has_header && !numbered) {
        return err_at(e, csv_where(r, r->table.rows[0].line, 1), ERR_INPUT,
                      "a row with words such as Date, Machine, Hours; or say what the columns are by number: "
                      "1=date 2=machine 3=meter",
                      "no header row was found in the first 60 rows", (char *)0);
    }
    r->plan->header_line = r->has_header ? r->table.rows[r->header].line : 0;
    if (!fill_columns(r, e)) {
        return false;
    }
    take_units_row(r);
    single_out(r);
    return true;
}

/* ---- deciding from all values ---- */

size_t csv_first_data(const struct csv_reading *r)
{
    return r->has_header ? r->header + 1 + r->has_units_row : 0;
}

/* The day first or the month first? Counts what the values allow. */
static void decide_dates(struct csv_reading *r, size_t k)
{
    struct csv_column *c = &r->columns[k];
    size_t day_first = 0;   /* values that are no date with the month first */
    size_t month_first = 0; /* and the other way round */
    size_t either = 0;
    size_t future_day_first = 0;
    size_t future_month_first = 0;
    for (size_t row = csv_first_data(r); row < r->table.n_rows; row++) {
        const struct csv_cell *cell = cell_at(&r->table, row, k);
        struct arena_mark mark = arena_mark(r->scratch);
        struct csv_date d = cell ? csv_date_read(r->scratch, cell->text) : (struct csv_date){0};
        arena_rewind(r->scratch, mark);
        if (!d.ok || !d.numbers) {
            continue;
        }
        day_t as_day_first = 0;
        day_t as_month_first = 0;
        bool can_day_first = csv_date_in_order(&d, CSV_DAY_FIRST, &as_day_first);
        bool can_month_first = d.mark != '.' && csv_date_in_order(&d, CSV_MONTH_FIRST, &as_month_first);
        day_first += can_day_first && !can_month_first;
        month_first += !can_day_first && can_month_first;
        if (can_day_first && can_month_first && as_day_first != as_month_first) {
            either++;
            future_day_first += r->in->today != DAY_NONE && as_day_first > r->in->today;
            future_month_first += r->in->today != DAY_NONE && as_month_first > r->in->today;
        }
    }
    enum csv_dates told = r->in->options.dates != CSV_DATES_FIND ? r->in->options.dates : c->is.dates;
    if (told != CSV_DATES_FIND) {
        c->is.dates = told;
        return;
    }
    bool settled = (day_first > 0) != (month_first > 0);
    if (settled) {
        c->is.dates = day_first ? CSV_DAY_FIRST : CSV_MONTH_FIRST;
    } else if (either == 0) {
        c->is.dates = day_first && month_first ? CSV_DATES_FIND : CSV_ISO;
    } else if (day_first == 0 && (future_day_first > 0) != (future_month_first > 0)) {
        c->is.dates = future_day_first ? CSV_MONTH_FIRST : CSV_DAY_FIRST;
    } else {
        c->is.dates = CSV_DAY_FIRST;
        c->dates_asked = true;
        diags_add(&r->plan->findings,
                  (struct diag){.level = DIAG_DOUBT,
                                .where = c->is.where,
                                .rule = "date-order",
                                .what = csv_say(r->a, "column \"", str_z(r->a, c->is.header), "\": ",
                                                day_first ? "some values put the day first and some the month"
                                                          : "no value tells whether the day or the month comes first",
                                                "; read with the day first", (char *)0),
                                .right = S("say --dates day-first, month-first or iso")});
    }
}

/* Numbers of a column and how they are written. */
struct number_count {
    size_t point, comma, either;
};

/* Counts what the numbers of a column allow. */
static struct number_count count_numbers(const struct csv_reading *r, size_t k)
{
    struct number_count n = {0};
    for (size_t row = csv_first_data(r); row < r->table.n_rows; row++) {
        const struct csv_cell *cell = cell_at(&r->table, row, k);
        size_t span = 0;
        enum csv_number_form form = cell ? csv_number_form(cell->text, &span) : CSV_NUMBER_NONE;
        n.point += form == CSV_NUMBER_POINT;
        n.comma += form == CSV_NUMBER_COMMA;
        n.either += form == CSV_NUMBER_EITHER;
    }
    return n;
}

/* Whether a column of that meaning is read as numbers. */
static bool has_numbers(enum csv_meaning m)
{
    return m == CSV_METER || m == CSV_VALUE || m == CSV_NAMED || m == CSV_QUANTITY || m == CSV_LABOUR;
}

/* Decimal point or comma, for every column with numbers: its own values, else those of all, else a guess. */
static void decide_numbers(struct csv_reading *r)
{
    struct number_count all = {0};
    for (size_t k = 0; k < r->n_columns; k++) {
        if (has_numbers(r->columns[k].meaning)) {
            struct number_count n = count_numbers(r, k);
            all.point += n.point;
            all.comma += n.comma;
        }
    }
    for (size_t k = 0; k < r->n_columns; k++) {
        struct csv_column *c = &r->columns[k];
        if (!has_numbers(c->meaning)) {
            continue;
        }
        struct number_count n = count_numbers(r, k);
        if (r->in->options.decimals != CSV_DECIMALS_FIND) {
            c->is.decimals = r->in->options.decimals;
        } else if (n.point != n.comma && (n.either == 0 || n.point == 0 || n.comma == 0)) {
            c->is.decimals = n.point > n.comma ? CSV_POINT : CSV_COMMA; /* the few others say that they are unlike it */
        } else if (n.either && n.point == 0 && (all.point > 0) != (all.comma > 0)) {
            c->is.decimals = all.point ? CSV_POINT : CSV_COMMA;
        } else if (n.either) {
            c->is.decimals = CSV_POINT;
            c->decimals_asked = true;
            diags_add(&r->plan->findings,
                      (struct diag){
                          .level = DIAG_DOUBT,
                          .where = c->is.where,
                          .rule = "decimal-sign",
                          .what = csv_say(r->a, "column \"", str_z(r->a, c->is.header),
                                          n.point ? "\" has both decimal points and decimal commas"
                                                  : "\": no value tells a decimal sign from a sign between thousands",
                                          "; doubtful ones are read with a decimal point", (char *)0),
                          .right = S("say --decimals point or --decimals comma")});
        }
    }
}

/* Says that a column with something in it is left out because its header is about no reading: money, what is due next.
 */
static void say_left_out(struct csv_reading *r, size_t k)
{
    const struct csv_column *c = &r->columns[k];
    for (size_t row = csv_first_data(r); row < r->table.n_rows; row++) {
        const struct csv_cell *cell = cell_at(&r->table, row, k);
        if (cell && cell->text.n) {
            diags_add(&r->plan->findings, (struct diag){.level = DIAG_HINT,
                                                        .where = c->is.where,
                                                        .rule = "column",
                                                        .what = csv_say(r->a, "column \"", str_z(r->a, c->is.header),
                                                                        "\" is left out", (char *)0)});
            return;
        }
    }
}

/* Columns of no known meaning: words become notes, the rest is left out; both are said. */
static void decide_unknown(struct csv_reading *r, size_t k)
{
    struct csv_column *c = &r->columns[k];
    size_t filled = 0;
    size_t words = 0;
    for (size_t row = csv_first_data(r); row < r->table.n_rows; row++) {
        const struct csv_cell *cell = cell_at(&r->table, row, k);
        if (cell && cell->text.n) {
            filled++;
            words += !is_data(r, cell->text) && !csv_is_spreadsheet_error(cell->text);
        }
    }
    c->meaning = words > 0 && words * 2 >= filled ? CSV_NOTE : CSV_LEAVE_OUT;
    if (filled == 0) {
        return;
    }
    diags_add(&r->plan->findings,
              (struct diag){.level = c->meaning == CSV_NOTE ? DIAG_HINT : DIAG_DOUBT,
                            .where = c->is.where,
                            .rule = "column",
                            .what = csv_say(r->a, "column \"", str_z(r->a, c->is.header), "\" is not known: ",
                                            c->meaning == CSV_NOTE ? "its words are kept as notes" : "it is left out",
                                            (char *)0),
                            .right = csv_say(r->a, "column=meaning, with ", feed_csv_meanings(), (char *)0)});
}

void csv_columns_decide(struct csv_reading *r)
{
    for (size_t k = 0; k < r->n_columns; k++) {
        struct arena_mark mark = arena_mark(r->scratch);
        if (r->columns[k].meaning == CSV_DATE) {
            decide_dates(r, k);
        } else if (r->columns[k].meaning == CSV_UNKNOWN) {
            decide_unknown(r, k);
        } else if (r->columns[k].meaning == CSV_LEAVE_OUT && !r->columns[k].said) {
            say_left_out(r, k);
        }
        arena_rewind(r->scratch, mark);
    }
    decide_numbers(r);
}
