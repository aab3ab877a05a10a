/* The round in hand: what a phone walks with. */
#include "api.h"

#include "desk_round_work.h"

static bool work(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"scope", "within", "days", "minutes", NULL};
    double days = 0;
    struct desk_round_ask ask = {.machine = q->args[0], .scope = asked_value(q, "scope")};
    if (!asked_only(q, names) || !asked_number(q, "within", 0.1, 100000, &ask.within_hours) ||
        !asked_number(q, "days", 1, 36500, &days) || !asked_number(q, "minutes", 1, 100000, &ask.minutes)) {
        return false;
    }
    ask.within_days = (int)days;
    struct text t = text_new(q->a);
    return desk_round_work(q->desk, &ask, &t, &q->err) && answer_json(q, &t, out);
}

const struct route round_routes[] = {
    {"GET", "/api/machines/{machine}/round/work", ROLE_LOOK, ROUTE_DESK, work, 0, NULL},
    {0},
};
