/* The ledger: sums, the farthest ground, what next, and what is refused. */
#include "adjust_internal.h"

#include <math.h>

const char *adjust_saw_word(enum adjust_saw saw)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        ADJUST_SAWS(X)
#undef X
    };
    return words[saw];
}

bool adjust_saw_parse(struct str word, enum adjust_saw *saw)
{
    *saw = SAW_NOT_SAID;
    for (int i = 0; i < SAW_COUNT; i++) {
        if (str_eq(word, str_of(adjust_saw_word((enum adjust_saw)i)))) {
            *saw = (enum adjust_saw)i;
            return true;
        }
    }
    return word.n == 0;
}

const char *adjust_advice_word(enum adjust_advice advice)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        ADJUST_ADVICE(X)
#undef X
    };
    return words[advice];
}

const char *adjust_reason_text(enum adjust_reason reason)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        ADJUST_REASONS(X)
#undef X
    };
    return words[reason];
}

const char *adjust_refusal_word(enum adjust_refusal refusal)
{
    static const char *const words[] = {
#define X(symbol, word) [symbol] = (word),
        ADJUST_REFUSALS(X)
#undef X
    };
    return words[refusal];
}

static turns_t size_of(turns_t t)
{
    return t < 0 ? -t : t;
}

/* Side of a setting: +1 in, -1 out; `otherwise` at 0. */
static int side_of(turns_t t, int otherwise)
{
    return t > 0 ? 1 : t < 0 ? -1 : otherwise;
}

static turns_t *far_of(const struct adjust_rules *r, struct adjust_ledger *l, int side)
{
    return &l->far[side == r->way ? 0 : 1];
}

static turns_t far_at(const struct adjust_rules *r, const struct adjust_ledger *l, int side)
{
    return l->far[side == r->way ? 0 : 1];
}

/* A trial that has not begun: nothing tried, the prior chances. */
static void fresh_trial(const struct adjust_rules *r, struct adjust_ledger *l)
{
    l->from_accepted = 0;
    l->far[0] = l->far[1] = 0;
    l->steps = 0;
    l->last = 0;
    l->saw = SAW_NOT_SAID;
    l->worse = false;
    l->cured = false;
    l->p_way = r->prior * (1 - ADJUST_OTHER_WAY);
    l->p_other = r->prior * ADJUST_OTHER_WAY;
}

struct adjust_ledger adjust_begin(const struct adjust_rules *r)
{
    struct adjust_ledger l = {0};
    fresh_trial(r, &l);
    return l;
}

/* Turns are kept within TURNS_MOST of where it was found: beyond that nobody has counted. */
static turns_t clamped(int64_t t)
{
    return t > TURNS_MOST ? TURNS_MOST : t < -TURNS_MOST ? -TURNS_MOST : (turns_t)t;
}

void adjust_take(const struct adjust_rules *r, struct adjust_ledger *l, const struct adjust_entry *entry)
{
    if (entry->found) {
        *l = adjust_begin(r);
        return;
    }
    turns_t accepted = l->from_found - l->from_accepted;
    turns_t before = l->from_accepted;
    l->from_found = clamped((int64_t)l->from_found + entry->turns);
    l->from_accepted = l->from_found - accepted;
    l->beyond = size_of(l->from_found) > r->at_most;
    if (entry->turns) {
        l->steps++;
        l->last = l->from_accepted - before;
        l->saw = SAW_NOT_SAID;
    }
    /* What is seen counts once for new ground; ground that was turned over and not looked at counts with the next look.
     */
    int side = side_of(l->from_accepted, r->way);
    turns_t *far = far_of(r, l, side);
    turns_t at = size_of(l->from_accepted);
    if (entry->saw != SAW_NOT_SAID) {
        if (at > *far) {
            if (!l->cured) { /* where the cure lies is known after that */
                adjust_learn(r, l, side, *far, at, entry->saw);
            }
            *far = at;
            l->cured = l->cured || entry->saw == SAW_GONE;
            l->worse = l->worse || (entry->saw == SAW_WORSE && side == r->way);
        }
        l->saw = entry->saw;
    }
    if (entry->accepted) {
        fresh_trial(r, l);
    }
}

