/* The desk: what a person wants done, one function each. The only place where log, book and core meet; the command line
 * and the web server call it and nothing below it.
 *
 * A struct desk holds an open depot and its books. Results live in the arena that is passed in; texts in them are ready
 * for people (units and dates as the depot wants them). Every query has a JSON form (docs/json.md), written by
 * desk_..._json. A desk belongs to one thread at a time. Dates are civil dates in the depot's time zone.
 */
#ifndef WITMARK_DESK_H
#define WITMARK_DESK_H

#include "base/arena.h"
#include "base/date.h"
#include "base/err.h"
#include "base/json.h"
#include "base/text.h"
#include "book/book.h"
#include "judge/judge.h"
#include "log.h"
#include "meter/backtest.h"
#include "meter/meter.h"
#include "quantity/quantity.h"
#include "reserve/reserve.h"

#include <stdbool.h>

struct desk;

/* ---- Opening ---------------------------------------------------------------------------------------------------- */

struct desk_options {
    const char *depot; /* path of the depot's file */
    bool read_only;
    day_t today;              /* DAY_NONE = by the clock; another day answers "what would be due then" */
    struct depot_options log; /* world, keys; depot_options_default() */
    const char *units;        /* "as-written", "si", "us"; null = the depot's setting */
    const char *paper;        /* "a4", "letter"; null = the depot's setting */
};
struct desk_options desk_options_default(const char *depot);

bool desk_open(const struct desk_options *options, struct desk **d, struct err *e);
void desk_close(struct desk *d); /* null is fine */
/* A second desk on the same depot with the same options, for another thread. */
bool desk_again(const struct desk *d, struct desk **again, struct err *e);

/* Makes a new depot. zone is an IANA time zone name; errors when the system does not know it. */
bool desk_depot_new(const struct desk_options *options, struct str name, struct str zone, struct err *e);

struct depot *desk_depot(struct desk *d);   /* for verify, export, import, backup: see log.h */
struct str desk_name(const struct desk *d); /* of the depot */
struct str desk_zone(const struct desk *d);
enum unit_system desk_units(const struct desk *d);
day_t desk_today_day(const struct desk *d);
instant_ms desk_now(const struct desk *d); /* the clock, or noon of the day that was asked for */
/* Reads the log again where it has grown since. Called by every query; costs one SQL question when nothing is new. */
bool desk_refresh(struct desk *d, struct err *e);

/* An instant as people of the depot read it: "2026-09-06 07:40". */
void text_local(struct text *t, const struct desk *d, instant_ms at);
/* Limits for people, in the depot's units: "1.4 to 1.6 bar", "at most 100 %", "at least 12.4 V". */
void text_limits(struct text *t, const struct desk *d, struct quantity_range r);
/* "1 h 12 min", "35 s" */
void text_time(struct text *t, double seconds);
/* What people write: "2026-09-06", "2026-09-06 07:40", "today", "now", RFC 3339. A bare date is noon. Local time that
 * does not exist or is ambiguous is taken as RFC 5545 3.3.5 says: the offset before the gap, the first of the two. */
bool desk_instant(const struct desk *d, struct str s, instant_ms *at, struct err *e);
day_t desk_day_of(const struct desk *d, instant_ms at);

/* The whole of a regular file, at most `most` bytes. Errors: ERR_SYSTEM, ERR_INPUT no file or too large. */
bool desk_read_file(struct arena *a, const char *path, size_t most, struct str *out, struct err *e);

/* ---- Books ------------------------------------------------------------------------------------------------------ */

/* Reads, checks and keeps an edition with its drawings. Findings go to diags; with an error among them nothing is kept.
 * Machines of that book go by the new edition from now on; entries keep naming the one they were made under. */
bool desk_book_take(struct desk *d, const char *path, struct diags *findings, struct log_hash *edition, struct err *e);

