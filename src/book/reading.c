/* Readings: what is read with a value, what it is referred to, the book's figures for that, and whether all of it fits
 * together. */
#include "bookfile_internal.h"

#include "judge/correction.h"

#include <math.h>
#include <string.h>

/* ---- reading the keys ---- */

static const struct unit *take_unit(struct binding *b, const struct node *n)
{
    const struct unit *u = n->kind == NODE_TEXT ? unit_find(str_trim(n->text)) : NULL;
    if (!u && n->kind == NODE_TEXT) {
        const struct unit *near = unit_nearest(n->text);
        find(b->finds, n->pos, RULE_QUANTITY,
             near ? words(b->finds->a, "\"", near->symbol, "\"?", (char *)0) : "a unit", "\"", n->text.p,
             "\" is no unit", (char *)0);
    } else if (!u) {
        find_shape(b, "also-read", n, "a unit");
    }
    return u;
}

/* What must be read as well. Without a unit only a temperature is clear: degrees Celsius. */
static void take_also(struct binding *b, const struct key *k, const struct node *n, struct book_checkpoint *c)
{
    struct book_also *at = NULL;
    size_t count = 0;
    size_t cap = 0;
    if (n->kind == NODE_MAPPING && !n->when && !node_getz(n, "is")) {
        for (int i = 0; i < n->n; i++) {
            const struct unit *u = take_unit(b, n->item[i]);
            ARENA_PUSH(b->a, at, count, cap) = (struct book_also){n->key[i]->text, u};
        }
    } else {
        struct node_list list = list_items(b, k, n);
        for (size_t i = 0; i < list.n; i++) {
            bool temperature = str_find(list.at[i]->text, S("temperature")) >= 0;
            if (!temperature) {
                find(b->finds, list.at[i]->pos, RULE_ALSO_READ, "also-read: { NAME: UNIT }", "in which unit is \"",
                     list.at[i]->text.p, "\" read?", (char *)0);
            }
            ARENA_PUSH(b->a, at, count, cap) =
                (struct book_also){str_trim(list.at[i]->text), temperature ? unit_find(S("degC")) : NULL};
        }
    }
    c->also = at;
    c->n_also = (int)count;
}

/* "cold 20 degC, ... or leak" */
static const char *all_forms(struct arena *a)
{
    struct text t = text_new(a);
    for (int i = CORRECT_NONE + 1; i <= CORRECT_LEAK; i++) {
        text_join(&t,
                  i == CORRECT_LEAK      ? " or "
                  : i > CORRECT_NONE + 1 ? ", "
                                         : "",
                  correction_rule((enum book_correction)i)->form, (char *)0);
    }
    return text_z(&t);
}

/* The correction whose word begins the text; *rest is what follows. */
static const struct correction_rule *rule_of(struct str s, enum book_correction *correction, struct str *rest)
{
    struct str word = {0};
    *rest = s;
    (void)str_next(rest, ' ', &word);
    *rest = str_trim(*rest);
    for (int i = CORRECT_NONE + 1; i <= CORRECT_LEAK; i++) {
        if (str_eq(word, str_of(book_correction_text((enum book_correction)i)))) {
            *correction = (enum book_correction)i;
            return correction_rule((enum book_correction)i);
        }
    }
    return NULL;
}

/* "of FLUID" or "of FLUID at", "of ethylene"; *rest is then what follows. False with a finding. */
static bool take_refer_of(struct binding *b, const struct node *n, const struct correction_rule *rule, struct str *rest,
                          struct book_checkpoint *c)
{
    struct str name = {0};
    if (!str_starts(*rest, S("of "))) {
        return find(b->finds, n->pos, RULE_WORD, rule->form, "\"", n->text.p, "\" does not say of what", (char *)0);
    }
    *rest = str_trim(str_cut(*rest, 3, rest->n));
    ptrdiff_t at = str_find(*rest, S(" at "));
    name = at > 0 ? str_trim(str_cut(*rest, 0, (size_t)at)) : *rest;
    *rest = at > 0 ? str_trim(str_cut(*rest, (size_t)at + 4, rest->n)) : str_cut(*rest, rest->n, rest->n);
    if (rule->fluid || rule->may_fluid) {
        c->reference_fluid = take_ref(b, SEC_FLUID, n, name, 0);
        return true;
    }
    c->propylene = str_eq(name, S("propylene"));
    return c->propylene || str_eq(name, S("ethylene")) ||
           find(b->finds, n->pos, RULE_WORD, rule->form, "\"", str_z(b->finds->a, name), "\" is no glycol", (char *)0);
}

