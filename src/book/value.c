/* Plain values: texts, numbers, quantities, names and conditions, each read into the field its key is bound to. */
#include "bookfile_internal.h"

#include <math.h>
#include <string.h>

/* Place of a byte of a text that stands in one line; else where the text begins. */
static struct book_pos pos_in(const struct node *n, size_t byte)
{
    struct book_pos pos = n->pos;
    if (n->inline_form) {
        pos.column += (uint32_t)str_chars(str_cut(n->text, 0, byte)) + (n->plain ? 0U : 1U);
    }
    return pos;
}

bool take_text(struct binding *b, const char *key, const struct node *n, struct str *out)
{
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        return find_shape(b, key, n, "a text");
    }
    *out = str_trim(n->text);
    return true;
}

/* ---- numbers and quantities ---- */

bool take_number(struct binding *b, const char *key, const struct node *n, double low, double high, double *out)
{
    double value = 0;
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        return find_shape(b, key, n, "a number");
    }
    if (!num_parse(str_trim(n->text), &value)) {
        return find(b->finds, n->pos, RULE_NUMBER, "a number with a decimal point", "\"", n->text.p, "\" is no number",
                    (char *)0);
    }
    if (value < low || value > high) {
        struct text t = text_new(b->finds->a);
        text_addz(&t, "at least ");
        text_number(&t, low, 6);
        if (isfinite(high)) {
            text_addz(&t, ", at most ");
            text_number(&t, high, 6);
        }
        return find(b->finds, n->pos, RULE_NUMBER, text_z(&t), "\"", key, "\" can't be ", n->text.p, (char *)0);
    }
    *out = value;
    return true;
}

/* A whole number from `least` on. */
static void take_count(struct binding *b, const struct key *k, const struct node *n, int *out)
{
    double value = 0;
    if (!take_number(b, k->name, n, k->arg, 1e6, &value)) {
        return;
    }
    if (value != floor(value)) {
        find(b->finds, n->pos, RULE_NUMBER, "a whole number", "\"", k->name, "\" can't be ", n->text.p, (char *)0);
        return;
    }
    *out = (int)value;
}

/* Hands on what the quantity module says, at the place in the node. */
static bool find_unreadable(struct binding *b, const struct node *n, struct str s, const struct err *e)
{
    size_t offset = (size_t)(s.p - n->text.p) + (e->where.column ? e->where.column - 1 : 0);
    return find(b->finds, pos_in(n, offset), RULE_QUANTITY, e->right.n ? str_z(b->finds->a, e->right) : NULL,
                str_z(b->finds->a, e->what), (char *)0);
}

/* Some units of a kind, for what would be right. */
static const char *units_of(struct arena *a, enum quantity_kind kind)
{
    size_t n = 0;
    const struct unit *all = unit_all(&n);
    struct text t = text_new(a);
    text_join(&t, "a ", quantity_kind_text(kind), kind == Q_NONE ? " without a unit" : ", in ", (char *)0);
    int shown = 0;
    for (size_t i = 0; i < n && kind != Q_NONE && shown < 5; i++) {
        if (all[i].kind == kind) {
            text_join(&t, shown ? ", " : "", all[i].symbol, (char *)0);
            shown++;
        }
    }
    return text_z(&t);
}

/* Whether the unit is of the kind that belongs there. */
static bool is_kind(struct binding *b, const struct node *n, struct str s, const struct unit *u,
                    enum quantity_kind kind)
{
    if (!u && kind != Q_NONE) {
        return find(b->finds, n->pos, RULE_QUANTITY, units_of(b->finds->a, kind), "\"", str_z(b->finds->a, s),
                    "\" has no unit", (char *)0);
    }
    enum quantity_kind is = u ? u->kind : Q_NONE;
    if (is != kind) {
        return find(b->finds, n->pos, RULE_QUANTITY_KIND, units_of(b->finds->a, kind), "\"", str_z(b->finds->a, s),
                    "\" is a ", quantity_kind_text(is), (char *)0);
    }
    return true;
}

