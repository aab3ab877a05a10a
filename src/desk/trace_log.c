/* Traces out of the log: entries of kind `trace` put together by the one that started them. */
#include "trace_internal.h"

#include <string.h>

struct reading {
    struct arena *a;
    struct trace_log *log;
    struct map by_id;
};

static struct str copied(const struct reading *r, struct str s)
{
    return s.p ? str_copy(r->a, s) : (struct str){0};
}

static struct desk_trace_event event_of(const struct reading *r, const struct entry *entry)
{
    return (struct desk_trace_event){
        .id = entry->id,
        .at = entry->at,
        .by = copied(r, entry->by),
        .step = copied(r, body_str(entry->body, "step")),
        .what = copied(r, body_str(entry->body, "what")),
        .result = copied(r, body_str(entry->body, "result")),
        .note = copied(r, body_str(entry->body, "note")),
    };
}

/* Entries come by time, so what belongs to a trace comes after its start; what came with a wrong clock before it is
 * left out, as is what belongs to a start that was withdrawn. */
static bool take(void *ctx, const struct entry *entry)
{
    struct reading *r = ctx;
    struct desk_trace_event event = event_of(r, entry);
    struct text id = text_new(r->a);
    int64_t at = 0;
    if (str_eq(event.step, S("started"))) {
        text_entry_id(&id, entry->id);
        map_put(&r->by_id, text_str(&id), (int64_t)r->log->n);
        struct trace_chain chain = {.id = entry->id,
                                    .machine = copied(r, entry->machine),
                                    .symptom = copied(r, body_str(entry->body, "symptom")),
                                    .since = entry->at,
                                    .ended_at = INSTANT_NONE};
        ARENA_PUSH(r->a, chain.events, chain.n_events, chain.cap_events) = event;
        ARENA_PUSH(r->a, r->log->at, r->log->n, r->log->cap) = chain;
        return true;
    }
    if (!map_get(&r->by_id, body_str(entry->body, "trace"), &at)) {
        return true;
    }
    struct trace_chain *chain = &r->log->at[at];
    if (!str_eq(chain->machine, entry->machine)) {
        return true;
    }
    ARENA_PUSH(r->a, chain->events, chain->n_events, chain->cap_events) = event;
    if (str_eq(event.step, S("ended"))) {
        chain->ended_at = entry->at;
        chain->cause = copied(r, body_str(entry->body, "cause"));
        chain->mode = copied(r, body_str(entry->body, "mode"));
        chain->mechanism = copied(r, body_str(entry->body, "mechanism"));
        chain->root = copied(r, body_str(entry->body, "root"));
        chain->confirmed = chain->cause.n > 0 && body_bool(entry->body, "confirmed", false);
    }
    return true;
}

bool trace_log_read(struct desk *d, struct arena *a, struct trace_log *out, struct err *e)
{
    struct entry_filter filter = {.kinds = KIND_BIT(KIND_TRACE), .has_until = true, .until = desk_now(d) + 1};
    *out = (struct trace_log){0};
    struct reading r = {a, out, map_new(a)};
    return depot_each(d->depot, &filter, take, &r, e);
}

const struct trace_chain *trace_log_open(const struct trace_log *log, struct str machine, struct str symptom)
{
    for (size_t i = log->n; i > 0; i--) {
        const struct trace_chain *chain = &log->at[i - 1];
        if (str_eq(chain->machine, machine) && chain->ended_at == INSTANT_NONE &&
            (symptom.n == 0 || str_eq(chain->symptom, symptom))) {
            return chain;
        }
    }
    return NULL;
}

bool desk_traces(struct desk *d, struct str machine, struct arena *a, struct desk_trace_head **at, size_t *n,
                 struct err *e)
{
    struct trace_log log;
    const struct desk_machine *only = NULL;
    size_t cap = 0;
    *at = NULL;
    *n = 0;
    if (!desk_refresh(d, e) || (machine.n && !(only = desk_machine_find(d, machine, e))) ||
        !trace_log_read(d, a, &log, e)) {
        return false;
    }
    for (size_t i = log.n; i > 0; i--) {
        const struct trace_chain *chain = &log.at[i - 1];
        struct err none = err_new(a);
        const struct desk_machine *m = desk_machine_find(d, chain->machine, &none);
        if (!m || (only && m != only)) {
            continue;
        }
        int symptom = m->book ? book_find_symptom(m->book, chain->symptom) : BOOK_NONE;
        ARENA_PUSH(a, *at, *n, cap) =
            (struct desk_trace_head){.machine = m,
                                     .symptom = chain->symptom,
                                     .label = symptom == BOOK_NONE ? chain->symptom : m->book->symptoms[symptom].label,
                                     .cause = chain->cause,
                                     .id = chain->id,
                                     .since = chain->since,
                                     .ended_at = chain->ended_at,
                                     .confirmed = chain->confirmed,
                                     .n_events = chain->n_events};
    }
    return true;
}
