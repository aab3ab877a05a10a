/* The end of the sheet: what must be put back, the order of finishing, notes, signatures. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define BOX_W 96.0

/* "opened  step 3" over a box. */
static void put_back_box(struct sheet *s, double x, double y, struct str word, int step)
{
    struct type type = {.size = 8.6}, second = {.size = 8.6, .ink = &INK_SECOND};
    struct text t = text_new(s->a);
    if (step > 0) {
        text_join(&t, " ", str_z(s->a, s->doc->words.step), " ", (char *)0);
        text_int(&t, step);
    }
    struct run runs[] = {{word, type}, {text_str(&t), second}};
    mark_tick(s->pen, x, y - 1.5, 15);
    pen_runs(s->pen, x + 20, y, BOX_W - 20, ALIGN_LEFT, runs, 2);
}

static double put_back_draw(struct sheet *s, const void *what, struct box room)
{
    const struct put_back *open = what;
    struct type bold = {.size = 10.5, .bold = true};
    double boxes = room.x + room.w - 2 * BOX_W, y = room.y + 3;
    mark_stripe(s->pen, room.x + 2, y, 12, false);
    struct extent e = pen_text(s->pen, room.x + 20, y - 1, boxes - room.x - 32, ALIGN_LEFT, bold, open->label);
    put_back_box(s, boxes, y, s->doc->words.opened, open->opened_at);
    put_back_box(s, boxes + BOX_W, y, s->doc->words.back, open->closed_at);
    double h = fmax(e.h, 16) + 7;
    pen_line(s->pen, room.x, room.y + h - 1, room.x + room.w, room.y + h - 1, 0.5, &INK_RULE);
    return h;
}

static double none_draw(struct sheet *s, const void *what, struct box room)
{
    const struct str *text = what;
    return pen_text(s->pen, room.x, room.y, room.w, ALIGN_LEFT, (struct type){.size = 10}, *text).h + 4;
}

/* "To finish" and its items in a row, wrapped. */
static double finish_draw(struct sheet *s, const void *what, struct box room)
{
    (void)what;
    struct type bold = {.size = 9.6, .bold = true}, plain = {.size = 9.6};
    const double tick = 11, line_h = 18;
    double left = room.x + pen_text(s->pen, room.x, room.y + 1, 0, ALIGN_LEFT, bold, s->doc->words.finish).w + 14;
    double x = left, y = room.y + 1;
    for (size_t i = 0; i < s->doc->finish.n; i++) {
        double most = room.x + room.w - left - tick - 5;
        double w = fmin(pen_extent(s->pen, 0, plain, s->doc->finish.at[i]).w, most);
        if (x > left && x + tick + 5 + w > room.x + room.w) {
            x = left;
            y += line_h;
        }
        mark_tick(s->pen, x, y + 0.5, tick);
        pen_line_in(s->pen, x + tick + 5, y, w + 0.5, ALIGN_LEFT, plain, s->doc->finish.at[i]);
        x += tick + 5 + w + 16;
    }
    return y + line_h - room.y;
}

/* A field to fill in: a line with its name below. */
static void field(struct sheet *s, double x, double y, double w, struct str name)
{
    pen_line(s->pen, x, y, x + w, y, 1, &INK);
    pen_line_in(s->pen, x, y + 2, w, ALIGN_LEFT, (struct type){.size = 8.4, .ink = &INK_SECOND}, name);
}

/* Lines for notes and two rows of signatures. */
static double sign_draw(struct sheet *s, const void *what, struct box room)
{
    (void)what;
    const struct words *words = &s->doc->words;
    double y = room.y + 4;
    y += pen_text(s->pen, room.x, y, room.w, ALIGN_LEFT, (struct type){.size = 9.6, .bold = true}, words->notes).h;
    for (int i = 0; i < 3; i++) {
        y += 20;
        pen_dots(s->pen, room.x, y, room.x + room.w, y, &INK_SECOND);
    }
    y += 40;
    const struct {
        struct str name;
        double part;
    } fields[] = {{words->who, 0.30}, {words->date, 0.17}, {words->hours_at_end, 0.20}, {words->signature, 0.33}};
    double x = room.x, gap = 12;
    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        double w = room.w * fields[i].part;
        field(s, x, y, i < 3 ? w - gap : w, fields[i].name);
        x += w;
    }
    return y + 14 - room.y;
}

void closing_add(struct sheet *s, struct flow *f)
{
    const struct document *d = s->doc;
    section_add(s, f, d->words.put_back, d->put_back_n ? d->words.put_back_why : S(""));
    for (size_t i = 0; i < d->put_back_n; i++) {
        flow_add(f, put_back_draw, &d->put_back[i], 0, i + 2 >= d->put_back_n);
    }
    if (!d->put_back_n) {
        flow_add(f, none_draw, &d->words.put_back_none, 0, true);
    }
    if (d->finish.n) {
        flow_add(f, finish_draw, 0, 9, true);
    }
    flow_add(f, sign_draw, 0, 2, false);
}
