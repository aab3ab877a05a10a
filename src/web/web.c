/* HTTP itself: libmicrohttpd with epoll and a small pool of threads. A request is looked at when its target arrives
 * (on_target), when its header is complete (on_request, first call) and when it is to be answered (second call); all it
 * needs lives in its own arena, freed when it is over (on_end). */
#include "web.h"

#include "api.h"
#include "desk.h"
#include "files.h"

#include <arpa/inet.h>
#include <errno.h>
#include <microhttpd.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* A round takes up to a second and holds the desk; with four threads the page's files never wait for it. */
#define THREADS 4
#define CONNECTIONS_MOST 200
#define TARGET_MOST 2048
#define REQUEST_MEMORY ((size_t)32 << 10)
#define IDLE_SECONDS 30

struct web {
    struct MHD_Daemon *daemon;
    struct api api;
    const char *files;
    atomic_int under_way;
    uint16_t port;
    bool ipv6;
};

struct request {
    struct arena arena;
    struct str target; /* as sent */
    bool seen;         /* the header has been looked at */
};

/* ---- one request ------------------------------------------------------------------------------------------------ */

/* The first that is heard of a request. */
static void *on_target(void *cls, const char *uri, struct MHD_Connection *connection)
{
    struct web *w = cls;
    (void)connection;
    struct request *r = calloc(1, sizeof *r);
    if (r) {
        r->arena = arena_new(&arena_libc);
        r->target = str_copy(&r->arena, str_of(uri));
        (void)atomic_fetch_add(&w->under_way, 1);
    }
    return r;
}

static void on_end(void *cls, struct MHD_Connection *connection, void **state, enum MHD_RequestTerminationCode code)
{
    struct web *w = cls;
    struct request *r = *state;
    (void)connection;
    (void)code;
    if (r) {
        arena_free(&r->arena);
        free(r);
        *state = NULL;
        (void)atomic_fetch_sub(&w->under_way, 1);
    }
}

static struct str header(struct MHD_Connection *connection, const char *name)
{
    return str_of(MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name));
}

/* Whether the host of a request is this machine: "localhost", "127.0.0.1", "[::1]", with or without a port. */
static bool host_is_ours(struct str host)
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

/* Whether a list as in Accept-Encoding takes gzip (RFC 9110 12.5.3); a weight of 0 says no. */
static bool takes_gzip(struct str list)
{
    struct str rest = list;
    struct str piece;
    while (str_next(&rest, ',', &piece)) {
        struct str coding;
        struct str weight = piece;
        if (str_next(&weight, ';', &coding) && str_eq_nocase(str_trim(coding), S("gzip"))) {
            weight = str_trim(weight);
            double q = 1;
            return !str_starts(weight, S("q=")) || (num_parse(str_cut(weight, 2, weight.n), &q) && q > 0);
        }
    }
    return false;
}

/* Headers that every answer carries, and those that depend on it. */
static void add_headers(struct MHD_Response *response, const struct answer *answer)
{
    static const char *const policies[] = {
        [POLICY_NOTHING] = "default-src 'none'; frame-ancestors 'none'",
        [POLICY_PAGE] = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
                         "font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
        [POLICY_DRAWING] = "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'",
        [POLICY_PDF] = "frame-ancestors 'none'",
    };
    (void)MHD_add_response_header(response, "Content-Type", answer->type);
    (void)MHD_add_response_header(response, "Content-Security-Policy", policies[answer->policy]);
    (void)MHD_add_response_header(response, "X-Content-Type-Options", "nosniff");
    (void)MHD_add_response_header(response, "Referrer-Policy", "no-referrer");
    (void)MHD_add_response_header(response, "Cross-Origin-Resource-Policy", "same-origin");
    (void)MHD_add_response_header(response, "Cross-Origin-Opener-Policy", "same-origin");
    /* Everything may be kept but is asked for again: with its ETag that costs a short 304. Errors are not kept. */
    (void)MHD_add_response_header(response, "Cache-Control", answer->status < 400 ? "no-cache" : "no-store");
    if (answer->varies) {
        (void)MHD_add_response_header(response, "Vary", "Accept-Encoding");
    }
    if (answer->gzip) {
        (void)MHD_add_response_header(response, "Content-Encoding", "gzip");
    }
    if (answer->status == 405) {
        (void)MHD_add_response_header(response, "Allow", "GET, HEAD");
    }
    if (answer->status == 503) {
        (void)MHD_add_response_header(response, "Retry-After", "2");
    }
}

