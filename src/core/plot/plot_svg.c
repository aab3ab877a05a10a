/* The plot as SVG. Under everything the band and the ground beyond the limits, then rules, limits, lines, readings;
 * texts last, so that nothing runs through a word. */
#include "plot.h"

#include <math.h>

#define SIZE 11 /* of texts, px */
#define SMALL 10

struct sheet {
    struct text *out;
    const struct plot *p;
    struct plot_view v;
    double left, top, right, bottom; /* of the field, px */
    double w, h;
};

static double px(const struct sheet *s, double x)
{
    return s->left + (x - s->v.x0) / (s->v.x1 - s->v.x0) * (s->right - s->left);
}

static double py(const struct sheet *s, double y)
{
    return s->bottom - (y - s->v.y0) / (s->v.y1 - s->v.y0) * (s->bottom - s->top);
}

/* A coordinate, kept near the field: drawing programs lose their way among huge numbers. */
static double near_field(double v)
{
    return fmin(fmax(v, -1000), 10000);
}

static void attribute(struct text *t, const char *name, double v)
{
    text_join(t, " ", name, "=\"", (char *)0);
    text_number(t, near_field(v), 2);
    text_char(t, '"');
}

static void pair(struct text *t, double x, double y)
{
    text_number(t, near_field(x), 2);
    text_char(t, ',');
    text_number(t, near_field(y), 2);
    text_char(t, ' ');
}

/* Text content after XML 1.0: markup escaped, control characters and bytes that are no UTF-8 replaced. */
static void escaped(struct text *t, struct str s)
{
    struct text clean = text_new(t->a);
    text_shown(&clean, s, 2000);
    for (size_t i = 0; i < clean.n; i++) {
        switch (clean.p[i]) {
        case '<':
            text_addz(t, "&lt;");
            break;
        case '>':
            text_addz(t, "&gt;");
            break;
        case '&':
            text_addz(t, "&amp;");
            break;
        case '"':
            text_addz(t, "&quot;");
            break;
        case '\t':
        case '\n':
            text_char(t, ' ');
            break;
        default:
            text_char(t, clean.p[i]);
        }
    }
}

/* A line of text; anchor: "start", "middle", "end". */
static void words(struct sheet *s, double x, double y, const char *anchor, double size, bool bold, struct str text)
{
    text_addz(s->out, "<text");
    attribute(s->out, "x", x);
    attribute(s->out, "y", y);
    attribute(s->out, "font-size", size);
    text_join(s->out, " text-anchor=\"", anchor, bold ? "\" font-weight=\"bold\">" : "\">", (char *)0);
    escaped(s->out, text);
    text_addz(s->out, "</text>\n");
}

static void line(struct sheet *s, double x0, double y0, double x1, double y1, const char *more)
{
    text_addz(s->out, "<line");
    attribute(s->out, "x1", x0);
    attribute(s->out, "y1", y0);
    attribute(s->out, "x2", x1);
    attribute(s->out, "y2", y1);
    text_join(s->out, " ", more, "/>\n", (char *)0);
}

static void rectangle(struct sheet *s, double x0, double y0, double x1, double y1, const char *more)
{
    if (x1 - x0 > 0 && y1 - y0 > 0) {
        text_addz(s->out, "<rect");
        attribute(s->out, "x", x0);
        attribute(s->out, "y", y0);
        attribute(s->out, "width", x1 - x0);
        attribute(s->out, "height", y1 - y0);
        text_join(s->out, " ", more, "/>\n", (char *)0);
    }
}

/* Points joined; a NAN breaks the line. */
static void polyline(struct sheet *s, const struct plot_xy *at, size_t n, const char *more)
{
    bool on = false;
    text_addz(s->out, "<path d=\"");
    for (size_t i = 0; i < n; i++) {
        bool good = isfinite(at[i].x) && isfinite(at[i].y);
        if (good) {
            text_char(s->out, on ? 'L' : 'M');
            pair(s->out, px(s, at[i].x), py(s, at[i].y));
        }
        on = good;
    }
    text_join(s->out, "\" fill=\"none\" stroke=\"currentColor\" ", more, "/>\n", (char *)0);
}

