/* The shelf from the log and the books. */
#include "stock_internal.h"

#include "stock/shelf.h"

#include <math.h>
#include <stdlib.h>

#define REPEATS 3 /* how often the same work is foreseen again */

struct item {
    struct desk_part part;
    instant_ms since; /* first stock entry */
    struct shelf_work *works;
    struct desk_need *needs;
    size_t n, cap, cap_needs;
    int batches;
    double batch_pieces;
    instant_ms seen_from; /* of unforeseen needs */
};

struct shelf {
    struct desk *d;
    struct arena *a;
    struct map numbers; /* every number of a chain -> item */
    struct map names;   /* the books' names of parts -> item, -1 when they mean several */
    struct item *at;
    size_t n, cap;
    day_t today;
};

static struct item *item_of(struct shelf *s, struct str number)
{
    int64_t i = 0;
    return map_get(&s->numbers, number, &i) ? &s->at[i] : NULL;
}

/* The part of a machine's book as an item of the shelf; made when it is new. */
static struct item *take_part(struct shelf *s, const struct book_part *p)
{
    struct item *item = item_of(s, p->now);
    if (!item) {
        struct item fresh = {.part = {.number = p->now, .label = p->label, .in_a_book = true, .pack = 1}};
        map_put(&s->numbers, p->now, (int64_t)s->n);
        ARENA_PUSH(s->a, s->at, s->n, s->cap) = fresh;
        item = &s->at[s->n - 1];
    }
    for (int i = 0; i < p->chain.n; i++) {
        if (!map_get(&s->numbers, p->chain.at[i], NULL)) {
            map_put(&s->numbers, p->chain.at[i], item - s->at);
        }
    }
    int64_t known = item - s->at;
    bool other = map_get(&s->names, p->name, &known) && known != item - s->at;
    map_put(&s->names, p->name, other ? -1 : item - s->at);
    item->part.keep = fmax(item->part.keep, p->keep);
    item->part.pack = p->pack > item->part.pack ? p->pack : item->part.pack;
    int lead = (int)ceil(p->lead_s / 86400);
    item->part.lead_given = item->part.lead_given || lead > 0;
    item->part.lead_days = lead > item->part.lead_days ? lead : item->part.lead_days;
    return item;
}

/* ---- what is needed ---------------------------------------------------------------------------------------------- */

/* The same work k intervals later. */
static struct reserve again(const struct shelf *s, const struct machine_state *m, const struct counted *counted, int k)
{
    struct interval interval = counted->interval;
    struct interval every = {interval.hours * (k + 1), interval.months * (k + 1), interval.days * (k + 1)};
    return reserve_forecast(every, counted->since, m->m.hours_now,
                            m->m.use.known ? m->m.use.hours_per_day : (double)NAN, s->today, &m->usage);
}

static void add_need(struct shelf *s, const struct machine_state *m, const struct book_task *task,
                     const struct book_use *use, struct reserve due)
{
    struct item *item = take_part(s, &m->m.book->parts[use->item]);
    ARENA_PUSH(s->a, item->needs, item->part.n_needs, item->cap_needs) =
        (struct desk_need){&s->d->list[m - s->d->machines], task->name, task->label, use->quantity, due};
    ARENA_PUSH(s->a, item->works, item->n, item->cap) = (struct shelf_work){use->quantity, due};
}

/* Regular work of one machine: each checkpoint by interval, its next time and some after it. */
static void add_machine(struct shelf *s, const struct machine_state *m)
{
    const struct book *b = m->m.book;
    for (int i = 0; i < b->n_parts; i++) {
        (void)take_part(s, &b->parts[i]);
    }
    for (int i = 0; i < b->n_checkpoints && !m->m.out_of_service; i++) {
        const struct book_checkpoint *c = &b->checkpoints[i];
        if (c->kind != CHECK_DONE_BY || b->tasks[c->task].n_parts == 0) {
            continue;
        }
        const struct book_task *task = &b->tasks[c->task];
        struct counted counted = {0};
        struct reserve due = due_reserve(s->d, m, i, &counted);
        for (int k = 0; k <= REPEATS && due.rule != RESERVE_NONE; k++) {
            struct reserve r = k == 0 ? due : again(s, m, &counted, k);
            for (int p = 0; p < task->n_parts; p++) {
                add_need(s, m, task, &task->parts[p], r);
            }
        }
    }
}

/* ---- what is there ----------------------------------------------------------------------------------------------- */

