/* What the files of the desk share: the open depot, its books, and the state of every machine as the log has it. */
#ifndef WITMARK_DESK_INTERNAL_H
#define WITMARK_DESK_INTERNAL_H

#include "bookfile.h"
#include "desk.h"

#include "adjust/adjust.h"
#include "base/map.h"
#include "recover/recover.h"

/* When something was last done or seen. */
struct last {
    bool have;
    instant_ms at;
    double total_h; /* total hours then; NAN when not known */
    struct entry_id id;
};

/* One reading of a checkpoint, for its trend. */
struct point_reading {
    instant_ms at;
    double total_h;
    struct quantity value;
    const struct judge_with *with;
    int n_with;
    double uncertainty_si;
};

/* What a checkpoint counts from, and which of its intervals applies. */
struct counted {
    struct interval interval;
    const char *which; /* "every", "first", "severe" */
    struct reserve_since since;
    struct last last;    /* the entry it counts from, when there is one */
    bool from_new;       /* never done, and the machine's hours are known from new */
    instant_ms since_at; /* never done: first meter reading or registration */
};

/* A reserve that was computed, and under what: it holds on that day under that model, until an entry touches the
 * machine (its points are then made anew). */
struct kept_reserve {
    const struct desk_forecast *forecast;
    day_t day;
    bool have;
    struct reserve reserve;
    struct counted counted;
};

/* The last reading and the last look at one checkpoint of the present book. */
struct point_state {
    struct last reading;
    struct quantity value;
    const struct judge_with *with;
    int n_with;
    double uncertainty_si; /* NAN = not stated */
    struct last found;
    bool found_ok;
    struct str found_says;
    struct last reset;             /* task that resets it, last done */
    struct point_reading *history; /* readings since then, by time */
    size_t n_history, cap_history;
    struct kept_reserve kept;
};

/* Nuts and screws that run in: when they were refitted, when last torqued without having been off. */
struct torque_state {
    struct last refitted, checked;
};

/* A fluid that was filled in: topped up or changed. */
struct fill_state {
    instant_ms at;
    int fluid; /* index in the book */
    double m3;
};

/* Why it is on the put-back list, which says how it comes off. */
enum open_kind {
    OPEN_ITEM,    /* opened; put-back */
    OPEN_TRIAL,   /* an adjuster at a trial setting; a turn back, or accepting it */
    OPEN_INHIBIT, /* burning is inhibited; released */
};
struct open_state {
    enum open_kind kind;
    struct str item, label; /* item: also the name of the adjuster */
    int open_item;          /* index in the book, or BOOK_NONE */
    instant_ms since;
    struct str by;
    struct entry_id id;
};

struct fault_state {
    struct str key, says; /* "100/4"; "SPN 100 FMI 4: ..." */
    instant_ms first, last;
    int64_t count;
    struct entry_id id;
};

/* What the log says of the exhaust filter, in order: gauge readings and burns. */
enum soot_kind { SOOT_READING, SOOT_PASSIVE, SOOT_ACTIVE, SOOT_PARKED, SOOT_INHIBITED, SOOT_RELEASED, SOOT_CLEANED };
struct soot_event {
    enum soot_kind kind;
    instant_ms at;
    double total_h; /* NAN when not known */
    double value;   /* load of a reading, minutes of a burn; NAN = not said */
    struct entry_id id;
    struct str by;
};

/* A part or fluid used in a task that was done. */
struct use_state {
    instant_ms at;
    double total_h;
    struct entry_id id;
    int task;
    bool fluid;
    struct str name, number;
    double quantity; /* pieces, m3 */
};

/* Parts put on the shelf or taken from it. */
struct stock_event {
    instant_ms at;
    struct entry_id id;
    struct str part, by, machine;
    double quantity;
};

/* The item of the put-back list while burning is inhibited. */
#define BURN_INHIBITED "burning-inhibited"

struct exhaust_now;

