/* Refusing a value outside the range in which a formula holds, in one wording: "cold pressure is -2 bar; -1 .. 20 bar".
 * Not a number and the infinities are outside of every range. */
#ifndef WITMARK_QUANTITY_DOMAIN_H
#define WITMARK_QUANTITY_DOMAIN_H

#include "base/err.h"

/* True when low <= value <= high. Values in SI; the message shows them in `unit` (a symbol of the unit table; null or
 * "" for a bare number). name in words, e.g. "oil temperature". Errors: ERR_DOMAIN naming value and range. */
bool domain_within(const char *name, double value, const char *unit, double low, double high, struct err *e);

/* True when value > low. As above. */
bool domain_above(const char *name, double value, const char *unit, double low, struct err *e);

/* An ERR_DOMAIN refusal in the same wording for what is not one value's range. */
bool domain_refuse(const char *what, const char *right, struct err *e);

#endif
