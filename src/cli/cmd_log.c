/* witmark log ...: entries, corrections, proof, export and import. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

/* The entries that were asked for. */
static bool filter_of(struct call *c, struct entry_filter *f)
{
    int64_t n = 0;
    if (option_given(c, "machine")) {
        const struct desk_machine *m = desk_machine_find(c->desk, option_str(c, "machine"), &c->err);
        if (!m) {
            return false;
        }
        f->machine = m->serial;
    }
    struct str kinds = option_str(c, "kind");
    struct str word;
    while (kinds.n && str_next(&kinds, ',', &word)) {
        enum entry_kind kind;
        if (!kind_parse(str_trim(word), &kind)) {
            const char *near = kind_nearest(str_trim(word));
            return err_set(&c->err, ERR_USAGE, near, "there is no kind '", str_z(&c->arena, word), "'", (char *)0);
        }
        f->kinds |= KIND_BIT(kind);
    }
    if (option_given(c, "since") && !desk_instant(c->desk, option_str(c, "since"), &f->since, &c->err)) {
        return false;
    }
    if (option_given(c, "until") && !desk_instant(c->desk, option_str(c, "until"), &f->until, &c->err)) {
        return false;
    }
    f->has_since = option_given(c, "since");
    f->has_until = option_given(c, "until");
    if (option_given(c, "limit") && (!num_parse_i64(option_str(c, "limit"), &n) || n < 1)) {
        return err_set(&c->err, ERR_USAGE, "a number from 1", "--limit '", option_value(c, "limit"), "' is no number",
                       (char *)0);
    }
    f->limit = (size_t)n;
    f->newest_first = option_given(c, "newest");
    f->view = option_given(c, "recorded")    ? VIEW_RECORDED
              : option_given(c, "withdrawn") ? VIEW_WITHDRAWN
                                             : VIEW_EFFECTIVE;
    return true;
}

static void one_line(struct call *c, struct table *table, const struct entry *entry)
{
    struct text t = text_new(&c->arena);
    text_entry_id(&t, entry->id);
    table_add(table, str_cut(text_str(&t), 0, 13));
    t = text_new(&c->arena);
    text_local(&t, c->desk, entry->at);
    table_add(table, text_str(&t));
    t = text_new(&c->arena);
    const struct desk_machine *m = NULL;
    if (entry->machine.p) {
        struct err quiet = err_new(&c->arena);
        m = desk_machine_find(c->desk, entry->machine, &quiet);
    }
    table_add(table, m ? m->name : entry->machine.p ? entry->machine : S("-"));
    table_add(table, entry->by);
    text_entry_says(&t, c->desk, entry);
    if (entry->state == ENTRY_CORRECTED) {
        text_addz(&t, " (corrected)");
    } else if (entry->state == ENTRY_VOIDED) {
        text_addz(&t, " (withdrawn)");
    }
    table_add(table, text_str(&t));
}

