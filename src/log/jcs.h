/* Canonical JSON (RFC 8785) of a jansson tree: no blanks, members sorted by UTF-16 code units, numbers as ECMA-262
 * prints them, strings with only the escapes that must be. Hashes and signatures are over these bytes. */
#ifndef WITMARK_LOG_JCS_H
#define WITMARK_LOG_JCS_H

#include "base/text.h"

#include <jansson.h>
#include <stdbool.h>

/* Adds the canonical form of `value`. Integers are written as the double they are (RFC 8785 3.2.2.3). */
void text_jcs(struct text *t, const json_t *value);

/* Order of two member names: as arrays of UTF-16 code units (RFC 8785 3.2.3). Both valid UTF-8. */
int jcs_key_cmp(struct str a, struct str b);

/* A number beyond 2^53 - 1 (RFC 7493 2.2): canonical JSON writes it in whole digits, which readers take for an integer
 * that they cannot hold. The path of the first one ("parts[0].quantity") is added to `path`. */
bool jcs_inexact(const json_t *value, struct text *path);

#endif
