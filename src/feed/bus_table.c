/* A depot's own signals: rows of a CSV with the columns of data/j1939_signals.csv, checked cell by cell and merged into
 * the built-in table. script/bus_tables.py makes the same of the built-in rows when the program is built; a test holds
 * the two readers against each other. */
#include "bus_internal.h"

#include <string.h>

enum column {
    C_SPN,
    C_NAME,
    C_PGN,
    C_START,
    C_BITS,
    C_GROUP,
    C_UNIT,
    C_NOTE,
    C_SCALE,
    C_OFFSET,
    C_STATES,
    C_VALID,
    C_ERROR,
    C_MISSING,
    COLUMNS,
    C_NEEDED = C_GROUP /* those before it must be there */
};

static const char *const column_names[COLUMNS] = {
    "spn",  "name",  "pgn",    "start_bit0", "bit_length",    "group",     "unit",
    "note", "scale", "offset", "states",     "valid_raw_max", "error_raw", "not_available_raw"};

/* A table being read. */
struct reader {
    struct arena *a;
    struct bus_csv csv;
    struct str name;
    struct diags *findings;
    ptrdiff_t column[COLUMNS];
    bool failed;
};

/* Adds a finding at a cell (or the row when the column is not there). */
static void bad(struct reader *r, enum column c, const char *what, const char *right)
{
    ptrdiff_t i = r->column[c];
    struct where at = {.line = r->csv.line, .column = 1};
    if (i >= 0 && (size_t)i < r->csv.n) {
        at = r->csv.at[i];
    }
    at.name = r->name;
    struct text t = text_new(r->a);
    text_join(&t, column_names[c], ": ", what, (char *)0);
    diags_add(
        r->findings,
        (struct diag){
            .level = DIAG_ERROR, .where = at, .rule = "signal-table", .what = text_str(&t), .right = str_of(right)});
    r->failed = true;
}

/* The trimmed text of a cell; empty when the column is not there. */
static struct str cell(const struct reader *r, enum column c)
{
    ptrdiff_t i = r->column[c];
    return i >= 0 && (size_t)i < r->csv.n ? str_trim(r->csv.cell[i]) : (struct str){0};
}

/* A whole number from low to high. */
static int64_t whole(struct reader *r, enum column c, int64_t low, int64_t high, const char *right)
{
    int64_t v = 0;
    if (!num_parse_i64(cell(r, c), &v) || v < low || v > high) {
        bad(r, c, "not a whole number in range", right);
        return low;
    }
    return v;
}

/* A plain decimal number as an integer and how many of its digits stand behind the point. */
static bool decimal(struct str s, int64_t *mantissa, int *places)
{
    size_t i = s.n > 0 && (s.p[0] == '-' || s.p[0] == '+');
    bool minus = i && s.p[0] == '-';
    int64_t v = 0;
    int behind = 0;
    size_t digits = 0;
    bool point = false;
    for (; i < s.n; i++) {
        if (s.p[i] == '.' && !point) {
            point = true;
        } else if (bus_is_digit(s.p[i]) && digits < 15) {
            v = v * 10 + (s.p[i] - '0');
            digits++;
            behind += point;
        } else {
            return false;
        }
    }
    *mantissa = minus ? -v : v;
    *places = behind;
    return digits > 0 && behind <= 12;
}

/* Scale and offset over one power of ten; without a scale the signal is discrete. */
static void read_number(struct reader *r, struct bus_signal *s)
{
    int scale_places = 0;
    int offset_places = 0;
    static const char right[] = "a decimal number of at most 15 digits, 12 of them behind the point";
    s->discrete = cell(r, C_SCALE).n == 0;
    if (s->discrete) {
        return;
    }
    if (!decimal(cell(r, C_SCALE), &s->scale, &scale_places) || s->scale == 0) {
        bad(r, C_SCALE, "not a number that can scale", right);
        return;
    }
    if (cell(r, C_OFFSET).n > 0 && !decimal(cell(r, C_OFFSET), &s->offset, &offset_places)) {
        bad(r, C_OFFSET, "not a number", right);
        return;
    }
    s->places = scale_places > offset_places ? scale_places : offset_places;
    for (int i = scale_places; i < s->places; i++) {
        s->scale *= 10;
        if (s->scale > INT64_C(1000000000000000) || s->scale < -INT64_C(1000000000000000)) {
            bad(r, C_SCALE, "too many digits together with the offset", right);
            return;
        }
    }
    for (int i = offset_places; i < s->places; i++) {
        s->offset *= 10;
        if (s->offset > INT64_C(1000000000000000) || s->offset < -INT64_C(1000000000000000)) {
            bad(r, C_OFFSET, "too many digits together with the scale", right);
            return;
        }
    }
}

