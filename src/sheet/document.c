/* Reading the document with jansson. The first thing wrong is kept (err.h) and the rest is read on as if it were
 * missing, so that each reader below is a plain list of members. Where it stands is found afterwards from the path
 * (json_where). */
#include "document.h"

#include <jansson.h>

#include <assert.h>
#include <math.h>
#include <string.h>

#define DEPTH 12
#define MOST_QR 300       /* bytes; more makes modules too small for a phone at arm's length */
#define MOST_STEPS 100000 /* a number above is no step */

struct reader {
    struct arena *a;
    struct str json, name;
    struct err *e;
    struct json_step path[DEPTH];
    size_t depth;
};

static void enter_key(struct reader *r, const char *key)
{
    assert(r->depth < DEPTH);
    r->path[r->depth++] = (struct json_step){.key = key};
}

static void enter_index(struct reader *r, size_t i)
{
    assert(r->depth < DEPTH);
    r->path[r->depth++] = (struct json_step){.index = i};
}

static void leave(struct reader *r)
{
    r->depth--;
}

/* "steps[3].read.limits" */
static struct str path_text(struct reader *r)
{
    struct text t = text_new(r->a);
    for (size_t i = 0; i < r->depth; i++) {
        if (r->path[i].key) {
            text_join(&t, i ? "." : "", r->path[i].key, (char *)0);
        } else {
            text_addz(&t, "[");
            text_int(&t, (int64_t)r->path[i].index);
            text_addz(&t, "]");
        }
    }
    return t.n ? text_str(&t) : S("the document");
}

/* Complains about the value at the present path: "PATH WHAT". */
static void wrong(struct reader *r, const char *what, const char *right)
{
    if (r->e->kind == ERR_NONE) {
        struct where at = json_where(r->json, r->name, r->path, r->depth);
        err_at(r->e, at, ERR_INPUT, right, str_z(r->a, path_text(r)), " ", what, (char *)0);
    }
}

/* The member, or null when it is missing or null. A needed one that is missing is complained about. */
static json_t *member(struct reader *r, json_t *object, const char *key, bool needed)
{
    json_t *v = json_object_get(object, key);
    if (v && !json_is_null(v)) {
        return v;
    }
    if (needed) {
        enter_key(r, key);
        wrong(r, "is missing", 0);
        leave(r);
    }
    return 0;
}

/* Complains unless it is an object whose members all stand in `known`, a list ended by null. */
static void check_object(struct reader *r, json_t *object, const char *const *known)
{
    if (!json_is_object(object)) {
        wrong(r, "is no object", "{...}");
        return;
    }
    for (void *i = json_object_iter(object); i; i = json_object_iter_next(object, i)) {
        const char *key = json_object_iter_key(i);
        struct str names[48];
        size_t n = 0;
        bool found = false;
        for (; known[n] && n < sizeof names / sizeof *names; n++) {
            names[n] = str_of(known[n]);
            found = found || strcmp(known[n], key) == 0;
        }
        if (!found) {
            ptrdiff_t near = str_nearest(str_of(key), names, n);
            struct text right = text_new(r->a);
            if (near >= 0) {
                text_join(&right, "did you mean ", known[near], "?", (char *)0);
            } else {
                text_addz(&right, "docs/print.md lists what may stand here");
            }
            enter_key(r, key);
            wrong(r, "is no known member", text_z(&right));
            leave(r);
        }
    }
}
#define CHECK(r, object, ...) check_object((r), (object), (const char *const[]){__VA_ARGS__, 0})

static struct str text_value(struct reader *r, json_t *v)
{
    if (!json_is_string(v)) {
        wrong(r, "is no text", "a text in quotes");
        return S("");
    }
    return str_copy(r->a, (struct str){json_string_value(v), json_string_length(v)});
}

