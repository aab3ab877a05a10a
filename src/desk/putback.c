/* The put-back list in the book's words, and handing a machine back. */
#include "desk_putback.h"

#include "desk_internal.h"
#include "record_entry.h"
#include "record_internal.h"

#include <jansson.h>

const char *left_kind_word(enum left_kind kind)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        LEFT_KINDS(X)
#undef X
    };
    return words[kind];
}

static bool refs_have(struct book_refs refs, int item)
{
    for (int i = 0; i < refs.n; i++) {
        if (refs.at[i] == item) {
            return true;
        }
    }
    return false;
}

/* The book's words for closing an item: the way back of the recovery that opens it, the change that closes it, the step
 * of a task that does. */
static void how_closed(struct arena *a, const struct book *b, int item, struct desk_left_open *out)
{
    for (int i = 0; i < b->recovery.n_steps; i++) {
        const struct book_step *s = &b->recovery.steps[i];
        if (refs_have(s->opens, item) && s->undo.n) {
            out->close = s->undo;
            out->source = desk_book_line(a, b, s->pos);
            return;
        }
    }
    for (int i = 0; i < b->n_changes; i++) {
        if (refs_have(b->changes[i].closes, item)) {
            out->close = b->changes[i].act;
            out->source = desk_book_line(a, b, b->changes[i].pos);
            return;
        }
    }
    for (int i = 0; i < b->n_tasks; i++) {
        for (int k = 0; k < b->tasks[i].n_steps; k++) {
            const struct book_step *s = &b->tasks[i].steps[k];
            if (refs_have(s->closes, item)) {
                out->close = s->act;
                out->source = desk_book_line(a, b, s->pos);
                return;
            }
        }
    }
}

/* "witmark WORDS MACHINE REST" */
static struct str command(struct arena *a, const char *words, struct str machine, struct str rest, const char *end)
{
    struct text t = text_new(a);
    text_join(&t, "witmark ", words, " ", (char *)0);
    text_add(&t, machine);
    text_addz(&t, rest.n ? " " : "");
    text_add(&t, rest);
    text_addz(&t, end);
    return text_str(&t);
}

static void how_turned_back(struct arena *a, const struct machine_state *s, struct desk_left_open *out)
{
    for (size_t i = 0; i < s->n_turns; i++) {
        if (str_eq(s->turns[i].name, out->item)) {
            struct text t = text_new(a);
            text_addz(&t, "Turn it back, ");
            text_turns(&t, adjust_back(&s->turns[i].ledger));
            text_addz(&t, ", or accept the setting; lock nut tight");
            out->close = text_str(&t);
        }
    }
    out->write_down = command(a, "adjust", s->m.name, out->item, " --back (or --accept)");
}

static struct desk_left_open left_open(struct desk *d, struct arena *a, const struct desk_machine *m,
                                       const struct open_state *open)
{
    struct desk_left_open out = {.machine = m,
                                 .kind = open->kind == OPEN_TRIAL     ? LEFT_TRIAL
                                         : open->kind == OPEN_INHIBIT ? LEFT_INHIBIT
                                                                      : LEFT_ITEM,
                                 .item = open->item,
                                 .label = open->label,
                                 .since = open->since,
                                 .by = open->by,
                                 .entry = open->id};
    if (out.kind == LEFT_TRIAL) {
        how_turned_back(a, desk_state_of(d, m), &out);
    } else if (out.kind == LEFT_INHIBIT) {
        out.close = S("Release burning again where nothing can catch fire");
        out.write_down = command(a, "record burn", m->name, S("released"), "");
    } else {
        if (open->open_item != BOOK_NONE) {
            how_closed(a, m->book, open->open_item, &out);
        }
        out.write_down = command(a, "record put-back", m->name, open->item, "");
    }
    return out;
}

bool desk_put_back_list(struct desk *d, struct str machine, struct arena *a, struct desk_left_open **at, size_t *n,
                        struct err *e)
{
    const struct desk_machine *only = NULL;
    size_t cap = 0;
    *at = NULL;
    *n = 0;
    if (!desk_refresh(d, e) || (machine.n && !(only = desk_machine_find(d, machine, e)))) {
        return false;
    }
    for (size_t i = 0; i < d->n_machines; i++) {
        for (size_t k = 0; (!only || only == &d->list[i]) && k < d->machines[i].n_open; k++) {
            ARENA_PUSH(a, *at, *n, cap) = left_open(d, a, &d->list[i], &d->machines[i].open[k]);
        }
    }
    return true;
}

