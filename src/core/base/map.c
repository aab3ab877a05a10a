/* Open addressing with linear probing, at most half full; nothing is ever removed. */
#include "base/map.h"

struct map map_new(struct arena *a)
{
    return (struct map){.a = a};
}

/* The slot that holds the key, or the free one where it belongs. cap > 0. */
static struct map_slot *slot_of(const struct map *m, struct str key, uint64_t hash)
{
    size_t i = (size_t)hash & (m->cap - 1);
    while (m->slots[i].used && !(m->slots[i].hash == hash && str_eq(m->slots[i].key, key))) {
        i = (i + 1) & (m->cap - 1);
    }
    return &m->slots[i];
}

static void grow(struct map *m)
{
    struct map old = *m;
    m->cap = old.cap ? old.cap * 2 : 16;
    m->slots = ARENA_ARRAY(m->a, struct map_slot, m->cap);
    for (size_t i = 0; i < old.cap; i++) {
        if (old.slots[i].used) {
            *slot_of(m, old.slots[i].key, old.slots[i].hash) = old.slots[i];
        }
    }
}

bool map_put(struct map *m, struct str key, int64_t value)
{
    if ((m->n + 1) * 2 > m->cap) {
        grow(m);
    }
    uint64_t hash = str_hash(key);
    struct map_slot *slot = slot_of(m, key, hash);
    bool fresh = !slot->used;
    m->n += fresh;
    *slot = (struct map_slot){key, hash, value, true};
    return fresh;
}

bool map_get(const struct map *m, struct str key, int64_t *value)
{
    if (m->cap == 0) {
        return false;
    }
    const struct map_slot *slot = slot_of(m, key, str_hash(key));
    if (slot->used && value) {
        *value = slot->value;
    }
    return slot->used;
}
