/* Figures among the steps. One that several steps refer to is an overview and stands before them all; a detail stands
 * after the first step that refers to it, and later steps name that one. */
#include "marks.h"
#include "parts.h"

#include <math.h>

#define OVERVIEW 4 /* steps that refer to a figure, from which it is an overview */

struct plate {
    const struct drawing *drawing;
    bool on_rail, rail_ends;
};

static bool step_refers(const struct step *step, struct str name)
{
    bool refers = str_eq(step->figure.name, name);
    for (size_t k = 0; k < step->acts_n; k++) {
        refers = refers || str_eq(step->acts[k].figure.name, name);
    }
    return refers;
}

/* How many steps refer to the figure; the first of them in *first, which is null when none does. */
static size_t refers(const struct document *d, struct str name, const struct step **first)
{
    size_t n = 0;
    *first = 0;
    for (size_t i = 0; i < d->steps_n; i++) {
        if (step_refers(&d->steps[i], name)) {
            *first = *first ? *first : &d->steps[i];
            n++;
        }
    }
    return n;
}

static const struct figure *find(const struct sheet *s, struct str name)
{
    for (size_t i = 0; name.n && i < s->doc->figures_n; i++) {
        if (str_eq(s->doc->figures[i].name, name)) {
            return &s->doc->figures[i];
        }
    }
    return 0;
}

/* Whether a figure stands before the steps. */
static bool is_overview(const struct sheet *s, const struct figure *figure)
{
    const struct step *first = 0;
    size_t n = refers(s->doc, figure->name, &first);
    return n == 0 || n >= OVERVIEW;
}

int figure_mark(const struct sheet *s, struct figure_ref ref)
{
    return find(s, ref.name) ? ref.mark : 0;
}

struct str figure_hint(struct sheet *s, const struct step *step, struct figure_ref ref)
{
    const struct figure *figure = find(s, ref.name);
    const struct step *first = 0;
    if (!figure || is_overview(s, figure) || refers(s->doc, figure->name, &first) == 0) {
        return S("");
    }
    struct text t = text_new(s->a);
    text_add(&t, figure->title.n ? figure->title : figure->name);
    if (first != step) {
        text_join(&t, ", ", str_z(s->a, s->doc->words.see_step), " ", (char *)0);
        text_int(&t, first->number);
    }
    return text_str(&t);
}

/* Whether a step of this round names the mark; those that none names are drawn hollow. */
static bool is_named(const struct document *d, const struct figure *figure, int number)
{
    bool named = false;
    for (size_t i = 0; i < d->steps_n; i++) {
        const struct step *step = &d->steps[i];
        named = named || (step->figure.mark == number && str_eq(step->figure.name, figure->name));
        for (size_t k = 0; k < step->acts_n; k++) {
            named = named || (step->acts[k].figure.mark == number && str_eq(step->acts[k].figure.name, figure->name));
        }
    }
    return named;
}

/* What the marks stand for, in one or two columns. Returns the height. */
static double legend(struct sheet *s, const struct figure *figure, double x, double y, double w, double h)
{
    struct type type = {.size = 8.8};
    size_t columns = (double)figure->marks_n * 13.5 > h && w > 200 ? 2 : 1;
    size_t rows = (figure->marks_n + columns - 1) / columns;
    double top = y, deepest = y, column_w = w / (double)columns;
    for (size_t i = 0; i < figure->marks_n; i++) {
        if (i == rows) {
            y = top;
            x += column_w;
        }
        mark_number(s->pen, x + 5.6, y + 6, 5.6, figure->marks[i].number,
                    is_named(s->doc, figure, figure->marks[i].number));
        y += fmax(pen_text(s->pen, x + 15, y, column_w - 21, ALIGN_LEFT, type, figure->marks[i].label).h, 12) + 1.5;
        deepest = fmax(deepest, y);
    }
    return deepest - top;
}

