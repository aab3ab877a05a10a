/* Looking up what a calculation takes from a book. */
#include "calc/calc_book.h"

#include <math.h>

/* Cuts "X of Y" into its parts. */
static bool cut_of(struct str words, struct str *what, struct str *of)
{
    ptrdiff_t at = str_find(words, S(" of "));
    if (at <= 0) {
        return false;
    }
    *what = str_trim(str_cut(words, 0, (size_t)at));
    *of = str_trim(str_cut(words, (size_t)at + 4, words.n));
    return true;
}

bool calc_is_book_words(struct str words)
{
    struct str what;
    struct str of;
    words = str_trim(words);
    bool letter = words.n && words.p[0] >= 'a' && words.p[0] <= 'z';
    return letter && (str_starts(words, S("tow ")) || cut_of(words, &what, &of));
}

static bool none(struct err *e, struct str words)
{
    return err_set(
        e, ERR_MISSING,
        "torque of TORQUE, capacity of FLUID, viscosity of FLUID at 40 degC, want, low or high of CHECKPOINT, a "
        "figure given for a CHECKPOINT, or tow distance, speed, slope or time",
        "the book has no \"", str_z(e->a, words), "\"", (char *)0);
}

static bool take(const struct book_quantity *from, struct quantity *q)
{
    *q = from->q;
    return from->given;
}

static bool of_tow(const struct book *b, struct str what, struct quantity *q)
{
    const struct book_recovery *r = &b->recovery;
    return r->given && (str_eq(what, S("distance")) ? take(&r->distance, q)
                        : str_eq(what, S("speed"))  ? take(&r->speed, q)
                        : str_eq(what, S("slope"))  ? take(&r->slope, q)
                        : str_eq(what, S("time"))   ? take(&r->time, q)
                                                    : false);
}

static bool of_torque(const struct book *b, struct str name, struct quantity *q)
{
    for (int i = 0; i < b->n_torques; i++) {
        if (str_eq(b->torques[i].name, name)) {
            return take(&b->torques[i].torque, q);
        }
    }
    return false;
}

/* "hydraulic-oil at 40 degC": only the two that the book gives. */
static bool of_viscosity(const struct book *b, struct str of, struct quantity *q)
{
    ptrdiff_t at = str_find(of, S(" at "));
    int fluid = book_find_fluid(b, at > 0 ? str_trim(str_cut(of, 0, (size_t)at)) : of);
    struct str degrees = at > 0 ? str_trim(str_cut(of, (size_t)at + 4, of.n)) : (struct str){0};
    bool hot = str_eq(degrees, S("100 degC"));
    if (fluid == BOOK_NONE || (!hot && !str_eq(degrees, S("40 degC")))) {
        return false;
    }
    double m2s = hot ? b->fluids[fluid].viscosity_100_m2s : b->fluids[fluid].viscosity_40_m2s;
    const struct unit *u = unit_find(S("mm2/s"));
    *q = (struct quantity){unit_from_si(u, m2s), u};
    return m2s > 0;
}

static bool of_checkpoint(const struct book *b, struct str what, struct str name, struct quantity *q)
{
    int i = book_find_checkpoint(b, name);
    if (i == BOOK_NONE) {
        return false;
    }
    const struct book_checkpoint *c = &b->checkpoints[i];
    if (str_eq(what, S("want"))) {
        return take(&c->want, q);
    }
    if (str_eq(what, S("low")) || str_eq(what, S("high"))) {
        *q = (struct quantity){str_eq(what, S("low")) ? c->limits.low : c->limits.high, c->limits.unit};
        return c->kind == CHECK_MEASURE && isfinite(q->value);
    }
    for (int k = 0; k < c->n_given; k++) {
        if (str_eq_nocase(c->given[k].name, what)) {
            *q = c->given[k].value;
            return true;
        }
    }
    return false;
}

bool calc_book_quantity(const struct book *b, struct str words, struct quantity *q, struct err *e)
{
    struct str what;
    struct str of;
    words = str_trim(words);
    if (str_starts(words, S("tow "))) {
        return of_tow(b, str_trim(str_cut(words, 4, words.n)), q) || none(e, words);
    }
    if (!cut_of(words, &what, &of)) {
        return none(e, words);
    }
    int fluid = str_eq(what, S("capacity")) ? book_find_fluid(b, of) : BOOK_NONE;
    bool found = str_eq(what, S("torque"))      ? of_torque(b, of, q)
                 : str_eq(what, S("capacity"))  ? fluid != BOOK_NONE && take(&b->fluids[fluid].capacity, q)
                 : str_eq(what, S("viscosity")) ? of_viscosity(b, of, q)
                                                : of_checkpoint(b, what, of, q);
    return found || none(e, words);
}

bool calc_give_of_book(struct calc_call *call, const struct book *b, struct str name, struct str written, struct err *e)
{
    struct quantity q = {0};
    if (!calc_is_book_words(written)) {
        return calc_give(call, name, written, e);
    }
    if (!calc_book_quantity(b, written, &q, e)) {
        return err_context(e, name);
    }
    struct text t = text_new(call->a);
    text_double(&t, q.value);
    text_join(&t, q.unit ? " " : "", q.unit ? q.unit->symbol : "", (char *)0);
    return calc_give(call, name, text_str(&t), e);
}
