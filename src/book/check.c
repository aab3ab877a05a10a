/* Proving a whole book: every value, every list of variants, and every class of machines that resolves alike.
 *
 * Machines for which the same variants hold are one class. A class is bound and looked at as a whole; a finding is kept
 * once and names the first machine it is true for, unless it is true for all. */
#include "bookfile_internal.h"

#include <string.h>

#define CLASSES_MOST 4096
#define MACHINES_MOST (1U << 18)      /* serial intervals times option sets that are tried in full */
#define WORK_MOST ((size_t)100 << 20) /* nodes and conditions looked at; some seconds */

/* The classes, each by one machine of it: the first in order of serial number, then of how few options it has. */
struct classes {
    struct machine *at;
    size_t n, cap;
    bool all; /* none is left out */
};

/* What holds for a machine, one character per distinct condition. */
static struct str signature(const struct bookfile *bf, struct machine m, struct text *t)
{
    t->n = 0;
    for (size_t i = 0; i < bf->n_when; i++) {
        text_char(t, when_applies(bf->when[i], m) ? '1' : '0');
    }
    return text_str(t);
}

static int bits_of(uint64_t mask)
{
    int n = 0;
    for (; mask; mask &= mask - 1) {
        n++;
    }
    return n;
}

/* The options that any variant names. */
static uint64_t options_named(const struct bookfile *bf)
{
    uint64_t mask = 0;
    for (size_t i = 0; i < bf->n_when; i++) {
        mask |= bf->when[i]->with | bf->when[i]->without;
    }
    return mask;
}

/* The k-th set of the options of a mask. */
static uint64_t set_of(uint64_t k, uint64_t mask)
{
    uint64_t set = 0;
    for (; mask; mask &= mask - 1, k >>= 1) {
        set |= k & 1 ? mask & (~mask + 1) : 0;
    }
    return set;
}

/* Option sets to try: all of them, or when those are too many, none, one, two, all, and all but one. */
struct sets {
    uint64_t *at;
    size_t n, cap;
    bool all;
};

static struct sets sets_of(const struct bookfile *bf, size_t n_cuts, struct arena *a)
{
    struct sets s = {.all = true};
    uint64_t mask = options_named(bf);
    int bits = bits_of(mask);
    if (bits < 18 && (n_cuts << bits) <= MACHINES_MOST) {
        for (int size = 0; size <= bits; size++) {
            for (uint64_t k = 0; k < UINT64_C(1) << bits; k++) {
                if (bits_of(k) == size) {
                    ARENA_PUSH(a, s.at, s.n, s.cap) = set_of(k, mask);
                }
            }
        }
        return s;
    }
    s.all = false;
    ARENA_PUSH(a, s.at, s.n, s.cap) = 0;
    for (int i = 0; i < bits; i++) {
        ARENA_PUSH(a, s.at, s.n, s.cap) = set_of(UINT64_C(1) << i, mask);
        ARENA_PUSH(a, s.at, s.n, s.cap) = mask & ~set_of(UINT64_C(1) << i, mask);
        for (int j = 0; j < i; j++) {
            ARENA_PUSH(a, s.at, s.n, s.cap) = set_of((UINT64_C(1) << i) | (UINT64_C(1) << j), mask);
        }
    }
    ARENA_PUSH(a, s.at, s.n, s.cap) = mask;
    return s;
}

static struct classes classes_of(const struct bookfile *bf, struct arena *a)
{
    size_t n_cuts = 0;
    const uint32_t *cut = serial_cuts(bf, a, &n_cuts);
    struct sets sets = sets_of(bf, n_cuts, a);
    struct classes c = {.all = sets.all};
    struct map seen = map_new(a);
    struct text t = text_new(a);
    size_t work = WORK_MOST;
    for (size_t i = 0; i < n_cuts; i++) {
        for (size_t k = 0; k < sets.n; k++) {
            struct machine m = {cut[i], sets.at[k]};
            if (!options_allowed(bf, m)) {
                continue;
            }
            if (c.n == CLASSES_MOST || work < bf->n_when) {
                c.all = false;
                return c;
            }
            work -= bf->n_when;
            struct str s = signature(bf, m, &t);
            if (!map_get(&seen, s, NULL)) {
                map_put(&seen, str_copy(a, s), 0);
                ARENA_PUSH(a, c.at, c.n, c.cap) = m;
            }
        }
    }
    return c;
}

