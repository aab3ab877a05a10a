/* Drawing of the signs. */
#include "marks.h"

#include <qrencode.h>

#include <math.h>

void mark_stripe(struct pen *p, double x, double y, double h, bool in_line)
{
    double shift = in_line ? 0 : 3.2, half = (h - 1) / 2, w = 4.2;
    pen_fill(p, (struct box){x + 1, y, w, half}, &INK_PAINT);
    pen_fill(p, (struct box){x + 1 + shift, y + half + 1, w, half}, &INK_PAINT);
}

void mark_tick(struct pen *p, double x, double y, double s)
{
    pen_fill(p, (struct box){x, y, s, s}, &INK_WHITE);
    pen_frame(p, (struct box){x, y, s, s}, 1.2, &INK);
}

void mark_plate(struct pen *p, struct box b, struct str label)
{
    double r = b.h * 0.028 + 0.5, inset = b.h * 0.1 + 2;
    pen_round_frame(p, b, b.h * 0.09, fmax(1.2, b.h * 0.035), &INK);
    const double corners[][2] = {{b.x + inset, b.y + inset},
                                 {b.x + b.w - inset, b.y + inset},
                                 {b.x + inset, b.y + b.h - inset},
                                 {b.x + b.w - inset, b.y + b.h - inset}};
    for (size_t i = 0; i < 4; i++) {
        pen_circle(p, corners[i][0], corners[i][1], r, &INK, 0, 0);
    }
    struct type type = {.size = b.h * 0.58, .bold = true};
    double room = b.w - 2.6 * inset, natural = pen_extent(p, 0, type, label).w;
    if (natural > room) {
        type.size *= fmax(0.35, room / natural);
    }
    struct extent e = pen_extent(p, 0, type, label);
    pen_text(p, b.x + b.w / 2, b.y + (b.h - e.h) / 2, 0, ALIGN_CENTRE, type, label);
}

void mark_alert(struct pen *p, double x, double y, double h, const struct ink *fill, const struct ink *on)
{
    double w = h * 1.1547; /* an equilateral triangle's side for its height */
    const double corners[] = {x + w / 2, y, x + w, y + h, x, y + h};
    pen_polygon(p, corners, 3, fill, 0, 0);
    double m = x + w / 2, stem = h * 0.36, top = y + h * 0.34;
    const double bar[] = {m - h * 0.065, top, m + h * 0.065, top, m + h * 0.04, top + stem, m - h * 0.04, top + stem};
    pen_polygon(p, bar, 4, on, 0, 0);
    pen_circle(p, m, y + h * 0.84, h * 0.065, on, 0, 0);
}

/* Panel, sign and word of each level, after ANSI Z535.4: white on red, black on orange and yellow, white on blue; the
 * alert sign stands for harm to people and is therefore not used with NOTICE. */
struct panel {
    const struct ink *ground, *word;
    bool alert;
};

static const struct panel panels[] = {
    [LEVEL_DANGER] = {&SIGNAL_RED, &INK_WHITE, true},
    [LEVEL_WARNING] = {&SIGNAL_ORANGE, &SIGNAL_BLACK, true},
    [LEVEL_CAUTION] = {&SIGNAL_YELLOW, &SIGNAL_BLACK, true},
    [LEVEL_NOTICE] = {&SIGNAL_BLUE, &INK_WHITE, false},
};

static struct str level_word(const struct words *w, enum caution_level level)
{
    return level == LEVEL_DANGER    ? w->danger
           : level == LEVEL_WARNING ? w->warning
           : level == LEVEL_CAUTION ? w->caution
                                    : w->notice;
}

double mark_caution(struct pen *p, double x, double y, double w, const struct words *words, const struct caution *c)
{
    const double panel_w = 84, pad = 4.5;
    struct panel look = panels[c->level];
    struct type say = {.size = 9.2, .bold = c->level == LEVEL_DANGER};
    double text_w = w - panel_w - 2 * pad - 2;
    double h = fmax(pen_extent(p, text_w, say, c->say).h + 2 * pad, 23);
    pen_fill(p, (struct box){x, y, w, h}, &INK_WHITE);
    pen_fill(p, (struct box){x, y, panel_w, h}, look.ground);
    double sign = 12, word_x = x + 6;
    struct type word = {.size = 10, .bold = true, .ink = look.word};
    double line_h = pen_extent(p, 0, word, S("X")).h, middle = y + fmin(h, 32) / 2;
    if (look.alert) {
        mark_alert(p, x + 6, middle - sign / 2 - 0.5, sign, look.word, look.ground);
        word_x += sign * 1.1547 + 3.5;
    }
    pen_line_in(p, word_x, middle - line_h / 2, x + panel_w - word_x - 2, ALIGN_LEFT, word,
                level_word(words, c->level));
    pen_text(p, x + panel_w + pad + 2, y + (h - pen_extent(p, text_w, say, c->say).h) / 2, text_w, ALIGN_LEFT, say,
             c->say);
    pen_frame(p, (struct box){x, y, w, h}, 1.2, &SIGNAL_BLACK);
    return h;
}

/* A round step for tick marks: 1, 2 or 5 times a power of ten, giving between about 8 and 20 over the span. */
static double tick_step(double span)
{
    double step = pow(10, floor(log10(span / 8)));
    return span / step > 40 ? 5 * step : span / step > 16 ? 2 * step : step;
}

/* A number of the scale, no finer than a tenth of its ticks. */
static struct str scale_text(struct pen *p, double value, double step)
{
    struct text t = text_new(p->a);
    text_number(&t, value, (int)fmin(9, fmax(0, ceil(1 - log10(step) - 1e-9))));
    return text_str(&t);
}

