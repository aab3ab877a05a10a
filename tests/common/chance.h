/* Chance that can be had again: a seed from WITMARK_SEED, printed, and a small generator. After cmocka.h. */
#ifndef WITMARK_TESTS_CHANCE_H
#define WITMARK_TESTS_CHANCE_H

#include <stdint.h>
#include <stdlib.h>

/* xorshift64*, Vigna (2016), ACM TOMS 42(4), 30; the state is never 0 */
static inline uint64_t drawn(uint64_t *s)
{
    *s ^= *s >> 12;
    *s ^= *s << 25;
    *s ^= *s >> 27;
    return *s * UINT64_C(2685821657736338717);
}

/* 0 .. n - 1 */
static inline int below(uint64_t *s, int n)
{
    return (int)((drawn(s) >> 33) % (uint64_t)n);
}

static inline uint64_t seed_of_run(void)
{
    const char *given = getenv("WITMARK_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20261125;
    print_message("# seed %llu\n", (unsigned long long)seed);
    return seed ? seed : 1;
}

#endif
