/* Writing a trace down: one entry per thing that was seen, done or said. */
#include "trace_internal.h"

#include "desk_entry.h"
#include "trace/failure_words.h"

#include <jansson.h>

struct noting {
    struct desk *d;
    struct desk_stamp s;
    struct arena *a;
    struct desk_trace trace;
    struct str chain; /* id of the start, as text */
    struct text says;
    struct err *e;
};

static void put(json_t *body, const char *key, struct str value)
{
    if (value.n) {
        json_object_set_new(body, key, json_stringn(value.p, value.n));
    }
}

/* Writes one entry; body is given back. */
static bool write_entry(struct noting *n, json_t *body, struct entry_id *id)
{
    struct desk_recorded out;
    put(body, "trace", n->chain);
    put(body, "note", str_trim(n->s.note));
    bool ok = desk_record_body(n->d, &n->s, KIND_TRACE, body, n->a, &out, n->e);
    json_decref(body);
    if (ok) {
        text_add(&n->says, out.says);
        text_char(&n->says, '\n');
        n->s.note = (struct str){0}; /* once is enough */
        if (id) {
            *id = out.id;
        }
    }
    return ok;
}

static json_t *step_body(const char *step)
{
    json_t *body = json_object();
    json_object_set_new(body, "step", json_string(step));
    return body;
}

/* Begins the trace when it is not on record yet. */
static bool begin_trace(struct noting *n)
{
    if (n->trace.started) {
        struct text id = text_new(n->a);
        text_entry_id(&id, n->trace.id);
        n->chain = text_str(&id);
        return true;
    }
    struct entry_id id;
    json_t *body = step_body("started");
    put(body, "symptom", n->trace.machine->book->symptoms[n->trace.symptom].name);
    if (!write_entry(n, body, &id)) {
        return false;
    }
    struct text text = text_new(n->a);
    text_entry_id(&text, id);
    n->chain = text_str(&text);
    return true;
}

/* Signs that were seen or not, or steps that can't be done, comma separated. */
static bool note_list(struct noting *n, struct str list, const char *step, unsigned sorts)
{
    struct str one;
    while (str_next(&list, ',', &one)) {
        one = str_trim(one);
        if (one.n == 0) {
            continue;
        }
        int item = trace_item_find(&n->trace, one, sorts, n->e);
        if (item < 0) {
            return false;
        }
        json_t *body = step_body(step);
        put(body, "what", n->trace.items[item].name);
        if (!write_entry(n, body, NULL)) {
            return false;
        }
    }
    return true;
}

/* "yes", "no", "cured", "still" and what people say for them; null = none of them. */
static const char *result_word(struct str result, bool cure)
{
    static const struct {
        const char *said, *sign, *cure;
    } rows[] = {{"yes", "yes", "cured"},
                {"no", "no", "not-cured"},
                {"cured", NULL, "cured"},
                {"gone", NULL, "cured"},
                {"not-cured", NULL, "not-cured"},
                {"still", NULL, "not-cured"},
                {"still there", NULL, "not-cured"},
                {"out", "yes", NULL},
                {"in limits", "no", NULL},
                {"ok", "no", NULL}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (str_eq_nocase(result, str_of(rows[i].said))) {
            return cure ? rows[i].cure : rows[i].sign;
        }
    }
    return NULL;
}

static bool note_did(struct noting *n, struct str did, struct str result)
{
    int item =
        trace_item_find(&n->trace, str_trim(did), 1U << TRACE_TEST | 1U << TRACE_CURE | 1U << TRACE_SYMPTOM, n->e);
    if (item < 0) {
        return false;
    }
    bool cure = n->trace.items[item].sort == TRACE_CURE;
    const char *word = result_word(str_trim(result), cure);
    if (!word) {
        return err_set(
            n->e, ERR_INPUT, cure ? "--result cured or --result still" : "--result yes or --result no",
            result.n ? "'" : "how did it come out: ", str_z(n->e->a, result.n ? result : n->trace.items[item].label),
            result.n ? "' is no result" : "", (char *)0);
    }
    json_t *body = step_body("done");
    put(body, "what", n->trace.items[item].name);
    put(body, "result", str_of(word));
    return write_entry(n, body, NULL);
}

