/* Without accounts: one person, all roles. The token is made anew when the server starts. */
#include "gate.h"

#include <arpa/inet.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

struct gate {
    char person[256];
    char csrf[65];
};

bool gate_open(const struct gate_options *options, struct gate **out, struct err *e)
{
    struct gate *g = sodium_init() >= 0 ? calloc(1, sizeof *g) : NULL;
    if (!g) {
        return err_set(e, ERR_SYSTEM, NULL, "no memory", (char *)0);
    }
    const char *person = options->person && options->person[0] ? options->person : "depot";
    size_t n = strlen(person);
    memcpy(g->person, person, n < sizeof g->person ? n : sizeof g->person - 1);
    unsigned char random[32];
    randombytes_buf(random, sizeof random);
    (void)sodium_bin2hex(g->csrf, sizeof g->csrf, random, sizeof random);
    *out = g;
    return true;
}

void gate_close(struct gate *g)
{
    free(g);
}

bool gate_loopback(struct str host)
{
    ptrdiff_t end = host.n && host.p[0] == '[' ? str_find(host, S("]")) + 1 : str_find(host, S(":"));
    struct str name = end > 0 ? str_cut(host, 0, (size_t)end) : host;
    struct str port = str_cut(host, name.n, host.n);
    int64_t number = 0;
    if (port.n && (port.p[0] != ':' || !num_parse_i64(str_cut(port, 1, port.n), &number))) {
        return false;
    }
    char text[64];
    struct in_addr v4;
    if (name.n == 0 || name.n >= sizeof text) {
        return false;
    }
    memcpy(text, name.p, name.n);
    text[name.n] = '\0';
    return str_eq_nocase(name, S("localhost")) || str_eq(name, S("[::1]")) ||
           (inet_pton(AF_INET, text, &v4) == 1 && ntohl(v4.s_addr) >> 24 == 127);
}

bool gate_login_needed(const struct gate *g)
{
    (void)g;
    return false;
}

bool gate_who(struct gate *g, const struct asking *asking, struct arena *a, struct who *who, struct err *e)
{
    (void)asking;
    (void)a;
    (void)e;
    *who = (struct who){.signed_in = true, .name = str_of(g->person), .role = ROLE_BOOKS, .csrf = str_of(g->csrf)};
    return true;
}

static struct answer refused(struct arena *a, int status, const char *what, const char *right)
{
    struct err e = err_new(a);
    (void)err_set(&e, ERR_REFUSED, right, what, (char *)0);
    return answer_problem(a, status, &e);
}

/* Equal, in a time that does not tell where they differ. */
static bool same(struct str a, struct str b)
{
    return a.n == b.n && a.n > 0 && sodium_memcmp(a.p, b.p, a.n) == 0;
}

/* An Origin is scheme://host; a browser sends it with everything that changes something (Fetch Standard). */
static bool same_origin(struct str origin, const struct asking *asking)
{
    struct str scheme = asking->tls ? S("https://") : S("http://");
    return origin.n == 0 ||
           (str_starts(origin, scheme) && str_eq_nocase(str_cut(origin, scheme.n, origin.n), asking->host));
}

struct answer gate_check(struct gate *g, const struct route *route, const struct asking *asking, const struct who *who,
                         struct str origin, struct arena *a)
{
    (void)g;
    if (strcmp(route->method, "GET") != 0) {
        if (!same_origin(origin, asking)) {
            return refused(a, 403, "the request comes from a page of another site", NULL);
        }
        if (!same(asking->token, who->csrf)) {
            return refused(a, 403, "the token of the page is missing or old",
                           "GET /api/session and send its csrf as X-Witmark-Token");
        }
    }
    return (struct answer){0};
}
