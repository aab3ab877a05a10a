/* Plain HTTP beside the page's TLS port, for one thing: a phone that does not trust the site's authority yet gets its
 * certificate here. Over the TLS port it would first be shown a warning, and nobody should learn to click those away.
 * What is given here is public; that it is the right one is seen by its fingerprint, which stands on the page, in the
 * terminal and on the phone. Nothing else is answered. */
#include "web_internal.h"

#include "desk.h"

#include <string.h>

static enum MHD_Result give(struct MHD_Connection *connection, unsigned int status, const char *type, struct str body,
                            const char *location)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(body.n, (void *)(uintptr_t)(body.n ? body.p : ""), MHD_RESPMEM_MUST_COPY);
    if (!response) {
        return MHD_NO;
    }
    (void)MHD_add_response_header(response, "Content-Type", type);
    (void)MHD_add_response_header(response, "Cache-Control", "no-store");
    (void)MHD_add_response_header(response, "X-Content-Type-Options", "nosniff");
    (void)MHD_add_response_header(response, "Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'");
    if (location) {
        (void)MHD_add_response_header(response, "Location", location);
    }
    enum MHD_Result queued = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return queued;
}

enum MHD_Result plain_on(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
                         const char *version, const char *upload, size_t *upload_size, void **state)
{
    struct web *w = cls;
    (void)version;
    (void)upload;
    if (*state == NULL) { /* the header is there; nothing with a body is taken */
        *state = w;
        bool get = strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0;
        return get ? MHD_YES : give(connection, 405, "text/plain", S("GET\n"), NULL);
    }
    if (*upload_size) {
        return MHD_NO;
    }
    struct arena a = arena_new(&arena_libc);
    struct err e = err_new(&a);
    struct authority_facts facts;
    struct diags findings = diags_new(&a, 10);
    enum MHD_Result sent = MHD_NO;
    if (!authority_check(w->api.authority, desk_now(w->desk), &a, &facts, &findings, &e)) {
        sent = give(connection, 503, "text/plain", S("the authority cannot be read\n"), NULL);
    } else if (strcmp(url, "/authority.crt") == 0) {
        sent = give(connection, 200, "application/x-x509-ca-cert", facts.certificate, NULL);
    } else if (strcmp(url, "/") == 0) {
        struct text t = text_new(&a);
        authority_page(&t, w->shown, w->port, &facts);
        sent = give(connection, 200, "text/html; charset=utf-8", text_str(&t), NULL);
    } else {
        sent = give(connection, 404, "text/plain", S("only /authority.crt is here\n"), NULL);
    }
    arena_free(&a);
    return sent;
}