bool read_quantity(struct binding *b, const struct node *n, struct str s, enum quantity_kind kind,
                   struct book_quantity *out)
{
    struct err e = err_new(b->a);
    struct quantity q = {0};
    if (!quantity_parse(s, &q, &e)) {
        return find_unreadable(b, n, s, &e);
    }
    if (!is_kind(b, n, s, q.unit, kind)) {
        return false;
    }
    *out = (struct book_quantity){true, q, q.unit ? unit_to_si(q.unit, q.value) : q.value};
    return true;
}

bool take_quantity(struct binding *b, const char *key, enum quantity_kind kind, const struct node *n,
                   struct book_quantity *out)
{
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        return find_shape(b, key, n, units_of(b->finds->a, kind));
    }
    if (!read_quantity(b, n, str_trim(n->text), kind, out)) {
        return false;
    }
    if (out->si < 0 && kind != Q_TEMPERATURE && kind != Q_TEMPERATURE_DIFFERENCE) {
        return find(b->finds, n->pos, RULE_NUMBER, "nothing below zero", "\"", key, "\" can't be ", n->text.p,
                    (char *)0);
    }
    return true;
}

/* The wanted value and the gauge's uncertainty: of whatever kind the limits are; compared with them in finish.c. */
static void take_free_quantity(struct binding *b, const struct key *k, const struct node *n, struct book_quantity *out)
{
    struct err e = err_new(b->a);
    struct quantity q = {0};
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n, "a quantity in a unit of the limits");
    } else if (!quantity_parse(str_trim(n->text), &q, &e)) {
        find_unreadable(b, n, str_trim(n->text), &e);
    } else {
        *out = (struct book_quantity){true, q, q.unit ? unit_to_si(q.unit, q.value) : q.value};
    }
}

static void take_range(struct binding *b, const struct key *k, const struct node *n, struct quantity_range *out)
{
    struct err e = err_new(b->a);
    struct quantity_range r = {0};
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n, "low .. high and a unit; one end may be open");
    } else if (!range_parse(str_trim(n->text), &r, &e)) {
        struct str s = str_trim(n->text);
        bool order = str_find(e.what, S("wrong way")) >= 0;
        if (order) {
            find(b->finds, n->pos, RULE_LIMITS, e.right.n ? str_z(b->finds->a, e.right) : "the smaller one first",
                 str_z(b->finds->a, e.what), (char *)0);
        } else {
            find_unreadable(b, n, s, &e);
        }
    } else {
        *out = r;
    }
}

static void take_interval(struct binding *b, const struct key *k, const struct node *n, struct interval *out)
{
    struct err e = err_new(b->a);
    struct interval i = {0};
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n, "250 h, 12 months, or both with \"or\" between");
    } else if (!interval_parse(str_trim(n->text), &i, &e)) {
        find(b->finds, n->pos, RULE_INTERVAL,
             e.right.n ? str_z(b->finds->a, e.right) : "250 h, 12 months, or 250 h or 12 months",
             str_z(b->finds->a, e.what), (char *)0);
    } else if (i.hours <= 0 && i.months <= 0 && i.days <= 0) {
        find(b->finds, n->pos, RULE_INTERVAL, "more than nothing", "\"", k->name, "\" can't be ", n->text.p, (char *)0);
    } else {
        *out = i;
    }
}

/* Turns of a screw: a number, a fraction, or an angle. */
static void take_turns(struct binding *b, const struct key *k, const struct node *n, double *out)
{
    struct err e = err_new(b->a);
    struct quantity q = {0};
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n, "turns: 1/4, 2, 90 deg");
    } else if (!quantity_parse(str_trim(n->text), &q, &e)) {
        find_unreadable(b, n, str_trim(n->text), &e);
    } else if (q.unit && q.unit->kind != Q_ANGLE) {
        is_kind(b, n, str_trim(n->text), q.unit, Q_ANGLE);
    } else {
        double turns = q.unit ? unit_to_si(q.unit, q.value) / (2 * acos(-1)) : q.value;
        if (turns > 0 && turns <= 1000) {
            *out = turns;
        } else {
            find(b->finds, n->pos, RULE_NUMBER, "more than nothing", "\"", k->name, "\" can't be ", n->text.p,
                 (char *)0);
        }
    }
}