static struct str text_member(struct reader *r, json_t *object, const char *key, bool needed)
{
    json_t *v = member(r, object, key, needed);
    if (!v) {
        return S("");
    }
    enter_key(r, key);
    struct str s = text_value(r, v);
    if (needed && str_trim(s).n == 0) {
        wrong(r, "is empty", 0);
    }
    leave(r);
    return s;
}

/* A number in [least, most], NaN when missing. */
static double number_member(struct reader *r, json_t *object, const char *key, double least, double most)
{
    json_t *v = member(r, object, key, false);
    if (!v) {
        return (double)NAN;
    }
    double x = json_number_value(v);
    enter_key(r, key);
    if (!json_is_number(v)) {
        wrong(r, "is no number", 0);
    } else if (!(x >= least && x <= most)) {
        struct text right = text_new(r->a);
        text_addz(&right, "a number from ");
        text_number(&right, least, 6);
        text_addz(&right, " to ");
        text_number(&right, most, 6);
        wrong(r, "is out of range", text_z(&right));
    }
    leave(r);
    return x;
}

/* A whole number in [0, most], 0 when missing. */
static int whole_member(struct reader *r, json_t *object, const char *key, int most)
{
    double x = number_member(r, object, key, 0, most);
    if (isnan(x) || r->e->kind != ERR_NONE) {
        return 0;
    }
    if (floor(x) < x) {
        enter_key(r, key);
        wrong(r, "is no whole number", 0);
        leave(r);
        return 0;
    }
    return (int)x;
}

/* The array of a member, its length in *n; null when it is missing. */
static json_t *list_member(struct reader *r, json_t *object, const char *key, size_t *n)
{
    json_t *v = member(r, object, key, false);
    *n = 0;
    if (v && !json_is_array(v)) {
        enter_key(r, key);
        wrong(r, "is no list", "[...]");
        leave(r);
        return 0;
    }
    *n = v ? json_array_size(v) : 0;
    return v;
}

static struct texts texts_member(struct reader *r, json_t *object, const char *key)
{
    struct texts list = {0};
    json_t *v = list_member(r, object, key, &list.n);
    list.at = ARENA_ARRAY(r->a, struct str, list.n + 1);
    enter_key(r, key);
    for (size_t i = 0; i < list.n; i++) {
        enter_index(r, i);
        list.at[i] = text_value(r, json_array_get(v, i));
        leave(r);
    }
    leave(r);
    return list;
}

/* Reads each item of the list `key` of `object` by `read` into an array at `at`. */
#define READ_LIST(r, object, key, at, count, read)                   \
    do {                                                             \
        json_t *list_ = list_member((r), (object), (key), &(count)); \
        (at) = arena_alloc((r)->a, (count) + 1, sizeof *(at));       \
        enter_key((r), (key));                                       \
        for (size_t i_ = 0; i_ < (count); i_++) {                    \
            enter_index((r), i_);                                    \
            (at)[i_] = read((r), json_array_get(list_, i_));         \
            leave(r);                                                \
        }                                                            \
        leave(r);                                                    \
    } while (0)

const char *caution_level_text(enum caution_level level)
{
    static const char *const text[] = {
#define X(symbol, word) [symbol] = (word),
        CAUTION_LEVELS(X)
#undef X
    };
    return text[level];
}

static struct caution read_caution(struct reader *r, json_t *v)
{
    CHECK(r, v, "level", "say");
    struct caution c = {.say = text_member(r, v, "say", true)};
    struct str word = text_member(r, v, "level", true);
    for (int level = LEVEL_DANGER; level <= LEVEL_NOTICE; level++) {
        if (str_eq(word, str_of(caution_level_text((enum caution_level)level)))) {
            c.level = (enum caution_level)level;
            return c;
        }
    }
    enter_key(r, "level");
    wrong(r, "is no signal word", "DANGER, WARNING, CAUTION or NOTICE");
    leave(r);
    return c;
}

static struct cautions read_cautions(struct reader *r, json_t *object, const char *key)
{
    struct cautions list = {0};
    READ_LIST(r, object, key, list.at, list.n, read_caution);
    return list;
}

