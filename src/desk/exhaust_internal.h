/* What today, why, the sheet and the plan share about the exhaust filter. */
#ifndef WITMARK_DESK_EXHAUST_INTERNAL_H
#define WITMARK_DESK_EXHAUST_INTERNAL_H

#include "desk_exhaust.h"
#include "due_internal.h"

#include "exhaust/ash.h"
#include "exhaust/filter_book.h"
#include "reserve/points.h"

/* One machine's filter as of today; in the desk's state. */
struct exhaust_now {
    day_t day; /* for which it was made */
    struct soot_filter filter;
    struct soot_rates rates;
    struct soot_belief *belief; /* null when nothing is known */
    struct desk_exhaust x;      /* without its history */
    struct reserve_points soot_points, ash_points;
    struct ash_filter ash;
    struct ash_rate ash_rate;
    bool has_ash;
};

/* Null when its book has no exhaust filter for it. */
const struct exhaust_now *exhaust_of(struct desk *d, struct machine_state *s);
/* "62 % now, parked burn demanded in 14 h of usual work (9 to 22)" */
void text_soot(struct text *t, struct desk *d, const struct exhaust_now *now);
void text_ash(struct text *t, const struct exhaust_now *now);
/* "inhibited since 2026-09-06 07:40, 9 h of work" */
void text_inhibited(struct text *t, const struct desk *d, const struct desk_exhaust *x);
/* "14 h (9 to 22)" of a band; "not within 160 h". */
void text_band(struct text *t, const struct desk_band *band);

/* "exhaust": {...} of a machine, null when it has no filter. */
void desk_exhaust_member_json(struct json *j, struct desk *d, const struct desk_machine *m);

#endif
