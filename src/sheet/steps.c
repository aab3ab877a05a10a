/* The steps: a rail at the left with a sign per step, what to do beside it, the box to tick at the right edge.
 *
 * A block holds a step, or one act of a task, together with all cautions that guard it; so no page can break between a
 * caution and its step. A task's heading stays with its first act, and a figure with the step before it. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define RAIL 15.0    /* middle of the rail, from the left edge */
#define CONTENT 38.0 /* where text begins */
#define TICK_STEP 17.0
#define TICK_ACT 13.0
#define TIME_W 52.0
#define GAP 11.0 /* below a step; the rail runs through it */

/* What a block of the steps draws: a step's own part, or one act of it. */
struct piece {
    const struct step *step;
    const struct act *act; /* null for the step itself */
    size_t act_number;
    bool last;      /* of its step */
    bool rail_ends; /* no step follows */
    bool first;     /* no step is above */
};

/* Where the text of a piece goes on, and in which inks. */
struct column {
    double x, y, w;
    const struct ink *ink, *second;
};

static struct str number_text(struct sheet *s, int number)
{
    struct text t = text_new(s->a);
    text_int(&t, number);
    return text_str(&t);
}

/* Number in the sign: circle for a check, ring for a task, diamond for a change of condition. */
static void rail_sign(struct sheet *s, const struct step *step, double x, double y)
{
    struct str number = number_text(s, step->number);
    double r = 10.5;
    struct type type = {.size = number.n > 2 ? 8 : 10.5, .bold = true};
    if (step->type == STEP_CHANGE) {
        double d = r + 3;
        const double corners[] = {x, y - d, x + d, y, x, y + d, x - d, y};
        pen_polygon(s->pen, corners, 4, &INK_WHITE, 0, 0);
        type.size = number.n > 2 ? 7 : 9.5;
    } else {
        pen_circle(s->pen, x, y, r, &INK_WHITE, 1.6, &INK);
        if (step->type == STEP_TASK) {
            pen_circle(s->pen, x, y, r - 2.6, 0, 0.6, &INK);
            type.size = number.n > 2 ? 7 : 9;
        }
    }
    struct extent e = pen_extent(s->pen, 0, type, number);
    pen_text(s->pen, x, y - e.h / 2, 0, ALIGN_CENTRE, type, number);
}

/* Title of a figure where there is more than one to choose from. */
static struct str figure_title(struct sheet *s, struct str name)
{
    for (size_t i = 0; s->doc->figures_n > 1 && i < s->doc->figures_n; i++) {
        if (str_eq(s->doc->figures[i].name, name)) {
            return s->doc->figures[i].title;
        }
    }
    return S("");
}

/* A line in second ink, after the number of the mark on a figure where the step has one. */
static void detail_line(struct sheet *s, struct column *c, struct figure_ref figure, struct str strong, struct str text)
{
    struct str title = figure_title(s, figure.name);
    if (!strong.n && !text.n && !figure.mark && !title.n) {
        return;
    }
    struct type bold = {.size = 9.2, .bold = true, .ink = c->ink}, plain = {.size = 9.2, .ink = c->second};
    double x = c->x;
    if (figure.mark > 0) {
        mark_number(s->pen, x + 5.8, c->y + 5.9, 5.6, figure.mark, c->ink != &INK_WHITE);
        x += 15;
    }
    struct str titled = title.n ? DOTTED(s->a, title, text) : text;
    struct run runs[] = {{strong, bold}, {strong.n && titled.n ? S("  ·  ") : S(""), plain}, {titled, plain}};
    c->y += fmax(pen_runs(s->pen, x, c->y, c->w - (x - c->x), ALIGN_LEFT, runs, 3).h, figure.mark ? 12 : 0);
}

/* "NAME  one, two": a list of things in one wrapped line. */
static void named_line(struct sheet *s, struct column *c, struct str name, const struct texts *list)
{
    if (!list->n) {
        return;
    }
    struct text t = text_new(s->a);
    for (size_t i = 0; i < list->n; i++) {
        text_addz(&t, i ? "  ·  " : "");
        text_add(&t, list->at[i]);
    }
    struct run runs[] = {{name, {.size = 8.4, .ink = c->second}},
                         {S("   "), {.size = 9.2}},
                         {text_str(&t), {.size = 9.2, .ink = c->ink}}};
    c->y += pen_runs(s->pen, c->x, c->y, c->w, ALIGN_LEFT, runs, 3).h + 0.5;
}

