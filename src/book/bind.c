/* Walking the tree by the table of keys: for one machine, choosing variants, or over all variants at once.
 *
 * Both walks use the same readers of values (value.c, special.c), so a finding about a value reads the same in both and
 * is kept once. First the names of all sections are gathered, then the values are bound, conditions before everything
 * else, because needs, places and changes name them. */
#include "bookfile_internal.h"

#include <string.h>

bool find_shape(struct binding *b, const char *key, const struct node *n, const char *right)
{
    static const char *const kinds[] = {[NODE_TEXT] = "a text", [NODE_LIST] = "a list", [NODE_MAPPING] = "a mapping"};
    if (node_is_empty(n)) {
        return find(b->finds, n->pos, RULE_EMPTY, right, "\"", key, "\" has no value", (char *)0);
    }
    return find(b->finds, n->pos, RULE_SHAPE, right, "\"", key, "\" can't be ", kinds[n->kind], (char *)0);
}

/* ---- variants ---- */

bool node_is_variants(const struct node *n)
{
    bool all = n->kind == NODE_LIST && n->n > 0;
    for (int i = 0; all && i < n->n; i++) {
        all = n->item[i]->kind == NODE_MAPPING;
    }
    return all;
}

/* A mapping that carries a value under `is`, or says when. */
static bool is_wrapped(const struct node *n)
{
    return n->kind == NODE_MAPPING && (n->when || node_getz(n, "is") || node_getz(n, "fitted"));
}

/* A variant of a plain value has only the variant's own keys. */
static void check_wrapped(struct binding *b, const struct node *n)
{
    for (int i = 0; i < n->n; i++) {
        if (!key_is_variant(n->key[i]->text)) {
            find(b->finds, n->key[i]->pos, RULE_UNKNOWN_KEY, "serials, with, without, fitted, is",
                 "a variant has no key \"", n->key[i]->text.p, "\" here; its value stands under \"is\"", (char *)0);
        }
    }
}

/* The word after fitted; anything but yes and no is said. */
static bool is_fitted(struct binding *b, const struct node *n)
{
    const struct node *fitted = node_getz(n, "fitted");
    bool yes = true;
    if (fitted) {
        const struct key *k = key_find(SEC_VARIANT, S("fitted"));
        take_value(b, k, fitted, &yes, &yes);
    }
    return yes;
}

/* What a chosen variant stands for: itself, its `is`, or nothing. */
static enum choice unwrap(struct binding *b, const struct node *n, bool value, const struct node **chosen)
{
    *chosen = n;
    if (!is_fitted(b, n)) {
        return ABSENT;
    }
    if (value) {
        check_wrapped(b, n);
        *chosen = node_getz(n, "is");
        if (!*chosen) {
            find(b->finds, n->pos, RULE_MISSING_KEY, "{ serials: .., is: VALUE }, or fitted: no",
                 "a variant without a value", (char *)0);
            return NO_VARIANT;
        }
    }
    return CHOSEN;
}

/* Says that not exactly one variant holds. */
static enum choice find_variants(struct binding *b, const struct node *n, int holding)
{
    const char *machine = machine_text(b->bf, b->machine, ~UINT64_C(0), b->finds->a);
    find(b->finds, n->pos, holding ? RULE_OVERLAP : RULE_GAP, "exactly one variant for every machine",
         holding ? "several variants hold for " : "no variant holds for ", machine, (char *)0);
    return NO_VARIANT;
}

enum choice bind_choose(struct binding *b, const struct node *n, bool value, const struct node **chosen)
{
    *chosen = n;
    if (node_is_variants(n)) {
        int holding = 0;
        for (int i = 0; i < n->n; i++) {
            if (when_applies(n->item[i]->when, b->machine)) {
                *chosen = n->item[i];
                holding++;
            }
        }
        if (holding != 1 && !b->proved) {
            return find_variants(b, n, holding);
        }
        /* A gap or an overlap was said by the proof: with any variant the rest of the book can still be looked at. */
        return unwrap(b, holding ? *chosen : n->item[0], value, chosen);
    }
    if (n->kind == NODE_MAPPING && !when_applies(n->when, b->machine)) {
        return ABSENT;
    }
    return is_wrapped(n) ? unwrap(b, n, value, chosen) : CHOSEN;
}

