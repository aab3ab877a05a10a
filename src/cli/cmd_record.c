/* witmark record ...: one command per kind of entry. */
#include "cli.h"

#include "desk_judge.h"

static struct str argument(const struct call *c, int i)
{
    return i < c->n ? str_of(c->arguments[i]) : (struct str){0};
}

int print_recorded(struct call *c, bool ok, const struct desk_recorded *r)
{
    if (!ok) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        json_begin_object(&j, NULL);
        struct text id = text_new(&c->arena);
        text_entry_id(&id, r->id);
        json_str(&j, "entry", text_str(&id));
        json_str(&j, "says", r->says);
        if (r->judged) {
            json_strz(&j, "verdict", verdict_word_text(r->verdict.word));
            json_str(&j, "reason", r->verdict.reason);
            json_str(&j, "correction", r->verdict.correction);
            json_begin_object(&j, "judged");
            desk_verdict_members_json(&j, c->desk, &r->verdict);
            json_end_object(&j);
        }
        json_end_object(&j);
        text_char(&t, '\n');
        return print_text(&t);
    }
    text_add(&t, r->says);
    text_addz(&t, "\nentry ");
    text_entry_id(&t, r->id);
    text_char(&t, '\n');
    return print_text(&t);
}

/* The head that all records share: the stamp, and the place of the answer. */
#define STAMPED(c, machine)                    \
    struct desk_stamp stamp;                   \
    struct desk_recorded out = {0};            \
    if (!call_stamp((c), (machine), &stamp)) { \
        return failed(c);                      \
    }

static int run_reading(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(c,
                          desk_record_reading(c->desk, &stamp, argument(c, 1), argument(c, 2), option_str(c, "with"),
                                              &c->arena, &out, &c->err),
                          &out);
}

static int run_meter(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(c, desk_record_meter(c->desk, &stamp, argument(c, 1), &c->arena, &out, &c->err), &out);
}

static int run_meter_replaced(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(
        c, desk_record_meter_replaced(c->desk, &stamp, argument(c, 1), argument(c, 2), &c->arena, &out, &c->err), &out);
}

static int run_found(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(
        c, desk_record_found(c->desk, &stamp, argument(c, 1), argument(c, 2), &c->arena, &out, &c->err), &out);
}

static int run_done(struct call *c)
{
    STAMPED(c, argument(c, 0))
    struct desk_done done = {argument(c, 1), option_str(c, "hours"), option_str(c, "parts"), option_str(c, "fluids"),
                             option_str(c, "minutes")};
    return print_recorded(c, desk_record_done(c->desk, &stamp, &done, &c->arena, &out, &c->err), &out);
}

static int run_turn(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(c,
                          desk_record_turn(c->desk, &stamp, argument(c, 1), argument(c, 2), option_given(c, "accepted"),
                                           &c->arena, &out, &c->err),
                          &out);
}

static int run_fault(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(
        c, desk_record_fault(c->desk, &stamp, argument(c, 1), option_given(c, "cleared"), &c->arena, &out, &c->err),
        &out);
}

static int run_burn(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(
        c, desk_record_burn(c->desk, &stamp, argument(c, 1), option_str(c, "minutes"), &c->arena, &out, &c->err), &out);
}

static int run_opened(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(c, desk_record_open(c->desk, &stamp, argument(c, 1), false, &c->arena, &out, &c->err), &out);
}

static int run_put_back(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(c, desk_record_open(c->desk, &stamp, argument(c, 1), true, &c->arena, &out, &c->err), &out);
}

static int run_stock(struct call *c)
{
    STAMPED(c, (struct str){0})
    return print_recorded(
        c, desk_record_stock(c->desk, &stamp, argument(c, 0), argument(c, 1), &c->arena, &out, &c->err), &out);
}

static int run_note(struct call *c)
{
    STAMPED(c, c->n == 2 ? argument(c, 0) : (struct str){0})
    stamp.note = argument(c, c->n - 1);
    return print_recorded(c, desk_record_note(c->desk, &stamp, &c->arena, &out, &c->err), &out);
}

static int run_out(struct call *c)
{
    STAMPED(c, argument(c, 0))
    stamp.note = argument(c, 1);
    return print_recorded(c, desk_record_out(c->desk, &stamp, &c->arena, &out, &c->err), &out);
}

