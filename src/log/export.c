/* Writing a depot, or part of it, as lines of JSON: what docs/entries.md describes. */
#include "log_internal.h"

#include "base/json.h"

#include <sodium.h>
#include <stdlib.h>

/* A running export. */
struct output {
    struct depot *d;
    FILE *to;
    const struct export_options *options;
    struct arena scratch; /* one line */
    struct arena kept;    /* names of what has been written */
    struct map written;   /* hashes of editions and blobs, as hex */
    uint64_t done, total;
    struct err *e;
};

/* Writes the line and takes its memory back. */
static bool put_line(struct output *o, struct text *t)
{
    text_char(t, '\n');
    bool ok = fwrite(t->p, 1, t->n, o->to) == t->n;
    arena_free(&o->scratch);
    o->scratch = arena_new(o->e->a->source);
    return ok || err_set(o->e, ERR_SYSTEM, "check the space on the disk", "the export cannot be written", (char *)0);
}

static bool put_header(struct output *o)
{
    struct depot_counts counts;
    if (!depot_count(o->d, &counts, o->e)) {
        return false;
    }
    o->total = (uint64_t)counts.entries;
    struct text t = text_new(&o->scratch);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_begin_object(&j, "export");
    json_int(&j, "v", 1);
    json_str(&j, "depot", hash_str(&o->scratch, o->d->depot.public));
    json_bool(&j, "whole", !o->options->filtered);
    if (!o->options->filtered) {
        json_int(&j, "entries", counts.entries);
        json_int(&j, "editions", counts.editions);
        json_int(&j, "blobs", o->options->without_blobs ? 0 : counts.blobs);
    }
    json_end_object(&j);
    json_end_object(&j);
    return put_line(o, &t);
}

/* Whether this hash is written for the first time. */
static bool first_time(struct output *o, struct log_hash hash)
{
    return map_put(&o->written, hash_str(&o->kept, hash), 1);
}

static bool put_edition(struct output *o, struct log_hash hash)
{
    struct edition edition;
    bool found = false;
    if (!depot_book_get(o->d, hash, &o->scratch, &edition, &found, o->e)) {
        return false;
    }
    if (!found || !first_time(o, hash)) {
        return true;
    }
    struct text t = text_new(&o->scratch);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_begin_object(&j, "edition");
    json_str(&j, "sha256", hash_str(&o->scratch, hash));
    json_str(&j, "name", edition.name);
    json_str(&j, "text", edition.text);
    json_end_object(&j);
    json_end_object(&j);
    return put_line(o, &t);
}

static bool put_blob(struct output *o, struct log_hash hash)
{
    struct str data;
    bool found = false;
    if (o->options->without_blobs) {
        return true;
    }
    if (!depot_blob_get(o->d, hash, &o->scratch, &data, &found, o->e)) {
        return false;
    }
    if (!found || !first_time(o, hash)) {
        return true;
    }
    size_t room = sodium_base64_encoded_len(data.n, sodium_base64_VARIANT_ORIGINAL);
    char *text = arena_alloc(&o->scratch, room, 1);
    sodium_bin2base64(text, room, (const unsigned char *)data.p, data.n, sodium_base64_VARIANT_ORIGINAL);
    struct text t = text_new(&o->scratch);
    struct json j = json_new(&t, false);
    json_begin_object(&j, NULL);
    json_begin_object(&j, "blob");
    json_str(&j, "sha256", hash_str(&o->scratch, hash));
    json_int(&j, "bytes", (int64_t)data.n);
    json_str(&j, "data", str_of(text));
    json_end_object(&j);
    json_end_object(&j);
    return put_line(o, &t);
}

/* One entry with its receipts, after what it names, if that has not been written yet. */
static bool put_entry(struct output *o, const struct entry *entry)
{
    struct log_hash blob;
    if (o->options->progress.step && o->done % 256 == 0 &&
        !o->options->progress.step(o->options->progress.ctx, o->done, o->total)) {
        return err_set(o->e, ERR_REFUSED, NULL, "the export was stopped", (char *)0);
    }
    o->done++;
    if (entry->has_book && !put_edition(o, entry->book)) {
        return false;
    }
    if (entry->kind == KIND_ATTACHMENT && hex_parse(body_str(entry->body, "sha256"), blob.b, sizeof blob.b) &&
        !put_blob(o, blob)) {
        return false;
    }
    struct receipt *receipts = NULL;
    size_t n = 0;
    if (!depot_receipts(o->d, entry->hash, &o->scratch, &receipts, &n, o->e)) {
        return false;
    }
    struct text t = text_new(&o->scratch);
    text_addz(&t, "{\"entry\":");
    text_entry(&t, entry);
    text_addz(&t, ",\"receipts\":[");
    for (size_t i = 0; i < n; i++) {
        text_addz(&t, i ? "," : "");
        text_receipt(&t, &receipts[i]);
    }
    text_addz(&t, "]}");
    return put_line(o, &t);
}