bool desk_may_open(struct desk *d, const struct desk_machine *m, struct str item, bool back, struct err *e)
{
    const struct machine_state *s = desk_state_of(d, m);
    const struct open_state *open = NULL;
    for (size_t i = 0; i < s->n_open && !open; i++) {
        open = str_eq(s->open[i].item, item) ? &s->open[i] : NULL;
    }
    if (open && open->kind != OPEN_ITEM) {
        struct desk_left_open left = left_open(d, e->a, m, open);
        return err_set(e, ERR_REFUSED, str_z(e->a, left.write_down), "'", str_z(e->a, open->label),
                       open->kind == OPEN_TRIAL ? "' is undone by turns" : "' ends when burning is released",
                       (char *)0);
    }
    if (!open && m->book && named_open_item(m->book, item, e) == BOOK_NONE) {
        return false;
    }
    return (open != NULL) == back ||
           err_set(e, ERR_REFUSED, "witmark put-back shows what is open", "'", str_z(e->a, item),
                   back ? "' is not open" : "' is open already", (char *)0);
}

/* ---- handing back ---- */

/* "2 things are open: the bypass is open (since ...), ..." */
static bool refuse_open(struct desk *d, const struct desk_left_open *at, size_t n, struct err *e)
{
    struct text t = text_new(e->a);
    text_add(&t, at[0].machine->name);
    text_addz(&t, " can't be handed back, ");
    text_int(&t, (int64_t)n);
    text_addz(&t, n == 1 ? " thing is open: " : " things are open: ");
    for (size_t i = 0; i < n; i++) {
        text_addz(&t, i ? "; " : "");
        text_add(&t, at[i].label);
        text_addz(&t, " (since ");
        text_local(&t, d, at[i].since);
        text_addz(&t, ", ");
        text_add(&t, at[i].by);
        text_char(&t, ')');
    }
    return err_set(
        e, ERR_REFUSED,
        "put it back; or a reason (--despite) signed by somebody who answers for it, which goes into the log",
        text_z(&t), (char *)0);
}

bool desk_hand_back(struct desk *d, const struct desk_stamp *s, struct str to, struct str despite, struct arena *a,
                    struct desk_recorded *out, struct err *e)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    *out = (struct desk_recorded){0};
    despite = str_trim(despite);
    const struct desk_machine *m = desk_refresh(d, e) ? desk_machine_find(d, s->machine, e) : NULL;
    if (!m || !desk_put_back_list(d, m->serial, a, &at, &n, e)) {
        return false;
    }
    if (n && !despite.n) {
        return refuse_open(d, at, n, e);
    }
    if (!n && despite.n) {
        return err_set(e, ERR_USAGE, "leave --despite out", "nothing is open on ", str_z(e->a, m->name), (char *)0);
    }
    json_t *body = json_object();
    body_put_str(body, "to", str_trim(to));
    body_put_str(body, "despite", despite);
    json_t *open = json_array();
    for (size_t i = 0; i < n; i++) {
        json_t *one = json_object();
        struct text since = text_new(a);
        text_instant(&since, at[i].since);
        body_put_str(one, "what", at[i].item);
        body_put_str(one, "label", str_cut(at[i].label, 0, 200));
        body_put_str(one, "since", text_str(&since));
        body_put_str(one, "by", at[i].by);
        json_array_append_new(open, one);
    }
    if (n) {
        json_object_set(body, "open", open);
    }
    json_decref(open);
    return desk_record_entry(d, s, m, KIND_HANDED_BACK, body, a, out, e);
}

bool desk_hand_back_fits(struct desk *d, const struct desk_machine *m, const json_t *body, struct err *e)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    size_t missing = 0;
    if (!desk_put_back_list(d, m->serial, e->a, &at, &n, e)) {
        return false;
    }
    const json_t *open = json_object_get(body, "open");
    for (size_t i = 0; i < n; i++) {
        bool named = false;
        for (size_t k = 0; k < json_array_size(open); k++) {
            named = named || str_eq(body_str(json_array_get(open, k), "what"), at[i].item);
        }
        if (!named) {
            at[missing++] = at[i];
        }
    }
    return missing == 0 || refuse_open(d, at, missing, e);
}

void desk_put_back_json(struct json *j, struct desk *d, const struct desk_left_open *at, size_t n)
{
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        struct text since = text_new(j->t->a);
        struct text local = text_new(j->t->a);
        struct text id = text_new(j->t->a);
        text_instant(&since, at[i].since);
        text_local(&local, d, at[i].since);
        text_entry_id(&id, at[i].entry);
        json_begin_object(j, NULL);
        json_str(j, "machine", at[i].machine->name);
        json_str(j, "serial", at[i].machine->serial);
        json_strz(j, "kind", left_kind_word(at[i].kind));
        json_str(j, "item", at[i].item);
        json_str(j, "label", at[i].label);
        json_str(j, "since", text_str(&since));
        json_str(j, "since_local", text_str(&local));
        json_str(j, "by", at[i].by);
        json_str(j, "entry", text_str(&id));
        json_str(j, "close", at[i].close);
        json_str(j, "source", at[i].source);
        json_str(j, "write_down", at[i].write_down);
        json_end_object(j);
    }
    json_end_array(j);
}
