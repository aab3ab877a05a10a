/* What places forbid. */
#include "exhaust/burn_place.h"

struct place_row {
    const char *word, *says;
    bool working, parked;
    const char *why;
};
static const struct place_row rows[] = {
#define X(symbol, word, says, working, parked, why) [symbol] = {(word), (says), (working), (parked), (why)},
    BURN_PLACES(X)
#undef X
};
static const struct {
    const char *key, *says;
} checks[] = {
#define X(symbol, key, says) [symbol] = {(key), (says)},
    BURN_CHECKS(X)
#undef X
};

const char *burn_place_word(enum burn_place place)
{
    return rows[place].word;
}

const char *burn_place_says(enum burn_place place)
{
    return rows[place].says;
}

const char *burn_place_why(enum burn_place place)
{
    return rows[place].why;
}

bool burn_place_find(struct str word, enum burn_place *place)
{
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        if (str_eq(word, str_of(rows[i].word))) {
            *place = (enum burn_place)i;
            return true;
        }
    }
    return false;
}

burn_places burn_forbids_working(burn_places at, burn_places added)
{
    burn_places forbid = added;
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        forbid |= rows[i].working ? 1U << i : 0;
    }
    return at & forbid & ~(1U << PLACE_HARD);
}

burn_places burn_forbids_parked(burn_places at)
{
    burn_places forbid = 0;
    for (int i = 0; i < BURN_PLACE_COUNT; i++) {
        forbid |= rows[i].parked ? 1U << i : 0;
    }
    if (at & 1U << PLACE_HARD) {
        forbid &= ~(1U << PLACE_FIRE_BAN);
    }
    return at & forbid;
}

bool burn_ask_ban(burn_places at)
{
    return (at & 1U << PLACE_FIRE_BAN) && (at & 1U << PLACE_HARD);
}

const char *burn_check_key(enum burn_check check)
{
    return checks[check].key;
}

const char *burn_check_says(enum burn_check check)
{
    return checks[check].says;
}
