/* Entries: signed ones that a phone brings, and ones that the depot writes for a page that cannot sign. */
#include "api.h"

#include "desk_entry.h"

#include <string.h>

/* What only those may who plan: which machines there are, and letting one go with something open. */
static bool needs_plan(struct str kind, const json_t *body)
{
    return str_eq(kind, S("machine-in")) || str_eq(kind, S("machine-out")) ||
           (str_eq(kind, S("handed-back")) && json_object_get(body, "despite"));
}

/* Whether who is signed in may bring this entry: its kind is one they may record, and it is their own, or they may
 * bring in others' (a phone handed on holds entries of two people). The receipt names who brought it. */
static bool allowed(void *ctx, const json_t *entry, struct err *e)
{
    const struct asked *q = ctx;
    struct str kind = body_str(entry, "kind");
    struct str by = body_str(entry, "by");
    if (needs_plan(kind, json_object_get(entry, "body")) && q->who->role < ROLE_PLAN) {
        return err_set(e, ERR_REFUSED, "somebody with the role plan brings it", "an entry of kind ", str_z(e->a, kind),
                       " needs the role plan", (char *)0);
    }
    if (q->who->role >= ROLE_PLAN || str_eq(by, q->who->name)) {
        return true;
    }
    return err_set(e, ERR_REFUSED, "the one it names signs in, or somebody with the role plan brings it",
                   "the entry is by ", str_z(e->a, str_cut(by, 0, 200)), ", and ", str_z(e->a, q->who->name),
                   " is signed in", (char *)0);
}

