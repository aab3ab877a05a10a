/* The document to print as plain data, and its reader. The members are those of docs/print.md, under the same names.
 * Texts are borrowed from the arena of the reader; a text that is missing is empty, a list that is missing has n = 0.
 */
#ifndef WITMARK_SHEET_DOCUMENT_H
#define WITMARK_SHEET_DOCUMENT_H

#include "base/arena.h"
#include "base/err.h"
#include "base/text.h"
#include "words.h"

#include <stdbool.h>

struct texts {
    struct str *at;
    size_t n;
};

/* Signal words of ANSI Z535.6 and ISO 3864-2: symbol, text, gravest first. */
#define CAUTION_LEVELS(X)       \
    X(LEVEL_DANGER, "DANGER")   \
    X(LEVEL_WARNING, "WARNING") \
    X(LEVEL_CAUTION, "CAUTION") \
    X(LEVEL_NOTICE, "NOTICE")

enum caution_level {
#define X(symbol, text) symbol,
    CAUTION_LEVELS(X)
#undef X
};

struct caution {
    enum caution_level level;
    struct str say;
};

struct cautions {
    struct caution *at;
    size_t n;
};

/* A place on a figure; without a figure the name is empty. */
struct figure_ref {
    struct str name;
    int mark; /* 0 = the figure as a whole */
};

/* The figures that are drawn to scale beside a reading, in its unit; NaN where there is none. */
struct gauge {
    double low, high, want, last;
};

/* Something to read besides, with what it is and its unit. */
struct blank {
    struct str name, unit;
};

struct reading {
    bool there;
    struct str measure, unit, limits, want, refer_to, last;
    struct gauge gauge;
    struct blank *also;
    size_t also_n;
};

/* One act of a task. */
struct act {
    struct str act, place, waste;
    struct cautions cautions;
    struct texts torques, tools, opens, closes;
    struct figure_ref figure;
};

/* Rows of a table: `rows` are printed, `blanks` more are left to be written by hand. */
struct sheet_table {
    struct str title;
    struct texts columns;
    struct texts *rows;
    size_t rows_n;
    int blanks;
};

enum step_type { STEP_CHANGE, STEP_CHECK, STEP_TASK };

/* One step of the round; which members count depends on its type. `label` holds the act of a change. */
struct step {
    enum step_type type;
    int number;
    struct str label, place, why;
    double takes_s; /* NaN = not known */
    struct cautions cautions;
    struct texts opens, closes, look, tools, parts, fluids, torques, waste;
    struct reading read;
    struct sheet_table *tables;
    size_t tables_n;
    struct act *acts;
    size_t acts_n;
    struct figure_ref figure;
};

struct mark {
    int number;
    struct str label;
    double x, y; /* parts of the figure's width and height from its upper left corner, 0 to 1 */
};

struct figure {
    struct str name, title, media_type, data;
    struct mark *marks;
    size_t marks_n;
};

struct machine {
    struct str label, title, maker, serial, hours, hours_on, site, edition, hash;
    struct texts options;
};

struct open_now {
    struct str label, since, by;
};

struct kit_part {
    struct str label, number, instead_of, quantity;
};

struct kit_fluid {
    struct str label, is, quantity;
};

struct kit_torque {
    struct str label, torque, note;
};

struct kit {
    struct kit_part *parts;
    struct kit_fluid *fluids;
    struct kit_torque *torques;
    size_t parts_n, fluids_n, torques_n;
    struct texts waste, tools, equipment;
};

struct put_back {
    struct str label;
    int opened_at, closed_at; /* step numbers; 0 = not in this round */
};

struct label {
    struct str label, title, serial, qr;
};

enum document_type { DOCUMENT_ROUND, DOCUMENT_LABELS, DOCUMENT_PLOTS };
enum document_paper { PAPER_A4, PAPER_LETTER, PAPER_A5, PAPER_LABEL };

struct document {
    enum document_type type;
    enum document_paper paper;
    struct words words;
    struct str depot, title, made, first_words, qr;
    struct machine machine;
    double total_s, moves_s, bound_s; /* NaN = not known */
    bool proven;
    struct cautions before;
    struct texts lockout, finish;
    struct open_now *open;
    size_t open_n;
    struct kit kit;
    struct step *steps;
    size_t steps_n;
    struct put_back *put_back;
    size_t put_back_n;
    struct figure *figures; /* of plots: the pictures themselves */
    size_t figures_n;
    /* labels */
    struct label *labels;
    size_t labels_n;
    double label_width_mm, label_height_mm;
    int skip; /* places of the first page that are used up */
};

/* Reads a document. Errors: ERR_INPUT with name, line and column. */
bool document_read(struct arena *a, struct str json, struct str name, struct document *d, struct err *e);

/* The place in valid JSON of the value that a path leads to, line and column from 1, columns in characters. The path is
 * a sequence of member names and, for items of arrays, indices; a null name marks an index. */
struct json_step {
    const char *key;
    size_t index;
};
struct where json_where(struct str json, struct str name, const struct json_step *path, size_t n);

const char *caution_level_text(enum caution_level level);

#endif
