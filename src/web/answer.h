/* What a request is answered with, before it becomes HTTP; everything lives in the request's arena or forever. */
#ifndef WITMARK_WEB_ANSWER_H
#define WITMARK_WEB_ANSWER_H

#include "base/err.h"

/* Which content-security-policy goes with it. */
enum answer_policy { POLICY_NOTHING, POLICY_PAGE, POLICY_DRAWING, POLICY_PDF };

struct answer {
    int status;       /* HTTP */
    const char *type; /* media type */
    struct str body;  /* as sent, gzip or not */
    struct str etag;  /* with its quotes; empty = none */
    bool gzip;        /* the body is gzip */
    bool varies;      /* another Accept-Encoding would get another body */
    bool forever;     /* what is at this address never changes (named by its hash) */
    bool personal;    /* never kept: it holds a token */
    const char *name; /* file name offered for saving, or null */
    enum answer_policy policy;
    struct str cookie; /* Set-Cookie, or empty */
    struct str allow;  /* Allow, with 405 */
    int retry_s;       /* Retry-After, 0 = none */
};

/* 200 with an ETag made of the body. */
struct answer answer_body(struct arena *a, const char *type, struct str body);
/* application/problem+json of RFC 9457: type about:blank, title and status of HTTP, detail = what is wrong; and of ours
 * `kind`, `right` (what would be right), `where`. The status follows from the error's kind. */
struct answer answer_error(struct arena *a, const struct err *e);
struct answer answer_problem(struct arena *a, int status, const struct err *e);
/* A quoted ETag of some bytes; `mark` is put behind the hash to tell codings apart. */
struct str answer_etag(struct arena *a, struct str bytes, const char *mark);
/* Whether a list as in If-None-Match names this ETag, by weak comparison (RFC 9110 13.1.2, 8.8.3.2). */
bool answer_etag_listed(struct str list, struct str etag);
/* Whether the body is worth packing for a client that takes gzip. */
bool answer_packs(const struct answer *answer);
/* The body will be packed: its ETag ends in "-gzip" from now on (RFC 9110 8.8.3.3). */
void answer_will_pack(struct arena *a, struct answer *answer);
/* Packs the body with gzip, unless it would not get smaller. */
void answer_pack(struct arena *a, struct answer *answer);

#endif
