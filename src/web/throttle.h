/* Slowing down those who guess: after a few failures of one key the next attempt waits, and twice as long each time. A
 * fixed table: who fills it with other keys only makes old ones be forgotten. */
#ifndef WITMARK_WEB_THROTTLE_H
#define WITMARK_WEB_THROTTLE_H

#include "base/text.h"

#define THROTTLE_SLOTS 1024

struct throttle_slot {
    uint64_t key; /* 0 = free */
    int failures;
    int64_t last_s, until_s;
};
struct throttle {
    struct throttle_slot slots[THROTTLE_SLOTS];
    int free_attempts;   /* failures that cost nothing */
    int first_s, most_s; /* the first wait, doubled up to the longest */
};

/* Seconds to wait before the next attempt; 0 = none. now_s: of a clock that does not go back. */
int throttle_wait(const struct throttle *t, struct str key, int64_t now_s);
void throttle_failed(struct throttle *t, struct str key, int64_t now_s);
void throttle_passed(struct throttle *t, struct str key);

#endif
