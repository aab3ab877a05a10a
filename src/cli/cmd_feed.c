/* witmark feed ...: what others have written down, first as a dry run. */
#include "cli.h"

#include <string.h>

static void report_text(struct call *c, struct text *t, const struct desk_feed_report *r, bool all, bool taken)
{
    static const char *const words[] = {[LINE_TAKE] = "take",
                                        [LINE_DOUBT] = "doubtful",
                                        [LINE_REFUSE] = "refused",
                                        [LINE_KNOWN] = "known",
                                        [LINE_SKIP] = "left out"};
    text_add(t, r->about);
    text_char(t, '\n');
    struct table table = table_new(&c->arena, 4);
    for (size_t i = 0; i < r->n; i++) {
        const struct desk_feed_line *line = &r->at[i];
        if (!all && (line->word == LINE_TAKE || line->word == LINE_KNOWN)) {
            continue;
        }
        struct text place = text_new(&c->arena);
        if (line->line) {
            text_addz(&place, "line ");
            text_int(&place, line->line);
        }
        table_add(&table, text_str(&place));
        table_addz(&table, words[line->word]);
        table_add(&table, line->machine);
        struct text says = text_new(&c->arena);
        for (size_t k = 0; k < line->says.n; k++) { /* a line break in a cell would break the table */
            text_char(&says, line->says.p[k] == '\n' || line->says.p[k] == '\r' ? ' ' : line->says.p[k]);
        }
        if (line->why.n) {
            text_addz(&says, ": ");
            text_add(&says, line->why);
        }
        table_add(&table, text_str(&says));
    }
    table_print(t, &table);
    const struct {
        size_t n;
        const char *word;
    } counts[] = {{r->take, " to take, "},
                  {r->doubt, " doubtful, "},
                  {r->refuse, " refused, "},
                  {r->known, " known already, "},
                  {r->skip, " left out"}};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
        text_int(t, (int64_t)counts[i].n);
        text_addz(t, counts[i].word);
    }
    text_char(t, '\n');
    if (taken) {
        text_int(t, (int64_t)r->added);
        text_addz(t, " entries added\n");
    } else {
        text_addz(t, "nothing was written: this was a dry run; --take writes it\n");
    }
}

static int feed(struct call *c, bool bus)
{
    struct desk_feed_ask ask = {.name = str_of(c->arguments[0]),
                                .machine = option_str(c, "machine"),
                                .take = option_given(c, "take"),
                                .skip_refused = option_given(c, "skip-refused"),
                                .by = str_of(c->by)};
    const char **words = ARENA_ARRAY(&c->arena, const char *, c->n + 1);
    for (int i = 1; i < c->n; i++) {
        words[i - 1] = c->arguments[i];
    }
    ask.options = words;
    struct desk_feed_report report = {0};
    if (!desk_read_file(&c->arena, c->arguments[0], (size_t)256 << 20, &ask.data, &c->err)) {
        return failed(c);
    }
    bool ok = bus ? desk_feed_bus(c->desk, &ask, &c->arena, &report, &c->err)
                  : desk_feed_csv(c->desk, &ask, &c->arena, &report, &c->err);
    struct text t = text_new(&c->arena);
    if (c->json && report.about.n) {
        struct json j = json_new(&t, true);
        desk_feed_json(&j, &report);
        text_char(&t, '\n');
    } else if (report.about.n) {
        report_text(c, &t, &report, option_given(c, "all"), ok && ask.take);
    }
    int status = print_text(&t);
    if (!ok) {
        return failed(c);
    }
    return status ? status : report.refuse ? EXIT_FINDINGS : EXIT_FINE;
}

static int run_csv(struct call *c)
{
    return feed(c, false);
}

static int run_bus(struct call *c)
{
    return feed(c, true);
}

static int run_signals(struct call *c)
{
    struct diags findings = diags_new(&c->arena, 50);
    size_t added = 0;
    bool ok = desk_signals_take(c->desk, c->arguments[0], &findings, &added, &c->err);
    struct text t = text_new(&c->arena);
    for (size_t i = 0; i < findings.n; i++) {
        diag_print(&t, &findings.at[i]);
    }
    (void)fputs(text_z(&t), stderr);
    if (!ok) {
        return failed(c);
    }
    t = text_new(&c->arena);
    text_int(&t, (int64_t)added);
    text_addz(&t, " signals added to those built in\n");
    return print_text(&t);
}

static const struct option_def feed_options[] = {
    {"take", 0, NULL, "write it; without, it is a dry run that shows what would be taken"},
    {"machine", 'm', "MACHINE", "the machine that the whole file is about"},
    {"skip-refused", 0, NULL, "take the rest although something is refused"},
    {"all", 'a', NULL, "show also what raises no question"},
    END_OF_OPTIONS,
};

const struct command feed_commands[] = {
    {"feed csv", "FILE [WORD...]", 1, 60, "a spreadsheet saved as text",
     "Words settle what the file leaves open: dates=day-first|month-first|iso, decimals=point|comma, COLUMN=MEANING. "
     "All or nothing; the "
     "same file twice adds nothing.",
     feed_options, run_csv, false, true},
    {"feed bus", "FILE [WORD...]", 1, 10, "a recording of the machine's bus (SAE J1939, candump or ASC text)",
     "--machine says whose it is. started='2026-09-04 07:10' gives a recording without a date its time. The program "
     "only listens: it "
     "never sends.",
     feed_options, run_bus, false, true},
    {"feed signals", "FILE", 1, 1, "bus signals of the depot's own, as a table; adds to those built in", NULL, NULL,
     run_signals, false, true},
    {0},
};
