/* Rules about names: what stands in a circle, marks that a figure has not, part numbers without an end, names nobody
 * uses. */
#include "bookfile_internal.h"

#include <string.h>

static const char *z(struct binding *b, struct str s)
{
    return str_z(b->finds->a, s);
}

/* ---- circles ---- */

/* "after" of a list of things, as indices. */
struct orders {
    const struct book_refs *after; /* per thing */
    int n;
    enum section section;
};

/* Walks the things that come before i; says the circle at the first name that closes one. state: 0 new, 1 on the way, 2
 * done. */
static bool walk_order(struct binding *b, const struct orders *o, int *state, int *stack)
{
    for (int start = 0; start < o->n; start++) {
        int depth = 0;
        if (state[start] == 0) {
            stack[depth++] = start;
        }
        while (depth > 0) {
            int i = stack[depth - 1];
            if (state[i] == 0) {
                state[i] = 1;
            } else {
                state[i] = 2;
                depth--;
                continue;
            }
            for (int k = 0; k < o->after[i].n; k++) {
                int before = o->after[i].at[k];
                const struct entry *e = &b->entries[o->section].at[i];
                if (state[before] == 1) {
                    find(b->finds, node_pos(e->node, "after"), RULE_ORDER, "an order without a circle", "\"",
                         z(b, e->name), "\" comes after \"", z(b, b->entries[o->section].at[before].name),
                         "\", which comes after it", (char *)0);
                } else if (state[before] == 0) {
                    stack[depth++] = before;
                }
            }
        }
    }
    return true;
}

static void check_order(struct binding *b, struct orders o)
{
    size_t total = (size_t)o.n + 1;
    for (int i = 0; i < o.n; i++) {
        total += (size_t)o.after[i].n;
    }
    walk_order(b, &o, ARENA_ARRAY(b->a, int, o.n + 1), ARENA_ARRAY(b->a, int, total));
}

static void check_orders(struct binding *b)
{
    const struct book *book = b->book;
    struct book_refs *tasks = ARENA_ARRAY(b->a, struct book_refs, book->n_tasks + 1);
    struct book_refs *checks = ARENA_ARRAY(b->a, struct book_refs, book->n_checkpoints + 1);
    for (int i = 0; i < book->n_tasks; i++) {
        tasks[i] = book->tasks[i].after;
    }
    for (int i = 0; i < book->n_checkpoints; i++) {
        checks[i] = book->checkpoints[i].after;
    }
    check_order(b, (struct orders){tasks, book->n_tasks, SEC_TASK});
    check_order(b, (struct orders){checks, book->n_checkpoints, SEC_CHECKPOINT});
}

/* ---- parts ---- */

/* A number that ends one part's chain may not be replaced in another's: then the first chain has no end. */
static void check_parts(struct binding *b)
{
    struct map replaced = map_new(b->a); /* number -> part that says what replaced it */
    const struct book *book = b->book;
    for (int i = 0; i < book->n_parts; i++) {
        for (int k = 0; k + 1 < book->parts[i].chain.n; k++) {
            map_put(&replaced, book->parts[i].chain.at[k], i);
        }
    }
    for (int i = 0; i < book->n_parts; i++) {
        const struct book_part *p = &book->parts[i];
        int64_t other = 0;
        if (map_get(&replaced, p->now, &other) && other != i) {
            const struct node *n = b->entries[SEC_PART].at[i].node;
            find(b->finds, node_pos(n, node_getz(n, "then") ? "then" : "number"), RULE_SUPERSESSION,
                 words(b->finds->a, "go on to ", z(b, book->parts[other].now), " here, or not there", (char *)0),
                 "the number ", z(b, p->now), " ends here, but the part \"", z(b, book->parts[other].name),
                 "\" says that it was replaced", (char *)0);
        }
    }
}

/* ---- figures ---- */

static bool has_mark(const struct book_figure *f, int mark)
{
    for (int i = 0; i < f->n_marks; i++) {
        if (f->marks[i].number == mark) {
            return true;
        }
    }
    return false;
}

static void check_shown(struct binding *b, struct book_shown s, const struct node *n)
{
    if (n && s.figure != BOOK_NONE && s.mark && !has_mark(&b->book->figures[s.figure], s.mark)) {
        struct text t = text_new(b->a);
        text_int(&t, s.mark);
        find(b->finds, node_pos(n, "mark"), RULE_FIGURE, "a mark of that figure", "the figure \"",
             z(b, b->book->figures[s.figure].name), "\" has no mark ", text_z(&t), (char *)0);
    }
}

