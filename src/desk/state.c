/* From the log to the state of every machine: one pass over the entries that hold, then, per machine, its book, its
 * meter, and what each checkpoint, task, torque, adjuster, open item and fault was last seen to be. Everything here can
 * be thrown away and made anew. */
#include "state_internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct collected {
    struct machine_state s;
    struct event *events;
    size_t n, cap;
};

struct collector {
    struct desk *d;
    struct map by_serial;
    struct collected *at;
    size_t n, cap;
    int64_t place;
};

static struct str kept(struct desk *d, struct str s)
{
    return s.p ? str_copy(&d->state, s) : s;
}

/* The values that were read together with a reading. */
static void copy_with(struct desk *d, const json_t *body, struct event *event)
{
    json_t *with = json_object_get(body, "with");
    size_t n = json_object_size(with);
    struct judge_with *at = ARENA_ARRAY(&d->state, struct judge_with, n);
    const char *key = NULL;
    json_t *member = NULL;
    int i = 0;
    json_object_foreach(with, key, member)
    {
        at[i].name = kept(d, str_of(key));
        at[i].value.value = body_num(member, "value");
        at[i].value.unit = unit_find(body_str(member, "unit"));
        i++;
    }
    event->with = at;
    event->n_with = i;
}

/* The fluids that went in with work done. */
static void copy_fills(struct desk *d, const json_t *body, struct event *event)
{
    json_t *list = json_object_get(body, "fluids");
    size_t n = json_array_size(list);
    struct filled *at = ARENA_ARRAY(&d->state, struct filled, n);
    for (size_t i = 0; i < n; i++) {
        const json_t *used = json_array_get(list, i);
        const struct unit *unit = unit_find(body_str(used, "unit"));
        double value = body_num(used, "value");
        bool volume = unit && unit->kind == Q_VOLUME && isfinite(value);
        at[i] = (struct filled){kept(d, body_str(used, "fluid")), volume ? unit_to_si(unit, value) : 0};
    }
    event->fills = at;
    event->n_fills = (int)n;
}

static int64_t body_int(const json_t *body, const char *member, int64_t otherwise)
{
    double v = body_num(body, member);
    return isfinite(v) ? (int64_t)v : otherwise;
}

/* Parts and fluids that a task used. */
static void copy_used(struct desk *d, const json_t *body, struct event *event)
{
    json_t *parts = json_object_get(body, "parts");
    json_t *fluids = json_object_get(body, "fluids");
    size_t n = json_array_size(parts) + json_array_size(fluids);
    struct use_state *at = ARENA_ARRAY(&d->state, struct use_state, n);
    int count = 0;
    for (size_t i = 0; i < json_array_size(parts); i++) {
        const json_t *part = json_array_get(parts, i);
        at[count++] = (struct use_state){.name = kept(d, body_str(part, "part")),
                                         .number = kept(d, body_str(part, "number")),
                                         .quantity = body_num(part, "quantity")};
    }
    for (size_t i = 0; i < json_array_size(fluids); i++) {
        const json_t *fluid = json_array_get(fluids, i);
        const struct unit *unit = unit_find(body_str(fluid, "unit"));
        double value = body_num(fluid, "value");
        at[count++] = (struct use_state){.fluid = true,
                                         .name = kept(d, body_str(fluid, "fluid")),
                                         .quantity = unit ? unit_to_si(unit, value) : (double)NAN};
    }
    event->used = at;
    event->n_used = count;
}

/* What came onto the shelf or was taken from it. */
static void take_stock(struct desk *d, const struct entry *entry)
{
    ARENA_PUSH(&d->state, d->stock, d->n_stock, d->cap_stock) =
        (struct stock_event){.at = entry->at,
                             .id = entry->id,
                             .part = kept(d, body_str(entry->body, "part")),
                             .by = kept(d, entry->by),
                             .machine = kept(d, entry->machine),
                             .quantity = body_num(entry->body, "quantity")};
}

/* What the machine is: from its registration, the latest of which holds. */
static void take_registration(struct desk *d, struct machine_state *s, const struct entry *entry)
{
    const json_t *body = entry->body;
    struct desk_machine *m = &s->m;
    m->book_id = kept(d, body_str(body, "book"));
    m->label = kept(d, body_str(body, "label"));
    m->site = kept(d, body_str(body, "site"));
    m->severe = body_bool(body, "severe", m->severe);
    m->out_of_service = false;
    if (m->registered == INSTANT_NONE) {
        m->registered = entry->at;
    }
    day_t day = 0;
    if (day_parse(body_str(body, "in_service"), &day)) {
        m->in_service = day;
    }
    json_t *options = json_object_get(body, "options");
    size_t n = json_array_size(options);
    struct str *at = ARENA_ARRAY(&d->state, struct str, n);
    for (size_t i = 0; i < n; i++) {
        at[i] = kept(d, str_of(json_string_value(json_array_get(options, i))));
    }
    m->options = (struct book_texts){at, (int)n};
}

