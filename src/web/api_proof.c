/* Evidence: the log as a file that a stranger can check, and the proof of everything that is kept. */
#include "api.h"

#include "desk.h"

#include <stdio.h>
#include <stdlib.h>

/* GET /api/export: NDJSON as `witmark log export` writes it. The whole text stands in memory for the time of the
 * answer. */
static bool export_log(struct asked *q, struct answer *out)
{
    static const char *const names[] = {"machine", "attachments", NULL};
    struct export_options options = {.without_blobs = !asked_given(q, "attachments")};
    const struct desk_machine *m = NULL;
    if (!asked_only(q, names) || !desk_refresh(q->desk, &q->err)) {
        return false;
    }
    if (asked_given(q, "machine")) {
        m = desk_machine_find(q->desk, asked_value(q, "machine"), &q->err);
        if (!m) {
            return false;
        }
        options.filtered = true;
        options.only.machine = m->serial;
    }
    char *data = NULL;
    size_t n = 0;
    FILE *to = open_memstream(&data, &n);
    if (!to) {
        return err_set(&q->err, ERR_SYSTEM, NULL, "no memory for the export", (char *)0);
    }
    bool ok = depot_export(desk_depot(q->desk), to, &options, &q->err);
    ok = fclose(to) == 0 && ok;
    if (ok) {
        *out = answer_body(q->a, "application/x-ndjson", str_copy(q->a, (struct str){data, n}));
        out->name = "witmark.ndjson";
    }
    free(data);
    if (!ok && q->err.kind == ERR_NONE) {
        (void)err_set(&q->err, ERR_SYSTEM, NULL, "no memory for the export", (char *)0);
    }
    return ok;
}

/* GET /api/verify: {entries, errors, findings}. */
static bool verify(struct asked *q, struct answer *out)
{
    struct findings found = {0};
    struct depot_counts counts = {0};
    struct depot *depot = desk_depot(q->desk);
    if (!asked_none(q) || !depot_count(depot, &counts, &q->err) ||
        !depot_verify(depot, (struct progress){NULL, NULL}, q->a, &found, &q->err)) {
        return false;
    }
    struct text t = text_new(q->a);
    struct json j = json_new(&t, false);
    struct text list = text_new(q->a);
    text_findings(&list, &found);
    json_begin_object(&j, NULL);
    json_int(&j, "entries", counts.entries);
    json_int(&j, "writers", counts.writers);
    json_int(&j, "errors", (int64_t)found.errors);
    json_raw(&j, "findings", text_str(&list));
    json_end_object(&j);
    return answer_json(q, &t, out);
}

const struct route proof_routes[] = {
    {"GET", "/api/export", ROLE_LOOK, ROUTE_DESK | ROUTE_FRESH, export_log, 0, NULL},
    {"GET", "/api/verify", ROLE_LOOK, ROUTE_DESK | ROUTE_FRESH, verify, 0, NULL},
    {0},
};
