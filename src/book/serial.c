/* Serial numbers after a pattern, and the conditions under which a variant holds. */
#include "bookfile_internal.h"

#include <string.h>

bool pattern_read(struct str text, struct pattern *p)
{
    size_t from = 0;
    while (from < text.n && text.p[from] != '#') {
        from++;
    }
    size_t to = from;
    while (to < text.n && text.p[to] == '#') {
        to++;
    }
    *p = (struct pattern){text, str_cut(text, 0, from), str_cut(text, to, text.n), (int)(to - from)};
    return to > from && to - from <= 9 && memchr(p->tail.n ? p->tail.p : "", '#', p->tail.n) == NULL;
}

bool pattern_number(const struct pattern *p, struct str serial, uint32_t *number)
{
    if (serial.n != p->text.n || !str_starts(serial, p->head) || !str_ends(serial, p->tail)) {
        return false;
    }
    uint32_t value = 0;
    for (size_t i = p->head.n; i < p->head.n + (size_t)p->digits; i++) {
        if (serial.p[i] < '0' || serial.p[i] > '9') {
            return false;
        }
        value = value * 10 + (uint32_t)(serial.p[i] - '0');
    }
    *number = value;
    return true;
}

struct str pattern_serial(const struct pattern *p, uint32_t number, struct arena *a)
{
    struct text t = text_new(a);
    text_add(&t, p->head);
    text_zeros(&t, number, p->digits);
    text_add(&t, p->tail);
    text_z(&t);
    return text_str(&t);
}

bool when_applies(const struct when *w, struct machine m)
{
    if (!w) {
        return true;
    }
    if (w->bad || (m.options & w->with) != w->with || (m.options & w->without) != 0) {
        return false;
    }
    bool inside = w->n_ranges == 0;
    for (int i = 0; i < w->n_ranges && !inside; i++) {
        inside = m.serial >= w->range[i].first && m.serial <= w->range[i].last;
    }
    return inside;
}

int option_find(const struct bookfile *bf, struct str name)
{
    for (int i = 0; i < bf->n_options; i++) {
        if (str_eq(bf->head.options.at[i], name)) {
            return i;
        }
    }
    return -1;
}

/* One end of a range; an empty text leaves *out as it is. */
static bool read_end(const struct bookfile *bf, struct finds *f, const struct node *n, struct str end, uint32_t *out)
{
    end = str_trim(end);
    if (end.n == 0) {
        return true;
    }
    if (!pattern_number(&bf->pattern, end, out)) {
        return find(f, n->pos, RULE_SERIALS,
                    words(f->a, "as the pattern ", bf->pattern.text.p, " writes it: ", bf->head.first.p, "..",
                          bf->head.last.p, (char *)0),
                    "\"", str_z(f->a, end), "\" is no serial number of this book", (char *)0);
    }
    if (*out < bf->first || *out > bf->last) {
        find_level(f, DIAG_DOUBT, n->pos, RULE_SERIALS,
                   words(f->a, "within ", bf->head.first.p, "..", bf->head.last.p, (char *)0), str_z(f->a, end),
                   " lies outside the serial numbers of the book", (char *)0);
    }
    return true;
}

/* "A..B", "A..", "..B", "A". */
static bool read_range(const struct bookfile *bf, struct finds *f, const struct node *n, struct serial_range *out)
{
    if (n->kind != NODE_TEXT || str_trim(n->text).n == 0) {
        return find(f, n->pos, RULE_SHAPE, "A..B, A.., ..B or a list of those", "serial numbers are a text", (char *)0);
    }
    ptrdiff_t dots = str_find(n->text, S(".."));
    *out = (struct serial_range){0, UINT32_MAX};
    if (dots < 0) {
        bool good = read_end(bf, f, n, n->text, &out->first);
        out->last = out->first;
        return good;
    }
    if (!read_end(bf, f, n, str_cut(n->text, 0, (size_t)dots), &out->first) ||
        !read_end(bf, f, n, str_cut(n->text, (size_t)dots + 2, n->text.n), &out->last)) {
        return false;
    }
    if (out->first > out->last) {
        return find(f, n->pos, RULE_SERIALS, "the smaller number first", "serial numbers the wrong way round: \"",
                    n->text.p, "\"", (char *)0);
    }
    return true;
}

static void read_ranges(struct bookfile *bf, struct finds *f, const struct node *n, struct when *w)
{
    int count = n->kind == NODE_LIST ? n->n : 1;
    struct serial_range *range = ARENA_ARRAY(bf->a, struct serial_range, count);
    if (count == 0 || n->kind == NODE_MAPPING) {
        w->bad = true;
        find(f, n->pos, RULE_SHAPE, "A..B, A.., ..B or a list of those", "no serial numbers are named", (char *)0);
        return;
    }
    for (int i = 0; i < count; i++) {
        w->bad = !read_range(bf, f, n->kind == NODE_LIST ? n->item[i] : n, &range[i]) || w->bad;
    }
    w->range = range;
    w->n_ranges = count;
}