/* "cold 20 degC", "viscosity of FLUID at 50 degC", "freezing of ethylene", "tension". */
static void take_refer(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    enum book_correction correction = CORRECT_NONE;
    struct book_quantity q = {0};
    struct str rest = {0};
    if (n->kind != NODE_TEXT || node_is_empty(n)) {
        find_shape(b, "refer-to", n, all_forms(b->finds->a));
        return;
    }
    struct str s = str_trim(n->text);
    const struct correction_rule *rule = rule_of(s, &correction, &rest);
    if (!rule) {
        find(b->finds, n->pos, RULE_WORD, all_forms(b->finds->a), "\"", n->text.p, "\" is no reference condition",
             (char *)0);
        return;
    }
    bool of = rule->fluid || rule->glycol || (rule->may_fluid && rest.n);
    if (of && !take_refer_of(b, n, rule, &rest, c)) {
        return;
    }
    if (!rule->reference && rest.n) {
        find(b->finds, n->pos, RULE_WORD, rule->form, "\"", str_z(b->finds->a, rest), "\" does not belong there",
             (char *)0);
        return;
    }
    if (rule->reference && !read_quantity(b, n, rest.n ? rest : str_cut(s, s.n, s.n), Q_TEMPERATURE, &q)) {
        return;
    }
    c->correction = correction;
    c->reference_k = rule->reference ? q.si : (double)NAN;
}

/* A quantity of whatever kind, or a bare number; where it stands it is compared with its use in finish_readings. */
static void take_given(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    static const char *const right = "{ span: 320 mm, force: 25 N }";
    if (n->kind != NODE_MAPPING) {
        find_shape(b, "given", n, right);
        return;
    }
    struct book_given *at = ARENA_ARRAY(b->a, struct book_given, n->n + 1);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        struct err e = err_new(b->a);
        struct quantity q = {0};
        const struct node *item = n->item[i];
        if (item->kind != NODE_TEXT || node_is_empty(item)) {
            find_shape(b, n->key[i]->text.p, item, "a quantity");
        } else if (!quantity_parse(str_trim(item->text), &q, &e)) {
            find(b->finds, item->pos, RULE_QUANTITY, e.right.n ? str_z(b->finds->a, e.right) : NULL,
                 str_z(b->finds->a, e.what), (char *)0);
        } else {
            at[count++] = (struct book_given){str_trim(n->key[i]->text), q};
        }
    }
    c->given = at;
    c->n_given = count;
}

static void take_judged_at(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    static const char *const right = "{ engine speed: 900 .. 1000 rpm }";
    if (n->kind != NODE_MAPPING) {
        find_shape(b, "judged-at", n, right);
        return;
    }
    struct book_judged_at *at = ARENA_ARRAY(b->a, struct book_judged_at, n->n + 1);
    int count = 0;
    for (int i = 0; i < n->n; i++) {
        struct err e = err_new(b->a);
        struct quantity_range r = {0};
        const struct node *item = n->item[i];
        if (item->kind != NODE_TEXT || node_is_empty(item)) {
            find_shape(b, n->key[i]->text.p, item, "low .. high and a unit");
        } else if (!range_parse(str_trim(item->text), &r, &e)) {
            find(b->finds, item->pos, RULE_QUANTITY, e.right.n ? str_z(b->finds->a, e.right) : NULL,
                 str_z(b->finds->a, e.what), (char *)0);
        } else {
            at[count++] = (struct book_judged_at){str_trim(n->key[i]->text), r};
        }
    }
    c->judged_at = at;
    c->n_judged_at = count;
}

/* "bus 3719". SAE J1939 numbers its signals with 19 bits. */
static void take_bus(struct binding *b, const struct node *n, int *out)
{
    int64_t spn = 0;
    if (n->kind != NODE_TEXT || !str_starts(n->text, S("bus ")) ||
        !num_parse_i64(str_trim(str_cut(n->text, 4, n->text.n)), &spn) || spn < 1 || spn >= 1 << 19) {
        if (n->kind != NODE_TEXT || node_is_empty(n)) {
            find_shape(b, "from", n, "bus and the number of the signal: bus 3719");
        } else {
            find(b->finds, n->pos, RULE_WORD, "bus and the number of the signal: bus 3719", "\"", n->text.p,
                 "\" is no signal of the bus", (char *)0);
        }
        return;
    }
    *out = (int)spn;
}

