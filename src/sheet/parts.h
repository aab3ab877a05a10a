/* The parts a round's sheet is put together from, each adding its blocks to the flow, in this order. */
#ifndef WITMARK_SHEET_PARTS_H
#define WITMARK_SHEET_PARTS_H

#include "flow.h"

/* Who and what: depot, machine plate and data, QR code, title, time, the first words. */
void head_add(struct sheet *s, struct flow *f);
/* General cautions, the lockout order, what is open now. */
void before_add(struct sheet *s, struct flow *f);
/* What to take along, bring back and wear. */
void kit_add(struct sheet *s, struct flow *f);
/* The steps with their rail, cautions first, figures beside them. */
void steps_add(struct sheet *s, struct flow *f);
/* Figures: overviews before the steps, a detail after the first step that refers to it. */
void figures_add_before(struct sheet *s, struct flow *f);
void figures_add_after(struct sheet *s, struct flow *f, const struct step *step, bool rail_goes_on);
bool figures_after(const struct sheet *s, const struct step *step); /* whether one stands after the step */
/* The mark's number, 0 when the document does not hold the figure. */
int figure_mark(const struct sheet *s, struct figure_ref ref);
/* The title of a detail, and the step where it is drawn when that is another one; empty for an overview. */
struct str figure_hint(struct sheet *s, const struct step *step, struct figure_ref ref);
#define RAIL 15.0    /* middle of the rail, from the left edge */
#define CONTENT 38.0 /* where the text of a step begins */
#define GAP 10.0     /* below a step; the rail runs through it */
/* A table of a step from (x, y) at width w; returns its height. */
double table_draw(struct sheet *s, const struct sheet_table *table, double x, double y, double w);
/* The put-back list, the order of finishing, room for notes, signatures. */
void closing_add(struct sheet *s, struct flow *f);

/* A heading over a rule, of a text. */
void section_add(struct sheet *s, struct flow *f, struct str title, struct str remark);

/* "35 s", "12 min", "1 h 12 min"; minutes are rounded up. Empty for 0 and for what is not known. */
struct str span_text(struct arena *a, double seconds);
/* The first eight digits of a hash, without the name of its kind. */
struct str short_hash(struct str hash);
/* The pieces that are not empty, with " · " between them. */
struct str dotted(struct arena *a, const struct str *pieces, size_t n);
#define DOTTED(a, ...) \
    dotted((a), (const struct str[]){__VA_ARGS__}, sizeof((const struct str[]){__VA_ARGS__}) / sizeof(struct str))
/* Two texts with a blank between, empty when the second is. */
struct str with_word(struct arena *a, struct str word, struct str text);

/* Pages of plots: a head and the pictures. */
void plots_add(struct sheet *s, struct flow *f);

/* Pages of QR labels instead of a sheet. Draws page `page` of those of the document (from 1). */
int labels_pages(const struct document *d, const struct page_room *room);
void labels_draw(struct sheet *s, const struct page_room *room, int page);

#endif
