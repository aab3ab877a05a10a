/* The log held against the books' procedures: what was opened and closed, turned and moved, in the order of time. */
#include "desk_putback.h"

#include "base/map.h"
#include "desk_internal.h"
#include "recover/putback.h"

#include <math.h>
#include <stdlib.h>

const char *log_doubt_word(enum log_doubt doubt)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        LOG_DOUBTS(X)
#undef X
    };
    return words[doubt];
}

/* What is kept of an entry to name it later. */
struct source {
    struct entry_id id;
    instant_ms at;
};

/* A machine's log on its way through the check. Items are numbered as they are first named: the book's in its order,
 * then adjusters as "adjuster NAME", then what the book does not know. */
struct check {
    struct desk *d;
    struct arena *a;
    const struct desk_machine *m;
    struct map items;
    struct str *labels;
    size_t n_items, cap_items;
    struct putback_act *acts;
    size_t n_acts, cap_acts;
    struct source *sources;
    size_t n_sources, cap_sources;
    struct putback_task *tasks;
    int *open; /* [by item] places in the list while it is read; for handing back */
    size_t n_open, cap_open;
    struct desk_log_finding *found;
    size_t n, cap;
};

static int item_of(struct check *c, struct str name, struct str label)
{
    int64_t i = 0;
    if (!map_get(&c->items, name, &i)) {
        i = (int64_t)c->n_items;
        struct str kept = str_copy(c->a, name);
        map_put(&c->items, kept, i);
        ARENA_PUSH(c->a, c->labels, c->n_items, c->cap_items) = label.n ? str_copy(c->a, label) : kept;
    }
    return (int)i;
}

static struct str adjuster_key(struct check *c, struct str name)
{
    struct text t = text_new(c->a);
    text_addz(&t, "adjuster ");
    text_add(&t, name);
    return text_str(&t);
}

/* The book's items, and what each task closes: what its steps close, and the adjusters that it settles. */
static void begin_machine(struct check *c)
{
    const struct book *b = c->m->book;
    for (int i = 0; b && i < b->n_open_items; i++) {
        (void)item_of(c, b->open_items[i].name, b->open_items[i].label);
    }
    for (int i = 0; b && i < b->n_adjusters; i++) {
        (void)item_of(c, adjuster_key(c, b->adjusters[i].name), b->adjusters[i].label);
    }
    c->tasks = ARENA_ARRAY(c->a, struct putback_task, b ? b->n_tasks : 0);
    for (int i = 0; b && i < b->n_tasks; i++) {
        const struct book_task *task = &b->tasks[i];
        int most = task->adjusts.n;
        for (int k = 0; k < task->n_steps; k++) {
            most += task->steps[k].closes.n;
        }
        int *closes = ARENA_ARRAY(c->a, int, most);
        int n = 0;
        for (int k = 0; k < task->n_steps; k++) {
            for (int l = 0; l < task->steps[k].closes.n; l++) {
                closes[n++] = task->steps[k].closes.at[l];
            }
        }
        for (int k = 0; k < task->adjusts.n; k++) {
            closes[n++] = b->n_open_items + task->adjusts.at[k];
        }
        c->tasks[i] = (struct putback_task){.closes = closes, .n_closes = n};
    }
}

static void act(struct check *c, enum putback_act_kind kind, int item, const struct entry *entry)
{
    ARENA_PUSH(c->a, c->acts, c->n_acts, c->cap_acts) = (struct putback_act){kind, item, c->n_sources};
    ARENA_PUSH(c->a, c->sources, c->n_sources, c->cap_sources) = (struct source){entry->id, entry->at};
    size_t i = 0;
    while (i < c->n_open && c->open[i] != item) {
        i++;
    }
    if (kind == ACT_OPEN && i == c->n_open) {
        ARENA_PUSH(c->a, c->open, c->n_open, c->cap_open) = item;
    } else if (kind == ACT_CLOSE && i < c->n_open) {
        c->open[i] = c->open[--c->n_open];
    }
}

static void add(struct check *c, enum log_doubt doubt, bool open, struct source source, struct str says,
                struct str right)
{
    ARENA_PUSH(c->a, c->found, c->n, c->cap) =
        (struct desk_log_finding){doubt, open, c->m, source.at, source.id, says, right};
}