static struct figure_ref read_figure_ref(struct reader *r, json_t *object)
{
    struct figure_ref f = {0};
    json_t *v = member(r, object, "figure", false);
    if (v) {
        enter_key(r, "figure");
        CHECK(r, v, "name", "mark");
        f.name = text_member(r, v, "name", true);
        f.mark = whole_member(r, v, "mark", 999);
        leave(r);
    }
    return f;
}

static struct blank read_blank(struct reader *r, json_t *v)
{
    CHECK(r, v, "name", "unit");
    return (struct blank){.name = text_member(r, v, "name", true), .unit = text_member(r, v, "unit", false)};
}

/* The figures for the scale stand among the members of the reading itself. */
static struct gauge read_gauge(struct reader *r, json_t *v)
{
    struct gauge g = {.low = number_member(r, v, "low", -1e12, 1e12),
                      .high = number_member(r, v, "high", -1e12, 1e12),
                      .want = number_member(r, v, "want_value", -1e12, 1e12),
                      .last = number_member(r, v, "last_value", -1e12, 1e12)};
    if (g.low >= g.high) {
        enter_key(r, "low");
        wrong(r, "is not below high: the limits are the wrong way round", 0);
        leave(r);
    }
    return g;
}

static struct reading read_reading(struct reader *r, json_t *object)
{
    const double nan = (double)NAN;
    struct reading m = {.gauge = {nan, nan, nan, nan}};
    json_t *v = member(r, object, "read", false);
    if (!v) {
        return m;
    }
    enter_key(r, "read");
    CHECK(r, v, "measure", "unit", "limits", "low", "high", "want", "want_value", "refer_to", "also", "last",
          "last_value");
    m.there = true;
    m.measure = text_member(r, v, "measure", false);
    m.unit = text_member(r, v, "unit", false);
    m.limits = text_member(r, v, "limits", false);
    m.want = text_member(r, v, "want", false);
    m.refer_to = text_member(r, v, "refer_to", false);
    m.last = text_member(r, v, "last", false);
    m.gauge = read_gauge(r, v);
    READ_LIST(r, v, "also", m.also, m.also_n, read_blank);
    leave(r);
    return m;
}

/* A text or a list of texts: some members grew from one to several. */
static struct texts read_one_or_more(struct reader *r, json_t *object, const char *key)
{
    json_t *v = member(r, object, key, false);
    if (json_is_string(v)) {
        struct str s = text_member(r, object, key, false);
        struct texts list = {.at = ARENA_NEW(r->a, struct str), .n = s.n > 0};
        list.at[0] = s;
        return list;
    }
    return texts_member(r, object, key);
}

static struct act read_act(struct reader *r, json_t *v)
{
    CHECK(r, v, "act", "place", "cautions", "torques", "tools", "opens", "closes", "waste", "figure");
    struct act act = {.act = text_member(r, v, "act", true)};
    act.place = text_member(r, v, "place", false);
    act.waste = text_member(r, v, "waste", false);
    act.cautions = read_cautions(r, v, "cautions");
    act.torques = texts_member(r, v, "torques");
    act.tools = texts_member(r, v, "tools");
    act.opens = texts_member(r, v, "opens");
    act.closes = texts_member(r, v, "closes");
    act.figure = read_figure_ref(r, v);
    return act;
}

static struct texts read_row(struct reader *r, json_t *v)
{
    struct texts list = {0};
    if (!json_is_array(v)) {
        wrong(r, "is no list", "a list of texts");
        return list;
    }
    list.n = json_array_size(v);
    list.at = ARENA_ARRAY(r->a, struct str, list.n + 1);
    for (size_t i = 0; i < list.n; i++) {
        enter_index(r, i);
        list.at[i] = text_value(r, json_array_get(v, i));
        leave(r);
    }
    return list;
}

