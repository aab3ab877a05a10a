/* From the document's text to the file's bytes: read, lay out, draw each page on the surface of the wanted format. */
#include "sheet.h"

#include "document.h"
#include "figure.h"
#include "flow.h"
#include "marks.h"
#include "parts.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>

#include <math.h>

/* Bytes that cairo writes, kept in memory until all are there. */
static cairo_status_t keep(void *closure, const unsigned char *bytes, unsigned n)
{
    text_add(closure, (struct str){(const char *)bytes, n});
    return CAIRO_STATUS_SUCCESS;
}

/* Paper: A4 is 210 x 297 mm, A5 148 x 210 mm (ISO 216), Letter 8.5 x 11 inch (ANSI/ASME Y14.1). */
static struct page_room room_of(const struct document *d, enum sheet_paper paper)
{
    struct page_room room = {.left = 44, .right = 36, .first_top = 30, .top = 58, .bottom = 44};
    bool letter = paper == SHEET_LETTER || (paper == SHEET_PAPER_OF_DOCUMENT && d->paper == PAPER_LETTER);
    bool half = paper == SHEET_A5 || (paper == SHEET_PAPER_OF_DOCUMENT && d->paper == PAPER_A5);
    room.width = letter ? 612 : (half ? 148 : 210) * 72 / 25.4;
    room.height = letter ? 792 : (half ? 210 : 297) * 72 / 25.4;
    if (d->type == DOCUMENT_LABELS && d->paper == PAPER_LABEL) {
        room.width = d->label_width_mm * 72 / 25.4;
        room.height = d->label_height_mm * 72 / 25.4;
    }
    return room;
}

/* The digits of `made` as ISO 8601, "2026-09-06 07:40" -> "2026-09-06T07:40:00Z"; a fixed day where it is no such time,
 * so that the clock never gets into the file. */
static const char *create_date(struct arena *a, struct str made)
{
    static const char form[] = "0000-00-00 00:00";
    struct text t = text_new(a);
    for (size_t i = 0; i < sizeof form - 1; i++) {
        char c = i < made.n ? made.p[i] : '\0';
        bool fits = form[i] == '0' ? c >= '0' && c <= '9' : c == form[i] || (form[i] == ' ' && c == 'T');
        if (!fits) {
            return "2000-01-01T00:00:00Z";
        }
        text_char(&t, form[i] == ' ' ? 'T' : c);
    }
    text_addz(&t, ":00Z");
    return text_z(&t);
}

static void set_metadata(struct arena *a, cairo_surface_t *surface, const struct document *d)
{
    struct str title = d->type != DOCUMENT_LABELS ? DOTTED(a, d->machine.label, d->machine.serial, d->title) : d->title;
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, str_z(a, title));
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_AUTHOR, str_z(a, d->depot));
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "witmark-sheet");
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, create_date(a, d->made));
}

/* The small head of the pages after the first. */
static void running_head(struct sheet *s, const struct page_room *room)
{
    const struct machine *m = &s->doc->machine;
    double x = room->left, right = room->width - room->right, y = 24;
    mark_plate(s->pen, (struct box){x, y, 54, 22}, m->label.n ? m->label : m->serial);
    double middle = (right + x + 66) / 2;
    pen_line_in(s->pen, x + 64, y + 4, middle - x - 64, ALIGN_LEFT, (struct type){.size = 10.5, .bold = true},
                s->doc->title);
    pen_line_in(s->pen, middle + 8, y + 5, right - middle - 8, ALIGN_RIGHT,
                (struct type){.size = 9, .ink = &INK_SECOND}, DOTTED(s->a, m->title, m->serial));
    pen_line(s->pen, x, y + 26.5, right, y + 26.5, 1, &INK);
}

/* "page 2 of 3 · B-03 · BR6-02204" and, at the right, the edition of the book. */
static void foot(struct sheet *s, const struct page_room *room, int page, int pages)
{
    const struct document *d = s->doc;
    struct text t = text_new(s->a);
    text_join(&t, str_z(s->a, d->words.page), " ", (char *)0);
    text_int(&t, page);
    text_join(&t, " ", str_z(s->a, d->words.of), " ", (char *)0);
    text_int(&t, pages);
    const struct str pieces[] = {d->machine.label, d->machine.serial};
    for (size_t i = 0; i < 2; i++) {
        if (pieces[i].n) {
            text_addz(&t, " · ");
            text_add(&t, pieces[i]);
        }
    }
    struct str book = d->machine.edition.n || d->machine.hash.n ? d->words.book : S("");
    struct str edition = with_word(s->a, book, d->machine.edition.n ? d->machine.edition : S(" "));
    double x = room->left, right = room->width - room->right, y = room->height - 34, half = (right - x) / 2;
    pen_line(s->pen, x, y, right, y, 0.6, &INK_RULE);
    pen_line_in(s->pen, x, y + 4, half, ALIGN_LEFT, (struct type){.size = 8.6, .bold = true}, text_str(&t));
    pen_line_in(s->pen, x + half, y + 4, half, ALIGN_RIGHT, (struct type){.size = 8.6, .ink = &INK_SECOND},
                DOTTED(s->a, book.n ? edition : S(""), short_hash(d->machine.hash), d->made));
}

