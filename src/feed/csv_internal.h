/* Shared by the files of the spreadsheet reader; see feed_csv.h for what it does.
 *
 *   csv_decode.c   bytes -> UTF-8                      csv_split.c   text -> rows of cells with positions
 *   csv_words.c    words of headers and of the trade   csv_value.c   numbers, dates, times in a cell
 *   csv_column.c   what a column means, and how its numbers and dates are written
 *   csv_machine.c  which machine a cell means          csv_match.c   which checkpoint, task, part words mean
 *   csv_row.c      one row: machine and date           csv_entry.c   what its cells say
 *   csv_meter.c    meters held against each other      csv_plan.c    the whole, import keys
 *   csv_show.c     printing, JSON                      csv_write.c   writing
 */
#ifndef WITMARK_CSV_INTERNAL_H
#define WITMARK_CSV_INTERNAL_H

#include "base/map.h"
#include "feed_csv.h"

/* ---- cells ---- */

struct csv_cell {
    struct str text; /* unquoted, without blanks around it */
    uint32_t line, column;
    bool guarded; /* an apostrophe said that it is text, though it looks like a formula */
};
struct csv_row {
    size_t first; /* index of its first cell */
    size_t n;     /* cells, at least 1: blank lines make no row */
    uint32_t line;
};
struct csv_table {
    struct csv_cell *cells;
    size_t n_cells, cap_cells;
    struct csv_row *rows;
    size_t n_rows, cap_rows;
    uint32_t open_line, open_column; /* of a quote that is never closed; 0 = none */
    size_t n_blank;                  /* blank lines */
    uint32_t first_blank;
};

/* The bytes as UTF-8, without a byte order mark. What was guessed or damaged is said in `findings`.
 * Errors: ERR_INPUT when it is no text, or a spreadsheet's own file. */
bool csv_decode(struct arena *a, const struct feed_csv_input *in, struct str *text, enum csv_encoding *encoding,
                struct diags *findings, struct err *e);

/* Splits valid UTF-8 into rows and cells, at most `most` rows. Lines without any character but blanks make no row. */
struct csv_table csv_split(struct arena *a, struct str text, char separator, size_t most);

bool csv_is_among(char c, struct str set);

/* A "sep=;" line at the top, as some spreadsheets write it: the separator, with *skip bytes to leave out; else 0. */
char csv_told_separator(struct str text, size_t *skip);

/* ---- words ---- */

#define CSV_MEANINGS(X)             \
    X(CSV_UNKNOWN, "unknown")       \
    X(CSV_LEAVE_OUT, "leave-out")   \
    X(CSV_DATE, "date")             \
    X(CSV_TIME, "time")             \
    X(CSV_MACHINE, "machine")       \
    X(CSV_METER, "meter")           \
    X(CSV_CHECKPOINT, "checkpoint") \
    X(CSV_VALUE, "value")           \
    X(CSV_UNIT, "unit")             \
    X(CSV_DONE, "done")             \
    X(CSV_FOUND, "found")           \
    X(CSV_FAULT, "fault")           \
    X(CSV_PART, "part")             \
    X(CSV_QUANTITY, "quantity")     \
    X(CSV_LABOUR, "labour")         \
    X(CSV_BY, "by")                 \
    X(CSV_NOTE, "note")             \
    X(CSV_NAMED, "named")
enum csv_meaning {
#define X(symbol, word) symbol,
    CSV_MEANINGS(X)
#undef X
};
const char *csv_meaning_text(enum csv_meaning m);
bool csv_meaning_parse(struct str word, enum csv_meaning *m);

/* Lower case without accents, everything that is no letter or digit one blank; "Zähler-Stand (h)" -> "zahler stand h".
 */
struct str csv_fold(struct arena *a, struct str s);
/* What a header's words (folded) say; *exact when they are all of a phrase. CSV_UNKNOWN when they say nothing. */
enum csv_meaning csv_header_meaning(struct str folded, bool *exact);
bool csv_is_summary_word(struct str folded); /* starts with total, Summe, promedio, moyenne ... */
bool csv_is_spreadsheet_error(struct str s); /* #REF!, #N/A, #WERT!, ###### */
bool csv_is_nothing(struct str s);           /* "", "-", "n/a", "." : nobody read it */
/* yes, x, done, ja, oui ...: 1; no, nein, 0 ...: 0; anything else: -1 */
int csv_is_tick(struct arena *scratch, struct str s);
bool csv_says_not(struct str folded);      /* holds a word by which work was not done: not, nicht, due, pendiente ... */
bool csv_is_hours_word(struct str folded); /* h, hrs, Std, horas, heures */
int csv_month_word(struct str folded);     /* 1..12, 0 = none */
bool csv_is_weekday_word(struct str folded);

