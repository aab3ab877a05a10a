/* Judging a reading: brought to its reference condition, then held against its limits.
 *
 * The verdict keeps the raw value, the corrected one and the reason. A reading that cannot be corrected is not judged,
 * and the verdict says what is missing; it never becomes a number that looks good.
 */
#ifndef WITMARK_JUDGE_H
#define WITMARK_JUDGE_H

#include "base/err.h"
#include "book/book.h"
#include "quantity/quantity.h"

#include <stdbool.h>

#define JUDGE_WORDS(X)                  \
    X(VERDICT_NOT_JUDGED, "not judged") \
    X(VERDICT_IN_LIMITS, "in limits")   \
    X(VERDICT_CLOSE, "close")           \
    X(VERDICT_OUT, "out")
enum verdict_word {
#define X(symbol, text) symbol,
    JUDGE_WORDS(X)
#undef X
};

/* A value read together with the reading, e.g. "oil temperature". */
struct judge_with {
    struct str name;
    struct quantity value;
};

struct judge_input {
    struct quantity value;
    const struct judge_with *with;
    int n_with;
    double uncertainty_si; /* of the gauge; NAN = the book's, when it states one */
};

struct verdict {
    enum verdict_word word;
    double raw_si, corrected_si;    /* NAN when not judged for lack of a value */
    struct quantity raw, corrected; /* in the unit of the limits, as shown */
    double uncertainty_si;          /* NAN when not stated */
    bool doubtful;                  /* the limit lies within the gauge's uncertainty of the value */
    struct str reason;              /* one sentence: why this word */
    struct str correction;          /* how it was corrected, with formula and source; empty when as read */
};

/* Holds a reading of checkpoint c (CHECK_MEASURE) of book b against its limits.
 *
 * "Close" is within a tenth of the span between two limits from either, or within a tenth of the limit's size where
 * only one is given (common practice, no source). Comparison is made on values rounded to a thousandth of the span,
 * so that the last bit of a division can't flip a verdict between two builds; on the limit itself is in limits (close).
 *
 * Corrections: cold tyre pressure by the gas law at constant volume (absolute pressures, the atmosphere of the place
 * given as "atmosphere" or 101 325 Pa); filter pressure drop in proportion to kinematic viscosity, ASTM D341 between
 * the book's two viscosities, of the laminar share (all of it); battery rest voltage is not corrected for temperature
 * but must have rested
 * ("rest" of at least 4 h, common practice, no source). What is missing is named: not judged.
 * Texts are made in `a`. */
struct verdict judge_reading(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                             const struct judge_input *input);

const char *verdict_word_text(enum verdict_word word);

#endif
