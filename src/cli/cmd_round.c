/* witmark round, kit, sheet, label: a walk round one machine, what to bring, and on paper. */
#include "cli.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

/* The round that the options ask for. */
static bool ask_round(struct call *c, struct desk_round *round)
{
    struct desk_round_ask ask = {.machine = str_of(c->arguments[0]), .scope = option_str(c, "scope")};
    double number = 0;
    struct {
        const char *name;
        double *to;
    } numbers[] = {{"within", &ask.within_hours}, {"minutes", &ask.minutes}, {"days", &number}};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        const char *value = option_value(c, numbers[i].name);
        if (value && (!num_parse(str_of(value), numbers[i].to) || *numbers[i].to <= 0)) {
            return err_set(&c->err, ERR_USAGE, "a number above 0", "--", numbers[i].name, " '", value, "' is no number",
                           (char *)0);
        }
    }
    ask.within_days = (int)number;
    if (ask.scope.n == 0 && (option_given(c, "within") || option_given(c, "days"))) {
        ask.scope = S("within");
    }
    return desk_round(c->desk, &ask, &c->arena, round, &c->err);
}

static void cautions_text(struct text *t, const struct book *b, struct book_refs refs, const char *indent)
{
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *caution = &b->cautions[refs.at[i]];
        text_join(t, indent, "! ", book_caution_level_text(caution->level), ": ", (char *)0);
        text_add(t, caution->say);
        text_char(t, '\n');
    }
}

static void open_text(struct text *t, const struct book *b, struct book_refs refs, const char *indent, const char *word)
{
    for (int i = 0; i < refs.n; i++) {
        text_join(t, indent, word, (char *)0);
        text_add(t, b->open_items[refs.at[i]].label);
        text_char(t, '\n');
    }
}

static void place_text(struct text *t, const struct book *b, int place)
{
    if (place != BOOK_NONE) {
        text_addz(t, "  [");
        text_add(t, b->places[place].label);
        text_addz(t, "]");
    }
}

static void check_text(struct text *t, struct call *c, const struct book_checkpoint *p)
{
    if (p->kind == CHECK_MEASURE) {
        text_addz(t, "       read ");
        text_add(t, p->measure);
        text_addz(t, ": ______  limits ");
        text_limits(t, c->desk, p->limits);
        for (int i = 0; i < p->n_also; i++) {
            text_addz(t, "; ");
            text_add(t, p->also[i].name);
            text_addz(t, " ______");
        }
        text_char(t, '\n');
        return;
    }
    for (int i = 0; i < p->look.n; i++) {
        text_addz(t, i ? ", " : "       look for ");
        text_add(t, p->look.at[i]);
    }
    text_addz(t, p->look.n ? "\n" : "");
}

static void task_text(struct text *t, struct call *c, const struct book *b, const struct desk_round_step *step)
{
    const struct book_task *task = &b->tasks[step->task];
    for (int i = step->from; i < step->to; i++) {
        const struct book_step *s = &task->steps[i];
        cautions_text(t, b, s->cautions, "       ");
        text_addz(t, "       - ");
        text_step(t, s, desk_units(c->desk));
        for (int k = 0; k < s->torques.n; k++) {
            text_addz(t, k ? ", " : " (");
            text_quantity_in(t, b->torques[s->torques.at[k]].torque.q, desk_units(c->desk));
        }
        text_addz(t, s->torques.n ? ")\n" : "\n");
        open_text(t, b, s->opens, "         ", "put back later: ");
        open_text(t, b, s->closes, "         ", "put back: ");
    }
}

static void step_text(struct text *t, struct call *c, const struct book *b, const struct desk_round_step *step)
{
    struct text n = text_new(&c->arena);
    text_int(&n, step->n);
    text_char(&n, '.');
    if (step->type == STEP_CHANGE) {
        const struct book_change *change = &b->changes[step->change];
        cautions_text(t, b, change->cautions, "       ");
        text_pad(t, text_str(&n), 5);
        text_addz(t, "* ");
        text_add(t, change->act);
        place_text(t, b, step->place);
        text_addz(t, "  ");
        text_time(t, step->takes_s);
        text_char(t, '\n');
        open_text(t, b, change->opens, "       ", "put back later: ");
        open_text(t, b, change->closes, "       ", "put back: ");
        return;
    }
    bool check = step->type == STEP_CHECK;
    struct book_refs cautions = check ? b->checkpoints[step->checkpoint].cautions : b->tasks[step->task].cautions;
    if (check || step->from == 0) {
        cautions_text(t, b, cautions, "       ");
    }
    text_pad(t, text_str(&n), 5);
    text_addz(t, "  ");
    text_add(t, check ? b->checkpoints[step->checkpoint].label : b->tasks[step->task].label);
    if (!check && step->from > 0) {
        text_addz(t, " (goes on)");
    }
    place_text(t, b, step->place);
    text_addz(t, "  ");
    text_time(t, step->takes_s);
    if (step->why.n) {
        text_addz(t, "  - ");
        text_add(t, step->why);
    }
    text_char(t, '\n');
    if (check) {
        check_text(t, c, &b->checkpoints[step->checkpoint]);
    } else {
        task_text(t, c, b, step);
    }
}

