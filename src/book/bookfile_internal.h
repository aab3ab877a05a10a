/* What the files of this folder share: the node tree, the table of keys, serial numbers, collecting of findings. */
#ifndef WITMARK_BOOKFILE_INTERNAL_H
#define WITMARK_BOOKFILE_INTERNAL_H

#include "base/map.h"
#include "book/condition_graph.h"
#include "bookfile.h"

#include <stddef.h>

/* ---- the tree (tree.c) ---- */

enum node_kind { NODE_TEXT, NODE_LIST, NODE_MAPPING };

struct when;

/* One value of the text. Texts are followed by a zero byte. */
struct node {
    enum node_kind kind;
    bool plain;       /* NODE_TEXT: written without quotes */
    bool inline_form; /* NODE_TEXT on one line: columns inside it can be told */
    struct book_pos pos;
    struct str text;          /* NODE_TEXT */
    struct node *const *key;  /* NODE_MAPPING: n keys, NODE_TEXT each */
    struct node *const *item; /* values of a mapping, items of a list */
    int n;
    const struct when *when; /* NODE_MAPPING with serials/with/without: when it applies; null = always */
};

/* The source, for excerpts: where each line starts. */
struct source {
    struct str name, text;
    const uint32_t *line; /* byte offset of each line */
    uint32_t n_lines;
};

struct source source_new(struct str name, struct str text, struct arena *a);
/* The line's text without its end; empty when there is none. */
struct str source_line(const struct source *s, uint32_t line);

struct finds;
/* The tree of the source, or null with a finding. */
struct node *tree_read(const struct source *s, struct arena *a, struct finds *f);
/* Value of that key, or null. */
const struct node *node_get(const struct node *mapping, struct str key);
const struct node *node_getz(const struct node *mapping, const char *key);
/* Place of that key's value, or of the mapping when it has none. */
struct book_pos node_pos(const struct node *mapping, const char *key);
/* "~", "null" and nothing at all. */
bool node_is_empty(const struct node *n);

/* ---- findings (finds.c) ---- */

/* A finding held back until it is known for which classes of machines it is true. */
struct held {
    struct diag diag;
    uint32_t first_class, last_class, n_classes;
};

/* Collects findings; each is kept once. */
struct finds {
    struct arena *a;
    const struct source *source;
    struct map seen; /* "line:column:rule:what" -> index in at */
    struct held *at;
    size_t n, cap;
    uint32_t class_now; /* class of machines that is being looked at, 0 = independent of it */
    size_t errors;
};

struct finds finds_new(const struct source *s, struct arena *a);
/* The pieces of what is wrong are joined, ended by a null pointer. `right` may be null. Returns false. */
bool find(struct finds *f, struct book_pos pos, enum bookfile_rule rule, const char *right, const char *what, ...);
bool find_level(struct finds *f, enum diag_level level, struct book_pos pos, enum bookfile_rule rule, const char *right,
                const char *what, ...);
const char *rule_word(enum bookfile_rule rule);
/* Joins pieces, ended by a null pointer, into a zero-terminated text. */
const char *words(struct arena *a, const char *first, ...);

/* ---- the table of keys (keys.c) ---- */