static enum MHD_Result send_answer(struct MHD_Connection *connection, struct request *r, struct answer *answer)
{
    if (answer->etag.n && answer_etag_listed(header(connection, "If-None-Match"), answer->etag)) {
        answer->status = MHD_HTTP_NOT_MODIFIED;
        answer->body = (struct str){0};
    }
    struct MHD_Response *response = MHD_create_response_from_buffer(
        answer->body.n, (void *)(uintptr_t)(answer->body.n ? answer->body.p : ""), MHD_RESPMEM_PERSISTENT);
    if (!response) {
        return MHD_NO;
    }
    add_headers(response, answer);
    if (answer->etag.n) {
        (void)MHD_add_response_header(response, "ETag", str_z(&r->arena, answer->etag));
    }
    if (answer->name) {
        struct text t = text_new(&r->arena);
        text_join(&t, "inline; filename=\"", answer->name, "\"", (char *)0);
        (void)MHD_add_response_header(response, "Content-Disposition", text_z(&t));
    }
    enum MHD_Result queued = MHD_queue_response(connection, (unsigned int)answer->status, response);
    MHD_destroy_response(response);
    return queued;
}

static struct answer refuse(struct request *r, int status, enum err_kind kind, const char *what, const char *right)
{
    struct err e = err_new(&r->arena);
    (void)err_set(&e, kind, right, what, (char *)0);
    return answer_problem(&r->arena, status, &e);
}

/* What can be said when only the header is there; status 0 = go on. */
static struct answer look_at_header(struct request *r, struct MHD_Connection *connection, const char *method)
{
    if (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0) {
        return refuse(r, 405, ERR_REFUSED, "this page only shows", "GET or HEAD; records are made with witmark record");
    }
    if (r->target.n > TARGET_MOST) {
        return refuse(r, 414, ERR_INPUT, "the address is too long", "2048 characters at most");
    }
    struct str length = header(connection, "Content-Length");
    if ((length.n && !str_eq(length, S("0"))) || header(connection, "Transfer-Encoding").n) {
        return refuse(r, 413, ERR_INPUT, "a request here has no body", NULL);
    }
    if (!host_is_ours(header(connection, "Host"))) {
        return refuse(r, 421, ERR_REFUSED, "the request is meant for another host",
                      "http://127.0.0.1 or http://localhost");
    }
    return (struct answer){0};
}

static struct answer find_answer(struct web *w, struct request *r, struct MHD_Connection *connection)
{
    struct err e = err_new(&r->arena);
    struct target t;
    struct answer answer = {0};
    if (!target_parse(&r->arena, r->target, &t, &e)) {
        return answer_error(&r->arena, &e);
    }
    if (t.n && str_eq(t.parts[0], S("api"))) {
        return api_answer(&w->api, &t, &r->arena);
    }
    bool gzip = takes_gzip(header(connection, "Accept-Encoding"));
    return files_get(w->files, &t, gzip, &r->arena, &answer, &e) ? answer : answer_error(&r->arena, &e);
}

static enum MHD_Result on_request(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
                                  const char *version, const char *upload, size_t *upload_size, void **state)
{
    struct web *w = cls;
    struct request *r = *state;
    (void)url;
    (void)version;
    (void)upload;
    if (!r) { /* no memory when it began */
        return MHD_NO;
    }
    struct answer answer = {0};
    if (!r->seen) {
        r->seen = true;
        answer = look_at_header(r, connection, method);
        return answer.status ? send_answer(connection, r, &answer) : MHD_YES;
    }
    if (*upload_size) { /* cannot be: a body was refused above */
        return MHD_NO;
    }
    answer = find_answer(w, r, connection);
    if (answer.status >= 500) {
        (void)fprintf(stderr, "witmark: %.*s: %.*s", STR_ARG(r->target), STR_ARG(answer.body));
    }
    return send_answer(connection, r, &answer);
}

/* ---- starting and ending ---------------------------------------------------------------------------------------- */

struct listen_at {
    struct sockaddr_in v4;
    struct sockaddr_in6 v6;
    bool ipv6;
};

/* Fills the socket address; only loopback passes. */
static bool loopback(const struct web_options *options, struct listen_at *at, struct err *e)
{
    const char *address = strcmp(options->address, "localhost") == 0 ? "127.0.0.1" : options->address;
    *at = (struct listen_at){.v4 = {.sin_family = AF_INET, .sin_port = htons(options->port)},
                             .v6 = {.sin6_family = AF_INET6, .sin6_port = htons(options->port)}};
    bool ours = false;
    if (inet_pton(AF_INET, address, &at->v4.sin_addr) == 1) {
        ours = ntohl(at->v4.sin_addr.s_addr) >> 24 == 127;
    } else if (inet_pton(AF_INET6, address, &at->v6.sin6_addr) == 1) {
        at->ipv6 = true;
        ours = IN6_IS_ADDR_LOOPBACK(&at->v6.sin6_addr);
    } else {
        return err_set(e, ERR_USAGE, "127.0.0.1, ::1 or localhost", "'", options->address, "' is no address",
                       (char *)0);
    }
    return ours || err_set(e, ERR_REFUSED, "127.0.0.1 or ::1; from another device through a tunnel of its own login",
                           "the page has no login yet and is only served to this machine, not on ", options->address,
                           (char *)0);
}

