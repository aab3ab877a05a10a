/* Starting and ending: libmicrohttpd with epoll and a small pool of threads. What becomes of a request is request.c. */
#include "web.h"

#include "desk.h"
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
    struct gate_options gate = {.person = options->person};
    if (!gate_open(&gate, &w->api.gate, e)) {
        free(w);
        return false;
    }
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
        flags, options->port, NULL, NULL, request_on, w, MHD_OPTION_SOCK_ADDR, address, MHD_OPTION_THREAD_POOL_SIZE,
        (unsigned int)THREADS, MHD_OPTION_CONNECTION_LIMIT, (unsigned int)CONNECTIONS_MOST,
        MHD_OPTION_CONNECTION_TIMEOUT, (unsigned int)IDLE_SECONDS, MHD_OPTION_CONNECTION_MEMORY_LIMIT, REQUEST_MEMORY,
        MHD_OPTION_URI_LOG_CALLBACK, request_begin, w, MHD_OPTION_NOTIFY_COMPLETED, request_end, w, MHD_OPTION_END);
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
    gate_close(w->api.gate);
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
