/* Rows of a CSV as our own tables are written: RFC 4180, a comma between cells, quotes where a cell needs them. For
 * signal tables and lists of expected readings; spreadsheets as people have them are feed_csv's business. */
#include "bus_internal.h"

struct bus_csv bus_csv_new(struct arena *a, struct str text)
{
    if (str_starts(text, S("\xEF\xBB\xBF"))) {
        text = str_cut(text, 3, text.n);
    }
    return (struct bus_csv){.a = a, .rest = text, .next_line = 1};
}

/* Reads a quoted cell at the start of *s, whose first byte is the quote; passes it, moving *line_start past line ends
 * within. */
static struct str quoted(struct bus_csv *c, struct str *s, const char **line_start)
{
    struct text t = text_new(c->a);
    size_t i = 1;
    for (; i < s->n; i++) {
        if (s->p[i] == '"') {
            if (i + 1 < s->n && s->p[i + 1] == '"') {
                i++;
            } else {
                break;
            }
        }
        if (s->p[i] == '\n') {
            c->next_line++;
            *line_start = s->p + i + 1;
        }
        text_char(&t, s->p[i]);
    }
    *s = str_cut(*s, i + 1, s->n);
    return text_str(&t);
}

/* Adds a cell that began there. */
static void push(struct bus_csv *c, struct str cell, struct where at)
{
    size_t n = c->n;
    ARENA_PUSH(c->a, c->cell, n, c->cap_cell) = cell;
    ARENA_PUSH(c->a, c->at, c->n, c->cap_at) = at;
}

/* Reads one row; false at the end of the text. */
static bool read_row(struct bus_csv *c)
{
    struct str s = c->rest;
    c->n = 0;
    c->line = c->next_line;
    if (s.n == 0) {
        return false;
    }
    const char *start = s.p;
    bool more = true;
    while (more) {
        struct where at = {.line = c->next_line, .column = (uint32_t)(s.p - start) + 1};
        struct str cell = {0};
        if (s.n > 0 && s.p[0] == '"') {
            cell = quoted(c, &s, &start);
        }
        size_t i = 0; /* up to the comma or the end of the line; behind a closing quote that is nothing */
        while (i < s.n && s.p[i] != ',' && s.p[i] != '\n') {
            i++;
        }
        cell = cell.p ? cell : str_cut(s, 0, i);
        more = i < s.n && s.p[i] == ',';
        c->next_line += i < s.n && s.p[i] == '\n';
        if (!more && cell.n > 0 && cell.p[cell.n - 1] == '\r') {
            cell.n--;
        }
        push(c, cell, at);
        s = str_cut(s, i + 1, s.n);
    }
    c->rest = s;
    return true;
}

bool bus_csv_next(struct bus_csv *c)
{
    while (read_row(c)) {
        if (c->n > 1 || str_trim(c->cell[0]).n > 0) {
            return true;
        }
    }
    return false;
}

ptrdiff_t bus_csv_column(const struct bus_csv *c, struct str name)
{
    for (size_t i = 0; i < c->n; i++) {
        if (str_eq_nocase(str_trim(c->cell[i]), name)) {
            return (ptrdiff_t)i;
        }
    }
    return -1;
}
