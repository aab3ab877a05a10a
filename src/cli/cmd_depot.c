/* witmark depot ...: making a depot, looking at it, backup and restore. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

static int run_new(struct call *c)
{
    struct desk_options options = desk_options_default(c->depot);
    options.units = c->units;
    options.paper = option_value(c, "paper");
    struct world_seeded seeded;
    const char *seed = option_value(c, "seed");
    if (seed) {
        seeded = world_seeded_new(strtoull(seed, NULL, 10), 0);
        struct world system = world_system();
        seeded.now = system.now(system.ctx);
        options.log.world = world_of_seeded(&seeded);
    }
    struct str name = option_str(c, "name");
    struct str zone = option_str(c, "zone");
    if (!desk_depot_new(&options, name.n ? name : S("Depot"), zone.n ? zone : S("UTC"), &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    text_join(&t, "made ", c->depot, "; next: witmark book take FILE, then witmark machine add SERIAL\n", (char *)0);
    return print_text(&t);
}

static int run_show(struct call *c)
{
    struct depot_counts counts;
    struct log_hash digest;
    if (!depot_count(desk_depot(c->desk), &counts, &c->err) || !depot_digest(desk_depot(c->desk), &digest, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    struct text hex = text_new(&c->arena);
    text_hex(&hex, digest.b, sizeof digest.b);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_object(&j, NULL);
        json_strz(&j, "file", c->depot);
        json_str(&j, "name", desk_name(c->desk));
        json_str(&j, "zone", desk_zone(c->desk));
        json_int(&j, "entries", counts.entries);
        json_int(&j, "writers", counts.writers);
        json_int(&j, "machines", counts.machines);
        json_int(&j, "editions", counts.editions);
        json_int(&j, "attachments", counts.blobs);
        json_str(&j, "digest", text_str(&hex));
        json_end_object(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    struct table table = table_new(&c->arena, 2);
    table_addz(&table, "depot");
    table_add(&table, desk_name(c->desk));
    table_addz(&table, "file");
    table_addz(&table, c->depot);
    table_addz(&table, "zone");
    table_add(&table, desk_zone(c->desk));
    struct {
        const char *label;
        int64_t n;
    } rows[] = {{"machines", counts.machines},
                {"entries", counts.entries},
                {"writers", counts.writers},
                {"book editions", counts.editions},
                {"files kept", counts.blobs}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct text n = text_new(&c->arena);
        text_int(&n, rows[i].n);
        table_addz(&table, rows[i].label);
        table_add(&table, text_str(&n));
    }
    table_addz(&table, "digest");
    table_add(&table, text_str(&hex));
    table_print(&t, &table);
    return print_text(&t);
}

/* The findings of a verification, for people or as JSON; the status says whether there were errors. */
static int print_findings(struct call *c, const struct findings *findings)
{
    struct text t = text_new(&c->arena);
    if (c->json) {
        text_findings(&t, findings);
        text_char(&t, '\n');
    } else if (findings->n == 0) {
        text_addz(&t, "everything holds: file, chains, signatures, receipts, books, attachments\n");
    } else {
        for (size_t i = 0; i < findings->n; i++) {
            text_join(&t, diag_level_text(finding_level(findings->at[i].kind)), " ", finding_word(findings->at[i].kind),
                      ": ", (char *)0);
            text_add(&t, findings->at[i].what);
            text_char(&t, '\n');
        }
    }
    int status = print_text(&t);
    return status ? status : findings->errors ? EXIT_FINDINGS : EXIT_FINE;
}

int run_verify(struct call *c)
{
    struct findings findings = {.a = &c->arena};
    if (!depot_verify(desk_depot(c->desk), call_progress(c, "verifying"), &c->arena, &findings, &c->err)) {
        return failed(c);
    }
    return print_findings(c, &findings);
}

static int run_backup(struct call *c)
{
    if (!depot_backup(desk_depot(c->desk), c->arguments[0], option_given(c, "replace"), call_progress(c, "copying"),
                      &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    text_join(&t, "copied to ", c->arguments[0], " and verified\n", (char *)0);
    return print_text(&t);
}

static int run_restore(struct call *c)
{
    struct depot_options options = depot_options_default();
    if (!depot_restore(c->arguments[0], c->depot, option_given(c, "replace"), &options, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    text_join(&t, "restored ", c->depot, " from ", c->arguments[0], "\n", (char *)0);
    return print_text(&t);
}

static int run_rebuild(struct call *c)
{
    return depot_rebuild(desk_depot(c->desk), &c->err) ? EXIT_FINE : failed(c);
}

static int run_set(struct call *c)
{
    static const char *const known[] = {"name", "zone", "units", "paper"};
    for (size_t i = 0; i < sizeof known / sizeof *known; i++) {
        if (strcmp(known[i], c->arguments[0]) == 0) {
            return depot_setting_put(desk_depot(c->desk), known[i], str_of(c->arguments[1]), &c->err) ? EXIT_FINE
                                                                                                      : failed(c);
        }
    }
    (void)err_set(&c->err, ERR_USAGE, "name, zone, units or paper", "there is no setting '", c->arguments[0], "'",
                  (char *)0);
    return failed(c);
}

static const struct option_def new_options[] = {
    {"name", 0, "NAME", "what the depot is called on screens and sheets"},
    {"zone", 0, "ZONE", "its time zone, an IANA name such as Europe/Lisbon (otherwise UTC)"},
    {"paper", 0, "SIZE", "a4 or letter"},
    {"seed", 0, "NUMBER", "make its keys from a number: only for demonstrations, such keys are no secret"},
    {NULL, 0, NULL, NULL},
};
static const struct option_def replace_options[] = {
    {"replace", 0, NULL, "put it in the place of a file that is there"},
    {NULL, 0, NULL, NULL},
};

const struct command depot_commands[] = {
    {"depot new", "", 0, 0, "make a new depot", "A depot is one file. It keeps the books, the machines and the log.",
     new_options, run_new, true, true},
    {"depot show", "", 0, 0, "what the depot holds", NULL, NULL, run_show, false, false},
    {"depot check", "", 0, 0, "prove that nothing was altered, reordered, removed or forged", "The same as log verify.",
     NULL, run_verify, false, false},
    {"depot backup", "FILE", 1, 1, "copy the depot while it is in use, and verify the copy", NULL, replace_options,
     run_backup, false, false},
    {"depot restore", "FILE", 1, 1, "put a backup in the depot's place",
     "With --replace the old file is kept as DEPOT.before-restore.", replace_options, run_restore, true, true},
    {"depot rebuild", "", 0, 0, "compute again what follows from the facts", NULL, NULL, run_rebuild, false, true},
    {"depot set", "NAME VALUE", 2, 2, "change a setting: name, zone, units or paper", NULL, NULL, run_set, false, true},
    {0},
};
