/* The JSON forms of the desk's answers, as docs/json.md describes them. */
#include "desk_judge.h"
#include "exhaust_internal.h"

#include <math.h>

static void json_day(struct json *j, struct arena *a, const char *key, day_t day)
{
    if (day == DAY_NONE) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(a);
    text_day(&t, day);
    json_str(j, key, text_str(&t));
}

static void json_instant(struct json *j, struct arena *a, const char *key, instant_ms at)
{
    if (at == INSTANT_NONE) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(a);
    text_instant(&t, at);
    json_str(j, key, text_str(&t));
}

/* The same instant as people of the depot read it: "2026-09-06 07:40". */
static void json_local(struct json *j, const struct desk *d, const char *key, instant_ms at)
{
    if (at == INSTANT_NONE) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(j->t->a);
    text_local(&t, d, at);
    json_str(j, key, text_str(&t));
}

static void json_id(struct json *j, struct arena *a, const char *key, struct entry_id id)
{
    struct text t = text_new(a);
    text_entry_id(&t, id);
    json_str(j, key, text_str(&t));
}

static void json_texts(struct json *j, const char *key, const struct str *at, size_t n)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        json_str(j, NULL, at[i]);
    }
    json_end_array(j);
}

static void reserve_members(struct json *j, const struct desk *d, const struct reserve *r)
{
    struct arena *a = j->t->a;
    (void)d;
    json_strz(j, "rule", reserve_rule_text(r->rule));
    json_bool(j, "out", r->out);
    json_num(j, "hours_left", r->hours_left);
    json_num(j, "due_at_hours", r->due_total_h);
    json_day(j, a, "calendar_day", r->calendar_day);
    json_day(j, a, "hours_day", r->hours_day);
    json_day(j, a, "p10", r->spread_known ? r->p10 : DAY_NONE);
    json_day(j, a, "p50", r->p50);
    json_day(j, a, "p90", r->spread_known ? r->p90 : DAY_NONE);
}

static void verdict_member(struct json *j, struct desk *d, const struct verdict *v)
{
    json_begin_object(j, "verdict");
    desk_verdict_members_json(j, d, v);
    json_end_object(j);
}

static void due_object(struct json *j, struct desk *d, const struct desk_due *due, bool with_overdue)
{
    json_begin_object(j, NULL);
    json_strz(j, "kind", desk_due_kind_text(due->kind));
    if (due->machine->serial.n) {
        json_str(j, "machine", due->machine->serial);
    } else { /* the depot's shelf */
        json_put_null(j, "machine");
    }
    json_str(j, "name", due->machine->name);
    json_str(j, "key", due->key);
    json_str(j, "label", due->label);
    json_str(j, "says", due->says);
    json_int(j, "urgency", due->urgency);
    json_str(j, "service",
             due->service == BOOK_NONE ? (struct str){0} : due->machine->book->services[due->service].name);
    json_str(j, "service_label",
             due->service == BOOK_NONE ? (struct str){0} : due->machine->book->services[due->service].label);
    if (due->task != BOOK_NONE) {
        json_str(j, "task", due->machine->book->tasks[due->task].name);
    } else {
        json_put_null(j, "task");
    }
    if (due->has_entry) {
        json_id(j, j->t->a, "entry", due->entry);
    } else {
        json_put_null(j, "entry");
    }
    json_begin_object(j, "reserve");
    reserve_members(j, d, &due->reserve);
    json_end_object(j);
    if (with_overdue) {
        json_num(j, "overdue", due->overdue);
    }
    if (due->kind == DUE_READING) {
        verdict_member(j, d, &due->verdict);
    }
    json_end_object(j);
}

