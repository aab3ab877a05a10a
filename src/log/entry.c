/* An entry, a receipt and a tip as text: the canonical JSON that is hashed, the form in an export, and reading that
 * back.
 *
 * The members of an entry are fixed and their names are ASCII, so their canonical order is written down here; the body
 * is kept as canonical JSON already. So a hash is computed over the very bytes that are stored. */
#include "jcs.h"
#include "log_internal.h"

#include "base/json.h"

#include <string.h>

struct str id_str(struct arena *a, struct entry_id id)
{
    struct text t = text_new(a);
    text_entry_id(&t, id);
    return text_str(&t);
}

struct str hash_str(struct arena *a, struct log_hash hash)
{
    struct text t = text_new(a);
    text_hex(&t, hash.b, sizeof hash.b);
    return text_str(&t);
}

struct str number_str(struct arena *a, int64_t value)
{
    struct text t = text_new(a);
    text_int(&t, value);
    return text_str(&t);
}

struct str entry_label(struct arena *a, const struct entry *entry)
{
    struct text t = text_new(a);
    text_addz(&t, "entry ");
    text_entry_id(&t, entry->id);
    text_addz(&t, " (writer ");
    text_hex(&t, entry->writer.b, 4);
    text_addz(&t, ", number ");
    text_int(&t, entry->seq);
    text_char(&t, ')');
    return text_str(&t);
}

/* "name": and the bytes in hex, as a member. */
static void hex_member(struct text *t, const char *name, const uint8_t *p, size_t n)
{
    text_join(t, ",\"", name, "\":\"", (char *)0);
    text_hex(t, p, n);
    text_char(t, '"');
}

static void time_member(struct text *t, const char *name, instant_ms at)
{
    text_join(t, ",\"", name, "\":\"", (char *)0);
    text_instant(t, at);
    text_char(t, '"');
}

static void str_member(struct text *t, const char *name, struct str s)
{
    text_join(t, ",\"", name, "\":", (char *)0);
    if (s.p) {
        text_json_string(t, s);
    } else {
        text_addz(t, "null");
    }
}

/* The entry in canonical order; hash and sig only if `whole`. */
static void add_entry(struct text *t, const struct entry *entry, bool whole)
{
    text_addz(t, "{\"at\":\"");
    text_instant(t, entry->at_recorded);
    text_addz(t, "\",\"body\":");
    text_add(t, entry->body_text);
    text_addz(t, ",\"book\":");
    if (entry->has_book) {
        text_char(t, '"');
        text_edition(t, entry->book);
        text_char(t, '"');
    } else {
        text_addz(t, "null");
    }
    str_member(t, "by", entry->by);
    if (whole) {
        hex_member(t, "hash", entry->hash.b, sizeof entry->hash.b);
    }
    text_addz(t, ",\"id\":\"");
    text_entry_id(t, entry->id);
    text_addz(t, "\",\"kind\":\"");
    text_addz(t, kind_word(entry->kind));
    text_char(t, '"');
    str_member(t, "machine", entry->machine);
    time_member(t, "made", entry->made);
    hex_member(t, "prev", entry->prev.b, sizeof entry->prev.b);
    text_addz(t, ",\"seq\":");
    text_int(t, entry->seq);
    if (whole) {
        hex_member(t, "sig", entry->sig.b, sizeof entry->sig.b);
    }
    text_addz(t, ",\"v\":1");
    hex_member(t, "writer", entry->writer.b, sizeof entry->writer.b);
    text_char(t, '}');
}

void text_entry_canonical(struct text *t, const struct entry *entry)
{
    add_entry(t, entry, false);
}

void text_entry(struct text *t, const struct entry *entry)
{
    add_entry(t, entry, true);
}

struct log_hash entry_hash(struct arena *a, const struct entry *entry)
{
    struct arena_mark mark = arena_mark(a);
    struct text t = text_new(a);
    text_entry_canonical(&t, entry);
    struct log_hash hash = log_sha256(text_str(&t));
    arena_rewind(a, mark);
    return hash;
}

