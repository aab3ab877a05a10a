/* Memory for one request or one computation.
 *
 * An arena hands out memory that is given back all at once. Inputs are borrowed for the call; results live in
 * the arena that was passed in; what a function needs meanwhile it takes from a scratch arena and rewinds. This
 * is the ownership rule of the whole project, stated here once.
 *
 * Where the memory comes from is the caller's business (struct arena_source), so that the core runs the same in a
 * program, in WebAssembly, in a test that makes the n-th request fail, and in a fuzzer.
 *
 * arena_alloc never returns null. When the source has no more, the source's `out` is called and must not return:
 * the command line ends the process with a message, WebAssembly traps. Nothing is lost by that, since an entry is
 * either committed in the log or was never acknowledged (docs/decisions/memory.md).
 */
#ifndef WITMARK_BASE_ARENA_H
#define WITMARK_BASE_ARENA_H

#include <stddef.h>

/* Where blocks come from. get returns n bytes or null; put takes a block back; out never returns. */
struct arena_source {
    void *(*get)(void *ctx, size_t n);
    void (*put)(void *ctx, void *block);
    void (*out)(void *ctx, size_t wanted); /* a return from it traps */
    void *ctx;
};

struct arena_block;

/* An arena; a zeroed one with a source is empty and ready. Fields are for arena.c only. */
struct arena {
    const struct arena_source *source;
    struct arena_block *head; /* block in use, linked to the older ones */
    size_t used;              /* bytes used in head */
    size_t total;             /* bytes held in all blocks */
};

/* A place to rewind to; only valid for the arena it came from, and only until an earlier mark is rewound. */
struct arena_mark {
    struct arena_block *head;
    size_t used;
};

/* The C library's malloc and free; when memory ends, a message on stderr and exit status 70. */
extern const struct arena_source arena_libc;

/* An empty arena over `source` (borrowed for the arena's life). Takes no memory yet. */
struct arena arena_new(const struct arena_source *source);

/* Gives every block back to the source. The arena is empty and may be used again. */
void arena_free(struct arena *a);

/* count * size bytes, zeroed, aligned for any type. Overflow of the product counts as out of memory. */
void *arena_alloc(struct arena *a, size_t count, size_t size);

/* Copies n bytes into the arena, followed by a zero byte that is not part of the copy. */
char *arena_copy(struct arena *a, const void *p, size_t n);

struct arena_mark arena_mark(const struct arena *a);

/* Frees everything allocated since the mark. Under the address sanitizer that memory is poisoned. */
void arena_rewind(struct arena *a, struct arena_mark mark);

#define ARENA_NEW(a, type) ((type *)arena_alloc((a), 1, sizeof(type)))
#define ARENA_ARRAY(a, type, n) ((type *)arena_alloc((a), (size_t)(n), sizeof(type)))

/* Grows an array of *cap elements, of which n are used, so that one more fits; returns where it is now.
 * Doubles, so that pushing is linear; the old place stays in the arena until it is freed. */
void *arena_grow(struct arena *a, void *old, size_t n, size_t *cap, size_t size);

/* Makes room for one more element: ARENA_PUSH(a, list.at, list.n, list.cap) = value; */
#define ARENA_PUSH(a, at, n, cap) (*(((at) = arena_grow((a), (at), (n), &(cap), sizeof *(at))), &(at)[(n)++]))

#endif
