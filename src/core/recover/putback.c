/* Replaying what was opened and put back. */
#include "recover/putback.h"

#include <string.h>

const char *putback_finding_word(enum putback_finding_kind kind)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        PUTBACK_FINDINGS(X)
#undef X
    };
    return words[kind];
}

/* The list while it is replayed. */
struct list {
    struct arena *a;
    struct putback_open *open;
    size_t n, cap;
    struct putback_finding *findings;
    size_t n_findings, cap_findings;
};

/* Place of the item on the list, or n. */
static size_t place_of(const struct list *l, int item)
{
    size_t i = 0;
    while (i < l->n && l->open[i].item != item) {
        i++;
    }
    return i;
}

static void add_finding(struct list *l, struct putback_finding finding)
{
    ARENA_PUSH(l->a, l->findings, l->n_findings, l->cap_findings) = finding;
}

static void open_item(struct list *l, const struct putback_act *act)
{
    size_t i = place_of(l, act->item);
    if (i < l->n) {
        add_finding(l, (struct putback_finding){PUTBACK_TWICE, act->item, -1, act->source, l->open[i].source, false});
        return;
    }
    ARENA_PUSH(l->a, l->open, l->n, l->cap) = (struct putback_open){act->item, act->source};
}

static void close_item(struct list *l, const struct putback_act *act)
{
    size_t i = place_of(l, act->item);
    if (i == l->n || !l->open) {
        add_finding(l, (struct putback_finding){PUTBACK_NEVER_OPENED, act->item, -1, act->source, act->source, false});
        return;
    }
    for (size_t k = 0; k < l->n_findings; k++) { /* put back after all */
        struct putback_finding *f = &l->findings[k];
        f->still = f->still && !(f->kind == PUTBACK_TASK_LEFT && f->opened == l->open[i].source);
    }
    memmove(&l->open[i], &l->open[i + 1], (l->n - i - 1) * sizeof *l->open);
    l->n--;
}

static void end_task(struct list *l, const struct putback_act *act, const struct putback_task *task)
{
    for (int k = 0; k < task->n_closes; k++) {
        size_t i = place_of(l, task->closes[k]);
        if (i < l->n) {
            add_finding(l, (struct putback_finding){PUTBACK_TASK_LEFT, task->closes[k], act->item, act->source,
                                                    l->open[i].source, true});
        }
    }
}

struct putback putback_replay(struct arena *a, const struct putback_act *acts, size_t n,
                              const struct putback_task *tasks)
{
    struct list l = {.a = a};
    for (size_t i = 0; i < n; i++) {
        if (acts[i].kind == ACT_OPEN) {
            open_item(&l, &acts[i]);
        } else if (acts[i].kind == ACT_CLOSE) {
            close_item(&l, &acts[i]);
        } else {
            end_task(&l, &acts[i], &tasks[acts[i].item]);
        }
    }
    return (struct putback){l.open, l.n, l.findings, l.n_findings};
}
