/* Starting and ending: libmicrohttpd with epoll and a small pool of threads. What becomes of a request is request.c. */
#include "web.h"

#include "desk.h"
#include "desk_people.h"
#include "web_internal.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* A round takes up to a second and holds the desk; with four threads the page's files never wait for it. */
#define THREADS 4
#define CONNECTIONS_MOST 200
#define REQUEST_MEMORY ((size_t)32 << 10)
#define IDLE_SECONDS 30

/* ---- starting and ending ---------------------------------------------------------------------------------------- */

struct listen_at {
    struct sockaddr_in v4;
    struct sockaddr_in6 v6;
    bool ipv6, loopback, any;
};

/* Fills the socket address. */
static bool read_address(const struct web_options *options, struct listen_at *at, struct err *e)
{
    const char *address = strcmp(options->address, "localhost") == 0 ? "127.0.0.1" : options->address;
    *at = (struct listen_at){.v4 = {.sin_family = AF_INET, .sin_port = htons(options->port)},
                             .v6 = {.sin6_family = AF_INET6, .sin6_port = htons(options->port)}};
    if (inet_pton(AF_INET, address, &at->v4.sin_addr) == 1) {
        at->loopback = ntohl(at->v4.sin_addr.s_addr) >> 24 == 127;
        at->any = at->v4.sin_addr.s_addr == htonl(INADDR_ANY);
    } else if (inet_pton(AF_INET6, address, &at->v6.sin6_addr) == 1) {
        at->ipv6 = true;
        at->loopback = IN6_IS_ADDR_LOOPBACK(&at->v6.sin6_addr);
        at->any = IN6_IS_ADDR_UNSPECIFIED(&at->v6.sin6_addr);
    } else {
        return err_set(e, ERR_USAGE, "127.0.0.1, ::1, localhost, 0.0.0.0 or an address of this machine", "'",
                       options->address, "' is no address", (char *)0);
    }
    return true;
}

/* Reads certificate and key, those named or those of the authority; none is fine here. */
static bool read_tls(const struct web_options *o, struct web *w, struct tls_files *tls, struct err *e)
{
    const char *certificate = o->certificate;
    const char *key = o->key;
    if ((certificate != NULL) != (key != NULL)) {
        return err_set(e, ERR_USAGE, "--certificate FILE --key FILE", "certificate and key are needed together",
                       (char *)0);
    }
    if (!certificate && o->authority) {
        struct text crt = text_new(&w->arena);
        struct text pem = text_new(&w->arena);
        text_join(&crt, o->authority, "/server.crt", (char *)0);
        text_join(&pem, o->authority, "/server.key", (char *)0);
        certificate = text_z(&crt);
        key = text_z(&pem);
        w->api.authority = o->authority;
    }
    return !certificate || tls_read(certificate, key, desk_now(o->desk), &w->arena, tls, e);
}

/* Beyond this machine: people sign in, and nobody listens on the way. */
static bool may_listen(const struct web_options *o, const struct listen_at *at, bool tls, struct err *e)
{
    struct desk_person *people = NULL;
    size_t n = 0;
    if (at->loopback && !o->behind_proxy) {
        return true;
    }
    if (!desk_people(o->desk, e->a, &people, &n, e)) {
        return false;
    }
    if (n == 0) {
        return err_set(e, ERR_REFUSED, "witmark person add NAME --role books",
                       "nobody could sign in: beyond this machine (", o->address,
                       ") the page is only served to people with an account", (char *)0);
    }
    return tls || o->behind_proxy ||
           err_set(
               e, ERR_REFUSED,
               "witmark authority make, or --certificate FILE --key FILE, or --behind-proxy if another program sees "
               "to TLS",
               "passwords would be readable on the way: beyond this machine (", o->address,
               ") the page is only served over TLS", (char *)0);
}

