/* Counted adjustments: from the state's ledgers to what a technician is told, and from a step to a checked entry. */
#include "desk_adjust.h"

#include "desk_internal.h"
#include "record_entry.h"

#include <jansson.h>
#include <math.h>

/* Another adjuster of the same circuit at a trial setting. */
static struct str other_on_circuit(const struct machine_state *s, const struct turn_state *turn)
{
    const struct book *b = s->m.book;
    struct str circuit = turn->adjuster == BOOK_NONE ? (struct str){0} : b->adjusters[turn->adjuster].circuit;
    for (size_t i = 0; circuit.n && i < s->n_turns; i++) {
        const struct turn_state *other = &s->turns[i];
        if (other != turn && other->adjuster != BOOK_NONE && other->ledger.from_accepted &&
            str_eq(b->adjusters[other->adjuster].circuit, circuit)) {
            return b->adjusters[other->adjuster].label;
        }
    }
    return (struct str){0};
}

static void fill(struct desk *d, const struct desk_machine *m, const struct turn_state *turn, struct arena *a,
                 struct desk_adjuster *out)
{
    const struct machine_state *s = desk_state_of(d, m);
    struct desk_turn *turns = ARENA_ARRAY(a, struct desk_turn, turn->n_steps);
    for (size_t i = 0; i < turn->n_steps; i++) {
        const struct turn_step *step = &turn->steps[i];
        turns[i] = (struct desk_turn){step->at,    step->id,         step->by,           step->note,
                                      step->entry, step->from_found, step->from_accepted};
    }
    *out = (struct desk_adjuster){.machine = m,
                                  .name = turn->name,
                                  .label = turn->adjuster == BOOK_NONE ? turn->name
                                                                       : m->book->adjusters[turn->adjuster].label,
                                  .adjuster = turn->adjuster,
                                  .rules = turn->rules,
                                  .ledger = turn->ledger,
                                  .next = adjust_next(&turn->rules, &turn->ledger),
                                  .other_open = other_on_circuit(s, turn),
                                  .turns = turns,
                                  .n = turn->n_steps,
                                  .trial = turn->ledger.from_accepted ? turn->trial : turn->n_steps};
}

static const struct machine_state *state_for(struct desk *d, struct str machine, const struct desk_machine **m,
                                             struct err *e)
{
    *m = desk_refresh(d, e) ? desk_machine_find(d, machine, e) : NULL;
    return *m ? desk_state_of(d, *m) : NULL;
}

bool desk_adjusters(struct desk *d, struct str machine, struct arena *a, struct desk_adjuster **at, size_t *n,
                    struct err *e)
{
    const struct desk_machine *m = NULL;
    const struct machine_state *s = state_for(d, machine, &m, e);
    if (!s) {
        return false;
    }
    *at = ARENA_ARRAY(a, struct desk_adjuster, s->n_turns);
    *n = s->n_turns;
    for (size_t i = 0; i < s->n_turns; i++) {
        fill(d, m, &s->turns[i], a, &(*at)[i]);
    }
    return true;
}

/* The adjuster by name or label; null with the error. */
static const struct turn_state *named(const struct machine_state *s, struct str name, struct err *e)
{
    struct str *names = ARENA_ARRAY(e->a, struct str, s->n_turns);
    for (size_t i = 0; i < s->n_turns; i++) {
        const struct turn_state *turn = &s->turns[i];
        names[i] = turn->name;
        if (str_eq(turn->name, name) ||
            (turn->adjuster != BOOK_NONE && str_eq_nocase(s->m.book->adjusters[turn->adjuster].label, name))) {
            return turn;
        }
    }
    ptrdiff_t near = str_nearest(name, names, s->n_turns);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : s->n_turns ? "one of " : "its book names none");
    for (size_t i = 0; i < s->n_turns; i++) {
        if (near < 0 || (size_t)near == i) {
            text_addz(&right, near < 0 && i ? ", " : "");
            text_add(&right, names[i]);
        }
    }
    text_addz(&right, near >= 0 ? "?" : "");
    err_set(e, ERR_MISSING, text_z(&right), str_z(e->a, s->m.name), " has no adjuster '", str_z(e->a, name), "'",
            (char *)0);
    return NULL;
}

