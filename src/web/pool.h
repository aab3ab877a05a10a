/* Desks for requests. A desk belongs to one request at a time; a second one is opened when the first is busy (a round
 * may take a second to find), so that short questions do not wait behind long ones. No more than two: each holds the
 * state of every machine. */
#ifndef WITMARK_WEB_POOL_H
#define WITMARK_WEB_POOL_H

#include "base/err.h"

#include <pthread.h>

#define DESKS_MOST 2

struct desk;

struct pool {
    pthread_mutex_t lock;
    pthread_cond_t given_back;
    struct desk *desks[DESKS_MOST]; /* the first is borrowed */
    bool busy[DESKS_MOST];
};

void pool_open(struct pool *p, struct desk *first);
/* Closes the desks it opened. */
void pool_close(struct pool *p);
/* A desk for the caller alone; waits when all are busy. */
struct desk *pool_take(struct pool *p);
void pool_give(struct pool *p, struct desk *d);

#endif
