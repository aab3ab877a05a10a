/* Text is a pointer and a length, UTF-8, never changed in place; a builder makes new text in an arena.
 * No locale, no stdio: the same bytes come out on a server and on a phone. */
#ifndef WITMARK_BASE_TEXT_H
#define WITMARK_BASE_TEXT_H

#include "base/arena.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Borrowed text; p may be null when n is 0. Not zero-terminated. */
struct str {
    const char *p;
    size_t n;
};

/* Text of a string literal. */
#define S(literal) ((struct str){("" literal), sizeof(literal) - 1})
/* For printf-like interfaces outside the core: printf("%.*s", STR_ARG(s)). */
#define STR_ARG(s) (int)(s).n, (s).p

struct str str_of(const char *z);                         /* zero-terminated text; null gives empty */
struct str str_copy(struct arena *a, struct str s);       /* a copy, followed by a zero byte */
const char *str_z(struct arena *a, struct str s);         /* a zero-terminated copy */
struct str str_cut(struct str s, size_t from, size_t to); /* [from, to), both clamped to the text */
bool str_eq(struct str a, struct str b);
bool str_eq_nocase(struct str a, struct str b); /* ASCII letters only */
int str_cmp(struct str a, struct str b);        /* by bytes, <0 0 >0 */
bool str_starts(struct str s, struct str head);
bool str_ends(struct str s, struct str tail);
struct str str_trim(struct str s);                   /* without ASCII white space at both ends */
ptrdiff_t str_find(struct str s, struct str needle); /* first place, or -1 */
uint64_t str_hash(struct str s);                     /* FNV-1a, 64 bit; not for untrusted keys in large maps */
bool str_is_utf8(struct str s);                      /* valid UTF-8 after RFC 3629: no overlong, no surrogate */
size_t str_chars(struct str s);                      /* number of code points; bad bytes count one each */

/* Cuts the text before the first separator off *rest and returns it; *rest is then what follows the separator.
 * Returns false when nothing is left. "a,,b" gives "a", "", "b". */
bool str_next(struct str *rest, char separator, struct str *piece);

/* Edit distance (insert, delete, replace, swap of neighbours), by bytes, at most `most` + 1. For "did you mean". */
size_t str_distance(struct str a, struct str b, size_t most);

/* The candidate nearest to `word`, if its distance is at most a third of the word's length plus one; else -1. */
ptrdiff_t str_nearest(struct str word, const struct str *candidates, size_t n);

/* A number as people and files write it: [+-] digits [. digits] [e [+-] digits], a decimal point, no thousands
 * separators, no hex, no inf or nan. Returns how many bytes were read, 0 when none is there. *value is the nearest
 * double; a number too large for a double is not read (0). */
size_t num_read(struct str s, double *value);

/* The whole text is one number. */
bool num_parse(struct str s, double *value);
/* The whole text is a decimal integer that fits. */
bool num_parse_i64(struct str s, int64_t *value);

/* A growing text in an arena. Zeroed with `a` set it is empty. */
struct text {
    struct arena *a;
    char *p;
    size_t n, cap;
};

struct text text_new(struct arena *a);
struct str text_str(const struct text *t); /* what was written; borrowed, valid until the next write */
const char *text_z(struct text *t);        /* the same, zero-terminated */
void text_add(struct text *t, struct str s);
void text_addz(struct text *t, const char *z);
void text_char(struct text *t, char c);
void text_utf8(struct text *t, uint32_t code_point);
/* Text of an unknown file as a terminal may have it: control characters other than the tab and bytes that are no UTF-8
 * become U+FFFD, and what is longer than about `most` bytes ends in an ellipsis. */
void text_shown(struct text *t, struct str s, size_t most);
void text_int(struct text *t, int64_t value);
void text_pad(struct text *t, struct str s, size_t width);   /* s, then blanks up to width code points */
void text_zeros(struct text *t, int64_t value, int width);   /* decimal, at least `width` digits */
void text_fixed(struct text *t, double value, int decimals); /* 0 to 9 decimals, half away from zero */
/* For people: at most `decimals` decimals, trailing zeros dropped; NaN is "not a number". */
void text_number(struct text *t, double value, int decimals);
/* The shortest decimal that reads back as the same double, in the form of ECMA-262 Number::toString, which is
 * what RFC 8785 3.2.2.3 asks for. NaN and infinities are a caller's mistake (asserted). */
void text_double(struct text *t, double value);
/* Several pieces at once, ended by a null pointer: text_join(&t, "a", b, (char *)0). */
void text_join(struct text *t, const char *first, ...);

#endif