/* What a stock entry names: a number, or the name or label of one part. */
static struct item *named(struct shelf *s, struct str name)
{
    struct item *item = item_of(s, name);
    int64_t one = -1;
    if (!item && map_get(&s->names, name, &one) && one >= 0) {
        item = &s->at[one];
    }
    for (size_t i = 0; i < s->n && !item; i++) {
        item = str_eq_nocase(s->at[i].part.number, name) || str_eq_nocase(s->at[i].part.label, name) ? &s->at[i] : NULL;
    }
    if (!item) {
        struct item fresh = {.part = {.number = name, .label = name, .pack = 1}};
        map_put(&s->numbers, name, (int64_t)s->n);
        ARENA_PUSH(s->a, s->at, s->n, s->cap) = fresh;
        item = &s->at[s->n - 1];
    }
    return item;
}

static void count_stock(struct shelf *s)
{
    for (size_t i = 0; i < s->d->n_stock; i++) {
        const struct stock_event *event = &s->d->stock[i];
        struct item *item = named(s, event->part);
        item->since = item->part.counted && item->since < event->at ? item->since : event->at;
        item->part.counted = true;
        item->part.have += event->quantity;
        if (event->quantity > 0 || !item->part.has_entry) {
            item->part.entry = event->id;
            item->part.has_entry = true;
        }
    }
}

/* The part that a use names, in that machine's book. */
static struct item *used(struct shelf *s, const struct machine_state *m, const struct use_state *use)
{
    struct item *item = use->number.n ? item_of(s, use->number) : NULL;
    int part = m->m.book ? book_find_part(m->m.book, use->name) : BOOK_NONE;
    return item ? item : part == BOOK_NONE ? NULL : item_of(s, m->m.book->parts[part].now);
}

/* Is the task asked for by an interval? Then its needs are foreseen. */
static bool foreseen(const struct book *b, int task)
{
    for (int i = 0; i < b->n_checkpoints; i++) {
        if (b->checkpoints[i].kind == CHECK_DONE_BY && b->checkpoints[i].task == task) {
            return true;
        }
    }
    return false;
}

static void take_uses(struct shelf *s, const struct machine_state *m)
{
    instant_ms first = m->m.registered;
    for (size_t i = 0; i < m->n_uses; i++) {
        const struct use_state *use = &m->uses[i];
        struct item *item = use->fluid ? NULL : used(s, m, use);
        if (!item || !(use->quantity > 0)) {
            continue;
        }
        if (item->part.counted && use->at >= item->since) {
            item->part.have -= use->quantity;
        }
        if (!foreseen(m->m.book, use->task)) {
            item->batches++;
            item->batch_pieces += use->quantity;
        }
        item->seen_from = item->seen_from == 0 || first < item->seen_from ? first : item->seen_from;
    }
}

/* ---- what to order ----------------------------------------------------------------------------------------------- */

static int nearest_first(const void *a, const void *b)
{
    const struct desk_need *x = a;
    const struct desk_need *y = b;
    return reserve_cmp(&x->due, &y->due);
}

static struct shelf_ask ask_of(const struct shelf *s, const struct item *item)
{
    double days = (double)(desk_now(s->d) - item->seen_from) / 86400000.0;
    return (struct shelf_ask){.have = item->part.have,
                              .works = item->works,
                              .n = (int)item->n,
                              .batches = item->batches,
                              .batch_size = item->batches ? item->batch_pieces / item->batches : 1,
                              .days_seen = item->batches ? fmax(1, days) : 1,
                              .today = s->today};
}

static void add_day(struct text *t, day_t day)
{
    text_day_words(t, day);
}

/* "3 there, out about 4 Sep 2026 (28 Aug 2026 to 15 Sep 2026); order 4 by 14 Aug 2026" */
static struct str part_says(const struct shelf *s, const struct desk_part *p)
{
    struct text t = text_new(s->a);
    if (!p->counted) {
        text_addz(&t, "not counted yet: witmark record stock ");
        text_add(&t, p->number);
        text_addz(&t, " PIECES");
        return text_str(&t);
    }
    text_number(&t, p->have, 2);
    text_addz(&t, " there");
    if (p->keep > 0) {
        text_addz(&t, ", ");
        text_number(&t, p->keep, 0);
        text_addz(&t, " to be kept");
    }
    if (p->runs_out.out) {
        text_addz(&t, ", short for what is due");
    } else if (p->runs_out.p50 != DAY_NONE) {
        text_addz(&t, ", out about ");
        add_day(&t, p->runs_out.p50);
        text_addz(&t, " (");
        add_day(&t, p->runs_out.p10);
        text_addz(&t, " to ");
        if (p->runs_out.p90 != DAY_NONE) {
            add_day(&t, p->runs_out.p90);
        } else {
            text_addz(&t, "much later");
        }
        text_char(&t, ')');
    }
    if (p->order > 0) {
        text_addz(&t, "; order ");
        text_number(&t, p->order, 0);
        if (p->order_by != DAY_NONE && p->order_by > s->today) {
            text_addz(&t, " by ");
            add_day(&t, p->order_by);
        } else {
            text_addz(&t, " now");
        }
    }
    return text_str(&t);
}

