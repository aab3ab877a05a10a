/* From the book, the log and what was seen to the core's model of one trace. */
#include "trace_internal.h"

#include <math.h>
#include <string.h>

#define RECENT_DAYS 14     /* ours: work so lately may have brought it about */
#define RECENT_HOURS 50    /* ours: or so many machine hours ago */
#define READING_DAYS 30    /* ours: a reading older than that says nothing about today */
#define READING_FALSE 0.05 /* ours: chance that a reading is out without any of the causes */
#define DAY_MS 86400000.0

/* ---- items ---- */

static struct str needs_words(const struct trace_build *t, struct book_condition c)
{
    struct text words = text_new(t->a);
    text_condition(&words, t->b, c);
    return text_str(&words);
}

static struct str place_words(const struct trace_build *t, int place)
{
    return place == BOOK_NONE ? S("") : t->b->places[place].label;
}

/* The worst first, so that it is read first. */
static void add_cautions(struct trace_build *t, struct desk_trace_item *item, struct book_refs refs)
{
    const struct book_caution **at = ARENA_ARRAY(t->a, const struct book_caution *, item->n_cautions + refs.n);
    int n = 0;
    for (int level = CAUTION_DANGER; level >= CAUTION_NOTICE; level--) {
        for (int i = 0; i < item->n_cautions + refs.n; i++) {
            const struct book_caution *c =
                i < item->n_cautions ? item->cautions[i] : &t->b->cautions[refs.at[i - item->n_cautions]];
            bool there = false;
            for (int k = 0; k < n; k++) {
                there = there || at[k] == c;
            }
            if ((int)c->level == level && !there) {
                at[n++] = c;
            }
        }
    }
    item->cautions = at;
    item->n_cautions = n;
}

static int add_item(struct trace_build *t, struct desk_trace_item item)
{
    t->out->items[t->out->n_items] = item;
    return t->out->n_items++;
}

static int item_named(const struct trace_build *t, struct str name)
{
    for (int i = 0; i < t->out->n_items; i++) {
        if (str_eq(t->out->items[i].name, name)) {
            return i;
        }
    }
    return -1;
}

/* Not the one that it began with, nor what cannot be together with that. */
static bool makes_sense(const struct trace_build *t, int symptom)
{
    struct book_refs not_with = t->b->symptoms[t->out->symptom].not_with;
    bool sense = symptom != t->out->symptom;
    for (int i = 0; i < not_with.n; i++) {
        sense = sense && not_with.at[i] != symptom;
    }
    return sense;
}

/* A symptom or clue of the book as a sign. */
static int symptom_item(struct trace_build *t, int symptom)
{
    const struct book_symptom *s = &t->b->symptoms[symptom];
    int at = item_named(t, s->name);
    if (at >= 0) {
        return at;
    }
    struct text act = text_new(t->a);
    text_addz(&act, "See whether: ");
    text_add(&act, s->label);
    struct desk_trace_item item = {.sort = TRACE_SYMPTOM,
                                   .index = symptom,
                                   .name = s->name,
                                   .label = s->label,
                                   .act = text_str(&act),
                                   .kind = book_deed_text(DEED_LOOK),
                                   .minutes = fmax(s->takes_s, 15) / 60,
                                   .work_minutes = s->takes_s / 60,
                                   .asked = makes_sense(t, symptom),
                                   .cause = -1,
                                   .task = BOOK_NONE,
                                   .adjuster = BOOK_NONE};
    add_cautions(t, &item, s->cautions);
    return add_item(t, item);
}

static int test_item(struct trace_build *t, int test)
{
    const struct book_test *p = &t->b->tests[test];
    int at = item_named(t, p->name);
    if (at >= 0) {
        return at;
    }
    struct desk_trace_item item = {.sort = TRACE_TEST,
                                   .index = test,
                                   .name = p->name,
                                   .label = p->label,
                                   .act = p->act,
                                   .yes = p->yes,
                                   .no = p->no,
                                   .kind = book_deed_text(p->kind),
                                   .place = place_words(t, p->place),
                                   .needs = needs_words(t, p->needs),
                                   .tools = p->tools,
                                   .minutes = (p->takes_s + p->cost_s) / 60,
                                   .work_minutes = p->takes_s / 60,
                                   .asked = true,
                                   .cause = -1,
                                   .task = BOOK_NONE,
                                   .adjuster = BOOK_NONE};
    add_cautions(t, &item, p->cautions);
    return add_item(t, item);
}

