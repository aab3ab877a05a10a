/* One machine's book as JSON. The order of members is that of the book; texts are in the depot's units, numbers beside
 * them in the unit that is named. */
#include "desk_internal.h"
#include "desk_judge.h"
#include "desk_manual.h"

#include "calc/calc.h"

#include <math.h>

/* Writer and book, which every function here needs. */
struct manual {
    struct json *j;
    struct desk *d;
    const struct book *b;
    struct arena *a;
    const struct desk_machine *machine;
};

static void put_quantity(const struct manual *m, const char *key, struct quantity q)
{
    struct text t = text_new(m->a);
    text_quantity_in(&t, q, m->d->units);
    json_begin_object(m->j, key);
    json_num(m->j, "value", q.value);
    json_strz(m->j, "unit", q.unit ? q.unit->symbol : "");
    json_str(m->j, "says", text_str(&t));
    json_end_object(m->j);
}

static void put_given(const struct manual *m, const char *key, const struct book_quantity *q)
{
    if (q->given) {
        put_quantity(m, key, q->q);
    } else {
        json_put_null(m->j, key);
    }
}

static void put_texts(const struct manual *m, const char *key, struct book_texts texts)
{
    json_begin_array(m->j, key);
    for (int i = 0; i < texts.n; i++) {
        json_str(m->j, NULL, texts.at[i]);
    }
    json_end_array(m->j);
}

static void put_condition(const struct manual *m, const char *key, struct book_condition c)
{
    struct text t = text_new(m->a);
    text_condition(&t, m->b, c);
    json_str(m->j, key, text_str(&t));
}