bool desk_adjuster(struct desk *d, struct str machine, struct str adjuster, struct arena *a, struct desk_adjuster *out,
                   struct err *e)
{
    const struct desk_machine *m = NULL;
    const struct machine_state *s = state_for(d, machine, &m, e);
    const struct turn_state *turn = s ? named(s, adjuster, e) : NULL;
    if (turn) {
        fill(d, m, turn, a, out);
    }
    return turn;
}

/* ---- one step ---- */

/* The names that were confirmed into the body. *missing: the first that was not, as "load-supported (rake on the
 * ground)", and *names all that are asked for. Errors: ERR_USAGE: a name that this adjuster does not ask for. */
static bool take_confirmed(const struct book_adjuster *b, struct str given, json_t *body, struct str *missing,
                           struct str *names, struct err *e)
{
    bool *said = ARENA_ARRAY(e->a, bool, b->confirm.n);
    struct str *known = ARENA_ARRAY(e->a, struct str, b->confirm.n);
    struct text all = text_new(e->a);
    json_t *list = json_array();
    for (int i = 0; i < b->confirm.n; i++) {
        known[i] = b->confirm.at[i].name;
        text_addz(&all, i ? "," : "");
        text_add(&all, known[i]);
    }
    *names = text_str(&all);
    struct str one = {0};
    while (str_next(&given, ',', &one)) {
        one = str_trim(one);
        int i = 0;
        while (i < b->confirm.n && !str_eq(known[i], one)) {
            i++;
        }
        if (one.n && i == b->confirm.n) {
            json_decref(list);
            return err_set(e, ERR_USAGE, b->confirm.n ? str_z(e->a, *names) : "it asks for nothing to be confirmed",
                           "'", str_z(e->a, one), "' is nothing that is confirmed here", (char *)0);
        }
        if (one.n && !said[i]) {
            said[i] = true;
            json_array_append_new(list, json_stringn(one.p, one.n));
        }
    }
    struct text t = text_new(e->a);
    for (int i = 0; i < b->confirm.n; i++) {
        if (!said[i]) {
            text_addz(&t, t.n ? ", " : "");
            text_add(&t, known[i]);
            text_addz(&t, " (");
            text_add(&t, b->confirm.at[i].text);
            text_char(&t, ')');
        }
    }
    *missing = text_str(&t);
    if (json_array_size(list)) {
        json_object_set(body, "confirmed", list);
    }
    json_decref(list);
    return true;
}

/* What would be right instead of a refused step. */
static const char *right_of(const struct desk_adjuster *adjuster, enum adjust_refusal refusal, turns_t turns,
                            struct str names, struct arena *a)
{
    struct text t = text_new(a);
    switch (refusal) {
    case ADJUST_NOT_CONFIRMED:
        text_addz(&t, "see to it, then --confirmed ");
        text_add(&t, names);
        return text_z(&t);
    case ADJUST_OTHER_OPEN:
        return "accept that one or turn it back first";
    case ADJUST_NOT_SEEN:
        return "try it, then say --saw gone, less, same or worse";
    case ADJUST_TOO_LARGE:
        text_addz(&t, "at most ");
        text_turns_size(&t, adjust_largest(&adjuster->rules, &adjuster->ledger, turns > 0 ? 1 : -1));
        text_addz(&t, ", then try it; what has been turned already is written down by record turn");
        return text_z(&t);
    case ADJUST_BEYOND:
        return "turn it back and look for another cause; what has been turned already is written down by record turn";
    case ADJUST_WRONG_WAY:
        return adjuster->ledger.from_accepted ? "--back turns it to the accepted setting, from there on anew"
                                              : "try the book's direction first";
    case ADJUST_FINE:
    case ADJUST_NOTHING:
        break;
    }
    return "--turn '1/2 in', --saw, --accept, --back or --undo";
}

