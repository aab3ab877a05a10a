/* The page: HTTP over the desk, from files embedded in the program. For this machine alone: there is no login yet, so
 * nothing but a loopback address is listened on, and a request that names another host is refused (a page of somebody
 * else could otherwise point its own name at 127.0.0.1 and read the depot). docs/api.md is the contract. */
#ifndef WITMARK_WEB_H
#define WITMARK_WEB_H

#include "base/err.h"

#include <stdbool.h>
#include <stdint.h>

struct desk;
struct web;

struct web_options {
    struct desk *desk;   /* borrowed; used by one request at a time */
    const char *address; /* "127.0.0.1", "::1", "localhost" */
    uint16_t port;       /* 0 = a free one */
    const char *person;  /* who makes entries while there are no accounts; null = "depot" */
    const char *files;   /* a folder to serve the page from, null = the embedded files */
};

/* Begins to serve in threads of its own. Errors: ERR_USAGE not an address; ERR_REFUSED not a loopback address;
 * ERR_MISSING no such folder; ERR_SYSTEM the port is taken. SIGPIPE is ignored from then on. */
bool web_start(const struct web_options *options, struct web **w, struct err *e);
uint16_t web_port(const struct web *w);
/* Takes no more connections, gives requests under way up to `patience_ms` to end, and frees everything. Null is fine.
 */
void web_stop(struct web *w, int patience_ms);

/* Serves until SIGINT or SIGTERM. Prints the address on stdout when it is ready. Errors: as web_start. */
bool web_serve(const struct web_options *options, struct err *e);

#endif