/* One turn of an adjuster, with the ledger after it. */
struct turn_step {
    instant_ms at;
    struct entry_id id;
    struct str by, note;
    struct adjust_entry entry;
    turns_t from_found, from_accepted; /* after it */
};
struct turn_state {
    struct str name;
    int adjuster; /* of the present book; BOOK_NONE: it has none of that name */
    struct adjust_rules rules;
    struct adjust_ledger ledger;
    struct turn_step *steps; /* all, by time */
    size_t n_steps, cap_steps;
    size_t trial; /* the step that began the open trial; only when ledger.from_accepted is not 0 */
};
/* One move of a dead machine. */
struct move_state {
    instant_ms at;
    struct entry_id id;
    struct str by, note;
    double distance_m, time_s, slope, load_kg; /* NAN = not said */
};
/* A recovery as the log has it. */
struct recovery_state {
    struct recover_state now;
    instant_ms since;         /* when it began; INSTANT_NONE = none is on its way */
    struct move_state *moves; /* all, by time */
    size_t n_moves, cap_moves;
    size_t first_move;          /* the first of the present or last recovery */
    struct recover_event *told; /* what it was read from, by time, and the entries that say so */
    struct entry_id *told_ids;
    size_t n_told;
    struct recover_state *past;   /* recoveries that are over, as they ended */
    struct move_state *past_last; /* the last move of each */
    size_t n_past, cap_past, cap_past_last;
};

/* A machine and what the log says of it; arrays are by index of its present book. */
struct machine_state {
    struct desk_machine m;
    struct point_state *points;   /* [n_checkpoints] */
    struct last *tasks;           /* [n_tasks] last done */
    struct torque_state *torques; /* [n_torques] */
    struct turn_state *turns;     /* those of the book [n_adjusters], then others that were turned */
    size_t n_turns;
    struct recovery_state recovery;
    struct last handed_back;
    struct fill_state *fills; /* by time */
    size_t n_fills, cap_fills;
    struct open_state *open;
    size_t n_open;
    struct fault_state *faults; /* active ones */
    size_t n_faults;
    struct soot_event *soot;
    size_t n_soot, cap_soot;
    struct use_state *uses;
    size_t n_uses, cap_uses;
    struct exhaust_now *exhaust; /* made when first asked for, by exhaust_of; exhaust_internal.h */
    struct last last_entry;
    const struct entry_id *meter_ids; /* by meter_reading.source */
    const struct meter_swap *swaps;
    const struct meter_pause *pauses; /* days out of service, the last one until now */
    int n_swaps, n_pauses;
    struct usage_state usage; /* under the depot's model; not known before desk_forecast_ready */
};

/* A book resolved once for all machines of a serial class with the same options. */
struct desk_resolved {
    uint32_t last; /* last serial number of the class */
    struct str options;
    struct book *book;
};

/* One edition of a book, read. */
struct desk_book {
    struct log_hash hash;
    struct str hash_text, id, title, maker, edition;
    instant_ms kept;
    const struct bookfile *file; /* null when it could not be read */
    uint32_t *class_last;        /* [n_classes] last serial numbers of its classes, ascending; made when first needed */
    size_t n_classes;
    struct desk_resolved *resolved;
    size_t n_resolved, cap_resolved;
    bool present; /* the latest edition of its id */
};

/* A drawing kept with an edition. */
struct desk_figure {
    struct log_hash edition, blob;
    struct str file;
};

struct collector;

struct desk {
    struct arena arena; /* lives as long as the desk: settings, books */
    struct arena state; /* thrown away and made anew when the log has grown */
    struct depot *depot;
    struct desk_options options;
    struct str name, zone;
    enum unit_system units;
    struct desk_book *books;
    size_t n_books, cap_books;
    struct machine_state *machines;
    struct desk_machine *list; /* the same machines' public part */
    size_t n_machines;
    struct desk_forecast *forecast; /* null until it is asked for; in the state's arena */
    struct collector *collector;    /* events of every machine, in the state's arena */
    struct stock_event *stock;      /* in the order in which they were read */
    size_t n_stock, cap_stock;
    struct desk_machine shelf; /* stands for the depot's shelf where a machine is named */
    struct map import_keys;    /* machine, line feed, import key: in the log */
    struct map
        any_import_keys; /* import keys alone; they hold the machine's serial number in what they are a hash of */
    struct desk_figure *figures;
    size_t n_figures, cap_figures;
    size_t fresh;  /* bytes of the state when it was made */
    int64_t place; /* arrival of the last entry that the state knows; -1 = none read */
    day_t day;     /* on which the state was made: hours run on, and entries written ahead begin to count */
};

