/* Kinds of the workshop's arithmetic whose JSON does not map name by name. They still run the calculation of core/calc.
 */
#include "cases.h"

#include "calc/calc.h"
#include "fluid/cleanliness.h"
#include "fluid/viscosity.h"

#include <math.h>
#include <string.h>

/* A unit, by name; for a temperature difference that of the interval. */
static const struct unit *unit_of(const char *name, bool difference, struct arena *a, struct err *e)
{
    struct text t = text_new(a);
    if (difference && (strncmp(name, "deg", 3) == 0 || strcmp(name, "K") == 0)) {
        text_addz(&t, "delta ");
    }
    text_addz(&t, name);
    const struct unit *u = unit_find(text_str(&t));
    if (!u) {
        err_set(e, ERR_INPUT, "a unit of the table", "unknown unit \"", name, "\"", (char *)0);
    }
    return u;
}

/* value `from`, or a sum of [value, unit] pairs, in each unit of `to`. */
static bool convert(const struct case_in *in, bool difference, json_t *got, struct err *e)
{
    const json_t *to = json_object_get(in->inputs, "to");
    const json_t *sum = json_object_get(in->inputs, "sum");
    size_t i = 0;
    json_t *item = NULL;
    json_array_foreach((json_t *)(uintptr_t)to, i, item)
    {
        const char *name = json_string_value(item);
        const struct unit *target = name ? unit_of(name, difference, in->a, e) : NULL;
        double total = 0;
        size_t parts = sum ? json_array_size(sum) : 1;
        for (size_t k = 0; target && k < parts; k++) {
            const json_t *pair = json_array_get(sum, k);
            const json_t *value = sum ? json_array_get(pair, 0) : json_object_get(in->inputs, "value");
            const char *unit = json_string_value(sum ? json_array_get(pair, 1) : json_object_get(in->inputs, "from"));
            const struct unit *from = unit ? unit_of(unit, difference, in->a, e) : NULL;
            double part = 0;
            if (!from || !json_is_number(value) || !unit_convert(json_number_value(value), from, target, &part, e)) {
                return err_set(e, ERR_INPUT, "a value and its unit", "nothing to convert", (char *)0);
            }
            total += part;
        }
        if (!target) {
            return err_set(e, ERR_INPUT, "units as texts", "no unit to convert to", (char *)0);
        }
        case_set_number(got, name, total);
    }
    return json_array_size(to) > 0 || err_set(e, ERR_INPUT, "units as texts", "no unit to convert to", (char *)0);
}

bool case_convert(const struct case_in *in, json_t *got, struct err *e)
{
    return convert(in, false, got, e);
}

bool case_convert_difference(const struct case_in *in, json_t *got, struct err *e)
{
    return convert(in, true, got, e);
}

/* Starts a calculation that the table does not describe. */
static struct calc_call call_of(const char *name, struct arena *a)
{
    return calc_call_new(calc_find(str_of(name)), a);
}

static double number_of(const struct calc_call *call, const char *output, const char *unit)
{
    const struct calc_value *v = calc_result(call, str_of(output));
    const struct unit *u = unit ? unit_find(str_of(unit)) : NULL;
    return v->form != CALC_NUMBER ? (double)NAN : u ? unit_from_si(u, v->number) : v->number;
}

/* A number with a unit given to an input. */
static bool give(struct calc_call *call, const char *input, double value, const char *unit, struct err *e)
{
    const struct unit *u = unit ? unit_find(str_of(unit)) : NULL;
    if (unit && !u) {
        return err_set(e, ERR_INPUT, "a unit of the table", "unknown unit \"", unit, "\"", (char *)0);
    }
    double same = value;
    return (!u || unit_convert(value, u, u, &same, e)) &&
           calc_give_number(call, str_of(input), u ? unit_to_si(u, same) : value, e);
}

