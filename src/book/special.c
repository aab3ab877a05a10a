/* Values with a form of their own: points, what a reading is referred to, what a task uses, marks, chances. */
#include "bookfile_internal.h"

#include <math.h>
#include <string.h>

#define KELVIN_0_C 273.15 /* 0 degC, by definition of the Celsius scale */

/* How often a value in a mapping of names is looked at, and what then stands there; null when nothing holds. */
static int looks(const struct binding *b, const struct node *n)
{
    return b->all ? variant_count(n) : 1;
}
static const struct node *look_at(struct binding *b, const struct node *n, int i)
{
    const struct node *chosen = NULL;
    if (b->all) {
        return variant_at(b, n, true, i);
    }
    return bind_choose(b, n, true, &chosen) == CHOSEN ? chosen : NULL;
}

/* [x, y] */
static void take_point(struct binding *b, const struct key *k, const struct node *n, double *out)
{
    bool unit = k->flags & KEY_UNIT;
    if (n->kind != NODE_LIST || n->n != 2) {
        find_shape(b, k->name, n, unit ? "[x, y], each from 0 to 1" : "[x, y] in metres");
        return;
    }
    for (int i = 0; i < 2; i++) {
        take_number(b, k->name, n->item[i], unit ? 0 : -1000, unit ? 1 : 1000, &out[i]);
    }
}

/* What is different after a change. */
static void take_to(struct binding *b, const struct node *n, int8_t *out)
{
    if (n->kind != NODE_MAPPING || n->n == 0) {
        find_shape(b, "to", n, "{ variable: value }");
        return;
    }
    for (int i = 0; i < n->n; i++) {
        int v = take_variable(b, n->key[i]);
        if (v != BOOK_NONE) {
            out[v] = (int8_t)take_variable_value(b, v, n->item[i]);
        }
    }
}

/* { text: text }: what each stands for. */
static void take_pairs(struct binding *b, const struct key *k, const struct node *n, struct book_pairs *out)
{
    if (n->kind != NODE_MAPPING || n->n == 0) {
        find_shape(b, k->name, n, "a mapping: { WORD: what it stands for }");
        return;
    }
    struct book_pair *at = ARENA_ARRAY(b->a, struct book_pair, n->n);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        at[count].name = n->key[i]->text;
        count += take_text(b, k->name, n->item[i], &at[count].text);
    }
    *out = (struct book_pairs){at, count};
}

/* ---- fluids ---- */

/* { 40 degC: 46 mm2/s, 100 degC: 6.8 mm2/s } */
static void take_viscosity(struct binding *b, const struct node *n, struct book_fluid *f)
{
    static const char *const right = "{ 40 degC: 46 mm2/s, 100 degC: 6.8 mm2/s }";
    if (n->kind != NODE_MAPPING) {
        find_shape(b, "viscosity", n, right);
        return;
    }
    for (int i = 0; i < n->n; i++) {
        struct book_quantity at = {0};
        struct book_quantity value = {0};
        if (!read_quantity(b, n->key[i], str_trim(n->key[i]->text), Q_TEMPERATURE, &at) ||
            !take_quantity(b, "viscosity", Q_KINEMATIC_VISCOSITY, n->item[i], &value)) {
            continue;
        }
        bool at_40 = fabs(at.si - (KELVIN_0_C + 40)) < 0.01;
        bool at_100 = fabs(at.si - (KELVIN_0_C + 100)) < 0.01;
        if (value.si <= 0 || !(at_40 || at_100)) {
            find(b->finds, value.si <= 0 ? n->item[i]->pos : n->key[i]->pos, RULE_NUMBER, right,
                 "viscosities are given at 40 degC and 100 degC, more than nothing", (char *)0);
        }
        f->viscosity_40_m2s = at_40 ? value.si : f->viscosity_40_m2s;
        f->viscosity_100_m2s = at_100 ? value.si : f->viscosity_100_m2s;
    }
}

/* ---- what a task uses, what a cause shows ---- */

/* Room for a mapping of names with counts; null with a finding when n is none. */
static bool is_names(struct binding *b, const char *key, const struct node *n, const char *right)
{
    return n->kind == NODE_MAPPING ? true : find_shape(b, key, n, right);
}

