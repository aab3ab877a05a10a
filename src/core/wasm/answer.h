/* How a text leaves WebAssembly's memory: from malloc, four bytes of length (little endian), then so many bytes of
 * UTF-8. The host reads it and gives it back with wm_free. */
#ifndef WITMARK_WASM_ANSWER_H
#define WITMARK_WASM_ANSWER_H

#include "base/text.h"

/* Null when memory has ended. */
char *wasm_answer(const struct text *t);

#endif