/* Handed back: what was open then, and not named. */
static void take_hand_back(struct check *c, const struct entry *entry)
{
    const json_t *named = json_object_get(entry->body, "open");
    struct text t = text_new(c->a);
    for (size_t i = 0; i < c->n_open; i++) {
        bool is_named = false;
        struct str label = c->labels[c->open[i]];
        for (size_t k = 0; k < json_array_size(named); k++) {
            int64_t item = -1;
            struct str what = body_str(json_array_get(named, k), "what");
            bool known = map_get(&c->items, what, &item) || map_get(&c->items, adjuster_key(c, what), &item);
            is_named = is_named || (known && item == c->open[i]);
        }
        if (!is_named) {
            text_addz(&t, t.n ? ", " : "handed back with this open: ");
            text_add(&t, label);
        }
    }
    if (t.n) {
        add(c, DOUBT_HANDED_BACK, false, (struct source){entry->id, entry->at}, text_str(&t),
            S("go and look; correct the entry or write down when it was put back"));
    }
}

/* A trial opens and closes with the sum of its turns, which the state has for every entry. */
static void take_turn(struct check *c, const struct entry *entry)
{
    const struct machine_state *s = desk_state_of(c->d, c->m);
    struct str name = body_str(entry->body, "adjuster");
    for (size_t i = 0; i < s->n_turns; i++) {
        const struct turn_state *turn = &s->turns[i];
        for (size_t k = 0; str_eq(turn->name, name) && k < turn->n_steps; k++) {
            const struct turn_step *step = &turn->steps[k];
            if (!entry_id_eq(step->id, entry->id)) {
                continue;
            }
            bool before = k > 0 && turn->steps[k - 1].from_accepted != 0;
            bool after = step->from_accepted != 0;
            int item = item_of(c, adjuster_key(c, name), name);
            if (before != after) {
                act(c, after ? ACT_OPEN : ACT_CLOSE, item, entry);
            }
            turns_t size = step->from_found < 0 ? -step->from_found : step->from_found;
            if (size > turn->rules.at_most) {
                struct text t = text_new(c->a);
                text_add(&t, c->labels[item]);
                text_addz(&t, " stood ");
                text_turns(&t, step->from_found);
                text_addz(&t, " from where it was found, the book allows ");
                text_turns_size(&t, turn->rules.at_most);
                add(c, DOUBT_BEYOND, turn->ledger.beyond, (struct source){entry->id, entry->at}, text_str(&t),
                    S("turn it back within the limit"));
            }
        }
    }
}

static bool take(void *ctx, const struct entry *entry)
{
    struct check *c = ctx;
    struct str what = body_str(entry->body, "what");
    if (entry->kind == KIND_OPENED || entry->kind == KIND_PUT_BACK) {
        act(c, entry->kind == KIND_OPENED ? ACT_OPEN : ACT_CLOSE, item_of(c, what, what), entry);
    } else if (entry->kind == KIND_BURN) {
        struct str type = body_str(entry->body, "type");
        int item = item_of(c, S("burning-inhibited"), S("Burning of the exhaust filter is inhibited"));
        if (str_eq(type, S("inhibited")) || str_eq(type, S("released"))) {
            act(c, str_eq(type, S("inhibited")) ? ACT_OPEN : ACT_CLOSE, item, entry);
        }
    } else if (entry->kind == KIND_TURN) {
        take_turn(c, entry);
    } else if (entry->kind == KIND_DONE) {
        int task = c->m->book ? book_find_task(c->m->book, body_str(entry->body, "task")) : BOOK_NONE;
        if (task != BOOK_NONE) {
            act(c, ACT_TASK, task, entry);
        }
    } else if (entry->kind == KIND_HANDED_BACK) {
        take_hand_back(c, entry);
    }
    return true;
}

static void say_putback(struct check *c, const struct putback_finding *f)
{
    struct text t = text_new(c->a);
    text_add(&t, c->labels[f->item]);
    struct str right = S("correct one of the two entries");
    if (f->kind == PUTBACK_TWICE) {
        text_addz(&t, ": written down as opened again, it was open since ");
        text_local(&t, c->d, c->sources[f->opened].at);
    } else if (f->kind == PUTBACK_NEVER_OPENED) {
        text_addz(&t, ": put back, but nothing says that it was opened");
        right = S("write down when it was opened, or withdraw the entry");
    } else {
        text_addz(&t, ": ");
        text_add(&t, c->m->book->tasks[f->task].label);
        text_addz(&t, " closes it and was written down as done; open since ");
        text_local(&t, c->d, c->sources[f->opened].at);
        text_addz(&t, f->still ? ", and still is" : ", put back later");
        right = f->still ? S("go and look, then write down that it is put back") : S("nothing: it was put back");
    }
    static const enum log_doubt doubts[] = {[PUTBACK_TWICE] = DOUBT_TWICE,
                                            [PUTBACK_NEVER_OPENED] = DOUBT_NEVER_OPENED,
                                            [PUTBACK_TASK_LEFT] = DOUBT_TASK_LEFT};
    add(c, doubts[f->kind], f->kind == PUTBACK_TASK_LEFT && f->still, c->sources[f->source], text_str(&t), right);
}

