/* One row of the sheet: is it data, of which machine, and when. What it says is read in csv_entry.c.
 *
 * A row of which not even machine or date is clear becomes one refused proposal at the cell that is wrong. */
#include "csv_internal.h"

#include <math.h>
#include <string.h>

#define Z(s) str_z(r->a, (s))

const struct csv_cell *csv_cell_of(const struct csv_line *w, size_t column)
{
    return column < w->cells->n ? &w->r->table.cells[w->cells->first + column] : NULL;
}

/* The first column of that meaning with something in this row; null when there is none. */
const struct csv_cell *csv_cell_meaning(const struct csv_line *w, enum csv_meaning m, size_t *column)
{
    for (size_t k = 0; k < w->r->n_columns; k++) {
        const struct csv_cell *cell = w->r->columns[k].meaning == m ? csv_cell_of(w, k) : NULL;
        if (cell && !csv_is_nothing(cell->text)) {
            *column = k;
            return cell;
        }
    }
    return NULL;
}

struct where csv_where_cell(const struct csv_reading *r, const struct csv_cell *cell)
{
    return csv_where(r, cell->line, cell->column);
}

/* ---- proposals ---- */

/* A proposal with what the row says of all. */
struct feed_csv_proposal csv_begin(const struct csv_line *w, enum feed_csv_kind kind, const struct csv_cell *cell)
{
    return (struct feed_csv_proposal){.kind = kind,
                                      .where = csv_where_cell(w->r, cell),
                                      .machine = w->machine,
                                      .day = w->day,
                                      .minute = w->minute,
                                      .at = w->at,
                                      .value = NAN,
                                      .spn = -1,
                                      .fmi = -1,
                                      .meter_h = w->meter_h,
                                      .labour_min = NAN,
                                      .by = w->by};
}

/* Keeps a proposal, with the doubts of its row. */
void csv_keep(struct csv_line *w, struct feed_csv_proposal p)
{
    struct csv_reading *r = w->r;
    for (size_t i = 0; i < w->doubts.n_why && p.mark != FEED_CSV_REFUSED; i++) {
        const struct diag *d = &w->doubts.why[i];
        csv_doubt(r, &p, d->where, d->rule, d->what, d->right);
    }
    p.asks = p.asks || (w->doubts.asks && p.mark != FEED_CSV_REFUSED);
    ARENA_PUSH(r->a, r->proposals, r->n_proposals, r->cap_proposals) = p;
}

/* Refuses the row as a whole, at a cell. */
static void refuse_row(struct csv_line *w, const struct csv_cell *cell, const char *rule, struct str what,
                       struct str right)
{
    struct feed_csv_proposal p = csv_begin(w, FEED_CSV_ROW, cell);
    p.text = cell->text;
    csv_refuse(w->r, &p, p.where, rule, what, right);
    csv_keep(w, p);
}

/* A cell that holds a spreadsheet's error or formula instead of a value is refused. Returns whether it was. */
bool csv_refuse_broken(struct csv_line *w, enum feed_csv_kind kind, const struct csv_cell *cell, struct str name)
{
    struct csv_reading *r = w->r;
    bool formula = cell->text.n > 1 && cell->text.p[0] == '=' && !cell->guarded;
    if (!formula && !csv_is_spreadsheet_error(cell->text)) {
        return false;
    }
    struct feed_csv_proposal p = csv_begin(w, kind, cell);
    p.name = name;
    p.text = cell->text;
    csv_refuse(r, &p, p.where, formula ? "formula" : "spreadsheet-error",
               csv_say(r->a, formula ? "a formula instead of its value: " : "an error of the spreadsheet: ",
                       Z(cell->text), (char *)0),
               S("the value itself, or leave the cell empty"));
    csv_keep(w, p);
    return true;
}

/* ---- which machine ---- */

/* Says that a cell was read as a machine although it is not written so. */
static void doubt_machine(struct csv_line *w, const struct csv_cell *cell, int machine)
{
    struct csv_reading *r = w->r;
    const struct feed_csv_machine *m = &r->in->machines[machine];
    csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "serial",
              csv_say(r->a, "\"", Z(cell->text), "\" is taken for ", Z(m->serial), (char *)0),
              csv_say(r->a, Z(m->serial), m->label.n ? " or " : "", Z(m->label), (char *)0));
}

