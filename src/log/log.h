/* The log: signed entries, and the depot that keeps them.
 *
 * A depot is one SQLite file. Its facts are entries, receipts, book editions, attachments (blobs), settings and keys;
 * they are only ever added. Whatever else is in the file is derived from them and can be dropped and rebuilt.
 *
 * An entry is one immutable record (docs/entries.md describes it member by member): who saw or did what to which
 * machine and when, in the chain of the device that wrote it. Its hash is the SHA-256 of its canonical JSON (RFC 8785)
 * without `hash` and `sig`; its signature is Ed25519 (RFC 8032) over the 32 bytes of the hash. A correction is a new
 * entry that names the old one. Logs kept apart merge by set union, in any order, any number of times.
 *
 * Ownership: texts, arrays and structs of a result live in the arena that was passed in. The one exception is the
 * jansson tree `body` of an entry: whoever asked for entries gives them back with entries_free (or entry_free).
 * A depot belongs to one thread; several processes and several handles may have the same file open. Call sodium_init()
 * (depot_open and depot_create do) before starting threads.
 *
 * Errors: ERR_INPUT a body or line is wrong; ERR_MISSING what is named is not here; ERR_CONFLICT it contradicts what is
 * here; ERR_REFUSED a rule forbids it (reading only, secret key not here, newer schema); ERR_BUSY another process is
 * writing (waited busy_ms); ERR_SYSTEM disk or SQLite. After an error nothing of the call has been kept.
 */
#ifndef WITMARK_LOG_H
#define WITMARK_LOG_H

#include "base/arena.h"
#include "base/date.h"
#include "base/err.h"
#include "base/text.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* ---- Ids, hashes, signatures ------------------------------------------------------------------------------------ */

struct entry_id { /* UUIDv7, RFC 9562 5.7, big-endian as there */
    uint8_t b[16];
};
struct log_hash { /* SHA-256, or an Ed25519 public key */
    uint8_t b[32];
};
struct log_sig { /* Ed25519 signature */
    uint8_t b[64];
};

/* 01890a5d-ac96-774b-bcce-b302099a8057, lower case. */
void text_entry_id(struct text *t, struct entry_id id);
/* The whole text in that form; capitals are read too. */
bool entry_id_parse(struct str s, struct entry_id *id);
bool entry_id_eq(struct entry_id a, struct entry_id b);
/* UUIDv7 from its parts: 48 bits of Unix milliseconds, 12 bits rand_a, 62 bits rand_b. */
struct entry_id entry_id_make(instant_ms at, uint16_t rand_a, uint64_t rand_b);
/* The next id of a writer, greater than `last` (all zeros: none yet) also when the clock stands still or went back:
 * rand_a is a counter (RFC 9562 6.2, method 1), started at random below 2048 in each new millisecond; when it is full
 * the id borrows the next millisecond. `random` is 10 random bytes. */
struct entry_id entry_id_next(struct entry_id last, instant_ms now, const uint8_t random[10]);

void text_hex(struct text *t, const uint8_t *p, size_t n); /* lower case */
bool hex_parse(struct str s, uint8_t *p, size_t n);        /* exactly 2 n digits, lower case */
bool log_hash_eq(struct log_hash a, struct log_hash b);
struct log_hash log_sha256(struct str s);
/* "sha256:" and 64 hex digits: how an edition of a book is named in an entry and by people. */
void text_edition(struct text *t, struct log_hash edition);
bool edition_parse(struct str s, struct log_hash *edition);

/* ---- Kinds ------------------------------------------------------------------------------------------------------ */

/* Symbol, word in JSON, whether the entry must name a machine, what it says for people. The members of each body are
 * the table in kind.c and docs/entries.md. */