static bool folder_is_there(const char *folder, struct err *e)
{
    struct stat s;
    return !folder || (stat(folder, &s) == 0 && S_ISDIR(s.st_mode)) ||
           err_set(e, ERR_MISSING, "the folder page/ of the source", "there is no folder ", folder, (char *)0);
}

/* The names that this server goes by: those of the certificate, those that were said, the address listened on. Behind a
 * proxy that was given none, any: there people sign in, and the cookie belongs to the name they used. */
static const char *hosts_of(const struct web_options *o, struct web *w, const struct tls_files *tls)
{
    struct text t = text_new(&w->arena);
    text_add(&t, tls->names);
    text_join(&t, ",", o->hosts ? o->hosts : "", ",", w->ipv6 ? "[" : "", o->address, w->ipv6 ? "]" : "", (char *)0);
    text_addz(&t, o->behind_proxy && !o->hosts ? ",*" : "");
    return text_z(&t);
}

static bool cannot_listen(const struct web_options *options, uint16_t number, struct err *e)
{
    struct text port = text_new(e->a);
    text_int(&port, number);
    return err_set(e, ERR_SYSTEM, "--port 0 takes a free one", "cannot listen on ", options->address, " port ",
                   text_z(&port), errno ? ": " : "", errno ? strerror(errno) : "", (char *)0);
}

static uint16_t bound_port(struct MHD_Daemon *daemon)
{
    const union MHD_DaemonInfo *info = daemon ? MHD_get_daemon_info(daemon, MHD_DAEMON_INFO_BIND_PORT) : NULL;
    return info ? info->port : 0;
}

/* The server itself. */
static bool listen_main(const struct web_options *o, struct web *w, const struct listen_at *at,
                        const struct tls_files *tls, struct err *e)
{
    const struct sockaddr *address = at->ipv6 ? (const struct sockaddr *)&at->v6 : (const struct sockaddr *)&at->v4;
    unsigned int flags = MHD_USE_EPOLL_INTERNAL_THREAD | (at->ipv6 ? (unsigned int)MHD_USE_IPv6 : 0) |
                         (w->tls ? (unsigned int)MHD_USE_TLS : 0);
    /* One client may not take all connections; behind a proxy all come from one address. */
    unsigned int per_client = at->loopback || o->behind_proxy ? 0 : CONNECTIONS_MOST / 4;
    struct MHD_OptionItem for_tls[] = {
        {MHD_OPTION_HTTPS_MEM_CERT, 0, (void *)(uintptr_t)tls->certificate},
        {MHD_OPTION_HTTPS_MEM_KEY, 0, (void *)(uintptr_t)tls->key},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)(uintptr_t) "SECURE128:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2"},
        {MHD_OPTION_END, 0, NULL}};
    struct MHD_OptionItem none[] = {{MHD_OPTION_END, 0, NULL}};
    errno = 0;
    w->daemon = MHD_start_daemon(
        flags, o->port, NULL, NULL, request_on, w, MHD_OPTION_SOCK_ADDR, address, MHD_OPTION_THREAD_POOL_SIZE,
        (unsigned int)THREADS, MHD_OPTION_CONNECTION_LIMIT, (unsigned int)CONNECTIONS_MOST,
        MHD_OPTION_PER_IP_CONNECTION_LIMIT, per_client, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned int)IDLE_SECONDS,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, REQUEST_MEMORY, MHD_OPTION_URI_LOG_CALLBACK, request_begin, w,
        MHD_OPTION_NOTIFY_COMPLETED, request_end, w, MHD_OPTION_ARRAY, w->tls ? for_tls : none, MHD_OPTION_END);
    w->port = bound_port(w->daemon);
    return w->port || cannot_listen(o, o->port, e);
}

