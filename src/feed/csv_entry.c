/* What the cells of one row say, once its machine and date are known: meters, readings, tasks done, findings, faults,
 * parts, notes.
 *
 * Nothing is dropped without a word: a cell that can't be read becomes a refused proposal at its place, and words that
 * fit no task are kept as a note. */
#include "csv_internal.h"

#include <math.h>
#include <string.h>

#define Z(s) str_z(r->a, (s))
#define METER_MOST_H 525960.0 /* 60 years of 365.25 days */

/* ---- amounts ---- */

/* A number with what follows it. */
struct amount {
    bool ok;
    double value;
    struct str unit; /* as written behind it; empty = none */
    bool either;     /* its form allows another value, and no other of the column settles it */
    bool unlike;     /* its decimal sign is not that of its column */
};

/* Reads the number at the start of a cell, with its column's decimal sign. */
static struct amount read_amount(const struct csv_line *w, const struct csv_column *c, struct str s)
{
    struct amount m = {.value = NAN};
    size_t span = 0;
    enum csv_number_form form = csv_number_form(s, &span);
    struct str number = str_cut(s, 0, span);
    m.ok = form != CSV_NUMBER_NONE && csv_number_read(w->r->scratch, number, c->is.decimals, &m.value);
    m.unit = str_trim(str_cut(s, span, s.n));
    m.either = m.ok && form == CSV_NUMBER_EITHER && c->decimals_asked;
    m.unlike = m.ok && ((form == CSV_NUMBER_POINT && c->is.decimals == CSV_COMMA) ||
                        (form == CSV_NUMBER_COMMA && c->is.decimals == CSV_POINT));
    return m;
}

/* "412:30" is 412 h 30 min. */
static struct amount read_hours(const struct csv_line *w, const struct csv_column *c, struct str s)
{
    struct amount m = read_amount(w, c, s);
    double minutes = 0;
    if (m.ok && m.unit.n == 3 && m.unit.p[0] == ':' && num_parse(str_cut(m.unit, 1, 3), &minutes) && minutes < 60) {
        m.value += minutes / 60;
        m.unit = (struct str){0};
    }
    return m;
}

/* Says what is doubtful about the way a number is written. */
static void doubt_amount(struct csv_line *w, struct feed_csv_proposal *p, const struct csv_cell *cell,
                         const struct amount *m)
{
    struct csv_reading *r = w->r;
    struct text value = text_new(r->a);
    text_double(&value, m->value);
    if (m->either) {
        csv_doubt(r, p, csv_where_cell(r, cell), "decimal-sign",
                  csv_say(r->a, "\"", Z(cell->text), "\" is read as ", text_z(&value),
                          ", but its sign could mean thousands or decimals", (char *)0),
                  S("say --decimals point or --decimals comma"));
        p->asks = true;
    }
    if (m->unlike) {
        csv_doubt(r, p, csv_where_cell(r, cell), "decimal-sign",
                  csv_say(r->a, "\"", Z(cell->text), "\" is read as ", text_z(&value),
                          ": its decimal sign is unlike the rest of the column", (char *)0),
                  S("one decimal sign in a column"));
    }
}

/* Whether a unit, as written or from a header, is hours; none at all is. */
static bool is_hours(struct csv_line *w, struct str written, const struct unit *header)
{
    if (written.n) {
        return csv_is_hours_word(csv_fold(w->r->scratch, written));
    }
    return !header || (header->kind == Q_DURATION && header->factor == 3600);
}