#define ENTRY_KINDS(X)                                                                                  \
    X(KIND_MACHINE_IN, "machine-in", true, "machine taken in, back in service, or its options changed") \
    X(KIND_MACHINE_OUT, "machine-out", true, "machine out of service")                                  \
    X(KIND_METER, "meter", true, "meter read")                                                          \
    X(KIND_METER_REPLACED, "meter-replaced", true, "meter replaced")                                    \
    X(KIND_READING, "reading", true, "measured")                                                        \
    X(KIND_FOUND, "found", true, "looked at")                                                           \
    X(KIND_DONE, "done", true, "work done")                                                             \
    X(KIND_TURN, "turn", true, "adjuster turned")                                                       \
    X(KIND_FAULT_SEEN, "fault-seen", true, "fault seen")                                                \
    X(KIND_FAULT_CLEARED, "fault-cleared", true, "fault cleared")                                       \
    X(KIND_BURN, "burn", true, "exhaust filter burn")                                                   \
    X(KIND_OPENED, "opened", true, "opened, shut off or propped")                                       \
    X(KIND_PUT_BACK, "put-back", true, "put back")                                                      \
    X(KIND_MOVED, "moved", true, "moved without its own drive")                                         \
    X(KIND_HANDED_BACK, "handed-back", true, "handed back to its user")                                 \
    X(KIND_STOCK, "stock", false, "stock changed or counted")                                           \
    X(KIND_NOTE, "note", false, "note")                                                                 \
    X(KIND_ATTACHMENT, "attachment", false, "photo or file")                                            \
    X(KIND_CALENDAR, "calendar", false, "season, event, blocked days, visit or hands")                  \
    X(KIND_CORRECTION, "correction", false, "correction of an earlier entry")                           \
    X(KIND_ROUND, "round", true, "round walked")                                                        \
    X(KIND_TRACE, "trace", true, "fault traced")

enum entry_kind {
#define X(symbol, word, machine, says) symbol,
    ENTRY_KINDS(X)
#undef X
        KIND_COUNT
};

const char *kind_word(enum entry_kind kind); /* "meter-replaced" */
const char *kind_says(enum entry_kind kind); /* "meter replaced" */
bool kind_needs_machine(enum entry_kind kind);
bool kind_parse(struct str word, enum entry_kind *kind);
const char *kind_nearest(struct str word); /* for "did you mean"; may be null */
#define KIND_BIT(kind) ((uint32_t)1 << (kind))

/* Holds the body against the members of its kind. `machine` is the entry's machine (p null: none). Errors: ERR_INPUT;
 * what starts with the member's path ("body.parts[1].quantity: ..."); an unknown member is refused with the nearest
 * known one. */
bool kind_check(enum entry_kind kind, const json_t *body, struct str machine, struct err *e);

/* A member of a body, for readers; null pointer text, NAN or `otherwise` when it is not there. */
struct str body_str(const json_t *body, const char *member); /* borrowed from the tree */
double body_num(const json_t *body, const char *member);     /* integers too */
bool body_bool(const json_t *body, const char *member, bool otherwise);

/* ---- Clock and randomness --------------------------------------------------------------------------------------- */

/* The world outside: both functions are needed. */
struct world {
    instant_ms (*now)(void *ctx);
    void (*random)(void *ctx, void *out, size_t n);
    void *ctx;
};

/* The system's clock and libsodium's randomness. */
struct world world_system(void);

/* A world that is the same each time: its clock is `now`, which the caller moves; its random bytes follow from `seed`.
 * Only for demonstrations and tests: keys made in it are no secret. */
struct world_seeded {
    instant_ms now;
    uint64_t drawn; /* counts requests, so that no two give the same bytes */
    uint8_t seed[32];
};
struct world_seeded world_seeded_new(uint64_t seed, instant_ms now);
struct world world_of_seeded(struct world_seeded *seeded); /* borrowed for the life of what uses it */

/* ---- The depot -------------------------------------------------------------------------------------------------- */

struct depot;

struct depot_options {
    struct world world;
    bool read_only; /* nothing can be written through this handle */
    int busy_ms;    /* how long to wait for another writer */
    const uint8_t
        *writer_seed; /* 32 bytes (RFC 8032 secret key): sign entries with this key; null: the key in the depot */
    const uint8_t *depot_seed; /* 32 bytes: sign receipts with this key; null: the key in the depot */
    const char *vfs;           /* SQLite VFS to use; null: the default (tests put faults there) */
};

/* world_system, writing, 5 s, keys of the depot. */
struct depot_options depot_options_default(void);

