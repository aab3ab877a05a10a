/* Why a part runs out, and the shelf as JSON. */
#include "stock_internal.h"

#include <math.h>

const struct desk_machine *stock_machine(struct desk *d)
{
    d->shelf = (struct desk_machine){.name = S(SHELF_NAME), .label = S(SHELF_NAME), .in_service = DAY_NONE};
    return &d->shelf;
}

static void why_count(struct reasons *r, const struct desk_part *p)
{
    struct text t = text_new(r->a);
    text_number(&t, p->have, 2);
    text_addz(&t, " there: all stock entries of it, less what tasks done used since the first");
    because(r, &t, p->has_entry ? desk_entry_ref(r->a, p->entry) : (struct str){0});
    t = text_new(r->a);
    text_addz(&t, "keep ");
    text_number(&t, p->keep, 0);
    text_addz(&t, ", packs of ");
    text_int(&t, p->pack);
    text_addz(&t, ", ");
    text_int(&t, p->lead_days);
    text_addz(&t, p->lead_given ? " days from order to shelf" : " days from order to shelf, as no book says it");
    because(r, &t, p->in_a_book ? S("the books' parts") : S("no book has this part"));
}

static void why_needs(struct reasons *r, const struct desk_part *p)
{
    for (size_t i = 0; i < p->n_needs && i < 8; i++) {
        const struct desk_need *need = &p->needs[i];
        struct text t = text_new(r->a);
        text_number(&t, need->pieces, 2);
        text_addz(&t, " for ");
        text_add(&t, need->machine->name);
        text_addz(&t, ", ");
        text_add(&t, need->label);
        if (need->due.p50 != DAY_NONE) {
            text_addz(&t, need->due.out ? ", overdue since " : ", about ");
            text_day_words(&t, need->due.p50);
        } else {
            text_addz(&t, ", no date can be told");
        }
        because(r, &t, need->machine->book ? need->machine->book->title : (struct str){0});
    }
    if (p->unforeseen) {
        struct text t = text_new(r->a);
        text_int(&t, p->unforeseen);
        text_addz(&t, p->unforeseen == 1 ? " time it was needed unforeseen" : " times it was needed unforeseen");
        because(r, &t, S("gamma-Poisson, Gelman and others 2013, 2.6"));
    }
    struct text t = text_new(r->a);
    text_number(&t, p->needed, 1);
    text_addz(&t, " expected to be needed in ");
    text_int(&t, p->lead_days + STOCK_COVER_DAYS);
    text_addz(&t, " days");
    because(r, &t, (struct str){0});
}

static bool no_part(const struct desk_shelf *shelf, struct str key, struct arena *a, struct err *e)
{
    struct str *numbers = ARENA_ARRAY(a, struct str, shelf->n + 1);
    for (size_t i = 0; i < shelf->n; i++) {
        numbers[i] = shelf->parts[i].number;
    }
    ptrdiff_t near = str_nearest(key, numbers, shelf->n);
    struct text right = text_new(e->a);
    text_addz(&right, near >= 0 ? "did you mean " : "witmark stock lists them");
    if (near >= 0) {
        text_add(&right, numbers[near]);
        text_char(&right, '?');
    }
    return err_set(e, ERR_MISSING, text_z(&right), "the shelf has no part '", str_z(e->a, key), "'", (char *)0);
}