/* An hour meter's cell; unit_cell: from a unit column. */
static void read_meter(struct csv_line *w, const struct csv_column *c, const struct csv_cell *cell,
                       struct str unit_cell)
{
    struct csv_reading *r = w->r;
    if (csv_is_nothing(cell->text) || csv_refuse_broken(w, FEED_CSV_METER, cell, (struct str){0})) {
        return;
    }
    struct feed_csv_proposal p = csv_begin(w, FEED_CSV_METER, cell);
    struct amount m = read_hours(w, c, cell->text);
    bool hours = is_hours(w, m.unit.n ? m.unit : unit_cell, c->is.unit);
    p.text = cell->text;
    p.value = m.value;
    if (!m.ok || !hours || m.value < 0) {
        p.value = NAN;
        csv_refuse(r, &p, p.where, "meter",
                   csv_say(r->a, "\"", Z(cell->text),
                           !m.ok    ? "\" is no number of hours"
                           : !hours ? "\" is not in hours"
                                    : "\" is less than nothing",
                           (char *)0),
                   S("hours as the meter shows them, such as 412.5"));
    } else {
        doubt_amount(w, &p, cell, &m);
        if (m.value > METER_MOST_H) {
            csv_doubt(r, &p, p.where, "meter-fast", S("more hours than sixty years have"),
                      S("the decimal sign in its place"));
        }
        p.meter_h = NAN; /* it is the meter */
        p.text = (struct str){0};
    }
    csv_keep(w, p);
}

/* Hours of the meter cells of a row, for the entries beside them; NAN when there are none. */
static double meter_of_row(const struct csv_line *w)
{
    double most = NAN;
    for (size_t k = 0; k < w->r->n_columns; k++) {
        const struct csv_cell *cell = w->r->columns[k].meaning == CSV_METER ? csv_cell_of(w, k) : NULL;
        struct amount m = cell ? read_hours(w, &w->r->columns[k], cell->text) : (struct amount){0};
        if (m.ok && m.value >= 0 && (isnan(most) || m.value > most)) {
            most = m.value;
        }
    }
    return most;
}

/* Minutes of work, hours unless the header or the cell says minutes. */
static double labour_of_row(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    size_t column = 0;
    const struct csv_cell *cell = csv_cell_meaning(w, CSV_LABOUR, &column);
    if (!cell) {
        return NAN;
    }
    const struct csv_column *c = &r->columns[column];
    struct amount m = read_hours(w, c, cell->text);
    const struct unit *written = m.unit.n ? unit_find(m.unit) : c->is.unit;
    bool minutes = csv_fold(r->scratch, c->is.header).n && !written && (str_find(c->words, S("minut")) >= 0);
    bool known = m.unit.n == 0 || written || csv_is_hours_word(csv_fold(r->scratch, m.unit));
    if (!m.ok || m.value < 0 || !known || (written && written->kind != Q_DURATION)) {
        csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "labour",
                  csv_say(r->a, "\"", Z(cell->text), "\" is no time of work; left out", (char *)0),
                  S("0.5 h or 30 min"));
        return NAN;
    }
    return written ? unit_to_si(written, m.value) / 60 : minutes ? m.value : m.value * 60;
}

/* ---- readings ---- */

/* The unit a reading is in. Null with a refusal or doubt added where it is not plain. */
static const struct unit *unit_of_reading(struct csv_line *w, struct feed_csv_proposal *p,
                                          const struct feed_csv_name *n, const struct csv_cell *cell,
                                          struct str written, const struct unit *header)
{
    struct csv_reading *r = w->r;
    const struct unit *u = written.n ? unit_find(written) : header;
    const char *wanted = n->unit ? quantity_kind_text(n->unit->kind) : "";
    if (written.n && !u) {
        const struct unit *near = unit_nearest(written);
        csv_refuse(r, p, csv_where_cell(r, cell), "unit", csv_say(r->a, "\"", Z(written), "\" is no unit", (char *)0),
                   csv_say(r->a, near ? "perhaps " : "a unit of ", near ? near->symbol : wanted, (char *)0));
        return NULL;
    }
    if (!u) {
        csv_doubt(r, p, csv_where_cell(r, cell), "unit",
                  csv_say(r->a, "no unit is given", n->unit ? "; taken for " : "", n->unit ? n->unit->symbol : "",
                          n->unit ? " as in the book" : "", (char *)0),
                  S("a unit in the cell or in the header, such as (bar)"));
        return n->unit;
    }
    if (n->unit && u->kind != n->unit->kind) {
        csv_refuse(r, p, csv_where_cell(r, cell), "unit",
                   csv_say(r->a, "\"", u->symbol, "\" measures ", quantity_kind_text(u->kind), ", but ", Z(n->name),
                           " is a ", wanted, (char *)0),
                   csv_say(r->a, "a unit of ", wanted, " such as ", n->unit->symbol, (char *)0));
        return NULL;
    }
    return u;
}