static void page_draw(struct sheet *s, const struct flow *f, const struct page_room *room, int page, int pages)
{
    if (s->doc->type == DOCUMENT_LABELS) {
        labels_draw(s, room, page);
        return;
    }
    if (page > 1) {
        running_head(s, room);
    }
    flow_draw(s, f, room, page);
    foot(s, room, page, pages);
}

/* All blocks of a round. */
static void round_add(struct sheet *s, struct flow *f)
{
    head_add(s, f);
    before_add(s, f);
    kit_add(s, f);
    steps_add(s, f);
    closing_add(s, f);
}

/* Draws the pages wanted on one surface. A PDF has them all; SVG and PNG have the one of the options. */
static void pages_draw(struct sheet *s, const struct flow *f, const struct page_room *room, int pages,
                       struct sheet_options options)
{
    int from = options.format == SHEET_PDF ? 1 : options.page, to = options.format == SHEET_PDF ? pages : options.page;
    for (int page = from; page <= to; page++) {
        if (options.format == SHEET_PNG) {
            cairo_set_source_rgb(s->pen->cr, 1, 1, 1);
            cairo_paint(s->pen->cr);
        }
        page_draw(s, f, room, page, pages);
        if (options.format == SHEET_PDF) {
            cairo_show_page(s->pen->cr);
        }
    }
}

static cairo_surface_t *surface_new(struct text *bytes, const struct page_room *room, struct sheet_options options)
{
    if (options.format == SHEET_PDF) {
        return cairo_pdf_surface_create_for_stream(keep, bytes, room->width, room->height);
    }
    if (options.format == SHEET_SVG) {
        cairo_surface_t *svg = cairo_svg_surface_create_for_stream(keep, bytes, room->width, room->height);
        cairo_svg_surface_set_document_unit(svg, CAIRO_SVG_UNIT_PT);
        return svg;
    }
    double scale = options.dots_per_inch / 72;
    return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)lround(room->width * scale),
                                      (int)lround(room->height * scale));
}

/* One warning that names the characters no font has. */
static void warn_missing(const struct missing *missing, struct diags *warnings)
{
    if (!missing->n) {
        return;
    }
    static const char digits[] = "0123456789ABCDEF";
    struct text t = text_new(warnings->a);
    text_addz(&t, "no font here has ");
    for (size_t i = 0; i < missing->n; i++) {
        text_addz(&t, i ? ", " : "");
        text_utf8(&t, missing->at[i]);
        text_addz(&t, " (U+");
        for (int shift = missing->at[i] > 0xffff ? 20 : 12; shift >= 0; shift -= 4) {
            text_char(&t, digits[missing->at[i] >> shift & 15]);
        }
        text_addz(&t, ")");
    }
    text_addz(&t, missing->more ? " and more" : "");
    diags_add(warnings,
              (struct diag){
                  .level = DIAG_DOUBT,
                  .rule = "no-glyph",
                  .what = text_str(&t),
                  .right = S("install a font that has them, for instance fonts-wqy-microhei or fonts-freefont-ttf")});
}

static void warn_drawings(const struct sheet *s)
{
    for (size_t i = 0; i < s->doc->figures_n; i++) {
        if (s->drawings[i].ratio <= 0) {
            struct text t = text_new(s->warnings->a);
            text_join(&t, "figure ", str_z(s->a, s->doc->figures[i].name), " is left out: ", (char *)0);
            text_add(&t, s->drawings[i].why);
            diags_add(s->warnings, (struct diag){.level = DIAG_DOUBT, .rule = "figure", .what = text_str(&t)});
        }
    }
}

