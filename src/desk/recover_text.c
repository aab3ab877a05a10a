/* A recovery in words and as JSON (docs/json.md). */
#include "desk_recover.h"

#include "desk_internal.h"

#include <math.h>

static void add_cautions(struct text *t, const struct book *b, struct book_refs refs, const char *indent)
{
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *c = &b->cautions[refs.at[i]];
        text_join(t, indent, book_caution_level_text(c->level), ": ", (char *)0);
        text_add(t, c->say);
        text_char(t, '\n');
    }
}

static struct str stowed_of(const struct book_recovery *r, struct str tool)
{
    for (int i = 0; i < r->stowed.n; i++) {
        if (str_eq(r->stowed.at[i].name, tool)) {
            return r->stowed.at[i].text;
        }
    }
    return (struct str){0};
}

static void add_tools(struct text *t, const struct book_recovery *r)
{
    text_addz(t, "Take\n");
    for (int i = 0; i < r->tools.n; i++) {
        struct str place = stowed_of(r, r->tools.at[i]);
        text_addz(t, "  ");
        text_add(t, r->tools.at[i]);
        text_addz(t, place.n ? ": " : "");
        text_add(t, place);
        text_char(t, '\n');
    }
    text_addz(t, r->equipment.n ? "  wear: " : "");
    for (int i = 0; i < r->equipment.n; i++) {
        text_addz(t, i ? ", " : "");
        text_add(t, r->equipment.at[i]);
    }
    text_addz(t, r->equipment.n ? "\n" : "");
}

static void add_limits(struct text *t, const struct desk *d, const struct desk_recover *r)
{
    text_addz(t, "At most");
    bool first = true;
    for (int i = 0; i < LIMIT_COUNT; i++) {
        if (r->limits[i].limit.n) {
            text_join(t, first ? " " : ", ", recover_limit_word((enum recover_limit)i), " ", (char *)0);
            text_add(t, r->limits[i].limit);
            first = false;
        }
    }
    text_addz(t, first ? ": the book gives no limits\n" : "\n");
    if (r->state.moves) {
        text_addz(t, r->state.ended ? "Last time " : "So far ");
        text_quantity_in(t, (struct quantity){r->state.distance_m, unit_find(S("m"))}, d->units);
        if (r->state.time_s > 0) {
            text_addz(t, ", ");
            text_time(t, r->state.time_s);
        }
        text_addz(t, r->state.moves == 1 ? " in one move" : " in ");
        if (r->state.moves > 1) {
            text_int(t, r->state.moves);
            text_addz(t, " moves");
        }
        if (r->limits[LIMIT_DISTANCE].left.n && !r->state.ended) {
            text_addz(t, "; left ");
            text_add(t, r->limits[LIMIT_DISTANCE].left);
        }
        text_char(t, '\n');
    }
    if (r->refusal.n) {
        text_addz(t, "NO: ");
        text_add(t, r->refusal);
        text_char(t, '\n');
    }
}

static void add_step(struct text *t, const struct desk_recover *r, const struct desk_recover_step *s, size_t number,
                     bool next)
{
    add_cautions(t, r->machine->book, s->done ? (struct book_refs){0} : s->cautions, "       ");
    text_addz(t, next ? "  > " : s->done ? "  x " : "    ");
    text_int(t, (int64_t)number);
    text_addz(t, number < 10 ? ".  " : ". ");
    text_add(t, s->act);
    if (s->place.n) {
        text_addz(t, " (");
        text_add(t, s->place);
        text_char(t, ')');
    }
    text_char(t, '\n');
}

void text_recover(struct text *t, struct desk *d, const struct desk_recover *r)
{
    const struct book_recovery *b = &r->machine->book->recovery;
    text_add(t, r->machine->name);
    text_join(t, ": moving it dead, ", recover_phase_word(r->state.phase), (char *)0);
    if (r->since != INSTANT_NONE) {
        text_addz(t, " since ");
        text_local(t, d, r->since);
    }
    text_char(t, '\n');
    add_cautions(t, r->machine->book, b->cautions, "  ");
    for (size_t i = 0; i < r->n_warnings; i++) {
        text_addz(t, "  Mind: ");
        text_add(t, r->warnings[i]);
        text_char(t, '\n');
    }
    add_limits(t, d, r);
    add_tools(t, b);
    text_addz(t, "Make it ready and move it\n");
    for (size_t i = 0; i < r->n_out; i++) {
        add_step(t, r, &r->out[i], i + 1, !r->state.next_back && r->next == (int)i);
    }
    text_addz(t, "Then the exact reverse\n");
    for (size_t i = 0; i < r->n_back; i++) {
        add_step(t, r, &r->back[i], r->n_out + i + 1, r->state.next_back && r->next == (int)i);
    }
}