static void kit_list(struct text *t, const char *title, const struct desk_kit_line *at, size_t n, struct arena *a)
{
    if (n == 0) {
        return;
    }
    text_join(t, "\n", title, "\n", (char *)0);
    struct table table = table_new(a, 4);
    for (size_t i = 0; i < n; i++) {
        table_add(&table, at[i].quantity);
        table_add(&table, at[i].label);
        struct text number = text_new(a);
        text_add(&number, at[i].number);
        if (at[i].instead_of.n) {
            text_addz(&number, " (was ");
            text_add(&number, at[i].instead_of);
            text_char(&number, ')');
        }
        table_add(&table, text_str(&number));
        table_add(&table, at[i].note);
    }
    table_print(t, &table);
}

static void kit_words(struct text *t, const char *title, const struct str *at, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        text_join(t, i ? ", " : "\n", i ? "" : title, i ? "" : ": ", (char *)0);
        text_add(t, at[i]);
    }
    text_addz(t, n ? "\n" : "");
}

static void kit_text(struct text *t, const struct desk_kit *kit, struct arena *a)
{
    kit_list(t, "Parts", kit->parts, kit->n_parts, a);
    kit_list(t, "Fluids", kit->fluids, kit->n_fluids, a);
    kit_list(t, "Torques", kit->torques, kit->n_torques, a);
    kit_words(t, "Take back", kit->waste, kit->n_waste);
    kit_words(t, "Tools", kit->tools, kit->n_tools);
    kit_words(t, "Wear", kit->equipment, kit->n_equipment);
}

/* "12 min of walking and changes: the fastest safe order, proven" */
static void quality_text(struct text *t, const struct desk_round *r)
{
    text_time(t, r->total_s);
    text_addz(t, ", of it ");
    text_time(t, r->moves_s);
    text_addz(t, " walking and changing the machine's condition: ");
    if (r->proven) {
        text_addz(t, "the fastest safe order, proven\n");
    } else {
        text_addz(t, "within ");
        text_number(t, r->bound_s > 0 ? ceil((r->moves_s / r->bound_s - 1) * 100) : 100, 0);
        text_addz(t, " % of the fastest safe order\n");
    }
}

