/* Who is signed in, signing in and out, and what the page must know of the depot. */
#include "api.h"
#include "gate.h"

#include "desk.h"

/* The first language of an Accept-Language that the page speaks (RFC 9110 12.5.4; weights are in order as browsers
 * write them). */
static const char *language(struct str accept)
{
    struct str rest = accept;
    struct str piece;
    while (str_next(&rest, ',', &piece)) {
        piece = str_trim(piece);
        if (str_starts(piece, S("es"))) {
            return "es";
        }
        if (str_starts(piece, S("en"))) {
            return "en";
        }
    }
    return "en";
}

static bool session(struct asked *q, struct answer *out)
{
    static const char *const units[] = {[UNITS_AS_WRITTEN] = "as-written", [UNITS_SI] = "si", [UNITS_US] = "us"};
    if (!asked_none(q)) {
        return false;
    }
    const struct who *who = q->who;
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_str(&j, "depot", desk_name(q->desk));
    json_bool(&j, "signed_in", who->signed_in);
    json_bool(&j, "login_needed", who->login_needed);
    json_str(&j, "csrf", who->csrf);
    if (who->signed_in) {
        json_str(&j, "name", who->name);
        json_strz(&j, "role", role_word(who->role));
        json_str(&j, "calendar", gate_calendar_token(q->api->gate, who, q->a));
    } else {
        json_put_null(&j, "name");
        json_put_null(&j, "role");
        json_put_null(&j, "calendar");
    }
    /* A page from here may keep itself for use without a network: over TLS, or on this machine (Secure Contexts). */
    json_bool(&j, "secure", q->asking->tls || q->asking->proxied || gate_loopback(q->asking->host));
    json_strz(&j, "language", language(q->asking->language));
    json_str(&j, "zone", desk_zone(q->desk));
    json_strz(&j, "units", units[desk_units(q->desk)]);
    json_end_object(&j);
    *out = answer_body(q->a, "application/json", text_str(&t));
    out->personal = true;
    return true;
}

/* Too many attempts: 429 with the time to wait. */
static bool too_many(struct asked *q, int wait_s, struct answer *out)
{
    struct err e = err_new(q->a);
    struct text t = text_new(q->a);
    text_addz(&t, "try again in ");
    text_int(&t, wait_s);
    text_addz(&t, " s");
    (void)err_set(&e, ERR_REFUSED, text_z(&t), "too many attempts to sign in", (char *)0);
    *out = answer_problem(q->a, 429, &e);
    out->retry_s = wait_s;
    return true;
}

static bool said(struct asked *q, struct str cookie, struct answer *out)
{
    struct text t = text_new(q->a);
    text_addz(&t, "{\"ok\":true}");
    *out = answer_body(q->a, "application/json", text_str(&t));
    out->personal = true;
    out->cookie = cookie;
    return true;
}

static bool login(struct asked *q, struct answer *out)
{
    struct str name;
    struct str password;
    struct str cookie = {0};
    bool right = false;
    int wait_s = 0;
    if (!asked_none(q) || !asked_json(q) || !asked_text(q, "name", true, &name) ||
        !asked_text(q, "password", true, &password) ||
        !gate_login(q->api->gate, q->asking, name, password, q->a, &right, &wait_s, &cookie, &q->err)) {
        return false;
    }
    if (wait_s) {
        return too_many(q, wait_s, out);
    }
    return right ? said(q, cookie, out) : asked_refuse(q, 401, "name or password are wrong", NULL);
}

static bool logout(struct asked *q, struct answer *out)
{
    struct str cookie = {0};
    return asked_none(q) && gate_logout(q->api->gate, q->asking, q->a, &cookie, &q->err) && said(q, cookie, out);
}

static bool password(struct asked *q, struct answer *out)
{
    struct str old;
    struct str new;
    bool right = false;
    int wait_s = 0;
    if (!asked_none(q) || !asked_json(q) || !asked_text(q, "old", true, &old) || !asked_text(q, "new", true, &new)) {
        return false;
    }
    if (!q->who->login_needed) {
        return asked_refuse(q, 422, "nobody signs in here, so there is no password", "witmark person add");
    }
    if (!gate_password(q->api->gate, q->asking, q->who, old, new, q->a, &right, &wait_s, &q->err)) {
        return false;
    }
    if (wait_s) {
        return too_many(q, wait_s, out);
    }
    return right ? said(q, (struct str){0}, out) : asked_refuse(q, 403, "the old password is wrong", NULL);
}

#define SMALL ((size_t)8 << 10)

const struct route session_routes[] = {
    {"GET", "/api/session", ROLE_LOOK, ROUTE_DESK | ROUTE_OPEN, session, 0, NULL},
    {"POST", "/api/login", ROLE_LOOK, ROUTE_OPEN, login, SMALL, "application/json"},
    {"POST", "/api/logout", ROLE_LOOK, ROUTE_OPEN, logout, SMALL, "application/json"},
    {"POST", "/api/password", ROLE_LOOK, 0, password, SMALL, "application/json"},
    {0},
};
