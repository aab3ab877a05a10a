/* Turns as whole 720ths: reading and writing them as people do. */
#include "adjust/adjust.h"

#include "quantity/quantity.h"

#include <math.h>
#include <stdlib.h>

bool turns_of(double turns, turns_t *t)
{
    *t = 0;
    if (!(fabs(turns) <= (double)TURNS_MOST / TURN)) {
        return false;
    }
    double exact = turns * TURN;
    *t = (turns_t)lround(exact);
    return fabs(exact - *t) <= 0.0001 * TURN;
}

double turns_number(turns_t t)
{
    return (double)t / TURN;
}

/* The direction that a text ends or begins with, cut off; 0 = none. */
static int take_direction(struct str *s)
{
    int way = 0;
    if (str_ends(*s, S("out"))) {
        *s = str_trim(str_cut(*s, 0, s->n - 3));
        way = -1;
    } else if (str_ends(*s, S("in"))) {
        *s = str_trim(str_cut(*s, 0, s->n - 2));
        way = 1;
    } else if (str_starts(*s, S("+"))) {
        *s = str_trim(str_cut(*s, 1, s->n));
        way = 1;
    } else if (str_starts(*s, S("-"))) {
        *s = str_trim(str_cut(*s, 1, s->n));
        way = -1;
    }
    return way;
}

bool turns_parse(struct str s, turns_t *t, struct err *e)
{
    static const char right[] = "turns and direction: '1/2 in', '1 1/4 out', '+1.5', '-0.5'; in is clockwise";
    struct str number = str_trim(s);
    int way = take_direction(&number);
    struct quantity q = {0};
    struct text with_unit = text_new(e->a);
    text_add(&with_unit, number);
    bool bare = str_find(number, S("turn")) < 0 && str_find(number, S("deg")) < 0 && str_find(number, S("°")) < 0;
    text_addz(&with_unit, bare ? " turn" : "");
    struct err quiet = err_new(e->a);
    *t = 0;
    bool read = number.n > 0 && quantity_parse(text_str(&with_unit), &q, &quiet) && q.unit && q.unit->kind == Q_ANGLE &&
                q.value >= 0;
    if (!read || (way == 0 && q.value > 0)) {
        return err_set(e, ERR_USAGE, right, "'", str_z(e->a, s), "' is no adjustment", (char *)0);
    }
    double whole_turn = unit_to_si(unit_find(S("turn")), 1);
    if (!turns_of(unit_to_si(q.unit, q.value) / whole_turn, t)) {
        return err_set(e, ERR_USAGE, "a fraction that can be counted at the screw: halves, thirds, quarters, eighths",
                       "'", str_z(e->a, s), "' can't be counted", (char *)0);
    }
    *t *= way < 0 ? -1 : 1;
    return true;
}

/* Fractions that have a sign of their own. */
static const char *fraction_sign(turns_t part)
{
    static const struct {
        turns_t part;
        const char *sign;
    } signs[] = {{TURN / 8, "⅛"},     {TURN / 4, "¼"},     {TURN / 3, "⅓"},     {3 * TURN / 8, "⅜"}, {TURN / 2, "½"},
                 {5 * TURN / 8, "⅝"}, {2 * TURN / 3, "⅔"}, {3 * TURN / 4, "¾"}, {7 * TURN / 8, "⅞"}};
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++) {
        if (signs[i].part == part) {
            return signs[i].sign;
        }
    }
    return NULL;
}

void text_turns_size(struct text *text, turns_t t)
{
    turns_t size = t < 0 ? -t : t;
    turns_t part = size % TURN;
    const char *sign = fraction_sign(part);
    if (part && !sign) {
        text_number(text, turns_number(size), 4);
    } else {
        if (size >= TURN || !part) {
            text_int(text, size / TURN);
        }
        text_addz(text, part ? sign : "");
    }
    text_addz(text, size > TURN || size == 0 ? " turns" : " turn");
}

void text_turns(struct text *text, turns_t t)
{
    if (t == 0) {
        text_addz(text, "as it was");
        return;
    }
    text_turns_size(text, t);
    text_addz(text, t < 0 ? " out" : " in");
}
