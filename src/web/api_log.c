/* The log, a page at a time, and attachments. */
#include "api.h"

#include "desk_entry.h"

static bool log_page(struct asked *q, struct str machine, struct answer *out)
{
    static const char *const names[] = {"before", "limit", "kind", "machine", "since", "until", "view", NULL};
    double limit = 50;
    struct desk_log_ask ask = {.machine = machine, .before = asked_value(q, "before"), .kind = asked_value(q, "kind")};
    struct str view = asked_value(q, "view");
    if (!asked_only(q, names) || !asked_number(q, "limit", 1, 1000, &limit)) {
        return false;
    }
    if (view.n && !str_eq(view, S("effective")) && !str_eq(view, S("recorded")) && !str_eq(view, S("withdrawn"))) {
        return err_set(&q->err, ERR_USAGE, "effective, recorded or withdrawn", "parameter 'view': '", str_z(q->a, view),
                       "'", (char *)0);
    }
    ask.view = str_eq(view, S("recorded"))    ? VIEW_RECORDED
               : str_eq(view, S("withdrawn")) ? VIEW_WITHDRAWN
                                              : VIEW_EFFECTIVE;
    ask.limit = (size_t)limit;
    ask.has_since = asked_given(q, "since");
    ask.has_until = asked_given(q, "until");
    if ((ask.has_since && !desk_instant(q->desk, asked_value(q, "since"), &ask.since, &q->err)) ||
        (ask.has_until && !desk_instant(q->desk, asked_value(q, "until"), &ask.until, &q->err))) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    return desk_log_json(&j, q->desk, &ask, &q->err) && answer_json(q, &t, out);
}

static bool log_all(struct asked *q, struct answer *out)
{
    return log_page(q, asked_value(q, "machine"), out);
}

static bool log_machine(struct asked *q, struct answer *out)
{
    if (asked_given(q, "machine")) {
        return err_set(&q->err, ERR_USAGE, NULL, "the path names the machine already", (char *)0);
    }
    return log_page(q, q->args[0], out);
}

static bool log_entry(struct asked *q, struct answer *out)
{
    struct entry entry;
    if (!asked_none(q) || !desk_refresh(q->desk, &q->err) ||
        !depot_find(desk_depot(q->desk), q->args[0], VIEW_EFFECTIVE, q->a, &entry, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    desk_entry_json(&j, q->desk, &entry);
    entry_free(&entry);
    return answer_json(q, &t, out);
}

/* What a picture or document begins with (the file signatures of their specifications); anything else is bytes to save.
 */
static const char *type_of(struct str data)
{
    static const struct {
        struct str begins;
        const char *type;
    } rows[] = {{{"\xff\xd8\xff", 3}, "image/jpeg"},
                {{"\x89PNG\r\n\x1a\n", 8}, "image/png"},
                {{"GIF8", 4}, "image/gif"},
                {{"%PDF-", 5}, "application/pdf"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (str_starts(data, rows[i].begins)) {
            return rows[i].type;
        }
    }
    if (data.n >= 12 && str_starts(data, S("RIFF")) && str_eq(str_cut(data, 8, 12), S("WEBP"))) {
        return "image/webp";
    }
    return "application/octet-stream";
}

static bool hash_asked(struct asked *q, struct log_hash *hash)
{
    return hex_parse(q->args[0], hash->b, sizeof hash->b) ||
           err_set(&q->err, ERR_USAGE, "64 hex digits in lower case", "'", str_z(q->a, q->args[0]),
                   "' is no SHA-256 hash", (char *)0);
}

static bool attachment_get(struct asked *q, struct answer *out)
{
    struct log_hash hash;
    bool found = false;
    struct str data = {0};
    if (!asked_none(q) || !hash_asked(q, &hash) ||
        !depot_blob_get(desk_depot(q->desk), hash, q->a, &data, &found, &q->err)) {
        return false;
    }
    if (!found) {
        return err_set(&q->err, ERR_MISSING, NULL, "no attachment has this hash here", (char *)0);
    }
    *out = answer_body(q->a, type_of(data), data);
    out->forever = true;
    out->policy = POLICY_DRAWING;
    return true;
}

static bool attachment_put(struct asked *q, struct answer *out)
{
    struct log_hash hash;
    struct str body = q->asking->body;
    if (!asked_none(q) || !hash_asked(q, &hash)) {
        return false;
    }
    if (!log_hash_eq(log_sha256(body), hash)) {
        return asked_refuse(q, 422, "the bytes have another SHA-256 hash than the address", "send the file again");
    }
    if (!depot_blob_put(desk_depot(q->desk), body, &hash, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_str(&j, "sha256", q->args[0]);
    json_int(&j, "bytes", (int64_t)body.n);
    json_strz(&j, "type", type_of(body));
    json_end_object(&j);
    return answer_json(q, &t, out);
}

#define ATTACHMENT_MOST ((size_t)16 << 20) /* a photo of a phone, with room */

static bool log_all_csv(struct asked *q, struct answer *out)
{
    return log_all(q, out) && answer_csv(q, "log", out);
}

static bool log_machine_csv(struct asked *q, struct answer *out)
{
    return log_machine(q, out) && answer_csv(q, "log", out);
}

const struct route log_routes[] = {
    {"GET", "/api/log", ROLE_LOOK, ROUTE_DESK, log_all, 0, NULL},
    {"GET", "/api/log.csv", ROLE_LOOK, ROUTE_DESK, log_all_csv, 0, NULL},
    {"GET", "/api/log/{id}", ROLE_LOOK, ROUTE_DESK, log_entry, 0, NULL},
    {"GET", "/api/machines/{machine}/entries", ROLE_LOOK, ROUTE_DESK, log_machine, 0, NULL},
    {"GET", "/api/machines/{machine}/entries.csv", ROLE_LOOK, ROUTE_DESK, log_machine_csv, 0, NULL},
    {"GET", "/api/attachments/{sha256}", ROLE_LOOK, ROUTE_DESK, attachment_get, 0, NULL},
    {"PUT", "/api/attachments/{sha256}", ROLE_RECORD, ROUTE_DESK, attachment_put, ATTACHMENT_MOST, NULL},
    {0},
};
