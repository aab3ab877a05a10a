/* What the server's files share: the server, and one request on its way through libmicrohttpd. */
#ifndef WITMARK_WEB_INTERNAL_H
#define WITMARK_WEB_INTERNAL_H

#include "api.h"
#include "authority.h"
#include "gate.h"
#include "keep.h"

#include <microhttpd.h>
#include <stdatomic.h>
#include <stdint.h>

struct web {
    struct arena arena; /* certificate, texts */
    struct MHD_Daemon *daemon;
    struct MHD_Daemon *plain; /* gives the authority's certificate to phones that do not trust it yet; or null */
    struct desk *desk;        /* only for its clock */
    struct api api;
    struct keep keep;
    const char *files;
    atomic_int under_way;
    atomic_size_t body_bytes; /* of all requests that are arriving */
    uint16_t port, plain_port;
    const char *shown; /* the address to show to people */
    bool ipv6, tls, proxied;
};

/* The three callbacks of libmicrohttpd: a target has come, more of the request has come, it is over. */
void *request_begin(void *cls, const char *uri, struct MHD_Connection *connection);
enum MHD_Result request_on(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
                           const char *version, const char *upload, size_t *upload_size, void **state);
void request_end(void *cls, struct MHD_Connection *connection, void **state, enum MHD_RequestTerminationCode code);
/* Of the plain server beside it (plain.c). */
enum MHD_Result plain_on(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
                         const char *version, const char *upload, size_t *upload_size, void **state);

#endif
