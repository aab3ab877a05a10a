/* witmark put-back, hand-back, log check: what is open, handing a machine back, the log against the books. */
#include "cli.h"
#include "desk_putback.h"

static int run_list(struct call *c)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    struct str machine = c->n ? str_of(c->arguments[0]) : (struct str){0};
    struct text t = text_new(&c->arena);
    if (!desk_put_back_list(c->desk, machine, &c->arena, &at, &n, &c->err)) {
        return failed(c);
    }
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_put_back_json(&j, c->desk, at, n);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_addz(&t, n ? "" : "nothing is open\n");
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || at[i].machine != at[i - 1].machine) {
            text_addz(&t, i ? "\n" : "");
            text_add(&t, at[i].machine->name);
            text_char(&t, '\n');
        }
        text_addz(&t, "  ");
        text_add(&t, at[i].label);
        text_addz(&t, ", since ");
        text_local(&t, c->desk, at[i].since);
        text_addz(&t, ", ");
        text_add(&t, at[i].by);
        text_addz(&t, "\n    to close: ");
        text_add(&t, at[i].close.n ? at[i].close : S("the book does not say how"));
        text_addz(&t, at[i].source.n ? " [" : "");
        text_add(&t, at[i].source);
        text_addz(&t, at[i].source.n ? "]" : "");
        text_addz(&t, "\n    then: ");
        text_add(&t, at[i].write_down);
        text_char(&t, '\n');
    }
    int status = print_text(&t);
    return status ? status : n ? EXIT_FINDINGS : EXIT_FINE;
}

static int run_hand_back(struct call *c)
{
    struct desk_stamp stamp;
    struct desk_recorded made = {0};
    bool ok = call_stamp(c, str_of(c->arguments[0]), &stamp) &&
              desk_hand_back(c->desk, &stamp, option_str(c, "to"), option_str(c, "despite"), &c->arena, &made, &c->err);
    int status = print_recorded(c, ok, &made);
    if (status == EXIT_FINE && !c->json) {
        struct text t = text_new(&c->arena);
        text_addz(&t,
                  "NOTICE: where a safety part was moved, test seat, brake and neutral switches, lights and horn.\n");
        status = print_text(&t);
    }
    return status;
}

static int run_check(struct call *c)
{
    struct desk_log_finding *at = NULL;
    size_t n = 0;
    struct str machine = c->n ? str_of(c->arguments[0]) : (struct str){0};
    struct text t = text_new(&c->arena);
    if (!desk_log_check(c->desk, machine, &c->arena, &at, &n, &c->err)) {
        return failed(c);
    }
    size_t open = 0;
    for (size_t i = 0; i < n; i++) {
        open += at[i].open;
    }
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_log_check_json(&j, c->desk, at, n);
        text_char(&t, '\n');
        int status = print_text(&t);
        return status ? status : open ? EXIT_FINDINGS : EXIT_FINE;
    }
    for (size_t i = 0; i < n; i++) {
        text_add(&t, at[i].machine->name);
        text_addz(&t, "  ");
        text_local(&t, c->desk, at[i].at);
        text_addz(&t, at[i].open ? "  OPEN  " : "  ");
        text_add(&t, at[i].says);
        text_addz(&t, "\n      ");
        text_add(&t, at[i].right);
        text_addz(&t, " (entry ");
        struct text id = text_new(&c->arena);
        text_entry_id(&id, at[i].entry);
        text_add(&t, str_cut(text_str(&id), 0, 13));
        text_addz(&t, ")\n");
    }
    text_addz(&t, n ? "" : "what was opened and closed fits together, and the procedures of the books\n");
    int status = print_text(&t);
    return status ? status : open ? EXIT_FINDINGS : EXIT_FINE;
}

static const struct option_def hand_back_options[] = {
    {"to", 0, "NAME", "who takes it: a person, a gang, a site"},
    {"despite", 0, "REASON", "although something is open: the reason, signed by --by"},
    {"at", 0, "TIME", "when it was (otherwise now)"},
    {"note", 'n', "TEXT", "what else is to be said"},
    END_OF_OPTIONS,
};

const struct command putback_commands[] = {
    {"put-back", "[MACHINE]", 0, 1, "what is open and must be put back, and how; status 1 when anything is",
     "Everything opened, shut, propped, bypassed, released, unplugged, inhibited or left at a trial setting stands "
     "here "
     "from the moment it is logged until its undoing is logged, with the book's words for closing it.",
     NULL, run_list, false, false},
    {"hand-back", "MACHINE", 1, 1, "the machine goes back to its user; refused while anything is open",
     "With --despite REASON the entry holds the reason, who gave it, and the list of what was open.", hand_back_options,
     run_hand_back, false, true},
    {"log check", "[MACHINE]", 0, 1, "hold the log against the books: what was opened, closed, turned and moved",
     "Finds what was opened twice, put back but never opened, left open by a task that closes it, handed back open, "
     "turned or towed beyond the book's limit. Status 1 while any of it is open.",
     NULL, run_check, false, false},
    {0},
};
