/* People and tokens. All state is behind one lock; what a request needs is copied into its arena. */
#include "gate.h"
#include "throttle.h"

#include "desk.h"

#include <arpa/inet.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define SESSION_DAYS 30    /* a phone in the field signs in once a month */
#define SESSIONS_KEPT 256  /* answered without asking the depot */
#define PASSWORD_WAITING 2 /* attempts that may wait for the one that is being looked at: each needs 64 MiB */
#define TOKEN_BYTES 32
#define KEPT_MS 600000 /* answers are made anew after ten minutes also when nothing was recorded */

/* A session that was looked up, good until the depot changes. */
struct seen {
    struct log_hash token;
    instant_ms until;
    enum role role;
    char name[104];
};

struct gate {
    pthread_mutex_t lock;          /* of everything below */
    pthread_mutex_t password_lock; /* one password is looked at at a time */
    struct desk *desk;
    char person[256];
    char hosts[1024];
    bool beyond, tls, login;
    uint8_t secret[32];
    int64_t changes; /* of the depot when the following were read */
    int64_t own;     /* counts what this gate wrote */
    int64_t own_seen;
    struct seen seen[SESSIONS_KEPT];
    size_t next_seen;
    struct throttle by_address, by_name;
    int waiting;
};

static int64_t monotonic_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec;
}

/* Whether there are people; called with the lock held. */
static bool count_people(struct gate *g, struct err *e)
{
    struct arena scratch = arena_new(&arena_libc);
    struct desk_person *at = NULL;
    size_t n = 0;
    bool ok = desk_people(g->desk, &scratch, &at, &n, e);
    g->login = g->beyond || n > 0;
    arena_free(&scratch);
    return ok;
}

/* Forgets what was read when the depot has changed since. */
static bool look_again(struct gate *g, struct err *e)
{
    int64_t changes = 0;
    if (!depot_changes(desk_depot(g->desk), &changes, e)) {
        return false;
    }
    if (changes == g->changes && g->own == g->own_seen) {
        return true;
    }
    memset(g->seen, 0, sizeof g->seen);
    g->changes = changes;
    g->own_seen = g->own;
    return count_people(g, e);
}

bool gate_open(const struct gate_options *options, struct gate **out, struct err *e)
{
    struct gate *g = sodium_init() >= 0 ? calloc(1, sizeof *g) : NULL;
    if (!g) {
        return err_set(e, ERR_SYSTEM, NULL, "no memory", (char *)0);
    }
    (void)pthread_mutex_init(&g->lock, NULL);
    (void)pthread_mutex_init(&g->password_lock, NULL);
    const char *person = options->person && options->person[0] ? options->person : "depot";
    (void)strncpy(g->person, person, sizeof g->person - 1);
    (void)strncpy(g->hosts, options->hosts ? options->hosts : "", sizeof g->hosts - 1);
    g->beyond = options->beyond;
    g->tls = options->tls;
    g->changes = -1;
    g->by_address = (struct throttle){.free_attempts = 5, .first_s = 5, .most_s = 900};
    g->by_name = (struct throttle){.free_attempts = 10, .first_s = 5, .most_s = 300};
    if (!desk_again(options->desk, &g->desk, e) || !look_again(g, e)) {
        gate_close(g);
        return false;
    }
    struct err quiet = err_new(e->a);
    if (!desk_secret(g->desk, g->secret, &quiet)) { /* a depot that can only be read: tokens last as long as we run */
        randombytes_buf(g->secret, sizeof g->secret);
    }
    *out = g;
    return true;
}

void gate_close(struct gate *g)
{
    if (g) {
        desk_close(g->desk);
        sodium_memzero(g->secret, sizeof g->secret);
        (void)pthread_mutex_destroy(&g->lock);
        (void)pthread_mutex_destroy(&g->password_lock);
        free(g);
    }
}

/* ---- hosts --------------------------------------------------------------------------------------------------------
 */

/* The name of a host without its port; false when the port is no number. */
static bool host_name(struct str host, struct str *name)
{
    ptrdiff_t end = host.n && host.p[0] == '[' ? str_find(host, S("]")) + 1 : str_find(host, S(":"));
    int64_t number = 0;
    *name = end > 0 ? str_cut(host, 0, (size_t)end) : host;
    struct str port = str_cut(host, name->n, host.n);
    return name->n > 0 && (port.n == 0 || (port.p[0] == ':' && num_parse_i64(str_cut(port, 1, port.n), &number)));
}

