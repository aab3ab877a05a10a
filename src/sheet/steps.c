/* The steps: a rail at the left with a sign per step, what to do beside it, the box to tick at the right edge.
 *
 * A block holds a step, or one act of a task, together with all cautions that guard it; so no page can break between a
 * caution and its step. A task's heading stays with its first act, and a figure with the step before it. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define TICK_STEP 17.0
#define TICK_ACT 13.0
#define TIME_W 52.0

/* What a block of the steps draws: a step's own part, or one act of it. */
struct piece {
    const struct step *step;
    const struct act *act; /* null for the step itself */
    size_t act_number;
    bool last;      /* of its step */
    bool rail_ends; /* no step follows */
    bool first;     /* no step is above */
    bool hairline;  /* a line parts the step from the next */
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

/* A line in second ink, after the number of the mark on a figure where there is one. */
static void detail_line(struct sheet *s, struct column *c, int mark, struct str strong, struct str text)
{
    if (!strong.n && !text.n && !mark) {
        return;
    }
    struct type bold = {.size = 9.2, .bold = true, .ink = c->ink}, plain = {.size = 9.2, .ink = c->second};
    double x = c->x;
    if (mark > 0) {
        mark_number(s->pen, x + 5.8, c->y + 5.9, 5.6, mark, c->ink != &INK_WHITE);
        x += 15;
    }
    struct run runs[] = {{strong, bold}, {strong.n && text.n ? S("  ·  ") : S(""), plain}, {text, plain}};
    c->y += fmax(pen_runs(s->pen, x, c->y, c->w - (x - c->x), ALIGN_LEFT, runs, 3).h, mark ? 12.5 : 0);
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
    c->y += list->n ? 1.5 : 0;
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
        double w = tick + 4 + fmin(natural, most), writing = i == look->n ? 36 : 0;
        if (x > left && x + w + writing > c->x + c->w) {
            x = left;
            c->y += line_h;
        }
        mark_tick(s->pen, x, c->y, tick);
        pen_line_in(s->pen, x + tick + 4, c->y - 0.6, fmin(natural, most) + 0.5, ALIGN_LEFT, plain, word);
        x += w + 13;
        if (writing > 0) {
            pen_dots(s->pen, x - 9, c->y + 9.5, c->x + c->w, c->y + 9.5, &INK_SECOND);
        }
    }
    c->y += line_h;
}

/* A named blank. Returns its width. */
static double blank(struct sheet *s, double x, double y, double w, struct str name, struct str unit)
{
    struct type small = {.size = 7.6, .ink = &INK_SECOND};
    pen_line_in(s->pen, x, y, w, ALIGN_LEFT, small, name);
    mark_blank(s->pen, (struct box){x, y + 10, w, 24}, unit);
    return w + 10;
}

