/* A small table searched from end to end: 192 comparisons of a text cost less than one system call. The library counts
 * who is sending a response, so one that is dropped here is still sent to its end. */
#include "keep.h"

#include <stdlib.h>
#include <string.h>

void keep_open(struct keep *k)
{
    memset(k, 0, sizeof *k);
    (void)pthread_mutex_init(&k->lock, NULL);
    (void)pthread_cond_init(&k->made, NULL);
}

static void drop(struct keep *k, struct kept *slot)
{
    for (int i = 0; i < 2; i++) {
        if (slot->response[i]) {
            MHD_destroy_response(slot->response[i]);
        }
    }
    k->bytes -= slot->bytes;
    free(slot->key);
    *slot = (struct kept){0};
}

void keep_close(struct keep *k)
{
    for (size_t i = 0; i < KEEP_SLOTS; i++) {
        if (k->slots[i].key) {
            drop(k, &k->slots[i]);
        }
    }
    (void)pthread_mutex_destroy(&k->lock);
    (void)pthread_cond_destroy(&k->made);
}

static struct kept *slot_of(struct keep *k, const char *key)
{
    for (size_t i = 0; i < KEEP_SLOTS; i++) {
        if (k->slots[i].key && strcmp(k->slots[i].key, key) == 0) {
            return &k->slots[i];
        }
    }
    return NULL;
}

/* The free slot, or the one not asked for the longest, emptied; null when all are being made. */
static struct kept *room(struct keep *k, size_t bytes)
{
    struct kept *oldest = NULL;
    for (;;) {
        struct kept *unused = NULL;
        oldest = NULL;
        for (size_t i = 0; i < KEEP_SLOTS; i++) {
            struct kept *slot = &k->slots[i];
            if (!slot->key) {
                unused = slot;
            } else if (!slot->making && (!oldest || slot->used < oldest->used)) {
                oldest = slot;
            }
        }
        if ((unused && k->bytes + bytes <= KEEP_BYTES) || !oldest) {
            return unused;
        }
        drop(k, oldest);
    }
}

enum keep_found keep_find(struct keep *k, const char *key, int64_t state, struct kept *out)
{
    (void)pthread_mutex_lock(&k->lock);
    struct kept *slot = slot_of(k, key);
    while (slot && slot->making) {
        (void)pthread_cond_wait(&k->made, &k->lock);
        slot = slot_of(k, key);
    }
    if (slot && slot->state == state) {
        slot->used = ++k->clock;
        *out = *slot;
        return KEEP_HERE; /* with the lock held: keep_release */
    }
    if (slot) {
        drop(k, slot);
    }
    slot = room(k, 0);
    if (slot) {
        *slot = (struct kept){.key = strdup(key), .state = state, .used = ++k->clock, .making = true};
        if (!slot->key) {
            *slot = (struct kept){0};
        }
    }
    (void)pthread_mutex_unlock(&k->lock);
    return KEEP_MAKE;
}

void keep_release(struct keep *k)
{
    (void)pthread_mutex_unlock(&k->lock);
}

void keep_put(struct keep *k, const char *key, int64_t state, const struct kept *made)
{
    (void)pthread_mutex_lock(&k->lock);
    struct kept *slot = slot_of(k, key);
    if (slot) {
        drop(k, slot);
    }
    slot = made->bytes < KEEP_BYTES / 2 ? room(k, made->bytes) : NULL;
    char *name = slot ? strdup(key) : NULL;
    if (name) {
        *slot = *made;
        slot->key = name;
        slot->state = state;
        slot->used = ++k->clock;
        slot->making = false;
        k->bytes += made->bytes;
    } else {
        struct kept gone = *made;
        for (int i = 0; i < 2; i++) {
            if (gone.response[i]) {
                MHD_destroy_response(gone.response[i]);
            }
        }
    }
    (void)pthread_cond_broadcast(&k->made);
    (void)pthread_mutex_unlock(&k->lock);
}

void keep_drop(struct keep *k, const char *key)
{
    (void)pthread_mutex_lock(&k->lock);
    struct kept *slot = slot_of(k, key);
    if (slot && slot->making) {
        drop(k, slot);
    }
    (void)pthread_cond_broadcast(&k->made);
    (void)pthread_mutex_unlock(&k->lock);
}