struct adjust_ledger adjust_read(const struct adjust_rules *r, const struct adjust_entry *at, size_t n)
{
    struct adjust_ledger l = adjust_begin(r);
    for (size_t i = 0; i < n; i++) {
        adjust_take(r, &l, &at[i]);
    }
    return l;
}

turns_t adjust_back(const struct adjust_ledger *l)
{
    return -l->from_accepted;
}

turns_t adjust_back_to_found(const struct adjust_ledger *l)
{
    return -l->from_found;
}

turns_t adjust_undo(const struct adjust_ledger *l)
{
    return -l->last;
}

turns_t adjust_largest(const struct adjust_rules *r, const struct adjust_ledger *l, int side)
{
    turns_t at = side * l->from_accepted;
    turns_t far = far_at(r, l, side);
    if (at < 0) {
        return 0;
    }
    turns_t reach = at == 0 && far == 0 ? r->first_step : r->step;
    reach = far - at > reach ? far - at : reach; /* ground that was turned over before */
    turns_t room = adjust_room(r, l, side) - at;
    reach = reach < room ? reach : room;
    return reach > 0 ? reach : 0;
}

/* May it go the other way than the book's? Only from the accepted setting on, and once the book's way is done with. */
static bool other_way_open(const struct adjust_rules *r, const struct adjust_ledger *l)
{
    return l->worse || l->far[1] > 0 || l->far[0] >= adjust_room(r, l, r->way);
}

enum adjust_refusal adjust_refuses(const struct adjust_rules *r, const struct adjust_ledger *l,
                                   const struct adjust_ask *ask)
{
    if (ask->turns == 0) {
        return ADJUST_NOTHING;
    }
    if (!ask->confirmed) {
        return ADJUST_NOT_CONFIRMED;
    }
    int64_t to = (int64_t)l->from_accepted + ask->turns;
    bool crosses = l->from_accepted != 0 && to != 0 && (to > 0) != (l->from_accepted > 0);
    if (crosses) {
        return ADJUST_WRONG_WAY;
    }
    if (l->from_accepted != 0 && (ask->turns > 0) != (l->from_accepted > 0)) {
        return ADJUST_FINE; /* back towards the accepted setting */
    }
    int side = side_of(ask->turns, r->way);
    if (ask->other_open) {
        return ADJUST_OTHER_OPEN;
    }
    if (side != r->way && !other_way_open(r, l)) {
        return ADJUST_WRONG_WAY;
    }
    if (l->from_accepted != 0 && l->saw == SAW_NOT_SAID && size_of(l->from_accepted) > far_at(r, l, side)) {
        return ADJUST_NOT_SEEN;
    }
    int64_t from_found = (int64_t)l->from_found + ask->turns;
    if (side * from_found > r->at_most) {
        return ADJUST_BEYOND;
    }
    return size_of(ask->turns) > adjust_largest(r, l, side) ? ADJUST_TOO_LARGE : ADJUST_FINE;
}

/* A step outwards on that side with its chance, or nothing when there is no room. */
static bool step_on(const struct adjust_rules *r, const struct adjust_ledger *l, int side, struct adjust_next *next)
{
    turns_t room = adjust_room(r, l, side);
    turns_t far = far_at(r, l, side);
    turns_t step = adjust_largest(r, l, side);
    if (far >= room || step <= 0) {
        return false;
    }
    turns_t to = size_of(l->from_accepted) + step;
    double p = side == r->way ? l->p_way : l->p_other;
    next->advice = ADVISE_TURN;
    next->turns = side * step;
    next->p_helps = p * (double)(to > far ? to - far : 0) / (double)(room - far);
    return true;
}

/* Back to the accepted setting, or, when it stands there, leave it. */
static void back_or_leave(const struct adjust_ledger *l, struct adjust_next *next)
{
    next->advice = l->from_accepted ? ADVISE_BACK : ADVISE_LEAVE;
    next->turns = adjust_back(l);
    next->p_helps = 0;
}

