/* witmark recover, record moved: a dead machine moved by the book, and everything put back. */
#include "cli.h"
#include "desk_recover.h"

static int show(struct call *c, const struct desk_recorded *made)
{
    struct desk_recover r;
    struct desk_recover_ask ask = {.machine = str_of(c->arguments[0]),
                                   .distance = option_str(c, "distance"),
                                   .speed = option_str(c, "speed"),
                                   .slope = option_str(c, "slope"),
                                   .load = option_str(c, "load")};
    struct text t = text_new(&c->arena);
    if (!desk_recover(c->desk, &ask, &c->arena, &r, &c->err)) {
        return failed(c);
    }
    if (option_given(c, "output")) {
        return desk_print_recover(c->desk, &r, option_str(c, "paper"), &t, &c->err) ? print_document(c, &t, "pdf")
                                                                                    : failed(c);
    }
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_recover_json(&j, c->desk, &r);
        text_char(&t, '\n');
    } else {
        if (made) {
            text_add(&t, made->says);
            text_addz(&t, "\n\n");
        }
        text_recover(&t, c->desk, &r);
    }
    int status = print_text(&t);
    return status ? status : r.exceeded ? EXIT_REFUSED : EXIT_FINE;
}

static int run_recover(struct call *c)
{
    bool did = option_given(c, "did");
    bool back = option_given(c, "turn-round");
    struct desk_stamp stamp;
    struct desk_recorded made = {0};
    if (!did && !back) {
        return show(c, NULL);
    }
    if (!call_stamp(c, str_of(c->arguments[0]), &stamp) ||
        !desk_recover_did(c->desk, &stamp, back, &c->arena, &made, &c->err)) {
        return failed(c);
    }
    return show(c, &made);
}

static int run_moved(struct call *c)
{
    struct desk_stamp stamp;
    struct desk_recorded made = {0};
    struct desk_moved moved = {str_of(c->arguments[1]), option_str(c, "time"), option_str(c, "slope"),
                               option_str(c, "load")};
    return print_recorded(c,
                          call_stamp(c, str_of(c->arguments[0]), &stamp) &&
                              desk_record_moved(c->desk, &stamp, &moved, &c->arena, &made, &c->err),
                          &made);
}

static const struct option_def recover_options[] = {
    {"distance", 0, "LENGTH", "how far it is to be moved: '200 m'"},
    {"speed", 0, "SPEED", "how fast: '3 km/h'"},
    {"slope", 0, "SLOPE", "how steep, rise to run: '5 %'"},
    {"load", 0, "MASS", "what it carries: '100 kg'"},
    {"did", 0, NULL, "the next step is done: writes down what it opens or closes"},
    {"turn-round", 0, NULL, "on the way out: the last step is undone"},
    {"output", 'o', "FILE", "the whole as a page to take along"},
    {"paper", 0, "NAME", "of the page: A4, A5, Letter (otherwise the depot's)"},
    {"format", 0, "FORMAT", "of the page: pdf, png or svg"},
    {"at", 0, "TIME", "when it was done (otherwise now)"},
    {"note", 'n', "TEXT", "what else is to be said"},
    END_OF_OPTIONS,
};
static const struct option_def moved_options[] = {
    {"time", 0, "TIME", "how long it was on the move: '4 min'"},
    {"slope", 0, "SLOPE", "the steepest, rise to run: '3 %'"},
    {"load", 0, "MASS", "what it carried"},
    {"at", 0, "TIME", "when it was (otherwise now)"},
    {"note", 'n', "TEXT", "what else is to be said"},
    END_OF_OPTIONS,
};

const struct command recover_commands[] = {
    {"recover", "MACHINE", 1, 1, "move a dead machine by the book: steps, tools, limits, and the exact way back",
     "Holds --distance, --speed, --slope and --load against the book's limits and what was moved already (status 5 "
     "when "
     "one is exceeded). --did writes the next step down; until the last one of the way back is, the machine stays on "
     "the "
     "put-back list and can't be handed back.",
     recover_options, run_recover, false, true},
    {"record moved", "MACHINE DISTANCE", 2, 2, "towed or pushed: how far, how long, how steep",
     "Counts towards the limits of the recovery that is on its way.", moved_options, run_moved, false, true},
    {0},
};