/* Sections: symbol, what one of them is called, the structure that is bound. */
#define SECTIONS(X)                                             \
    X(SEC_BOOK, "book", struct book)                            \
    X(SEC_SERIALS, "serials", struct book)                      \
    X(SEC_OPTION, "option", struct book)                        \
    X(SEC_PLACE, "place", struct book_place)                    \
    X(SEC_VARIABLE, "condition variable", struct book_variable) \
    X(SEC_NEVER, "forbidden combination", struct book_never)    \
    X(SEC_OPEN, "put-back item", struct book_open_item)         \
    X(SEC_CHANGE, "change", struct book_change)                 \
    X(SEC_FLUID, "fluid", struct book_fluid)                    \
    X(SEC_PART, "part", struct book_part)                       \
    X(SEC_TORQUE, "torque", struct book_torque)                 \
    X(SEC_CAUTION, "caution", struct book_caution)              \
    X(SEC_FIGURE, "figure", struct book_figure)                 \
    X(SEC_MARK, "mark", struct book_mark)                       \
    X(SEC_CHECKPOINT, "checkpoint", struct book_checkpoint)     \
    X(SEC_TASK, "task", struct book_task)                       \
    X(SEC_STEP, "step", struct book_step)                       \
    X(SEC_SERVICE, "service", struct book_service)              \
    X(SEC_ADJUSTER, "adjuster", struct book_adjuster)           \
    X(SEC_SYMPTOM, "symptom", struct book_symptom)              \
    X(SEC_CAUSE, "cause", struct book_cause)                    \
    X(SEC_TEST, "test", struct book_test)                       \
    X(SEC_HELP, "call for help", struct book_help)              \
    X(SEC_FUSE, "fuse", struct book_fuse)                       \
    X(SEC_RECOVERY, "recovery", struct book_recovery)           \
    X(SEC_AT_MOST, "recovery limit", struct book_recovery)      \
    X(SEC_DUTY, "duty", struct book_duty)                       \
    X(SEC_EXHAUST, "exhaust filter", struct book_exhaust)       \
    X(SEC_VARIANT, "variant", struct book)

enum section {
#define X(symbol, word, type) symbol,
    SECTIONS(X)
#undef X
        SECTION_COUNT
};

/* Types of values: symbol, how it is written (for people). */
#define KEY_TYPES(X)                                                        \
    X(T_TEXT, "text")                                                       \
    X(T_ID, "name (lower case, digits, hyphens)")                           \
    X(T_TEXTS, "text or list of texts")                                     \
    X(T_WORDS, "list, or text with commas")                                 \
    X(T_ENUM, "one of the words")                                           \
    X(T_TURN_IN, "`in` or `out`")                                           \
    X(T_YES, "`yes` or `no`")                                               \
    X(T_COUNT, "whole number")                                              \
    X(T_NUMBER, "number")                                                   \
    X(T_TURNS, "turns: `1/4`, `2`, `90 deg`")                               \
    X(T_SI, "quantity")                                                     \
    X(T_QUANTITY, "quantity")                                               \
    X(T_RANGE, "`low .. high unit`, one end may be open")                   \
    X(T_INTERVAL, "`250 h`, `12 months`, `250 h or 12 months`")             \
    X(T_POINT, "`[x, y]`")                                                  \
    X(T_REF, "name")                                                        \
    X(T_REFS, "name or list of names")                                      \
    X(T_CONDITION, "mapping variable: value, or variable: [values]")        \
    X(T_TO, "mapping variable: value")                                      \
    X(T_ALSO, "text, list of texts, or mapping text: unit")                 \
    X(T_REFER, "a correction and its reference: `cold 20 degC`, `tension`") \
    X(T_GIVEN, "mapping name: quantity")                                    \
    X(T_JUDGED_AT, "mapping name: `low .. high unit`")                      \
    X(T_WORK_OUT, "mapping: calc, give, and the calculation's inputs")      \
    X(T_BUS, "`bus` and the number of the signal (SPN)")                    \
    X(T_VISCOSITY, "`{ 40 degC: 46 mm2/s, 100 degC: 6.8 mm2/s }`")          \
    X(T_USE_PARTS, "mapping part: pieces")                                  \
    X(T_USE_FLUIDS, "mapping fluid: volume, or `capacity`")                 \
    X(T_SHOWS, "chances, each 0 to 1")                                      \
    X(T_FACTORS, "factors, each above 0")                                   \
    X(T_CHANCE, "chance, 0 to 1")                                           \
    X(T_MARKS, "mapping number: mark")                                      \
    X(T_VALUES, "list of words, the first is the parked one")               \
    X(T_MAPPING, "mapping")                                                 \
    X(T_ITEMS, "list")                                                      \
    X(T_ENTRIES, "mapping of names")                                        \
    X(T_SERIALS, "`A..B`, `A..`, `..B`, `A`, or a list of those")           \
    X(T_OPTIONS, "list of names, or mapping name: label")                   \
    X(T_PATTERN, "text with the counted digits as `#`")                     \
    X(T_SERIAL, "serial number")                                            \
    X(T_PAIRS, "mapping text: text")                                        \
    X(T_ANY, "any value")

