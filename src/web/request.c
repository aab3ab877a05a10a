/* One request. It is looked at when its target arrives (request_begin), when its header is complete (request_on, first
 * call), while its body arrives, and when it is to be answered (last call); all it needs lives in its own arena, freed
 * when it is over (request_end). What can be refused is refused when only the header is there. */
#include "web_internal.h"

#include "files.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define TARGET_MOST 2048
#define BODIES_MOST ((size_t)128 << 20) /* bytes of all bodies that are arriving at once */
#define BODY_SECONDS 120                /* a body that takes longer is given up */

struct request {
    struct arena arena;
    struct str sent; /* the target as sent */
    struct asking asking;
    struct str origin;
    const struct route *route; /* null: a file of the page */
    struct who who;
    char *body;
    size_t n_body, room;
    int64_t until_s; /* by when the body must be here, seconds of the monotonic clock */
    bool seen;       /* the header has been looked at */
    bool gzip;       /* the client takes it */
};

void *request_begin(void *cls, const char *uri, struct MHD_Connection *connection)
{
    struct web *w = cls;
    (void)connection;
    struct request *r = calloc(1, sizeof *r);
    if (r) {
        r->arena = arena_new(&arena_libc);
        r->sent = str_copy(&r->arena, str_of(uri));
        (void)atomic_fetch_add(&w->under_way, 1);
    }
    return r;
}

