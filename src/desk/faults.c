/* Fault codes of the log, per machine: what they are in our words and which symptoms of the book they stand for. */
#include "desk_internal.h"
#include "desk_trace.h"

#include "feed_bus.h"

#include <stdlib.h>

struct gathering {
    struct desk *d;
    struct arena *a;
    const struct desk_machine *only;
    struct desk_fault *at;
    size_t n, cap;
    struct map index; /* serial, line feed, key */
};

static struct str copied(struct arena *a, struct str s)
{
    return s.p ? str_copy(a, s) : (struct str){0};
}

/* "110/0", "110", or the code or words as they came. */
static struct str key_of(struct arena *a, const struct entry *entry)
{
    double spn = body_num(entry->body, "spn");
    double fmi = body_num(entry->body, "fmi");
    if (!(spn >= 0)) {
        struct str code = body_str(entry->body, "code");
        return copied(a, code.n ? code : body_str(entry->body, "text"));
    }
    struct text t = text_new(a);
    text_int(&t, (int64_t)spn);
    if (fmi >= 0) {
        text_char(&t, '/');
        text_int(&t, (int64_t)fmi);
    }
    return text_str(&t);
}

/* Symptoms and clues of the machine's book that this code is. */
static void fit_symptoms(struct gathering *g, struct desk_fault *f)
{
    const struct book *b = f->machine->book;
    if (!b || f->spn < 0) {
        return;
    }
    int *at = ARENA_ARRAY(g->a, int, b->n_symptoms + 1);
    for (int i = 0; i < b->n_symptoms; i++) {
        for (int k = 0; k < b->symptoms[i].codes.n; k++) {
            struct str code = b->symptoms[i].codes.at[k];
            bool whole = str_find(code, S("/")) >= 0;
            if (str_eq(code, f->key) ||
                (!whole && str_starts(f->key, code) && (f->key.n == code.n || f->key.p[code.n] == '/'))) {
                at[f->n_symptoms++] = i;
                break;
            }
        }
    }
    f->symptoms = at;
}

static void explain(struct gathering *g, struct desk_fault *f)
{
    const struct bus_signal *signal = f->spn >= 0 ? bus_table_spn(&bus_table_builtin, (uint32_t)f->spn) : NULL;
    f->signal = signal ? str_of(signal->name) : S("");
    if (f->fmi >= 0 && f->fmi < BUS_FAILURE_MODES && bus_failure_modes[f->fmi].meaning) {
        f->meaning = str_of(bus_failure_modes[f->fmi].meaning);
        f->reading = str_of(bus_failure_modes[f->fmi].reading);
    }
    fit_symptoms(g, f);
}

static bool take(void *ctx, const struct entry *entry)
{
    struct gathering *g = ctx;
    const struct desk_machine *m = NULL;
    for (size_t i = 0; i < g->d->n_machines && !m; i++) {
        m = str_eq(g->d->list[i].serial, entry->machine) ? &g->d->list[i] : NULL;
    }
    if (!m || (g->only && m != g->only)) {
        return true;
    }
    struct str key = key_of(g->a, entry);
    struct text place = text_new(g->a);
    int64_t at = 0;
    text_add(&place, m->serial);
    text_char(&place, '\n');
    text_add(&place, key);
    if (!map_get(&g->index, text_str(&place), &at)) {
        double spn = body_num(entry->body, "spn");
        double fmi = body_num(entry->body, "fmi");
        at = (int64_t)g->n;
        map_put(&g->index, text_str(&place), at);
        ARENA_PUSH(g->a, g->at, g->n, g->cap) = (struct desk_fault){.machine = m,
                                                                    .key = key,
                                                                    .spn = spn >= 0 ? (int64_t)spn : -1,
                                                                    .fmi = fmi >= 0 ? (int64_t)fmi : -1,
                                                                    .first = entry->at};
        explain(g, &g->at[at]);
    }
    struct desk_fault *f = &g->at[at];
    struct str words = body_str(entry->body, "text");
    f->last = entry->at;
    f->active = entry->kind == KIND_FAULT_SEEN;
    if (f->active) {
        double count = body_num(entry->body, "count");
        f->count += count > 0 ? (int64_t)count : 1;
    }
    f->text = words.n ? copied(g->a, words) : f->text;
    return true;
}

/* Active first, then the latest. */
static int by_last(const void *a, const void *b)
{
    const struct desk_fault *x = a;
    const struct desk_fault *y = b;
    if (x->active != y->active) {
        return x->active ? -1 : 1;
    }
    return x->last > y->last ? -1 : x->last < y->last ? 1 : str_cmp(x->key, y->key);
}

bool desk_faults(struct desk *d, struct str machine, bool with_cleared, struct arena *a, struct desk_fault **at,
                 size_t *n, struct err *e)
{
    struct gathering g = {.d = d, .a = a, .index = map_new(a)};
    struct entry_filter filter = {
        .kinds = KIND_BIT(KIND_FAULT_SEEN) | KIND_BIT(KIND_FAULT_CLEARED), .has_until = true, .until = desk_now(d) + 1};
    if (!desk_refresh(d, e) || (machine.n && !(g.only = desk_machine_find(d, machine, e))) ||
        !depot_each(d->depot, &filter, take, &g, e)) {
        return false;
    }
    size_t kept = 0;
    for (size_t i = 0; i < g.n; i++) {
        if (g.at[i].active || with_cleared) {
            g.at[kept++] = g.at[i];
        }
    }
    if (kept) {
        qsort(g.at, kept, sizeof *g.at, by_last);
    }
    *at = g.at;
    *n = kept;
    return true;
}
