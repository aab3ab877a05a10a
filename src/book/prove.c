/* Proving variants: for every serial number and every set of options exactly one of them holds.
 *
 * Each list of variants is proved by itself, over the serial numbers at which it or what it stands in changes, and over
 * the options that it or what it stands in names: few, however many options the book has. So the proof is exact, and
 * what it reports names nothing that does not matter. */
#include "bookfile_internal.h"

#define ENCLOSING_MOST BOOKFILE_DEPTH_MAX
#define MACHINES_MOST (1U << 16) /* serial intervals times option sets of one list */

/* The way down to a value: under which conditions it stands. */
struct proof {
    const struct bookfile *bf;
    struct finds *finds;
    struct arena *a;
    const struct when *enclosing[ENCLOSING_MOST];
    int depth;
    size_t work; /* left; when it is used up the rest is not proved */
};

/* Options that a condition names, with those on which their fitting depends. */
static uint64_t named_options(const struct bookfile *bf, uint64_t mask)
{
    for (uint64_t before = 0; before != mask;) {
        before = mask;
        for (int i = 0; i < bf->n_options; i++) {
            const struct when *w = bf->option_when[i];
            if ((mask & (UINT64_C(1) << i)) && w) {
                mask |= w->with | w->without;
            }
        }
    }
    return mask;
}

/* The conditions that matter for a list: its own, and what it stands in. */
struct matter {
    const struct when **at;
    size_t n, cap;
    uint64_t options;
};

static void add_matter(struct proof *p, struct matter *m, const struct when *w)
{
    if (w) {
        ARENA_PUSH(p->a, m->at, m->n, m->cap) = w;
        m->options |= w->with | w->without;
    }
}

static struct matter matters_of(struct proof *p, const struct node *const *variants, int n)
{
    struct matter m = {0};
    for (int i = 0; i < p->depth; i++) {
        add_matter(p, &m, p->enclosing[i]);
    }
    for (int i = 0; i < n; i++) {
        add_matter(p, &m, variants[i]->when);
    }
    m.options = named_options(p->bf, m.options);
    for (int i = 0; i < p->bf->n_options; i++) {
        if (m.options & (UINT64_C(1) << i)) {
            add_matter(p, &m, p->bf->option_when[i]);
        }
    }
    return m;
}

/* The k-th set of the options of a mask. */
static uint64_t spread_bits(uint64_t k, uint64_t mask)
{
    uint64_t set = 0;
    for (; mask; mask &= mask - 1, k >>= 1) {
        set |= k & 1 ? mask & -mask : 0;
    }
    return set;
}

static bool encloses(const struct proof *p, struct machine m)
{
    for (int i = 0; i < p->depth; i++) {
        if (!when_applies(p->enclosing[i], m)) {
            return false;
        }
    }
    return options_allowed(p->bf, m);
}

/* "BR6-01000 to BR6-02199 without cab" */
static const char *range_text(const struct proof *p, struct machine m, uint32_t last, uint64_t options)
{
    const char *text = machine_text(p->bf, m, options, p->finds->a);
    struct str serial = pattern_serial(&p->bf->pattern, m.serial, p->a);
    if (last == m.serial) {
        return text;
    }
    const char *end = last == p->bf->last && p->bf->head.open_upwards
                          ? " on"
                          : words(p->a, " to ", pattern_serial(&p->bf->pattern, last, p->a).p, (char *)0);
    return words(p->finds->a, serial.p, end, text + serial.n, (char *)0);
}

/* What was seen of one list. */
struct seen {
    const struct node *list;
    const struct node *const *variant;
    int n;
    bool *used, *doubled;
    bool gap, any; /* a gap was said; it stands somewhere at all */
};

/* One machine: which variants hold for it. */
static void prove_machine(struct proof *p, struct seen *s, struct machine m, uint32_t last, uint64_t options)
{
    int holding = -1;
    s->any = true;
    for (int i = 0; i < s->n; i++) {
        if (!when_applies(s->variant[i]->when, m)) {
            continue;
        }
        s->used[i] = true;
        if (holding >= 0 && !s->doubled[i]) {
            struct text line = text_new(p->a);
            text_int(&line, s->variant[holding]->pos.line);
            s->doubled[i] = true;
            find(p->finds, s->variant[i]->pos, RULE_OVERLAP, "exactly one variant for every machine",
                 "this variant and the one in line ", text_z(&line), " both hold for ", range_text(p, m, last, options),
                 (char *)0);
        }
        holding = holding < 0 ? i : holding;
    }
    if (holding < 0 && !s->gap) {
        s->gap = true;
        find(p->finds, s->list->pos, RULE_GAP, "a variant for it; { serials: .., fitted: no } where it does not exist",
             "no variant holds for ", range_text(p, m, last, options), (char *)0);
    }
}

/* Serial numbers at which any of the conditions changes, ascending. */
static const uint32_t *cuts_of(struct proof *p, const struct matter *m, size_t *n)
{
    struct bookfile part = *p->bf;
    part.when = m->at;
    part.n_when = m->n;
    return serial_cuts(&part, p->a, n);
}

