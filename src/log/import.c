/* Reading lines of JSON into a depot: set union, all or nothing. Each line is judged by itself, never by what happens
 * to be here already (but for an id that is taken), so that the order of files and lines does not matter. */
#include "jcs.h"
#include "log_internal.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#define LINE_MOST ((size_t)96 << 20) /* a blob of BLOB_MOST in base64, and its members */

/* A running import. */
struct input {
    struct depot *d;
    const struct import_options *options;
    struct import_report *report;
    struct arena *a;      /* of the report */
    struct arena scratch; /* one line */
    struct str line;
    struct str path;    /* the member that is wrong */
    struct map writers; /* whose chains have grown */
    struct tip *tips;
    size_t n_tips, cap_tips;
    struct err *e;
};

/* One line without its end into *buffer (malloc'd, grows). False at the end of the file, or with e set. */
static bool read_line(FILE *from, char **buffer, size_t *room, size_t *n, struct err *e)
{
    int c = 0;
    *n = 0;
    while ((c = getc(from)) != EOF && c != '\n') {
        if (*n == *room) {
            size_t more = *room ? *room * 2 : 65536;
            char *grown = *n < LINE_MOST ? realloc(*buffer, more) : NULL;
            if (!grown) {
                return err_set(e, ERR_INPUT, "at most 96 MiB", "the line is too long", (char *)0);
            }
            *buffer = grown;
            *room = more;
        }
        (*buffer)[(*n)++] = (char)c;
    }
    if (ferror(from)) {
        return err_set(e, ERR_SYSTEM, NULL, "the file cannot be read", (char *)0);
    }
    if (*n && (*buffer)[*n - 1] == '\r') {
        (*n)--;
    }
    return c != EOF || *n > 0;
}

/* Fills in what is wrong, at the member of that path. */
static bool wrong_at(struct input *in, const char *path, enum err_kind kind, const char *right, const char *what,
                     const char *more)
{
    in->path = str_of(path);
    return err_set(in->e, kind, right, what, more, (char *)0);
}

/* The bytes kept under a hash in an edition or blob line: *hash from "sha256". */
static bool read_hash(struct input *in, const json_t *object, struct log_hash *hash, const char *path)
{
    struct str s = body_str(object, "sha256");
    return (s.p && hex_parse(s, hash->b, sizeof hash->b)) ||
           wrong_at(in, path, ERR_INPUT, "64 hex digits in lower case", path, ": it is not a SHA-256 hash");
}

static bool take_edition(struct input *in, const json_t *object)
{
    struct log_hash hash;
    struct log_hash is;
    struct str text = body_str(object, "text");
    struct str name = body_str(object, "name");
    if (!read_hash(in, object, &hash, "edition.sha256")) {
        return false;
    }
    if (!text.p || !name.p) {
        return wrong_at(in, text.p ? "edition.name" : "edition.text", ERR_INPUT, "write it in quotes",
                        text.p ? "edition.name" : "edition.text", ": it is missing or not text");
    }
    if (!log_hash_eq(log_sha256(text), hash)) {
        return wrong_at(in, "edition.sha256", ERR_INPUT, "get it again from where it was exported",
                        "edition.sha256: the text has another hash", ": it has been altered");
    }
    int before = sqlite3_total_changes(in->d->db.h);
    if (!depot_book_put(in->d, name, text, &is, in->e)) {
        return false;
    }
    in->report->editions_added += sqlite3_total_changes(in->d->db.h) - before;
    return true;
}

static bool take_blob(struct input *in, const json_t *object)
{
    struct log_hash hash;
    struct log_hash is;
    struct str data = body_str(object, "data");
    if (!read_hash(in, object, &hash, "blob.sha256")) {
        return false;
    }
    unsigned char *bytes = arena_alloc(&in->scratch, data.n / 4 * 3 + 3, 1);
    size_t n = 0;
    const char *end = NULL;
    if (!data.p ||
        sodium_base642bin(bytes, data.n / 4 * 3 + 3, data.p, data.n, NULL, &n, &end, sodium_base64_VARIANT_ORIGINAL) !=
            0 ||
        end != data.p + data.n) {
        return wrong_at(in, "blob.data", ERR_INPUT, "base64 of RFC 4648 section 4", "blob.data: it is not base64", "");
    }
    struct str blob = {(const char *)bytes, n};
    if (!log_hash_eq(log_sha256(blob), hash)) {
        return wrong_at(in, "blob.sha256", ERR_INPUT, "get it again from where it was exported",
                        "blob.sha256: the bytes have another hash", ": they have been altered");
    }
    int before = sqlite3_total_changes(in->d->db.h);
    if (!depot_blob_put(in->d, blob, &is, in->e)) {
        return false;
    }
    in->report->blobs_added += sqlite3_total_changes(in->d->db.h) - before;
    return true;
}