void desk_today_json(struct json *j, struct desk *d, const struct desk_today_list *list)
{
    json_begin_object(j, NULL);
    json_day(j, j->t->a, "day", list->day);
    json_str(j, "depot", d->name);
    json_int(j, "machines", (int64_t)list->machines);
    json_int(j, "lines", (int64_t)(list->of ? list->of : list->n));
    if (list->before + list->n < list->of) {
        json_int(j, "next", (int64_t)(list->before + list->n));
    } else {
        json_put_null(j, "next");
    }
    if (list->overdue_on) {
        json_day(j, j->t->a, "overdue_on", list->overdue_on);
    }
    json_begin_array(j, "due");
    for (size_t i = 0; i < list->n; i++) {
        due_object(j, d, &list->at[i], list->overdue_on != 0);
    }
    json_end_array(j);
    json_end_object(j);
}

static void machine_members(struct json *j, const struct desk *d, const struct desk_machine *m)
{
    struct arena *a = j->t->a;
    json_str(j, "serial", m->serial);
    json_str(j, "label", m->label);
    json_str(j, "name", m->name);
    json_str(j, "site", m->site);
    json_begin_object(j, "book");
    json_str(j, "id", m->book_id);
    json_str(j, "title", m->book ? m->book->title : (struct str){0});
    json_str(j, "edition", m->book ? m->book->edition : (struct str){0});
    json_str(j, "hash", m->book ? m->book->hash : (struct str){0});
    json_end_object(j);
    if (m->trouble.n) {
        json_str(j, "trouble", m->trouble);
    }
    json_texts(j, "options", m->options.at, (size_t)m->options.n);
    json_bool(j, "severe", m->severe);
    json_bool(j, "out_of_service", m->out_of_service);
    json_day(j, a, "in_service", m->in_service);
    json_begin_object(j, "meter");
    json_num(j, "read_h", m->use.hours_now - m->meter.offset);
    json_instant(j, a, "read_at", m->use.at);
    json_local(j, d, "read_at_local", m->use.at);
    json_num(j, "total_h", m->use.hours_now);
    json_num(j, "today_h", m->hours_now);
    json_num(j, "hours_per_day", m->use.known ? m->use.hours_per_day : (double)NAN);
    json_int(j, "readings", m->meter.n);
    json_int(j, "good", m->meter.n_good);
    json_end_object(j);
    json_int(j, "open", m->n_open);
    json_int(j, "faults", m->n_faults);
}

void desk_machines_json(struct json *j, struct desk *d, const struct desk_machine *at, size_t n)
{
    json_begin_array(j, NULL);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        machine_members(j, d, &at[i]);
        json_end_object(j);
    }
    json_end_array(j);
}

/* A quantity of the book as text for people, null when the book says nothing. */
static void book_quantity(struct json *j, const struct desk *d, const char *key, const struct book_quantity *q)
{
    if (!q->given) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(j->t->a);
    text_quantity_in(&t, q->q, d->units);
    json_str(j, key, text_str(&t));
}

static void card_tables(struct json *j, const struct desk *d, const struct book *b)
{
    json_begin_array(j, "fluids");
    for (int i = 0; i < b->n_fluids; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->fluids[i].name);
        json_str(j, "label", b->fluids[i].label);
        json_str(j, "is", b->fluids[i].is);
        book_quantity(j, d, "capacity", &b->fluids[i].capacity);
        json_str(j, "note", b->fluids[i].note);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "parts");
    for (int i = 0; i < b->n_parts; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->parts[i].name);
        json_str(j, "label", b->parts[i].label);
        json_str(j, "number", b->parts[i].now);
        json_str(j, "instead_of", str_eq(b->parts[i].now, b->parts[i].number) ? (struct str){0} : b->parts[i].number);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "torques");
    for (int i = 0; i < b->n_torques; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->torques[i].name);
        json_str(j, "label", b->torques[i].label);
        book_quantity(j, d, "torque", &b->torques[i].torque);
        json_str(j, "thread", b->torques[i].thread);
        book_quantity(j, d, "again_after", &b->torques[i].again_after);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "fuses");
    for (int i = 0; i < b->n_fuses; i++) {
        json_begin_object(j, NULL);
        json_str(j, "position", b->fuses[i].position);
        json_str(j, "label", b->fuses[i].label);
        json_num(j, "rating_a", b->fuses[i].rating_a > 0 ? b->fuses[i].rating_a : (double)NAN);
        json_str(j, "protects", b->fuses[i].protects);
        json_end_object(j);
    }
    json_end_array(j);
}