static struct sheet_table read_table(struct reader *r, json_t *v)
{
    CHECK(r, v, "title", "columns", "rows", "blanks");
    struct sheet_table t = {.title = text_member(r, v, "title", false), .columns = texts_member(r, v, "columns")};
    READ_LIST(r, v, "rows", t.rows, t.rows_n, read_row);
    t.blanks = whole_member(r, v, "blanks", 24);
    if (t.columns.n == 0 || t.columns.n > 12) {
        enter_key(r, "columns");
        wrong(r, "are no columns", "1 to 12 of them");
        leave(r);
    }
    return t;
}

static enum step_type read_step_type(struct reader *r, json_t *v)
{
    struct str type = text_member(r, v, "type", true);
    enter_key(r, "type");
    if (!str_eq(type, S("change")) && !str_eq(type, S("check")) && !str_eq(type, S("task"))) {
        wrong(r, "is no kind of step", "change, check or task");
    }
    leave(r);
    return str_eq(type, S("change")) ? STEP_CHANGE : str_eq(type, S("check")) ? STEP_CHECK : STEP_TASK;
}

static struct step read_step(struct reader *r, json_t *v)
{
    CHECK(r, v, "type", "n", "act", "label", "place", "takes_s", "why", "cautions", "opens", "closes", "look", "read",
          "tables", "tools", "parts", "fluids", "torques", "waste", "steps", "figure");
    struct step s = {.type = read_step_type(r, v)};
    s.number = whole_member(r, v, "n", MOST_STEPS);
    s.label = text_member(r, v, s.type == STEP_CHANGE ? "act" : "label", true);
    s.place = text_member(r, v, "place", false);
    s.why = text_member(r, v, "why", false);
    s.takes_s = number_member(r, v, "takes_s", 0, 1e7);
    s.cautions = read_cautions(r, v, "cautions");
    s.opens = texts_member(r, v, "opens");
    s.closes = texts_member(r, v, "closes");
    s.look = texts_member(r, v, "look");
    s.read = read_reading(r, v);
    s.tools = texts_member(r, v, "tools");
    s.parts = texts_member(r, v, "parts");
    s.fluids = texts_member(r, v, "fluids");
    s.torques = texts_member(r, v, "torques");
    s.waste = read_one_or_more(r, v, "waste");
    READ_LIST(r, v, "tables", s.tables, s.tables_n, read_table);
    READ_LIST(r, v, "steps", s.acts, s.acts_n, read_act);
    s.figure = read_figure_ref(r, v);
    return s;
}

static struct mark read_mark(struct reader *r, json_t *v)
{
    CHECK(r, v, "number", "label", "x", "y");
    struct mark m = {.number = whole_member(r, v, "number", 999), .label = text_member(r, v, "label", false)};
    m.x = number_member(r, v, "x", 0, 1);
    m.y = number_member(r, v, "y", 0, 1);
    return m;
}

static struct figure read_figure(struct reader *r, json_t *v)
{
    CHECK(r, v, "name", "title", "media_type", "data", "marks");
    struct figure f = {.name = text_member(r, v, "name", true), .title = text_member(r, v, "title", false)};
    f.media_type = text_member(r, v, "media_type", true);
    f.data = text_member(r, v, "data", true);
    READ_LIST(r, v, "marks", f.marks, f.marks_n, read_mark);
    return f;
}

static struct open_now read_open(struct reader *r, json_t *v)
{
    CHECK(r, v, "label", "since", "by");
    return (struct open_now){.label = text_member(r, v, "label", true),
                             .since = text_member(r, v, "since", false),
                             .by = text_member(r, v, "by", false)};
}

static struct put_back read_put_back(struct reader *r, json_t *v)
{
    CHECK(r, v, "label", "opened_at", "closed_at");
    return (struct put_back){.label = text_member(r, v, "label", true),
                             .opened_at = whole_member(r, v, "opened_at", MOST_STEPS),
                             .closed_at = whole_member(r, v, "closed_at", MOST_STEPS)};
}

