/* witmark trace, witmark faults. */
#include "cli.h"

#include "desk_trace.h"

#include <math.h>

#define BAR 20 /* characters of a full bar */
#define LADDER_MOST 8

static void add_percent(struct text *t, double p)
{
    text_number(t, 100 * p, p < 0.095 ? 1 : 0);
    text_addz(t, " %");
}

static struct str percent(struct arena *a, double p)
{
    struct text t = text_new(a);
    add_percent(&t, p);
    return text_str(&t);
}

/* "#####....." */
static struct str bar(struct arena *a, double p)
{
    struct text t = text_new(a);
    int full = (int)lround(p * BAR);
    for (int i = 0; i < BAR; i++) {
        text_char(&t, i < full ? '#' : '.');
    }
    return text_str(&t);
}

static void print_line(struct text *t, const char *head, struct str words)
{
    if (words.n) {
        text_addz(t, head);
        text_add(t, words);
        text_char(t, '\n');
    }
}

static void print_known(struct text *t, const struct desk_trace *trace)
{
    text_addz(t, "\nWhat is known\n");
    for (int i = 0; i < trace->n_items; i++) {
        const struct desk_trace_item *item = &trace->items[i];
        bool cure = item->sort == TRACE_CURE;
        if (item->state == ITEM_OPEN) {
            continue;
        }
        text_addz(t, item->state == ITEM_CANNOT ? "  can't be done here: " : "  ");
        text_add(t, item->label);
        if (item->state != ITEM_CANNOT) {
            text_addz(t, item->state == ITEM_YES ? (cure ? ": done, cured" : ": yes")
                                                 : (cure ? ": done, not cured" : ": no"));
        }
        if (item->from.n) {
            text_addz(t, "  (");
            text_add(t, item->from);
            text_char(t, ')');
        }
        text_char(t, '\n');
    }
}

static void print_ladder(struct call *c, struct text *t, const struct desk_trace *trace)
{
    struct table table = table_new(&c->arena, 4);
    int left_out = 0;
    for (int i = 0; i < trace->n_causes; i++) {
        const struct desk_trace_cause *cause = &trace->causes[i];
        if (i >= LADDER_MOST || (i > 2 && cause->p < 0.005)) {
            left_out++;
            continue;
        }
        struct text label = text_new(&c->arena);
        text_add(&label, cause->label);
        text_addz(&label, "  [");
        text_add(&label, cause->name);
        text_char(&label, ']');
        if (cause->confirmed) {
            text_addz(&label, "  confirmed here ");
            text_int(&label, cause->confirmed);
            text_addz(&label, cause->confirmed == 1 ? " time" : " times");
        }
        table_addz(&table, " ");
        table_add(&table, percent(&c->arena, cause->p));
        table_add(&table, bar(&c->arena, cause->p));
        table_add(&table, text_str(&label));
    }
    table_addz(&table, " ");
    table_add(&table, percent(&c->arena, trace->p_other));
    table_add(&table, bar(&c->arena, trace->p_other));
    table_addz(&table, "something that is not in the book");
    text_addz(t, "\nWhat may be behind it\n");
    table_print(t, &table);
    if (left_out) {
        text_addz(t, "  and ");
        text_int(t, left_out);
        text_addz(t, " less likely\n");
    }
    if (trace->two) {
        text_addz(t, "  Two causes at once: ");
        add_percent(t, trace->p_two);
        text_addz(t, "; the steps reckon with that.\n");
    }
}

/* What the log says for or against the likely causes. */
static void print_facts(struct text *t, const struct desk_trace *trace)
{
    bool head = false;
    for (int i = 0; i < trace->n_causes && i < LADDER_MOST; i++) {
        const struct desk_trace_cause *cause = &trace->causes[i];
        for (int k = 0; k < cause->n_facts; k++) {
            double factor = cause->facts[k].factor;
            if (factor < 1.5 && factor > 0.67) {
                continue;
            }
            text_addz(t, head ? "" : "\nWhat the log says\n");
            head = true;
            text_addz(t, "  ");
            text_add(t, cause->label);
            text_addz(t, ": ");
            text_number(t, factor, factor < 10 ? 1 : 0);
            text_addz(t, factor > 1 ? " times likelier, " : " times as likely, ");
            text_add(t, cause->facts[k].says);
            text_char(t, '\n');
        }
    }
}

/* Likeliest causes after a result. */
static void print_after(struct text *t, const struct desk_trace *trace, const struct desk_trace_after *at, int n)
{
    for (int i = 0; i < n && (i < 2 || at[i].p > 0.1); i++) {
        text_addz(t, i ? ", " : "");
        text_add(t, trace->causes[at[i].cause].label);
        text_char(t, ' ');
        add_percent(t, at[i].p);
    }
    text_char(t, '\n');
}