/* ---- words ---- */

static void take_yes(struct binding *b, const struct key *k, const struct node *n, bool *out)
{
    struct str s = n->kind == NODE_TEXT && n->plain ? n->text : S("");
    bool yes = str_eq(s, S("yes")) || str_eq(s, S("true"));
    if (!yes && !str_eq(s, S("no")) && !str_eq(s, S("false"))) {
        find(b->finds, n->pos, RULE_WORD, "yes or no, without quotes", "\"", k->name, "\" is yes or no", (char *)0);
        return;
    }
    if (out) {
        *out = yes;
    }
}

/* Index of the word in the list, or -1 with a finding. */
static int take_word(struct binding *b, const struct key *k, const struct node *n, const char *const *list,
                     size_t n_list)
{
    for (size_t i = 0; n->kind == NODE_TEXT && i < n_list; i++) {
        if (str_eq(n->text, str_of(list[i]))) {
            return (int)i;
        }
    }
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n, either(b->finds->a, list, n_list));
    } else {
        find(b->finds, n->pos, k->arg == WORDS_LEVEL && k->type == T_ENUM ? RULE_CAUTION : RULE_WORD,
             either(b->finds->a, list, n_list), "\"", k->name, "\" can't be \"", n->text.p, "\"", (char *)0);
    }
    return -1;
}

static void take_enum(struct binding *b, const struct key *k, const struct node *n, void *out)
{
    size_t n_list = 0;
    const char *const *list = word_list((enum word_list)k->arg, &n_list);
    int word = take_word(b, k, n, list, n_list);
    _Static_assert(sizeof(enum book_late) == sizeof(int) && sizeof(enum book_caution_level) == sizeof(int),
                   "enumerations are bound as int");
    if (word >= 0) {
        memcpy(out, &word, sizeof word);
    }
}

static void take_turn_in(struct binding *b, const struct key *k, const struct node *n, bool *out)
{
    static const char *const list[] = {"in", "out"};
    *out = take_word(b, k, n, list, 2) == 0;
}

/* ---- lists of texts ---- */

static void add_item(struct binding *b, const struct key *k, const struct node *n, struct node_list *list)
{
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n, "a text, or { is: TEXT, with: OPTION }");
        return;
    }
    ARENA_PUSH(b->a, list->at, list->n, list->cap) = n;
}

/* An item that holds only sometimes: { is: goggles, with: exhaust-filter }, its `is` one or a list. */
static void add_conditional(struct binding *b, const struct key *k, const struct node *n, struct node_list *list)
{
    const struct node *is = node_getz(n, "is");
    for (int i = 0; i < n->n; i++) {
        if (!key_is_variant(n->key[i]->text)) {
            find(b->finds, n->key[i]->pos, RULE_UNKNOWN_KEY, "serials, with, without, is",
                 "an item of a list has no key \"", n->key[i]->text.p, "\"", (char *)0);
            return;
        }
    }
    if (!is) {
        find(b->finds, n->pos, RULE_MISSING_KEY, "{ is: TEXT, with: OPTION }", "an item without \"is\"", (char *)0);
        return;
    }
    if (!b->all && !when_applies(n->when, b->machine)) {
        return;
    }
    for (int i = 0; is->kind == NODE_LIST && i < is->n; i++) {
        add_item(b, k, is->item[i], list);
    }
    if (is->kind != NODE_LIST) {
        add_item(b, k, is, list);
    }
}

/* A text with commas as several, at the places where they stand. */
static void add_pieces(struct binding *b, const struct node *n, struct node_list *list)
{
    struct str rest = n->text;
    struct str piece;
    while (str_next(&rest, ',', &piece)) {
        piece = str_trim(piece);
        if (piece.n) {
            struct node *one = ARENA_NEW(b->a, struct node);
            *one = *n;
            one->pos = pos_in(n, (size_t)(piece.p - n->text.p));
            one->text = str_copy(b->a, piece);
            ARENA_PUSH(b->a, list->at, list->n, list->cap) = one;
        }
    }
}