/* Makes a depot in a file that does not exist yet or is empty. Makes both key pairs; a seed given in the options is
 * used and not stored. Errors: ERR_CONFLICT the file holds something; ERR_SYSTEM. On success *d is open. */
bool depot_create(const char *path, const struct depot_options *options, struct depot **d, struct err *e);

/* Opens a depot; brings an older schema forward first (unless read only: then an older one is ERR_REFUSED, with what to
 * do). Errors: ERR_MISSING no such file; ERR_INPUT not a depot; ERR_REFUSED made by a newer program; ERR_BUSY;
 * ERR_SYSTEM. */
bool depot_open(const char *path, const struct depot_options *options, struct depot **d, struct err *e);
void depot_close(struct depot *d); /* null is fine */

struct log_hash depot_writer(const struct depot *d); /* public key entries of this handle are signed with */
struct log_hash depot_key(const struct depot *d);    /* public key receipts are signed with */
const char *depot_path(const struct depot *d);
/* The world's clock and randomness, as this depot was opened with. */
struct world depot_world(const struct depot *d);

/* SHA-256 over what is kept, whatever the order of arrival: the sorted hashes of all entries, then of all editions,
 * then of all blobs. Two depots with the same digest keep the same facts (receipts and settings apart). */
bool depot_digest(struct depot *d, struct log_hash *digest, struct err *e);

struct depot_counts {
    int64_t entries, writers, receipts, editions, blobs, machines;
};
bool depot_count(struct depot *d, struct depot_counts *counts, struct err *e);

/* Drops what is derived and computes it again from the facts. */
bool depot_rebuild(struct depot *d, struct err *e);

/* Settings: free names; the program's own are "name", "zone" (IANA), "units" (as-written | si | us), "paper" (a4 |
 * letter). A setting that was never set reads as false without an error. An empty value removes it. */
bool depot_setting_get(struct depot *d, const char *name, struct arena *a, struct str *value, struct err *e);
bool depot_setting_put(struct depot *d, const char *name, struct str value, struct err *e);

/* The settings whose names begin with `head`, by name. */
struct setting {
    struct str name, value;
};
bool depot_setting_list(struct depot *d, struct str head, struct arena *a, struct setting **at, size_t *n,
                        struct err *e);
/* A number that is another one after any other handle or process has written to the depot (SQLite's data_version); what
 * this handle writes does not change it. Costs microseconds. */
bool depot_changes(struct depot *d, int64_t *number, struct err *e);
/* How many editions are kept. */
bool depot_editions(struct depot *d, int64_t *number, struct err *e);

/* ---- Book editions and attachments, kept by their hash ------------------------------------------------------------
 */

struct edition {
    struct log_hash hash; /* SHA-256 of the text's bytes */
    struct str name;      /* the file's name when it was first kept; a label, not part of the hash */
    struct str text;      /* empty in a list */
    int64_t bytes;
    instant_ms kept;
};

/* Keeps an edition; keeping the same text again changes nothing. Errors: ERR_INPUT not UTF-8 or empty. */
bool depot_book_put(struct depot *d, struct str name, struct str text, struct log_hash *hash, struct err *e);
/* *found false when it is not here (no error). Errors: ERR_SYSTEM, also when the text no longer has that hash. */
bool depot_book_get(struct depot *d, struct log_hash hash, struct arena *a, struct edition *out, bool *found,
                    struct err *e);
/* All editions, oldest first, without their texts. */
bool depot_book_list(struct depot *d, struct arena *a, struct edition **at, size_t *n, struct err *e);

#define BLOB_MOST ((size_t)64 << 20) /* bytes of one attachment */
bool depot_blob_put(struct depot *d, struct str data, struct log_hash *hash, struct err *e);
bool depot_blob_get(struct depot *d, struct log_hash hash, struct arena *a, struct str *data, bool *found,
                    struct err *e);

/* ---- Writing entries ----------------------------------------------------------------------------------------------
 */

/* What is to be written down. */
struct draft {
    enum entry_kind kind;
    instant_ms at;      /* when it happened */
    struct str by;      /* who saw or did it: name or initials */
    struct str machine; /* serial number; p null when the entry is about no machine */
    bool has_book;
    struct log_hash book; /* edition it was made under; must be kept in the depot */
    const json_t *body;   /* borrowed */
};