/* The `test` of a cause that names no test of the book: a checkpoint to read, or words. Minutes: ours. */
static int words_item(struct trace_build *t, const struct book_cause *c)
{
    int checkpoint = book_find_checkpoint(t->b, c->test);
    struct text name = text_new(t->a);
    text_addz(&name, "test-");
    text_add(&name, checkpoint == BOOK_NONE ? c->name : c->test);
    for (int i = 0; i < t->out->n_items; i++) { /* two causes with the same words share the test */
        if (t->out->items[i].sort == TRACE_TEST && t->out->items[i].index < 0 &&
            (str_eq(t->out->items[i].act, c->test) || str_eq(t->out->items[i].name, text_str(&name)))) {
            return i;
        }
    }
    struct desk_trace_item item = {.sort = TRACE_TEST,
                                   .index = -1,
                                   .name = text_str(&name),
                                   .label = c->test,
                                   .act = c->test,
                                   .kind = book_deed_text(DEED_LOOK),
                                   .minutes = 5,
                                   .work_minutes = 5,
                                   .asked = true,
                                   .cause = -1,
                                   .task = BOOK_NONE,
                                   .adjuster = BOOK_NONE};
    if (checkpoint != BOOK_NONE) {
        const struct book_checkpoint *p = &t->b->checkpoints[checkpoint];
        item.label = p->label;
        struct text act = text_new(t->a);
        text_addz(&act, p->kind == CHECK_MEASURE ? "Read: " : "Look at: ");
        text_add(&act, p->label);
        item.act = text_str(&act);
        item.kind = book_deed_text(p->kind == CHECK_MEASURE ? DEED_MEASURE : DEED_LOOK);
        item.yes = p->kind == CHECK_MEASURE ? S("out of limits") : S("something is found");
        item.no = p->kind == CHECK_MEASURE ? S("in limits") : S("ok");
        item.place = place_words(t, p->place);
        item.needs = needs_words(t, p->needs);
        item.tools = p->tools;
        item.minutes = item.work_minutes = fmax(2, p->takes_s / 60);
        add_cautions(t, &item, p->cautions);
    }
    return add_item(t, item);
}

/* Half of the steps that an adjuster allows, eight minutes for the first and four for each further one (ours). */
static double adjuster_minutes(const struct book_adjuster *a)
{
    double further = a->step > 0 ? ceil((a->at_most - a->first_step) / a->step / 2) : 0;
    return 8 + 4 * fmax(0, further);
}

/* What cures the cause, as an item that causes may share. */
static int cure_item(struct trace_build *t, int cause)
{
    const struct book_cause *c = &t->b->causes[cause];
    int task = c->mends.n ? book_find_task(t->b, c->mends) : BOOK_NONE;
    int adjuster = c->mends.n && task == BOOK_NONE ? book_find_adjuster(t->b, c->mends) : BOOK_NONE;
    struct str name = task != BOOK_NONE || adjuster != BOOK_NONE ? c->mends : c->name;
    for (int i = t->n_signs; i < t->out->n_items; i++) {
        if (str_eq(t->out->items[i].name, name)) {
            return i;
        }
    }
    struct desk_trace_item item = {.sort = TRACE_CURE,
                                   .index = -1,
                                   .name = name,
                                   .label = c->mends.n  ? c->mends
                                            : c->note.n ? c->note
                                                        : c->label,
                                   .kind = book_deed_text(c->kind),
                                   .place = place_words(t, c->place),
                                   .needs = needs_words(t, c->needs),
                                   .note = c->mends.n ? c->note : S(""),
                                   .tools = c->tools,
                                   .work_minutes = c->takes_s > 0 ? c->takes_s / 60 : 30,
                                   .cause = -1,
                                   .task = task,
                                   .adjuster = adjuster};
    add_cautions(t, &item, c->cautions);
    if (task != BOOK_NONE) {
        const struct book_task *k = &t->b->tasks[task];
        item.label = k->label;
        item.tools = k->tools;
        item.place = place_words(t, k->place);
        item.needs = needs_words(t, k->needs);
        item.work_minutes = c->takes_s > 0 ? c->takes_s / 60 : k->labour_s > 0 ? k->labour_s / 60 : 30;
        add_cautions(t, &item, k->cautions);
        for (int i = 0; i < k->n_steps; i++) {
            add_cautions(t, &item, k->steps[i].cautions);
        }
    } else if (adjuster != BOOK_NONE) {
        const struct book_adjuster *k = &t->b->adjusters[adjuster];
        item.label = k->label;
        item.kind = book_deed_text(DEED_ADJUST);
        item.place = place_words(t, k->place);
        item.needs = needs_words(t, k->needs);
        item.note = k->watch;
        item.work_minutes = c->takes_s > 0 ? c->takes_s / 60 : adjuster_minutes(k);
        add_cautions(t, &item, k->cautions);
    }
    item.act = item.label;
    item.minutes = item.work_minutes + c->cost_s / 60;
    return add_item(t, item);
}

