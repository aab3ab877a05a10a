/* A site's own certificate authority: phones keep a page for use without a network only over a certificate that they
 * trust, and a depot's server on a private network can get one from nobody else.
 *
 * A folder holds authority.crt and authority.key (made once, ten years) and server.crt and server.key (397 days at
 * most, the longest that browsers take of a public authority; renewed from the same authority, so phones notice
 * nothing). The authority may only vouch for the names it was made for and for addresses of private networks (name
 * constraints, RFC 5280 4.2.1.10): whoever steals its key cannot pretend to be a bank. Keys are ECDSA P-256, files
 * 0600. docs/offline.md tells how it gets onto a phone. */
#ifndef WITMARK_WEB_AUTHORITY_H
#define WITMARK_WEB_AUTHORITY_H

#include "base/date.h"
#include "base/err.h"

#define LEAF_DAYS 397
#define LEAF_DAYS_MOST 825

struct authority_ask {
    const char *folder;
    struct str depot;     /* whose it is, in the certificate's name */
    struct str names;     /* "depot.local, depot": DNS names with commas */
    struct str addresses; /* "192.168.1.20, fd00::20"; empty = those of this machine */
    int days;             /* of the server's certificate; 0 = LEAF_DAYS */
    bool anew;            /* a new authority even if there is one: every phone must install it again */
};

/* What lies in the folder. */
struct authority_facts {
    struct str names;       /* that the server's certificate is for: names and addresses, with commas */
    struct str first;       /* the one of them for people: see host_for_people */
    struct str fingerprint; /* SHA-256 of the authority's certificate, "AB:CD:..." */
    struct str certificate; /* the authority's, PEM */
    instant_ms authority_until, server_from, server_until;
};

/* Makes what is not there yet: authority, then a server's certificate by it. Errors: ERR_INPUT a name or address that
 * is none, or that the authority there may not vouch for (what to do is said); ERR_SYSTEM. */
bool authority_make(const struct authority_ask *ask, instant_ms now, struct arena *a, struct authority_facts *out,
                    struct err *e);
/* A new server's certificate for the same names. Errors: ERR_MISSING nothing was made yet. */
bool authority_renew(const char *folder, int days, instant_ms now, struct arena *a, struct authority_facts *out,
                     struct err *e);
/* Reads the folder and checks everything: that keys fit, the chain holds, nothing is over, nobody else may read the
 * keys. Findings go to d; what is about to be over within 30 days is a doubt. Errors: ERR_MISSING, ERR_INPUT no
 * certificate. */
bool authority_check(const char *folder, instant_ms now, struct arena *a, struct authority_facts *out,
                     struct diags *findings, struct err *e);

/* Of names with commas the first that is an address on a network, which every phone finds; else the first name. */
struct str host_for_people(struct str names);

/* The page that a phone sees where it gets the certificate; host and port are those of the page itself. */
void authority_page(struct text *t, const char *host, uint16_t port, const struct authority_facts *f);

/* A certificate and key as files, read for serving; names = those it is for. Errors: ERR_MISSING, ERR_INPUT,
 * ERR_REFUSED it is over, the key does not fit, or others may read the key. */
struct tls_files {
    const char *certificate, *key; /* PEM */
    struct str names;
    instant_ms until;
};
bool tls_read(const char *certificate, const char *key, instant_ms now, struct arena *a, struct tls_files *out,
              struct err *e);

/* A QR code (ISO/IEC 18004) of a text: for a terminal, in half blocks, dark on light; and as SVG. */
bool qr_terminal(struct text *t, struct str text, struct err *e);
bool qr_svg(struct text *t, struct str text, struct err *e);

#endif