/* The drawing with its marks on it. */
static void draw_marked(struct sheet *s, const struct drawing *drawing, struct box b)
{
    drawing_draw(s->pen, drawing, b);
    for (size_t i = 0; i < drawing->figure->marks_n; i++) {
        const struct mark *m = &drawing->figure->marks[i];
        if (!isnan(m->x) && !isnan(m->y)) {
            double x = b.x + m->x * b.w, y = b.y + m->y * b.h;
            pen_circle(s->pen, x, y, 7.6, &INK_WHITE, 0, 0);
            mark_number(s->pen, x, y, 6.2, m->number, is_named(s->doc, drawing->figure, m->number));
        }
    }
}

/* The drawing at the left; title and legend beside it. */
static double plate_draw(struct sheet *s, const void *what, struct box room)
{
    const struct plate *plate = what;
    const struct drawing *drawing = plate->drawing;
    const struct figure *figure = drawing->figure;
    double indent = plate->on_rail ? CONTENT : 0, x = room.x + indent, w = room.w - indent, y = room.y;
    if (plate->on_rail && !plate->rail_ends) {
        pen_line(s->pen, room.x + RAIL, room.y, room.x + RAIL, room.y + room.h, 1.6, &INK);
    }
    struct type title = {.size = 9.4, .bold = true};
    struct str name = figure->title.n ? figure->title : figure->name;
    double draw_w = 0, draw_h = 0;
    if (drawing->ratio > 0) {
        double crowded =
            figure->marks_n > 6 ? 7 * (double)(figure->marks_n - 6) : 0; /* room for the marks of a tall one */
        double most_h = (plate->on_rail ? 118 : 142) + (drawing->ratio > 1 ? fmin(crowded, 120) : 0);
        draw_w = fmin(w * 0.58, most_h / drawing->ratio);
        draw_h = draw_w * drawing->ratio;
        draw_marked(s, drawing, (struct box){x, y, draw_w, draw_h});
    } else {
        name = DOTTED(s->a, name, drawing_possible() ? s->doc->words.figure_missing : s->doc->words.figure_left_out);
    }
    double beside = x + (draw_w > 0 ? draw_w + 16 : 0), beside_w = x + w - beside;
    double title_h = pen_text(s->pen, beside, y, beside_w, ALIGN_LEFT, title, name).h + 4;
    double legend_h = legend(s, figure, beside, y + title_h, beside_w, draw_h - title_h);
    return fmax(draw_h, title_h + legend_h) + GAP;
}

static void plate_add(struct sheet *s, struct flow *f, size_t i, bool on_rail, bool rail_ends)
{
    struct plate *plate = ARENA_NEW(s->a, struct plate);
    *plate = (struct plate){&s->drawings[i], on_rail, rail_ends};
    flow_add(f, plate_draw, plate, 0, false);
}

void figures_add_before(struct sheet *s, struct flow *f)
{
    for (size_t i = 0; i < s->doc->figures_n; i++) {
        if (is_overview(s, &s->doc->figures[i])) {
            plate_add(s, f, i, false, false);
        }
    }
}

bool figures_after(const struct sheet *s, const struct step *step)
{
    for (size_t i = 0; i < s->doc->figures_n; i++) {
        const struct step *first = 0;
        refers(s->doc, s->doc->figures[i].name, &first);
        if (first == step && !is_overview(s, &s->doc->figures[i])) {
            return true;
        }
    }
    return false;
}

void figures_add_after(struct sheet *s, struct flow *f, const struct step *step, bool rail_goes_on)
{
    for (size_t i = 0; i < s->doc->figures_n; i++) {
        const struct step *first = 0;
        refers(s->doc, s->doc->figures[i].name, &first);
        if (first == step && !is_overview(s, &s->doc->figures[i])) {
            f->at[f->n - 1].with_next = true;
            plate_add(s, f, i, true, !rail_goes_on);
        }
    }
}