static bool put_each(void *ctx, const struct entry *entry)
{
    return put_entry(ctx, entry);
}

/* All hashes of a table, in order, each handed to `put`. */
static bool put_all(struct output *o, const char *literal, bool (*put)(struct output *o, struct log_hash hash))
{
    sqlite3_stmt *st = db_prepare(&o->d->db, literal, o->e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && (row = db_step(&o->d->db, st, o->e)) == DB_ROW) {
        struct log_hash hash;
        ok = column_bytes(st, 0, hash.b, sizeof hash.b) && put(o, hash);
    }
    sqlite3_reset(st);
    return ok && row == DB_DONE;
}

/* Every entry by writer and number. */
static bool put_entries(struct output *o)
{
    sqlite3_stmt *st = db_prepare(&o->d->db, "SELECT " ENTRY_COLUMNS " FROM entry e ORDER BY writer, seq, hash", o->e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = DB_ROW;
    struct arena one = arena_new(o->e->a->source);
    while (ok && (row = db_step(&o->d->db, st, o->e)) == DB_ROW) {
        struct arena_mark mark = arena_mark(&one);
        struct entry entry;
        ok = entry_of_row(st, &one, &entry, NULL, o->e);
        if (ok) {
            ok = put_entry(o, &entry);
            entry_free(&entry);
        }
        arena_rewind(&one, mark);
    }
    arena_free(&one);
    sqlite3_reset(st);
    return ok && row == DB_DONE;
}

static bool put_tips(struct output *o)
{
    sqlite3_stmt *st =
        db_prepare(&o->d->db, "SELECT depot, writer, seq, entry, count, sig FROM tip ORDER BY writer", o->e);
    if (!st) {
        return false;
    }
    bool ok = true;
    enum db_row row = DB_ROW;
    while (ok && (row = db_step(&o->d->db, st, o->e)) == DB_ROW) {
        struct tip tip = {.seq = sqlite3_column_int64(st, 2), .count = sqlite3_column_int64(st, 4)};
        (void)column_bytes(st, 0, tip.depot.b, sizeof tip.depot.b);
        (void)column_bytes(st, 1, tip.writer.b, sizeof tip.writer.b);
        (void)column_bytes(st, 3, tip.entry.b, sizeof tip.entry.b);
        (void)column_bytes(st, 5, tip.sig.b, sizeof tip.sig.b);
        struct text t = text_new(&o->scratch);
        text_addz(&t, "{\"tip\":");
        text_tip(&t, &tip, true);
        text_char(&t, '}');
        ok = put_line(o, &t);
    }
    sqlite3_reset(st);
    return ok && row == DB_DONE;
}

static bool put_whole(struct output *o)
{
    return put_all(o, "SELECT hash FROM edition ORDER BY hash", put_edition) &&
           put_all(o, "SELECT hash FROM blob ORDER BY hash", put_blob) && put_entries(o) && put_tips(o);
}

bool depot_export(struct depot *d, FILE *to, const struct export_options *options, struct err *e)
{
    static const struct export_options everything;
    struct output o = {.d = d,
                       .to = to,
                       .options = options ? options : &everything,
                       .scratch = arena_new(e->a->source),
                       .kept = arena_new(e->a->source),
                       .e = e};
    o.written = map_new(&o.kept);
    if (!db_begin_read(&d->db, e)) {
        return false;
    }
    struct entry_filter only = o.options->only;
    only.view = VIEW_RECORDED;
    bool ok = put_header(&o) && (o.options->filtered ? depot_each(d, &only, put_each, &o, e) : put_whole(&o));
    if (ok && fflush(to) != 0) {
        ok = err_set(e, ERR_SYSTEM, "check the space on the disk", "the export cannot be written", (char *)0);
    }
    db_rollback(&d->db);
    arena_free(&o.scratch);
    arena_free(&o.kept);
    return ok;
}
