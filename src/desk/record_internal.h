/* Names as people write them, held against a machine's book: the index, or BOOK_NONE with an error that names the
 * nearest (ERR_MISSING). */
#ifndef WITMARK_DESK_RECORD_INTERNAL_H
#define WITMARK_DESK_RECORD_INTERNAL_H

#include "book/book.h"

int named_checkpoint(const struct book *b, struct str name, struct err *e);
int named_task(const struct book *b, struct str name, struct err *e);
int named_part(const struct book *b, struct str name, struct err *e);
int named_fluid(const struct book *b, struct str name, struct err *e);
int named_adjuster(const struct book *b, struct str name, struct err *e);
int named_open_item(const struct book *b, struct str name, struct err *e);
int named_symptom(const struct book *b, struct str name, struct err *e);
int named_cause(const struct book *b, struct str name, struct err *e);

#endif
