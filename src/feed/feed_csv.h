/* A spreadsheet saved as text (CSV), read as people really have it, turned into a plan of what the log would get.
 *
 * The reader knows nothing of the store: the caller hands in the file's bytes, the machines it knows with the names of
 * their checkpoints, tasks and parts, and a question "is this import key already in the log?". What comes back is a
 * plan: proposals, each to be taken, doubtful (and why; it is still taken), already known, or refused (why, and what
 * would be right), each with line and column of the cell it comes from. A dry run prints the plan. Taking is all or
 * nothing: the caller appends every proposal that is FEED_CSV_TAKE or FEED_CSV_DOUBTFUL in one transaction when
 * plan->may_take.
 *
 * The same file twice adds nothing, nor does the same table saved with another encoding, separator, quoting, order of
 * rows or columns, or style of dates and numbers: import_key is a hash of what a proposal means, not of how it was
 * written. (Only a cell left blank to mean the row above needs the rows in their order; that is said of each.)
 *
 * Quoting after RFC 4180; lines may also end in CR or LF alone, and the separator may be comma, semicolon, tab or bar.
 * Positions: line from 1 as an editor counts them (line ends inside quotes count), column in characters from 1.
 */
#ifndef WITMARK_FEED_CSV_H
#define WITMARK_FEED_CSV_H

#include "base/date.h"
#include "base/err.h"
#include "base/json.h"
#include "quantity/quantity.h"

#include <stdbool.h>

#define FEED_CSV_BYTES_MAX \
    ((size_t)16 << 20) /* a quarter of a million rows; a plan takes about 60 times as much memory */
#define FEED_CSV_COLUMNS_MAX 512

/* ---- what is handed in ---- */

/* What a name of a service book stands for; bits, so that a search can ask for several. */
enum feed_csv_name_kind {
    FEED_CSV_NAME_MEASURE = 1, /* a checkpoint that is measured */
    FEED_CSV_NAME_LOOK = 2,    /* a checkpoint that is looked at */
    FEED_CSV_NAME_TASK = 4,
    FEED_CSV_NAME_PART = 8 /* label holds its words, number its part number */
};
struct feed_csv_name {
    enum feed_csv_name_kind kind;
    struct str name, label;  /* "change-engine-oil", "Change the engine oil" */
    struct str number;       /* of a part; else empty */
    const struct unit *unit; /* in which the book states the limits of a measured checkpoint; null = not said */
};

/* A machine the depot knows. Machines of one book may share `names`. */
struct feed_csv_machine {
    struct str serial, label, book;
    double meter_h; /* last reading of its hour meter and its day; DAY_NONE = none */
    day_t meter_day;
    const struct feed_csv_name *names;
    size_t n_names;
};

#define CSV_ENCODINGS(X)                     \
    X(CSV_ENCODING_FIND, "find")             \
    X(CSV_UTF8, "UTF-8")                     \
    X(CSV_UTF16LE, "UTF-16 (little endian)") \
    X(CSV_UTF16BE, "UTF-16 (big endian)")    \
    X(CSV_WINDOWS1252, "Windows-1252 (Latin-1)")
enum csv_encoding {
#define X(symbol, word) symbol,
    CSV_ENCODINGS(X)
#undef X
};
/* Order of day, month and year in dates of three numbers. */
#define CSV_DATE_ORDERS(X)            \
    X(CSV_DATES_FIND, "find")         \
    X(CSV_DAY_FIRST, "day-first")     \
    X(CSV_MONTH_FIRST, "month-first") \
    X(CSV_ISO, "iso")
enum csv_dates {
#define X(symbol, word) symbol,
    CSV_DATE_ORDERS(X)
#undef X
};
#define CSV_DECIMAL_SIGNS(X)     \
    X(CSV_DECIMALS_FIND, "find") \
    X(CSV_POINT, "point")        \
    X(CSV_COMMA, "comma")
enum csv_decimals {
#define X(symbol, word) symbol,
    CSV_DECIMAL_SIGNS(X)
#undef X
};
/* The enum of that word; false when there is none. */
bool csv_dates_parse(struct str word, enum csv_dates *dates);
bool csv_decimals_parse(struct str word, enum csv_decimals *decimals);
/* utf-8, utf-16le, utf-16be, windows-1252 or latin-1. */
bool csv_encoding_parse(struct str word, enum csv_encoding *encoding);
/* comma, semicolon, tab, bar, or the character itself. */
bool csv_separator_parse(struct str word, char *separator);

/* "column=meaning": column is the header's text, or the column's number from 1; meaning one of CSV_MEANINGS
 * (feed_csv_meanings lists them) or the name of a checkpoint or task. */
struct feed_csv_mapping {
    struct str column, meaning;
};
/* Splits "column=meaning" at the last '='. Errors: ERR_USAGE naming what is missing or the nearest meaning. */
bool feed_csv_mapping_parse(struct str option, struct feed_csv_mapping *mapping, struct err *e);
/* The words a mapping can use, as one line for help. */
const char *feed_csv_meanings(void);

struct feed_csv_options {
    enum csv_encoding encoding;
    char separator; /* 0 = find */
    enum csv_dates dates;
    enum csv_decimals decimals;
    const struct feed_csv_mapping *mappings;
    size_t n_mappings;
    struct str machine; /* serial or label of the one machine the file is about; empty = a column says */
    bool skip_refused;  /* take the rest although something is refused */
};