/* Why no further step is advised; BECAUSE_NEXT when one may be. */
static enum adjust_reason why_stop(const struct adjust_rules *r, const struct adjust_ledger *l)
{
    int side = side_of(l->from_accepted, r->way);
    if (l->from_accepted && far_at(r, l, side) >= adjust_room(r, l, side)) {
        return BECAUSE_LIMIT;
    }
    if (l->p_way + l->p_other < ADJUST_GIVE_UP) {
        return BECAUSE_UNLIKELY;
    }
    if (l->from_accepted && l->saw == SAW_WORSE) {
        return BECAUSE_WORSE;
    }
    bool turns_round = l->from_accepted == 0 && l->worse; /* the other way is tried, and judged, by itself */
    bool unlikely = (side == r->way ? l->p_way : l->p_other) < ADJUST_GIVE_UP / 2;
    return !turns_round && unlikely ? BECAUSE_UNLIKELY : BECAUSE_NEXT;
}

struct adjust_next adjust_next(const struct adjust_rules *r, const struct adjust_ledger *l)
{
    struct adjust_next next = {.reason = BECAUSE_NEXT, .p_cause = l->p_way + l->p_other};
    int side = side_of(l->from_accepted, r->way);
    if (l->from_accepted && l->saw == SAW_NOT_SAID && size_of(l->from_accepted) > far_at(r, l, side)) {
        next.advice = ADVISE_LOOK;
        next.reason = BECAUSE_NOT_SEEN;
    } else if (l->from_accepted && l->saw == SAW_GONE) {
        next.advice = ADVISE_ACCEPT;
        next.reason = BECAUSE_GONE;
    } else if (why_stop(r, l) != BECAUSE_NEXT) {
        next.reason = why_stop(r, l);
        back_or_leave(l, &next);
    } else if (l->from_accepted == 0 && l->worse) {
        next.reason = BECAUSE_OTHER_WAY;
        if (l->p_other < ADJUST_GIVE_UP || !step_on(r, l, -r->way, &next)) {
            next.reason = l->p_other < ADJUST_GIVE_UP ? BECAUSE_UNLIKELY : BECAUSE_LIMIT;
            back_or_leave(l, &next);
        }
    } else if (!step_on(r, l, side, &next)) {
        next.reason = BECAUSE_LIMIT;
        back_or_leave(l, &next);
    }
    return next;
}

void text_adjust_refusal(struct text *t, const struct adjust_rules *r, const struct adjust_ledger *l,
                         enum adjust_refusal refusal, turns_t turns, struct str which)
{
    int side = side_of(turns, r->way);
    switch (refusal) {
    case ADJUST_FINE:
        text_addz(t, "allowed");
        break;
    case ADJUST_NOTHING:
        text_addz(t, "no turn is asked for");
        break;
    case ADJUST_NOT_CONFIRMED:
        text_addz(t, "not confirmed: ");
        text_add(t, which);
        break;
    case ADJUST_OTHER_OPEN:
        text_add(t, which);
        text_addz(t, " stands at a trial setting on the same circuit: with two moved nobody can tell which one helped");
        break;
    case ADJUST_NOT_SEEN:
        text_addz(t, "nobody has said what the last turn did");
        break;
    case ADJUST_WRONG_WAY:
        if (l->from_accepted != 0 && (turns > 0) != (l->from_accepted > 0)) {
            text_turns(t, turns);
            text_addz(t, " goes past the accepted setting, which is ");
            text_turns(t, adjust_back(l));
            text_addz(t, " from here");
        } else {
            text_turns(t, turns);
            text_addz(t, " is the wrong direction: the book tries ");
            text_addz(t, r->way > 0 ? "in" : "out");
            text_addz(t, " first, and nothing has shown yet that it makes things worse");
        }
        break;
    case ADJUST_TOO_LARGE:
        text_turns(t, turns);
        text_addz(t, " is more than the ");
        text_turns_size(t, adjust_largest(r, l, side));
        text_addz(t, l->from_accepted || far_at(r, l, side) ? " of a further step" : " of the first step");
        break;
    case ADJUST_BEYOND:
        text_turns(t, turns);
        text_addz(t, " would stand ");
        text_turns(t, clamped((int64_t)l->from_found + turns));
        text_addz(t, " from where it was found; at most ");
        text_turns_size(t, r->at_most);
        text_addz(t, " is allowed");
        break;
    }
}