/* Says how words were understood as a name, when that is not plain. */
static void doubt_name(struct csv_line *w, struct feed_csv_proposal *p, const struct csv_cell *cell, struct str words,
                       const struct csv_found_name *f)
{
    struct csv_reading *r = w->r;
    const struct feed_csv_machine *m = &r->in->machines[w->machine];
    if (!f->sure) {
        csv_doubt(r, p, csv_where_cell(r, cell), "name",
                  csv_say(r->a, "\"", Z(words), "\" is taken for ", Z(m->names[f->index].name),
                          f->other >= 0 ? ", not " : "", f->other >= 0 ? Z(m->names[f->other].name) : "", (char *)0),
                  S("the name or label as the book has it, or column=NAME"));
    }
}

/* Refuses words that name no checkpoint, or several. */
static void refuse_name(struct csv_line *w, enum feed_csv_kind kind, const struct csv_cell *cell, struct str words,
                        const struct csv_found_name *f)
{
    struct csv_reading *r = w->r;
    const struct feed_csv_machine *m = &r->in->machines[w->machine];
    struct feed_csv_proposal p = csv_begin(w, kind, cell);
    p.text = words;
    if (f->index >= 0 && f->other >= 0) {
        csv_refuse(r, &p, p.where, "name",
                   csv_say(r->a, "\"", Z(words), "\" could be ", Z(m->names[f->index].name), " or ",
                           Z(m->names[f->other].name), (char *)0),
                   S("the name or label as the book has it"));
    } else {
        struct str *names = ARENA_ARRAY(r->scratch, struct str, 2 * m->n_names + 1);
        for (size_t i = 0; i < m->n_names; i++) {
            names[2 * i] = m->names[i].name;
            names[2 * i + 1] = m->names[i].label;
        }
        ptrdiff_t near = str_nearest(str_cut(words, 0, 80), names, 2 * m->n_names);
        csv_refuse(r, &p, p.where, "name",
                   csv_say(r->a, "the book of ", Z(m->serial), " has no \"", Z(words), "\"", (char *)0),
                   near >= 0 ? csv_say(r->a, "perhaps ", Z(m->names[near / 2].name), (char *)0)
                             : S("the name of a checkpoint or task of that book"));
    }
    csv_keep(w, p);
}

/* A value of a measured checkpoint. */
static void read_measure(struct csv_line *w, const struct feed_csv_name *n, const struct csv_column *c,
                         const struct csv_cell *cell, struct str unit_cell, struct feed_csv_proposal p)
{
    struct csv_reading *r = w->r;
    struct amount m = read_amount(w, c, cell->text);
    p.kind = FEED_CSV_READING;
    p.text = cell->text;
    if (!m.ok) {
        csv_refuse(r, &p, p.where, "value",
                   csv_say(r->a, "\"", Z(cell->text), "\" is no value of ", Z(n->name), (char *)0),
                   csv_say(r->a, "a number", n->unit ? " with its unit, such as 1.5 " : "",
                           n->unit ? n->unit->symbol : "", (char *)0));
        csv_keep(w, p);
        return;
    }
    struct str written = m.unit.n ? m.unit : unit_cell;
    p.unit = unit_of_reading(w, &p, n, cell, written, c->is.unit);
    p.value = p.mark == FEED_CSV_REFUSED ? (double)NAN : m.value;
    if (p.mark != FEED_CSV_REFUSED) {
        doubt_amount(w, &p, cell, &m);
        p.text = (struct str){0};
    }
    csv_keep(w, p);
}

/* A tick or words in the column of a task. */
static void read_task_tick(struct csv_line *w, const struct csv_cell *cell, struct feed_csv_proposal p)
{
    struct csv_reading *r = w->r;
    int tick = csv_is_tick(r->scratch, cell->text);
    if (tick == 0) {
        return;
    }
    p.kind = FEED_CSV_DONE;
    p.labour_min = w->labour_min;
    p.text = cell->text;
    if (tick < 0) {
        csv_doubt(r, &p, p.where, "tick",
                  csv_say(r->a, "\"", Z(cell->text), "\" is taken to say that ", Z(p.name), " was done", (char *)0),
                  S("x or yes when it was done, nothing when not"));
    }
    csv_keep(w, p);
}