/* { support: rake lowered } as "support: rake lowered". */
static void add_mapping(struct binding *b, const struct key *k, const struct node *n, struct node_list *list)
{
    for (int i = 0; i < n->n; i++) {
        struct str text = S("");
        if (take_text(b, k->name, n->item[i], &text)) {
            struct node *one = ARENA_NEW(b->a, struct node);
            *one = *n->item[i];
            one->text = str_of(words(b->a, n->key[i]->text.p, ": ", str_z(b->a, text), (char *)0));
            ARENA_PUSH(b->a, list->at, list->n, list->cap) = one;
        }
    }
}

struct node_list list_items(struct binding *b, const struct key *k, const struct node *n)
{
    struct node_list list = {0};
    if (n->kind == NODE_TEXT) {
        if (k->type == T_WORDS && !node_is_empty(n)) {
            add_pieces(b, n, &list);
        } else {
            add_item(b, k, n, &list);
        }
        return list;
    }
    if (n->kind == NODE_MAPPING) {
        if ((k->flags & KEY_HEADED) && !n->when && !node_getz(n, "is")) {
            add_mapping(b, k, n, &list);
        } else {
            add_conditional(b, k, n, &list);
        }
        return list;
    }
    if (n->n == 0) {
        find(b->finds, n->pos, RULE_EMPTY, "leave the key out, or name something", "\"", k->name, "\" is an empty list",
             (char *)0);
    }
    for (int i = 0; i < n->n; i++) {
        if (n->item[i]->kind == NODE_MAPPING) {
            add_conditional(b, k, n->item[i], &list);
        } else {
            add_item(b, k, n->item[i], &list);
        }
    }
    return list;
}

static void take_texts(struct binding *b, const struct key *k, const struct node *n, struct book_texts *out)
{
    struct node_list list = list_items(b, k, n);
    struct str *at = ARENA_ARRAY(b->a, struct str, list.n + 1);
    for (size_t i = 0; i < list.n; i++) {
        at[i] = str_trim(list.at[i]->text);
    }
    *out = (struct book_texts){at, (int)list.n};
}

/* ---- names ---- */

/* The key of the book under which a section's names stand. */
static const char *section_key(enum section section)
{
    size_t n = 0;
    const struct key *k = keys_of(SEC_BOOK, &n);
    for (size_t i = 0; i < n; i++) {
        if (k[i].type == T_ENTRIES && k[i].arg == (int)section) {
            return k[i].name;
        }
    }
    return "";
}

/* Whether the book has that name at all, for some other machine. */
static bool is_declared(struct binding *b, enum section section, struct str name)
{
    const struct node *list = node_getz(b->bf->root, section_key(section));
    ptrdiff_t slash = section == SEC_TORQUE ? str_find(name, S("/")) : -1;
    return node_get(list, slash < 0 ? name : str_cut(name, 0, (size_t)slash)) != NULL;
}

static int find_dangling(struct binding *b, enum section section, const struct node *n, struct str name, unsigned flags)
{
    const char *word = section_info(section)->word;
    const char *shown = str_z(b->finds->a, name);
    if (!b->all && is_declared(b, section, name)) {
        if (!(flags & KEY_DROP)) {
            find(b->finds, n->pos, RULE_NOT_FITTED, "say with serials, with or without where this holds", "the ", word,
                 " \"", shown, "\" does not exist on this machine", (char *)0);
        }
        return BOOK_NONE;
    }
    struct str *names = ARENA_ARRAY(b->a, struct str, b->entries[section].n);
    for (size_t i = 0; i < b->entries[section].n; i++) {
        names[i] = b->entries[section].at[i].name;
    }
    if (b->all || b->proved) { /* alike in both walks, so that it is said once */
        const char *right = suggest(b->finds->a, name, names, b->entries[section].n);
        find(b->finds, n->pos, RULE_DANGLING, right, "there is no ", word, " \"", shown, "\"", (char *)0);
    } else {
        find(b->finds, n->pos, RULE_DANGLING,
             words(b->finds->a, "a name that stands under ", section_key(section), (char *)0), "there is no ", word,
             " \"", shown, "\"", (char *)0);
    }
    return BOOK_NONE;
}

