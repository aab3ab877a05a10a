/* Request targets from any bytes: no crash; what is taken holds nothing that could climb out of a folder, and every
 * part, encoded again, reads as the same part. */
#include "target.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds) {
        abort();
    }
}

/* Every byte as %XX. */
static void encode(struct text *t, struct str s)
{
    static const char digits[] = "0123456789ABCDEF";
    for (size_t i = 0; i < s.n; i++) {
        unsigned char c = (unsigned char)s.p[i];
        text_char(t, '%');
        text_char(t, digits[c >> 4]);
        text_char(t, digits[c & 15]);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct target t;
    if (!target_parse(&a, (struct str){(const char *)data, size}, &t, &e)) {
        check(e.what.n > 0 && e.where.column >= 1 && e.where.column <= size + 1);
        arena_free(&a);
        return 0;
    }
    struct text again = text_new(&a);
    for (size_t i = 0; i < t.n; i++) {
        struct str part = t.parts[i];
        check(part.n > 0 && str_is_utf8(part) && !memchr(part.p, 0, part.n));
        check(!str_eq(part, S(".")) && !str_eq(part, S("..")));
        text_char(&again, '/');
        encode(&again, part);
    }
    if (t.n == 0) {
        text_char(&again, '/');
    }
    for (size_t i = 0; i < t.n_pairs; i++) {
        text_char(&again, i ? '&' : '?');
        encode(&again, t.pairs[i].name);
        text_char(&again, '=');
        encode(&again, t.pairs[i].value);
    }
    struct target second;
    check(target_parse(&a, text_str(&again), &second, &e) && second.n == t.n && second.n_pairs == t.n_pairs);
    for (size_t i = 0; i < t.n; i++) {
        check(str_eq(t.parts[i], second.parts[i]));
    }
    for (size_t i = 0; i < t.n_pairs; i++) {
        check(str_eq(t.pairs[i].name, second.pairs[i].name) && str_eq(t.pairs[i].value, second.pairs[i].value));
    }
    arena_free(&a);
    return 0;
}
