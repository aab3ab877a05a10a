/* Ids, hashes and their texts. */
#include "log.h"

#include <sodium.h>
#include <string.h>

void text_hex(struct text *t, const uint8_t *p, size_t n)
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < n; i++) {
        text_char(t, digits[p[i] >> 4]);
        text_char(t, digits[p[i] & 15]);
    }
}

/* The value of a hex digit, -1 when it is none. */
static int hex_value(char c, bool capitals)
{
    if (c >= '0' && c <= '9') {
        return c - '0';
    }
    if (c >= 'a' && c <= 'f') {
        return c - 'a' + 10;
    }
    return capitals && c >= 'A' && c <= 'F' ? c - 'A' + 10 : -1;
}

bool hex_parse(struct str s, uint8_t *p, size_t n)
{
    if (s.n != 2 * n) {
        return false;
    }
    for (size_t i = 0; i < n; i++) {
        int high = hex_value(s.p[2 * i], false);
        int low = hex_value(s.p[2 * i + 1], false);
        if (high < 0 || low < 0) {
            return false;
        }
        p[i] = (uint8_t)(high << 4 | low);
    }
    return true;
}

void text_entry_id(struct text *t, struct entry_id id)
{
    static const int groups[] = {4, 2, 2, 2, 6};
    const uint8_t *p = id.b;
    for (int i = 0; i < 5; i++) {
        if (i) {
            text_char(t, '-');
        }
        text_hex(t, p, (size_t)groups[i]);
        p += groups[i];
    }
}

bool entry_id_parse(struct str s, struct entry_id *id)
{
    if (s.n != 36) {
        return false;
    }
    struct entry_id out = {{0}};
    size_t digit = 0;
    for (size_t i = 0; i < 36; i++) {
        if (i == 8 || i == 13 || i == 18 || i == 23) {
            if (s.p[i] != '-') {
                return false;
            }
            continue;
        }
        int v = hex_value(s.p[i], true);
        if (v < 0) {
            return false;
        }
        out.b[digit / 2] = (uint8_t)(out.b[digit / 2] << 4 | v);
        digit++;
    }
    *id = out;
    return true;
}

bool entry_id_eq(struct entry_id a, struct entry_id b)
{
    return memcmp(a.b, b.b, sizeof a.b) == 0;
}

struct entry_id entry_id_make(instant_ms at, uint16_t rand_a, uint64_t rand_b)
{
    struct entry_id id;
    for (int i = 0; i < 6; i++) {
        id.b[i] = (uint8_t)((uint64_t)at >> (40 - 8 * i));
    }
    id.b[6] = (uint8_t)(0x70 | (rand_a >> 8 & 0x0f));
    id.b[7] = (uint8_t)rand_a;
    for (int i = 0; i < 8; i++) {
        id.b[8 + i] = (uint8_t)(rand_b >> (56 - 8 * i));
    }
    id.b[8] = (uint8_t)(0x80 | (id.b[8] & 0x3f));
    return id;
}

/* The 48 bits of milliseconds in front. */
static instant_ms id_time(struct entry_id id)
{
    uint64_t v = 0;
    for (int i = 0; i < 6; i++) {
        v = v << 8 | id.b[i];
    }
    return (instant_ms)v;
}

struct entry_id entry_id_next(struct entry_id last, instant_ms now, const uint8_t random[10])
{
    uint64_t rand_b = 0;
    for (int i = 0; i < 8; i++) {
        rand_b = rand_b << 8 | random[2 + i];
    }
    uint16_t start = (uint16_t)((random[0] << 8 | random[1]) & 0x7ff);
    instant_ms before = id_time(last);
    if (now < 0) { /* before 1970: the format has no sign */
        now = 0;
    }
    if (now > before) {
        return entry_id_make(now, start, rand_b);
    }
    uint16_t counter = (uint16_t)((last.b[6] & 0x0f) << 8 | last.b[7]);
    if (counter == 0xfff) {
        return entry_id_make(before + 1, start, rand_b);
    }
    return entry_id_make(before, (uint16_t)(counter + 1), rand_b);
}

bool log_hash_eq(struct log_hash a, struct log_hash b)
{
    return memcmp(a.b, b.b, sizeof a.b) == 0;
}

struct log_hash log_sha256(struct str s)
{
    struct log_hash h;
    crypto_hash_sha256(h.b, (const unsigned char *)s.p, s.n);
    return h;
}

void text_edition(struct text *t, struct log_hash edition)
{
    text_addz(t, "sha256:");
    text_hex(t, edition.b, sizeof edition.b);
}

bool edition_parse(struct str s, struct log_hash *edition)
{
    return str_starts(s, S("sha256:")) && hex_parse(str_cut(s, 7, s.n), edition->b, sizeof edition->b);
}