void request_end(void *cls, struct MHD_Connection *connection, void **state, enum MHD_RequestTerminationCode code)
{
    struct web *w = cls;
    struct request *r = *state;
    (void)connection;
    (void)code;
    if (r) {
        (void)atomic_fetch_sub(&w->body_bytes, r->room);
        free(r->body);
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

/* ---- the answer -------------------------------------------------------------------------------------------------- */

/* Everything may be kept but is asked for again: with its ETag that costs a short 304. What is named by its hash never
 * changes. Errors and tokens are not kept, and nothing of the depot by a cache that several people share. */
static const char *cache_control(const struct request *r, const struct answer *answer)
{
    if (answer->status >= 400 || answer->personal) {
        return "no-store";
    }
    if (answer->forever) {
        return "private, max-age=31536000, immutable";
    }
    return r->route ? "private, no-cache" : "no-cache";
}

/* Headers that every answer carries, and those that depend on it. */
static void add_headers(struct MHD_Response *response, struct request *r, const struct answer *answer)
{
    static const char *const policies[] = {
        [POLICY_NOTHING] = "default-src 'none'; frame-ancestors 'none'",
        [POLICY_PAGE] = ("default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' "
                         "blob: data:; font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
                         "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"),
        [POLICY_DRAWING] = "default-src 'none'; style-src 'unsafe-inline'; sandbox; frame-ancestors 'none'",
        [POLICY_PDF] = "frame-ancestors 'none'",
    };
    (void)MHD_add_response_header(response, "Content-Type", answer->type);
    (void)MHD_add_response_header(response, "Content-Security-Policy", policies[answer->policy]);
    (void)MHD_add_response_header(response, "X-Content-Type-Options", "nosniff");
    (void)MHD_add_response_header(response, "Referrer-Policy", "no-referrer");
    (void)MHD_add_response_header(response, "Cross-Origin-Resource-Policy", "same-origin");
    (void)MHD_add_response_header(response, "Cross-Origin-Opener-Policy", "same-origin");
    (void)MHD_add_response_header(response, "Cache-Control", cache_control(r, answer));
    if (answer->varies) {
        (void)MHD_add_response_header(response, "Vary", "Accept-Encoding");
    }
    if (answer->gzip) {
        (void)MHD_add_response_header(response, "Content-Encoding", "gzip");
    }
    if (answer->etag.n && !answer->personal) {
        (void)MHD_add_response_header(response, "ETag", str_z(&r->arena, answer->etag));
    }
    if (answer->allow.n) {
        (void)MHD_add_response_header(response, "Allow", str_z(&r->arena, answer->allow));
    }
    if (answer->cookie.n) {
        (void)MHD_add_response_header(response, "Set-Cookie", str_z(&r->arena, answer->cookie));
    }
    if (answer->retry_s || answer->status == 503) {
        struct text t = text_new(&r->arena);
        text_int(&t, answer->retry_s ? answer->retry_s : 2);
        (void)MHD_add_response_header(response, "Retry-After", text_z(&t));
    }
    if (answer->name) {
        struct text t = text_new(&r->arena);
        text_join(&t, "inline; filename=\"", answer->name, "\"", (char *)0);
        (void)MHD_add_response_header(response, "Content-Disposition", text_z(&t));
    }
}

/* Whether the client holds this representation already. */
static bool unchanged(struct MHD_Connection *connection, const struct answer *answer)
{
    return answer->status == 200 && answer->etag.n && !answer->personal &&
           answer_etag_listed(header(connection, "If-None-Match"), answer->etag);
}

/* The answer as the library sends it; null without memory. With `copy` it outlives the request. */
static struct MHD_Response *response_of(struct request *r, const struct answer *answer, bool copy)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(answer->body.n, (void *)(uintptr_t)(answer->body.n ? answer->body.p : ""),
                                        copy ? MHD_RESPMEM_MUST_COPY : MHD_RESPMEM_PERSISTENT);
    if (response) {
        add_headers(response, r, answer);
    }
    return response;
}

static enum MHD_Result send_answer(struct MHD_Connection *connection, struct request *r, struct answer *answer)
{
    bool packs = answer_packs(answer);
    answer->varies = answer->varies || packs;
    packs = packs && r->gzip;
    if (packs) {
        answer_will_pack(&r->arena, answer);
    }
    if (unchanged(connection, answer)) {
        answer->status = MHD_HTTP_NOT_MODIFIED;
        answer->body = (struct str){0};
    } else if (packs) {
        answer_pack(&r->arena, answer);
    }
    struct MHD_Response *response = response_of(r, answer, false);
    if (!response) {
        return MHD_NO;
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

/* ---- the header -------------------------------------------------------------------------------------------------- */

/* The client's address as text; "" when it has none. */
static struct str client(struct request *r, struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    char text[INET6_ADDRSTRLEN] = "";
    if (info && info->client_addr->sa_family == AF_INET) {
        struct sockaddr_in v4;
        memcpy(&v4, info->client_addr, sizeof v4);
        (void)inet_ntop(AF_INET, &v4.sin_addr, text, sizeof text);
    } else if (info && info->client_addr->sa_family == AF_INET6) {
        struct sockaddr_in6 v6;
        memcpy(&v6, info->client_addr, sizeof v6);
        (void)inet_ntop(AF_INET6, &v6.sin6_addr, text, sizeof text);
    }
    return str_copy(&r->arena, str_of(text));
}

/* The last of a list: what the proxy next to us added itself. */
static struct str last_of(struct str list, struct str otherwise)
{
    struct str rest = list;
    struct str piece;
    while (str_next(&rest, ',', &piece)) {
        otherwise = str_trim(piece);
    }
    return otherwise;
}

/* Who accepts text/csv first of all gets the table at the same address, where there is one: /api/today.csv. */
static void as_table(struct request *r, const char *method)
{
    struct target table = r->asking.target;
    struct text last = text_new(&r->arena);
    struct str unused = {0};
    text_add(&last, table.parts[table.n - 1]);
    text_addz(&last, ".csv");
    table.parts[table.n - 1] = text_str(&last);
    const struct route *route = api_route(method, &table, NULL, &r->arena, &unused);
    if (route && str_ends(str_of(route->pattern), S(".csv"))) {
        r->route = route;
        r->asking.target = table;
    }
}

/* Finds the route of a target under /api, or a file's method. Status 0 = go on. */
static struct answer look_at_target(struct request *r)
{
    const struct target *t = &r->asking.target;
    struct str allow = S("GET, HEAD");
    const char *method = r->asking.method;
    bool get = strcmp(method, "GET") == 0 || strcmp(method, "HEAD") == 0;
    bool api = t->n > 0 && str_eq(t->parts[0], S("api"));
    struct str methods = {0};
    r->route = api_route(method, t, NULL, &r->arena, &methods);
    if (api && str_starts(r->asking.accept, S("text/csv"))) {
        as_table(r, method);
    }
    if (api || r->route || methods.n) {
        allow = methods;
        if (!r->route && allow.n == 0) {
            struct err e = err_new(&r->arena);
            (void)err_set(&e, ERR_MISSING, "docs/api.md lists what there is: /api/today, /api/machines ...",
                          "there is nothing at ", str_z(&r->arena, t->path), (char *)0);
            return answer_error(&r->arena, &e);
        }
        get = r->route != NULL;
    }
    if (!get) {
        struct answer answer =
            refuse(r, 405, ERR_REFUSED, "this address does not take that method", str_z(&r->arena, allow));
        answer.allow = allow;
        return answer;
    }
    return (struct answer){0};
}

/* "application/json; charset=utf-8" is application/json. */
static bool is_type(struct str given, const char *wanted)
{
    struct str rest = given;
    struct str type = {0};
    return str_next(&rest, ';', &type) && str_eq_nocase(str_trim(type), str_of(wanted));
}

/* Whether the body that the header announces is one that the route takes. */
static struct answer look_at_body(struct web *w, struct request *r, struct MHD_Connection *connection)
{
    struct str length = header(connection, "Content-Length");
    bool chunked = header(connection, "Transfer-Encoding").n > 0;
    size_t most = r->route ? r->route->body_most : 0;
    int64_t n = 0;
    if (most == 0) {
        bool none = (length.n == 0 || str_eq(length, S("0"))) && !chunked;
        return none ? (struct answer){0} : refuse(r, 413, ERR_INPUT, "a request here has no body", NULL);
    }
    if (chunked || length.n == 0) {
        return refuse(r, 411, ERR_INPUT, "the length of the body is not said", "send Content-Length");
    }
    if (!num_parse_i64(length, &n) || n < 0 || (uint64_t)n > most) {
        struct text t = text_new(&r->arena);
        text_int(&t, (int64_t)most);
        text_addz(&t, " bytes at most");
        return refuse(r, 413, ERR_INPUT, "the body is too large", text_z(&t));
    }
    if (r->route->takes && !is_type(header(connection, "Content-Type"), r->route->takes)) {
        return refuse(r, 415, ERR_INPUT, "the body is of another type", r->route->takes);
    }
    if (header(connection, "Content-Encoding").n) {
        return refuse(r, 415, ERR_INPUT, "the body is packed", "send it as it is");
    }
    if (atomic_fetch_add(&w->body_bytes, (size_t)n) + (size_t)n > BODIES_MOST) {
        (void)atomic_fetch_sub(&w->body_bytes, (size_t)n);
        return refuse(r, 503, ERR_BUSY, "too much is being sent at once", "try again");
    }
    r->room = (size_t)n;
    r->body = malloc(r->room ? r->room : 1);
    return r->body ? (struct answer){0} : refuse(r, 503, ERR_BUSY, "there is no memory for this", "try again");
}

static int64_t monotonic_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec;
}

/* What can be said when only the header is there; status 0 = go on. */
static struct answer look_at_header(struct web *w, struct request *r, struct MHD_Connection *connection,
                                    const char *method)
{
    struct err e = err_new(&r->arena);
    struct asking *asking = &r->asking;
    asking->method = str_z(&r->arena, str_of(method));
    asking->host = header(connection, "Host");
    asking->accept = header(connection, "Accept");
    asking->language = header(connection, "Accept-Language");
    asking->cookie = header(connection, "Cookie");
    asking->if_match = header(connection, "If-Match");
    asking->token = header(connection, "X-Witmark-Token");
    asking->from = client(r, connection);
    asking->tls = w->tls;
    asking->proxied = w->proxied;
    if (w->proxied) {
        asking->from = last_of(header(connection, "X-Forwarded-For"), asking->from);
    }
    r->origin = header(connection, "Origin");
    r->gzip = takes_gzip(header(connection, "Accept-Encoding"));
    if (r->sent.n > TARGET_MOST) {
        return refuse(r, 414, ERR_INPUT, "the address is too long", "2048 characters at most");
    }
    if (!gate_host(w->api.gate, asking->host)) {
        return refuse(r, 421, ERR_REFUSED, "the request is meant for another host",
                      "http://127.0.0.1 or http://localhost; further names: serve --host NAME, or in the certificate");
    }
    if (!target_parse(&r->arena, r->sent, &asking->target, &e)) {
        return answer_error(&r->arena, &e);
    }
    struct answer answer = look_at_target(r);
    if (answer.status == 0 && r->route) {
        if (!gate_who(w->api.gate, asking, &r->arena, &r->who, &e)) {
            return answer_error(&r->arena, &e);
        }
        answer = gate_check(r->route, asking, &r->who, r->origin, &r->arena);
    }
    if (answer.status == 0) {
        answer = look_at_body(w, r, connection);
    }
    r->until_s = monotonic_s() + BODY_SECONDS;
    return answer;
}

/* ---- the body and the end -----------------------------------------------------------------------------------------
 */

static struct answer find_answer(struct web *w, struct request *r)
{
    struct err e = err_new(&r->arena);
    struct answer answer = {0};
    if (r->route) {
        r->asking.body = (struct str){r->body, r->n_body};
        answer = api_answer(&w->api, r->route, &r->asking, &r->who, &r->arena);
    } else if (!files_get(w->files, &r->asking.target, r->gzip, &r->arena, &answer, &e)) {
        answer = answer_error(&r->arena, &e);
    }
    if (answer.status >= 500) {
        (void)fprintf(stderr, "witmark: %.*s: %.*s", STR_ARG(r->sent), STR_ARG(answer.body));
    }
    return answer;
}

/* Whether the answer follows from the depot and the address alone (api.h). */
static bool may_be_kept(const struct request *r)
{
    return r->route && strcmp(r->route->method, "GET") == 0 && (r->route->flags & ROUTE_DESK) &&
           !(r->route->flags & (ROUTE_OPEN | ROUTE_FRESH));
}

/* A kept answer in the coding the client takes, or that it has it already. */
static enum MHD_Result send_kept(struct MHD_Connection *connection, struct request *r, const struct kept *kept)
{
    int packed = r->gzip && kept->response[1] ? 1 : 0;
    struct answer same = {.status = 200, .etag = str_of(kept->etag[packed])};
    if (!unchanged(connection, &same)) {
        return MHD_queue_response(connection, MHD_HTTP_OK, kept->response[packed]);
    }
    same.type = "application/json";
    same.status = MHD_HTTP_NOT_MODIFIED;
    same.varies = kept->response[1] != NULL;
    struct MHD_Response *response = response_of(r, &same, false);
    enum MHD_Result queued = response ? MHD_queue_response(connection, MHD_HTTP_NOT_MODIFIED, response) : MHD_NO;
    if (response) {
        MHD_destroy_response(response);
    }
    return queued;
}

/* Both codings of a fresh answer, to be kept; false when it is none to keep. */
static bool make_kept(struct request *r, struct answer answer, struct kept *kept)
{
    *kept = (struct kept){0};
    if (answer.status != 200 || answer.forever || answer.personal || answer.etag.n == 0 ||
        answer.etag.n >= sizeof kept->etag[0] - 5 || answer.body.n > KEEP_BYTES / 3) {
        return false;
    }
    bool packs = answer_packs(&answer);
    answer.varies = answer.varies || packs;
    memcpy(kept->etag[0], answer.etag.p, answer.etag.n);
    kept->bytes = answer.body.n;
    kept->response[0] = response_of(r, &answer, true);
    if (packs) {
        answer_will_pack(&r->arena, &answer);
        answer_pack(&r->arena, &answer);
        memcpy(kept->etag[1], answer.etag.p, answer.etag.n);
        kept->bytes += answer.body.n;
        kept->response[1] = response_of(r, &answer, true);
    }
    return kept->response[0] != NULL;
}

/* The address and the language asked for: an answer may be in words. */
static const char *keep_key(struct request *r)
{
    struct text t = text_new(&r->arena);
    text_addz(&t, r->route->pattern);
    text_char(&t, ' ');
    text_add(&t, r->sent);
    text_char(&t, ' ');
    text_add(&t, str_cut(r->asking.language, 0, 60));
    return text_z(&t);
}

/* Answers from what is kept, or makes it and keeps it. */
static enum MHD_Result send_keeping(struct web *w, struct request *r, struct MHD_Connection *connection)
{
    const char *key = keep_key(r);
    struct kept kept;
    if (keep_find(&w->keep, key, r->who.state, &kept) == KEEP_HERE) {
        enum MHD_Result queued = send_kept(connection, r, &kept);
        keep_release(&w->keep);
        return queued;
    }
    struct answer answer = find_answer(w, r);
    if (!make_kept(r, answer, &kept)) {
        keep_drop(&w->keep, key);
        return send_answer(connection, r, &answer);
    }
    enum MHD_Result queued = send_kept(connection, r, &kept);
    keep_put(&w->keep, key, r->who.state, &kept);
    return queued;
}

/* A piece of the body. The library has cut it to Content-Length. */
static enum MHD_Result take_piece(struct request *r, const char *piece, size_t *n)
{
    if (*n > r->room - r->n_body || monotonic_s() > r->until_s) {
        return MHD_NO;
    }
    memcpy(r->body + r->n_body, piece, *n);
    r->n_body += *n;
    *n = 0;
    return MHD_YES;
}

enum MHD_Result request_on(void *cls, struct MHD_Connection *connection, const char *url, const char *method,
                           const char *version, const char *upload, size_t *upload_size, void **state)
{
    struct web *w = cls;
    struct request *r = *state;
    (void)url;
    (void)version;
    if (!r) { /* no memory when it began */
        return MHD_NO;
    }
    struct answer answer = {0};
    if (!r->seen) {
        r->seen = true;
        answer = look_at_header(w, r, connection, method);
        return answer.status ? send_answer(connection, r, &answer) : MHD_YES;
    }
    if (*upload_size) {
        return take_piece(r, upload, upload_size);
    }
    if (may_be_kept(r)) {
        return send_keeping(w, r, connection);
    }
    answer = find_answer(w, r);
    return send_answer(connection, r, &answer);
}
