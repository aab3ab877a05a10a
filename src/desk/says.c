/* What an entry says, in one line for people. */
#include "desk_internal.h"

#include <math.h>

static struct str body_text(const struct entry *entry, const char *member)
{
    return body_str(entry->body, member);
}

/* A quantity of a body in the depot's display units. */
static void add_quantity(struct text *t, const struct desk *d, const json_t *value)
{
    struct quantity q = {body_num(value, "value"), unit_find(body_str(value, "unit"))};
    text_quantity_in(t, q, d->units);
}

static void says_reading(struct text *t, const struct desk *d, const struct entry *entry)
{
    text_add(t, body_text(entry, "checkpoint"));
    text_char(t, ' ');
    add_quantity(t, d, entry->body);
    const char *key = NULL;
    json_t *member = NULL;
    bool first = true;
    json_object_foreach(json_object_get(entry->body, "with"), key, member)
    {
        text_join(t, first ? " at " : ", ", key, " ", (char *)0);
        add_quantity(t, d, member);
        first = false;
    }
}

static void says_done(struct text *t, const struct desk *d, const struct entry *entry)
{
    text_addz(t, "done: ");
    text_add(t, body_text(entry, "task"));
    double hours = body_num(entry->body, "hours");
    if (isfinite(hours)) {
        text_addz(t, " at ");
        text_number(t, hours, 1);
        text_addz(t, " h");
    }
    size_t i = 0;
    json_t *item = NULL;
    json_array_foreach(json_object_get(entry->body, "parts"), i, item)
    {
        text_addz(t, i ? ", " : "; parts ");
        text_number(t, body_num(item, "quantity"), 2);
        text_addz(t, " x ");
        struct str number = body_str(item, "number");
        text_add(t, number.n ? number : body_str(item, "part"));
    }
    json_array_foreach(json_object_get(entry->body, "fluids"), i, item)
    {
        text_addz(t, i ? ", " : "; fluids ");
        add_quantity(t, d, item);
        text_char(t, ' ');
        text_add(t, body_str(item, "fluid"));
    }
    double minutes = body_num(entry->body, "minutes");
    if (isfinite(minutes)) {
        text_addz(t, "; ");
        text_number(t, minutes, 0);
        text_addz(t, " min");
    }
}

static void says_round(struct text *t, const struct entry *entry)
{
    struct str is = body_text(entry, "is");
    text_addz(t, "round: ");
    if (str_eq(is, S("step"))) {
        text_add(t, body_text(entry, "step"));
        text_addz(t, " ");
        text_add(t, body_text(entry, "outcome"));
    } else {
        text_add(t, is);
        text_addz(t, body_text(entry, "title").n ? ", " : "");
        text_add(t, body_text(entry, "title"));
        text_addz(t, body_text(entry, "to").n ? " to " : "");
        text_add(t, body_text(entry, "to"));
    }
    if (body_text(entry, "reason").n) {
        text_addz(t, ": ");
        text_add(t, body_text(entry, "reason"));
    }
}

static void says_fault(struct text *t, const struct entry *entry)
{
    double spn = body_num(entry->body, "spn");
    text_addz(t, entry->kind == KIND_FAULT_SEEN ? "fault seen: " : "fault cleared: ");
    if (isfinite(spn)) {
        text_addz(t, "SPN ");
        text_number(t, spn, 0);
        text_addz(t, " FMI ");
        text_number(t, body_num(entry->body, "fmi"), 0);
    } else {
        text_add(t, body_text(entry, "code"));
    }
    struct str words = body_text(entry, "text");
    text_addz(t, words.n ? ", " : "");
    text_add(t, words);
}

