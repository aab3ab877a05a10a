/* Rules about the condition of the machine: everything that is asked for can be brought about and undone again, nothing
 * is left open, nothing forbidden is asked for. */
#include "bookfile_internal.h"

#include <string.h>

#define STATES_MOST 16384

/* The book of one class, and what its conditions allow. */
struct rules {
    struct binding *b;
    const struct book *book;
    const struct condition_graph *g;
    struct shared *shared;
    uint8_t *set, *spare; /* sets of conditions to work with */
    size_t work;
};

static const struct book_condition anything;

static bool is_anything(struct book_condition c)
{
    return memcmp(&c, &anything, sizeof c) == 0;
}

/* The condition in words, for findings. */
static const char *condition_words(const struct rules *r, struct book_condition c)
{
    struct text t = text_new(r->b->finds->a);
    text_condition(&t, r->book, c);
    return t.n ? text_z(&t) : "anything";
}

static const char *quoted(const struct rules *r, struct str s)
{
    return words(r->b->finds->a, "\"", str_z(r->b->finds->a, s), "\"", (char *)0);
}

/* The chosen mapping of a named thing. */
static const struct node *node_of(const struct rules *r, enum section section, int i)
{
    return r->b->entries[section].at[i].node;
}

/* The item of a list that stands there; the list itself when none does. */
static const struct node *item_at(const struct node *list, struct book_pos pos)
{
    for (int i = 0; list && list->kind == NODE_LIST && i < list->n; i++) {
        if (list->item[i]->pos.line == pos.line && list->item[i]->pos.column == pos.column) {
            return list->item[i];
        }
    }
    return NULL;
}

/* Place of a key of that item, or of the item. */
static struct book_pos item_pos(const struct node *list, struct book_pos pos, const char *key)
{
    const struct node *n = item_at(list, pos);
    return n ? node_pos(n, key) : pos;
}

/* ---- one need ---- */

/* A condition that must hold as well, and whose it is. */
struct also {
    struct book_condition c;
    const char *whose; /* "the place \"Under the body\"" */
    enum bookfile_rule rule;
};

/* All of them together; says which one contradicts. */
static bool join(struct rules *r, struct book_pos pos, struct book_condition *c, const struct also *also, int n)
{
    for (int i = 0; i < n; i++) {
        struct book_condition both;
        if (!book_condition_both(*c, also[i].c, &both)) {
            return find(r->b->finds, pos, also[i].rule, "conditions that can hold together", "needs ",
                        condition_words(r, *c), ", but ", also[i].whose, " needs ", condition_words(r, also[i].c),
                        (char *)0);
        }
        *c = both;
    }
    return true;
}

/* Whether the machine can be brought into the condition and be parked again; r->set are then those in which it holds.
 */
static bool can_be(struct rules *r, struct book_pos pos, struct book_condition c)
{
    const struct condition_graph *g = r->g;
    r->work += (size_t)g->n;
    condition_graph_usable(g, r->set);
    if (condition_graph_keep(g, c, r->set) || !g->complete) {
        return true;
    }
    bool reached = false;
    for (int i = 0; i < g->n && !reached; i++) {
        reached = condition_holds(g->state[i], c, g->n_variables);
    }
    if (reached) {
        return find(r->b->finds, pos, RULE_NO_WAY_BACK, "changes that lead back to the parked condition",
                    "there is no way back to parked from ", condition_words(r, c), (char *)0);
    }
    return find(r->b->finds, pos, RULE_CONDITION, "changes that lead there from parked, or other needs",
                "the machine can't be brought to ", condition_words(r, c), (char *)0);
}

/* What a place needs, as one that must hold as well. Returns 0 or 1, how many it added. */
static int also_place(const struct rules *r, int place, struct also *also)
{
    if (place == BOOK_NONE || is_anything(r->book->places[place].needs)) {
        return 0;
    }
    *also = (struct also){r->book->places[place].needs,
                          words(r->b->finds->a, "the place ", quoted(r, r->book->places[place].label), (char *)0),
                          RULE_CONDITION};
    return 1;
}