int variant_count(const struct node *n)
{
    return node_is_variants(n) ? n->n : 1;
}

const struct node *variant_at(struct binding *b, const struct node *n, bool value, int i)
{
    const struct node *one = node_is_variants(n) ? n->item[i] : n;
    const struct node *chosen = one;
    if (!node_is_variants(n) && !is_wrapped(n)) {
        return n;
    }
    return unwrap(b, one, value, &chosen) == CHOSEN ? chosen : NULL;
}

/* ---- one mapping ---- */

/* Values that are lists deal with their variants item by item. */
static bool is_list_type(enum key_type type)
{
    return type == T_TEXTS || type == T_WORDS || type == T_REFS || type == T_VALUES || type == T_ITEMS ||
           type == T_ENTRIES || type == T_OPTIONS || type == T_SERIALS;
}

/* The field of that key, or null. */
static void *field(const struct key *k, void *base)
{
    return k->offset == NO_OFFSET ? NULL : (char *)base + k->offset;
}

/* Says once that a key that is needed is not there for this machine. */
static void find_absent(struct binding *b, const struct key *k, const struct node *n)
{
    if (k->flags & KEY_REQUIRED) {
        find(b->finds, n->pos, RULE_MISSING_KEY,
             words(b->finds->a, "a ", section_info(k->section)->word, " always has it", (char *)0), "\"", k->name,
             "\" is not there", (char *)0);
    }
}

/* The value of one key, with its variants. */
static void bind_key(struct binding *b, const struct key *k, const struct node *n, void *base)
{
    bool value = k->type != T_MAPPING;
    if (is_list_type(k->type) || (k->flags & KEY_HEAD)) {
        take_value(b, k, n, base, field(k, base));
        return;
    }
    if (b->all) {
        for (int i = 0; i < variant_count(n); i++) {
            const struct node *one = variant_at(b, n, value, i);
            if (one) {
                take_value(b, k, one, base, field(k, base));
            }
        }
        return;
    }
    const struct node *chosen = NULL;
    enum choice choice = bind_choose(b, n, value, &chosen);
    if (choice == CHOSEN) {
        take_value(b, k, chosen, base, field(k, base));
    } else if (choice == ABSENT) {
        find_absent(b, k, n);
    }
}

/* All names of a section's keys, for suggestions. */
static const char *suggest_key(struct binding *b, enum section section, struct str word)
{
    size_t n = 0;
    const struct key *k = keys_of(section, &n);
    struct str names[64];
    size_t count = 0;
    for (size_t i = 0; i < n && count < 64; i++) {
        names[count++] = str_of(k[i].name);
    }
    return suggest(b->finds->a, word, names, count);
}

const char *suggest(struct arena *a, struct str word, const struct str *names, size_t n)
{
    ptrdiff_t near = str_nearest(word, names, n);
    struct text t = text_new(a);
    if (near >= 0) {
        text_char(&t, '"');
        text_add(&t, names[near]);
        text_addz(&t, "\"?");
        return text_z(&t);
    }
    if (n == 0) {
        return "there is none";
    }
    text_addz(&t, "one of ");
    for (size_t i = 0; i < n && i < 24; i++) {
        text_addz(&t, i ? ", " : "");
        text_add(&t, names[i]);
    }
    text_addz(&t, n > 24 ? " ..." : "");
    return text_z(&t);
}

/* A key that the section does not have. */
static void find_unknown(struct binding *b, enum section section, const struct node *key, const struct node *value)
{
    if (value->kind == NODE_TEXT && value->text.n == 0 && value->plain && value->pos.line == key->pos.line) {
        find(b->finds, key->pos, RULE_UNKNOWN_KEY, "inside { } a comma ends the text: put the whole text in quotes",
             "a ", section_info(section)->word, " has no key \"", key->text.p, "\"", (char *)0);
        return;
    }
    find(b->finds, key->pos, RULE_UNKNOWN_KEY, suggest_key(b, section, key->text), "a ", section_info(section)->word,
         " has no key \"", key->text.p, "\"", (char *)0);
}