/* A cell about something the book names, given by words. `unit_cell`: from a unit column. */
static void read_named(struct csv_line *w, struct str words, const struct csv_cell *words_cell,
                       const struct csv_column *c, const struct csv_cell *cell, struct str unit_cell)
{
    struct csv_reading *r = w->r;
    const struct feed_csv_machine *m = &r->in->machines[w->machine];
    struct csv_found_name f =
        csv_find_name(r, w->machine, words, FEED_CSV_NAME_MEASURE | FEED_CSV_NAME_LOOK | FEED_CSV_NAME_TASK);
    if (f.index < 0 || f.tie) {
        refuse_name(w, FEED_CSV_READING, words_cell, words, &f);
        return;
    }
    const struct feed_csv_name *n = &m->names[f.index];
    enum feed_csv_kind kind = n->kind == FEED_CSV_NAME_MEASURE ? FEED_CSV_READING
                              : n->kind == FEED_CSV_NAME_LOOK  ? FEED_CSV_FOUND
                                                               : FEED_CSV_DONE;
    if (csv_refuse_broken(w, kind, cell, n->name)) {
        return;
    }
    struct feed_csv_proposal p = csv_begin(w, kind, cell);
    p.name = n->name;
    doubt_name(w, &p, words_cell, words, &f);
    if (n->kind == FEED_CSV_NAME_MEASURE) {
        read_measure(w, n, c, cell, unit_cell, p);
    } else if (n->kind == FEED_CSV_NAME_LOOK) {
        p.text = cell->text;
        csv_keep(w, p);
    } else {
        read_task_tick(w, cell, p);
    }
}

/* Checkpoint, value and unit in columns of their own. */
static void read_long_form(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    size_t at = 0;
    size_t value_at = 0;
    size_t unit_at = 0;
    const struct csv_cell *name = csv_cell_meaning(w, CSV_CHECKPOINT, &at);
    const struct csv_cell *value = csv_cell_meaning(w, CSV_VALUE, &value_at);
    const struct csv_cell *unit = csv_cell_meaning(w, CSV_UNIT, &unit_at);
    if (!value) {
        return;
    }
    if (!name) {
        struct feed_csv_proposal p = csv_begin(w, FEED_CSV_READING, value);
        p.text = value->text;
        csv_refuse(r, &p, p.where, "name", csv_say(r->a, "the value \"", Z(value->text), "\" of nothing", (char *)0),
                   S("a checkpoint in the column before it"));
        csv_keep(w, p);
        return;
    }
    bool exact = false;
    if (csv_header_meaning(csv_fold(r->scratch, name->text), &exact) == CSV_METER && exact) {
        read_meter(w, &r->columns[value_at], value, unit ? unit->text : (struct str){0});
        return;
    }
    read_named(w, name->text, name, &r->columns[value_at], value, unit ? unit->text : (struct str){0});
}

/* ---- words ---- */

/* Adds words to the note of the row. */
static void add_note(struct csv_line *w, const struct csv_cell *cell, struct str head, struct str words)
{
    if (w->note.n) {
        text_addz(&w->note, "; ");
    } else {
        w->note_where = csv_where_cell(w->r, cell);
    }
    if (head.n) {
        text_add(&w->note, head);
        text_addz(&w->note, ": ");
    }
    text_add(&w->note, words);
}

/* A task done, by its words. False when no task fits. */
static bool read_done_piece(struct csv_line *w, const struct csv_cell *cell, struct str words)
{
    struct csv_reading *r = w->r;
    struct csv_found_name f = csv_find_name(r, w->machine, words, FEED_CSV_NAME_TASK);
    if (f.index < 0 || f.tie || csv_says_not(csv_fold(r->scratch, words))) {
        return false;
    }
    struct feed_csv_proposal p = csv_begin(w, FEED_CSV_DONE, cell);
    p.name = r->in->machines[w->machine].names[f.index].name;
    p.text = words;
    p.labour_min = w->labour_min;
    doubt_name(w, &p, cell, words, &f);
    csv_keep(w, p);
    return true;
}

