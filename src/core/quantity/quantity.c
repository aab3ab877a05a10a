/* Conversion between units, the choice of the reader's unit, and printing. Reading is quantity_parse.c. */
#include "quantity_internal.h"

#include <math.h>

double unit_to_si(const struct unit *u, double value)
{
    return value * u->factor + u->offset;
}

double unit_from_si(const struct unit *u, double value_si)
{
    return (value_si - u->offset) / u->factor;
}

/* Below this many kelvin a temperature is out of range and not merely the last bit of a conversion. */
#define KELVIN_ROUNDING 1e-9

/* "-460 degF" for a message. */
static struct str value_text(struct arena *a, double value, const struct unit *u)
{
    struct text t = text_new(a);
    if (isfinite(value)) {
        text_double(&t, value);
    } else {
        text_addz(&t, isnan(value) ? "not a number" : value > 0 ? "infinity" : "-infinity");
    }
    text_join(&t, " ", u->symbol, (char *)0);
    return text_str(&t);
}

bool unit_convert(double value, const struct unit *from, const struct unit *to, double *out, struct err *e)
{
    if (from->kind != to->kind) {
        return err_set(e, ERR_DOMAIN, "units of the same kind of quantity", from->symbol, " is a ",
                       quantity_kind_text(from->kind), ", ", to->symbol, " is a ", quantity_kind_text(to->kind),
                       (char *)0);
    }
    if (!isfinite(value)) {
        return err_set(e, ERR_DOMAIN, "a finite number", str_z(e->a, value_text(e->a, value, from)),
                       " cannot be converted", (char *)0);
    }
    double si = unit_to_si(from, value);
    if (from->kind == Q_TEMPERATURE && si < 0) {
        if (si < -KELVIN_ROUNDING) {
            return err_set(e, ERR_DOMAIN, "at least 0 K = -273.15 degC = -459.67 degF",
                           str_z(e->a, value_text(e->a, value, from)), " is below absolute zero", (char *)0);
        }
        si = 0;
    }
    /* A unit into itself stays to the last bit; so do units that differ only in name. */
    double result = from->factor == to->factor && from->offset == to->offset ? value : unit_from_si(to, si);
    if (!isfinite(result)) {
        return err_set(e, ERR_DOMAIN, "a smaller number", str_z(e->a, value_text(e->a, value, from)),
                       " is too large for ", to->symbol, (char *)0);
    }
    *out = result;
    return true;
}

bool unit_system_parse(struct str s, enum unit_system *system)
{
    if (str_eq_nocase(s, S("si"))) {
        *system = UNITS_SI;
    } else if (str_eq_nocase(s, S("us"))) {
        *system = UNITS_US;
    } else if (s.n == 0 || str_eq_nocase(s, S("as-written"))) {
        *system = UNITS_AS_WRITTEN;
    } else {
        return false;
    }
    return true;
}

const struct unit *unit_preferred(enum unit_system system, const struct unit *written)
{
    if (!written || system == UNITS_AS_WRITTEN) {
        return written;
    }
    const struct unit_manner *manner = unit_manner_of(written);
    const char *wanted = system == UNITS_SI ? manner->system_si : manner->system_us;
    const struct unit *found = wanted ? unit_find(str_of(wanted)) : NULL;
    return found ? found : written;
}

/* As many decimals as the unit deserves; more only where these would leave less than two digits of a small value. */
static int decimals_for(double value, int deserved)
{
    double size = fabs(value);
    int decimals = deserved;
    for (double step = pow(10, -deserved); decimals < 9 && size > 0 && size < 10 * step && size < 0.1; step /= 10) {
        decimals++;
    }
    return decimals;
}

static void text_value(struct text *t, double value, const struct unit *u)
{
    text_number(t, value, decimals_for(value, u ? unit_manner_of(u)->decimals : 6));
}

/* A blank and the unit; units that are words take the plural. */
static void text_unit(struct text *t, double value, const struct unit *u)
{
    if (!u) {
        return;
    }
    text_join(t, " ", u->shown, (char *)0);
    bool word = str_eq(str_of(u->symbol), S("turn")) || str_eq(str_of(u->symbol), S("week"));
    if (word && fabs(value) > 1) {
        text_char(t, 's');
    }
}

void text_quantity(struct text *t, struct quantity q)
{
    text_value(t, q.value, q.unit);
    text_unit(t, q.value, q.unit);
}

void text_quantity_digits(struct text *t, struct quantity q, int digits)
{
    int deserved = q.unit ? unit_manner_of(q.unit)->decimals : 0;
    double size = fabs(q.value);
    int decimals = size > 0 && isfinite(size) ? digits - 1 - (int)floor(log10(size)) : 0;
    decimals = decimals > deserved ? decimals : deserved;
    text_number(t, q.value, decimals > 9 ? 9 : decimals);
    text_unit(t, q.value, q.unit);
}

/* The same value in another unit of its kind. */
static double in_unit(double value, const struct unit *from, const struct unit *to)
{
    return from == to || !from ? value : unit_from_si(to, unit_to_si(from, value));
}

void text_quantity_in(struct text *t, struct quantity q, enum unit_system system)
{
    const struct unit *u = unit_preferred(system, q.unit);
    text_quantity(t, (struct quantity){in_unit(q.value, q.unit, u), u});
}

void text_range(struct text *t, struct quantity_range r, enum unit_system system)
{
    const struct unit *u = unit_preferred(system, r.unit);
    double low = in_unit(r.low, r.unit, u);
    double high = in_unit(r.high, r.unit, u);
    if (isfinite(low)) {
        text_value(t, low, u);
        if (!isfinite(high)) {
            text_unit(t, low, u);
        }
        text_char(t, ' ');
    }
    text_addz(t, "..");
    if (isfinite(high)) {
        text_char(t, ' ');
        text_value(t, high, u);
        text_unit(t, high, u);
    }
}

/* "12 months", with " or " in front when something stands there already. */
static void text_part(struct text *t, bool *first, double count, const char *one, const char *many)
{
    if (!*first) {
        text_addz(t, " or ");
    }
    *first = false;
    text_number(t, count, 2);
    text_char(t, ' ');
    text_addz(t, count == 1 ? one : many);
}

void text_interval(struct text *t, struct interval i)
{
    bool first = true;
    int parts = (i.hours > 0) + (i.months > 0) + (i.days > 0);
    if (i.hours > 0) {
        text_part(t, &first, i.hours, "h", "h");
    }
    if (i.months > 0) {
        text_part(t, &first, i.months, "month", "months");
    }
    if (i.days > 0) {
        text_part(t, &first, i.days, "day", "days");
    }
    if (parts > 1) {
        text_addz(t, ", whichever comes first");
    }
}
