/* The world outside: the system's, and one that repeats itself. */
#include "log.h"

#include <sodium.h>
#include <string.h>
#include <time.h>

static instant_ms system_now(void *ctx)
{
    (void)ctx;
    struct timespec t;
    clock_gettime(CLOCK_REALTIME, &t);
    return (instant_ms)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static void system_random(void *ctx, void *out, size_t n)
{
    (void)ctx;
    randombytes_buf(out, n);
}

struct world world_system(void)
{
    return (struct world){system_now, system_random, NULL};
}

static instant_ms seeded_now(void *ctx)
{
    const struct world_seeded *w = ctx;
    return w->now;
}

/* ChaCha20 keyed with the seed, a new nonce for every request. */
static void seeded_random(void *ctx, void *out, size_t n)
{
    struct world_seeded *w = ctx;
    unsigned char nonce[crypto_stream_chacha20_NONCEBYTES] = {0};
    for (size_t i = 0; i < 8; i++) {
        nonce[i] = (unsigned char)(w->drawn >> (8 * i));
    }
    w->drawn++;
    crypto_stream_chacha20(out, n, nonce, w->seed);
}

struct world_seeded world_seeded_new(uint64_t seed, instant_ms now)
{
    struct world_seeded w = {.now = now};
    for (size_t i = 0; i < 8; i++) {
        w.seed[i] = (uint8_t)(seed >> (8 * i));
    }
    return w;
}

struct world world_of_seeded(struct world_seeded *seeded)
{
    return (struct world){seeded_now, seeded_random, seeded};
}
