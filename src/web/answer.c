/* Answers: bodies with their ETag, and problems. */
#include "answer.h"

#include "base/json.h"

#include <string.h>
#include <zlib.h>

struct str answer_etag(struct arena *a, struct str bytes, const char *mark)
{
    static const char digits[] = "0123456789abcdef";
    uint64_t hash = str_hash(bytes);
    struct text t = text_new(a);
    text_char(&t, '"');
    for (int shift = 60; shift >= 0; shift -= 4) {
        text_char(&t, digits[(hash >> shift) & 15]);
    }
    text_join(&t, mark, "\"", (char *)0);
    return text_str(&t);
}

struct answer answer_body(struct arena *a, const char *type, struct str body)
{
    return (struct answer){.status = 200, .type = type, .body = body, .etag = answer_etag(a, body, "")};
}

/* The words of RFC 9110 15, which a problem of type about:blank has as its title. */
static const char *status_words(int status)
{
    static const struct {
        int status;
        const char *words;
    } table[] = {{400, "Bad Request"},
                 {401, "Unauthorized"},
                 {403, "Forbidden"},
                 {404, "Not Found"},
                 {405, "Method Not Allowed"},
                 {408, "Request Timeout"},
                 {409, "Conflict"},
                 {412, "Precondition Failed"},
                 {411, "Length Required"},
                 {413, "Content Too Large"},
                 {414, "URI Too Long"},
                 {415, "Unsupported Media Type"},
                 {421, "Misdirected Request"},
                 {422, "Unprocessable Content"},
                 {429, "Too Many Requests"},
                 {431, "Request Header Fields Too Large"},
                 {500, "Internal Server Error"},
                 {503, "Service Unavailable"}};
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        if (table[i].status == status) {
            return table[i].words;
        }
    }
    return "Error";
}

struct answer answer_problem(struct arena *a, int status, const struct err *e)
{
    struct text t = text_new(a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_strz(&j, "type", "about:blank");
    json_strz(&j, "title", status_words(status));
    json_int(&j, "status", status);
    json_str(&j, "detail", e->what);
    json_strz(&j, "kind", err_kind_text(e->kind));
    if (e->right.n) {
        json_str(&j, "right", e->right);
    }
    if (e->where.name.n) {
        json_begin_object(&j, "where");
        json_str(&j, "name", e->where.name);
        json_int(&j, "line", e->where.line);
        json_int(&j, "column", e->where.column);
        json_end_object(&j);
    }
    json_end_object(&j);
    text_char(&t, '\n');
    return (struct answer){.status = status, .type = "application/problem+json", .body = text_str(&t)};
}

struct answer answer_error(struct arena *a, const struct err *e)
{
    static const int statuses[] = {
        [ERR_NONE] = 500,     [ERR_INPUT] = 400,   [ERR_USAGE] = 400,  [ERR_DOMAIN] = 422, [ERR_MISSING] = 404,
        [ERR_CONFLICT] = 409, [ERR_REFUSED] = 422, [ERR_SYSTEM] = 500, [ERR_BUSY] = 503,   [ERR_INTERNAL] = 500,
    };
    return answer_problem(a, statuses[e->kind], e);
}

bool answer_etag_listed(struct str list, struct str etag)
{
    struct str rest = list;
    struct str piece;
    while (str_next(&rest, ',', &piece)) {
        piece = str_trim(piece);
        if (str_eq(piece, S("*"))) {
            return true;
        }
        if (str_starts(piece, S("W/"))) {
            piece = str_cut(piece, 2, piece.n);
        }
        if (etag.n && str_eq(piece, etag)) {
            return true;
        }
    }
    return false;
}

#define PACK_LEAST 700 /* below that the headers weigh more */
#define PACK_LEVEL 4   /* answers are made while somebody waits */

/* Text that gzip makes shorter; pictures and PDF are packed already. */
static bool packs(const char *type)
{
    struct str s = str_of(type);
    return str_starts(s, S("text/")) || str_starts(s, S("application/json")) ||
           str_starts(s, S("application/problem+json")) || str_starts(s, S("application/x-ndjson")) ||
           str_starts(s, S("application/yaml")) || str_starts(s, S("image/svg+xml")) ||
           str_starts(s, S("application/manifest+json"));
}

bool answer_packs(const struct answer *answer)
{
    return !answer->gzip && !answer->varies && answer->status == 200 && answer->body.n >= PACK_LEAST &&
           answer->body.n < UINT32_MAX / 2 && packs(answer->type);
}

void answer_will_pack(struct arena *a, struct answer *answer)
{
    if (answer->etag.n) {
        struct text t = text_new(a);
        text_add(&t, str_cut(answer->etag, 0, answer->etag.n - 1));
        text_addz(&t, "-gzip\"");
        answer->etag = text_str(&t);
    }
}

void answer_pack(struct arena *a, struct answer *answer)
{
    z_stream z = {0};
    if (deflateInit2(&z, PACK_LEVEL, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY) != Z_OK) {
        return;
    }
    uLong most = deflateBound(&z, (uLong)answer->body.n);
    unsigned char *packed = arena_alloc(a, most, 1);
    z.next_in = (unsigned char *)(uintptr_t)answer->body.p;
    z.avail_in = (uInt)answer->body.n;
    z.next_out = packed;
    z.avail_out = (uInt)most;
    bool ok = deflate(&z, Z_FINISH) == Z_STREAM_END && z.total_out < answer->body.n;
    size_t n = z.total_out;
    (void)deflateEnd(&z);
    if (ok) {
        answer->body = (struct str){(const char *)packed, n};
        answer->gzip = true;
    }
}
