/* The plot in letters, for a terminal: one character a cell, axes at the left and below. */
#include "plot.h"

#include <math.h>
#include <string.h>

#define LEFT 9 /* characters of the y axis */

struct grid {
    char *cells; /* [rows][columns] of the field */
    int columns, rows;
    struct plot_view v;
};

static int column_of(const struct grid *g, double x)
{
    double c = (x - g->v.x0) / (g->v.x1 - g->v.x0) * (g->columns - 1);
    return c >= -0.5 && c < g->columns ? (int)lround(c) : -1;
}

static int row_of(const struct grid *g, double y)
{
    double r = (g->v.y1 - y) / (g->v.y1 - g->v.y0) * (g->rows - 1);
    return r >= -0.5 && r < g->rows ? (int)lround(r) : -1;
}

static void put(struct grid *g, int column, int row, char c)
{
    if (column >= 0 && column < g->columns && row >= 0 && row < g->rows) {
        g->cells[row * g->columns + column] = c;
    }
}

static void upright(struct grid *g, double x, char c)
{
    int column = column_of(g, x);
    for (int row = 0; column >= 0 && row < g->rows; row++) {
        put(g, column, row, c);
    }
}

static void level(struct grid *g, double y, char c)
{
    int row = row_of(g, y);
    for (int column = 0; row >= 0 && column < g->columns; column++) {
        put(g, column, row, c);
    }
}

/* Cells whose middle lies in the band's polygon: the even-odd rule. */
static bool in_band(const struct plot *p, double x, double y)
{
    bool inside = false;
    size_t n = 2 * p->n_band;
    for (size_t i = 0, j = n - 1; i < n; j = i++) {
        struct plot_xy a = i < p->n_band ? p->band_a[i] : p->band_b[n - 1 - i];
        struct plot_xy b = j < p->n_band ? p->band_a[j] : p->band_b[n - 1 - j];
        if ((a.y > y) != (b.y > y) && x < (b.x - a.x) * (y - a.y) / (b.y - a.y) + a.x) {
            inside = !inside;
        }
    }
    return inside;
}

static void fill_band(struct grid *g, const struct plot *p)
{
    for (int row = 0; row < g->rows && p->n_band > 1; row++) {
        for (int column = 0; column < g->columns; column++) {
            double x = g->v.x0 + (g->v.x1 - g->v.x0) * column / (g->columns - 1);
            double y = g->v.y1 - (g->v.y1 - g->v.y0) * row / (g->rows - 1);
            if (in_band(p, x, y)) {
                put(g, column, row, ':');
            }
        }
    }
}

static void join(struct grid *g, const struct plot *p)
{
    for (size_t i = 0; i + 1 < p->n_line; i++) {
        struct plot_xy a = p->line[i];
        struct plot_xy b = p->line[i + 1];
        if (!isfinite(a.x + a.y + b.x + b.y)) {
            continue;
        }
        for (int k = 0; k <= 2 * g->columns; k++) {
            double part = (double)k / (2 * g->columns);
            put(g, column_of(g, a.x + part * (b.x - a.x)), row_of(g, a.y + part * (b.y - a.y)), '.');
        }
    }
}

static void axis_label(struct text *out, struct arena *a, const struct plot_ticks *y, const struct grid *g, int row)
{
    struct text t = text_new(a);
    for (int i = 0; i < y->n; i++) {
        double at = y->first + i * y->step;
        if (row_of(g, at) == row) {
            plot_tick_label(&t, at, y->decimals);
            break;
        }
    }
    t.n = t.n > LEFT - 2 ? 0 : t.n; /* no room: a mark without its number, rather than half a number */
    size_t n = LEFT - 2 - t.n;
    for (size_t i = 0; i < n; i++) {
        text_char(out, ' ');
    }
    text_add(out, text_str(&t));
    text_addz(out, t.n ? " +" : " |");
}

