/* Moving a dead machine: the book's steps with where the log says they stand, the limits, and what is written down. */
#include "desk_recover.h"

#include "desk_internal.h"
#include "desk_putback.h"
#include "record_entry.h"

#include <jansson.h>
#include <math.h>

static double si_or_none(struct book_quantity q)
{
    return q.given ? q.si : (double)NAN;
}

struct recover_limits desk_recover_limits(const struct book *b)
{
    const struct book_recovery *r = &b->recovery;
    return (struct recover_limits){si_or_none(r->distance), si_or_none(r->speed), si_or_none(r->slope),
                                   si_or_none(r->time), si_or_none(r->load)};
}

/* Labels of items, with commas. */
static struct str labels(struct arena *a, const struct book *b, struct book_refs refs)
{
    struct text t = text_new(a);
    for (int i = 0; i < refs.n; i++) {
        text_addz(&t, i ? ", " : "");
        text_add(&t, b->open_items[refs.at[i]].label);
    }
    return text_str(&t);
}

/* The step forwards, or backwards with its words of the way back. */
static struct desk_recover_step step_of(struct arena *a, const struct book *b, int i, bool back, int *place)
{
    const struct book_step *s = &b->recovery.steps[i];
    *place = s->place == BOOK_NONE ? *place : s->place;
    return (struct desk_recover_step){.step = i,
                                      .back = back,
                                      .act = back ? s->undo : s->act,
                                      .opens = labels(a, b, back ? s->closes : s->opens),
                                      .closes = labels(a, b, back ? s->opens : s->closes),
                                      .place = *place == BOOK_NONE ? (struct str){0} : b->places[*place].label,
                                      .place_key = *place == BOOK_NONE ? (struct str){0} : b->places[*place].name,
                                      .cautions = s->cautions,
                                      .tools = s->tools,
                                      .takes_s = s->takes_s};
}

/* All steps, out and back, with what is done. On the way out those before the next are done; on the way back all of the
 * way out is, and of the way back what is not among the steps that are left. */
static void fill_steps(struct arena *a, const struct book *b, struct desk_recover *r)
{
    struct recover_step steps[RECOVER_STEPS_MOST];
    int n = desk_recover_steps(b, steps);
    struct desk_recover_step *out = ARENA_ARRAY(a, struct desk_recover_step, n);
    struct desk_recover_step *back = ARENA_ARRAY(a, struct desk_recover_step, n);
    int place = BOOK_NONE;
    int order[RECOVER_STEPS_MOST];
    int left = recover_way_back(steps, n, r->state.open, order);
    bool underway = r->state.phase == RECOVER_MOVING || r->state.phase == RECOVER_BACK;
    bool begun = r->state.phase == RECOVER_OUT;
    for (int i = 0; i < n; i++) {
        out[i] = step_of(a, b, i, false, &place);
        bool is_open = (steps[i].opens & ~r->state.open) == 0 && steps[i].closes == 0;
        out[i].done = underway || (begun && is_open);
    }
    r->next = -1;
    for (int i = n - 1, k = 0; i >= 0; i--) {
        place = b->recovery.steps[i].place;
        if (steps[i].opens == 0 && steps[i].closes == 0) {
            continue; /* a step that leaves nothing behind has no way back */
        }
        back[k] = step_of(a, b, i, true, &place);
        bool is_left = false;
        for (int l = 0; l < left; l++) {
            is_left = is_left || order[l] == i;
        }
        back[k].done = underway && !is_left;
        r->next = r->state.next_back && i == r->state.next ? k : r->next;
        k++;
        r->n_back = (size_t)k;
    }
    r->next = r->state.next_back ? r->next : r->state.next;
    r->out = out;
    r->n_out = (size_t)n;
    r->back = back;
}

/* ---- the plan and its limits ---- */

/* A quantity of that kind in SI; NAN when it is not said. */
static bool take(struct str said, enum quantity_kind kind, const char *what, const char *right, double *si,
                 struct quantity *q, struct err *e)
{
    struct quantity read = {0};
    *si = (double)NAN;
    if (!str_trim(said).n) {
        return true;
    }
    struct err quiet = err_new(e->a);
    if (!quantity_parse(str_trim(said), &read, &quiet) || !read.unit || read.unit->kind != kind || read.value < 0) {
        return err_set(e, ERR_USAGE, right, what, " '", str_z(e->a, said), "' is none", (char *)0);
    }
    *si = unit_to_si(read.unit, read.value);
    if (q) {
        *q = read;
    }
    return true;
}