void take_reading(struct binding *b, const struct key *k, const struct node *n, struct book_checkpoint *c, void *out)
{
    switch ((int)k->type) {
    case T_ALSO:
        take_also(b, k, n, c);
        break;
    case T_REFER:
        take_refer(b, n, c);
        break;
    case T_GIVEN:
        take_given(b, n, c);
        break;
    case T_JUDGED_AT:
        take_judged_at(b, n, c);
        break;
    default:
        take_bus(b, n, out);
        break;
    }
}

/* ---- whether it fits together ---- */

/* What the last known word of a measure ("oil pressure drop") says about its unit. Words of the trade; no source. */
static bool fits_measure(struct str measure, enum quantity_kind kind, enum quantity_kind *should)
{
    static const struct {
        const char *word;
        enum quantity_kind kinds[3];
    } rows[] = {
        {"pressure", {Q_PRESSURE, Q_PRESSURE, Q_PRESSURE}},
        {"temperature", {Q_TEMPERATURE, Q_TEMPERATURE, Q_TEMPERATURE}},
        {"voltage", {Q_VOLTAGE, Q_VOLTAGE, Q_VOLTAGE}},
        {"current", {Q_CURRENT, Q_CURRENT, Q_CURRENT}},
        {"torque", {Q_TORQUE, Q_TORQUE, Q_TORQUE}},
        {"resistance", {Q_RESISTANCE, Q_RESISTANCE, Q_RESISTANCE}},
        {"flow", {Q_FLOW, Q_FLOW, Q_FLOW}},
        {"speed", {Q_ROTATION, Q_SPEED, Q_FREQUENCY}},
        {"gap", {Q_LENGTH, Q_LENGTH, Q_LENGTH}},
        {"depth", {Q_LENGTH, Q_LENGTH, Q_LENGTH}},
        {"thickness", {Q_LENGTH, Q_LENGTH, Q_LENGTH}},
        {"length", {Q_LENGTH, Q_LENGTH, Q_LENGTH}},
        {"height", {Q_LENGTH, Q_LENGTH, Q_LENGTH}},
        {"sag", {Q_LENGTH, Q_LENGTH, Q_LENGTH}},
        {"mass", {Q_MASS, Q_MASS, Q_MASS}},
    };
    struct str rest = str_trim(measure);
    struct str word;
    bool fits = true;
    while (str_next(&rest, ' ', &word)) {
        for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
            if (str_eq(word, str_of(rows[i].word))) {
                fits = kind == rows[i].kinds[0] || kind == rows[i].kinds[1] || kind == rows[i].kinds[2];
                *should = rows[i].kinds[0];
            }
        }
    }
    return fits;
}

static enum quantity_kind kind_of(const struct unit *u)
{
    return u ? u->kind : Q_NONE;
}

static double to_si(const struct unit *u, double value)
{
    return u && isfinite(value) ? unit_to_si(u, value) : value;
}

static void find_other_kind(struct binding *b, const struct node *n, const char *key, enum quantity_kind limits,
                            enum quantity_kind other)
{
    find(b->finds, node_pos(n, key), RULE_QUANTITY_KIND,
         words(b->finds->a, "a ", quantity_kind_text(limits), " as the limits are", (char *)0), "\"", key, "\" is a ",
         quantity_kind_text(other), (char *)0);
}

/* The kind that is read: the gauge's, else the only one that the correction reads, else the limits'. */
static enum quantity_kind kind_read(const struct book_checkpoint *c)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    bool gauge = c->gauge.unit || c->gauge.low < c->gauge.high;
    return gauge                               ? kind_of(c->gauge.unit)
           : !rule->same && rule->n_reads == 1 ? rule->reads[0]
                                               : kind_of(c->limits.unit);
}

/* The gauge must show both limits, where it shows what they are of. */
static void finish_gauge(struct binding *b, const struct node *n, const struct book_checkpoint *c, bool as_limits)
{
    double low = to_si(c->gauge.unit, c->gauge.low);
    double high = to_si(c->gauge.unit, c->gauge.high);
    const struct correction_rule *rule = correction_rule(c->correction);
    enum quantity_kind kind = kind_of(c->limits.unit);
    enum quantity_kind gauge = kind_of(c->gauge.unit);
    if (as_limits ? gauge != kind : !correction_reads(rule, gauge)) {
        find_other_kind(b, n, "gauge", as_limits ? kind : rule->reads[0], gauge);
    } else if (as_limits && ((isfinite(c->low_si) && (c->low_si < low || c->low_si > high)) ||
                             (isfinite(c->high_si) && (c->high_si > high || c->high_si < low)))) {
        find(b->finds, node_pos(n, "gauge"), RULE_LIMITS, "a gauge that shows both limits",
             "the limits lie outside the range of the gauge", (char *)0);
    }
}