/* ---- what confirmed traces say ---- */

/* Same book as ours: the causes and signs mean the same. */
static bool same_book(const struct trace_build *t, const struct trace_chain *chain)
{
    for (size_t i = 0; i < t->d->n_machines; i++) {
        if (str_eq(t->d->list[i].serial, chain->machine)) {
            return str_eq(t->d->list[i].book_id, t->s->m.book_id);
        }
    }
    return false;
}

static int confirmed_causes(const struct trace_build *t, struct str cause)
{
    int n = 0;
    for (size_t i = 0; i < t->log->n; i++) {
        const struct trace_chain *chain = &t->log->at[i];
        n += chain->confirmed && str_eq(chain->cause, cause) && same_book(t, chain);
    }
    return n;
}

/* What the last look at a sign said in a trace: 1 yes, 0 no, -1 not looked. The symptom that it started from does not
 * count: it was always there. */
static int said_of(const struct trace_chain *chain, struct str sign)
{
    int said = -1;
    for (size_t i = 0; i < chain->n_events; i++) {
        const struct desk_trace_event *e = &chain->events[i];
        if (str_eq(e->what, sign)) {
            said = str_eq(e->step, S("seen")) || str_eq(e->result, S("yes"))      ? 1
                   : str_eq(e->step, S("not-seen")) || str_eq(e->result, S("no")) ? 0
                                                                                  : said;
        }
    }
    return str_eq(chain->symptom, sign) ? -1 : said;
}

/* The book's chance as so many cases, and the confirmed ones: the mean of the Beta posterior. */
static double learned_chance(const struct trace_build *t, struct str cause, struct str sign, double chance)
{
    int yes = 0;
    int no = 0;
    for (size_t i = 0; i < t->log->n; i++) {
        const struct trace_chain *chain = &t->log->at[i];
        if (chain->confirmed && str_eq(chain->cause, cause) && same_book(t, chain)) {
            int said = said_of(chain, sign);
            yes += said == 1;
            no += said == 0;
        }
    }
    return (TRACE_CHANCE_CASES * chance + yes) / (TRACE_CHANCE_CASES + yes + no);
}

/* ---- facts of the log ---- */

struct facts {
    struct desk_trace_fact *at;
    size_t n, cap;
};

static void add_fact(struct trace_build *t, struct facts *f, double factor, const struct text *says, struct str source)
{
    ARENA_PUSH(t->a, f->at, f->n, f->cap) = (struct desk_trace_fact){factor, text_str(says), source};
}

/* Work done lately may have brought it about. Only what speaks strongest counts: several tasks of one visit are one
 * occasion. */
