/* Drawing over cairo, text through pango. Hinting is off and glyph positions are not rounded, so that a PDF, a PNG and
 * the dry run agree about every width. */
#include "pen.h"

#include <pango/pangocairo.h>

#include <math.h>

/* Condensed where it is installed (fonts-dejavu-extra), else the plain cut; then fontconfig's choice per character. */
#define FAMILY "DejaVu Sans Condensed, DejaVu Sans, sans-serif"

const struct ink INK = {0x14 / 255.0, 0x20 / 255.0, 0x2a / 255.0};
const struct ink INK_SECOND = {0x4e / 255.0, 0x5b / 255.0, 0x65 / 255.0};
const struct ink INK_RULE = {0xb4 / 255.0, 0xb6 / 255.0, 0xb4 / 255.0};
const struct ink INK_FAINT = {0xee / 255.0, 0xed / 255.0, 0xe8 / 255.0};
const struct ink INK_WHITE = {1, 1, 1};
const struct ink INK_PAINT = {0xc2 / 255.0, 0x18 / 255.0, 0x5b / 255.0};
/* Safety colours of ANSI Z535.1 as screens show them (values from memory); print varies, the word and the symbol don't.
 */
const struct ink SIGNAL_RED = {0xc8 / 255.0, 0x10 / 255.0, 0x2e / 255.0};
const struct ink SIGNAL_ORANGE = {0xff / 255.0, 0x82 / 255.0, 0x00 / 255.0};
const struct ink SIGNAL_YELLOW = {0xff / 255.0, 0xd1 / 255.0, 0x00 / 255.0};
const struct ink SIGNAL_BLUE = {0x00 / 255.0, 0x57 / 255.0, 0xb8 / 255.0};
const struct ink SIGNAL_BLACK = {0, 0, 0};

#if defined(__has_feature)
#if __has_feature(address_sanitizer)
#define LEAKS_ARE_LOOKED_FOR
#endif
#endif
#if defined(__SANITIZE_ADDRESS__) || defined(LEAKS_ARE_LOOKED_FOR)
/* fontconfig keeps its patterns until the process ends, which the leak sanitizer would take for ours. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libfontconfig\n";
}
const char *__lsan_default_options(void);
const char *__lsan_default_options(void)
{
    return "print_suppressions=0";
}
#endif

struct pen pen_new(struct arena *a, cairo_t *cr, struct missing *missing)
{
    struct pen p = {.a = a, .cr = cr, .missing = missing};
    p.context = pango_cairo_create_context(cr);
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(p.context, options);
    cairo_font_options_destroy(options);
    pango_cairo_context_set_resolution(p.context, 72);
    pango_context_set_round_glyph_positions(p.context, FALSE);
    return p;
}

void pen_free(struct pen *p)
{
    g_object_unref(p->context);
    p->context = 0;
}

void pen_move_to(struct pen *p, cairo_t *cr)
{
    p->cr = cr;
}

/* Notes the characters of a layout that no font has. */
static void note_missing(struct pen *p, PangoLayout *layout)
{
    if (!p->missing || pango_layout_get_unknown_glyphs_count(layout) == 0) {
        return;
    }
    PangoLayoutIter *i = pango_layout_get_iter(layout);
    do {
        PangoLayoutRun *run = pango_layout_iter_get_run_readonly(i);
        for (int k = 0; run && k < run->glyphs->num_glyphs; k++) {
            PangoGlyph glyph = run->glyphs->glyphs[k].glyph;
            if (!(glyph & PANGO_GLYPH_UNKNOWN_FLAG) || glyph == PANGO_GLYPH_INVALID_INPUT) {
                continue;
            }
            uint32_t c = glyph & ~PANGO_GLYPH_UNKNOWN_FLAG;
            size_t at = 0;
            while (at < p->missing->n && p->missing->at[at] != c) {
                at++;
            }
            if (at == sizeof p->missing->at / sizeof *p->missing->at) {
                p->missing->more++;
            } else if (at == p->missing->n) {
                p->missing->at[p->missing->n++] = c;
            }
        }
    } while (pango_layout_iter_next_run(i));
    pango_layout_iter_free(i);
}

static guint16 level16(double x)
{
    return (guint16)lround(x * 65535);
}

