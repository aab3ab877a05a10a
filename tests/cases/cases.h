/* The case runner: published cases against the functions the product uses.
 *
 * A case names a topic and a kind. The table (table.c) maps the pair to a calculation of core/calc by naming which JSON
 * input is which input of it, in which unit; what does not fit a calculation has an adapter of its own (adapt_*.c). An
 * adapter gives a JSON object of results or refuses through the err; comparing is compare.c's work and knows nothing of
 * topics.
 */
#ifndef WITMARK_TESTS_CASES_H
#define WITMARK_TESTS_CASES_H

#include <jansson.h>

#include "base/err.h"
#include "calendar/zone.h"

/* What a kind's function is given. */
struct case_in {
    const char *kind;
    const json_t *inputs; /* object */
    const json_t
        *expected; /* object; only its keys may be looked at, where a key carries a parameter (kW_shaft_at_0.85) */
    struct arena *a;
};

/* Fills `got` (an empty object) and returns true, or refuses. */
typedef bool case_fn(const struct case_in *in, json_t *got, struct err *e);

/* One kind of one topic. */
struct case_kind {
    const char *topic, *kind;
    const char *calc; /* name in core/calc; null with fn */
    const char
        *inputs; /* "gauge=gauge:@unit; from=t1_degF:degF|t1_degC:degC"; see table.c. With fn: the names it reads */
    const char *outputs; /* "gauge=gauge:@unit" : JSON name = output : unit */
    case_fn *fn;
};

/* The table's row; a kind ending in "reject" that has none of its own belongs to the first row of the topic that knows
 * all its input names. Null: unknown. */
const struct case_kind *case_kind_find(const char *topic, const char *kind, const json_t *inputs);

/* Runs a row: the calculation through core/calc, or its function. */
bool case_run(const struct case_kind *row, const struct case_in *in, json_t *got, struct err *e);

/* Compares under the case's tolerance; false with the first difference in `why`. `meaning` says whether two texts mean
 * the same. */
bool case_compare(const json_t *expected, const json_t *got, const json_t *tolerance, struct text *why);

/* What became of a case: `got` (null when it could not be tried; the caller's to release) or the refusal, and whether
 * that is what it expects, with the reason. */
struct case_outcome {
    const char *id;
    bool ran, passed;
    json_t *got;
    struct err err;
    struct text why;
};
struct case_outcome case_outcome(const json_t *one, struct arena *a);
/* {"id", "passed", "why", "got" or "refused"} on one line, numbers with 17 digits: to compare two builds. */
void case_outcome_line(const struct case_outcome *o, struct text *line);

/* A zone's changes within two years of a day, from wherever this build has them. Errors: ERR_MISSING: no such zone. */
bool case_zone(struct arena *a, struct str name, day_t around, struct zone *z, struct err *e);

/* Tallies of a run. */
struct tally {
    bool results; /* print what each case gave instead of a line */
    size_t passed, failed, skipped;
};
void tally_line(struct tally *t, const char *outcome, const char *id, const char *text);

/* A file of each sort; false when it could not be read at all (said on stderr, counted as one failure). */
void run_json_file(const char *path, struct tally *t);
void run_recording(const char *path, struct tally *t);
void run_sequencing(const char *path, struct tally *t);

/* ---- for adapters ---- */

/* A number of an input; refuses when it is missing or none. */
bool case_number(const struct case_in *in, const char *name, double *value, struct err *e);
bool case_has(const struct case_in *in, const char *name);
/* A text of an input; refuses when it is missing or none. */
bool case_text(const struct case_in *in, const char *name, struct str *text, struct err *e);
void case_set_number(json_t *got, const char *name, double value);
void case_set_text(json_t *got, const char *name, struct str text);
void case_set_flag(json_t *got, const char *name, bool flag);

/* Functions of the adapters, named in the table. */
case_fn case_convert, case_convert_difference, case_tyre_temp, case_power, case_percent_change, case_blend, case_as4059,
    case_iso_code, case_iso_scale, case_gravity, case_flows, case_whichever_first, case_add_months, case_iso_week,
    case_valid_date, case_local_to_utc, case_day_length, case_duration, case_ical_unfold, case_ical_escape,
    case_ical_fold, case_csv_write, case_csv_read, case_first_passage, case_rates, case_robust, case_regression,
    case_survival, case_spares, case_replacement, case_mcf, case_power_law, case_life_fit, case_trace;

#endif
