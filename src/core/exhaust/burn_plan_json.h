/* A plan as JSON (docs/json.md), the same from the desk and from the page's WebAssembly. */
#ifndef WITMARK_EXHAUST_BURN_PLAN_JSON_H
#define WITMARK_EXHAUST_BURN_PLAN_JSON_H

#include "base/json.h"
#include "exhaust/burn_plan.h"

/* The members of the plan, inside an object that is open. duties: names by index, for the jobs. */
void burn_plan_members_json(struct json *j, const struct burn_ask *ask, const struct burn_plan *plan,
                            const struct str *duties);
/* "checklist": [{"key", "says"}], inside an object that is open. */
void burn_checks_json(struct json *j);
/* "dry vegetation, fire ban" */
void text_burn_places(struct text *t, burn_places at);

#endif
