/* The document that the printing program reads (docs/print.md): a round with everything a sheet shows, texts ready for
 * the reader. */
#include "exhaust_internal.h"
#include "judge/correction.h"
#include "print_internal.h"

#include "base/base64.h"

#include <math.h>
#include <string.h>

void print_strings(struct json *j, const char *key, const struct str *at, size_t n)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        json_str(j, NULL, at[i]);
    }
    json_end_array(j);
}

void print_cautions(struct printing *p, struct book_refs refs)
{
    json_begin_array(&p->j, "cautions");
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *c = &p->b->cautions[refs.at[i]];
        json_begin_object(&p->j, NULL);
        json_strz(&p->j, "level", book_caution_level_text(c->level));
        json_str(&p->j, "say", c->say);
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
}

static void open_items(struct printing *p, const char *key, struct book_refs refs)
{
    json_begin_array(&p->j, key);
    for (int i = 0; i < refs.n; i++) {
        json_str(&p->j, NULL, p->b->open_items[refs.at[i]].label);
    }
    json_end_array(&p->j);
}

static void torques(struct printing *p, struct book_refs refs)
{
    json_begin_array(&p->j, "torques");
    for (int i = 0; i < refs.n; i++) {
        const struct book_torque *torque = &p->b->torques[refs.at[i]];
        struct text t = text_new(p->a);
        text_add(&t, torque->label);
        text_char(&t, ' ');
        text_quantity_in(&t, torque->torque.q, p->d->units);
        json_str(&p->j, NULL, text_str(&t));
    }
    json_end_array(&p->j);
}

void print_shown(struct printing *p, struct book_shown s)
{
    if (s.figure == BOOK_NONE) {
        return;
    }
    p->figures[s.figure] = true;
    json_begin_object(&p->j, "figure");
    json_str(&p->j, "name", p->b->figures[s.figure].name);
    json_int(&p->j, "mark", s.mark);
    json_end_object(&p->j);
}

struct str print_place_label(const struct printing *p, int place)
{
    return place == BOOK_NONE ? (struct str){0} : p->b->places[place].label;
}

static void one_change(struct printing *p, const struct desk_round_step *step)
{
    const struct book_change *change = &p->b->changes[step->change];
    json_str(&p->j, "act", change->act);
    print_cautions(p, change->cautions);
    open_items(p, "opens", change->opens);
    open_items(p, "closes", change->closes);
    print_strings(&p->j, "tools", change->tools.at, (size_t)change->tools.n);
    print_shown(p, change->shown);
}

void desk_read_json(struct json *j, struct desk *d, const struct book_checkpoint *c, const struct point_state *point)
{
    json_begin_object(j, "read");
    json_str(j, "measure", c->measure);
    const struct unit *read = checkpoint_read_unit(c);
    const struct unit *unit = read ? unit_preferred(d->units, read) : NULL;
    /* What is read can only be drawn between its limits when they are of the same kind. */
    bool drawn = unit && c->limits.unit && unit->kind == c->limits.unit->kind;
    json_strz(j, "unit", unit ? unit->shown : "");
    struct text t = text_new(j->t->a);
    text_limits(&t, d, c->limits);
    json_str(j, "limits", text_str(&t));
    if (drawn) {
        /* For the gauge that is drawn: the limits as numbers in the unit shown. */
        json_num(j, "low", unit_from_si(unit, c->low_si));
        json_num(j, "high", unit_from_si(unit, c->high_si));
    }
    if (c->want.given) {
        t = text_new(j->t->a);
        text_quantity_in(&t, c->want.q, d->units);
        json_str(j, "want", text_str(&t));
        json_num(j, "want_value",
                 drawn ? unit_from_si(unit, unit_to_si(c->want.q.unit, c->want.q.value)) : (double)NAN);
    }
    if (c->correction != CORRECT_NONE) {
        const struct correction_rule *rule = correction_rule(c->correction);
        t = text_new(j->t->a);
        text_addz(&t, rule->becomes);
        if (rule->reference) {
            text_addz(&t, " at ");
            text_number(&t, c->reference_k - 273.15, 1);
            text_addz(&t, " °C");
        }
        json_str(j, "refer_to", text_str(&t));
    }
    json_begin_array(j, "also");
    for (int i = 0; i < c->n_also; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", c->also[i].name);
        json_strz(j, "unit", c->also[i].unit ? unit_preferred(d->units, c->also[i].unit)->shown : "");
        json_end_object(j);
    }
    json_end_array(j);
    if (point->reading.have) {
        t = text_new(j->t->a);
        text_quantity_in(&t, point->value, d->units);
        text_addz(&t, " on ");
        text_day_words(&t, desk_day_of(d, point->reading.at));
        json_str(j, "last", text_str(&t));
        json_num(j, "last_value",
                 drawn && point->value.unit && point->value.unit->kind == unit->kind
                     ? unit_from_si(unit, unit_to_si(point->value.unit, point->value.value))
                     : (double)NAN);
    }
    json_end_object(j);
}