enum key_type {
#define X(symbol, word) symbol,
    KEY_TYPES(X)
#undef X
        KEY_TYPE_COUNT
};

enum key_flag {
    KEY_REQUIRED = 1,
    KEY_DROP = 2,     /* T_REFS: names of what is not fitted are left out */
    KEY_HEAD = 4,     /* the same for every machine: no variants */
    KEY_UNIT = 8,     /* T_POINT: both from 0 to 1 */
    KEY_LISTING = 16, /* T_REFS: does not count as use of the name */
    KEY_READ = 32,    /* that it is missing was said by reading */
    KEY_HEADED = 64   /* T_TEXTS: a mapping heading: text may stand as well */
};

#define NO_OFFSET UINT16_MAX

/* One key of a book. arg: section of a T_REF, T_REFS, T_MAPPING, T_ITEMS, T_ENTRIES; kind of a T_SI, T_QUANTITY; which
 * words of a T_ENUM; least of a T_COUNT. */
struct key {
    enum section section;
    const char *name;
    enum key_type type;
    int arg;
    unsigned flags;
    uint16_t offset;  /* of the bound field in the section's structure; NO_OFFSET = bound elsewhere */
    const char *line; /* what it is for */
};

struct section_info {
    const char *word; /* "place" */
    size_t size;      /* of its structure */
};

const struct key *keys_all(size_t *n);
/* The keys of a section, n of them, next to each other. */
const struct key *keys_of(enum section section, size_t *n);
const struct key *key_find(enum section section, struct str name);
const struct section_info *section_info(enum section section);
const char *key_type_word(enum key_type type);
/* How the value of that key is written, for the reference and for findings. */
const char *key_form(struct arena *a, const struct key *k);
/* Words of a T_ENUM. */
enum word_list { WORDS_LEVEL, WORDS_LATE, WORDS_DEED, WORDS_MODE, WORDS_MECHANISM, WORDS_ROOT };
const char *const *word_list(enum word_list which, size_t *n);
/* "low, high or off" of n words. */
const char *either(struct arena *a, const char *const *at, size_t n);
/* Whether a key of a variant: serials, with, without, fitted, is. */
bool key_is_variant(struct str name);

/* ---- serial numbers and options (serial.c) ---- */

struct pattern {
    struct str text, head, tail; /* what stands before and after the counted digits */
    int digits;
};

struct serial_range {
    uint32_t first, last;
};

struct bookfile;

/* When a variant applies: any of the ranges, all of `with`, none of `without`. */
struct when {
    const struct serial_range *range;
    int n_ranges;           /* 0 = all */
    uint64_t with, without; /* bit i = option i */
    bool bad;               /* could not be read: applies nowhere; that was said */
    int index;              /* in the book file's list */
};

/* One machine as far as variants see it. */
struct machine {
    uint32_t serial;
    uint64_t options;
};

bool when_applies(const struct when *w, struct machine m);
/* Reads serials/with/without of a mapping; null when it has none. One of a kind: equal ones share their place. */
const struct when *when_read(struct bookfile *bf, struct finds *f, struct map *known, const struct node *n);
bool pattern_read(struct str text, struct pattern *p);
/* A serial number exactly as the pattern writes it. */
bool pattern_number(const struct pattern *p, struct str serial, uint32_t *number);
struct str pattern_serial(const struct pattern *p, uint32_t number, struct arena *a);

/* ---- the book file (read.c) ---- */

struct bookfile {
    struct arena *a;
    struct source source;
    const struct node *root;
    struct bookfile_head head;
    struct pattern pattern;
    uint32_t first, last;                                 /* counted parts */
    const struct when *option_when[BOOKFILE_OPTIONS_MAX]; /* when it can be fitted; null = always */
    const struct node *option_node[BOOKFILE_OPTIONS_MAX]; /* its name in the text */
    int n_options;
    const struct when **when; /* every distinct condition of a variant */
    size_t n_when, cap_when;
    size_t n_nodes;
    bool no_serials; /* pattern or range could not be read: nothing can be said about any machine */
    size_t errors;   /* of reading */
};

