/* Where a filter may burn: what a place is like, and what that forbids.
 *
 * A burn while working and a parked burn both make surfaces and outlet gas of several hundred degrees (WorkSafeBC risk
 * advisory on filter systems, up to 600 degC; MSHA, over 1000 degF). The rules below are our own caution built on that;
 * the maker's manual, the site's and the fire authority's rules come first, and a book can only add to them.
 */
#ifndef WITMARK_EXHAUST_BURN_PLACE_H
#define WITMARK_EXHAUST_BURN_PLACE_H

#include "base/text.h"

#include <stdbool.h>

/* symbol, word in files, in words, forbids burning while working, forbids a parked burn, why */
#define BURN_PLACES(X)                                                                                             \
    X(PLACE_DUSTY, "dusty", "dusty", false, true, "dust settles on what is hot and can catch fire")                \
    X(PLACE_DRY, "dry-vegetation", "dry vegetation", true, true, "dry grass, weed and clippings catch fire")       \
    X(PLACE_INDOORS, "indoors", "indoors", true, true, "exhaust gas kills indoors and the heat has nowhere to go") \
    X(PLACE_PUBLIC, "public", "public about", false, true, "people can't be kept away from the hot outlet")        \
    X(PLACE_COMBUSTIBLES, "combustibles", "combustibles near", true, true, "what stands near can catch fire")      \
    X(PLACE_FIRE_BAN, "fire-ban", "fire ban", true, true, "a fire ban is in force")                                \
    X(PLACE_HARD, "hard-standing", "hard standing in the open", false, false, "")
enum burn_place {
#define X(symbol, word, says, working, parked, why) symbol,
    BURN_PLACES(X)
#undef X
        BURN_PLACE_COUNT
};

/* A set of them: bit 1 << place. */
typedef unsigned burn_places;

const char *burn_place_word(enum burn_place place);
const char *burn_place_says(enum burn_place place);
const char *burn_place_why(enum burn_place place);
/* By its word; false when it is none. */
bool burn_place_find(struct str word, enum burn_place *place);

/* Which of them forbid burning while working; `added`: those that the book adds. 0 = it may. */
burn_places burn_forbids_working(burn_places at, burn_places added);
/* Which of them forbid a parked burn. On hard standing in the open a fire ban alone does not: but then its rules must
 * be asked (burn_ask_ban). */
burn_places burn_forbids_parked(burn_places at);
bool burn_ask_ban(burn_places at);

/* What must be so before a parked burn is begun, in this order; each is a question that a person answers at the
 * machine. symbol, key, words. */
#define BURN_CHECKS(X)                                                                                                \
    X(BURN_CHECK_CLEAN, "clean",                                                                                      \
      "The machine is clean: no litter, clippings, oil or fuel on exhaust, shield and engine")                        \
    X(BURN_CHECK_NOTHING, "nothing-burns",                                                                            \
      "Nothing that burns under, beside or behind it: bare ground, nose to wind, no grass, weed, wall or vehicle at " \
      "the outlet")                                                                                                   \
    X(BURN_CHECK_AIR, "air", "Outdoors, or the exhaust is piped out")                                                 \
    X(BURN_CHECK_PEOPLE, "people", "People and animals are kept away; somebody tells those nearby")                   \
    X(BURN_CHECK_WATCH, "watch",                                                                                      \
      "One person stays all the time, with the extinguisher in reach, and knows how to stop it")                      \
    X(BURN_CHECK_BAN, "fire-ban", "No fire ban, or its rules allow it here and the one who decides was asked")        \
    X(BURN_CHECK_COOL, "cool", "There is time to cool afterwards, and a look round for smouldering before it is left")
enum burn_check {
#define X(symbol, key, says) symbol,
    BURN_CHECKS(X)
#undef X
        BURN_CHECK_COUNT
};
const char *burn_check_key(enum burn_check check);
const char *burn_check_says(enum burn_check check);

#endif