static void take_use_parts(struct binding *b, const struct node *n, struct book_task *t)
{
    if (!is_names(b, "parts", n, "{ part: pieces }")) {
        return;
    }
    struct book_use *at = ARENA_ARRAY(b->a, struct book_use, n->n + 1);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        for (int v = 0; v < looks(b, n->item[i]); v++) {
            const struct node *pieces = look_at(b, n->item[i], v);
            int part = pieces ? take_ref(b, SEC_PART, n->key[i], n->key[i]->text, 0) : BOOK_NONE;
            double quantity = 0;
            if (pieces && take_number(b, "pieces", pieces, 0.01, 10000, &quantity) && part != BOOK_NONE && !b->all) {
                at[count++] = (struct book_use){.item = part, .quantity = quantity};
            }
        }
    }
    t->parts = at;
    t->n_parts = count;
}

/* A volume, or "capacity": that of the fluid. */
static bool take_volume(struct binding *b, const struct node *n, int fluid, struct book_use *use)
{
    if (n->kind == NODE_TEXT && str_eq(str_trim(n->text), S("capacity"))) {
        if (b->all || fluid == BOOK_NONE) {
            return false;
        }
        const struct book_fluid *f = &b->book->fluids[fluid];
        if (!f->capacity.given && !node_getz(b->entries[SEC_FLUID].at[fluid].node, "capacity")) {
            return find(b->finds, n->pos, RULE_MISSING_KEY, "a volume here, or a capacity there", "the fluid \"",
                        str_z(b->finds->a, f->name), "\" has no capacity", (char *)0);
        }
        use->quantity = f->capacity.si;
        return true;
    }
    if (!take_quantity(b, "fluids", Q_VOLUME, n, &use->written)) {
        return false;
    }
    use->quantity = use->written.si;
    return true;
}

static void take_use_fluids(struct binding *b, const struct node *n, struct book_task *t)
{
    if (!is_names(b, "fluids", n, "{ fluid: volume or capacity }")) {
        return;
    }
    struct book_use *at = ARENA_ARRAY(b->a, struct book_use, n->n + 1);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        for (int v = 0; v < looks(b, n->item[i]); v++) {
            const struct node *volume = look_at(b, n->item[i], v);
            struct book_use use = {.item = BOOK_NONE};
            if (volume) {
                use.item = take_ref(b, SEC_FLUID, n->key[i], n->key[i]->text, 0);
            }
            if (volume && take_volume(b, volume, use.item, &use) && use.item != BOOK_NONE && !b->all) {
                at[count++] = use;
            }
        }
    }
    t->fluids = at;
    t->n_fluids = count;
}

/* { name: number }: chances from 0 to 1, or factors. What is not fitted on this machine may not be named. */
static void take_shares(struct binding *b, const struct key *k, const struct node *n, struct book_shares *out)
{
    bool chance = k->type == T_SHOWS;
    if (!is_names(b, k->name, n, chance ? "{ name: chance from 0 to 1 }" : "{ name: times likelier }")) {
        return;
    }
    struct book_share *at = ARENA_ARRAY(b->a, struct book_share, n->n + 1);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        for (int v = 0; v < looks(b, n->item[i]); v++) {
            const struct node *number = look_at(b, n->item[i], v);
            int item = number ? take_ref(b, (enum section)k->arg, n->key[i], n->key[i]->text, 0) : BOOK_NONE;
            double value = 0;
            if (number &&
                take_number(b, chance ? "chance" : "factor", number, chance ? 0 : 0.01, chance ? 1 : 100, &value) &&
                item != BOOK_NONE && !b->all) {
                at[count++] = (struct book_share){item, value};
            }
        }
    }
    *out = (struct book_shares){at, count};
}

/* ---- figures and conditions ---- */

