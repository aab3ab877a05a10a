/* A table within a step: what is known is printed, the rest is left blank to be written by hand, row by row. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define ROW_H 19.0
#define PAD 5.0

/* Widths of the columns: as their texts need, and what is left over shared among those that are written by hand. */
static void widths_of(struct sheet *s, const struct sheet_table *table, double w, double *widths)
{
    struct type plain = {.size = 9}, head = {.size = 7.6};
    double sum = 0;
    for (size_t i = 0; i < table->columns.n; i++) {
        double widest = pen_extent(s->pen, 0, head, table->columns.at[i]).w;
        for (size_t k = 0; k < table->rows_n; k++) {
            if (i < table->rows[k].n) {
                widest = fmax(widest, pen_extent(s->pen, 0, plain, table->rows[k].at[i]).w);
            }
        }
        widths[i] = widest + 2 * PAD;
        sum += widths[i];
    }
    for (size_t i = 0; i < table->columns.n; i++) {
        widths[i] = sum > w ? widths[i] * w / sum : widths[i] + (w - sum) / (double)table->columns.n;
    }
}

static void row(struct sheet *s, const struct sheet_table *table, const struct texts *cells, const double *widths,
                double x, double y)
{
    struct type plain = {.size = 9};
    for (size_t i = 0; i < table->columns.n; i++) {
        pen_frame(s->pen, (struct box){x, y, widths[i] + 0.5, ROW_H + 0.5}, 0.5, &INK);
        if (cells && i < cells->n) {
            pen_line_in(s->pen, x + PAD, y + 4, widths[i] - 2 * PAD, ALIGN_LEFT, plain, cells->at[i]);
        }
        x += widths[i];
    }
}

double table_draw(struct sheet *s, const struct sheet_table *table, double x, double y, double w)
{
    double top = y;
    double *widths = ARENA_ARRAY(s->a, double, table->columns.n + 1);
    struct type head = {.size = 7.6, .ink = &INK_SECOND}, title = {.size = 9.2, .bold = true};
    widths_of(s, table, w, widths);
    y += 3;
    if (table->title.n) {
        y += pen_text(s->pen, x, y, w, ALIGN_LEFT, title, table->title).h + 2;
    }
    double at = x;
    for (size_t i = 0; i < table->columns.n; i++) {
        pen_line_in(s->pen, at + PAD, y, widths[i] - PAD, ALIGN_LEFT, head, table->columns.at[i]);
        at += widths[i];
    }
    y += 11;
    for (size_t i = 0; i < table->rows_n + (size_t)table->blanks; i++) {
        row(s, table, i < table->rows_n ? &table->rows[i] : NULL, widths, x, y);
        y += ROW_H;
    }
    return y + 4 - top;
}