/* Keys that do not stand in the table but mean something: torque positions, and the bare form of `never`. */
static bool is_free_key(enum section section, const struct node *n, const struct node *key, const struct node *value)
{
    if (section == SEC_NEVER) {
        return node_getz(n, "when") == NULL;
    }
    if (section == SEC_TORQUE && value->kind == NODE_TEXT && !node_is_empty(value)) {
        /* A word next to one of the keys is rather a slip than a position. */
        size_t n_keys = 0;
        const struct key *k = keys_of(section, &n_keys);
        for (size_t i = 0; i < n_keys; i++) {
            if (str_distance(key->text, str_of(k[i].name), 2) <= (key->text.n > 5 ? 2U : 1U)) {
                return false;
            }
        }
        return true;
    }
    return false;
}

/* Needed keys that are not there. */
static void find_missing(struct binding *b, enum section section, const struct node *n)
{
    size_t n_keys = 0;
    const struct key *k = keys_of(section, &n_keys);
    for (size_t i = 0; i < n_keys; i++) {
        bool bare = section == SEC_NEVER && strcmp(k[i].name, "when") == 0;
        if ((k[i].flags & KEY_REQUIRED) && !(k[i].flags & KEY_READ) && !bare && !node_getz(n, k[i].name)) {
            find(b->finds, n->pos, RULE_MISSING_KEY,
                 words(b->finds->a, k[i].name, ": ", key_form(b->finds->a, &k[i]), (char *)0), "this ",
                 section_info(section)->word, " lacks \"", k[i].name, "\"", (char *)0);
        }
    }
}

void bind_mapping(struct binding *b, enum section section, const struct node *n, void *base)
{
    if (n->kind != NODE_MAPPING) {
        find_shape(b, section_info(section)->word, n, "a mapping of keys");
        return;
    }
    for (int i = 0; i < n->n; i++) {
        const struct key *k = key_find(section, n->key[i]->text);
        if (k) {
            bind_key(b, k, n->item[i], base);
        } else if (!is_free_key(section, n, n->key[i], n->item[i]) &&
                   !(key_is_variant(n->key[i]->text) && section != SEC_BOOK && !str_eq(n->key[i]->text, S("is")))) {
            find_unknown(b, section, n->key[i], n->item[i]);
        }
    }
    find_missing(b, section, n);
    finish(b, section, n, base);
}

/* ---- lists ---- */

void bind_items(struct binding *b, enum section section, const struct node *n, void *out)
{
    if (n->kind != NODE_LIST) {
        find_shape(b, section_info(section)->word, n, "a list: lines that begin with \"- \"");
        return;
    }
    size_t size = section_info(section)->size;
    char *at = arena_alloc(b->a, (size_t)n->n + 1, size);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        const struct node *item = n->item[i];
        if (!b->all && item->kind == NODE_MAPPING && !when_applies(item->when, b->machine)) {
            continue;
        }
        char *one = at + (size_t)count++ * size;
        set_defaults(section, one);
        memcpy(one, &item->pos, sizeof item->pos);
        bind_mapping(b, section, item, one);
    }
    const void *list = at;
    memcpy(out, &list, sizeof list);
    memcpy((char *)out + sizeof list, &count, sizeof count);
}

/* ---- named things ---- */

/* pos and name stand first in every named structure. */
struct named {
    struct book_pos pos;
    struct str name;
};

static void add_entry(struct binding *b, enum section section, struct entry e)
{
    struct entries *list = &b->entries[section];
    if (map_get(&list->index, e.name, NULL)) {
        return; /* doubles are said by the tree, or are positions of several variants */
    }
    map_put(&list->index, e.name, (int64_t)list->n);
    ARENA_PUSH(b->a, list->at, list->n, list->cap) = e;
}

/* "wheel-nut" and its position "front". */
static struct str position_name(struct str name, struct str position, struct arena *a)
{
    struct text t = text_new(a);
    text_add(&t, name);
    text_char(&t, '/');
    text_add(&t, position);
    text_z(&t);
    return text_str(&t);
}

/* A torque with positions becomes one thing per position. Returns whether it has any. */
static bool add_positions(struct binding *b, struct entry e, const struct node *n)
{
    bool any = false;
    for (int i = 0; n->kind == NODE_MAPPING && i < n->n; i++) {
        const struct node *key = n->key[i];
        if (!key_find(SEC_TORQUE, key->text) && !key_is_variant(key->text) &&
            is_free_key(SEC_TORQUE, n, key, n->item[i])) {
            struct entry one = e;
            one.name = position_name(e.name, key->text, b->a);
            one.pos = key->pos;
            one.position = n->item[i];
            add_entry(b, SEC_TORQUE, one);
            any = true;
        }
    }
    return any;
}

