/* Text into rows of cells, each with its line and column.
 *
 * RFC 4180, read generously: lines end in CR LF, LF or CR; a quote inside a cell that did not start with one is an
 * ordinary character (an inch mark); in a quoted cell a quote followed by anything but a separator, line end or quote
 * is one as well. That is how libcsv reads when it is not strict, which the tests hold this against; libcsv itself
 * gives no positions, drops blank lines without a word and copies every cell, so it serves there and not here.
 *
 * A quote that is never closed would swallow the rest of the file. Then its place is reported, and the reading goes on
 * behind it as if it were an ordinary character, so that the rest of the file is still checked. */
#include "csv_internal.h"

struct splitter {
    struct arena *a;
    struct csv_table *t;
    const char *p;
    size_t n, i;
    uint32_t line;
    size_t line_start; /* byte where the line begins */
    size_t counted_to; /* bytes of the line whose characters are counted already */
    uint32_t counted;  /* ... and how many they were */
    char separator;
    bool no_quotes; /* after an open quote: quotes are ordinary */
};

/* Whether the character is one of the set. */
bool csv_is_among(char c, struct str set)
{
    for (size_t i = 0; i < set.n; i++) {
        if (set.p[i] == c) {
            return true;
        }
    }
    return false;
}

/* At a line end or the end of the text. */
static bool at_end_of_line(const struct splitter *s)
{
    return s->i >= s->n || s->p[s->i] == '\n' || s->p[s->i] == '\r';
}

/* Column of byte `at` of the current line: characters before it, plus one. Counts on from where it last stood. */
static uint32_t column_of(struct splitter *s, size_t at)
{
    for (; s->counted_to < at; s->counted_to++) {
        s->counted += ((unsigned char)s->p[s->counted_to] & 0xC0) != 0x80;
    }
    return s->counted + 1;
}

/* Starts a line at byte `at`. */
static void begin_line(struct splitter *s, size_t at)
{
    s->line++;
    s->line_start = s->counted_to = at;
    s->counted = 0;
}

/* Steps over the line end at i. */
static void pass_line_end(struct splitter *s)
{
    if (s->p[s->i] == '\r' && s->i + 1 < s->n && s->p[s->i + 1] == '\n') {
        s->i++;
    }
    s->i++;
    begin_line(s, s->i);
}

/* White space as people leave it around a cell: ASCII blanks, no-break space (U+00A0), narrow no-break space (U+202F).
 */
static struct str trim(struct str s)
{
    for (;;) {
        size_t n = s.n;
        s = str_trim(s);
        if (str_starts(s, S("\xC2\xA0"))) {
            s = str_cut(s, 2, s.n);
        } else if (str_starts(s, S("\xE2\x80\xAF"))) {
            s = str_cut(s, 3, s.n);
        }
        if (str_ends(s, S("\xC2\xA0"))) {
            s.n -= 2;
        } else if (str_ends(s, S("\xE2\x80\xAF"))) {
            s.n -= 3;
        }
        if (s.n == n) {
            return s;
        }
    }
}

/* Takes the apostrophe off that csv_write_field puts in front of what a spreadsheet would run as a formula. */
static void take_guard_off(struct csv_cell *cell)
{
    cell->text = trim(cell->text);
    cell->guarded = cell->text.n >= 2 && cell->text.p[0] == '\'' && csv_is_among(cell->text.p[1], S("=+-@\t\r'"));
    if (cell->guarded) {
        cell->text = str_cut(cell->text, 1, cell->text.n);
    }
}