enum append_outcome {
    APPEND_ADDED,
    APPEND_KNOWN, /* an entry with the same machine and body.import_key is here already; `id` is that one's */
};

struct appended {
    enum append_outcome outcome;
    struct entry_id id;
    struct log_hash hash;
    int64_t seq;
};

/* Writes n entries, in this order, into the chain of this depot's writer, in one durable transaction: when it returns
 * true they are on disk, after having been read back and compared. `out` (n items, may be null) says what became of
 * each. A correction's machine may be left out: it is that of the entry it corrects. Errors: ERR_INPUT a body is wrong
 * ("entry 2 (meter): body.hours: ..."); ERR_MISSING the edition, the attachment or the corrected entry is not here;
 * ERR_REFUSED; ERR_BUSY; ERR_SYSTEM. */
bool depot_append(struct depot *d, const struct draft *drafts, size_t n, struct appended *out, struct err *e);

/* ---- Reading entries ----------------------------------------------------------------------------------------------
 */

enum entry_state {
    ENTRY_STANDS,
    ENTRY_CORRECTED, /* body or time are those of its last correction */
    ENTRY_VOIDED,    /* withdrawn by a correction */
    ENTRY_DUPLICATE, /* another depot had imported the same thing earlier (same machine and import_key, lower id) */
};

struct entry {
    struct entry_id id;
    struct log_hash writer;
    int64_t seq;
    struct log_hash prev;
    instant_ms at;          /* when it happened; the corrected time where one applies */
    instant_ms at_recorded; /* as the entry itself says */
    instant_ms made;        /* when it was written down */
    struct str by;
    struct str machine; /* p null: about no machine */
    bool has_book;
    struct log_hash book;
    enum entry_kind kind;
    json_t *body;         /* an object; the corrected body where one applies */
    struct str body_text; /* the same as canonical JSON */
    struct log_hash hash;
    struct log_sig sig;
    enum entry_state state;
    struct entry_id corrected_by; /* the last correction that applies; zeros when none */
    int64_t place;                /* order of arrival in this depot, from 1 */
};

struct entries {
    struct entry *at;
    size_t n;
    bool more; /* the limit cut the list: go on after the last one */
};

void entry_free(struct entry *entry);
void entries_free(struct entries *list);

/* Which entries to show. */
enum entry_view {
    VIEW_EFFECTIVE, /* what holds now: corrections applied, voided, duplicate and correction entries left out */
    VIEW_RECORDED,  /* every entry as it was written, corrections too */
    VIEW_WITHDRAWN, /* only voided and duplicate ones */
};

/* Zeroed: everything that holds, oldest first, no limit. */
struct entry_filter {
    enum entry_view view;
    struct str machine; /* p null: any */
    uint32_t kinds;     /* KIND_BIT(...) | ...; 0: any */
    bool has_since, has_until;
    instant_ms since; /* at >= since */
    instant_ms until; /* at < until */
    const struct log_hash *writer;
    bool newest_first;
    size_t limit;   /* 0: none */
    bool has_after; /* only what follows this place of the order (the last entry of the previous page) */
    instant_ms after_at;
    struct entry_id after_id;
    int64_t after_place; /* only what arrived after this place; 0: all */
};

/* The entries, ordered by (at, id). */
bool depot_list(struct depot *d, const struct entry_filter *filter, struct arena *a, struct entries *out,
                struct err *e);

/* Calls `each` for one entry after the other, in the order of depot_list, without holding them all; entry and texts are
 * borrowed for the call. It stops when `each` returns false (then e tells why if each has set it). */
bool depot_each(struct depot *d, const struct entry_filter *filter, bool (*each)(void *ctx, const struct entry *entry),
                void *ctx, struct err *e);

/* One entry. `view` VIEW_RECORDED gives it as written, otherwise corrections are applied and `state` says whether it
 * holds. *found false when it is not here. */
bool depot_get(struct depot *d, struct entry_id id, enum entry_view view, struct arena *a, struct entry *out,
               bool *found, struct err *e);

/* The entry whose id starts with `prefix` (at least 4 hex digits; dashes do not count). Errors: ERR_INPUT not hex or
 * too short; ERR_MISSING none; ERR_CONFLICT several (names them). */