/* The blanks of a reading with the gauge beside them, and what it is held against. */
static void reading_rows(struct sheet *s, struct column *c, const struct reading *m)
{
    if (!m->there) {
        return;
    }
    const struct words *words = &s->doc->words;
    const double wide = 104, narrow = 88, gap = 10;
    bool has_gauge = !isnan(m->gauge.low) || !isnan(m->gauge.high);
    double left_over = c->w - wide - gap - fmin((double)m->also_n, 2) * (narrow + gap) - 18;
    double gauge_w = fmax(130, fmin(left_over, 190));
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
    c->y += 3;
    double x = c->x, right = c->x + c->w, first_right = has_gauge ? right - gauge_w - 14 : right, y = c->y;
    x += blank(s, x, y, wide, m->measure, m->unit);
    for (size_t i = 0; i < m->also_n; i++) {
        if (x + narrow > (y > c->y ? right : first_right)) {
            x = c->x;
            y += 37;
        }
        x += blank(s, x, y, narrow, m->also[i].name, m->also[i].unit);
    }
    if (has_gauge) {
        mark_gauge(s->pen, right - gauge_w - 6, c->y + 12, gauge_w, &m->gauge);
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
    c->y += h + 1;
    c->w = time_right - c->x;
    return h;
}

/* All that is said of a step below its heading. */
static void step_body(struct sheet *s, const struct step *step, struct column *c)
{
    const struct words *words = &s->doc->words;
    struct str kind = step->type == STEP_CHANGE ? words->change : S("");
    detail_line(s, c, figure_mark(s, step->figure), step->place,
                DOTTED(s->a, kind, step->why, figure_hint(s, step, step->figure)));
    named_line(s, c, words->parts, &step->parts);
    named_line(s, c, words->fluids, &step->fluids);
    named_line(s, c, words->tools, &step->tools);
    named_line(s, c, words->waste, &step->waste);
    torque_lines(s, c, &step->torques);
    reading_rows(s, c, &step->read);
    for (size_t i = 0; i < step->tables_n; i++) {
        c->y += table_draw(s, &step->tables[i], c->x, c->y, c->w);
    }
    look_line(s, c, &step->look);
    stripe_lines(s, c, &step->opens, false);
    stripe_lines(s, c, &step->closes, true);
}

/* The cautions of a piece, one below the other, the first at y; returns where they end. */
static double guard(struct sheet *s, const struct cautions *list, double x, double y, double w)
{
    for (size_t i = 0; i < list->n; i++) {
        y += mark_caution(s->pen, x, y, w, &s->doc->words, &list->at[i]) + 3.5;
    }
    return y;
}

/* The rail through a block; it begins at the first sign of the round and ends at the last. */
static void rail(struct sheet *s, const struct piece *piece, struct box room, double sign_y)
{
    double x = room.x + RAIL;
    pen_line(s->pen, x, piece->first ? sign_y : room.y, x, piece->rail_ends ? sign_y : room.y + room.h, 1.6, &INK);
}

/* A change of condition: its cautions on white, then the inverted block over the whole width. */
static double change_draw(struct sheet *s, const struct piece *piece, struct box room)
{
    const struct step *step = piece->step;
    double right = room.x + room.w;
    double top = guard(s, &step->cautions, room.x + CONTENT, room.y, room.w - CONTENT);
    rail(s, piece, room, top + 15);
    pen_fill(s->pen, (struct box){room.x, top, room.w, room.y + room.h - GAP - top}, &INK);
    struct column c = {.x = room.x + CONTENT, .y = top + 7, .ink = &INK_WHITE, .second = &INK_FAINT};
    rail_sign(s, step, room.x + RAIL, c.y + 8.5);
    heading(s, step, &c, right - 7);
    step_body(s, step, &c);
    return fmax(c.y + 6, top + 32) + GAP - room.y;
}

/* The space below a piece that ends at y; a hairline in it parts the step from the next. Returns the whole height. */
static double end(struct sheet *s, const struct piece *piece, struct box room, double y, double gap)
{
    if (!piece->last) {
        return y + gap - room.y;
    }
    if (piece->hairline) {
        pen_line(s->pen, room.x + CONTENT, y + 5, room.x + room.w, y + 5, 0.5, &INK_RULE);
    }
    return y + GAP + (piece->hairline ? 2 : 0) - room.y;
}

/* A check, or the head of a task. */
static double check_draw(struct sheet *s, const struct piece *piece, struct box room)
{
    const struct step *step = piece->step;
    double right = room.x + room.w;
    double top = guard(s, &step->cautions, room.x + CONTENT, room.y, room.w - CONTENT);
    struct column c = {.x = room.x + CONTENT, .y = top + 1, .ink = &INK, .second = &INK_SECOND};
    rail(s, piece, room, c.y + 7.5);
    rail_sign(s, step, room.x + RAIL, c.y + 7.5);
    heading(s, step, &c, right);
    step_body(s, step, &c);
    return end(s, piece, room, fmax(c.y, top + 20), 4);
}

/* What an act leaves as waste, and where it is done, in one line. */
static void act_details(struct sheet *s, const struct piece *piece, struct column *c)
{
    const struct act *act = piece->act;
    struct text waste = text_new(s->a);
    if (act->waste.n) {
        text_join(&waste, str_z(s->a, s->doc->words.waste), ": ", str_z(s->a, act->waste), (char *)0);
    }
    bool told = piece->act_number > 1 && str_eq(act[-1].figure.name, act->figure.name);
    struct str hint = told ? S("") : figure_hint(s, piece->step, act->figure);
    detail_line(s, c, 0, S(""), DOTTED(s->a, act->place, text_str(&waste), hint));
}

/* One act of a task: "3.2", the mark on its figure, what to do, its own box. */
static double act_draw(struct sheet *s, const struct piece *piece, struct box room)
{
    const struct act *act = piece->act;
    struct type bold = {.size = 9.8, .bold = true};
    struct text number = text_new(s->a);
    text_int(&number, piece->step->number);
    text_addz(&number, ".");
    text_int(&number, (int64_t)piece->act_number);
    double right = room.x + room.w, indent = fmax(30, pen_extent(s->pen, 0, bold, text_str(&number)).w + 7);
    struct column c = {.x = room.x + CONTENT + indent, .ink = &INK, .second = &INK_SECOND};
    c.y = guard(s, &act->cautions, c.x, room.y, right - c.x);
    c.w = right - TICK_STEP - 9 - c.x;
    rail(s, piece, room, c.y + 6.5);
    pen_circle(s->pen, room.x + RAIL, c.y + 6.5, 2.6, &INK_WHITE, 1.2, &INK);
    pen_text(s->pen, room.x + CONTENT, c.y, 0, ALIGN_LEFT, bold, text_str(&number));
    mark_tick(s->pen, right - TICK_STEP + (TICK_STEP - TICK_ACT) / 2, c.y, TICK_ACT);
    int mark = figure_mark(s, act->figure);
    double shift = mark ? 15 : 0;
    if (mark) {
        mark_number(s->pen, c.x + 5.8, c.y + 6.3, 5.6, mark, true);
    }
    c.y += pen_text(s->pen, c.x + shift, c.y, c.w - shift, ALIGN_LEFT, (struct type){.size = 10}, act->act).h;
    act_details(s, piece, &c);
    named_line(s, &c, s->doc->words.tools, &act->tools);
    torque_lines(s, &c, &act->torques);
    stripe_lines(s, &c, &act->opens, false);
    stripe_lines(s, &c, &act->closes, true);
    return end(s, piece, room, c.y, 5);
}

static double piece_draw(struct sheet *s, const void *what, struct box room)
{
    const struct piece *piece = what;
    return piece->act                         ? act_draw(s, piece, room)
           : piece->step->type == STEP_CHANGE ? change_draw(s, piece, room)
                                              : check_draw(s, piece, room);
}

/* The blocks of one step. */
static void step_add(struct sheet *s, struct flow *f, size_t i)
{
    const struct step *step = &s->doc->steps[i];
    bool last_step = i + 1 == s->doc->steps_n;
    struct piece *head = ARENA_NEW(s->a, struct piece);
    *head = (struct piece){.step = step, .last = step->acts_n == 0, .first = i == 0};
    head->rail_ends = last_step && step->acts_n == 0;
    bool hairline = !last_step && s->doc->steps[i + 1].type != STEP_CHANGE && !figures_after(s, step);
    head->hairline = hairline;
    flow_add(f, piece_draw, head, 0, step->acts_n > 0);
    for (size_t k = 0; k < step->acts_n; k++) {
        struct piece *piece = ARENA_NEW(s->a, struct piece);
        *piece = (struct piece){.step = step, .act = &step->acts[k], .act_number = k + 1};
        piece->last = k + 1 == step->acts_n;
        piece->rail_ends = last_step && piece->last;
        piece->hairline = hairline;
        flow_add(f, piece_draw, piece, 0, false);
    }
    figures_add_after(s, f, step, !last_step);
}

static double empty_draw(struct sheet *s, const void *what, struct box room)
{
    (void)what;
    return pen_text(s->pen, room.x, room.y, room.w, ALIGN_LEFT, (struct type){.size = 11}, s->doc->words.empty).h + 6;
}

void steps_add(struct sheet *s, struct flow *f)
{
    section_add(s, f, s->doc->words.round, S(""));
    figures_add_before(s, f);
    for (size_t i = 0; i < s->doc->steps_n; i++) {
        step_add(s, f, i);
    }
    if (!s->doc->steps_n) {
        flow_add(f, empty_draw, 0, 0, false);
    }
}