static struct str shown_in(struct desk *d, struct arena *a, const char *unit, double si)
{
    struct text t = text_new(a);
    const struct unit *u = unit_find(str_of(unit));
    if (isfinite(si)) {
        text_quantity_in(&t, (struct quantity){unit_from_si(u, si), u}, d->units);
    }
    return text_str(&t);
}

static const char *const limit_units[LIMIT_COUNT] = {
    [LIMIT_DISTANCE] = "m", [LIMIT_SPEED] = "km/h", [LIMIT_SLOPE] = "%", [LIMIT_TIME] = "min", [LIMIT_LOAD] = "kg"};

static void fill_limits(struct desk *d, struct arena *a, const struct recover_plan *plan, struct desk_recover *r)
{
    struct recover_limits limits = desk_recover_limits(r->machine->book);
    struct recover_judged judged[LIMIT_COUNT];
    r->exceeded = recover_judge(&limits, &r->state, plan, judged);
    struct text refusal = text_new(a);
    for (int i = 0; i < LIMIT_COUNT; i++) {
        struct desk_recover_limit *l = &r->limits[i];
        l->judged = judged[i];
        l->limit = shown_in(d, a, limit_units[i], judged[i].limit);
        l->value = shown_in(d, a, limit_units[i], judged[i].value);
        l->left = shown_in(d, a, limit_units[i], judged[i].left);
        if (judged[i].exceeded) {
            text_addz(&refusal, refusal.n ? "; " : "");
            text_join(&refusal, recover_limit_word((enum recover_limit)i), " ", (char *)0);
            text_add(&refusal, l->value);
            text_addz(&refusal, r->state.moves && !r->state.ended && (i == LIMIT_DISTANCE || i == LIMIT_TIME)
                                    ? " in all, at most "
                                    : ", at most ");
            text_add(&refusal, l->limit);
        }
    }
    r->refusal = text_str(&refusal);
}

static void warn(struct arena *a, struct desk_recover *r, struct str **at, size_t *cap, const struct text *t)
{
    ARENA_PUSH(a, *at, r->n_warnings, *cap) = text_str(t);
    r->warnings = *at;
}

/* What to mind on a slope and with a load, and where nothing can be said. */
static void fill_warnings(struct desk *d, struct arena *a, const struct recover_plan *plan, struct desk_recover *r)
{
    const struct book_recovery *b = &r->machine->book->recovery;
    struct str *at = NULL;
    size_t cap = 0;
    double slope = isfinite(plan->slope) ? plan->slope : r->limits[LIMIT_SLOPE].judged.limit;
    double mass = (b->mass.given ? b->mass.si : (double)NAN) + (isfinite(plan->load_kg) ? plan->load_kg : 0);
    if (isfinite(slope) && slope > 0) {
        struct text t = text_new(a);
        text_addz(&t, isfinite(plan->slope) ? "On " : "On the steepest that is allowed, ");
        text_add(&t, shown_in(d, a, "%", slope));
        if (isfinite(mass)) {
            text_addz(&t, ", the machine pulls or pushes with about ");
            double newtons = recover_slope_force_n(mass, slope);
            text_add(&t, shown_in(d, a, "kN", newtons));
        }
        text_addz(&t, ": only the tow bar and the brakes of the towing machine hold it. A rigid bar, never a rope.");
        warn(a, r, &at, &cap, &t);
    }
    if (r->limits[LIMIT_LOAD].judged.limit == 0) {
        struct text t = text_new(a);
        text_addz(&t, "Empty it first: it is towed without any load.");
        warn(a, r, &at, &cap, &t);
    } else if (isfinite(r->limits[LIMIT_LOAD].judged.limit)) {
        struct text t = text_new(a);
        text_addz(&t, "At most ");
        text_add(&t, r->limits[LIMIT_LOAD].limit);
        text_addz(&t, " on board: more is unloaded first.");
        warn(a, r, &at, &cap, &t);
    }
    if (r->state.untimed) {
        struct text t = text_new(a);
        text_int(&t, r->state.untimed);
        text_addz(&t, r->state.untimed == 1 ? " move has no time: " : " moves have no time: ");
        text_addz(&t, "the time on the move is at least what is said");
        warn(a, r, &at, &cap, &t);
    }
    if (r->state.out_of_order) {
        struct text t = text_new(a);
        text_addz(&t, "What is open was not opened in the book's order. Hold the machine first: chock it, then go on.");
        warn(a, r, &at, &cap, &t);
    }
}

