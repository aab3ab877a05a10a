/* What was done and not yet undone on one machine: items opened, adjusters at a trial setting, burning inhibited; and
 * where a recovery stands. Nothing leaves the list but by the entry that undoes it. */
#include "state_internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static struct str kept(struct desk *d, struct str s)
{
    return s.p ? str_copy(&d->state, s) : s;
}

void event_take_turn(struct desk *d, const json_t *body, struct event *event)
{
    event->value = body_num(body, "turns");
    event->flag = body_bool(body, "accepted", false);
    event->found = body_bool(body, "found", false);
    event->note = kept(d, body_str(body, "note"));
    (void)adjust_saw_parse(body_str(body, "saw"), &event->saw);
}

/* A member {value, unit} in SI; NAN when it is not there. */
static double measure_si(const json_t *body, const char *member)
{
    const json_t *value = json_object_get(body, member);
    const struct unit *unit = unit_find(body_str(value, "unit"));
    return value && unit ? unit_to_si(unit, body_num(value, "value")) : (double)NAN;
}

void event_take_move(struct desk *d, const json_t *body, struct event *event)
{
    event->value = measure_si(body, "distance");
    event->time_s = measure_si(body, "time");
    event->slope = measure_si(body, "slope");
    event->load_kg = measure_si(body, "load");
    event->note = kept(d, body_str(body, "note"));
}

/* ---- the list ---- */

/* Place of that kind and name, or n_open. */
static size_t place_of(const struct machine_state *s, enum open_kind kind, struct str item)
{
    size_t i = 0;
    while (i < s->n_open && !(s->open[i].kind == kind && str_eq(s->open[i].item, item))) {
        i++;
    }
    return i;
}

static void take_off(struct machine_state *s, size_t i)
{
    if (i < s->n_open) {
        memmove(&s->open[i], &s->open[i + 1], (s->n_open - i - 1) * sizeof s->open[i]);
        s->n_open--;
    }
}

static void put_on(struct desk *d, struct machine_state *s, struct open_state open, size_t *cap)
{
    if (place_of(s, open.kind, open.item) == s->n_open) {
        ARENA_PUSH(&d->state, s->open, s->n_open, *cap) = open;
    }
}

static void apply_item(struct desk *d, struct machine_state *s, const struct event *event, size_t *cap)
{
    const struct book *b = s->m.book;
    if (event->kind == KIND_PUT_BACK) {
        take_off(s, place_of(s, OPEN_ITEM, event->name));
        return;
    }
    int item = b ? book_find_open_item(b, event->name) : BOOK_NONE;
    put_on(d, s,
           (struct open_state){OPEN_ITEM, event->name, item == BOOK_NONE ? event->name : b->open_items[item].label,
                               item, event->at, event->by, event->id},
           cap);
}

static void apply_burn(struct desk *d, struct machine_state *s, const struct event *event, size_t *cap)
{
    if (str_eq(event->name, S("inhibited"))) {
        put_on(d, s,
               (struct open_state){OPEN_INHIBIT, S(BURN_INHIBITED), S("Burning of the exhaust filter is inhibited"),
                                   BOOK_NONE, event->at, event->by, event->id},
               cap);
    } else if (str_eq(event->name, S("released"))) {
        take_off(s, place_of(s, OPEN_INHIBIT, S(BURN_INHIBITED)));
    }
}

/* ---- adjusters ---- */

/* Weight times chance of all causes that show this symptom. */
static double all_of_symptom(const struct book *b, int symptom)
{
    double all = 0;
    for (int i = 0; i < b->n_causes; i++) {
        for (int k = 0; k < b->causes[i].shows.n; k++) {
            bool same = b->causes[i].shows.at[k].item == symptom;
            all += same ? b->causes[i].weight * b->causes[i].shows.at[k].value : 0;
        }
    }
    return all;
}

/* How likely it is that this adjuster is behind it, by the book's causes: its share among the causes of the symptom
 * that speaks most for it, but even odds at least: who begins to turn it has looked at what is likelier before. */
static double prior_of(const struct book *b, int adjuster)
{
    double prior = ADJUST_PRIOR_UNSAID;
    for (int i = 0; i < b->n_causes; i++) {
        const struct book_cause *c = &b->causes[i];
        for (int k = 0; str_eq(c->mends, b->adjusters[adjuster].name) && k < c->shows.n; k++) {
            double all = all_of_symptom(b, c->shows.at[k].item);
            prior = fmax(prior, all > 0 ? c->weight * c->shows.at[k].value / all : 0);
        }
    }
    return fmin(0.95, prior); /* no book is surer than that */
}

