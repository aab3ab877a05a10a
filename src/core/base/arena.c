/* Blocks of doubling size in a list, the newest first. Allocation bumps `used` in the newest block; a rewind gives
 * newer blocks back and lowers `used`. */
#include "base/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <string.h>

#if defined(__SANITIZE_ADDRESS__)
#define ARENA_ASAN 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define ARENA_ASAN 1
#endif
#endif

#ifdef ARENA_ASAN
#include <sanitizer/asan_interface.h>
#define POISON(p, n) __asan_poison_memory_region((p), (n))
#define UNPOISON(p, n) __asan_unpoison_memory_region((p), (n))
#else
#define POISON(p, n) ((void)(p), (void)(n))
#define UNPOISON(p, n) ((void)(p), (void)(n))
#endif

struct arena_block {
    struct arena_block *older;
    size_t size; /* bytes in data */
    alignas(max_align_t) unsigned char data[];
};

/* Memory has ended: the source decides how to stop, and it must. */
static _Noreturn void out_of_memory(const struct arena *a, size_t wanted)
{
    a->source->out(a->source->ctx, wanted);
    __builtin_trap();
}

#define FIRST_BLOCK ((size_t)16 * 1024)
#define ALIGN (alignof(max_align_t))

/* Rounds up to the alignment; n is at most SIZE_MAX / 2 here. */
static size_t aligned(size_t n)
{
    return (n + (ALIGN - 1)) & ~(ALIGN - 1);
}

struct arena arena_new(const struct arena_source *source)
{
    return (struct arena){.source = source};
}

/* Gives the newest block back. */
static void drop_head(struct arena *a)
{
    struct arena_block *b = a->head;
    a->head = b->older;
    a->total -= b->size;
    UNPOISON(b->data, b->size);
    a->source->put(a->source->ctx, b);
}

void arena_free(struct arena *a)
{
    while (a->head) {
        drop_head(a);
    }
    a->used = 0;
}

/* A new block that holds at least n bytes; what was left of the old one is wasted. */
static void add_block(struct arena *a, size_t n)
{
    size_t size = a->head ? a->head->size * 2 : FIRST_BLOCK;
    if (size > ((size_t)8 << 20)) {
        size = (size_t)8 << 20;
    }
    if (size < n) {
        size = n;
    }
    if (size > SIZE_MAX / 4) {
        out_of_memory(a, size);
    }
    struct arena_block *b = a->source->get(a->source->ctx, sizeof *b + size);
    if (!b) {
        out_of_memory(a, size);
    }
    b->older = a->head;
    b->size = size;
    POISON(b->data, size);
    a->head = b;
    a->used = 0;
    a->total += size;
}

void *arena_alloc(struct arena *a, size_t count, size_t size)
{
    if (size && count > (SIZE_MAX / 4) / size) {
        out_of_memory(a, SIZE_MAX);
    }
    size_t n = aligned(count * size);
    if (!a->head || a->head->size - a->used < n) {
        add_block(a, n);
    }
    void *p = a->head->data + a->used;
    a->used += n;
    UNPOISON(p, count * size);
    memset(p, 0, count * size);
    return p;
}

char *arena_copy(struct arena *a, const void *p, size_t n)
{
    char *copy = arena_alloc(a, n + 1, 1);
    if (n) {
        memcpy(copy, p, n);
    }
    return copy;
}

struct arena_mark arena_mark(const struct arena *a)
{
    return (struct arena_mark){a->head, a->used};
}

void arena_rewind(struct arena *a, struct arena_mark mark)
{
    while (a->head != mark.head) {
        drop_head(a);
    }
    a->used = mark.used;
    if (a->head) {
        POISON(a->head->data + a->used, a->head->size - a->used);
    }
}

void *arena_grow(struct arena *a, void *old, size_t n, size_t *cap, size_t size)
{
    if (n < *cap) {
        return old;
    }
    size_t more = *cap ? *cap * 2 : 8;
    void *p = arena_alloc(a, more, size);
    if (n) {
        memcpy(p, old, n * size);
    }
    *cap = more;
    return p;
}