bool depot_find(struct depot *d, struct str prefix, enum entry_view view, struct arena *a, struct entry *out,
                struct err *e);

/* The corrections of an entry that are here, oldest first, as recorded (also those of a correction). */
bool depot_corrections(struct depot *d, struct entry_id of, struct arena *a, struct entries *out, struct err *e);

/* When and by whom an entry was received. */
struct receipt {
    struct log_hash entry;
    struct log_hash depot; /* public key of the depot that received it */
    instant_ms received;
    struct str from;    /* "writer" when it was written there; else where it came from */
    struct log_sig sig; /* over the SHA-256 of the receipt's canonical JSON without sig */
};
bool depot_receipts(struct depot *d, struct log_hash entry, struct arena *a, struct receipt **at, size_t *n,
                    struct err *e);

/* The canonical JSON an entry's hash is computed over (without hash and sig), and the whole entry as in an export. */
void text_entry_canonical(struct text *t, const struct entry *entry);
void text_entry(struct text *t, const struct entry *entry);
/* The entry's hash from its members, and whether its signature is its writer's. */
struct log_hash entry_hash(struct arena *a, const struct entry *entry);
bool entry_sig_ok(const struct entry *entry);

/* ---- Export and import --------------------------------------------------------------------------------------------
 */

/* Progress of long work: bytes (or pages) done and to do (0: not known). Returning false stops it: ERR_REFUSED. */
struct progress {
    bool (*step)(void *ctx, uint64_t done, uint64_t total);
    void *ctx;
};

struct export_options {
    struct entry_filter only; /* view is ignored: entries are exported as recorded */
    bool filtered;            /* use `only`; else everything */
    bool without_blobs;
    struct progress progress;
};

/* Writes NDJSON (docs/entries.md): editions and blobs, then entries with their receipts by writer and number, then, for
 * a whole export, the tip of each chain. The same facts give the same lines. */
bool depot_export(struct depot *d, FILE *to, const struct export_options *options, struct err *e);

/* What verify and import have to say. Symbol, word in JSON, level. */
#define FINDING_KINDS(X)                                                                                              \
    X(FINDING_ALTERED, "altered", DIAG_ERROR)            /* members of an entry do not give its hash */               \
    X(FINDING_FORGED, "forged", DIAG_ERROR)              /* the signature is not the writer's */                      \
    X(FINDING_REMOVED, "removed", DIAG_ERROR)            /* a number of a chain is missing; import: "not here yet" */ \
    X(FINDING_REORDERED, "reordered", DIAG_ERROR)        /* prev is not the hash of the entry before */               \
    X(FINDING_FORKED, "forked", DIAG_ERROR)              /* two entries of one writer with one number */              \
    X(FINDING_MALFORMED, "malformed", DIAG_ERROR)        /* signed, but the body is not one of its kind */            \
    X(FINDING_NO_RECEIPT, "no-receipt", DIAG_ERROR)      /* this depot has not signed for the entry */                \
    X(FINDING_RECEIPT, "receipt-altered", DIAG_ERROR)    /* a receipt does not match its signature or its entry */    \
    X(FINDING_TIP, "tip-altered", DIAG_ERROR)            /* the end of a chain was signed for otherwise */            \
    X(FINDING_EDITION, "edition-altered", DIAG_ERROR)    /* the text of an edition does not give its hash */          \
    X(FINDING_BLOB, "blob-altered", DIAG_ERROR)          /* the same for an attachment */                             \
    X(FINDING_KEY, "key-altered", DIAG_ERROR)            /* a secret key does not belong to its public key */         \
    X(FINDING_SCHEMA, "schema-altered", DIAG_ERROR)      /* tables, indexes or triggers are not ours */               \
    X(FINDING_FILE, "file-damaged", DIAG_ERROR)          /* SQLite's own integrity check */                           \
    X(FINDING_DERIVED, "derived-stale", DIAG_ERROR)      /* derived tables do not follow from the facts: rebuild */   \
    X(FINDING_AWAITED, "not-here-yet", DIAG_DOUBT)       /* import: entries before these have not come */             \
    X(FINDING_NO_EDITION, "edition-missing", DIAG_DOUBT) /* an entry names an edition that is not here */             \
    X(FINDING_NO_BLOB, "blob-missing", DIAG_DOUBT)       /* the same for an attachment */                             \
    X(FINDING_CORRECTION, "correction-idle", DIAG_DOUBT) /* a correction that cannot apply */