static struct kit_part read_kit_part(struct reader *r, json_t *v)
{
    CHECK(r, v, "label", "number", "instead_of", "quantity");
    return (struct kit_part){.label = text_member(r, v, "label", true),
                             .number = text_member(r, v, "number", false),
                             .instead_of = text_member(r, v, "instead_of", false),
                             .quantity = text_member(r, v, "quantity", false)};
}

static struct kit_fluid read_kit_fluid(struct reader *r, json_t *v)
{
    CHECK(r, v, "label", "is", "quantity");
    return (struct kit_fluid){.label = text_member(r, v, "label", true),
                              .is = text_member(r, v, "is", false),
                              .quantity = text_member(r, v, "quantity", false)};
}

static struct kit_torque read_kit_torque(struct reader *r, json_t *v)
{
    CHECK(r, v, "label", "torque", "note");
    return (struct kit_torque){.label = text_member(r, v, "label", true),
                               .torque = text_member(r, v, "torque", true),
                               .note = text_member(r, v, "note", false)};
}

static struct kit read_kit(struct reader *r, json_t *object)
{
    struct kit k = {0};
    json_t *v = member(r, object, "kit", false);
    if (!v) {
        return k;
    }
    enter_key(r, "kit");
    CHECK(r, v, "parts", "fluids", "waste", "tools", "torques", "equipment");
    READ_LIST(r, v, "parts", k.parts, k.parts_n, read_kit_part);
    READ_LIST(r, v, "fluids", k.fluids, k.fluids_n, read_kit_fluid);
    READ_LIST(r, v, "torques", k.torques, k.torques_n, read_kit_torque);
    k.waste = texts_member(r, v, "waste");
    k.tools = texts_member(r, v, "tools");
    k.equipment = texts_member(r, v, "equipment");
    leave(r);
    return k;
}

static struct machine read_machine(struct reader *r, json_t *object)
{
    struct machine m = {0};
    json_t *v = member(r, object, "machine", true);
    if (!v) {
        return m;
    }
    enter_key(r, "machine");
    CHECK(r, v, "label", "title", "maker", "serial", "hours", "hours_on", "site", "options", "book");
    m.label = text_member(r, v, "label", false);
    m.title = text_member(r, v, "title", false);
    m.maker = text_member(r, v, "maker", false);
    m.serial = text_member(r, v, "serial", true);
    m.hours = text_member(r, v, "hours", false);
    m.hours_on = text_member(r, v, "hours_on", false);
    m.site = text_member(r, v, "site", false);
    m.options = texts_member(r, v, "options");
    json_t *book = member(r, v, "book", false);
    if (book) {
        enter_key(r, "book");
        CHECK(r, book, "edition", "hash");
        m.edition = text_member(r, book, "edition", false);
        m.hash = text_member(r, book, "hash", false);
        leave(r);
    }
    leave(r);
    return m;
}

/* A QR code's text: not so long that its modules could not be read. */
static struct str read_qr(struct reader *r, json_t *object)
{
    struct str s = text_member(r, object, "qr", false);
    if (s.n > MOST_QR) {
        enter_key(r, "qr");
        wrong(r, "is too long for a code that a phone can read", "at most 300 bytes");
        leave(r);
    }
    return s;
}

static struct label read_label(struct reader *r, json_t *v)
{
    CHECK(r, v, "label", "title", "serial", "qr");
    return (struct label){.label = text_member(r, v, "label", true),
                          .title = text_member(r, v, "title", false),
                          .serial = text_member(r, v, "serial", false),
                          .qr = read_qr(r, v)};
}

