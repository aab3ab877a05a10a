/* What differs between two resolved books: thing by thing, key by key, in the words of the book. */
#include "bookfile_internal.h"

#include <string.h>

/* A comparison under way. */
struct comparing {
    const struct book *before, *after;
    struct arena *a;
    struct book_differences *out;
    struct str section; /* where we are: "tasks" */
    struct str name;    /* "Change oil" */
    const char *item;   /* in a list: "step \"Take out the plug\"", else empty */
};

static void add(struct comparing *c, struct str what, struct str before, struct str after)
{
    struct text t = text_new(c->a);
    text_addz(&t, c->item);
    text_addz(&t, c->item[0] && what.n ? ", " : "");
    text_add(&t, what);
    ARENA_PUSH(c->a, c->out->at, c->out->n, c->out->cap) = (struct book_difference){
        .section = c->section, .name = c->name, .what = text_str(&t), .before = before, .after = after};
}

static void compare_key(struct comparing *c, const struct key *k, const void *before, const void *after);

/* Every key of a mapping. */
static void compare_mapping(struct comparing *c, enum section section, const void *before, const void *after)
{
    size_t n = 0;
    const struct key *k = keys_of(section, &n);
    for (size_t i = 0; i < n; i++) {
        compare_key(c, &k[i], before, after);
    }
}

static const void *thing(const struct list *l, int i)
{
    return (const char *)l->at + (size_t)i * l->size;
}

/* What tells one item of a list from the others: its name, its order, its combination. */
static struct str identity(const struct comparing *c, const struct book *b, enum section section, const void *item)
{
    const char *key = section == SEC_STEP ? "do" : section == SEC_CHANGE ? "name" : "when";
    struct text t = text_new(c->a);
    text_of_key(&t, b, key_find(section, str_of(key)), item, true);
    return text_str(&t);
}

/* pos and name stand first in every named structure. */
static struct str name_of(const void *item)
{
    struct str name;
    memcpy(&name, (const char *)item + sizeof(struct book_pos), sizeof name);
    return name;
}

/* Which items of `after` belong to those of `before`: each the first that is left with the same identity; -1 = none. */
static int *match(struct comparing *c, const struct list *before, const struct list *after, enum section section,
                  bool named)
{
    int *to = ARENA_ARRAY(c->a, int, before->n + 1);
    bool *taken = ARENA_ARRAY(c->a, bool, after->n + 1);
    struct str *left = ARENA_ARRAY(c->a, struct str, after->n + 1);
    for (int j = 0; j < after->n; j++) {
        left[j] = named ? name_of(thing(after, j)) : identity(c, c->after, section, thing(after, j));
    }
    for (int i = 0; i < before->n; i++) {
        struct str s = named ? name_of(thing(before, i)) : identity(c, c->before, section, thing(before, i));
        to[i] = -1;
        for (int j = 0; j < after->n && to[i] < 0; j++) {
            if (!taken[j] && str_eq(left[j], s)) {
                to[i] = j;
                taken[j] = true;
            }
        }
    }
    return to;
}

/* Whether j is the partner of some item. */
static bool is_partner(const int *to, int n, int j)
{
    for (int i = 0; i < n; i++) {
        if (to[i] == j) {
            return true;
        }
    }
    return false;
}

/* An item in words: a step's or change's order, a combination. */
static struct str item_words(const struct comparing *c, const struct book *b, enum section section, const void *item)
{
    struct text t = text_new(c->a);
    text_of_key(&t, b, key_find(section, str_of(section == SEC_NEVER ? "when" : "do")), item, false);
    return text_str(&t);
}

