/* Differences along the serial numbers of one book, and between two editions of it over all machines. */
#include "bookfile_internal.h"

#include <string.h>

#define OPTIONS_IN_FULL 6 /* more are compared one by one and all together */

static struct str copy(struct arena *a, struct str s)
{
    return s.n ? str_copy(a, s) : S("");
}

/* The difference with its texts in a. */
static struct book_difference kept(struct arena *a, struct book_difference d)
{
    d.section = copy(a, d.section);
    d.name = copy(a, d.name);
    d.what = copy(a, d.what);
    d.before = copy(a, d.before);
    d.after = copy(a, d.after);
    return d;
}

/* ---- along the serial line ---- */

bool bookfile_diff_serials(const struct bookfile *bf, struct book_texts options, struct arena *a,
                           struct book_differences *out, struct err *e)
{
    struct arena scratch[2] = {arena_new(a->source), arena_new(a->source)}; /* the book before, and this one */
    struct book book[2];
    size_t n = 0;
    const uint32_t *cut = serial_cuts(bf, a, &n);
    uint64_t mask = 0;
    bool good = options_mask(bf, options, a, &mask, e);
    bool any = false;
    int now = 0;
    *out = (struct book_differences){0};
    for (size_t i = 0; i < n && good; i++) {
        if (!options_allowed(bf, (struct machine){cut[i], mask})) {
            any = false;
            continue;
        }
        struct str from = pattern_serial(&bf->pattern, cut[i], a);
        arena_free(&scratch[now]);
        struct err inner = err_new(a); /* its texts outlive the scratch */
        good = bookfile_resolve(bf, from, options, &scratch[now], &book[now], &inner);
        if (!good) {
            *e = inner;
        } else if (any) {
            struct book_differences d = bookfile_diff_machines(&book[1 - now], &book[now], &scratch[now]);
            for (size_t k = 0; k < d.n; k++) {
                struct book_difference one = kept(a, d.at[k]);
                one.from = from;
                ARENA_PUSH(a, out->at, out->n, out->cap) = one;
            }
        }
        any = true;
        now = 1 - now;
    }
    arena_free(&scratch[0]);
    arena_free(&scratch[1]);
    return good;
}

/* ---- between editions ---- */

/* A difference and the machines for which it holds: a bit per option set, per serial interval. */
struct spread_difference {
    struct book_difference d;
    uint64_t *sets; /* per interval */
    int next;       /* with the same hash */
};

struct comparing_editions {
    const struct bookfile *before, *after;
    struct arena *a;
    const uint32_t *cut; /* first number of each interval */
    size_t n_cuts;
    uint64_t sets[64]; /* masks of `before`'s options */
    int n_sets;
    uint64_t *tried;  /* per interval: sets that both editions allow */
    struct map index; /* the difference as text -> index in at */
    struct spread_difference *at;
    size_t n, cap;
};

/* Both editions' serial numbers at which anything changes, within what both know. */
static void join_cuts(struct comparing_editions *c)
{
    struct bookfile both = *c->before;
    const struct when **when = ARENA_ARRAY(c->a, const struct when *, c->before->n_when + c->after->n_when + 1);
    for (size_t i = 0; i < c->before->n_when; i++) {
        when[i] = c->before->when[i];
    }
    for (size_t i = 0; i < c->after->n_when; i++) {
        when[c->before->n_when + i] = c->after->when[i];
    }
    both.when = when;
    both.n_when = c->before->n_when + c->after->n_when;
    both.first = c->before->first > c->after->first ? c->before->first : c->after->first;
    both.last = c->before->last < c->after->last ? c->before->last : c->after->last;
    c->cut = serial_cuts(&both, c->a, &c->n_cuts);
    if (both.first > both.last) {
        c->n_cuts = 0;
    }
}

static uint64_t named_by(const struct bookfile *bf)
{
    uint64_t mask = 0;
    for (size_t i = 0; i < bf->n_when; i++) {
        mask |= bf->when[i]->with | bf->when[i]->without;
    }
    return mask;
}

/* The other edition's mask for the same options; false when it lacks one. */
static bool translate(const struct bookfile *from, uint64_t mask, const struct bookfile *to, uint64_t *out)
{
    *out = 0;
    for (int i = 0; i < from->n_options; i++) {
        int at = mask & (UINT64_C(1) << i) ? option_find(to, from->head.options.at[i]) : 0;
        if (at < 0) {
            return false;
        }
        *out |= mask & (UINT64_C(1) << i) ? UINT64_C(1) << at : 0;
    }
    return true;
}