/* The attributes of one run on bytes [from, to). */
static void add_attributes(PangoAttrList *list, struct type type, guint from, guint to)
{
    const struct ink *ink = type.ink ? type.ink : &INK;
    PangoAttribute *made[] = {
        pango_attr_size_new_absolute((int)lround(type.size * PANGO_SCALE)),
        pango_attr_weight_new(type.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL),
        pango_attr_foreground_new(level16(ink->r), level16(ink->g), level16(ink->b)),
    };
    for (size_t k = 0; k < sizeof made / sizeof *made; k++) {
        made[k]->start_index = from;
        made[k]->end_index = to;
        pango_attr_list_insert(list, made[k]);
    }
}

/* Control characters would be drawn as boxes: all but the line feed become blanks. */
static void add_clean(struct text *t, struct str s)
{
    for (size_t i = 0; i < s.n; i++) {
        bool control = (unsigned char)s.p[i] < 0x20 && s.p[i] != '\n';
        text_char(t, control ? ' ' : s.p[i]);
    }
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Keeps a number and the short word behind it, most likely its unit, on one line: "35 N·m", "7.5 L", "20 °C". */
static void keep_units(PangoAttrList *list, struct str s)
{
    for (size_t i = 1; i + 1 < s.n; i++) {
        if (s.p[i] != ' ' || !is_digit(s.p[i - 1])) {
            continue;
        }
        size_t end = i + 1;
        while (end < s.n && s.p[end] != ' ' && s.p[end] != '\n') {
            end++;
        }
        if (end - i - 1 <= 6) {
            PangoAttribute *together = pango_attr_allow_breaks_new(FALSE);
            together->start_index = (guint)i - 1;
            together->end_index = (guint)i + 2;
            pango_attr_list_insert(list, together);
        }
    }
}

/* A layout of the runs; the caller unrefs it. */
static PangoLayout *make_layout(struct pen *p, double w, enum align align, const struct run *runs, size_t n)
{
    PangoLayout *layout = pango_layout_new(p->context);
    PangoFontDescription *font = pango_font_description_from_string(FAMILY);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    PangoAttrList *list = pango_attr_list_new();
    struct arena_mark mark = arena_mark(p->a);
    struct text t = text_new(p->a);
    for (size_t i = 0; i < n; i++) {
        guint from = (guint)t.n;
        add_clean(&t, runs[i].text);
        add_attributes(list, runs[i].type, from, (guint)t.n);
    }
    keep_units(list, text_str(&t));
    pango_layout_set_text(layout, t.n ? t.p : "", (int)t.n);
    arena_rewind(p->a, mark);
    pango_layout_set_attributes(layout, list);
    pango_attr_list_unref(list);
    if (w > 0) {
        pango_layout_set_width(layout, (int)lround(w * PANGO_SCALE));
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    }
    static const PangoAlignment how[] = {
        [ALIGN_LEFT] = PANGO_ALIGN_LEFT, [ALIGN_RIGHT] = PANGO_ALIGN_RIGHT, [ALIGN_CENTRE] = PANGO_ALIGN_CENTER};
    pango_layout_set_alignment(layout, how[align]);
    return layout;
}

static struct extent extent_of(PangoLayout *layout)
{
    PangoRectangle logical;
    pango_layout_get_extents(layout, 0, &logical);
    return (struct extent){.w = (double)logical.width / PANGO_SCALE,
                           .h = (double)logical.height / PANGO_SCALE,
                           .baseline = (double)pango_layout_get_baseline(layout) / PANGO_SCALE};
}

/* Shows a layout whose box begins at x; without a width, x is the left end, right end or middle as aligned. */
static struct extent show(struct pen *p, PangoLayout *layout, double x, double y, double w, enum align align)
{
    struct extent e = extent_of(layout);
    if (!p->dry) {
        note_missing(p, layout);
        double left = w > 0 || align == ALIGN_LEFT ? x : align == ALIGN_RIGHT ? x - e.w : x - e.w / 2;
        cairo_move_to(p->cr, left, y);
        pango_cairo_show_layout(p->cr, layout);
    }
    g_object_unref(layout);
    return e;
}

struct extent pen_runs(struct pen *p, double x, double y, double w, enum align align, const struct run *runs, size_t n)
{
    return show(p, make_layout(p, w, align, runs, n), x, y, w, align);
}

struct extent pen_text(struct pen *p, double x, double y, double w, enum align align, struct type type, struct str text)
{
    return pen_runs(p, x, y, w, align, &(struct run){text, type}, 1);
}

struct extent pen_extent(struct pen *p, double w, struct type type, struct str text)
{
    bool dry = p->dry;
    p->dry = true;
    struct extent e = pen_text(p, 0, 0, w, ALIGN_LEFT, type, text);
    p->dry = dry;
    return e;
}

struct extent pen_line_in(struct pen *p, double x, double y, double w, enum align align, struct type type,
                          struct str text)
{
    struct extent natural = pen_extent(p, 0, type, text);
    if (natural.w > w && natural.w > 0) {
        double full = natural.baseline;
        type.size *= fmax(0.5, 0.995 * w / natural.w);
        y += full - pen_extent(p, 0, type, text).baseline; /* still in line with its neighbours */
    }
    PangoLayout *layout = make_layout(p, w, align, &(struct run){text, type}, 1);
    pango_layout_set_single_paragraph_mode(layout, TRUE);
    pango_layout_set_height(layout, -1);
    pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
    return show(p, layout, x, y, w, align);
}

static void set_ink(struct pen *p, const struct ink *ink)
{
    cairo_set_source_rgb(p->cr, ink->r, ink->g, ink->b);
}

/* Fills and outlines the path, and forgets it. */
static void paint_path(struct pen *p, const struct ink *fill, double thick, const struct ink *line)
{
    if (fill) {
        set_ink(p, fill);
        cairo_fill_preserve(p->cr);
    }
    if (line) {
        set_ink(p, line);
        cairo_set_line_width(p->cr, thick);
        cairo_stroke_preserve(p->cr);
    }
    cairo_new_path(p->cr);
}

void pen_fill(struct pen *p, struct box b, const struct ink *ink)
{
    if (!p->dry) {
        cairo_rectangle(p->cr, b.x, b.y, b.w, b.h);
        paint_path(p, ink, 0, 0);
    }
}

void pen_frame(struct pen *p, struct box b, double thick, const struct ink *ink)
{
    if (!p->dry) {
        cairo_rectangle(p->cr, b.x + thick / 2, b.y + thick / 2, b.w - thick, b.h - thick);
        paint_path(p, 0, thick, ink);
    }
}

void pen_round_frame(struct pen *p, struct box b, double radius, double thick, const struct ink *ink)
{
    if (p->dry) {
        return;
    }
    double x0 = b.x + thick / 2, y0 = b.y + thick / 2, x1 = b.x + b.w - thick / 2, y1 = b.y + b.h - thick / 2;
    cairo_new_sub_path(p->cr);
    cairo_arc(p->cr, x1 - radius, y0 + radius, radius, -G_PI / 2, 0);
    cairo_arc(p->cr, x1 - radius, y1 - radius, radius, 0, G_PI / 2);
    cairo_arc(p->cr, x0 + radius, y1 - radius, radius, G_PI / 2, G_PI);
    cairo_arc(p->cr, x0 + radius, y0 + radius, radius, G_PI, 3 * G_PI / 2);
    cairo_close_path(p->cr);
    paint_path(p, 0, thick, ink);
}

void pen_line(struct pen *p, double x0, double y0, double x1, double y1, double thick, const struct ink *ink)
{
    if (!p->dry) {
        cairo_move_to(p->cr, x0, y0);
        cairo_line_to(p->cr, x1, y1);
        paint_path(p, 0, thick, ink);
    }
}

void pen_dots(struct pen *p, double x0, double y0, double x1, double y1, const struct ink *ink)
{
    if (!p->dry) {
        static const double dots[] = {0.6, 2.4};
        cairo_set_dash(p->cr, dots, 2, 0);
        pen_line(p, x0, y0, x1, y1, 0.6, ink);
        cairo_set_dash(p->cr, 0, 0, 0);
    }
}

void pen_circle(struct pen *p, double x, double y, double r, const struct ink *fill, double thick,
                const struct ink *line)
{
    if (!p->dry) {
        cairo_new_sub_path(p->cr);
        cairo_arc(p->cr, x, y, r, 0, 2 * G_PI);
        cairo_close_path(p->cr);
        paint_path(p, fill, thick, line);
    }
}

void pen_polygon(struct pen *p, const double *xy, size_t n, const struct ink *fill, double thick,
                 const struct ink *line)
{
    if (!p->dry) {
        cairo_new_path(p->cr); /* showing text leaves a point behind */
        for (size_t i = 0; i < n; i++) {
            cairo_line_to(p->cr, xy[2 * i], xy[2 * i + 1]);
        }
        cairo_close_path(p->cr);
        paint_path(p, fill, thick, line);
    }
}