static bool recover_of(struct desk *d, const struct desk_machine *m, struct arena *a, struct desk_recover *out,
                       struct err *e)
{
    if (!m->book || !m->book->recovery.given) {
        return err_set(e, ERR_MISSING, "ask its maker; until then it stays where it is, or goes on a trailer by crane",
                       str_z(e->a, m->name), m->book ? ": its book says nothing of moving it dead" : ": ",
                       str_z(e->a, m->book ? (struct str){0} : m->trouble), (char *)0);
    }
    const struct recovery_state *r = &desk_state_of(d, m)->recovery;
    *out = (struct desk_recover){.machine = m, .state = r->now, .since = r->since};
    fill_steps(a, m->book, out);
    struct desk_move *moves = ARENA_ARRAY(a, struct desk_move, r->now.moves);
    for (size_t i = r->first_move; i < r->n_moves; i++) {
        const struct move_state *move = &r->moves[i];
        moves[out->n_moves++] = (struct desk_move){move->at,         move->id,     move->by,    move->note,
                                                   move->distance_m, move->time_s, move->slope, move->load_kg};
    }
    out->moves = moves;
    return true;
}

bool desk_recover(struct desk *d, const struct desk_recover_ask *ask, struct arena *a, struct desk_recover *out,
                  struct err *e)
{
    struct recover_plan plan;
    const struct desk_machine *m = desk_refresh(d, e) ? desk_machine_find(d, ask->machine, e) : NULL;
    if (!m || !recover_of(d, m, a, out, e) ||
        !take(ask->distance, Q_LENGTH, "distance", "a length: 200 m", &plan.distance_m, NULL, e) ||
        !take(ask->speed, Q_SPEED, "speed", "a speed: 3 km/h", &plan.speed_m_s, NULL, e) ||
        !take(ask->slope, Q_RATIO, "slope", "rise to run: 5 %", &plan.slope, NULL, e) ||
        !take(ask->load, Q_MASS, "load", "a mass: 100 kg", &plan.load_kg, NULL, e)) {
        return false;
    }
    fill_limits(d, a, &plan, out);
    fill_warnings(d, a, &plan, out);
    return true;
}

/* ---- writing down ---- */

/* Each item of a step as an entry of its own, in one transaction. */
static bool write_items(struct desk *d, const struct desk_stamp *s, const struct desk_machine *m,
                        struct book_refs opens, struct book_refs closes, struct desk_recorded *out, struct err *e)
{
    struct draft *drafts = ARENA_ARRAY(e->a, struct draft, opens.n + closes.n);
    struct appended *appended = ARENA_ARRAY(e->a, struct appended, opens.n + closes.n);
    const struct machine_state *state = desk_state_of(d, m);
    json_t **bodies = ARENA_ARRAY(e->a, json_t *, opens.n + closes.n);
    size_t n = 0;
    for (int i = 0; i < opens.n + closes.n; i++) {
        bool back = i >= opens.n;
        int item = back ? closes.at[i - opens.n] : opens.at[i];
        bool open = false;
        for (size_t k = 0; k < state->n_open; k++) {
            open = open || state->open[k].open_item == item;
        }
        if (open != back) {
            continue; /* it is so already */
        }
        json_t *body = json_object();
        body_put_str(body, "what", m->book->open_items[item].name);
        body_put_str(body, "note", s->note);
        const struct desk_book *book = desk_present_book(d, m->book_id);
        bodies[n] = body;
        drafts[n++] = (struct draft){.kind = back ? KIND_PUT_BACK : KIND_OPENED,
                                     .at = s->at == INSTANT_NONE ? desk_now(d) : s->at,
                                     .by = s->by,
                                     .machine = m->serial,
                                     .has_book = book != NULL,
                                     .book = book ? book->hash : (struct log_hash){{0}},
                                     .body = body};
    }
    bool ok = n == 0 || depot_append(d->depot, drafts, n, appended, e);
    out->id = ok && n ? appended[n - 1].id : out->id;
    for (size_t i = 0; i < n; i++) {
        json_decref(bodies[i]);
    }
    return ok;
}