/* "70x37": width and height of a label in millimetres. */
static void read_size(struct reader *r, json_t *object, struct document *d)
{
    struct str rest = text_member(r, object, "size", false);
    struct str width = {0}, height = {0};
    d->label_width_mm = 70;
    d->label_height_mm = 37;
    if (rest.n == 0) {
        return;
    }
    bool good = str_next(&rest, 'x', &width) && str_next(&rest, 'x', &height) && rest.n == 0 &&
                num_parse(width, &d->label_width_mm) && num_parse(height, &d->label_height_mm);
    good = good && d->label_width_mm >= 30 && d->label_width_mm <= 190 && d->label_height_mm >= 15 &&
           d->label_height_mm <= 250;
    if (!good) {
        enter_key(r, "size");
        wrong(r, "is no size of a label", "width x height in millimetres, as \"70x37\", from 30x15 to 190x250");
        leave(r);
        d->label_width_mm = 70;
        d->label_height_mm = 37;
    }
}

static enum document_paper read_paper(struct reader *r, json_t *object, bool labels)
{
    struct str paper = text_member(r, object, "paper", false);
    if (paper.n == 0 || str_eq(paper, S("A4"))) {
        return PAPER_A4;
    }
    if (str_eq(paper, S("Letter"))) {
        return PAPER_LETTER;
    }
    if (str_eq(paper, S("A5"))) {
        return PAPER_A5;
    }
    if (labels && str_eq(paper, S("label"))) {
        return PAPER_LABEL;
    }
    enter_key(r, "paper");
    wrong(r, "is no paper", labels ? "A4, A5, Letter or label (one label a page)" : "A4, A5 or Letter");
    leave(r);
    return PAPER_A4;
}

/* The sheet's own words: those of the language, then those that the document gives itself. */
static struct words read_words(struct reader *r, json_t *object)
{
    struct words w;
    if (!words_of(text_member(r, object, "language", false), &w)) {
        enter_key(r, "language");
        wrong(r, "is no language of the sheet", "en or es; for others the member words gives each word");
        leave(r);
    }
    json_t *v = member(r, object, "words", false);
    if (!v) {
        return w;
    }
    enter_key(r, "words");
    if (!json_is_object(v)) {
        wrong(r, "is no object", "{...}");
    }
    const struct str *names = 0;
    size_t names_n = words_names(&names);
    for (void *i = json_object_iter(v); i; i = json_object_iter_next(v, i)) {
        const char *key = json_object_iter_key(i);
        struct str *word = words_find(&w, str_of(key));
        if (word) {
            *word = text_member(r, v, key, true);
            continue;
        }
        ptrdiff_t near = str_nearest(str_of(key), names, names_n);
        enter_key(r, key);
        wrong(r, "is no word of the sheet", near >= 0 ? names[near].p : "docs/print.md lists them");
        leave(r);
    }
    leave(r);
    return w;
}

/* A list that the document may replace: its own where it is there, else that of the language. */
static struct texts texts_or(struct reader *r, json_t *object, const char *key, struct word_list otherwise)
{
    if (member(r, object, key, false)) {
        return texts_member(r, object, key);
    }
    struct texts list = {.at = ARENA_ARRAY(r->a, struct str, otherwise.n), .n = otherwise.n};
    for (size_t i = 0; i < otherwise.n; i++) {
        list.at[i] = str_of(otherwise.at[i]);
    }
    return list;
}

/* Step numbers: 1, 2, 3 ... where the document gives none. */
static void number_steps(struct document *d)
{
    for (size_t i = 0; i < d->steps_n; i++) {
        d->steps[i].number = d->steps[i].number > 0 ? d->steps[i].number : (int)i + 1;
    }
}

