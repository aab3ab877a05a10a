/* Where a recovery stands, and whether a move keeps its limits. */
#include "recover/recover.h"

#include <assert.h>
#include <math.h>

#define GRAVITY 9.80665 /* m/s2, ISO 80000-3 */

const char *recover_phase_word(enum recover_phase phase)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        RECOVER_PHASES(X)
#undef X
    };
    return words[phase];
}

const char *recover_limit_word(enum recover_limit limit)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        RECOVER_LIMITS(X)
#undef X
    };
    return words[limit];
}

/* Everything that any step opens. */
static uint64_t all_items(const struct recover_step *steps, int n_steps)
{
    uint64_t all = 0;
    for (int i = 0; i < n_steps; i++) {
        all |= steps[i].opens;
    }
    return all;
}

/* What is open after the first `done` steps. */
static uint64_t open_after(const struct recover_step *steps, int done)
{
    uint64_t open = 0;
    for (int i = 0; i < done; i++) {
        open = (open | steps[i].opens) & ~steps[i].closes;
    }
    return open;
}

/* Does closing these items, with `open` left, set the machine free to roll: is there a step that closes them, and is
 * all open that the steps up to it leave open? */
static bool sets_rolling(const struct recover_step *steps, int n_steps, uint64_t closed, uint64_t open)
{
    for (int i = 0; i < n_steps; i++) {
        uint64_t wanted = open_after(steps, i + 1);
        if ((steps[i].closes & closed) && wanted && (open & wanted) == wanted) {
            return true;
        }
    }
    return false;
}

int recover_way_back(const struct recover_step *steps, int n_steps, uint64_t open, int *order)
{
    int n = 0;
    for (int i = n_steps - 1; i >= 0 && open; i--) {
        uint64_t to_close = steps[i].opens & open;
        uint64_t to_open = steps[i].closes & ~open;
        bool before = (open & ~steps[i].closes) != 0; /* something else is open: it must be held first */
        if (to_close || (to_open && before)) {
            order[n++] = i;
            open = (open | steps[i].closes) & ~steps[i].opens;
        }
    }
    return n;
}

/* The first step on the way out whose effect is not there; n_steps when all are. */
static int next_out(const struct recover_step *steps, int n_steps, uint64_t open)
{
    for (int done = n_steps; done >= 0; done--) {
        if (open_after(steps, done) == open) {
            return done;
        }
    }
    int i = 0;
    while (i < n_steps && (steps[i].opens & ~open) == 0 && steps[i].closes == 0) {
        i++;
    }
    return i;
}

/* Is what is open what some number of steps in order leave open? */
static bool in_order(const struct recover_step *steps, int n_steps, uint64_t open)
{
    for (int done = 0; done <= n_steps; done++) {
        if (open_after(steps, done) == open) {
            return true;
        }
    }
    return false;
}

static void take_move(struct recover_state *s, const struct recover_event *event)
{
    s->moves++;
    s->distance_m += event->distance_m;
    if (isfinite(event->time_s)) {
        s->time_s += event->time_s;
        double speed = event->time_s > 0 ? event->distance_m / event->time_s : (double)NAN;
        s->fastest_m_s = fmax(s->fastest_m_s, speed); /* fmax leaves NAN out */
    } else {
        s->untimed++;
    }
    s->steepest = fmax(s->steepest, event->slope);
}

static struct recover_state fresh(void)
{
    return (struct recover_state){.fastest_m_s = NAN, .steepest = NAN, .next = -1};
}

/* A recovery while its events are taken up. */
struct reading {
    const struct recover_step *steps;
    int n_steps;
    struct recover_state s;
    bool rolling; /* it is free to roll now */
    bool rolled;  /* it was, in this recovery */
    bool ended;   /* the last one is over: whatever comes begins anew */
};

static void begin_anew(struct reading *r)
{
    r->s = fresh();
    r->rolling = r->rolled = r->ended = false;
}

