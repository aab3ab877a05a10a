/* The routes. Each asks the desk under its lock and writes JSON into the request's arena; printing, which takes long,
 * happens after the lock is given back. */
#include "api.h"

#include "desk.h"

#include <math.h>

/* One request on its way. */
struct asked {
    struct api *api;
    struct desk *desk;
    const struct target *t;
    struct arena *a;
    struct str name; /* of the machine, as in the path */
    struct str last; /* key or drawing at the end of the path */
    struct err err;
    bool print;              /* the text is a document for the printing program */
    const char *file_ending; /* "-sheet.pdf" */
};

/* A route fills the answer or the error of the request; called with the desk locked. */
typedef bool route_fn(struct asked *q, struct answer *out);

static bool json_answer(struct asked *q, const struct text *t, struct answer *out)
{
    *out = answer_body(q->a, "application/json", text_str(t));
    return true;
}

/* A parameter as a number from `least` to `most`; *value stays when it is not given. */
static bool number(struct asked *q, const char *name, double least, double most, double *value)
{
    const struct str *given = target_value(q->t, name);
    double read = 0;
    if (!given) {
        return true;
    }
    if (!num_parse(*given, &read) || read < least || read > most) {
        struct text right = text_new(q->a);
        text_addz(&right, "a number from ");
        text_number(&right, least, 2);
        text_addz(&right, " to ");
        text_number(&right, most, 0);
        return err_set(&q->err, ERR_USAGE, text_z(&right), "parameter '", name, "': '", str_z(q->a, *given), "'",
                       (char *)0);
    }
    *value = read;
    return true;
}

static struct str parameter(const struct asked *q, const char *name)
{
    const struct str *given = target_value(q->t, name);
    return given ? *given : (struct str){0};
}

