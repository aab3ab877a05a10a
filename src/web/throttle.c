/* Open addressing over a few slots near the key's place; the one longest unused is given away when all are taken. A key
 * that has been quiet for a day is forgiven. */
#include "throttle.h"

#define NEAR 8
#define FORGIVEN_S 86400

static uint64_t key_of(struct str key)
{
    uint64_t hash = str_hash(key);
    return hash ? hash : 1;
}

static struct throttle_slot *slot_of(const struct throttle *t, uint64_t key)
{
    for (size_t i = 0; i < NEAR; i++) {
        const struct throttle_slot *slot = &t->slots[(key + i) % THROTTLE_SLOTS];
        if (slot->key == key) {
            return (struct throttle_slot *)(uintptr_t)slot;
        }
    }
    return NULL;
}

int throttle_wait(const struct throttle *t, struct str key, int64_t now_s)
{
    const struct throttle_slot *slot = slot_of(t, key_of(key));
    return slot && slot->until_s > now_s ? (int)(slot->until_s - now_s) : 0;
}

void throttle_failed(struct throttle *t, struct str key, int64_t now_s)
{
    uint64_t hash = key_of(key);
    struct throttle_slot *slot = slot_of(t, hash);
    if (!slot) {
        slot = &t->slots[hash % THROTTLE_SLOTS];
        for (size_t i = 0; i < NEAR; i++) {
            struct throttle_slot *other = &t->slots[(hash + i) % THROTTLE_SLOTS];
            slot = other->key == 0 || (slot->key != 0 && other->last_s < slot->last_s) ? other : slot;
        }
        *slot = (struct throttle_slot){.key = hash};
    }
    if (now_s - slot->last_s > FORGIVEN_S) {
        slot->failures = 0;
    }
    slot->last_s = now_s;
    slot->failures++;
    int over = slot->failures - t->free_attempts;
    if (over > 0) {
        int64_t wait = t->first_s;
        for (int i = 1; i < over && wait < t->most_s; i++) {
            wait *= 2;
        }
        slot->until_s = now_s + (wait < t->most_s ? wait : t->most_s);
    }
}

void throttle_passed(struct throttle *t, struct str key)
{
    struct throttle_slot *slot = slot_of(t, key_of(key));
    if (slot) {
        *slot = (struct throttle_slot){0};
    }
}