static bool take_tip(struct input *in, const json_t *object)
{
    struct tip tip;
    in->path = S("tip");
    if (!tip_of_json(object, &in->scratch, &tip, in->e)) {
        return false;
    }
    if (!key_verify(tip.depot, tip_hash(&in->scratch, &tip), &tip.sig)) {
        return wrong_at(in, "tip.sig", ERR_INPUT, "get it again from where it was exported",
                        "tip: the signature is not that of its depot", ": it has been altered");
    }
    ARENA_PUSH(in->a, in->tips, in->n_tips, in->cap_tips) = tip;
    return true;
}

/* What is here under the hash or the id of an entry. */
enum here { HERE_NOT, HERE_SAME, HERE_OTHER };

static bool find_here(struct input *in, const struct entry *entry, enum here *here)
{
    struct depot *d = in->d;
    *here = HERE_NOT;
    sqlite3_stmt *st = db_prepare(&d->db, "SELECT hash, sig FROM entry WHERE id = ?1", in->e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, entry->id.b, sizeof entry->id.b);
    enum db_row row = db_step(&d->db, st, in->e);
    if (row == DB_ROW) {
        struct log_hash hash;
        struct log_sig sig;
        (void)column_bytes(st, 0, hash.b, sizeof hash.b);
        (void)column_bytes(st, 1, sig.b, sizeof sig.b);
        bool same = log_hash_eq(hash, entry->hash) && memcmp(sig.b, entry->sig.b, sizeof sig.b) == 0;
        *here = same ? HERE_SAME : HERE_OTHER;
    }
    sqlite3_reset(st);
    return row != DB_FAILED;
}

/* The entry's hash and signature are right. */
static bool check_proof(struct input *in, const struct entry *entry, bool known)
{
    const char *label = str_z(&in->scratch, entry_label(&in->scratch, entry));
    if (!log_hash_eq(entry_hash(&in->scratch, entry), entry->hash)) {
        return wrong_at(in, "entry.hash", ERR_INPUT, "get it again from its writer", label,
                        ": its members give another hash: it has been altered");
    }
    return known || entry_sig_ok(entry) ||
           wrong_at(in, "entry.sig", ERR_INPUT, "get it again from its writer", label,
                    ": the signature is not that of its writer: it has been forged");
}

/* Whether exactly this receipt is here; then it has been checked before. */
static bool receipt_here(struct input *in, const struct receipt *r, bool *here)
{
    sqlite3_stmt *st =
        db_prepare(&in->d->db,
                   "SELECT 1 FROM receipt WHERE entry = ?1 AND depot = ?2 AND received = ?3 AND source = ?4 "
                   "AND sig = ?5",
                   in->e);
    if (!st) {
        return false;
    }
    bind_bytes(st, 1, r->entry.b, sizeof r->entry.b);
    bind_bytes(st, 2, r->depot.b, sizeof r->depot.b);
    bind_int(st, 3, r->received);
    bind_str(st, 4, r->from);
    bind_bytes(st, 5, r->sig.b, sizeof r->sig.b);
    enum db_row row = db_step(&in->d->db, st, in->e);
    *here = row == DB_ROW;
    sqlite3_reset(st);
    return row != DB_FAILED;
}

/* Receipts of other depots that come with an entry. */
static bool take_receipts(struct input *in, const struct entry *entry, const json_t *receipts)
{
    for (size_t i = 0; i < json_array_size(receipts); i++) {
        struct receipt r;
        struct text path = text_new(&in->scratch);
        text_addz(&path, "receipts[");
        text_int(&path, (int64_t)i);
        text_char(&path, ']');
        in->path = text_str(&path);
        if (!receipt_of_json(json_array_get(receipts, i), &in->scratch, &r, in->e)) {
            return false;
        }
        bool added = false;
        bool here = false;
        if (log_hash_eq(r.entry, entry->hash) && !receipt_here(in, &r, &here)) {
            return false;
        }
        if (here) {
            continue;
        }
        if (!log_hash_eq(r.entry, entry->hash) || !key_verify(r.depot, receipt_hash(&in->scratch, &r), &r.sig)) {
            return err_set(in->e, ERR_INPUT, "get it again from where it was exported",
                           str_z(&in->scratch, entry_label(&in->scratch, entry)),
                           ": a receipt is not signed by its depot for this entry", (char *)0);
        }
        if (!receipt_insert(in->d, &r, &added, in->e)) {
            return false;
        }
        in->report->receipts_added += added;
    }
    return true;
}