bool entry_sig_ok(const struct entry *entry)
{
    return key_verify(entry->writer, entry->hash, &entry->sig);
}

void entry_free(struct entry *entry)
{
    json_decref(entry->body);
    entry->body = NULL;
}

void entries_free(struct entries *list)
{
    for (size_t i = 0; i < list->n; i++) {
        entry_free(&list->at[i]);
    }
    list->n = 0;
}

/* ---- Reading ---- */

/* What a member of an exported record must be. */
enum wire { W_ID, W_HASH, W_SIG, W_TIME, W_WHO, W_MACHINE, W_EDITION, W_KIND, W_WHOLE, W_BODY };

struct wire_member {
    const char *name;
    enum wire form;
    void *to;
};

/* "path: what"; false. */
static bool refuse(struct err *e, const char *path, const char *right, const char *what)
{
    return err_set(e, ERR_INPUT, right, path, ": ", what, (char *)0);
}

static struct str text_of(const json_t *value)
{
    return json_is_string(value) ? (struct str){json_string_value(value), json_string_length(value)}
                                 : (struct str){NULL, 0};
}

/* An instant in exactly the form that is hashed. */
static bool read_time(struct arena *a, const json_t *value, instant_ms *at)
{
    struct str s = text_of(value);
    if (!s.p || !instant_parse(s, at)) {
        return false;
    }
    struct text again = text_new(a);
    text_instant(&again, *at);
    return str_eq(text_str(&again), s);
}

static bool read_id(struct arena *a, const json_t *value, struct entry_id *id)
{
    struct str s = text_of(value);
    return s.p && entry_id_parse(s, id) && str_eq(id_str(a, *id), s) && id->b[6] >> 4 == 7 && id->b[8] >> 6 == 2;
}

/* A name in one line, of 1 to 200 bytes; null where that is allowed. */
static bool read_name(struct arena *a, const json_t *value, bool may_be_null, struct str *out)
{
    struct str s = text_of(value);
    if (may_be_null && json_is_null(value)) {
        *out = (struct str){NULL, 0};
        return true;
    }
    if (!s.p || str_trim(s).n == 0 || s.n > 200) {
        return false;
    }
    for (size_t i = 0; i < s.n; i++) {
        if ((unsigned char)s.p[i] < 0x20 || s.p[i] == 0x7f) {
            return false;
        }
    }
    *out = str_copy(a, s);
    return true;
}

static bool read_whole(const json_t *value, int64_t *out)
{
    if (!json_is_integer(value) || json_integer_value(value) < 1 || json_integer_value(value) > 9007199254740991) {
        return false;
    }
    *out = json_integer_value(value);
    return true;
}

static bool read_kind(const json_t *value, enum entry_kind *kind, struct err *e)
{
    struct str s = text_of(value);
    if (s.p && kind_parse(s, kind)) {
        return true;
    }
    const char *near = s.p ? kind_nearest(s) : NULL;
    struct text right = text_new(e->a);
    text_join(&right, near ? "did you mean \"" : "see docs/entries.md", near, near ? "\"?" : NULL, (char *)0);
    return err_set(e, ERR_INPUT, text_z(&right), "kind: there is no kind \"", s.p ? str_z(e->a, s) : "", "\"",
                   (char *)0);
}