/* The name that a body is about, by kind. */
static struct str subject(const struct entry *entry)
{
    switch (entry->kind) {
    case KIND_READING:
    case KIND_FOUND:
        return body_str(entry->body, "checkpoint");
    case KIND_DONE:
        return body_str(entry->body, "task");
    case KIND_TURN:
        return body_str(entry->body, "adjuster");
    case KIND_OPENED:
    case KIND_PUT_BACK:
        return body_str(entry->body, "what");
    case KIND_FAULT_SEEN:
    case KIND_FAULT_CLEARED:
        return body_str(entry->body, "code");
    case KIND_BURN:
        return body_str(entry->body, "type");
    case KIND_MACHINE_IN:
    case KIND_MACHINE_OUT:
    case KIND_METER:
    case KIND_METER_REPLACED:
    case KIND_MOVED:
    case KIND_HANDED_BACK:
    case KIND_STOCK:
    case KIND_NOTE:
    case KIND_ATTACHMENT:
    case KIND_CALENDAR:
    case KIND_TRACE:
    case KIND_CORRECTION:
    case KIND_ROUND:
    case KIND_COUNT:
        break;
    }
    return (struct str){0};
}

/* What was imported, so that importing it again is seen before it is tried. */
static void take_import_key(struct desk *d, const struct entry *entry)
{
    struct str key = body_str(entry->body, "import_key");
    if (key.n == 0) {
        return;
    }
    struct text t = text_new(&d->state);
    text_add(&t, entry->machine);
    text_char(&t, '\n');
    text_add(&t, key);
    map_put(&d->import_keys, text_str(&t), 1);
    map_put(&d->any_import_keys, str_cut(text_str(&t), t.n - key.n, t.n), 1);
}

/* An attachment that names an edition and no machine is one of its drawings. */
static void take_drawing(struct desk *d, const struct entry *entry)
{
    struct desk_figure figure = {.edition = entry->book, .file = kept(d, body_str(entry->body, "name"))};
    struct str hex = body_str(entry->body, "sha256");
    if (entry->kind == KIND_ATTACHMENT && entry->has_book && hex_parse(hex, figure.blob.b, sizeof figure.blob.b)) {
        ARENA_PUSH(&d->state, d->figures, d->n_figures, d->cap_figures) = figure;
    }
}

/* One entry of the pass. */
static bool collect(void *ctx, const struct entry *entry)
{
    struct collector *c = ctx;
    struct desk *d = c->d;
    if (entry->place > c->place) {
        c->place = entry->place;
    }
    if (entry->kind == KIND_STOCK) {
        take_stock(d, entry);
    }
    if (!entry->machine.p) {
        take_drawing(d, entry);
        return true;
    }
    take_import_key(d, entry);
    int64_t index = 0;
    if (!map_get(&c->by_serial, entry->machine, &index)) {
        struct collected fresh = {
            .s.m = {.serial = kept(d, entry->machine), .in_service = DAY_NONE, .registered = INSTANT_NONE}};
        index = (int64_t)c->n;
        ARENA_PUSH(&d->state, c->at, c->n, c->cap) = fresh;
        map_put(&c->by_serial, fresh.s.m.serial, index);
    }
    struct collected *machine = &c->at[index];
    if (entry->kind == KIND_MACHINE_IN) {
        take_registration(d, &machine->s, entry);
    } else if (entry->kind == KIND_MACHINE_OUT) {
        machine->s.m.out_of_service = true;
    }
    machine->s.last_entry = (struct last){true, entry->at, NAN, entry->id};
    const json_t *body = entry->body;
    struct event event = {
        .kind = entry->kind,
        .at = entry->at,
        .id = entry->id,
        .by = kept(d, entry->by),
        .name = kept(d, subject(entry)),
        .look = kept(d, body_str(body, "look")),
        .text = kept(d, body_str(body, "text")),
        .value =
            entry->kind == KIND_METER || entry->kind == KIND_DONE ? body_num(body, "hours") : body_num(body, "value"),
        .unit = kept(d, body_str(body, "unit")),
        .uncertainty = NAN,
        .spn = body_int(body, "spn", -1),
        .fmi = body_int(body, "fmi", -1),
        .count = body_int(body, "count", 1),
    };
    if (entry->kind == KIND_METER_REPLACED) {
        event.value = body_num(body, "old");
        event.uncertainty = body_num(body, "new"); /* the pair of a swap */
    } else if (entry->kind == KIND_TURN) {
        event_take_turn(d, body, &event);
    } else if (entry->kind == KIND_DONE) {
        copy_used(d, body, &event);
        copy_fills(d, body, &event);
    } else if (entry->kind == KIND_MOVED) {
        event_take_move(d, body, &event);
    } else if (entry->kind == KIND_BURN) {
        event.value = body_num(body, "minutes");
    } else if (entry->kind == KIND_READING) {
        copy_with(d, body, &event);
        json_t *gauge = json_object_get(body, "gauge");
        const struct unit *unit = unit_find(body_str(gauge, "unit"));
        double u = body_num(gauge, "uncertainty");
        event.uncertainty = unit && isfinite(u) ? u * unit->factor : (double)NAN;
    }
    ARENA_PUSH(&d->state, machine->events, machine->n, machine->cap) = event;
    return true;
}

