/* The head of the sheet, and what comes before the first step. */
#include "marks.h"
#include "parts.h"

#include <math.h>

struct str span_text(struct arena *a, double seconds)
{
    struct text t = text_new(a);
    if (!(seconds > 0)) {
        return S("");
    }
    if (seconds < 60) {
        text_int(&t, (int64_t)ceil(seconds));
        text_addz(&t, " s");
        return text_str(&t);
    }
    int64_t minutes = (int64_t)ceil(seconds / 60);
    if (minutes >= 60) {
        text_int(&t, minutes / 60);
        text_addz(&t, " h");
    }
    if (minutes % 60 || minutes < 60) {
        text_addz(&t, minutes >= 60 ? " " : "");
        text_int(&t, minutes % 60);
        text_addz(&t, " min");
    }
    return text_str(&t);
}

struct str short_hash(struct str hash)
{
    ptrdiff_t colon = str_find(hash, S(":"));
    return str_cut(str_cut(hash, (size_t)(colon + 1), hash.n), 0, 8);
}

struct str dotted(struct arena *a, const struct str *pieces, size_t n)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < n; i++) {
        if (pieces[i].n) {
            text_addz(&t, t.n ? "  ·  " : "");
            text_add(&t, pieces[i]);
        }
    }
    return text_str(&t);
}

struct str with_word(struct arena *a, struct str word, struct str text)
{
    struct text t = text_new(a);
    if (text.n) {
        text_add(&t, word);
        text_addz(&t, " ");
        text_add(&t, text);
    }
    return text_str(&t);
}

struct section {
    struct str title, remark;
};

static double section_draw(struct sheet *s, const void *what, struct box room)
{
    const struct section *section = what;
    struct type title = {.size = 13.5, .bold = true}, remark = {.size = 9, .ink = &INK_SECOND};
    struct extent e = pen_text(s->pen, room.x, room.y, 0, ALIGN_LEFT, title, section->title);
    if (section->remark.n) {
        struct extent r = pen_extent(s->pen, 0, remark, section->remark);
        double left = room.x + e.w + 12;
        pen_line_in(s->pen, left, room.y + e.baseline - r.baseline, room.x + room.w - left, ALIGN_RIGHT, remark,
                    section->remark);
    }
    pen_line(s->pen, room.x, room.y + e.h + 1.5, room.x + room.w, room.y + e.h + 1.5, 1.4, &INK);
    return e.h + 7;
}

void section_add(struct sheet *s, struct flow *f, struct str title, struct str remark)
{
    struct section *section = ARENA_NEW(s->a, struct section);
    *section = (struct section){title, remark};
    flow_add(f, section_draw, section, 13, true);
}

/* A fact of the machine: its name small above its value. Returns the width taken. */
static double fact(struct sheet *s, double x, double y, double most, struct str name, struct str value)
{
    if (!value.n) {
        return 0;
    }
    struct type small = {.size = 7.4, .ink = &INK_SECOND}, large = {.size = 10.5, .bold = true};
    double w = fmin(most, fmax(pen_extent(s->pen, 0, small, name).w, pen_extent(s->pen, 0, large, value).w) + 1);
    pen_line_in(s->pen, x, y, w, ALIGN_LEFT, small, name);
    pen_line_in(s->pen, x, y + 9, w, ALIGN_LEFT, large, value);
    return w + 14;
}

/* Rows of facts between x and the QR code. Returns where they end. */
static double machine_facts(struct sheet *s, double x, double y, double w)
{
    const struct machine *m = &s->doc->machine;
    const struct words *words = &s->doc->words;
    struct text hours = text_new(s->a), book = text_new(s->a), options = text_new(s->a);
    text_add(&hours, m->hours);
    if (m->hours.n && m->hours_on.n) {
        text_join(&hours, " (", str_z(s->a, m->hours_on), ")", (char *)0);
    }
    text_add(&book, m->edition);
    text_addz(&book, m->edition.n && m->hash.n ? " · " : "");
    text_add(&book, short_hash(m->hash));
    for (size_t i = 0; i < m->options.n; i++) {
        text_addz(&options, i ? ", " : "");
        text_add(&options, m->options.at[i]);
    }
    const struct {
        struct str name, value;
    } facts[] = {{words->serial, m->serial},
                 {words->hours, text_str(&hours)},
                 {words->site, m->site},
                 {words->book, text_str(&book)},
                 {words->options, text_str(&options)}};
    double at = x;
    for (size_t i = 0; i < sizeof facts / sizeof *facts; i++) {
        struct type large = {.size = 10.5, .bold = true};
        double natural = fmin(pen_extent(s->pen, 0, large, facts[i].value).w, w);
        if (facts[i].value.n && at > x && at + natural > x + w) {
            at = x;
            y += 25;
        }
        at += fact(s, at, y, x + w - at, facts[i].name, facts[i].value);
    }
    return y + 22;
}

