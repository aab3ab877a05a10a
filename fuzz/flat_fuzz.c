/* Flat questions from any bytes, the first of which chooses the kind: no crash, and the answer is one JSON object. */
#include <jansson.h>

#include "wasm/flat.h"
#include "wasm/flat_adjust.h"
#include "wasm/flat_trace.h"

#include "base/arena.h"

#include <stdint.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static void (*const kinds[])(struct str, struct text *) = {flat_adjust, flat_recover, flat_trace,   flat_find,
                                                               flat_calc,   flat_judge,   flat_reserve, flat_meter};
    struct arena a = arena_new(&arena_libc);
    struct text answer = text_new(&a);
    if (size > 0) {
        kinds[data[0] % (sizeof kinds / sizeof *kinds)]((struct str){(const char *)data + 1, size - 1}, &answer);
        json_t *root = json_loadb(answer.p, answer.n, JSON_REJECT_DUPLICATES | JSON_ALLOW_NUL, NULL);
        if (!json_is_object(root)) {
            abort();
        }
        json_decref(root);
    }
    arena_free(&a);
    return 0;
}