static void print_takes(struct text *t, const struct desk_trace_item *item)
{
    text_addz(t, "    takes about ");
    text_number(t, item->work_minutes, item->work_minutes < 2 ? 1 : 0);
    text_addz(t, " min");
    if (item->minutes > item->work_minutes + 0.5) {
        text_addz(t, ", with what is used up worth ");
        text_number(t, item->minutes, 0);
        text_addz(t, " min");
    }
    text_char(t, '\n');
}

/* What the step would tell. */
static void print_tells(struct text *t, const struct desk_trace *trace, const struct desk_trace_step *step)
{
    const struct desk_trace_item *item = &trace->items[step->item];
    if (item->sort == TRACE_CURE) {
        text_addz(t, "    cures it in ");
        add_percent(t, step->p_yes);
        text_addz(t, "\n    if it is still there: ");
        print_after(t, trace, step->if_no, step->n_no);
        return;
    }
    text_addz(t, "    if yes");
    text_addz(t, item->yes.n ? " - " : "");
    text_add(t, item->yes);
    text_addz(t, " (");
    add_percent(t, step->p_yes);
    text_addz(t, "): ");
    print_after(t, trace, step->if_yes, step->n_yes);
    text_addz(t, "    if no");
    text_addz(t, item->no.n ? " - " : "");
    text_add(t, item->no);
    text_addz(t, ": ");
    print_after(t, trace, step->if_no, step->n_no);
}

/* The one next step: its cautions before it. */
static void print_step(struct text *t, const struct desk_trace *trace, const struct desk_trace_step *step)
{
    const struct desk_trace_item *item = &trace->items[step->item];
    text_addz(t, "\nNext step\n");
    for (int i = 0; i < item->n_cautions; i++) {
        text_join(t, "  ", book_caution_level_text(item->cautions[i]->level), ": ", (char *)0);
        text_add(t, item->cautions[i]->say);
        text_char(t, '\n');
    }
    text_join(t, "  ", item->kind, ": ", (char *)0);
    text_add(t, item->act);
    text_addz(t, "  [");
    text_add(t, item->name);
    text_addz(t, "]\n");
    print_line(t, "    where: ", item->place);
    print_line(t, "    machine: ", item->needs);
    for (int i = 0; i < item->tools.n; i++) {
        text_addz(t, i ? ", " : "    tools: ");
        text_add(t, item->tools.at[i]);
        text_addz(t, i + 1 == item->tools.n ? "\n" : "");
    }
    print_line(t, "    ", item->note);
    print_takes(t, item);
    if (item->sort != TRACE_CALL) {
        print_tells(t, trace, step);
    }
    if (item->adjuster != BOOK_NONE || item->task != BOOK_NONE) {
        text_addz(t, item->adjuster != BOOK_NONE ? "    count the turns: witmark adjust "
                                                 : "    when it is done, also: witmark record done ");
        text_add(t, trace->machine->serial);
        text_char(t, ' ');
        text_add(t, item->name);
        text_char(t, '\n');
    }
}

/* Why this one: what it costs in expectation against the others. */
static void print_reckoning(struct text *t, const struct desk_trace *trace)
{
    text_addz(t, "\nWhy this step\n  Expected until it is right, this step first: ");
    text_number(t, trace->high, 0);
    text_addz(t, " min");
    if (trace->exact) {
        text_addz(t, "; no order of steps costs less.\n");
    } else {
        text_addz(t, "; no order of steps can cost less than ");
        text_number(t, trace->low, 0);
        text_addz(t, " min.\n");
    }
    for (int i = 1; i < trace->n_steps; i++) {
        text_addz(t, "  ");
        text_add(t, trace->items[trace->steps[i].item].label);
        text_addz(t, " first: ");
        text_number(t, trace->steps[i].high, 0);
        text_addz(t, " min\n");
    }
    if (trace->straight > trace->high + 0.5) {
        text_addz(t, "  Cures alone, by probability over cost: ");
        text_number(t, trace->straight, 0);
        text_addz(t, " min\n");
    }
}