/* "65024-65279" or "254"; false for words, which leave the rule of the length in force. */
static bool span(struct str s, uint32_t *low, uint32_t *high)
{
    struct str rest = s;
    struct str piece = {0};
    int64_t v[2] = {0};
    if (!str_next(&rest, '-', &piece) || !num_parse_i64(str_trim(piece), &v[0])) {
        return false;
    }
    v[1] = v[0];
    if (rest.n > 0 && !num_parse_i64(str_trim(rest), &v[1])) {
        return false;
    }
    if (v[0] < 0 || v[1] < v[0] || v[1] > UINT32_MAX) {
        return false;
    }
    *low = (uint32_t)v[0];
    *high = (uint32_t)v[1];
    return true;
}

/* Limits of the raw value: by the columns, else by the rule for the length (J1939-71; whole bytes by their top byte).
 */
static void read_limits(const struct reader *r, struct bus_signal *s)
{
    uint32_t top = (uint32_t)((UINT64_C(1) << s->bits) - 1);
    uint32_t ignore = 0;
    if (s->bits >= 8 && s->bits % 8 == 0) {
        uint32_t step = UINT32_C(1) << (s->bits - 8);
        s->valid_max = 0xFB * step - 1;
        s->error_low = 0xFE * step;
        s->error_high = 0xFF * step - 1;
        s->not_available_low = 0xFF * step;
    } else if (s->bits == 1) {
        s->valid_max = 1;
        s->error_low = s->error_high = s->not_available_low = 2;
    } else {
        bool code = s->bits == 2 || s->bits == 4;
        s->valid_max = top - (code ? 2 : 1);
        s->error_low = code ? top - 1 : top;
        s->error_high = top - 1;
        s->not_available_low = top;
    }
    span(cell(r, C_VALID), &s->valid_max, &ignore);
    span(cell(r, C_ERROR), &s->error_low, &s->error_high);
    span(cell(r, C_MISSING), &s->not_available_low, &ignore);
}

/* Status that the words of a state begin with. */
static enum bus_status state_status(struct str text)
{
    return str_starts(text, S("not available")) ? BUS_NOT_AVAILABLE
           : str_starts(text, S("error"))       ? BUS_ERROR
           : str_starts(text, S("reserved"))    ? BUS_RESERVED
                                                : BUS_OK;
}

/* Cuts the first state off *rest: up to a ; that numbers and = follow, since words may hold a ; as well. */
static bool next_state(struct str *rest, struct str *part)
{
    struct str s = *rest;
    for (size_t i = 0; i < s.n; i++) {
        size_t k = i + 1;
        while (s.p[i] == ';' && k < s.n && (bus_is_digit(s.p[k]) || s.p[k] == ',' || s.p[k] == '-')) {
            k++;
        }
        if (k > i + 1 && k < s.n && s.p[k] == '=') {
            *part = str_cut(s, 0, i);
            *rest = str_cut(s, i + 1, s.n);
            return true;
        }
    }
    *part = s;
    *rest = (struct str){0};
    return s.n > 0;
}

/* "0=off;2,3=reserved;10-17=preset" */
static void read_states(struct reader *r, struct bus_signal *s)
{
    struct str rest = cell(r, C_STATES);
    struct str part = {0};
    struct bus_state *states = NULL;
    size_t cap = 0;
    while (next_state(&rest, &part)) {
        struct str text = part;
        struct str raws = {0};
        if (part.n == 0 || !str_next(&text, '=', &raws) || text.n == 0) {
            bad(r, C_STATES, "a state without a number or without words", "0=off;1=on;2=error;3=not available");
            return;
        }
        struct bus_state state = {.status = state_status(text), .text = str_z(r->a, text)};
        struct str raw = {0};
        while (str_next(&raws, ',', &raw)) {
            if (!span(str_trim(raw), &state.low, &state.high)) {
                bad(r, C_STATES, "the number of a state cannot be read", "0=off, 2,3=reserved or 10-17=preset");
                return;
            }
            ARENA_PUSH(r->a, states, s->n_states, cap) = state;
        }
    }
    s->states = states;
}