/* Cuts the next piece of an enumeration off: at , ; + & / and line ends, but not between digits ("7,5 l"). */
static bool next_piece(struct str *rest, struct str *piece)
{
    if (rest->n == 0) {
        return false;
    }
    size_t i = 0;
    for (; i < rest->n; i++) {
        bool digit_before = i > 0 && rest->p[i - 1] >= '0' && rest->p[i - 1] <= '9';
        bool digit_after = i + 1 < rest->n && rest->p[i + 1] >= '0' && rest->p[i + 1] <= '9';
        if (strchr(",;+&/\n\r", rest->p[i]) && rest->p[i] && !(digit_before && digit_after)) {
            break;
        }
    }
    *piece = str_trim(str_cut(*rest, 0, i));
    *rest = str_cut(*rest, i + 1, rest->n);
    return true;
}

/* Whether words fit a task well enough to stand on their own beside another. */
static bool fits_well(struct csv_line *w, struct str words)
{
    struct csv_found_name f = csv_find_name(w->r, w->machine, words, FEED_CSV_NAME_TASK);
    return f.index >= 0 && !f.tie && f.score > 0.6;
}

/* Tries both sides of "and", "und", "y", "et". Only when both fit well are they taken: "engine oil and filter" is one.
 */
static bool read_done_pair(struct csv_line *w, const struct csv_cell *cell, struct str words)
{
    static const char *const joins[] = {" and ", " und ", " y ", " et "};
    bool denied = csv_says_not(csv_fold(w->r->scratch, words)); /* of both sides */
    for (size_t k = 0; !denied && k < sizeof joins / sizeof *joins; k++) {
        ptrdiff_t at = str_find(words, str_of(joins[k]));
        if (at > 0) {
            struct str left = str_trim(str_cut(words, 0, (size_t)at));
            struct str right = str_trim(str_cut(words, (size_t)at + strlen(joins[k]), words.n));
            if (fits_well(w, left) && fits_well(w, right)) {
                return read_done_piece(w, cell, left) && read_done_piece(w, cell, right);
            }
        }
    }
    return false;
}

/* What was done, in free words: each piece a task where one fits; the rest a note that says so. */
static void read_done(struct csv_line *w, const struct csv_cell *cell)
{
    struct csv_reading *r = w->r;
    if (csv_is_nothing(cell->text) || csv_refuse_broken(w, FEED_CSV_DONE, cell, (struct str){0})) {
        return;
    }
    struct csv_found_name whole = csv_find_name(r, w->machine, cell->text, FEED_CSV_NAME_TASK);
    if (whole.index >= 0 && whole.sure) {
        read_done_piece(w, cell, cell->text);
        return;
    }
    struct text left = text_new(r->a);
    bool any = false;
    struct str rest = cell->text;
    struct str piece;
    while (next_piece(&rest, &piece)) {
        if (piece.n == 0 || read_done_pair(w, cell, piece) || read_done_piece(w, cell, piece)) {
            any = any || piece.n > 0;
            continue;
        }
        text_addz(&left, left.n ? ", " : "");
        text_add(&left, piece);
    }
    if (left.n && any) {
        add_note(w, cell, (struct str){0}, text_str(&left));
        w->note_where = csv_where_cell(r, cell);
    } else if (left.n) {
        struct feed_csv_proposal p = csv_begin(w, FEED_CSV_NOTE, cell);
        p.text = cell->text;
        csv_doubt(r, &p, p.where, "name",
                  csv_say(r->a, "no task of the book of ", Z(r->in->machines[w->machine].serial), " fits \"",
                          Z(cell->text), "\"; kept as a note", (char *)0),
                  S("the name or label of a task"));
        csv_keep(w, p);
    }
}

