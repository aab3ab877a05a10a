/* The ledger of an adjuster on paper: what the book says of it, the turns so far, and the next ones with blanks. */
#include "desk_adjust.h"

#include "print_internal.h"

#define BLANKS_MOST 12 /* rows that are planned ahead */

static void cell(struct json *j, struct arena *a, void (*say)(struct text *, turns_t), turns_t t)
{
    struct text text = text_new(a);
    say(&text, t);
    json_str(j, NULL, text_str(&text));
}

static void number_cell(struct json *j, struct arena *a, int n)
{
    struct text text = text_new(a);
    text_int(&text, n);
    json_str(j, NULL, text_str(&text));
}

/* The turns of the open trial, as they were made. */
static int made_rows(struct printing *p, const struct turn_state *turn)
{
    int n = 0;
    for (size_t i = turn->ledger.from_accepted ? turn->trial : turn->n_steps; i < turn->n_steps; i++) {
        const struct turn_step *step = &turn->steps[i];
        struct text when = text_new(p->a);
        text_add(&when, step->by);
        text_addz(&when, ", ");
        text_local(&when, p->d, step->at);
        json_begin_array(&p->j, NULL);
        number_cell(&p->j, p->a, ++n);
        json_str(&p->j, NULL, (struct str){0});
        cell(&p->j, p->a, text_turns, step->entry.turns);
        cell(&p->j, p->a, text_turns, step->from_found);
        json_strz(&p->j, NULL, step->entry.saw == SAW_NOT_SAID ? "" : adjust_saw_word(step->entry.saw));
        json_str(&p->j, NULL, text_str(&when));
        json_end_array(&p->j);
    }
    return n;
}

/* The book's steps from here to its limit, each with where it would stand then. */
static void planned_rows(struct printing *p, const struct turn_state *turn, int n)
{
    const struct adjust_rules *r = &turn->rules;
    turns_t at = turn->ledger.from_found;
    turns_t step = turn->ledger.from_accepted || turn->ledger.far[0] ? r->step : r->first_step;
    for (int i = 0; i < BLANKS_MOST && r->way * at < r->at_most; i++) {
        turns_t left = r->at_most - r->way * at;
        step = step < left ? step : left;
        at += r->way * step;
        json_begin_array(&p->j, NULL);
        number_cell(&p->j, p->a, ++n);
        cell(&p->j, p->a, text_turns, r->way * step);
        json_str(&p->j, NULL, (struct str){0});
        cell(&p->j, p->a, text_turns, at);
        json_end_array(&p->j);
        step = r->step;
    }
}

void print_ledger(struct printing *p, int adjuster)
{
    const struct turn_state *turn = &desk_state_of(p->d, p->m)->turns[adjuster];
    struct text title = text_new(p->a);
    text_add(&title, p->b->adjusters[adjuster].label);
    text_addz(&title, turn->ledger.from_found ? ", found " : "; at most ");
    if (turn->ledger.from_found) {
        text_turns(&title, adjust_back_to_found(&turn->ledger));
        text_addz(&title, " from here; at most ");
    }
    text_turns_size(&title, turn->rules.at_most);
    text_addz(&title, " from where it was found");
    json_begin_object(&p->j, NULL);
    json_str(&p->j, "title", text_str(&title));
    static const struct str columns[] = {
        {"No.", 3},     {"The book's step", 15}, {"Turned", 6}, {"Sum from found", 14}, {"What is seen now", 16},
        {"By, time", 8}};
    print_strings(&p->j, "columns", columns, sizeof columns / sizeof *columns);
    json_begin_array(&p->j, "rows");
    planned_rows(p, turn, made_rows(p, turn));
    json_end_array(&p->j);
    json_int(&p->j, "blanks", 4);
    json_end_object(&p->j);
}

/* ---- a page for one adjuster ---- */

static void act(struct json *j, struct str words)
{
    json_begin_object(j, NULL);
    json_str(j, "act", words);
    json_end_object(j);
}

static void begin_step(struct printing *p, const char *type, int n, struct str label, const struct book_adjuster *book)
{
    json_begin_object(&p->j, NULL);
    json_strz(&p->j, "type", type);
    json_int(&p->j, "n", n);
    json_str(&p->j, "label", label);
    json_str(&p->j, "place", print_place_label(p, book->place));
}

