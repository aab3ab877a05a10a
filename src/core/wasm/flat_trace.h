/* Flat questions about faults (see flat.h for the manner).
 *
 *   trace   cause=WEIGHT NAME                  what may be behind it, any number; so are
 *           sign=BY-ITSELF MINUTES NAME        what may be seen; MINUTES - when it can't be looked for
 *           chance=CHANCE SIGN CAUSE           left out: 0
 *           repair=MINUTES NAME
 *           cures=CHANCE REPAIR CAUSE          left out: 0
 *           saw=SIGN, not=SIGN, tried=REPAIR, cured=REPAIR    in order of time; cannot=NAME: not here
 *           other=WEIGHT, pairs=ODDS, help=MINUTES, nodes=COUNT
 *   find    said=WORDS                         what somebody says
 *           phrase=NAME WORDS                  a way to say NAME, any number of times for each
 */
#ifndef WITMARK_WASM_FLAT_TRACE_H
#define WITMARK_WASM_FLAT_TRACE_H

#include "base/text.h"

/* {"causes": [{"name", "p"}], "other", "two", "plans_two", "seen", "steps": [{"what": "sign" | "repair" | "help",
 * "name", "minutes", "p_yes", "low", "high", "if_yes": [{"name", "p"}], "if_no": [...]}], "low", "high", "exact",
 * "straight", "nodes"}: causes by falling p; if_yes and if_no (the three likeliest then) for the first three steps. */
void flat_trace(struct str question, struct text *answer);
/* {"best": NAME or null, "things": [{"name", "fit"}]} by falling fit, those above 0. */
void flat_find(struct str question, struct text *answer);

#endif
