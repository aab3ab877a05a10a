/* The horizon from today's list: the list is in the order of what runs out first, so lanes stand in the order in which
 * their machines come up in it. */
#include "desk_horizon.h"

#include "due_internal.h"

#include <math.h>
#include <stdlib.h>

#define TOGETHER_LEAST 3 /* points of one service on one mark, as `witmark today` has them on one line */

/* The items of one machine, in the order of the list. */
struct filling {
    const struct desk_machine *machine;
    const struct desk_due **items;
    size_t n, cap;
};

static struct str system_of(const struct desk_due *due)
{
    return due->checkpoint == BOOK_NONE ? (struct str){0} : due->machine->book->checkpoints[due->checkpoint].system;
}

/* The word of a kind; false when there is none such. */
static bool kind_of(struct str word, enum due_kind *kind)
{
    for (int i = DUE_CHECKPOINT; i <= DUE_FAULT; i++) {
        if (str_eq(word, str_of(desk_due_kind_text((enum due_kind)i)))) {
            *kind = (enum due_kind)i;
            return true;
        }
    }
    return false;
}

/* Is there a machine whose book knows that system? Otherwise the error names those that there are. */
static bool known_system(struct desk *d, struct str system, struct err *e)
{
    struct map seen = map_new(e->a);
    struct text names = text_new(e->a);
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct book *b = d->list[i].book;
        for (int k = 0; b && k < b->n_checkpoints; k++) {
            struct str own = b->checkpoints[k].system;
            if (str_eq(own, system)) {
                return true;
            }
            if (own.n && !map_get(&seen, own, NULL)) {
                map_put(&seen, own, 1);
                text_addz(&names, names.n ? ", " : "");
                text_add(&names, own);
            }
        }
    }
    return err_set(e, ERR_MISSING, text_z(&names), "no machine has a system '", str_z(e->a, system), "'", (char *)0);
}

/* Do they stand on one mark, if there are enough? */
static bool alike(const struct desk_due *x, const struct desk_due *y)
{
    return x->service != BOOK_NONE && x->service == y->service && x->urgency == y->urgency &&
           x->reserve.p10 == y->reserve.p10 && x->reserve.p50 == y->reserve.p50 && x->reserve.p90 == y->reserve.p90;
}

/* The mark that begins at item i: alone, or for all later ones alike, which are then taken (null). */
static struct desk_horizon_mark mark_of(struct filling *f, size_t i)
{
    const struct desk_due *due = f->items[i];
    struct desk_horizon_mark mark = {due, 0, system_of(due), due->overdue};
    for (size_t k = i; k < f->n; k++) {
        mark.n += f->items[k] && alike(due, f->items[k]) ? 1 : 0;
    }
    if (mark.n < TOGETHER_LEAST) {
        mark.n = 1;
        return mark;
    }
    for (size_t k = i + 1; k < f->n; k++) {
        const struct desk_due *other = f->items[k];
        if (other && alike(due, other)) {
            mark.system = str_eq(system_of(other), mark.system) ? mark.system : (struct str){0};
            mark.chance = other->overdue > mark.chance ? other->overdue : mark.chance;
            f->items[k] = NULL;
        }
    }
    return mark;
}

static struct desk_horizon_lane lane_of(struct filling *f, const struct desk_horizon_ask *ask, struct arena *a)
{
    struct desk_horizon_lane lane = {.machine = f->machine};
    struct desk_horizon_mark *marks = ARENA_ARRAY(a, struct desk_horizon_mark, f->n);
    enum due_kind kind = DUE_CHECKPOINT;
    bool any_kind = !kind_of(ask->kind, &kind);
    for (size_t i = 0; i < f->n; i++) {
        const struct desk_due *due = f->items[i];
        if (due && (any_kind || due->kind == kind) && (ask->system.n == 0 || str_eq(system_of(due), ask->system))) {
            marks[lane.n] = mark_of(f, i);
            lane.out += marks[lane.n].due->urgency == 0 ? 1 : 0;
            lane.n++;
        }
    }
    lane.marks = marks;
    return lane;
}