/* Machine columns agree, or one is enough. Sets w->machine; false when the row was refused. */
static bool read_machine(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    const struct csv_cell *first = NULL;
    const struct csv_cell *bad = NULL;
    struct csv_found_machine why = {.index = -1};
    for (size_t k = 0; k < r->n_columns; k++) {
        const struct csv_cell *cell = r->columns[k].meaning == CSV_MACHINE ? csv_cell_of(w, k) : NULL;
        if (!cell || csv_is_nothing(cell->text)) {
            continue;
        }
        struct csv_found_machine f = csv_find_machine(r, cell->text);
        if (f.index < 0) {
            bad = bad ? bad : cell;
            why = why.why_not.n ? why : f;
        } else if (first && f.index != w->machine) {
            refuse_row(w, cell, "serial",
                       csv_say(r->a, "the row names two machines: ", Z(r->in->machines[w->machine].serial), " and ",
                               Z(r->in->machines[f.index].serial), (char *)0),
                       S("one machine in a row"));
            return false;
        } else {
            if (!f.exact && !first) {
                doubt_machine(w, cell, f.index);
            }
            first = cell;
            w->machine = f.index;
        }
    }
    if (!first && bad) {
        refuse_row(w, bad, "serial", why.why_not, why.right);
        return false;
    }
    if (bad) {
        csv_doubt(r, &w->doubts, csv_where_cell(r, bad), "serial", why.why_not, S("the other column decides"));
    }
    return true;
}

/* A machine cell left blank means the one above when the row has a date of its own, or the file's one machine. */
static bool machine_or_above(struct csv_line *w, bool has_date)
{
    struct csv_reading *r = w->r;
    if (w->machine >= 0) {
        return true;
    }
    const struct csv_cell *cell = &r->table.cells[w->cells->first];
    if (r->only_machine >= 0) {
        w->machine = r->only_machine;
        if (r->only_machine_doubtful) {
            csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "machine",
                      csv_say(r->a, "no column names the machine; ", Z(r->in->machines[w->machine].serial),
                              " stands above the table or in the file's name", (char *)0),
                      S("say the machine with an option"));
        }
        return true;
    }
    if (has_date && r->above.machine >= 0) {
        w->machine = r->above.machine;
        struct text line = text_new(r->a);
        text_int(&line, r->above.line);
        csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "machine",
                  csv_say(r->a, "no machine here; taken for that of line ", text_z(&line), ": ",
                          Z(r->in->machines[w->machine].serial), (char *)0),
                  S("the serial number in every row"));
        return true;
    }
    refuse_row(w, cell, "machine", S("the row names no machine"), S("its serial number or label"));
    return false;
}

/* ---- when ---- */

/* The day in words that a date can be checked by. */
static const char *day_z(struct arena *a, day_t day)
{
    struct text t = text_new(a);
    text_day(&t, day);
    return text_z(&t);
}

/* Settles a date of three numbers. Returns false when no order makes it a date. */
static bool settle_day(struct csv_line *w, const struct csv_column *c, const struct csv_cell *cell,
                       const struct csv_date *d)
{
    struct csv_reading *r = w->r;
    bool told = r->in->options.dates != CSV_DATES_FIND;
    enum csv_dates order = d->mark == '.' && !told ? CSV_DAY_FIRST : c->is.dates;
    if (csv_date_in_order(d, order == CSV_DATES_FIND ? CSV_DAY_FIRST : order, &w->day)) {
        day_t other = DAY_NONE;
        if (c->dates_asked && d->numbers && d->mark != '.' && csv_date_in_order(d, CSV_MONTH_FIRST, &other) &&
            other != w->day) {
            csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "date-order",
                      csv_say(r->a, "\"", Z(cell->text), "\" is read as ", day_z(r->a, w->day), " but could be ",
                              day_z(r->a, other), (char *)0),
                      S("say --dates day-first, month-first or iso"));
            w->doubts.asks = true;
        }
        return true;
    }
    static const enum csv_dates others[] = {CSV_DAY_FIRST, CSV_MONTH_FIRST, CSV_ISO};
    for (size_t i = 0; !told && d->numbers && i < (d->mark == '.' ? 1 : 3); i++) {
        if (csv_date_in_order(d, others[i], &w->day)) {
            if (c->is.dates != CSV_ISO && c->is.dates != CSV_DATES_FIND) {
                csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "date-order",
                          csv_say(r->a, "\"", Z(cell->text), "\" can only be ", day_z(r->a, w->day),
                                  ", unlike the rest of its column", (char *)0),
                          S("one order of day and month in a column"));
            }
            return true;
        }
    }
    return false;
}

