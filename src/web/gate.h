/* The gate: who asks, and may they.
 *
 * Without accounts, which only a loopback address allows, everybody who reaches the port is the depot's own person with
 * every role; what changes something still needs the token that only a page of this server can read. With accounts
 * (desk_people.h) people sign in: a random token in a cookie (HttpOnly, SameSite=Strict, Secure over TLS), of which the
 * depot keeps the hash. Attempts to sign in are slowed down per address and per name. The gate has a desk of its own,
 * so that it never waits for a round that is being computed. */
#ifndef WITMARK_WEB_GATE_H
#define WITMARK_WEB_GATE_H

#include "api.h"

struct gate;

struct gate_options {
    struct desk *desk;  /* whose depot it is; a second desk is opened on it */
    const char *person; /* the depot's own person, when there are no accounts */
    bool beyond;        /* served beyond this machine: nobody passes without signing in, even if no account is left */
    bool tls;           /* cookies are for TLS only */
    const char *hosts;  /* further names that this server goes by, with commas; "*" = any; null = none */
};

bool gate_open(const struct gate_options *options, struct gate **g, struct err *e);
void gate_close(struct gate *g); /* null is fine */

/* Whether the Host of a request is this machine: "localhost", "127.0.0.1", "[::1]", with or without a port. */
bool gate_loopback(struct str host);
/* Whether it is one that this server goes by: a loopback name, or one of the options' hosts. */
bool gate_host(const struct gate *g, struct str host);

/* Who sends this cookie. */
bool gate_who(struct gate *g, const struct asking *asking, struct arena *a, struct who *who, struct err *e);
/* Whether `who` may go through this route with this request; otherwise the answer that says so (status 0 = may). */
struct answer gate_check(const struct route *route, const struct asking *asking, const struct who *who,
                         struct str origin, struct arena *a);

/* Signs in: *cookie is the header that starts the session. *right false: name or password are wrong (or *wait_s > 0:
 * too many attempts, so long to wait). */
bool gate_login(struct gate *g, const struct asking *asking, struct str name, struct str password, struct arena *a,
                bool *right, int *wait_s, struct str *cookie, struct err *e);
/* Ends the session; *cookie is the header that removes it. */
bool gate_logout(struct gate *g, const struct asking *asking, struct arena *a, struct str *cookie, struct err *e);
/* A new password for who is signed in; as gate_login, with the old one. Their sessions end. */
bool gate_password(struct gate *g, const struct asking *asking, const struct who *who, struct str old, struct str new,
                   struct arena *a, bool *right, int *wait_s, struct err *e);

/* The token with which a calendar is subscribed to, "NAME.HEX": it opens nothing else and ends with the person's
 * password. */
struct str gate_calendar_token(struct gate *g, const struct who *who, struct arena *a);
bool gate_calendar_who(struct gate *g, struct str token, struct arena *a, struct who *who, struct err *e);

#endif