/* An entry that is new here: inserted, receipted, read back. */
static bool add_entry(struct input *in, struct entry *entry, const json_t *receipts)
{
    struct str from = in->options->from.n ? in->options->from : S("import");
    if (!entry_insert(in->d, entry, in->e) || !take_receipts(in, entry, receipts) ||
        !receipt_give(in->d, entry, from, in->e) || !entry_read_back(in->d, entry, in->e)) {
        return false;
    }
    (void)map_put(&in->writers, (struct str){arena_copy(in->a, entry->writer.b, 32), 32}, 1);
    in->report->entries_added++;
    return true;
}

static bool take_entry(struct input *in, const json_t *object, const json_t *receipts)
{
    struct entry entry;
    struct str path;
    if (!entry_of_json(object, &in->scratch, &entry, &path, in->e)) {
        struct text full = text_new(&in->scratch);
        text_addz(&full, "entry.");
        text_add(&full, path);
        in->path = text_str(&full);
        entry_free(&entry);
        return false;
    }
    enum here here = HERE_NOT;
    bool ok = find_here(in, &entry, &here) && check_proof(in, &entry, here == HERE_SAME);
    if (ok && receipts && !json_is_array(receipts)) {
        ok = wrong_at(in, "receipts", ERR_INPUT, "a list", "receipts: it is not a list", "");
    } else if (ok && here == HERE_OTHER) {
        ok = wrong_at(in, "entry.id", ERR_CONFLICT, "one of the two is not what its writer wrote; keep both files",
                      str_z(&in->scratch, entry_label(&in->scratch, &entry)), ": another entry with this id is here");
    } else if (ok && here == HERE_SAME) {
        in->report->entries_known++;
        ok = take_receipts(in, &entry, receipts);
    } else if (ok) {
        ok = add_entry(in, &entry, receipts);
    }
    entry_free(&entry);
    return ok;
}

/* The members a line may have. */
static bool check_members(struct input *in, const json_t *line)
{
    static const char *const names[] = {"entry", "receipts", "edition", "blob", "tip", "export"};
    struct str all[6];
    for (size_t i = 0; i < 6; i++) {
        all[i] = str_of(names[i]);
    }
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach(tree_of(line), key, value)
    {
        bool known = false;
        for (size_t i = 0; i < 6; i++) {
            known = known || strcmp(key, names[i]) == 0;
        }
        if (!known) {
            ptrdiff_t near = str_nearest(str_of(key), all, 6);
            struct text right = text_new(&in->scratch);
            text_join(&right, near < 0 ? "entry, edition, blob, tip or export" : "did you mean \"",
                      near < 0 ? NULL : names[near], "\"?", (char *)0);
            in->path = str_copy(&in->scratch, str_of(key));
            return err_set(in->e, ERR_INPUT, text_z(&right), "there is no line of type \"", key, "\"", (char *)0);
        }
    }
    return true;
}

static bool take_parsed(struct input *in, const json_t *line)
{
    const json_t *value = NULL;
    if (!json_is_object(line)) {
        return wrong_at(in, "", ERR_INPUT, "an object: {\"entry\": {...}}", "the line is not an object", "");
    }
    if (!check_members(in, line)) {
        return false;
    }
    if ((value = json_object_get(line, "entry"))) {
        return take_entry(in, value, json_object_get(line, "receipts"));
    }
    if ((value = json_object_get(line, "edition"))) {
        return take_edition(in, value);
    }
    if ((value = json_object_get(line, "blob"))) {
        return take_blob(in, value);
    }
    if ((value = json_object_get(line, "tip"))) {
        return take_tip(in, value);
    }
    value = json_object_get(line, "export");
    const json_t *v = json_object_get(value, "v");
    return (json_is_integer(v) && json_integer_value(v) == 1) ||
           wrong_at(in, "export", ERR_INPUT, "use a newer Witmark", "this program reads exports of version 1", "");
}