/* Lanes of all machines that the ask is about: those of the list in its order, then those without anything, by name. */
static void add_lanes(struct desk *d, const struct desk_horizon_ask *ask, const struct desk_today_list *list,
                      struct arena *a, struct desk_horizon *out)
{
    struct filling *by_machine = ARENA_ARRAY(a, struct filling, d->n_machines);
    size_t *order = ARENA_ARRAY(a, size_t, d->n_machines);
    size_t n = 0;
    for (size_t i = 0; i < list->n; i++) {
        struct filling *f = &by_machine[list->at[i].machine - d->list];
        if (!f->machine) {
            f->machine = list->at[i].machine;
            order[n++] = (size_t)(f - by_machine);
        }
        ARENA_PUSH(a, f->items, f->n, f->cap) = &list->at[i];
    }
    struct desk_horizon_lane *lanes = ARENA_ARRAY(a, struct desk_horizon_lane, d->n_machines);
    struct desk_horizon_lane *empty = ARENA_ARRAY(a, struct desk_horizon_lane, d->n_machines);
    size_t n_empty = 0;
    for (size_t i = 0; i < n; i++) {
        struct desk_horizon_lane lane = lane_of(&by_machine[order[i]], ask, a);
        *(lane.n ? &lanes[out->n++] : &empty[n_empty++]) = lane;
    }
    for (size_t i = 0; i < d->n_machines; i++) {
        const struct desk_machine *m = &d->list[i];
        if (!by_machine[i].machine && (ask->site.n == 0 || str_eq_nocase(ask->site, m->site)) &&
            (ask->book.n == 0 || str_eq_nocase(ask->book, m->book_id)) && (!m->out_of_service || ask->with_stopped)) {
            empty[n_empty++] = (struct desk_horizon_lane){.machine = m};
        }
    }
    for (size_t i = 0; i < n_empty; i++) {
        lanes[out->n++] = empty[i];
    }
    out->lanes = lanes;
}

/* Days that both have, 0 when none. */
static int days_shared(day_t from, day_t to, day_t first, day_t last)
{
    day_t begin = from > first ? from : first;
    day_t end = to < last ? to : last;
    return end >= begin ? end - begin + 1 : 0;
}

static void add_weeks(struct desk_horizon *out, struct arena *a)
{
    day_t monday = out->day - (day_weekday(out->day) - 1);
    size_t n = (size_t)(out->until - monday) / 7 + 1;
    struct desk_horizon_week *weeks = ARENA_ARRAY(a, struct desk_horizon_week, n);
    for (size_t i = 0; i < n; i++) {
        struct desk_horizon_week *week = &weeks[i];
        week->monday = monday + (day_t)(7 * i);
        for (size_t k = 0; k < out->n_calendar; k++) {
            const struct desk_calendar_item *item = &out->calendar[k];
            if (item->type == CALENDAR_VISIT && item->from >= week->monday && item->from < week->monday + 7) {
                week->taken += isfinite(item->hours) ? item->hours : 0;
            } else if (item->type == CALENDAR_HANDS && isfinite(item->hours)) {
                week->hands += item->hours * days_shared(item->from, item->to, week->monday, week->monday + 6) / 7;
            }
        }
    }
    out->weeks = weeks;
    out->n_weeks = n;
}

bool desk_horizon(struct desk *d, const struct desk_horizon_ask *ask, struct arena *a, struct desk_horizon *out,
                  struct err *e)
{
    *out = (struct desk_horizon){.day = desk_today_day(d)};
    enum due_kind kind = DUE_CHECKPOINT;
    if (ask->days < 1 || ask->days > 3660 || ask->chance_days < 0 || ask->chance_days > 3660) {
        return err_set(e, ERR_USAGE, "1 to 3660", "so many days are no horizon", (char *)0);
    }
    if (ask->kind.n && !kind_of(ask->kind, &kind)) {
        return err_set(e, ERR_USAGE, "checkpoint, reading, found, torque again, put back or fault", "no kind '",
                       str_z(e->a, ask->kind), "'", (char *)0);
    }
    if (!desk_refresh(d, e) || (ask->system.n && !known_system(d, ask->system, e))) {
        return false;
    }
    out->until = out->day + ask->days;
    out->chance_on = out->day + ask->chance_days;
    struct desk_today_filter filter = {.site = ask->site,
                                       .book = ask->book,
                                       .within_days = ask->days,
                                       .overdue_on = out->chance_on,
                                       .with_stopped = ask->with_stopped};
    struct desk_today_list list;
    day_t monday = out->day - (day_weekday(out->day) - 1);
    struct desk_calendar_item *calendar = NULL;
    if (!desk_today(d, &filter, a, &list, e) ||
        !desk_calendar_list(d, monday, out->until, a, &calendar, &out->n_calendar, e)) {
        return false;
    }
    out->calendar = calendar;
    add_lanes(d, ask, &list, a, out);
    add_weeks(out, a);
    return true;
}

