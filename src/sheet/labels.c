/* Labels with a QR code, in a grid that is centred on the page, or one label a page. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define POINTS_PER_MM (72 / 25.4)

struct grid {
    int columns, rows;
    double w, h, left, top;
};

static struct grid grid_of(const struct document *d, const struct page_room *room)
{
    struct grid g = {.w = d->label_width_mm * POINTS_PER_MM, .h = d->label_height_mm * POINTS_PER_MM};
    g.columns = (int)fmax(1, floor(room->width / g.w + 1e-6));
    g.rows = (int)fmax(1, floor(room->height / g.h + 1e-6));
    g.left = (room->width - g.columns * g.w) / 2;
    g.top = (room->height - g.rows * g.h) / 2;
    return g;
}

int labels_pages(const struct document *d, const struct page_room *room)
{
    struct grid g = grid_of(d, room);
    size_t places = (size_t)g.columns * (size_t)g.rows, skip = d->paper == PAPER_LABEL ? 0 : (size_t)d->skip % places;
    size_t n = (d->labels_n + skip + places - 1) / places;
    return n ? (int)n : 1;
}

/* One label: the plate and what it is at the left, the code at the right. */
static void label_draw(struct sheet *s, const struct label *label, struct box b)
{
    double pad = fmin(b.w, b.h) * 0.09 + 2, x = b.x + pad, y = b.y + pad, h = b.h - 2 * pad;
    double side = fmin(h + pad, (b.w - 2 * pad) * 0.5), text_w = b.w - 2 * pad - (label->qr.n ? side : 0);
    if (label->qr.n) {
        mark_qr(s->pen, b.x + b.w - side - pad * 0.4, b.y + (b.h - side) / 2, side, label->qr);
    }
    double plate_h = h * 0.5;
    mark_plate(s->pen, (struct box){x, y, text_w, plate_h}, label->label);
    double line = (h - plate_h - 4) / 2.5;
    pen_line_in(s->pen, x, y + plate_h + 4, text_w, ALIGN_LEFT, (struct type){.size = fmin(line * 0.72, 12)},
                label->title);
    pen_line_in(s->pen, x, y + plate_h + 4 + line * 1.2, text_w, ALIGN_LEFT,
                (struct type){.size = fmin(line * 0.72, 12), .bold = true}, label->serial);
}

void labels_draw(struct sheet *s, const struct page_room *room, int page)
{
    const struct document *d = s->doc;
    struct grid g = grid_of(d, room);
    size_t places = (size_t)g.columns * (size_t)g.rows, skip = d->paper == PAPER_LABEL ? 0 : (size_t)d->skip % places;
    for (size_t i = 0; i < d->labels_n; i++) {
        size_t at = i + skip;
        if (at / places != (size_t)page - 1) {
            continue;
        }
        int row = (int)(at % places) / g.columns, column = (int)(at % places) % g.columns;
        label_draw(s, &d->labels[i], (struct box){g.left + column * g.w, g.top + row * g.h, g.w, g.h});
    }
}