/* The options' mask; ERR_USAGE for one that the book does not have. */
bool options_mask(const struct bookfile *bf, struct book_texts options, struct arena *a, uint64_t *mask, struct err *e);
/* Index of an option, or -1. */
int option_find(const struct bookfile *bf, struct str name);

/* "BR6-01000", "BR6-01000 with cab, without wide-rake": the options of `mentioned`. Zero-terminated. */
const char *machine_text(const struct bookfile *bf, struct machine m, uint64_t mentioned, struct arena *a);
/* May these options be together on that serial number? */
bool options_allowed(const struct bookfile *bf, struct machine m);
/* Numbers at which anything changes, ascending, the first is bf->first. */
const uint32_t *serial_cuts(const struct bookfile *bf, struct arena *a, size_t *n);

/* ---- binding (bind.c, value.c, special.c, finish.c) ---- */

/* The named things of one section. */
struct entry {
    struct str name;
    struct book_pos pos;         /* of the chosen variant, or of the name */
    const struct node *node;     /* class: the chosen mapping; all variants: what stands after the name */
    const struct node *position; /* a torque's position: its value; else null */
    bool used;                   /* something names it (looking at all variants) */
};
struct entries {
    struct map index;
    struct entry *at;
    size_t n, cap;
};

/* Binding a book for one machine, or looking at all variants at once. */
struct binding {
    const struct bookfile *bf;
    struct arena *a;
    struct finds *finds;
    bool all;              /* every variant is looked at; nothing depends on the machine */
    bool proved;           /* gaps and overlaps are proved apart: not said here */
    bool conditions_wrong; /* conditions, never, places or changes have errors: what follows from them is not looked at
                            */
    struct machine machine;
    struct entries entries[SECTION_COUNT];
    struct book *book;
};

/* Binds the whole book for b->machine into b->book; findings go to b->finds. */
void bind_book(struct binding *b);
/* Looks at every value of every variant; fills b->entries with all that is declared. b->book is scratch. */
void bind_all(struct binding *b);

enum choice { CHOSEN, ABSENT, NO_VARIANT };
/* The variant of n that holds: n itself when it has none. ABSENT: it does not exist there. NO_VARIANT: none, or
 * several. value: a value belongs there, so that a variant carries it under `is`. */
enum choice bind_choose(struct binding *b, const struct node *n, bool value, const struct node **chosen);
/* Looking at all variants: how many there are, and the i-th one; null when that one does not exist (fitted: no). */
bool node_is_variants(const struct node *n); /* a list of nothing but mappings, where one mapping or value belongs */
int variant_count(const struct node *n);
const struct node *variant_at(struct binding *b, const struct node *n, bool value, int i);

/* One value, already chosen, into the field at `out`; base is the structure it lies in. */
void take_value(struct binding *b, const struct key *k, const struct node *n, void *base, void *out);
/* Values with a form of their own (special.c). */
void take_special(struct binding *b, const struct key *k, const struct node *n, void *base, void *out);
/* Likewise of a measured checkpoint (reading.c): also-read, refer-to, given, judged-at, from. */
void take_reading(struct binding *b, const struct key *k, const struct node *n, struct book_checkpoint *c, void *out);
/* A step's work-out (work_out.c). */
void take_work_out(struct binding *b, const struct node *n, struct book_step *step);
/* Whether the keys of a reading fit together; sets the limits in SI. */
void finish_readings(struct binding *b, const struct node *n, struct book_checkpoint *c);
/* One mapping of a section into the zeroed structure at base, with defaults and what follows from it. */
void bind_mapping(struct binding *b, enum section section, const struct node *n, void *base);
/* A list of mappings into { pointer, count } at out. */
void bind_items(struct binding *b, enum section section, const struct node *n, void *out);
/* Defaults before, and what follows after, the keys of a mapping are bound (finish.c). */
void set_defaults(enum section section, void *base);
void finish(struct binding *b, enum section section, const struct node *n, void *base);
/* "return-element" -> "Return element"; "wheel-nut/front" -> "Wheel nut, front". */
struct str label_of_name(struct str name, struct arena *a);

