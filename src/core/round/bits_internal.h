/* Sets of up to 256 small numbers, by value. */
#ifndef WITMARK_ROUND_BITS_INTERNAL_H
#define WITMARK_ROUND_BITS_INTERNAL_H

#include <stdbool.h>
#include <stdint.h>

#define BITS_WORDS 4
#define BITS_MOST (64 * BITS_WORDS)

struct bits {
    uint64_t w[BITS_WORDS];
};

static inline bool bits_has(const struct bits *s, int i)
{
    return s->w[i >> 6] >> (i & 63) & 1;
}

static inline void bits_add(struct bits *s, int i)
{
    s->w[i >> 6] |= UINT64_C(1) << (i & 63);
}

static inline void bits_drop(struct bits *s, int i)
{
    s->w[i >> 6] &= ~(UINT64_C(1) << (i & 63));
}

static inline struct bits bits_and(struct bits a, struct bits b)
{
    for (int k = 0; k < BITS_WORDS; k++) {
        a.w[k] &= b.w[k];
    }
    return a;
}

static inline struct bits bits_or(struct bits a, struct bits b)
{
    for (int k = 0; k < BITS_WORDS; k++) {
        a.w[k] |= b.w[k];
    }
    return a;
}

/* a without b */
static inline struct bits bits_less(struct bits a, struct bits b)
{
    for (int k = 0; k < BITS_WORDS; k++) {
        a.w[k] &= ~b.w[k];
    }
    return a;
}

static inline bool bits_empty(const struct bits *s)
{
    return !(s->w[0] | s->w[1] | s->w[2] | s->w[3]);
}

static inline bool bits_eq(const struct bits *a, const struct bits *b)
{
    return a->w[0] == b->w[0] && a->w[1] == b->w[1] && a->w[2] == b->w[2] && a->w[3] == b->w[3];
}

/* Is all of a in b? */
static inline bool bits_within(const struct bits *a, const struct bits *b)
{
    return !((a->w[0] & ~b->w[0]) | (a->w[1] & ~b->w[1]) | (a->w[2] & ~b->w[2]) | (a->w[3] & ~b->w[3]));
}

static inline bool bits_meet(const struct bits *a, const struct bits *b)
{
    return (a->w[0] & b->w[0]) | (a->w[1] & b->w[1]) | (a->w[2] & b->w[2]) | (a->w[3] & b->w[3]);
}

static inline int bits_count(const struct bits *s)
{
    int n = 0;
    for (int k = 0; k < BITS_WORDS; k++) {
        n += __builtin_popcountll(s->w[k]);
    }
    return n;
}

/* The first member from i on, or -1: for (int i = bits_next(&s, 0); i >= 0; i = bits_next(&s, i + 1)) */
static inline int bits_next(const struct bits *s, int i)
{
    for (int k = i >> 6; k < BITS_WORDS; k++) {
        uint64_t w = k == i >> 6 ? s->w[k] >> (i & 63) << (i & 63) : s->w[k];
        if (w) {
            return k * 64 + __builtin_ctzll(w);
        }
    }
    return -1;
}

/* A mixing of the words for hash tables (the finaliser of splitmix64, Steele and others 2014, over each word). */
static inline uint64_t bits_hash(const struct bits *s, uint64_t seed)
{
    uint64_t h = seed;
    for (int k = 0; k < BITS_WORDS; k++) {
        h += s->w[k] + UINT64_C(0x9e3779b97f4a7c15);
        h = (h ^ h >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
        h = (h ^ h >> 27) * UINT64_C(0x94d049bb133111eb);
        h ^= h >> 31;
    }
    return h;
}

#endif
