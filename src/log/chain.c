/* One writer's chain against what is here: numbers without a gap, each entry naming the hash of the one before, no
 * number twice; and the end against what the depot has signed for.
 *
 * So that one altered entry gives one finding, altered ones (which verify has found before) stay in the chain as what
 * they were: whoever names their stored or their recomputed hash as `prev` is right, and an entry whose number or
 * writer was altered still fills its old place, which is recognised by its hash.
 */
#include "log_internal.h"

#include <string.h>

/* An altered entry by one of its two hashes. */
void altered_add(struct altered *set, const struct entry *entry, struct log_hash recomputed)
{
    struct log_hash *kept = ARENA_ARRAY(set->a, struct log_hash, 3);
    kept[0] = entry->hash;
    kept[1] = recomputed;
    kept[2] = entry->prev;
    ARENA_PUSH(set->a, set->prev, set->n, set->cap) = kept[2];
    (void)map_put(&set->by_hash, (struct str){(const char *)kept[0].b, 32}, (int64_t)set->n - 1);
    (void)map_put(&set->by_hash, (struct str){(const char *)kept[1].b, 32}, (int64_t)set->n - 1);
}

bool altered_has(const struct altered *set, struct log_hash hash, struct log_hash *prev)
{
    int64_t i = 0;
    if (!set || !map_get(&set->by_hash, (struct str){(const char *)hash.b, 32}, &i)) {
        return false;
    }
    *prev = set->prev[i];
    return true;
}

/* One entry as a link. */
struct link {
    struct entry_id id;
    int64_t seq;
    struct log_hash prev, hash;
    bool altered;
};

/* The walk along one chain. */
struct walk {
    struct depot *d;
    const struct altered *altered;
    struct findings *out;
    struct log_hash writer;
    const char *name;   /* of the writer, short */
    struct link *links; /* by (seq, hash) */
    size_t n;
    int64_t sound; /* links that are not altered */
    enum finding_kind gap;
};

