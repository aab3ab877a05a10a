/* Corrections: how a reading is brought to what its limits mean. One table says for each what it reads, what it gives,
 * what else it needs, by which formula of which source; the book's checker, the desk, the page and the judge go by it.
 */
#ifndef WITMARK_CORRECTION_H
#define WITMARK_CORRECTION_H

#include "base/err.h"
#include "book/book.h"
#include "quantity/quantity.h"

#include <stdbool.h>

/* A value read together with a reading, e.g. "oil temperature". */
struct judge_with {
    struct str name;
    struct quantity value;
};

#define CORRECTION_INPUTS 7
#define CORRECTION_READS 3

/* Where an input comes from. What must be read may also be a figure of the book when it does not change (an extension
 * that hangs on the machine's nail). */
enum correction_from {
    FROM_READ,  /* read with the value */
    FROM_GIVEN, /* a figure of the book; a value read with it goes before */
    FROM_LOG,   /* an earlier reading or a top-up: the desk finds them in the log */
};

struct correction_input {
    const char *name;        /* "rest"; a value named "... rest" is meant too, or the only one of its kind */
    enum quantity_kind kind; /* Q_NONE: a bare number */
    bool same;               /* of the kind that the reading has, whatever that is */
    bool needed;             /* for at least one kind of reading; see `only` */
    enum quantity_kind only; /* needed only with readings of this kind, when `one_kind` */
    bool one_kind;
    enum correction_from from;
    const char *missing; /* "how long the battery rested was not said" */
};

struct correction_rule {
    enum book_correction correction;
    enum quantity_kind reads[CORRECTION_READS]; /* what may be read; n_reads 0 = anything */
    int n_reads;
    bool same;                                         /* the limits are of the kind that is read */
    enum quantity_kind gives;                          /* otherwise of this one */
    bool reference;                                    /* refer-to names a temperature */
    bool fluid;                                        /* ... a fluid of the book */
    bool may_fluid;                                    /* ... or may name one, for what is topped up */
    bool viscous;                                      /* ... whose viscosity is needed */
    bool glycol;                                       /* ... or a glycol */
    struct correction_input inputs[CORRECTION_INPUTS]; /* up to the first without a name */
    const char *formula, *source;
    const char *form;    /* as refer-to writes it: "cold 20 degC" */
    const char *becomes; /* what the limits are of: "state of charge"; before " at 20 °C" where there is a reference */
};

const struct correction_rule *correction_rule(enum book_correction correction);
int correction_input_count(const struct correction_rule *rule);
/* Whether a reading of that kind can be corrected so. */
bool correction_reads(const struct correction_rule *rule, enum quantity_kind kind);
/* The kind that the limits have for a reading of that kind. */
enum quantity_kind correction_gives(const struct correction_rule *rule, enum quantity_kind read);
/* Whether that input must be there for a reading of that kind. */
bool correction_needs(const struct correction_input *input, enum quantity_kind read);

/* Which of the values is that input: the one of its name, else one whose name ends in it ("tyre temperature"), else the
 * only one of its kind that no other input's name claims; -1 when none is. */
int correction_match(const struct correction_rule *rule, const struct correction_input *input, enum quantity_kind read,
                     const struct judge_with *with, int n);

/* The unit in which a checkpoint is read: that of its gauge, else of its limits; null for a bare number. */
const struct unit *checkpoint_read_unit(const struct book_checkpoint *c);

/* A correction's result. */
struct corrected {
    bool ok;
    double si;       /* in SI of the limits' kind; INFINITY: time left of what is not lost at all */
    struct str how;  /* how it was corrected, or what is missing or out of range; "" as read */
    bool not_rested; /* `how` says that it has not rested */
};

/* Corrects a reading `si` of checkpoint c of book b; `read` is its kind. Values in with[n]; texts in `a`. */
struct corrected correction_run(struct arena *a, const struct book *b, const struct book_checkpoint *c, double si,
                                enum quantity_kind read, const struct judge_with *with, int n);

#endif
