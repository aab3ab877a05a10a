/* Finding a route, lending it the desk, and what the routes share. */
#include "api.h"

#include "desk.h"

#include <string.h>

/* ---- routes ----------------------------------------------------------------------------------------------------- */

const struct route *const *api_tables(size_t *n)
{
    static const struct route *const tables[] = {
#define X(table) table,
#include "api_tables.inc"
#undef X
    };
    *n = sizeof tables / sizeof *tables;
    return tables;
}

/* Whether a path fits "/api/machines/{machine}/why/{key}"; a part in braces fits anything and is kept. */
static bool fits(const char *pattern, const struct target *t, struct str args[3])
{
    struct str rest = str_of(pattern + 1);
    struct str piece;
    size_t i = 0;
    size_t n_args = 0;
    while (str_next(&rest, '/', &piece)) {
        if (i == t->n) {
            return false;
        }
        if (piece.p[0] == '{') {
            if (args && n_args < 3) {
                args[n_args] = t->parts[i];
            }
            n_args++;
        } else if (!str_eq(piece, t->parts[i])) {
            return false;
        }
        i++;
    }
    return i == t->n;
}

const struct route *api_route(const char *method, const struct target *t, struct str args[3], struct arena *a,
                              struct str *allow)
{
    size_t n = 0;
    const struct route *const *tables = api_tables(&n);
    struct text methods = text_new(a);
    for (size_t k = 0; k < n; k++) {
        for (const struct route *r = tables[k]; r->method; r++) {
            if (!fits(r->pattern, t, args)) {
                continue;
            }
            bool get = strcmp(r->method, "GET") == 0;
            if (strcmp(r->method, method) == 0 || (get && strcmp(method, "HEAD") == 0)) {
                return r;
            }
            text_join(&methods, methods.n ? ", " : "", r->method, get ? ", HEAD" : "", (char *)0);
        }
    }
    *allow = text_str(&methods);
    return NULL;
}

/* ---- for the routes --------------------------------------------------------------------------------------------- */

bool answer_json(struct asked *q, const struct text *t, struct answer *out)
{
    *out = answer_body(q->a, "application/json", text_str(t));
    return true;
}

struct str asked_value(const struct asked *q, const char *name)
{
    const struct str *given = target_value(q->t, name);
    return given ? *given : (struct str){0};
}

bool asked_given(const struct asked *q, const char *name)
{
    return target_value(q->t, name) != NULL;
}

bool asked_only(struct asked *q, const char *const *names)
{
    return target_only(q->t, names, &q->err);
}

bool asked_none(struct asked *q)
{
    static const char *const nothing[] = {NULL};
    return asked_only(q, nothing);
}

bool asked_number(struct asked *q, const char *name, double least, double most, double *value)
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

bool asked_json(struct asked *q)
{
    json_error_t bad;
    struct str body = q->asking->body;
    q->json = json_loadb(body.p ? body.p : "", body.n, JSON_REJECT_DUPLICATES, &bad);
    if (!q->json) {
        struct where where = {S("body"), bad.line > 0 ? (uint32_t)bad.line : 1,
                              bad.column > 0 ? (uint32_t)bad.column : 1};
        return err_at(&q->err, where, ERR_INPUT, "one JSON object",
                      "the body is not JSON: ", str_z(q->a, str_of(bad.text)), (char *)0);
    }
    return json_is_object(q->json) || err_set(&q->err, ERR_INPUT, "{...}", "the body is not a JSON object", (char *)0);
}

bool asked_text(struct asked *q, const char *member, bool needed, struct str *value)
{
    const json_t *found = json_object_get(q->json, member);
    *value = (struct str){0};
    if (json_is_string(found)) {
        *value = (struct str){json_string_value(found), json_string_length(found)};
    } else if (found && !json_is_null(found)) {
        return err_set(&q->err, ERR_INPUT, "text in quotes", member, ": it is not text", (char *)0);
    }
    return value->n || !needed ||
           err_set(&q->err, ERR_INPUT, "text in quotes", member, ": it is missing or empty", (char *)0);
}

bool asked_refuse(struct asked *q, int status, const char *what, const char *right)
{
    q->status = status;
    return err_set(&q->err, status == 404 ? ERR_MISSING : ERR_REFUSED, right, what, (char *)0);
}

/* ---- one request ------------------------------------------------------------------------------------------------ */

/* "B-03-sheet.pdf" of letters, digits, dots and hyphens, whatever the label holds. */
static const char *file_name(const struct asked *q)
{
    struct text t = text_new(q->a);
    for (size_t i = 0; i < q->args[0].n; i++) {
        char c = q->args[0].p[i];
        bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-' || c == '.';
        text_char(&t, plain ? c : '_');
    }
    text_addz(&t, q->file_ending);
    return text_z(&t);
}

/* Runs the printing program over the document that the route left in the answer. */
static void print(struct asked *q, struct answer *out)
{
    struct str said = {0};
    struct str pdf = {0};
    (void)pthread_mutex_lock(&q->api->print_lock);
    bool ok = desk_print(out->body, "pdf", q->a, &pdf, &said, &q->err);
    (void)pthread_mutex_unlock(&q->api->print_lock);
    if (!ok) {
        *out = answer_problem(q->a, q->err.kind == ERR_MISSING ? 503 : 500, &q->err);
        out->retry_s = q->err.kind == ERR_MISSING ? 2 : 0;
        return;
    }
    *out = answer_body(q->a, "application/pdf", pdf);
    out->policy = POLICY_PDF;
    out->name = file_name(q);
}

/* Runs the route; the desk, where it needs one, is its own for that long. */
static bool run(struct asked *q, const struct route *route, struct answer *out)
{
    bool desk = (route->flags & ROUTE_DESK) != 0;
    if (desk) {
        q->desk = pool_take(&q->api->desks);
    }
    bool ok = route->run(q, out);
    if (desk) {
        pool_give(&q->api->desks, q->desk);
        q->desk = NULL;
    }
    return ok;
}

struct answer api_answer(struct api *api, const struct route *route, const struct asking *asking, const struct who *who,
                         struct arena *a)
{
    struct asked q = {.api = api, .asking = asking, .t = &asking->target, .a = a, .who = who, .err = err_new(a)};
    struct answer out = {0};
    (void)fits(route->pattern, q.t, q.args);
    bool ok = run(&q, route, &out);
    if (ok && q.print) {
        print(&q, &out);
    }
    json_decref(q.json);
    if (!ok) {
        out = q.status ? answer_problem(a, q.status, &q.err) : answer_error(a, &q.err);
    }
    return out;
}