bool take_text(struct binding *b, const char *key, const struct node *n, struct str *out);
bool take_quantity(struct binding *b, const char *key, enum quantity_kind kind, const struct node *n,
                   struct book_quantity *out);
/* A number between low and high. */
bool take_number(struct binding *b, const char *key, const struct node *n, double low, double high, double *out);
/* A quantity in the text s of node n; offset: where s begins in it. */
bool read_quantity(struct binding *b, const struct node *n, struct str s, enum quantity_kind kind,
                   struct book_quantity *out);
/* Index of the named thing, BOOK_NONE with a finding when there is none (without, when flags say KEY_DROP and it is
 * only not fitted here). */
int take_ref(struct binding *b, enum section section, const struct node *n, struct str name, unsigned flags);
void take_condition(struct binding *b, const struct node *n, struct book_condition *out);
/* Variable and value of a condition; false with a finding. */
int take_variable(struct binding *b, const struct node *name);
int take_variable_value(struct binding *b, int variable, const struct node *value);
/* The items of a list of texts or names that hold here: n itself when it is one text. NODE_TEXT each. */
struct node_list {
    const struct node **at;
    size_t n, cap;
};
struct node_list list_items(struct binding *b, const struct key *k, const struct node *n);
/* Says that n is not of the form that belongs there. Returns false. */
bool find_shape(struct binding *b, const char *key, const struct node *n, const char *right);
/* What follows `"word"?` or a list of what there is. */
const char *suggest(struct arena *a, struct str word, const struct str *names, size_t n);

/* ---- bound values in words (words.c) ---- */

/* An array of a section's structures. */
struct list {
    const void *at;
    int n;
    size_t size;
};
/* { pointer, count } at that offset of a structure. */
struct list list_of(const void *base, uint16_t offset, enum section section);
/* What people call the i-th of them; empty when there is none. */
struct str label_at(struct list l, int i, enum section section);
/* The value of a key in a bound structure; nothing when it is not given. names: other things by their names, not
 * labels. */
void text_of_key(struct text *t, const struct book *b, const struct key *k, const void *base, bool names);
/* The items of a list of texts or names, each with what tells it from others and what people read. */
struct words_item {
    struct str name, label;
};
struct words_list {
    struct words_item *at;
    size_t n, cap;
};
/* False when the key is no such list. */
bool words_of_list(struct arena *a, const struct book *b, const struct key *k, const void *base,
                   struct words_list *out);

/* ---- checking (prove.c, rules.c, check.c) ---- */

/* Says every gap, overlap and variant that never holds. */
void prove_variants(const struct bookfile *bf, struct finds *f, struct arena *a);

/* A change of the book, whether it can be made on any machine: on some it may well be impossible. */
struct change_seen {
    struct book_pos pos; /* of what it needs before */
    bool held;
};

/* What the classes of machines share while they are checked. */
struct shared {
    struct arena *a;        /* lives as long as the check */
    struct map graph_index; /* what a condition graph depends on -> index in graph: most classes have the same */
    const struct condition_graph **graph;
    size_t n_graph, cap_graph;
    struct map change_index; /* "line:column" of a change -> index in change */
    struct change_seen *change;
    size_t n_change, cap_change;
};

/* The rules that look at the whole book of one class of machines; b->book is bound. Returns the work it took. */
size_t check_rules(struct binding *b, struct shared *shared);
/* Says the changes that could be made on none of the machines. */
void check_changes_made(const struct shared *shared, struct finds *f);
/* Those of them that are about names. */
void check_names(struct binding *b);
/* The exhaust filter's loads, duties, burn and ash; rules_exhaust.c. */
void check_exhaust(struct binding *b);
/* Names that nothing uses; b has looked at all variants. */
void check_unused(struct binding *b);

#endif