static bool load_links(struct walk *w, struct err *e)
{
    size_t cap = 0;
    sqlite3_stmt *st =
        db_prepare(&w->d->db, "SELECT id, seq, prev, hash FROM entry WHERE writer = ?1 ORDER BY seq, hash", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, w->writer.b, sizeof w->writer.b);
    enum db_row row = db_step(&w->d->db, st, e);
    for (; row == DB_ROW; row = db_step(&w->d->db, st, e)) {
        struct link link = {.seq = sqlite3_column_int64(st, 1)};
        struct log_hash prev;
        (void)column_bytes(st, 0, link.id.b, sizeof link.id.b);
        (void)column_bytes(st, 2, link.prev.b, sizeof link.prev.b);
        (void)column_bytes(st, 3, link.hash.b, sizeof link.hash.b);
        link.altered = altered_has(w->altered, link.hash, &prev);
        w->sound += !link.altered;
        ARENA_PUSH(w->out->a, w->links, w->n, cap) = link;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

/* "3f2a91b0" */
static const char *short_name(struct arena *a, struct log_hash key)
{
    struct text t = text_new(a);
    text_hex(&t, key.b, 4);
    return text_z(&t);
}

/* Reports numbers from..to as not here, less those at the end which altered entries fill: `link` is the hash that the
 * next entry (or the tip) names. */
static void report_gap(struct walk *w, int64_t from, int64_t to, struct log_hash link)
{
    struct log_hash prev;
    for (size_t i = 0; w->altered && i < w->altered->n && to >= from && altered_has(w->altered, link, &prev); i++) {
        link = prev;
        to--;
    }
    if (to < from) {
        return;
    }
    struct arena *a = w->out->a;
    struct text t = text_new(a);
    text_addz(&t, to > from ? "entries " : "entry ");
    text_int(&t, from);
    if (to > from) {
        text_char(&t, '-');
        text_int(&t, to);
    }
    struct finding f = {.kind = w->gap, .writer = w->writer, .seq = from, .seq_to = to};
    findings_add(w->out, f, "writer ", w->name, ": ", text_z(&t),
                 w->gap == FINDING_REMOVED ? (to > from ? " have been removed" : " has been removed") : " not here yet",
                 (char *)0);
}

/* The next link after i that is not altered; w->n when there is none. */
static size_t next_sound(const struct walk *w, size_t i)
{
    while (i < w->n && w->links[i].altered) {
        i++;
    }
    return i;
}

/* Numbers between two sound entries: those where an altered entry stands are here; the runs between are reported. */
static void check_gap(struct walk *w, int64_t from, int64_t to, struct log_hash link)
{
    struct log_hash none = {{0}};
    int64_t start = from;
    for (size_t i = 0; w->altered && w->altered->n && i < w->n; i++) {
        int64_t seq = w->links[i].seq;
        if (w->links[i].altered && seq >= start && seq <= to) {
            report_gap(w, start, seq - 1, none);
            start = seq + 1;
        }
    }
    report_gap(w, start, to, link);
}

/* Whether `link` names an entry of the group [from, to) of the number before, or an altered one. */
static bool follows(const struct walk *w, size_t from, size_t to, struct log_hash link)
{
    struct log_hash prev;
    for (size_t i = from; i < to; i++) {
        if (log_hash_eq(w->links[i].hash, link)) {
            return true;
        }
    }
    return altered_has(w->altered, link, &prev);
}

static void report_link(struct walk *w, enum finding_kind kind, const struct link *link, const char *says)
{
    struct finding f = {
        .kind = kind, .id = link->id, .writer = w->writer, .seq = link->seq, .seq_to = link->seq, .hash = link->hash};
    findings_add(w->out, f, "entry ", str_z(w->out->a, id_str(w->out->a, link->id)), " (writer ", w->name, ", number ",
                 str_z(w->out->a, number_str(w->out->a, link->seq)), ") ", says, (char *)0);
}

/* Every entry against the ones of the number before. */
static void check_links(struct walk *w)
{
    struct log_hash zeros = {{0}};
    int64_t before = 0; /* the number before */
    size_t group = 0;   /* [group, start) are its links, from start on those of this number */
    size_t start = 0;
    for (size_t i = next_sound(w, 0); i < w->n; i = next_sound(w, i + 1)) {
        const struct link *link = &w->links[i];
        if (link->seq == before) {
            report_link(w, FINDING_FORKED, link, "is a second entry with this number");
        } else {
            group = start;
            start = i;
        }
        if (link->seq > before + 1) {
            check_gap(w, before + 1, link->seq - 1, link->prev);
            group = start; /* nothing to compare with */
        }
        bool alone = link->seq > 1 && group == start; /* the one before is not here */
        bool fits = link->seq == 1 ? log_hash_eq(link->prev, zeros) : alone || follows(w, group, start, link->prev);
        if (!fits) {
            report_link(w, FINDING_REORDERED, link, "does not follow the entry before it");
        }
        before = link->seq;
    }
}

/* The tip that the depot signed for this writer. */
static bool load_tip(struct walk *w, struct tip *tip, bool *found, struct err *e)
{
    *found = false;
    memset(tip, 0, sizeof *tip);
    sqlite3_stmt *st = db_prepare(&w->d->db, "SELECT depot, seq, entry, count, sig FROM tip WHERE writer = ?1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, w->writer.b, sizeof w->writer.b);
    enum db_row row = db_step(&w->d->db, st, e);
    if (row == DB_ROW) {
        *found = true;
        tip->writer = w->writer;
        (void)column_bytes(st, 0, tip->depot.b, sizeof tip->depot.b);
        tip->seq = sqlite3_column_int64(st, 1);
        (void)column_bytes(st, 2, tip->entry.b, sizeof tip->entry.b);
        tip->count = sqlite3_column_int64(st, 3);
        (void)column_bytes(st, 4, tip->sig.b, sizeof tip->sig.b);
    }
    sqlite3_reset(st);
    return row != DB_FAILED;
}

static void report_tip(struct walk *w, const char *says)
{
    struct finding f = {.kind = FINDING_TIP, .writer = w->writer};
    findings_add(w->out, f, "writer ", w->name, ": ", says, (char *)0);
}

bool chain_check(struct depot *d, struct log_hash writer, struct log_hash depot_key, const struct altered *altered,
                 struct findings *out, struct err *e)
{
    struct walk w = {.d = d, .altered = altered, .out = out, .writer = writer, .name = short_name(out->a, writer)};
    struct tip tip;
    bool has_tip = false;
    if (!load_links(&w, e) || !load_tip(&w, &tip, &has_tip, e)) {
        return false;
    }
    bool signed_for =
        has_tip && log_hash_eq(tip.depot, depot_key) && key_verify(tip.depot, tip_hash(out->a, &tip), &tip.sig);
    /* What an altered entry was counted under is not known; so all of them may have been this writer's. */
    int64_t known = w.sound + (altered ? (int64_t)altered->n : 0);
    w.gap = signed_for && known < tip.count ? FINDING_REMOVED : FINDING_AWAITED;
    check_links(&w);
    if (!altered) { /* an import: the tip is written anew after it */
        return true;
    }
    if (!signed_for) {
        if (has_tip || w.sound) {
            report_tip(&w, has_tip ? "what the depot signed for as the end of this chain has been altered"
                                   : "the depot has not signed for the end of this chain");
        }
        return true;
    }
    int64_t last = 0;
    for (size_t i = next_sound(&w, 0); i < w.n; i = next_sound(&w, i + 1)) {
        last = w.links[i].seq;
    }
    if (tip.seq > last) {
        w.gap = FINDING_REMOVED;
        check_gap(&w, last + 1, tip.seq, tip.entry);
    } else if (w.sound > tip.count) {
        report_tip(&w, "there are more entries than the depot has signed for");
    }
    return true;
}
