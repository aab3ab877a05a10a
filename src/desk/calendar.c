/* The calendar's items, from and to the log. Nothing of it is kept in the desk's state: there are few, and the log is
 * asked. */
#include "desk_calendar.h"

#include "desk_internal.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>

const char *calendar_type_text(enum calendar_type type)
{
    static const char *const texts[] = {
#define X(symbol, text) [symbol] = (text),
        CALENDAR_TYPES(X)
#undef X
    };
    return texts[type];
}

static bool type_of(struct str word, enum calendar_type *type)
{
    for (int i = CALENDAR_SEASON; i <= CALENDAR_HANDS; i++) {
        if (str_eq(word, str_of(calendar_type_text((enum calendar_type)i)))) {
            *type = (enum calendar_type)i;
            return true;
        }
    }
    return false;
}

/* What kind_check can't know: that a visit and hands need hours, for the weeks below the horizon. */
static bool complete(const struct desk_calendar_new *item, struct str machine, struct err *e)
{
    enum calendar_type type = CALENDAR_EVENT;
    if (!type_of(item->type, &type)) {
        return err_set(e, ERR_INPUT, "season, event, blocked, visit or hands", "'", str_z(e->a, item->type),
                       "' is nothing that a calendar holds", (char *)0);
    }
    if (item->from == DAY_NONE) {
        return err_set(e, ERR_INPUT, "its first day", "no day is given", (char *)0);
    }
    bool hours = type == CALENDAR_VISIT || type == CALENDAR_HANDS;
    if (hours && !(item->hours > 0 && item->hours <= 10000)) {
        return err_set(e, ERR_INPUT,
                       type == CALENDAR_VISIT ? "the hours that it takes" : "the hours a week that there are",
                       type == CALENDAR_VISIT ? "a visit without hours" : "hands without hours", (char *)0);
    }
    if (!hours && isfinite(item->hours)) {
        return err_set(e, ERR_INPUT, "hours only for a visit or for hands", "hours for a ", calendar_type_text(type),
                       (char *)0);
    }
    if (type != CALENDAR_VISIT && machine.n) {
        return err_set(e, ERR_INPUT, "name a site instead, or make it a visit", "only a visit is about one machine",
                       (char *)0);
    }
    return true;
}

static void put_text(json_t *body, const char *name, struct str value)
{
    if (value.n) {
        json_object_set_new(body, name, json_stringn(value.p, value.n));
    }
}

static void put_day(struct arena *a, json_t *body, const char *name, day_t day)
{
    struct text t = text_new(a);
    text_day(&t, day);
    put_text(body, name, text_str(&t));
}

/* The body of a new item. */
static json_t *body_of(const struct desk_calendar_new *item, struct str note, struct arena *a)
{
    json_t *body = json_object();
    put_text(body, "type", item->type);
    put_text(body, "label", item->label);
    put_day(a, body, "from", item->from);
    put_day(a, body, "to", item->to == DAY_NONE ? item->from : item->to);
    put_text(body, "site", item->site);
    if (isfinite(item->hours)) {
        bool whole = item->hours == floor(item->hours);
        json_object_set_new(body, "hours", whole ? json_integer((json_int_t)item->hours) : json_real(item->hours));
    }
    put_text(body, "note", note);
    return body;
}

bool desk_calendar_add(struct desk *d, const struct desk_stamp *s, const struct desk_calendar_new *item,
                       struct arena *a, struct desk_recorded *out, struct err *e)
{
    *out = (struct desk_recorded){0};
    struct draft draft = {.kind = KIND_CALENDAR, .at = s->at == INSTANT_NONE ? desk_now(d) : s->at, .by = s->by};
    const struct desk_machine *m = s->machine.n ? desk_machine_find(d, s->machine, e) : NULL;
    if ((s->machine.n && !m) || !complete(item, s->machine, e)) {
        return false;
    }
    if (m) {
        draft.machine = m->serial;
    }
    json_t *body = body_of(item, s->note, e->a);
    draft.body = body;
    struct appended appended = {0};
    bool ok = depot_append(d->depot, &draft, 1, &appended, e);
    if (ok) {
        out->id = appended.id;
        struct entry entry = {.kind = KIND_CALENDAR, .machine = draft.machine, .body = body};
        struct text t = text_new(a);
        if (m) {
            text_add(&t, m->name);
            text_addz(&t, ": ");
        }
        text_entry_says(&t, d, &entry);
        out->says = text_str(&t);
    }
    json_decref(body);
    return ok;
}