bool gate_loopback(struct str host)
{
    struct str name;
    char text[64];
    struct in_addr v4;
    if (!host_name(host, &name) || name.n >= sizeof text) {
        return false;
    }
    memcpy(text, name.p, name.n);
    text[name.n] = '\0';
    return str_eq_nocase(name, S("localhost")) || str_eq(name, S("[::1]")) ||
           (inet_pton(AF_INET, text, &v4) == 1 && ntohl(v4.s_addr) >> 24 == 127);
}

bool gate_host(const struct gate *g, struct str host)
{
    struct str name;
    struct str rest = str_of(g->hosts);
    struct str one;
    if (!host_name(host, &name)) {
        return false;
    }
    while (str_next(&rest, ',', &one)) {
        one = str_trim(one);
        if (str_eq(one, S("*")) || (one.n && str_eq_nocase(one, name))) {
            return true;
        }
    }
    return gate_loopback(host);
}

/* ---- tokens -------------------------------------------------------------------------------------------------------
 */

/* Hex of the keyed hash (BLAKE2b) of `use` and a text under a key. */
static struct str derived(struct arena *a, const uint8_t key[32], const char *use, struct str text)
{
    crypto_generichash_state state;
    uint8_t hash[32];
    (void)crypto_generichash_init(&state, key, 32, sizeof hash);
    (void)crypto_generichash_update(&state, (const unsigned char *)use, strlen(use) + 1);
    (void)crypto_generichash_update(&state, (const unsigned char *)(text.p ? text.p : ""), text.n);
    (void)crypto_generichash_final(&state, hash, sizeof hash);
    struct text t = text_new(a);
    text_hex(&t, hash, sizeof hash);
    return text_str(&t);
}

static const char *cookie_name(const struct gate *g)
{
    return g->tls ? "__Host-witmark" : "witmark"; /* the prefix makes browsers insist on Secure and Path=/ */
}

/* The token that the request's cookie carries. */
static bool cookie_token(const struct gate *g, struct str cookie, uint8_t token[TOKEN_BYTES])
{
    struct str rest = cookie;
    struct str piece;
    while (str_next(&rest, ';', &piece)) {
        piece = str_trim(piece);
        struct str name = str_of(cookie_name(g));
        if (piece.n == name.n + 1 + 2 * TOKEN_BYTES && str_starts(piece, name) && piece.p[name.n] == '=') {
            return hex_parse(str_cut(piece, name.n + 1, piece.n), token, TOKEN_BYTES);
        }
    }
    return false;
}

static struct str set_cookie(const struct gate *g, struct arena *a, struct str value, int64_t seconds)
{
    struct text t = text_new(a);
    text_join(&t, cookie_name(g), "=", (char *)0);
    text_add(&t, value);
    text_addz(&t, "; Path=/; HttpOnly; SameSite=Strict; Max-Age=");
    text_int(&t, seconds);
    text_addz(&t, g->tls ? "; Secure" : "");
    return text_str(&t);
}

/* Looks a session up, in what was seen or in the depot; called with the lock held. */
static bool find_session(struct gate *g, struct log_hash hash, struct arena *a, struct who *who, struct err *e)
{
    instant_ms now = desk_now(g->desk);
    for (size_t i = 0; i < SESSIONS_KEPT; i++) {
        const struct seen *s = &g->seen[i];
        if (s->until > now && log_hash_eq(s->token, hash)) {
            who->signed_in = true;
            who->name = str_copy(a, str_of(s->name));
            who->role = s->role;
            return true;
        }
    }
    struct str name;
    instant_ms until = 0;
    struct desk_person person;
    bool found = false;
    if (!desk_session_find(g->desk, hash, a, &name, &until, e) ||
        (name.n && !desk_person_find(g->desk, name, a, &person, &found, e))) {
        return false;
    }
    if (found) {
        who->signed_in = true;
        who->name = name;
        who->role = person.role;
        struct seen *s = &g->seen[g->next_seen++ % SESSIONS_KEPT];
        *s = (struct seen){.token = hash, .until = until, .role = person.role};
        memcpy(s->name, name.p, name.n < sizeof s->name ? name.n : sizeof s->name - 1);
    }
    return true;
}