/* What must be true first, each with its box. */
static void first_step(struct printing *p, const struct book_adjuster *book)
{
    struct text needs = text_new(p->a);
    text_condition(&needs, p->b, book->needs);
    begin_step(p, "task", 1, S("Before each turn"), book);
    print_cautions(p, book->cautions);
    print_shown(p, book->shown);
    json_begin_array(&p->j, "steps");
    if (needs.n) {
        act(&p->j, text_str(&needs));
    }
    for (int i = 0; i < book->first.n; i++) {
        act(&p->j, book->first.at[i]);
    }
    for (int i = 0; i < book->confirm.n; i++) {
        act(&p->j, book->confirm.at[i].text);
    }
    json_end_array(&p->j);
    json_end_object(&p->j);
}

static void turn_step(struct printing *p, const struct desk_adjuster *adjuster, const struct book_adjuster *book)
{
    struct text label = text_new(p->a);
    text_addz(&label, "Turn ");
    text_addz(&label, book->turn_in ? "in (clockwise)" : "out (anticlockwise)");
    text_addz(&label, ", one step at a time");
    begin_step(p, "check", 2, text_str(&label), book);
    struct text why = text_new(p->a);
    if (book->between.n) {
        text_addz(&why, "after each: ");
        text_add(&why, book->between);
    }
    text_addz(&why, book->watch.n ? "; watch: " : "");
    text_add(&why, book->watch);
    json_str(&p->j, "why", text_str(&why));
    json_begin_array(&p->j, "tables");
    print_ledger(p, adjuster->adjuster);
    json_end_array(&p->j);
    json_end_object(&p->j);
}

static void last_step(struct printing *p, const struct book_adjuster *book)
{
    begin_step(p, "task", 3, S("Leave it at one setting"), book);
    json_begin_array(&p->j, "steps");
    act(&p->j, S("Cured: accept the setting. Or not: turn it back by the sum, the other way"));
    act(&p->j, S("Lock nut tight, new paint line across screw and nut"));
    act(&p->j, S("Write it down: accepted, or turned back. Until then it stays on the put-back list"));
    json_end_array(&p->j);
    json_end_object(&p->j);
}

/* The trial is open from the first turn until it is left at one setting. */
static void put_back(struct printing *p, const struct desk_adjuster *adjuster)
{
    struct text t = text_new(p->a);
    text_add(&t, adjuster->label);
    text_addz(&t, " stands at a trial setting");
    json_begin_array(&p->j, "put_back");
    json_begin_object(&p->j, NULL);
    json_str(&p->j, "label", text_str(&t));
    json_int(&p->j, "opened_at", 2);
    json_int(&p->j, "closed_at", 3);
    json_end_object(&p->j);
    json_end_array(&p->j);
}

bool desk_print_adjuster(struct desk *d, const struct desk_adjuster *adjuster, struct str paper, struct text *out,
                         struct err *e)
{
    const struct book *b = adjuster->machine->book;
    struct str size = {0};
    if (adjuster->adjuster == BOOK_NONE) {
        return err_set(e, ERR_MISSING, "an adjuster of its book", "the book says nothing of '",
                       str_z(e->a, adjuster->name), "'", (char *)0);
    }
    if (!print_paper(d, paper, &size, e)) {
        return false;
    }
    const struct book_adjuster *book = &b->adjusters[adjuster->adjuster];
    struct printing p = {.j = json_new(out, true),
                         .d = d,
                         .a = out->a,
                         .m = adjuster->machine,
                         .b = b,
                         .figures = ARENA_ARRAY(out->a, bool, b->n_figures)};
    struct text title = text_new(out->a);
    text_addz(&title, "Ledger: ");
    text_add(&title, adjuster->label);
    print_head(&p, size, text_str(&title));
    print_words(&p);
    desk_before_json(&p.j);
    json_begin_array(&p.j, "steps");
    first_step(&p, book);
    turn_step(&p, adjuster, book);
    last_step(&p, book);
    json_end_array(&p.j);
    put_back(&p, adjuster);
    print_open_now(&p);
    print_figures(&p);
    print_qr(&p.j, p.a, p.m->serial);
    json_end_object(&p.j);
    text_char(out, '\n');
    return true;
}