/* Up to CSV_CONCEPTS words of a text, each brought to one English word of the trade ("Ölwechsel" -> oil, change),
 * sorted, without repeats, numbers and filler words. */
#define CSV_CONCEPTS 24
struct csv_concepts {
    struct str at[CSV_CONCEPTS];
    int n;
    int unknown; /* how many are words of no table */
};
struct csv_concepts csv_concepts(struct arena *a, struct str text);

/* ---- values ---- */

/* Nothing but ASCII digits, and at least one. */
bool csv_is_digits(struct str s);

/* How the written form of one number speaks about its decimal sign. */
enum csv_number_form {
    CSV_NUMBER_NONE,  /* no number here */
    CSV_NUMBER_PLAIN, /* digits only: no sign to tell */
    CSV_NUMBER_POINT, /* only readable with a decimal point */
    CSV_NUMBER_COMMA,
    CSV_NUMBER_EITHER, /* "1,234": thousands or decimals */
    CSV_NUMBER_BAD     /* "1,23,4" */
};
/* Looks at the number at the start of s; *span is its length, also when bad. */
enum csv_number_form csv_number_form(struct str s, size_t *span);
/* Its value, read with that decimal sign (a form that speaks for itself is read as it is). False when bad or too large.
 */
bool csv_number_read(struct arena *scratch, struct str number, enum csv_decimals decimals, double *value);

/* A date as written, before the order of its numbers is decided. */
struct csv_date {
    bool ok;
    bool numbers;    /* three numbers whose order must be decided: g[] in the order written */
    bool two_digits; /* of the year */
    bool day_number; /* a spreadsheet's own day count */
    char mark;       /* between the numbers */
    int g[3];
    struct civil civil; /* when !numbers */
    int minute;         /* -1 = no time */
    bool has_offset;    /* an offset from UTC was written: offset_min */
    int offset_min;
    bool bad_time; /* something follows that is no time */
    bool no_year;  /* "3.4." */
};
struct csv_date csv_date_read(struct arena *scratch, struct str s);
/* The civil date in that order (CSV_DAY_FIRST, CSV_MONTH_FIRST, CSV_ISO); false when there is no such date. */
bool csv_date_in_order(const struct csv_date *d, enum csv_dates order, day_t *day);
/* Minutes after midnight: "14:30", "2:30 pm", "14h30", "14.30 Uhr". False when it is none. */
bool csv_time_read(struct arena *scratch, struct str s, int *minute);

/* ---- columns ---- */

struct csv_column {
    struct feed_csv_column is;
    enum csv_meaning meaning;
    struct str words;    /* header without its unit, folded */
    struct str name;     /* when a mapping names a checkpoint or task: that name; else empty */
    bool said;           /* that it is left out, or what it means, by an option */
    bool dates_asked;    /* no value settles the order: *order is a guess */
    bool decimals_asked; /* no value settles the decimal sign */
};

/* ---- the whole reading ---- */

/* The best of a machine's names for some words. */
struct csv_found_name {
    int index;    /* into the machine's names; -1 = none fits */
    int other;    /* one that fits as well or nearly; -1 = none */
    double score; /* how well it fits, to 1 */
    bool sure;    /* says the same, and nothing else does */
    bool tie;     /* index is one of several that fit equally */
};

/* Ways to read a cell as a machine, from strict to loose: the serial number itself, the label, a serial number among
 * other words, without marks between letters and digits, without leading zeros, without both, the last number alone. */
enum csv_machine_reading {
    READ_SERIAL,
    READ_LABEL,
    READ_INSIDE,
    READ_BARE,
    READ_ZEROS,
    READ_JOINED,
    READ_NUMBER,
    READINGS
};

struct csv_found_machine {
    int index; /* -1 = none */
    bool exact;
    struct str why_not; /* what is wrong, when none */
    struct str right;
};