/* A temperature NAME_degF or NAME_degC, on a scale whose zero is the one the source used (460, 273 ...). */
static bool give_temperature(const struct case_in *in, struct calc_call *call, const char *input, const char *name,
                             struct err *e)
{
    char key[64];
    for (int fahrenheit = 0; fahrenheit < 2; fahrenheit++) {
        const char *scale = fahrenheit ? "degF" : "degC";
        const char *offset_key = fahrenheit ? "zero_offset_degF" : "zero_offset_degC";
        struct text t = text_new(in->a);
        text_join(&t, name, "_", scale, (char *)0);
        memcpy(key, text_z(&t), t.n + 1);
        if (!case_has(in, key)) {
            continue;
        }
        double value = 0;
        double offset = fahrenheit ? 459.67 : 273.15;
        if (!case_number(in, key, &value, e) ||
            (case_has(in, offset_key) && !case_number(in, offset_key, &offset, e))) {
            return false;
        }
        return calc_give_number(call, str_of(input), (value + offset) * (fahrenheit ? 5.0 / 9 : 1), e);
    }
    return err_set(e, ERR_INPUT, "a temperature in degC or degF", name, " is missing", (char *)0);
}

bool case_tyre_temp(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("tyre-pressure", in->a);
    struct str unit;
    double gauge = 0;
    double atm1 = 0;
    double atm2 = 0;
    if (!case_text(in, "unit", &unit, e) || !case_number(in, "gauge", &gauge, e)) {
        return false;
    }
    const char *u = str_z(in->a, unit);
    if ((case_has(in, "atm1") && (!case_number(in, "atm1", &atm1, e) || !give(&call, "ambient1", atm1, u, e))) ||
        (case_has(in, "atm2") && (!case_number(in, "atm2", &atm2, e) || !give(&call, "ambient2", atm2, u, e)))) {
        return false;
    }
    if (!give(&call, "gauge", gauge, u, e) || !give_temperature(in, &call, "from", "t1", e) ||
        !give_temperature(in, &call, "to", "t2", e) || !calc_run(&call, e)) {
        return false;
    }
    case_set_number(got, "gauge", number_of(&call, "gauge", u));
    return true;
}

/* Power, and at the shaft for the efficiency that the expected key carries: kW_shaft_at_0.85. */
bool case_power(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("hydraulic-power", in->a);
    bool us = case_has(in, "psi");
    double pressure = 0;
    double flow = 0;
    if (!case_number(in, us ? "psi" : "bar", &pressure, e) || !case_number(in, us ? "gpm" : "L_min", &flow, e) ||
        !give(&call, "pressure", pressure, us ? "psi" : "bar", e) ||
        !give(&call, "flow", flow, us ? "US gal/min" : "L/min", e)) {
        return false;
    }
    const char *key = NULL;
    json_t *member = NULL;
    json_object_foreach((json_t *)(uintptr_t)in->expected, key, member)
    {
        ptrdiff_t at = str_find(str_of(key), S("_shaft_at_"));
        double efficiency = 0;
        if (at >= 0 && num_parse(str_of(key + at + strlen("_shaft_at_")), &efficiency) &&
            (!calc_give_number(&call, S("efficiency"), efficiency, e) || !calc_run(&call, e))) {
            return false;
        }
        if (at >= 0) {
            case_set_number(got, key, number_of(&call, "shaft", key[0] == 'h' ? "hp" : "kW"));
        }
    }
    if (!calc_run(&call, e)) {
        return false;
    }
    case_set_number(got, "kW", number_of(&call, "power", "kW"));
    case_set_number(got, "hp", number_of(&call, "power", "hp"));
    return true;
}