struct desk_edition {
    struct str book, title, maker, edition, hash;
    instant_ms kept;
    bool present; /* the one machines go by */
    int machines;
};
bool desk_book_list(struct desk *d, struct arena *a, struct desk_edition **at, size_t *n, struct err *e);

/* ---- Machines --------------------------------------------------------------------------------------------------- */

struct desk_machine_new {
    struct str serial, label, book, site; /* book: id; empty = found by the serial number's form */
    struct str options;                   /* comma separated, the machine's own; "" = none */
    day_t in_service;                     /* DAY_NONE = not known */
    bool severe;                          /* severe duty: the shorter intervals apply */
    struct str by;
    instant_ms at;
};
bool desk_machine_add(struct desk *d, const struct desk_machine_new *m, struct entry_id *id, struct err *e);

/* One machine as the log has it. */
struct desk_machine {
    struct str serial, label, site;
    struct str name; /* label if it has one, else serial: how people call it */
    struct str book_id;
    const struct book
        *book;          /* resolved; null when no edition of its book is here or it can't be resolved: see trouble */
    struct str trouble; /* why book is null */
    struct book_texts options;
    bool severe, out_of_service;
    day_t in_service; /* DAY_NONE = not known */
    instant_ms registered;
    struct meter_history meter;
    struct meter_use use;
    double hours_now; /* total hours today at the present rate; NAN when no reading */
    int n_open;       /* items on the put-back list */
    int n_faults;     /* active faults */
};

/* All machines, in service first, by name. Borrowed from the desk until the next desk_refresh that finds something new.
 */
bool desk_machines(struct desk *d, const struct desk_machine **at, size_t *n, struct err *e);
/* By serial number or label, exactly, then without regard to case, then a serial with lost leading zeros or hyphens,
 * when only one fits. ERR_MISSING names the nearest. */
const struct desk_machine *desk_machine_find(struct desk *d, struct str name, struct err *e);

/* ---- Recording -------------------------------------------------------------------------------------------------- */

/* What every record has in common. */
struct desk_stamp {
    struct str machine; /* name as in desk_machine_find */
    struct str by;
    instant_ms at; /* INSTANT_NONE = now */
    struct str note;
    struct str import_key; /* empty for hand entry */
};
struct desk_recorded {
    struct entry_id id;
    bool known_already; /* an import that was here */
    bool judged;
    struct verdict verdict; /* of a reading, when judged */
    struct str says;        /* one line for people: what was recorded, and the verdict */
};

/* A value as written: "1.45 bar". with: "temperature=31 degC, rest=6 h". Checked against the machine's book: the
 * checkpoint exists (else the nearest is named), the unit fits. */
bool desk_record_reading(struct desk *d, const struct desk_stamp *s, struct str checkpoint, struct str value,
                         struct str with, struct arena *a, struct desk_recorded *out, struct err *e);
bool desk_record_meter(struct desk *d, const struct desk_stamp *s, struct str hours, struct arena *a,
                       struct desk_recorded *out, struct err *e);
bool desk_record_meter_replaced(struct desk *d, const struct desk_stamp *s, struct str old_hours, struct str new_hours,
                                struct arena *a, struct desk_recorded *out, struct err *e);
/* look: "ok" or what was found. */
bool desk_record_found(struct desk *d, const struct desk_stamp *s, struct str checkpoint, struct str look,
                       struct arena *a, struct desk_recorded *out, struct err *e);
struct desk_done {
    struct str task;
    struct str hours;  /* meter reading then; may be empty */
    struct str parts;  /* "return-element=1, seal=2"; empty = those the book names; "none" */
    struct str fluids; /* "hydraulic-oil=38 L"; empty = those the book names; "none" */
    struct str minutes;
};
bool desk_record_done(struct desk *d, const struct desk_stamp *s, const struct desk_done *done, struct arena *a,
                      struct desk_recorded *out, struct err *e);
/* turns: "1/2 in", "1 1/4 out". */
bool desk_record_turn(struct desk *d, const struct desk_stamp *s, struct str adjuster, struct str turns, bool accepted,
                      struct arena *a, struct desk_recorded *out, struct err *e);
