/* Conversion between units: the one calculation whose kinds of quantity are the caller's. */
#include "calc_internal.h"

/* The unit of that name, of a difference of temperatures when one is asked for. */
static const struct unit *unit_asked(struct str name, bool difference, struct err *e)
{
    struct text t = text_new(e->a);
    if (difference) {
        text_addz(&t, "delta ");
    }
    text_add(&t, name);
    const struct unit *u = unit_find(text_str(&t));
    if (!u && difference) {
        u = unit_find(name);
    }
    if (!u) {
        const struct unit *near = unit_nearest(name);
        struct text right = text_new(e->a);
        text_join(&right, near ? "did you mean " : "a unit such as bar, psi, N.m or L/min", near ? near->symbol : "",
                  near ? "?" : "", (char *)0);
        err_set(e, ERR_INPUT, text_z(&right), "to: unknown unit \"", str_z(e->a, name), "\"", (char *)0);
    }
    return u;
}

static bool run_convert(struct calc_call *call, struct err *e)
{
    bool difference = in_flag(call, "difference");
    struct quantity q = {0};
    double value = 0;
    if (!quantity_parse(in_text(call, "value"), &q, e)) {
        return err_context(e, S("value"));
    }
    if (!q.unit) {
        return err_set(e, ERR_INPUT, "a number and its unit, such as 22 psi", "value has no unit", (char *)0);
    }
    const struct unit *to = unit_asked(in_text(call, "to"), difference, e);
    const struct unit *from = to && difference ? unit_asked(str_of(q.unit->symbol), true, e) : q.unit;
    if (!to || !from || !unit_convert(q.value, from, to, &value, e)) {
        return false;
    }
    struct text answer = text_new(call->a);
    text_quantity_digits(&answer, (struct quantity){value, to}, 6);
    return out_text(call, "answer", text_str(&answer)) && out_number(call, "value", value);
}

const struct calc calc_units[] = {
    {"convert",
     "A quantity in another unit of its kind",
     "(value factor1 + offset1 - offset2) / factor2",
     "NIST SP 811 (2008), appendix B; SI Brochure, 9th edition",
     {TEXT("value", "number and unit, e.g. 22 psi"),
      TEXT("to", "unit wanted, e.g. bar"),
      {"difference", CALC_FLAG, Q_NONE, NULL, "a difference of temperatures, not a temperature", "no"}},
     {TEXT("answer", "number and unit"), NUMBER("value", Q_NONE, NULL, "the number in the unit wanted")},
     run_convert},
};
const size_t calc_units_count = sizeof calc_units / sizeof *calc_units;
