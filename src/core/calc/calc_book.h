/* Inputs of a calculation that stand in a book: "torque of wheel-nut/front", "capacity of coolant", "viscosity of
 * hydraulic-oil at 40 degC", "span of fan-belt" (a figure given for its correction), "want of fan-belt",
 * "low of front-tyre-left", "high of front-tyre-left" (its limits), "tow distance", "tow speed", "tow slope", "tow
 * time". */
#ifndef WITMARK_CALC_BOOK_H
#define WITMARK_CALC_BOOK_H

#include "book/book.h"
#include "calc/calc.h"

/* Whether the words name something of a book rather than a value. */
bool calc_is_book_words(struct str words);
/* The quantity that they name in book b. Errors: ERR_MISSING: no such thing, or the book gives no value for it. */
bool calc_book_quantity(const struct book *b, struct str words, struct quantity *q, struct err *e);
/* calc_give, where the value may also be words of book b. Errors: of both; another kind is refused. */
bool calc_give_of_book(struct calc_call *call, const struct book *b, struct str name, struct str written,
                       struct err *e);

#endif