/* fault: "100/4" (SPN/FMI of SAE J1939) or the code the machine shows. */
bool desk_record_fault(struct desk *d, const struct desk_stamp *s, struct str fault, bool cleared, struct arena *a,
                       struct desk_recorded *out, struct err *e);
/* type: passive, active, parked, inhibited, released. */
bool desk_record_burn(struct desk *d, const struct desk_stamp *s, struct str type, struct str minutes, struct arena *a,
                      struct desk_recorded *out, struct err *e);
/* back: false = opened, true = put back. ERR_REFUSED when it is not open / is open already. */
bool desk_record_open(struct desk *d, const struct desk_stamp *s, struct str item, bool back, struct arena *a,
                      struct desk_recorded *out, struct err *e);
bool desk_record_stock(struct desk *d, const struct desk_stamp *s, struct str part, struct str quantity,
                       struct arena *a, struct desk_recorded *out, struct err *e);
/* With the machine's name empty the note is about the depot. */
bool desk_record_note(struct desk *d, const struct desk_stamp *s, struct arena *a, struct desk_recorded *out,
                      struct err *e);
bool desk_record_out(struct desk *d, const struct desk_stamp *s, struct arena *a, struct desk_recorded *out,
                     struct err *e);
/* Keeps the file and writes the entry; about: an entry's id or empty. */
bool desk_record_attachment(struct desk *d, const struct desk_stamp *s, const char *path, struct str about,
                            struct arena *a, struct desk_recorded *out, struct err *e);
/* entry: id or unique beginning. member_values: "value=1.54, unit=bar" changes members of the body; empty with
 * `withdraw` takes the entry back. at: INSTANT_NONE = unchanged. The note is the reason and must be given. */
bool desk_correct(struct desk *d, struct str entry, struct str member_values, instant_ms at, bool withdraw,
                  struct str by, struct str reason, struct arena *a, struct desk_recorded *out, struct err *e);
/* What an entry says, in one line for people. */
void text_entry_says(struct text *t, struct desk *d, const struct entry *entry);

/* ---- Today ------------------------------------------------------------------------------------------------------ */

#define DUE_KINDS(X)                                                                              \
    X(DUE_CHECKPOINT, "checkpoint") /* due by hours or calendar */                                \
    X(DUE_READING, "reading")       /* the last reading is out of or close to its limits */       \
    X(DUE_FOUND, "found")           /* the last look found something that is not put right yet */ \
    X(DUE_AGAIN, "torque again")    /* nuts to be torqued again after running in */               \
    X(DUE_PUT_BACK, "put back")     /* on the put-back list */                                    \
    X(DUE_FAULT, "fault")           /* an active fault */
enum due_kind {
#define X(symbol, text) symbol,
    DUE_KINDS(X)
#undef X
};

struct desk_due {
    enum due_kind kind;
    const struct desk_machine *machine;
    int checkpoint; /* index in the machine's book; BOOK_NONE for put-back, fault, torque again */
    int service;    /* DUE_CHECKPOINT: the service that asks for it; BOOK_NONE when none does */
    int task;       /* what puts it right; BOOK_NONE when nothing is known to */
    struct str key; /* name to ask `why` for: checkpoint, open item, fault "100/4", torque */
    struct str label;
    struct reserve reserve;
    struct verdict verdict; /* DUE_READING */
    bool has_entry;
    struct entry_id entry; /* the one that it counts from: last done, the reading, the finding, opened, fault seen */
    struct str says;       /* "6 h over", "by 4 Sep (hours), 41 h left", "2.3 bar, limit 2.0 bar" */
    double overdue;        /* probability that it is overdue on the day that was asked for; NAN = not known */
    int urgency;           /* 0 = out or open, 1 = due today, 2 = close, 3 = to come */
};

