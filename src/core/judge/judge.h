/* Judging a reading: brought to its reference condition, then held against its limits.
 *
 * The verdict keeps the raw value, the corrected one and the reason. A reading that cannot be corrected is not judged,
 * and the verdict says what is missing; it never becomes a number that looks good.
 */
#ifndef WITMARK_JUDGE_H
#define WITMARK_JUDGE_H

#include "judge/correction.h"

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

/* Why a reading was not judged, for who acts on it. */
#define UNJUDGED_WHYS(X)                                                                             \
    X(UNJUDGED_NOT, "")                                                                              \
    X(UNJUDGED_NO_NUMBER, "no number")                                                               \
    X(UNJUDGED_UNIT, "unit")                   /* none, unknown or of another dimension */           \
    X(UNJUDGED_NO_LIMIT, "no limit")           /* the book gives none */                             \
    X(UNJUDGED_GAUGE, "outside the gauge")     /* the sensor's range */                              \
    X(UNJUDGED_SPEED, "engine speed")          /* not at the required speed */                       \
    X(UNJUDGED_WARMTH, "temperature")          /* not warm or not cold enough */                     \
    X(UNJUDGED_REST, "rest")                   /* not rested */                                      \
    X(UNJUDGED_CONDITION, "condition")         /* another condition does not hold or was not read */ \
    X(UNJUDGED_MISSING, "missing or no range") /* an input of the correction is missing or out of range */
enum unjudged_why {
#define X(symbol, text) symbol,
    UNJUDGED_WHYS(X)
#undef X
};

struct judge_input {
    struct quantity value;
    const struct judge_with *with;
    int n_with;
    double uncertainty_si; /* of the gauge, in SI of what is read; NAN = the book's, when it states one */
};

/* The bracket gauge: a dot between two brackets, drawn to scale. Places on a drawing from 0 to 1; the lower limit
 * stands at 1/4, the upper at 3/4. With one limit, the other quarter is as far away as the limit is from nothing (a
 * temperature's from freezing). Values beyond the drawing stand at its end. NAN = not drawn. */
struct bracket_gauge {
    double low, high;      /* the brackets */
    double raw, corrected; /* the dots; raw only where it is of the limits' kind */
    double from, to;       /* what the gauge's uncertainty leaves open */
};

struct verdict {
    enum verdict_word word;
    enum unjudged_why why;          /* UNJUDGED_NOT when judged */
    double raw_si, corrected_si;    /* NAN when not judged for lack of a value */
    struct quantity raw, corrected; /* as shown: raw in the unit of the gauge, corrected in that of the limits */
    double raw_uncertainty_si;      /* of the gauge, in SI of what is read; NAN when not stated */
    double uncertainty_si;          /* carried through the correction, in SI of the limits' kind; NAN when not stated */
    bool doubtful;                  /* the limit lies within the gauge's uncertainty of the value */
    struct str reason;              /* one sentence: why this word */
    struct str correction;          /* how it was corrected; empty when as read */
    const char *formula, *source;   /* of the correction; null when as read */
    struct bracket_gauge gauge;
};

/* Holds a reading of checkpoint c (CHECK_MEASURE) of book b against its limits.
 *
 * "Close" is within a tenth of the span between two limits from either, or within a tenth of the limit's size where
 * only one is given (common practice, no source). Comparison is made on values rounded to a thousandth of the span,
 * so that the last bit of a division can't flip a verdict between two builds; on the limit itself is in limits (close).
 *
 * The correction is that of the book (correction.h). The gauge's uncertainty is carried through it by the difference of
 * the corrections of value + u and value - u, halved (JCGM 100:2008, 5.1.3, numerically); where one end cannot be
 * corrected, by the other alone; of a difference from an earlier reading with the same gauge, times the root of 2.
 * Texts are made in `a`. */
struct verdict judge_reading(struct arena *a, const struct book *b, const struct book_checkpoint *c,
                             const struct judge_input *input);

/* "±0.05 bar": an uncertainty in SI as a difference in that unit, to one digit, or two where the first is 1 or 2. */
void text_uncertainty(struct text *t, double si, const struct unit *unit);
/* The corrected value in the reader's units, to the first digit that its uncertainty leaves open. */
void text_corrected(struct text *t, const struct verdict *v, enum unit_system system);
const char *verdict_word_text(enum verdict_word word);
const char *unjudged_why_text(enum unjudged_why why);

#endif
