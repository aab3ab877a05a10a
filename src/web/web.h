/* The page: HTTP over the desk, from files embedded in the program. Read-only. */
#ifndef WITMARK_WEB_H
#define WITMARK_WEB_H

#include "base/err.h"

#include <stdbool.h>
#include <stdint.h>

struct desk;

struct web_options {
    struct desk *desk;   /* borrowed; used by one request at a time */
    const char *address; /* "127.0.0.1" */
    uint16_t port;       /* 0 = a free one */
    const char *files;   /* a folder to serve the page from, null = the embedded files */
};

/* Serves until SIGINT or SIGTERM. Prints the address on stdout when it is ready. Errors: ERR_SYSTEM (the port is
 * taken). */
bool web_serve(const struct web_options *options, struct err *e);

#endif
