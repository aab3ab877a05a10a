/* What is asked for in a round: a scope's words, or what today's list says is due, as checks and tasks. */
#include "round_points_internal.h"

#include <math.h>

static bool is_wanted(const struct wanted_list *w, int checkpoint, int task)
{
    for (size_t i = 0; i < w->n; i++) {
        if (w->at[i].checkpoint == checkpoint && w->at[i].task == task) {
            return true;
        }
    }
    return false;
}

static void want(struct arena *a, struct wanted_list *w, int checkpoint, int task, const struct desk_due *due,
                 struct str why)
{
    if (checkpoint == BOOK_NONE && task == BOOK_NONE) {
        return;
    }
    if (!is_wanted(w, checkpoint, task)) {
        struct wanted item = {checkpoint, task, due, why};
        ARENA_PUSH(a, w->at, w->n, w->cap) = item;
    }
}

/* A checkpoint as a person asks for it: one that is done by a task means the task. */
static void want_checkpoint(struct arena *a, struct wanted_list *w, const struct book *b, int i,
                            const struct desk_due *due, struct str why)
{
    const struct book_checkpoint *c = &b->checkpoints[i];
    if (c->kind == CHECK_DONE_BY) {
        want(a, w, BOOK_NONE, c->task, due, why);
    } else {
        want(a, w, i, BOOK_NONE, due, why);
    }
}

static void want_service(struct arena *a, struct wanted_list *w, const struct book *b, int i,
                         const struct desk_due *due, struct str why)
{
    const struct book_service *service = &b->services[i];
    for (int k = 0; k < service->checkpoints.n; k++) {
        want_checkpoint(a, w, b, service->checkpoints.at[k], due, why);
    }
    for (int k = 0; k < service->tasks.n; k++) {
        want(a, w, BOOK_NONE, service->tasks.at[k], due, why);
    }
}

/* What is on today's list and falls within the scope. */
static void want_due(struct arena *a, struct wanted_list *w, const struct desk_today_list *list, const struct book *b,
                     const struct desk_round_ask *ask, bool within)
{
    for (size_t i = 0; i < list->n; i++) {
        const struct desk_due *due = &list->at[i];
        bool now = due->urgency <= 1;
        bool soon = within && ((isfinite(due->reserve.hours_left) && due->reserve.hours_left <= ask->within_hours) ||
                               (ask->within_days > 0 && due->reserve.p50 != DAY_NONE &&
                                due->reserve.p50 <= list->day + ask->within_days));
        if (!now && !soon && due->kind != DUE_READING) {
            continue;
        }
        struct text t = text_new(a);
        text_add(&t, due->says);
        int service =
            due->checkpoint == BOOK_NONE && due->kind == DUE_CHECKPOINT ? book_find_service(b, due->key) : BOOK_NONE;
        if (service != BOOK_NONE) {
            want_service(a, w, b, service, due, text_str(&t));
        } else if (due->kind == DUE_READING || due->kind == DUE_FOUND) {
            want(a, w, BOOK_NONE, due->task, due, text_str(&t));
            want(a, w, due->checkpoint, BOOK_NONE, due, text_str(&t)); /* and read again */
        } else if (due->checkpoint != BOOK_NONE) {
            want_checkpoint(a, w, b, due->checkpoint, due, text_str(&t));
        } else if (due->kind == DUE_AGAIN) {
            want(a, w, BOOK_NONE, due->task, due, text_str(&t));
        }
    }
}

static bool unknown_scope(const struct book *b, struct str name, struct err *e)
{
    size_t n = 0;
    struct str *names = ARENA_ARRAY(e->a, struct str, 3 + b->n_services + b->n_checkpoints + b->n_tasks);
    names[n++] = S("daily");
    names[n++] = S("due");
    names[n++] = S("within");
    for (int i = 0; i < b->n_services; i++) {
        names[n++] = b->services[i].name;
    }
    for (int i = 0; i < b->n_checkpoints; i++) {
        names[n++] = b->checkpoints[i].name;
    }
    for (int i = 0; i < b->n_tasks; i++) {
        names[n++] = b->tasks[i].name;
    }
    ptrdiff_t near = str_nearest(name, names, n);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : "daily, due, within, a service, or names of checkpoints and tasks");
    if (near >= 0) {
        text_add(&right, names[near]);
        text_char(&right, '?');
    }
    return err_set(e, ERR_MISSING, text_z(&right), "book ", str_z(e->a, b->id), " has no service, checkpoint or task '",
                   str_z(e->a, name), "' for ", str_z(e->a, b->serial), (char *)0);
}

/* The scope's words as a list of checks and tasks, and the title of the round. */
bool round_want_scope(struct arena *a, struct wanted_list *w, const struct desk_today_list *list, const struct book *b,
                      const struct desk_round_ask *ask, struct text *title, struct err *e)
{
    struct str scope = str_trim(ask->scope);
    if (scope.n == 0 || str_eq(scope, S("due"))) {
        text_addz(title, "Due now");
        want_due(a, w, list, b, ask, false);
        return true;
    }
    if (str_eq(scope, S("within"))) {
        text_addz(title, "Due within ");
        text_number(title, ask->within_hours, 0);
        text_addz(title, " h");
        if (ask->within_days > 0) {
            text_addz(title, " or ");
            text_int(title, ask->within_days);
            text_addz(title, " days");
        }
        want_due(a, w, list, b, ask, true);
        return true;
    }
    struct str name;
    while (str_next(&scope, ',', &name)) {
        name = str_trim(name);
        int service = book_find_service(b, name);
        int checkpoint = book_find_checkpoint(b, name);
        int task = book_find_task(b, name);
        struct str label = {0};
        if (service != BOOK_NONE) {
            label = b->services[service].label;
            want_service(a, w, b, service, NULL, label);
        } else if (checkpoint != BOOK_NONE) {
            label = b->checkpoints[checkpoint].label;
            want_checkpoint(a, w, b, checkpoint, NULL, S("asked for"));
        } else if (task != BOOK_NONE) {
            label = b->tasks[task].label;
            want(a, w, BOOK_NONE, task, NULL, S("asked for"));
        } else {
            return unknown_scope(b, name, e);
        }
        text_addz(title, title->n ? ", " : "");
        text_add(title, label);
    }
    return true;
}