static void one_check(struct printing *p, const struct desk_round_step *step)
{
    const struct book_checkpoint *c = &p->b->checkpoints[step->checkpoint];
    json_str(&p->j, "label", c->label);
    json_str(&p->j, "why", step->why);
    print_cautions(p, c->cautions);
    print_strings(&p->j, "tools", c->tools.at, (size_t)c->tools.n);
    if (c->kind == CHECK_LOOK) {
        print_strings(&p->j, "look", c->look.at, (size_t)c->look.n);
    } else {
        desk_read_json(&p->j, p->d, c, &desk_state_of(p->d, p->m)->points[step->checkpoint]);
    }
    print_shown(p, c->shown);
}

static void uses(struct printing *p, const struct book_task *task)
{
    json_begin_array(&p->j, "parts");
    for (int i = 0; i < task->n_parts; i++) {
        const struct book_part *part = &p->b->parts[task->parts[i].item];
        struct text t = text_new(p->a);
        text_number(&t, task->parts[i].quantity, 2);
        text_addz(&t, " × ");
        text_add(&t, part->now);
        text_char(&t, ' ');
        text_add(&t, part->label);
        json_str(&p->j, NULL, text_str(&t));
    }
    json_end_array(&p->j);
    json_begin_array(&p->j, "fluids");
    for (int i = 0; i < task->n_fluids; i++) {
        const struct book_use *use = &task->fluids[i];
        const struct book_quantity *q = use->written.given ? &use->written : &p->b->fluids[use->item].capacity;
        struct text t = text_new(p->a);
        if (q->given) {
            text_quantity_in(&t, q->q, p->d->units);
            text_char(&t, ' ');
        }
        text_add(&t, p->b->fluids[use->item].label);
        json_str(&p->j, NULL, text_str(&t));
    }
    json_end_array(&p->j);
}

/* A step of words alone. */
static void words_step(struct printing *p, struct str act)
{
    static const struct book_refs none;
    json_begin_object(&p->j, NULL);
    json_str(&p->j, "act", act);
    json_str(&p->j, "place", (struct str){0});
    print_cautions(p, none);
    torques(p, none);
    open_items(p, "opens", none);
    open_items(p, "closes", none);
    print_strings(&p->j, "tools", NULL, 0);
    json_str(&p->j, "waste", (struct str){0});
    json_end_object(&p->j);
}

/* Before a parked burn: where the filter stands, and what must be so at the place. */
static void burn_steps(struct printing *p)
{
    const struct exhaust_now *now = exhaust_of(p->d, desk_state_of(p->d, p->m));
    struct text t = text_new(p->a);
    text_addz(&t, "Exhaust filter: ");
    if (now && now->x.known) {
        text_soot(&t, p->d, now);
    } else {
        text_addz(&t, "soot not known, read the gauge");
    }
    if (now && now->x.inhibited) {
        text_addz(&t, "; ");
        text_inhibited(&t, p->d, &now->x);
    }
    words_step(p, text_str(&t));
    for (int i = 0; i < BURN_CHECK_COUNT; i++) {
        words_step(p, str_of(burn_check_says((enum burn_check)i)));
    }
}

