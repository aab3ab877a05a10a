/* The flat question "adjust". */
#include "wasm/flat_adjust.h"

#include "adjust/adjust.h"
#include "wasm/flat_internal.h"

#include <math.h>

/* A whole number of 720ths; `least` is the smallest that may stand. */
static bool count_of(struct str s, int64_t least, const char *name, turns_t *t, struct err *e)
{
    int64_t value = 0;
    if (!num_parse_i64(str_trim(s), &value) || value < least || value > TURNS_MOST) {
        return err_set(e, ERR_INPUT, "a whole number of 720ths of a turn", name, ": \"", str_z(e->a, s), "\"",
                       (char *)0);
    }
    *t = (turns_t)value;
    return true;
}

static bool needed_count(struct flat *f, const char *name, turns_t *t, struct err *e)
{
    struct str s;
    return flat_need(f, name, &s, e) && count_of(s, 1, name, t, e);
}

static bool rules_of(struct flat *f, struct adjust_rules *r, struct err *e)
{
    struct str s;
    *r = (struct adjust_rules){.way = 1, .prior = ADJUST_PRIOR_UNSAID};
    if (!flat_need(f, "way", &s, e)) {
        return false;
    }
    if (!str_eq(s, S("in")) && !str_eq(s, S("out"))) {
        return err_set(e, ERR_INPUT, "in or out", "way: \"", str_z(e->a, s), "\"", (char *)0);
    }
    r->way = str_eq(s, S("in")) ? 1 : -1;
    if (!needed_count(f, "first-step", &r->first_step, e) || !needed_count(f, "step", &r->step, e) ||
        !needed_count(f, "at-most", &r->at_most, e)) {
        return false;
    }
    return !flat_get(f, "prior", &s) || (num_parse(s, &r->prior) && r->prior > 0 && r->prior < 1) ||
           err_set(e, ERR_INPUT, "a chance between 0 and 1", "prior: \"", str_z(e->a, s), "\"", (char *)0);
}

/* "1080 less accepted" */
static bool entry_of(struct str s, struct adjust_entry *entry, struct err *e)
{
    struct str word = {0};
    *entry = (struct adjust_entry){0};
    if (!str_next(&s, ' ', &word) || !count_of(word, -TURNS_MOST, "turn", &entry->turns, e)) {
        return e->kind != ERR_NONE ? false : err_set(e, ERR_INPUT, "turn=1080 less", "turn: nothing", (char *)0);
    }
    while (str_next(&s, ' ', &word)) {
        enum adjust_saw saw = SAW_NOT_SAID;
        if (str_eq(word, S("accepted"))) {
            entry->accepted = true;
        } else if (str_eq(word, S("found"))) {
            entry->found = true;
        } else if (word.n && adjust_saw_parse(word, &saw)) {
            entry->saw = saw;
        } else if (word.n && !str_eq(word, S("-"))) {
            return err_set(e, ERR_INPUT, "gone, less, same, worse, -, accepted, found", "turn: \"", str_z(e->a, word),
                           "\"", (char *)0);
        }
    }
    return true;
}

static void put_turns(struct json *j, const char *key, turns_t t)
{
    struct text says = text_new(j->t->a);
    text_turns(&says, t);
    json_begin_object(j, key);
    json_int(j, "count", t);
    json_str(j, "says", text_str(&says));
    json_end_object(j);
}

static void put_next(struct json *j, const struct adjust_rules *r, const struct adjust_ledger *l)
{
    struct adjust_next next = adjust_next(r, l);
    json_begin_object(j, "next");
    json_strz(j, "advice", adjust_advice_word(next.advice));
    json_strz(j, "reason", adjust_reason_text(next.reason));
    put_turns(j, "turns", next.turns);
    json_num(j, "p_helps", next.p_helps);
    json_num(j, "p_cause", next.p_cause);
    json_end_object(j);
}

/* What was asked, against the ledger. */
static bool put_refusal(struct json *j, struct flat *f, const struct adjust_rules *r, const struct adjust_ledger *l,
                        struct err *e)
{
    struct str s;
    struct str missing;
    struct str other;
    struct adjust_ask ask = {.confirmed = !flat_get(f, "missing", &missing),
                             .other_open = flat_get(f, "other", &other)};
    bool asked = flat_get(f, "ask", &s);
    if (asked && !count_of(s, -TURNS_MOST, "ask", &ask.turns, e)) {
        return false;
    }
    enum adjust_refusal refusal = asked ? adjust_refuses(r, l, &ask) : ADJUST_FINE;
    if (refusal == ADJUST_FINE) {
        json_put_null(j, "refusal");
        return true;
    }
    struct text says = text_new(j->t->a);
    text_adjust_refusal(&says, r, l, refusal, ask.turns, refusal == ADJUST_OTHER_OPEN ? other : missing);
    json_begin_object(j, "refusal");
    json_strz(j, "word", adjust_refusal_word(refusal));
    json_str(j, "says", text_str(&says));
    json_end_object(j);
    return true;
}

static bool adjust_question(struct str question, struct text *answer, struct err *e)
{
    struct flat f;
    struct adjust_rules r;
    struct str s;
    if (!flat_read(answer->a, question, 1, &f, e) || !rules_of(&f, &r, e)) {
        return false;
    }
    struct adjust_ledger l = adjust_begin(&r);
    while (flat_get(&f, "turn", &s)) {
        struct adjust_entry entry;
        if (!entry_of(s, &entry, e)) {
            return false;
        }
        adjust_take(&r, &l, &entry);
    }
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    put_turns(&j, "from_found", l.from_found);
    put_turns(&j, "from_accepted", l.from_accepted);
    put_turns(&j, "back", adjust_back(&l));
    put_turns(&j, "back_to_found", adjust_back_to_found(&l));
    put_turns(&j, "undo", adjust_undo(&l));
    json_bool(&j, "trial_open", l.from_accepted != 0);
    json_bool(&j, "beyond", l.beyond);
    json_int(&j, "steps", l.steps);
    json_strz(&j, "saw", adjust_saw_word(l.saw));
    json_begin_object(&j, "largest");
    json_int(&j, "in", adjust_largest(&r, &l, 1));
    json_int(&j, "out", adjust_largest(&r, &l, -1));
    json_end_object(&j);
    put_next(&j, &r, &l);
    bool fine = put_refusal(&j, &f, &r, &l, e) && flat_done(&f, e);
    json_end_object(&j);
    return fine;
}

void flat_adjust(struct str question, struct text *answer)
{
    struct err e = err_new(answer->a);
    if (!adjust_question(question, answer, &e)) {
        flat_err(answer, &e);
    }
}