/* The turns that the ask means, and whether the setting stays. */
static bool meant(const struct desk_adjuster *adjuster, const struct desk_adjust_ask *ask, turns_t *turns,
                  bool *accepted, struct err *e)
{
    const struct adjust_ledger *l = &adjuster->ledger;
    int ways = (ask->turn.n > 0) + ask->back + ask->back_to_found + ask->undo + ask->found;
    *turns = 0;
    *accepted = ask->accept || ask->back || ask->back_to_found;
    if (ways > 1 || (ask->accept && ways && !ask->turn.n)) {
        return err_set(e, ERR_USAGE, "one of --turn, --back, --back-to-found, --undo, --count-from-here",
                       "these do not go together", (char *)0);
    }
    if (ask->back || ask->back_to_found || ask->undo) {
        *turns = ask->undo ? adjust_undo(l) : ask->back ? adjust_back(l) : adjust_back_to_found(l);
        return *turns != 0 ||
               err_set(e, ERR_REFUSED, "nothing has to be done",
                       ask->undo ? "no turn has been made since the accepted setting" : "it stands there already",
                       (char *)0);
    }
    return !ask->turn.n || turns_parse(ask->turn, turns, e);
}

/* May it be done? Fills e where not. */
static bool allowed(const struct desk_adjuster *adjuster, const struct desk_adjust_ask *ask, turns_t turns,
                    struct str missing, struct str names, struct err *e)
{
    const struct adjust_ledger *l = &adjuster->ledger;
    enum adjust_refusal refusal = ADJUST_FINE;
    if (turns || ask->turn.n) {
        struct adjust_ask step = {turns, missing.n == 0, adjuster->other_open.n > 0};
        refusal = adjust_refuses(&adjuster->rules, l, &step);
        bool way_back = ask->back_to_found && refusal != ADJUST_NOT_CONFIRMED; /* the way back is always open */
        refusal = way_back ? ADJUST_FINE : refusal;
    } else if (!ask->saw.n && !ask->accept && !ask->found) {
        refusal = ADJUST_NOTHING;
    }
    if (refusal != ADJUST_FINE) {
        struct text t = text_new(e->a);
        text_add(&t, adjuster->label);
        text_addz(&t, ": ");
        text_adjust_refusal(&t, &adjuster->rules, l, refusal, turns,
                            refusal == ADJUST_OTHER_OPEN ? adjuster->other_open : missing);
        return err_set(e, refusal == ADJUST_NOTHING ? ERR_USAGE : ERR_REFUSED,
                       right_of(adjuster, refusal, turns, names, e->a), text_z(&t), (char *)0);
    }
    if (ask->accept && !ask->saw.n && (turns || l->saw == SAW_NOT_SAID)) {
        return err_set(e, ERR_REFUSED, "try it, then --saw gone --accept",
                       l->from_accepted || turns ? "nobody has said what this setting does"
                                                 : "it stands at the accepted setting: there is nothing to accept",
                       (char *)0);
    }
    return true;
}

bool desk_adjust(struct desk *d, const struct desk_stamp *s, const struct desk_adjust_ask *ask, struct arena *a,
                 struct desk_recorded *out, struct err *e)
{
    struct desk_adjuster adjuster = {0};
    *out = (struct desk_recorded){0};
    if (!desk_adjuster(d, s->machine, ask->adjuster, a, &adjuster, e)) {
        return false;
    }
    turns_t turns = 0;
    bool accepted = false;
    enum adjust_saw saw = SAW_NOT_SAID;
    struct str missing = {0};
    struct str names = {0};
    if (!adjust_saw_parse(str_trim(ask->saw), &saw) || (ask->saw.n && saw == SAW_NOT_SAID)) {
        return err_set(e, ERR_USAGE, "gone, less, same or worse", "--saw '", str_z(e->a, ask->saw),
                       "' is not what a turn does", (char *)0);
    }
    if (!meant(&adjuster, ask, &turns, &accepted, e)) {
        return false;
    }
    json_t *body = json_object();
    body_put_str(body, "adjuster", adjuster.name);
    body_put_num(body, "turns", turns_number(turns));
    if (saw != SAW_NOT_SAID) {
        body_put_str(body, "saw", str_of(adjust_saw_word(saw)));
    }
    const struct desk_machine *m = adjuster.machine;
    if ((adjuster.adjuster != BOOK_NONE &&
         !take_confirmed(&m->book->adjusters[adjuster.adjuster], ask->confirmed, body, &missing, &names, e)) ||
        !allowed(&adjuster, ask, turns, missing, names, e)) {
        json_decref(body);
        return false;
    }
    if (accepted) {
        json_object_set_new(body, "accepted", json_true());
    }
    if (ask->found) {
        json_object_set_new(body, "found", json_true());
    }
    return desk_record_entry(d, s, m, KIND_TURN, body, a, out, e);
}