/* Needs of one thing at a place. */
static void check_needs(struct rules *r, struct book_pos pos, struct book_condition c, int place)
{
    struct also also = {0};
    int n = also_place(r, place, &also);
    if ((n || !is_anything(c)) && join(r, pos, &c, &also, n)) {
        can_be(r, pos, c);
    }
}

/* ---- open and closed ---- */

/* What is open while a task is walked through: when it was opened. */
struct opened {
    struct book_pos *since; /* per open item; line 0 = closed */
    int n;
};

static bool is_open(const struct opened *o, int item)
{
    return o->since[item].line != 0;
}

/* Closes and opens what the step says. closes goes first: a step may close one thing and open another. */
static void walk_open(struct rules *r, struct opened *o, const struct book_step *s, const struct node *n)
{
    for (int i = 0; i < s->closes.n; i++) {
        int item = s->closes.at[i];
        if (!is_open(o, item)) {
            find(r->b->finds, n ? node_pos(n, "closes") : s->pos, RULE_NOT_OPENED, "an earlier step that opens it",
                 quoted(r, r->book->open_items[item].name), " is closed, but nothing here opened it", (char *)0);
        }
        o->since[item] = (struct book_pos){0, 0};
    }
    for (int i = 0; i < s->opens.n; i++) {
        int item = s->opens.at[i];
        if (is_open(o, item)) {
            find(r->b->finds, n ? node_pos(n, "opens") : s->pos, RULE_NOT_CLOSED, "a step between that closes it",
                 quoted(r, r->book->open_items[item].name), " is opened a second time", (char *)0);
        }
        o->since[item] = n ? node_pos(n, "opens") : s->pos;
    }
}

/* What all open things need together; false when they contradict each other. */
static bool while_open(const struct rules *r, const struct opened *o, struct book_condition *c)
{
    bool possible = true;
    *c = anything;
    for (int i = 0; i < o->n; i++) {
        if (is_open(o, i)) {
            possible = book_condition_both(*c, r->book->open_items[i].while_open, c) && possible;
        }
    }
    return possible;
}

/* The open things that need something, as what must hold as well. */
static int also_open(const struct rules *r, const struct opened *o, struct also *also, int most)
{
    int n = 0;
    for (int i = 0; i < o->n && n < most; i++) {
        if (is_open(o, i) && !is_anything(r->book->open_items[i].while_open)) {
            also[n++] = (struct also){
                r->book->open_items[i].while_open,
                words(r->b->finds->a, quoted(r, r->book->open_items[i].name), ", which is open,", (char *)0),
                RULE_WHILE_OPEN};
        }
    }
    return n;
}

/* Labels of what is open, in words. */
static const char *open_words(const struct rules *r, const struct opened *o)
{
    struct text t = text_new(r->b->finds->a);
    for (int i = 0; i < o->n; i++) {
        if (is_open(o, i)) {
            text_addz(&t, t.n ? " and " : "");
            text_addz(&t, quoted(r, r->book->open_items[i].name));
        }
    }
    return text_z(&t);
}

/* From where the step before was possible (r->spare) to where this one is, keeping what the open things need. */
static void travel(struct rules *r, struct book_pos pos, const struct opened *o, struct book_condition c)
{
    struct book_condition keep;
    if (while_open(r, o, &keep) && !is_anything(keep) && r->g->complete) {
        r->work += (size_t)r->g->n * 8;
        condition_graph_spread(r->g, keep, r->spare);
        if (!condition_graph_keep(r->g, c, r->spare)) {
            find(r->b->finds, pos, RULE_WHILE_OPEN, "close it before, or put the steps in another order",
                 "from the step before ", condition_words(r, c), " can't be brought about without breaking what ",
                 open_words(r, o), " needs: ", condition_words(r, keep), (char *)0);
            memcpy(r->spare, r->set, (size_t)r->g->n);
        }
        return;
    }
    memcpy(r->spare, r->set, (size_t)r->g->n);
}

/* The steps of a task or of the recovery. with_way: the machine can be brought from one condition to the next on the
 * way. */