/* Option sets to compare: those that matter in either edition and that both know, fewest first. */
static void make_sets(struct comparing_editions *c)
{
    uint64_t matter = named_by(c->before);
    uint64_t other = 0;
    uint64_t ignored = 0;
    for (int i = 0; i < c->after->n_options; i++) {
        if ((named_by(c->after) & (UINT64_C(1) << i)) && translate(c->after, UINT64_C(1) << i, c->before, &other)) {
            matter |= other;
        }
    }
    uint64_t one[BOOKFILE_OPTIONS_MAX];
    int n = 0;
    for (int i = 0; i < c->before->n_options; i++) {
        if ((matter & (UINT64_C(1) << i)) && translate(c->before, UINT64_C(1) << i, c->after, &ignored)) {
            one[n++] = UINT64_C(1) << i;
        }
    }
    c->sets[c->n_sets++] = 0;
    if (n > OPTIONS_IN_FULL) {
        uint64_t all = 0;
        for (int i = 0; i < n; i++) {
            c->sets[c->n_sets++] = one[i];
            all |= one[i];
        }
        c->sets[c->n_sets++] = all;
        return;
    }
    for (int size = 1; size <= n; size++) {
        for (unsigned k = 1; k < 1U << n; k++) {
            uint64_t set = 0;
            int count = 0;
            for (int i = 0; i < n; i++) {
                set |= k & (1U << i) ? one[i] : 0;
                count += k & (1U << i) ? 1 : 0;
            }
            if (count == size) {
                c->sets[c->n_sets++] = set;
            }
        }
    }
}

static struct book_texts option_names(const struct bookfile *bf, uint64_t mask, struct arena *a)
{
    struct str *at = ARENA_ARRAY(a, struct str, bf->n_options + 1);
    int n = 0;
    for (int i = 0; i < bf->n_options; i++) {
        if (mask & (UINT64_C(1) << i)) {
            at[n++] = bf->head.options.at[i];
        }
    }
    return (struct book_texts){at, n};
}

/* Notes that the difference holds for a machine. */
static void note(struct comparing_editions *c, const struct book_difference *d, size_t cut, int set)
{
    struct text t = text_new(c->a);
    const struct str pieces[] = {d->section, d->name, d->what, d->before, d->after};
    for (size_t i = 0; i < sizeof pieces / sizeof *pieces; i++) {
        text_add(&t, pieces[i]);
        text_char(&t, '\x1f');
    }
    int64_t at = 0;
    if (!map_get(&c->index, text_str(&t), &at)) {
        at = (int64_t)c->n;
        map_put(&c->index, text_str(&t), at);
        struct spread_difference one = {.d = kept(c->a, *d), .sets = ARENA_ARRAY(c->a, uint64_t, c->n_cuts)};
        ARENA_PUSH(c->a, c->at, c->n, c->cap) = one;
    }
    c->at[at].sets[cut] |= UINT64_C(1) << set;
}

/* Both editions for one machine. */
static bool compare_machine(struct comparing_editions *c, size_t cut, int set, struct err *e)
{
    struct machine before = {c->cut[cut], c->sets[set]};
    struct machine after = {c->cut[cut], 0};
    if (!translate(c->before, before.options, c->after, &after.options) || !options_allowed(c->before, before) ||
        !options_allowed(c->after, after)) {
        return true;
    }
    c->tried[cut] |= UINT64_C(1) << set;
    struct arena scratch = arena_new(c->a->source);
    struct book one;
    struct book other;
    struct str serial = pattern_serial(&c->before->pattern, before.serial, &scratch);
    struct book_texts options = option_names(c->before, before.options, &scratch);
    bool good = bookfile_resolve(c->before, serial, options, &scratch, &one, e) &&
                bookfile_resolve(c->after, serial, options, &scratch, &other, e);
    if (good) {
        struct book_differences d = bookfile_diff_machines(&one, &other, &scratch);
        for (size_t i = 0; i < d.n; i++) {
            note(c, &d.at[i], cut, set);
        }
    }
    arena_free(&scratch);
    return good;
}

/* The first set, fewest options first, in a bit mask of sets. */
static int first_set(uint64_t sets)
{
    int i = 0;
    while (!(sets & (UINT64_C(1) << i))) {
        i++;
    }
    return i;
}