bool gate_who(struct gate *g, const struct asking *asking, struct arena *a, struct who *who, struct err *e)
{
    uint8_t token[TOKEN_BYTES];
    *who = (struct who){.role = ROLE_LOOK};
    (void)pthread_mutex_lock(&g->lock);
    bool ok = look_again(g, e);
    who->login_needed = g->login;
    who->state = (g->changes << 32) ^ (desk_now(g->desk) / KEPT_MS);
    if (ok && !g->login) {
        who->signed_in = true;
        who->name = str_copy(a, str_of(g->person));
        who->role = ROLE_BOOKS;
        who->csrf = derived(a, g->secret, "page", S(""));
    } else if (ok && cookie_token(g, asking->cookie, token)) {
        ok = find_session(g, log_sha256((struct str){(const char *)token, sizeof token}), a, who, e);
        who->csrf = derived(a, g->secret, "page", (struct str){(const char *)token, sizeof token});
    } else {
        /* Before signing in: what a foreign page cannot read, so that it cannot sign somebody in as somebody else. */
        who->csrf = derived(a, g->secret, "page before", S(""));
    }
    (void)pthread_mutex_unlock(&g->lock);
    return ok;
}

/* ---- may they ------------------------------------------------------------------------------------------------------
 */

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

/* An Origin is scheme://host; a browser sends it with everything that changes something (Fetch Standard). Behind a
 * proxy the scheme may be another than the one that arrives here. */
static bool same_origin(struct str origin, const struct asking *asking)
{
    struct str host = origin;
    if (str_starts(origin, S("https://"))) {
        host = str_cut(origin, 8, origin.n);
    } else if (str_starts(origin, S("http://")) && !asking->tls) {
        host = str_cut(origin, 7, origin.n);
    }
    bool scheme = host.n < origin.n && (asking->tls || asking->proxied || str_starts(origin, S("http://")));
    return origin.n == 0 || (scheme && str_eq_nocase(host, asking->host));
}

