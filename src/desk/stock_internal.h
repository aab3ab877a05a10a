/* What today and why share about the shelf. */
#ifndef WITMARK_DESK_STOCK_INTERNAL_H
#define WITMARK_DESK_STOCK_INTERNAL_H

#include "desk_stock.h"
#include "why_internal.h"

/* How the shelf is called where a machine is named. */
#define SHELF_NAME "Shelf"

/* desk_shelf without refreshing. */
void stock_shelf(struct desk *d, struct arena *a, struct desk_shelf *out);
/* Whether a name, when it is one of the books' parts, means one of them only. Errors: ERR_CONFLICT lists the numbers.
 */
bool stock_one_part(struct desk *d, struct str name, struct err *e);
/* The shelf as a machine, for lists that name one. */
const struct desk_machine *stock_machine(struct desk *d);
/* The answer for a part by its number; ERR_MISSING names the nearest. */
bool stock_why(struct desk *d, struct str key, struct arena *a, struct desk_why *out, struct err *e);

#endif