/* ---- JSON ---- */

static void put_texts(struct json *j, const char *key, struct book_texts texts)
{
    json_begin_array(j, key);
    for (int i = 0; i < texts.n; i++) {
        json_str(j, NULL, texts.at[i]);
    }
    json_end_array(j);
}

static void put_cautions(struct json *j, const struct book *b, struct book_refs refs)
{
    json_begin_array(j, "cautions");
    for (int i = 0; i < refs.n; i++) {
        const struct book_caution *c = &b->cautions[refs.at[i]];
        json_begin_object(j, NULL);
        json_strz(j, "level", book_caution_level_text(c->level));
        json_str(j, "say", c->say);
        json_end_object(j);
    }
    json_end_array(j);
}

/* What the step writes down, for a page that records it: [{kind, what, label}] */
static void put_entries(struct json *j, const struct book *b, const struct desk_recover_step *s)
{
    const struct book_step *step = &b->recovery.steps[s->step];
    json_begin_array(j, "entries");
    for (int side = 0; side < 2; side++) {
        struct book_refs refs = (side == 0) != s->back ? step->opens : step->closes;
        for (int i = 0; i < refs.n; i++) {
            json_begin_object(j, NULL);
            json_strz(j, "kind", side == 0 ? "opened" : "put-back");
            json_str(j, "what", b->open_items[refs.at[i]].name);
            json_str(j, "label", b->open_items[refs.at[i]].label);
            json_end_object(j);
        }
    }
    json_end_array(j);
}

static void put_steps(struct json *j, const char *key, const struct desk_recover *r, const struct desk_recover_step *at,
                      size_t n)
{
    const struct book *b = r->machine->book;
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        const struct book_shown *shown = &b->recovery.steps[at[i].step].shown;
        json_begin_object(j, NULL);
        json_int(j, "step", at[i].step);
        json_bool(j, "back", at[i].back);
        json_bool(j, "done", at[i].done);
        json_bool(j, "next", r->state.next_back == at[i].back && r->next == (int)i);
        json_str(j, "act", at[i].act);
        json_str(j, "place", at[i].place);
        json_str(j, "place_name", at[i].place_key);
        json_num(j, "takes_s", at[i].takes_s);
        put_cautions(j, b, at[i].cautions);
        put_texts(j, "tools", at[i].tools);
        json_str(j, "opens", at[i].opens);
        json_str(j, "closes", at[i].closes);
        put_entries(j, b, &at[i]);
        if (shown->figure != BOOK_NONE) {
            json_begin_object(j, "figure");
            json_str(j, "name", b->figures[shown->figure].name);
            json_int(j, "mark", shown->mark);
            json_end_object(j);
        }
        json_end_object(j);
    }
    json_end_array(j);
}

static void put_limits(struct json *j, const struct desk_recover *r)
{
    json_begin_object(j, "limits");
    for (int i = 0; i < LIMIT_COUNT; i++) {
        const struct desk_recover_limit *l = &r->limits[i];
        json_begin_object(j, recover_limit_word((enum recover_limit)i));
        json_str(j, "limit", l->limit);
        json_str(j, "value", l->value);
        json_str(j, "left", l->left);
        json_num(j, "limit_si", l->judged.limit);
        json_num(j, "value_si", l->judged.value);
        json_bool(j, "exceeded", l->judged.exceeded);
        json_end_object(j);
    }
    json_end_object(j);
}

static void put_moves(struct json *j, struct desk *d, const struct desk_recover *r)
{
    json_begin_array(j, "moves");
    for (size_t i = 0; i < r->n_moves; i++) {
        struct text at = text_new(j->t->a);
        struct text local = text_new(j->t->a);
        struct text id = text_new(j->t->a);
        text_instant(&at, r->moves[i].at);
        text_local(&local, d, r->moves[i].at);
        text_entry_id(&id, r->moves[i].id);
        json_begin_object(j, NULL);
        json_str(j, "entry", text_str(&id));
        json_str(j, "at", text_str(&at));
        json_str(j, "at_local", text_str(&local));
        json_str(j, "by", r->moves[i].by);
        json_num(j, "distance_m", r->moves[i].distance_m);
        json_num(j, "time_s", r->moves[i].time_s);
        json_num(j, "slope", r->moves[i].slope);
        json_num(j, "load_kg", r->moves[i].load_kg);
        json_str(j, "note", r->moves[i].note);
        json_end_object(j);
    }
    json_end_array(j);
}

static void add_items(struct text *t, uint64_t items)
{
    for (int i = 0; i < 64; i++) {
        if (items >> i & 1) {
            text_char(t, ' ');
            text_int(t, i);
        }
    }
}

static void add_number(struct text *t, double value)
{
    text_char(t, ' ');
    if (isfinite(value)) {
        text_double(t, value);
    } else {
        text_char(t, '?');
    }
}

