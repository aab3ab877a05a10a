/* Adjusters as JSON (docs/json.md). */
#include "desk_adjust.h"

#include "desk_internal.h"

static void put_turns(struct json *j, const char *key, turns_t t)
{
    struct text text = text_new(j->t->a);
    text_turns(&text, t);
    json_begin_object(j, key);
    json_int(j, "count", t);
    json_num(j, "turns", turns_number(t));
    json_str(j, "says", text_str(&text));
    json_end_object(j);
}

static void put_instant(struct json *j, struct desk *d, const char *key, const char *local_key, instant_ms at)
{
    struct text t = text_new(j->t->a);
    text_instant(&t, at);
    json_str(j, key, text_str(&t));
    struct text local = text_new(j->t->a);
    text_local(&local, d, at);
    json_str(j, local_key, text_str(&local));
}

static void put_book(struct json *j, const struct desk_adjuster *adjuster)
{
    const struct book *b = adjuster->machine->book;
    const struct book_adjuster *book = &b->adjusters[adjuster->adjuster];
    json_begin_array(j, "cautions");
    for (int i = 0; i < book->cautions.n; i++) {
        const struct book_caution *c = &b->cautions[book->cautions.at[i]];
        json_begin_object(j, NULL);
        json_strz(j, "level", book_caution_level_text(c->level));
        json_str(j, "say", c->say);
        json_end_object(j);
    }
    json_end_array(j);
    struct text needs = text_new(j->t->a);
    text_condition(&needs, b, book->needs);
    json_str(j, "needs", text_str(&needs));
    json_begin_array(j, "first");
    for (int i = 0; i < book->first.n; i++) {
        json_str(j, NULL, book->first.at[i]);
    }
    json_end_array(j);
    json_begin_array(j, "confirm");
    for (int i = 0; i < book->confirm.n; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", book->confirm.at[i].name);
        json_str(j, "text", book->confirm.at[i].text);
        json_end_object(j);
    }
    json_end_array(j);
    json_str(j, "between", book->between);
    json_str(j, "watch", book->watch);
    json_str(j, "note", book->note);
    json_str(j, "circuit", book->circuit);
    json_str(j, "place", book->place == BOOK_NONE ? (struct str){0} : b->places[book->place].label);
    if (book->shown.figure != BOOK_NONE) {
        json_begin_object(j, "figure");
        json_str(j, "name", b->figures[book->shown.figure].name);
        json_int(j, "mark", book->shown.mark);
        json_end_object(j);
    }
    json_str(j, "source", desk_book_line(j->t->a, b, book->pos));
}

/* The rules as core.wasm takes them: counts are 720ths of a turn. */
static void put_rules(struct json *j, const struct adjust_rules *r)
{
    json_begin_object(j, "rules");
    json_strz(j, "way", r->way > 0 ? "in" : "out");
    put_turns(j, "first_step", r->first_step);
    put_turns(j, "step", r->step);
    put_turns(j, "at_most", r->at_most);
    json_num(j, "prior", r->prior);
    json_end_object(j);
}

static void put_next(struct json *j, const struct desk_adjuster *adjuster)
{
    const struct adjust_next *next = &adjuster->next;
    struct text says = text_new(j->t->a);
    text_adjuster_next(&says, adjuster);
    json_begin_object(j, "next");
    json_strz(j, "advice", adjust_advice_word(next->advice));
    json_strz(j, "reason", adjust_reason_text(next->reason));
    put_turns(j, "turns", next->turns);
    json_num(j, "p_helps", next->p_helps);
    json_num(j, "p_cause", next->p_cause);
    json_str(j, "says", text_str(&says));
    json_end_object(j);
}

void desk_adjuster_json(struct json *j, struct desk *d, const struct desk_adjuster *adjuster)
{
    const struct adjust_ledger *l = &adjuster->ledger;
    json_begin_object(j, NULL);
    json_str(j, "machine", adjuster->machine->name);
    json_str(j, "serial", adjuster->machine->serial);
    json_str(j, "name", adjuster->name);
    json_str(j, "label", adjuster->label);
    json_bool(j, "in_book", adjuster->adjuster != BOOK_NONE);
    if (adjuster->adjuster != BOOK_NONE) {
        put_book(j, adjuster);
    }
    put_rules(j, &adjuster->rules);
    struct text stands = text_new(j->t->a);
    text_adjuster_stands(&stands, adjuster);
    json_str(j, "stands", text_str(&stands));
    put_turns(j, "from_found", l->from_found);
    put_turns(j, "from_accepted", l->from_accepted);
    put_turns(j, "way_back", adjust_back(l));
    put_turns(j, "way_back_to_found", adjust_back_to_found(l));
    json_bool(j, "trial_open", l->from_accepted != 0);
    json_bool(j, "beyond_limit", l->beyond);
    json_str(j, "other_open", adjuster->other_open);
    json_begin_array(j, "turns");
    for (size_t i = 0; i < adjuster->n; i++) {
        const struct desk_turn *turn = &adjuster->turns[i];
        struct text id = text_new(j->t->a);
        text_entry_id(&id, turn->id);
        json_begin_object(j, NULL);
        json_str(j, "entry", text_str(&id));
        put_instant(j, d, "at", "at_local", turn->at);
        json_str(j, "by", turn->by);
        put_turns(j, "turn", turn->entry.turns);
        json_strz(j, "saw", adjust_saw_word(turn->entry.saw));
        json_bool(j, "accepted", turn->entry.accepted);
        json_bool(j, "found", turn->entry.found);
        put_turns(j, "from_found", turn->from_found);
        put_turns(j, "from_accepted", turn->from_accepted);
        json_bool(j, "in_trial", i >= adjuster->trial);
        json_str(j, "note", turn->note);
        json_end_object(j);
    }
    json_end_array(j);
    put_next(j, adjuster);
    json_end_object(j);
}

void desk_adjusters_json(struct json *j, struct desk *d, const struct desk_adjuster *at, size_t n)
{
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        desk_adjuster_json(j, d, &at[i]);
    }
    json_end_array(j);
}
