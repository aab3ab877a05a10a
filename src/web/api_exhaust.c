/* The exhaust filter of a machine, its burns over coming jobs, and the depot's shelf. */
#include "api.h"

#include "desk_exhaust.h"
#include "desk_stock.h"

static bool exhaust(struct asked *q, struct answer *out)
{
    struct desk_exhaust x;
    if (!asked_none(q) || !desk_exhaust(q->desk, q->args[0], q->a, &x, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_exhaust_json(&j, q->desk, &x);
    return answer_json(q, &t, out);
}

static bool all(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return asked_none(q) && desk_exhaust_all_json(&j, q->desk, &q->err) && answer_json(q, &t, out);
}

static bool plan(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"next", "ban", NULL};
    struct desk_burn_plan p;
    struct desk_jobs jobs = {.list = asked_value(q, "next"), .fire_ban = asked_given(q, "ban")};
    if (!asked_only(q, names) || !desk_exhaust_plan(q->desk, q->args[0], &jobs, q->a, &p, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_exhaust_plan_json(&j, q->desk, &p);
    return answer_json(q, &t, out);
}

static bool shelf(struct asked *q, struct answer *out)
{
    struct desk_shelf s;
    if (!asked_none(q) || !desk_shelf(q->desk, q->a, &s, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_shelf_json(&j, q->desk, &s);
    return answer_json(q, &t, out);
}

static bool shelf_csv(struct asked *q, struct answer *out)
{
    return shelf(q, out) && answer_csv(q, "shelf", out);
}

const struct route exhaust_routes[] = {
    {"GET", "/api/exhaust", ROLE_LOOK, ROUTE_DESK, all, 0, NULL},
    {"GET", "/api/machines/{machine}/exhaust", ROLE_LOOK, ROUTE_DESK, exhaust, 0, NULL},
    {"GET", "/api/machines/{machine}/exhaust/plan", ROLE_LOOK, ROUTE_DESK, plan, 0, NULL},
    {"GET", "/api/shelf", ROLE_LOOK, ROUTE_DESK, shelf, 0, NULL},
    {"GET", "/api/shelf.csv", ROLE_LOOK, ROUTE_DESK, shelf_csv, 0, NULL},
    {0},
};