enum finding_kind {
#define X(symbol, word, level) symbol,
    FINDING_KINDS(X)
#undef X
        FINDING_COUNT
};

/* One finding; what does not apply is zero. */
struct finding {
    enum finding_kind kind;
    struct entry_id id;
    struct log_hash writer;
    int64_t seq, seq_to;  /* the number or numbers concerned */
    struct log_hash hash; /* of the entry, edition or blob concerned */
    struct str what;      /* one sentence for people */
};

struct findings {
    struct arena *a;
    struct finding *at;
    size_t n, cap;
    size_t errors; /* those of level DIAG_ERROR */
};

const char *finding_word(enum finding_kind kind);
enum diag_level finding_level(enum finding_kind kind);
/* The findings as a JSON array of objects {finding, level, id?, writer?, seq?, seq_to?, hash?, what}. */
void text_findings(struct text *t, const struct findings *f);

struct import_options {
    struct str name; /* of the file, for messages */
    struct str from; /* kept in the receipts; empty: "import" */
    bool dry_run;    /* everything is checked, nothing is kept */
    struct progress progress;
};

struct import_report {
    int64_t lines;
    int64_t entries_added, entries_known, receipts_added, editions_added, blobs_added;
    struct findings findings; /* forks, entries not here yet, broken chains of the writers concerned */
};

/* Adds what is not here yet: set union. All or nothing. Errors: ERR_INPUT with file:line:column, what is wrong (JSON, a
 * member, a hash, a signature) and what would be right; ERR_CONFLICT another entry has this id. */
bool depot_import(struct depot *d, FILE *from, const struct import_options *options, struct arena *a,
                  struct import_report *report, struct err *e);

/* Lines of entries that come from a device in the field. */
struct import_lines {
    struct str text; /* NDJSON */
    struct str from; /* kept in the receipts */
    /* Whether this entry may come in; null = every one. Fills e and returns false where not. */
    bool (*allow)(void *ctx, const json_t *entry, struct err *e);
    void *ctx;
};
struct import_line {
    int64_t line;  /* from 1 */
    struct str id; /* as the line has it; empty when it has none */
    enum { IMPORT_LINE_NEW, IMPORT_LINE_HERE, IMPORT_LINE_REFUSED } state;
    struct str what, right; /* why it was refused */
};
/* As depot_import, but a line that is wrong is refused by itself and the others are kept, all in one transaction; only
 * entries (with their receipts) are taken. Errors: only what stops the whole (ERR_BUSY, ERR_SYSTEM, ERR_REFUSED). */
bool depot_import_lines(struct depot *d, const struct import_lines *lines, struct arena *a, struct import_line **at,
                        size_t *n, struct import_report *report, struct err *e);

/* ---- Proof, backup, restore ---------------------------------------------------------------------------------------
 */

/* Checks everything that is kept: the file, the schema, every entry's hash, signature, place in its chain and body,
 * receipts, tips, editions, blobs, keys, derived tables. False only when it could not be done. */
bool depot_verify(struct depot *d, struct progress progress, struct arena *a, struct findings *out, struct err *e);

/* Copies the depot, in use or not, into a new file: written beside it, verified, then put in place in one step.
 * Errors: ERR_CONFLICT the file exists and replace is false, or the copy does not verify (the first finding is named).
 */
bool depot_backup(struct depot *d, const char *to, bool replace, struct progress progress, struct err *e);

/* Puts the backup `from` in place as depot `to`, after verifying it. The restored depot gets a new writer key, so that
 * entries made after the backup and ones made after the restore do not fork a chain. With replace, the file that was
 * there is kept as "TO.before-restore"; it must not be open elsewhere. Errors: ERR_CONFLICT it exists and replace is
 * false, or `from` does not verify; ERR_BUSY. */
bool depot_restore(const char *from, const char *to, bool replace, const struct depot_options *options, struct err *e);

#endif