static bool is_name(struct str s)
{
    bool good = s.n > 0 && s.p[0] != '-' && s.p[s.n - 1] != '-';
    for (size_t i = 0; good && i < s.n; i++) {
        char c = s.p[i];
        good = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || (c == '-' && s.p[i - 1] != '-');
    }
    return good;
}

/* One name of a section: its variant, or all of them. */
static void gather_one(struct binding *b, enum section section, const struct node *name, const struct node *value)
{
    if (!is_name(name->text) || key_is_variant(name->text)) {
        find(b->finds, name->pos, RULE_WORD,
             "lower case letters, digits and hyphens; not serials, with, without, fitted, is", "\"", name->text.p,
             "\" is no name", (char *)0);
    }
    struct entry e = {.name = name->text, .pos = name->pos, .node = value};
    if (b->all) {
        bool any = false;
        for (int i = 0; section == SEC_TORQUE && i < variant_count(value); i++) {
            any = add_positions(b, e, node_is_variants(value) ? value->item[i] : value) || any;
        }
        if (!any) {
            add_entry(b, section, e);
        }
        return;
    }
    if (bind_choose(b, value, false, &e.node) != CHOSEN) {
        return;
    }
    if (e.node != value) {
        e.pos = e.node->pos;
    }
    if (section != SEC_TORQUE || !add_positions(b, e, e.node)) {
        add_entry(b, section, e);
    }
}

static void gather(struct binding *b)
{
    size_t n = 0;
    const struct key *k = keys_of(SEC_BOOK, &n);
    for (size_t i = 0; i < n; i++) {
        if (k[i].type != T_ENTRIES) {
            continue;
        }
        enum section section = (enum section)k[i].arg;
        b->entries[section] = (struct entries){.index = map_new(b->a)};
        const struct node *list = node_getz(b->bf->root, k[i].name);
        for (int j = 0; list && list->kind == NODE_MAPPING && j < list->n; j++) {
            gather_one(b, section, list->key[j], list->item[j]);
        }
    }
}

/* A torque's position: its value, beside what its mapping says. */
static void bind_position(struct binding *b, const struct entry *e, struct book_torque *out)
{
    take_quantity(b, "torque", Q_TORQUE, e->position, &out->torque);
    if (out->label.n) {
        struct text t = text_new(b->a);
        text_add(&t, out->label);
        text_addz(&t, ", ");
        struct str place = label_of_name(e->name, b->a);
        ptrdiff_t comma = str_find(place, S(", "));
        text_add(&t, str_cut(place, (size_t)comma + 2, place.n));
        out->label = text_str(&t);
    }
}

/* One mapping of a named thing into its structure. */
static void bind_one(struct binding *b, enum section section, const struct entry *e, const struct node *n, char *one)
{
    struct named head = {e->pos, e->name};
    if (!(b->all && section == SEC_VARIABLE)) { /* looking at all: values of all variants come together */
        memset(one, 0, section_info(section)->size);
    }
    set_defaults(section, one);
    memcpy(one, &head, sizeof head);
    if (section == SEC_VARIABLE && n->kind == NODE_LIST) {
        const struct key *k = key_find(section, S("values"));
        take_value(b, k, n, one, one + k->offset);
    } else {
        bind_mapping(b, section, n, one);
    }
    if (e->position) {
        bind_position(b, e, (struct book_torque *)(void *)one);
    }
    const struct key *label = key_find(section, section == SEC_FIGURE ? S("title") : S("label"));
    if (label && label->offset != NO_OFFSET) {
        struct str *text = (struct str *)(void *)(one + label->offset);
        if (text->n == 0) {
            *text = label_of_name(e->name, b->a);
        }
    }
}