/* The book of the machine, resolved for its serial number and options; or the trouble with it. */
static void resolve(struct desk *d, struct desk_machine *m)
{
    m->name = m->label.n ? m->label : m->serial;
    struct desk_book *book = desk_present_book(d, m->book_id);
    struct text t = text_new(&d->state);
    if (m->registered == INSTANT_NONE) {
        text_addz(&t, "not registered: entries came before it was taken in; witmark machine add");
    } else if (!book) {
        text_addz(&t, "its book '");
        text_add(&t, m->book_id);
        text_addz(&t, "' is not in the depot; witmark book take FILE");
    } else {
        struct err e = err_new(&d->state);
        m->book = desk_resolve(d, book, m->serial, m->options, &e);
        if (m->book) {
            return;
        }
        text_add(&t, err_text(&d->state, &e));
    }
    m->trouble = text_str(&t);
}

/* The hour meter: readings (also those noted with work done), swaps, days out of service. */
static void make_meter(struct desk *d, struct collected *c)
{
    struct meter_reading *readings = ARENA_ARRAY(&d->state, struct meter_reading, c->n);
    struct meter_swap *swaps = ARENA_ARRAY(&d->state, struct meter_swap, c->n);
    struct meter_pause *pauses = ARENA_ARRAY(&d->state, struct meter_pause, c->n);
    int n = 0;
    int n_swaps = 0;
    int n_pauses = 0;
    bool stopped = false;
    for (size_t i = 0; i < c->n; i++) {
        const struct event *event = &c->events[i];
        if (event->kind == KIND_METER || (event->kind == KIND_DONE && isfinite(event->value))) {
            readings[n++] = (struct meter_reading){.at = event->at, .hours = event->value, .source = (int)i};
        } else if (event->kind == KIND_METER_REPLACED) {
            swaps[n_swaps++] = (struct meter_swap){event->at, event->value, event->uncertainty};
        } else if (event->kind == KIND_MACHINE_OUT && !stopped) {
            pauses[n_pauses++] = (struct meter_pause){event->at, desk_now(d)};
            stopped = true;
        } else if (event->kind == KIND_MACHINE_IN && stopped) {
            pauses[n_pauses - 1].to = event->at;
            stopped = false;
        }
    }
    struct entry_id *ids = ARENA_ARRAY(&d->state, struct entry_id, c->n);
    for (size_t i = 0; i < c->n; i++) {
        ids[i] = c->events[i].id;
    }
    c->s.meter_ids = ids;
    c->s.swaps = swaps;
    c->s.n_swaps = n_swaps;
    c->s.pauses = pauses;
    c->s.n_pauses = n_pauses;
    struct desk_machine *m = &c->s.m;
    m->meter = meter_clean(&d->state, readings, n, swaps, n_swaps);
    m->use = meter_use(&d->state, &m->meter, pauses, n_pauses, 90, 5);
    m->hours_now =
        meter_total_at(&m->meter, &m->use, m->out_of_service && m->use.at != INSTANT_NONE ? m->use.at : desk_now(d));
}

static struct last last_of(const struct desk_machine *m, const struct event *event)
{
    return (struct last){true, event->at, meter_total_at(&m->meter, &m->use, event->at), event->id};
}

