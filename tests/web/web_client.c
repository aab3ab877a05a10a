/* The depot of the tests and the bare client. */
#include "web_client.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Takes the book and a machine of it, today. */
static void add_machine(struct bench *b, const char *book, const char *serial, const char *label)
{
    struct desk_machine_new machine = {
        .serial = str_of(serial), .label = str_of(label), .by = S("Ines"), .in_service = DAY_NONE, .at = INSTANT_NONE};
    struct entry_id id;
    bench_book(b, book);
    ok(b, desk_machine_add(b->d, &machine, &id, &b->e));
}

void open_depot(struct bench *b)
{
    bench_open(b, 7);
    add_machine(b, "books/brine6.yaml", "BR6-02204", "B/03");
    add_machine(b, "books/lark72.yaml", "L72-1544", "G-1");
    bench_meter(b, "B/03", "now", "312");
}

void close_depot(struct bench *b)
{
    web_stop(b->w, 1000);
    bench_close(b);
}

static struct bench *shared;

int share_depot(void **state, void (*prepare)(struct bench *b), const char *person)
{
    if (!shared) {
        struct bench *b = calloc(1, sizeof *b);
        assert_non_null(b);
        open_depot(b);
        if (prepare) {
            prepare(b);
        }
        struct web_options options = {.desk = b->d, .address = "127.0.0.1", .person = person};
        ok(b, web_start(&options, &b->w, &b->e));
        shared = b;
    }
    *state = shared;
    return 0;
}

int share_plain(void **state)
{
    return share_depot(state, NULL, "Ines");
}

int share_end(void **state)
{
    (void)state;
    if (shared) {
        close_depot(shared);
        free(shared);
        shared = NULL;
    }
    return 0;
}

const char *text_member(const json_t *json, const char *name)
{
    const char *text = json_string_value(json_object_get(json, name));
    return text ? text : "";
}

/* ---- a bare client ---- */

int connect_to(uint16_t port)
{
    int s = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_port = htons(port), .sin_addr = {htonl(INADDR_LOOPBACK)}};
    if (s >= 0 && connect(s, (struct sockaddr *)&at, sizeof at) != 0) {
        (void)close(s);
        return -1;
    }
    return s;
}

/* Sends bytes as they are and reads until the server closes. Status 0 when nothing came. */
struct reply say_bytes(uint16_t port, const char *bytes, size_t n)
{
    struct reply r = {0};
    int s = connect_to(port);
    size_t cap = 1 << 21;
    r.text = calloc(1, cap);
    if (s < 0 || !r.text) {
        return r;
    }
    for (size_t sent = 0; sent < n;) {
        ssize_t now = send(s, bytes + sent, n - sent, MSG_NOSIGNAL);
        if (now <= 0) {
            break;
        }
        sent += (size_t)now;
    }
    size_t got = 0;
    for (ssize_t now = 1; now > 0 && got + 1 < cap; got += now > 0 ? (size_t)now : 0) {
        now = recv(s, r.text + got, cap - 1 - got, 0);
    }
    (void)close(s);
    const char *end = strstr(r.text, "\r\n\r\n");
    r.body = end ? end + 4 : r.text + got;
    r.n_body = got - (size_t)(r.body - r.text);
    (void)sscanf(r.text, "HTTP/1.1 %d", &r.status);
    return r;
}

struct reply say(uint16_t port, const char *bytes)
{
    return say_bytes(port, bytes, strlen(bytes));
}

struct reply ask(struct bench *b, const char *method, const char *target, const char *more, const char *body)
{
    size_t n = strlen(target) + strlen(more) + (body ? strlen(body) : 0) + 256;
    char *bytes = malloc(n);
    assert_non_null(bytes);
    int head = snprintf(bytes, n, "%s %s HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n%s", method, target, more);
    if (body) {
        (void)snprintf(bytes + head, n - (size_t)head, "Content-Length: %zu\r\n\r\n%s", strlen(body), body);
    } else {
        (void)snprintf(bytes + head, n - (size_t)head, "\r\n");
    }
    struct reply r = say(web_port(b->w), bytes);
    free(bytes);
    return r;
}

struct reply get(struct bench *b, const char *target, const char *more)
{
    return ask(b, "GET", target, more, NULL);
}

struct reply change(struct bench *b, const char *method, const char *target, const char *type, const char *body)
{
    struct reply session = get(b, "/api/session", "");
    json_t *json = json_of(&session);
    char more[512];
    (void)snprintf(more, sizeof more, "X-Witmark-Token: %s\r\nContent-Type: %s\r\nOrigin: http://127.0.0.1\r\n",
                   json_string_value(json_object_get(json, "csrf")), type);
    json_decref(json);
    free(session.text);
    return ask(b, method, target, more, body);
}

/* The value of a header, copied into `to`; "" when it is not there. */
const char *header(const struct reply *r, const char *name, char *to, size_t size)
{
    char wanted[64];
    (void)snprintf(wanted, sizeof wanted, "\r\n%s: ", name);
    const char *at = strstr(r->text, wanted);
    to[0] = '\0';
    if (at && at < r->body) {
        at += strlen(wanted);
        (void)snprintf(to, size, "%.*s", (int)strcspn(at, "\r"), at);
    }
    return to;
}

json_t *json_of(const struct reply *r)
{
    json_t *json = json_loadb(r->body, r->n_body, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(json);
    return json;
}