/* Torques stand out: a bolt head and bold figures. */
static void torque_lines(struct sheet *s, struct column *c, const struct texts *list)
{
    for (size_t i = 0; i < list->n; i++) {
        double x = c->x + 5.5, y = c->y + 6.2, r = 5.2, corners[12];
        for (int k = 0; k < 6; k++) {
            corners[2 * k] = x + r * cos(k * acos(-1) / 3);
            corners[2 * k + 1] = y + r * sin(k * acos(-1) / 3);
        }
        pen_polygon(s->pen, corners, 6, 0, 1.3, c->ink);
        pen_circle(s->pen, x, y, 1.7, 0, 0.8, c->ink);
        struct type bold = {.size = 9.6, .bold = true, .ink = c->ink};
        c->y += pen_text(s->pen, c->x + 15, c->y, c->w - 15, ALIGN_LEFT, bold, list->at[i]).h + 1;
    }
}

/* What goes on the put-back list or comes off it, with the stripe. On ink the stripe stands on a white chip. */
static void stripe_lines(struct sheet *s, struct column *c, const struct texts *list, bool closes)
{
    struct str what = closes ? s->doc->words.closes : s->doc->words.opens;
    for (size_t i = 0; i < list->n; i++) {
        if (c->ink == &INK_WHITE) {
            pen_fill(s->pen, (struct box){c->x - 1, c->y + 0.5, 12, 12.5}, &INK_WHITE);
        }
        mark_stripe(s->pen, c->x, c->y + 1.5, 10.5, closes);
        struct run runs[] = {{list->at[i], {.size = 9.2, .bold = true, .ink = c->ink}},
                             {S("   "), {.size = 9.2}},
                             {what, {.size = 9.2, .ink = c->second}}};
        c->y += fmax(pen_runs(s->pen, c->x + 15, c->y, c->w - 15, ALIGN_LEFT, runs, 3).h, 13) + 1.5;
    }
}

/* Things to look for, each with a box to tick when it is found, and room for another. */
static void look_line(struct sheet *s, struct column *c, const struct texts *look)
{
    if (!look->n) {
        return;
    }
    struct type plain = {.size = 9.4, .ink = c->ink}, name = {.size = 8.4, .ink = c->second};
    const double tick = 10, line_h = 16;
    double x = c->x + pen_text(s->pen, c->x, c->y + 1.8, 0, ALIGN_LEFT, name, s->doc->words.look).w + 9;
    double left = x;
    c->y += 1;
    for (size_t i = 0; i <= look->n; i++) {
        struct str word = i < look->n ? look->at[i] : s->doc->words.other;
        double natural = pen_extent(s->pen, 0, plain, word).w, most = c->x + c->w - left - tick - 4;
        double w = tick + 4 + fmin(natural, most), writing = i == look->n ? 70 : 0;
        if (x > left && x + w + writing > c->x + c->w) {
            x = left;
            c->y += line_h;
        }
        mark_tick(s->pen, x, c->y, tick);
        pen_line_in(s->pen, x + tick + 4, c->y - 0.6, fmin(natural, most) + 0.5, ALIGN_LEFT, plain, word);
        x += w + 13;
        if (writing > 0) {
            pen_dots(s->pen, x - 9, c->y + 10, fmin(x + 150, c->x + c->w), c->y + 10, &INK_SECOND);
        }
    }
    c->y += line_h;
}

/* A named blank. Returns its width. */
static double blank(struct sheet *s, double x, double y, double w, struct str name, struct str unit)
{
    struct type small = {.size = 7.6, .ink = &INK_SECOND};
    pen_line_in(s->pen, x, y, w, ALIGN_LEFT, small, name);
    mark_blank(s->pen, (struct box){x, y + 10, w, 25}, unit);
    return w + 10;
}