/* Reads one member of a record into its place. The body and what depends on the kind are the caller's. */
static bool read_member(const json_t *value, const struct wire_member *m, struct arena *a, struct err *e)
{
    switch (m->form) {
    case W_ID:
        return read_id(a, value, m->to) || refuse(e, m->name, "a UUIDv7 in lower case", "it is not an entry's id");
    case W_HASH:
        return (text_of(value).p && hex_parse(text_of(value), m->to, 32)) ||
               refuse(e, m->name, "64 hex digits in lower case", "it is not 32 bytes in hex");
    case W_SIG:
        return (text_of(value).p && hex_parse(text_of(value), m->to, 64)) ||
               refuse(e, m->name, "128 hex digits in lower case", "it is not a signature in hex");
    case W_TIME:
        return read_time(a, value, m->to) || refuse(e, m->name, "YYYY-MM-DDThh:mm:ss.sssZ", "it is not a time in UTC");
    case W_WHO:
        return read_name(a, value, false, m->to) ||
               refuse(e, m->name, "1 to 200 bytes in one line", "it is not a name");
    case W_MACHINE:
        return read_name(a, value, true, m->to) ||
               refuse(e, m->name, "a serial number or null", "it is not a serial number");
    case W_WHOLE:
        return read_whole(value, m->to) || refuse(e, m->name, "a whole number from 1", "it is not a number of a chain");
    case W_KIND:
        return read_kind(value, m->to, e);
    case W_EDITION: {
        struct entry *entry = m->to;
        entry->has_book = !json_is_null(value);
        return !entry->has_book || (text_of(value).p && edition_parse(text_of(value), &entry->book)) ||
               refuse(e, m->name, "\"sha256:\" and 64 hex digits, or null", "it is not a book edition");
    }
    case W_BODY:
        return json_is_object(value) || refuse(e, m->name, "an object", "it is not an object");
    }
    return false;
}

/* All members of a record, no more and no less; *path is the one that is wrong. */
static bool read_record(const json_t *json, const struct wire_member *members, size_t n, struct arena *a,
                        struct str *path, struct err *e)
{
    *path = S("");
    if (!json_is_object(json)) {
        return err_set(e, ERR_INPUT, "an object", "it is not an object", (char *)0);
    }
    struct str names[16];
    for (size_t i = 0; i < n; i++) {
        names[i] = str_of(members[i].name);
    }
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach(tree_of(json), key, value)
    {
        bool known = false;
        for (size_t i = 0; i < n; i++) {
            known = known || strcmp(members[i].name, key) == 0;
        }
        if (!known) {
            *path = str_copy(e->a, str_of(key));
            ptrdiff_t near = str_nearest(*path, names, n);
            struct text right = text_new(e->a);
            text_join(&right, near >= 0 ? "did you mean \"" : "remove it", near >= 0 ? members[near].name : NULL, "\"?",
                      (char *)0);
            return refuse(e, key, text_z(&right), "there is no such member");
        }
    }
    for (size_t i = 0; i < n; i++) {
        value = json_object_get(json, members[i].name);
        if (!value) {
            return refuse(e, members[i].name, "add it", "it is missing");
        }
        *path = names[i];
        if (!read_member(value, &members[i], a, e)) {
            return false;
        }
    }
    *path = S("");
    return true;
}

/* The version first: what else is there depends on it. */
static bool check_version(const json_t *json, struct str *path, struct err *e)
{
    const json_t *v = json_object_get(json, "v");
    if (json_is_integer(v) && json_integer_value(v) == 1) {
        return true;
    }
    *path = v ? S("v") : S("");
    return refuse(e, "v", "use a newer Witmark for newer entries",
                  v ? "this program reads version 1 of entries" : "the version is missing; it reads version 1");
}

bool entry_of_json(const json_t *json, struct arena *a, struct entry *out, struct str *path, struct err *e)
{
    *path = S("");
    memset(out, 0, sizeof *out);
    int64_t version = 0;
    const struct wire_member members[] = {
        {"v", W_WHOLE, &version},     {"id", W_ID, &out->id},       {"writer", W_HASH, &out->writer},
        {"seq", W_WHOLE, &out->seq},  {"prev", W_HASH, &out->prev}, {"at", W_TIME, &out->at_recorded},
        {"made", W_TIME, &out->made}, {"by", W_WHO, &out->by},      {"machine", W_MACHINE, &out->machine},
        {"book", W_EDITION, out},     {"kind", W_KIND, &out->kind}, {"body", W_BODY, NULL},
        {"hash", W_HASH, &out->hash}, {"sig", W_SIG, &out->sig},
    };
    if ((json_is_object(json) && !check_version(json, path, e)) ||
        !read_record(json, members, sizeof members / sizeof *members, a, path, e)) {
        return false;
    }
    out->at = out->at_recorded;
    if (!out->machine.p && kind_needs_machine(out->kind)) {
        *path = S("machine");
        return refuse(e, "machine", "name its serial number", "an entry of this kind is about a machine");
    }
    json_t *body = json_object_get(json, "body");
    if (!kind_check_path(out->kind, body, out->machine, path, e)) {
        return false;
    }
    struct text t = text_new(a);
    text_jcs(&t, body);
    out->body_text = text_str(&t);
    out->body = json_incref(body);
    return true;
}