/* Lists: what came, what went, what is another order, and what differs in what stayed. */
static void compare_items(struct comparing *c, const struct key *k, const void *before, const void *after)
{
    enum section section = (enum section)k->arg;
    struct list b = list_of(before, k->offset, section);
    struct list a = list_of(after, k->offset, section);
    int *to = match(c, &b, &a, section, false);
    struct str word = str_of(section_info(section)->word);
    int last = -1;
    bool order = false;
    for (int i = 0; i < b.n; i++) {
        if (to[i] < 0) {
            add(c, word, item_words(c, c->before, section, thing(&b, i)), S(""));
        } else {
            order = order || to[i] < last;
            last = to[i] > last ? to[i] : last;
            struct comparing inner = *c;
            inner.item = words(c->a, section_info(section)->word, " \"",
                               str_z(c->a, item_words(c, c->before, section, thing(&b, i))), "\"", (char *)0);
            compare_mapping(&inner, section, thing(&b, i), thing(&a, to[i]));
        }
    }
    for (int j = 0; j < a.n; j++) {
        if (!is_partner(to, b.n, j)) {
            add(c, word, S(""), item_words(c, c->after, section, thing(&a, j)));
        }
    }
    if (order && section == SEC_STEP) {
        add(c, S("order of the steps"), S("as before"), S("changed"));
    }
}

/* The items of one list that the other lacks. */
static struct str missing(const struct comparing *c, const struct words_list *in, const struct words_list *from)
{
    struct text t = text_new(c->a);
    for (size_t i = 0; i < in->n; i++) {
        bool there = false;
        for (size_t j = 0; j < from->n && !there; j++) {
            there = str_eq(in->at[i].name, from->at[j].name);
        }
        if (!there) {
            text_addz(&t, t.n ? ", " : "");
            text_add(&t, in->at[i].label);
        }
    }
    return text_str(&t);
}

/* What went out of a list and what came into it. Its order means nothing, but in a chain of numbers it can't change
 * alone. */
static void compare_lists(struct comparing *c, const struct key *k, const struct words_list *before,
                          const struct words_list *after)
{
    struct str gone = missing(c, before, after);
    struct str come = missing(c, after, before);
    if (gone.n || come.n) {
        add(c, str_of(k->name), gone, come);
    }
}

static struct str value_words(const struct comparing *c, const struct book *b, const struct key *k, const void *base,
                              bool names)
{
    struct text t = text_new(c->a);
    text_of_key(&t, b, k, base, names);
    return text_str(&t);
}

static bool same_number(const struct book_part *before, const struct book_part *after)
{
    return str_eq(before->number, after->number);
}

static void compare_key(struct comparing *c, const struct key *k, const void *before, const void *after)
{
    if (k->type == T_ITEMS) {
        compare_items(c, k, before, after);
        return;
    }
    if (k->type == T_MAPPING) {
        if (k->arg != SEC_SERIALS) {
            size_t offset = k->offset == NO_OFFSET ? 0 : k->offset;
            compare_mapping(c, (enum section)k->arg, (const char *)before + offset, (const char *)after + offset);
        }
        return;
    }
    if (k->section == SEC_PART && k->type == T_TEXTS && !same_number(before, after)) {
        return; /* another part has a chain of its own */
    }
    struct words_list items[2];
    if (words_of_list(c->a, c->before, k, before, &items[0]) && words_of_list(c->a, c->after, k, after, &items[1])) {
        compare_lists(c, k, &items[0], &items[1]);
        return;
    }
    if (!str_eq(value_words(c, c->before, k, before, true), value_words(c, c->after, k, after, true))) {
        add(c, str_of(k->name), value_words(c, c->before, k, before, false), value_words(c, c->after, k, after, false));
    }
}

/* Named things of one section. */
static void compare_entries(struct comparing *c, const struct key *k)
{
    enum section section = (enum section)k->arg;
    struct list b = list_of(c->before, k->offset, section);
    struct list a = list_of(c->after, k->offset, section);
    int *to = match(c, &b, &a, section, true);
    c->section = str_of(k->name);
    for (int i = 0; i < b.n; i++) {
        c->name = section == SEC_CAUTION ? label_of_name(name_of(thing(&b, i)), c->a) : label_at(b, i, section);
        if (to[i] < 0) {
            add(c, S(""), c->name, S(""));
        } else {
            compare_mapping(c, section, thing(&b, i), thing(&a, to[i]));
        }
    }
    for (int j = 0; j < a.n; j++) {
        if (!is_partner(to, b.n, j)) {
            c->name = section == SEC_CAUTION ? label_of_name(name_of(thing(&a, j)), c->a) : label_at(a, j, section);
            add(c, S(""), S(""), c->name);
        }
    }
    c->section = S("");
    c->name = S("");
}