/* One option or a list of them into a mask. */
static void read_options(struct bookfile *bf, struct finds *f, const struct node *n, struct when *w, uint64_t *mask)
{
    int count = n->kind == NODE_LIST ? n->n : 1;
    for (int i = 0; i < count; i++) {
        const struct node *one = n->kind == NODE_LIST ? n->item[i] : n;
        int at = one->kind == NODE_TEXT ? option_find(bf, one->text) : -1;
        if (one->kind != NODE_TEXT) {
            w->bad = true;
            find(f, one->pos, RULE_SHAPE, "a name or a list of names", "an option is a name", (char *)0);
        } else if (at < 0) {
            w->bad = true;
            ptrdiff_t near = str_nearest(one->text, bf->head.options.at, (size_t)bf->n_options);
            find(f, one->pos, RULE_OPTION,
                 near >= 0 ? words(f->a, "\"", bf->head.options.at[near].p, "\"?", (char *)0)
                           : "declare it under options",
                 "the book has no option \"", one->text.p, "\"", (char *)0);
        } else {
            *mask |= UINT64_C(1) << at;
        }
    }
}

/* A text that is the same for equal conditions. */
static struct str when_key(const struct when *w, struct arena *a)
{
    struct text t = text_new(a);
    text_int(&t, (int64_t)w->with);
    text_char(&t, ' ');
    text_int(&t, (int64_t)w->without);
    text_char(&t, w->bad ? '!' : ' ');
    for (int i = 0; i < w->n_ranges; i++) {
        text_int(&t, w->range[i].first);
        text_char(&t, ' ');
        text_int(&t, w->range[i].last);
        text_char(&t, ' ');
    }
    return text_str(&t);
}

const struct when *when_read(struct bookfile *bf, struct finds *f, struct map *known, const struct node *n)
{
    const struct node *serials = node_getz(n, "serials");
    const struct node *with = node_getz(n, "with");
    const struct node *without = node_getz(n, "without");
    if (!serials && !with && !without) {
        return NULL;
    }
    struct when *w = ARENA_NEW(bf->a, struct when);
    if (serials) {
        read_ranges(bf, f, serials, w);
    }
    if (with) {
        read_options(bf, f, with, w, &w->with);
    }
    if (without) {
        read_options(bf, f, without, w, &w->without);
    }
    struct str key = when_key(w, bf->a);
    int64_t at = 0;
    if (map_get(known, key, &at)) {
        return bf->when[at];
    }
    w->index = (int)bf->n_when;
    map_put(known, key, w->index);
    ARENA_PUSH(bf->a, bf->when, bf->n_when, bf->cap_when) = w;
    return w;
}

const char *machine_text(const struct bookfile *bf, struct machine m, uint64_t mentioned, struct arena *a)
{
    struct text t = text_new(a);
    text_add(&t, pattern_serial(&bf->pattern, m.serial, a));
    const char *before = " with ";
    for (int i = 0; i < bf->n_options; i++) {
        if (mentioned & m.options & (UINT64_C(1) << i)) {
            text_addz(&t, before);
            text_add(&t, bf->head.options.at[i]);
            before = ", ";
        }
    }
    before = t.n && mentioned & m.options ? ", without " : " without ";
    for (int i = 0; i < bf->n_options; i++) {
        if (mentioned & ~m.options & (UINT64_C(1) << i)) {
            text_addz(&t, before);
            text_add(&t, bf->head.options.at[i]);
            before = ", ";
        }
    }
    return text_z(&t);
}

bool options_allowed(const struct bookfile *bf, struct machine m)
{
    for (int i = 0; i < bf->n_options; i++) {
        if ((m.options & (UINT64_C(1) << i)) && !when_applies(bf->option_when[i], m)) {
            return false;
        }
    }
    return true;
}

/* Ascending, without doubles. */
static size_t sort_unique(uint32_t *at, size_t n, struct arena *a)
{
    uint32_t *spare = ARENA_ARRAY(a, uint32_t, n);
    for (size_t width = 1; width < n; width *= 2) {
        for (size_t from = 0; from < n; from += 2 * width) {
            size_t mid = from + width < n ? from + width : n;
            size_t end = from + 2 * width < n ? from + 2 * width : n;
            size_t i = from;
            size_t j = mid;
            for (size_t k = from; k < end; k++) {
                spare[k] = i < mid && (j >= end || at[i] <= at[j]) ? at[i++] : at[j++];
            }
        }
        memcpy(at, spare, n * sizeof *at);
    }
    size_t kept = 0;
    for (size_t i = 0; i < n; i++) {
        if (kept == 0 || at[kept - 1] != at[i]) {
            at[kept++] = at[i];
        }
    }
    return kept;
}