/* A time with an offset from UTC, on the depot's clock. */
static void shift_to_depot(struct csv_line *w, int offset_min)
{
    const struct feed_csv_input *in = w->r->in;
    instant_ms at = (instant_ms)w->day * 86400000 + ((instant_ms)w->minute - offset_min) * 60000;
    int zone = in->zone ? in->zone(in->ctx, w->day, w->minute) : 0;
    w->day = day_of_instant(at, zone);
    w->minute = (int)((at + (instant_ms)zone * 60000 - (instant_ms)w->day * 86400000) / 60000);
}

/* A time column beside the date. */
static void read_time_column(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    size_t column = 0;
    const struct csv_cell *cell = csv_cell_meaning(w, CSV_TIME, &column);
    int minute = -1;
    if (!cell) {
        return;
    }
    if (csv_time_read(r->scratch, cell->text, &minute)) {
        w->minute = minute;
    } else {
        csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "time",
                  csv_say(r->a, "\"", Z(cell->text), "\" is no time; only the date is taken", (char *)0),
                  S("14:30 or 2:30 pm"));
    }
}

/* Doubts about a date that is one. */
static void doubt_date(struct csv_line *w, const struct csv_cell *cell, const struct csv_date *d)
{
    struct csv_reading *r = w->r;
    if (d->bad_time) {
        csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "time",
                  csv_say(r->a, "what follows the date in \"", Z(cell->text), "\" is no time; only the date is taken",
                          (char *)0),
                  S("2027-04-14 14:30"));
    }
    if (d->day_number) {
        csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "date",
                  csv_say(r->a, "\"", Z(cell->text),
                          "\" is taken for a spreadsheet's day number: ", day_z(r->a, w->day), (char *)0),
                  S("format the column as a date and save again"));
    }
    if (r->in->today != DAY_NONE && w->day > r->in->today) {
        csv_doubt(r, &w->doubts, csv_where_cell(r, cell), "future",
                  csv_say(r->a, day_z(r->a, w->day), " lies after today, ", day_z(r->a, r->in->today), (char *)0),
                  S("the day it was read or done"));
    }
}

/* Refuses a date cell that is none. */
static void refuse_date(struct csv_line *w, const struct csv_cell *cell, const struct csv_date *d)
{
    struct csv_reading *r = w->r;
    const char *why = d->no_year ? "\" has no year" : d->numbers ? "\" is no day of the calendar" : "\" is no date";
    refuse_row(w, cell, "date", csv_say(r->a, "\"", Z(cell->text), why, (char *)0),
               S("a date such as 2027-04-14, 14.4.2027 or 14 April 2027"));
}

/* Sets day, minute and instant. False when the row was refused. */
static bool read_date(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    size_t column = 0;
    const struct csv_cell *cell = csv_cell_meaning(w, CSV_DATE, &column);
    if (!cell) {
        const struct csv_cell *first = &r->table.cells[w->cells->first];
        if (w->machine < 0 || r->above.day == DAY_NONE || r->only_machine >= 0) {
            refuse_row(w, first, "date", S("the row has no date"), S("the day it was read or done"));
            return false;
        }
        struct text line = text_new(r->a);
        text_int(&line, r->above.line);
        w->day = r->above.day;
        csv_doubt(
            r, &w->doubts, csv_where_cell(r, first), "date",
            csv_say(r->a, "no date here; taken for that of line ", text_z(&line), ": ", day_z(r->a, w->day), (char *)0),
            S("the date in every row"));
        read_time_column(w);
        return true;
    }
    struct csv_date d = csv_date_read(r->scratch, cell->text);
    if (!d.ok || !settle_day(w, &r->columns[column], cell, &d)) {
        refuse_date(w, cell, &d);
        return false;
    }
    w->minute = d.minute;
    if (d.has_offset && d.minute >= 0) {
        shift_to_depot(w, d.offset_min);
    }
    read_time_column(w);
    doubt_date(w, cell, &d);
    return true;
}

/* The instant of the row's day and minute; noon when there is no time. */
static instant_ms instant_of(const struct csv_line *w)
{
    const struct feed_csv_input *in = w->r->in;
    int minute = w->minute >= 0 ? w->minute : 720;
    int zone = in->zone ? in->zone(in->ctx, w->day, minute) : 0;
    return (instant_ms)w->day * 86400000 + ((instant_ms)minute - zone) * 60000;
}

/* ---- rows that are none ---- */