static turns_t size_of(double turns)
{
    turns_t t = 0;
    (void)turns_of(turns, &t);
    return t > 0 ? t : 1;
}

static struct turn_state book_adjuster(const struct book *b, int i)
{
    const struct book_adjuster *adjuster = &b->adjusters[i];
    struct turn_state turn = {.name = adjuster->name,
                              .adjuster = i,
                              .rules = {.way = adjuster->turn_in ? 1 : -1,
                                        .first_step = size_of(adjuster->first_step),
                                        .step = size_of(adjuster->step),
                                        .at_most = size_of(adjuster->at_most),
                                        .prior = prior_of(b, i)}};
    turn.ledger = adjust_begin(&turn.rules);
    return turn;
}

/* The adjuster of that name. One that the book does not have is counted all the same, without limits. */
static struct turn_state *turn_of(struct desk *d, struct machine_state *s, struct str name, size_t *cap)
{
    for (size_t i = 0; i < s->n_turns; i++) {
        if (str_eq(s->turns[i].name, name)) {
            return &s->turns[i];
        }
    }
    struct turn_state turn = {
        .name = name, .adjuster = BOOK_NONE, .rules = {1, TURNS_MOST, TURNS_MOST, TURNS_MOST, ADJUST_PRIOR_UNSAID}};
    turn.ledger = adjust_begin(&turn.rules);
    ARENA_PUSH(&d->state, s->turns, s->n_turns, *cap) = turn;
    return &s->turns[s->n_turns - 1];
}

static void apply_turn(struct desk *d, struct turn_state *turn, const struct event *event)
{
    struct turn_step step = {.at = event->at,
                             .id = event->id,
                             .by = event->by,
                             .note = event->note,
                             .entry = {0, event->saw, event->flag, event->found}};
    (void)turns_of(event->value, &step.entry.turns);
    bool was_open = turn->ledger.from_accepted != 0;
    adjust_take(&turn->rules, &turn->ledger, &step.entry);
    if (!was_open) {
        turn->trial = turn->n_steps;
    }
    step.from_found = turn->ledger.from_found;
    step.from_accepted = turn->ledger.from_accepted;
    ARENA_PUSH(&d->state, turn->steps, turn->n_steps, turn->cap_steps) = step;
}

/* "Load-holding valve of the rake stands 1½ turns in from the accepted setting" */
static void put_on_trials(struct desk *d, struct machine_state *s, size_t *cap)
{
    for (size_t i = 0; i < s->n_turns; i++) {
        const struct turn_state *turn = &s->turns[i];
        if (turn->ledger.from_accepted == 0 || turn->trial >= turn->n_steps || !turn->steps) {
            continue; /* it stands where it may; else its steps tell since when it does not */
        }
        const struct turn_step *began = &turn->steps[turn->trial];
        struct text t = text_new(&d->state);
        text_add(&t,
                 turn->adjuster == BOOK_NONE || !s->m.book ? turn->name : s->m.book->adjusters[turn->adjuster].label);
        text_addz(&t, " stands ");
        text_turns(&t, turn->ledger.from_accepted);
        text_addz(&t, " from the accepted setting");
        put_on(d, s,
               (struct open_state){OPEN_TRIAL, turn->name, text_str(&t), BOOK_NONE, began->at, began->by, began->id},
               cap);
    }
}

/* ---- recovery ---- */

/* Items are numbered as in the book; those beyond 63 can't be part of a recovery that is followed. */
static uint64_t items_of(struct book_refs refs)
{
    uint64_t set = 0;
    for (int i = 0; i < refs.n; i++) {
        set |= refs.at[i] < 64 ? UINT64_C(1) << refs.at[i] : 0;
    }
    return set;
}

int desk_recover_steps(const struct book *b, struct recover_step steps[RECOVER_STEPS_MOST])
{
    int n = b && b->recovery.given ? b->recovery.n_steps : 0;
    n = n > RECOVER_STEPS_MOST ? RECOVER_STEPS_MOST : n;
    for (int i = 0; i < n; i++) {
        steps[i] = (struct recover_step){items_of(b->recovery.steps[i].opens), items_of(b->recovery.steps[i].closes)};
    }
    return n;
}