/* "opened=3", "moved=120 240 ? ?" */
static struct str event_line(struct arena *a, const struct recover_event *event)
{
    struct text line = text_new(a);
    if (event->kind == RECOVER_MOVED) {
        add_number(&line, event->distance_m);
        add_number(&line, event->time_s);
        add_number(&line, event->slope);
        add_number(&line, event->load_kg);
    } else {
        add_items(&line, event->items);
    }
    static const char *const words[] = {
        [RECOVER_OPENED] = "opened=", [RECOVER_CLOSED] = "closed=", [RECOVER_MOVED] = "moved="};
    struct text whole = text_new(a);
    text_addz(&whole, words[event->kind]);
    text_add(&whole, str_trim(text_str(&line)));
    return text_str(&whole);
}

/* The flat question of core.wasm about it (src/core/wasm/flat_adjust.h) without its events: those that the log has
 * stand beside it with their entries, so that a phone can add its own. */
static void put_question(struct json *j, struct desk *d, const struct desk_recover *r)
{
    const struct book *b = r->machine->book;
    const struct recovery_state *state = &desk_state_of(d, r->machine)->recovery;
    struct recover_step steps[RECOVER_STEPS_MOST];
    int n = desk_recover_steps(b, steps);
    struct recover_limits limits = desk_recover_limits(b);
    const double numbers[] = {limits.distance_m, limits.speed_m_s, limits.slope, limits.time_s, limits.load_kg};
    struct text t = text_new(j->t->a);
    uint64_t all = 0;
    for (int i = 0; i < n; i++) {
        text_addz(&t, "step=");
        add_items(&t, steps[i].opens);
        text_addz(&t, " |");
        add_items(&t, steps[i].closes);
        text_char(&t, '\n');
        all |= steps[i].opens | steps[i].closes;
    }
    struct text limit = text_new(j->t->a);
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        add_number(&limit, numbers[i]);
    }
    text_addz(&t, "limit=");
    text_add(&t, str_trim(text_str(&limit)));
    json_str(j, "question", text_str(&t));
    json_begin_object(j, "items");
    for (int i = 0; i < b->n_open_items && i < 64; i++) {
        if (all >> i & 1) {
            json_int(j, str_z(j->t->a, b->open_items[i].name), i);
        }
    }
    json_end_object(j);
    json_begin_array(j, "events");
    for (size_t i = 0; i < state->n_told; i++) {
        struct text id = text_new(j->t->a);
        text_entry_id(&id, state->told_ids[i]);
        json_begin_object(j, NULL);
        json_str(j, "entry", text_str(&id));
        json_str(j, "line", event_line(j->t->a, &state->told[i]));
        json_end_object(j);
    }
    json_end_array(j);
}

void desk_recover_json(struct json *j, struct desk *d, const struct desk_recover *r)
{
    const struct book *b = r->machine->book;
    json_begin_object(j, NULL);
    json_str(j, "machine", r->machine->name);
    json_str(j, "serial", r->machine->serial);
    json_strz(j, "phase", recover_phase_word(r->state.phase));
    if (r->since == INSTANT_NONE) {
        json_put_null(j, "since");
    } else {
        struct text since = text_new(j->t->a);
        text_instant(&since, r->since);
        json_str(j, "since", text_str(&since));
    }
    json_bool(j, "out_of_order", r->state.out_of_order);
    put_cautions(j, b, b->recovery.cautions);
    json_begin_array(j, "warnings");
    for (size_t i = 0; i < r->n_warnings; i++) {
        json_str(j, NULL, r->warnings[i]);
    }
    json_end_array(j);
    put_limits(j, r);
    json_bool(j, "exceeded", r->exceeded);
    json_str(j, "refusal", r->refusal);
    json_num(j, "distance_m", r->state.distance_m);
    json_num(j, "time_s", r->state.time_s);
    json_int(j, "moves_untimed", r->state.untimed);
    json_begin_array(j, "tools");
    for (int i = 0; i < b->recovery.tools.n; i++) {
        json_begin_object(j, NULL);
        json_str(j, "tool", b->recovery.tools.at[i]);
        json_str(j, "stowed", stowed_of(&b->recovery, b->recovery.tools.at[i]));
        json_end_object(j);
    }
    json_end_array(j);
    put_texts(j, "equipment", b->recovery.equipment);
    json_num(j, "mass_kg", b->recovery.mass.given ? b->recovery.mass.si : (double)NAN);
    put_steps(j, "out", r, r->out, r->n_out);
    put_steps(j, "back", r, r->back, r->n_back);
    put_moves(j, d, r);
    put_question(j, d, r);
    json_str(j, "source", desk_book_line(j->t->a, b, b->recovery.pos));
    json_end_object(j);
}
