/* Flat questions (src/core/wasm/flat.h) answered by the ordinary build, for comparison: stdin holds "KIND LENGTH", a
 * line end and so many bytes, again and again; each answer is a line. */
#include "wasm/flat.h"
#include "wasm/flat_adjust.h"
#include "wasm/flat_exhaust.h"
#include "wasm/flat_round.h"
#include "wasm/flat_trace.h"

#include "base/arena.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int main(void)
{
    static const struct {
        const char *kind;
        void (*ask)(struct str question, struct text *answer);
    } questions[] = {{"calc", flat_calc},   {"judge", flat_judge},     {"reserve", flat_reserve},
                     {"meter", flat_meter}, {"adjust", flat_adjust},   {"recover", flat_recover},
                     {"round", flat_round}, {"exhaust", flat_exhaust}, {"trace", flat_trace},
                     {"find", flat_find}};
    char kind[16];
    size_t n = 0;
    while (scanf("%15s %zu", kind, &n) == 2 && getchar() == '\n') {
        char *question = malloc(n + 1);
        if (!question || fread(question, 1, n, stdin) != n) {
            free(question);
            return 1;
        }
        struct arena a = arena_new(&arena_libc);
        struct text answer = text_new(&a);
        for (size_t i = 0; i < sizeof questions / sizeof *questions; i++) {
            if (strcmp(questions[i].kind, kind) == 0) {
                questions[i].ask((struct str){question, n}, &answer);
            }
        }
        puts(text_z(&answer));
        arena_free(&a);
        free(question);
    }
    return 0;
}