/* Change in per cent, and whether the used oil is still in the grade that the expected key names: still_in_grade_40. */
bool case_percent_change(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("oil-change", in->a);
    double fresh = 0;
    double used = 0;
    if (!case_number(in, "new", &fresh, e) || !case_number(in, "used", &used, e) ||
        !give(&call, "fresh", fresh, NULL, e) || !give(&call, "used", used, NULL, e) || !calc_run(&call, e)) {
        return false;
    }
    case_set_number(got, "percent", number_of(&call, "change", "%"));
    const char *key = NULL;
    json_t *member = NULL;
    struct str head = S("still_in_grade_");
    json_object_foreach((json_t *)(uintptr_t)in->expected, key, member)
    {
        bool still = false;
        if (!str_starts(str_of(key), head)) {
            continue;
        }
        if (!j300_in_grade(str_of(key + head.n), used * 1e-6, &still, e)) {
            return false;
        }
        case_set_flag(got, key, still);
    }
    return true;
}

/* parts: [[share, viscosity], ...] */
bool case_blend(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("blend", in->a);
    const json_t *parts = json_object_get(in->inputs, "parts");
    size_t n = json_array_size(parts);
    double *shares = ARENA_ARRAY(in->a, double, n + 1);
    double *v = ARENA_ARRAY(in->a, double, n + 1);
    for (size_t i = 0; i < n; i++) {
        const json_t *pair = json_array_get(parts, i);
        if (!json_is_number(json_array_get(pair, 0)) || !json_is_number(json_array_get(pair, 1))) {
            return err_set(e, ERR_INPUT, "[share, viscosity]", "a part of the blend is no pair of numbers", (char *)0);
        }
        shares[i] = json_number_value(json_array_get(pair, 0));
        v[i] = json_number_value(json_array_get(pair, 1)) * 1e-6;
    }
    if (!calc_give_list(&call, S("shares"), shares, n, e) || !calc_give_list(&call, S("v"), v, n, e) ||
        !calc_give_text(&call, S("method"), strncmp(in->kind, "astm", 4) == 0 ? S("astm") : S("refutas"), e) ||
        !calc_run(&call, e)) {
        return false;
    }
    case_set_number(got, "v", number_of(&call, "v", "mm2/s"));
    return true;
}

bool case_as4059(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("cleanliness-class", in->a);
    const json_t *counts = json_object_get(in->inputs, "per_100ml_gt");
    const char *key = NULL;
    json_t *member = NULL;
    json_object_foreach((json_t *)(uintptr_t)counts, key, member)
    {
        char name[2] = {(char)(key[0] | 0x20), 0};
        if (!json_is_number(member)) {
            return err_set(e, ERR_INPUT, "a number", key, ": no number", (char *)0);
        }
        if (!calc_give_number(&call, str_of(name), json_number_value(member), e)) {
            return false;
        }
    }
    if (!calc_run(&call, e)) {
        return false;
    }
    const struct calc_value *v = calc_result(&call, S("class"));
    if (v->form == CALC_NUMBER) {
        case_set_number(got, "class", v->number);
    } else if (v->form == CALC_TEXT) {
        case_set_text(got, "class", v->text);
    } else {
        json_object_set_new(got, "class", json_null());
        case_set_text(got, "reason", v->text);
    }
    return true;
}

/* Which of the two names of a count the case has, and how many ml it is for. */
static const char *count_name(const struct case_in *in, double *ml)
{
    *ml = case_has(in, "per_100ml") ? 100 : 1;
    return *ml > 1 ? "per_100ml" : "per_ml";
}

bool case_iso_scale(const struct case_in *in, json_t *got, struct err *e)
{
    double ml = 1;
    double count = 0;
    int scale = 0;
    const char *name = count_name(in, &ml);
    if (!case_number(in, name, &count, e) || !iso4406_scale(count / ml, &scale, e)) {
        return false;
    }
    if (scale == ISO4406_OVER) {
        case_set_text(got, "scale", S(">28"));
    } else {
        case_set_number(got, "scale", scale);
    }
    return true;
}