static void print_trace(struct call *c, struct text *t, const struct desk_trace *trace)
{
    text_add(t, trace->machine->name);
    text_addz(t, ": ");
    text_add(t, trace->machine->book->symptoms[trace->symptom].label);
    if (trace->started) {
        text_addz(t, ", traced since ");
        text_local(t, c->desk, trace->since);
    } else {
        text_addz(t, " (nothing noted yet)");
    }
    text_char(t, '\n');
    print_known(t, trace);
    print_ladder(c, t, trace);
    print_facts(t, trace);
    if (trace->cured) {
        text_addz(t, "\nIt is right again. End it with its cause: --cause ");
        text_add(t, trace->causes[0].name);
        text_char(t, '\n');
        return;
    }
    if (trace->n_steps) {
        print_step(t, trace, &trace->steps[0]);
        print_reckoning(t, trace);
    }
    text_addz(
        t, "\nNote it with --saw or --not SIGN, --did STEP --result yes|no|cured|still, --cannot STEP, --cause CAUSE;\n"
           "ask with --why CAUSE or STEP. The maker's manual and local rules come first.\n");
}

/* All words after the machine as one text. */
static struct str words_of(struct call *c)
{
    struct text t = text_new(&c->arena);
    for (int i = 1; i < c->n; i++) {
        text_join(&t, i > 1 ? " " : "", c->arguments[i], (char *)0);
    }
    return text_str(&t);
}

static int run_why_trace(struct call *c, struct str machine, struct str words)
{
    struct desk_why why;
    bool ok = desk_trace_why(c->desk, machine, words, option_str(c, "why"), &c->arena, &why, &c->err);
    return ok ? print_why(c, &why) : failed(c);
}