struct answer gate_check(const struct route *route, const struct asking *asking, const struct who *who,
                         struct str origin, struct arena *a)
{
    bool open = (route->flags & ROUTE_OPEN) != 0;
    if (!open && !who->signed_in) {
        return refused(a, 401, "nobody is signed in", "sign in: POST /api/login");
    }
    if (!open && who->role < route->role) {
        struct text t = text_new(a);
        text_join(&t, "this needs the role ", role_word(route->role), (char *)0);
        return refused(a, 403, text_z(&t), "somebody who keeps books gives roles: witmark person role");
    }
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

/* ---- signing in ----------------------------------------------------------------------------------------------------
 */

/* How long this address or name has to wait; called with the lock held. */
static int wait_of(const struct gate *g, struct str address, struct str name)
{
    int by_address = throttle_wait(&g->by_address, address, monotonic_s());
    int by_name = throttle_wait(&g->by_name, name, monotonic_s());
    return by_address > by_name ? by_address : by_name;
}

/* Looks at one password, one at a time; few may wait for that. The desk is used under the gate's lock only to read what
 * is kept, not while argon2id works: that would hold up everybody. */
static bool right_password(struct gate *g, struct str address, struct str name, struct str password, bool *right,
                           int *wait_s, struct err *e)
{
    *right = false;
    (void)pthread_mutex_lock(&g->lock);
    *wait_s = wait_of(g, address, name);
    if (*wait_s == 0 && g->waiting > PASSWORD_WAITING) {
        *wait_s = 1;
    }
    bool go = *wait_s == 0;
    g->waiting += go;
    (void)pthread_mutex_unlock(&g->lock);
    if (!go) {
        return true;
    }
    struct desk *desk = NULL;
    (void)pthread_mutex_lock(&g->password_lock);
    bool ok = desk_again(g->desk, &desk, e) && desk_person_check(desk, name, password, right, e);
    desk_close(desk);
    (void)pthread_mutex_unlock(&g->password_lock);
    (void)pthread_mutex_lock(&g->lock);
    g->waiting--;
    if (ok && *right) {
        throttle_passed(&g->by_address, address);
        throttle_passed(&g->by_name, name);
    } else if (ok) {
        throttle_failed(&g->by_address, address, monotonic_s());
        throttle_failed(&g->by_name, name, monotonic_s());
    }
    (void)pthread_mutex_unlock(&g->lock);
    return ok;
}

bool gate_login(struct gate *g, const struct asking *asking, struct str name, struct str password, struct arena *a,
                bool *right, int *wait_s, struct str *cookie, struct err *e)
{
    if (!right_password(g, asking->from, name, password, right, wait_s, e) || !*right) {
        return e->kind == ERR_NONE;
    }
    uint8_t token[TOKEN_BYTES];
    randombytes_buf(token, sizeof token);
    struct log_hash hash = log_sha256((struct str){(const char *)token, sizeof token});
    struct text hex = text_new(a);
    text_hex(&hex, token, sizeof token);
    *cookie = set_cookie(g, a, text_str(&hex), SESSION_DAYS * 86400);
    (void)pthread_mutex_lock(&g->lock);
    instant_ms until = desk_now(g->desk) + (instant_ms)SESSION_DAYS * 86400000;
    bool ok = desk_session_start(g->desk, hash, name, until, e);
    g->own++;
    (void)pthread_mutex_unlock(&g->lock);
    return ok;
}

bool gate_logout(struct gate *g, const struct asking *asking, struct arena *a, struct str *cookie, struct err *e)
{
    uint8_t token[TOKEN_BYTES];
    bool ok = true;
    *cookie = set_cookie(g, a, S(""), 0);
    (void)pthread_mutex_lock(&g->lock);
    if (cookie_token(g, asking->cookie, token)) {
        ok = desk_session_end(g->desk, log_sha256((struct str){(const char *)token, sizeof token}), e);
        g->own++;
    }
    (void)pthread_mutex_unlock(&g->lock);
    return ok;
}

bool gate_password(struct gate *g, const struct asking *asking, const struct who *who, struct str old, struct str new,
                   struct arena *a, bool *right, int *wait_s, struct err *e)
{
    (void)a;
    if (!right_password(g, asking->from, who->name, old, right, wait_s, e) || !*right) {
        return e->kind == ERR_NONE;
    }
    (void)pthread_mutex_lock(&g->lock);
    bool ok = desk_person_password(g->desk, who->name, new, COST_USUAL, e);
    g->own++;
    (void)pthread_mutex_unlock(&g->lock);
    return ok;
}

/* ---- calendars -----------------------------------------------------------------------------------------------------
 */

/* Bound to the name and to what is kept of the password; called with the lock held. */
static struct str calendar_mac(struct gate *g, struct str name, struct str kept, struct arena *a)
{
    struct text t = text_new(a);
    text_add(&t, name);
    text_char(&t, '\n');
    text_add(&t, kept);
    return str_cut(derived(a, g->secret, "calendar", text_str(&t)), 0, 32);
}

struct str gate_calendar_token(struct gate *g, const struct who *who, struct arena *a)
{
    struct desk_person person = {.password = S("")};
    bool found = false;
    struct err quiet = err_new(a);
    (void)pthread_mutex_lock(&g->lock);
    if (g->login) {
        (void)desk_person_find(g->desk, who->name, a, &person, &found, &quiet);
    }
    struct text t = text_new(a);
    text_add(&t, who->name);
    text_char(&t, '.');
    text_add(&t, calendar_mac(g, who->name, person.password, a));
    (void)pthread_mutex_unlock(&g->lock);
    return text_str(&t);
}

bool gate_calendar_who(struct gate *g, struct str token, struct arena *a, struct who *who, struct err *e)
{
    *who = (struct who){.role = ROLE_LOOK};
    if (token.n < 34 || token.p[token.n - 33] != '.') {
        return true;
    }
    struct str name = str_cut(token, 0, token.n - 33);
    struct desk_person person = {.password = S("")};
    bool found = false;
    (void)pthread_mutex_lock(&g->lock);
    bool ok = !g->login || desk_person_find(g->desk, name, a, &person, &found, e);
    struct str mac = calendar_mac(g, name, person.password, a);
    who->signed_in = ok && (found || !g->login) && same(str_cut(token, token.n - 32, token.n), mac);
    who->name = name;
    (void)pthread_mutex_unlock(&g->lock);
    return ok;
}
