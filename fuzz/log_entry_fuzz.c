/* The JSON of an entry. What is taken is written again as canonical JSON and read back the same. */
#include "jcs.h"
#include "log_internal.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct str path;
    struct entry entry;
    struct entry again;
    json_t *tree = json_loadb((const char *)data, size, JSON_REJECT_DUPLICATES, NULL);
    if (tree) {
        struct text t = text_new(&a);
        text_jcs(&t, tree);
        (void)json_column((struct str){(const char *)data, size}, S("entry.body.parts[1].quantity"));
    }
    if (tree && entry_of_json(tree, &a, &entry, &path, &e)) {
        struct text t = text_new(&a);
        text_entry(&t, &entry);
        json_t *copy = json_loadb(t.p, t.n, JSON_REJECT_DUPLICATES, NULL);
        if (!copy || !entry_of_json(copy, &a, &again, &path, &e) || !str_eq(again.body_text, entry.body_text) ||
            !log_hash_eq(entry_hash(&a, &again), entry_hash(&a, &entry))) {
            abort();
        }
        entry_free(&again);
        json_decref(copy);
        entry_free(&entry);
    }
    json_decref(tree);
    arena_free(&a);
    return 0;
}
