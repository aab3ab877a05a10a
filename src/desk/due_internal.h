/* What today, why and the round share about what is due. */
#ifndef WITMARK_DUE_INTERNAL_H
#define WITMARK_DUE_INTERNAL_H

#include "desk_internal.h"

#include "reserve/measured.h"

bool interval_given(struct interval i);
struct counted due_counted(const struct machine_state *s, int checkpoint);
/* The reserve of a checkpoint today; *counted says from what. */
struct reserve due_reserve(const struct desk *d, const struct machine_state *s, int checkpoint,
                           struct counted *counted);
/* The verdict on the last reading of a measured checkpoint; false when there is none. */
bool due_judge(struct arena *a, const struct machine_state *s, int checkpoint, struct verdict *verdict);
/* The trend of a measured checkpoint since its last reset; false when there is none. Texts of the judging go to `a`. */
bool due_trend(const struct desk *d, struct arena *a, const struct machine_state *s, int checkpoint,
               struct reserve_trend *trend);
/* An instant as forecasts count: civil days with their fraction; and what it adds to UTC, ms. */
double due_model_day(const struct desk *d, instant_ms at);
instant_ms due_offset_ms(const struct desk *d);
/* The task that torques these without taking them off; BOOK_NONE when the book has none. */
int due_torque_task(const struct book *b, int torque);
/* desk_today without refreshing; filter->machine is a serial number. */
bool due_list(struct desk *d, const struct desk_today_filter *filter, struct arena *a, struct desk_today_list *out);
const char *desk_due_kind_text(enum due_kind kind);

#endif
