/* What the documents for the printing program (docs/print.md) share. */
#ifndef WITMARK_DESK_PRINT_INTERNAL_H
#define WITMARK_DESK_PRINT_INTERNAL_H

#include "desk_internal.h"

struct printing {
    struct json j;
    struct desk *d;
    struct arena *a;
    const struct desk_machine *m;
    const struct book *b;
    bool *figures; /* by index: shown in this round */
};

/* The paper that was asked for, or the depot's: "A4", "A5" or "Letter". */
bool print_paper(struct desk *d, struct str asked, struct str *paper, struct err *e);
void print_strings(struct json *j, const char *key, const struct str *at, size_t n);
void print_cautions(struct printing *p, struct book_refs refs);
/* Member `figure` of a step; the figure itself then comes with print_figures. */
void print_shown(struct printing *p, struct book_shown s);
struct str print_place_label(const struct printing *p, int place); /* empty for BOOK_NONE */
void print_machine(struct printing *p);
void print_figures(struct printing *p);
void print_qr(struct json *j, struct arena *a, struct str serial);
/* Opens the document: type round, paper, depot, title, time, machine, the book's first words. */
void print_head(struct printing *p, struct str paper, struct str title);
/* The sheet says "Step by step" where a round says "Round". */
void print_words(struct printing *p);
/* Member open_now: what the log says is open. */
void print_open_now(struct printing *p);
/* A table of blanks with the turns that were made already, for the member `tables` of a step. */
void print_ledger(struct printing *p, int adjuster);

#endif
