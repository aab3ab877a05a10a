/* What is due, and why. */
#include "api.h"

#include "desk.h"

static bool today(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"site", "book", "days", "stopped", "limit", "from", NULL};
    double days = -1;
    double limit = 1e9;
    double from = 0;
    if (!asked_only(q, names) || !asked_number(q, "days", 0, 36500, &days) ||
        !asked_number(q, "limit", 1, 1e9, &limit) || !asked_number(q, "from", 0, 1e9, &from)) {
        return false;
    }
    struct desk_today_filter filter = {.site = asked_value(q, "site"),
                                       .book = asked_value(q, "book"),
                                       .within_days = (int)days,
                                       .with_stopped = asked_given(q, "stopped"),
                                       .with_shelf = true};
    struct desk_today_list list;
    if (!desk_today(q->desk, &filter, q->a, &list, &q->err)) {
        return false;
    }
    list.of = list.n;
    list.before = (size_t)from < list.n ? (size_t)from : list.n;
    list.at += list.before;
    list.n = list.n - list.before < (size_t)limit ? list.n - list.before : (size_t)limit;
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_today_json(&j, q->desk, &list);
    return answer_json(q, &t, out);
}

static bool why(struct asked *q, struct answer *out)
{
    struct desk_why why;
    if (!asked_none(q) || !desk_why(q->desk, q->args[0], q->args[1], q->a, &why, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_why_json(&j, &why);
    return answer_json(q, &t, out);
}

static bool today_csv(struct asked *q, struct answer *out)
{
    return today(q, out) && answer_csv(q, "today", out);
}

const struct route today_routes[] = {
    {"GET", "/api/today", ROLE_LOOK, ROUTE_DESK, today, 0, NULL},
    {"GET", "/api/today.csv", ROLE_LOOK, ROUTE_DESK, today_csv, 0, NULL},
    {"GET", "/api/machines/{machine}/why/{key}", ROLE_LOOK, ROUTE_DESK, why, 0, NULL},
    {0},
};