/* A quoted cell whose opening quote is at i. Returns false, with everything as before, when it is never closed. */
static bool quoted_cell(struct splitter *s, struct str *cell)
{
    struct splitter before = *s;
    size_t from = ++s->i;
    struct text built = text_new(s->a);
    bool copied = false;
    while (s->i < s->n) {
        char c = s->p[s->i];
        if (c == '\n' || c == '\r') {
            pass_line_end(s);
            continue;
        }
        if (c != '"') {
            s->i++;
            continue;
        }
        bool doubled = s->i + 1 < s->n && s->p[s->i + 1] == '"';
        if (doubled) {
            text_add(&built, (struct str){s->p + from, s->i + 1 - from});
            copied = true;
            s->i += 2;
            from = s->i;
            continue;
        }
        size_t quote = s->i++;
        while (s->i < s->n && s->p[s->i] == ' ' && s->separator != ' ') {
            s->i++;
        }
        if (at_end_of_line(s) || s->p[s->i] == s->separator) {
            struct str last = {s->p + from, quote - from};
            if (copied) {
                text_add(&built, last);
                last = text_str(&built);
            }
            *cell = last;
            return true;
        }
    }
    *s = before;
    return false;
}

/* The next cell of the row; leaves i on the separator or line end behind it. */
static struct csv_cell next_cell(struct splitter *s)
{
    size_t from = s->i;
    while (s->i < s->n && s->p[s->i] == ' ') {
        s->i++;
    }
    struct csv_cell cell = {.line = s->line, .column = column_of(s, s->i)};
    if (!s->no_quotes && s->i < s->n && s->p[s->i] == '"') {
        if (quoted_cell(s, &cell.text)) {
            take_guard_off(&cell);
            return cell;
        }
        s->no_quotes = true;
        s->t->open_line = cell.line;
        s->t->open_column = cell.column;
    }
    s->i = from;
    while (!at_end_of_line(s) && s->p[s->i] != s->separator) {
        s->i++;
    }
    cell.text = (struct str){s->p + from, s->i - from};
    take_guard_off(&cell);
    return cell;
}

/* True when the line at i holds nothing but blanks; then i is on its end. */
static bool pass_blank_line(struct splitter *s)
{
    size_t i = s->i;
    while (i < s->n && s->p[i] == ' ') {
        i++;
    }
    if (i < s->n && s->p[i] != '\n' && s->p[i] != '\r') {
        return false;
    }
    s->i = i;
    return true;
}

struct csv_table csv_split(struct arena *a, struct str text, char separator, size_t most)
{
    struct csv_table t = {0};
    struct splitter s = {.a = a, .t = &t, .p = text.p, .n = text.n, .line = 1, .separator = separator};
    while (s.i < s.n && t.n_rows < most) {
        if (!pass_blank_line(&s)) {
            struct csv_row row = {.first = t.n_cells, .line = s.line};
            for (;;) {
                struct csv_cell cell = next_cell(&s);
                ARENA_PUSH(a, t.cells, t.n_cells, t.cap_cells) = cell;
                row.n++;
                if (s.i >= s.n || s.p[s.i] != separator) {
                    break;
                }
                s.i++;
            }
            ARENA_PUSH(a, t.rows, t.n_rows, t.cap_rows) = row;
        } else {
            t.first_blank = t.n_blank++ ? t.first_blank : s.line;
        }
        if (s.i < s.n) {
            pass_line_end(&s);
        }
    }
    return t;
}

char csv_told_separator(struct str text, size_t *skip)
{
    *skip = 0;
    struct str quoted = S("\"sep=");
    bool in_quotes = str_starts(text, quoted);
    size_t at = in_quotes ? 5 : 4;
    if (!in_quotes && !(text.n > 4 && str_eq_nocase(str_cut(text, 0, 4), S("sep=")))) {
        return 0;
    }
    if (text.n <= at || !csv_is_among(text.p[at], S(",;\t|"))) {
        return 0;
    }
    size_t end = at + 1 + (in_quotes && text.n > at + 1 && text.p[at + 1] == '"');
    if (end < text.n && text.p[end] != '\r' && text.p[end] != '\n') {
        return 0;
    }
    *skip = end; /* the line end stays, so that lines are counted right */
    return text.p[at];
}