/* Passes over a row, and says so. */
static void skip_row(struct csv_reading *r, const struct csv_cell *cell, enum diag_level level, struct str what)
{
    r->plan->skipped++;
    diags_add(&r->plan->findings,
              (struct diag){.level = level, .where = csv_where_cell(r, cell), .rule = "skipped", .what = what});
}

/* The header again: every cell that holds something holds what the header holds. */
static bool is_header_again(const struct csv_reading *r, const struct csv_row *row)
{
    if (!r->has_header) {
        return false;
    }
    const struct csv_row *header = &r->table.rows[r->header];
    size_t same = 0;
    for (size_t k = 0; k < row->n; k++) {
        struct str s = r->table.cells[row->first + k].text;
        if (s.n == 0) {
            continue;
        }
        if (k >= header->n || !str_eq_nocase(s, r->table.cells[header->first + k].text)) {
            return false;
        }
        same++;
    }
    return same >= 2;
}

/* Total, sum, average ... in the first cell that holds something, and no date in the row. */
static bool is_summary(struct csv_reading *r, const struct csv_line *w, const struct csv_cell *first)
{
    size_t column = 0;
    const struct csv_cell *date = csv_cell_meaning(w, CSV_DATE, &column);
    return csv_is_summary_word(csv_fold(r->scratch, first->text)) &&
           (!date || !csv_date_read(r->scratch, date->text).ok);
}

/* Skips what is no row of data, and refuses rows with too many cells. Returns whether the row is done with. */
static bool is_no_data(struct csv_line *w)
{
    struct csv_reading *r = w->r;
    const struct csv_cell *first = NULL;
    size_t filled = 0;
    for (size_t k = 0; k < w->cells->n; k++) {
        const struct csv_cell *cell = csv_cell_of(w, k);
        if (cell->text.n == 0) {
            continue;
        }
        first = first ? first : cell;
        filled++;
        if (k >= r->n_columns) {
            struct text n = text_new(r->a);
            text_int(&n, (int64_t)r->n_columns);
            r->plan->rows++;
            refuse_row(w, cell, "cells",
                       csv_say(r->a, "\"", Z(cell->text), "\" stands behind the last column: the header has ",
                               text_z(&n), (char *)0),
                       S("a cell that holds the separator itself must stand in quotes"));
            return true;
        }
    }
    if (!first) {
        return true;
    }
    r->plan->rows++;
    if (is_header_again(r, w->cells)) {
        skip_row(r, first, DIAG_HINT, S("the header again"));
        return true;
    }
    if (is_summary(r, w, first)) {
        skip_row(r, first, DIAG_HINT, csv_say(r->a, "a summary line, left out: ", Z(first->text), (char *)0));
        return true;
    }
    if (filled == 1 && r->n_columns > 2 && !csv_date_read(r->scratch, first->text).ok &&
        csv_number_form(first->text, &(size_t){0}) == CSV_NUMBER_NONE) {
        skip_row(r, first, DIAG_DOUBT, csv_say(r->a, "a line of text, left out: ", Z(first->text), (char *)0));
        return true;
    }
    return false;
}

/* A row that is refused or skipped hands nothing down to blank cells below it. */
static void forget_above(struct csv_reading *r)
{
    r->above = (struct csv_above){-1, DAY_NONE, 0};
}

void csv_row_read(struct csv_reading *r, size_t row)
{
    struct csv_line w = {.r = r,
                         .cells = &r->table.rows[row],
                         .machine = -1,
                         .day = DAY_NONE,
                         .minute = -1,
                         .at = INSTANT_NONE,
                         .meter_h = NAN,
                         .labour_min = NAN,
                         .note = text_new(r->a),
                         .first = r->n_proposals};
    size_t rows = r->plan->rows;
    if (is_no_data(&w)) {
        if (r->plan->rows > rows) {
            forget_above(r);
        }
        return;
    }
    size_t column = 0;
    bool has_date = csv_cell_meaning(&w, CSV_DATE, &column) != NULL;
    if (!read_machine(&w) || (has_date && !machine_or_above(&w, true)) || !read_date(&w) ||
        (!has_date && !machine_or_above(&w, false))) {
        forget_above(r);
        return;
    }
    w.at = instant_of(&w);
    r->above = (struct csv_above){w.machine, w.day, w.cells->line};
    csv_entries_read(&w);
    if (r->n_proposals == w.first) {
        skip_row(r, &r->table.cells[w.cells->first], DIAG_DOUBT, S("a row with nothing to take in it"));
    }
}
