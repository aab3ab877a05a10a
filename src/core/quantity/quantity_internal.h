/* What the files of this folder share: the unit table and what display needs beside it. */
#ifndef WITMARK_QUANTITY_INTERNAL_H
#define WITMARK_QUANTITY_INTERNAL_H

#include "quantity/quantity.h"

/* How a unit is read and shown; row i belongs to row i of unit_all. */
struct unit_manner {
    const char *aliases;   /* further spellings, separated by '|' */
    int decimals;          /* what a gauge of that unit deserves */
    const char *system_si; /* unit a reader of SI wants instead; null = this one */
    const char *system_us; /* the same for a reader of US units */
};

/* The manner of a unit of the table. */
const struct unit_manner *unit_manner_of(const struct unit *u);

/* What to say about a spelling that is no unit because it could mean several; null when it is just unknown. */
const char *unit_ambiguity(struct str symbol);

#endif
