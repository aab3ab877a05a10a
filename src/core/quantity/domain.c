/* One wording for values outside a formula's range; see domain.h. */
#include "quantity/domain.h"
#include "quantity/quantity.h"

#include <math.h>

/* The value in the unit's own scale, with its symbol; or what kind of no number it is. */
static void add_value(struct text *t, double value, const char *symbol, bool with_unit)
{
    const struct unit *u = symbol && symbol[0] ? unit_find(str_of(symbol)) : NULL;
    double shown = u ? unit_from_si(u, value) : value;
    if (!isfinite(value)) {
        text_addz(t, isnan(value) ? "not a number" : value > 0 ? "infinite" : "minus infinite");
        return;
    }
    struct text digits = text_new(t->a);
    if (fabs(shown) >= 1e15) { /* only a slip of the unit gets there; no row of zeros */
        text_double(t, shown);
        text_join(t, with_unit && u ? " " : "", with_unit && u ? u->shown : "", (char *)0);
        return;
    }
    text_quantity(&digits, (struct quantity){shown, with_unit ? u : NULL});
    text_add(t, text_str(&digits));
}

/* Starts "name is value". */
static struct text outside(const char *name, double value, const char *symbol, struct err *e)
{
    struct text what = text_new(e->a);
    text_join(&what, name, " is ", (char *)0);
    add_value(&what, value, symbol, true);
    return what;
}

bool domain_within(const char *name, double value, const char *unit, double low, double high, struct err *e)
{
    if (value >= low && value <= high) {
        return true;
    }
    struct text what = outside(name, value, unit, e);
    struct text right = text_new(e->a);
    text_addz(&right, "within ");
    add_value(&right, low, unit, false);
    text_addz(&right, " .. ");
    add_value(&right, high, unit, true);
    return err_set(e, ERR_DOMAIN, text_z(&right), text_z(&what), (char *)0);
}

bool domain_above(const char *name, double value, const char *unit, double low, struct err *e)
{
    if (isfinite(value) && value > low) {
        return true;
    }
    struct text what = outside(name, value, unit, e);
    struct text right = text_new(e->a);
    text_addz(&right, "finite and more than ");
    add_value(&right, low, unit, true);
    return err_set(e, ERR_DOMAIN, text_z(&right), text_z(&what), (char *)0);
}

bool domain_refuse(const char *what, const char *right, struct err *e)
{
    return err_set(e, ERR_DOMAIN, right, what, (char *)0);
}