int take_ref(struct binding *b, enum section section, const struct node *n, struct str name, unsigned flags)
{
    int64_t at = 0;
    if (!map_get(&b->entries[section].index, name, &at)) {
        return find_dangling(b, section, n, name, flags);
    }
    if (!(flags & KEY_LISTING)) {
        b->entries[section].at[at].used = true;
    }
    return (int)at;
}

/* A joint with positions, named as a whole: all of them. Returns how many. */
static int add_positions(struct binding *b, struct str name, int *at, int n)
{
    struct entries *torques = &b->entries[SEC_TORQUE];
    struct str head = str_of(words(b->a, str_z(b->a, name), "/", (char *)0));
    for (size_t i = 0; i < torques->n; i++) {
        if (str_starts(torques->at[i].name, head)) {
            torques->at[i].used = true;
            at[n++] = (int)i;
        }
    }
    return n;
}

static void take_refs(struct binding *b, const struct key *k, const struct node *n, struct book_refs *out)
{
    enum section section = (enum section)k->arg;
    struct node_list list = list_items(b, k, n);
    size_t room = list.n + (section == SEC_TORQUE ? list.n * b->entries[SEC_TORQUE].n : 0);
    int *at = ARENA_ARRAY(b->a, int, room + 1);
    int count = 0;
    for (size_t i = 0; i < list.n; i++) {
        int before = count;
        if (section == SEC_TORQUE && !map_get(&b->entries[section].index, list.at[i]->text, NULL)) {
            count = add_positions(b, list.at[i]->text, at, count);
        }
        int one = count > before ? BOOK_NONE : take_ref(b, section, list.at[i], list.at[i]->text, k->flags);
        if (one != BOOK_NONE) {
            at[count++] = one;
        }
    }
    *out = (struct book_refs){at, count};
}

/* ---- conditions ---- */

int take_variable(struct binding *b, const struct node *name)
{
    int v = take_ref(b, SEC_VARIABLE, name, name->text, 0);
    return v < b->book->n_variables ? v : BOOK_NONE;
}

/* The book has that value for some other machine. */
static bool value_is_declared(struct binding *b, const struct book_variable *variable, struct str value)
{
    const struct node *n = node_get(node_getz(b->bf->root, "conditions"), variable->name);
    for (int i = 0; n && n->kind == NODE_LIST && i < n->n; i++) {
        const struct node *values = n->item[i]->kind == NODE_MAPPING ? node_getz(n->item[i], "values") : NULL;
        for (int j = 0; values && values->kind == NODE_LIST && j < values->n; j++) {
            if (values->item[j]->kind == NODE_TEXT && str_eq(values->item[j]->text, value)) {
                return true;
            }
        }
    }
    return false;
}

int take_variable_value(struct binding *b, int variable, const struct node *value)
{
    const struct book_variable *v = &b->book->variables[variable];
    if (value->kind != NODE_TEXT) {
        find_shape(b, str_z(b->a, v->name), value, "a value, or a list of values");
        return BOOK_NONE;
    }
    for (int i = 0; i < v->n_values; i++) {
        if (str_eq(v->values[i], value->text)) {
            return i;
        }
    }
    if (!b->all && value_is_declared(b, v, value->text)) {
        find(b->finds, value->pos, RULE_NOT_FITTED, "say with serials, with or without where this holds", "\"",
             str_z(b->finds->a, v->name), "\" can't be \"", value->text.p, "\" on this machine", (char *)0);
    } else {
        find(b->finds, value->pos, RULE_WORD, suggest(b->finds->a, value->text, v->values, (size_t)v->n_values), "\"",
             str_z(b->finds->a, v->name), "\" can't be \"", value->text.p, "\"", (char *)0);
    }
    return BOOK_NONE;
}