/* Months, days and hours of an interval; null when there is none. */
static void json_interval(struct json *j, const char *key, struct interval i)
{
    if (!interval_given(i)) {
        json_put_null(j, key);
        return;
    }
    json_begin_object(j, key);
    json_num(j, "hours", i.hours > 0 ? i.hours : (double)NAN);
    json_int(j, "months", i.months);
    json_int(j, "days", i.days);
    struct text t = text_new(j->t->a);
    text_interval(&t, i);
    json_str(j, "says", text_str(&t));
    json_end_object(j);
}

static void json_shown(struct json *j, const struct book *b, struct book_shown shown)
{
    if (shown.figure == BOOK_NONE) {
        json_put_null(j, "figure");
        return;
    }
    json_begin_object(j, "figure");
    json_str(j, "name", b->figures[shown.figure].name);
    json_int(j, "mark", shown.mark);
    json_end_object(j);
}

/* A checkpoint with its intervals; of a measured one also the limits in the unit of the book. */
static void card_checkpoint(struct json *j, const struct book *b, const struct book_checkpoint *c)
{
    static const char *const kinds[] = {
        [CHECK_DONE_BY] = "done by", [CHECK_MEASURE] = "measured", [CHECK_LOOK] = "looked at"};
    json_begin_object(j, NULL);
    json_str(j, "name", c->name);
    json_str(j, "label", c->label);
    json_strz(j, "kind", kinds[c->kind]);
    json_str(j, "system", c->system);
    json_str(j, "place", c->place == BOOK_NONE ? (struct str){0} : b->places[c->place].label);
    json_interval(j, "every", c->every);
    json_interval(j, "first", c->first);
    json_interval(j, "severe", c->severe);
    json_str(j, "task", c->kind == CHECK_DONE_BY ? b->tasks[c->task].name : (struct str){0});
    json_str(j, "mends", c->mends == BOOK_NONE ? (struct str){0} : b->tasks[c->mends].name);
    if (c->kind == CHECK_MEASURE) {
        json_str(j, "measure", c->measure);
        const struct unit *read = checkpoint_read_unit(c);
        json_strz(j, "unit", c->limits.unit ? c->limits.unit->symbol : "");
        json_strz(j, "read_unit", read ? read->symbol : "");
        json_strz(j, "correction", book_correction_text(c->correction));
        json_num(j, "low", c->limits.low);
        json_num(j, "high", c->limits.high);
        json_begin_array(j, "also");
        for (int i = 0; i < c->n_also; i++) {
            json_begin_object(j, NULL);
            json_str(j, "name", c->also[i].name);
            json_strz(j, "unit", c->also[i].unit ? c->also[i].unit->symbol : "");
            json_end_object(j);
        }
        json_end_array(j);
    }
    if (c->kind == CHECK_LOOK) {
        json_texts(j, "look", c->look.at, (size_t)c->look.n);
    }
    json_shown(j, b, c->shown);
    json_end_object(j);
}