/* Open and ended traces. */
static int run_list(struct call *c, struct str machine)
{
    struct desk_trace_head *at = NULL;
    size_t n = 0;
    if (!desk_traces(c->desk, machine, &c->arena, &at, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_traces_json(&j, c->desk, at, n);
        text_char(&t, '\n');
        return print_text(&t);
    }
    struct table table = table_new(&c->arena, 4);
    for (size_t i = 0; i < n; i++) {
        struct text since = text_new(&c->arena);
        struct text end = text_new(&c->arena);
        text_local(&since, c->desk, at[i].since);
        if (at[i].ended_at == INSTANT_NONE) {
            text_addz(&end, "open, ");
            text_int(&end, (int64_t)at[i].n_events);
            text_addz(&end, at[i].n_events == 1 ? " entry" : " entries");
        } else {
            text_addz(&end, at[i].cause.n ? "cause: " : "given up without a cause");
            text_add(&end, at[i].cause);
        }
        table_add(&table, text_str(&since));
        table_add(&table, at[i].machine->name);
        table_add(&table, at[i].label);
        table_add(&table, text_str(&end));
    }
    table_print(&t, &table);
    text_addz(&t, n == 0 ? "No traces. Say what it does: witmark trace MACHINE WORDS\n" : "");
    return print_text(&t);
}

static bool notes_something(const struct call *c)
{
    static const char *const names[] = {"saw", "not", "did", "cannot", "cause", "start"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (option_given(c, names[i])) {
            return true;
        }
    }
    return false;
}

/* Writes what the options say; the lines of what was written go to t. */
static bool note_options(struct call *c, struct str machine, struct str words, struct text *t)
{
    struct desk_stamp stamp;
    struct str says = {0};
    struct desk_trace_note note = {.words = words,
                                   .saw = option_str(c, "saw"),
                                   .saw_not = option_str(c, "not"),
                                   .did = option_str(c, "did"),
                                   .result = option_str(c, "result"),
                                   .cannot = option_str(c, "cannot"),
                                   .cause = option_str(c, "cause"),
                                   .mode = option_str(c, "mode"),
                                   .mechanism = option_str(c, "mechanism"),
                                   .root = option_str(c, "root")};
    if (!call_stamp(c, machine, &stamp) || !desk_trace_record(c->desk, &stamp, &note, &c->arena, &says, &c->err)) {
        return false;
    }
    text_add(t, says);
    return true;
}

static int run_trace(struct call *c)
{
    struct str machine = c->n ? str_of(c->arguments[0]) : (struct str){0};
    struct str words = words_of(c);
    struct text t = text_new(&c->arena);
    struct desk_trace trace;
    if (c->n == 0 || option_given(c, "list")) {
        return run_list(c, machine);
    }
    if (option_given(c, "output")) {
        return desk_print_trace(c->desk, machine, words, option_str(c, "paper"), &t, &c->err)
                   ? print_document(c, &t, "pdf")
                   : failed(c);
    }
    if (option_given(c, "why")) {
        return run_why_trace(c, machine, words);
    }
    if (notes_something(c)) {
        if (!note_options(c, machine, words, &t)) {
            return failed(c);
        }
        if (option_given(c, "cause")) {
            return c->json ? run_list(c, machine) : print_text(&t);
        }
        text_char(&t, '\n');
    }
    if (!desk_trace(c->desk, machine, words, &c->arena, &trace, &c->err)) {
        return failed(c);
    }
    if (c->json) {
        struct text json = text_new(&c->arena);
        struct json j = json_new(&json, true);
        desk_trace_json(&j, c->desk, &trace);
        text_char(&json, '\n');
        return print_text(&json);
    }
    print_trace(c, &t, &trace);
    return print_text(&t);
}

static void print_fault(struct call *c, struct text *t, const struct desk_fault *f)
{
    text_add(t, f->machine->name);
    text_addz(t, "  ");
    if (f->spn >= 0) {
        text_addz(t, "SPN ");
        text_int(t, f->spn);
    } else {
        text_add(t, f->key);
    }
    if (f->fmi >= 0) {
        text_addz(t, " FMI ");
        text_int(t, f->fmi);
    }
    text_addz(t, f->active ? "  active" : "  cleared");
    text_addz(t, ", seen ");
    text_int(t, f->count);
    text_addz(t, f->count == 1 ? " time, first " : " times, first ");
    text_local(t, c->desk, f->first);
    text_addz(t, ", last ");
    text_local(t, c->desk, f->last);
    text_char(t, '\n');
    print_line(t, "    signal: ", f->signal);
    print_line(t, "    means: ", f->meaning);
    print_line(t, "    think of: ", f->reading);
    print_line(t, "    came as: ", f->text);
    for (int k = 0; k < f->n_symptoms; k++) {
        const struct book_symptom *s = &f->machine->book->symptoms[f->symptoms[k]];
        text_addz(t, s->clue ? "    clue for a trace: " : "    sign of: ");
        text_add(t, s->label);
        if (!s->clue) {
            text_addz(t, " - witmark trace ");
            text_add(t, f->machine->serial);
            text_char(t, ' ');
            text_add(t, s->name);
        }
        text_char(t, '\n');
    }
}

static int run_faults(struct call *c)
{
    struct desk_fault *at = NULL;
    size_t n = 0;
    if (!desk_faults(c->desk, c->n ? str_of(c->arguments[0]) : (struct str){0}, !option_given(c, "active"), &c->arena,
                     &at, &n, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_faults_json(&j, c->desk, at, n);
        text_char(&t, '\n');
        return print_text(&t);
    }
    for (size_t i = 0; i < n; i++) {
        print_fault(c, &t, &at[i]);
    }
    text_addz(&t, n == 0 ? "No fault codes in the log.\n" : "");
    return print_text(&t);
}

static const struct option_def trace_options[] = {
    {"saw", 0, "SIGNS", "what is seen, by name or words, comma separated"},
    {"not", 0, "SIGNS", "what was looked for and is not there"},
    {"did", 0, "STEP", "a test or cure that was done; with --result"},
    {"result", 0, "WORD", "how it came out: yes or no of a test, cured or still of a cure"},
    {"cannot", 0, "STEPS", "what can't be done here"},
    {"cause", 0, "CAUSE", "what was behind it; ends the trace. none = given up"},
    {"mode", 0, "WORDS", "failure mode of ISO 14224 (otherwise the book's)"},
    {"mechanism", 0, "WORDS", "failure mechanism of ISO 14224 (otherwise the book's)"},
    {"root", 0, "WORDS", "failure cause of ISO 14224 (otherwise the book's)"},
    {"start", 0, NULL, "note that it is being traced, though nothing else is known yet"},
    {"why", 0, "NAME", "explain a cause's probability or a step's cost"},
    {"list", 0, NULL, "the traces, open and ended"},
    {"output", 'o', "FILE", "the trace as a page with blanks, to write by hand"},
    {"paper", 0, "NAME", "of the page: A4, A5, Letter (otherwise the depot's)"},
    {"format", 0, "FORMAT", "of the page: pdf, png or svg"},
    {"at", 0, "TIME", "when it was (otherwise now)"},
    {"note", 'n', "TEXT", "what else is to be said"},
    END_OF_OPTIONS};
static const struct option_def faults_options[] = {{"active", 0, NULL, "only active ones"}, END_OF_OPTIONS};

const struct command trace_commands[] = {
    {"trace", "[MACHINE [WORDS...]]", 0, -1, "find the cause of a symptom by the step that costs least in expectation",
     "WORDS say what it does, as people say it: 'deck screams going down'. Without words the open trace goes on. "
     "Nothing "
     "is written until something is noted; then it can be taken up again on any day and any device. It ends with a "
     "cause, which counts for the next trace with that book.",
     trace_options, run_trace, false, true},
    {"faults", "[MACHINE]", 0, 1, "fault codes: what they mean, when they were seen, what they are a sign of", NULL,
     faults_options, run_faults, false, false},
    {0},
};