const uint32_t *serial_cuts(const struct bookfile *bf, struct arena *a, size_t *n)
{
    uint32_t *cut = NULL;
    size_t count = 0;
    size_t cap = 0;
    ARENA_PUSH(a, cut, count, cap) = bf->first;
    for (size_t i = 0; i < bf->n_when; i++) {
        for (int k = 0; k < bf->when[i]->n_ranges; k++) {
            struct serial_range r = bf->when[i]->range[k];
            if (r.first > bf->first && r.first <= bf->last) {
                ARENA_PUSH(a, cut, count, cap) = r.first;
            }
            if (r.last >= bf->first && r.last < bf->last) {
                ARENA_PUSH(a, cut, count, cap) = r.last + 1;
            }
        }
    }
    *n = sort_unique(cut, count, a);
    return cut;
}

/* ---- what people type ---- */

/* Letters and digits in upper case; everything else goes. */
static struct str skeleton(struct str s, struct arena *a)
{
    struct text t = text_new(a);
    for (size_t i = 0; i < s.n; i++) {
        char c = s.p[i];
        if (c >= 'a' && c <= 'z') {
            text_char(&t, (char)(c - ('a' - 'A')));
        } else if ((c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || (unsigned char)c >= 0x80) {
            text_char(&t, c);
        }
    }
    return text_str(&t);
}

/* 1 to `digits` digits as a number. */
static bool read_digits(struct str s, int digits, uint32_t *number)
{
    if (s.n == 0 || s.n > (size_t)digits) {
        return false;
    }
    uint32_t value = 0;
    for (size_t i = 0; i < s.n; i++) {
        if (s.p[i] < '0' || s.p[i] > '9') {
            return false;
        }
        value = value * 10 + (uint32_t)(s.p[i] - '0');
    }
    *number = value;
    return true;
}

/* The counted part of a text that does not fit the pattern to the letter. *bare: only the digits were given. */
static bool read_loosely(const struct pattern *p, struct str text, struct arena *a, uint32_t *number, bool *bare,
                         bool *ambiguous)
{
    struct str bones = skeleton(text, a);
    struct str head = skeleton(p->head, a);
    struct str tail = skeleton(p->tail, a);
    uint32_t full = 0;
    uint32_t alone = 0;
    bool is_full = bones.n >= head.n + tail.n && str_starts(bones, head) && str_ends(bones, tail) &&
                   read_digits(str_cut(bones, head.n, bones.n - tail.n), p->digits, &full);
    bool is_alone = read_digits(bones, p->digits, &alone) && head.n + tail.n > 0;
    *ambiguous = is_full && is_alone && full != alone;
    *bare = !is_full;
    *number = is_full ? full : alone;
    return (is_full || is_alone) && !*ambiguous;
}

/* What was put right, in words. */
static struct str put_right(const struct pattern *p, struct str text, struct str serial, bool bare, struct arena *a)
{
    struct str bones = skeleton(text, a);
    struct text t = text_new(a);
    if (str_eq(text, serial)) {
        return S("");
    }
    if (bare) {
        text_join(&t, "completed to the pattern ", p->text.p, (char *)0);
    } else if (str_eq_nocase(text, serial)) {
        text_addz(&t, "written in the pattern's letters");
    } else if (bones.n < skeleton(serial, a).n) {
        text_addz(&t, "leading zeros added");
    } else {
        text_addz(&t, "blanks and hyphens put right");
    }
    return text_str(&t);
}

bool bookfile_serial_normalise(const struct bookfile *bf, struct str text, struct arena *a, struct bookfile_serial *out,
                               struct err *e)
{
    text = str_trim(text);
    const char *form = words(a, "a serial number like ", bf->head.first.p, (char *)0);
    bool bare = false;
    bool ambiguous = false;
    uint32_t number = 0;
    if (text.n > 64 || (!pattern_number(&bf->pattern, text, &number) &&
                        !read_loosely(&bf->pattern, text, a, &number, &bare, &ambiguous))) {
        const char *shown = str_z(a, str_cut(text, 0, 64));
        return err_set(e, ERR_INPUT, form, "\"", shown,
                       ambiguous ? "\" can be read in two ways" : "\" does not fit the pattern ",
                       ambiguous ? "" : bf->pattern.text.p, (char *)0);
    }
    struct str serial = pattern_serial(&bf->pattern, number, a);
    if (number < bf->first || number > bf->last) {
        return err_set(e, ERR_MISSING, words(a, bf->head.first.p, " to ", bf->head.last.p, (char *)0), "serial number ",
                       serial.p, " is not in the book ", bf->head.id.p, (char *)0);
    }
    *out = (struct bookfile_serial){serial, number, put_right(&bf->pattern, text, serial, bare, a)};
    return true;
}