static const struct node *item_at(const struct node *list, struct book_pos pos)
{
    for (int i = 0; list && list->kind == NODE_LIST && i < list->n; i++) {
        if (list->item[i]->pos.line == pos.line && list->item[i]->pos.column == pos.column) {
            return list->item[i];
        }
    }
    return NULL;
}

static void check_marks(struct binding *b)
{
    const struct book *book = b->book;
    for (int i = 0; i < book->n_places; i++) {
        check_shown(b, book->places[i].shown, b->entries[SEC_PLACE].at[i].node);
    }
    for (int i = 0; i < book->n_checkpoints; i++) {
        check_shown(b, book->checkpoints[i].shown, b->entries[SEC_CHECKPOINT].at[i].node);
    }
    for (int i = 0; i < book->n_adjusters; i++) {
        check_shown(b, book->adjusters[i].shown, b->entries[SEC_ADJUSTER].at[i].node);
    }
    for (int i = 0; i < book->n_changes; i++) {
        check_shown(b, book->changes[i].shown, item_at(node_getz(b->bf->root, "changes"), book->changes[i].pos));
    }
    for (int i = 0; i < book->n_tasks; i++) {
        const struct node *steps = node_getz(b->entries[SEC_TASK].at[i].node, "steps");
        for (int k = 0; k < book->tasks[i].n_steps; k++) {
            check_shown(b, book->tasks[i].steps[k].shown, item_at(steps, book->tasks[i].steps[k].pos));
        }
    }
    const struct node *recovery = node_getz(b->bf->root, "recovery");
    for (int k = 0; recovery && recovery->kind == NODE_MAPPING && k < book->recovery.n_steps; k++) {
        check_shown(b, book->recovery.steps[k].shown,
                    item_at(node_getz(recovery, "steps"), book->recovery.steps[k].pos));
    }
}

/* ---- what is never asked for ---- */

static void check_due(struct binding *b)
{
    const struct book *book = b->book;
    bool *asked = ARENA_ARRAY(b->a, bool, book->n_checkpoints + 1);
    for (int s = 0; s < book->n_services; s++) {
        for (int k = 0; k < book->services[s].checkpoints.n; k++) {
            asked[book->services[s].checkpoints.at[k]] = true;
        }
    }
    for (int i = 0; i < book->n_checkpoints; i++) {
        struct interval every = book->checkpoints[i].every;
        if (!asked[i] && every.hours <= 0 && every.months <= 0 && every.days <= 0) {
            find_level(b->finds, DIAG_HINT, b->entries[SEC_CHECKPOINT].at[i].pos, RULE_NEVER_DUE,
                       "every: an interval, or a service that names it", "\"", z(b, book->checkpoints[i].name),
                       "\" is never due and no service asks for it", (char *)0);
        }
    }
}

/* Two changes with one name could not be told apart in the log. Names made from the words are only said when given
 * twice. */
static void check_change_names(struct binding *b)
{
    struct map seen = map_new(b->a);
    for (int i = 0; i < b->book->n_changes; i++) {
        const struct book_change *c = &b->book->changes[i];
        int64_t line = 0;
        if (c->name.n && map_get(&seen, c->name, &line)) {
            struct text t = text_new(b->a);
            text_int(&t, line);
            find(b->finds, c->pos, RULE_DUPLICATE_KEY, "name: a name of its own", "two changes are called \"",
                 z(b, c->name), "\"; the first in line ", text_z(&t), (char *)0);
        } else {
            map_put(&seen, c->name, c->pos.line);
        }
    }
}

/* A text that looks like a name must be one: "rake-counterbalance". */
static void check_name_or_words(struct binding *b, const struct node *cause, const char *key, struct str text,
                                enum section one, enum section other)
{
    bool name = text.n > 0;
    bool hyphen = false;
    for (size_t i = 0; i < text.n; i++) {
        char c = text.p[i];
        hyphen = hyphen || c == '-';
        name = name && ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-');
    }
    if (name && hyphen && !map_get(&b->entries[one].index, text, NULL) &&
        !map_get(&b->entries[other].index, text, NULL)) {
        find(b->finds, node_pos(cause, key), RULE_DANGLING, "the name of one, or words", "there is no ",
             section_info(one)->word, " and no ", section_info(other)->word, " \"", z(b, text), "\"", (char *)0);
    }
}

