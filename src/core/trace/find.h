/* Finding what somebody means by their own words: "deck screems going down" -> a valve that chatters. */
#ifndef WITMARK_TRACE_FIND_H
#define WITMARK_TRACE_FIND_H

#include "base/arena.h"
#include "base/text.h"

/* One thing and one way to say it; a thing may stand several times. */
struct find_phrase {
    int thing;
    struct str words;
};

/* How well each thing fits the words: out [n_things], 0 .. 1. A word counts as found when a phrase of the thing has it,
 * a beginning or another ending of it (squeal, squeals, squealing), or one slip of the pen per four letters away. Words
 * that many things have count less. 1 = every word found, and one phrase has no more than these. Small words (the, it,
 * when) do not count. Cost: words * phrases * word length squared. */
void find_things(struct str said, const struct find_phrase *phrases, size_t n, int n_things, struct arena *a,
                 double *out);

/* The best thing if it fits well enough and clearly better than the next; -1 otherwise. *order [n_things], may be null:
 * things by falling fit. */
int find_best(const double *fit, int n_things, int *order);

#endif