/* ---- JSON ------------------------------------------------------------------------------------------------------- */

/* A day, or no member at all: a year of a thousand machines is long enough. */
static void day_if(struct json *j, const char *name, day_t day)
{
    if (day != DAY_NONE) {
        struct text t = text_new(j->t->a);
        text_day(&t, day);
        json_str(j, name, text_str(&t));
    }
}

static void str_if(struct json *j, const char *name, struct str value)
{
    if (value.n) {
        json_str(j, name, value);
    }
}

static void mark_object(struct json *j, const struct desk_horizon_mark *mark)
{
    const struct desk_due *due = mark->due;
    const struct reserve *r = &due->reserve;
    json_begin_object(j, NULL);
    json_str(j, "key", due->key);
    json_str(j, "label", mark->n > 1 ? due->machine->book->services[due->service].label : due->label);
    json_strz(j, "kind", desk_due_kind_text(due->kind));
    str_if(j, "system", mark->system);
    if (due->service != BOOK_NONE) {
        json_str(j, "service", due->machine->book->services[due->service].name);
    }
    json_int(j, "urgency", due->urgency);
    if (mark->n > 1) {
        json_int(j, "points", mark->n);
    }
    day_if(j, "p10", r->spread_known ? r->p10 : DAY_NONE);
    day_if(j, "p50", r->p50);
    day_if(j, "p90", r->spread_known ? r->p90 : DAY_NONE);
    if (isfinite(mark->chance)) {
        json_num(j, "chance", round(mark->chance * 1000) / 1000);
    }
    if (isfinite(r->hours_left)) {
        json_num(j, "hours_left", round(r->hours_left * 10) / 10);
    }
    if (due->urgency < 2 || due->kind != DUE_CHECKPOINT) {
        json_str(j, "says", due->says);
    }
    if (due->kind == DUE_READING) {
        json_strz(j, "verdict", verdict_word_text(due->verdict.word));
    }
    json_end_object(j);
}

static void lane_object(struct json *j, const struct desk_horizon_lane *lane)
{
    const struct desk_machine *m = lane->machine;
    json_begin_object(j, NULL);
    json_str(j, "name", m->name);
    json_str(j, "serial", m->serial);
    json_str(j, "book", m->book_id);
    str_if(j, "site", m->site);
    json_num(j, "hours", round(m->hours_now));
    json_int(j, "open", m->n_open);
    json_int(j, "faults", m->n_faults);
    if (m->out_of_service) {
        json_bool(j, "out_of_service", true);
    }
    json_int(j, "out", lane->out);
    json_begin_array(j, "marks");
    for (size_t i = 0; i < lane->n; i++) {
        mark_object(j, &lane->marks[i]);
    }
    json_end_array(j);
    json_end_object(j);
}

static void weeks_array(struct json *j, const struct desk_horizon *h)
{
    json_begin_array(j, "weeks");
    for (size_t i = 0; i < h->n_weeks; i++) {
        json_begin_object(j, NULL);
        day_if(j, "monday", h->weeks[i].monday);
        json_num(j, "taken", round(h->weeks[i].taken * 10) / 10);
        json_num(j, "hands", round(h->weeks[i].hands * 10) / 10);
        json_end_object(j);
    }
    json_end_array(j);
}

/* The books' titles, once each. */
static void families_object(struct json *j, const struct desk_horizon *h)
{
    struct map seen = map_new(j->t->a);
    json_begin_object(j, "families");
    for (size_t i = 0; i < h->n; i++) {
        const struct desk_machine *m = h->lanes[i].machine;
        if (!map_get(&seen, m->book_id, NULL)) {
            map_put(&seen, m->book_id, 1);
            json_str_k(j, m->book_id, m->book && m->book->title.n ? m->book->title : m->book_id);
        }
    }
    json_end_object(j);
}

void desk_horizon_json(struct json *j, struct desk *d, const struct desk_horizon *h)
{
    json_begin_object(j, NULL);
    json_str(j, "depot", desk_name(d));
    day_if(j, "day", h->day);
    day_if(j, "until", h->until);
    day_if(j, "chance_on", h->chance_on);
    families_object(j, h);
    json_begin_array(j, "lanes");
    for (size_t i = 0; i < h->n; i++) {
        lane_object(j, &h->lanes[i]);
    }
    json_end_array(j);
    desk_calendar_json(j, "calendar", h->calendar, h->n_calendar);
    weeks_array(j, h);
    json_end_object(j);
}