static void one_task(struct printing *p, const struct desk_round_step *step)
{
    const struct book_task *task = &p->b->tasks[step->task];
    bool whole = step->from == 0 && step->to == task->n_steps;
    struct text label = text_new(p->a);
    text_add(&label, task->label);
    if (!whole) {
        text_addz(&label, step->from == 0 ? " (begins)" : step->to == task->n_steps ? " (ends)" : " (goes on)");
    }
    json_str(&p->j, "label", text_str(&label));
    json_str(&p->j, "why", step->why);
    print_cautions(p, step->from == 0 ? task->cautions : (struct book_refs){0});
    print_strings(&p->j, "tools", task->tools.at, step->from == 0 ? (size_t)task->tools.n : 0);
    if (step->from == 0) {
        uses(p, task);
    }
    json_begin_array(&p->j, "tables");
    for (int i = 0; step->from == 0 && i < task->adjusts.n; i++) {
        print_ledger(p, task->adjusts.at[i]);
    }
    json_end_array(&p->j);
    json_begin_array(&p->j, "steps");
    if (step->from == 0 && p->b->exhaust.given && p->b->exhaust.burn == step->task) {
        burn_steps(p);
    }
    int place = step->place;
    for (int i = step->from; i < step->to; i++) {
        const struct book_step *s = &task->steps[i];
        json_begin_object(&p->j, NULL);
        struct text act = text_new(p->a);
        text_step(&act, s, p->d->units);
        json_str(&p->j, "act", text_str(&act));
        bool moved = s->place != BOOK_NONE && s->place != place;
        place = s->place == BOOK_NONE ? place : s->place;
        json_str(&p->j, "place", moved ? print_place_label(p, place) : (struct str){0});
        print_cautions(p, s->cautions);
        torques(p, s->torques);
        open_items(p, "opens", s->opens);
        open_items(p, "closes", s->closes);
        print_strings(&p->j, "tools", s->tools.at, (size_t)s->tools.n);
        json_str(&p->j, "waste", s->waste);
        print_shown(p, s->shown);
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
}

static void steps(struct printing *p, const struct desk_round *round)
{
    json_begin_array(&p->j, "steps");
    for (size_t i = 0; i < round->n; i++) {
        const struct desk_round_step *step = &round->steps[i];
        if (step->type == STEP_WALK) {
            continue;
        }
        json_begin_object(&p->j, NULL);
        json_strz(&p->j, "type", step->type == STEP_CHANGE ? "change" : step->type == STEP_CHECK ? "check" : "task");
        json_int(&p->j, "n", step->n);
        json_str(&p->j, "place", print_place_label(p, step->place));
        json_num(&p->j, "takes_s", step->takes_s);
        if (step->type == STEP_CHANGE) {
            one_change(p, step);
        } else if (step->type == STEP_CHECK) {
            one_check(p, step);
        } else {
            one_task(p, step);
        }
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
}

static bool has(struct book_refs refs, int item)
{
    for (int i = 0; i < refs.n; i++) {
        if (refs.at[i] == item) {
            return true;
        }
    }
    return false;
}

/* Does that step of the round open (or close) the item? */
static bool touches(const struct printing *p, const struct desk_round_step *step, int item, bool closes)
{
    if (step->type == STEP_CHANGE) {
        const struct book_change *change = &p->b->changes[step->change];
        return has(closes ? change->closes : change->opens, item);
    }
    for (int i = step->from; step->type == STEP_TASK && i < step->to; i++) {
        const struct book_step *s = &p->b->tasks[step->task].steps[i];
        if (has(closes ? s->closes : s->opens, item)) {
            return true;
        }
    }
    return false;
}

/* Every reversible act of the round, with where it is undone; and what the log says is open before it begins. */
static void put_back(struct printing *p, const struct desk_round *round)
{
    json_begin_array(&p->j, "put_back");
    for (int item = 0; item < p->b->n_open_items; item++) {
        int opened = -1;
        for (size_t i = 0; i < round->n; i++) {
            if (opened < 0 && touches(p, &round->steps[i], item, false)) {
                opened = round->steps[i].n;
            }
            if (opened >= 0 && touches(p, &round->steps[i], item, true)) {
                json_begin_object(&p->j, NULL);
                json_str(&p->j, "label", p->b->open_items[item].label);
                json_int(&p->j, "opened_at", opened);
                json_int(&p->j, "closed_at", round->steps[i].n);
                json_end_object(&p->j);
                opened = -1;
            }
        }
        if (opened >= 0) {
            json_begin_object(&p->j, NULL);
            json_str(&p->j, "label", p->b->open_items[item].label);
            json_int(&p->j, "opened_at", opened);
            json_end_object(&p->j);
        }
    }
    json_end_array(&p->j);
    print_open_now(p);
}

void print_open_now(struct printing *p)
{
    const struct machine_state *s = desk_state_of(p->d, p->m);
    json_begin_array(&p->j, "open_now");
    for (size_t i = 0; i < s->n_open; i++) {
        json_begin_object(&p->j, NULL);
        json_str(&p->j, "label", s->open[i].label);
        struct text t = text_new(p->a);
        text_day_words(&t, desk_day_of(p->d, s->open[i].since));
        json_str(&p->j, "since", text_str(&t));
        json_str(&p->j, "by", s->open[i].by);
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
}

void print_machine(struct printing *p)
{
    const struct desk_machine *m = p->m;
    json_begin_object(&p->j, "machine");
    json_str(&p->j, "label", m->name);
    json_str(&p->j, "title", p->b->title);
    json_str(&p->j, "maker", p->b->maker);
    json_str(&p->j, "serial", m->serial);
    if (m->use.at != INSTANT_NONE) {
        struct text t = text_new(p->a);
        text_number(&t, m->use.hours_now - m->meter.offset, 1);
        text_addz(&t, " h");
        json_str(&p->j, "hours", text_str(&t));
        t = text_new(p->a);
        text_day_words(&t, desk_day_of(p->d, m->use.at));
        json_str(&p->j, "hours_on", text_str(&t));
    }
    json_str(&p->j, "site", m->site);
    print_strings(&p->j, "options", m->options.at, (size_t)m->options.n);
    json_begin_object(&p->j, "book");
    json_str(&p->j, "edition", p->b->edition);
    json_str(&p->j, "hash", p->b->hash);
    json_end_object(&p->j);
    json_end_object(&p->j);
}

/* Before any round: what 29 CFR 1910.147(d) orders to do, in our words (safety.md gives the paragraphs that were seen).
 */
void desk_before_json(struct json *j)
{
    static const struct {
        const char *level, *say;
    } first[] = {
        {"WARNING", "Park level, lower everything, brake on, stop the engine, take the key; wait for parts to stop. "
                    "Isolate, lock and "
                    "tag, then try the controls to prove it is dead."},
        {"DANGER",
         "A pinhole jet of oil goes through skin and gloves. Never feel for a leak: use card, with eye protection. If "
         "injected, go to hospital now, even with no pain."},
    };
    json_begin_array(j, "before");
    for (size_t i = 0; i < sizeof first / sizeof *first; i++) {
        json_begin_object(j, NULL);
        json_strz(j, "level", first[i].level);
        json_strz(j, "say", first[i].say);
        json_end_object(j);
    }
    json_end_array(j);
}

/* The drawing's file as it was kept with the edition; false when it is not in the depot. */
static bool drawing(struct printing *p, struct str file, struct str *data)
{
    struct log_hash hash;
    struct err quiet = err_new(p->a);
    bool found = false;
    return desk_drawing(p->d, p->b->hash, file, &hash) &&
           depot_blob_get(p->d->depot, hash, p->a, data, &found, &quiet) && found;
}

void print_figures(struct printing *p)
{
    json_begin_array(&p->j, "figures");
    for (int i = 0; i < p->b->n_figures; i++) {
        const struct book_figure *figure = &p->b->figures[i];
        struct str data = {0};
        if (!p->figures[i] || !drawing(p, figure->file, &data)) {
            continue;
        }
        const char *type = desk_media_type(figure->file);
        json_begin_object(&p->j, NULL);
        json_str(&p->j, "name", figure->name);
        json_str(&p->j, "title", figure->title);
        json_strz(&p->j, "media_type", type);
        if (strcmp(type, "image/svg+xml") == 0) {
            json_str(&p->j, "data", data);
        } else {
            struct text t = text_new(p->a);
            text_base64(&t, data);
            json_str(&p->j, "data", text_str(&t));
        }
        json_begin_array(&p->j, "marks");
        for (int k = 0; k < figure->n_marks; k++) {
            json_begin_object(&p->j, NULL);
            json_int(&p->j, "number", figure->marks[k].number);
            json_str(&p->j, "label", figure->marks[k].label);
            json_num(&p->j, "x", figure->marks[k].x);
            json_num(&p->j, "y", figure->marks[k].y);
            json_end_object(&p->j);
        }
        json_end_array(&p->j);
        json_end_object(&p->j);
    }
    json_end_array(&p->j);
}

bool desk_figure(struct desk *d, struct str machine_name, struct str figure, struct arena *a, const char **media_type,
                 struct str *data, struct err *e)
{
    const struct desk_machine *m = desk_refresh(d, e) ? desk_machine_find(d, machine_name, e) : NULL;
    if (!m) {
        return false;
    }
    if (!m->book) {
        return err_set(e, ERR_MISSING, NULL, str_z(e->a, m->trouble), (char *)0);
    }
    struct str *names = ARENA_ARRAY(a, struct str, m->book->n_figures);
    for (int i = 0; i < m->book->n_figures; i++) {
        names[i] = m->book->figures[i].name;
        if (!str_eq(names[i], figure)) {
            continue;
        }
        struct log_hash hash;
        bool found = false;
        *media_type = desk_media_type(m->book->figures[i].file);
        if (!desk_drawing(d, m->book->hash, m->book->figures[i].file, &hash)) {
            return err_set(e, ERR_MISSING, "witmark book take, with the drawings beside the book",
                           "the depot has no drawing ", str_z(e->a, m->book->figures[i].file), (char *)0);
        }
        return depot_blob_get(d->depot, hash, a, data, &found, e) &&
               (found || err_set(e, ERR_MISSING, NULL, "the drawing is no longer in the depot", (char *)0));
    }
    ptrdiff_t near = str_nearest(figure, names, (size_t)m->book->n_figures);
    return err_set(e, ERR_MISSING, near >= 0 ? str_z(e->a, names[near]) : NULL, "the book has no drawing '",
                   str_z(e->a, figure), "'", (char *)0);
}

bool print_paper(struct desk *d, struct str asked, struct str *paper, struct err *e)
{
    struct str s = asked;
    if (s.n == 0 && d->options.paper) {
        s = str_of(d->options.paper);
    }
    if (s.n == 0 && !depot_setting_get(d->depot, "paper", e->a, &s, e)) {
        s = S("a4");
    }
    if (e->kind != ERR_NONE) {
        return false;
    }
    if (str_eq_nocase(s, S("a4"))) {
        *paper = S("A4");
    } else if (str_eq_nocase(s, S("letter"))) {
        *paper = S("Letter");
    } else if (str_eq_nocase(s, S("a5"))) {
        *paper = S("A5");
    } else {
        return err_set(e, ERR_USAGE, "A4, A5 or Letter", "paper '", str_z(e->a, s), "' is not known", (char *)0);
    }
    return true;
}

void print_qr(struct json *j, struct arena *a, struct str serial)
{
    struct text t = text_new(a);
    text_addz(&t, "witmark:");
    text_add(&t, serial);
    json_str(j, "qr", text_str(&t));
}

void print_head(struct printing *p, struct str paper, struct str title)
{
    struct json *j = &p->j;
    json_begin_object(j, NULL);
    json_strz(j, "type", "round");
    json_str(j, "paper", paper);
    json_str(j, "depot", p->d->name);
    json_str(j, "title", title);
    struct text t = text_new(p->a);
    text_local(&t, p->d, desk_now(p->d));
    json_str(j, "made", text_str(&t));
    print_machine(p);
    json_str(j, "first_words", p->b->first_words);
}

void print_words(struct printing *p)
{
    json_begin_object(&p->j, "words");
    json_strz(&p->j, "round", "Step by step");
    json_end_object(&p->j);
}

bool desk_print_round(struct desk *d, const struct desk_round *round, struct str paper, struct text *out, struct err *e)
{
    struct str size = {0};
    if (!print_paper(d, paper, &size, e)) {
        return false;
    }
    const struct book *b = round->machine->book;
    struct printing p = {.j = json_new(out, true),
                         .d = d,
                         .a = out->a,
                         .m = round->machine,
                         .b = b,
                         .figures = ARENA_ARRAY(out->a, bool, b->n_figures)};
    struct desk_kit kit;
    if (!desk_kit_of_round(d, round, out->a, &kit, e)) {
        return false;
    }
    struct json *j = &p.j;
    print_head(&p, size, round->title);
    json_num(j, "total_s", round->total_s);
    json_num(j, "moves_s", round->moves_s);
    json_num(j, "bound_s", round->bound_s);
    json_bool(j, "proven", round->proven);
    desk_before_json(j);
    json_begin_object(j, "kit");
    desk_kit_members_json(j, &kit);
    json_end_object(j);
    steps(&p, round);
    put_back(&p, round);
    print_figures(&p);
    print_qr(j, p.a, p.m->serial);
    json_end_object(j);
    text_char(out, '\n');
    return true;
}

bool desk_print_labels(struct desk *d, const struct str *machines, size_t n, struct str paper, struct text *out,
                       struct err *e)
{
    struct str size = {0};
    if (!print_paper(d, paper, &size, e)) {
        return false;
    }
    struct json j = json_new(out, true);
    json_begin_object(&j, NULL);
    json_strz(&j, "type", "labels");
    json_str(&j, "paper", size);
    json_strz(&j, "title", "Labels");
    json_str(&j, "depot", d->name);
    struct text t = text_new(out->a);
    text_local(&t, d, desk_now(d));
    json_str(&j, "made", text_str(&t));
    json_begin_array(&j, "labels");
    for (size_t i = 0; i < n; i++) {
        const struct desk_machine *m = desk_machine_find(d, machines[i], e);
        if (!m) {
            return false;
        }
        json_begin_object(&j, NULL);
        json_str(&j, "label", m->name);
        json_str(&j, "title", m->book ? m->book->title : m->book_id);
        json_str(&j, "serial", m->serial);
        print_qr(&j, out->a, m->serial);
        json_end_object(&j);
    }
    json_end_array(&j);
    json_end_object(&j);
    text_char(out, '\n');
    return true;
}