static void draw_band(struct sheet *s)
{
    const struct plot *p = s->p;
    text_addz(s->out, "<path d=\"M");
    for (size_t i = 0; i < p->n_band; i++) {
        pair(s->out, px(s, p->band_a[i].x), py(s, p->band_a[i].y));
    }
    for (size_t i = p->n_band; i-- > 0;) {
        pair(s->out, px(s, p->band_b[i].x), py(s, p->band_b[i].y));
    }
    text_addz(s->out, "Z\" fill=\"currentColor\" fill-opacity=\"0.16\"/>\n");
    polyline(s, p->band_a, p->n_band, "stroke-width=\"0.8\" stroke-opacity=\"0.6\"");
    polyline(s, p->band_b, p->n_band, "stroke-width=\"0.8\" stroke-opacity=\"0.6\"");
    polyline(s, p->middle, p->n_band, "stroke-width=\"1.4\" stroke-dasharray=\"5 3\"");
}

/* A limit is a thick line with the ends of a bracket, turned inward; the ground beyond it is shaded. */
static void draw_limit(struct sheet *s, double limit, bool upper)
{
    double y = py(s, limit);
    double hook = upper ? 7 : -7;
    rectangle(s, s->left, upper ? s->top : y, s->right, upper ? y : s->bottom,
              "fill=\"currentColor\" fill-opacity=\"0.05\"");
    line(s, s->left, y, s->right, y, "stroke=\"currentColor\" stroke-width=\"2.4\"");
    line(s, s->left + 1, y, s->left + 1, y + hook, "stroke=\"currentColor\" stroke-width=\"2.4\"");
    line(s, s->right - 1, y, s->right - 1, y + hook, "stroke=\"currentColor\" stroke-width=\"2.4\"");
}

static void limit_words(struct sheet *s, double limit, bool upper, int decimals)
{
    struct text t = text_new(s->out->a);
    text_add(&t, s->p->word_limit.n ? s->p->word_limit : S("limit"));
    text_char(&t, ' ');
    if (fabs(limit) >= 1e7) {
        text_double(&t, limit);
    } else {
        text_number(&t, limit, decimals + 1);
    }
    text_char(&t, ' ');
    text_add(&t, s->p->unit);
    words(s, s->left + 8, py(s, limit) + (upper ? -5 : 13), "start", SMALL, true, text_str(&t));
}

/* The day or hour it runs out: a bar from P10 to P90 with a notch at P50. */
static void draw_crossing(struct sheet *s)
{
    const struct plot *p = s->p;
    if (!isfinite(p->p50) || !isfinite(p->crossing_y)) {
        return;
    }
    double y = py(s, p->crossing_y);
    double from = fmax(px(s, isfinite(p->p10) ? p->p10 : p->p50), s->left);
    double to = fmin(px(s, isfinite(p->p90) ? p->p90 : s->v.x1), s->right);
    double at = px(s, p->p50);
    if (to > from) {
        rectangle(s, from, y - 3.5, to, y + 3.5, "fill=\"currentColor\"");
    }
    if (at <= s->right) {
        text_addz(s->out, "<path d=\"M");
        pair(s->out, at, y + 4);
        pair(s->out, at - 6, y + 15);
        pair(s->out, at + 6, y + 15);
        text_addz(s->out, "Z\" fill=\"currentColor\"/>\n");
        line(s, at, y - 9, at, y + 9, "stroke=\"currentColor\" stroke-width=\"2\"");
        line(s, at, y + 15, at, s->bottom, "stroke=\"currentColor\" stroke-width=\"0.8\" stroke-dasharray=\"2 3\"");
    }
}