struct desk_today_filter {
    struct str machine, site, book; /* empty = all */
    day_t overdue_on;               /* also tell how probable it is that each is overdue then; 0 = not asked */
    int within_days;                /* only what runs out within so many days; < 0 = all */
    bool with_stopped;              /* also machines out of service */
    bool with_shelf; /* desk_today: also parts of the depot's shelf, when no machine, site or book is asked */
};
struct desk_today_list {
    const struct desk_due *at;
    size_t n;
    size_t machines;
    day_t day;
    day_t overdue_on; /* as asked; 0 = not */
    size_t before;    /* lines left out before the first one, and in all, when this is a page of the list; else 0 */
    size_t of;
};
/* What is due, by which rule and when; what is out or close; what is open: sorted by what runs out first. */
bool desk_today(struct desk *d, const struct desk_today_filter *filter, struct arena *a, struct desk_today_list *out,
                struct err *e);

/* Replays the log: every 30 days of it, when would each meter have gained 30, 100 and 250 h, and when did it. */
bool desk_backtest(struct desk *d, struct arena *a, struct backtest *out, struct err *e);

/* ---- Why -------------------------------------------------------------------------------------------------------- */

/* One step of an explanation, from the figure down to the book's line and the log's entries. */
struct desk_reason {
    struct str says;
    struct str source; /* "brine6 2027-03, line 214", "entry 0192f3...", formula or standard; may be empty */
};
struct desk_why {
    struct str title;
    struct str answer;
    const struct desk_reason *at;
    size_t n;
};
/* key: as in desk_due. */
bool desk_why(struct desk *d, struct str machine, struct str key, struct arena *a, struct desk_why *out, struct err *e);

/* ---- Round, kit, sheet ------------------------------------------------------------------------------------------ */

struct desk_round_ask {
    struct str machine;
    struct str scope;    /* "daily", "due" (now), "within" (see hours and days), the name of a service, or names of
                            checkpoints and    tasks, comma separated */
    double within_hours; /* scope "within": due within so many machine hours or, if also given, days */
    int within_days;
    double minutes; /* what the technician has time for; 0 = as long as it takes. What does not fit is left for another
                       time, least urgent first */
    bool (*go_on)(void *ctx); /* asked now and then; false ends the search with the best order so far; null = as long as
                                 about a second's work takes, at most three seconds */
    void *ctx;
};

#define STEP_TYPES(X)        \
    X(STEP_WALK, "walk")     \
    X(STEP_CHANGE, "change") \
    X(STEP_CHECK, "check")   \
    X(STEP_TASK, "task")
enum step_type {
#define X(symbol, text) symbol,
    STEP_TYPES(X)
#undef X
};

struct desk_round_step {
    enum step_type type;
    int n;          /* number on the sheet, from 1; 0 for a walk */
    int place;      /* where; BOOK_NONE = anywhere */
    int change;     /* STEP_CHANGE */
    int checkpoint; /* STEP_CHECK */
    int task;       /* STEP_TASK */
    int from, to;   /* STEP_TASK: its steps [from, to) in the book */
    double takes_s, start_s;
    struct str why;             /* why it is in the round: "due 4 Sep (50 h)" */
    const struct desk_due *due; /* may be null */
};
struct desk_round_left { /* left for another time, or impossible */
    struct str label, why;
};
struct desk_round {
    const struct desk_machine *machine;
    struct str title;
    const struct desk_round_step *steps;
    size_t n;
    double total_s, moves_s, bound_s;
    bool proven;
    const struct desk_round_left *left;
    size_t n_left;
    const int *tasks; /* distinct tasks in it */
    size_t n_tasks;
};
/* The fastest safe order, replayed against the book's rules before it is handed out. ERR_REFUSED names the points that
 * can't be reached or whose rules contradict each other. An empty scope (nothing due) gives n = 0. */
bool desk_round(struct desk *d, const struct desk_round_ask *ask, struct arena *a, struct desk_round *out,
                struct err *e);

