/* Blocks that follow each other down the pages. A block is drawn whole; it may insist on staying with the next one.
 * Heights are found by drawing dry, so that measuring and drawing cannot disagree. */
#ifndef WITMARK_SHEET_FLOW_H
#define WITMARK_SHEET_FLOW_H

#include "document.h"
#include "figure.h"
#include "pen.h"

/* What every block can see. */
struct sheet {
    struct arena *a;
    const struct document *doc;
    struct pen *pen;
    struct drawing *drawings; /* one per figure of the document */
    struct diags *warnings;
};

/* Draws `what` from the upper left corner of `room`, at its width, and returns the height taken. `room.h` is the height
 * that the same call returned dry, and 0 in a dry call. */
typedef double (*block_draw)(struct sheet *s, const void *what, struct box room);

struct block {
    block_draw draw;
    const void *what;
    double before;  /* space above it, dropped at the top of a page */
    bool with_next; /* no page break between this and the next block */
    double y, h;    /* set by flow_break */
    double width;   /* it is laid out at, when it is shrunk */
    double scale;   /* below 1 for a block that is taller than a page */
    int page;       /* from 1 */
};

struct flow {
    struct arena *a;
    struct block *at;
    size_t n, cap;
};

/* Where text stands on a page. */
struct page_room {
    double width, height; /* of the paper */
    double left, right;   /* margins */
    double first_top, top, bottom;
};

void flow_add(struct flow *f, block_draw draw, const void *what, double before, bool with_next);

/* Measures the blocks and gives each its page and height; returns the number of pages, at least 1. A block taller than
 * a page is shrunk to fit, with a warning; a chain of blocks taller than a page is broken where it must. */
int flow_break(struct sheet *s, struct flow *f, const struct page_room *room);

/* Draws the blocks of one page. */
void flow_draw(struct sheet *s, const struct flow *f, const struct page_room *room, int page);

#endif