static void read_round(struct reader *r, json_t *v, struct document *d)
{
    CHECK(r, v, "type", "paper", "language", "words", "depot", "title", "made", "machine", "first_words", "total_s",
          "moves_s", "bound_s", "proven", "before", "lockout", "finish", "open_now", "kit", "steps", "put_back",
          "figures", "qr");
    d->type = DOCUMENT_ROUND;
    d->title = text_member(r, v, "title", true);
    d->machine = read_machine(r, v);
    d->first_words = text_member(r, v, "first_words", false);
    d->first_words = d->first_words.n ? d->first_words : d->words.first_words;
    d->total_s = number_member(r, v, "total_s", 0, 1e8);
    d->moves_s = number_member(r, v, "moves_s", 0, 1e8);
    d->bound_s = number_member(r, v, "bound_s", 0, 1e8);
    json_t *proven = member(r, v, "proven", false);
    if (proven && !json_is_boolean(proven)) {
        enter_key(r, "proven");
        wrong(r, "is neither true nor false", 0);
        leave(r);
    }
    d->proven = json_is_true(proven);
    d->before = read_cautions(r, v, "before");
    struct str language = text_member(r, v, "language", false);
    d->lockout = texts_or(r, v, "lockout", words_lockout(language));
    d->finish = texts_or(r, v, "finish", words_finish(language));
    READ_LIST(r, v, "open_now", d->open, d->open_n, read_open);
    d->kit = read_kit(r, v);
    READ_LIST(r, v, "steps", d->steps, d->steps_n, read_step);
    READ_LIST(r, v, "put_back", d->put_back, d->put_back_n, read_put_back);
    READ_LIST(r, v, "figures", d->figures, d->figures_n, read_figure);
    d->qr = read_qr(r, v);
    number_steps(d);
}

static void read_labels(struct reader *r, json_t *v, struct document *d)
{
    CHECK(r, v, "type", "paper", "language", "words", "depot", "title", "made", "labels", "size", "skip");
    d->type = DOCUMENT_LABELS;
    d->title = text_member(r, v, "title", false);
    read_size(r, v, d);
    d->skip = whole_member(r, v, "skip", 1000);
    member(r, v, "labels", true);
    READ_LIST(r, v, "labels", d->labels, d->labels_n, read_label);
}

static struct figure read_plot(struct reader *r, json_t *v)
{
    CHECK(r, v, "name", "svg");
    return (struct figure){.name = text_member(r, v, "name", true),
                           .media_type = S("image/svg+xml"),
                           .data = text_member(r, v, "svg", true)};
}

static void read_plots(struct reader *r, json_t *v, struct document *d)
{
    CHECK(r, v, "type", "paper", "language", "words", "depot", "title", "made", "machine", "plots");
    d->type = DOCUMENT_PLOTS;
    d->title = text_member(r, v, "title", true);
    d->machine = read_machine(r, v);
    member(r, v, "plots", true);
    READ_LIST(r, v, "plots", d->figures, d->figures_n, read_plot);
}

static void read_document(struct reader *r, json_t *v, struct document *d)
{
    if (!json_is_object(v)) {
        wrong(r, "is no object", "{\"type\": \"round\", ...}");
        return;
    }
    struct str type = text_member(r, v, "type", true);
    bool labels = str_eq(type, S("labels"));
    bool plots = str_eq(type, S("plots"));
    if (!labels && !plots && !str_eq(type, S("round"))) {
        enter_key(r, "type");
        wrong(r, "is nothing that can be printed", "round, plots or labels");
        leave(r);
    }
    d->words = read_words(r, v);
    d->paper = read_paper(r, v, labels);
    d->depot = text_member(r, v, "depot", false);
    d->made = text_member(r, v, "made", false);
    if (labels) {
        read_labels(r, v, d);
    } else if (plots) {
        read_plots(r, v, d);
    } else {
        read_round(r, v, d);
    }
}

bool document_read(struct arena *a, struct str json, struct str name, struct document *d, struct err *e)
{
    struct reader r = {.a = a, .json = json, .name = name, .e = e};
    *d = (struct document){0};
    json_error_t at;
    json_t *tree = json_loadb(json.n ? json.p : "", json.n, JSON_REJECT_DUPLICATES, &at);
    if (!tree) {
        struct where place = {.name = name,
                              .line = at.line > 0 ? (uint32_t)at.line : 0,
                              .column = at.column > 0 ? (uint32_t)at.column : 0};
        return err_at(e, place, ERR_INPUT, 0, "this is not JSON: ", at.text, (char *)0);
    }
    read_document(&r, tree, d);
    json_decref(tree);
    return e->kind == ERR_NONE;
}
