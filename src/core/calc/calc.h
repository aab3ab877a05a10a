/* The workshop's calculations as a list: name, what each needs and gives, its formula and source, and one way to run
 * them all. The command line, the book and the page list, explain and run them from here; the check cases too. The
 * formulas themselves live in the folders of their idea (tyre, fastener, fluid ...), which can be called directly where
 * the inputs are already at hand.
 *
 *   struct calc_call call = calc_call_new(calc_find(S("tyre-pressure")), &arena);
 *   calc_give(&call, S("gauge"), S("22 psi"), &e) && ... && calc_run(&call, &e)
 *   const struct calc_value *v = calc_result(&call, S("gauge"));
 */
#ifndef WITMARK_CALC_CALC_H
#define WITMARK_CALC_CALC_H

#include "base/err.h"
#include "quantity/quantity.h"

#define CALC_FIELDS 14

/* What a field holds. */
enum calc_form {
    CALC_ABSENT, /* an input that may be left out and was; an output that this call does not give */
    CALC_NUMBER, /* in SI of the field's kind */
    CALC_LIST,   /* numbers, in SI of the field's kind */
    CALC_TEXT,   /* a word of the trade, a code */
    CALC_FLAG,
    CALC_NONE, /* no such number, and `text` says why: shown, never replaced by 0 */
};

/* An input or output. */
struct calc_field {
    const char *name;
    enum calc_form form;
    enum quantity_kind kind; /* of numbers; Q_NONE: `unit` is only a label, e.g. "1/K" or "money" */
    const char *unit;        /* in which it is usually given and shown; null for a bare number or text */
    const char *meaning;
    const char
        *preset; /* inputs: taken when not given, as one would write it; "" = may be left out; null = must be given */
};

struct calc_value {
    enum calc_form form;
    double number;
    bool flag;
    struct str text;
    const double *list;
    size_t n;
};

struct calc_call;

struct calc {
    const char *name;    /* "tyre-pressure" */
    const char *title;   /* "Tyre pressure at another temperature or altitude" */
    const char *formula; /* in one line */
    const char *source;
    struct calc_field inputs[CALC_FIELDS]; /* up to the first without a name */
    struct calc_field outputs[CALC_FIELDS];
    bool (*run)(struct calc_call *call, struct err *e);
};

/* One use of a calculation. */
struct calc_call {
    const struct calc *calc;
    struct arena *a;
    struct calc_value in[CALC_FIELDS];
    struct calc_value out[CALC_FIELDS];
};

/* The i-th of all calculations, in the order of the list; null past the end. */
const struct calc *calc_at(size_t i);
const struct calc *calc_find(struct str name);    /* null when there is none */
const struct calc *calc_nearest(struct str name); /* for "did you mean"; may be null */
size_t calc_input_count(const struct calc *c);
size_t calc_output_count(const struct calc *c);

struct calc_call calc_call_new(const struct calc *c, struct arena *a);

/* Gives an input as written: "22 psi", "8.8", "yes", "0.5, 0.25" for a list. A ratio may be written as a bare number.
 * Errors: ERR_USAGE: no such input (with the nearest); ERR_INPUT: not readable, a unit missing or of another kind. */
bool calc_give(struct calc_call *call, struct str name, struct str written, struct err *e);
/* The same from values at hand; numbers in SI. Errors: ERR_USAGE: no such input, or one of another form. */
bool calc_give_number(struct calc_call *call, struct str name, double value_si, struct err *e);
bool calc_give_list(struct calc_call *call, struct str name, const double *values_si, size_t n, struct err *e);
bool calc_give_text(struct calc_call *call, struct str name, struct str text, struct err *e);
bool calc_give_flag(struct calc_call *call, struct str name, bool flag, struct err *e);

/* Fills in presets and computes. Errors: ERR_USAGE: an input is missing (named); ERR_DOMAIN: out of the formula's
 * range. After an error there are no results. */
bool calc_run(struct calc_call *call, struct err *e);

/* A result, and the field that describes it; null when the calculation has no such output. */
const struct calc_value *calc_result(const struct calc_call *call, struct str name);
const struct calc_field *calc_output(const struct calc *c, struct str name);
const struct calc_field *calc_input(const struct calc *c, struct str name);

/* A value as people read it: number in the field's unit or in that of the reader's system, a list in [ ], text, yes or
 * no, or why there is no number. */
void text_calc_value(struct text *t, const struct calc_field *field, const struct calc_value *value,
                     enum unit_system system);

#endif
