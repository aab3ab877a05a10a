/* Columns of text on a terminal. */
#include "cli.h"

struct table table_new(struct arena *a, int columns)
{
    return (struct table){.a = a, .columns = columns};
}

void table_add(struct table *t, struct str cell)
{
    ARENA_PUSH(t->a, t->cells, t->n, t->cap) = cell;
}

void table_addz(struct table *t, const char *cell)
{
    table_add(t, str_of(cell));
}

void table_print(struct text *out, const struct table *t)
{
    size_t columns = (size_t)t->columns;
    size_t *widths = ARENA_ARRAY(t->a, size_t, columns);
    for (size_t i = 0; i < t->n; i++) {
        size_t n = str_chars(t->cells[i]);
        widths[i % columns] = n > widths[i % columns] ? n : widths[i % columns];
    }
    for (size_t i = 0; i < t->n; i++) {
        bool last = i % columns == columns - 1;
        if (last) {
            text_add(out, t->cells[i]);
        } else {
            text_pad(out, t->cells[i], widths[i % columns] + 2);
        }
        if (last) {
            while (out->n && out->p[out->n - 1] == ' ') {
                out->n--;
            }
            text_char(out, '\n');
        }
    }
}