static void fact_after(struct trace_build *t, const struct book_cause *c, struct facts *f)
{
    const struct book_share *strongest = NULL;
    for (int i = 0; i < c->after.n; i++) {
        const struct last *last = &t->s->tasks[c->after.at[i].item];
        double hours = t->s->m.hours_now - last->total_h;
        bool lately = (double)(desk_now(t->d) - last->at) <= RECENT_DAYS * DAY_MS || hours <= RECENT_HOURS;
        if (last->have && lately && (!strongest || c->after.at[i].value > strongest->value)) {
            strongest = &c->after.at[i];
        }
    }
    if (!strongest) {
        return;
    }
    const struct last *last = &t->s->tasks[strongest->item];
    double hours = t->s->m.hours_now - last->total_h;
    struct text says = text_new(t->a);
    text_add(&says, t->b->tasks[strongest->item].label);
    text_addz(&says, " was done ");
    text_day_words(&says, desk_day_of(t->d, last->at));
    if (isfinite(hours)) {
        text_addz(&says, ", ");
        text_hours(&says, fmax(0, hours));
        text_addz(&says, " ago");
    }
    add_fact(t, f, strongest->value, &says, desk_entry_ref(t->a, last->id));
}

static void fact_open(struct trace_build *t, const struct book_cause *c, struct facts *f)
{
    for (int i = 0; i < c->left_open.n; i++) {
        for (size_t k = 0; k < t->s->n_open; k++) {
            if (t->s->open[k].open_item == c->left_open.at[i].item) {
                struct text says = text_new(t->a);
                text_addz(&says, "on the put-back list: ");
                text_add(&says, t->s->open[k].label);
                add_fact(t, f, c->left_open.at[i].value, &says, desk_entry_ref(t->a, t->s->open[k].id));
            }
        }
    }
}

/* The interval in hours of the checkpoint that the task resets. */
static double interval_hours(const struct book *b, int task)
{
    for (int i = 0; i < b->n_checkpoints; i++) {
        if (b->checkpoints[i].task == task && b->checkpoints[i].every.hours > 0) {
            return b->checkpoints[i].every.hours;
        }
    }
    return 0;
}

/* Wear: the hazard of a Weibull life of shape 2 grows with age, on average 1 over its life: 2 age / life. Kept within
 * 0.3 .. 3 (ours), for what else is behind it does not age. */
static void fact_age(struct trace_build *t, const struct book_cause *c, struct facts *f)
{
    if (c->wears == BOOK_NONE) {
        return;
    }
    const struct last *last = &t->s->tasks[c->wears];
    double life = c->life_s > 0 ? c->life_s / 3600 : interval_hours(t->b, c->wears);
    double age = last->have ? t->s->m.hours_now - last->total_h : t->s->m.hours_now;
    if (!(life > 0) || !isfinite(age)) {
        return;
    }
    struct text says = text_new(t->a);
    text_add(&says, t->b->tasks[c->wears].label);
    text_addz(&says, last->have ? ": " : " is not on record: ");
    text_hours(&says, fmax(0, age));
    text_addz(&says, " of ");
    text_hours(&says, life);
    add_fact(t, f, fmin(3, fmax(0.3, 2 * age / life)), &says,
             last->have ? desk_entry_ref(t->a, last->id) : desk_book_line(t->a, t->b, c->pos));
}

/* A test of this trace that reads the checkpoint and was answered tells it already. */
static bool told_by_test(const struct trace_build *t, int checkpoint)
{
    for (int i = 0; i < t->n_signs; i++) {
        const struct desk_trace_item *item = &t->out->items[i];
        if (item->sort == TRACE_TEST && item->index >= 0 && t->b->tests[item->index].checkpoint == checkpoint &&
            (item->state == ITEM_YES || item->state == ITEM_NO)) {
            return true;
        }
    }
    return false;
}

static void fact_reading(struct trace_build *t, const struct book_cause *c, struct facts *f)
{
    for (int i = 0; i < c->reads_out.n; i++) {
        int checkpoint = c->reads_out.at[i].item;
        const struct point_state *point = &t->s->points[checkpoint];
        struct verdict verdict;
        if (!point->reading.have || (double)(desk_now(t->d) - point->reading.at) > READING_DAYS * DAY_MS ||
            told_by_test(t, checkpoint) || !due_judge(t->a, t->s, checkpoint, &verdict) ||
            verdict.word == VERDICT_NOT_JUDGED) {
            continue;
        }
        double chance = c->reads_out.at[i].value;
        double out = (1 - (1 - READING_FALSE) * (1 - chance)) / READING_FALSE;
        struct text says = text_new(t->a);
        text_add(&says, t->b->checkpoints[checkpoint].label);
        text_join(&says, " was ", verdict_word_text(verdict.word), " ", (char *)0);
        text_day_words(&says, desk_day_of(t->d, point->reading.at));
        add_fact(t, f,
                 verdict.word == VERDICT_OUT     ? out
                 : verdict.word == VERDICT_CLOSE ? 1 + (out - 1) / 4 /* ours: a quarter of what an out says */
                                                 : 1 - chance + 0.01,
                 &says, desk_entry_ref(t->a, point->reading.id));
    }
}