/* "fastest order, proven", or by how much the order may be longer than the fastest. */
static struct str order_text(struct sheet *s)
{
    const struct document *d = s->doc;
    if (d->steps_n == 0) {
        return S("");
    }
    if (d->proven) {
        return d->words.proven;
    }
    if (isnan(d->total_s) || isnan(d->moves_s) || isnan(d->bound_s)) {
        return S("");
    }
    double least = d->total_s - d->moves_s + d->bound_s, more = least > 0 ? d->total_s / least - 1 : 0;
    struct text percent = text_new(s->a), t = text_new(s->a);
    text_int(&percent, (int64_t)ceil(fmax(more, 0) * 100 - 1e-9));
    text_addz(&percent, " %");
    ptrdiff_t at = str_find(d->words.within, S("%"));
    text_add(&t, str_cut(d->words.within, 0, at < 0 ? d->words.within.n : (size_t)at));
    text_add(&t, text_str(&percent));
    text_add(&t, str_cut(d->words.within, at < 0 ? d->words.within.n : (size_t)at + 1, d->words.within.n));
    return text_str(&t);
}

/* The title of the round at the left, its time and order at the right. */
static double title_row(struct sheet *s, struct box room)
{
    const struct document *d = s->doc;
    struct str time = with_word(s->a, d->words.total, span_text(s->a, d->total_s));
    struct str order = DOTTED(s->a, with_word(s->a, d->words.moves, span_text(s->a, d->moves_s)), order_text(s));
    struct type big = {.size = 19, .bold = true}, large = {.size = 13, .bold = true};
    struct type small = {.size = 8.4, .ink = &INK_SECOND};
    double right_w = fmax(pen_extent(s->pen, 0, large, time).w, pen_extent(s->pen, 0, small, order).w);
    right_w = fmin(right_w, room.w * 0.5);
    double right = room.x + room.w - right_w;
    struct extent e = pen_text(s->pen, room.x, room.y, room.w - right_w - 16, ALIGN_LEFT, big, d->title);
    pen_line_in(s->pen, right, room.y + 1, right_w + 0.5, ALIGN_RIGHT, large, time);
    pen_line_in(s->pen, right, room.y + 17, right_w + 0.5, ALIGN_RIGHT, small, order);
    return fmax(e.h, 29);
}

static double head_draw(struct sheet *s, const void *what, struct box room)
{
    (void)what;
    const struct document *d = s->doc;
    double y = room.y;
    struct type top = {.size = 9.4, .bold = true}, second = {.size = 9.4, .ink = &INK_SECOND};
    struct extent e = pen_line_in(s->pen, room.x, y, room.w * 0.62, ALIGN_LEFT, top, d->depot.n ? d->depot : S(" "));
    pen_line_in(s->pen, room.x + room.w * 0.64, y, room.w * 0.36, ALIGN_RIGHT, second,
                with_word(s->a, d->words.made, d->made));
    y += e.h + 3;
    pen_line(s->pen, room.x, y, room.x + room.w, y, 2.4, &INK);
    y += 10;
    const double plate_w = 132, plate_h = 74, qr = d->qr.n ? 86 : 0;
    mark_plate(s->pen, (struct box){room.x, y, plate_w, plate_h},
               d->machine.label.n ? d->machine.label : d->machine.serial);
    if (d->qr.n) {
        /* the quiet zone may stand in the margin, so that the code lines up with the text */
        double module = qr / 33;
        mark_qr(s->pen, room.x + room.w - qr + 4 * module, y - 4 * module, qr, d->qr);
    }
    double x = room.x + plate_w + 16, w = room.w - plate_w - 16 - qr;
    struct type name = {.size = 17, .bold = true}, maker = {.size = 10, .ink = &INK_SECOND};
    pen_line_in(s->pen, x, y - 4, w, ALIGN_LEFT, name, d->machine.title.n ? d->machine.title : d->machine.serial);
    pen_line_in(s->pen, x, y + 16, w, ALIGN_LEFT, maker, d->machine.maker);
    y = fmax(y + plate_h, machine_facts(s, x, y + 33, w)) + 14;
    y += title_row(s, (struct box){room.x, y, room.w, 0});
    struct type words = {.size = 9.6, .bold = true};
    double h = pen_extent(s->pen, room.w - 20, words, d->first_words).h + 9;
    y += 3;
    pen_fill(s->pen, (struct box){room.x, y, room.w, h}, &INK_FAINT);
    pen_fill(s->pen, (struct box){room.x, y, 4, h}, &INK);
    pen_text(s->pen, room.x + 12, y + 4.5, room.w - 20, ALIGN_LEFT, words, d->first_words);
    y += h;
    return y - room.y;
}