static void draw_reading(struct sheet *s, const struct plot_reading *r)
{
    double x = px(s, r->x);
    double y = py(s, r->y);
    if (!isfinite(x) || !isfinite(y)) {
        return;
    }
    if (isfinite(r->spread) && r->spread > 0) {
        line(s, x, py(s, r->y - r->spread), x, py(s, r->y + r->spread),
             "stroke=\"currentColor\" stroke-width=\"1\" stroke-opacity=\"0.7\"");
    }
    if (r->mark == PLOT_OUT) {
        line(s, x - 4, y - 4, x + 4, y + 4, "stroke=\"currentColor\" stroke-width=\"2.4\"");
        line(s, x - 4, y + 4, x + 4, y - 4, "stroke=\"currentColor\" stroke-width=\"2.4\"");
        return;
    }
    text_addz(s->out, "<circle");
    attribute(s->out, "cx", x);
    attribute(s->out, "cy", y);
    text_addz(s->out, r->mark == PLOT_IN ? " r=\"3.2\" fill=\"currentColor\"/>\n"
                                         : " r=\"3.6\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.5\"/>\n");
    if (r->mark == PLOT_CLOSE) {
        text_addz(s->out, "<path d=\"M");
        pair(s->out, x - 3.6, y);
        text_addz(s->out, "a3.6 3.6 0 0 1 7.2 0Z\" fill=\"currentColor\"/>\n");
    }
}

static void draw_resets(struct sheet *s)
{
    double free_from = -INFINITY;
    for (size_t i = 0; i < s->p->n_resets; i++) {
        const struct plot_reset *r = &s->p->resets[i];
        double x = px(s, r->x);
        if (!(x >= s->left && x <= s->right)) {
            continue;
        }
        line(s, x, s->top, x, s->bottom, "stroke=\"currentColor\" stroke-width=\"1\" stroke-dasharray=\"1 3\"");
        text_addz(s->out, "<path d=\"M");
        pair(s->out, x, s->top + 5);
        pair(s->out, x - 4, s->top - 2);
        pair(s->out, x + 4, s->top - 2);
        text_addz(s->out, "Z\" fill=\"currentColor\"/>\n");
        double width = 5.6 * (double)str_chars(r->label); /* of a letter of this size, about */
        if (r->label.n && x > free_from && x + width < s->w - 6) {
            words(s, x + 6, s->top - 4, "start", SMALL - 1, false, r->label);
            free_from = x + width + 12;
        }
    }
}

static void draw_axes(struct sheet *s, const struct plot_ticks *y)
{
    struct text t = text_new(s->out->a);
    for (int i = 0; i < y->n; i++) {
        double at = y->first + i * y->step;
        line(s, s->left, py(s, at), s->right, py(s, at),
             "stroke=\"currentColor\" stroke-width=\"0.6\" stroke-opacity=\"0.25\"");
        t.n = 0;
        plot_tick_label(&t, at, y->decimals);
        words(s, s->left - 6, py(s, at) + 4, "end", SMALL, false, text_str(&t));
    }
    int most = (int)fmax(2, (s->right - s->left) / 74);
    struct plot_ticks x = {0};
    struct plot_day_ticks days = {0};
    if (s->p->by_hours) {
        x = plot_ticks_of(s->v.x0, s->v.x1, most);
    } else {
        days = plot_day_ticks_of(s->v.x0, s->v.x1, most);
    }
    int n = s->p->by_hours ? x.n : days.n;
    for (int i = 0; i < n; i++) {
        double at = s->p->by_hours ? x.first + i * x.step : days.at[i];
        line(s, px(s, at), s->bottom, px(s, at), s->bottom + 5, "stroke=\"currentColor\" stroke-width=\"1\"");
        t.n = 0;
        if (s->p->by_hours) {
            plot_tick_label(&t, at, x.decimals);
            text_addz(&t, " h");
        } else {
            plot_day_label(&t, at, days.step, s->p->months);
        }
        words(s, px(s, at), s->bottom + 17, "middle", SMALL, false, text_str(&t));
    }
    line(s, s->left, s->bottom, s->right, s->bottom, "stroke=\"currentColor\" stroke-width=\"1.2\"");
    line(s, s->left, s->top, s->left, s->bottom, "stroke=\"currentColor\" stroke-width=\"1.2\"");
}