/* The blanks of a reading with the gauge beside them, and what it is held against. */
static void reading_rows(struct sheet *s, struct column *c, const struct reading *m)
{
    if (!m->there) {
        return;
    }
    const struct words *words = &s->doc->words;
    const double gauge_w = 176, wide = 112, narrow = 92;
    bool has_gauge = !isnan(m->gauge.low) || !isnan(m->gauge.high);
    struct run runs[] = {{with_word(s->a, words->limits, m->limits), {.size = 9.2, .bold = true, .ink = c->ink}},
                         {m->limits.n ? S("  ·  ") : S(""), {.size = 9.2, .ink = c->second}},
                         {DOTTED(s->a, with_word(s->a, words->want, m->want),
                                 with_word(s->a, words->refer_to, m->refer_to), with_word(s->a, words->last, m->last)),
                          {.size = 9.2, .ink = c->second}}};
    if (!runs[2].text.n) {
        runs[1].text = S("");
    }
    if (runs[0].text.n || runs[2].text.n) {
        c->y += pen_runs(s->pen, c->x, c->y, c->w, ALIGN_LEFT, runs, 3).h;
    }
    c->y += 2;
    double x = c->x, right = c->x + c->w, first_right = has_gauge ? right - gauge_w - 12 : right, y = c->y;
    x += blank(s, x, y, wide, m->measure, m->unit);
    for (size_t i = 0; i < m->also_n; i++) {
        if (x + narrow > (y > c->y ? right : first_right)) {
            x = c->x;
            y += 38;
        }
        x += blank(s, x, y, narrow, m->also[i].name, m->also[i].unit);
    }
    if (has_gauge) {
        mark_gauge(s->pen, right - gauge_w - 8, c->y + 12, gauge_w, &m->gauge);
    }
    c->y = y + 37;
}

/* The heading of a step with its time and box; returns the height of its line. */
static double heading(struct sheet *s, const struct step *step, struct column *c, double right)
{
    struct type type = {.size = step->type == STEP_CHANGE ? 12.5 : 11.5, .bold = true, .ink = c->ink};
    struct type time = {.size = 8.6, .ink = c->second};
    mark_tick(s->pen, right - TICK_STEP, c->y - 1, TICK_STEP);
    double time_right = right - TICK_STEP - 9;
    pen_line_in(s->pen, time_right - TIME_W, c->y + 2, TIME_W, ALIGN_RIGHT, time, span_text(s->a, step->takes_s));
    c->w = time_right - TIME_W - 6 - c->x;
    double h = pen_text(s->pen, c->x, c->y, c->w, ALIGN_LEFT, type, step->label).h;
    c->y += h;
    c->w = time_right - c->x;
    return h;
}

/* All that is said of a step below its heading. */
static void step_body(struct sheet *s, const struct step *step, struct column *c)
{
    const struct words *words = &s->doc->words;
    detail_line(s, c, step->figure, step->place, step->why);
    named_line(s, c, words->parts, &step->parts);
    named_line(s, c, words->fluids, &step->fluids);
    named_line(s, c, words->tools, &step->tools);
    named_line(s, c, words->waste, &step->waste);
    torque_lines(s, c, &step->torques);
    reading_rows(s, c, &step->read);
    look_line(s, c, &step->look);
    stripe_lines(s, c, &step->opens, false);
    stripe_lines(s, c, &step->closes, true);
}

/* The cautions of a piece, one below the other, the first at y; returns where they end. */
static double guard(struct sheet *s, const struct cautions *list, double x, double y, double w)
{
    for (size_t i = 0; i < list->n; i++) {
        y += mark_caution(s->pen, x, y, w, &s->doc->words, &list->at[i]) + 3;
    }
    return y;
}

/* A change of condition: its cautions on white, then the inverted block over the whole width. */
static double change_draw(struct sheet *s, const struct piece *piece, struct box room)
{
    const struct step *step = piece->step;
    double right = room.x + room.w;
    double top = guard(s, &step->cautions, room.x + CONTENT, room.y, room.w - CONTENT);
    pen_fill(s->pen, (struct box){room.x, top, room.w, room.y + room.h - GAP - top}, &INK);
    struct column c = {.x = room.x + CONTENT, .y = top + 8, .ink = &INK_WHITE, .second = &INK_FAINT};
    rail_sign(s, step, room.x + RAIL, c.y + 7.5);
    heading(s, step, &c, right - 7);
    c.y += 1;
    step_body(s, step, &c);
    double least = top + 32;
    return fmax(c.y + 6, least) + GAP - room.y;
}

