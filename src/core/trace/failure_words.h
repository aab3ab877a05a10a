/* Words for how something failed, by what process, and why: the failure modes, mechanisms and causes of ISO 14224, so
 * that confirmed causes can be counted with those of others. Words and codes are from memory of ISO 14224:2016, Annex B
 * (tables B.2, B.3 and those of the failure modes of rotating and mechanical equipment); only those that we are sure
 * of. Hold them against the standard before exchanging data. */
#ifndef WITMARK_TRACE_FAILURE_WORDS_H
#define WITMARK_TRACE_FAILURE_WORDS_H

#include "base/text.h"

enum failure_table { FAILURE_MODE, FAILURE_MECHANISM, FAILURE_CAUSE };

/* The words, n of them; the first, "not said", is what stands for 0. */
const char *const *failure_words(enum failure_table table, size_t *n);
/* Its code ("LOO", "3.4"); "" for "not said" and where we are not sure. */
const char *failure_code(enum failure_table table, int word);
/* Number of the word or code, without regard to case; -1 when there is none. */
int failure_find(enum failure_table table, struct str word);

#endif
