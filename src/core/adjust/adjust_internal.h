/* What the ledger and its model share. */
#ifndef WITMARK_ADJUST_INTERNAL_H
#define WITMARK_ADJUST_INTERNAL_H

#include "adjust/adjust.h"

/* How far it may go from the accepted setting on that side before it is at_most from where it was found. */
turns_t adjust_room(const struct adjust_rules *r, const struct adjust_ledger *l, int side);
/* Bayes' rule for a turn that moved the farthest point of that side from `before` to `after`, with what was seen then;
 * saw is said. */
void adjust_learn(const struct adjust_rules *r, struct adjust_ledger *l, int side, turns_t before, turns_t after,
                  enum adjust_saw saw);

#endif
