/* Which checkpoint, task or part of a machine's book some words mean.
 *
 * Words are compared as sets of words of the trade (csv_concepts). A name fits when the text holds all of its words or
 * its words hold all of the text's; the fit is 2 |both| / (|text| + |name|) (Dice's coefficient). */
#include "csv_internal.h"

#define REMEMBER_MOST 4096

/* Words that alone say nothing about what they were done to. */
static bool is_doing(struct str word)
{
    return str_eq(word, S("change")) || str_eq(word, S("clean")) || str_eq(word, S("check"));
}

/* How well words fit a name: 0 = not, 1 = the same. */
static double fit(const struct csv_concepts *words, const struct csv_concepts *name)
{
    int shared = 0;
    int things = 0; /* of the shared */
    for (int i = 0, k = 0; i < words->n && k < name->n;) {
        int order = str_cmp(words->at[i], name->at[k]);
        shared += order == 0;
        things += order == 0 && !is_doing(words->at[i]);
        i += order <= 0;
        k += order >= 0;
    }
    if (things == 0 || (shared < words->n && shared < name->n)) {
        return 0;
    }
    return 2.0 * shared / (words->n + name->n);
}

/* Whether the words hold that one. */
static bool holds(const struct csv_concepts *c, struct str word)
{
    for (int i = 0; i < c->n; i++) {
        if (str_eq(c->at[i], word)) {
            return true;
        }
    }
    return false;
}

void csv_names_prepare(struct csv_reading *r)
{
    r->concepts = ARENA_ARRAY(r->a, const struct csv_concepts *, r->in->n_machines + 1);
    for (size_t i = 0; i < r->in->n_machines; i++) {
        const struct feed_csv_machine *m = &r->in->machines[i];
        for (size_t k = i; k-- > 0 && !r->concepts[i];) {
            bool same = r->in->machines[k].names == m->names && r->in->machines[k].n_names == m->n_names;
            r->concepts[i] = same ? r->concepts[k] : NULL;
        }
        if (r->concepts[i]) {
            continue;
        }
        struct csv_concepts *made = ARENA_ARRAY(r->a, struct csv_concepts, 2 * m->n_names + 1);
        for (size_t k = 0; k < m->n_names; k++) {
            made[2 * k] = csv_concepts(r->a, m->names[k].name);
            made[2 * k + 1] = csv_concepts(r->a, m->names[k].label);
        }
        r->concepts[i] = made;
    }
}

/* Exactly the name, its label or its part number. */
static int exact_name(struct arena *scratch, const struct feed_csv_machine *m, struct str words, unsigned kinds)
{
    struct str folded = csv_fold(scratch, words);
    for (size_t i = 0; folded.n && i < m->n_names; i++) {
        const struct feed_csv_name *n = &m->names[i];
        if ((n->kind & kinds) &&
            (str_eq(words, n->name) || (n->number.n && str_eq_nocase(words, n->number)) ||
             str_eq(folded, csv_fold(scratch, n->label)) || str_eq(folded, csv_fold(scratch, n->name)))) {
            return (int)i;
        }
    }
    return -1;
}

/* Looks through the machine's names of those kinds. "Oil" without more is the engine's: common practice, so a name that
 * has that one word more than the text wins a tie, and stays doubtful. */
static struct csv_found_name search_name(struct csv_reading *r, int machine, struct str words, unsigned kinds)
{
    struct csv_found_name f = {.index = -1, .other = -1};
    const struct feed_csv_machine *m = &r->in->machines[machine];
    f.index = exact_name(r->scratch, m, words, kinds);
    if (f.index >= 0) {
        f.sure = true;
        f.score = 1;
        return f;
    }
    struct csv_concepts text = csv_concepts(r->scratch, words);
    const struct csv_concepts *names = r->concepts[machine];
    double best = 0;
    double second = 0;
    bool best_engine = false;
    bool plain_oil = holds(&text, S("oil")) && !holds(&text, S("engine"));
    for (size_t i = 0; i < m->n_names; i++) {
        if (!(m->names[i].kind & kinds)) {
            continue;
        }
        double by_name = fit(&text, &names[2 * i]);
        double by_label = fit(&text, &names[2 * i + 1]);
        double score = by_name > by_label ? by_name : by_label;
        bool engine = holds(&names[2 * i], S("engine")) || holds(&names[2 * i + 1], S("engine"));
        bool wins_tie = score > 0 && score == best && engine && !best_engine && plain_oil;
        if (score > best || wins_tie) {
            second = best;
            f.other = f.index;
            best = score;
            f.index = (int)i;
            best_engine = engine;
        } else if (score > second) {
            second = score;
            f.other = (int)i;
        }
    }
    if (best < 0.4) {
        return (struct csv_found_name){.index = -1, .other = -1};
    }
    f.score = best;
    f.sure = best == 1 && second < 1;
    f.tie = second == best && !(best_engine && plain_oil);
    f.other = second > 0 ? f.other : -1;
    return f;
}

struct csv_found_name csv_find_name(struct csv_reading *r, int machine, struct str words, unsigned kinds)
{
    struct text key = text_new(r->scratch);
    text_int(&key, (int64_t)(intptr_t)r->concepts[machine]); /* stands for the table of names */
    text_char(&key, ' ');
    text_int(&key, (int64_t)kinds);
    text_char(&key, ' ');
    text_add(&key, words);
    int64_t at = 0;
    if (map_get(&r->names, text_str(&key), &at)) {
        return r->found_names[at];
    }
    struct csv_found_name f = search_name(r, machine, words, kinds);
    if (r->n_found_names < REMEMBER_MOST) {
        map_put(&r->names, str_copy(r->a, text_str(&key)), (int64_t)r->n_found_names);
        ARENA_PUSH(r->a, r->found_names, r->n_found_names, r->cap_found_names) = f;
    }
    return f;
}

bool csv_names_something(struct csv_reading *r, struct str words)
{
    unsigned kinds = FEED_CSV_NAME_MEASURE | FEED_CSV_NAME_LOOK | FEED_CSV_NAME_TASK;
    for (size_t i = 0; i < r->in->n_machines; i++) {
        if (i > 0 && r->concepts[i] == r->concepts[i - 1]) {
            continue;
        }
        struct csv_found_name f = csv_find_name(r, (int)i, words, kinds);
        if (f.index >= 0 && !f.tie) {
            return true;
        }
    }
    return false;
}
