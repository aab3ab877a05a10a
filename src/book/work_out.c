/* work-out: a step's figure from a calculation of the core, its inputs written or named in the book. */
#include "bookfile_internal.h"

#include "calc/calc_book.h"

/* Hands on what a calculation says, at the node. */
static bool find_said(struct binding *b, const struct node *n, enum bookfile_rule rule, const struct err *e)
{
    return find(b->finds, n->pos, rule, e->right.n ? str_z(b->finds->a, e->right) : NULL, str_z(b->finds->a, e->what),
                (char *)0);
}

/* "wrench 450 mm", or "torque 190 N·m (wheel-nut/front)". */
static void add_input(struct text *t, const struct calc_call *call, const struct node *key, const struct node *value)
{
    text_addz(t, t->n ? ", " : "");
    text_add(t, key->text);
    text_char(t, ' ');
    if (!calc_is_book_words(value->text)) {
        text_add(t, str_trim(value->text));
        return;
    }
    for (size_t i = 0; i < calc_input_count(call->calc); i++) {
        if (str_eq(str_of(call->calc->inputs[i].name), key->text)) {
            text_calc_value(t, &call->calc->inputs[i], &call->in[i], UNITS_AS_WRITTEN);
        }
    }
    text_addz(t, " (");
    text_add(t, str_trim(value->text));
    text_char(t, ')');
}

/* The calculation and the output that is wanted of it; the first output when `give` is left out. */
static const struct calc *calc_of(struct binding *b, const struct node *n, const struct calc_field **output)
{
    const struct node *name = node_getz(n, "calc");
    const struct node *give = node_getz(n, "give");
    if (!name || name->kind != NODE_TEXT) {
        find(b->finds, n->pos, RULE_MISSING_KEY, "calc: the name of a calculation, see witmark calc list",
             "nothing says what is worked out", (char *)0);
        return NULL;
    }
    const struct calc *calc = calc_find(str_trim(name->text));
    if (!calc) {
        const struct calc *near = calc_nearest(name->text);
        find(b->finds, name->pos, RULE_DANGLING,
             near ? words(b->finds->a, "\"", near->name, "\"?", (char *)0) : "witmark calc list names them",
             "there is no calculation \"", name->text.p, "\"", (char *)0);
        return NULL;
    }
    *output = give && give->kind == NODE_TEXT ? calc_output(calc, str_trim(give->text)) : &calc->outputs[0];
    if (!*output) {
        find(b->finds, give->pos, RULE_DANGLING, words(b->finds->a, "witmark calc show ", calc->name, (char *)0), "\"",
             calc->name, "\" gives no \"", give->text.p, "\"", (char *)0);
        return NULL;
    }
    return calc;
}

/* All inputs given, what the book gives only when a machine's book is bound. */
static bool give_all(struct binding *b, const struct node *n, struct calc_call *call, struct text *from)
{
    bool ok = true;
    for (int i = 0; i < n->n; i++) {
        struct str key = n->key[i]->text;
        const struct node *value = n->item[i];
        struct err e = err_new(b->a);
        if (str_eq(key, S("calc")) || str_eq(key, S("give"))) {
            continue;
        }
        if (value->kind != NODE_TEXT || node_is_empty(value)) {
            ok = find_shape(b, n->key[i]->text.p, value, "a value, or words such as: torque of wheel-nut/front");
        } else if (b->all && calc_is_book_words(value->text)) {
            if (!calc_input(call->calc, key)) {
                ok = find(b->finds, n->key[i]->pos, RULE_UNKNOWN_KEY,
                          words(b->finds->a, "witmark calc show ", call->calc->name, (char *)0), "\"", call->calc->name,
                          "\" has no input \"", key.p, "\"", (char *)0);
            }
        } else if (!calc_give_of_book(call, b->book, key, value->text, &e)) {
            ok = find_said(b, e.kind == ERR_USAGE ? n->key[i] : value,
                           e.kind == ERR_USAGE     ? RULE_UNKNOWN_KEY
                           : e.kind == ERR_MISSING ? RULE_DANGLING
                                                   : RULE_QUANTITY,
                           &e);
        } else {
            add_input(from, call, n->key[i], value);
        }
    }
    return ok;
}

void take_work_out(struct binding *b, const struct node *n, struct book_step *step)
{
    const struct calc_field *output = NULL;
    if (n->kind != NODE_MAPPING) {
        find_shape(b, "work-out", n, "{ calc: grease-strokes, give: strokes, grease: 12 g, stroke: 1.2 g }");
        return;
    }
    const struct calc *calc = calc_of(b, n, &output);
    if (!calc) {
        return;
    }
    struct calc_call call = calc_call_new(calc, b->a);
    struct text from = text_new(b->a);
    struct err e = err_new(b->a);
    if (!give_all(b, n, &call, &from) || b->all) {
        return;
    }
    if (!calc_run(&call, &e)) {
        find_said(b, n, e.kind == ERR_USAGE ? RULE_MISSING_KEY : RULE_NUMBER, &e);
        return;
    }
    const struct calc_value *v = calc_result(&call, str_of(output->name));
    struct book_work_out *w = &step->work_out;
    *w = (struct book_work_out){
        .given = true, .calc = str_of(calc->name), .result = str_of(output->name), .from = text_str(&from)};
    if (v->form == CALC_NUMBER) {
        const struct unit *u = output->kind != Q_NONE && output->unit ? unit_find(str_of(output->unit)) : NULL;
        w->value = (struct quantity){u ? unit_from_si(u, v->number) : v->number, u};
    } else {
        struct text t = text_new(b->a);
        text_calc_value(&t, output, v, UNITS_AS_WRITTEN);
        w->text = text_str(&t);
    }
}
