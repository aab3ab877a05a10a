/* /api/...: the desk's answers as JSON, sheets and labels as PDF, drawings of the books (docs/api.md). */
#ifndef WITMARK_WEB_API_H
#define WITMARK_WEB_API_H

#include "answer.h"
#include "target.h"

#include <pthread.h>

struct desk;

struct api {
    struct desk *desk;
    pthread_mutex_t desk_lock;  /* a desk belongs to one request at a time */
    pthread_mutex_t print_lock; /* the printing program runs once at a time */
};

/* Answers a target whose first part is "api"; what goes wrong is an answer too. */
struct answer api_answer(struct api *api, const struct target *t, struct arena *a);

#endif
