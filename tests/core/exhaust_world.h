/* A season of soot from a finer model than the one that forecasts: minute by minute, with load cycles, exhaust
 * temperature and burning by temperature. Also for bench/.
 *
 * Per minute: the load of the engine wanders about the duty's mean, with pauses at idle; the exhaust temperature
 * follows with a lag; soot is made by load and by changes of it; it burns off by Arrhenius in the exhaust temperature
 * (activation energy of about 80 kJ/mol where nitrogen dioxide burns it; from memory, published values lie between 60
 * and 120); a burn of its own needs some twenty minutes of warm exhaust and is broken off by idling. The gauge shows
 * whole per cent, drifts with the ash and errs by a few. None of this is in the forecasting model, which knows a rate
 * and a share an hour by duty. All numbers are ours, chosen so that the duties fill a clean filter in 12 to 25 h. */
#ifndef WITMARK_EXHAUST_WORLD_H
#define WITMARK_EXHAUST_WORLD_H

#include "exhaust/burn_plan.h"

enum world_policy {
    WORLD_WAIT,   /* a parked burn when the machine demands it */
    WORLD_RULE,   /* also whenever the gauge shows 75 % in the morning where a burn is permitted */
    WORLD_ADVICE, /* as the plan over the coming days says */
    WORLD_POLICIES
};

struct world_result {
    int days, jobs_forbidden; /* days worked; of these, burning was forbidden on */
    int surprises;            /* a parked burn was demanded in the middle of a job */
    int surprises_forbidden;  /* of these where none may be made */
    int derated;              /* times that power was lost */
    int planned, forced, own; /* burns */
    int bands, held;          /* forecasts of the load at the end of a day without burning; truth within P10 .. P90 */
    double lost_min;          /* by burns and surprises, at the costs of burn_costs_default */
};

/* The filter as a book would describe it. */
struct soot_filter world_filter(void);
/* One machine, one season of 26 weeks. The machine and its weather depend on the seed alone, not on the policy. */
struct world_result world_season(unsigned seed, enum world_policy policy);
void world_add(struct world_result *sum, const struct world_result *one);

#endif
