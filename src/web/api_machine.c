/* Machines, their rounds, sheets, labels and drawings. */
#include "api.h"

#include "desk.h"

static bool machines(struct asked *q, struct answer *out)
{
    const struct desk_machine *at = NULL;
    size_t n = 0;
    if (!asked_none(q) || !desk_machines(q->desk, &at, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_machines_json(&j, q->desk, at, n);
    return answer_json(q, &t, out);
}

static bool machine(struct asked *q, struct answer *out)
{
    const struct desk_machine *m = NULL;
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return asked_none(q) && desk_refresh(q->desk, &q->err) &&
           (m = desk_machine_find(q->desk, q->args[0], &q->err)) != NULL &&
           desk_machine_json(&j, q->desk, m, q->a, &q->err) && answer_json(q, &t, out);
}

/* The round that the parameters ask for, as the document of docs/print.md. */
static bool round_document(struct asked *q, struct text *document)
{
    static const char *const names[] = {"scope", "within", "days", "minutes", "paper", NULL};
    double days = 0;
    struct desk_round_ask ask = {.machine = q->args[0], .scope = asked_value(q, "scope")};
    if (!asked_only(q, names) || !asked_number(q, "within", 0.1, 100000, &ask.within_hours) ||
        !asked_number(q, "days", 1, 36500, &days) || !asked_number(q, "minutes", 1, 100000, &ask.minutes)) {
        return false;
    }
    ask.within_days = (int)days;
    if (ask.scope.n == 0 && (asked_given(q, "within") || asked_given(q, "days"))) {
        ask.scope = S("within");
    }
    struct desk_round round;
    return desk_round(q->desk, &ask, q->a, &round, &q->err) &&
           desk_print_round(q->desk, &round, asked_value(q, "paper"), document, &q->err);
}

static bool round_of(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    return round_document(q, &t) && answer_json(q, &t, out);
}

static bool printed(struct asked *q, const struct text *document, const char *ending, struct answer *out)
{
    q->print = true;
    q->file_ending = ending;
    out->body = text_str(document);
    return true;
}

static bool sheet(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    return round_document(q, &t) && printed(q, &t, "-sheet.pdf", out);
}

static bool label(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"paper", NULL};
    struct text t = text_new(q->a);
    return asked_only(q, names) && desk_refresh(q->desk, &q->err) &&
           desk_print_labels(q->desk, &q->args[0], 1, asked_value(q, "paper"), &t, &q->err) &&
           printed(q, &t, "-label.pdf", out);
}

static bool figure(struct asked *q, struct answer *out)
{
    const char *type = NULL;
    struct str data = {0};
    if (!asked_none(q) || !desk_figure(q->desk, q->args[0], q->args[1], q->a, &type, &data, &q->err)) {
        return false;
    }
    *out = answer_body(q->a, type, data);
    out->policy = POLICY_DRAWING;
    return true;
}

static bool machines_csv(struct asked *q, struct answer *out)
{
    return machines(q, out) && answer_csv(q, "machines", out);
}

const struct route machine_routes[] = {
    {"GET", "/api/machines", ROLE_LOOK, ROUTE_DESK, machines, 0, NULL},
    {"GET", "/api/machines.csv", ROLE_LOOK, ROUTE_DESK, machines_csv, 0, NULL},
    {"GET", "/api/machines/{machine}", ROLE_LOOK, ROUTE_DESK, machine, 0, NULL},
    {"GET", "/api/machines/{machine}/round", ROLE_LOOK, ROUTE_DESK, round_of, 0, NULL},
    {"GET", "/api/machines/{machine}/sheet.pdf", ROLE_LOOK, ROUTE_DESK, sheet, 0, NULL},
    {"GET", "/api/machines/{machine}/label.pdf", ROLE_LOOK, ROUTE_DESK, label, 0, NULL},
    {"GET", "/api/machines/{machine}/figures/{name}", ROLE_LOOK, ROUTE_DESK, figure, 0, NULL},
    {0},
};
