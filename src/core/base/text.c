/* Text: cutting, comparing, building. Numbers to and from text are in number.c. */
#include "base/text.h"

#include <assert.h>
#include <stdarg.h>
#include <string.h>

struct str str_of(const char *z)
{
    return (struct str){z, z ? strlen(z) : 0};
}

struct str str_copy(struct arena *a, struct str s)
{
    return (struct str){arena_copy(a, s.p, s.n), s.n};
}

const char *str_z(struct arena *a, struct str s)
{
    return arena_copy(a, s.p, s.n);
}

struct str str_cut(struct str s, size_t from, size_t to)
{
    if (to > s.n) {
        to = s.n;
    }
    if (from > to) {
        from = to;
    }
    return (struct str){s.p ? s.p + from : s.p, to - from};
}

bool str_eq(struct str a, struct str b)
{
    assert((a.p || a.n == 0) && (b.p || b.n == 0));
    return a.n == b.n && (a.n == 0 || memcmp(a.p, b.p, a.n) == 0);
}

/* ASCII lower case; other bytes as they are. */
static char lower(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c + ('a' - 'A')) : c;
}

bool str_eq_nocase(struct str a, struct str b)
{
    if (a.n != b.n) {
        return false;
    }
    for (size_t i = 0; i < a.n; i++) {
        if (lower(a.p[i]) != lower(b.p[i])) {
            return false;
        }
    }
    return true;
}

int str_cmp(struct str a, struct str b)
{
    size_t n = a.n < b.n ? a.n : b.n;
    int c = n ? memcmp(a.p, b.p, n) : 0;
    if (c != 0) {
        return c;
    }
    return a.n < b.n ? -1 : a.n > b.n;
}

bool str_starts(struct str s, struct str head)
{
    return s.n >= head.n && str_eq(str_cut(s, 0, head.n), head);
}

bool str_ends(struct str s, struct str tail)
{
    return s.n >= tail.n && str_eq(str_cut(s, s.n - tail.n, s.n), tail);
}

static bool is_space(char c)
{
    return c == ' ' || (c >= '\t' && c <= '\r');
}

struct str str_trim(struct str s)
{
    size_t from = 0;
    size_t to = s.n;
    while (from < to && is_space(s.p[from])) {
        from++;
    }
    while (to > from && is_space(s.p[to - 1])) {
        to--;
    }
    return str_cut(s, from, to);
}

ptrdiff_t str_find(struct str s, struct str needle)
{
    for (size_t i = 0; needle.n <= s.n && i <= s.n - needle.n; i++) {
        if (needle.n == 0 || memcmp(s.p + i, needle.p, needle.n) == 0) {
            return (ptrdiff_t)i;
        }
    }
    return -1;
}

uint64_t str_hash(struct str s)
{
    uint64_t h = 14695981039346656037U;
    for (size_t i = 0; i < s.n; i++) {
        h = (h ^ (unsigned char)s.p[i]) * 1099511628211U;
    }
    return h;
}

/* Length of the valid UTF-8 sequence at the start of s (n > 0), or 0. Table 3-7 of the Unicode Standard. */
static size_t utf8_length(struct str s)
{
    unsigned char b0 = (unsigned char)s.p[0];
    if (b0 < 0x80) {
        return 1;
    }
    size_t n = b0 >= 0xc2 && b0 <= 0xdf ? 2 : b0 >= 0xe0 && b0 <= 0xef ? 3 : b0 >= 0xf0 && b0 <= 0xf4 ? 4 : 0;
    if (n == 0 || s.n < n) {
        return 0;
    }
    unsigned char b1 = (unsigned char)s.p[1];
    unsigned char low = b0 == 0xe0 ? 0xa0 : b0 == 0xf0 ? 0x90 : 0x80;
    unsigned char high = b0 == 0xed ? 0x9f : b0 == 0xf4 ? 0x8f : 0xbf;
    if (b1 < low || b1 > high) {
        return 0;
    }
    for (size_t i = 2; i < n; i++) {
        if (((unsigned char)s.p[i] & 0xc0) != 0x80) {
            return 0;
        }
    }
    return n;
}

bool str_is_utf8(struct str s)
{
    while (s.n) {
        size_t n = utf8_length(s);
        if (n == 0) {
            return false;
        }
        s = str_cut(s, n, s.n);
    }
    return true;
}

size_t str_chars(struct str s)
{
    size_t count = 0;
    while (s.n) {
        size_t n = utf8_length(s);
        s = str_cut(s, n ? n : 1, s.n);
        count++;
    }
    return count;
}

bool str_next(struct str *rest, char separator, struct str *piece)
{
    if (!rest->p) {
        return false;
    }
    for (size_t i = 0; i < rest->n; i++) {
        if (rest->p[i] == separator) {
            *piece = str_cut(*rest, 0, i);
            *rest = str_cut(*rest, i + 1, rest->n);
            return true;
        }
    }
    *piece = *rest;
    *rest = (struct str){NULL, 0};
    return true;
}

