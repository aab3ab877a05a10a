/* Counted adjustments and a dead machine's recovery as flat questions (flat.h): what a phone asks without a connection,
 * with what it has recorded itself among the rest.
 *
 * "adjust": turns are whole 720ths, in positive, as the desk's JSON has them under "count".
 *
 *   way=in               or out: the book's direction
 *   first-step=1080, step=360, at-most=2880
 *   prior=0.75           chance that this adjuster is the cause
 *   turn=1080 less       one line for each entry, by time: the turns, what was seen (gone, less, same, worse, -), and
 * then any of: accepted found ask=360              may this step be made? with missing=TEXT         what was not
 * confirmed, when anything was not other=LABEL          another adjuster of the same circuit at a trial setting, when
 * there is one
 *
 * Answer: {"from_found", "from_accepted", "back", "back_to_found", "undo", each {"count", "says"}, "stands": words,
 * "trial_open", "beyond", "saw", "largest": {"in", "out"}, "next": {"advice", "reason", "turns": {...}, "p_helps",
 * "p_cause"}, "refusal": null or {"word", "says"}}.
 *
 * "recover": items of the put-back list are numbers from 0 to 63.
 *
 *   step=0 1 | 2         a line for each of the book's steps: what it opens | what it closes
 *   limit=300 0.83 0.05 900 100      metres, m/s, slope, seconds, kilograms; ? = the book gives none
 *   opened=3, closed=3, moved=120 240 0.02 ?    events by time; metres, seconds, slope, kilograms; ? = not said
 *   plan=200 ? 0.03 ?    metres, m/s, slope, kilograms; ? = not said
 *
 * Answer: {"phase", "open": [items], "next": step or null, "back": it is done backwards, "way_back": [steps],
 * "out_of_order", "distance_m", "time_s", "moves", "untimed", "limits": {NAME: {"known", "exceeded", "value", "limit",
 * "left"}}, "exceeded"}. */
#ifndef WITMARK_WASM_FLAT_ADJUST_H
#define WITMARK_WASM_FLAT_ADJUST_H

#include "base/text.h"

void flat_adjust(struct str question, struct text *answer);
void flat_recover(struct str question, struct text *answer);

#endif