static void put_cautions(const struct manual *m, struct book_refs refs)
{
    json_begin_array(m->j, "cautions");
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *c = &m->b->cautions[refs.at[i]];
        json_begin_object(m->j, NULL);
        json_strz(m->j, "level", book_caution_level_text(c->level));
        json_str(m->j, "say", c->say);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_open_items(const struct manual *m, const char *key, struct book_refs refs)
{
    json_begin_array(m->j, key);
    for (int i = 0; i < refs.n; i++) {
        json_str(m->j, NULL, m->b->open_items[refs.at[i]].name);
    }
    json_end_array(m->j);
}

static void put_torques(const struct manual *m, struct book_refs refs)
{
    json_begin_array(m->j, "torques");
    for (int i = 0; i < refs.n; i++) {
        json_str(m->j, NULL, m->b->torques[refs.at[i]].name);
    }
    json_end_array(m->j);
}

static void put_place(const struct manual *m, const char *key, int place)
{
    if (place == BOOK_NONE) {
        json_put_null(m->j, key);
    } else {
        json_str(m->j, key, m->b->places[place].name);
    }
}

static void put_figure(const struct manual *m, struct book_shown shown)
{
    if (shown.figure == BOOK_NONE) {
        json_put_null(m->j, "figure");
        return;
    }
    json_begin_object(m->j, "figure");
    json_str(m->j, "name", m->b->figures[shown.figure].name);
    json_int(m->j, "mark", shown.mark);
    json_end_object(m->j);
}

static void put_interval(const struct manual *m, const char *key, struct interval i)
{
    if (!(i.hours > 0) && i.months == 0 && i.days == 0) {
        json_put_null(m->j, key);
        return;
    }
    struct text t = text_new(m->a);
    text_interval(&t, i);
    json_begin_object(m->j, key);
    json_num(m->j, "hours", i.hours > 0 ? i.hours : (double)NAN);
    json_int(m->j, "months", i.months);
    json_int(m->j, "days", i.days);
    json_str(m->j, "says", text_str(&t));
    json_end_object(m->j);
}

/* ---- what the condition is made of ------------------------------------------------------------------------------ */

static void put_variables(const struct manual *m)
{
    json_begin_array(m->j, "variables");
    for (int i = 0; i < m->b->n_variables; i++) {
        const struct book_variable *v = &m->b->variables[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", v->name);
        json_str(m->j, "label", v->label);
        put_texts(m, "values", (struct book_texts){v->values, v->n_values});
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_places(const struct manual *m)
{
    json_begin_array(m->j, "places");
    for (int i = 0; i < m->b->n_places; i++) {
        const struct book_place *p = &m->b->places[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", p->name);
        json_str(m->j, "label", p->label);
        json_num(m->j, "x_m", p->x_m);
        json_num(m->j, "y_m", p->y_m);
        put_condition(m, "needs", p->needs);
        put_figure(m, p->shown);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_figures(const struct manual *m)
{
    json_begin_array(m->j, "figures");
    for (int i = 0; i < m->b->n_figures; i++) {
        const struct book_figure *f = &m->b->figures[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", f->name);
        json_str(m->j, "title", f->title);
        json_strz(m->j, "type", desk_media_type(f->file));
        json_begin_array(m->j, "marks");
        for (int k = 0; k < f->n_marks; k++) {
            json_begin_object(m->j, NULL);
            json_int(m->j, "number", f->marks[k].number);
            json_str(m->j, "label", f->marks[k].label);
            json_num(m->j, "x", f->marks[k].x);
            json_num(m->j, "y", f->marks[k].y);
            json_end_object(m->j);
        }
        json_end_array(m->j);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_items(const struct manual *m)
{
    json_begin_array(m->j, "put_back_items");
    for (int i = 0; i < m->b->n_open_items; i++) {
        const struct book_open_item *o = &m->b->open_items[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", o->name);
        json_str(m->j, "label", o->label);
        put_condition(m, "while_open", o->while_open);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "changes");
    for (int i = 0; i < m->b->n_changes; i++) {
        const struct book_change *c = &m->b->changes[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", c->name);
        json_str(m->j, "act", c->act);
        put_condition(m, "from", c->from);
        json_begin_array(m->j, "to");
        for (int v = 0; v < m->b->n_variables; v++) {
            if (c->to[v] != BOOK_NONE) {
                json_begin_object(m->j, NULL);
                json_str(m->j, "variable", m->b->variables[v].name);
                json_str(m->j, "value", m->b->variables[v].values[c->to[v]]);
                json_end_object(m->j);
            }
        }
        json_end_array(m->j);
        put_place(m, "place", c->place);
        json_num(m->j, "takes_s", c->takes_s);
        put_cautions(m, c->cautions);
        put_open_items(m, "opens", c->opens);
        put_open_items(m, "closes", c->closes);
        put_figure(m, c->shown);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

/* ---- stores ------------------------------------------------------------------------------------------------------ */

static void put_stores(const struct manual *m)
{
    const struct book *b = m->b;
    json_begin_array(m->j, "fluids");
    for (int i = 0; i < b->n_fluids; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", b->fluids[i].name);
        json_str(m->j, "label", b->fluids[i].label);
        json_str(m->j, "is", b->fluids[i].is);
        put_given(m, "capacity", &b->fluids[i].capacity);
        json_str(m->j, "note", b->fluids[i].note);
        json_bool(m->j, "waste", b->fluids[i].waste);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "parts");
    for (int i = 0; i < b->n_parts; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", b->parts[i].name);
        json_str(m->j, "label", b->parts[i].label);
        json_str(m->j, "number", b->parts[i].now);
        put_texts(m, "chain", b->parts[i].chain);
        json_int(m->j, "pack", b->parts[i].pack);
        json_int(m->j, "keep", b->parts[i].keep);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "torques");
    for (int i = 0; i < b->n_torques; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", b->torques[i].name);
        json_str(m->j, "label", b->torques[i].label);
        put_given(m, "torque", &b->torques[i].torque);
        put_given(m, "again_after", &b->torques[i].again_after);
        json_str(m->j, "thread", b->torques[i].thread);
        json_str(m->j, "note", b->torques[i].note);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "fuses");
    for (int i = 0; i < b->n_fuses; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", b->fuses[i].name);
        json_str(m->j, "label", b->fuses[i].label);
        json_str(m->j, "position", b->fuses[i].position);
        put_place(m, "place", b->fuses[i].place);
        json_num(m->j, "rating_a", b->fuses[i].rating_a > 0 ? b->fuses[i].rating_a : (double)NAN);
        json_str(m->j, "protects", b->fuses[i].protects);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

/* ---- checkpoints --------------------------------------------------------------------------------------------------
 */

static void put_measured(const struct manual *m, const struct book_checkpoint *c)
{
    struct text t = text_new(m->a);
    json_str(m->j, "measure", c->measure);
    json_strz(m->j, "unit", c->limits.unit ? c->limits.unit->symbol : "");
    const struct unit *read = checkpoint_read_unit(c);
    json_strz(m->j, "read_unit", read ? read->symbol : "");
    json_num(m->j, "low", c->limits.low);
    json_num(m->j, "high", c->limits.high);
    text_limits(&t, m->d, c->limits);
    json_str(m->j, "limits", text_str(&t));
    put_given(m, "want", &c->want);
    put_given(m, "uncertainty", &c->uncertainty);
    json_strz(m->j, "correction", book_correction_text(c->correction));
    json_begin_array(m->j, "also");
    for (int i = 0; i < c->n_also; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", c->also[i].name);
        json_strz(m->j, "unit", c->also[i].unit ? c->also[i].unit->symbol : "");
        json_end_object(m->j);
    }
    json_end_array(m->j);
    t = text_new(m->a);
    text_judge_question(&t, m->d, m->machine, (int)(c - m->b->checkpoints));
    json_str(m->j, "judge", text_str(&t));
    json_int(m->j, "spn", c->bus_spn);
}

static void put_checkpoint(const struct manual *m, const struct book_checkpoint *c)
{
    static const char *const kinds[] = {
        [CHECK_DONE_BY] = "done by", [CHECK_MEASURE] = "measured", [CHECK_LOOK] = "looked at"};
    json_begin_object(m->j, NULL);
    json_str(m->j, "name", c->name);
    json_str(m->j, "label", c->label);
    json_strz(m->j, "kind", kinds[c->kind]);
    json_str(m->j, "system", c->system);
    put_place(m, "place", c->place);
    put_condition(m, "needs", c->needs);
    put_figure(m, c->shown);
    json_num(m->j, "takes_s", c->takes_s);
    put_cautions(m, c->cautions);
    put_texts(m, "tools", c->tools);
    put_interval(m, "every", c->every);
    put_interval(m, "first", c->first);
    put_interval(m, "severe", c->severe);
    json_strz(m->j, "late", book_late_text(c->late));
    json_str(m->j, "task", c->kind == CHECK_DONE_BY ? m->b->tasks[c->task].name : (struct str){0});
    json_str(m->j, "mends", c->mends == BOOK_NONE ? (struct str){0} : m->b->tasks[c->mends].name);
    if (c->kind == CHECK_MEASURE) {
        put_measured(m, c);
    } else if (c->kind == CHECK_LOOK) {
        put_texts(m, "look", c->look);
    }
    json_int(m->j, "line", c->pos.line);
    json_end_object(m->j);
}

/* ---- work ---------------------------------------------------------------------------------------------------------
 */

/* The figure of a step, with where it came from; null when it has none. */
static void put_work_out(const struct manual *m, const struct book_work_out *w)
{
    const struct calc *calc = w->given ? calc_find(w->calc) : NULL;
    if (!calc) {
        json_put_null(m->j, "work_out");
        return;
    }
    struct text t = text_new(m->a);
    if (w->text.p) {
        text_add(&t, w->text);
    } else {
        text_quantity_in(&t, w->value, m->d->units);
    }
    json_begin_object(m->j, "work_out");
    json_str(m->j, "calc", w->calc);
    json_str(m->j, "result", w->result);
    json_str(m->j, "says", text_str(&t));
    json_str(m->j, "from", w->from);
    json_strz(m->j, "formula", calc->formula);
    json_strz(m->j, "source", calc->source);
    json_end_object(m->j);
}

static void put_steps(const struct manual *m, const struct book_step *steps, int n)
{
    json_begin_array(m->j, "steps");
    for (int i = 0; i < n; i++) {
        const struct book_step *s = &steps[i];
        json_begin_object(m->j, NULL);
        struct text act = text_new(m->a);
        text_step(&act, s, m->d->units);
        json_str(m->j, "act", text_str(&act));
        put_work_out(m, &s->work_out);
        put_cautions(m, s->cautions);
        put_place(m, "place", s->place);
        put_condition(m, "needs", s->needs);
        json_num(m->j, "takes_s", s->takes_s);
        put_open_items(m, "opens", s->opens);
        put_open_items(m, "closes", s->closes);
        put_torques(m, s->torques);
        put_texts(m, "tools", s->tools);
        json_str(m->j, "waste", s->waste);
        json_str(m->j, "undo", s->undo);
        put_figure(m, s->shown);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_uses(const struct manual *m, const struct book_task *t)
{
    json_begin_array(m->j, "parts");
    for (int i = 0; i < t->n_parts; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "part", m->b->parts[t->parts[i].item].name);
        json_num(m->j, "quantity", t->parts[i].quantity);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "fluids");
    for (int i = 0; i < t->n_fluids; i++) {
        const struct book_fluid *f = &m->b->fluids[t->fluids[i].item];
        json_begin_object(m->j, NULL);
        json_str(m->j, "fluid", f->name);
        put_given(m, "quantity", t->fluids[i].written.given ? &t->fluids[i].written : &f->capacity);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_tasks(const struct manual *m)
{
    json_begin_array(m->j, "tasks");
    for (int i = 0; i < m->b->n_tasks; i++) {
        const struct book_task *t = &m->b->tasks[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", t->name);
        json_str(m->j, "label", t->label);
        put_place(m, "place", t->place);
        put_condition(m, "needs", t->needs);
        json_num(m->j, "labour_s", t->labour_s);
        put_cautions(m, t->cautions);
        put_texts(m, "tools", t->tools);
        put_texts(m, "equipment", t->equipment);
        put_uses(m, t);
        put_torques(m, t->torques);
        put_steps(m, t->steps, t->n_steps);
        json_int(m->j, "line", t->pos.line);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "services");
    for (int i = 0; i < m->b->n_services; i++) {
        const struct book_service *s = &m->b->services[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", s->name);
        json_str(m->j, "label", s->label);
        json_begin_array(m->j, "checkpoints");
        for (int k = 0; k < s->checkpoints.n; k++) {
            json_str(m->j, NULL, m->b->checkpoints[s->checkpoints.at[k]].name);
        }
        json_end_array(m->j);
        json_begin_array(m->j, "tasks");
        for (int k = 0; k < s->tasks.n; k++) {
            json_str(m->j, NULL, m->b->tasks[s->tasks.at[k]].name);
        }
        json_end_array(m->j);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_adjusters(const struct manual *m)
{
    json_begin_array(m->j, "adjusters");
    for (int i = 0; i < m->b->n_adjusters; i++) {
        const struct book_adjuster *x = &m->b->adjusters[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", x->name);
        json_str(m->j, "label", x->label);
        put_place(m, "place", x->place);
        put_condition(m, "needs", x->needs);
        put_texts(m, "first", x->first);
        json_strz(m->j, "turn", x->turn_in ? "in" : "out");
        json_num(m->j, "first_step", x->first_step);
        json_num(m->j, "step", x->step);
        json_num(m->j, "at_most", x->at_most);
        json_str(m->j, "between", x->between);
        json_str(m->j, "watch", x->watch);
        json_str(m->j, "note", x->note);
        put_cautions(m, x->cautions);
        put_figure(m, x->shown);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_faults(const struct manual *m)
{
    const struct book *b = m->b;
    json_begin_array(m->j, "symptoms");
    for (int i = 0; i < b->n_symptoms; i++) {
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", b->symptoms[i].name);
        json_str(m->j, "label", b->symptoms[i].label);
        put_texts(m, "says", b->symptoms[i].says);
        json_str(m->j, "part", b->symptoms[i].part);
        json_end_object(m->j);
    }
    json_end_array(m->j);
    json_begin_array(m->j, "causes");
    for (int i = 0; i < b->n_causes; i++) {
        const struct book_cause *c = &b->causes[i];
        json_begin_object(m->j, NULL);
        json_str(m->j, "name", c->name);
        json_str(m->j, "label", c->label);
        json_num(m->j, "weight", c->weight);
        json_begin_array(m->j, "shows");
        for (int k = 0; k < c->shows.n; k++) {
            json_begin_object(m->j, NULL);
            json_str(m->j, "symptom", b->symptoms[c->shows.at[k].item].name);
            json_num(m->j, "chance", c->shows.at[k].value);
            json_end_object(m->j);
        }
        json_end_array(m->j);
        json_str(m->j, "mends", c->mends);
        json_str(m->j, "test", c->test);
        json_str(m->j, "note", c->note);
        json_end_object(m->j);
    }
    json_end_array(m->j);
}

static void put_recovery(const struct manual *m)
{
    const struct book_recovery *r = &m->b->recovery;
    if (!r->given) {
        json_put_null(m->j, "recovery");
        return;
    }
    json_begin_object(m->j, "recovery");
    put_given(m, "distance", &r->distance);
    put_given(m, "speed", &r->speed);
    put_given(m, "slope", &r->slope);
    put_given(m, "time", &r->time);
    put_texts(m, "tools", r->tools);
    put_texts(m, "equipment", r->equipment);
    put_cautions(m, r->cautions);
    put_steps(m, r->steps, r->n_steps);
    json_end_object(m->j);
}

static void put_head(const struct manual *m, const struct desk_machine *machine)
{
    const struct book *b = m->b;
    json_str(m->j, "machine", machine->serial);
    json_str(m->j, "label", machine->label);
    json_str(m->j, "book", b->id);
    json_str(m->j, "title", b->title);
    json_str(m->j, "maker", b->maker);
    json_str(m->j, "edition", b->edition);
    json_str(m->j, "hash", b->hash);
    put_texts(m, "options", b->options);
    json_bool(m->j, "severe", machine->severe);
    json_str(m->j, "first_words", b->first_words);
    put_place(m, "start", b->n_places ? b->start_place : BOOK_NONE);
}

bool desk_machine_book_json(struct json *j, struct desk *d, struct str name, struct err *e)
{
    const struct desk_machine *machine = desk_refresh(d, e) ? desk_machine_find(d, name, e) : NULL;
    if (!machine) {
        return false;
    }
    if (!machine->book) {
        return err_set(e, ERR_MISSING, NULL, str_z(e->a, machine->name), ": ", str_z(e->a, machine->trouble),
                       (char *)0);
    }
    struct manual m = {j, d, machine->book, j->t->a, machine};
    json_begin_object(j, NULL);
    put_head(&m, machine);
    put_variables(&m);
    put_places(&m);
    put_figures(&m);
    put_items(&m);
    put_stores(&m);
    json_begin_array(j, "checkpoints");
    for (int i = 0; i < m.b->n_checkpoints; i++) {
        put_checkpoint(&m, &m.b->checkpoints[i]);
    }
    json_end_array(j);
    put_tasks(&m);
    put_adjusters(&m);
    put_faults(&m);
    put_recovery(&m);
    json_end_object(j);
    return true;
}
