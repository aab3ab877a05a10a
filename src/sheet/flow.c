/* Breaking blocks into pages: greedy, whole chains first, since a sheet is read from the top and white space at the
 * foot of a page does no harm. */
#include "flow.h"

#include <math.h>

void flow_add(struct flow *f, block_draw draw, const void *what, double before, bool with_next)
{
    ARENA_PUSH(f->a, f->at, f->n, f->cap) =
        (struct block){.draw = draw, .what = what, .before = before, .with_next = with_next, .scale = 1};
}

static double measured(struct sheet *s, const struct block *b, double width)
{
    s->pen->dry = true;
    double h = b->draw(s, b->what, (struct box){0, 0, width, 0});
    s->pen->dry = false;
    return h;
}

/* Makes a block small enough for a page, and as much wider, so that it takes fewer lines. */
static void shrink(struct sheet *s, struct block *b, double width, double most)
{
    do {
        b->scale *= 0.93;
        b->width = width / b->scale;
        b->h = measured(s, b, b->width) * b->scale;
    } while (b->h > most && b->scale > 0.2);
    if (b->h > most) {
        b->scale *= most / b->h; /* narrower than the page from here on */
        b->h = most;
    }
}

/* Heights of all blocks, shrunk to `most`. */
static void measure(struct sheet *s, struct flow *f, double width, double most)
{
    bool warned = false;
    for (size_t i = 0; i < f->n; i++) {
        struct block *b = &f->at[i];
        b->h = measured(s, b, width);
        if (b->h <= most) {
            continue;
        }
        shrink(s, b, width, most);
        if (!warned) {
            diags_add(s->warnings, (struct diag){.level = DIAG_DOUBT,
                                                 .rule = "too-tall",
                                                 .what = S("a step is taller than a page; it is printed smaller"),
                                                 .right = S("shorter texts")});
            warned = true;
        }
    }
}

/* One past the last block of the chain that begins at i, and its height with the space above its first block. */
static size_t chain(const struct flow *f, size_t i, double *h)
{
    *h = 0;
    for (;; i++) {
        *h += f->at[i].before + f->at[i].h;
        if (!f->at[i].with_next || i + 1 == f->n) {
            return i + 1;
        }
    }
}

int flow_break(struct sheet *s, struct flow *f, const struct page_room *room)
{
    int page = 1;
    double top = room->first_top, y = top, foot = room->height - room->bottom;
    measure(s, f, room->width - room->left - room->right, foot - fmax(room->first_top, room->top));
    size_t chain_end = 0;
    for (size_t i = 0; i < f->n; i++) {
        struct block *b = &f->at[i];
        double need = b->before + b->h;
        if (i >= chain_end) {
            double whole = 0;
            chain_end = chain(f, i, &whole);
            if (whole - b->before <= foot - room->top) { /* longer than a page: broken like single blocks */
                need = whole;
            }
        }
        if (y > top && y + need > foot + 1e-6) {
            page++;
            top = y = room->top;
        }
        y += y > top ? b->before : 0;
        b->page = page;
        b->y = y;
        y += b->h;
    }
    return page;
}

void flow_draw(struct sheet *s, const struct flow *f, const struct page_room *room, int page)
{
    double width = room->width - room->left - room->right;
    for (size_t i = 0; i < f->n; i++) {
        const struct block *b = &f->at[i];
        if (b->page != page) {
            continue;
        }
        if (b->scale >= 1) {
            b->draw(s, b->what, (struct box){room->left, b->y, width, b->h});
            continue;
        }
        cairo_save(s->pen->cr);
        cairo_translate(s->pen->cr, room->left, b->y);
        cairo_scale(s->pen->cr, b->scale, b->scale);
        b->draw(s, b->what, (struct box){0, 0, b->width, b->h / b->scale});
        cairo_restore(s->pen->cr);
    }
}