static bool today(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"site", "book", "days", "stopped", NULL};
    double days = -1;
    if (!target_only(q->t, names, &q->err) || !number(q, "days", 0, 36500, &days)) {
        return false;
    }
    struct desk_today_filter filter = {.site = parameter(q, "site"),
                                       .book = parameter(q, "book"),
                                       .within_days = (int)days,
                                       .with_stopped = target_value(q->t, "stopped") != NULL};
    struct desk_today_list list;
    if (!desk_today(q->desk, &filter, q->a, &list, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_today_json(&j, q->desk, &list);
    return json_answer(q, &t, out);
}

static const char *const nothing[] = {NULL};

static bool machines(struct asked *q, struct answer *out)
{
    const struct desk_machine *at = NULL;
    size_t n = 0;
    if (!target_only(q->t, nothing, &q->err) || !desk_machines(q->desk, &at, &n, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_machines_json(&j, q->desk, at, n);
    return json_answer(q, &t, out);
}

static bool machine(struct asked *q, struct answer *out)
{
    const struct desk_machine *m = NULL;
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return target_only(q->t, nothing, &q->err) && desk_refresh(q->desk, &q->err) &&
           (m = desk_machine_find(q->desk, q->name, &q->err)) != NULL &&
           desk_machine_json(&j, q->desk, m, q->a, &q->err) && json_answer(q, &t, out);
}

static bool why(struct asked *q, struct answer *out)
{
    struct desk_why why;
    if (!target_only(q->t, nothing, &q->err) || !desk_why(q->desk, q->name, q->last, q->a, &why, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_why_json(&j, &why);
    return json_answer(q, &t, out);
}

/* The round that the parameters ask for, as the document of docs/print.md. */
static bool round_document(struct asked *q, struct text *document)
{
    static const char *const names[] = {"scope", "within", "days", "minutes", "paper", NULL};
    double days = 0;
    struct desk_round_ask ask = {.machine = q->name, .scope = parameter(q, "scope")};
    if (!target_only(q->t, names, &q->err) || !number(q, "within", 0.1, 100000, &ask.within_hours) ||
        !number(q, "days", 1, 36500, &days) || !number(q, "minutes", 1, 100000, &ask.minutes)) {
        return false;
    }
    ask.within_days = (int)days;
    if (ask.scope.n == 0 && (target_value(q->t, "within") || target_value(q->t, "days"))) {
        ask.scope = S("within");
    }
    struct desk_round round;
    return desk_round(q->desk, &ask, q->a, &round, &q->err) &&
           desk_print_round(q->desk, &round, parameter(q, "paper"), document, &q->err);
}

static bool round_of(struct asked *q, struct answer *out)
{
    struct text t = text_new(q->a);
    return round_document(q, &t) && json_answer(q, &t, out);
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
    return target_only(q->t, names, &q->err) && desk_refresh(q->desk, &q->err) &&
           desk_print_labels(q->desk, &q->name, 1, parameter(q, "paper"), &t, &q->err) &&
           printed(q, &t, "-label.pdf", out);
}

static bool figure(struct asked *q, struct answer *out)
{
    const char *type = NULL;
    struct str data = {0};
    if (!target_only(q->t, nothing, &q->err) || !desk_figure(q->desk, q->name, q->last, q->a, &type, &data, &q->err)) {
        return false;
    }
    *out = answer_body(q->a, type, data);
    out->policy = POLICY_DRAWING;
    return true;
}

/* "*" stands for a part that is a name. */
static const struct {
    const char *parts[5];
    route_fn *run;
} routes[] = {
    {{"api", "today"}, today},
    {{"api", "machines"}, machines},
    {{"api", "machines", "*"}, machine},
    {{"api", "machines", "*", "round"}, round_of},
    {{"api", "machines", "*", "sheet.pdf"}, sheet},
    {{"api", "machines", "*", "label.pdf"}, label},
    {{"api", "machines", "*", "why", "*"}, why},
    {{"api", "machines", "*", "figures", "*"}, figure},
};

static route_fn *find_route(const struct target *t)
{
    for (size_t i = 0; i < sizeof routes / sizeof *routes; i++) {
        size_t n = 0;
        bool fits = true;
        for (; n < 5 && routes[i].parts[n]; n++) {
            struct str part = str_of(routes[i].parts[n]);
            fits = fits && n < t->n && (str_eq(part, S("*")) || str_eq(part, t->parts[n]));
        }
        if (fits && n == t->n) {
            return routes[i].run;
        }
    }
    return NULL;
}

/* "B-03-sheet.pdf" of letters, digits, dots and hyphens, whatever the label holds. */
static const char *file_name(const struct asked *q)
{
    struct text t = text_new(q->a);
    for (size_t i = 0; i < q->name.n; i++) {
        char c = q->name.p[i];
        bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-' || c == '.';
        text_char(&t, plain ? c : '_');
    }
    text_addz(&t, q->file_ending);
    return text_z(&t);
}

/* Runs the printing program over the document that the route left in the answer. */
static bool print(struct asked *q, struct answer *out)
{
    struct str said = {0};
    struct str pdf = {0};
    (void)pthread_mutex_lock(&q->api->print_lock);
    bool ok = desk_print(out->body, "pdf", q->a, &pdf, &said, &q->err);
    (void)pthread_mutex_unlock(&q->api->print_lock);
    if (!ok) {
        *out = answer_problem(q->a, q->err.kind == ERR_MISSING ? 503 : 500, &q->err);
        return true;
    }
    *out = answer_body(q->a, "application/pdf", pdf);
    out->policy = POLICY_PDF;
    out->name = file_name(q);
    return true;
}

struct answer api_answer(struct api *api, const struct target *t, struct arena *a)
{
    struct asked q = {.api = api, .desk = api->desk, .t = t, .a = a, .err = err_new(a)};
    struct answer out = {0};
    route_fn *route = find_route(t);
    bool ok = false;
    if (route) {
        q.name = t->n > 2 ? t->parts[2] : (struct str){0};
        q.last = t->n > 4 ? t->parts[4] : (struct str){0};
        (void)pthread_mutex_lock(&api->desk_lock);
        ok = route(&q, &out);
        (void)pthread_mutex_unlock(&api->desk_lock);
        ok = ok && (!q.print || print(&q, &out));
    } else {
        (void)err_set(&q.err, ERR_MISSING, "docs/api.md lists what there is: /api/today, /api/machines ...",
                      "there is nothing at ", str_z(a, t->path), (char *)0);
    }
    return ok ? out : answer_error(a, &q.err);
}