struct feed_csv_input {
    struct str name; /* of the file, for positions */
    struct str bytes;
    struct feed_csv_options options;
    const struct feed_csv_machine *machines;
    size_t n_machines;
    day_t today; /* later dates are doubtful; DAY_NONE = not known */
    /* Minutes east of UTC on the depot's clock at that civil day and minute; null = UTC. */
    int (*zone)(void *ctx, day_t day, int minute);
    /* Whether the log holds that import key; null = it holds nothing. */
    bool (*known)(void *ctx, struct str import_key);
    void *ctx;
};

/* ---- what comes back ---- */

#define FEED_CSV_KINDS(X)                                                                               \
    X(FEED_CSV_ROW, "row") /* only refused: a row of which not even the machine or the date is clear */ \
    X(FEED_CSV_METER, "meter")                                                                          \
    X(FEED_CSV_READING, "reading")                                                                      \
    X(FEED_CSV_FOUND, "found")                                                                          \
    X(FEED_CSV_DONE, "done")                                                                            \
    X(FEED_CSV_FAULT, "fault-seen")                                                                     \
    X(FEED_CSV_PART, "part-used")                                                                       \
    X(FEED_CSV_NOTE, "note")
enum feed_csv_kind {
#define X(symbol, word) symbol,
    FEED_CSV_KINDS(X)
#undef X
};
#define FEED_CSV_MARKS(X)                                                                              \
    X(FEED_CSV_TAKE, "take")                                                                           \
    X(FEED_CSV_DOUBTFUL, "doubtful") /* taken; `why` says what to look at */                           \
    X(FEED_CSV_KNOWN, "known")       /* in the log already, or said by an earlier row: adds nothing */ \
    X(FEED_CSV_REFUSED, "refused")
enum feed_csv_mark {
#define X(symbol, word) symbol,
    FEED_CSV_MARKS(X)
#undef X
};
const char *feed_csv_kind_text(enum feed_csv_kind kind);
const char *feed_csv_mark_text(enum feed_csv_mark mark);

struct feed_csv_proposal {
    enum feed_csv_kind kind;
    enum feed_csv_mark mark;
    struct where where;      /* the cell */
    int machine;             /* index into the input's machines; -1 only when refused */
    day_t day;               /* civil date at the depot; DAY_NONE only when refused */
    int minute;              /* minutes after midnight; -1 = the file gives no time */
    instant_ms at;           /* the same as an instant; noon of the day when there is no time */
    struct str name;         /* checkpoint, task, part as the book names it; empty = none */
    double value;            /* in `unit`; hours of a meter, pieces of a part; NAN = none */
    const struct unit *unit; /* of a reading; null = a bare number (meters are in hours, parts in pieces) */
    struct str text;         /* words of a finding, note, fault; the cell as written when refused */
    int spn, fmi;            /* of a fault, when written; else -1 */
    double meter_h;          /* hour meter in the same row; NAN = none */
    double labour_min;       /* minutes of work in the same row, of a task done; NAN = none */
    struct str by, note;     /* who, and what else the row says */
    struct str import_key;   /* 32 hexadecimal digits; empty when refused */
    const struct diag *why;  /* doubts or refusals */
    size_t n_why;
    bool asks; /* an option would settle one of the doubts (order of dates, decimal sign) */
};

struct feed_csv_column {
    struct str header;   /* as written, blanks trimmed */
    const char *meaning; /* a word of CSV_MEANINGS; "named" when its header names a checkpoint or task */
    struct where where;
    enum csv_dates dates;       /* of a date column, as found or told */
    enum csv_decimals decimals; /* of a column with numbers */
    const struct unit *unit;    /* from the header; null = none there */
};

struct feed_csv_plan {
    struct str name;
    enum csv_encoding encoding;
    char separator;
    uint32_t header_line; /* 0 = none */
    size_t rows;          /* rows below the header that hold something */
    size_t skipped;       /* of these: summary lines, repeated headers, lines of text */
    const struct feed_csv_column *columns;
    size_t n_columns;
    const struct feed_csv_proposal *proposals; /* by line, then in the order of reading */
    size_t n_proposals;
    size_t count[4];       /* proposals by mark */
    size_t asks;           /* proposals whose doubt an option would settle: ask before taking */
    struct diags findings; /* about the file as a whole: what was found, skipped, left out */
    bool broken;           /* the text itself is damaged (a quote is never closed): nothing can be taken */
    bool may_take;         /* not broken, something to take, and nothing refused or skip_refused */
};

/* Reads the file and says what would be taken. The plan and its texts live in `a` and borrow from the input.
 * Null with err (ERR_INPUT with position, ERR_USAGE for options) when there is nothing to plan: not a text, no header,
 * no column for the date, no machine. Cost: linear in the file but for the search of names, which is remembered. */
const struct feed_csv_plan *feed_csv_plan(struct arena *a, const struct feed_csv_input *in, struct err *e);

/* The plan as people read it: what the file is, how its columns were understood, then every proposal that is not a
 * plain take (each reason once; all of them when `all`), and the count. */
void feed_csv_print(struct text *t, const struct feed_csv_input *in, const struct feed_csv_plan *plan, bool all);
/* The same as members of an open JSON object. */
void feed_csv_json(struct json *j, const struct feed_csv_input *in, const struct feed_csv_plan *plan);

/* ---- writing ---- */

/* One field of a CSV row after RFC 4180: quoted when it holds the separator, a quote or a line end. Text that a
 * spreadsheet would run as a formula (it starts with = + - @, tab or carriage return) gets an apostrophe in front,
 * which feed_csv_plan takes off again. Numbers go through csv_write_number, which leaves their sign alone. */
void csv_write_field(struct text *t, struct str field, char separator);
void csv_write_number(struct text *t, double value);
void csv_write_end(struct text *t); /* CR LF */

#endif