/* Says files of figures that are not there, each once. */
static void check_files(struct binding *b, struct bookfile_folder folder, struct map *known)
{
    for (int i = 0; folder.exists && i < b->book->n_figures; i++) {
        const struct book_figure *f = &b->book->figures[i];
        int64_t there = 0;
        if (f->file.n && !map_get(known, f->file, &there)) {
            there = folder.exists(folder.ctx, f->file);
            map_put(known, str_copy(known->a, f->file), there);
        }
        if (f->file.n && !there) {
            find(b->finds, node_pos(b->entries[SEC_FIGURE].at[i].node, "file"), RULE_FIGURE, "a file beside the book",
                 "the drawing ", str_z(b->finds->a, f->file), " is not there", (char *)0);
        }
    }
}

/* The findings, with the first machine where they hold only for some. */
static void hand_over(const struct bookfile *bf, const struct finds *f, const struct classes *c, size_t looked,
                      struct diags *d)
{
    uint64_t named = options_named(bf);
    for (size_t i = 0; i < f->n; i++) {
        const struct held *h = &f->at[i];
        struct diag diag = h->diag;
        if (h->first_class > 0 && h->n_classes < looked) {
            const char *machine =
                machine_text(bf, c->at[h->first_class - 1], named & c->at[h->first_class - 1].options, f->a);
            struct text t = text_new(d->a);
            text_add(&t, diag.what);
            text_join(&t, " - first for ", machine, (char *)0);
            diag.what = text_str(&t);
        }
        diag.what = str_copy(d->a, diag.what);
        diag.right = str_copy(d->a, diag.right);
        diags_add(d, diag);
    }
}

/* Looks at every class while there is work left. Returns how many were looked at. */
static size_t check_classes(const struct bookfile *bf, struct bookfile_folder folder, const struct classes *c,
                            struct finds *f, bool conditions_wrong, struct arena *a)
{
    struct shared shared = {.a = f->a, .graph_index = map_new(f->a), .change_index = map_new(f->a)};
    struct map files = map_new(f->a);
    size_t work = 0;
    size_t i = 0;
    for (; i < c->n && work <= WORK_MOST; i++) {
        struct arena_mark mark = arena_mark(a);
        struct book book;
        struct binding b = {.bf = bf, .a = a, .finds = f, .proved = true, .machine = c->at[i], .book = &book};
        b.conditions_wrong = conditions_wrong;
        f->class_now = (uint32_t)i + 1;
        bind_book(&b);
        work += bf->n_nodes * 4 + check_rules(&b, &shared);
        check_files(&b, folder, &files);
        arena_rewind(a, mark);
    }
    f->class_now = 0;
    check_changes_made(&shared, f);
    return i;
}

void bookfile_check(const struct bookfile *bf, struct bookfile_folder folder, struct arena *a, struct diags *d)
{
    struct arena kept = arena_new(a->source); /* findings and what is shared between classes, while a is rewound */
    struct arena_mark mark = arena_mark(a);
    struct finds f = finds_new(&bf->source, &kept);
    struct book book;
    struct binding all = {.bf = bf, .a = a, .finds = &f, .book = &book};
    bind_all(&all);
    check_unused(&all);
    arena_rewind(a, mark);
    struct classes c = {.all = true};
    size_t looked = 0;
    if (!bf->no_serials) {
        prove_variants(bf, &f, a);
        c = classes_of(bf, &kept);
        looked = check_classes(bf, folder, &c, &f, all.conditions_wrong, a);
    }
    if (looked < c.n || !c.all) {
        find_level(&f, DIAG_DOUBT, (struct book_pos){1, 1}, RULE_NOT_PROVED,
                   "fewer options or serial ranges in one book",
                   "too many sets of options to look at all; those with few and with nearly all were", (char *)0);
    }
    arena_rewind(a, mark); /* before the findings are handed over: d may live in the same arena */
    hand_over(bf, &f, &c, looked, d);
    diags_sort(d);
    arena_free(&kept);
}