/* A difference for the run of intervals in which it holds alike: for all options, or with those that it needs. */
static void hand_over(struct comparing_editions *c, const struct spread_difference *s, struct book_differences *out)
{
    for (size_t i = 0; i < c->n_cuts; i++) {
        if (!s->sets[i]) {
            continue;
        }
        bool all = s->sets[i] == c->tried[i];
        size_t end = i + 1;
        while (end < c->n_cuts && s->sets[end] && (s->sets[end] == c->tried[end]) == all &&
               (all || first_set(s->sets[end]) == first_set(s->sets[i]))) {
            end++;
        }
        struct book_difference d = s->d;
        if (i > 0 || end < c->n_cuts) {
            d.from = pattern_serial(&c->before->pattern, c->cut[i], c->a);
            d.to = end < c->n_cuts ? pattern_serial(&c->before->pattern, c->cut[end] - 1, c->a) : S("");
        }
        if (!all) {
            d.options = option_names(c->before, c->sets[first_set(s->sets[i])], c->a);
        }
        ARENA_PUSH(c->a, out->at, out->n, out->cap) = d;
        i = end - 1;
    }
}

/* A fact of the head. */
static void compare_head(struct arena *a, struct book_differences *out, const char *what, struct str before,
                         struct str after)
{
    if (!str_eq(before, after)) {
        ARENA_PUSH(a, out->at, out->n, out->cap) =
            (struct book_difference){.what = str_of(what), .before = before, .after = after};
    }
}

static struct str joined(struct arena *a, struct book_texts list)
{
    struct text t = text_new(a);
    for (int i = 0; i < list.n; i++) {
        text_addz(&t, i ? ", " : "");
        text_add(&t, list.at[i]);
    }
    return text_str(&t);
}

static struct str last_of(const struct bookfile *bf)
{
    return bf->head.open_upwards ? S("open") : bf->head.last;
}

/* Groups of one set of machines together: those for all first, then by serial number; order within a group stays. */
static void group(struct comparing_editions *c, struct book_differences *all)
{
    struct book_differences sorted = {0};
    bool *done = ARENA_ARRAY(c->a, bool, all->n + 1);
    for (size_t pass = 0; pass < all->n; pass++) {
        size_t best = all->n;
        for (size_t i = 0; i < all->n; i++) {
            if (!done[i] && (best == all->n || str_cmp(all->at[i].from, all->at[best].from) < 0)) {
                best = i;
            }
        }
        if (best == all->n) {
            break;
        }
        const struct book_difference *head = &all->at[best];
        for (size_t i = best; i < all->n; i++) {
            const struct book_difference *d = &all->at[i];
            bool same = str_eq(d->from, head->from) && str_eq(d->to, head->to) && d->options.n == head->options.n;
            for (int k = 0; same && k < d->options.n; k++) {
                same = str_eq(d->options.at[k], head->options.at[k]);
            }
            if (!done[i] && same) {
                done[i] = true;
                ARENA_PUSH(c->a, sorted.at, sorted.n, sorted.cap) = *d;
            }
        }
    }
    *all = sorted;
}

bool bookfile_diff_editions(const struct bookfile *before, const struct bookfile *after, struct arena *a,
                            struct book_differences *out, struct err *e)
{
    *out = (struct book_differences){0};
    if (!str_eq(before->head.id, after->head.id) || !str_eq(before->head.pattern, after->head.pattern)) {
        return err_set(e, ERR_CONFLICT, "two editions of one book",
                       "these are different books: ", str_z(a, before->head.id), " (", str_z(a, before->head.pattern),
                       ") and ", str_z(a, after->head.id), " (", str_z(a, after->head.pattern), ")", (char *)0);
    }
    struct comparing_editions c = {.before = before, .after = after, .a = a, .index = map_new(a)};
    join_cuts(&c);
    make_sets(&c);
    c.tried = ARENA_ARRAY(a, uint64_t, c.n_cuts + 1);
    compare_head(a, out, "first serial number", before->head.first, after->head.first);
    compare_head(a, out, "last serial number", last_of(before), last_of(after));
    compare_head(a, out, "options", joined(a, before->head.options), joined(a, after->head.options));
    for (size_t i = 0; i < c.n_cuts; i++) {
        for (int s = 0; s < c.n_sets; s++) {
            if (!compare_machine(&c, i, s, e)) {
                return false;
            }
        }
    }
    for (size_t i = 0; i < c.n; i++) {
        hand_over(&c, &c.at[i], out);
    }
    group(&c, out);
    return true;
}
