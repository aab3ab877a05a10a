/* A small drawing layer over cairo and pango, for sheets, labels and plots. Lengths are points (1/72 inch), y grows
 * downwards, texts are UTF-8. Text is shaped by pango, so every script that some font has comes out right.
 *
 * Layout and drawing are one pass of code: with `dry` set nothing is painted, but every function returns the same
 * extents; so a block's height is found by drawing it dry.
 */
#ifndef WITMARK_SHEET_PEN_H
#define WITMARK_SHEET_PEN_H

#include "base/arena.h"
#include "base/text.h"

#include <cairo.h>
#include <pango/pango.h>
#include <stdbool.h>
#include <stdint.h>

/* sRGB, 0 to 1. */
struct ink {
    double r, g, b;
};

/* The look's tokens (docs/print.md). Paint is for the witness stripe alone, the signal colours for cautions alone. */
extern const struct ink INK, INK_SECOND, INK_RULE, INK_FAINT, INK_WHITE, INK_PAINT;
extern const struct ink SIGNAL_RED, SIGNAL_ORANGE, SIGNAL_YELLOW, SIGNAL_BLUE, SIGNAL_BLACK;

struct box {
    double x, y, w, h;
};

/* How a run of text looks. */
struct type {
    double size;
    bool bold;
    const struct ink *ink; /* null = INK */
};

/* A stretch of text in one type. */
struct run {
    struct str text;
    struct type type;
};

enum align { ALIGN_LEFT, ALIGN_RIGHT, ALIGN_CENTRE };

struct extent {
    double w, h;
    double baseline; /* of the first line, below the top */
};

/* Characters for which no font was found, each once, at most as many as fit; more are counted. */
struct missing {
    uint32_t at[64];
    size_t n, more;
};

struct pen {
    struct arena *a; /* scratch for texts while drawing */
    cairo_t *cr;
    PangoContext *context;
    struct missing *missing;
    bool dry;
};

/* A pen on a cairo context (borrowed). Free it before the context. */
struct pen pen_new(struct arena *a, cairo_t *cr, struct missing *missing);
void pen_free(struct pen *p);
/* Goes on with another context, of another page or surface. */
void pen_move_to(struct pen *p, cairo_t *cr);

/* Runs of text from (x, y), the upper left corner, wrapped at width w (0 = not wrapped); returns what they take. */
struct extent pen_runs(struct pen *p, double x, double y, double w, enum align align, const struct run *runs, size_t n);
struct extent pen_text(struct pen *p, double x, double y, double w, enum align align, struct type type,
                       struct str text);
/* One line that is made smaller, down to half, and then cut with an ellipsis, to fit the width. */
struct extent pen_line_in(struct pen *p, double x, double y, double w, enum align align, struct type type,
                          struct str text);
/* What a text takes, without drawing it. */
struct extent pen_extent(struct pen *p, double w, struct type type, struct str text);

void pen_fill(struct pen *p, struct box b, const struct ink *ink);
void pen_frame(struct pen *p, struct box b, double thick, const struct ink *ink); /* the line lies inside the box */
void pen_round_frame(struct pen *p, struct box b, double radius, double thick, const struct ink *ink);
void pen_line(struct pen *p, double x0, double y0, double x1, double y1, double thick, const struct ink *ink);
void pen_dots(struct pen *p, double x0, double y0, double x1, double y1, const struct ink *ink);
/* A circle, filled and then outlined; either ink may be null. */
void pen_circle(struct pen *p, double x, double y, double r, const struct ink *fill, double thick,
                const struct ink *line);
/* A closed polygon of n corners x, y, x, y ..., as the circle. */
void pen_polygon(struct pen *p, const double *xy, size_t n, const struct ink *fill, double thick,
                 const struct ink *line);

#endif