/* POST /api/entries: lines as an export has them. */
static bool entries(struct asked *q, struct answer *out)
{
    static const char *const states[] = {
        [IMPORT_LINE_NEW] = "new", [IMPORT_LINE_HERE] = "here", [IMPORT_LINE_REFUSED] = "refused"};
    struct text from = text_new(q->a);
    text_addz(&from, "page: ");
    text_add(&from, q->who->name);
    struct import_lines lines = {.text = q->asking->body, .from = text_str(&from), .allow = allowed, .ctx = (void *)q};
    struct import_line *at = NULL;
    size_t n = 0;
    struct import_report report;
    if (!asked_none(q) || !depot_import_lines(desk_depot(q->desk), &lines, q->a, &at, &n, &report, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_begin_array(&j, "results");
    for (size_t i = 0; i < n; i++) {
        json_begin_object(&j, NULL);
        json_int(&j, "line", at[i].line);
        if (at[i].id.n) {
            json_str(&j, "id", at[i].id);
        } else {
            json_put_null(&j, "id");
        }
        json_strz(&j, "state", states[at[i].state]);
        if (at[i].state == IMPORT_LINE_REFUSED) {
            json_str(&j, "what", at[i].what);
            json_str(&j, "right", at[i].right);
        }
        json_end_object(&j);
    }
    json_end_array(&j);
    struct text findings = text_new(q->a);
    text_findings(&findings, &report.findings);
    json_raw(&j, "findings", text_str(&findings));
    json_end_object(&j);
    return answer_json(q, &t, out);
}

/* The id under which a page sends an entry again until it has an answer: letters, digits, hyphens, 8 to 64 of them. */
static bool sent_id(struct asked *q, struct str *key)
{
    struct str id;
    if (!asked_text(q, "id", false, &id)) {
        return false;
    }
    *key = (struct str){0};
    bool plain = id.n == 0 || (id.n >= 8 && id.n <= 64);
    for (size_t i = 0; i < id.n && plain; i++) {
        char c = id.p[i];
        plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-';
    }
    if (!plain) {
        return err_set(&q->err, ERR_INPUT, "8 to 64 letters, digits and hyphens, such as a UUID",
                       "id: it is no such name", (char *)0);
    }
    if (id.n) {
        struct text t = text_new(q->a);
        text_addz(&t, "page:");
        text_add(&t, id);
        *key = text_str(&t);
    }
    return true;
}

static void verdict_json(struct json *j, const struct verdict *v)
{
    struct text t = text_new(j->t->a);
    json_begin_object(j, "verdict");
    json_strz(j, "word", verdict_word_text(v->word));
    text_quantity(&t, v->corrected);
    json_str(j, "corrected", v->word == VERDICT_NOT_JUDGED ? S("") : text_str(&t));
    json_bool(j, "doubtful", v->doubtful);
    json_str(j, "reason", v->reason);
    json_str(j, "correction", v->correction);
    json_end_object(j);
}

static bool record_answer(struct asked *q, const struct desk_recorded *made, struct answer *out)
{
    struct entry entry;
    bool found = false;
    if (!desk_refresh(q->desk, &q->err) ||
        !depot_get(desk_depot(q->desk), made->id, VIEW_EFFECTIVE, q->a, &entry, &found, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    struct text id = text_new(q->a);
    text_entry_id(&id, made->id);
    json_begin_object(&j, NULL);
    json_str(&j, "id", text_str(&id));
    json_bool(&j, "here_already", made->known_already);
    json_str(&j, "says", made->says);
    if (found) {
        struct text one = text_new(q->a);
        struct json inner = json_new(&one, false);
        desk_entry_json(&inner, q->desk, &entry);
        json_raw(&j, "entry", text_str(&one));
        entry_free(&entry);
    }
    if (made->judged) {
        verdict_json(&j, &made->verdict);
    }
    json_end_object(&j);
    return answer_json(q, &t, out);
}

/* Members of the body are the ones described. */
static bool only_members(struct asked *q)
{
    static const char *const names[] = {"id", "at", "by", "machine", "kind", "body"};
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach(q->json, key, value)
    {
        bool known = false;
        for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
            known = known || strcmp(names[i], key) == 0;
        }
        if (!known) {
            return err_set(&q->err, ERR_INPUT, "id, at, by, machine, kind and body", "'", str_z(q->a, str_of(key)),
                           "' is no member of a record", (char *)0);
        }
    }
    return true;
}

/* POST /api/record. */
static bool record(struct asked *q, struct answer *out)
{
    struct str kind_word_given;
    struct str at;
    struct str by;
    enum entry_kind kind;
    struct desk_stamp stamp = {.at = INSTANT_NONE};
    if (!asked_none(q) || !asked_json(q) || !only_members(q) || !sent_id(q, &stamp.import_key) ||
        !asked_text(q, "machine", false, &stamp.machine) || !asked_text(q, "kind", true, &kind_word_given) ||
        !asked_text(q, "at", false, &at) || !asked_text(q, "by", false, &by)) {
        return false;
    }
    if (!kind_parse(kind_word_given, &kind)) {
        return err_set(&q->err, ERR_INPUT, kind_nearest(kind_word_given), "kind: '", str_z(q->a, kind_word_given),
                       "' is no kind of entry", (char *)0);
    }
    if (needs_plan(kind_word_given, json_object_get(q->json, "body")) && q->who->role < ROLE_PLAN) {
        return asked_refuse(q, 403, "machines come, go, and are handed back open by those with the role plan", NULL);
    }
    if (by.n && !str_eq(by, q->who->name) && q->who->role < ROLE_PLAN) {
        return asked_refuse(q, 403, "an entry is by the person who is signed in", "leave `by` out");
    }
    const json_t *body = json_object_get(q->json, "body");
    if (!json_is_object(body)) {
        return err_set(&q->err, ERR_INPUT, "{...}", "body: it is not an object", (char *)0);
    }
    if (at.n && !desk_instant(q->desk, at, &stamp.at, &q->err)) {
        return false;
    }
    stamp.by = by.n ? by : q->who->name;
    struct desk_recorded made;
    return desk_record_body(q->desk, &stamp, kind, body, q->a, &made, &q->err) && record_answer(q, &made, out);
}

#define RECORD_MOST ((size_t)64 << 10)
#define ENTRIES_MOST ((size_t)8 << 20)

const struct route record_routes[] = {
    {"POST", "/api/record", ROLE_RECORD, ROUTE_DESK, record, RECORD_MOST, "application/json"},
    {"POST", "/api/entries", ROLE_RECORD, ROUTE_DESK, entries, ENTRIES_MOST, "application/x-ndjson"},
    {0},
};
