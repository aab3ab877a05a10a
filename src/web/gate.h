/* The gate: who asks, and may they. On a loopback address without accounts everybody who reaches the port is the
 * depot's own person; what changes something still needs the token that only a page of this server can read. */
#ifndef WITMARK_WEB_GATE_H
#define WITMARK_WEB_GATE_H

#include "api.h"

struct gate;

struct gate_options {
    const char *person; /* the depot's own person, when there are no accounts */
};

bool gate_open(const struct gate_options *options, struct gate **g, struct err *e);
void gate_close(struct gate *g); /* null is fine */

/* Whether the Host of a request is this machine: "localhost", "127.0.0.1", "[::1]", with or without a port. */
bool gate_loopback(struct str host);
/* Whether somebody has to sign in here. */
bool gate_login_needed(const struct gate *g);
/* Who sends this cookie. */
bool gate_who(struct gate *g, const struct asking *asking, struct arena *a, struct who *who, struct err *e);
/* Whether `who` may go through this route with this request; otherwise the answer that says so (status 0 = may). */
struct answer gate_check(struct gate *g, const struct route *route, const struct asking *asking, const struct who *who,
                         struct str origin, struct arena *a);

#endif
