/* A round to be walked with a phone in hand: everything it needs when there is no network, with the names that entries
 * are made of, and the rules of the ordering problem, so that the rest can be ordered again when something cannot be
 * done (src/core/round/round_rest.h). */
#ifndef WITMARK_DESK_ROUND_WORK_H
#define WITMARK_DESK_ROUND_WORK_H

#include "desk.h"

/* Writes the document of docs/api.md ("The round in hand"). Errors: as desk_round. */
bool desk_round_work(struct desk *d, const struct desk_round_ask *ask, struct text *out, struct err *e);

#endif