/* One recovery against the book's limits. */
static void check_recovery(struct check *c, const struct recover_state *now, const struct move_state *last)
{
    struct recover_limits limits = desk_recover_limits(c->m->book);
    struct recover_plan none = {NAN, NAN, NAN, NAN};
    struct recover_judged out[LIMIT_COUNT];
    struct recover_state moved = *now;
    moved.ended = false; /* what it was moved counts, over or not */
    (void)recover_judge(&limits, &moved, &none, out);
    for (int i = 0; i < LIMIT_COUNT; i++) {
        if (out[i].exceeded) {
            struct text t = text_new(c->a);
            text_join(&t, "towed beyond the book's limit of ", recover_limit_word((enum recover_limit)i), (char *)0);
            add(c, DOUBT_MOVED, now->open != 0, (struct source){last->id, last->at}, text_str(&t),
                S("have the drive looked at before it drives again"));
        }
    }
}

static void check_moves(struct check *c)
{
    const struct recovery_state *r = &desk_state_of(c->d, c->m)->recovery;
    if (!c->m->book || !c->m->book->recovery.given) {
        return;
    }
    for (size_t i = 0; i < r->n_past; i++) {
        check_recovery(c, &r->past[i], &r->past_last[i]);
    }
    if (r->now.open && r->now.moves) {
        check_recovery(c, &r->now, &r->moves[r->n_moves - 1]);
    }
}

static int by_time(const void *a, const void *b)
{
    const struct desk_log_finding *x = a;
    const struct desk_log_finding *y = b;
    return x->at < y->at ? -1 : x->at > y->at;
}

static bool check_machine(struct desk *d, const struct desk_machine *m, struct arena *a, struct check *all,
                          struct err *e)
{
    struct check c = {.d = d, .a = a, .m = m, .items = map_new(a), .found = all->found, .n = all->n, .cap = all->cap};
    struct entry_filter filter = {
        .view = VIEW_EFFECTIVE, .machine = m->serial, .has_until = true, .until = desk_now(d) + 1};
    begin_machine(&c);
    if (!depot_each(d->depot, &filter, take, &c, e)) {
        return false;
    }
    struct putback p = putback_replay(a, c.acts, c.n_acts, c.tasks);
    for (size_t i = 0; i < p.n_findings; i++) {
        say_putback(&c, &p.findings[i]);
    }
    check_moves(&c);
    if (c.n > all->n) {
        qsort(c.found + all->n, c.n - all->n, sizeof *c.found, by_time);
    }
    all->found = c.found;
    all->n = c.n;
    all->cap = c.cap;
    return true;
}

bool desk_log_check(struct desk *d, struct str machine, struct arena *a, struct desk_log_finding **at, size_t *n,
                    struct err *e)
{
    const struct desk_machine *only = NULL;
    struct check all = {0};
    if (!desk_refresh(d, e) || (machine.n && !(only = desk_machine_find(d, machine, e)))) {
        return false;
    }
    for (size_t i = 0; i < d->n_machines; i++) {
        if ((!only || only == &d->list[i]) && !check_machine(d, &d->list[i], a, &all, e)) {
            return false;
        }
    }
    *at = all.found;
    *n = all.n;
    return true;
}

void desk_log_check_json(struct json *j, struct desk *d, const struct desk_log_finding *at, size_t n)
{
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        struct text when = text_new(j->t->a);
        struct text local = text_new(j->t->a);
        struct text id = text_new(j->t->a);
        text_instant(&when, at[i].at);
        text_local(&local, d, at[i].at);
        text_entry_id(&id, at[i].entry);
        json_begin_object(j, NULL);
        json_str(j, "machine", at[i].machine->name);
        json_strz(j, "doubt", log_doubt_word(at[i].doubt));
        json_bool(j, "open", at[i].open);
        json_str(j, "at", text_str(&when));
        json_str(j, "at_local", text_str(&local));
        json_str(j, "entry", text_str(&id));
        json_str(j, "says", at[i].says);
        json_str(j, "right", at[i].right);
        json_end_object(j);
    }
    json_end_array(j);
}
