/* The page: HTTP over the desk, from files embedded in the program. docs/api.md is the contract.
 *
 * On a loopback address it may be used without more. Beyond that it demands that people sign in (desk_people.h) and
 * that nobody on the way can listen: a certificate, or a proxy that is said to see to it. A request that names another
 * host is refused: a page of somebody else could otherwise point its own name at this machine and read the depot. */
#ifndef WITMARK_WEB_H
#define WITMARK_WEB_H

#include "base/err.h"

#include <stdbool.h>
#include <stdint.h>

struct desk;
struct web;

struct web_options {
    struct desk *desk;       /* borrowed, and used by one request at a time; more are opened on its depot when needed */
    const char *address;     /* "127.0.0.1", "::1", "localhost", "0.0.0.0" ... */
    uint16_t port;           /* 0 = a free one */
    const char *person;      /* who makes entries while there are no accounts; null = "depot" */
    const char *files;       /* a folder to serve the page from, null = the embedded files */
    const char *certificate; /* PEM files; both or none */
    const char *key;
    const char *authority; /* folder of authority.h: its server certificate is served unless another one is named */
    const char *hosts;     /* names that this server goes by, with commas, besides those of the certificate */
    bool behind_proxy;     /* another program answers for TLS, and passes Host and X-Forwarded-For on */
    bool plain_port_off;   /* do not offer the authority's certificate over plain HTTP on the next port */
};

/* Begins to serve in threads of its own. Errors: ERR_USAGE not an address; ERR_REFUSED beyond loopback without accounts
 * or without TLS; ERR_MISSING no such folder, certificate or key; ERR_SYSTEM the port is taken. SIGPIPE is ignored from
 * then on. */
bool web_start(const struct web_options *options, struct web **w, struct err *e);
uint16_t web_port(const struct web *w);
/* Takes no more connections, gives requests under way up to `patience_ms` to end, and frees everything. Null is fine.
 */
void web_stop(struct web *w, int patience_ms);

/* Serves until SIGINT or SIGTERM. Prints the address on stdout when it is ready, and with an authority where a phone
 * gets its certificate. Errors: as web_start. */
bool web_serve(const struct web_options *options, struct err *e);

#endif
