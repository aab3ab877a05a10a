/* Who is signed in, and what the page must know of the depot. */
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
    if (!asked_none(q)) {
        return false;
    }
    const struct who *who = q->who;
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_str(&j, "depot", desk_name(q->desk));
    json_bool(&j, "signed_in", who->signed_in);
    json_bool(&j, "login_needed", gate_login_needed(q->api->gate));
    if (who->signed_in) {
        json_str(&j, "name", who->name);
        json_strz(&j, "role", role_word(who->role));
        json_str(&j, "csrf", who->csrf);
    } else {
        json_put_null(&j, "name");
        json_put_null(&j, "role");
        json_put_null(&j, "csrf");
    }
    /* A page from here may keep itself for use without a network: over TLS, or on this machine (Secure Contexts). */
    json_bool(&j, "secure", q->asking->tls || gate_loopback(q->asking->host));
    json_strz(&j, "language", language(q->asking->language));
    json_str(&j, "zone", desk_zone(q->desk));
    static const char *const units[] = {[UNITS_AS_WRITTEN] = "as-written", [UNITS_SI] = "si", [UNITS_US] = "us"};
    json_strz(&j, "units", units[desk_units(q->desk)]);
    json_end_object(&j);
    *out = answer_body(q->a, "application/json", text_str(&t));
    out->personal = true;
    return true;
}

const struct route session_routes[] = {
    {"GET", "/api/session", ROLE_LOOK, ROUTE_DESK | ROUTE_OPEN, session, 0, NULL},
    {0},
};