/* The small server beside it that gives the authority's certificate to phones. */
static bool listen_plain(const struct web_options *o, struct web *w, struct listen_at *at, struct err *e)
{
    uint16_t port = (uint16_t)(w->port + 1);
    at->v4.sin_port = htons(port);
    at->v6.sin6_port = htons(port);
    const struct sockaddr *address = at->ipv6 ? (const struct sockaddr *)&at->v6 : (const struct sockaddr *)&at->v4;
    unsigned int flags = MHD_USE_EPOLL_INTERNAL_THREAD | (at->ipv6 ? (unsigned int)MHD_USE_IPv6 : 0);
    errno = 0;
    w->plain = MHD_start_daemon(flags, port, NULL, NULL, plain_on, w, MHD_OPTION_SOCK_ADDR, address,
                                MHD_OPTION_CONNECTION_LIMIT, 20U, MHD_OPTION_CONNECTION_TIMEOUT, 10U,
                                MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)8192, MHD_OPTION_END);
    w->plain_port = bound_port(w->plain);
    if (!w->plain_port) {
        return cannot_listen(o, port, e);
    }
    struct text t = text_new(&w->arena);
    text_join(&t, "http://", w->shown, ":", (char *)0);
    text_int(&t, w->plain_port);
    text_addz(&t, "/");
    w->api.authority_at = text_z(&t);
    return true;
}

/* Where people find the page: by a name or address of the certificate, else the address listened on. */
static const char *shown_host(const struct web_options *o, struct web *w, const struct listen_at *at,
                              const struct tls_files *tls)
{
    struct str host = at->loopback ? (struct str){0} : host_for_people(tls->names);
    host = host.n ? host : str_of(o->address);
    bool v6 = str_find(host, S(":")) >= 0;
    struct text t = text_new(&w->arena);
    text_addz(&t, v6 ? "[" : "");
    text_add(&t, host);
    text_addz(&t, v6 ? "]" : "");
    return text_z(&t);
}

bool web_start(const struct web_options *options, struct web **out, struct err *e)
{
    struct listen_at at;
    struct tls_files tls = {0};
    struct web *w = calloc(1, sizeof *w);
    if (!w) {
        return err_set(e, ERR_SYSTEM, NULL, "no memory", (char *)0);
    }
    w->arena = arena_new(&arena_libc);
    pool_open(&w->api.desks, options->desk);
    keep_open(&w->keep);
    (void)pthread_mutex_init(&w->api.print_lock, NULL);
    w->desk = options->desk;
    w->files = options->files;
    w->proxied = options->behind_proxy;
    struct sigaction ignore = {.sa_handler = SIG_IGN};
    (void)sigaction(SIGPIPE, &ignore, NULL);
    bool ok = read_address(options, &at, e) && folder_is_there(options->files, e) && read_tls(options, w, &tls, e) &&
              may_listen(options, &at, tls.certificate != NULL, e);
    if (ok) {
        w->ipv6 = at.ipv6;
        w->tls = tls.certificate != NULL;
        w->shown = shown_host(options, w, &at, &tls);
        struct gate_options gate = {.desk = options->desk,
                                    .person = options->person,
                                    .beyond = !at.loopback || options->behind_proxy,
                                    .tls = w->tls || options->behind_proxy,
                                    .hosts = hosts_of(options, w, &tls)};
        ok = gate_open(&gate, &w->api.gate, e) && listen_main(options, w, &at, &tls, e) &&
             (!w->api.authority || options->plain_port_off || listen_plain(options, w, &at, e));
    }
    if (!ok) {
        web_stop(w, 0);
        return false;
    }
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
    if (w->plain) {
        MHD_stop_daemon(w->plain);
    }
    gate_close(w->api.gate);
    arena_free(&w->arena);
    keep_close(&w->keep);
    pool_close(&w->api.desks);
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
        (void)printf("%s://%s:%u/\n", w->tls ? "https" : "http", w->shown, (unsigned int)w->port);
        if (w->api.authority_at) {
            (void)printf("%s gives phones the certificate of the authority\n", w->api.authority_at);
        }
        (void)fflush(stdout);
        (void)sigwait(&ends, &signal_seen);
        web_stop(w, 5000);
    }
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return ok;
}