static int run_list(struct call *c)
{
    struct entry_filter filter = {0};
    struct entries entries = {0};
    if (!filter_of(c, &filter) || !depot_list(desk_depot(c->desk), &filter, &c->arena, &entries, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    struct table table = table_new(&c->arena, 5);
    struct json j = json_new(&t, true);
    if (c->json) {
        json_begin_array(&j, NULL);
    }
    for (size_t i = 0; i < entries.n; i++) {
        if (c->json) {
            desk_entry_json(&j, c->desk, &entries.at[i]);
        } else {
            one_line(c, &table, &entries.at[i]);
        }
    }
    if (c->json) {
        json_end_array(&j);
        text_char(&t, '\n');
    } else {
        table_print(&t, &table);
    }
    entries_free(&entries);
    return print_text(&t);
}

static int run_show(struct call *c)
{
    struct entry entry;
    if (!depot_find(desk_depot(c->desk), str_of(c->arguments[0]), VIEW_EFFECTIVE, &c->arena, &entry, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_entry_json(&j, c->desk, &entry);
        text_char(&t, '\n');
        entry_free(&entry);
        return print_text(&t);
    }
    text_entry_says(&t, c->desk, &entry);
    text_addz(&t, "\n\nas recorded:\n");
    struct entry recorded;
    bool found = false;
    if (!depot_get(desk_depot(c->desk), entry.id, VIEW_RECORDED, &c->arena, &recorded, &found, &c->err)) {
        entry_free(&entry);
        return failed(c);
    }
    text_entry(&t, &recorded);
    text_char(&t, '\n');
    entry_free(&recorded);
    struct entries corrections = {0};
    if (!depot_corrections(desk_depot(c->desk), entry.id, &c->arena, &corrections, &c->err)) {
        entry_free(&entry);
        return failed(c);
    }
    for (size_t i = 0; i < corrections.n; i++) {
        text_addz(&t, "\ncorrected:\n");
        text_entry(&t, &corrections.at[i]);
        text_char(&t, '\n');
    }
    entries_free(&corrections);
    entry_free(&entry);
    return print_text(&t);
}

static int run_correct(struct call *c)
{
    instant_ms at = INSTANT_NONE;
    struct desk_recorded out = {0};
    struct text members = text_new(&c->arena);
    for (int i = 1; i < c->n; i++) {
        text_join(&members, i > 1 ? "," : "", c->arguments[i], (char *)0);
    }
    if (!call_at(c, &at) ||
        !desk_correct(c->desk, str_of(c->arguments[0]), text_str(&members), at, option_given(c, "withdraw"),
                      str_of(c->by), option_str(c, "reason"), &c->arena, &out, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    text_add(&t, out.says);
    text_addz(&t, "\nentry ");
    text_entry_id(&t, out.id);
    text_char(&t, '\n');
    return print_text(&t);
}

static int run_export(struct call *c)
{
    struct export_options options = {.without_blobs = option_given(c, "without-files"),
                                     .progress = call_progress(c, "exporting")};
    const char *path = option_value(c, "output");
    FILE *to = path ? fopen(path, "wb") : stdout;
    if (!to) {
        (void)err_set(&c->err, ERR_SYSTEM, NULL, "cannot write ", path, (char *)0);
        return failed(c);
    }
    bool ok = depot_export(desk_depot(c->desk), to, &options, &c->err);
    if (path && fclose(to) != 0) {
        ok = err_set(&c->err, ERR_SYSTEM, NULL, "cannot write ", path, (char *)0);
    }
    return ok ? EXIT_FINE : failed(c);
}

static int run_import(struct call *c)
{
    const char *path = c->arguments[0];
    FILE *from = strcmp(path, "-") == 0 ? stdin : fopen(path, "rb");
    if (!from) {
        (void)err_set(&c->err, ERR_SYSTEM, NULL, "cannot open ", path, (char *)0);
        return failed(c);
    }
    struct import_options options = {
        .name = str_of(path), .dry_run = option_given(c, "dry-run"), .progress = call_progress(c, "importing")};
    struct import_report report = {0};
    bool ok = depot_import(desk_depot(c->desk), from, &options, &c->arena, &report, &c->err);
    if (from != stdin) {
        (void)fclose(from);
    }
    if (!ok) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_object(&j, NULL);
        json_int(&j, "lines", report.lines);
        json_int(&j, "entries_added", report.entries_added);
        json_int(&j, "entries_known", report.entries_known);
        json_int(&j, "editions_added", report.editions_added);
        json_int(&j, "files_added", report.blobs_added);
        struct text findings = text_new(&c->arena);
        text_findings(&findings, &report.findings);
        json_raw(&j, "findings", text_str(&findings));
        json_end_object(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_int(&t, report.entries_added);
    text_addz(&t, options.dry_run ? " entries would be added, " : " entries added, ");
    text_int(&t, report.entries_known);
    text_addz(&t, " were here; ");
    text_int(&t, report.editions_added);
    text_addz(&t, " book editions and ");
    text_int(&t, report.blobs_added);
    text_addz(&t, " files added\n");
    for (size_t i = 0; i < report.findings.n; i++) {
        text_join(&t, finding_word(report.findings.at[i].kind), ": ", (char *)0);
        text_add(&t, report.findings.at[i].what);
        text_char(&t, '\n');
    }
    return print_text(&t);
}

static const struct option_def list_options[] = {
    {"machine", 'm', "MACHINE", "only of this machine"},
    {"kind", 'k', "KIND,...", "only of these kinds, e.g. reading,done"},
    {"since", 0, "TIME", "from this time on"},
    {"until", 0, "TIME", "before this time"},
    {"limit", 'n', "N", "at most so many"},
    {"newest", 0, NULL, "the newest first"},
    {"recorded", 0, NULL, "as written, with what was corrected and the corrections"},
    {"withdrawn", 0, NULL, "only what was withdrawn"},
    END_OF_OPTIONS,
};
static const struct option_def correct_options[] = {
    {"reason", 'r', "TEXT", "why (must be said)"},
    {"withdraw", 0, NULL, "take the entry back as a whole"},
    {"at", 0, "TIME", "it was at another time"},
    END_OF_OPTIONS,
};
static const struct option_def export_options_list[] = {
    {"output", 'o', "FILE", "write there (otherwise to standard output)"},
    {"without-files", 0, NULL, "leave photos and files out"},
    END_OF_OPTIONS,
};
static const struct option_def import_options_list[] = {
    {"dry-run", 0, NULL, "check everything, keep nothing"},
    END_OF_OPTIONS,
};

const struct command log_commands[] = {
    {"log list", "", 0, 0, "entries, the oldest first", NULL, list_options, run_list, false, false},
    {"log show", "ENTRY", 1, 1, "one entry as it was signed, and its corrections",
     "ENTRY is an id or its unique beginning.", NULL, run_show, false, false},
    {"log correct", "ENTRY [MEMBER=VALUE...]", 1, 20, "correct an entry by a new one; the old one stays", NULL,
     correct_options, run_correct, false, true},
    {"log verify", "", 0, 0, "prove the chains: what was altered, reordered, removed or forged", NULL, NULL, run_verify,
     false, false},
    {"log export", "", 0, 0, "everything as NDJSON that a stranger can check", "docs/verify-export.md shows how.",
     export_options_list, run_export, false, false},
    {"log import", "FILE", 1, 1, "add what is not here yet from an export; - reads standard input", NULL,
     import_options_list, run_import, false, true},
    {0},
};
