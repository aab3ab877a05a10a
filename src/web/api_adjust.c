/* Adjusters, the put-back list, handing back, recovery: reading, and the steps that are checked before they are written
 * down. */
#include "api.h"

#include "desk_adjust.h"
#include "desk_putback.h"
#include "desk_recover.h"

/* ---- adjusters ---- */

static bool adjusters(struct asked *q, struct answer *out)
{
    struct desk_adjuster *at = NULL;
    size_t n = 0;
    if (!asked_none(q) || !desk_adjusters(q->desk, q->args[0], q->a, &at, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_adjusters_json(&j, q->desk, at, n);
    return answer_json(q, &t, out);
}

static bool adjuster_answer(struct asked *q, struct answer *out)
{
    struct desk_adjuster adjuster;
    if (!desk_adjuster(q->desk, q->args[0], q->args[1], q->a, &adjuster, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_adjuster_json(&j, q->desk, &adjuster);
    return answer_json(q, &t, out);
}

static bool adjuster(struct asked *q, struct answer *out)
{
    return asked_none(q) && adjuster_answer(q, out);
}

static bool printed(struct asked *q, const struct text *document, const char *ending, struct answer *out)
{
    q->print = true;
    q->file_ending = ending;
    out->body = text_str(document);
    return true;
}

static bool ledger(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"paper", NULL};
    struct desk_adjuster adjuster;
    struct text t = text_new(q->a);
    return asked_only(q, names) && desk_adjuster(q->desk, q->args[0], q->args[1], q->a, &adjuster, &q->err) &&
           desk_print_adjuster(q->desk, &adjuster, asked_value(q, "paper"), &t, &q->err) &&
           printed(q, &t, "-ledger.pdf", out);
}

/* A flag of the body. */
static bool flag(struct asked *q, const char *member)
{
    return json_is_true(json_object_get(q->json, member));
}

static struct desk_stamp stamp(struct asked *q, struct str note)
{
    return (struct desk_stamp){.machine = q->args[0], .by = q->who->name, .at = INSTANT_NONE, .note = note};
}

static bool adjust(struct asked *q, struct answer *out)
{
    struct desk_adjust_ask ask = {.adjuster = q->args[1]};
    struct desk_recorded made;
    struct str note;
    if (!asked_json(q) || !asked_text(q, "turn", false, &ask.turn) || !asked_text(q, "saw", false, &ask.saw) ||
        !asked_text(q, "confirmed", false, &ask.confirmed) || !asked_text(q, "note", false, &note)) {
        return false;
    }
    ask.accept = flag(q, "accept");
    ask.back = flag(q, "back");
    ask.back_to_found = flag(q, "back_to_found");
    ask.undo = flag(q, "undo");
    ask.found = flag(q, "count_from_here");
    struct desk_stamp s = stamp(q, note);
    return desk_adjust(q->desk, &s, &ask, q->a, &made, &q->err) && adjuster_answer(q, out);
}

const struct route adjust_routes[] = {
    {"GET", "/api/machines/{machine}/adjusters", ROLE_LOOK, ROUTE_DESK, adjusters, 0, NULL},
    {"GET", "/api/machines/{machine}/adjusters/{adjuster}", ROLE_LOOK, ROUTE_DESK, adjuster, 0, NULL},
    {"GET", "/api/machines/{machine}/adjusters/{adjuster}/sheet.pdf", ROLE_LOOK, ROUTE_DESK, ledger, 0, NULL},
    {"POST", "/api/machines/{machine}/adjusters/{adjuster}", ROLE_RECORD, ROUTE_DESK, adjust, 65536,
     "application/json"},
    {0},
};

/* ---- the put-back list ---- */

static bool list_answer(struct asked *q, struct str machine, struct answer *out)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    if (!asked_none(q) || !desk_put_back_list(q->desk, machine, q->a, &at, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_put_back_json(&j, q->desk, at, n);
    return answer_json(q, &t, out);
}

static bool all_open(struct asked *q, struct answer *out)
{
    return list_answer(q, (struct str){0}, out);
}

static bool open_on(struct asked *q, struct answer *out)
{
    return list_answer(q, q->args[0], out);
}

static bool said(struct asked *q, const struct desk_recorded *made, struct answer *out)
{
    struct text t = text_new(q->a);
    struct text id = text_new(q->a);
    struct json j = json_new(&t, false);
    text_entry_id(&id, made->id);
    json_begin_object(&j, NULL);
    json_str(&j, "id", text_str(&id));
    json_str(&j, "says", made->says);
    json_end_object(&j);
    return answer_json(q, &t, out);
}

/* With something open only those who plan may let it go. */
static bool hand_back(struct asked *q, struct answer *out)
{
    struct str to;
    struct str despite;
    struct str note;
    struct desk_recorded made;
    if (!asked_json(q) || !asked_text(q, "to", false, &to) || !asked_text(q, "despite", false, &despite) ||
        !asked_text(q, "note", false, &note)) {
        return false;
    }
    if (despite.n && q->who->role < ROLE_PLAN) {
        return asked_refuse(q, 403, "handing back with something open needs the role plan",
                            "put it back, or ask somebody who plans");
    }
    struct desk_stamp s = stamp(q, note);
    return desk_hand_back(q->desk, &s, to, despite, q->a, &made, &q->err) && said(q, &made, out);
}

static bool check(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"machine", NULL};
    struct desk_log_finding *at = NULL;
    size_t n = 0;
    if (!asked_only(q, names) || !desk_log_check(q->desk, asked_value(q, "machine"), q->a, &at, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_log_check_json(&j, q->desk, at, n);
    return answer_json(q, &t, out);
}

static bool all_open_csv(struct asked *q, struct answer *out)
{
    return all_open(q, out) && answer_csv(q, "put-back", out);
}

const struct route putback_routes[] = {
    {"GET", "/api/put-back", ROLE_LOOK, ROUTE_DESK, all_open, 0, NULL},
    {"GET", "/api/put-back.csv", ROLE_LOOK, ROUTE_DESK, all_open_csv, 0, NULL},
    {"GET", "/api/machines/{machine}/put-back", ROLE_LOOK, ROUTE_DESK, open_on, 0, NULL},
    {"POST", "/api/machines/{machine}/hand-back", ROLE_RECORD, ROUTE_DESK, hand_back, 65536, "application/json"},
    {"GET", "/api/log-check", ROLE_LOOK, ROUTE_DESK, check, 0, NULL},
    {0},
};

/* ---- recovery ---- */

static bool recovery_of(struct asked *q, bool paper, struct desk_recover *r)
{
    static const char *const names[] = {"distance", "speed", "slope", "load", NULL};
    static const char *const with_paper[] = {"distance", "speed", "slope", "load", "paper", NULL};
    struct desk_recover_ask ask = {q->args[0], asked_value(q, "distance"), asked_value(q, "speed"),
                                   asked_value(q, "slope"), asked_value(q, "load")};
    return asked_only(q, paper ? with_paper : names) && desk_recover(q->desk, &ask, q->a, r, &q->err);
}

static bool recovery(struct asked *q, struct answer *out)
{
    struct desk_recover r;
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    if (!recovery_of(q, false, &r)) {
        return false;
    }
    desk_recover_json(&j, q->desk, &r);
    return answer_json(q, &t, out);
}

static bool recovery_sheet(struct asked *q, struct answer *out)
{
    struct desk_recover r;
    struct text t = text_new(q->a);
    return recovery_of(q, true, &r) && desk_print_recover(q->desk, &r, asked_value(q, "paper"), &t, &q->err) &&
           printed(q, &t, "-recovery.pdf", out);
}

const struct route recover_routes[] = {
    {"GET", "/api/machines/{machine}/recover", ROLE_LOOK, ROUTE_DESK, recovery, 0, NULL},
    {"GET", "/api/machines/{machine}/recover.pdf", ROLE_LOOK, ROUTE_DESK, recovery_sheet, 0, NULL},
    {0},
};
