/* Coming jobs as people write them: rows of texts, from a spreadsheet, a YAML file, a page or the command line.
 *
 *   job     name for people; the duty's when left out        "South beach"
 *   when    day or time, shown as written                    "Tue 7:00"
 *   duty    name or label of the book's; usual when left out "raking"
 *   hours   machine hours                                    "7", "6.5 h"
 *   places  words of burn_place.h, blank, comma or plus      "dry-vegetation fire-ban"
 *   stop    minutes at hand before it; enough when left out  "60", "60 min", "none"
 *   at      what the place of that stop is like              "hard-standing"
 *   stop-name  where that is                                 "depot yard"
 *   burn    yes: the plan must burn there; no: must not
 *
 * A stop of which nothing is said is taken to be at the depot with enough time, but not on hard standing: under a fire
 * ban it then forbids a burn.
 */
#ifndef WITMARK_EXHAUST_BURN_JOBS_H
#define WITMARK_EXHAUST_BURN_JOBS_H

#include "exhaust/burn_plan.h"

#define BURN_ROW_FIELDS(X)        \
    X(ROW_JOB, "job")             \
    X(ROW_WHEN, "when")           \
    X(ROW_DUTY, "duty")           \
    X(ROW_HOURS, "hours")         \
    X(ROW_PLACES, "places")       \
    X(ROW_STOP, "stop")           \
    X(ROW_AT, "at")               \
    X(ROW_STOP_NAME, "stop-name") \
    X(ROW_BURN, "burn")
enum burn_row_field {
#define X(symbol, word) symbol,
    BURN_ROW_FIELDS(X)
#undef X
        BURN_ROW_FIELD_COUNT
};

struct burn_row {
    struct str field[BURN_ROW_FIELD_COUNT]; /* empty = left out */
    struct where where;                     /* for errors */
};

/* Names and labels of the duties, by index. */
struct burn_duties {
    const struct str *name, *label;
    int n;
};

const char *burn_row_word(enum burn_row_field field);
bool burn_row_field_find(struct str word, enum burn_row_field *field);
/* fire_ban: in force at every job and stop, whatever the row says.
 * Errors: at the row's place: ERR_INPUT a word or number that is none, ERR_MISSING a duty with the nearest. */
bool burn_job_of(const struct burn_row *row, const struct burn_duties *duties, bool fire_ban, struct burn_job *job,
                 struct err *e);
/* "dry-vegetation, dusty" as a set. Errors: ERR_INPUT at `where`. */
bool burn_places_parse(struct str s, struct where where, burn_places *out, struct err *e);

#endif
