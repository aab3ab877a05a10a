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
/* The put-back list, the order of finishing, room for notes, signatures. */
void closing_add(struct sheet *s, struct flow *f);

/* A heading over a rule, of a text. */
void section_add(struct sheet *s, struct flow *f, struct str title, struct str remark);

/* "35 s", "12 min", "1 h 12 min"; minutes are rounded up. */
struct str span_text(struct arena *a, double seconds);
/* The first eight digits of a hash, without the name of its kind. */
struct str short_hash(struct str hash);
/* The pieces that are not empty, with " · " between them. */
struct str dotted(struct arena *a, const struct str *pieces, size_t n);
#define DOTTED(a, ...) \
    dotted((a), (const struct str[]){__VA_ARGS__}, sizeof((const struct str[]){__VA_ARGS__}) / sizeof(struct str))
/* Two texts with a blank between, empty when the second is. */
struct str with_word(struct arena *a, struct str word, struct str text);

/* Pages of QR labels instead of a sheet. Draws page `page` of those of the document (from 1). */
int labels_pages(const struct document *d, const struct page_room *room);
void labels_draw(struct sheet *s, const struct page_room *room, int page);

#endif