/* Does the task take these nuts off (it opens something), or does it only torque them? */
static bool task_refits(const struct book_task *task)
{
    for (int i = 0; i < task->n_steps; i++) {
        if (task->steps[i].opens.n) {
            return true;
        }
    }
    return false;
}

static bool refs_have(struct book_refs refs, int index)
{
    for (int i = 0; i < refs.n; i++) {
        if (refs.at[i] == index) {
            return true;
        }
    }
    return false;
}

static bool task_torques(const struct book_task *task, int torque)
{
    bool has = refs_have(task->torques, torque);
    for (int i = 0; i < task->n_steps && !has; i++) {
        has = refs_have(task->steps[i].torques, torque);
    }
    return has;
}

static void apply_fills(struct desk *d, struct machine_state *s, const struct book *b, const struct event *event)
{
    for (int i = 0; i < event->n_fills; i++) {
        int fluid = book_find_fluid(b, event->fills[i].fluid);
        if (fluid != BOOK_NONE && event->fills[i].m3 > 0) {
            struct fill_state fill = {event->at, fluid, event->fills[i].m3};
            ARENA_PUSH(&d->state, s->fills, s->n_fills, s->cap_fills) = fill;
        }
    }
}

static void apply_done(struct machine_state *s, const struct book *b, const struct event *event)
{
    int task = book_find_task(b, event->name);
    if (task == BOOK_NONE) {
        return;
    }
    s->tasks[task] = last_of(&s->m, event);
    for (int i = 0; i < b->n_torques; i++) {
        if (task_torques(&b->tasks[task], i)) {
            struct torque_state *torque = &s->torques[i];
            *(task_refits(&b->tasks[task]) ? &torque->refitted : &torque->checked) = s->tasks[task];
        }
    }
    for (int i = 0; i < b->n_checkpoints; i++) {
        const struct book_checkpoint *c = &b->checkpoints[i];
        if (c->task == task || c->mends == task) {
            s->points[i].reset = s->tasks[task];
            s->points[i].n_history = 0;
        }
    }
}

/* "100/4" for SPN and FMI, else the code. */
static struct str fault_key(struct desk *d, const struct event *event)
{
    if (event->spn < 0) {
        return event->name;
    }
    struct text t = text_new(&d->state);
    text_int(&t, event->spn);
    text_char(&t, '/');
    text_int(&t, event->fmi);
    return text_str(&t);
}

static void apply_fault(struct desk *d, struct machine_state *s, const struct event *event, size_t *cap)
{
    struct str key = fault_key(d, event);
    size_t i = 0;
    while (i < s->n_faults && !str_eq(s->faults[i].key, key)) {
        i++;
    }
    if (event->kind == KIND_FAULT_CLEARED) {
        if (i < s->n_faults) {
            memmove(&s->faults[i], &s->faults[i + 1], (s->n_faults - i - 1) * sizeof s->faults[i]);
            s->n_faults--;
        }
        return;
    }
    if (i == s->n_faults) {
        struct fault_state fault = {.key = key, .first = event->at, .id = event->id, .says = event->text};
        ARENA_PUSH(&d->state, s->faults, s->n_faults, *cap) = fault;
    }
    s->faults[i].last = event->at;
    s->faults[i].count += event->count > 0 ? event->count : 1;
    if (event->text.n) {
        s->faults[i].says = event->text;
    }
}

static void add_soot(struct desk *d, struct machine_state *s, enum soot_kind kind, double value,
                     const struct event *event)
{
    struct last last = last_of(&s->m, event);
    ARENA_PUSH(&d->state, s->soot, s->n_soot, s->cap_soot) =
        (struct soot_event){kind, event->at, last.total_h, value, event->id, event->by};
}

static void apply_point(struct desk *d, struct machine_state *s, const struct book *b, const struct event *event)
{
    int i = book_find_checkpoint(b, event->name);
    if (i == BOOK_NONE) {
        return;
    }
    struct point_state *point = &s->points[i];
    if (event->kind == KIND_READING) {
        point->reading = last_of(&s->m, event);
        point->value = (struct quantity){event->value, unit_find(event->unit)};
        point->with = event->with;
        point->n_with = event->n_with;
        point->uncertainty_si = event->uncertainty;
        struct point_reading reading = {event->at,   point->reading.total_h, point->value,
                                        event->with, event->n_with,          event->uncertainty};
        ARENA_PUSH(&d->state, point->history, point->n_history, point->cap_history) = reading;
        if (b->exhaust.given && i == b->exhaust.soot && point->value.unit) {
            add_soot(d, s, SOOT_READING, unit_to_si(point->value.unit, point->value.value), event);
        }
    } else {
        point->found = last_of(&s->m, event);
        point->found_ok = str_eq_nocase(event->look, S("ok"));
        point->found_says = event->look;
    }
}