/* ---- Receipts and tips ---- */

/* In canonical order: depot, entry, from, received, sig. */
static void add_receipt(struct text *t, const struct receipt *r, bool with_sig)
{
    text_addz(t, "{\"depot\":\"");
    text_hex(t, r->depot.b, sizeof r->depot.b);
    text_char(t, '"');
    hex_member(t, "entry", r->entry.b, sizeof r->entry.b);
    str_member(t, "from", r->from);
    time_member(t, "received", r->received);
    if (with_sig) {
        hex_member(t, "sig", r->sig.b, sizeof r->sig.b);
    }
    text_char(t, '}');
}

void text_receipt_canonical(struct text *t, const struct receipt *r)
{
    add_receipt(t, r, false);
}

void text_receipt(struct text *t, const struct receipt *r)
{
    add_receipt(t, r, true);
}

struct log_hash receipt_hash(struct arena *a, const struct receipt *r)
{
    struct arena_mark mark = arena_mark(a);
    struct text t = text_new(a);
    add_receipt(&t, r, false);
    struct log_hash hash = log_sha256(text_str(&t));
    arena_rewind(a, mark);
    return hash;
}

bool receipt_of_json(const json_t *json, struct arena *a, struct receipt *out, struct err *e)
{
    struct str path;
    memset(out, 0, sizeof *out);
    const struct wire_member members[] = {{"depot", W_HASH, &out->depot},
                                          {"entry", W_HASH, &out->entry},
                                          {"from", W_WHO, &out->from},
                                          {"received", W_TIME, &out->received},
                                          {"sig", W_SIG, &out->sig}};
    return read_record(json, members, sizeof members / sizeof *members, a, &path, e) || err_context(e, S("receipt"));
}

/* In canonical order: count, depot, entry, seq, sig, writer. */
void text_tip(struct text *t, const struct tip *tip, bool with_sig)
{
    text_addz(t, "{\"count\":");
    text_int(t, tip->count);
    hex_member(t, "depot", tip->depot.b, sizeof tip->depot.b);
    hex_member(t, "entry", tip->entry.b, sizeof tip->entry.b);
    text_addz(t, ",\"seq\":");
    text_int(t, tip->seq);
    if (with_sig) {
        hex_member(t, "sig", tip->sig.b, sizeof tip->sig.b);
    }
    hex_member(t, "writer", tip->writer.b, sizeof tip->writer.b);
    text_char(t, '}');
}

struct log_hash tip_hash(struct arena *a, const struct tip *tip)
{
    struct arena_mark mark = arena_mark(a);
    struct text t = text_new(a);
    text_tip(&t, tip, false);
    struct log_hash hash = log_sha256(text_str(&t));
    arena_rewind(a, mark);
    return hash;
}

bool tip_of_json(const json_t *json, struct arena *a, struct tip *out, struct err *e)
{
    struct str path;
    memset(out, 0, sizeof *out);
    const struct wire_member members[] = {{"count", W_WHOLE, &out->count}, {"depot", W_HASH, &out->depot},
                                          {"entry", W_HASH, &out->entry},  {"seq", W_WHOLE, &out->seq},
                                          {"sig", W_SIG, &out->sig},       {"writer", W_HASH, &out->writer}};
    return read_record(json, members, sizeof members / sizeof *members, a, &path, e) || err_context(e, S("tip"));
}