/* A word of ISO 14224: as said, else the book's. */
static bool put_failure(struct noting *n, json_t *body, const char *key, enum failure_table table, struct str said,
                        int book)
{
    size_t count = 0;
    const char *const *words = failure_words(table, &count);
    int word = said.n ? failure_find(table, said) : book;
    if (word < 0) {
        struct str *names = ARENA_ARRAY(n->e->a, struct str, count);
        for (size_t i = 0; i < count; i++) {
            names[i] = str_of(words[i]);
        }
        ptrdiff_t near = str_nearest(said, names, count);
        struct text right = text_new(n->e->a);
        text_addz(&right, near >= 0 ? "did you mean " : "one of ");
        for (size_t i = 1; near < 0 && i < count; i++) {
            text_join(&right, i > 1 ? ", " : "", words[i], (char *)0);
        }
        text_addz(&right, near >= 0 ? words[near] : "");
        return err_set(n->e, ERR_INPUT, text_z(&right), "'", str_z(n->e->a, said), "' is no ", key, (char *)0);
    }
    if (word > 0) {
        json_object_set_new(body, key, json_string(words[word]));
    }
    return true;
}

/* Ends it: with the cause, by name or words, or with none. */
static bool note_cause(struct noting *n, const struct desk_trace_note *note)
{
    struct str said = str_trim(note->cause);
    json_t *body = step_body("ended");
    const struct book *b = n->trace.machine->book;
    const struct book_cause *cause = NULL;
    if (!str_eq_nocase(said, S("none"))) {
        struct find_phrase *phrases = ARENA_ARRAY(n->a, struct find_phrase, 2 * b->n_causes + 1);
        double *fit = ARENA_ARRAY(n->a, double, b->n_causes + 1);
        int at = book_find_cause(b, said);
        for (int i = 0; at == BOOK_NONE && i < b->n_causes; i++) {
            phrases[2 * i] = (struct find_phrase){i, b->causes[i].label};
            phrases[2 * i + 1] = (struct find_phrase){i, b->causes[i].name};
        }
        if (at == BOOK_NONE) {
            find_things(said, phrases, 2 * (size_t)b->n_causes, b->n_causes, n->a, fit);
            at = find_best(fit, b->n_causes, NULL);
        }
        if (at == BOOK_NONE) {
            struct str *names = ARENA_ARRAY(n->e->a, struct str, b->n_causes + 1);
            for (int i = 0; i < b->n_causes; i++) {
                names[i] = b->causes[i].name;
            }
            ptrdiff_t near = str_nearest(said, names, (size_t)b->n_causes);
            json_decref(body);
            return err_set(n->e, ERR_MISSING,
                           near >= 0 ? str_z(n->e->a, names[near]) : "a cause of the ladder, by name, or none",
                           "the book has no cause '", str_z(n->e->a, said), "'", (char *)0);
        }
        cause = &b->causes[at];
        put(body, "cause", cause->name);
        json_object_set_new(body, "confirmed", json_true());
    }
    if (!put_failure(n, body, "mode", FAILURE_MODE, note->mode, cause ? cause->mode : 0) ||
        !put_failure(n, body, "mechanism", FAILURE_MECHANISM, note->mechanism, cause ? cause->mechanism : 0) ||
        !put_failure(n, body, "root", FAILURE_CAUSE, note->root, cause ? cause->root : 0)) {
        json_decref(body);
        return false;
    }
    return write_entry(n, body, NULL);
}

bool desk_trace_record(struct desk *d, const struct desk_stamp *s, const struct desk_trace_note *note, struct arena *a,
                       struct str *says, struct err *e)
{
    struct noting n = {.d = d, .s = *s, .a = a, .says = text_new(a), .e = e};
    *says = (struct str){0};
    if (!desk_trace(d, s->machine, note->words, a, &n.trace, e)) {
        return false;
    }
    /* Names are held against the book before the first entry is written, so that a slip leaves nothing half noted. */
    struct str lists[] = {note->saw, note->saw_not, note->cannot};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
        struct str one;
        while (str_next(&lists[i], ',', &one)) {
            unsigned sorts = i < 2 ? 1U << TRACE_SYMPTOM | 1U << TRACE_TEST
                                   : 1U << TRACE_SYMPTOM | 1U << TRACE_TEST | 1U << TRACE_CURE;
            if (str_trim(one).n && trace_item_find(&n.trace, str_trim(one), sorts, e) < 0) {
                return false;
            }
        }
    }
    bool ok = begin_trace(&n) && note_list(&n, note->saw, "seen", 1U << TRACE_SYMPTOM | 1U << TRACE_TEST) &&
              note_list(&n, note->saw_not, "not-seen", 1U << TRACE_SYMPTOM | 1U << TRACE_TEST) &&
              (note->did.n == 0 || note_did(&n, note->did, note->result)) &&
              note_list(&n, note->cannot, "cannot", 1U << TRACE_SYMPTOM | 1U << TRACE_TEST | 1U << TRACE_CURE) &&
              (str_trim(note->cause).n == 0 || note_cause(&n, note));
    *says = text_str(&n.says);
    return ok;
}
