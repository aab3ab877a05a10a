/* witmark machine ...: taking machines in, looking at them. */
#include "cli.h"
#include "desk_putback.h"

#include "desk_exhaust.h"

#include <math.h>

static int run_add(struct call *c)
{
    struct desk_machine_new m = {.serial = str_of(c->arguments[0]),
                                 .label = option_str(c, "label"),
                                 .book = option_str(c, "book"),
                                 .site = option_str(c, "site"),
                                 .options = option_str(c, "with"),
                                 .in_service = DAY_NONE,
                                 .severe = option_given(c, "severe"),
                                 .by = str_of(c->by)};
    struct entry_id id;
    if (!call_at(c, &m.at)) {
        return failed(c);
    }
    if (option_given(c, "in-service") && !day_parse(option_str(c, "in-service"), &m.in_service)) {
        (void)err_set(&c->err, ERR_USAGE, "a day such as 2026-03-01", "--in-service '", option_value(c, "in-service"),
                      "' is no day", (char *)0);
        return failed(c);
    }
    if (!desk_machine_add(c->desk, &m, &id, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    text_addz(&t, "taken in: ");
    text_add(&t, m.label.n ? m.label : m.serial);
    text_addz(&t, ", entry ");
    text_entry_id(&t, id);
    text_char(&t, '\n');
    return print_text(&t);
}

static int run_list(struct call *c)
{
    const struct desk_machine *at = NULL;
    size_t n = 0;
    if (!desk_machines(c->desk, &at, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_machines_json(&j, c->desk, at, n);
        text_char(&t, '\n');
        return print_text(&t);
    }
    struct table table = table_new(&c->arena, 6);
    for (size_t i = 0; i < n; i++) {
        const struct desk_machine *m = &at[i];
        table_add(&table, m->name);
        table_add(&table, m->serial);
        table_add(&table, m->book ? m->book->title : m->book_id);
        table_add(&table, m->site);
        struct text hours = text_new(&c->arena);
        if (m->use.at != INSTANT_NONE) {
            text_number(&hours, m->use.hours_now, 0);
            text_addz(&hours, " h");
        }
        table_add(&table, text_str(&hours));
        struct text state = text_new(&c->arena);
        text_addz(&state, m->out_of_service ? "out of service" : "");
        if (m->n_open) {
            text_addz(&state, state.n ? ", " : "");
            text_int(&state, m->n_open);
            text_addz(&state, " to put back");
        }
        if (m->trouble.n) {
            text_addz(&state, state.n ? ", " : "");
            text_add(&state, m->trouble);
        }
        table_add(&table, text_str(&state));
    }
    table_print(&t, &table);
    return print_text(&t);
}

static void heading(struct text *t, const char *words)
{
    text_join(t, "\n", words, "\n", (char *)0);
}

/* What applies to this serial number. */
static void card(struct call *c, struct text *t, const struct book *b)
{
    struct table table = table_new(&c->arena, 3);
    heading(t, "Fluids");
    for (int i = 0; i < b->n_fluids; i++) {
        struct text capacity = text_new(&c->arena);
        if (b->fluids[i].capacity.given) {
            text_quantity_in(&capacity, b->fluids[i].capacity.q, desk_units(c->desk));
        }
        table_add(&table, b->fluids[i].label);
        table_add(&table, text_str(&capacity));
        table_add(&table, b->fluids[i].is);
    }
    table_print(t, &table);
    heading(t, "Parts");
    table = table_new(&c->arena, 3);
    for (int i = 0; i < b->n_parts; i++) {
        const struct book_part *part = &b->parts[i];
        table_add(&table, part->label);
        table_add(&table, part->now);
        struct text instead = text_new(&c->arena);
        if (!str_eq(part->now, part->number)) {
            text_addz(&instead, "instead of ");
            text_add(&instead, part->number);
        }
        table_add(&table, text_str(&instead));
    }
    table_print(t, &table);
    heading(t, "Torques");
    table = table_new(&c->arena, 3);
    for (int i = 0; i < b->n_torques; i++) {
        struct text torque = text_new(&c->arena);
        text_quantity_in(&torque, b->torques[i].torque.q, desk_units(c->desk));
        table_add(&table, b->torques[i].label);
        table_add(&table, text_str(&torque));
        table_add(&table, b->torques[i].thread);
    }
    table_print(t, &table);
    heading(t, "Readings");
    table = table_new(&c->arena, 3);
    for (int i = 0; i < b->n_checkpoints; i++) {
        if (b->checkpoints[i].kind == CHECK_MEASURE) {
            struct text limits = text_new(&c->arena);
            text_limits(&limits, c->desk, b->checkpoints[i].limits);
            table_add(&table, b->checkpoints[i].label);
            table_add(&table, text_str(&limits));
            table_add(&table, b->checkpoints[i].name);
        }
    }
    table_print(t, &table);
}

/* Where the exhaust filter stands, in two lines; nothing for machines without one. */
static void exhaust_lines(struct call *c, struct text *t, const struct desk_machine *m)
{
    struct err quiet = err_new(&c->arena);
    struct desk_exhaust x;
    if (!m->book->exhaust.given || !desk_exhaust(c->desk, m->serial, &c->arena, &x, &quiet)) {
        return;
    }
    heading(t, "Exhaust filter");
    text_add(t, desk_exhaust_says(c->desk, &c->arena, &x));
    text_char(t, '\n');
}

/* What is open, adjusters at a trial setting among it: before everything else that is said of the machine. */
static void open_text(struct call *c, const struct desk_machine *m, struct text *t)
{
    struct desk_left_open *at = NULL;
    size_t n = 0;
    struct err quiet = err_new(&c->arena);
    if (!desk_put_back_list(c->desk, m->serial, &c->arena, &at, &n, &quiet)) {
        return;
    }
    for (size_t i = 0; i < n; i++) {
        text_addz(t, "OPEN: ");
        text_add(t, at[i].label);
        text_addz(t, ", since ");
        text_local(t, c->desk, at[i].since);
        text_addz(t, ", ");
        text_add(t, at[i].by);
        text_char(t, '\n');
    }
}

static int run_show(struct call *c)
{
    const struct desk_machine *m = desk_machine_find(c->desk, str_of(c->arguments[0]), &c->err);
    if (!m) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        if (!desk_machine_json(&j, c->desk, m, &c->arena, &c->err)) {
            return failed(c);
        }
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, m->name);
    text_addz(&t, "  ");
    text_add(&t, m->book ? m->book->title : m->book_id);
    text_addz(&t, "  ");
    text_add(&t, m->serial);
    if (m->use.at != INSTANT_NONE) {
        text_addz(&t, "  ");
        text_number(&t, m->use.hours_now, 1);
        text_addz(&t, " h on ");
        text_local(&t, c->desk, m->use.at);
    }
    text_char(&t, '\n');
    open_text(c, m, &t);
    if (m->trouble.n) {
        text_add(&t, m->trouble);
        text_char(&t, '\n');
    }
    if (m->book) {
        text_add(&t, m->book->first_words);
        text_char(&t, '\n');
        exhaust_lines(c, &t, m);
        card(c, &t, m->book);
        if (option_given(c, "names")) {
            heading(&t, "Checkpoints, tasks and put-back items");
            struct table table = table_new(&c->arena, 2);
            for (int i = 0; i < m->book->n_checkpoints; i++) {
                table_add(&table, m->book->checkpoints[i].name);
                table_add(&table, m->book->checkpoints[i].label);
            }
            for (int i = 0; i < m->book->n_tasks; i++) {
                table_add(&table, m->book->tasks[i].name);
                table_add(&table, m->book->tasks[i].label);
            }
            for (int i = 0; i < m->book->n_open_items; i++) {
                table_add(&table, m->book->open_items[i].name);
                table_add(&table, m->book->open_items[i].label);
            }
            table_print(&t, &table);
        }
    }
    return print_text(&t);
}

static const struct option_def add_options[] = {
    {"label", 'l', "LABEL", "the depot's own number, e.g. B-03"},
    {"book", 0, "ID", "its book (otherwise found by the serial number)"},
    {"with", 0, "OPTIONS", "options fitted, separated by commas"},
    {"site", 0, "SITE", "where it works"},
    {"in-service", 0, "DAY", "the day it went into service"},
    {"severe", 0, NULL, "severe duty: the shorter intervals apply"},
    {"at", 0, "TIME", "when it was taken in (otherwise now)"},
    {NULL, 0, NULL, NULL},
};
static const struct option_def show_options[] = {
    {"names", 0, NULL, "also the names to record by"},
    {NULL, 0, NULL, NULL},
};

const struct command machine_commands[] = {
    {"machine add", "SERIAL", 1, 1, "take a machine in, or change its options", NULL, add_options, run_add, false,
     true},
    {"machine list", "", 0, 0, "all machines", NULL, NULL, run_list, false, false},
    {"machine show", "MACHINE", 1, 1, "what applies to this serial number: fluids, parts, torques, limits", NULL,
     show_options, run_show, false, false},
    {0},
};