/* A burn, or burning inhibited or released (which state_open.c keeps on the put-back list). */
static void apply_burn(struct desk *d, struct machine_state *s, const struct book *b, const struct event *event)
{
    static const struct {
        const char *word;
        enum soot_kind kind;
    } kinds[] = {{"passive", SOOT_PASSIVE},
                 {"active", SOOT_ACTIVE},
                 {"parked", SOOT_PARKED},
                 {"inhibited", SOOT_INHIBITED},
                 {"released", SOOT_RELEASED}};
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        if (!str_eq(event->name, str_of(kinds[i].word))) {
            continue;
        }
        enum soot_kind kind = kinds[i].kind;
        add_soot(d, s, kind, event->value, event);
        if (kind != SOOT_INHIBITED && kind != SOOT_RELEASED && kind != SOOT_PASSIVE && b && b->exhaust.given &&
            b->exhaust.soot != BOOK_NONE) {
            s->points[b->exhaust.soot].reset = last_of(&s->m, event);
            s->points[b->exhaust.soot].n_history = 0;
        }
    }
}

/* What a task used; and a parked burn or a new filter element written down as a task. */
static void apply_uses(struct desk *d, struct machine_state *s, const struct book *b, const struct event *event)
{
    int task = book_find_task(b, event->name);
    struct last last = last_of(&s->m, event);
    for (int i = 0; i < event->n_used; i++) {
        struct use_state use = event->used[i];
        use.at = event->at;
        use.total_h = last.total_h;
        use.id = event->id;
        use.task = task;
        ARENA_PUSH(&d->state, s->uses, s->n_uses, s->cap_uses) = use;
    }
    if (!b->exhaust.given || task == BOOK_NONE) {
        return;
    }
    int ash = b->exhaust.ash == BOOK_NONE ? BOOK_NONE : b->checkpoints[b->exhaust.ash].task;
    if (task == b->exhaust.burn || task == ash) {
        add_soot(d, s, task == ash ? SOOT_CLEANED : SOOT_PARKED, NAN, event);
    }
}

/* What the events of one machine add up to. */
static void make_state(struct desk *d, struct collected *c)
{
    struct machine_state *s = &c->s;
    if (!s->m.book) {
        resolve(d, &s->m);
    }
    make_meter(d, c);
    const struct book *b = s->m.book;
    s->faults = NULL;
    s->n_faults = 0;
    s->fills = NULL;
    s->n_fills = s->cap_fills = 0;
    s->soot = NULL;
    s->uses = NULL;
    s->n_soot = s->cap_soot = s->n_uses = s->cap_uses = 0;
    s->exhaust = NULL;
    if (b) {
        s->points = ARENA_ARRAY(&d->state, struct point_state, b->n_checkpoints);
        s->tasks = ARENA_ARRAY(&d->state, struct last, b->n_tasks);
        s->torques = ARENA_ARRAY(&d->state, struct torque_state, b->n_torques);
    }
    size_t cap_faults = 0;
    for (size_t i = 0; i < c->n; i++) {
        const struct event *event = &c->events[i];
        if (event->kind == KIND_FAULT_SEEN || event->kind == KIND_FAULT_CLEARED) {
            apply_fault(d, s, event, &cap_faults);
        } else if (event->kind == KIND_BURN) {
            apply_burn(d, s, b, event);
        } else if (b && event->kind == KIND_DONE) {
            apply_fills(d, s, b, event);
            apply_done(s, b, event);
            apply_uses(d, s, b, event);
        } else if (b && (event->kind == KIND_READING || event->kind == KIND_FOUND)) {
            apply_point(d, s, b, event);
        }
    }
    state_of_open(d, s, c->events, c->n);
    s->m.n_open = (int)s->n_open;
    s->m.n_faults = (int)s->n_faults;
    desk_forecast_machine(d, s);
}

static int by_name(const void *a, const void *b)
{
    const struct collected *x = a;
    const struct collected *y = b;
    if (x->s.m.out_of_service != y->s.m.out_of_service) {
        return x->s.m.out_of_service ? 1 : -1;
    }
    int c = str_cmp(x->s.m.name, y->s.m.name);
    return c ? c : str_cmp(x->s.m.serial, y->s.m.serial);
}