static bool folder_is_there(const char *folder, struct err *e)
{
    struct stat s;
    return !folder || (stat(folder, &s) == 0 && S_ISDIR(s.st_mode)) ||
           err_set(e, ERR_MISSING, "the folder page/ of the source", "there is no folder ", folder, (char *)0);
}

bool web_start(const struct web_options *options, struct web **out, struct err *e)
{
    struct listen_at at;
    if (!loopback(options, &at, e) || !folder_is_there(options->files, e)) {
        return false;
    }
    struct web *w = calloc(1, sizeof *w);
    if (!w) {
        return err_set(e, ERR_SYSTEM, NULL, "no memory", (char *)0);
    }
    w->api.desk = options->desk;
    w->files = options->files;
    w->ipv6 = at.ipv6;
    (void)pthread_mutex_init(&w->api.desk_lock, NULL);
    (void)pthread_mutex_init(&w->api.print_lock, NULL);
    struct sigaction ignore = {.sa_handler = SIG_IGN};
    (void)sigaction(SIGPIPE, &ignore, NULL);
    const struct sockaddr *address = at.ipv6 ? (const struct sockaddr *)&at.v6 : (const struct sockaddr *)&at.v4;
    unsigned int flags = MHD_USE_EPOLL_INTERNAL_THREAD | (at.ipv6 ? (unsigned int)MHD_USE_IPv6 : 0);
    errno = 0;
    w->daemon = MHD_start_daemon(
        flags, options->port, NULL, NULL, on_request, w, MHD_OPTION_SOCK_ADDR, address, MHD_OPTION_THREAD_POOL_SIZE,
        (unsigned int)THREADS, MHD_OPTION_CONNECTION_LIMIT, (unsigned int)CONNECTIONS_MOST,
        MHD_OPTION_CONNECTION_TIMEOUT, (unsigned int)IDLE_SECONDS, MHD_OPTION_CONNECTION_MEMORY_LIMIT, REQUEST_MEMORY,
        MHD_OPTION_URI_LOG_CALLBACK, on_target, w, MHD_OPTION_NOTIFY_COMPLETED, on_end, w, MHD_OPTION_END);
    const union MHD_DaemonInfo *info = w->daemon ? MHD_get_daemon_info(w->daemon, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    if (!info) {
        struct text port = text_new(e->a);
        text_int(&port, options->port);
        (void)err_set(e, ERR_SYSTEM, "--port 0 takes a free one", "cannot listen on ", options->address, " port ",
                      text_z(&port), errno ? ": " : "", errno ? strerror(errno) : "", (char *)0);
        web_stop(w, 0);
        return false;
    }
    w->port = info->port;
    *out = w;
    return true;
}

uint16_t web_port(const struct web *w)
{
    return w->port;
}

void web_stop(struct web *w, int patience_ms)
{
    if (!w) {
        return;
    }
    if (w->daemon) {
        MHD_socket listening = MHD_quiesce_daemon(w->daemon);
        for (int waited = 0; waited < patience_ms && atomic_load(&w->under_way) > 0; waited += 10) {
            (void)nanosleep(&(struct timespec){0, 10 * 1000 * 1000}, NULL);
        }
        MHD_stop_daemon(w->daemon);
        if (listening != MHD_INVALID_SOCKET) {
            (void)close(listening);
        }
    }
    (void)pthread_mutex_destroy(&w->api.desk_lock);
    (void)pthread_mutex_destroy(&w->api.print_lock);
    free(w);
}

bool web_serve(const struct web_options *options, struct err *e)
{
    /* Blocked here, the signals stay blocked in every thread that is started, and wait for sigwait. */
    sigset_t ends;
    sigset_t before;
    (void)sigemptyset(&ends);
    (void)sigaddset(&ends, SIGINT);
    (void)sigaddset(&ends, SIGTERM);
    (void)pthread_sigmask(SIG_BLOCK, &ends, &before);
    struct web *w = NULL;
    bool ok = web_start(options, &w, e);
    if (ok) {
        int signal_seen = 0;
        (void)printf("http://%s%s%s:%u/\n", w->ipv6 ? "[" : "", options->address, w->ipv6 ? "]" : "",
                     (unsigned int)w->port);
        (void)fflush(stdout);
        (void)sigwait(&ends, &signal_seen);
        web_stop(w, 5000);
    }
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return ok;
}