bool desk_recover_did(struct desk *d, const struct desk_stamp *s, bool back, struct arena *a, struct desk_recorded *out,
                      struct err *e)
{
    *out = (struct desk_recorded){0};
    struct desk_recover_ask ask = {.machine = s->machine};
    struct desk_recover r;
    if (!desk_recover(d, &ask, a, &r, e)) {
        return false;
    }
    struct recover_step steps[RECOVER_STEPS_MOST];
    int order[RECOVER_STEPS_MOST];
    int n = desk_recover_steps(r.machine->book, steps);
    bool backwards = back || r.state.next_back;
    int step = r.state.next;
    if (back) {
        step = recover_way_back(steps, n, r.state.open, order) ? order[0] : -1;
    }
    if (step < 0) {
        return err_set(e, ERR_REFUSED, "witmark recover shows where it stands",
                       back ? "nothing of the recovery is open" : "no step is left to be done", (char *)0);
    }
    if (s->at != INSTANT_NONE && s->at > desk_now(d) + 86400000) {
        return err_set(e, ERR_INPUT, "a time that has passed", "the time lies in the future", (char *)0);
    }
    const struct book_step *b = &r.machine->book->recovery.steps[step];
    if (!write_items(d, s, r.machine, backwards ? b->closes : b->opens, backwards ? b->opens : b->closes, out, e)) {
        return false;
    }
    struct text t = text_new(a);
    text_add(&t, r.machine->name);
    text_addz(&t, ": done: ");
    text_add(&t, backwards ? b->undo : b->act);
    out->says = text_str(&t);
    return true;
}

bool desk_record_moved(struct desk *d, const struct desk_stamp *s, const struct desk_moved *moved, struct arena *a,
                       struct desk_recorded *out, struct err *e)
{
    static const struct {
        const char *member;
        enum quantity_kind kind;
        const char *right;
    } rows[] = {{"distance", Q_LENGTH, "a length: 120 m"},
                {"time", Q_DURATION, "a time: 4 min"},
                {"slope", Q_RATIO, "rise to run: 3 %"},
                {"load", Q_MASS, "a mass: 100 kg"}};
    const struct str said[] = {moved->distance, moved->time, moved->slope, moved->load};
    *out = (struct desk_recorded){0};
    const struct desk_machine *m = desk_refresh(d, e) ? desk_machine_find(d, s->machine, e) : NULL;
    if (!m) {
        return false;
    }
    json_t *body = json_object();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct quantity q = {0};
        double si = 0;
        if (!take(said[i], rows[i].kind, rows[i].member, rows[i].right, &si, &q, e)) {
            json_decref(body);
            return false;
        }
        if (q.unit) {
            body_put_quantity(body, rows[i].member, q);
        }
    }
    if (!desk_record_entry(d, s, m, KIND_MOVED, body, a, out, e)) {
        return false;
    }
    struct desk_recover r;
    struct err quiet = err_new(a);
    struct desk_recover_ask ask = {.machine = m->serial};
    if (desk_recover(d, &ask, a, &r, &quiet)) {
        struct text t = text_new(a);
        text_add(&t, out->says);
        text_addz(&t, ". In all ");
        text_add(&t, r.limits[LIMIT_DISTANCE].value);
        text_addz(&t, r.limits[LIMIT_DISTANCE].limit.n ? " of at most " : "");
        text_add(&t, r.limits[LIMIT_DISTANCE].limit);
        if (r.refusal.n) {
            text_addz(&t, ". LIMIT EXCEEDED: ");
            text_add(&t, r.refusal);
            text_addz(&t, ". Stop, chock it, and have the drive looked at before it drives again");
        }
        out->says = text_str(&t);
    }
    return true;
}