void take_condition(struct binding *b, const struct node *n, struct book_condition *out)
{
    if (n->kind != NODE_MAPPING) {
        find_shape(b, "condition", n, "{ variable: value } or { variable: [value, value] }");
        return;
    }
    for (int i = 0; i < n->n; i++) {
        if (key_is_variant(n->key[i]->text) || str_eq(n->key[i]->text, S("why"))) {
            continue; /* of the bare form of `never` */
        }
        int v = take_variable(b, n->key[i]);
        const struct node *values = n->item[i];
        int count = values->kind == NODE_LIST ? values->n : 1;
        if (v != BOOK_NONE && count == 0) {
            find(b->finds, values->pos, RULE_EMPTY, "at least one value", "no value of \"", n->key[i]->text.p,
                 "\" is named", (char *)0);
        }
        for (int j = 0; v != BOOK_NONE && j < count; j++) {
            int value = take_variable_value(b, v, values->kind == NODE_LIST ? values->item[j] : values);
            if (value != BOOK_NONE) {
                out->allow[v] = (uint16_t)(out->allow[v] | (1U << value));
            }
        }
    }
}

/* ---- by type ---- */

/* A name of one thing. */
static void take_one_ref(struct binding *b, const struct key *k, const struct node *n, int *out)
{
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, k->name, n,
                   words(b->finds->a, "the name of a ", section_info((enum section)k->arg)->word, (char *)0));
        return;
    }
    *out = take_ref(b, (enum section)k->arg, n, n->text, k->flags);
}

static void take_id(struct binding *b, const struct key *k, const struct node *n, struct str *out)
{
    struct str s = S("");
    if (!take_text(b, k->name, n, &s)) {
        return;
    }
    for (size_t i = 0; i < s.n; i++) {
        char c = s.p[i];
        if (!((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-')) {
            find(b->finds, n->pos, RULE_WORD, "lower case letters, digits and hyphens", "\"", n->text.p,
                 "\" is no name", (char *)0);
            return;
        }
    }
    if (out) {
        *out = s;
    }
}

/* A quantity in SI into a double. */
static void take_si(struct binding *b, const struct key *k, const struct node *n, double *out)
{
    struct book_quantity q = {0};
    if (take_quantity(b, k->name, (enum quantity_kind)k->arg, n, &q)) {
        *out = q.si;
    }
}

void take_value(struct binding *b, const struct key *k, const struct node *n, void *base, void *out)
{
    struct str ignored;
    switch ((int)k->type) {
    case T_TEXT:
        take_text(b, k->name, n, out ? out : &ignored);
        break;
    case T_ID:
        take_id(b, k, n, out);
        break;
    case T_TEXTS:
    case T_WORDS:
        take_texts(b, k, n, out);
        break;
    case T_ENUM:
        take_enum(b, k, n, out);
        break;
    case T_TURN_IN:
        take_turn_in(b, k, n, out);
        break;
    case T_YES:
        take_yes(b, k, n, out);
        break;
    case T_COUNT:
        take_count(b, k, n, out);
        break;
    case T_NUMBER: /* a weight */
        take_number(b, k->name, n, 0, HUGE_VAL, out);
        break;
    case T_CHANCE:
        take_number(b, k->name, n, 0, 1, out);
        break;
    case T_TURNS:
        take_turns(b, k, n, out);
        break;
    case T_SI:
        take_si(b, k, n, out);
        break;
    case T_QUANTITY:
        if (k->arg == Q_NONE) {
            take_free_quantity(b, k, n, out);
        } else {
            take_quantity(b, k->name, (enum quantity_kind)k->arg, n, out);
        }
        break;
    case T_RANGE:
        take_range(b, k, n, out);
        break;
    case T_INTERVAL:
        take_interval(b, k, n, out);
        break;
    case T_REF:
        take_one_ref(b, k, n, out);
        break;
    case T_REFS:
        take_refs(b, k, n, out);
        break;
    case T_CONDITION:
        take_condition(b, n, out);
        break;
    case T_ITEMS:
        bind_items(b, (enum section)k->arg, n, out);
        break;
    default:
        take_special(b, k, n, base, out);
        break;
    }
}
