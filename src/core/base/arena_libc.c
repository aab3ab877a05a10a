/* The C library as a source of memory: the only file of the core that knows malloc. */
#include "base/arena.h"

#include <stdlib.h>

#ifndef __wasm__
#include <unistd.h>
#endif

static void *libc_get(void *ctx, size_t n)
{
    (void)ctx;
    return malloc(n);
}

static void libc_put(void *ctx, void *block)
{
    (void)ctx;
    free(block);
}

/* Ends the process: no other thread may go on with half a computation. */
static void libc_out(void *ctx, size_t wanted)
{
    (void)ctx;
    (void)wanted;
#ifndef __wasm__
    static const char say[] = "witmark: out of memory; what was acknowledged is in the depot\n";
    ssize_t n = write(2, say, sizeof say - 1);
    (void)n;
    _exit(70); /* EX_SOFTWARE of sysexits.h */
#else
    __builtin_trap();
#endif
}

const struct arena_source arena_libc = {libc_get, libc_put, libc_out, NULL};
