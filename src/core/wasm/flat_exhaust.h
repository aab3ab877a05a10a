/* The flat question about an exhaust filter and the coming jobs (see flat.h):
 *
 *   duty=NAME|LABEL|MADE|BURNT|FINISH|SHARE|OWN|COV...   one a duty, in order: the book's numbers, the machine's own
 * mean rate, and its row of covariances (all as bare numbers) begin, demand, derate, past, own-burn-leaves,
 * parked-burn-leaves, spread, scatter, gauge     bare numbers burn-minutes, cool-minutes                           of a
 * parked burn inhibit=WORD WORD                                    places that the book adds load, load-deviation,
 * hours-since, hours-inhibited   the last known load, usual hours since, how many inhibited fire-ban=yes
 *   job=JOB|WHEN|DUTY|HOURS|PLACES|STOP|AT|STOP-NAME|BURN   as exhaust/burn_jobs.h; any number of times
 *
 * All but the jobs is what the API hands out as `question` (desk_exhaust.h). The answer has "now" (quantiles), "left"
 * ({"demanded", "power_reduced", "past_burning"}: quantiles of hours of usual work, null beyond 160 h), "places" (word
 * and words of each kind), "checklist", and with jobs "plan" as docs/json.md has it.
 */
#ifndef WITMARK_WASM_FLAT_EXHAUST_H
#define WITMARK_WASM_FLAT_EXHAUST_H

#include "base/text.h"

void flat_exhaust(struct str question, struct text *answer);

#endif
