/* What the tests of the server share: a depot with a server over it, and a bare client. */
#ifndef WITMARK_TESTS_WEB_CLIENT_H
#define WITMARK_TESTS_WEB_CLIENT_H

#include "bench.h"

#include "web.h"

#include <jansson.h>

/* A depot of two machines (B/03 and G-1) in a new folder, on 25 Nov 2026 at noon UTC; open as a desk. */
void open_depot(struct bench *b);
/* Stops the server, closes the desk, removes the folder. */
void close_depot(struct bench *b);
/* The depot, with a server over it, that all tests of a program share, as it takes long to make: the first call makes
 * it, lets `prepare` (may be null) add to it and starts the server. person: who uses it without signing in, null = the
 * server's own choice. Set-up of a cmocka test; its tear-down is share_end. Both return 0. */
int share_depot(void **state, void (*prepare)(struct bench *b), const char *person);
int share_end(void **state);
/* The same with nothing added, used by Ines. */
int share_plain(void **state);

/* A connection to the server's port; -1 when it refuses. */
int connect_to(uint16_t port);

struct reply {
    int status;
    char *text; /* all of it; headers end at body; to be freed */
    const char *body;
    size_t n_body;
};

/* Sends bytes as they are and reads until the server closes. Status 0 when nothing came. */
struct reply say_bytes(uint16_t port, const char *bytes, size_t n);
struct reply say(uint16_t port, const char *bytes);
/* A request with lines of header (each ended by CRLF) and, when body is not null, a body with its length. */
struct reply ask(struct bench *b, const char *method, const char *target, const char *more, const char *body);
struct reply get(struct bench *b, const char *target, const char *more);
/* The value of a header, copied into `to`; "" when it is not there. */
const char *header(const struct reply *r, const char *name, char *to, size_t size);
json_t *json_of(const struct reply *r);
/* A member of an object as text; "" when it is not there or no text. */
const char *text_member(const json_t *json, const char *name);
/* A POST or PUT with the page's token and a media type. */
struct reply change(struct bench *b, const char *method, const char *target, const char *type, const char *body);

#endif
