/* The document of a round in hand. Points and changes are told one by one, by index, since their order may change on
 * the way; `order` is the one computed now. */
#include "desk_judge.h"
#include "desk_round_work.h"
#include "judge/correction.h"
#include "round_points_internal.h"

#include <math.h>

struct work {
    struct json j;
    struct desk *d;
    struct arena *a;
    const struct desk_machine *m;
    const struct book *b;
    const struct machine_state *s;
    const struct building *g;
    bool *figures; /* [n_figures] referred to */
};

static void texts(struct work *w, const char *key, struct book_texts list)
{
    json_begin_array(&w->j, key);
    for (int i = 0; i < list.n; i++) {
        json_str(&w->j, NULL, list.at[i]);
    }
    json_end_array(&w->j);
}

static void cautions(struct work *w, struct book_refs refs)
{
    json_begin_array(&w->j, "cautions");
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *c = &w->b->cautions[refs.at[i]];
        json_begin_object(&w->j, NULL);
        json_strz(&w->j, "level", book_caution_level_text(c->level));
        json_str(&w->j, "say", c->say);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

/* Things that stay open until they are put back: name and words. */
static void items(struct work *w, const char *key, struct book_refs refs)
{
    json_begin_array(&w->j, key);
    for (int i = 0; i < refs.n; i++) {
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "item", w->b->open_items[refs.at[i]].name);
        json_str(&w->j, "label", w->b->open_items[refs.at[i]].label);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void shown(struct work *w, struct book_shown s)
{
    if (s.figure == BOOK_NONE) {
        return;
    }
    w->figures[s.figure] = true;
    json_begin_object(&w->j, "figure");
    json_str(&w->j, "name", w->b->figures[s.figure].name);
    json_int(&w->j, "mark", s.mark);
    json_end_object(&w->j);
}

static void place(struct work *w, int index)
{
    json_str(&w->j, "place", index < 0 ? (struct str){0} : w->b->places[index].label);
    json_int(&w->j, "at", index < 0 ? -1 : index);
}

static void masks(struct work *w, const char *key, const struct round_partial *p)
{
    json_begin_array(&w->j, key);
    for (size_t i = 0; i < w->g->p.n_variables; i++) {
        json_int(&w->j, NULL, p->allowed[i]);
    }
    json_end_array(&w->j);
}

static void sets(struct work *w, const struct round_set *at, size_t n)
{
    json_begin_array(&w->j, "sets");
    for (size_t i = 0; i < n; i++) {
        json_begin_array(&w->j, NULL);
        json_int(&w->j, NULL, at[i].variable);
        json_int(&w->j, NULL, at[i].value);
        json_end_array(&w->j);
    }
    json_end_array(&w->j);
}

/* A condition in words, for "it needs ...". */
static void in_words(struct work *w, const char *key, const struct round_partial *p)
{
    struct text t = text_new(w->a);
    round_partial_text(&t, &w->g->p, p);
    json_str(&w->j, key, text_str(&t));
}

/* The units that what is read together with a reading is recorded in. */
static void also(struct work *w, const struct book_checkpoint *c)
{
    json_begin_array(&w->j, "with");
    for (int i = 0; i < c->n_also; i++) {
        const struct unit *unit = c->also[i].unit ? unit_preferred(w->d->units, c->also[i].unit) : NULL;
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "name", c->also[i].name);
        json_strz(&w->j, "unit", unit ? unit->symbol : "");
        json_strz(&w->j, "shown", unit ? unit->shown : "");
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void check(struct work *w, const struct point_of *of)
{
    const struct book_checkpoint *c = &w->b->checkpoints[of->checkpoint];
    json_strz(&w->j, "type", "check");
    struct text key = text_new(w->a);
    text_addz(&key, "check/");
    text_add(&key, c->name);
    json_str(&w->j, "key", text_str(&key));
    json_str(&w->j, "name", c->name);
    json_str(&w->j, "label", c->label);
    json_str(&w->j, "system", c->system);
    cautions(w, c->cautions);
    texts(w, "tools", c->tools);
    shown(w, c->shown);
    if (c->kind == CHECK_LOOK) {
        texts(w, "look", c->look);
        return;
    }
    const struct unit *read = checkpoint_read_unit(c);
    const struct unit *unit = read ? unit_preferred(w->d->units, read) : NULL;
    json_strz(&w->j, "unit", unit ? unit->symbol : "");
    desk_read_json(&w->j, w->d, c, &w->s->points[of->checkpoint]);
    also(w, c);
    struct text judge = text_new(w->a);
    text_judge_question(&judge, w->d, w->m, of->checkpoint);
    json_str(&w->j, "judge", text_str(&judge));
}

static void part_uses(struct work *w, const struct book_task *task)
{
    json_begin_array(&w->j, "parts");
    for (int i = 0; i < task->n_parts; i++) {
        const struct book_part *part = &w->b->parts[task->parts[i].item];
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "part", part->name);
        json_str(&w->j, "number", part->now);
        json_str(&w->j, "label", part->label);
        json_num(&w->j, "quantity", task->parts[i].quantity);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void fluid_uses(struct work *w, const struct book_task *task)
{
    json_begin_array(&w->j, "fluids");
    for (int i = 0; i < task->n_fluids; i++) {
        const struct book_use *use = &task->fluids[i];
        const struct book_fluid *fluid = &w->b->fluids[use->item];
        const struct book_quantity *q = use->written.given ? &use->written : &fluid->capacity;
        const struct unit *unit = q->given && q->q.unit ? unit_preferred(w->d->units, q->q.unit) : NULL;
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "fluid", fluid->name);
        json_str(&w->j, "label", fluid->label);
        json_str(&w->j, "is", fluid->is);
        json_num(&w->j, "value", unit ? unit_from_si(unit, unit_to_si(q->q.unit, q->q.value)) : (double)NAN);
        json_strz(&w->j, "unit", unit ? unit->symbol : "L");
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void act(struct work *w, const struct book_step *s)
{
    json_begin_object(&w->j, NULL);
    struct text words = text_new(w->a);
    text_step(&words, s, w->d->units);
    json_str(&w->j, "act", text_str(&words));
    json_str(&w->j, "place", s->place == BOOK_NONE ? (struct str){0} : w->b->places[s->place].label);
    cautions(w, s->cautions);
    json_begin_array(&w->j, "torques");
    for (int i = 0; i < s->torques.n; i++) {
        const struct book_torque *torque = &w->b->torques[s->torques.at[i]];
        struct text t = text_new(w->a);
        text_add(&t, torque->label);
        text_char(&t, ' ');
        text_quantity_in(&t, torque->torque.q, w->d->units);
        json_str(&w->j, NULL, text_str(&t));
    }
    json_end_array(&w->j);
    items(w, "opens", s->opens);
    items(w, "closes", s->closes);
    texts(w, "tools", s->tools);
    json_str(&w->j, "waste", s->waste);
    shown(w, s->shown);
    json_end_object(&w->j);
}

static void task(struct work *w, const struct point_of *of)
{
    const struct book_task *t = &w->b->tasks[of->task];
    struct text key = text_new(w->a);
    text_addz(&key, "task/");
    text_add(&key, t->name);
    text_char(&key, '/');
    text_int(&key, of->from);
    text_char(&key, '-');
    text_int(&key, of->to);
    json_strz(&w->j, "type", "task");
    json_str(&w->j, "key", text_str(&key));
    json_str(&w->j, "name", t->name);
    json_str(&w->j, "label", t->label);
    json_bool(&w->j, "begins", of->from == 0);
    json_bool(&w->j, "ends", of->to == t->n_steps);
    cautions(w, of->from == 0 ? t->cautions : (struct book_refs){0});
    texts(w, "tools", of->from == 0 ? t->tools : (struct book_texts){0});
    if (of->to == t->n_steps) { /* what was used is said when it is done */
        part_uses(w, t);
        fluid_uses(w, t);
    }
    json_begin_array(&w->j, "acts");
    for (int i = of->from; i < of->to; i++) {
        act(w, &t->steps[i]);
    }
    json_end_array(&w->j);
}

static void points(struct work *w)
{
    json_begin_array(&w->j, "points");
    for (size_t i = 0; i < w->g->n; i++) {
        const struct point_of *of = &w->g->of[i];
        const struct round_point *point = &w->g->points[i];
        json_begin_object(&w->j, NULL);
        if (of->checkpoint != BOOK_NONE) {
            check(w, of);
        } else {
            task(w, of);
        }
        place(w, point->place);
        json_num(&w->j, "takes_s", point->seconds);
        json_str(&w->j, "why", of->why);
        masks(w, "needs", &point->needs);
        in_words(w, "needs_words", &point->needs);
        sets(w, point->sets, point->n_sets);
        json_begin_array(&w->j, "after");
        for (size_t k = 0; k < point->n_after; k++) {
            json_int(&w->j, NULL, (int64_t)point->after[k]);
        }
        json_end_array(&w->j);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void changes(struct work *w)
{
    json_begin_array(&w->j, "changes");
    for (size_t i = 0; i < w->g->p.n_changes; i++) {
        const struct book_change *change = &w->b->changes[i];
        const struct round_change *c = &w->g->p.changes[i];
        struct text key = text_new(w->a);
        text_addz(&key, "change/");
        text_add(&key, change->name);
        json_begin_object(&w->j, NULL);
        json_strz(&w->j, "type", "change");
        json_str(&w->j, "key", text_str(&key));
        json_str(&w->j, "name", change->name);
        json_str(&w->j, "label", change->act);
        cautions(w, change->cautions);
        items(w, "opens", change->opens);
        items(w, "closes", change->closes);
        texts(w, "tools", change->tools);
        shown(w, change->shown);
        place(w, c->place);
        json_num(&w->j, "takes_s", c->seconds);
        json_bool(&w->j, "waiting", change->waiting);
        masks(w, "from", &c->from);
        sets(w, c->sets, c->n_sets);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

/* Variables with their words, what must never be, places, start and finish. */
static void rules(struct work *w)
{
    const struct round_problem *p = &w->g->p;
    json_begin_object(&w->j, "rules");
    json_begin_array(&w->j, "variables");
    for (size_t i = 0; i < p->n_variables; i++) {
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "name", p->variables[i].id);
        json_str(&w->j, "label", i < (size_t)w->b->n_variables ? w->b->variables[i].label : (struct str){0});
        json_begin_array(&w->j, "values");
        for (size_t k = 0; k < p->variables[i].n_values; k++) {
            json_str(&w->j, NULL, p->variables[i].values[k]);
        }
        json_end_array(&w->j);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
    json_begin_array(&w->j, "start");
    for (size_t i = 0; i < p->n_variables; i++) {
        json_int(&w->j, NULL, p->start.value[i]);
    }
    json_end_array(&w->j);
    masks(w, "finish", &p->finish);
    json_int(&w->j, "home", p->finish_place);
    json_int(&w->j, "at", p->start_place);
    json_begin_array(&w->j, "places");
    for (size_t i = 0; i < p->n_places; i++) {
        json_begin_array(&w->j, NULL);
        json_num(&w->j, NULL, p->places[i].x_m);
        json_num(&w->j, NULL, p->places[i].y_m);
        json_end_array(&w->j);
    }
    json_end_array(&w->j);
    json_begin_array(&w->j, "never");
    for (size_t i = 0; i < p->n_never; i++) {
        json_begin_object(&w->j, NULL);
        masks(w, "when", &p->never[i]);
        json_str(&w->j, "why", i < (size_t)w->b->n_nevers ? w->b->nevers[i].why : (struct str){0});
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
    json_end_object(&w->j);
}

static void order(struct work *w, const struct round_plan *plan)
{
    json_begin_array(&w->j, "order");
    for (size_t i = 0; i < plan->n; i++) {
        if (plan->moves[i].kind != ROUND_WALK) {
            json_begin_object(&w->j, NULL);
            json_int(&w->j, plan->moves[i].kind == ROUND_CHANGE ? "change" : "point", (int64_t)plan->moves[i].index);
            json_end_object(&w->j);
        }
    }
    json_end_array(&w->j);
}

/* Names to ask for the same things again, when their being due has passed. */
static void scope(struct work *w)
{
    struct text t = text_new(w->a);
    for (size_t i = 0; i < w->g->n; i++) {
        const struct point_of *of = &w->g->of[i];
        if (of->checkpoint != BOOK_NONE || of->from == 0) {
            text_addz(&t, t.n ? "," : "");
            text_add(&t,
                     of->checkpoint != BOOK_NONE ? w->b->checkpoints[of->checkpoint].name : w->b->tasks[of->task].name);
        }
    }
    json_str(&w->j, "scope", text_str(&t));
}

static void machine(struct work *w)
{
    json_begin_object(&w->j, "machine");
    json_str(&w->j, "serial", w->m->serial);
    json_str(&w->j, "name", w->m->name);
    json_str(&w->j, "title", w->b->title);
    json_str(&w->j, "site", w->m->site);
    json_str(&w->j, "edition", w->b->edition);
    json_str(&w->j, "book", w->b->hash);
    json_num(&w->j, "meter_h", w->m->use.at == INSTANT_NONE ? (double)NAN : w->m->use.hours_now - w->m->meter.offset);
    json_end_object(&w->j);
    json_begin_array(&w->j, "open");
    for (size_t i = 0; i < w->s->n_open; i++) {
        const struct open_state *open = &w->s->open[i];
        struct text since = text_new(w->a);
        text_local(&since, w->d, open->since);
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "item", open->item);
        json_str(&w->j, "label", open->label);
        json_str(&w->j, "since", text_str(&since));
        json_str(&w->j, "by", open->by);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void figures(struct work *w)
{
    json_begin_array(&w->j, "figures");
    for (int i = 0; i < w->b->n_figures; i++) {
        const struct book_figure *figure = &w->b->figures[i];
        if (!w->figures[i]) {
            continue;
        }
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "name", figure->name);
        json_str(&w->j, "title", figure->title);
        json_begin_array(&w->j, "marks");
        for (int k = 0; k < figure->n_marks; k++) {
            json_begin_object(&w->j, NULL);
            json_int(&w->j, "number", figure->marks[k].number);
            json_str(&w->j, "label", figure->marks[k].label);
            json_num(&w->j, "x", figure->marks[k].x);
            json_num(&w->j, "y", figure->marks[k].y);
            json_end_object(&w->j);
        }
        json_end_array(&w->j);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

/* What can be adjusted, to go there from a step at the same place. */
static void adjusters(struct work *w)
{
    json_begin_array(&w->j, "adjusters");
    for (int i = 0; i < w->b->n_adjusters; i++) {
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "name", w->b->adjusters[i].name);
        json_str(&w->j, "label", w->b->adjusters[i].label);
        json_int(&w->j, "at", w->b->adjusters[i].place < 0 ? -1 : w->b->adjusters[i].place);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

static void left(struct work *w, const struct desk_round *round)
{
    json_begin_array(&w->j, "left");
    for (size_t i = 0; i < round->n_left; i++) {
        json_begin_object(&w->j, NULL);
        json_str(&w->j, "label", round->left[i].label);
        json_str(&w->j, "why", round->left[i].why);
        json_end_object(&w->j);
    }
    json_end_array(&w->j);
}

bool desk_round_work(struct desk *d, const struct desk_round_ask *ask, struct text *out, struct err *e)
{
    struct desk_round round;
    struct round_plan plan;
    struct building g;
    if (!desk_refresh(d, e) || !round_ordered(d, ask, out->a, &round, &plan, &g, e)) {
        return false;
    }
    struct desk_kit kit = {0};
    if (!desk_kit_of_round(d, &round, out->a, &kit, e)) {
        return false;
    }
    struct work w = {.j = json_new(out, false),
                     .d = d,
                     .a = out->a,
                     .m = round.machine,
                     .b = round.machine->book,
                     .s = desk_state_of(d, round.machine),
                     .g = &g,
                     .figures = ARENA_ARRAY(out->a, bool, round.machine->book->n_figures)};
    struct text made = text_new(out->a);
    text_instant(&made, desk_now(d));
    json_begin_object(&w.j, NULL);
    json_str(&w.j, "title", round.title);
    json_str(&w.j, "made", text_str(&made));
    machine(&w);
    scope(&w);
    json_str(&w.j, "first_words", w.b->first_words);
    desk_before_json(&w.j);
    json_num(&w.j, "total_s", round.total_s);
    json_num(&w.j, "moves_s", round.moves_s);
    json_num(&w.j, "bound_s", round.bound_s);
    json_bool(&w.j, "proven", round.proven);
    json_begin_object(&w.j, "kit");
    desk_kit_members_json(&w.j, &kit);
    json_end_object(&w.j);
    rules(&w);
    changes(&w);
    points(&w);
    order(&w, &plan);
    adjusters(&w);
    left(&w, &round);
    figures(&w);
    json_end_object(&w.j);
    text_char(out, '\n');
    return true;
}