/* Corrections and withdrawn entries are not among those that hold, but they have arrived: the state knows them too. */
static bool newest_place(struct desk *d, int64_t place, struct err *e)
{
    struct entry_filter newer = {.view = VIEW_RECORDED, .after_place = place};
    struct arena scratch = arena_new(&arena_libc);
    struct entries found = {0};
    bool ok = depot_list(d->depot, &newer, &scratch, &found, e);
    for (size_t i = 0; ok && i < found.n; i++) {
        place = found.at[i].place > place ? found.at[i].place : place;
    }
    entries_free(&found);
    arena_free(&scratch);
    d->place = ok ? place : -1;
    return ok;
}

bool desk_load_state(struct desk *d, struct err *e)
{
    arena_free(&d->state);
    d->n_machines = 0;
    d->forecast = NULL;
    d->figures = NULL;
    d->import_keys = map_new(&d->state);
    d->any_import_keys = map_new(&d->state);
    d->n_figures = d->cap_figures = 0;
    d->stock = NULL;
    d->n_stock = d->cap_stock = 0;
    d->place = -1;
    d->day = desk_today_day(d);
    struct collector *c = ARENA_NEW(&d->state, struct collector);
    *c = (struct collector){.d = d, .by_serial = map_new(&d->state)};
    struct entry_filter all = {.view = VIEW_EFFECTIVE, .has_until = true, .until = desk_now(d) + 1};
    if (!depot_each(d->depot, &all, collect, c, e)) {
        return false;
    }
    for (size_t i = 0; i < c->n; i++) {
        make_state(d, &c->at[i]);
    }
    if (c->n) {
        qsort(c->at, c->n, sizeof *c->at, by_name);
    }
    d->machines = ARENA_ARRAY(&d->state, struct machine_state, c->n);
    d->list = ARENA_ARRAY(&d->state, struct desk_machine, c->n);
    for (size_t i = 0; i < c->n; i++) {
        map_put(&c->by_serial, c->at[i].s.m.serial, (int64_t)i);
        d->machines[i] = c->at[i].s;
        d->list[i] = c->at[i].s.m;
    }
    d->n_machines = c->n;
    d->collector = c;
    d->fresh = d->state.total;
    return newest_place(d, c->place, e);
}

/* Can the state take up this entry without being made anew? Not what changes other entries, the list of machines or the
 * books, nor what came by an import, of which another depot may have had an earlier copy. */
static bool simple(const struct collector *c, const struct entry *entry)
{
    return entry->machine.p && entry->kind != KIND_CORRECTION && entry->kind != KIND_MACHINE_IN &&
           entry->kind != KIND_MACHINE_OUT &&
           (body_str(entry->body, "import_key").n == 0 ||
            str_starts(body_str(entry->body, "import_key"), S("page:"))) &&
           map_get(&c->by_serial, entry->machine, NULL);
}

/* Moves the last event to its place in time. */
static void settle(struct collected *machine)
{
    struct event last = machine->events[machine->n - 1];
    size_t i = machine->n - 1;
    for (; i > 0 && machine->events[i - 1].at > last.at; i--) {
        machine->events[i] = machine->events[i - 1];
    }
    machine->events[i] = last;
}

#define GROWTH_LEAST ((size_t)64 << 20) /* bytes of outlived state, or half of it: then it is made anew */

bool desk_grow_state(struct desk *d, const struct entries *fresh)
{
    struct collector *c = d->collector;
    size_t most = d->fresh > GROWTH_LEAST ? d->fresh : GROWTH_LEAST;
    bool grown = c && d->state.total - d->fresh < most;
    for (size_t i = 0; i < fresh->n && grown; i++) {
        grown = simple(c, &fresh->at[i]) && fresh->at[i].at <= desk_now(d);
    }
    for (size_t i = 0; i < fresh->n && grown; i++) {
        int64_t index = 0;
        (void)collect(c, &fresh->at[i]);
        (void)map_get(&c->by_serial, fresh->at[i].machine, &index);
        settle(&c->at[index]);
        make_state(d, &c->at[index]);
        d->machines[index] = c->at[index].s;
        d->list[index] = c->at[index].s.m;
        d->place = fresh->at[i].place > d->place ? fresh->at[i].place : d->place;
    }
    return grown;
}

struct machine_state *desk_state_of(struct desk *d, const struct desk_machine *m)
{
    return &d->machines[m - d->list];
}
