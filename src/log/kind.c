/* What each kind of entry says: one table of members per kind, and one walker that holds a body against its table. The
 * tables are the reference; docs/entries.md shows them for people, and a test holds the two together. */
#include "jcs.h"
#include "log_internal.h"

#include "adjust/adjust.h"
#include "quantity/quantity.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What a member's value must be. */
enum form {
    F_NAME,     /* text of 1 to 200 bytes in one line */
    F_TEXT,     /* text of 1 to 20000 bytes */
    F_STEPS,    /* list of names in order, may repeat */
    F_NAMES,    /* list of different names, may be empty */
    F_UNIT,     /* symbol of a unit; "" for a bare number */
    F_NUMBER,   /* any */
    F_POSITIVE, /* > 0 */
    F_ZERO_UP,  /* >= 0 */
    F_COUNT,    /* whole, >= 0 */
    F_SPN,      /* whole, 0 to 524287: 19 bits of SAE J1939-73 */
    F_FMI,      /* whole, 0 to 31: 5 bits of SAE J1939-73 */
    F_BOOL,
    F_TRUE,    /* only true */
    F_HASH,    /* 64 hex digits */
    F_ID,      /* id of an entry */
    F_TIME,    /* YYYY-MM-DDThh:mm:ss.sssZ */
    F_DAY,     /* YYYY-MM-DD */
    F_BURN,    /* word of a burn */
    F_SAW,     /* what a turn was seen to do */
    F_PLANNED, /* word of an item of the calendar */
    F_ROUND,   /* what became of a round */
    F_OUTCOME, /* what became of a step of a round */
    F_TRACED,  /* word of a step of a trace */
    F_RESULT,  /* how a step came out */
    F_OBJECT,  /* of */
    F_LIST,    /* one or more objects, each of */
    F_MAP,     /* one or more names, each with an object of */
    F_BODY,    /* an object; which members it may have is known when it is applied */
};

struct shape;

struct member {
    const char *name;
    enum form form;
    bool needed;
    const struct shape *of;
};

struct shape {
    const struct member *at;
    size_t n;
};

#define SHAPE(table)                           \
    {                                          \
        table, sizeof(table) / sizeof *(table) \
    }
#define NEEDED true
#define MAY false

/* clang-format off */
static const struct member value_members[] = {{"value", F_NUMBER, NEEDED, 0}, {"unit", F_UNIT, NEEDED, 0}};
static const struct shape value_shape = SHAPE(value_members);
static const struct member gauge_members[] = {{"uncertainty", F_ZERO_UP, NEEDED, 0}, {"unit", F_UNIT, NEEDED, 0}};
static const struct shape gauge_shape = SHAPE(gauge_members);
static const struct member part_members[] = {
    {"part", F_NAME, NEEDED, 0}, {"number", F_NAME, MAY, 0}, {"quantity", F_POSITIVE, NEEDED, 0}};
static const struct shape part_shape = SHAPE(part_members);
static const struct member fluid_members[] = {
    {"fluid", F_NAME, NEEDED, 0}, {"value", F_POSITIVE, NEEDED, 0}, {"unit", F_UNIT, NEEDED, 0}};
static const struct shape fluid_shape = SHAPE(fluid_members);

static const struct member machine_in[] = {
    {"book", F_NAME, NEEDED, 0}, {"serial", F_NAME, NEEDED, 0}, {"label", F_NAME, MAY, 0}, {"options", F_NAMES, NEEDED, 0},
    {"site", F_NAME, MAY, 0}, {"severe", F_BOOL, MAY, 0}, {"in_service", F_DAY, MAY, 0}, {"meters", F_NAMES, MAY, 0}};
static const struct member machine_out[] = {{"reason", F_TEXT, NEEDED, 0}};
static const struct member meter[] = {{"hours", F_ZERO_UP, NEEDED, 0}, {"meter", F_NAME, MAY, 0}};
static const struct member meter_replaced[] = {
    {"old", F_ZERO_UP, NEEDED, 0}, {"new", F_ZERO_UP, NEEDED, 0}, {"meter", F_NAME, MAY, 0}};
