/* The flat question "recover". */
#include "wasm/flat_adjust.h"

#include "recover/recover.h"
#include "wasm/flat_internal.h"

#include <math.h>

#define EVENTS_MOST 10000

/* "0 1 17" as a set. */
static bool items_of(struct str s, uint64_t *set, struct err *e)
{
    struct str word;
    *set = 0;
    while (str_next(&s, ' ', &word)) {
        int64_t item = 0;
        if (word.n == 0) {
            continue;
        }
        if (!num_parse_i64(word, &item) || item < 0 || item > 63) {
            return err_set(e, ERR_INPUT, "numbers of items, 0 to 63", "no item: \"", str_z(e->a, word), "\"",
                           (char *)0);
        }
        *set |= UINT64_C(1) << item;
    }
    return true;
}

/* So many numbers of at least 0, "?" = NAN. */
static bool numbers_of(struct str s, const char *name, double *out, int n, struct err *e)
{
    struct str word;
    int k = 0;
    for (; k < n && str_next(&s, ' ', &word); k++) {
        out[k] = (double)NAN;
        if (!str_eq(word, S("?")) && (!num_parse(word, &out[k]) || !(out[k] >= 0))) {
            return err_set(e, ERR_INPUT, "a number of 0 or more, or ?", name, ": \"", str_z(e->a, word), "\"",
                           (char *)0);
        }
    }
    return k == n || err_set(e, ERR_INPUT, "as many numbers as flat_adjust.h says, ? for what is not known", name,
                             " has too few numbers", (char *)0);
}

static bool steps_of(struct flat *f, struct recover_step *steps, int *n, struct err *e)
{
    struct str s;
    for (*n = 0; flat_get(f, "step", &s); (*n)++) {
        struct str opens = {0};
        if (*n == RECOVER_STEPS_MOST) {
            return err_set(e, ERR_INPUT, "at most 64 steps", "too many steps", (char *)0);
        }
        (void)str_next(&s, '|', &opens);
        if (!items_of(opens, &steps[*n].opens, e) || !items_of(s, &steps[*n].closes, e)) {
            return false;
        }
    }
    return true;
}

/* Events stand in the order of their lines, whatever their kind. */
static bool events_of(struct flat *f, struct recover_event *events, size_t *n, struct err *e)
{
    (void)flat_next(f, "opened"); /* names that are known, for "did you mean"; taken below in the lines' order */
    for (size_t i = 0; i < f->n; i++) {
        f->at[i].taken = f->at[i].taken && !str_eq(f->at[i].name, S("opened"));
    }
    *n = 0;
    for (size_t i = 0; i < f->n; i++) {
        struct flat_line *line = &f->at[i];
        double number[4] = {(double)NAN, (double)NAN, (double)NAN, (double)NAN};
        struct recover_event event = {.kind = RECOVER_OPENED};
        bool moved = str_eq(line->name, S("moved"));
        bool closed = str_eq(line->name, S("closed"));
        if (line->taken || (!moved && !closed && !str_eq(line->name, S("opened")))) {
            continue;
        }
        line->taken = true;
        if (*n == EVENTS_MOST) {
            return err_set(e, ERR_INPUT, "at most 10000", "too many events", (char *)0);
        }
        event.kind = moved ? RECOVER_MOVED : closed ? RECOVER_CLOSED : RECOVER_OPENED;
        if (moved ? !numbers_of(line->value, "moved", number, 4, e) : !items_of(line->value, &event.items, e)) {
            return false;
        }
        event.distance_m = isfinite(number[0]) ? number[0] : 0;
        event.time_s = number[1];
        event.slope = number[2];
        event.load_kg = number[3];
        events[(*n)++] = event;
    }
    return true;
}

static void put_state(struct json *j, const struct recover_state *s, const struct recover_step *steps, int n)
{
    int order[RECOVER_STEPS_MOST];
    int back = recover_way_back(steps, n, s->open, order);
    json_strz(j, "phase", recover_phase_word(s->phase));
    json_begin_array(j, "open");
    for (int i = 0; i < 64; i++) {
        if (s->open >> i & 1) {
            json_int(j, NULL, i);
        }
    }
    json_end_array(j);
    if (s->next < 0) {
        json_put_null(j, "next");
    } else {
        json_int(j, "next", s->next);
    }
    json_bool(j, "back", s->next_back);
    json_begin_array(j, "way_back");
    for (int i = 0; i < back; i++) {
        json_int(j, NULL, order[i]);
    }
    json_end_array(j);
    json_bool(j, "out_of_order", s->out_of_order);
    json_num(j, "distance_m", s->distance_m);
    json_num(j, "time_s", s->time_s);
    json_int(j, "moves", s->moves);
    json_int(j, "untimed", s->untimed);
}

static void put_limits(struct json *j, const struct recover_judged judged[LIMIT_COUNT])
{
    json_begin_object(j, "limits");
    for (int i = 0; i < LIMIT_COUNT; i++) {
        json_begin_object(j, recover_limit_word((enum recover_limit)i));
        json_bool(j, "known", judged[i].known);
        json_bool(j, "exceeded", judged[i].exceeded);
        json_num(j, "value", judged[i].value);
        json_num(j, "limit", judged[i].limit);
        json_num(j, "left", judged[i].left);
        json_end_object(j);
    }
    json_end_object(j);
}

static bool recover_question(struct str question, struct text *answer, struct err *e)
{
    struct flat f;
    struct recover_step steps[RECOVER_STEPS_MOST] = {{0, 0}};
    struct str s;
    double limit[5];
    double plan[4] = {(double)NAN, (double)NAN, (double)NAN, (double)NAN};
    int n_steps = 0;
    size_t n = 0;
    if (!flat_read(answer->a, question, 1, &f, e) || !steps_of(&f, steps, &n_steps, e) ||
        !flat_need(&f, "limit", &s, e) || !numbers_of(s, "limit", limit, 5, e) ||
        (flat_get(&f, "plan", &s) && !numbers_of(s, "plan", plan, 4, e))) {
        return false;
    }
    struct recover_event *events = ARENA_ARRAY(answer->a, struct recover_event, f.n + 1);
    if (!events_of(&f, events, &n, e) || !flat_done(&f, e)) {
        return false;
    }
    struct recover_state state = recover_read(steps, n_steps, events, n);
    struct recover_limits limits = {limit[0], limit[1], limit[2], limit[3], limit[4]};
    struct recover_plan wanted = {plan[0], plan[1], plan[2], plan[3]};
    struct recover_judged judged[LIMIT_COUNT];
    bool exceeded = recover_judge(&limits, &state, &wanted, judged);
    struct json j = json_new(answer, false);
    json_begin_object(&j, NULL);
    put_state(&j, &state, steps, n_steps);
    put_limits(&j, judged);
    json_bool(&j, "exceeded", exceeded);
    json_end_object(&j);
    return true;
}

void flat_recover(struct str question, struct text *answer)
{
    struct err e = err_new(answer->a);
    if (!recover_question(question, answer, &e)) {
        flat_err(answer, &e);
    }
}