bool stock_why(struct desk *d, struct str key, struct arena *a, struct desk_why *out, struct err *e)
{
    struct desk_shelf shelf;
    stock_shelf(d, a, &shelf);
    const struct desk_part *p = NULL;
    for (size_t i = 0; i < shelf.n && !p; i++) {
        p = str_eq_nocase(shelf.parts[i].number, key) ? &shelf.parts[i] : NULL;
    }
    if (!p) {
        return no_part(&shelf, key, a, e);
    }
    struct reasons r = {.d = d, .a = a};
    struct text title = text_new(a);
    text_addz(&title, SHELF_NAME ": ");
    text_add(&title, p->label);
    text_addz(&title, ", ");
    text_add(&title, p->number);
    out->title = text_str(&title);
    out->answer = p->says;
    if (p->counted) {
        why_count(&r, p);
    }
    why_needs(&r, p);
    if (p->counted && p->runs_out.p10 != DAY_NONE) {
        struct text t = text_new(a);
        text_addz(&t, "more is needed than is there: in one case of ten by ");
        text_day_words(&t, p->runs_out.p10);
        if (p->have < p->keep - 1e-9) {
            text_addz(&t, "; fewer are there than are to be kept: order now");
        } else if (p->order_by != DAY_NONE) {
            text_addz(&t, "; less ");
            text_int(&t, p->lead_days);
            text_addz(&t, " days: order by ");
            text_day_words(&t, p->order_by);
        }
        because(&r, &t, S("exact count by convolution, each need at its own distribution of days; docs/exhaust.md"));
    }
    if (p->order > 0) {
        struct text t = text_new(a);
        text_addz(&t, "order ");
        text_number(&t, p->order, 0);
        text_addz(&t, ": enough in nine cases of ten for ");
        text_int(&t, STOCK_COVER_DAYS);
        text_addz(&t, " days after it has come, and what is to be kept");
        because(&r, &t, (struct str){0});
    }
    out->at = r.at;
    out->n = r.n;
    return true;
}

/* ---- JSON -------------------------------------------------------------------------------------------------------- */

static void day_member(struct json *j, const char *key, day_t day)
{
    if (day == DAY_NONE) {
        json_put_null(j, key);
        return;
    }
    struct text t = text_new(j->t->a);
    text_day(&t, day);
    json_str(j, key, text_str(&t));
}

static void part_json(struct json *j, const struct desk_part *p)
{
    json_begin_object(j, NULL);
    json_str(j, "number", p->number);
    json_str(j, "label", p->label);
    json_bool(j, "in_a_book", p->in_a_book);
    json_bool(j, "counted", p->counted);
    json_num(j, "have", p->counted ? p->have : (double)NAN);
    json_num(j, "keep", p->keep);
    json_int(j, "pack", p->pack);
    json_int(j, "lead_days", p->lead_days);
    json_bool(j, "lead_given", p->lead_given);
    json_num(j, "needed", p->needed);
    json_int(j, "unforeseen", p->unforeseen);
    json_bool(j, "out", p->counted && p->runs_out.out);
    json_begin_object(j, "runs_out");
    day_member(j, "p10", p->counted ? p->runs_out.p10 : DAY_NONE);
    day_member(j, "p50", p->counted ? p->runs_out.p50 : DAY_NONE);
    day_member(j, "p90", p->counted ? p->runs_out.p90 : DAY_NONE);
    json_end_object(j);
    json_num(j, "order", p->order);
    day_member(j, "order_by", p->order_by);
    json_str(j, "says", p->says);
    json_begin_array(j, "needs");
    for (size_t i = 0; i < p->n_needs && i < 12; i++) {
        json_begin_object(j, NULL);
        json_str(j, "machine", p->needs[i].machine->serial);
        json_str(j, "name", p->needs[i].machine->name);
        json_str(j, "task", p->needs[i].task);
        json_str(j, "label", p->needs[i].label);
        json_num(j, "pieces", p->needs[i].pieces);
        json_bool(j, "overdue", p->needs[i].due.out);
        day_member(j, "p50", p->needs[i].due.p50);
        json_end_object(j);
    }
    json_end_array(j);
    json_end_object(j);
}

void desk_shelf_json(struct json *j, struct desk *d, const struct desk_shelf *shelf)
{
    (void)d;
    json_begin_object(j, NULL);
    day_member(j, "day", shelf->day);
    json_begin_array(j, "parts");
    for (size_t i = 0; i < shelf->n; i++) {
        part_json(j, &shelf->parts[i]);
    }
    json_end_array(j);
    json_end_object(j);
}