/* A list of variants, or one mapping that holds only sometimes (alone: then only whether it ever does). */
static void prove_list(struct proof *p, const struct node *list, const struct node *const *variant, int n, bool alone)
{
    struct arena_mark mark = arena_mark(p->a);
    struct matter m = matters_of(p, variant, n);
    size_t n_cuts = 0;
    const uint32_t *cut = cuts_of(p, &m, &n_cuts);
    struct seen s = {.list = list, .variant = variant, .n = n, .gap = alone};
    for (int i = 0; i < n; i++) { /* one that could not be read was said: what is missing then is no gap */
        s.gap = s.gap || (variant[i]->when && variant[i]->when->bad);
    }
    s.used = ARENA_ARRAY(p->a, bool, n);
    s.doubled = ARENA_ARRAY(p->a, bool, n);
    int bits = 0;
    for (uint64_t o = m.options; o; o &= o - 1) {
        bits++;
    }
    size_t machines = bits < 16 ? n_cuts << bits : MACHINES_MOST + 1;
    size_t cost = machines * (size_t)(n + p->depth + 1);
    if (machines > MACHINES_MOST || cost > p->work) {
        find_level(p->finds, DIAG_DOUBT, list->pos, RULE_NOT_PROVED, "fewer options or serial ranges in one list",
                   "too many combinations to prove these variants", (char *)0);
        arena_rewind(p->a, mark);
        return;
    }
    p->work -= cost;
    for (size_t c = 0; c < n_cuts; c++) {
        uint32_t last = c + 1 < n_cuts ? cut[c + 1] - 1 : p->bf->last;
        for (uint64_t k = 0; k < UINT64_C(1) << bits; k++) {
            struct machine machine = {cut[c], spread_bits(k, m.options)};
            if (encloses(p, machine)) {
                prove_machine(p, &s, machine, last, m.options);
            }
        }
    }
    for (int i = 0; s.any && i < n; i++) {
        if (!s.used[i] && !(variant[i]->when && variant[i]->when->bad)) {
            find(p->finds, variant[i]->pos, RULE_UNREACHABLE,
                 "serial numbers of the book, and options that can be together there",
                 alone ? "this holds for no machine" : "this variant holds for no machine", (char *)0);
        }
    }
    arena_rewind(p->a, mark);
}

static void prove_mapping(struct proof *p, enum section section, const struct node *n);

/* Everything under one variant, with its condition added to the way down. */
static void prove_inside(struct proof *p, enum section section, const struct node *n)
{
    bool deeper = n->when && p->depth < ENCLOSING_MOST;
    if (deeper) {
        p->enclosing[p->depth++] = n->when;
    }
    if (section != SECTION_COUNT) {
        prove_mapping(p, section, n);
    }
    p->depth -= deeper;
}

/* Where one mapping or value belongs: a list of variants, or itself. section: of a mapping, SECTION_COUNT for a value.
 */
static void prove_one(struct proof *p, enum section section, const struct node *n)
{
    bool list = node_is_variants(n);
    if (list) {
        prove_list(p, n, (const struct node *const *)n->item, n->n, false);
    } else if (n->kind == NODE_MAPPING && n->when) {
        prove_list(p, n, &n, 1, true);
    }
    for (int i = 0; list && i < n->n; i++) {
        prove_inside(p, section, n->item[i]);
    }
    if (!list) {
        prove_inside(p, section, n);
    }
}

/* Items that are left out where they don't hold. */
static void prove_items(struct proof *p, enum section section, const struct node *n)
{
    for (int i = 0; n->kind == NODE_LIST && i < n->n; i++) {
        const struct node *item = n->item[i];
        if (item->kind == NODE_MAPPING && item->when) {
            prove_list(p, item, &item, 1, true);
        }
        prove_inside(p, section, item);
    }
}

static void prove_values(struct proof *p, enum section section, const struct node *n)
{
    for (int i = 0; n->kind == NODE_MAPPING && i < n->n; i++) {
        prove_one(p, section, n->item[i]);
    }
}

static void prove_key(struct proof *p, const struct key *k, const struct node *n)
{
    switch ((int)k->type) {
    case T_ENTRIES:
    case T_MARKS:
        prove_values(p, (enum section)k->arg, n);
        break;
    case T_ITEMS:
        prove_items(p, (enum section)k->arg, n);
        break;
    case T_MAPPING:
        prove_one(p, (enum section)k->arg, n);
        break;
    case T_TEXTS:
    case T_WORDS:
    case T_REFS:
        prove_items(p, SECTION_COUNT, n);
        break;
    case T_USE_PARTS:
    case T_USE_FLUIDS:
    case T_SHOWS:
    case T_FACTORS:
        prove_one(p, SECTION_COUNT, n);
        prove_values(p, SECTION_COUNT, n);
        break;
    case T_OPTIONS:
    case T_VALUES:
        break;
    default:
        prove_one(p, SECTION_COUNT, n);
        break;
    }
}

static void prove_mapping(struct proof *p, enum section section, const struct node *n)
{
    for (int i = 0; n->kind == NODE_MAPPING && i < n->n; i++) {
        const struct key *k = key_find(section, n->key[i]->text);
        if (k && !(k->flags & KEY_HEAD)) {
            prove_key(p, k, n->item[i]);
        }
    }
}

void prove_variants(const struct bookfile *bf, struct finds *f, struct arena *a)
{
    struct proof p = {.bf = bf, .finds = f, .a = a, .work = 100U << 20};
    prove_mapping(&p, SEC_BOOK, bf->root);
}