static int run_round(struct call *c)
{
    struct desk_round round;
    struct desk_kit kit;
    if (!ask_round(c, &round) || !desk_kit_of_round(c->desk, &round, &c->arena, &kit, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_round_json(&j, c->desk, &round, &kit);
        text_char(&t, '\n');
        return print_text(&t);
    }
    if (option_given(c, "print-json")) {
        return desk_print_round(c->desk, &round, (struct str){0}, &t, &c->err) ? print_text(&t) : failed(c);
    }
    const struct book *b = round.machine->book;
    text_add(&t, round.machine->name);
    text_addz(&t, "  ");
    text_add(&t, b->title);
    text_addz(&t, "  ");
    text_add(&t, round.machine->serial);
    text_addz(&t, "\n");
    text_add(&t, round.title);
    text_addz(&t, "\n");
    if (round.n == 0) {
        text_addz(&t, "nothing to do\n");
        return print_text(&t);
    }
    text_add(&t, b->first_words);
    text_addz(&t, "\n");
    quality_text(&t, &round);
    text_char(&t, '\n');
    for (size_t i = 0; i < round.n; i++) {
        if (round.steps[i].type != STEP_WALK) {
            step_text(&t, c, b, &round.steps[i]);
        }
    }
    for (size_t i = 0; i < round.n_left; i++) {
        text_addz(&t, i ? ", " : "\nLeft for another time: ");
        text_add(&t, round.left[i].label);
    }
    text_addz(&t, round.n_left ? "\n" : "");
    kit_text(&t, &kit, &c->arena);
    return print_text(&t);
}

static int run_kit(struct call *c)
{
    struct desk_round round;
    struct desk_kit kit;
    if (!ask_round(c, &round) || !desk_kit_of_round(c->desk, &round, &c->arena, &kit, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_kit_json(&j, &kit);
        text_char(&t, '\n');
    } else {
        text_add(&t, round.machine->name);
        text_addz(&t, ": ");
        text_add(&t, round.title);
        text_char(&t, '\n');
        kit_text(&t, &kit, &c->arena);
    }
    return print_text(&t);
}

int print_page(struct call *c, struct str bytes)
{
    const char *path = option_value(c, "output");
    if (!path) {
        if (isatty(1)) {
            (void)err_set(&c->err, ERR_USAGE, "--output FILE, or a pipe", "a page is not for a terminal", (char *)0);
            return failed(c);
        }
        struct text t = {.a = &c->arena, .p = (char *)(uintptr_t)bytes.p, .n = bytes.n};
        return print_text(&t);
    }
    struct text beside = text_new(&c->arena);
    text_join(&beside, path, ".part", (char *)0);
    FILE *f = fopen(text_z(&beside), "wb");
    bool ok = f && fwrite(bytes.p, 1, bytes.n, f) == bytes.n;
    ok = (!f || fclose(f) == 0) && ok && rename(text_z(&beside), path) == 0;
    if (!ok) {
        (void)unlink(text_z(&beside));
        (void)err_set(&c->err, ERR_SYSTEM, NULL, "cannot write ", path, (char *)0);
        return failed(c);
    }
    return EXIT_FINE;
}

int print_document(struct call *c, const struct text *document, const char *format)
{
    struct str out = {0};
    struct str said = {0};
    const char *asked = option_value(c, "format");
    if (!desk_print(text_str(document), asked ? asked : format, &c->arena, &out, &said, &c->err)) {
        return failed(c);
    }
    if (said.n) {
        (void)fprintf(stderr, "%.*s\n", STR_ARG(said));
    }
    return print_page(c, out);
}

static int run_sheet(struct call *c)
{
    struct desk_round round;
    struct text document = text_new(&c->arena);
    if (!ask_round(c, &round) || !desk_print_round(c->desk, &round, option_str(c, "paper"), &document, &c->err)) {
        return failed(c);
    }
    return print_document(c, &document, "pdf");
}

static int run_label(struct call *c)
{
    struct text document = text_new(&c->arena);
    struct str *machines = ARENA_ARRAY(&c->arena, struct str, c->n);
    for (int i = 0; i < c->n; i++) {
        machines[i] = str_of(c->arguments[i]);
    }
    if (!desk_print_labels(c->desk, machines, (size_t)c->n, option_str(c, "paper"), &document, &c->err)) {
        return failed(c);
    }
    return print_document(c, &document, "pdf");
}

#define ROUND_OPTIONS                                                                                 \
    {"scope", 's', "WHAT",                                                                            \
     "daily, due, within, a service, or names of checkpoints and tasks with commas (otherwise due)"}, \
        {"within", 'w', "HOURS", "also what is due within so many machine hours"},                    \
        {"days", 0, "DAYS", "also what is due within so many days"},                                  \
    {                                                                                                 \
        "minutes", 'm', "MINUTES", "what there is time for: the most urgent things that fit"          \
    }
#define PAGE_OPTIONS                                                                \
    {"output", 'o', "FILE", "write there (otherwise to standard output)"},          \
        {"paper", 'p', "SIZE", "A4, A5 or Letter (otherwise the depot's setting)"}, \
    {                                                                               \
        "format", 0, "FORMAT", "pdf, png or svg"                                    \
    }

static const struct option_def round_options[] = {
    ROUND_OPTIONS, {"print-json", 0, NULL, "the document that witmark-sheet reads"}, END_OF_OPTIONS};
static const struct option_def kit_options[] = {ROUND_OPTIONS, END_OF_OPTIONS};
static const struct option_def sheet_options[] = {ROUND_OPTIONS, PAGE_OPTIONS, END_OF_OPTIONS};
static const struct option_def label_options[] = {PAGE_OPTIONS, END_OF_OPTIONS};

const struct command round_commands[] = {
    {"round", "MACHINE", 1, 1, "the fastest safe order of checks and work, from parked to parked",
     "No step under a body that is not propped, none on a hot or pressurised system; drain before refill, refill "
     "before start. Cautions "
     "stand before the step they guard.",
     round_options, run_round, false, false},
    {"kit", "MACHINE", 1, 1, "parts, fluids, tools and protective equipment for a round", NULL, kit_options, run_kit,
     false, false},
    {"sheet", "MACHINE", 1, 1, "the round as a page to print", NULL, sheet_options, run_sheet, false, false},
    {"label", "MACHINE...", 1, 200, "labels with QR code", NULL, label_options, run_label, false, false},
    {0},
};
