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

/* Wide enough for the longest of the four words, so that all panels of a sheet are alike. */
static double panel_width(struct pen *p, const struct words *words, struct type word, double sign_w)
{
    double most = 0;
    for (int level = LEVEL_DANGER; level <= LEVEL_NOTICE; level++) {
        most = fmax(most, pen_extent(p, 0, word, level_word(words, (enum caution_level)level)).w);
    }
    return fmin(sign_w + most + 15, 130);
}

double mark_caution(struct pen *p, double x, double y, double w, const struct words *words, const struct caution *c)
{
    const double pad = 4, sign = 11.5, sign_w = sign * 1.1547 + 3.5;
    struct panel look = panels[c->level];
    struct type say = {.size = 9.2, .bold = c->level == LEVEL_DANGER};
    struct type word = {.size = 10, .bold = true, .ink = look.word};
    double panel_w = panel_width(p, words, word, sign_w), text_x = x + panel_w + 7, text_w = x + w - text_x - 6;
    struct extent said = pen_extent(p, text_w, say, c->say), line = pen_extent(p, 0, say, S("X"));
    double h = fmax(said.h + 2 * pad, 21), text_y = y + (h - said.h) / 2;
    pen_fill(p, (struct box){x, y, w, h}, &INK_WHITE);
    pen_fill(p, (struct box){x, y, panel_w, h}, look.ground);
    double word_x = x + 6, middle = text_y + line.h / 2;
    if (look.alert) {
        mark_alert(p, x + 6, middle - sign / 2 - 0.7, sign, look.word, look.ground);
        word_x += sign_w;
    }
    pen_line_in(p, word_x, middle - pen_extent(p, 0, word, S("X")).h / 2, x + panel_w - word_x - 3, ALIGN_LEFT, word,
                level_word(words, c->level));
    pen_text(p, text_x, text_y, text_w, ALIGN_LEFT, say, c->say);
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
    if (isnan(low) && high > 0 && !(g->want < 0) && !(g->last < 0)) { /* "at most": from zero */
        *least = 0;
        *most = high * 1.3;
        return;
    }
    if (isnan(low) || isnan(high)) { /* one limit: show as much beyond it as up to the nearest known figure */
        double limit = isnan(low) ? high : low;
        double other = !isnan(g->want) ? g->want : !isnan(g->last) ? g->last : limit;
        double span = fabs(limit - other) > 0 ? fabs(limit - other) : fmax(fabs(limit) / 2, 1);
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

/* A scale under construction: where a value stands on it. */
struct scale {
    double x, line, least, most, per_unit, step;
};

static double at(const struct scale *k, double value)
{
    return k->x + (value - k->least) * k->per_unit;
}

/* A number below the scale. */
static void scale_number(struct pen *p, const struct scale *k, double y, double value, struct type type)
{
    pen_text(p, at(k, value), y, 0, ALIGN_CENTRE, type, scale_text(p, value, k->step));
}

/* The line with its ticks. Every fifth is longer, and numbered where it doesn't come near a number that counts more. */
static void scale_line(struct pen *p, const struct scale *k, const struct gauge *g, double y, double w)
{
    struct type type = {.size = 7.4, .ink = &INK_SECOND};
    pen_line(p, k->x, k->line, k->x + w, k->line, 0.8, &INK_SECOND);
    double first = ceil(k->least / k->step - 1e-9), last = floor(k->most / k->step + 1e-9);
    for (int tick = 0; tick < 60 && first + tick <= last; tick++) {
        double n = first + tick, x = at(k, n * k->step), half = fabs(fmod(n, 5)) < 0.5 ? 4 : 2.3;
        pen_line(p, x, k->line - half, x, k->line + half, 0.5, &INK_SECOND);
        bool clear = true;
        const double numbered[] = {g->low, g->high, g->want};
        for (size_t i = 0; i < 3; i++) {
            clear = clear && !(fabs(x - at(k, numbered[i])) < 20);
        }
        if (half > 3 && clear) {
            scale_number(p, k, y, n * k->step, type);
        }
    }
}

double mark_gauge(struct pen *p, double x, double y, double w, const struct gauge *g)
{
    if (isnan(g->low) && isnan(g->high)) {
        return 0;
    }
    const double h = 18;
    struct scale k = {.x = x, .line = y + h / 2};
    scale_range(g, &k.least, &k.most);
    k.step = tick_step(k.most - k.least);
    k.least = floor(k.least / k.step + 1e-9) * k.step;
    k.most = ceil(k.most / k.step - 1e-9) * k.step;
    k.per_unit = w / (k.most - k.least);
    double below = y + h + 0.5;
    scale_line(p, &k, g, below, w);
    struct type plain = {.size = 7.8}, bold = {.size = 7.8, .bold = true};
    if (g->want >= k.least && g->want <= k.most) {
        double m = at(&k, g->want);
        const double arrow[] = {m - 3, k.line - 8.5, m + 3, k.line - 8.5, m, k.line - 2.5};
        pen_polygon(p, arrow, 3, &INK, 0, 0);
        scale_number(p, &k, below, g->want, plain);
    }
    if (g->last >= k.least && g->last <= k.most) {
        pen_circle(p, at(&k, g->last), k.line, 2.7, &INK_WHITE, 1, &INK);
    }
    if (!isnan(g->low)) {
        bracket(p, at(&k, g->low), y, h, 1);
        scale_number(p, &k, below, g->low, bold);
    }
    if (!isnan(g->high)) {
        bracket(p, at(&k, g->high), y, h, -1);
        scale_number(p, &k, below, g->high, bold);
    }
    return h + 0.5 + pen_extent(p, 0, plain, S("0")).h;
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