static void check_steps(struct rules *r, const struct node *list, const struct book_step *steps, int n,
                        const struct also *task, int place, struct opened *o, bool with_way)
{
    struct also also[16];
    bool good = false; /* r->spare is where the step before was possible */
    for (int i = 0; i < n; i++) {
        const struct book_step *s = &steps[i];
        const struct node *node = item_at(list, s->pos);
        struct book_pos pos = node ? node_pos(node, "needs") : s->pos;
        place = s->place == BOOK_NONE ? place : s->place;
        int n_also = 0;
        if (!is_anything(task->c)) {
            also[n_also++] = *task;
        }
        n_also += also_place(r, place, &also[n_also]);
        n_also += also_open(r, o, &also[n_also], (int)(sizeof also / sizeof *also) - n_also);
        struct book_condition c = s->needs;
        bool possible = join(r, pos, &c, also, n_also) && can_be(r, pos, c);
        if (possible && good && with_way) {
            travel(r, pos, o, c);
        } else if (possible) {
            memcpy(r->spare, r->set, (size_t)r->g->n);
        }
        good = possible || good;
        walk_open(r, o, s, node);
    }
}

static struct opened nothing_open(struct rules *r)
{
    return (struct opened){ARENA_ARRAY(r->b->a, struct book_pos, r->book->n_open_items + 1), r->book->n_open_items};
}

static void check_task(struct rules *r, int i)
{
    const struct book_task *t = &r->book->tasks[i];
    const struct node *n = node_of(r, SEC_TASK, i);
    struct opened o = nothing_open(r);
    struct also task = {t->needs, "the task", RULE_CONDITION};
    struct book_condition c = t->needs;
    struct also place = {0};
    int n_place = also_place(r, t->place, &place);
    if (join(r, node_pos(n, "needs"), &c, &place, n_place) && can_be(r, node_pos(n, "needs"), c)) {
        check_steps(r, node_getz(n, "steps"), t->steps, t->n_steps, &task, t->place, &o, true);
    }
    for (int k = 0; k < o.n; k++) {
        if (is_open(&o, k)) {
            find(r->b->finds, o.since[k], RULE_NOT_CLOSED, "a later step that closes it",
                 quoted(r, r->book->open_items[k].name), " is opened here and still open when the task ends",
                 (char *)0);
        }
    }
}

static void check_recovery(struct rules *r)
{
    if (r->book->recovery.given) {
        const struct book_recovery *rec = &r->book->recovery;
        const struct node *n = node_getz(r->b->bf->root, "recovery");
        const struct node *chosen = n;
        if (n && bind_choose(r->b, n, false, &chosen) == CHOSEN) {
            struct opened o = nothing_open(r);
            struct also none = {anything, "", RULE_CONDITION};
            check_steps(r, node_getz(chosen, "steps"), rec->steps, rec->n_steps, &none, BOOK_NONE, &o, false);
        }
    }
}

/* ---- changes ---- */

/* Whether a change that closes the item can be made somewhere in the set. */
static bool closes_in(const struct rules *r, const uint8_t *set, int item)
{
    const struct condition_graph *g = r->g;
    for (int s = 0; s < g->n; s++) {
        for (int e = g->first[s]; set[s] && e < g->first[s + 1]; e++) {
            struct book_refs closes = r->book->changes[g->by[e]].closes;
            for (int k = 0; k < closes.n; k++) {
                if (closes.at[k] == item) {
                    return true;
                }
            }
        }
    }
    return false;
}

/* What a change opens, some change that can be reached while it is open must close. */
static void check_opens(struct rules *r, int change, struct book_pos pos)
{
    const struct condition_graph *g = r->g;
    struct book_refs opens = r->book->changes[change].opens;
    for (int k = 0; k < opens.n && g->complete; k++) {
        const struct book_open_item *item = &r->book->open_items[opens.at[k]];
        memset(r->set, 0, (size_t)g->n);
        for (int s = 0; s < g->n; s++) {
            for (int e = g->first[s]; e < g->first[s + 1]; e++) {
                r->set[g->to[e]] |= g->by[e] == change;
            }
        }
        r->work += (size_t)g->n * 8;
        if (!condition_graph_spread(g, item->while_open, r->set)) {
            find(r->b->finds, pos, RULE_WHILE_OPEN, "a result that fits what must hold while it is open",
                 quoted(r, item->name), " is opened, but needs ", condition_words(r, item->while_open), " while open",
                 (char *)0);
        } else if (!closes_in(r, r->set, opens.at[k])) {
            find(r->b->finds, pos, RULE_NOT_CLOSED, "a change that closes it and can be made then",
                 quoted(r, item->name), " is opened, and no change that can be made afterwards closes it", (char *)0);
        }
    }
}