void head_add(struct sheet *s, struct flow *f)
{
    (void)s;
    flow_add(f, head_draw, 0, 0, false);
}

static double caution_draw(struct sheet *s, const void *what, struct box room)
{
    return mark_caution(s->pen, room.x, room.y, room.w, &s->doc->words, what);
}

/* The lockout order: numbered, two columns, a box to tick each, in one frame. */
static double lockout_draw(struct sheet *s, const void *what, struct box room)
{
    (void)what;
    const struct texts *steps = &s->doc->lockout;
    const double name_w = 84, pad = 5, tick = 9.5;
    struct type type = {.size = 8.8}, bold = {.size = 8.8, .bold = true};
    double w = (room.w - name_w - 3 * pad) / 2, top = room.y + pad, deepest = top, y = top;
    pen_frame(s->pen, (struct box){room.x, room.y, room.w, room.h}, 1.2, &INK);
    pen_text(s->pen, room.x + 7, top, name_w - 9, ALIGN_LEFT, (struct type){.size = 10, .bold = true},
             s->doc->words.lockout);
    size_t half = (steps->n + 1) / 2;
    for (size_t i = 0; i < steps->n; i++) {
        if (i == half) {
            y = top;
        }
        double x = room.x + name_w + pad + (i < half ? 0 : w + pad);
        struct text number = text_new(s->a);
        text_int(&number, (int64_t)i + 1);
        mark_tick(s->pen, x, y + 1, tick);
        pen_text(s->pen, x + tick + 4, y, 0, ALIGN_LEFT, bold, text_str(&number));
        struct extent e = pen_text(s->pen, x + tick + 15, y, w - tick - 15, ALIGN_LEFT, type, steps->at[i]);
        y += fmax(e.h, tick + 2) + 2.5;
        deepest = fmax(deepest, y);
    }
    return deepest + pad - 2.5 - room.y;
}

static double open_draw(struct sheet *s, const void *what, struct box room)
{
    const struct open_now *open = what;
    struct type bold = {.size = 10, .bold = true}, second = {.size = 9, .ink = &INK_SECOND};
    struct run runs[] = {{open->label, bold},
                         {S("   "), second},
                         {DOTTED(s->a, with_word(s->a, s->doc->words.since, open->since), open->by), second}};
    mark_stripe(s->pen, room.x + 2, room.y, 13, false);
    struct extent e = pen_runs(s->pen, room.x + 20, room.y, room.w - 20, ALIGN_LEFT, runs, 3);
    return fmax(e.h, 14) + 4;
}

void before_add(struct sheet *s, struct flow *f)
{
    const struct document *d = s->doc;
    bool lockout = d->lockout.n && d->steps_n;
    if (d->before.n || lockout) {
        section_add(s, f, d->words.before, S(""));
    }
    for (size_t i = 0; i < d->before.n; i++) {
        flow_add(f, caution_draw, &d->before.at[i], i ? 3 : 0, false);
    }
    if (lockout) {
        flow_add(f, lockout_draw, 0, d->before.n ? 5 : 0, false);
    }
    if (d->open_n) {
        section_add(s, f, d->words.open_now, S(""));
    }
    for (size_t i = 0; i < d->open_n; i++) {
        flow_add(f, open_draw, &d->open[i], 0, false);
    }
}