/* Labels of the x axis, each under its mark, left out where it would run into the one before. */
static void x_axis(struct text *out, struct arena *a, const struct plot *p, const struct grid *g)
{
    int most = g->columns / 12 < 2 ? 2 : g->columns / 12;
    struct plot_ticks hours = {0};
    struct plot_day_ticks days = {0};
    if (p->by_hours) {
        hours = plot_ticks_of(g->v.x0, g->v.x1, most);
    } else {
        days = plot_day_ticks_of(g->v.x0, g->v.x1, most);
    }
    int n = p->by_hours ? hours.n : days.n;
    struct text marks = text_new(a);
    struct text labels = text_new(a);
    for (int i = 0; i < LEFT - 1; i++) {
        text_char(&marks, ' ');
    }
    text_char(&marks, '+');
    for (int i = 0; i < n; i++) {
        double at = p->by_hours ? hours.first + i * hours.step : days.at[i];
        int column = column_of(g, at);
        if (column < 0) {
            continue;
        }
        while (marks.n < (size_t)(LEFT + column)) {
            text_char(&marks, '-');
        }
        text_char(&marks, '+');
        struct text label = text_new(a);
        if (p->by_hours) {
            plot_tick_label(&label, at, hours.decimals);
            text_addz(&label, " h");
        } else {
            plot_day_label(&label, at, days.step, p->months);
        }
        size_t wide = str_chars(text_str(&label));
        size_t from = LEFT + (size_t)column > wide / 2 ? LEFT + (size_t)column - wide / 2 : 0;
        size_t used = str_chars(text_str(&labels));
        if (from > used && from + wide <= (size_t)(LEFT + g->columns + 6)) {
            for (; used < from; used++) {
                text_char(&labels, ' ');
            }
            text_add(&labels, text_str(&label));
        }
    }
    while (marks.n < (size_t)(LEFT + g->columns)) {
        text_char(&marks, '-');
    }
    text_add(out, text_str(&marks));
    text_char(out, '\n');
    text_add(out, text_str(&labels));
    text_char(out, '\n');
}

void plot_text(struct text *out, const struct plot *p, int columns, int rows)
{
    static const char marks[] = {[PLOT_IN] = 'o', [PLOT_CLOSE] = '@', [PLOT_OUT] = 'x', [PLOT_HOLLOW] = '?'};
    columns = columns < 24 ? 24 : columns > 240 ? 240 : columns;
    rows = rows < 5 ? 5 : rows > 60 ? 60 : rows;
    struct grid g = {.columns = columns - LEFT, .rows = rows - 2, .v = plot_view_of(p)};
    size_t n = (size_t)g.columns * (size_t)g.rows;
    g.cells = ARENA_ARRAY(out->a, char, n);
    memset(g.cells, ' ', n);
    fill_band(&g, p);
    for (size_t i = 0; i < p->n_resets; i++) {
        upright(&g, p->resets[i].x, '|');
    }
    upright(&g, p->now, '!');
    upright(&g, p->end, 'E');
    join(&g, p);
    level(&g, p->high, '=');
    level(&g, p->low, '=');
    if (isfinite(p->p50) && isfinite(p->crossing_y)) {
        int row = row_of(&g, p->crossing_y);
        int from = column_of(&g, isfinite(p->p10) ? p->p10 : p->p50);
        int to = isfinite(p->p90) ? column_of(&g, p->p90) : g.columns - 1;
        for (int c = from; from >= 0 && c <= (to < 0 ? g.columns - 1 : to); c++) {
            put(&g, c, row, '#');
        }
        put(&g, column_of(&g, p->p50), row, 'V');
    }
    for (size_t i = 0; i < p->n_readings; i++) {
        const struct plot_reading *r = &p->readings[i];
        put(&g, column_of(&g, r->x), row_of(&g, r->y), marks[r->mark]);
    }
    struct plot_ticks y = plot_ticks_of(g.v.y0, g.v.y1, g.rows / 2);
    for (int row = 0; row < g.rows; row++) {
        axis_label(out, out->a, &y, &g, row);
        struct str cells = {g.cells + (size_t)row * (size_t)g.columns, (size_t)g.columns};
        while (cells.n && cells.p[cells.n - 1] == ' ') {
            cells.n--;
        }
        text_add(out, cells);
        text_char(out, '\n');
    }
    x_axis(out, out->a, p, &g);
}
