/* witmark calc ...: the workshop's arithmetic, from the list of calculations in the core. Needs no depot. */
#include "cli.h"

#include "calc/calc_book.h"
#include "calc/calc_json.h"

/* The calculation of that name; says which one was meant when there is none. */
static const struct calc *find_calc(struct call *c, const char *name)
{
    const struct calc *calc = calc_find(str_of(name));
    if (!calc) {
        const struct calc *near = calc_nearest(str_of(name));
        struct text right = text_new(&c->arena);
        text_join(&right, near ? "did you mean " : "witmark calc list has all", near ? near->name : "", near ? "?" : "",
                  (char *)0);
        (void)err_set(&c->err, ERR_MISSING, text_z(&right), "no calculation '", name, "'", (char *)0);
    }
    return calc;
}

static int run_list(struct call *c)
{
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_array(&j, NULL);
        for (size_t i = 0; calc_at(i); i++) {
            json_calc(&j, NULL, calc_at(i));
        }
        json_end_array(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    struct table table = table_new(&c->arena, 2);
    for (size_t i = 0; calc_at(i); i++) {
        table_addz(&table, calc_at(i)->name);
        table_addz(&table, calc_at(i)->title);
    }
    table_print(&t, &table);
    return print_text(&t);
}

/* How a field is written: a number's unit, or the sort of value. */
static const char *field_sort(const struct calc_field *f)
{
    switch (f->form) {
    case CALC_NUMBER:
        return f->unit ? f->unit : "number";
    case CALC_LIST:
        return f->unit ? f->unit : "numbers";
    case CALC_FLAG:
        return "yes or no";
    case CALC_TEXT:
    case CALC_ABSENT:
    case CALC_NONE:
        break;
    }
    return "text";
}

/* One line of `calc show`: name, unit, meaning and what is taken when it is not given. */
static void show_field(struct table *table, struct arena *a, const struct calc_field *f)
{
    struct text name = text_new(a);
    struct text meaning = text_new(a);
    text_join(&name, "  ", f->name, (char *)0);
    text_join(&meaning, f->meaning, f->form == CALC_LIST ? "; several, separated by commas" : "", (char *)0);
    if (f->preset && f->preset[0]) {
        text_join(&meaning, " (", f->preset, " when not given)", (char *)0);
    } else if (f->preset) {
        text_addz(&meaning, " (may be left out)");
    }
    table_add(table, text_str(&name));
    table_addz(table, field_sort(f));
    table_add(table, text_str(&meaning));
}

static void show_fields(struct text *t, struct arena *a, const char *heading, const struct calc_field *at, size_t n)
{
    struct table table = table_new(a, 3);
    for (size_t i = 0; i < n; i++) {
        show_field(&table, a, &at[i]);
    }
    text_join(t, "\n", heading, "\n", (char *)0);
    table_print(t, &table);
}

static int run_show(struct call *c)
{
    const struct calc *calc = find_calc(c, c->arguments[0]);
    if (!calc) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_calc(&j, NULL, calc);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_join(&t, calc->name, ": ", calc->title, "\n", (char *)0);
    show_fields(&t, &c->arena, "inputs", calc->inputs, calc_input_count(calc));
    show_fields(&t, &c->arena, "outputs", calc->outputs, calc_output_count(calc));
    text_join(
        &t, "\nformula  ", calc->formula, "\nsource   ", calc->source,
        "\n\nAn input outside the range in which the formula holds is refused, and the refusal names the range.\n",
        (char *)0);
    return print_text(&t);
}

/* Gives the words after the name to the inputs: NAME=VALUE by name, a bare value to the first input not named yet. */
static bool give_words(struct call *c, struct calc_call *call, int first, const struct book *book)
{
    for (int i = first; i < c->n; i++) {
        struct str value = str_of(c->arguments[i]);
        ptrdiff_t equals = str_find(value, S("="));
        struct str name = str_cut(value, 0, equals > 0 ? (size_t)equals : 0);
        value = equals > 0 ? str_cut(value, (size_t)equals + 1, value.n) : value;
        for (size_t k = 0; equals <= 0 && k < calc_input_count(call->calc) && name.n == 0; k++) {
            if (call->in[k].form == CALC_ABSENT) {
                name = str_of(call->calc->inputs[k].name);
            }
        }
        if (name.n == 0) {
            return err_set(&c->err, ERR_USAGE, "inputs as NAME=VALUE", call->calc->name, " has no input left for '",
                           c->arguments[i], "'", (char *)0);
        }
        const struct calc_field *f = calc_input(call->calc, name);
        if (f && call->in[f - call->calc->inputs].form != CALC_ABSENT) {
            return err_set(&c->err, ERR_USAGE, "each input once", f->name, " is given twice", (char *)0);
        }
        if (book ? !calc_give_of_book(call, book, name, value, &c->err) : !calc_give(call, name, value, &c->err)) {
            return false;
        }
    }
    return true;
}

static void answer_fields(struct text *t, struct arena *a, const struct calc_field *at, const struct calc_value *v,
                          size_t n, enum unit_system units)
{
    struct table table = table_new(a, 3);
    for (size_t i = 0; i < n; i++) {
        if (v[i].form == CALC_ABSENT) {
            continue;
        }
        struct text shown = text_new(a);
        text_calc_value(&shown, &at[i], &v[i], units);
        table_addz(&table, at[i].name);
        table_add(&table, text_str(&shown));
        table_addz(&table, at[i].meaning);
    }
    table_print(t, &table);
}

/* The answer; with --why also what it was computed from, the formula and its source. */
static int print_answer(struct call *c, const struct calc_call *call, enum unit_system units)
{
    const struct calc *calc = call->calc;
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_calc_answer(&j, NULL, call, units);
        text_char(&t, '\n');
        return print_text(&t);
    }
    answer_fields(&t, &c->arena, calc->outputs, call->out, calc_output_count(calc), units);
    if (option_given(c, "why")) {
        text_addz(&t, "\nfrom\n");
        answer_fields(&t, &c->arena, calc->inputs, call->in, calc_input_count(calc), units);
        text_join(&t, "\nformula  ", calc->formula, "\nsource   ", calc->source, "\n", (char *)0);
    }
    return print_text(&t);
}

