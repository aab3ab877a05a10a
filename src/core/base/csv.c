/* RFC 4180 by its grammar. */
#include "base/csv.h"

void text_csv_field(struct text *t, struct str field, bool quote)
{
    for (size_t i = 0; i < field.n && !quote; i++) {
        quote = field.p[i] == ',' || field.p[i] == '"' || field.p[i] == '\r' || field.p[i] == '\n';
    }
    if (!quote) {
        text_add(t, field);
        return;
    }
    text_char(t, '"');
    for (size_t i = 0; i < field.n; i++) {
        if (field.p[i] == '"') {
            text_char(t, '"');
        }
        text_char(t, field.p[i]);
    }
    text_char(t, '"');
}

void text_csv_record(struct text *t, const struct str *fields, size_t n, bool quote)
{
    for (size_t i = 0; i < n; i++) {
        if (i > 0) {
            text_char(t, ',');
        }
        text_csv_field(t, fields[i], quote);
    }
    text_addz(t, "\r\n");
}

/* A reading position within one record. */
struct cursor {
    struct str s;
    size_t i, line_start;
    uint32_t line;
};

static bool refuse(const struct cursor *c, const char *what, const char *right, struct err *e)
{
    return err_at(e, (struct where){.line = c->line, .column = (uint32_t)(c->i - c->line_start) + 1}, ERR_INPUT, right,
                  what, (char *)0);
}

static bool at_break(const struct cursor *c)
{
    return c->s.p[c->i] == '\n' || (c->s.p[c->i] == '\r' && c->i + 1 < c->s.n && c->s.p[c->i + 1] == '\n');
}

/* A field that starts with a quote; the cursor stands on it. */
static bool quoted(struct arena *a, struct cursor *c, struct str *field, struct err *e)
{
    struct cursor start = *c;
    struct text t = text_new(a);
    for (c->i++; c->i < c->s.n; c->i++) {
        char here = c->s.p[c->i];
        if (here == '"' && c->i + 1 < c->s.n && c->s.p[c->i + 1] == '"') {
            c->i++;
        } else if (here == '"') {
            c->i++;
            *field = text_str(&t);
            return c->i == c->s.n || c->s.p[c->i] == ',' || at_break(c) ||
                   refuse(c, "text behind a closing quote", "a comma or the end of the line", e);
        }
        text_char(&t, here);
        if (here == '\n') {
            c->line++;
            c->line_start = c->i + 1;
        }
    }
    return refuse(&start, "a quote that is never closed", "a closing quote", e);
}

static bool plain(struct cursor *c, struct str *field, struct err *e)
{
    size_t from = c->i;
    while (c->i < c->s.n && c->s.p[c->i] != ',' && !at_break(c)) {
        if (c->s.p[c->i] == '"') {
            return refuse(c, "a quote inside a field that is not quoted", "the field in quotes, its quotes doubled", e);
        }
        c->i++;
    }
    *field = str_cut(c->s, from, c->i);
    return true;
}

bool csv_record_read(struct arena *a, struct str *rest, uint32_t *line, struct csv_record *record, struct err *e)
{
    struct cursor c = {*rest, 0, 0, *line};
    *record = (struct csv_record){0};
    if (c.s.n == 0) {
        return false;
    }
    for (;;) {
        struct str field = S("");
        bool has_quote = c.i < c.s.n && c.s.p[c.i] == '"';
        if (!(has_quote ? quoted(a, &c, &field, e) : plain(&c, &field, e))) {
            return false;
        }
        ARENA_PUSH(a, record->fields, record->n, record->cap) = field;
        if (c.i == c.s.n || c.s.p[c.i] != ',') {
            break;
        }
        c.i++;
    }
    if (c.i < c.s.n) {
        c.i += c.s.p[c.i] == '\r' ? 2 : 1;
        c.line++;
    }
    *rest = str_cut(*rest, c.i, rest->n);
    *line = c.line;
    return true;
}