/* Reads every edition that is in the depot and not yet known. */
bool desk_load_books(struct desk *d, struct err *e);
/* The present edition of that book, or null. */
struct desk_book *desk_present_book(const struct desk *d, struct str id);
/* What applies to that serial number with those options, from the present edition `book`. Machines that resolve alike
 * share all but the head of it. Lives as long as the desk. Errors: as bookfile_resolve. */
const struct book *desk_resolve(struct desk *d, struct desk_book *book, struct str serial, struct book_texts options,
                                struct err *e);
/* Makes the state from the log. */
bool desk_load_state(struct desk *d, struct err *e);
/* Takes up entries that have just arrived; only their machines are computed again. False, and nothing changed, when the
 * state must be made anew. */
bool desk_grow_state(struct desk *d, const struct entries *fresh);
/* Index of the checkpoint, or BOOK_NONE with the nearest named. */
int desk_named_checkpoint(const struct book *b, struct str name, struct err *e);
struct machine_state *desk_state_of(struct desk *d, const struct desk_machine *m);

/* The steps of the book's recovery for the core, items numbered as in the book; returns how many, 0 without one. */
int desk_recover_steps(const struct book *b, struct recover_step steps[RECOVER_STEPS_MOST]);
/* The limits of the book's recovery. */
struct recover_limits desk_recover_limits(const struct book *b);

/* Fits the usage model unless there is one and little has been read since; then every machine has its usage state. */
void desk_forecast_ready(struct desk *d);
/* One machine's usage state under the model that is there; none without a model. */
void desk_forecast_machine(struct desk *d, struct machine_state *s);
/* The model of the machine's family; null without one. */
const struct usage_model *desk_usage_model(const struct desk *d, const struct machine_state *s);

/* Media type by the ending of the name. */
const char *desk_media_type(struct str name);
/* The member "read" of a step that measures: what, limits, the value wanted, the last one (docs/print.md). */
void desk_read_json(struct json *j, struct desk *d, const struct book_checkpoint *c, const struct point_state *point);
/* The member "before": what is to be done before any round. */
void desk_before_json(struct json *j);
/* Keeps a file's bytes and writes the entry that names it; draft gives machine, edition, time and person. */
bool desk_attach(struct desk *d, struct draft draft, struct str name, struct str data, struct str about,
                 struct appended *appended, struct err *e);

/* The blob in which a drawing of that edition ("sha256:...") was kept; false when there is none. */
bool desk_drawing(const struct desk *d, struct str edition, struct str file, struct log_hash *blob);
/* The members of a kit, inside an object that is open. */
void desk_kit_members_json(struct json *j, const struct desk_kit *kit);

/* "NAME=VALUE, NAME=VALUE" cut into pairs; blanks around both are dropped. Errors: ERR_USAGE. */
struct pair {
    struct str name, value;
};
bool desk_pairs(struct arena *a, struct str s, struct pair **at, size_t *n, struct err *e);

/* "book TITLE EDITION, line 214" */
struct str desk_book_line(struct arena *a, const struct book *b, struct book_pos pos);
/* "entry 0192f3ab" with the first 13 characters of the id, enough to find it again. */
struct str desk_entry_ref(struct arena *a, struct entry_id id);
void text_day_words(struct text *t, day_t day); /* "4 Sep 2026" */
void text_hours(struct text *t, double hours);  /* "41 h" */
/* Day on which a total of hours was or will be reached is desk_today's business; this is the state's clock. */
/* Minutes east of UTC of a local time, given as if it were UTC. */
int desk_offset_of_local(const struct desk *d, instant_ms local);
instant_ms desk_noon(const struct desk *d, day_t day);

#endif