/* A square bracket at x that opens to the right (direction 1) or to the left (-1). */
static void bracket(struct pen *p, double x, double y, double h, double direction)
{
    pen_line(p, x, y, x, y + h, 2, &INK);
    pen_line(p, x - direction, y + 1, x + direction * 5, y + 1, 2, &INK);
    pen_line(p, x - direction, y + h - 1, x + direction * 5, y + h - 1, 2, &INK);
}

/* The range that the scale shows: the limits and all marks, with a margin outside the brackets for what is out. */
static void scale_range(const struct gauge *g, double *least, double *most)
{
    double low = g->low, high = g->high;
    if (isnan(low) || isnan(high)) { /* one limit: show as much beyond it as up to the nearest known figure */
        double limit = isnan(low) ? high : low;
        double other = !isnan(g->want) ? g->want : !isnan(g->last) ? g->last : 0;
        double span = fabs(limit - other) > 0 ? fabs(limit - other) : fmax(fabs(limit), 1);
        low = isnan(low) ? limit - span : low;
        high = isnan(high) ? limit + span : high;
    }
    double span = high - low;
    *least = low - span * 0.3;
    *most = high + span * 0.3;
    if (g->low >= 0 || (isnan(g->low) && low >= 0)) {
        *least = fmax(*least, 0); /* what cannot be negative is not shown so */
    }
}

double mark_gauge(struct pen *p, double x, double y, double w, const struct gauge *g)
{
    if (isnan(g->low) && isnan(g->high)) {
        return 0;
    }
    double least = 0, most = 1;
    scale_range(g, &least, &most);
    const double h = 18, line = y + h / 2;
    double scale = w / (most - least);
#define AT(value) (x + ((value)-least) * scale)
    pen_line(p, x, line, x + w, line, 0.7, &INK_SECOND);
    double step = tick_step(most - least);
    for (double n = ceil(least / step); n * step <= most + step * 1e-9 && n < ceil(least / step) + 60; n++) {
        pen_line(p, AT(n * step), line - 2.5, AT(n * step), line + 2.5, 0.5, &INK_SECOND);
    }
    struct type small = {.size = 7.6};
    if (!isnan(g->want) && g->want >= least && g->want <= most) {
        double at = AT(g->want);
        const double arrow[] = {at - 3, line - 8, at + 3, line - 8, at, line - 2};
        pen_polygon(p, arrow, 3, &INK, 0, 0);
        pen_text(p, at, y + h, 0, ALIGN_CENTRE, small, scale_text(p, g->want, step));
    }
    if (!isnan(g->last) && g->last >= least && g->last <= most) {
        pen_circle(p, AT(g->last), line, 2.6, &INK_WHITE, 0.9, &INK_SECOND);
    }
    struct type bold = {.size = 7.6, .bold = true};
    if (!isnan(g->low)) {
        bracket(p, AT(g->low), y, h, 1);
        pen_text(p, AT(g->low), y + h, 0, ALIGN_CENTRE, bold, scale_text(p, g->low, step));
    }
    if (!isnan(g->high)) {
        bracket(p, AT(g->high), y, h, -1);
        pen_text(p, AT(g->high), y + h, 0, ALIGN_CENTRE, bold, scale_text(p, g->high, step));
    }
#undef AT
    return h + pen_extent(p, 0, small, S("0")).h;
}

void mark_blank(struct pen *p, struct box b, struct str unit)
{
    struct type type = {.size = 9.5, .ink = &INK_SECOND};
    struct extent e = pen_extent(p, 0, type, unit);
    pen_fill(p, b, &INK_WHITE);
    pen_frame(p, b, 1, &INK);
    pen_text(p, b.x + b.w - 5, b.y + b.h - e.h - 3, 0, ALIGN_RIGHT, type, unit);
}

void mark_number(struct pen *p, double x, double y, double r, int number, bool filled)
{
    struct text t = text_new(p->a);
    text_int(&t, number);
    struct type type = {.size = r * (number > 99  ? 0.9
                                     : number > 9 ? 1.15
                                                  : 1.35),
                        .bold = true,
                        .ink = filled ? &INK_WHITE : &INK};
    struct extent e = pen_extent(p, 0, type, text_str(&t));
    pen_circle(p, x, y, r, filled ? &INK : &INK_WHITE, 1, &INK);
    pen_text(p, x, y - e.h / 2, 0, ALIGN_CENTRE, type, text_str(&t));
}

bool mark_qr(struct pen *p, double x, double y, double side, struct str text)
{
    QRcode *code = QRcode_encodeData((int)text.n, (const unsigned char *)text.p, 0, QR_ECLEVEL_M);
    if (!code) {
        return false;
    }
    if (!p->dry) {
        double module = side / (code->width + 8);
        for (int row = 0; row < code->width; row++) {
            for (int from = 0, to; from < code->width; from = to) {
                bool dark = code->data[row * code->width + from] & 1;
                for (to = from + 1; to < code->width && (code->data[row * code->width + to] & 1) == dark; to++) {
                }
                if (dark) {
                    cairo_rectangle(p->cr, x + (from + 4) * module, y + (row + 4) * module, (to - from) * module,
                                    module);
                }
            }
        }
        cairo_set_source_rgb(p->cr, 0, 0, 0);
        cairo_set_antialias(p->cr, CAIRO_ANTIALIAS_NONE);
        cairo_fill(p->cr);
        cairo_set_antialias(p->cr, CAIRO_ANTIALIAS_DEFAULT);
    }
    QRcode_free(code);
    return true;
}