#define DISTANCE_LONGEST 63

/* Optimal string alignment over three rows; words longer than the rows count as too far. */
size_t str_distance(struct str a, struct str b, size_t most)
{
    if (a.n > DISTANCE_LONGEST || b.n > DISTANCE_LONGEST) {
        return most + 1;
    }
    size_t rows[3][DISTANCE_LONGEST + 1] = {{0}};
    for (size_t j = 0; j <= b.n; j++) {
        rows[0][j] = j;
    }
    for (size_t i = 1; i <= a.n; i++) {
        size_t *now = rows[i % 3];
        const size_t *up = rows[(i + 2) % 3];
        const size_t *up2 = rows[(i + 1) % 3];
        now[0] = i;
        for (size_t j = 1; j <= b.n; j++) {
            size_t best = up[j - 1] + (a.p[i - 1] != b.p[j - 1]);
            best = up[j] + 1 < best ? up[j] + 1 : best;
            best = now[j - 1] + 1 < best ? now[j - 1] + 1 : best;
            if (i > 1 && j > 1 && a.p[i - 1] == b.p[j - 2] && a.p[i - 2] == b.p[j - 1] && up2[j - 2] + 1 < best) {
                best = up2[j - 2] + 1;
            }
            now[j] = best;
        }
    }
    size_t d = rows[a.n % 3][b.n];
    return d > most ? most + 1 : d;
}

ptrdiff_t str_nearest(struct str word, const struct str *candidates, size_t n)
{
    size_t best = word.n / 3 + 1;
    ptrdiff_t at = -1;
    for (size_t i = 0; i < n; i++) {
        size_t d = str_distance(word, candidates[i], best);
        if (d < best || (d == best && at < 0)) {
            best = d;
            at = (ptrdiff_t)i;
        }
    }
    return at;
}

struct text text_new(struct arena *a)
{
    return (struct text){.a = a};
}

struct str text_str(const struct text *t)
{
    return (struct str){t->p, t->n};
}

/* Room for n more bytes and a zero byte. */
static void room(struct text *t, size_t n)
{
    if (t->cap - t->n > n) {
        return;
    }
    size_t cap = t->cap ? t->cap * 2 : 64;
    while (cap - t->n <= n) {
        cap *= 2;
    }
    char *p = arena_alloc(t->a, cap, 1);
    if (t->n) {
        memcpy(p, t->p, t->n);
    }
    t->p = p;
    t->cap = cap;
}

const char *text_z(struct text *t)
{
    room(t, 1);
    t->p[t->n] = '\0';
    return t->p;
}

void text_add(struct text *t, struct str s)
{
    if (s.n == 0) {
        return;
    }
    room(t, s.n);
    memcpy(t->p + t->n, s.p, s.n);
    t->n += s.n;
}

void text_addz(struct text *t, const char *z)
{
    text_add(t, str_of(z));
}

void text_char(struct text *t, char c)
{
    text_add(t, (struct str){&c, 1});
}

void text_utf8(struct text *t, uint32_t code_point)
{
    if (code_point < 0x80) {
        text_char(t, (char)code_point);
    } else if (code_point < 0x800) {
        text_char(t, (char)(0xc0 | (code_point >> 6)));
        text_char(t, (char)(0x80 | (code_point & 0x3f)));
    } else if (code_point < 0x10000) {
        text_char(t, (char)(0xe0 | (code_point >> 12)));
        text_char(t, (char)(0x80 | ((code_point >> 6) & 0x3f)));
        text_char(t, (char)(0x80 | (code_point & 0x3f)));
    } else {
        assert(code_point <= 0x10ffff);
        text_char(t, (char)(0xf0 | (code_point >> 18)));
        text_char(t, (char)(0x80 | ((code_point >> 12) & 0x3f)));
        text_char(t, (char)(0x80 | ((code_point >> 6) & 0x3f)));
        text_char(t, (char)(0x80 | (code_point & 0x3f)));
    }
}

void text_shown(struct text *t, struct str s, size_t most)
{
    for (size_t i = 0, n = 0; i < s.n; i += n) {
        if (i >= most) {
            text_addz(t, "…");
            return;
        }
        unsigned char c = (unsigned char)s.p[i];
        n = c < 0x80 ? 1 : c < 0xe0 ? 2 : c < 0xf0 ? 3 : 4;
        struct str character = str_cut(s, i, i + n);
        if ((c < ' ' && c != '\t') || c == 0x7f || !str_is_utf8(character)) {
            text_addz(t, "\xef\xbf\xbd");
            n = 1;
        } else {
            text_add(t, character);
        }
    }
}

void text_pad(struct text *t, struct str s, size_t width)
{
    text_add(t, s);
    for (size_t n = str_chars(s); n < width; n++) {
        text_char(t, ' ');
    }
}

void text_join(struct text *t, const char *first, ...)
{
    va_list pieces;
    va_start(pieces, first);
    for (const char *z = first; z; z = va_arg(pieces, const char *)) {
        text_addz(t, z);
    }
    va_end(pieces);
}
