/* The first free desk is taken, so that the first one keeps warm and the second stays asleep where it is not needed. */
#include "pool.h"

#include "desk.h"

void pool_open(struct pool *p, struct desk *first)
{
    *p = (struct pool){.desks = {first}};
    (void)pthread_mutex_init(&p->lock, NULL);
    (void)pthread_cond_init(&p->given_back, NULL);
}

void pool_close(struct pool *p)
{
    for (size_t i = 1; i < DESKS_MOST; i++) {
        desk_close(p->desks[i]);
    }
    (void)pthread_mutex_destroy(&p->lock);
    (void)pthread_cond_destroy(&p->given_back);
}

/* Opens one more beside the first; where that fails, those there are must do. Called with the lock held: opening is
 * quick, reading the log happens at the first question. */
static bool grow(struct pool *p, size_t i)
{
    struct arena scratch = arena_new(&arena_libc);
    struct err e = err_new(&scratch);
    bool ok = desk_again(p->desks[0], &p->desks[i], &e);
    arena_free(&scratch);
    return ok;
}

struct desk *pool_take(struct pool *p)
{
    struct desk *taken = NULL;
    (void)pthread_mutex_lock(&p->lock);
    while (!taken) {
        for (size_t i = 0; i < DESKS_MOST && !taken; i++) {
            if (!p->busy[i] && (p->desks[i] || grow(p, i))) {
                p->busy[i] = true;
                taken = p->desks[i];
            }
        }
        if (!taken) {
            (void)pthread_cond_wait(&p->given_back, &p->lock);
        }
    }
    (void)pthread_mutex_unlock(&p->lock);
    return taken;
}

void pool_give(struct pool *p, struct desk *d)
{
    (void)pthread_mutex_lock(&p->lock);
    for (size_t i = 0; i < DESKS_MOST; i++) {
        p->busy[i] = p->busy[i] && p->desks[i] != d;
    }
    (void)pthread_cond_signal(&p->given_back);
    (void)pthread_mutex_unlock(&p->lock);
}