/* A check, or the head of a task. */
static double check_draw(struct sheet *s, const struct piece *piece, struct box room)
{
    const struct step *step = piece->step;
    double right = room.x + room.w;
    double top = guard(s, &step->cautions, room.x + CONTENT, room.y, room.w - CONTENT);
    struct column c = {.x = room.x + CONTENT, .y = top + 1, .ink = &INK, .second = &INK_SECOND};
    rail_sign(s, step, room.x + RAIL, c.y + 7.5);
    heading(s, step, &c, right);
    step_body(s, step, &c);
    return fmax(c.y, top + 20) + (piece->last ? GAP : 4) - room.y;
}

/* One act of a task: "3.2", what to do, its own box. */
static double act_draw(struct sheet *s, const struct piece *piece, struct box room)
{
    const struct act *act = piece->act;
    double right = room.x + room.w, indent = 30;
    struct column c = {.x = room.x + CONTENT + indent, .ink = &INK, .second = &INK_SECOND};
    c.y = guard(s, &act->cautions, c.x, room.y, right - c.x);
    c.w = right - TICK_STEP - 9 - c.x;
    struct text number = text_new(s->a);
    text_int(&number, piece->step->number);
    text_addz(&number, ".");
    text_int(&number, (int64_t)piece->act_number);
    pen_circle(s->pen, room.x + RAIL, c.y + 6.5, 2.6, &INK_WHITE, 1.2, &INK);
    pen_text(s->pen, room.x + CONTENT, c.y, 0, ALIGN_LEFT, (struct type){.size = 9.8, .bold = true}, text_str(&number));
    mark_tick(s->pen, right - TICK_STEP + (TICK_STEP - TICK_ACT) / 2, c.y, TICK_ACT);
    c.y += pen_text(s->pen, c.x, c.y, c.w, ALIGN_LEFT, (struct type){.size = 10}, act->act).h;
    detail_line(s, &c, act->figure, S(""), act->place);
    named_line(s, &c, s->doc->words.tools, &act->tools);
    torque_lines(s, &c, &act->torques);
    named_line(s, &c, s->doc->words.waste, &(struct texts){(struct str[]){act->waste}, act->waste.n > 0});
    stripe_lines(s, &c, &act->opens, false);
    stripe_lines(s, &c, &act->closes, true);
    return c.y + (piece->last ? GAP : 5) - room.y;
}

static double piece_draw(struct sheet *s, const void *what, struct box room)
{
    const struct piece *piece = what;
    double x = room.x + RAIL;
    pen_line(s->pen, x, room.y + (piece->first ? 8 : 0), x, room.y + room.h - (piece->rail_ends ? GAP : 0), 1.6, &INK);
    return piece->act                         ? act_draw(s, piece, room)
           : piece->step->type == STEP_CHANGE ? change_draw(s, piece, room)
                                              : check_draw(s, piece, room);
}

/* How many steps refer to the figure. */
static size_t uses(const struct document *d, struct str name)
{
    size_t n = 0;
    for (size_t i = 0; i < d->steps_n; i++) {
        bool used = str_eq(d->steps[i].figure.name, name);
        for (size_t k = 0; k < d->steps[i].acts_n; k++) {
            used = used || str_eq(d->steps[i].acts[k].figure.name, name);
        }
        n += used;
    }
    return n;
}

static bool step_uses(const struct step *step, struct str name)
{
    bool used = str_eq(step->figure.name, name);
    for (size_t k = 0; k < step->acts_n; k++) {
        used = used || str_eq(step->acts[k].figure.name, name);
    }
    return used;
}

struct plate {
    const struct drawing *drawing;
    bool on_rail;
};

/* What the marks stand for, in a column beside the drawing. Returns the height. */
static double legend(struct sheet *s, const struct figure *figure, double x, double y, double w)
{
    struct type type = {.size = 8.6};
    size_t columns = figure->marks_n > 10 && w > 220 ? 2 : 1, rows = (figure->marks_n + columns - 1) / columns;
    double top = y, deepest = y, column_w = w / (double)columns;
    for (size_t i = 0; i < figure->marks_n; i++) {
        if (i == rows) {
            y = top;
            x += column_w;
        }
        mark_number(s->pen, x + 5.6, y + 6, 5.6, figure->marks[i].number, true);
        y += fmax(pen_text(s->pen, x + 15, y, column_w - 21, ALIGN_LEFT, type, figure->marks[i].label).h, 12) + 1.5;
        deepest = fmax(deepest, y);
    }
    return deepest - top;
}