/* A step that refers to a figure the document does not hold is printed without its mark. */
static void warn_reference(const struct sheet *s, struct figure_ref ref)
{
    for (size_t i = 0; i < s->doc->figures_n; i++) {
        if (str_eq(s->doc->figures[i].name, ref.name)) {
            return;
        }
    }
    if (ref.name.n) {
        struct text t = text_new(s->warnings->a);
        text_join(&t, "figure ", str_z(s->a, ref.name), " is referred to and not in the document", (char *)0);
        diags_add(s->warnings, (struct diag){.level = DIAG_DOUBT, .rule = "figure", .what = text_str(&t)});
    }
}

static void warn_references(const struct sheet *s)
{
    for (size_t i = 0; i < s->doc->steps_n; i++) {
        warn_reference(s, s->doc->steps[i].figure);
        for (size_t k = 0; k < s->doc->steps[i].acts_n; k++) {
            warn_reference(s, s->doc->steps[i].acts[k].figure);
        }
    }
}

/* Lays out and draws with the surface and drawings at hand. */
static bool print_on(struct sheet *s, cairo_surface_t *surface, const struct page_room *room,
                     struct sheet_options options, int *pages, struct err *e)
{
    struct flow flow = {.a = s->a};
    bool good = true;
    if (s->doc->type != DOCUMENT_LABELS) {
        (s->doc->type == DOCUMENT_PLOTS ? plots_add : round_add)(s, &flow);
        *pages = flow_break(s, &flow, room);
    } else {
        *pages = labels_pages(s->doc, room);
    }
    if (options.format != SHEET_PDF && (options.page < 1 || options.page > *pages)) {
        struct text t = text_new(s->a);
        text_addz(&t, "a page from 1 to ");
        text_int(&t, *pages);
        good = err_set(e, ERR_USAGE, text_z(&t), "there is no such page", (char *)0);
    } else {
        pages_draw(s, &flow, room, *pages, options);
        if (cairo_status(s->pen->cr) != CAIRO_STATUS_SUCCESS) {
            good = err_set(e, ERR_SYSTEM, 0, "drawing failed: ", cairo_status_to_string(cairo_status(s->pen->cr)),
                           (char *)0);
        }
    }
    (void)surface;
    return good;
}

/* The file's bytes from a document that was read. */
static bool print_document(struct arena *a, const struct document *d, struct sheet_options options,
                           struct diags *warnings, struct sheet_result *result, struct err *e)
{
    struct page_room room = room_of(d, options.paper);
    struct text bytes = text_new(a);
    struct missing missing = {0};
    cairo_surface_t *surface = surface_new(&bytes, &room, options);
    if (options.format == SHEET_PDF) {
        set_metadata(a, surface, d);
    }
    cairo_t *cr = cairo_create(surface);
    if (options.format == SHEET_PNG) {
        cairo_scale(cr, options.dots_per_inch / 72, options.dots_per_inch / 72);
    }
    /* Texts of the layout live in an arena of their own: `bytes` grows in the other. */
    struct arena scratch = arena_new(a->source);
    struct pen pen = pen_new(&scratch, cr, &missing);
    struct sheet s = {.a = &scratch, .doc = d, .pen = &pen, .warnings = warnings};
    s.drawings = ARENA_ARRAY(&scratch, struct drawing, d->figures_n + 1);
    for (size_t i = 0; i < d->figures_n; i++) {
        s.drawings[i] = drawing_new(&scratch, &d->figures[i]);
    }
    warn_drawings(&s);
    warn_references(&s);
    bool good = print_on(&s, surface, &room, options, &result->pages, e);
    pen_free(&pen);
    cairo_destroy(cr);
    if (good && options.format == SHEET_PNG && cairo_surface_write_to_png_stream(surface, keep, &bytes)) {
        good = err_set(e, ERR_SYSTEM, 0, "the picture could not be made", (char *)0);
    }
    cairo_surface_finish(surface);
    cairo_status_t status = cairo_surface_status(surface);
    if (good && status != CAIRO_STATUS_SUCCESS) {
        good = err_set(e, ERR_SYSTEM, 0, "drawing failed: ", cairo_status_to_string(status), (char *)0);
    }
    cairo_surface_destroy(surface);
    for (size_t i = 0; i < d->figures_n; i++) {
        drawing_free(&s.drawings[i]);
    }
    arena_free(&scratch);
    warn_missing(&missing, warnings);
    result->bytes = text_str(&bytes);
    return good;
}

bool sheet_print(struct arena *a, struct str json, struct str name, struct sheet_options options,
                 struct diags *warnings, struct sheet_result *result, struct err *e)
{
    struct document d;
    *result = (struct sheet_result){0};
    if (!document_read(a, json, name, &d, e)) {
        return false;
    }
    return print_document(a, &d, options, warnings, result, e);
}