/* ---- in words ---- */

void text_adjuster_stands(struct text *t, const struct desk_adjuster *adjuster)
{
    const struct adjust_ledger *l = &adjuster->ledger;
    if (l->from_accepted == 0 && l->from_found == 0) {
        text_addz(t, adjuster->n ? "stands where it was found" : "was never turned");
        return;
    }
    text_addz(t, "stands ");
    if (l->from_accepted == 0) {
        text_addz(t, "at the accepted setting, ");
    } else {
        text_turns(t, l->from_accepted);
        text_addz(t, " from the accepted setting, ");
    }
    text_turns(t, l->from_found);
    text_addz(t, " from where it was found");
}

static void add_percent(struct text *t, double p)
{
    text_number(t, 100 * p, p < 0.1 ? 1 : 0);
    text_addz(t, " %");
}

void text_adjuster_next(struct text *t, const struct desk_adjuster *adjuster)
{
    const struct adjust_next *next = &adjuster->next;
    switch (next->advice) {
    case ADVISE_TURN:
        text_turns(t, next->turns);
        if (next->p_helps > 0) {
            text_addz(t, ", then try it. Chance that it cures: ");
            add_percent(t, next->p_helps);
        } else {
            text_addz(t, ", over ground that was tried before");
        }
        break;
    case ADVISE_LOOK:
        text_addz(t, "try it and say what is seen");
        break;
    case ADVISE_ACCEPT:
        text_addz(t, "accept this setting: lock nut tight, new paint line");
        break;
    case ADVISE_BACK:
        text_addz(t, "turn it back, ");
        text_turns(t, next->turns);
        break;
    case ADVISE_LEAVE:
        text_addz(t, "leave it alone and look for another cause");
        break;
    }
    if (next->reason != BECAUSE_NEXT) {
        text_join(t, " (", adjust_reason_text(next->reason), ")", (char *)0);
    }
    text_addz(t, ". Chance that this is the cause: ");
    add_percent(t, next->p_cause);
}

static void add_cautions(struct text *t, const struct book *b, struct book_refs refs)
{
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *c = &b->cautions[refs.at[i]];
        text_join(t, "  ", book_caution_level_text(c->level), ": ", (char *)0);
        text_add(t, c->say);
        text_char(t, '\n');
    }
}