static bool any_change_opens(const struct book *book, int item)
{
    for (int i = 0; i < book->n_changes; i++) {
        for (int k = 0; k < book->changes[i].opens.n; k++) {
            if (book->changes[i].opens.at[k] == item) {
                return true;
            }
        }
    }
    return false;
}

/* Remembers whether a change could be made on any machine so far. */
static void note_change(struct shared *shared, struct book_pos item, struct book_pos pos, bool held)
{
    struct text t = text_new(shared->a);
    text_int(&t, item.line);
    text_char(&t, ':');
    text_int(&t, item.column);
    int64_t at = 0;
    if (!map_get(&shared->change_index, text_str(&t), &at)) {
        at = (int64_t)shared->n_change;
        map_put(&shared->change_index, text_str(&t), at);
        ARENA_PUSH(shared->a, shared->change, shared->n_change, shared->cap_change) = (struct change_seen){pos, false};
    }
    shared->change[at].held = shared->change[at].held || held;
}

void check_changes_made(const struct shared *shared, struct finds *f)
{
    for (size_t i = 0; i < shared->n_change; i++) {
        if (!shared->change[i].held) {
            find(f, shared->change[i].pos, RULE_UNREACHABLE_CHANGE, "a condition that other changes lead to",
                 "this change can never be made: no machine can be brought to what it needs before", (char *)0);
        }
    }
}

/* What the graph says about one change. */
static void check_change(struct rules *r, int i)
{
    const struct book_change *c = &r->book->changes[i];
    const struct condition_change *seen = &r->g->changes[i];
    const struct node *list = node_getz(r->b->bf->root, "changes");
    struct book_pos pos = item_pos(list, c->pos, "from");
    note_change(r->shared, c->pos, pos, seen->held || !r->g->complete);
    if (seen->forbidden != BOOK_NONE) {
        const char *from = condition_words(r, condition_of_state(seen->forbidden_from, r->g->n_variables));
        struct text line = text_new(r->b->a);
        text_int(&line, r->book->nevers[seen->forbidden].pos.line);
        if (!seen->possible) {
            find(r->b->finds, item_pos(list, c->pos, "to"), RULE_NEVER,
                 "another result, or another combination under never",
                 "this change always leads to what must never be (line ", text_z(&line), ")", (char *)0);
        } else {
            find_level(r->b->finds, DIAG_HINT, pos, RULE_NEVER, "say in \"from\" where it may be made", "from ", from,
                       " this change would lead to what must never be (line ", text_z(&line),
                       "); it is not offered there", (char *)0);
        }
    }
    if (seen->no_return && r->g->complete) {
        find(r->b->finds, pos, RULE_NO_WAY_BACK, "changes that lead back to the parked condition",
             "after this change there is no way back to parked", (char *)0);
    }
    if (seen->possible) {
        check_opens(r, i, item_pos(list, c->pos, "opens"));
    }
    for (int k = 0; k < c->closes.n; k++) {
        if (!any_change_opens(r->book, c->closes.at[k])) {
            find(r->b->finds, item_pos(list, c->pos, "closes"), RULE_NOT_OPENED, "a change that opens it",
                 quoted(r, r->book->open_items[c->closes.at[k]].name), " is closed, but no change opens it", (char *)0);
        }
    }
}

/* ---- the graph ---- */

/* Everything the graph depends on, as bytes. */
static struct str graph_key(const struct book *b, struct arena *a)
{
    struct text t = text_new(a);
    text_int(&t, b->n_variables);
    for (int v = 0; v < b->n_variables; v++) {
        text_char(&t, ' ');
        text_int(&t, b->variables[v].n_values);
    }
    for (int i = 0; i < b->n_nevers; i++) {
        text_char(&t, 'n');
        text_add(&t, (struct str){(const char *)&b->nevers[i].when, sizeof b->nevers[i].when});
    }
    for (int i = 0; i < b->n_changes; i++) {
        const struct book_change *c = &b->changes[i];
        const struct book_condition *place = c->place == BOOK_NONE ? &anything : &b->places[c->place].needs;
        text_char(&t, 'c');
        text_add(&t, (struct str){(const char *)&c->from, sizeof c->from});
        text_add(&t, (struct str){(const char *)c->to, sizeof c->to});
        text_add(&t, (struct str){(const char *)place, sizeof *place});
    }
    return text_str(&t);
}