struct desk_kit_line {
    struct str label, number, instead_of, quantity, note;
};
struct desk_kit {
    const struct desk_kit_line *parts, *fluids, *torques;
    size_t n_parts, n_fluids, n_torques;
    const struct str *waste, *tools, *equipment;
    size_t n_waste, n_tools, n_equipment;
};
bool desk_kit_of_round(struct desk *d, const struct desk_round *round, struct arena *a, struct desk_kit *out,
                       struct err *e);

/* The document that the printing program reads (docs/print.md). paper: "A4", "Letter" or empty for the depot's setting.
 */
bool desk_print_round(struct desk *d, const struct desk_round *round, struct str paper, struct text *out,
                      struct err *e);
bool desk_print_labels(struct desk *d, const struct str *machines, size_t n, struct str paper, struct text *out,
                       struct err *e);

/* Runs the printing program over a document. format: "pdf", "png", "svg". `said` is what it had to say (a missing
 * glyph), empty when nothing. Errors: ERR_MISSING it is not installed; ERR_SYSTEM; ERR_INTERNAL with its words. */
bool desk_print(struct str document, const char *format, struct arena *a, struct str *out, struct str *said,
                struct err *e);

/* A drawing of the machine's book, as it was kept with the edition. figure: its name in the book. Errors: ERR_MISSING
 * no such machine or drawing, with the nearest. */
bool desk_figure(struct desk *d, struct str machine, struct str figure, struct arena *a, const char **media_type,
                 struct str *data, struct err *e);

/* What applies to one serial number, fit for a parts counter: see desk_card_json. */
void desk_card_json(struct json *j, struct desk *d, const struct desk_machine *m);

/* ---- Feeds ------------------------------------------------------------------------------------------------------ */

struct desk_feed_ask {
    struct str name, data;      /* the file */
    struct str machine;         /* bus: whose recording it is */
    bool take;                  /* false = dry run */
    bool skip_refused;          /* take the rest although some lines are refused */
    const char *const *options; /* "dates=day-first", "column=meaning" ... ended by null; may be null */
    struct str by;
};
struct desk_feed_line {
    enum { LINE_TAKE, LINE_DOUBT, LINE_REFUSE, LINE_KNOWN, LINE_SKIP } word;
    uint32_t line;
    struct str machine, says, why;
};
struct desk_feed_report {
    const struct desk_feed_line *at;
    size_t n;
    size_t take, doubt, refuse, known, skip;
    size_t added;     /* entries written */
    struct str about; /* what the file was taken for: encoding, separator, columns; frames, seconds */
};
bool desk_feed_csv(struct desk *d, const struct desk_feed_ask *ask, struct arena *a, struct desk_feed_report *out,
                   struct err *e);
bool desk_feed_bus(struct desk *d, const struct desk_feed_ask *ask, struct arena *a, struct desk_feed_report *out,
                   struct err *e);

/* Keeps a table of bus signals of the depot's own (columns as in src/feed/data), which adds to the one built in or puts
 * a row in its place. Findings name wrong cells; with an error among them nothing is kept. *added: signals that are
 * new. */
bool desk_signals_take(struct desk *d, const char *path, struct diags *findings, size_t *added, struct err *e);

/* ---- JSON ------------------------------------------------------------------------------------------------------- */

void desk_today_json(struct json *j, struct desk *d, const struct desk_today_list *list);
void desk_machines_json(struct json *j, struct desk *d, const struct desk_machine *at, size_t n);
bool desk_machine_json(struct json *j, struct desk *d, const struct desk_machine *m, struct arena *a, struct err *e);
void desk_backtest_json(struct json *j, const struct backtest *b);
void desk_why_json(struct json *j, const struct desk_why *why);
void desk_round_json(struct json *j, struct desk *d, const struct desk_round *round, const struct desk_kit *kit);
void desk_kit_json(struct json *j, const struct desk_kit *kit);
void desk_feed_json(struct json *j, const struct desk_feed_report *report);
void desk_entry_json(struct json *j, struct desk *d, const struct entry *entry);

#endif