static void finish_uncertainty(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    enum quantity_kind kind = kind_read(c);
    enum quantity_kind spread = kind_of(c->uncertainty.q.unit);
    if (c->uncertainty.given && kind == Q_TEMPERATURE &&
        (spread == Q_TEMPERATURE || spread == Q_TEMPERATURE_DIFFERENCE)) {
        c->uncertainty.si =
            c->uncertainty.q.value * c->uncertainty.q.unit->factor; /* a difference, whatever its scale */
    } else if (c->uncertainty.given && spread != kind) {
        find_other_kind(b, n, "uncertainty", kind, spread);
    }
}

/* Limits, wanted value, gauge and uncertainty against each other and against what the correction makes of a reading. */
static bool finish_limits(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    enum quantity_kind kind = kind_of(c->limits.unit);
    if (c->limits.low == 0 && c->limits.high == 0) {
        return false; /* missing, or could not be read: said already */
    }
    c->low_si = to_si(c->limits.unit, c->limits.low);
    c->high_si = to_si(c->limits.unit, c->limits.high);
    enum quantity_kind should = kind;
    if (!rule->same && kind != rule->gives) {
        find(b->finds, node_pos(n, "limits"), RULE_QUANTITY_KIND,
             words(b->finds->a, "a ", quantity_kind_text(rule->gives), ", which refer-to makes of the reading",
                   (char *)0),
             "the limits are a ", quantity_kind_text(kind), (char *)0);
    } else if (rule->same && !fits_measure(c->measure, kind, &should)) {
        find(b->finds, node_pos(n, "limits"), RULE_QUANTITY_KIND,
             words(b->finds->a, "a ", quantity_kind_text(should), ", as it is measured", (char *)0),
             "the limits are a ", quantity_kind_text(kind), (char *)0);
    } else if (rule->same && !correction_reads(rule, kind)) {
        find(b->finds, node_pos(n, "limits"), RULE_QUANTITY_KIND,
             words(b->finds->a, "a ", quantity_kind_text(rule->reads[0]), ", which refer-to corrects", (char *)0),
             "the limits are a ", quantity_kind_text(kind), (char *)0);
    }
    if (c->want.given && kind_of(c->want.q.unit) != kind) {
        find_other_kind(b, n, "want", kind, kind_of(c->want.q.unit));
    } else if (c->want.given && (c->want.si < c->low_si || c->want.si > c->high_si)) {
        find(b->finds, node_pos(n, "want"), RULE_LIMITS, "a value within the limits",
             "the wanted value lies outside the limits", (char *)0);
    }
    return true;
}

/* Whether that input is among the names with these units. */
static bool has_input(struct binding *b, const struct book_checkpoint *c, const struct correction_input *input,
                      enum quantity_kind read, const struct unit **unit)
{
    int n = c->n_also + c->n_given;
    struct judge_with *all = ARENA_ARRAY(b->a, struct judge_with, n + 1);
    for (int i = 0; i < n; i++) {
        all[i] = i < c->n_also ? (struct judge_with){c->also[i].name, {0, c->also[i].unit}}
                               : (struct judge_with){c->given[i - c->n_also].name, c->given[i - c->n_also].value};
    }
    int i = correction_match(correction_rule(c->correction), input, read, all, n);
    *unit = i < 0 ? NULL : all[i].value.unit;
    return i >= 0;
}

