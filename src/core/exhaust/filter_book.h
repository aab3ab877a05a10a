/* The exhaust filter of a book as the models want it. */
#ifndef WITMARK_EXHAUST_FILTER_BOOK_H
#define WITMARK_EXHAUST_FILTER_BOOK_H

#include "book/book.h"
#include "exhaust/ash.h"
#include "exhaust/burn_place.h"
#include "exhaust/soot.h"

/* False when the book has no exhaust filter for this machine, or no duty. */
bool soot_filter_of_book(const struct book *b, struct soot_filter *f);
/* False when the book says nothing of oil and ash. */
bool ash_filter_of_book(const struct book *b, struct ash_filter *f);
/* Places that the book adds. */
burn_places burn_places_of_book(const struct book *b);
/* Index of a duty by name or label; BOOK_NONE when there is none. */
int book_find_duty(const struct book *b, struct str name);

#endif