static int run_attachment(struct call *c)
{
    STAMPED(c, argument(c, 0))
    return print_recorded(
        c, desk_record_attachment(c->desk, &stamp, c->arguments[1], option_str(c, "about"), &c->arena, &out, &c->err),
        &out);
}

#define AT                                                                                     \
    {                                                                                          \
        "at", 0, "TIME", "when it was (otherwise now): 2026-09-06, 2026-09-06 07:40, RFC 3339" \
    }
#define NOTE                                           \
    {                                                  \
        "note", 'n', "TEXT", "what else is to be said" \
    }
static const struct option_def plain[] = {AT, NOTE, END_OF_OPTIONS};
static const struct option_def only_at[] = {AT, END_OF_OPTIONS};
static const struct option_def reading[] = {
    AT,
    NOTE,
    {"with", 'w', "NAME=VALUE,...", "what was read together with it: 'oil temperature=31 degC'"},
    END_OF_OPTIONS};
static const struct option_def done[] = {
    AT,
    NOTE,
    {"hours", 0, "HOURS", "the meter then"},
    {"parts", 0, "PART=N,...", "parts used (otherwise those of the book; none)"},
    {"fluids", 0, "FLUID=VOLUME,...", "fluids filled (otherwise those of the book; none)"},
    {"minutes", 0, "MINUTES", "how long it took"},
    END_OF_OPTIONS};
static const struct option_def turn[] = {AT, NOTE, {"accepted", 0, NULL, "this setting stays"}, END_OF_OPTIONS};
static const struct option_def fault[] = {AT, NOTE, {"cleared", 0, NULL, "it is no longer active"}, END_OF_OPTIONS};
static const struct option_def burn[] = {AT, {"minutes", 0, "MINUTES", "how long it took"}, END_OF_OPTIONS};
static const struct option_def attachment[] = {AT, {"about", 0, "ENTRY", "the entry it belongs to"}, END_OF_OPTIONS};

const struct command record_commands[] = {
    {"record reading", "MACHINE CHECKPOINT VALUE", 3, 3, "a measured value; says at once whether it is in limits", NULL,
     reading, run_reading, false, true},
    {"record meter", "MACHINE HOURS", 2, 2, "the hour meter", NULL, plain, run_meter, false, true},
    {"record meter-replaced", "MACHINE OLD NEW", 3, 3,
     "a new hour meter: what the old one showed and what the new one shows", NULL, plain, run_meter_replaced, false,
     true},
    {"record found", "MACHINE CHECKPOINT ok|WORDS", 3, 3, "what was seen: ok, or what is wrong", NULL, plain, run_found,
     false, true},
    {"record done", "MACHINE TASK", 2, 2, "a task done, with parts, fluids and minutes", NULL, done, run_done, false,
     true},
    {"record turn", "MACHINE ADJUSTER TURNS", 3, 3, "a counted adjustment: '1/2 in', '1 1/4 out'", NULL, turn, run_turn,
     false, true},
    {"record fault", "MACHINE SPN/FMI|CODE", 2, 2, "a fault seen, or with --cleared no longer active", NULL, fault,
     run_fault, false, true},
    {"record burn", "MACHINE TYPE", 2, 2, "an exhaust filter burn: passive, active, parked, inhibited, released", NULL,
     burn, run_burn, false, true},
    {"record opened", "MACHINE ITEM", 2, 2, "something opened, shut off, propped or released",
     "It stays on the put-back list until record put-back.", plain, run_opened, false, true},
    {"record put-back", "MACHINE ITEM", 2, 2, "what was opened is as it was", NULL, plain, run_put_back, false, true},
    {"record stock", "PART QUANTITY", 2, 2, "parts put on the shelf (or taken, with -)", NULL, only_at, run_stock,
     false, true},
    {"record note", "[MACHINE] TEXT", 1, 2, "a note", NULL, only_at, run_note, false, true},
    {"record out", "MACHINE REASON", 2, 2, "out of service; machine add takes it in again", NULL, only_at, run_out,
     false, true},
    {"record attachment", "MACHINE FILE", 2, 2, "a photo or file, kept by its hash", NULL, attachment, run_attachment,
     false, true},
    {0},
};
