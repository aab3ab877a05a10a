/* Questions to the core as flat text, answers as JSON: what a browser page asks through WebAssembly. Reading JSON is
 * not the core's business, so a question is lines of NAME=VALUE, values written as people write them:
 *
 *   calc      the first line is the calculation's name alone; then its inputs:  gauge=22 psi
 *   judge     value=1.3 bar            the reading
 *             limits=1.4 .. 1.6 bar    as a book writes them (range_parse)
 *             uncertainty, gauge       of the gauge: 0.02 bar; 0 .. 4 bar
 *             correction, reference    first word of the book's refer-to (book.h), as read when left out; its
 * temperature v40, v100                viscosity of the fluid at 40 and 100 degC glycol                   of a coolant:
 * ethylene (when left out) or propylene given NAME=320 mm        a figure of the book that the correction takes, any
 * number of times judged-at NAME=RANGE     what is read under that name must lie there, any number of times with
 * NAME=41 degC        read together with it, any number of times A machine's book as JSON has all but value and `with`
 * as the member "judge" of a measured checkpoint. reserve   interval=250 h or 12 months, today=2026-09-06, last-day and
 * last-hours (left out: never done, counted from hour 0 and from first-day), hours-now and hours-per-day (left out: not
 * known), all as bare numbers of hours meter     reading=2026-09-06T07:40Z 812.5     any number of times; so are
 *             swap=INSTANT OLD NEW                OLD may be ? (not known)
 *             pause=INSTANT INSTANT               days out of service
 *             at=INSTANT                          asks for the total hours then
 *
 * units=si|us|as-written may stand in calc and judge. Every number a JSON answer carries is a double that reads back
 * the same. A question that cannot be answered gives {"error": {"kind", "what", "right"}} and nothing else; an unknown
 * name is an error with the nearest one. Nothing here has a state; everything is made in `answer`'s arena.
 */
#ifndef WITMARK_WASM_FLAT_H
#define WITMARK_WASM_FLAT_H

#include "base/text.h"

/* [{"name", "title", "formula", "source", "inputs", "outputs"}, ...] of calc_json.h */
void flat_calculations(struct text *answer);
/* The answer of calc_json.h. */
void flat_calc(struct str question, struct text *answer);
/* {"verdict", "raw": {"value", "unit", "si", "text"} or null, "corrected": likewise, "uncertainty": number or null in
 * SI, carried through the correction, "raw_uncertainty": the gauge's, "doubtful", "why": word for what a reading that
 * is not judged lacks, or null, "reason", "correction", "formula", "source": of the correction, or null, "gauge":
 * {"low", "high", "raw", "corrected", "from", "to"}: the bracket gauge (judge.h), places from 0 to 1 or null} */
void flat_judge(struct str question, struct text *answer);
/* {"rule", "out", "hours_left", "due_total", "calendar_day", "hours_day", "p10", "p50", "p90", "spread_known"}; what is
 * not known is null. */
void flat_reserve(struct str question, struct text *answer);
/* {"readings": [{"at", "hours", "total", "flag", "good"}], "use": null or {"hours_now", "at", "hours_per_day",
 * "readings", "since"}, "total_at": number or null}, readings in order of time; use of the last 90 days (meter_use). */
void flat_meter(struct str question, struct text *answer);

#endif