static void says_turn(struct text *t, const struct entry *entry)
{
    turns_t turns = 0;
    text_add(t, body_text(entry, "adjuster"));
    if (body_bool(entry->body, "found", false)) {
        text_addz(t, ": counted from here");
        return;
    }
    bool exact = turns_of(body_num(entry->body, "turns"), &turns);
    bool accepted = body_bool(entry->body, "accepted", false);
    struct str saw = body_text(entry, "saw");
    text_char(t, ' ');
    if (turns || (!accepted && !saw.n)) {
        text_turns(t, turns);
        text_addz(t, exact ? "" : " (not a count: taken as the nearest)");
    } else {
        text_addz(t, accepted ? "left as it is" : "looked at again");
    }
    if (saw.n) {
        text_addz(t, ": ");
        text_addz(t, str_eq(saw, S("gone")) ? "it is gone" : "");
        text_add(t, str_eq(saw, S("gone")) ? (struct str){0} : saw);
    }
    text_addz(t, accepted ? ", setting accepted" : "");
}

/* A member {value, unit} after a word; nothing when it is not there. */
static void says_measure(struct text *t, const struct desk *d, const struct entry *entry, const char *member,
                         const char *before)
{
    const json_t *value = json_object_get(entry->body, member);
    if (value) {
        text_addz(t, before);
        add_quantity(t, d, value);
    }
}

static void says_handed_back(struct text *t, const struct entry *entry)
{
    text_addz(t, "handed back");
    struct str to = body_text(entry, "to");
    text_addz(t, to.n ? " to " : "");
    text_add(t, to);
    size_t i = 0;
    json_t *item = NULL;
    json_array_foreach(json_object_get(entry->body, "open"), i, item)
    {
        text_addz(t, i ? ", " : " with this open: ");
        struct str label = body_str(item, "label");
        text_add(t, label.n ? label : body_str(item, "what"));
    }
    struct str despite = body_text(entry, "despite");
    text_addz(t, despite.n ? "; because: " : "");
    text_add(t, despite);
}

static void says_machine(struct text *t, const struct entry *entry)
{
    text_addz(t, "taken in: ");
    text_add(t, body_text(entry, "serial"));
    struct str label = body_text(entry, "label");
    if (label.n) {
        text_addz(t, " as ");
        text_add(t, label);
    }
    text_addz(t, ", book ");
    text_add(t, body_text(entry, "book"));
    size_t i = 0;
    json_t *option = NULL;
    json_array_foreach(json_object_get(entry->body, "options"), i, option)
    {
        text_join(t, i ? ", " : ", with ", json_string_value(option), (char *)0);
    }
}

static void says_meters(struct text *t, const struct entry *entry)
{
    if (entry->kind == KIND_METER) {
        text_addz(t, "meter ");
        text_number(t, body_num(entry->body, "hours"), 1);
        text_addz(t, " h");
        return;
    }
    text_addz(t, "meter replaced: old one ");
    text_number(t, body_num(entry->body, "old"), 1);
    text_addz(t, " h, new one ");
    text_number(t, body_num(entry->body, "new"), 1);
    text_addz(t, " h");
}

/* "visit: rake chain, 2026-11-30, 2.5 h", "season: leaf season, 2026-10-12 to 2026-11-30" */
static void says_calendar(struct text *t, const struct entry *entry)
{
    struct str from = body_text(entry, "from");
    struct str to = body_text(entry, "to");
    text_add(t, body_text(entry, "type"));
    text_addz(t, ": ");
    text_add(t, body_text(entry, "label"));
    text_addz(t, ", ");
    text_add(t, from);
    if (!str_eq(from, to)) {
        text_addz(t, " to ");
        text_add(t, to);
    }
    double hours = body_num(entry->body, "hours");
    if (isfinite(hours)) {
        text_addz(t, ", ");
        text_number(t, hours, 2);
        text_addz(t, str_eq(body_text(entry, "type"), S("hands")) ? " h a week" : " h");
    }
}