static const struct member reading[] = {
    {"checkpoint", F_NAME, NEEDED, 0}, {"value", F_NUMBER, NEEDED, 0}, {"unit", F_UNIT, NEEDED, 0},
    {"with", F_MAP, MAY, &value_shape}, {"gauge", F_OBJECT, MAY, &gauge_shape}, {"note", F_TEXT, MAY, 0}};
static const struct member found[] = {
    {"checkpoint", F_NAME, NEEDED, 0}, {"look", F_TEXT, NEEDED, 0}, {"severity", F_NAME, MAY, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member done[] = {
    {"task", F_NAME, NEEDED, 0}, {"hours", F_ZERO_UP, MAY, 0}, {"parts", F_LIST, MAY, &part_shape},
    {"fluids", F_LIST, MAY, &fluid_shape}, {"minutes", F_ZERO_UP, MAY, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member turn[] = {
    {"adjuster", F_NAME, NEEDED, 0}, {"turns", F_NUMBER, NEEDED, 0}, {"saw", F_SAW, MAY, 0}, {"confirmed", F_NAMES, MAY, 0},
    {"accepted", F_BOOL, MAY, 0}, {"found", F_BOOL, MAY, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member moved[] = {
    {"distance", F_OBJECT, NEEDED, &value_shape}, {"time", F_OBJECT, MAY, &value_shape}, {"slope", F_OBJECT, MAY, &value_shape},
    {"load", F_OBJECT, MAY, &value_shape}, {"note", F_TEXT, MAY, 0}};
static const struct member left_open_members[] = {
    {"what", F_NAME, NEEDED, 0}, {"label", F_NAME, MAY, 0}, {"since", F_TIME, MAY, 0}, {"by", F_NAME, MAY, 0}};
static const struct shape left_open_shape = SHAPE(left_open_members);
static const struct member handed_back[] = {
    {"to", F_NAME, MAY, 0}, {"open", F_LIST, MAY, &left_open_shape}, {"despite", F_TEXT, MAY, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member fault[] = {
    {"spn", F_SPN, MAY, 0}, {"fmi", F_FMI, MAY, 0}, {"code", F_NAME, MAY, 0}, {"text", F_TEXT, MAY, 0},
    {"count", F_COUNT, MAY, 0}};
static const struct member burn[] = {{"type", F_BURN, NEEDED, 0}, {"minutes", F_ZERO_UP, MAY, 0}};
static const struct member opened[] = {{"what", F_NAME, NEEDED, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member stock[] = {
    {"part", F_NAME, NEEDED, 0}, {"quantity", F_NUMBER, NEEDED, 0}, {"unit", F_UNIT, MAY, 0}};
static const struct member note[] = {{"text", F_TEXT, NEEDED, 0}};
static const struct member attachment[] = {
    {"sha256", F_HASH, NEEDED, 0}, {"name", F_NAME, NEEDED, 0}, {"type", F_NAME, NEEDED, 0}, {"bytes", F_COUNT, NEEDED, 0},
    {"about", F_ID, MAY, 0}};
static const struct member trace[] = {
    {"step", F_TRACED, NEEDED, 0}, {"trace", F_ID, MAY, 0}, {"symptom", F_NAME, MAY, 0}, {"what", F_NAME, MAY, 0},
    {"result", F_RESULT, MAY, 0}, {"cause", F_NAME, MAY, 0}, {"confirmed", F_BOOL, MAY, 0}, {"mode", F_NAME, MAY, 0},
    {"mechanism", F_NAME, MAY, 0}, {"root", F_NAME, MAY, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member calendar[] = {
    {"type", F_PLANNED, NEEDED, 0}, {"label", F_NAME, NEEDED, 0}, {"from", F_DAY, NEEDED, 0}, {"to", F_DAY, NEEDED, 0},
    {"site", F_NAME, MAY, 0}, {"hours", F_ZERO_UP, MAY, 0}, {"note", F_TEXT, MAY, 0}};
static const struct member round_of[] = {
    {"round", F_ID, NEEDED, 0}, {"is", F_ROUND, NEEDED, 0}, {"title", F_NAME, MAY, 0}, {"order", F_STEPS, MAY, 0},
    {"condition", F_NAMES, MAY, 0}, {"step", F_NAME, MAY, 0}, {"outcome", F_OUTCOME, MAY, 0}, {"entries", F_NAMES, MAY, 0},
    {"left", F_STEPS, MAY, 0}, {"reason", F_TEXT, MAY, 0}, {"to", F_NAME, MAY, 0}};
static const struct member correction[] = {
    {"corrects", F_ID, NEEDED, 0}, {"reason", F_TEXT, NEEDED, 0}, {"void", F_TRUE, MAY, 0}, {"body", F_BODY, MAY, 0},
    {"at", F_TIME, MAY, 0}};

static const struct shape shapes[KIND_COUNT] = {
    [KIND_MACHINE_IN] = SHAPE(machine_in), [KIND_MACHINE_OUT] = SHAPE(machine_out), [KIND_METER] = SHAPE(meter),
    [KIND_METER_REPLACED] = SHAPE(meter_replaced), [KIND_READING] = SHAPE(reading), [KIND_FOUND] = SHAPE(found),
    [KIND_DONE] = SHAPE(done), [KIND_TURN] = SHAPE(turn), [KIND_FAULT_SEEN] = SHAPE(fault),
    [KIND_FAULT_CLEARED] = SHAPE(fault), [KIND_BURN] = SHAPE(burn), [KIND_OPENED] = SHAPE(opened),
    [KIND_PUT_BACK] = SHAPE(opened), [KIND_MOVED] = SHAPE(moved), [KIND_HANDED_BACK] = SHAPE(handed_back),
    [KIND_STOCK] = SHAPE(stock), [KIND_NOTE] = SHAPE(note),
    [KIND_ATTACHMENT] = SHAPE(attachment), [KIND_CALENDAR] = SHAPE(calendar), [KIND_CORRECTION] = SHAPE(correction),
    [KIND_ROUND] = SHAPE(round_of), [KIND_TRACE] = SHAPE(trace),
};
/* clang-format on */

/* Where an import took an entry from; any kind may have it. */
static const struct member import_key = {"import_key", F_NAME, MAY, 0};

static const char *const trace_words[] = {"started", "seen", "not-seen", "done", "cannot", "ended"};
#define TRACE_WORDS "started, seen, not-seen, done, cannot or ended"
static const char *const result_words[] = {"yes", "no", "cured", "not-cured"};
#define RESULT_WORDS "yes, no, cured or not-cured"
static const char *const burn_words[] = {"passive", "active", "parked", "inhibited", "released"};
#define BURN_WORDS "passive, active, parked, inhibited or released"
static const char *const planned_words[] = {"season", "event", "blocked", "visit", "hands"};
#define PLANNED_WORDS "season, event, blocked, visit or hands"
static const char *const round_words[] = {"started", "step", "handed-over", "ended"};
#define ROUND_WORDS "started, step, handed-over or ended"
static const char *const outcome_words[] = {"done", "damaged", "not-reached", "not-fitted", "not-done"};
#define OUTCOME_WORDS "done, damaged, not-reached, not-fitted or not-done"

const char *kind_word(enum entry_kind kind)
{
    static const char *const words[] = {
#define X(symbol, word, machine, says) [symbol] = (word),
        ENTRY_KINDS(X)
#undef X
    };
    return words[kind];
}

const char *kind_says(enum entry_kind kind)
{
    static const char *const says_of[] = {
#define X(symbol, word, machine, says) [symbol] = (says),
        ENTRY_KINDS(X)
#undef X
    };
    return says_of[kind];
}

bool kind_needs_machine(enum entry_kind kind)
{
    static const bool needs[] = {
#define X(symbol, word, machine, says) [symbol] = (machine),
        ENTRY_KINDS(X)
#undef X
    };
    return needs[kind];
}

bool kind_parse(struct str word, enum entry_kind *kind)
{
    for (int k = 0; k < KIND_COUNT; k++) {
        if (str_eq(word, str_of(kind_word((enum entry_kind)k)))) {
            *kind = (enum entry_kind)k;
            return true;
        }
    }
    return false;
}

const char *kind_nearest(struct str word)
{
    struct str words[KIND_COUNT];
    for (int k = 0; k < KIND_COUNT; k++) {
        words[k] = str_of(kind_word((enum entry_kind)k));
    }
    ptrdiff_t i = str_nearest(word, words, KIND_COUNT);
    return i < 0 ? NULL : kind_word((enum entry_kind)i);
}

void text_kind_members(struct text *t, enum entry_kind kind)
{
    for (size_t i = 0; i < shapes[kind].n; i++) {
        text_join(t, i ? ", `" : "`", shapes[kind].at[i].name, shapes[kind].at[i].needed ? "`" : "`?", (char *)0);
    }
}

/* A walk over a body: where it is, and where it reports. */
struct walk {
    struct text path;
    struct err *e;
};

/* Fills e with "path: what"; false. */
static bool wrong(struct walk *w, const char *right, const char *what, const char *more)
{
    return err_set(w->e, ERR_INPUT, right, text_z(&w->path), ": ", what, more, (char *)0);
}

/* A value in a message: as JSON, cut to 40 characters. */
static const char *shown(struct walk *w, const json_t *value)
{
    struct text t = text_new(w->e->a);
    char *dump = json_dumps(value, JSON_ENCODE_ANY | JSON_COMPACT);
    struct str s = str_of(dump ? dump : "");
    size_t n = s.n;
    if (n > 40) {
        for (n = 37; n > 0 && ((unsigned char)s.p[n] & 0xc0) == 0x80; n--) {
        }
    }
    text_add(&t, str_cut(s, 0, n));
    text_addz(&t, n < s.n ? "..." : "");
    free(dump);
    return text_z(&t);
}

static struct str string_of(const json_t *value)
{
    return (struct str){json_string_value(value), json_string_length(value)};
}

/* Text of 1 to `most` bytes; control characters only where lines are allowed, and then only tab, line feed and return.
 */
static bool check_text(struct walk *w, const json_t *value, size_t most, bool lines)
{
    if (!json_is_string(value)) {
        return wrong(w, "write it in quotes", shown(w, value), " is not text");
    }
    struct str s = string_of(value);
    if (str_trim(s).n == 0) {
        return wrong(w, "say it, or leave the member out", "the text is empty", "");
    }
    if (s.n > most) {
        return wrong(w, lines ? "at most 20000 bytes; attach a file" : "at most 200 bytes", shown(w, value),
                     " is too long");
    }
    for (size_t i = 0; i < s.n; i++) {
        unsigned char c = (unsigned char)s.p[i];
        if ((c < 0x20 && !(lines && (c == '\t' || c == '\n' || c == '\r'))) || c == 0x7f) {
            return wrong(w, lines ? "tab and line feed are allowed" : "write it in one line", shown(w, value),
                         " has a control character");
        }
    }
    return true;
}

/* A number in [low, high], whole if asked. `right` says what would do. */
static bool check_number(struct walk *w, const json_t *value, double low, double high, bool whole, const char *right)
{
    if (json_is_string(value)) {
        return wrong(w, "write a number without quotes", shown(w, value), " is text, not a number");
    }
    if (!json_is_number(value)) {
        return wrong(w, "write a number", shown(w, value), " is not a number");
    }
    double v = json_number_value(value);
    if (!(v >= low && v <= high)) {
        return wrong(w, right, shown(w, value), " is out of range");
    }
    return !whole || v == floor(v) || wrong(w, right, shown(w, value), " is not a whole number");
}

static bool check_names(struct walk *w, const json_t *value, bool once)
{
    if (!json_is_array(value)) {
        return wrong(w, "write a list of texts: [\"...\"]", shown(w, value), " is not a list");
    }
    size_t from = w->path.n;
    for (size_t i = 0; i < json_array_size(value); i++) {
        const json_t *item = json_array_get(value, i);
        text_char(&w->path, '[');
        text_int(&w->path, (int64_t)i);
        text_char(&w->path, ']');
        if (!check_text(w, item, 200, false)) {
            return false;
        }
        for (size_t k = 0; once && k < i; k++) {
            if (json_equal(item, json_array_get(value, k))) {
                return wrong(w, "name each once", shown(w, item), " is there twice");
            }
        }
        w->path.n = from;
    }
    return true;
}

/* One of so many words; `right` and `what` say so otherwise. */
static bool check_word(struct walk *w, const json_t *value, const char *const *words, size_t n, const char *right,
                       const char *what)
{
    for (size_t i = 0; i < n; i++) {
        if (json_is_string(value) && str_eq(string_of(value), str_of(words[i]))) {
            return true;
        }
    }
    return wrong(w, right, shown(w, value), what);
}

static bool check_saw(struct walk *w, const json_t *value)
{
    enum adjust_saw saw;
    return (json_is_string(value) && string_of(value).n && adjust_saw_parse(string_of(value), &saw) &&
            saw != SAW_NOT_SAID) ||
           wrong(w, "write gone, less, same or worse", shown(w, value), " is not what a turn does");
}

/* A member {value, unit} of that kind, at least 0; true when it is not there. */
static bool check_measure(struct walk *w, const json_t *body, const char *member, enum quantity_kind kind,
                          const char *right)
{
    const json_t *value = json_object_get(body, member);
    const struct unit *unit = value ? unit_find(body_str(value, "unit")) : NULL;
    if (value && (!unit || unit->kind != kind || body_num(value, "value") < 0)) {
        text_join(&w->path, ".", member, (char *)0);
        return wrong(w, right, shown(w, value), " is none");
    }
    return true;
}

/* A text that must be the canonical form of something. */
static bool check_form(struct walk *w, const json_t *value, enum form form)
{
    struct str s = json_is_string(value) ? string_of(value) : (struct str){NULL, 0};
    struct entry_id id;
    uint8_t hash[32];
    day_t day = 0;
    instant_ms at = 0;
    if (form == F_ID) {
        struct text again = text_new(w->e->a);
        if (s.p && entry_id_parse(s, &id)) {
            text_entry_id(&again, id);
        }
        return (again.n && str_eq(text_str(&again), s)) || wrong(w, "write it as 01890a5d-ac96-774b-bcce-b302099a8057",
                                                                 shown(w, value), " is not the id of an entry");
    }
    if (form == F_HASH) {
        return (s.p && hex_parse(s, hash, sizeof hash)) ||
               wrong(w, "write 64 hex digits in lower case", shown(w, value), " is not a SHA-256 hash");
    }
    if (form == F_DAY) {
        return (s.p && day_parse(s, &day)) || wrong(w, "write YYYY-MM-DD", shown(w, value), " is not a date");
    }
    struct text again = text_new(w->e->a);
    if (s.p && instant_parse(s, &at)) {
        text_instant(&again, at);
    }
    return (again.n && str_eq(text_str(&again), s)) ||
           wrong(w, "write YYYY-MM-DDThh:mm:ss.sssZ, in UTC", shown(w, value), " is not a time");
}

/* The symbol of a unit we know; "" for a bare number. */
static bool check_unit(struct walk *w, const json_t *value)
{
    if (!json_is_string(value)) {
        return wrong(w, "write a unit in quotes, \"\" for a bare number", shown(w, value), " is not text");
    }
    struct str s = string_of(value);
    if (s.n == 0 || unit_find(s)) {
        return true;
    }
    const struct unit *near = unit_nearest(s);
    struct text right = text_new(w->e->a);
    text_join(&right, near ? "did you mean \"" : "write the symbol of a unit, such as bar or degC",
              near ? near->symbol : NULL, "\"?", (char *)0);
    return wrong(w, text_z(&right), shown(w, value), " is not a unit known here");
}

static bool check_object(struct walk *w, const json_t *object, const struct shape *shape, bool top);

/* The name of a member that the writer chose: as F_NAME. */
static bool check_key(struct walk *w, const char *key)
{
    json_t *name = json_string(key);
    bool ok = name && check_text(w, name, 200, false);
    json_decref(name);
    return ok;
}

/* An array of one or more objects, or an object of one or more named ones. */
static bool check_many(struct walk *w, const json_t *value, const struct shape *of, bool map)
{
    size_t from = w->path.n;
    if (map ? !json_is_object(value) : !json_is_array(value)) {
        return wrong(w, map ? "write {\"name\": {...}}" : "write a list: [{...}]", shown(w, value),
                     map ? " is not an object" : " is not a list");
    }
    if (map ? json_object_size(value) == 0 : json_array_size(value) == 0) {
        return wrong(w, "leave the member out", "it is empty", "");
    }
    if (map) {
        const char *key = NULL;
        json_t *item = NULL;
        json_object_foreach(tree_of(value), key, item)
        {
            if (!check_key(w, key)) {
                return false;
            }
            text_join(&w->path, ".", key, (char *)0);
            if (!check_object(w, item, of, false)) {
                return false;
            }
            w->path.n = from;
        }
        return true;
    }
    for (size_t i = 0; i < json_array_size(value); i++) {
        text_char(&w->path, '[');
        text_int(&w->path, (int64_t)i);
        text_char(&w->path, ']');
        if (!check_object(w, json_array_get(value, i), of, false)) {
            return false;
        }
        w->path.n = from;
    }
    return true;
}

/* One value against its form; w->path names it. */
static bool check_value(struct walk *w, const struct member *m, const json_t *value)
{
    switch (m->form) {
    case F_NAME:
        return check_text(w, value, 200, false);
    case F_TEXT:
        return check_text(w, value, 20000, true);
    case F_NAMES:
    case F_STEPS:
        return check_names(w, value, m->form == F_NAMES);
    case F_UNIT:
        return check_unit(w, value);
    case F_NUMBER:
        return check_number(w, value, -INFINITY, INFINITY, false, "");
    case F_POSITIVE:
        return check_number(w, value, 5e-324, INFINITY, false, "write a number above 0");
    case F_ZERO_UP:
        return check_number(w, value, 0, INFINITY, false, "write 0 or more");
    case F_COUNT:
        return check_number(w, value, 0, 9007199254740991.0, true, "write a whole number, 0 or more");
    case F_SPN:
        return check_number(w, value, 0, 524287, true, "write a whole number, 0 to 524287");
    case F_FMI:
        return check_number(w, value, 0, 31, true, "write a whole number, 0 to 31");
    case F_BOOL:
        return json_is_boolean(value) || wrong(w, "write true or false", shown(w, value), " is not true or false");
    case F_TRUE:
        return json_is_true(value) || wrong(w, "write true, or leave the member out", shown(w, value), " is not true");
    case F_HASH:
    case F_ID:
    case F_TIME:
    case F_DAY:
        return check_form(w, value, m->form);
    case F_BURN:
        return check_word(w, value, burn_words, sizeof burn_words / sizeof *burn_words, "write " BURN_WORDS,
                          " is no type of burn");
    case F_TRACED:
        return check_word(w, value, trace_words, sizeof trace_words / sizeof *trace_words, "write " TRACE_WORDS,
                          " is no step of a trace");
    case F_RESULT:
        return check_word(w, value, result_words, sizeof result_words / sizeof *result_words, "write " RESULT_WORDS,
                          " is no result");
    case F_PLANNED:
        return check_word(w, value, planned_words, sizeof planned_words / sizeof *planned_words, "write " PLANNED_WORDS,
                          " is nothing that a calendar holds");
    case F_ROUND:
        return check_word(w, value, round_words, sizeof round_words / sizeof *round_words, "write " ROUND_WORDS,
                          " does not become of a round");
    case F_OUTCOME:
        return check_word(w, value, outcome_words, sizeof outcome_words / sizeof *outcome_words, "write " OUTCOME_WORDS,
                          " does not become of a step");
    case F_SAW:
        return check_saw(w, value);
    case F_OBJECT:
        return check_object(w, value, m->of, false);
    case F_LIST:
        return check_many(w, value, m->of, false);
    case F_MAP:
        return check_many(w, value, m->of, true);
    case F_BODY:
        return json_is_object(value) || wrong(w, "write {...}", shown(w, value), " is not an object");
    }
    return false;
}

/* The member of that name, null when the shape has none. */
static const struct member *member_of(const struct shape *shape, const char *name, bool top)
{
    for (size_t i = 0; i < shape->n; i++) {
        if (strcmp(shape->at[i].name, name) == 0) {
            return &shape->at[i];
        }
    }
    return top && strcmp(name, import_key.name) == 0 ? &import_key : NULL;
}

/* "did you mean ..." or the list of what may be there. */
static const char *unknown_right(struct walk *w, const struct shape *shape, const char *name)
{
    struct str names[16];
    for (size_t i = 0; i < shape->n; i++) {
        names[i] = str_of(shape->at[i].name);
    }
    ptrdiff_t near = str_nearest(str_of(name), names, shape->n);
    struct text t = text_new(w->e->a);
    if (near >= 0) {
        text_join(&t, "did you mean \"", shape->at[near].name, "\"?", (char *)0);
        return text_z(&t);
    }
    text_addz(&t, "it may have ");
    for (size_t i = 0; i < shape->n; i++) {
        text_addz(&t, i == 0 ? "" : i + 1 == shape->n ? " and " : ", ");
        text_addz(&t, shape->at[i].name);
    }
    return text_z(&t);
}

/* An object against its shape: first unknown names (a mistyped one would else be reported as missing), then each
 * member. */
static bool check_object(struct walk *w, const json_t *object, const struct shape *shape, bool top)
{
    size_t from = w->path.n;
    if (!json_is_object(object)) {
        return wrong(w, "write {...}", shown(w, object), " is not an object");
    }
    const char *key = NULL;
    json_t *value = NULL;
    json_object_foreach(tree_of(object), key, value)
    {
        if (!member_of(shape, key, top)) {
            const char *right = unknown_right(w, shape, key);
            text_join(&w->path, ".", key, (char *)0);
            return wrong(w, right, "there is no such member", "");
        }
    }
    for (size_t i = 0; i < shape->n + (top ? 1 : 0); i++) {
        const struct member *m = i < shape->n ? &shape->at[i] : &import_key;
        value = json_object_get(object, m->name);
        text_join(&w->path, ".", m->name, (char *)0);
        if (!value && m->needed) {
            return wrong(w, "add it", "it is missing", "");
        }
        if (value && !check_value(w, m, value)) {
            return false;
        }
        w->path.n = from;
    }
    return true;
}

/* What each step of a trace must say besides: a start its symptom, all others the trace they belong to, what was seen
 * or done its name, what was done its result. */
static bool check_trace(struct walk *w, const json_t *body)
{
    struct str step = body_str(body, "step");
    bool started = str_eq(step, S("started"));
    bool ended = str_eq(step, S("ended"));
    if (started != (json_object_get(body, "symptom") != NULL)) {
        return wrong(w, started ? "add symptom" : "only started names it",
                     started ? "it does not say from which symptom" : "it names a symptom", "");
    }
    if (started == (json_object_get(body, "trace") != NULL)) {
        return wrong(w, started ? "leave it out: the entry's own id is the trace's" : "add trace: the id of its start",
                     started ? "a start belongs to no trace" : "it does not say to which trace it belongs", "");
    }
    if (!started && !ended && !json_object_get(body, "what")) {
        return wrong(w, "add what", "it does not say what was seen or done", "");
    }
    if (str_eq(step, S("done")) != (json_object_get(body, "result") != NULL)) {
        return wrong(w, "result: how what was done came out", "a step done has a result, and no other has one", "");
    }
    return ended || !json_object_get(body, "cause") || wrong(w, "only ended names it", "it names a cause", "");
}

/* What a table of members cannot say. */
static bool check_whole(struct walk *w, enum entry_kind kind, const json_t *body, struct str machine)
{
    if (kind == KIND_MACHINE_IN && !str_eq(body_str(body, "serial"), machine)) {
        text_addz(&w->path, ".serial");
        return wrong(w, "the entry's machine and body.serial are the same serial number",
                     shown(w, json_object_get(body, "serial")), " is not the machine of the entry");
    }
    if ((kind == KIND_FAULT_SEEN || kind == KIND_FAULT_CLEARED) && !json_object_get(body, "spn") &&
        !json_object_get(body, "code") && !json_object_get(body, "text")) {
        return wrong(w, "name it by spn (and fmi), code or text", "it does not say which fault", "");
    }
    if (kind == KIND_CALENDAR && str_cmp(body_str(body, "to"), body_str(body, "from")) < 0) {
        text_addz(&w->path, ".to");
        return wrong(w, "the last day, the same as `from` for one day", shown(w, json_object_get(body, "to")),
                     " is before `from`");
    }
    if (kind == KIND_CALENDAR && str_eq(body_str(body, "type"), S("visit")) && machine.n == 0) {
        return wrong(w, "name the machine that is visited", "a visit without a machine", "");
    }
    if (kind == KIND_ROUND && str_eq(body_str(body, "is"), S("started")) && !json_object_get(body, "order")) {
        return wrong(w, "order: the steps by name", "a round that has started has an order", "");
    }
    if (kind == KIND_ROUND && str_eq(body_str(body, "is"), S("step")) &&
        (!json_object_get(body, "step") || !json_object_get(body, "outcome"))) {
        return wrong(w, "step, and outcome: " OUTCOME_WORDS, "it does not say which step, or what became of it", "");
    }
    if (kind == KIND_ROUND && json_object_get(body, "left") && !json_object_get(body, "reason")) {
        return wrong(w, "reason: why it is left", "something is left and no reason is given", "");
    }
    if (kind == KIND_TURN && body_bool(body, "found", false) && body_num(body, "turns") != 0) {
        text_addz(&w->path, ".turns");
        return wrong(w, "0 where the count begins anew", shown(w, json_object_get(body, "turns")), " turns with found");
    }
    if (kind == KIND_MOVED) {
        return check_measure(w, body, "distance", Q_LENGTH,
                             "a distance, 0 or more: {\"value\": 120, \"unit\": \"m\"}") &&
               check_measure(w, body, "time", Q_DURATION, "a time, 0 or more: {\"value\": 4, \"unit\": \"min\"}") &&
               check_measure(w, body, "slope", Q_RATIO, "a slope, 0 or more: {\"value\": 3, \"unit\": \"%\"}") &&
               check_measure(w, body, "load", Q_MASS, "a load, 0 or more: {\"value\": 100, \"unit\": \"kg\"}");
    }
    if (kind == KIND_HANDED_BACK && !json_object_get(body, "open") != !json_object_get(body, "despite")) {
        return wrong(w, "what is open and the reason go together: open and despite, or neither",
                     json_object_get(body, "open") ? "something is open, and no reason is given"
                                                   : "a reason is given, and nothing is open",
                     "");
    }
    if (kind == KIND_TRACE) {
        return check_trace(w, body);
    }
    if (kind == KIND_CORRECTION) {
        bool voids = json_object_get(body, "void") != NULL;
        bool changes = json_object_get(body, "body") || json_object_get(body, "at");
        if (voids == changes) {
            return wrong(w, "give either void: true, or a new body or at (or both)",
                         voids ? "it withdraws the entry and changes it" : "it does not say what changes", "");
        }
    }
    return true;
}

bool kind_check_path(enum entry_kind kind, const json_t *body, struct str machine, struct str *path, struct err *e)
{
    struct walk w = {text_new(e->a), e};
    text_addz(&w.path, "body");
    bool ok = check_object(&w, body, &shapes[kind], true) && check_whole(&w, kind, body, machine);
    if (ok) {
        struct text inexact = text_new(e->a);
        text_addz(&inexact, "body");
        if (jcs_inexact(body, &inexact)) {
            w.path = inexact;
            ok = wrong(&w, "at most 9007199254740991; choose a larger unit",
                       "the number is too large to be kept exactly", "");
        }
    }
    *path = text_str(&w.path);
    return ok;
}

bool kind_check(enum entry_kind kind, const json_t *body, struct str machine, struct err *e)
{
    struct str path;
    return kind_check_path(kind, body, machine, &path, e);
}

struct str body_str(const json_t *body, const char *member)
{
    const json_t *value = json_object_get(body, member);
    return json_is_string(value) ? string_of(value) : (struct str){NULL, 0};
}

double body_num(const json_t *body, const char *member)
{
    const json_t *value = json_object_get(body, member);
    return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

bool body_bool(const json_t *body, const char *member, bool otherwise)
{
    const json_t *value = json_object_get(body, member);
    return json_is_boolean(value) ? json_is_true(value) : otherwise;
}