/* One line; where it is wrong is filled in here. */
static bool take_line(struct input *in)
{
    json_error_t bad;
    in->path = S("");
    json_t *line = json_loadb(in->line.p, in->line.n, JSON_REJECT_DUPLICATES, &bad);
    bool ok = line && take_parsed(in, line);
    struct where where = {in->options->name, (uint32_t)in->report->lines, 0};
    if (!line) {
        size_t place = bad.position > 0 && (size_t)bad.position <= in->line.n ? (size_t)bad.position : in->line.n;
        where.column = (uint32_t)str_chars(str_cut(in->line, 0, place ? place - 1 : 0)) + 1;
        (void)err_at(in->e, where, ERR_INPUT, NULL, "it is not JSON: ", bad.text, (char *)0);
    } else if (!ok && in->e->kind != ERR_BUSY && in->e->kind != ERR_SYSTEM) {
        where.column = json_column(in->line, in->path);
        in->e->where = where;
    }
    json_decref(line);
    return ok;
}

/* After all lines: tips of the writers that have grown, and what their chains lack. */
static bool close_chains(struct input *in)
{
    for (size_t i = 0; i < in->writers.cap; i++) {
        const struct map_slot *slot = &in->writers.slots[i];
        struct log_hash writer;
        if (!slot->used) {
            continue;
        }
        memcpy(writer.b, slot->key.p, sizeof writer.b);
        if (!chain_check(in->d, writer, in->d->depot.public, NULL, &in->report->findings, in->e) ||
            !tip_update(in->d, writer, in->e)) {
            return false;
        }
    }
    return true;
}

/* What another depot's tips say it had, and is not here. */
static bool check_tips(struct input *in)
{
    for (size_t i = 0; i < in->n_tips; i++) {
        const struct tip *tip = &in->tips[i];
        sqlite3_stmt *st = db_prepare(&in->d->db, "SELECT max(seq) FROM entry WHERE writer = ?1", in->e);
        if (!st) {
            return false;
        }
        bind_bytes(st, 1, tip->writer.b, sizeof tip->writer.b);
        int64_t last = db_step(&in->d->db, st, in->e) == DB_ROW ? sqlite3_column_int64(st, 0) : 0;
        sqlite3_reset(st);
        if (last < tip->seq) {
            struct finding f = {.kind = FINDING_AWAITED, .writer = tip->writer, .seq = last + 1, .seq_to = tip->seq};
            findings_add(&in->report->findings, f, "writer ", str_z(in->a, str_cut(hash_str(in->a, tip->writer), 0, 8)),
                         ": entries up to ", str_z(in->a, number_str(in->a, tip->seq)),
                         " were known where this was exported and are not here yet", (char *)0);
        }
    }
    return true;
}

/* Line after line. */
static bool take_all(struct input *in, FILE *from)
{
    char *buffer = NULL;
    size_t room = 0;
    size_t n = 0;
    uint64_t done = 0;
    bool ok = true;
    while (ok && read_line(from, &buffer, &room, &n, in->e)) {
        in->report->lines++;
        done += n + 1;
        in->line = (struct str){buffer, n};
        struct arena_mark mark = arena_mark(in->e->a);
        ok = str_trim(in->line).n == 0 || take_line(in);
        if (ok) {
            arena_rewind(in->e->a, mark);
        }
        arena_free(&in->scratch);
        const struct progress *p = &in->options->progress;
        if (ok && p->step && in->report->lines % 256 == 0 && !p->step(p->ctx, done, 0)) {
            ok = err_set(in->e, ERR_REFUSED, NULL, "the import was stopped; nothing of it was kept", (char *)0);
        }
    }
    free(buffer);
    if (ok && in->e->kind != ERR_NONE && in->e->where.line == 0) { /* the line could not be read */
        in->e->where = (struct where){in->options->name, (uint32_t)in->report->lines + 1, 1};
    }
    return ok && in->e->kind == ERR_NONE;
}

