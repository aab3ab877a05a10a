/* Base64: three bytes become four letters. */
#include "base/base64.h"

void text_base64(struct text *t, struct str bytes)
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < bytes.n; i += 3) {
        size_t n = bytes.n - i < 3 ? bytes.n - i : 3;
        uint32_t group = 0;
        for (size_t k = 0; k < 3; k++) {
            group = (group << 8) | (k < n ? (unsigned char)bytes.p[i + k] : 0U);
        }
        for (size_t k = 0; k < 4; k++) {
            text_char(t, k <= n ? letters[(group >> (18 - 6 * k)) & 63] : '=');
        }
    }
}