static void gather_facts(struct trace_build *t, struct desk_trace_cause *cause)
{
    const struct book_cause *c = &t->b->causes[cause->cause];
    struct facts f = {0};
    fact_after(t, c, &f);
    fact_open(t, c, &f);
    fact_age(t, c, &f);
    fact_reading(t, c, &f);
    cause->facts = f.at;
    cause->n_facts = (int)f.n;
    cause->factor = 1;
    for (size_t i = 0; i < f.n; i++) {
        cause->factor *= f.at[i].factor;
    }
}

/* ---- what was seen ---- */

static void add_event(struct trace_build *t, enum trace_what what, int index, bool yes)
{
    for (int i = 0; i < t->n_events; i++) { /* what was said of it later holds */
        if (t->events[i].what == what && t->events[i].index == index) {
            memmove(&t->events[i], &t->events[i + 1], (size_t)(t->n_events - i - 1) * sizeof *t->events);
            t->n_events--;
            break;
        }
    }
    t->events[t->n_events++] = (struct trace_event){what, index, yes};
}

/* "110" is every FMI of that SPN. */
static bool code_fits(struct str code, struct str key)
{
    return str_eq(code, key) ||
           (str_find(code, S("/")) < 0 && key.n > code.n && str_starts(key, code) && key.p[code.n] == '/');
}

/* The key of an active fault that is this sign; empty when there is none. */
static struct str active_code(const struct machine_state *s, const struct book_symptom *symptom)
{
    for (size_t i = 0; i < s->n_faults; i++) {
        for (int k = 0; k < symptom->codes.n; k++) {
            if (code_fits(symptom->codes.at[k], s->faults[i].key)) {
                return s->faults[i].key;
            }
        }
    }
    return (struct str){0};
}

static void take_codes(struct trace_build *t)
{
    for (int i = 0; i < t->n_signs; i++) {
        struct desk_trace_item *item = &t->out->items[i];
        struct str key = item->sort == TRACE_SYMPTOM ? active_code(t->s, &t->b->symptoms[item->index]) : S("");
        if (key.n && item->state == ITEM_OPEN) {
            struct text from = text_new(t->a);
            text_addz(&from, "fault ");
            text_add(&from, key);
            text_addz(&from, " is active");
            item->state = ITEM_YES;
            item->from = text_str(&from);
            add_event(t, TRACE_SIGN, i, true);
        }
    }
}

/* A reading taken since the trace began, or up to two days before it, answers the test that reads it. */
static void take_readings(struct trace_build *t)
{
    instant_ms since = (t->chain ? t->chain->since : desk_now(t->d)) - (instant_ms)(2 * DAY_MS);
    for (int i = 0; i < t->n_signs; i++) {
        struct desk_trace_item *item = &t->out->items[i];
        int checkpoint = item->sort == TRACE_TEST && item->index >= 0 ? t->b->tests[item->index].checkpoint : BOOK_NONE;
        struct verdict verdict;
        if (checkpoint == BOOK_NONE || item->state != ITEM_OPEN || !t->s->points[checkpoint].reading.have ||
            t->s->points[checkpoint].reading.at < since || !due_judge(t->a, t->s, checkpoint, &verdict) ||
            verdict.word == VERDICT_NOT_JUDGED) {
            continue;
        }
        item->state = verdict.word == VERDICT_OUT ? ITEM_YES : ITEM_NO;
        item->from = desk_entry_ref(t->a, t->s->points[checkpoint].reading.id);
        add_event(t, TRACE_SIGN, i, verdict.word == VERDICT_OUT);
    }
}

