/* Moving a dead machine by the book: what to do in which order and with what, how far and how fast at most, what was
 * moved already, and the exact way back. */
#ifndef WITMARK_DESK_RECOVER_H
#define WITMARK_DESK_RECOVER_H

#include "desk.h"
#include "recover/recover.h"

struct desk_recover_ask {
    struct str machine;
    struct str distance, speed, slope, load; /* "200 m", "3 km/h", "5 %", "0 kg"; empty = not said */
};
/* One step, forwards or backwards. */
struct desk_recover_step {
    int step; /* of the book's recovery */
    bool back;
    bool done;
    struct str act;           /* the book's words, or those of the way back */
    struct str opens, closes; /* labels, with commas */
    struct str place, place_key;
    struct book_refs cautions; /* of the machine's book */
    struct book_texts tools;
    double takes_s;
};
struct desk_recover_limit {
    struct recover_judged judged;
    struct str limit, value, left; /* for people; empty when not known */
};
struct desk_move {
    instant_ms at;
    struct entry_id id;
    struct str by, note;
    double distance_m, time_s, slope, load_kg;
};
struct desk_recover {
    const struct desk_machine *machine;
    struct recover_state state;
    instant_ms since; /* INSTANT_NONE = not begun */
    const struct desk_recover_step *out, *back;
    size_t n_out, n_back;
    int next; /* place in `out` or, when the state says so, in `back`; -1 = none */
    struct desk_recover_limit limits[LIMIT_COUNT];
    bool exceeded;
    struct str refusal;         /* why the plan can't be: the limits that it exceeds; empty = it can */
    const struct str *warnings; /* slope, load, time: what to mind */
    size_t n_warnings;
    const struct desk_move *moves; /* of this recovery, or the last */
    size_t n_moves;
};
/* Errors: ERR_MISSING the book says nothing of it; ERR_USAGE a quantity that is none. A plan beyond a limit is no
 * error: see `refusal`. */
bool desk_recover(struct desk *d, const struct desk_recover_ask *ask, struct arena *a, struct desk_recover *out,
                  struct err *e);

/* Writes down the next step, out or back, as what it opens and closes. back: turn round here. */
bool desk_recover_did(struct desk *d, const struct desk_stamp *s, bool back, struct arena *a, struct desk_recorded *out,
                      struct err *e);

struct desk_moved {
    struct str distance, time, slope, load; /* "120 m", "4 min", "3 %", "100 kg"; only the distance must be said */
};
/* What was moved was moved: it is written down whatever the limits say, and `says` tells when one is exceeded. */
bool desk_record_moved(struct desk *d, const struct desk_stamp *s, const struct desk_moved *moved, struct arena *a,
                       struct desk_recorded *out, struct err *e);

/* For people, the cautions first. */
void text_recover(struct text *t, struct desk *d, const struct desk_recover *r);
void desk_recover_json(struct json *j, struct desk *d, const struct desk_recover *r);
/* The document of docs/print.md: ready, moving, and the way back, with the put-back list and blanks for the moves. */
bool desk_print_recover(struct desk *d, const struct desk_recover *r, struct str paper, struct text *out,
                        struct err *e);

#endif
