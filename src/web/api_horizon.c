/* The fleet on one sheet of time, and the calendar behind it. */
#include "api.h"

#include "desk_horizon.h"

static bool horizon(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"site", "book", "system", "kind", "days", "chance", "stopped", NULL};
    double days = 91;
    double chance = 7;
    if (!asked_only(q, names) || !asked_number(q, "days", 1, 3660, &days) ||
        !asked_number(q, "chance", 0, 3660, &chance)) {
        return false;
    }
    struct desk_horizon_ask ask = {.site = asked_value(q, "site"),
                                   .book = asked_value(q, "book"),
                                   .system = asked_value(q, "system"),
                                   .kind = asked_value(q, "kind"),
                                   .days = (int)days,
                                   .chance_days = (int)chance,
                                   .with_stopped = asked_given(q, "stopped")};
    struct desk_horizon h;
    if (!desk_horizon(q->desk, &ask, q->a, &h, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_horizon_json(&j, q->desk, &h);
    return answer_json(q, &t, out);
}

static bool calendar(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"days", "past", NULL};
    double days = 366;
    double past = 0;
    if (!asked_only(q, names) || !asked_number(q, "days", 1, 36600, &days) ||
        !asked_number(q, "past", 0, 36600, &past)) {
        return false;
    }
    day_t today = desk_today_day(q->desk);
    struct desk_calendar_item *at = NULL;
    size_t n = 0;
    if (!desk_calendar_list(q->desk, today - (day_t)past, today + (day_t)days, q->a, &at, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_calendar_json(&j, NULL, at, n);
    return answer_json(q, &t, out);
}

static bool horizon_csv(struct asked *q, struct answer *out)
{
    return horizon(q, out) && answer_csv(q, "horizon", out);
}

const struct route horizon_routes[] = {
    {"GET", "/api/horizon", ROLE_LOOK, ROUTE_DESK, horizon, 0, NULL},
    {"GET", "/api/horizon.csv", ROLE_LOOK, ROUTE_DESK, horizon_csv, 0, NULL},
    {"GET", "/api/calendar", ROLE_LOOK, ROUTE_DESK, calendar, 0, NULL},
    {0},
};