static void add_move(struct desk *d, struct recovery_state *r, const struct event *event)
{
    ARENA_PUSH(&d->state, r->moves, r->n_moves, r->cap_moves) = (struct move_state){
        event->at, event->id, event->by, event->note, event->value, event->time_s, event->slope, event->load_kg};
}

static void make_recovery(struct desk *d, struct machine_state *s, const struct event *events, size_t n)
{
    struct recover_step steps[RECOVER_STEPS_MOST];
    int n_steps = desk_recover_steps(s->m.book, steps);
    uint64_t all = 0;
    for (int i = 0; i < n_steps; i++) {
        all |= steps[i].opens;
    }
    struct recover_event *told = ARENA_ARRAY(&d->state, struct recover_event, n);
    struct entry_id *ids = ARENA_ARRAY(&d->state, struct entry_id, n);
    size_t n_told = 0;
    s->recovery = (struct recovery_state){.since = INSTANT_NONE};
    for (size_t i = 0; i < n; i++) {
        const struct event *event = &events[i];
        struct recover_event one = {.kind = RECOVER_MOVED,
                                    .distance_m = event->value,
                                    .time_s = event->time_s,
                                    .slope = event->slope,
                                    .load_kg = event->load_kg};
        if (event->kind == KIND_MOVED) {
            add_move(d, &s->recovery, event);
        } else if (event->kind == KIND_OPENED || event->kind == KIND_PUT_BACK) {
            int item = s->m.book ? book_find_open_item(s->m.book, event->name) : BOOK_NONE;
            if (item == BOOK_NONE || item >= 64 || !(all >> item & 1)) {
                continue;
            }
            one.kind = event->kind == KIND_OPENED ? RECOVER_OPENED : RECOVER_CLOSED;
            one.items = UINT64_C(1) << item;
        } else {
            continue;
        }
        ids[n_told] = event->id;
        told[n_told++] = one;
        struct recover_state now = recover_read(steps, n_steps, told, n_told);
        if (s->recovery.now.open == 0 && now.open) {
            s->recovery.since = event->at;
        }
        if (s->recovery.now.open && now.open == 0 && now.moves) {
            size_t n_past = s->recovery.n_past;
            ARENA_PUSH(&d->state, s->recovery.past, s->recovery.n_past, s->recovery.cap_past) = now;
            ARENA_PUSH(&d->state, s->recovery.past_last, n_past, s->recovery.cap_past_last) =
                s->recovery.moves[s->recovery.n_moves - 1];
        }
        s->recovery.now = now;
    }
    s->recovery.now = recover_read(steps, n_steps, told, n_told);
    s->recovery.told = told;
    s->recovery.told_ids = ids;
    s->recovery.n_told = n_told;
    s->recovery.since = s->recovery.now.open ? s->recovery.since : INSTANT_NONE;
    s->recovery.first_move = s->recovery.n_moves - (size_t)s->recovery.now.moves;
}

/* ---- all of it ---- */

static int by_since(const void *a, const void *b)
{
    const struct open_state *x = a;
    const struct open_state *y = b;
    return x->since < y->since ? -1 : x->since > y->since;
}

void state_of_open(struct desk *d, struct machine_state *s, const struct event *events, size_t n)
{
    const struct book *b = s->m.book;
    size_t cap_open = 0;
    size_t cap_turns = b ? (size_t)b->n_adjusters : 0;
    s->open = NULL;
    s->n_open = 0;
    s->turns = ARENA_ARRAY(&d->state, struct turn_state, cap_turns);
    s->n_turns = cap_turns;
    s->handed_back = (struct last){0};
    for (size_t i = 0; i < s->n_turns; i++) {
        s->turns[i] = book_adjuster(b, (int)i);
    }
    for (size_t i = 0; i < n; i++) {
        const struct event *event = &events[i];
        if (event->kind == KIND_OPENED || event->kind == KIND_PUT_BACK) {
            apply_item(d, s, event, &cap_open);
        } else if (event->kind == KIND_BURN) {
            apply_burn(d, s, event, &cap_open);
        } else if (event->kind == KIND_TURN) {
            apply_turn(d, turn_of(d, s, event->name, &cap_turns), event);
        } else if (event->kind == KIND_HANDED_BACK) {
            s->handed_back = (struct last){true, event->at, NAN, event->id};
        }
    }
    put_on_trials(d, s, &cap_open);
    make_recovery(d, s, events, n);
    if (s->n_open) {
        qsort(s->open, s->n_open, sizeof *s->open, by_since);
    }
}
