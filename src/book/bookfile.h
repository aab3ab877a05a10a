/* Service books: from the YAML text of a model family to what applies to one serial number, with every doubt said.
 *
 * How a book is written is told in docs/book.md. The keys stand in one table (keys.c) from which come reading, the
 * findings about unknown keys, the JSON Schema for editors, the tables of docs/book.md and the comparing of books.
 *
 * Reading never ends the process and never hangs on any bytes: the text is at most BOOKFILE_BYTES_MAX long and nested
 * at most BOOKFILE_DEPTH_MAX deep, without anchors, aliases, tags or a second document. Columns count characters
 * from 1.
 *
 * What is returned lives in the arena that was handed in; a book file borrows its text, a resolved book its book file.
 */
#ifndef WITMARK_BOOKFILE_H
#define WITMARK_BOOKFILE_H

#include "base/err.h"
#include "base/text.h"
#include "book/book.h"

#include <stdbool.h>
#include <stdint.h>

#define BOOKFILE_BYTES_MAX (4U << 20)
#define BOOKFILE_DEPTH_MAX 64
#define BOOKFILE_OPTIONS_MAX 32

/* Words of the findings, what they mean. The word is struct diag's `rule`. */
#define BOOKFILE_RULES(X)                                                                                         \
    X(RULE_SYNTAX, "syntax",                                                                                      \
      "the text is no YAML, or uses what a book may not use (anchors, tags, a second document)")                  \
    X(RULE_SIZE, "size", "too long, too deep or too many of something")                                           \
    X(RULE_DUPLICATE_KEY, "duplicate-key", "the same key or mark number twice in one mapping")                    \
    X(RULE_UNKNOWN_KEY, "unknown-key", "a key that a book does not have here")                                    \
    X(RULE_MISSING_KEY, "missing-key", "a key that must be there is not")                                         \
    X(RULE_TOO_MANY_KEYS, "one-of", "exactly one of several keys must be there")                                  \
    X(RULE_SHAPE, "shape", "a list where a text belongs, a mapping where a list belongs ...")                     \
    X(RULE_EMPTY, "empty", "a key without a value, a list without items")                                         \
    X(RULE_WORD, "word", "not one of the words that may stand here, or no proper name")                           \
    X(RULE_NUMBER, "number", "no number, or a number out of its range")                                           \
    X(RULE_QUANTITY, "quantity", "no quantity that can be read: number or unit")                                  \
    X(RULE_QUANTITY_KIND, "quantity-kind", "a unit of another kind: a torque in bar")                             \
    X(RULE_INTERVAL, "interval", "an interval of nothing, or a first interval longer than the regular one")       \
    X(RULE_LIMITS, "limits", "limits the wrong way round, the wanted value outside, limits outside the gauge")    \
    X(RULE_ALSO_READ, "also-read", "a reading that needs a correction does not say what else to read")            \
    X(RULE_SERIALS, "serials", "serial numbers that do not fit the pattern or the range of the book")             \
    X(RULE_OPTION, "option", "an option that the book does not declare")                                          \
    X(RULE_GAP, "gap", "no variant applies to a serial number and its options")                                   \
    X(RULE_OVERLAP, "overlap", "two variants apply to a serial number and its options")                           \
    X(RULE_UNREACHABLE, "unreachable-variant", "a variant that never applies")                                    \
    X(RULE_DANGLING, "dangling", "a name that nothing has")                                                       \
    X(RULE_NOT_FITTED, "not-fitted", "a name of something that is not fitted on this machine")                    \
    X(RULE_UNUSED, "unused", "a name that nothing uses")                                                          \
    X(RULE_SUPERSESSION, "supersession", "part numbers that replace each other in a circle, or that have no end") \
    X(RULE_NOT_CLOSED, "not-closed", "something opened that nothing closes")                                      \
    X(RULE_NOT_OPENED, "not-opened", "something closed that nothing opened")                                      \
    X(RULE_WHILE_OPEN, "while-open", "a step that can't be done as long as something is open")                    \
    X(RULE_CONDITION, "condition", "a condition that the machine can't be brought into")                          \
    X(RULE_NO_WAY_BACK, "no-way-back", "a condition from which the machine can't be parked again")                \
    X(RULE_UNREACHABLE_CHANGE, "unreachable-change", "a change that can never be made")                           \
    X(RULE_NEVER, "never", "a change that leads to a combination that must never be")                             \
    X(RULE_CAUTION, "caution", "a caution without signal word or with too many words to be read in time")         \
    X(RULE_UNDO, "undo", "a recovery step that opens something has no words for the way back")                    \
    X(RULE_ORDER, "order", "things that come before each other in a circle")                                      \
    X(RULE_FIGURE, "figure", "a drawing that is not there, a mark that it has not")                               \
    X(RULE_EXHAUST, "exhaust", "the exhaust filter's loads do not rise, its duties, burn or ash data do not fit") \
    X(RULE_NEVER_DUE, "never-due", "a checkpoint that no interval and no service ever asks for")                  \
    X(RULE_TRACE, "trace", "a symptom that no cause shows, a fault code that can't be read")                      \
    X(RULE_NOT_PROVED, "not-proved", "too many combinations to prove them all")

