/* witmark adjust: a screw or valve in counted steps, with its way back. */
#include "cli.h"
#include "desk_adjust.h"

/* Every adjuster of the machine on a line. */
static int list_adjusters(struct call *c)
{
    struct desk_adjuster *at = NULL;
    size_t n = 0;
    struct text t = text_new(&c->arena);
    if (!desk_adjusters(c->desk, str_of(c->arguments[0]), &c->arena, &at, &n, &c->err)) {
        return failed(c);
    }
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_adjusters_json(&j, c->desk, at, n);
        text_char(&t, '\n');
        return print_text(&t);
    }
    struct table table = table_new(&c->arena, 3);
    for (size_t i = 0; i < n; i++) {
        struct text stands = text_new(&c->arena);
        text_adjuster_stands(&stands, &at[i]);
        text_addz(&stands, at[i].ledger.from_accepted ? "  TRIAL OPEN" : "");
        table_add(&table, at[i].name);
        table_add(&table, at[i].label);
        table_add(&table, text_str(&stands));
    }
    table_print(&t, &table);
    text_addz(&t, n ? "" : "its book names no adjusters\n");
    return print_text(&t);
}

/* The ledger after what was recorded, if anything was. */
static int show(struct call *c, const struct desk_recorded *made)
{
    struct desk_adjuster adjuster;
    struct text t = text_new(&c->arena);
    if (!desk_adjuster(c->desk, str_of(c->arguments[0]), str_of(c->arguments[1]), &c->arena, &adjuster, &c->err)) {
        return failed(c);
    }
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_adjuster_json(&j, c->desk, &adjuster);
        text_char(&t, '\n');
        return print_text(&t);
    }
    if (!made) {
        text_adjuster(&t, c->desk, &adjuster);
        return print_text(&t);
    }
    text_add(&t, made->says);
    text_addz(&t, "\nentry ");
    text_entry_id(&t, made->id);
    text_addz(&t, "\nIt ");
    text_adjuster_stands(&t, &adjuster);
    if (adjuster.ledger.from_accepted) {
        text_addz(&t, "; way back: ");
        text_turns(&t, adjust_back(&adjuster.ledger));
    }
    if (adjuster.adjuster != BOOK_NONE && adjuster.ledger.steps) {
        text_addz(&t, "\nNext: ");
        text_adjuster_next(&t, &adjuster);
    }
    text_char(&t, '\n');
    return print_text(&t);
}

static int run_adjust(struct call *c)
{
    static const char *const doing[] = {"turn",          "saw",  "confirmed",       "accept", "back",
                                        "back-to-found", "undo", "count-from-here", "at",     "note"};
    bool does = false;
    for (size_t i = 0; i < sizeof doing / sizeof *doing; i++) {
        does = does || option_given(c, doing[i]);
    }
    if (c->n < 2 && does) {
        (void)err_set(&c->err, ERR_USAGE, "witmark adjust MACHINE lists them", "which adjuster?", (char *)0);
        return failed(c);
    }
    if (c->n < 2) {
        return list_adjusters(c);
    }
    if (option_given(c, "output")) {
        struct desk_adjuster adjuster;
        struct text document = text_new(&c->arena);
        return desk_adjuster(c->desk, str_of(c->arguments[0]), str_of(c->arguments[1]), &c->arena, &adjuster,
                             &c->err) &&
                       desk_print_adjuster(c->desk, &adjuster, option_str(c, "paper"), &document, &c->err)
                   ? print_document(c, &document, "pdf")
                   : failed(c);
    }
    if (!does) {
        return show(c, NULL);
    }
    struct desk_stamp stamp;
    struct desk_recorded made = {0};
    struct desk_adjust_ask ask = {.adjuster = str_of(c->arguments[1]),
                                  .turn = option_str(c, "turn"),
                                  .saw = option_str(c, "saw"),
                                  .confirmed = option_str(c, "confirmed"),
                                  .accept = option_given(c, "accept"),
                                  .back = option_given(c, "back"),
                                  .back_to_found = option_given(c, "back-to-found"),
                                  .undo = option_given(c, "undo"),
                                  .found = option_given(c, "count-from-here")};
    if (!call_stamp(c, str_of(c->arguments[0]), &stamp) ||
        !desk_adjust(c->desk, &stamp, &ask, &c->arena, &made, &c->err)) {
        return failed(c);
    }
    return show(c, &made);
}

static const struct option_def adjust_options[] = {
    {"turn", 't', "TURNS", "turned by: +1.5, -1/2, '1/2 in', '1 1/4 out' (in is clockwise)"},
    {"saw", 's', "WHAT", "what it does now: gone, less, same or worse"},
    {"confirmed", 'c', "NAME,...", "what was seen to be true before the turn: load-supported,..."},
    {"accept", 0, NULL, "this setting stays: lock nut tight"},
    {"back", 0, NULL, "turned back to the accepted setting, which stays"},
    {"back-to-found", 0, NULL, "turned back to where it was found, which stays"},
    {"undo", 0, NULL, "the last turn taken back (once more: made again)"},
    {"count-from-here", 0, NULL, "it is counted from here: a new valve"},
    {"output", 'o', "FILE", "the ledger as a page with blanks, to write by hand"},
    {"paper", 0, "NAME", "of the page: A4, A5, Letter (otherwise the depot's)"},
    {"format", 0, "FORMAT", "of the page: pdf, png or svg"},
    {"at", 0, "TIME", "when it was (otherwise now)"},
    {"note", 'n', "TEXT", "what else is to be said"},
    END_OF_OPTIONS,
};

const struct command adjust_commands[] = {
    {"adjust", "MACHINE [ADJUSTER]", 1, 2, "a screw or valve in counted steps: ledger, next step, way back",
     "Without ADJUSTER it lists all of the machine. With it, it shows the ledger: where it stands, the next step and "
     "the "
     "exact way back. With --turn, --saw, --accept, --back or --undo it writes a step down, after holding it against "
     "the "
     "book; a step that may not be made is refused with the reason. What was turned in spite of that is written down "
     "by "
     "record turn. Until a setting is accepted or turned back the adjuster is on the put-back list.",
     adjust_options, run_adjust, false, true},
    {0},
};