/* The names by which things of this machine are recorded. */
static void card_names(struct json *j, struct desk *d, const struct book *b)
{
    (void)d;
    json_begin_array(j, "checkpoints");
    for (int i = 0; i < b->n_checkpoints; i++) {
        card_checkpoint(j, b, &b->checkpoints[i]);
    }
    json_end_array(j);
    json_begin_array(j, "tasks");
    for (int i = 0; i < b->n_tasks; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->tasks[i].name);
        json_str(j, "label", b->tasks[i].label);
        json_num(j, "labour_s", b->tasks[i].labour_s);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "places");
    for (int i = 0; i < b->n_places; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->places[i].name);
        json_str(j, "label", b->places[i].label);
        json_num(j, "x_m", b->places[i].x_m);
        json_num(j, "y_m", b->places[i].y_m);
        json_shown(j, b, b->places[i].shown);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "put_back_items");
    for (int i = 0; i < b->n_open_items; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->open_items[i].name);
        json_str(j, "label", b->open_items[i].label);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "adjusters");
    for (int i = 0; i < b->n_adjusters; i++) {
        json_begin_object(j, NULL);
        json_str(j, "name", b->adjusters[i].name);
        json_str(j, "label", b->adjusters[i].label);
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "figures");
    for (int i = 0; i < b->n_figures; i++) {
        const struct book_figure *f = &b->figures[i];
        json_begin_object(j, NULL);
        json_str(j, "name", f->name);
        json_str(j, "title", f->title);
        json_str(j, "file", f->file);
        json_begin_array(j, "marks");
        for (int k = 0; k < f->n_marks; k++) {
            json_begin_object(j, NULL);
            json_int(j, "number", f->marks[k].number);
            json_str(j, "label", f->marks[k].label);
            json_num(j, "x", f->marks[k].x);
            json_num(j, "y", f->marks[k].y);
            json_end_object(j);
        }
        json_end_array(j);
        json_end_object(j);
    }
    json_end_array(j);
}

void desk_card_json(struct json *j, struct desk *d, const struct desk_machine *m)
{
    const struct book *b = m->book;
    json_begin_object(j, "card");
    if (b) {
        json_str(j, "first_words", b->first_words);
        card_tables(j, d, b);
        json_begin_array(j, "limits");
        for (int i = 0; i < b->n_checkpoints; i++) {
            const struct book_checkpoint *c = &b->checkpoints[i];
            if (c->kind != CHECK_MEASURE) {
                continue;
            }
            json_begin_object(j, NULL);
            json_str(j, "name", c->name);
            json_str(j, "label", c->label);
            json_str(j, "measure", c->measure);
            struct text t = text_new(j->t->a);
            text_limits(&t, d, c->limits);
            json_str(j, "limits", text_str(&t));
            book_quantity(j, d, "want", &c->want);
            json_end_object(j);
        }
        json_end_array(j);
        card_names(j, d, b);
        json_begin_array(j, "services");
        for (int i = 0; i < b->n_services; i++) {
            json_begin_object(j, NULL);
            json_str(j, "name", b->services[i].name);
            json_str(j, "label", b->services[i].label);
            json_begin_array(j, "checkpoints");
            for (int k = 0; k < b->services[i].checkpoints.n; k++) {
                json_str(j, NULL, b->checkpoints[b->services[i].checkpoints.at[k]].name);
            }
            json_end_array(j);
            json_begin_array(j, "tasks");
            for (int k = 0; k < b->services[i].tasks.n; k++) {
                json_str(j, NULL, b->tasks[b->services[i].tasks.at[k]].name);
            }
            json_end_array(j);
            json_end_object(j);
        }
        json_end_array(j);
    }
    json_end_object(j);
}