/* What the book says of it, the caution first. */
static void add_book(struct text *t, const struct desk_adjuster *adjuster)
{
    const struct book *b = adjuster->machine->book;
    const struct book_adjuster *book = &b->adjusters[adjuster->adjuster];
    add_cautions(t, b, book->cautions);
    text_addz(t, "  Before each turn: ");
    struct text needs = text_new(t->a);
    text_condition(&needs, b, book->needs);
    text_add(t, text_str(&needs));
    for (int i = 0; i < book->first.n; i++) {
        text_addz(t, i || needs.n ? "; " : "");
        text_add(t, book->first.at[i]);
    }
    text_char(t, '\n');
    for (int i = 0; i < book->confirm.n; i++) {
        text_addz(t, "    confirm ");
        text_add(t, book->confirm.at[i].name);
        text_addz(t, ": ");
        text_add(t, book->confirm.at[i].text);
        text_char(t, '\n');
    }
    if (book->between.n) {
        text_addz(t, "  After each turn: ");
        text_add(t, book->between);
        text_char(t, '\n');
    }
    if (book->watch.n) {
        text_addz(t, "  Watch: ");
        text_add(t, book->watch);
        text_char(t, '\n');
    }
    text_addz(t, "  Steps: ");
    text_addz(t, book->turn_in ? "in (clockwise) first, " : "out first, ");
    text_turns_size(t, adjuster->rules.first_step);
    if (adjuster->rules.step != adjuster->rules.first_step) {
        text_addz(t, ", then ");
        text_turns_size(t, adjuster->rules.step);
        text_addz(t, " at a time");
    } else {
        text_addz(t, " at a time");
    }
    text_addz(t, "; at most ");
    text_turns_size(t, adjuster->rules.at_most);
    text_addz(t, " from where it was found (");
    text_add(t, desk_book_line(t->a, b, book->pos));
    text_addz(t, ")\n");
}

static void add_turns(struct text *t, struct desk *d, const struct desk_adjuster *adjuster)
{
    for (size_t i = 0; i < adjuster->n; i++) {
        const struct desk_turn *turn = &adjuster->turns[i];
        text_addz(t, i == adjuster->trial ? "  trial\n    " : "    ");
        text_local(t, d, turn->at);
        text_addz(t, "  ");
        if (turn->entry.found) {
            text_addz(t, "counted from here");
        } else if (turn->entry.turns) {
            text_turns(t, turn->entry.turns);
        } else {
            text_addz(t, "looked at");
        }
        if (turn->entry.saw != SAW_NOT_SAID) {
            text_join(t, ": ", adjust_saw_word(turn->entry.saw), (char *)0);
        }
        text_addz(t, turn->entry.accepted ? ", accepted" : "");
        text_addz(t, "; then ");
        text_turns(t, turn->from_found);
        text_addz(t, turn->from_found ? " from where it was found, " : ", ");
        text_add(t, turn->by);
        text_addz(t, turn->note.n ? " - " : "");
        text_add(t, turn->note);
        text_char(t, '\n');
    }
}

void text_adjuster(struct text *t, struct desk *d, const struct desk_adjuster *adjuster)
{
    text_add(t, adjuster->machine->name);
    text_addz(t, ": ");
    text_add(t, adjuster->label);
    text_addz(t, " (");
    text_add(t, adjuster->name);
    text_addz(t, ")\n");
    if (adjuster->adjuster == BOOK_NONE) {
        text_addz(t, "  its book has no adjuster of that name: no limits are known\n");
    } else {
        add_book(t, adjuster);
    }
    if (adjuster->n) {
        text_addz(t, "Ledger\n");
        add_turns(t, d, adjuster);
    }
    text_addz(t, "It ");
    text_adjuster_stands(t, adjuster);
    if (adjuster->ledger.beyond) {
        text_addz(t, ": BEYOND THE LIMIT of ");
        text_turns_size(t, adjuster->rules.at_most);
    }
    text_addz(t, "\n");
    if (adjuster->ledger.from_accepted) {
        text_addz(t, "Way back: ");
        text_turns(t, adjust_back(&adjuster->ledger));
        if (adjuster->ledger.from_found != adjuster->ledger.from_accepted) {
            text_addz(t, " to the accepted setting, ");
            text_turns(t, adjust_back_to_found(&adjuster->ledger));
            text_addz(t, " to where it was found");
        }
        text_char(t, '\n');
    }
    if (adjuster->other_open.n) {
        text_addz(t, "Not now: ");
        text_add(t, adjuster->other_open);
        text_addz(t, " stands at a trial setting on the same circuit\n");
    }
    if (adjuster->adjuster != BOOK_NONE) {
        text_addz(t, adjuster->ledger.steps ? "Next: " : "If it has to be settled: ");
        text_adjuster_next(t, adjuster);
        text_char(t, '\n');
    }
}
