/* Tracing faults, and fault codes. */
#include "api.h"

#include "desk_trace.h"

/* Everything a phone needs to trace on this machine without the depot. */
static bool trace_book(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return asked_none(q) && desk_trace_book_json(&j, q->desk, q->args[0], &q->err) && answer_json(q, &t, out);
}

static bool trace_now(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    struct desk_trace trace;
    if (!asked_none(q) || !desk_trace(q->desk, q->args[0], q->args[1], q->a, &trace, &q->err)) {
        return false;
    }
    desk_trace_json(&j, q->desk, &trace);
    return answer_json(q, &t, out);
}

static bool trace_why(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    struct desk_why why;
    if (!asked_none(q) || !desk_trace_why(q->desk, q->args[0], q->args[1], q->args[2], q->a, &why, &q->err)) {
        return false;
    }
    desk_why_json(&j, &why);
    return answer_json(q, &t, out);
}

static bool traces(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    struct desk_trace_head *at = NULL;
    size_t n = 0;
    if (!asked_none(q) || !desk_traces(q->desk, (struct str){0}, q->a, &at, &n, &q->err)) {
        return false;
    }
    desk_traces_json(&j, q->desk, at, n);
    return answer_json(q, &t, out);
}

static bool faults_of(struct asked *q, struct str machine, struct answer *out)
{
    static const char *const names[] = {"active", NULL};
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    struct desk_fault *at = NULL;
    size_t n = 0;
    if (!asked_only(q, names) || !desk_faults(q->desk, machine, !asked_given(q, "active"), q->a, &at, &n, &q->err)) {
        return false;
    }
    desk_faults_json(&j, q->desk, at, n);
    return answer_json(q, &t, out);
}

static bool faults(struct asked *q, struct answer *out)
{
    return faults_of(q, (struct str){0}, out);
}

static bool machine_faults(struct asked *q, struct answer *out)
{
    return faults_of(q, q->args[0], out);
}

const struct route trace_routes[] = {
    {"GET", "/api/traces", ROLE_LOOK, ROUTE_DESK, traces, 0, NULL},
    {"GET", "/api/faults", ROLE_LOOK, ROUTE_DESK, faults, 0, NULL},
    {"GET", "/api/machines/{machine}/faults", ROLE_LOOK, ROUTE_DESK, machine_faults, 0, NULL},
    {"GET", "/api/machines/{machine}/trace", ROLE_LOOK, ROUTE_DESK, trace_book, 0, NULL},
    {"GET", "/api/machines/{machine}/trace/{symptom}", ROLE_LOOK, ROUTE_DESK, trace_now, 0, NULL},
    {"GET", "/api/machines/{machine}/trace/{symptom}/why/{cause}", ROLE_LOOK, ROUTE_DESK, trace_why, 0, NULL},
    {0},
};
