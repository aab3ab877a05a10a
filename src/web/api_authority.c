/* The site's authority for people: how a phone gets it, whether all is well. */
#include "api.h"
#include "authority.h"

#include "desk.h"

static void text_date(struct text *t, instant_ms at)
{
    text_day(t, day_of_instant(at, 0));
}

void authority_page(struct text *t, const char *host, uint16_t port, const struct authority_facts *f)
{
    text_addz(t,
              "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
              "content=\"width=device-width, initial-scale=1\"><title>Certificate of the depot</title></head><body>\n"
              "<h1>The depot's certificate</h1>\n"
              "<ol><li>Take <a href=\"/authority.crt\">authority.crt</a> and install it as a certificate authority "
              "(a CA certificate) in the settings of this phone.</li>\n"
              "<li>Compare the SHA-256 fingerprint that the phone shows with this one and with the one at the "
              "depot's desk:<br><code>");
    text_add(t, f->fingerprint);
    text_addz(t, "</code></li>\n<li>Then open <a href=\"https://");
    text_addz(t, host);
    text_char(t, ':');
    text_int(t, port);
    text_addz(t, "/\">the page</a>.</li></ol>\n<p>It vouches only for this depot's names and for addresses of private "
                 "networks, until ");
    text_date(t, f->authority_until);
    text_addz(t, ".</p>\n");
    text_addz(t, "</body></html>\n");
}

/* Reads the folder; false with 404 where there is none. */
static bool facts_of(struct asked *q, struct authority_facts *facts, struct diags *findings)
{
    *findings = diags_new(q->a, 20);
    *facts = (struct authority_facts){0};
    if (!asked_none(q)) {
        return false;
    }
    return q->api->authority ? authority_check(q->api->authority, desk_now(q->desk), q->a, facts, findings, &q->err)
                             : asked_refuse(q, 404, "this server has no authority of its own",
                                            "witmark authority make, then witmark serve --listen ADDRESS");
}

static bool authority(struct asked *q, struct answer *out)
{
    struct authority_facts f;
    struct diags findings;
    if (!facts_of(q, &f, &findings)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_strz(&j, "get", q->api->authority_at);
    json_str(&j, "fingerprint", f.fingerprint);
    json_str(&j, "names", f.names);
    struct text day = text_new(q->a);
    text_date(&day, f.authority_until);
    json_str(&j, "authority_until", text_str(&day));
    day = text_new(q->a);
    text_date(&day, f.server_until);
    json_str(&j, "server_until", text_str(&day));
    json_begin_array(&j, "findings");
    for (size_t i = 0; i < findings.n; i++) {
        json_begin_object(&j, NULL);
        json_strz(&j, "level", diag_level_text(findings.at[i].level));
        json_str(&j, "what", findings.at[i].what);
        json_str(&j, "right", findings.at[i].right);
        json_end_object(&j);
    }
    json_end_array(&j);
    json_end_object(&j);
    return answer_json(q, &t, out);
}

static bool picture(struct asked *q, struct answer *out)
{
    struct authority_facts f;
    struct diags findings;
    struct text t = text_new(q->a);
    if (!facts_of(q, &f, &findings)) {
        return false;
    }
    if (!q->api->authority_at) {
        return asked_refuse(q, 404, "the certificate is not offered over plain HTTP here", "GET /authority.crt");
    }
    if (!qr_svg(&t, str_of(q->api->authority_at), &q->err)) {
        return false;
    }
    *out = answer_body(q->a, "image/svg+xml", text_str(&t));
    out->policy = POLICY_DRAWING;
    return true;
}

static bool certificate(struct asked *q, struct answer *out)
{
    struct authority_facts f;
    struct diags findings;
    if (!facts_of(q, &f, &findings)) {
        return false;
    }
    *out = answer_body(q->a, "application/x-x509-ca-cert", f.certificate);
    out->name = "authority.crt";
    return true;
}

const struct route authority_routes[] = {
    {"GET", "/api/authority", ROLE_LOOK, ROUTE_DESK | ROUTE_OPEN, authority, 0, NULL},
    {"GET", "/api/authority.svg", ROLE_LOOK, ROUTE_DESK | ROUTE_OPEN, picture, 0, NULL},
    {"GET", "/authority.crt", ROLE_LOOK, ROUTE_DESK | ROUTE_OPEN, certificate, 0, NULL},
    {0},
};