struct book_differences bookfile_diff_machines(const struct book *before, const struct book *after, struct arena *a)
{
    struct book_differences out = {0};
    struct comparing c = {.before = before, .after = after, .a = a, .out = &out, .item = ""};
    size_t n = 0;
    const struct key *k = keys_of(SEC_BOOK, &n);
    for (size_t i = 0; i < n; i++) {
        if (k[i].type == T_ENTRIES) {
            compare_entries(&c, &k[i]);
        } else if (k[i].offset != NO_OFFSET) {
            bool sectioned = k[i].type == T_ITEMS || k[i].type == T_MAPPING;
            c.section = sectioned ? str_of(k[i].name) : S("");
            compare_key(&c, &k[i], before, after);
            c.section = S("");
        }
    }
    return out;
}

/* ---- printing ---- */

/* "capacity 38 L -> 41 L", "HT-2207 replaced by HT-2210", "new", "gone". */
static void add_difference(struct text *t, const struct book_difference *d)
{
    struct str arrow = str_eq(d->what, S("number")) ? S(" replaced by ") : S(" -> ");
    bool bare = d->what.n == 0 || str_eq(d->what, S("number")) || str_eq(d->what, S("is"));
    if (d->what.n == 0) {
        text_addz(t, d->before.n ? "no longer there" : "new");
        return;
    }
    if (str_eq(d->what, S("label")) || str_eq(d->what, S("title"))) {
        text_addz(t, "now called ");
        text_add(t, d->after);
        return;
    }
    if (!bare) {
        text_add(t, d->what);
        text_char(t, ' ');
    }
    if (d->before.n == 0) {
        text_addz(t, "new: ");
        text_add(t, d->after);
    } else if (d->after.n == 0) {
        text_addz(t, "no longer: ");
        text_add(t, d->before);
    } else {
        text_add(t, d->before);
        text_add(t, arrow);
        text_add(t, d->after);
    }
}

/* Heading of a group: for which machines. */
static void add_group(struct text *t, const struct book_difference *d)
{
    if (d->from.n == 0 && d->options.n == 0) {
        return;
    }
    text_addz(t, d->from.n && d->to.n ? "from " : d->from.n ? "from " : "");
    text_add(t, d->from);
    if (d->from.n) {
        text_addz(t, d->to.n ? " to " : " on");
        text_add(t, d->to);
    }
    for (int i = 0; i < d->options.n; i++) {
        text_addz(t, i ? " and " : d->from.n ? ", with " : "with ");
        text_add(t, d->options.at[i]);
    }
    text_addz(t, ":\n");
}

static bool same_group(const struct book_difference *a, const struct book_difference *b)
{
    bool same = str_eq(a->from, b->from) && str_eq(a->to, b->to) && a->options.n == b->options.n;
    for (int i = 0; same && i < a->options.n; i++) {
        same = str_eq(a->options.at[i], b->options.at[i]);
    }
    return same;
}

void text_book_differences(struct text *t, const struct book_differences *d)
{
    const struct book_difference *last = NULL;
    for (size_t i = 0; i < d->n; i++) {
        const struct book_difference *one = &d->at[i];
        bool group = !last || !same_group(last, one);
        bool section = group || !str_eq(last->section, one->section);
        bool name = section || !str_eq(last->name, one->name);
        if (name && last) {
            text_char(t, '\n');
        }
        if (group) {
            add_group(t, one);
        }
        if (section && one->section.n) {
            text_addz(t, "  ");
            text_add(t, one->section);
            text_char(t, '\n');
        }
        if (name) {
            text_addz(t, one->section.n ? "    " : "  ");
            text_add(t, one->name);
            text_addz(t, one->name.n ? ": " : "");
        } else {
            text_addz(t, "; ");
        }
        add_difference(t, one);
        last = one;
    }
    if (last) {
        text_char(t, '\n');
    }
}
