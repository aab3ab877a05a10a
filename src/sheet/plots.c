/* Pages of plots: a head, then each picture as wide as the page. The pictures are drawn by the core (core/plot); here
 * they are only put on paper. */
#include "marks.h"
#include "parts.h"

#include <math.h>

static double plots_head(struct sheet *s, const void *what, struct box room)
{
    const struct document *d = what;
    mark_plate(s->pen, (struct box){room.x, room.y, 84, 34}, d->machine.label.n ? d->machine.label : d->machine.serial);
    double x = room.x + 96, w = room.w - 96;
    pen_line_in(s->pen, x, room.y, w, ALIGN_LEFT, (struct type){.size = 15, .bold = true}, d->title);
    pen_line_in(s->pen, x, room.y + 21, w, ALIGN_LEFT, (struct type){.size = 9.5, .ink = &INK_SECOND},
                DOTTED(s->a, d->machine.title, d->machine.serial, d->depot, d->made));
    pen_line(s->pen, room.x, room.y + 41, room.x + room.w, room.y + 41, 1.4, &INK);
    return 48;
}

static double plots_one(struct sheet *s, const void *what, struct box room)
{
    const struct drawing *drawing = what;
    if (drawing->ratio <= 0) { /* warn_drawings has said why */
        return pen_text(s->pen, room.x, room.y, room.w, ALIGN_LEFT, (struct type){.size = 9.5},
                        DOTTED(s->a, drawing->figure->name, s->doc->words.figure_missing))
            .h;
    }
    double h = room.w * drawing->ratio;
    drawing_draw(s->pen, drawing, (struct box){room.x, room.y, room.w, h});
    return h;
}

void plots_add(struct sheet *s, struct flow *f)
{
    flow_add(f, plots_head, s->doc, 0, true);
    for (size_t i = 0; i < s->doc->figures_n; i++) {
        flow_add(f, plots_one, &s->drawings[i], 14, false);
    }
}