static void take_event(struct trace_build *t, const struct desk_trace_event *event)
{
    int at = item_named(t, event->what);
    if (at < 0) {
        return; /* started, ended, or of an edition that named it otherwise */
    }
    struct desk_trace_item *item = &t->out->items[at];
    bool sign = at < t->n_signs;
    item->from = desk_entry_ref(t->a, event->id);
    if (str_eq(event->step, S("cannot"))) {
        item->state = ITEM_CANNOT;
        return;
    }
    bool yes = str_eq(event->step, S("seen")) || str_eq(event->result, S("yes")) || str_eq(event->result, S("cured"));
    item->state = yes ? ITEM_YES : ITEM_NO;
    t->out->cured = t->out->cured || (!sign && yes);
    add_event(t, sign ? TRACE_SIGN : TRACE_REPAIR, sign ? at : at - t->n_signs, yes);
}

/* ---- putting it together ---- */

/* Symptoms that were seen: the one it started from, those said since, those of active codes. */
static bool was_seen(const struct trace_build *t, int symptom)
{
    const struct book_symptom *s = &t->b->symptoms[symptom];
    bool seen = symptom == t->out->symptom || (!s->clue && active_code(t->s, s).n);
    for (size_t i = 0; t->chain && !s->clue && i < t->chain->n_events; i++) {
        if (str_eq(t->chain->events[i].what, s->name)) {
            seen = str_eq(t->chain->events[i].step, S("seen"));
        }
    }
    return seen;
}

static void choose_causes(struct trace_build *t)
{
    struct desk_trace *out = t->out;
    out->causes = ARENA_ARRAY(t->a, struct desk_trace_cause, t->b->n_causes + 1);
    for (int i = 0; i < t->b->n_causes && out->n_causes < TRACE_CAUSES; i++) {
        const struct book_cause *c = &t->b->causes[i];
        bool in = false;
        for (int k = 0; k < c->shows.n; k++) {
            in = in || (c->shows.at[k].value > 0 && was_seen(t, c->shows.at[k].item));
        }
        if (in && c->weight > 0) {
            out->causes[out->n_causes++] = (struct desk_trace_cause){.cause = i,
                                                                     .name = c->name,
                                                                     .label = c->label,
                                                                     .book_weight = c->weight,
                                                                     .confirmed = confirmed_causes(t, c->name)};
        }
    }
}

static void choose_signs(struct trace_build *t)
{
    struct desk_trace *out = t->out;
    (void)symptom_item(t, out->symptom);
    for (int i = 0; i < out->n_causes; i++) {
        const struct book_cause *c = &t->b->causes[out->causes[i].cause];
        for (int k = 0; k < c->shows.n; k++) {
            (void)symptom_item(t, c->shows.at[k].item);
        }
        for (int k = 0; k < c->proves.n; k++) {
            (void)test_item(t, c->proves.at[k].item);
        }
        if (c->proves.n == 0 && c->test.n && book_find_task(t->b, c->test) == BOOK_NONE) {
            (void)words_item(t, c);
        }
    }
    t->n_signs = out->n_items;
}

/* Chances of every sign and cause. */
static void fill_chances(struct trace_build *t)
{
    int n = t->out->n_causes;
    t->chance = ARENA_ARRAY(t->a, double, t->n_signs *n + 1);
    t->by_itself = ARENA_ARRAY(t->a, double, t->n_signs + 1);
    t->sign_cost = ARENA_ARRAY(t->a, double, t->n_signs + 1);
    for (int s = 0; s < t->n_signs; s++) {
        const struct desk_trace_item *item = &t->out->items[s];
        t->by_itself[s] = item->sort == TRACE_SYMPTOM ? t->b->symptoms[item->index].by_itself
                          : item->index >= 0          ? t->b->tests[item->index].by_itself
                                                      : 0.05;
        t->sign_cost[s] = item->asked ? fmax(item->minutes, 0.25) : (double)INFINITY;
    }
    for (int i = 0; i < n; i++) {
        const struct book_cause *c = &t->b->causes[t->out->causes[i].cause];
        for (int k = 0; k < c->shows.n; k++) {
            int s = symptom_item(t, c->shows.at[k].item);
            t->chance[s * n + i] = learned_chance(t, c->name, t->out->items[s].name, c->shows.at[k].value);
        }
        for (int k = 0; k < c->proves.n; k++) {
            int s = test_item(t, c->proves.at[k].item);
            t->chance[s * n + i] = learned_chance(t, c->name, t->out->items[s].name, c->proves.at[k].value);
        }
        if (c->proves.n == 0 && c->test.n && book_find_task(t->b, c->test) == BOOK_NONE) {
            int s = words_item(t, c);
            t->chance[s * n + i] = learned_chance(t, c->name, t->out->items[s].name, 0.9);
        }
    }
}

