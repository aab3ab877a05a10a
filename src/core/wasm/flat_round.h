/* The rest of a round as a flat question (flat.h): on a phone, without a connection, after something was skipped. Lines
 * of NAME=NUMBERS, everything by index:
 *
 *   variables=3 2        how many values each variable of the machine's condition has
 *   start=0 1            the condition at the beginning of the round
 *   finish=1 0           what is asked for at its end: bit v for value v, 0 = any
 *   home=0               place of the finish, -1 anywhere
 *   at=4                 place where one stands
 *   place=1.5 -0.4       metres; one line for each
 *   never=6 1            a combination that must not exist; a line for each
 *   change=PLACE SECONDS | from | set     a line for each; from as in finish, set as VARIABLE:VALUE ...
 *   point=PLACE SECONDS | needs | set | after     a line for each; after: indices of points
 *   did=c0 p3            what was done, in order: changes and points
 *   not=c2 p5            what cannot be done
 *
 * The answer: {"condition": [..], "may": {"changes": [..], "points": [..]} what can be done in the present condition,
 * "plan": [{"change": i} or {"point": i}, ...] the fastest safe order of the rest, "left": [{"point", "why": "needs" or
 * "after", "after"}], "home": whether the finish can be reached, "seconds", "proven", "note"}. Or {"error": ...}. */
#ifndef WITMARK_WASM_FLAT_ROUND_H
#define WITMARK_WASM_FLAT_ROUND_H

#include "base/text.h"

void flat_round(struct str question, struct text *answer);

#endif
