/* Answers that are kept until the depot changes: what is due does not change between two entries, and many ask. An
 * answer is kept as libmicrohttpd's responses, packed and plain, under the address asked for; it is good for one state
 * of the depot and ten minutes of its clock. Who asks for an answer that another thread is just making waits for it. */
#ifndef WITMARK_WEB_KEEP_H
#define WITMARK_WEB_KEEP_H

#include "base/text.h"

#include <microhttpd.h>
#include <pthread.h>

#define KEEP_SLOTS 192
#define KEEP_BYTES ((size_t)96 << 20)

struct kept {
    char *key; /* null = free */
    int64_t state;
    int64_t used; /* when last asked for */
    size_t bytes;
    bool making;
    char etag[2][40];                 /* plain, packed */
    struct MHD_Response *response[2]; /* packed may be null: send plain */
};

struct keep {
    pthread_mutex_t lock;
    pthread_cond_t made;
    struct kept slots[KEEP_SLOTS];
    size_t bytes;
    int64_t clock;
};

void keep_open(struct keep *k);
void keep_close(struct keep *k);

enum keep_found {
    KEEP_HERE, /* *out is filled and cannot go until the caller, having queued it, calls keep_release */
    KEEP_MAKE, /* the caller makes it, then calls keep_put or keep_drop */
};
enum keep_found keep_find(struct keep *k, const char *key, int64_t state, struct kept *out);
void keep_release(struct keep *k);
/* Takes the responses over: they are destroyed when they are no longer wanted, at once when there is no room. */
void keep_put(struct keep *k, const char *key, int64_t state, const struct kept *made);
/* It could not be made, or is not to be kept. */
void keep_drop(struct keep *k, const char *key);

#endif