static const struct condition_graph *graph_of(struct shared *shared, const struct book *b, struct arena *a,
                                              size_t *work)
{
    struct str key = graph_key(b, a);
    int64_t at = 0;
    if (map_get(&shared->graph_index, key, &at)) {
        return shared->graph[at];
    }
    struct condition_graph *g = ARENA_NEW(shared->a, struct condition_graph);
    *g = condition_graph_build(b, STATES_MOST, shared->a);
    *work += (size_t)g->n * (size_t)(b->n_changes + b->n_nevers + 1);
    map_put(&shared->graph_index, str_copy(shared->a, key), (int64_t)shared->n_graph);
    ARENA_PUSH(shared->a, shared->graph, shared->n_graph, shared->cap_graph) = g;
    return g;
}

/* The graph as a whole and each change; false when the parked condition is forbidden, from which all else would follow.
 */
static bool check_graph(struct rules *r)
{
    const struct node *conditions = node_getz(r->b->bf->root, "conditions");
    if (r->g->parked_forbidden != BOOK_NONE) {
        return find(r->b->finds, r->book->nevers[r->g->parked_forbidden].pos, RULE_NEVER,
                    "another first value of a variable", "the parked condition itself is forbidden", (char *)0);
    }
    if (!r->g->complete && conditions) {
        find_level(r->b->finds, DIAG_DOUBT, conditions->pos, RULE_NOT_PROVED, "fewer variables or values",
                   "more than 16384 conditions: what can be brought about is not proved", (char *)0);
    }
    for (int i = 0; i < r->book->n_changes; i++) {
        check_change(r, i);
    }
    return true;
}

size_t check_rules(struct binding *b, struct shared *shared)
{
    struct rules r = {.b = b, .book = b->book, .shared = shared};
    check_names(b);
    check_exhaust(b);
    if (b->conditions_wrong) {
        return r.work;
    }
    r.g = graph_of(shared, b->book, b->a, &r.work);
    r.set = ARENA_ARRAY(b->a, uint8_t, r.g->n + 1);
    r.spare = ARENA_ARRAY(b->a, uint8_t, r.g->n + 1);
    if (!check_graph(&r)) {
        return r.work;
    }
    for (int i = 0; i < b->book->n_open_items; i++) {
        check_needs(&r, node_pos(node_of(&r, SEC_OPEN, i), "while-open"), b->book->open_items[i].while_open, BOOK_NONE);
    }
    for (int i = 0; i < b->book->n_places; i++) {
        check_needs(&r, node_pos(node_of(&r, SEC_PLACE, i), "needs"), b->book->places[i].needs, BOOK_NONE);
    }
    for (int i = 0; i < b->book->n_checkpoints; i++) {
        const struct book_checkpoint *c = &b->book->checkpoints[i];
        check_needs(&r, node_pos(node_of(&r, SEC_CHECKPOINT, i), "needs"), c->needs, c->place);
    }
    for (int i = 0; i < b->book->n_adjusters; i++) {
        const struct book_adjuster *a = &b->book->adjusters[i];
        check_needs(&r, node_pos(node_of(&r, SEC_ADJUSTER, i), "needs"), a->needs, a->place);
    }
    for (int i = 0; i < b->book->n_tests; i++) {
        const struct book_test *t = &b->book->tests[i];
        check_needs(&r, node_pos(node_of(&r, SEC_TEST, i), "needs"), t->needs, t->place);
    }
    for (int i = 0; i < b->book->n_causes; i++) {
        const struct book_cause *c = &b->book->causes[i];
        check_needs(&r, node_pos(node_of(&r, SEC_CAUSE, i), "needs"), c->needs, c->place);
    }
    for (int i = 0; i < b->book->n_tasks; i++) {
        check_task(&r, i);
    }
    check_recovery(&r);
    return r.work;
}