/* The item that an entry says; false when a later program's word is not known here. */
static bool item_of(struct desk *d, const struct entry *entry, struct arena *a, struct desk_calendar_item *item)
{
    const json_t *body = entry->body;
    *item = (struct desk_calendar_item){.id = entry->id,
                                        .label = str_copy(a, body_str(body, "label")),
                                        .site = str_copy(a, body_str(body, "site")),
                                        .note = str_copy(a, body_str(body, "note")),
                                        .by = str_copy(a, entry->by),
                                        .machine = str_copy(a, entry->machine),
                                        .name = str_copy(a, entry->machine),
                                        .hours = body_num(body, "hours")};
    for (size_t i = 0; i < d->n_machines && item->machine.n; i++) {
        if (str_eq(d->list[i].serial, item->machine)) {
            item->name = str_copy(a, d->list[i].name);
        }
    }
    return type_of(body_str(body, "type"), &item->type) && day_parse(body_str(body, "from"), &item->from) &&
           day_parse(body_str(body, "to"), &item->to);
}

static int by_day(const void *a, const void *b)
{
    const struct desk_calendar_item *x = a;
    const struct desk_calendar_item *y = b;
    if (x->from != y->from) {
        return x->from < y->from ? -1 : 1;
    }
    int c = (int)x->type - (int)y->type;
    c = c ? c : str_cmp(x->name, y->name);
    return c ? c : str_cmp(x->label, y->label);
}

bool desk_calendar_list(struct desk *d, day_t from, day_t to, struct arena *a, struct desk_calendar_item **at,
                        size_t *n, struct err *e)
{
    *at = NULL;
    *n = 0;
    struct entry_filter filter = {.view = VIEW_EFFECTIVE, .kinds = KIND_BIT(KIND_CALENDAR)};
    struct entries found = {0};
    if (!desk_refresh(d, e) || !depot_list(d->depot, &filter, a, &found, e)) {
        return false;
    }
    size_t cap = 0;
    for (size_t i = 0; i < found.n; i++) {
        struct desk_calendar_item item;
        if (item_of(d, &found.at[i], a, &item) && item.to >= from && item.from <= to) {
            ARENA_PUSH(a, *at, *n, cap) = item;
        }
    }
    entries_free(&found);
    if (*n) {
        qsort(*at, *n, sizeof **at, by_day);
    }
    return true;
}

bool desk_calendar_remove(struct desk *d, struct str entry_name, struct str by, struct str reason, struct arena *a,
                          struct desk_recorded *out, struct err *e)
{
    struct entry entry;
    if (!depot_find(d->depot, entry_name, VIEW_EFFECTIVE, e->a, &entry, e)) {
        return false;
    }
    bool ok = entry.kind == KIND_CALENDAR ||
              err_set(e, ERR_INPUT, "witmark calendar list shows them with their entries", "entry ",
                      str_z(e->a, entry_name), " is no item of the calendar", (char *)0);
    entry_free(&entry);
    return ok && desk_correct(d, entry_name, (struct str){0}, INSTANT_NONE, true, by,
                              reason.n ? reason : S("taken out of the calendar"), a, out, e);
}

static void day_member(struct json *j, const char *name, day_t day)
{
    struct text t = text_new(j->t->a);
    text_day(&t, day);
    json_str(j, name, text_str(&t));
}

void desk_calendar_json(struct json *j, const char *key, const struct desk_calendar_item *at, size_t n)
{
    json_begin_array(j, key);
    for (size_t i = 0; i < n; i++) {
        json_begin_object(j, NULL);
        struct text id = text_new(j->t->a);
        text_entry_id(&id, at[i].id);
        json_str(j, "entry", text_str(&id));
        json_strz(j, "type", calendar_type_text(at[i].type));
        json_str(j, "label", at[i].label);
        day_member(j, "from", at[i].from);
        day_member(j, "to", at[i].to);
        json_str(j, "site", at[i].site);
        json_str(j, "machine", at[i].machine);
        json_str(j, "name", at[i].name);
        json_num(j, "hours", at[i].hours);
        json_str(j, "note", at[i].note);
        json_str(j, "by", at[i].by);
        json_end_object(j);
    }
    json_end_array(j);
}