void desk_entry_json(struct json *j, struct desk *d, const struct entry *entry)
{
    struct arena *a = j->t->a;
    json_begin_object(j, NULL);
    json_id(j, a, "id", entry->id);
    json_strz(j, "kind", kind_word(entry->kind));
    json_instant(j, a, "at", entry->at);
    json_local(j, d, "at_local", entry->at);
    json_instant(j, a, "made", entry->made);
    json_str(j, "by", entry->by);
    if (entry->machine.p) {
        json_str(j, "machine", entry->machine);
    } else {
        json_put_null(j, "machine");
    }
    struct text t = text_new(a);
    text_entry_says(&t, d, entry);
    json_str(j, "says", text_str(&t));
    json_raw(j, "body", entry->body_text);
    static const char *const states[] = {[ENTRY_STANDS] = "stands",
                                         [ENTRY_CORRECTED] = "corrected",
                                         [ENTRY_VOIDED] = "withdrawn",
                                         [ENTRY_DUPLICATE] = "duplicate"};
    json_strz(j, "state", states[entry->state]);
    t = text_new(a);
    text_hex(&t, entry->writer.b, sizeof entry->writer.b);
    json_str(j, "writer", text_str(&t));
    json_int(j, "seq", entry->seq);
    t = text_new(a);
    text_hex(&t, entry->hash.b, sizeof entry->hash.b);
    json_str(j, "hash", text_str(&t));
    json_end_object(j);
}

bool desk_machine_json(struct json *j, struct desk *d, const struct desk_machine *m, struct arena *a, struct err *e)
{
    struct entry_filter filter = {.machine = m->serial, .newest_first = true, .limit = 50};
    struct entries entries = {0};
    struct desk_today_filter due_filter = {.machine = m->serial, .within_days = -1, .with_stopped = true};
    struct desk_today_list list = {0};
    if (!due_list(d, &due_filter, a, &list) || !depot_list(d->depot, &filter, a, &entries, e)) {
        return false;
    }
    json_begin_object(j, NULL);
    machine_members(j, d, m);
    desk_card_json(j, d, m);
    json_begin_array(j, "due");
    for (size_t i = 0; i < list.n; i++) {
        due_object(j, d, &list.at[i], false);
    }
    json_end_array(j);
    const struct machine_state *s = desk_state_of(d, m);
    json_begin_array(j, "put_back");
    for (size_t i = 0; i < s->n_open; i++) {
        json_begin_object(j, NULL);
        json_str(j, "item", s->open[i].item);
        json_str(j, "label", s->open[i].label);
        json_instant(j, a, "since", s->open[i].since);
        json_local(j, d, "since_local", s->open[i].since);
        json_str(j, "by", s->open[i].by);
        json_end_object(j);
    }
    json_end_array(j);
    desk_exhaust_member_json(j, d, m);
    json_begin_array(j, "entries");
    for (size_t i = 0; i < entries.n; i++) {
        desk_entry_json(j, d, &entries.at[i]);
    }
    json_end_array(j);
    json_end_object(j);
    entries_free(&entries);
    return true;
}

void desk_why_json(struct json *j, const struct desk_why *why)
{
    json_begin_object(j, NULL);
    json_str(j, "title", why->title);
    json_str(j, "answer", why->answer);
    json_begin_array(j, "because");
    for (size_t i = 0; i < why->n; i++) {
        json_begin_object(j, NULL);
        json_str(j, "says", why->at[i].says);
        json_str(j, "source", why->at[i].source);
        json_end_object(j);
    }
    json_end_array(j);
    json_end_object(j);
}

static void kit_lines(struct json *j, const char *key, const struct desk_kit_line *at, size_t n, const char *number,
                      const char *quantity)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        json_str(j, "label", at[i].label);
        if (number) {
            json_str(j, number, at[i].number);
        }
        if (at[i].instead_of.n) {
            json_str(j, "instead_of", at[i].instead_of);
        }
        json_str(j, quantity, at[i].quantity);
        if (at[i].note.n) {
            json_str(j, "note", at[i].note);
        }
        json_end_object(j);
    }
    json_end_array(j);
}

void desk_kit_members_json(struct json *j, const struct desk_kit *kit)
{
    kit_lines(j, "parts", kit->parts, kit->n_parts, "number", "quantity");
    kit_lines(j, "fluids", kit->fluids, kit->n_fluids, "is", "quantity");
    kit_lines(j, "torques", kit->torques, kit->n_torques, NULL, "torque");
    json_texts(j, "waste", kit->waste, kit->n_waste);
    json_texts(j, "tools", kit->tools, kit->n_tools);
    json_texts(j, "equipment", kit->equipment, kit->n_equipment);
}

