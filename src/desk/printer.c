/* Running the printing program: a process of its own, so that the command line starts in milliseconds and a damaged
 * drawing can't harm the server. It reads the document on its standard input and answers on its standard output. */
#include "desk_internal.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

extern char **environ;

/* Where it lies: named by the environment, beside this program, or where the build and an installation put it. */
static bool find_program(char *path, size_t size)
{
    const char *named = getenv("WITMARK_SHEET");
    if (named && *named) {
        (void)snprintf(path, size, "%s", named);
        return access(path, X_OK) == 0;
    }
    char self[3072];
    ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
    if (n <= 0) {
        return false;
    }
    self[n] = '\0';
    char *slash = strrchr(self, '/');
    *(slash ? slash : self) = '\0';
    static const char *const places[] = {"witmark-sheet", "../sheet/witmark-sheet", "../src/sheet/witmark-sheet",
                                         "../libexec/witmark/witmark-sheet"};
    for (size_t i = 0; i < sizeof places / sizeof *places; i++) {
        (void)snprintf(path, size, "%s/%s", self, places[i]);
        if (access(path, X_OK) == 0) {
            return true;
        }
    }
    return false;
}

/* Feeds `in` to one pipe and gathers two others until both are at their end. */
static bool converse(int to, int from, int complaints, struct str in, struct text *out, struct text *said)
{
    struct pollfd fds[3] = {{to, POLLOUT, 0}, {from, POLLIN, 0}, {complaints, POLLIN, 0}};
    struct text *texts[3] = {NULL, out, said};
    size_t sent = 0;
    while (fds[1].fd >= 0 || fds[2].fd >= 0) {
        if (poll(fds, 3, 60000) <= 0) {
            return false;
        }
        if (fds[0].fd >= 0 && fds[0].revents) {
            ssize_t n = write(to, in.p + sent, in.n - sent);
            sent += n > 0 ? (size_t)n : 0;
            if (sent == in.n || (n < 0 && errno != EAGAIN && errno != EINTR)) {
                (void)close(to);
                fds[0].fd = -1;
            }
        }
        for (int i = 1; i < 3; i++) {
            char buffer[16384];
            if (fds[i].fd < 0 || !fds[i].revents) {
                continue;
            }
            ssize_t n = read(fds[i].fd, buffer, sizeof buffer);
            if (n > 0) {
                text_add(texts[i], (struct str){buffer, (size_t)n});
            } else if (n == 0 || errno != EINTR) {
                fds[i].fd = -1;
            }
        }
    }
    if (fds[0].fd >= 0) {
        (void)close(to);
    }
    return true;
}

/* The child's three streams are the far ends of these pipes; our ends close on exec. */
static bool start(const char *path, char *const *arguments, int pipes[3][2], pid_t *child)
{
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    sigset_t defaults;
    (void)sigemptyset(&defaults);
    (void)sigaddset(&defaults, SIGPIPE);
    (void)posix_spawn_file_actions_init(&actions);
    (void)posix_spawnattr_init(&attributes);
    (void)posix_spawnattr_setsigdefault(&attributes, &defaults);
    (void)posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
    (void)posix_spawn_file_actions_adddup2(&actions, pipes[0][0], 0);
    (void)posix_spawn_file_actions_adddup2(&actions, pipes[1][1], 1);
    (void)posix_spawn_file_actions_adddup2(&actions, pipes[2][1], 2);
    int failed = posix_spawn(child, path, &actions, &attributes, arguments, environ);
    (void)posix_spawn_file_actions_destroy(&actions);
    (void)posix_spawnattr_destroy(&attributes);
    return failed == 0;
}

static bool open_pipes(int pipes[3][2])
{
    for (int i = 0; i < 3; i++) {
        if (pipe(pipes[i]) != 0) {
            return false;
        }
        for (int k = 0; k < 2; k++) {
            (void)fcntl(pipes[i][k], F_SETFD, FD_CLOEXEC);
        }
    }
    (void)fcntl(pipes[0][1], F_SETFL, O_NONBLOCK);
    return true;
}

bool desk_print(struct str document, const char *format, struct arena *a, struct str *out, struct str *said,
                struct err *e)
{
    char path[4096];
    if (!find_program(path, sizeof path)) {
        return err_set(e, ERR_MISSING, "build or install witmark-sheet, or name it in WITMARK_SHEET",
                       "the printing program was not found beside witmark", (char *)0);
    }
    int pipes[3][2] = {{-1, -1}, {-1, -1}, {-1, -1}};
    pid_t child = 0;
    char *const arguments[] = {path, (char *)(uintptr_t) "--format", (char *)(uintptr_t)format, NULL};
    struct sigaction ignore = {.sa_handler = SIG_IGN};
    struct sigaction before;
    (void)sigaction(SIGPIPE, &ignore, &before);
    bool started = open_pipes(pipes) && start(path, arguments, pipes, &child);
    (void)close(pipes[0][0]);
    (void)close(pipes[1][1]);
    (void)close(pipes[2][1]);
    struct text text = text_new(a);
    struct text complaints = text_new(a);
    bool ok = started && converse(pipes[0][1], pipes[1][0], pipes[2][0], document, &text, &complaints);
    if (!started) {
        (void)close(pipes[0][1]);
    }
    (void)close(pipes[1][0]);
    (void)close(pipes[2][0]);
    int status = 0;
    if (started) {
        if (!ok) {
            (void)kill(child, SIGKILL);
        }
        while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
        }
    }
    (void)sigaction(SIGPIPE, &before, NULL);
    *out = text_str(&text);
    *said = str_trim(text_str(&complaints));
    if (!ok) {
        return err_set(e, ERR_SYSTEM, NULL, "the printing program could not be run: ", path, (char *)0);
    }
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        return err_set(e, ERR_INTERNAL, NULL, "the printing program failed: ", str_z(e->a, *said), (char *)0);
    }
    return true;
}