static double figure_draw(struct sheet *s, const void *what, struct box room)
{
    const struct plate *plate = what;
    const struct drawing *drawing = plate->drawing;
    const struct figure *figure = drawing->figure;
    double indent = plate->on_rail ? CONTENT : 0, x = room.x + indent, w = room.w - indent, y = room.y;
    if (plate->on_rail) {
        pen_line(s->pen, room.x + RAIL, room.y, room.x + RAIL, room.y + room.h, 1.6, &INK);
    }
    struct type title = {.size = 9.2, .bold = true};
    struct str name = figure->title.n ? figure->title : figure->name;
    if (drawing->ratio <= 0) {
        struct str why = drawing_possible() ? s->doc->words.figure_missing : s->doc->words.figure_left_out;
        y += pen_text(s->pen, x, y, w, ALIGN_LEFT, title, DOTTED(s->a, s->doc->words.figure, name, why)).h + 3;
        return y + legend(s, figure, x, y, w) + GAP - room.y;
    }
    y += pen_text(s->pen, x, y, w, ALIGN_LEFT, title, name).h + 3;
    double most_w = figure->marks_n ? w * 0.56 : w * 0.7, most_h = plate->on_rail ? 165 : 190;
    double draw_w = fmin(most_w, most_h / drawing->ratio), draw_h = draw_w * drawing->ratio;
    drawing_draw(s->pen, drawing, (struct box){x, y, draw_w, draw_h});
    for (size_t i = 0; i < figure->marks_n; i++) {
        const struct mark *m = &figure->marks[i];
        if (!isnan(m->x) && !isnan(m->y)) {
            mark_number(s->pen, x + m->x * draw_w, y + m->y * draw_h, 6.2, m->number, true);
        }
    }
    double legend_h = legend(s, figure, x + draw_w + 14, y, w - draw_w - 14);
    return y + fmax(draw_h, legend_h) + GAP - room.y;
}

static void figure_add(struct sheet *s, struct flow *f, size_t i, bool on_rail)
{
    struct plate *plate = ARENA_NEW(s->a, struct plate);
    *plate = (struct plate){&s->drawings[i], on_rail};
    flow_add(f, figure_draw, plate, 0, false);
}

/* The blocks of one step. */
static void step_add(struct sheet *s, struct flow *f, size_t i)
{
    const struct step *step = &s->doc->steps[i];
    bool last_step = i + 1 == s->doc->steps_n;
    struct piece *head = ARENA_NEW(s->a, struct piece);
    *head = (struct piece){.step = step, .last = step->acts_n == 0, .first = i == 0};
    head->rail_ends = last_step && step->acts_n == 0;
    flow_add(f, piece_draw, head, 0, step->acts_n > 0);
    for (size_t k = 0; k < step->acts_n; k++) {
        struct piece *piece = ARENA_NEW(s->a, struct piece);
        *piece = (struct piece){.step = step, .act = &step->acts[k], .act_number = k + 1};
        piece->last = k + 1 == step->acts_n;
        piece->rail_ends = last_step && piece->last;
        flow_add(f, piece_draw, piece, 0, false);
    }
    for (size_t k = 0; k < s->doc->figures_n; k++) {
        if (step_uses(step, s->doc->figures[k].name) && uses(s->doc, s->doc->figures[k].name) == 1) {
            f->at[f->n - 1].with_next = true;
            figure_add(s, f, k, true);
        }
    }
}

static double empty_draw(struct sheet *s, const void *what, struct box room)
{
    (void)what;
    return pen_text(s->pen, room.x, room.y, room.w, ALIGN_LEFT, (struct type){.size = 11}, s->doc->words.empty).h + 6;
}

void steps_add(struct sheet *s, struct flow *f)
{
    const struct document *d = s->doc;
    section_add(s, f, d->words.round, S(""));
    for (size_t i = 0; i < d->figures_n; i++) { /* what several steps refer to stands before them all */
        if (uses(d, d->figures[i].name) != 1) {
            figure_add(s, f, i, false);
        }
    }
    for (size_t i = 0; i < d->steps_n; i++) {
        step_add(s, f, i);
    }
    if (!d->steps_n) {
        flow_add(f, empty_draw, 0, 0, false);
    }
}