enum bookfile_rule {
#define X(symbol, word, line) symbol,
    BOOKFILE_RULES(X)
#undef X
        RULE_COUNT
};

/* A book file that was read. */
struct bookfile;

/* What the head of a book says; all borrowed from the book file. */
struct bookfile_head {
    struct str id, title, maker, edition;
    struct str hash;        /* "sha256:" and 64 hexadecimal digits, of the text */
    struct str file;        /* the name given to bookfile_read */
    struct str pattern;     /* "BR6-#####" */
    struct str first, last; /* serial numbers, inclusive; last is the pattern's end when the book says none */
    bool open_upwards;      /* the book names no last one */
    struct book_texts options, option_labels;
};

/* Reads the text. `name` is for findings (a file name). Findings of syntax, head, and of serials/with/without go to d;
 * null only when the text is no YAML mapping. A book with an error can still be checked, but not resolved. */
struct bookfile *bookfile_read(struct str text, struct str name, struct arena *a, struct diags *d);

const struct bookfile_head *bookfile_head(const struct bookfile *bf);

/* A serial number as people type it, brought to the book's pattern. */
struct bookfile_serial {
    struct str serial; /* as the pattern writes it */
    uint32_t number;   /* its counted part */
    struct str note;   /* what was put right: "leading zeros added"; empty when nothing */
};

/* Accepts lower case, blanks, missing hyphens, lost leading zeros and the bare counted number, each with a note.
 * Errors: ERR_INPUT when it does not fit the pattern, ERR_MISSING when it is outside the book's range. */
bool bookfile_serial_normalise(const struct bookfile *bf, struct str text, struct arena *a, struct bookfile_serial *out,
                               struct err *e);

/* What applies to that serial number (normalised here too) with those options: exactly one variant of everything.
 * Errors: as above; ERR_INPUT with the place in the book file when the book is wrong there; ERR_USAGE for an option
 * that the book does not have or does not allow there. */
bool bookfile_resolve(const struct bookfile *bf, struct str serial, struct book_texts options, struct arena *a,
                      struct book *out, struct err *e);

/* Whether a file that the book names (relative to it) is there. A null pointer: nobody looks. */
struct bookfile_folder {
    bool (*exists)(void *ctx, struct str name);
    void *ctx;
};

/* Proves the book for every serial number of its range and every set of options that matters. All findings go to d,
 * each once, sorted by place; where one depends on the machine it names the first serial number and options that fail.
 * Without an error among them bookfile_resolve succeeds for every serial number and every allowed set of options,
 * unless a finding not-proved says that there were too many sets. Scratch memory is taken from and given back to a, so
 * folder's function may take from a only what it does not keep. */
void bookfile_check(const struct bookfile *bf, struct bookfile_folder folder, struct arena *a, struct diags *d);

/* One machine class that resolves alike: from this serial number to the next class's, with these options. */
struct bookfile_class {
    struct str first, last;
    struct book_texts options;
};
/* Every serial interval at whose ends anything in the book changes, ascending, without regard to options. */
const struct bookfile_class *bookfile_serial_classes(const struct bookfile *bf, struct arena *a, size_t *n);

/* What differs between two books, in the words of the book. */
struct book_difference {
    struct str section;        /* "fluids" */
    struct str name;           /* "Hydraulic oil"; empty for the head of the book */
    struct str what;           /* "capacity"; empty when the thing as a whole came or went */
    struct str before, after;  /* as written; empty = was not, is not there */
    struct str from, to;       /* serial numbers for which it holds; empty = all that were compared */
    struct book_texts options; /* fitted; only filled when the difference needs them */
};
struct book_differences {
    struct book_difference *at;
    size_t n, cap;
};

/* Between any two resolved books: two editions for one machine, two machines of one edition. Ordered as the book is. */
struct book_differences bookfile_diff_machines(const struct book *before, const struct book *after, struct arena *a);

/* Along the serial line of one book with these options: at each number where something changes, what changes from there
 * on
 * (`from` set). Errors: as bookfile_resolve. */
bool bookfile_diff_serials(const struct bookfile *bf, struct book_texts options, struct arena *a,
                           struct book_differences *out, struct err *e);

/* Between two editions of one book, over every serial number and option set that either knows; a difference that holds
 * for all is said once. Errors: ERR_CONFLICT when id or serial pattern differ; as bookfile_resolve. */
bool bookfile_diff_editions(const struct bookfile *before, const struct bookfile *after, struct arena *a,
                            struct book_differences *out, struct err *e);

/* As people read it, grouped by serial number, section and thing. */
void text_book_differences(struct text *t, const struct book_differences *d);

/* The JSON Schema (draft 2020-12) of a book, for editors. */
void book_schema(struct text *t);
/* The tables of keys and rules in Markdown, for docs/book.md. */
void book_reference(struct text *t);

#endif
