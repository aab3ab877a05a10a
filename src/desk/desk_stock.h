/* The depot's shelf: what lies there, what coming work will need by when, what to order by which day.
 *
 * What is there is counted from `stock` entries (a count or a delivery is positive, what is taken negative) and from
 * the parts that tasks done used since the first of them. Parts are told apart by the number that is valid today:
 * numbers that were superseded count for the one that replaced them.
 */
#ifndef WITMARK_DESK_STOCK_H
#define WITMARK_DESK_STOCK_H

#include "desk.h"

/* From order to shelf when no book says it. Our own choice, shown wherever it is used. */
#define STOCK_LEAD_DAYS 14
/* How long an order is to last beyond the time it takes to come, and how surely. Our own choice. */
#define STOCK_COVER_DAYS 90
#define STOCK_SURE 0.9

struct desk_need {
    const struct desk_machine *machine;
    struct str task, label; /* of the task */
    double pieces;
    struct reserve due;
};

struct desk_part {
    struct str number, label; /* as in the books; of a part that no book has: as it was written down */
    bool in_a_book;
    bool counted;      /* a stock entry is there */
    double have, keep; /* pieces */
    int pack;
    int lead_days;
    bool lead_given;               /* by a book */
    const struct desk_need *needs; /* the nearest first */
    size_t n_needs;
    int unforeseen; /* needed outside the regular work so far */
    double needed;  /* expected, within lead time and cover */
    struct reserve runs_out;
    double order;   /* pieces; 0 = nothing to order yet */
    day_t order_by; /* DAY_NONE = not within two years, or not counted */
    bool has_entry;
    struct entry_id entry; /* the last count or delivery */
    struct str says;
};

struct desk_shelf {
    day_t day;
    const struct desk_part *parts; /* what is to be ordered first; then what is not counted, by number */
    size_t n;
};

bool desk_shelf(struct desk *d, struct arena *a, struct desk_shelf *out, struct err *e);
void desk_shelf_json(struct json *j, struct desk *d, const struct desk_shelf *shelf);

#endif
