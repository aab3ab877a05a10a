/* Books for readers and keepers: what applies to one serial number as one document, a book's text, checking and taking
 * an edition that comes as text, comparing editions. */
#ifndef WITMARK_DESK_MANUAL_H
#define WITMARK_DESK_MANUAL_H

#include "desk.h"

/* Everything the book says of one machine (docs/json.md, "book of a machine"): enough to work without a network. A
 * measured checkpoint has a member `judge`: the lines of the flat question "judge" but for the reading itself
 * (src/core/wasm/flat.h). Errors: ERR_MISSING no such machine, or no book for it. */
bool desk_machine_book_json(struct json *j, struct desk *d, struct str machine, struct err *e);

/* [{book, title, maker, edition, hash, kept, present, machines}], oldest first. */
bool desk_books_json(struct json *j, struct desk *d, struct err *e);

/* An edition's text. edition: "sha256:...", the edition's own name, or empty for the present one. Errors: ERR_MISSING
 * with the nearest. */
struct desk_book_text {
    struct str hash, edition, name, text;
};
bool desk_book_text(struct desk *d, struct str book, struct str edition, struct arena *a, struct desk_book_text *out,
                    struct err *e);

/* Checks a text without keeping it. Drawings are those that were kept with any edition of the book. */
bool desk_book_check_text(struct desk *d, struct str text, struct str name, struct diags *findings, struct err *e);
/* Checks and keeps a text as the new edition of `book` with the drawings of its earlier editions. Errors: ERR_INPUT the
 * checker found errors (see findings), or the text is of another book; ERR_CONFLICT the present edition is not
 * `based_on` ("sha256:...", empty = do not look): somebody else was faster. */
bool desk_book_take_text(struct desk *d, struct str book, struct str text, struct str by, struct str based_on,
                         struct diags *findings, struct log_hash *edition, struct err *e);

/* What differs between two editions, named as in desk_book_text: [{section, name, what, before, after, from, to,
 * options}]. Errors: as there; ERR_CONFLICT. */
bool desk_book_diff_json(struct json *j, struct desk *d, struct str book, struct str from, struct str to,
                         struct err *e);

/* {errors, left_out, findings: [{level, file, line, column, rule, what, right, excerpt}]} */
void desk_findings_json(struct json *j, const struct diags *d);

#endif