bool depot_import(struct depot *d, FILE *from, const struct import_options *options, struct arena *a,
                  struct import_report *report, struct err *e)
{
    memset(report, 0, sizeof *report);
    report->findings.a = a;
    if (!depot_may_write(d, e)) {
        return false;
    }
    if (!d->depot.have) {
        return err_set(e, ERR_REFUSED, "open the depot with the key",
                       "the secret key to sign receipts with is not here", (char *)0);
    }
    /* What the lines need goes into an arena of its own, given back line by line. */
    struct arena work = arena_new(e->a->source);
    struct err inner = err_new(&work);
    struct input in = {.d = d,
                       .options = options,
                       .report = report,
                       .a = a,
                       .scratch = arena_new(e->a->source),
                       .writers = map_new(a),
                       .e = &inner};
    bool ok = db_begin(&d->db, &inner) && take_all(&in, from) && close_chains(&in) && check_tips(&in);
    if (!ok || options->dry_run) {
        db_rollback(&d->db);
    } else {
        ok = db_commit(&d->db, &inner);
    }
    if (!ok) {
        (void)err_at(e, inner.where, inner.kind, inner.right.n ? str_z(&work, inner.right) : NULL,
                     str_z(&work, inner.what), (char *)0);
    }
    arena_free(&in.scratch);
    arena_free(&work);
    return ok;
}

/* ---- Lines judged one by one ---- */

/* Undoes what a refused line has begun. */
static bool undo_line(struct db *db, struct err *e)
{
    for (size_t i = 0; i < db->n; i++) {
        sqlite3_reset(db->kept[i].st);
    }
    return db_exec(db, "ROLLBACK TO line; RELEASE line", e);
}

/* One line as take_line does it, but only an entry, only where `allow` agrees, and without harm when it is refused.
 * False when the whole cannot go on. */
static bool take_one(struct input *in, const struct import_lines *lines, struct import_line *out)
{
    json_error_t bad;
    json_t *line = json_loadb(in->line.p, in->line.n, JSON_REJECT_DUPLICATES, &bad);
    const json_t *entry = json_object_get(line, "entry");
    out->id = str_copy(in->a, body_str(entry, "id"));
    bool ok = db_exec(&in->d->db, "SAVEPOINT line", in->e);
    if (ok && line && !json_is_object(entry)) {
        ok = err_set(in->e, ERR_INPUT, "{\"entry\": {...}}", "the line is no entry", (char *)0);
    } else if (ok && entry && lines->allow && !lines->allow(lines->ctx, entry, in->e)) {
        ok = false;
    }
    int64_t before = in->report->entries_added;
    ok = ok && take_line(in);
    json_decref(line);
    if (ok) {
        out->state = in->report->entries_added > before ? IMPORT_LINE_NEW : IMPORT_LINE_HERE;
        return db_exec(&in->d->db, "RELEASE line", in->e);
    }
    if (in->e->kind == ERR_BUSY || in->e->kind == ERR_SYSTEM || in->e->kind == ERR_INTERNAL) {
        return false;
    }
    in->report->entries_added = before;
    out->state = IMPORT_LINE_REFUSED;
    out->what = str_copy(in->a, in->e->what);
    out->right = str_copy(in->a, in->e->right);
    *in->e = err_new(in->e->a);
    return undo_line(&in->d->db, in->e);
}

bool depot_import_lines(struct depot *d, const struct import_lines *lines, struct arena *a, struct import_line **at,
                        size_t *n, struct import_report *report, struct err *e)
{
    size_t cap = 0;
    *at = NULL;
    *n = 0;
    memset(report, 0, sizeof *report);
    report->findings.a = a;
    if (!depot_may_write(d, e)) {
        return false;
    }
    if (!d->depot.have) {
        return err_set(e, ERR_REFUSED, "open the depot with the key",
                       "the secret key to sign receipts with is not here", (char *)0);
    }
    struct arena work = arena_new(e->a->source);
    struct err inner = err_new(&work);
    struct import_options options = {.name = S("entries"), .from = lines->from};
    struct input in = {.d = d,
                       .options = &options,
                       .report = report,
                       .a = a,
                       .scratch = arena_new(e->a->source),
                       .writers = map_new(a),
                       .e = &inner};
    struct str rest = lines->text;
    bool ok = db_begin(&d->db, &inner);
    while (ok && str_next(&rest, '\n', &in.line)) {
        report->lines++;
        if (str_trim(in.line).n == 0) {
            continue;
        }
        struct import_line one = {.line = report->lines};
        ok = take_one(&in, lines, &one);
        ARENA_PUSH(a, *at, *n, cap) = one;
        arena_free(&in.scratch);
    }
    ok = ok && close_chains(&in) && db_commit(&d->db, &inner);
    if (!ok) {
        db_rollback(&d->db);
        (void)err_at(e, inner.where, inner.kind, inner.right.n ? str_z(&work, inner.right) : NULL,
                     str_z(&work, inner.what), (char *)0);
    }
    arena_free(&in.scratch);
    arena_free(&work);
    return ok;
}