static void reckon(struct shelf *s, struct item *item)
{
    struct desk_part *p = &item->part;
    struct shelf_ask ask = ask_of(s, item);
    p->lead_days = p->lead_days > 0 ? p->lead_days : STOCK_LEAD_DAYS;
    p->unforeseen = item->batches;
    p->order_by = DAY_NONE;
    day_t until = s->today + p->lead_days + STOCK_COVER_DAYS;
    p->needed = shelf_needed(&ask, until);
    if (item->needs) {
        qsort(item->needs, p->n_needs, sizeof *item->needs, nearest_first);
    }
    p->needs = item->needs;
    if (p->counted) {
        struct reserve_points *points = ARENA_NEW(s->a, struct reserve_points);
        *points = shelf_points(&ask, s->a);
        bool out = shelf_short(&ask, 0, s->today, s->a) > 0.5;
        p->runs_out = reserve_of_points(points, out, NAN, s->today, NULL);
        bool below = p->have < p->keep - 1e-9;
        p->order_by = below || out ? s->today : p->runs_out.p10 == DAY_NONE ? DAY_NONE : p->runs_out.p10 - p->lead_days;
        bool soon = p->order_by != DAY_NONE && p->order_by <= s->today + STOCK_COVER_DAYS;
        if (soon) {
            day_t lasts = p->order_by > s->today ? p->order_by : s->today;
            p->order = shelf_order(&ask, p->keep, p->pack, STOCK_SURE, lasts + p->lead_days + STOCK_COVER_DAYS, s->a);
        }
    }
    p->says = part_says(s, p);
}

/* What is to be ordered first; of the rest what runs out first; then what is not counted. */
static int by_order(const void *a, const void *b)
{
    const struct desk_part *x = a;
    const struct desk_part *y = b;
    if (x->counted != y->counted) {
        return x->counted ? -1 : 1;
    }
    int64_t dx = x->order_by == DAY_NONE ? INT64_MAX : x->order_by;
    int64_t dy = y->order_by == DAY_NONE ? INT64_MAX : y->order_by;
    if (dx != dy) {
        return dx < dy ? -1 : 1;
    }
    int c = x->counted ? reserve_cmp(&x->runs_out, &y->runs_out) : 0;
    return c ? c : str_cmp(x->number, y->number);
}

void stock_shelf(struct desk *d, struct arena *a, struct desk_shelf *out)
{
    struct shelf s = {.d = d, .a = a, .numbers = map_new(a), .names = map_new(a), .today = desk_today_day(d)};
    desk_forecast_ready(d);
    for (size_t i = 0; i < d->n_machines; i++) {
        if (d->machines[i].m.book) {
            add_machine(&s, &d->machines[i]);
        }
    }
    count_stock(&s);
    for (size_t i = 0; i < d->n_machines; i++) {
        if (d->machines[i].m.book) {
            take_uses(&s, &d->machines[i]);
        }
    }
    struct desk_part *parts = ARENA_ARRAY(a, struct desk_part, s.n + 1);
    for (size_t i = 0; i < s.n; i++) {
        reckon(&s, &s.at[i]);
        parts[i] = s.at[i].part;
    }
    if (s.n) {
        qsort(parts, s.n, sizeof *parts, by_order);
    }
    *out = (struct desk_shelf){s.today, parts, s.n};
}

bool desk_shelf(struct desk *d, struct arena *a, struct desk_shelf *out, struct err *e)
{
    if (!desk_refresh(d, e)) {
        return false;
    }
    stock_shelf(d, a, out);
    return true;
}

bool stock_one_part(struct desk *d, struct str name, struct err *e)
{
    struct text all = text_new(e->a);
    int n = 0;
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct book *b = d->machines[i].m.book;
        int part = b ? book_find_part(b, name) : BOOK_NONE;
        if (part == BOOK_NONE || str_find(text_str(&all), b->parts[part].now) >= 0) {
            continue;
        }
        text_addz(&all, n++ ? ", " : "");
        text_add(&all, b->parts[part].now);
    }
    return n < 2 || err_set(e, ERR_CONFLICT, text_z(&all), "several parts are called '", str_z(e->a, name),
                            "': say which number", (char *)0);
}
