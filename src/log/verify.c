/* Checking everything that is kept. Entries are read in one pass for what each of them proves by itself; then each
 * writer's chain, then receipts, kept bytes, keys, schema and derived tables. A tampering is reported once, where it
 * is: what follows from it elsewhere (a receipt for the old hash, a successor's prev) is recognised and left out. */
#include "log_internal.h"

#include <sodium.h>
#include <string.h>

/* A running verification. */
struct proof {
    struct depot *d;
    struct arena *a; /* of the findings */
    struct arena scratch;
    struct findings *out;
    struct altered altered;
    struct log_hash key; /* the depot key that receipts are held against */
    struct progress progress;
    uint64_t done, total;
    struct err *e;
};

static bool step(struct proof *p)
{
    p->done++;
    return !p->progress.step || p->done % 256 != 0 || p->progress.step(p->progress.ctx, p->done, p->total) ||
           err_set(p->e, ERR_REFUSED, NULL, "the verification was stopped", (char *)0);
}

/* SQLite's own check: pages, indexes, NOT NULL, CHECK, types. */
static bool check_file(struct proof *p)
{
    sqlite3_stmt *st = db_prepare(&p->d->db, "PRAGMA integrity_check(20)", p->e);
    if (!st) {
        return false;
    }
    enum db_row row = DB_ROW;
    while ((row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct str says = column_str(st, 0);
        if (!str_eq(says, S("ok"))) {
            findings_add(p->out, (struct finding){.kind = FINDING_FILE}, "the file is damaged: ", str_z(p->a, says),
                         (char *)0);
        }
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

static bool check_schema(struct proof *p)
{
    struct log_hash is;
    struct log_hash should;
    if (!schema_digest(&p->d->db, &is, p->e) || !schema_expected(&should, p->e)) {
        return false;
    }
    if (!log_hash_eq(is, should)) {
        findings_add(p->out, (struct finding){.kind = FINDING_SCHEMA},
                     "tables, indexes or triggers of the file are not those of a depot", (char *)0);
    }
    return true;
}

/* Whether a receipt is signed with this key. */
static bool has_receipts(struct proof *p, struct log_hash key, bool *has)
{
    sqlite3_stmt *st = db_prepare(&p->d->db, "SELECT 1 FROM receipt WHERE depot = ?1 LIMIT 1", p->e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, key.b, sizeof key.b);
    enum db_row row = db_step(&p->d->db, st, p->e);
    *has = row == DB_ROW;
    sqlite3_reset(st);
    return row != DB_FAILED;
}

/* A seed gives its public key. Of an altered depot key, the half that receipts know is taken for the true one. */
static bool check_keys(struct proof *p)
{
    p->key = p->d->depot.public;
    sqlite3_stmt *st = db_prepare(&p->d->db, "SELECT role, public, seed FROM key WHERE seed IS NOT NULL", p->e);
    if (!st) {
        return false;
    }
    enum db_row row = DB_ROW;
    while ((row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        uint8_t seed[32];
        struct log_hash public;
        bool whole = column_bytes(st, 1, public.b, sizeof public.b) && column_bytes(st, 2, seed, sizeof seed);
        struct key_pair pair = key_of_seed(seed);
        if (whole && log_hash_eq(pair.public, public)) {
            continue;
        }
        struct str role = str_copy(p->a, column_str(st, 0));
        findings_add(p->out, (struct finding){.kind = FINDING_KEY, .hash = public}, "the secret key of the ",
                     str_z(p->a, role), " does not belong to its public key", (char *)0);
        bool has = false;
        if (str_eq(role, S("depot")) && !has_receipts(p, public, &has)) {
            row = DB_FAILED;
            break;
        }
        p->key = has ? public : p->key;
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

/* Whether something is kept under the hash. */
static bool is_kept(struct proof *p, const char *literal, struct log_hash hash, bool *is)
{
    sqlite3_stmt *st = db_prepare(&p->d->db, literal, p->e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, hash.b, sizeof hash.b);
    enum db_row row = db_step(&p->d->db, st, p->e);
    *is = row == DB_ROW;
    sqlite3_reset(st);
    return row != DB_FAILED;
}

/* The bytes that a sound entry names are here. */
static bool check_names(struct proof *p, const struct entry *entry, const char *label)
{
    bool is = true;
    struct log_hash blob;
    if (entry->has_book && !is_kept(p, "SELECT 1 FROM edition WHERE hash = ?1", entry->book, &is)) {
        return false;
    }
    if (!is) {
        findings_add(p->out, finding_of_entry(FINDING_NO_EDITION, entry), label,
                     ": the edition of its book is not here", (char *)0);
    }
    is = true;
    if (entry->kind == KIND_ATTACHMENT && hex_parse(body_str(entry->body, "sha256"), blob.b, sizeof blob.b) &&
        !is_kept(p, "SELECT 1 FROM blob WHERE hash = ?1", blob, &is)) {
        return false;
    }
    if (!is) {
        findings_add(p->out, finding_of_entry(FINDING_NO_BLOB, entry), label, ": the file it attaches is not here",
                     (char *)0);
    }
    return true;
}

/* What an entry proves by itself. */
static bool check_entry(struct proof *p, const struct entry *entry, bool sound)
{
    const char *label = str_z(&p->scratch, entry_label(&p->scratch, entry));
    struct log_hash is = entry->hash;
    if (sound) {
        is = entry_hash(&p->scratch, entry);
    }
    if (!sound || !log_hash_eq(is, entry->hash)) {
        altered_add(&p->altered, entry, is);
        findings_add(p->out, finding_of_entry(FINDING_ALTERED, entry), label,
                     sound ? ": its members do not give its hash" : ": its members are not those of an entry",
                     (char *)0);
        return true;
    }
    if (!entry_sig_ok(entry)) {
        findings_add(p->out, finding_of_entry(FINDING_FORGED, entry), label,
                     ": the signature is not that of its writer", (char *)0);
        return true;
    }
    struct err bad = err_new(&p->scratch);
    if (!kind_check(entry->kind, entry->body, entry->machine, &bad)) {
        findings_add(p->out, finding_of_entry(FINDING_MALFORMED, entry), label, ": ", str_z(&p->scratch, bad.what),
                     (char *)0);
        return true;
    }
    return check_names(p, entry, label);
}

static bool check_entries(struct proof *p)
{
    sqlite3_stmt *st = db_prepare_once(&p->d->db, S("SELECT " ENTRY_COLUMNS " FROM entry e ORDER BY place"), p->e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && (row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct arena_mark mark = arena_mark(&p->scratch);
        struct entry entry;
        bool sound = false;
        ok = entry_of_row(st, &p->scratch, &entry, &sound, p->e) && check_entry(p, &entry, sound) && step(p);
        entry_free(&entry);
        arena_rewind(&p->scratch, mark);
    }
    sqlite3_finalize(st);
    return ok && row == DB_DONE;
}

/* Every writer that has entries here or a tip. */
static bool check_chains(struct proof *p)
{
    struct log_hash *writers = NULL;
    size_t n = 0;
    size_t cap = 0;
    sqlite3_stmt *st = db_prepare(&p->d->db, "SELECT writer FROM entry UNION SELECT writer FROM tip ORDER BY 1", p->e);
    if (!st) {
        return false;
    }
    enum db_row row = DB_ROW;
    while ((row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct log_hash writer;
        if (column_bytes(st, 0, writer.b, sizeof writer.b)) {
            ARENA_PUSH(p->a, writers, n, cap) = writer;
        }
    }
    sqlite3_reset(st);
    bool ok = row == DB_DONE;
    for (size_t i = 0; ok && i < n; i++) {
        ok = chain_check(p->d, writers[i], p->key, &p->altered, p->out, p->e);
    }
    return ok;
}

/* A receipt is signed by its depot, for an entry that is here. */
static bool check_receipts(struct proof *p)
{
    sqlite3_stmt *st = db_prepare_once(&p->d->db,
                                       S("SELECT r.entry, r.depot, r.received, r.source, r.sig, e.id FROM receipt r "
                                         "LEFT JOIN entry e ON e.hash = r.entry"),
                                       p->e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && (row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct arena_mark mark = arena_mark(&p->scratch);
        struct receipt r = {.received = sqlite3_column_int64(st, 2), .from = column_str(st, 3)};
        struct log_hash prev;
        bool whole = column_bytes(st, 0, r.entry.b, sizeof r.entry.b) &&
                     column_bytes(st, 1, r.depot.b, sizeof r.depot.b) && column_bytes(st, 4, r.sig.b, sizeof r.sig.b) &&
                     str_is_utf8(r.from) && instant_is_civil(r.received);
        bool ours = whole && key_verify(r.depot, receipt_hash(&p->scratch, &r), &r.sig);
        bool here = sqlite3_column_type(st, 5) != SQLITE_NULL || altered_has(&p->altered, r.entry, &prev);
        struct finding f = {.kind = FINDING_RECEIPT, .hash = r.entry};
        (void)column_bytes(st, 5, f.id.b, sizeof f.id.b);
        const char *entry = str_z(&p->scratch, hash_str(&p->scratch, r.entry));
        if (!ours) {
            findings_add(p->out, f, "the receipt for the entry with hash ", entry, " is not signed by its depot",
                         (char *)0);
        } else if (!here) {
            findings_add(p->out, f, "there is a receipt for an entry with hash ", entry, ", which is not here",
                         (char *)0);
        }
        arena_rewind(&p->scratch, mark);
        ok = step(p);
    }
    sqlite3_finalize(st);
    return ok && row == DB_DONE;
}

/* Every entry has this depot's receipt. */
static bool check_received(struct proof *p)
{
    sqlite3_stmt *st =
        db_prepare_once(&p->d->db,
                        S("SELECT " ENTRY_COLUMNS " FROM entry e WHERE NOT EXISTS "
                          "(SELECT 1 FROM receipt r WHERE r.entry = e.hash AND r.depot = ?1) ORDER BY place"),
                        p->e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, p->key.b, sizeof p->key.b);
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && (row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct arena_mark mark = arena_mark(&p->scratch);
        struct entry entry;
        struct log_hash prev;
        bool sound = false;
        ok = entry_of_row(st, &p->scratch, &entry, &sound, p->e);
        if (ok && sound && !altered_has(&p->altered, entry.hash, &prev)) {
            findings_add(p->out, finding_of_entry(FINDING_NO_RECEIPT, &entry),
                         str_z(&p->scratch, entry_label(&p->scratch, &entry)), ": this depot has not signed for it",
                         (char *)0);
        }
        entry_free(&entry);
        arena_rewind(&p->scratch, mark);
    }
    sqlite3_finalize(st);
    return ok && row == DB_DONE;
}

/* Bytes kept under their hash have it. */
static bool check_bytes(struct proof *p, const char *literal, enum finding_kind kind, const char *what)
{
    sqlite3_stmt *st = db_prepare(&p->d->db, literal, p->e);
    if (!st) {
        return false;
    }
    enum db_row row = DB_ROW;
    while ((row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct finding f = {.kind = kind};
        (void)column_bytes(st, 0, f.hash.b, sizeof f.hash.b);
        if (!log_hash_eq(log_sha256(column_str(st, 1)), f.hash)) {
            findings_add(p->out, f, what, str_z(p->a, hash_str(p->a, f.hash)), ": what is kept has another hash",
                         (char *)0);
        }
    }
    sqlite3_reset(st);
    return row == DB_DONE;
}

/* All rows of the derived tables as one hash. */
static bool derived_digest(struct proof *p, struct log_hash *digest)
{
    static const char *const rows[] = {
        "SELECT hex(target) || ' ' || place FROM derived_correction ORDER BY target, place",
        "SELECT machine || ' ' || key || ' ' || hex(id) || ' ' || place FROM derived_import ORDER BY machine, key, id",
        ("SELECT place || ' ' || state || ' ' || coalesce(at, '') || ' ' || coalesce(body, '') || ' ' || "
         "coalesce(hex(corrected_by), '') FROM derived_effect ORDER BY place"),
    };
    crypto_hash_sha256_state hash;
    crypto_hash_sha256_init(&hash);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        sqlite3_stmt *st = db_prepare(&p->d->db, rows[i], p->e);
        if (!st) {
            return false;
        }
        enum db_row row = DB_ROW;
        while ((row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
            struct str s = column_str(st, 0);
            crypto_hash_sha256_update(&hash, (const unsigned char *)s.p, s.n);
            crypto_hash_sha256_update(&hash, (const unsigned char *)"\n", 1);
        }
        sqlite3_reset(st);
        if (row != DB_DONE) {
            return false;
        }
    }
    crypto_hash_sha256_final(&hash, digest->b);
    return true;
}

/* The derived tables are what rebuilding them gives. */
static bool check_derived(struct proof *p)
{
    struct log_hash is;
    struct log_hash should;
    if (!derived_digest(p, &is) || !derive_apart(p->d, p->e) || !derive_all(p->d, p->e) ||
        !derived_digest(p, &should)) {
        return false;
    }
    if (!log_hash_eq(is, should)) {
        findings_add(p->out, (struct finding){.kind = FINDING_DERIVED},
                     "the derived tables do not follow from the entries: rebuild them", (char *)0);
    }
    return true;
}

/* Corrections that cannot apply. */
static bool check_corrections(struct proof *p)
{
    sqlite3_stmt *st = db_prepare_once(
        &p->d->db, S("SELECT " ENTRY_COLUMNS " FROM entry e WHERE kind = 'correction' ORDER BY place"), p->e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && (row = db_step(&p->d->db, st, p->e)) == DB_ROW) {
        struct arena_mark mark = arena_mark(&p->scratch);
        struct entry entry;
        struct str why = S("");
        ok = entry_of_row(st, &p->scratch, &entry, NULL, p->e);
        if (ok) {
            ok = derive_idle(p->d, &entry, &p->scratch, &why, p->e);
            if (why.n) {
                findings_add(p->out, finding_of_entry(FINDING_CORRECTION, &entry),
                             str_z(&p->scratch, entry_label(&p->scratch, &entry)), ": ", str_z(&p->scratch, why),
                             (char *)0);
            }
            entry_free(&entry);
        }
        arena_rewind(&p->scratch, mark);
    }
    sqlite3_finalize(st);
    return ok && row == DB_DONE;
}

bool depot_verify(struct depot *d, struct progress progress, struct arena *a, struct findings *out, struct err *e)
{
    *out = (struct findings){.a = a};
    struct proof p = {.d = d, .a = a, .scratch = arena_new(e->a->source), .out = out, .progress = progress, .e = e};
    p.altered.a = a;
    p.altered.by_hash = map_new(a);
    struct depot_counts counts;
    if (!db_begin_read(&d->db, e)) {
        return false;
    }
    bool ok = depot_count(d, &counts, e);
    p.total = ok ? (uint64_t)(counts.entries + counts.receipts) : 0;
    ok = ok && check_file(&p) && check_schema(&p) && check_keys(&p) && check_entries(&p) && check_chains(&p) &&
         check_receipts(&p) && check_received(&p) &&
         check_bytes(&p, "SELECT hash, text FROM edition ORDER BY hash", FINDING_EDITION, "book edition sha256:") &&
         check_bytes(&p, "SELECT hash, data FROM blob ORDER BY hash", FINDING_BLOB, "attachment ");
    /* From altered entries nothing can be derived. */
    ok = ok && (p.altered.n > 0 || (check_corrections(&p) && check_derived(&p)));
    db_rollback(&d->db);
    arena_free(&p.scratch);
    return ok;
}
