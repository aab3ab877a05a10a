/* The rule that says when more turns have stopped being likely to help; adjust.h tells the model. */
#include "adjust_internal.h"

#include <math.h>

/*                                      gone  less  same  worse */
const double adjust_chances[3][4] = {{0.00, 0.30, 0.65, 0.05},  /* turned the way of the cure, not yet there */
                                     {0.00, 0.05, 0.35, 0.60},  /* turned away from the cure */
                                     {0.02, 0.05, 0.75, 0.18}}; /* not the cause; `gone` by chance */

turns_t adjust_room(const struct adjust_rules *r, const struct adjust_ledger *l, int side)
{
    turns_t accepted = l->from_found - l->from_accepted;
    turns_t room = r->at_most - side * accepted;
    return room > 0 ? room : 0;
}

/* Chance of what was seen over [before, after) of a room, where the cure lies evenly in (before, room]. */
static double chance_that_way(turns_t before, turns_t after, turns_t room, enum adjust_saw saw)
{
    if (before >= room) {
        return 0;
    }
    double found = (double)((after < room ? after : room) - before) / (double)(room - before);
    return saw == SAW_GONE ? found : (1 - found) * adjust_chances[0][saw - SAW_GONE];
}

void adjust_learn(const struct adjust_rules *r, struct adjust_ledger *l, int side, turns_t before, turns_t after,
                  enum adjust_saw saw)
{
    double that_way = chance_that_way(before, after, adjust_room(r, l, side), saw);
    double away = adjust_chances[1][saw - SAW_GONE];
    double not_it = adjust_chances[2][saw - SAW_GONE];
    double way = l->p_way * (side == r->way ? that_way : away);
    double other = l->p_other * (side == r->way ? away : that_way);
    double rest = (1 - l->p_way - l->p_other) * not_it;
    double all = way + other + rest;
    if (all > 0) {
        l->p_way = way / all;
        l->p_other = other / all;
    }
}
