/* Printed sheets and labels: one JSON document (docs/print.md) in, the bytes of a PDF, PNG or SVG out.
 *
 * Nothing is read besides the document and the fonts of the system, and nothing is written: the caller does that once
 * all bytes are there. The same document gives the same bytes on one installation (fonts and libraries alike).
 */
#ifndef WITMARK_SHEET_H
#define WITMARK_SHEET_H

#include "base/arena.h"
#include "base/err.h"
#include "base/text.h"

#include <stdbool.h>

enum sheet_format { SHEET_PDF, SHEET_PNG, SHEET_SVG };
enum sheet_paper { SHEET_PAPER_OF_DOCUMENT, SHEET_A4, SHEET_LETTER, SHEET_A5 };

struct sheet_options {
    enum sheet_format format;
    enum sheet_paper paper; /* overrules the document's own */
    int page;               /* which page a PNG or SVG shows, from 1 */
    double dots_per_inch;   /* of a PNG; 36 to 600 */
};

struct sheet_result {
    struct str bytes; /* the file, in the arena that was passed in */
    int pages;        /* of the whole document, whatever was drawn of it */
};

/* Prints the document `json`. `name` is what messages call it ("standard input", a file name).
 *   a         arena for the result
 *   warnings  doubts that leave the sheet usable: characters no font has, a figure that cannot be drawn, a step too
 *             tall for a page
 * Errors (ERR_INPUT with line and column): not JSON, a missing or misspelt member, a value of the wrong kind, a level
 * that is no signal word. A misspelt member is an error because a caution under a wrong name would not be printed.
 * ERR_USAGE: a page that is not there. ERR_SYSTEM: the drawing libraries failed. */
bool sheet_print(struct arena *a, struct str json, struct str name, struct sheet_options options,
                 struct diags *warnings, struct sheet_result *result, struct err *e);

#endif