/* { 1: { at: [0.32, 0.41], label: Dipstick } } */
static void take_marks(struct binding *b, const struct node *n, struct book_figure *f)
{
    if (!is_names(b, "marks", n, "{ 1: { at: [x, y], label: WORDS } }")) {
        return;
    }
    struct book_mark *at = ARENA_ARRAY(b->a, struct book_mark, n->n + 1);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        int64_t number = 0;
        if (!num_parse_i64(n->key[i]->text, &number) || number < 1 || number > 999) {
            find(b->finds, n->key[i]->pos, RULE_NUMBER, "a number from 1 to 999, as drawn", "\"", n->key[i]->text.p,
                 "\" is no number of a mark", (char *)0);
            continue;
        }
        for (int j = 0; j < count; j++) {
            if (at[j].number == number) {
                find(b->finds, n->key[i]->pos, RULE_DUPLICATE_KEY, "another number", "mark ", n->key[i]->text.p,
                     " stands twice", (char *)0);
            }
        }
        if (b->all || n->item[i]->kind != NODE_MAPPING || when_applies(n->item[i]->when, b->machine)) {
            at[count].number = (int)number;
            bind_mapping(b, SEC_MARK, n->item[i], &at[count]);
            count++;
        }
    }
    f->marks = at;
    f->n_marks = count;
}

/* Values of a condition variable. Looking at all variants, those of several come together. */
static void take_values(struct binding *b, const struct node *n, struct book_variable *v)
{
    if (n->kind != NODE_LIST || n->n == 0) {
        find_shape(b, "values", n, "a list of words, the first is the parked one");
        return;
    }
    struct str *at = ARENA_ARRAY(b->a, struct str, BOOK_VALUES_MAX);
    int count = 0;
    for (int i = 0; b->all && i < v->n_values; i++) {
        at[count++] = v->values[i];
    }
    int own = count;
    for (int i = 0; i < n->n; i++) {
        struct str value = S("");
        if (!take_text(b, "values", n->item[i], &value)) {
            continue;
        }
        int found = 0;
        while (found < count && !str_eq(at[found], value)) {
            found++;
        }
        if (found < count && found >= own) {
            find(b->finds, n->item[i]->pos, RULE_DUPLICATE_KEY, "keep one of them", "the value \"", n->item[i]->text.p,
                 "\" stands twice", (char *)0);
        } else if (found == count && count == BOOK_VALUES_MAX) {
            find(b->finds, n->item[i]->pos, RULE_SIZE, "at most 16", "too many values", (char *)0);
        } else if (found == count) {
            at[count++] = value;
        }
    }
    v->values = at;
    v->n_values = count;
}

/* The options' names and labels were read with the head; here their keys. */
static void check_options(struct binding *b, const struct node *n)
{
    if (n->kind == NODE_TEXT) {
        find_shape(b, "options", n, "a list of names, or a mapping name: label");
        return;
    }
    for (int i = 0; n->kind == NODE_MAPPING && i < n->n; i++) {
        if (n->item[i]->kind == NODE_MAPPING) {
            struct book ignored;
            bind_mapping(b, SEC_OPTION, n->item[i], &ignored);
        } else if (n->item[i]->kind == NODE_LIST) {
            find_shape(b, n->key[i]->text.p, n->item[i], "a label, or { label: WORDS, serials: A..B }");
        }
    }
}

void take_special(struct binding *b, const struct key *k, const struct node *n, void *base, void *out)
{
    switch ((int)k->type) {
    case T_POINT:
        take_point(b, k, n, out);
        break;
    case T_TO:
        take_to(b, n, out);
        break;
    case T_PAIRS:
        take_pairs(b, k, n, out);
        break;
    case T_ALSO:
    case T_REFER:
    case T_GIVEN:
    case T_JUDGED_AT:
    case T_BUS:
        take_reading(b, k, n, base, out);
        break;
    case T_WORK_OUT:
        take_work_out(b, n, base);
        break;
    case T_VISCOSITY:
        take_viscosity(b, n, base);
        break;
    case T_USE_PARTS:
        take_use_parts(b, n, base);
        break;
    case T_USE_FLUIDS:
        take_use_fluids(b, n, base);
        break;
    case T_SHOWS:
    case T_FACTORS:
        take_shares(b, k, n, out);
        break;
    case T_MARKS:
        take_marks(b, n, base);
        break;
    case T_VALUES:
        take_values(b, n, base);
        break;
    case T_MAPPING:
        if (out) {
            set_defaults((enum section)k->arg, out);
        }
        bind_mapping(b, (enum section)k->arg, n, out ? out : base);
        break;
    case T_OPTIONS:
        check_options(b, n);
        break;
    default: /* patterns and serial numbers: read with the head */
        break;
    }
}
