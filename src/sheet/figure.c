/* Figures by way of librsvg and gdk-pixbuf. */
#include "figure.h"

#include <string.h>

#ifdef HAVE_RSVG

#include <gdk-pixbuf/gdk-pixbuf.h>
#include <librsvg/rsvg.h>

#define MOST_PIXELS 6000 /* a side of a photo; larger ones would only fill memory */

bool drawing_possible(void)
{
    return true;
}

/* Width and height of a drawing, from its viewBox or its size. */
static double ratio_of(RsvgHandle *svg)
{
    gboolean has_width = FALSE, has_height = FALSE, has_box = FALSE;
    RsvgLength width, height;
    RsvgRectangle box;
    rsvg_handle_get_intrinsic_dimensions(svg, &has_width, &width, &has_height, &height, &has_box, &box);
    if (has_box && box.width > 0 && box.height > 0) {
        return box.height / box.width;
    }
    double w = 0, h = 0;
    return rsvg_handle_get_intrinsic_size_in_pixels(svg, &w, &h) && w > 0 && h > 0 ? h / w : 0.75;
}

static void note_error(struct arena *a, struct drawing *d, GError *error, const char *otherwise)
{
    d->why = str_copy(a, str_of(error ? error->message : otherwise));
    g_clear_error(&error);
}

static void read_svg(struct arena *a, struct drawing *d, const guint8 *bytes, gsize n)
{
    GError *error = 0;
    RsvgHandle *svg = rsvg_handle_new_from_data(bytes, n, &error);
    if (!svg) {
        note_error(a, d, error, "it is no drawing");
        return;
    }
    d->svg = svg;
    d->ratio = ratio_of(svg);
}

/* A photo too large is scaled down while it is read. */
static void limit_size(GdkPixbufLoader *loader, gint w, gint h, gpointer nothing)
{
    (void)nothing;
    gint longer = w > h ? w : h;
    if (longer > MOST_PIXELS) {
        gdk_pixbuf_loader_set_size(loader, MAX(1, w * (MOST_PIXELS / 4) / (longer / 4)),
                                   MAX(1, h * (MOST_PIXELS / 4) / (longer / 4)));
    }
}

/* The photo as a cairo surface on white. */
static cairo_surface_t *surface_of(const GdkPixbuf *photo)
{
    int w = gdk_pixbuf_get_width(photo), h = gdk_pixbuf_get_height(photo);
    int channels = gdk_pixbuf_get_n_channels(photo), stride = gdk_pixbuf_get_rowstride(photo);
    const guint8 *from = gdk_pixbuf_read_pixels(photo);
    cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_RGB24, w, h);
    if (cairo_surface_status(image) != CAIRO_STATUS_SUCCESS) {
        return image;
    }
    unsigned char *to = cairo_image_surface_get_data(image);
    int to_stride = cairo_image_surface_get_stride(image);
    for (int y = 0; y < h; y++) {
        for (int x = 0; x < w; x++) {
            const guint8 *c = from + (ptrdiff_t)y * stride + (ptrdiff_t)x * channels;
            unsigned alpha = channels == 4 ? c[3] : 255, back = 255 * (255 - alpha);
            uint32_t pixel =
                (c[0] * alpha + back) / 255 << 16 | (c[1] * alpha + back) / 255 << 8 | (c[2] * alpha + back) / 255;
            memcpy(to + (ptrdiff_t)y * to_stride + (ptrdiff_t)x * 4, &pixel, 4);
        }
    }
    cairo_surface_mark_dirty(image);
    return image;
}

static void read_photo(struct arena *a, struct drawing *d, guint8 *bytes, gsize n)
{
    GError *error = 0;
    GdkPixbufLoader *loader = gdk_pixbuf_loader_new();
    g_signal_connect(loader, "size-prepared", G_CALLBACK(limit_size), 0);
    bool good = gdk_pixbuf_loader_write(loader, bytes, n, &error);
    good = gdk_pixbuf_loader_close(loader, good ? &error : 0) && good;
    const GdkPixbuf *photo = good ? gdk_pixbuf_loader_get_pixbuf(loader) : 0;
    if (!photo) {
        note_error(a, d, error, "it is no photo");
        g_object_unref(loader);
        return;
    }
    d->image = surface_of(photo);
    d->ratio = (double)gdk_pixbuf_get_height(photo) / gdk_pixbuf_get_width(photo);
    if (str_eq(d->figure->media_type, S("image/jpeg"))) { /* as it is into the PDF, instead of unpacked */
        cairo_surface_set_mime_data(d->image, CAIRO_MIME_TYPE_JPEG, bytes, n, g_free, bytes);
        g_object_unref(loader);
        return;
    }
    g_object_unref(loader);
}

struct drawing drawing_new(struct arena *a, const struct figure *figure)
{
    struct drawing d = {.figure = figure};
    bool svg = str_eq(figure->media_type, S("image/svg+xml"));
    struct str data = str_trim(figure->data);
    if (svg && data.n && data.p[0] == '<') {
        read_svg(a, &d, (const guint8 *)data.p, data.n);
        return d;
    }
    if (!svg && !str_eq(figure->media_type, S("image/png")) && !str_eq(figure->media_type, S("image/jpeg"))) {
        d.why = S("only image/svg+xml, image/png and image/jpeg can be drawn");
        return d;
    }
    gsize n = 0;
    guint8 *bytes = g_base64_decode(str_z(a, data), &n);
    if (svg) {
        read_svg(a, &d, bytes, n);
    } else {
        read_photo(a, &d, bytes, n);
    }
    if (!d.image || !str_eq(figure->media_type, S("image/jpeg"))) { /* else the surface owns them */
        g_free(bytes);
    }
    return d;
}

void drawing_free(struct drawing *d)
{
    g_clear_object(&d->svg);
    if (d->image) {
        cairo_surface_destroy(d->image);
    }
}

void drawing_draw(struct pen *p, const struct drawing *d, struct box b)
{
    if (p->dry || d->ratio <= 0) {
        return;
    }
    cairo_save(p->cr);
    if (d->svg) {
        RsvgRectangle view = {b.x, b.y, b.w, b.h};
        rsvg_handle_render_document(d->svg, p->cr, &view, 0);
    } else {
        cairo_translate(p->cr, b.x, b.y);
        cairo_scale(p->cr, b.w / cairo_image_surface_get_width(d->image),
                    b.h / cairo_image_surface_get_height(d->image));
        cairo_set_source_surface(p->cr, d->image, 0, 0);
        cairo_paint(p->cr);
    }
    cairo_restore(p->cr);
}

#else

bool drawing_possible(void)
{
    return false;
}

struct drawing drawing_new(struct arena *a, const struct figure *figure)
{
    (void)a;
    return (struct drawing){.figure = figure, .why = S("this program was built without drawings")};
}

void drawing_free(struct drawing *d)
{
    (void)d;
}

void drawing_draw(struct pen *p, const struct drawing *d, struct box b)
{
    (void)p, (void)d, (void)b;
}

#endif
