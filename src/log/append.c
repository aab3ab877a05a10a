/* Writing entries: drafts are checked, put into the writer's chain, signed, inserted, receipted, read back and
 * committed. */
#include "jcs.h"
#include "log_internal.h"

#include <string.h>

/* Where a chain stands: its last entry. */
struct chain_end {
    struct entry_id id;
    int64_t seq; /* 0: no entry yet */
    struct log_hash hash;
};

/* The last entry of a writer; in a forked chain the one with the greatest hash. */
static bool chain_find(struct depot *d, struct log_hash writer, struct chain_end *end, struct err *e)
{
    memset(end, 0, sizeof *end);
    sqlite3_stmt *st =
        db_prepare(&d->db, "SELECT id, seq, hash FROM entry WHERE writer = ?1 ORDER BY seq DESC, hash DESC LIMIT 1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, writer.b, sizeof writer.b);
    enum db_row row = db_step(&d->db, st, e);
    if (row == DB_ROW) {
        (void)column_bytes(st, 0, end->id.b, sizeof end->id.b);
        end->seq = sqlite3_column_int64(st, 1);
        (void)column_bytes(st, 2, end->hash.b, sizeof end->hash.b);
    }
    sqlite3_reset(st);
    return row != DB_FAILED;
}

bool entry_insert(struct depot *d, struct entry *entry, struct err *e)
{
    sqlite3_stmt *st =
        db_prepare(&d->db,
                   "INSERT INTO entry (id, writer, seq, prev, at, made, by, machine, book, kind, body, hash, sig) "
                   "VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
                   e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, entry->id.b, sizeof entry->id.b);
    bind_bytes(st, 2, entry->writer.b, sizeof entry->writer.b);
    bind_int(st, 3, entry->seq);
    bind_bytes(st, 4, entry->prev.b, sizeof entry->prev.b);
    bind_int(st, 5, entry->at_recorded);
    bind_int(st, 6, entry->made);
    bind_str(st, 7, entry->by);
    bind_str(st, 8, entry->machine);
    if (entry->has_book) {
        bind_bytes(st, 9, entry->book.b, sizeof entry->book.b);
    }
    bind_str(st, 10, str_of(kind_word(entry->kind)));
    bind_str(st, 11, entry->body_text);
    bind_bytes(st, 12, entry->hash.b, sizeof entry->hash.b);
    bind_bytes(st, 13, entry->sig.b, sizeof entry->sig.b);
    if (!db_run(&d->db, st, e)) {
        return false;
    }
    entry->place = sqlite3_last_insert_rowid(d->db.h);
    return derive_entry(d, entry, e);
}

bool receipt_insert(struct depot *d, const struct receipt *r, bool *added, struct err *e)
{
    sqlite3_stmt *st =
        db_prepare(&d->db,
                   "INSERT INTO receipt (entry, depot, received, source, sig) VALUES (?1, ?2, ?3, ?4, ?5) "
                   "ON CONFLICT DO NOTHING",
                   e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, r->entry.b, sizeof r->entry.b);
    bind_bytes(st, 2, r->depot.b, sizeof r->depot.b);
    bind_int(st, 3, r->received);
    bind_str(st, 4, r->from);
    bind_bytes(st, 5, r->sig.b, sizeof r->sig.b);
    if (!db_run(&d->db, st, e)) {
        return false;
    }
    *added = sqlite3_changes(d->db.h) > 0;
    return true;
}

bool receipt_give(struct depot *d, const struct entry *entry, struct str from, struct err *e)
{
    struct receipt r = {.entry = entry->hash,
                        .depot = d->depot.public,
                        .received = d->options.world.now(d->options.world.ctx),
                        .from = from};
    r.sig = key_sign(&d->depot, receipt_hash(e->a, &r));
    bool added = false;
    return receipt_insert(d, &r, &added, e);
}

bool tip_update(struct depot *d, struct log_hash writer, struct err *e)
{
    struct chain_end end;
    if (!chain_find(d, writer, &end, e)) {
        return false;
    }
    struct tip tip = {.depot = d->depot.public, .writer = writer, .seq = end.seq, .entry = end.hash};
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT count(*) FROM entry WHERE writer = ?1", e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, writer.b, sizeof writer.b);
    if (db_step(&d->db, st, e) != DB_ROW) {
        return false;
    }
    tip.count = sqlite3_column_int64(st, 0);
    sqlite3_reset(st);
    tip.sig = key_sign(&d->depot, tip_hash(e->a, &tip));
    st = db_prepare(
        &d->db,
        "INSERT INTO tip (writer, depot, seq, entry, count, sig) VALUES (?1, ?2, ?3, ?4, ?5, ?6) "
        "ON CONFLICT (writer) DO UPDATE SET depot = excluded.depot, seq = excluded.seq, entry = excluded.entry, "
        "count = excluded.count, sig = excluded.sig",
        e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, writer.b, sizeof writer.b);
    bind_bytes(st, 2, tip.depot.b, sizeof tip.depot.b);
    bind_int(st, 3, tip.seq);
    bind_bytes(st, 4, tip.entry.b, sizeof tip.entry.b);
    bind_int(st, 5, tip.count);
    bind_bytes(st, 6, tip.sig.b, sizeof tip.sig.b);
    return db_run(&d->db, st, e);
}

bool import_key_find(struct depot *d, struct str machine, struct str key, struct entry_id *id, bool *found,
                     struct err *e)
{
    *found = false;
    sqlite3_stmt *st =
        db_prepare(&d->db, "SELECT id FROM derived_import WHERE machine = ?1 AND key = ?2 ORDER BY id LIMIT 1", e);
    if (!st) {
        return false;
    }
    bind_str(st, 1, machine.p ? machine : S(""));
    bind_str(st, 2, key);
    enum db_row row = db_step(&d->db, st, e);
    if (row == DB_ROW) {
        *found = column_bytes(st, 0, id->b, sizeof id->b);
    }
    sqlite3_reset(st);
    return row != DB_FAILED;
}

bool entry_read_back(struct depot *d, const struct entry *entry, struct err *e)
{
    struct arena_mark mark = arena_mark(e->a);
    struct entry back;
    bool found = false;
    if (!entry_by_place(d, entry->place, e->a, &back, &found, e)) {
        return false;
    }
    bool same = found && log_hash_eq(entry_hash(e->a, &back), entry->hash) && log_hash_eq(back.hash, entry->hash) &&
                memcmp(back.sig.b, entry->sig.b, sizeof back.sig.b) == 0;
    if (found) {
        entry_free(&back);
    }
    arena_rewind(e->a, mark);
    return same || err_set(e, ERR_INTERNAL, "nothing was kept; check the disk", str_z(e->a, entry_label(e->a, entry)),
                           ": it reads back otherwise than it was written", (char *)0);
}

/* A name or serial number in one line of 1 to 200 bytes. */
static bool check_line(struct str s, const char *member, struct err *e)
{
    bool control = false;
    for (size_t i = 0; i < s.n; i++) {
        control = control || (unsigned char)s.p[i] < 0x20 || s.p[i] == 0x7f;
    }
    if (str_trim(s).n == 0) {
        return err_set(e, ERR_INPUT, "name it", member, ": it is missing", (char *)0);
    }
    return (!control && s.n <= 200 && str_is_utf8(s)) ||
           err_set(e, ERR_INPUT, "1 to 200 bytes of UTF-8 in one line", member, ": \"", str_z(e->a, str_cut(s, 0, 40)),
                   "\" cannot be kept", (char *)0);
}

/* What can be said of a draft without looking into the depot. */
static bool check_draft(const struct draft *draft, struct err *e)
{
    if (!instant_is_civil(draft->at)) {
        return err_set(e, ERR_INPUT, "a time of the years 1 to 9999", "at: the time is out of range", (char *)0);
    }
    if (!check_line(draft->by, "by", e)) {
        return false;
    }
    bool named = draft->machine.p != NULL;
    if (!named && kind_needs_machine(draft->kind)) {
        return err_set(e, ERR_INPUT, "name its serial number", "machine: an entry of this kind is about a machine",
                       (char *)0);
    }
    return (!named || check_line(draft->machine, "machine", e)) &&
           kind_check(draft->kind, draft->body, draft->machine, e);
}

/* That something is kept under this hash. */
static bool kept(struct depot *d, const char *literal, struct log_hash hash, bool *is, struct err *e)
{
    sqlite3_stmt *st = db_prepare(&d->db, literal, e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, hash.b, sizeof hash.b);
    enum db_row row = db_step(&d->db, st, e);
    *is = row == DB_ROW;
    sqlite3_reset(st);
    return row != DB_FAILED;
}

/* The edition and the attachment that a draft names are here. */
static bool check_names(struct depot *d, const struct draft *draft, struct err *e)
{
    bool is = true;
    if (draft->has_book && !kept(d, "SELECT 1 FROM edition WHERE hash = ?1", draft->book, &is, e)) {
        return false;
    }
    if (!is) {
        return err_set(e, ERR_MISSING, "keep the edition first",
                       "book: edition sha256:", str_z(e->a, hash_str(e->a, draft->book)), " is not in this depot",
                       (char *)0);
    }
    struct log_hash blob;
    if (draft->kind == KIND_ATTACHMENT && hex_parse(body_str(draft->body, "sha256"), blob.b, sizeof blob.b) &&
        !kept(d, "SELECT 1 FROM blob WHERE hash = ?1", blob, &is, e)) {
        return false;
    }
    return is || err_set(e, ERR_MISSING, "keep the file first", "body.sha256: attachment ",
                         str_z(e->a, hash_str(e->a, blob)), " is not in this depot", (char *)0);
}

/* A correction against the entry it corrects: it is here, it is about the same machine, and the new body is one of its
 * kind. Sets the machine of the draft. */
static bool check_correction(struct depot *d, struct draft *draft, struct err *e)
{
    struct entry_id target;
    struct entry old;
    bool found = false;
    struct str named = body_str(draft->body, "corrects");
    if (!entry_id_parse(named, &target) || !entry_by_id(d, target, e->a, &old, &found, e)) {
        return false;
    }
    if (!found) {
        return err_set(e, ERR_MISSING, "name an entry that is here", "body.corrects: entry ", str_z(e->a, named),
                       " is not in this depot", (char *)0);
    }
    const json_t *body = json_object_get(draft->body, "body");
    bool ok = true;
    if (draft->machine.p && !(old.machine.p && str_eq(old.machine, draft->machine))) {
        ok = err_set(e, ERR_INPUT, "withdraw the entry (void: true) and record it for the right machine",
                     "machine: a correction is about the machine of the entry it corrects", (char *)0);
    } else if (body && !kind_check(old.kind, body, old.machine, e)) {
        ok = err_context(e, S("the new body"));
    } else if (body && old.kind == KIND_CORRECTION &&
               !str_eq(body_str(body, "corrects"), body_str(old.body, "corrects"))) {
        ok = err_set(e, ERR_INPUT, "void the correction and write another",
                     "the new body: body.corrects: a correction cannot be turned to another entry", (char *)0);
    }
    draft->machine = old.machine;
    entry_free(&old);
    return ok;
}

/* One draft into the chain whose end is *end, which moves on. */
static bool append_one(struct depot *d, const struct draft *given, struct chain_end *end, struct appended *out,
                       struct err *e)
{
    struct draft draft = *given;
    struct str key = body_str(draft.body, "import_key");
    bool known = false;
    if (key.p && !import_key_find(d, draft.machine, key, &out->id, &known, e)) {
        return false;
    }
    if (known) {
        out->outcome = APPEND_KNOWN;
        return true;
    }
    if (!check_names(d, &draft, e) || (draft.kind == KIND_CORRECTION && !check_correction(d, &draft, e))) {
        return false;
    }
    uint8_t random[10];
    d->options.world.random(d->options.world.ctx, random, sizeof random);
    struct entry entry = {.writer = d->writer.public,
                          .seq = end->seq + 1,
                          .prev = end->hash,
                          .at = draft.at,
                          .at_recorded = draft.at,
                          .made = d->options.world.now(d->options.world.ctx),
                          .by = draft.by,
                          .machine = draft.machine,
                          .has_book = draft.has_book,
                          .book = draft.book,
                          .kind = draft.kind,
                          .body = tree_of(draft.body)};
    entry.id = entry_id_next(end->id, entry.made, random);
    struct text body = text_new(e->a);
    text_jcs(&body, draft.body);
    entry.body_text = text_str(&body);
    entry.hash = entry_hash(e->a, &entry);
    entry.sig = key_sign(&d->writer, entry.hash);
    if (!entry_insert(d, &entry, e) || !receipt_give(d, &entry, S("writer"), e) || !entry_read_back(d, &entry, e)) {
        return false;
    }
    *end = (struct chain_end){entry.id, entry.seq, entry.hash};
    *out = (struct appended){APPEND_ADDED, entry.id, entry.hash, entry.seq};
    return true;
}

/* Says of which draft an error is. */
static bool name_draft(const struct draft *drafts, size_t i, size_t n, struct err *e)
{
    struct text t = text_new(e->a);
    if (n > 1) {
        text_addz(&t, "entry ");
        text_int(&t, (int64_t)i + 1);
        text_join(&t, " (", kind_word(drafts[i].kind), ")", (char *)0);
    } else {
        text_addz(&t, kind_word(drafts[i].kind));
    }
    return err_context(e, text_str(&t));
}

bool depot_append(struct depot *d, const struct draft *drafts, size_t n, struct appended *out, struct err *e)
{
    if (!depot_may_write(d, e)) {
        return false;
    }
    if (!d->writer.have || !d->depot.have) {
        return err_set(e, ERR_REFUSED, "open the depot with the key", "the secret key to sign entries with is not here",
                       (char *)0);
    }
    for (size_t i = 0; i < n; i++) {
        if (!check_draft(&drafts[i], e)) {
            return name_draft(drafts, i, n, e);
        }
    }
    struct chain_end end;
    if (!db_begin(&d->db, e)) {
        return false;
    }
    bool ok = chain_find(d, d->writer.public, &end, e);
    for (size_t i = 0; ok && i < n; i++) {
        struct arena_mark mark = arena_mark(e->a);
        struct appended one = {0};
        ok = append_one(d, &drafts[i], &end, &one, e);
        if (!ok) {
            name_draft(drafts, i, n, e);
            break;
        }
        arena_rewind(e->a, mark);
        if (out) {
            out[i] = one;
        }
    }
    if (!ok || !tip_update(d, d->writer.public, e)) {
        db_rollback(&d->db);
        return false;
    }
    return db_commit(&d->db, e);
}