/* All named things of a section into { pointer, count } of the book. */
static void bind_entries(struct binding *b, const struct key *k, const struct node *list)
{
    enum section section = (enum section)k->arg;
    const struct entries *entries = &b->entries[section];
    size_t size = section_info(section)->size;
    char *at = arena_alloc(b->a, entries->n + 1, size);
    int count = (int)entries->n;
    if (list && list->kind != NODE_MAPPING) {
        find_shape(b, k->name, list, "names, each with what belongs to it");
    }
    const void *shared = at;
    char *out = (char *)b->book + k->offset;
    if (section == SEC_VARIABLE && count > BOOK_VARIABLES_MAX) {
        find(b->finds, entries->at[BOOK_VARIABLES_MAX].pos, RULE_SIZE, "at most 12", "too many condition variables",
             (char *)0);
        count = BOOK_VARIABLES_MAX;
    }
    memcpy(out, &shared, sizeof shared);
    memcpy(out + sizeof shared, &count, sizeof count);
    for (int i = 0; i < count; i++) {
        const struct entry *e = &entries->at[i];
        int variants = b->all ? variant_count(e->node) : 1;
        for (int v = 0; v < variants; v++) {
            const struct node *n = b->all ? variant_at(b, e->node, false, v) : e->node;
            if (n) {
                bind_one(b, section, e, n, at + (size_t)i * size);
            }
        }
    }
}

/* ---- the book ---- */

/* One key of the book, its named things gathered before. */
static void bind_book_key(struct binding *b, const struct key *k)
{
    const struct node *n = node_getz(b->bf->root, k->name);
    if (k->type == T_ENTRIES) {
        bind_entries(b, k, n);
    } else if (n) {
        bind_key(b, k, n, b->book);
    } else if ((k->flags & KEY_REQUIRED) && !(k->flags & KEY_READ)) {
        find(b->finds, (struct book_pos){1, 1}, RULE_MISSING_KEY,
             words(b->finds->a, k->name, ": ", key_form(b->finds->a, k), (char *)0), "the book lacks \"", k->name, "\"",
             (char *)0);
    }
    if (k->type == T_ENTRIES && !n && (k->flags & KEY_REQUIRED)) {
        find(b->finds, (struct book_pos){1, 1}, RULE_MISSING_KEY,
             words(b->finds->a, k->name, ": ", key_form(b->finds->a, k), (char *)0), "the book lacks \"", k->name, "\"",
             (char *)0);
    }
}

static void bind_keys(struct binding *b)
{
    size_t n = 0;
    const struct key *k = keys_of(SEC_BOOK, &n);
    const struct key *conditions = key_find(SEC_BOOK, S("conditions"));
    size_t before = b->finds->errors;
    bind_book_key(b, conditions);
    b->conditions_wrong = b->conditions_wrong || b->finds->errors > before;
    for (size_t i = 0; i < n; i++) {
        before = b->finds->errors;
        if (&k[i] != conditions) {
            bind_book_key(b, &k[i]);
        }
        enum section section = k[i].type == T_ENTRIES || k[i].type == T_ITEMS ? (enum section)k[i].arg : SEC_BOOK;
        if (section == SEC_PLACE || section == SEC_NEVER || section == SEC_OPEN || section == SEC_CHANGE) {
            b->conditions_wrong = b->conditions_wrong || b->finds->errors > before;
        }
    }
    const struct node *root = b->bf->root;
    for (int i = 0; i < root->n; i++) {
        if (!key_find(SEC_BOOK, root->key[i]->text)) {
            find_unknown(b, SEC_BOOK, root->key[i], root->item[i]);
        }
    }
}

/* What the head says is the same for every machine. */
static void copy_head(struct binding *b)
{
    const struct bookfile *bf = b->bf;
    *b->book = (struct book){.hash = bf->head.hash, .file = bf->head.file, .recovery = {.pos = {0, 0}}};
    set_defaults(SEC_EXHAUST, &b->book->exhaust);
    b->book->serial_number = b->machine.serial;
    b->book->serial = pattern_serial(&bf->pattern, b->machine.serial, b->a);
    struct str *fitted = ARENA_ARRAY(b->a, struct str, bf->n_options + 1);
    int n = 0;
    for (int i = 0; i < bf->n_options; i++) {
        if (b->machine.options & (UINT64_C(1) << i)) {
            fitted[n++] = bf->head.options.at[i];
        }
    }
    b->book->options = (struct book_texts){fitted, n};
}

void bind_book(struct binding *b)
{
    copy_head(b);
    gather(b);
    bind_keys(b);
}

void bind_all(struct binding *b)
{
    b->all = true;
    bind_book(b);
}