/* An upright line of a day or hour, its label `lift` above the axis. */
static void draw_time(struct sheet *s, double at, double lift, struct str label, const char *more)
{
    double x = px(s, at);
    if (x >= s->left && x <= s->right + 0.5) {
        line(s, x, s->top, x, s->bottom, more);
        bool late = x > s->right - 95;
        words(s, late ? x - 4 : x + 4, s->bottom - lift, late ? "end" : "start", SMALL, true, label);
    }
}

static void head(struct sheet *s)
{
    const struct plot *p = s->p;
    text_addz(s->out, "<title>");
    escaped(s->out, p->title);
    text_addz(s->out, ", ");
    escaped(s->out, p->machine);
    text_addz(s->out, "</title>\n<desc>");
    escaped(s->out, p->says);
    text_addz(s->out, "</desc>\n");
    words(s, 8, 18, "start", SIZE + 3, true, p->title);
    words(s, s->w - 8, 18, "end", SIZE, false, p->machine);
    words(s, 8, 35, "start", SIZE, false, p->says);
    words(s, 8, s->top - 4, "start", SMALL, true, p->unit);
    if (p->by_hours) {
        words(s, s->right, s->bottom + 30, "end", SMALL, true, p->word_hours.n ? p->word_hours : S("machine hours"));
    }
}

void plot_svg(struct text *out, const struct plot *p, double w, double h)
{
    w = fmax(w, 240);
    h = fmax(h, 140);
    struct sheet s = {.out = out, .p = p, .v = plot_view_of(p), .w = w, .h = h};
    s.left = 52;
    s.right = w - 12;
    s.top = 58;
    s.bottom = h - (p->by_hours ? 38 : 24);
    struct plot_ticks y = plot_ticks_of(s.v.y0, s.v.y1, (int)fmax(2, (s.bottom - s.top) / 32));
    text_addz(out, "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\"");
    attribute(out, "width", w);
    attribute(out, "height", h);
    text_addz(out, " viewBox=\"0 0 ");
    text_number(out, w, 2);
    text_char(out, ' ');
    text_number(out, h, 2);
    text_addz(out, "\" color=\"#14181c\" fill=\"currentColor\" font-family=\"DejaVu Sans, Verdana, sans-serif\">\n");
    if (p->n_band > 1) {
        text_addz(out, "<svg");
        attribute(out, "x", 0);
        attribute(out, "y", 0);
        attribute(out, "width", w);
        attribute(out, "height", h);
        text_addz(out, " overflow=\"hidden\">\n<clipPath id=\"witmark-field\">");
        rectangle(&s, s.left, s.top, s.right, s.bottom, "");
        text_addz(out, "</clipPath>\n<g clip-path=\"url(#witmark-field)\">\n");
        draw_band(&s);
        text_addz(out, "</g>\n</svg>\n");
    }
    draw_axes(&s, &y);
    draw_resets(&s);
    if (isfinite(p->high)) {
        draw_limit(&s, p->high, true);
    }
    if (isfinite(p->low)) {
        draw_limit(&s, p->low, false);
    }
    polyline(&s, p->line, p->n_line, "stroke-width=\"1.6\"");
    for (size_t i = 0; i < p->n_readings; i++) {
        draw_reading(&s, &p->readings[i]);
    }
    draw_crossing(&s);
    draw_time(&s, p->now, 5, p->word_now.n ? p->word_now : S("today"),
              "stroke=\"currentColor\" stroke-width=\"1.2\" stroke-dasharray=\"8 3 2 3\"");
    draw_time(&s, p->end, 18, p->end_label, "stroke=\"currentColor\" stroke-width=\"2.4\"");
    if (isfinite(p->high)) {
        limit_words(&s, p->high, true, y.decimals);
    }
    if (isfinite(p->low)) {
        limit_words(&s, p->low, false, y.decimals);
    }
    head(&s);
    text_addz(out, "</svg>\n");
}