static void take_event(struct reading *r, const struct recover_event *event, uint64_t all)
{
    uint64_t items = event->items & all;
    bool about_items = event->kind != RECOVER_MOVED;
    if (about_items && !items) {
        return;
    }
    if (r->s.open == 0 && (about_items ? event->kind == RECOVER_OPENED : r->ended)) {
        begin_anew(r);
    }
    if (event->kind == RECOVER_MOVED) {
        take_move(&r->s, event);
        r->rolling = r->rolled = r->s.open != 0;
    } else if (event->kind == RECOVER_OPENED) {
        uint64_t holds = 0; /* what keeps it from rolling: the steps close it to set it free */
        for (int i = 0; i < r->n_steps; i++) {
            holds |= r->steps[i].closes;
        }
        r->s.open |= items;
        r->rolling = r->rolling && !(items & holds);
    } else {
        r->s.open &= ~items;
        r->rolling = sets_rolling(r->steps, r->n_steps, items, r->s.open);
        r->rolled = r->rolled || r->rolling;
        r->ended = r->s.open == 0;
    }
}

struct recover_state recover_read(const struct recover_step *steps, int n_steps, const struct recover_event *events,
                                  size_t n)
{
    assert(n_steps <= RECOVER_STEPS_MOST);
    uint64_t all = all_items(steps, n_steps);
    struct reading r = {.steps = steps, .n_steps = n_steps, .s = fresh(), .ended = true};
    for (size_t i = 0; i < n; i++) {
        take_event(&r, &events[i], all);
    }
    struct recover_state *s = &r.s;
    s->ended = r.ended;
    s->phase = s->open == 0 ? RECOVER_NONE : r.rolling ? RECOVER_MOVING : r.rolled ? RECOVER_BACK : RECOVER_OUT;
    s->out_of_order = s->open && !in_order(steps, n_steps, s->open);
    int order[RECOVER_STEPS_MOST];
    if (s->phase == RECOVER_NONE || s->phase == RECOVER_OUT) {
        int next = next_out(steps, n_steps, s->open);
        s->next = next < n_steps ? next : -1;
    } else if (recover_way_back(steps, n_steps, s->open, order) > 0) {
        s->next = order[0];
        s->next_back = true;
    }
    return r.s;
}

/* One limit against a value; more than one part in 1e9 over it is over it. */
static struct recover_judged held(double value, double limit, double used)
{
    struct recover_judged j = {.known = isfinite(value) && isfinite(limit), .value = value, .limit = limit};
    j.exceeded = j.known && value > limit * (1 + 1e-9);
    j.left = isfinite(limit) && isfinite(used) ? fmax(0, limit - used) : (double)NAN;
    return j;
}

bool recover_judge(const struct recover_limits *limits, const struct recover_state *state,
                   const struct recover_plan *plan, struct recover_judged out[LIMIT_COUNT])
{
    double speed = isfinite(plan->speed_m_s) ? plan->speed_m_s : limits->speed_m_s;
    const struct recover_state anew = fresh();
    state = state->ended ? &anew : state;
    double more = isfinite(plan->distance_m) ? plan->distance_m : 0;
    double more_s = more > 0 ? more / speed : 0; /* NAN when neither says how fast */
    out[LIMIT_DISTANCE] = held(state->distance_m + more, limits->distance_m, state->distance_m);
    out[LIMIT_SPEED] = held(fmax(plan->speed_m_s, state->fastest_m_s), limits->speed_m_s, NAN);
    out[LIMIT_SLOPE] = held(fmax(plan->slope, state->steepest), limits->slope, NAN);
    out[LIMIT_TIME] = held(state->time_s + more_s, limits->time_s, state->time_s);
    out[LIMIT_LOAD] = held(plan->load_kg, limits->load_kg, NAN);
    bool any = false;
    for (int i = 0; i < LIMIT_COUNT; i++) {
        any = any || out[i].exceeded;
    }
    return any;
}

double recover_slope_force_n(double mass_kg, double slope)
{
    return mass_kg * GRAVITY * sin(atan(slope));
}