struct csv_reading {
    struct arena *a;
    struct arena *scratch; /* emptied after every row */
    const struct feed_csv_input *in;
    struct feed_csv_plan *plan;
    struct str text;
    struct csv_table table;
    struct csv_column *columns;
    size_t n_columns;
    size_t header; /* index of the header row; rows after it are data */
    bool has_header;
    bool has_units_row; /* the row below the header holds the units of the columns */
    int only_machine;   /* the file is about this one; -1 = a column says */
    bool only_machine_doubtful;
    struct csv_above { /* the last row that was read well, for cells left blank below it */
        int machine;   /* -1 = none */
        day_t day;     /* DAY_NONE = none */
        uint32_t line;
    } above;
    struct feed_csv_proposal *proposals;
    size_t n_proposals, cap_proposals;
    struct map machines_by[READINGS]; /* what the machines are called under a reading -> one or two of them */
    struct map machines;              /* remembered: cell text -> index into found_machines */
    struct csv_found_machine *found_machines;
    size_t n_found_machines, cap_found_machines;
    struct map names; /* remembered: book, kinds, text -> index into found_names */
    struct csv_found_name *found_names;
    size_t n_found_names, cap_found_names;
    const struct csv_concepts **concepts; /* [machine]: of its names, two each: name, label */
    struct map keys;                      /* import key -> index of the proposal */
};

struct where csv_where(const struct csv_reading *r, uint32_t line, uint32_t column);
/* Pieces joined in the arena, ended by a null pointer. */
struct str csv_say(struct arena *a, const char *first, ...);

/* Chooses separator and header row, and says what each column means. */
bool csv_columns_find(struct csv_reading *r, struct err *e);
/* The first row of data. */
size_t csv_first_data(const struct csv_reading *r);
/* Decides, from every value of the column, how dates and numbers are written. */
void csv_columns_decide(struct csv_reading *r);

/* Lists what every machine is called. Must come before csv_find_machine. */
void csv_machines_prepare(struct csv_reading *r);
/* Takes the words of every name apart, once. Must come before csv_find_name. */
void csv_names_prepare(struct csv_reading *r);
struct csv_found_machine csv_find_machine(struct csv_reading *r, struct str cell);
struct csv_found_name csv_find_name(struct csv_reading *r, int machine, struct str words, unsigned kinds);
/* Whether the header words name a checkpoint or task of any known machine well enough for a column. */
bool csv_names_something(struct csv_reading *r, struct str words);

/* ---- one row ---- */

/* What is known of the row while its cells are read. */
struct csv_line {
    struct csv_reading *r;
    const struct csv_row *cells;
    int machine;
    day_t day;
    int minute;
    instant_ms at;
    struct feed_csv_proposal doubts; /* collects the doubts of the row as a whole; copied into each proposal */
    double meter_h, labour_min;
    struct str by;
    struct text note;
    struct where note_where;
    size_t first; /* its first proposal */
};

/* Proposals of one row. */
void csv_row_read(struct csv_reading *r, size_t row);
/* Proposals of what its cells say; machine and date are known. */
void csv_entries_read(struct csv_line *w);

/* The row's cell in a column; null when the row is shorter. */
const struct csv_cell *csv_cell_of(const struct csv_line *w, size_t column);
/* The first cell of that meaning with something in it; null when there is none. */
const struct csv_cell *csv_cell_meaning(const struct csv_line *w, enum csv_meaning m, size_t *column);
struct where csv_where_cell(const struct csv_reading *r, const struct csv_cell *cell);
/* A proposal with what the row says of all. */
struct feed_csv_proposal csv_begin(const struct csv_line *w, enum feed_csv_kind kind, const struct csv_cell *cell);
/* Keeps a proposal, with the doubts of its row. */
void csv_keep(struct csv_line *w, struct feed_csv_proposal p);
/* Refuses a cell that holds a spreadsheet's error or formula instead of a value. Returns whether it did. */
bool csv_refuse_broken(struct csv_line *w, enum feed_csv_kind kind, const struct csv_cell *cell, struct str name);
/* Whether no earlier row says the same. Holds once proposals have their import keys. */
bool csv_is_first(const struct csv_reading *r, size_t i);
/* Marks meters that go backwards or gain more than 24 hours a day. */
void csv_meters_check(struct csv_reading *r);

/* Adds a reason to a proposal and lets its mark follow. */
void csv_doubt(struct csv_reading *r, struct feed_csv_proposal *p, struct where where, const char *rule,
               struct str what, struct str right);
void csv_refuse(struct csv_reading *r, struct feed_csv_proposal *p, struct where where, const char *rule,
                struct str what, struct str right);

#endif