static bool shown_by_any(const struct book *book, int symptom)
{
    for (int i = 0; i < book->n_causes; i++) {
        for (int k = 0; k < book->causes[i].shows.n; k++) {
            if (book->causes[i].shows.at[k].item == symptom && book->causes[i].shows.at[k].value > 0) {
                return true;
            }
        }
    }
    return false;
}

/* A symptom that is fitted where no cause of it is can't be traced there. */
static void check_causes(struct binding *b)
{
    for (int i = 0; i < b->book->n_causes; i++) {
        const struct book_cause *c = &b->book->causes[i];
        const struct node *n = b->entries[SEC_CAUSE].at[i].node;
        check_name_or_words(b, n, "mends", c->mends, SEC_TASK, SEC_ADJUSTER);
        check_name_or_words(b, n, "test", c->test, SEC_TASK, SEC_CHECKPOINT);
    }
    for (int i = 0; i < b->book->n_symptoms && b->finds->errors == 0; i++) { /* what is wrong may be why */
        const struct book_symptom *s = &b->book->symptoms[i];
        if (!shown_by_any(b->book, i)) {
            find_level(b->finds, DIAG_DOUBT, b->entries[SEC_SYMPTOM].at[i].pos, RULE_TRACE,
                       "a cause that shows it, or with: the options that have one", "no cause shows \"", z(b, s->name),
                       "\"", (char *)0);
        }
    }
}

void check_names(struct binding *b)
{
    check_orders(b);
    check_parts(b);
    check_marks(b);
    check_due(b);
    check_change_names(b);
    check_causes(b);
}

/* ---- unused ---- */

/* A task that settles an adjuster is asked for through that adjuster. */
static void use_by_adjusters(struct binding *b)
{
    struct entries *tasks = &b->entries[SEC_TASK];
    for (size_t i = 0; i < tasks->n; i++) {
        for (int v = 0; v < variant_count(tasks->at[i].node); v++) {
            const struct node *n = variant_at(b, tasks->at[i].node, false, v);
            tasks->at[i].used = tasks->at[i].used || (n && node_getz(n, "adjusts"));
        }
    }
}

/* Tasks and adjusters that a cause names in its words. */
static void use_by_causes(struct binding *b)
{
    static const char *const keys[] = {"mends", "test"};
    const struct entries *causes = &b->entries[SEC_CAUSE];
    for (size_t i = 0; i < causes->n; i++) {
        for (int v = 0; v < variant_count(causes->at[i].node); v++) {
            const struct node *n = variant_at(b, causes->at[i].node, false, v);
            for (size_t k = 0; n && k < sizeof keys / sizeof *keys; k++) {
                const struct node *named = node_getz(n, keys[k]);
                int64_t at = 0;
                if (named && named->kind == NODE_TEXT && map_get(&b->entries[SEC_TASK].index, named->text, &at)) {
                    b->entries[SEC_TASK].at[at].used = true;
                }
            }
        }
    }
}

static void find_unused_options(struct binding *b)
{
    uint64_t used = 0;
    for (size_t i = 0; i < b->bf->n_when; i++) {
        used |= b->bf->when[i]->with | b->bf->when[i]->without;
    }
    for (int i = 0; i < b->bf->n_options; i++) {
        if (!(used & (UINT64_C(1) << i))) {
            find_level(b->finds, DIAG_HINT, b->bf->option_node[i]->pos, RULE_UNUSED, "a variant that depends on it",
                       "nothing depends on the option \"", z(b, b->bf->head.options.at[i]), "\"", (char *)0);
        }
    }
}

void check_unused(struct binding *b)
{
    static const enum section sections[] = {SEC_PLACE,   SEC_VARIABLE, SEC_OPEN, SEC_FLUID,   SEC_PART, SEC_TORQUE,
                                            SEC_CAUTION, SEC_FIGURE,   SEC_TASK, SEC_SYMPTOM, SEC_TEST};
    use_by_adjusters(b);
    use_by_causes(b);
    for (size_t s = 0; s < sizeof sections / sizeof *sections; s++) {
        const struct entries *e = &b->entries[sections[s]];
        for (size_t i = 0; i < e->n; i++) {
            if (!e->at[i].used) {
                find_level(b->finds, DIAG_HINT, e->at[i].pos, RULE_UNUSED, NULL, "nothing names the ",
                           section_info(sections[s])->word, " \"", z(b, e->at[i].name), "\"", (char *)0);
            }
        }
    }
    find_unused_options(b);
}