/* What was found. "ok" and "none" find nothing. */
static void read_found(struct csv_line *w, const struct csv_cell *cell)
{
    struct csv_reading *r = w->r;
    if (csv_is_nothing(cell->text) || csv_is_tick(r->scratch, cell->text) >= 0 ||
        csv_refuse_broken(w, FEED_CSV_FOUND, cell, (struct str){0})) {
        return;
    }
    struct feed_csv_proposal p = csv_begin(w, FEED_CSV_FOUND, cell);
    p.text = cell->text;
    struct csv_found_name f = csv_find_name(r, w->machine, cell->text, FEED_CSV_NAME_LOOK);
    if (f.index >= 0 && !f.tie) {
        p.name = r->in->machines[w->machine].names[f.index].name;
        doubt_name(w, &p, cell, cell->text, &f);
    }
    csv_keep(w, p);
}

/* Two whole numbers in a fault's words: "SPN 97 FMI 3", "97/3", "97-3". Others leave spn and fmi at -1. */
static void read_fault_numbers(struct str s, int *spn, int *fmi)
{
    int64_t n[2] = {-1, -1};
    int found = 0;
    for (size_t i = 0; i < s.n && found < 3;) {
        size_t from = i;
        while (i < s.n && s.p[i] >= '0' && s.p[i] <= '9') {
            i++;
        }
        if (i > from) {
            if (found < 2 && !num_parse_i64(str_cut(s, from, i), &n[found])) {
                return;
            }
            found++;
        }
        i++;
    }
    /* SPN has 19 bits, FMI 5: SAE J1939-73, 5.7.1 */
    if (found == 2 && n[0] >= 0 && n[0] < 524288 && n[1] >= 0 && n[1] < 32) {
        *spn = (int)n[0];
        *fmi = (int)n[1];
    }
}

/* Faults, several in a cell parted by semicolons. */
static void read_fault(struct csv_line *w, const struct csv_cell *cell)
{
    struct csv_reading *r = w->r;
    if (csv_is_nothing(cell->text) || csv_is_tick(r->scratch, cell->text) == 0 ||
        csv_refuse_broken(w, FEED_CSV_FAULT, cell, (struct str){0})) {
        return;
    }
    struct str rest = cell->text;
    struct str piece;
    while (str_next(&rest, ';', &piece)) {
        struct feed_csv_proposal p = csv_begin(w, FEED_CSV_FAULT, cell);
        p.text = str_trim(piece);
        read_fault_numbers(p.text, &p.spn, &p.fmi);
        if (p.text.n) {
            csv_keep(w, p);
        }
    }
}

/* "2x HT-2207", "2 x HT-2207": the count in front of a part. */
static struct str part_count(struct str piece, double *count)
{
    size_t i = 0;
    while (i < piece.n && piece.p[i] >= '0' && piece.p[i] <= '9') {
        i++;
    }
    size_t x = i;
    x += x < piece.n && piece.p[x] == ' ';
    bool times = i > 0 && i < 4 && x < piece.n && (piece.p[x] == 'x' || piece.p[x] == 'X' || piece.p[x] == '*');
    if (times && x + 1 < piece.n && (piece.p[x + 1] == ' ' || x > i || piece.p[x + 1] >= 'A')) {
        num_parse(str_cut(piece, 0, i), count);
        return str_trim(str_cut(piece, x + 1, piece.n));
    }
    return piece;
}