/* "tracing: valve-chatters", "seen: only-cold", "done: read-charge, yes", "traced to counterbalance-low (...)" */
static void says_trace(struct text *t, const struct entry *entry)
{
    struct str step = body_text(entry, "step");
    struct str cause = body_text(entry, "cause");
    struct str mode = body_text(entry, "mode");
    if (str_eq(step, S("started"))) {
        text_addz(t, "tracing: ");
        text_add(t, body_text(entry, "symptom"));
    } else if (str_eq(step, S("ended"))) {
        text_addz(t, cause.n ? "traced to " : "trace given up without a cause");
        text_add(t, cause);
        text_addz(t, cause.n && body_bool(entry->body, "confirmed", false) ? ", confirmed" : "");
    } else {
        text_addz(t, str_eq(step, S("not-seen")) ? "not seen: "
                     : str_eq(step, S("cannot")) ? "can't be done here: "
                     : str_eq(step, S("seen"))   ? "seen: "
                                                 : "tried: ");
        text_add(t, body_text(entry, "what"));
        struct str result = body_text(entry, "result");
        text_addz(t, result.n ? ": " : "");
        text_add(t, str_eq(result, S("not-cured")) ? S("not cured") : result);
    }
    if (mode.n) {
        text_addz(t, " (");
        text_add(t, mode);
        text_addz(t, body_text(entry, "mechanism").n ? "; " : "");
        text_add(t, body_text(entry, "mechanism"));
        text_addz(t, body_text(entry, "root").n ? "; " : "");
        text_add(t, body_text(entry, "root"));
        text_char(t, ')');
    }
}

void text_entry_says(struct text *t, struct desk *d, const struct entry *entry)
{
    switch (entry->kind) {
    case KIND_MACHINE_IN:
        says_machine(t, entry);
        break;
    case KIND_MACHINE_OUT:
        text_addz(t, "out of service: ");
        text_add(t, body_text(entry, "reason"));
        break;
    case KIND_METER:
    case KIND_METER_REPLACED:
        says_meters(t, entry);
        break;
    case KIND_READING:
        says_reading(t, d, entry);
        break;
    case KIND_FOUND:
        text_add(t, body_text(entry, "checkpoint"));
        text_addz(t, ": ");
        text_add(t, body_text(entry, "look"));
        break;
    case KIND_DONE:
        says_done(t, d, entry);
        break;
    case KIND_TURN:
        says_turn(t, entry);
        break;
    case KIND_FAULT_SEEN:
    case KIND_FAULT_CLEARED:
        says_fault(t, entry);
        break;
    case KIND_BURN:
        text_addz(t, "exhaust filter burn: ");
        text_add(t, body_text(entry, "type"));
        if (isfinite(body_num(entry->body, "minutes"))) {
            text_addz(t, ", ");
            text_number(t, body_num(entry->body, "minutes"), 0);
            text_addz(t, " min");
        }
        break;
    case KIND_OPENED:
    case KIND_PUT_BACK:
        text_addz(t, entry->kind == KIND_OPENED ? "opened: " : "put back: ");
        text_add(t, body_text(entry, "what"));
        break;
    case KIND_MOVED:
        says_measure(t, d, entry, "distance", "moved without its own drive: ");
        says_measure(t, d, entry, "time", " in ");
        says_measure(t, d, entry, "slope", ", slope ");
        says_measure(t, d, entry, "load", ", carrying ");
        break;
    case KIND_HANDED_BACK:
        says_handed_back(t, entry);
        break;
    case KIND_STOCK:
        text_addz(t, "stock ");
        text_add(t, body_text(entry, "part"));
        text_addz(t, body_num(entry->body, "quantity") < 0 ? " " : " +");
        text_number(t, body_num(entry->body, "quantity"), 2);
        break;
    case KIND_NOTE:
        text_add(t, body_text(entry, "text"));
        break;
    case KIND_ATTACHMENT:
        text_addz(t, "attached ");
        text_add(t, body_text(entry, "name"));
        break;
    case KIND_TRACE:
        says_trace(t, entry);
        break;
    case KIND_CALENDAR:
        says_calendar(t, entry);
        break;
    case KIND_CORRECTION:
        text_addz(t, "corrects entry ");
        text_add(t, str_cut(body_text(entry, "corrects"), 0, 13));
        text_addz(t, body_bool(entry->body, "void", false) ? " (withdrawn): " : ": ");
        text_add(t, body_text(entry, "reason"));
        return;
    case KIND_ROUND:
        says_round(t, entry);
        break;
    case KIND_COUNT:
        break;
    }
    struct str note = body_text(entry, "note");
    if (note.n && entry->kind != KIND_NOTE) {
        text_addz(t, " - ");
        text_add(t, note);
    }
}