/* An array of numbers as a list input. */
static bool give_array(const struct case_in *in, struct calc_call *call, const char *input, const char *name,
                       struct err *e)
{
    const json_t *array = json_object_get(in->inputs, name);
    size_t n = json_array_size(array);
    double *list = ARENA_ARRAY(in->a, double, n + 1);
    for (size_t i = 0; i < n; i++) {
        if (!json_is_number(json_array_get(array, i))) {
            return err_set(e, ERR_INPUT, "a number", name, ": an item is no number", (char *)0);
        }
        list[i] = json_number_value(json_array_get(array, i));
    }
    return calc_give_list(call, str_of(input), list, n, e);
}

bool case_iso_code(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("cleanliness-code", in->a);
    double ml = 1;
    const char *name = count_name(in, &ml);
    if (!give_array(in, &call, "counts", name, e) || !give(&call, "per", ml, NULL, e) ||
        (case_has(in, "raw_counts") && !give_array(in, &call, "raw", "raw_counts", e)) || !calc_run(&call, e)) {
        return false;
    }
    case_set_text(got, "code", calc_result(&call, S("code"))->text);
    return true;
}

/* Hydrometer: factor and reference are per degree of the unit that is named. */
bool case_gravity(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("acid-gravity", in->a);
    struct str unit;
    double t = 0;
    double reference = 0;
    double per_degree = 0;
    double reading = 0;
    if (!case_text(in, "unit", &unit, e) || !case_number(in, "t", &t, e) || !case_number(in, "ref", &reference, e) ||
        !case_number(in, "per_degree", &per_degree, e) ||
        (case_has(in, "reading") &&
         (!case_number(in, "reading", &reading, e) || !give(&call, "reading", reading, NULL, e)))) {
        return false;
    }
    const char *u = str_z(in->a, unit);
    double per_kelvin = str_eq(unit, S("degF")) ? per_degree * 1.8 : per_degree;
    if (!give(&call, "temperature", t, u, e) || !give(&call, "reference", reference, u, e) ||
        !give(&call, "factor", per_kelvin, NULL, e) || !calc_run(&call, e)) {
        return false;
    }
    if (case_has(in, "reading")) {
        case_set_number(got, "sg", number_of(&call, "gravity", NULL));
    }
    case_set_number(got, "correction", number_of(&call, "correction", NULL));
    return true;
}

/* flows: {"year": amount} */
bool case_flows(const struct case_in *in, json_t *got, struct err *e)
{
    struct calc_call call = call_of("present-worth-flows", in->a);
    const json_t *flows = json_object_get(in->inputs, "flows");
    size_t n = 0;
    double *years = ARENA_ARRAY(in->a, double, json_object_size(flows) + 1);
    double *amounts = ARENA_ARRAY(in->a, double, json_object_size(flows) + 1);
    const char *key = NULL;
    json_t *member = NULL;
    json_object_foreach((json_t *)(uintptr_t)flows, key, member)
    {
        if (!num_parse(str_of(key), &years[n]) || !json_is_number(member)) {
            return err_set(e, ERR_INPUT, "a year and its amount", "no flow: ", key, (char *)0);
        }
        amounts[n++] = json_number_value(member);
    }
    double rate = 0;
    double annual = 0;
    double annual_years = 0;
    if (!case_number(in, "i", &rate, e) || !calc_give_list(&call, S("years"), years, n, e) ||
        !calc_give_list(&call, S("amounts"), amounts, n, e) || !give(&call, "rate", rate, NULL, e) ||
        (case_has(in, "annual") &&
         (!case_number(in, "annual", &annual, e) || !give(&call, "annual", annual, NULL, e))) ||
        (case_has(in, "annual_years") &&
         (!case_number(in, "annual_years", &annual_years, e) || !give(&call, "annual-years", annual_years, NULL, e))) ||
        !calc_run(&call, e)) {
        return false;
    }
    case_set_number(got, "pw", number_of(&call, "worth", NULL));
    return true;
}
