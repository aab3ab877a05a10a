/* The books' drawings and photos: SVG through librsvg, PNG and JPEG through gdk-pixbuf. Built without librsvg, a figure
 * is told about and not drawn. */
#ifndef WITMARK_SHEET_FIGURE_H
#define WITMARK_SHEET_FIGURE_H

#include "document.h"
#include "pen.h"

#include <stdbool.h>

/* A figure made ready to be drawn. */
struct drawing {
    const struct figure *figure;
    void *svg;              /* RsvgHandle */
    cairo_surface_t *image; /* of a photo */
    double ratio;           /* height / width; 0 when it cannot be drawn */
    struct str why;         /* why not */
};

/* Whether this program was built with drawings. */
bool drawing_possible(void);

/* Reads the data of a figure. One that cannot be drawn has ratio 0 and says why. Nothing outside the data is read: a
 * drawing cannot name other files. */
struct drawing drawing_new(struct arena *a, const struct figure *figure);
void drawing_free(struct drawing *d);

/* Draws it in a box of its own ratio. Its marks are the caller's. */
void drawing_draw(struct pen *p, const struct drawing *d, struct box b);

#endif
