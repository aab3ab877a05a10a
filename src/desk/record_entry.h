/* Writing one checked body as an entry of this depot's writer. */
#ifndef WITMARK_DESK_RECORD_ENTRY_H
#define WITMARK_DESK_RECORD_ENTRY_H

#include "desk.h"

/* The stamp's note and import key go into the body, which is given back whatever happens. Errors: ERR_INPUT a time to
 * come, a body that is not one of its kind; those of depot_append. */
bool desk_record_entry(struct desk *d, const struct desk_stamp *s, const struct desk_machine *m, enum entry_kind kind,
                       json_t *body, struct arena *a, struct desk_recorded *out, struct err *e);
void body_put_str(json_t *body, const char *key, struct str value); /* nothing when it is empty */
void body_put_num(json_t *body, const char *key, double value);     /* whole numbers stay whole */
/* {value, unit} */
void body_put_quantity(json_t *body, const char *key, struct quantity q);

#endif
