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

/* A line of the list: what, a box or since when it is open, a box for having put it back. */
struct line {
    struct str label, since; /* since: open before this round */
    int opened_at, closed_at;
};

static double put_back_draw(struct sheet *s, const void *what, struct box room)
{
    const struct line *line = what;
    struct type bold = {.size = 10.5, .bold = true}, second = {.size = 8.6, .ink = &INK_SECOND};
    double boxes = room.x + room.w - 2 * BOX_W, y = room.y + 3;
    mark_stripe(s->pen, room.x + 2, y, 12, false);
    double h = pen_text(s->pen, room.x + 20, y - 1, boxes - room.x - 32, ALIGN_LEFT, bold, line->label).h;
    if (line->since.n) {
        h = fmax(h, pen_text(s->pen, boxes, y, BOX_W - 8, ALIGN_LEFT, second, line->since).h);
    } else {
        put_back_box(s, boxes, y, s->doc->words.opened, line->opened_at);
    }
    put_back_box(s, boxes + BOX_W, y, s->doc->words.back, line->closed_at);
    h = fmax(h, 16) + 7;
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
    double y = room.y + 4, gap = 12;
    y += pen_text(s->pen, room.x, y, room.w, ALIGN_LEFT, (struct type){.size = 9.6, .bold = true}, words->notes).h;
    for (int i = 0; i < 3; i++) {
        y += 21;
        pen_dots(s->pen, room.x, y, room.x + room.w, y, &INK_SECOND);
    }
    const struct str names[2][4] = {{words->done_by, words->date, words->hours_at_end, words->signature},
                                    {words->checked_by, words->date, S(""), words->signature}};
    static const double parts[] = {0.32, 0.16, 0.18, 0.34};
    for (int row = 0; row < 2; row++) {
        double x = room.x;
        y += 34;
        for (size_t i = 0; i < 4; i++) {
            double w = room.w * parts[i];
            if (names[row][i].n) {
                field(s, x, y, i < 3 ? w - gap : w, names[row][i]);
            }
            x += w;
        }
    }
    return y + 14 - room.y;
}

static bool among(const struct texts *list, struct str label)
{
    for (size_t i = 0; i < list->n; i++) {
        if (str_eq(list->at[i], label)) {
            return true;
        }
    }
    return false;
}

/* The step that closes what was open before the round; 0 when none does. */
static int closed_at(const struct document *d, struct str label)
{
    for (size_t i = 0; i < d->steps_n; i++) {
        bool closes = among(&d->steps[i].closes, label);
        for (size_t k = 0; k < d->steps[i].acts_n; k++) {
            closes = closes || among(&d->steps[i].acts[k].closes, label);
        }
        if (closes) {
            return d->steps[i].number;
        }
    }
    return 0;
}

/* A line for each thing that is open already and for each that the round opens. All keep together where a page has room
 * for them and the signatures. */
void closing_add(struct sheet *s, struct flow *f)
{
    const struct document *d = s->doc;
    size_t n = d->open_n + d->put_back_n;
    struct line *lines = ARENA_ARRAY(s->a, struct line, n + 1);
    section_add(s, f, d->words.put_back, n ? d->words.put_back_why : S(""));
    for (size_t i = 0; i < n; i++) {
        if (i < d->open_n) {
            struct str since = with_word(s->a, d->words.since, d->open[i].since);
            lines[i] = (struct line){.label = d->open[i].label,
                                     .since = since.n ? since : d->words.open_now,
                                     .closed_at = closed_at(d, d->open[i].label)};
        } else {
            const struct put_back *p = &d->put_back[i - d->open_n];
            lines[i] = (struct line){.label = p->label, .opened_at = p->opened_at, .closed_at = p->closed_at};
        }
        flow_add(f, put_back_draw, &lines[i], 0, true);
    }
    if (!n) {
        flow_add(f, none_draw, &d->words.put_back_none, 0, true);
    }
    if (d->finish.n) {
        flow_add(f, finish_draw, 0, 9, true);
    }
    flow_add(f, sign_draw, 0, 2, false);
}
