/* Tables for a spreadsheet, and the calendar to subscribe to. */
#include "api.h"
#include "gate.h"

#include "desk_tables.h"

/* The calendar's own token in the address: calendar programs cannot sign in. */
static bool calendar_feed(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"token", "machine", "site", "book", "days", NULL};
    double days = 400;
    struct who who = *q->who;
    if (!asked_only(q, names) || !asked_number(q, "days", 1, 3660, &days)) {
        return false;
    }
    if (!who.signed_in && !gate_calendar_who(q->api->gate, asked_value(q, "token"), q->a, &who, &q->err)) {
        return false;
    }
    if (!who.signed_in) {
        return asked_refuse(q, 401, "this calendar's token is none, or no longer one",
                            "subscribe again with the address that the page shows");
    }
    struct desk_ics_ask ask = {.machine = asked_value(q, "machine"),
                               .site = asked_value(q, "site"),
                               .book = asked_value(q, "book"),
                               .days = (int)days};
    struct text t = text_new(q->a);
    if (!desk_calendar_feed(q->desk, &ask, &t, &q->err)) {
        return false;
    }
    *out = answer_body(q->a, "text/calendar; charset=utf-8", text_str(&t));
    out->name = "witmark.ics";
    return true;
}

static bool parts(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return asked_none(q) && desk_parts_json(&j, q->desk, &q->err) && answer_json(q, &t, out);
}

static bool kit(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"scope", "within", "days", "minutes", NULL};
    double days = 0;
    struct desk_round_ask ask = {.machine = q->args[0], .scope = asked_value(q, "scope")};
    struct desk_round round;
    struct desk_kit found;
    if (!asked_only(q, names) || !asked_number(q, "within", 0.1, 100000, &ask.within_hours) ||
        !asked_number(q, "days", 1, 36500, &days) || !asked_number(q, "minutes", 1, 100000, &ask.minutes)) {
        return false;
    }
    ask.within_days = (int)days;
    if (ask.scope.n == 0 && (asked_given(q, "within") || asked_given(q, "days"))) {
        ask.scope = S("within");
    }
    if (!desk_round(q->desk, &ask, q->a, &round, &q->err) ||
        !desk_kit_of_round(q->desk, &round, q->a, &found, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_kit_json(&j, &found);
    return answer_json(q, &t, out);
}

bool answer_csv(struct asked *q, const char *table, struct answer *out)
{
    struct text t = text_new(q->a);
    if (!desk_table_csv(&t, table, out->body, &q->err)) {
        return false;
    }
    *out = answer_body(q->a, "text/csv; charset=utf-8; header=present", text_str(&t));
    struct text name = text_new(q->a);
    text_join(&name, table, ".csv", (char *)0);
    out->name = text_z(&name);
    return true;
}

static bool parts_csv(struct asked *q, struct answer *out)
{
    return parts(q, out) && answer_csv(q, "parts", out);
}

static bool kit_csv(struct asked *q, struct answer *out)
{
    return kit(q, out) && answer_csv(q, "kit", out);
}

const struct route table_routes[] = {
    {"GET", "/api/calendar.ics", ROLE_LOOK, ROUTE_DESK | ROUTE_OPEN, calendar_feed, 0, NULL},
    {"GET", "/api/parts", ROLE_LOOK, ROUTE_DESK, parts, 0, NULL},
    {"GET", "/api/parts.csv", ROLE_LOOK, ROUTE_DESK, parts_csv, 0, NULL},
    {"GET", "/api/machines/{machine}/kit", ROLE_LOOK, ROUTE_DESK, kit, 0, NULL},
    {"GET", "/api/machines/{machine}/kit.csv", ROLE_LOOK, ROUTE_DESK, kit_csv, 0, NULL},
    {0},
};
