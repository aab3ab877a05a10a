/* What the core offers to a host as WebAssembly, and nothing else: no imports, no entry, no state between calls. Only
 * in that build.
 *
 *   wm_alloc(n) -> place, wm_free(place)        memory for a question; gives an answer back
 *   wm_calculations() -> answer
 *   wm_calc, wm_judge, wm_reserve, wm_meter, wm_round, wm_exhaust, wm_trace, wm_find (place, n) -> answer
 *                                               a question of n bytes, see flat.h and flat_NAME.h
 *   wm_version() -> answer                      of the program it was built with
 *
 * An answer is a place as answer.h says, 0 when memory has ended. A trap means memory ended meanwhile or a mistake of
 * ours; the instance is then to be thrown away.
 */
#include "wasm/answer.h"
#include "wasm/flat.h"
#include "wasm/flat_adjust.h"
#include "wasm/flat_exhaust.h"
#include "wasm/flat_round.h"
#include "wasm/flat_trace.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#ifdef __wasm__
#define EXPORT(name) __attribute__((export_name(#name)))
#else /* a checker of the sources reads this file too */
#define EXPORT(name)
#define WITMARK_VERSION ""
#endif

char *wasm_answer(const struct text *t)
{
    char *place = malloc(t->n + 4);
    if (place) {
        for (int i = 0; i < 4; i++) {
            place[i] = (char)(t->n >> (8 * i) & 0xff);
        }
        memcpy(place + 4, t->p ? t->p : "", t->n);
    }
    return place;
}

/* An assert that fails is a mistake of ours: a trap, without the C library's words, which would need a stream. */
_Noreturn void __assert_fail(const char *what, const char *file, int line, const char *function);
_Noreturn void __assert_fail(const char *what, const char *file, int line, const char *function)
{
    (void)what;
    (void)file;
    (void)line;
    (void)function;
    __builtin_trap();
}

/* strtod of this C library names its streams, though it uses none, and they would want three imports from the host.
 * Nothing writes: what would is a trap. */
struct _IO_FILE;
size_t __stdio_write(struct _IO_FILE *stream, const unsigned char *p, size_t n);
long long __stdio_seek(struct _IO_FILE *stream, long long offset, int from);
int __stdio_close(struct _IO_FILE *stream);

size_t __stdio_write(struct _IO_FILE *stream, const unsigned char *p, size_t n)
{
    (void)stream;
    (void)p;
    (void)n;
    __builtin_trap();
}

long long __stdio_seek(struct _IO_FILE *stream, long long offset, int from)
{
    (void)stream;
    (void)offset;
    (void)from;
    __builtin_trap();
}

int __stdio_close(struct _IO_FILE *stream)
{
    (void)stream;
    __builtin_trap();
}

EXPORT(wm_alloc) void *wm_alloc(uint32_t n);
EXPORT(wm_free) void wm_free(void *place);
EXPORT(wm_version) char *wm_version(void);
EXPORT(wm_calculations) char *wm_calculations(void);

void *wm_alloc(uint32_t n)
{
    return malloc(n ? n : 1);
}

void wm_free(void *place)
{
    free(place);
}

char *wm_version(void)
{
    static const char version[] = WITMARK_VERSION;
    struct text t = {.p = (char *)(uintptr_t)version, .n = sizeof version - 1};
    return wasm_answer(&t);
}

char *wm_calculations(void)
{
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    flat_calculations(&t);
    char *answer = wasm_answer(&t);
    arena_free(&a);
    return answer;
}

/* Asks one of flat.h and hands its answer out. */
static char *ask(void (*question)(struct str, struct text *), const char *p, uint32_t n)
{
    struct arena a = arena_new(&arena_libc);
    struct text t = text_new(&a);
    question((struct str){p, n}, &t);
    char *answer = wasm_answer(&t);
    arena_free(&a);
    return answer;
}

#define QUESTIONS(X) X(calc) X(judge) X(reserve) X(meter) X(round) X(adjust) X(recover) X(exhaust) X(trace) X(find)
#define X(name)                                                          \
    EXPORT(wm_##name) char *wm_##name(const char *question, uint32_t n); \
    char *wm_##name(const char *question, uint32_t n)                    \
    {                                                                    \
        return ask(flat_##name, question, n);                            \
    }
QUESTIONS(X)
#undef X