/* Parts used, several in a cell perhaps, with a column for the quantity. */
static void read_parts(struct csv_line *w, const struct csv_cell *cell)
{
    struct csv_reading *r = w->r;
    if (csv_is_nothing(cell->text) || csv_refuse_broken(w, FEED_CSV_PART, cell, (struct str){0})) {
        return;
    }
    size_t at = 0;
    const struct csv_cell *quantity = csv_cell_meaning(w, CSV_QUANTITY, &at);
    struct str rest = cell->text;
    struct str piece;
    while (next_piece(&rest, &piece)) {
        if (piece.n == 0) {
            continue;
        }
        struct feed_csv_proposal p = csv_begin(w, FEED_CSV_PART, cell);
        p.value = 1;
        if (quantity) {
            struct amount m = read_amount(w, &r->columns[at], quantity->text);
            p.value = m.value;
            if (!m.ok || m.value <= 0) {
                p.value = NAN;
                csv_refuse(r, &p, csv_where_cell(r, quantity), "quantity",
                           csv_say(r->a, "\"", Z(quantity->text), "\" is no number of pieces", (char *)0),
                           S("1, 2, 3 ..."));
            }
        }
        p.text = part_count(piece, &p.value);
        struct csv_found_name f = csv_find_name(r, w->machine, p.text, FEED_CSV_NAME_PART);
        if (f.index >= 0 && !f.tie) {
            p.name = r->in->machines[w->machine].names[f.index].name;
            doubt_name(w, &p, cell, p.text, &f);
        } else if (p.mark != FEED_CSV_REFUSED) {
            csv_doubt(r, &p, p.where, "name",
                      csv_say(r->a, "the book of ", Z(r->in->machines[w->machine].serial), " has no part \"", Z(p.text),
                              "\"", (char *)0),
                      S("its number or name as in the book"));
        }
        csv_keep(w, p);
    }
}

/* Collects the note columns. */
static void read_notes(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    for (size_t k = 0; k < r->n_columns; k++) {
        const struct csv_column *c = &r->columns[k];
        const struct csv_cell *cell = c->meaning == CSV_NOTE ? csv_cell_of(w, k) : NULL;
        if (!cell || csv_is_nothing(cell->text) || csv_refuse_broken(w, FEED_CSV_NOTE, cell, (struct str){0})) {
            continue;
        }
        bool exact = false;
        bool plain = csv_header_meaning(c->words, &exact) == CSV_NOTE;
        add_note(w, cell, plain ? (struct str){0} : c->is.header, cell->text);
    }
}

/* Gives the note to what it most likely belongs to, or makes it an entry of its own. */
static void place_note(struct csv_line *w)
{
    static const enum feed_csv_kind order[] = {FEED_CSV_DONE, FEED_CSV_FOUND, FEED_CSV_FAULT,
                                               FEED_CSV_PART, FEED_CSV_METER, FEED_CSV_READING};
    struct csv_reading *r = w->r;
    if (w->note.n == 0) {
        return;
    }
    for (size_t k = 0; k < sizeof order / sizeof *order; k++) {
        for (size_t i = w->first; i < r->n_proposals; i++) {
            struct feed_csv_proposal *p = &r->proposals[i];
            if (p->kind == order[k] && p->mark != FEED_CSV_REFUSED) {
                p->note = text_str(&w->note);
                return;
            }
        }
    }
    struct csv_cell at = {.line = w->note_where.line, .column = w->note_where.column};
    struct feed_csv_proposal p = csv_begin(w, FEED_CSV_NOTE, &at);
    p.text = text_str(&w->note);
    csv_keep(w, p);
}

/* Everything the row says, in the order of its columns. */
static void read_cells(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    read_long_form(w);
    for (size_t k = 0; k < r->n_columns; k++) {
        const struct csv_column *c = &r->columns[k];
        const struct csv_cell *cell = csv_cell_of(w, k);
        if (!cell || cell->text.n == 0) {
            continue;
        }
        if (c->meaning == CSV_METER) {
            read_meter(w, c, cell, (struct str){0});
        } else if (c->meaning == CSV_DONE) {
            read_done(w, cell);
        } else if (c->meaning == CSV_FOUND) {
            read_found(w, cell);
        } else if (c->meaning == CSV_FAULT) {
            read_fault(w, cell);
        } else if (c->meaning == CSV_PART) {
            read_parts(w, cell);
        } else if (c->meaning == CSV_NAMED && !csv_is_nothing(cell->text)) {
            read_named(w, c->name.n ? c->name : c->words, cell, c, cell, (struct str){0});
        }
    }
}

void csv_entries_read(struct csv_line *w)
{
    size_t column = 0;
    const struct csv_cell *by = csv_cell_meaning(w, CSV_BY, &column);
    w->by = by ? by->text : (struct str){0};
    w->meter_h = meter_of_row(w);
    w->labour_min = labour_of_row(w);
    read_notes(w);
    read_cells(w);
    place_note(w);
}