static int run_calc(struct call *c)
{
    enum unit_system units = UNITS_AS_WRITTEN;
    if (!unit_system_parse(str_of(c->units), &units)) {
        (void)err_set(&c->err, ERR_USAGE, "as-written, si or us", "--units '", c->units, "'", (char *)0);
        return failed(c);
    }
    const struct calc *calc = find_calc(c, c->arguments[0]);
    if (!calc) {
        return failed(c);
    }
    struct calc_call call = calc_call_new(calc, &c->arena);
    if (!give_words(c, &call, 1, NULL) || !calc_run(&call, &c->err)) {
        return failed(c);
    }
    return print_answer(c, &call, units);
}

/* The same with what a machine's book gives. */
static int run_machine_calc(struct call *c)
{
    const struct desk_machine *all = NULL;
    size_t n = 0;
    const struct calc *calc = find_calc(c, c->arguments[1]);
    if (!calc || !desk_machines(c->desk, &all, &n, &c->err)) {
        return failed(c);
    }
    const struct desk_machine *m = desk_machine_find(c->desk, str_of(c->arguments[0]), &c->err);
    if (m && !m->book) {
        (void)err_set(&c->err, ERR_MISSING, NULL, str_z(&c->arena, m->name), ": ", str_z(&c->arena, m->trouble),
                      (char *)0);
    }
    struct calc_call call = calc_call_new(calc, &c->arena);
    if (!m || !m->book || !give_words(c, &call, 2, m->book) || !calc_run(&call, &c->err)) {
        return failed(c);
    }
    return print_answer(c, &call, desk_units(c->desk));
}

static const struct option_def calc_options[] = {
    {"why", 'w', NULL, "also what it was computed from, the formula and its source"},
    END_OF_OPTIONS,
};

const struct command calc_commands[] = {
    {"calc list", "", 0, 0, "the workshop's calculations, one a line", NULL, NULL, run_list, true, false},
    {"calc show", "NAME", 1, 1, "what a calculation needs and gives, its formula and source", NULL, NULL, run_show,
     true, false},
    {"calc", "NAME [INPUT=VALUE...]", 1, -1, "a calculation of the workshop, with units",
     "Values carry their unit: witmark calc tyre-pressure gauge='22 psi' from=41degC to=20degC. A list is separated by "
     "commas. A value without a name goes to the first input not yet given: witmark calc convert '22 psi' bar. What "
     "lies outside the range in which the formula holds is refused.",
     calc_options, run_calc, true, false},
    {"machine calc", "MACHINE NAME [INPUT=VALUE...]", 2, -1, "a calculation with figures of the machine's book",
     "As calc, and a value may be words of the book: witmark machine calc M-04 crowfoot 'torque=torque of "
     "wheel-nut/front' "
     "wrench=450mm adapter=60mm. They are: torque of TORQUE, capacity of FLUID, viscosity of FLUID at 40 degC, want, "
     "low or "
     "high of CHECKPOINT, a figure given for a CHECKPOINT (span of fan-belt), tow distance, speed, slope or time.",
     calc_options, run_machine_calc, false, false},
    {0},
};
