/* Base64 (RFC 4648 section 4) of bytes. */
#ifndef WITMARK_BASE_BASE64_H
#define WITMARK_BASE_BASE64_H

#include "base/text.h"

/* Adds the base64 form of the bytes, with padding, without line breaks. Checked: RFC 4648 section 10. */
void text_base64(struct text *t, struct str bytes);

#endif
