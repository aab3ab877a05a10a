/* A map from text to a number, by open addressing; keys are borrowed. For names in a book, words in a header. */
#ifndef WITMARK_BASE_MAP_H
#define WITMARK_BASE_MAP_H

#include "base/arena.h"
#include "base/text.h"

struct map_slot {
    struct str key;
    uint64_t hash;
    int64_t value;
    bool used;
};

/* Zeroed with `a` set it is empty. */
struct map {
    struct arena *a;
    struct map_slot *slots;
    size_t cap; /* a power of two */
    size_t n;
};

struct map map_new(struct arena *a);
/* Adds or replaces; returns false when the key was there before (its value is then replaced). */
bool map_put(struct map *m, struct str key, int64_t value);
/* True and *value when the key is there; value may be null. */
bool map_get(const struct map *m, struct str key, int64_t *value);

#endif