/* What the correction needs must be read or given, in units that fit; what is given must be something it takes. */
static void finish_inputs(struct binding *b, const struct node *n, const struct book_checkpoint *c)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    enum quantity_kind read = kind_read(c);
    for (int i = 0; i < correction_input_count(rule); i++) {
        const struct correction_input *input = &rule->inputs[i];
        const struct unit *unit = NULL;
        enum quantity_kind kind = input->same ? read : input->kind;
        bool there = has_input(b, c, input, read, &unit);
        bool from_log = input->from == FROM_LOG;
        if (!there && !from_log && correction_needs(input, read)) {
            bool given = input->from == FROM_GIVEN;
            find(b->finds, node_pos(n, "refer-to"), RULE_ALSO_READ,
                 words(b->finds->a, given ? "given: { " : "also-read: { ",
                       input->kind == Q_TEMPERATURE && c->correction == CORRECT_COLD        ? "tyre temperature"
                       : input->kind == Q_TEMPERATURE && c->correction == CORRECT_VISCOSITY ? "oil temperature"
                                                                                            : input->name,
                       ": ", given ? "a " : "unit of a ", quantity_kind_text(kind), " }", (char *)0),
                 "the reading is corrected, but neither \"also-read\" nor \"given\" names what it takes: ", input->name,
                 (char *)0);
        } else if (there && kind_of(unit) != kind) {
            find(b->finds, node_pos(n, node_getz(n, "given") ? "given" : "also-read"), RULE_QUANTITY_KIND,
                 words(b->finds->a, "a ", quantity_kind_text(kind), (char *)0), "\"", input->name, "\" is a ",
                 quantity_kind_text(kind_of(unit)), (char *)0);
        }
    }
    for (int i = 0; i < c->n_given; i++) {
        bool taken = false;
        struct text names = text_new(b->finds->a);
        for (int k = 0; k < correction_input_count(rule); k++) {
            taken = taken || str_eq_nocase(c->given[i].name, str_of(rule->inputs[k].name));
            text_join(&names, k ? ", " : "it takes ", rule->inputs[k].name, (char *)0);
        }
        if (!taken) {
            find(b->finds, node_pos(n, "given"), RULE_WORD,
                 names.n ? text_z(&names) : "refer-to, which says what the figures are for", "\"",
                 str_z(b->finds->a, c->given[i].name), "\" is no figure that the correction takes", (char *)0);
        }
    }
}

/* A condition for judging must be read to be known. */
static void finish_judged_at(struct binding *b, const struct node *n, const struct book_checkpoint *c)
{
    for (int i = 0; i < c->n_judged_at; i++) {
        const struct book_judged_at *at = &c->judged_at[i];
        const struct book_also *also = NULL;
        for (int k = 0; k < c->n_also; k++) {
            also = str_eq_nocase(c->also[k].name, at->name) ? &c->also[k] : also;
        }
        const char *name = str_z(b->finds->a, at->name);
        if (!also) {
            find(b->finds, node_pos(n, "judged-at"), RULE_ALSO_READ,
                 words(b->finds->a, "also-read: { ", name, ": unit }", (char *)0), "it is judged at a \"", name,
                 "\" that \"also-read\" does not name", (char *)0);
        } else if (kind_of(also->unit) != kind_of(at->range.unit)) {
            find(b->finds, node_pos(n, "judged-at"), RULE_QUANTITY_KIND,
                 words(b->finds->a, "a ", quantity_kind_text(kind_of(also->unit)), ", as it is read", (char *)0), "\"",
                 name, "\" is a ", quantity_kind_text(kind_of(at->range.unit)), (char *)0);
        }
    }
}

void finish_readings(struct binding *b, const struct node *n, struct book_checkpoint *c)
{
    const struct correction_rule *rule = correction_rule(c->correction);
    if (!finish_limits(b, n, c)) {
        return;
    }
    bool gauge = c->gauge.unit || c->gauge.low < c->gauge.high;
    if (gauge) {
        finish_gauge(b, n, c, rule->same);
    } else if (!rule->same) {
        find(b->finds, node_pos(n, "refer-to"), RULE_MISSING_KEY, "gauge: low .. high and a unit",
             "the limits are not of what is read, so the gauge must say in which unit it is read", (char *)0);
    }
    finish_uncertainty(b, n, c);
    finish_inputs(b, n, c);
    finish_judged_at(b, n, c);
    if (!b->all && rule->viscous && c->reference_fluid != BOOK_NONE) {
        const struct book_fluid *f = &b->book->fluids[c->reference_fluid];
        if (f->viscosity_40_m2s <= 0 || f->viscosity_100_m2s <= 0) {
            find(b->finds, node_pos(n, "refer-to"), RULE_MISSING_KEY,
                 words(b->finds->a, str_z(b->finds->a, f->name), ": { viscosity: { 40 degC: .., 100 degC: .. } }",
                       (char *)0),
                 "the fluid's viscosity at 40 and 100 degC is needed for this correction", (char *)0);
        }
    }
}