static void fill_cures(struct trace_build *t)
{
    struct desk_trace *out = t->out;
    int n = out->n_causes;
    t->cures = ARENA_ARRAY(t->a, double, n *n + 1);
    t->repair_cost = ARENA_ARRAY(t->a, double, n + 1);
    for (int i = 0; i < n; i++) {
        const struct book_cause *c = &t->b->causes[out->causes[i].cause];
        int at = cure_item(t, out->causes[i].cause);
        int r = at - t->n_signs;
        out->items[at].cause = out->items[at].cause < 0 ? i : out->items[at].cause;
        t->cures[r * n + i] = c->cures > 0 ? c->cures : 0.95;
        t->repair_cost[r] = fmax(out->items[at].minutes, 1);
    }
}

static void add_call(struct trace_build *t)
{
    const struct book_help *h = &t->b->help;
    double minutes = h->given && h->takes_s > 0 ? h->takes_s / 60 : TRACE_HELP_MINUTES;
    struct desk_trace_item item = {.sort = TRACE_CALL,
                                   .index = -1,
                                   .name = S("help"),
                                   .label = h->label.n ? h->label : S("Call for help"),
                                   .act = S("Call for help"),
                                   .kind = book_deed_text(DEED_HELP),
                                   .minutes = minutes,
                                   .work_minutes = minutes,
                                   .cause = -1,
                                   .task = BOOK_NONE,
                                   .adjuster = BOOK_NONE};
    (void)add_item(t, item);
    t->m.help_cost = minutes;
}

void trace_build(struct trace_build *t)
{
    struct desk_trace *out = t->out;
    out->items = ARENA_ARRAY(t->a, struct desk_trace_item, t->b->n_symptoms + t->b->n_tests + 2 * t->b->n_causes + 2);
    choose_causes(t);
    choose_signs(t);
    fill_chances(t);
    fill_cures(t);
    int n_repairs = out->n_items - t->n_signs;
    add_call(t);
    size_t events = (size_t)out->n_items * 2 + (t->chain ? t->chain->n_events : 0) + 1;
    t->events = ARENA_ARRAY(t->a, struct trace_event, events);
    out->items[0].state = ITEM_YES;
    add_event(t, TRACE_SIGN, 0, true);
    for (size_t i = 0; t->chain && i < t->chain->n_events; i++) {
        take_event(t, &t->chain->events[i]);
    }
    take_codes(t);
    take_readings(t);
    t->weight = ARENA_ARRAY(t->a, double, out->n_causes + 1);
    double weights = 0;
    for (int i = 0; i < out->n_causes; i++) {
        struct desk_trace_cause *c = &out->causes[i];
        gather_facts(t, c);
        weights += c->book_weight + c->confirmed;
        t->weight[i] = (c->book_weight + c->confirmed) * c->factor;
    }
    t->no_sign = ARENA_ARRAY(t->a, bool, t->n_signs + 1);
    t->no_repair = ARENA_ARRAY(t->a, bool, n_repairs + 1);
    for (int i = 0; i < out->n_items; i++) {
        bool cannot = out->items[i].state == ITEM_CANNOT;
        if (i < t->n_signs) {
            t->no_sign[i] = cannot;
        } else if (i - t->n_signs < n_repairs) {
            t->no_repair[i - t->n_signs] = cannot;
        }
    }
    t->m.n_causes = out->n_causes;
    t->m.weight = t->weight;
    t->m.other = TRACE_OTHER_SHARE * weights;
    t->m.pairs = TRACE_PAIR_ODDS;
    t->m.n_signs = t->n_signs;
    t->m.by_itself = t->by_itself;
    t->m.chance = t->chance;
    t->m.sign_cost = t->sign_cost;
    t->m.n_repairs = n_repairs;
    t->m.repair_cost = t->repair_cost;
    t->m.cures = t->cures;
}