/* Reads the row that csv stands on. */
static struct bus_signal read_signal(struct reader *r)
{
    struct bus_signal s = {
        .spn = (uint32_t)whole(r, C_SPN, 0, 524287, "0 to 524287"),
        .pgn = (uint32_t)whole(r, C_PGN, 0, 262143, "0 to 262143, decimal"),
        .start_bit = (uint16_t)whole(r, C_START, 0, BUS_TRANSPORT_MOST * 8 - 1, "0 to 14279: (byte - 1) * 8 + bit - 1"),
        .bits = (uint8_t)whole(r, C_BITS, 1, 32, "1 to 32"),
        .name = str_z(r->a, cell(r, C_NAME)),
        .group = str_z(r->a, cell(r, C_GROUP)),
        .unit = str_z(r->a, cell(r, C_UNIT)),
        .note = str_z(r->a, cell(r, C_NOTE))};
    if (cell(r, C_NAME).n == 0) {
        bad(r, C_NAME, "empty", "what the signal is, in words");
    }
    if ((s.pgn >> 8 & 0xFF) < 240 && (s.pgn & 0xFF) != 0) {
        bad(r, C_PGN, "the low byte of a directed group is the destination", "a group number whose low byte is 0");
    }
    if (s.pgn == BUS_PGN_TRANSPORT_CONTROL || s.pgn == BUS_PGN_TRANSPORT_DATA) {
        bad(r, C_PGN, "this group carries other messages", "the group that is carried");
    }
    read_number(r, &s);
    read_limits(r, &s);
    read_states(r, &s);
    return s;
}

/* Finds the columns in the header row. */
static bool read_header(struct reader *r)
{
    bool there = bus_csv_next(&r->csv);
    for (int c = 0; c < COLUMNS; c++) {
        r->column[c] = there ? bus_csv_column(&r->csv, str_of(column_names[c])) : -1;
        if (r->column[c] < 0 && c < C_NEEDED) {
            bad(r, (enum column)c, "the header has no such column",
                "spn,name,pgn,start_bit0,bit_length,scale,offset,unit");
        }
    }
    return !r->failed;
}

/* Signals sorted by pgn. */
struct signal_list {
    struct bus_signal *at;
    size_t n, cap;
};

/* Puts a signal in place of the one with the same pgn and spn, or behind the last of its pgn. */
static void merge(struct arena *a, struct signal_list *list, struct bus_signal s)
{
    size_t place = 0;
    while (place < list->n && list->at[place].pgn <= s.pgn) {
        if (list->at[place].pgn == s.pgn && list->at[place].spn == s.spn) {
            list->at[place] = s;
            return;
        }
        place++;
    }
    ARENA_PUSH(a, list->at, list->n, list->cap) = s;
    memmove(list->at + place + 1, list->at + place, (list->n - 1 - place) * sizeof s);
    list->at[place] = s;
}

bool bus_table_extend(struct arena *a, const struct bus_table *base, struct str name, struct str csv,
                      struct bus_table *out, struct diags *findings)
{
    struct reader r = {.a = a, .csv = bus_csv_new(a, csv), .name = name, .findings = findings};
    if (!read_header(&r)) {
        return false;
    }
    struct signal_list list = {0};
    for (size_t i = 0; i < base->n; i++) {
        ARENA_PUSH(a, list.at, list.n, list.cap) = base->at[i];
    }
    while (bus_csv_next(&r.csv)) {
        struct bus_signal s = read_signal(&r);
        if (!r.failed) {
            merge(a, &list, s);
        }
    }
    if (r.failed) {
        return false;
    }
    *out = (struct bus_table){list.at, list.n};
    return true;
}