void desk_kit_json(struct json *j, const struct desk_kit *kit)
{
    json_begin_object(j, NULL);
    desk_kit_members_json(j, kit);
    json_end_object(j);
}

void desk_round_json(struct json *j, struct desk *d, const struct desk_round *round, const struct desk_kit *kit)
{
    const struct book *b = round->machine->book;
    (void)d;
    json_begin_object(j, NULL);
    json_str(j, "machine", round->machine->serial);
    json_str(j, "name", round->machine->name);
    json_str(j, "title", round->title);
    json_num(j, "total_s", round->total_s);
    json_num(j, "moves_s", round->moves_s);
    json_num(j, "bound_s", round->bound_s);
    json_bool(j, "proven", round->proven);
    json_begin_array(j, "steps");
    for (size_t i = 0; i < round->n; i++) {
        const struct desk_round_step *step = &round->steps[i];
        static const char *const types[] = {
#define X(symbol, text) [symbol] = (text),
            STEP_TYPES(X)
#undef X
        };
        json_begin_object(j, NULL);
        json_strz(j, "type", types[step->type]);
        json_int(j, "n", step->n);
        if (step->place != BOOK_NONE) {
            json_str(j, "place", b->places[step->place].label);
        }
        json_num(j, "start_s", step->start_s);
        json_num(j, "takes_s", step->takes_s);
        if (step->type == STEP_CHANGE) {
            json_str(j, "label", b->changes[step->change].act);
        } else if (step->type == STEP_CHECK) {
            json_str(j, "checkpoint", b->checkpoints[step->checkpoint].name);
            json_str(j, "label", b->checkpoints[step->checkpoint].label);
        } else if (step->type == STEP_TASK) {
            json_str(j, "task", b->tasks[step->task].name);
            json_str(j, "label", b->tasks[step->task].label);
            json_int(j, "from", step->from);
            json_int(j, "to", step->to);
        }
        if (step->why.n) {
            json_str(j, "why", step->why);
        }
        json_end_object(j);
    }
    json_end_array(j);
    json_begin_array(j, "left");
    for (size_t i = 0; i < round->n_left; i++) {
        json_begin_object(j, NULL);
        json_str(j, "label", round->left[i].label);
        json_str(j, "why", round->left[i].why);
        json_end_object(j);
    }
    json_end_array(j);
    if (kit) {
        json_begin_object(j, "kit");
        desk_kit_members_json(j, kit);
        json_end_object(j);
    }
    json_end_object(j);
}

void desk_feed_json(struct json *j, const struct desk_feed_report *report)
{
    static const char *const words[] = {[LINE_TAKE] = "take",
                                        [LINE_DOUBT] = "doubtful",
                                        [LINE_REFUSE] = "refused",
                                        [LINE_KNOWN] = "known",
                                        [LINE_SKIP] = "skipped"};
    json_begin_object(j, NULL);
    json_str(j, "about", report->about);
    json_int(j, "take", (int64_t)report->take);
    json_int(j, "doubtful", (int64_t)report->doubt);
    json_int(j, "refused", (int64_t)report->refuse);
    json_int(j, "known", (int64_t)report->known);
    json_int(j, "skipped", (int64_t)report->skip);
    json_int(j, "added", (int64_t)report->added);
    json_begin_array(j, "lines");
    for (size_t i = 0; i < report->n; i++) {
        const struct desk_feed_line *line = &report->at[i];
        json_begin_object(j, NULL);
        json_strz(j, "word", words[line->word]);
        json_int(j, "line", line->line);
        json_str(j, "machine", line->machine);
        json_str(j, "says", line->says);
        json_str(j, "why", line->why);
        json_end_object(j);
    }
    json_end_array(j);
    json_end_object(j);
}
