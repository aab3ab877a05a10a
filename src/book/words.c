/* A bound value back to words, by the table of keys: for comparing books. Two values are the same when their words are.
 */
#include "bookfile_internal.h"

#include "judge/correction.h"

#include <math.h>
#include <string.h>

#define DAY_S 86400.0
#define KELVIN_0_C 273.15

/* A text of the i-th thing of a section's list: that of a key, or its name (key null), which stands after its place. */
static struct str text_at(const struct list l, int i, enum section section, const char *key)
{
    const struct key *k = key ? key_find(section, str_of(key)) : NULL;
    struct str text = S("");
    if (i >= 0 && i < l.n && (k || !key)) {
        memcpy(&text, (const char *)l.at + (size_t)i * l.size + (k ? k->offset : sizeof(struct book_pos)), sizeof text);
    }
    return text;
}

struct list list_of(const void *base, uint16_t offset, enum section section)
{
    struct list l = {.size = section_info(section)->size};
    memcpy(&l.at, (const char *)base + offset, sizeof l.at);
    memcpy(&l.n, (const char *)base + offset + sizeof l.at, sizeof l.n);
    return l;
}

/* Where a section's things lie in a book. */
static struct list things(const struct book *b, enum section section)
{
    size_t n = 0;
    const struct key *k = keys_of(SEC_BOOK, &n);
    for (size_t i = 0; i < n; i++) {
        if (k[i].type == T_ENTRIES && k[i].arg == (int)section) {
            return list_of(b, k[i].offset, section);
        }
    }
    return (struct list){0};
}

struct str label_at(const struct list l, int i, enum section section)
{
    if (section == SEC_CAUTION) {
        return text_at(l, i, section, "say");
    }
    return text_at(l, i, section,
                   section == SEC_FIGURE                          ? "title"
                   : section == SEC_CHANGE || section == SEC_STEP ? "do"
                                                                  : "label");
}

/* What stands for the i-th thing in a text: its label for people, its name for telling whether it is the same. */
static struct str called(const struct book *b, enum section section, int i, bool names)
{
    struct list l = things(b, section);
    return names ? text_at(l, i, section, NULL) : label_at(l, i, section);
}

static void add_between(struct text *t, int i)
{
    text_addz(t, i ? ", " : "");
}

static void add_texts(struct text *t, struct book_texts list)
{
    for (int i = 0; i < list.n; i++) {
        add_between(t, i);
        text_add(t, list.at[i]);
    }
}

static void add_refs(struct text *t, const struct book *b, enum section section, struct book_refs refs, bool names)
{
    for (int i = 0; i < refs.n; i++) {
        add_between(t, i);
        text_add(t, called(b, section, refs.at[i], names));
    }
}

/* A duration as people say it; a current in amperes. */
static void add_si(struct text *t, enum quantity_kind kind, double value)
{
    if (value <= 0) {
        return;
    }
    if (kind == Q_DURATION) {
        bool seconds = value < 120;
        bool minutes = value < 2 * 3600;
        text_number(t, seconds ? value : minutes ? value / 60 : value / 3600, 2);
        text_addz(t, seconds ? " s" : minutes ? " min" : " h");
    } else if (kind == Q_RATIO) {
        text_number(t, 100 * value, 3);
        text_addz(t, " %");
    } else if (kind == Q_VOLUME) {
        bool small = value < 1e-3;
        text_number(t, value * (small ? 1e6 : 1e3), 3);
        text_addz(t, small ? " mL" : " L");
    } else if (kind == Q_DENSITY) {
        text_number(t, value, 3);
        text_addz(t, " g/L");
    } else {
        text_number(t, value, 3);
        text_addz(t, " A");
    }
}

static void add_given(struct text *t, struct book_quantity q)
{
    if (q.given) {
        text_quantity(t, q.q);
    }
}

/* "250 h or 12 months" */
static void add_interval(struct text *t, struct interval i)
{
    const struct {
        double n;
        const char *unit;
    } pieces[] = {
        {i.hours, " h"}, {i.months, i.months == 1 ? " month" : " months"}, {i.days, i.days == 1 ? " day" : " days"}};
    for (size_t k = 0, n = 0; k < sizeof pieces / sizeof *pieces; k++) {
        if (pieces[k].n > 0) {
            text_addz(t, n++ ? " or " : "");
            text_number(t, pieces[k].n, 2);
            text_addz(t, pieces[k].unit);
        }
    }
}

static void add_condition(struct text *t, const struct book *b, struct book_condition c)
{
    text_condition(t, b, c);
}

/* What is different after a change. */
static void add_to(struct text *t, const struct book *b, const int8_t *to)
{
    struct book_condition c = {{0}};
    for (int v = 0; v < b->n_variables; v++) {
        c.allow[v] = (uint16_t)(to[v] == BOOK_NONE ? 0U : 1U << to[v]);
    }
    text_condition(t, b, c);
}

static void add_celsius(struct text *t, double kelvin)
{
    text_number(t, kelvin - KELVIN_0_C, 1);
    text_addz(t, " degC");
}

static void add_refer(struct text *t, const struct book *b, const struct book_checkpoint *c, bool names)
{
    if (c->correction == CORRECT_NONE) {
        return;
    }
    const struct correction_rule *rule = correction_rule(c->correction);
    text_addz(t, book_correction_text(c->correction));
    if (rule->fluid || (rule->may_fluid && c->reference_fluid != BOOK_NONE)) {
        text_addz(t, " of ");
        text_add(t, called(b, SEC_FLUID, c->reference_fluid, names));
        text_addz(t, rule->reference ? " at" : "");
    } else if (rule->glycol) {
        text_addz(t, c->propylene ? " of propylene" : " of ethylene");
    }
    if (rule->reference) {
        text_char(t, ' ');
        add_celsius(t, c->reference_k);
    }
}

static void add_correction_figures(struct text *t, const struct book_checkpoint *c)
{
    for (int i = 0; i < c->n_given; i++) {
        add_between(t, i);
        text_add(t, c->given[i].name);
        text_char(t, ' ');
        text_quantity(t, c->given[i].value);
    }
}

static void add_work_out(struct text *t, const struct book_work_out *w)
{
    if (w->given) {
        text_add(t, w->calc);
        text_char(t, ' ');
        text_add(t, w->result);
        text_addz(t, " from ");
        text_add(t, w->from);
    }
}

static void add_judged_at(struct text *t, const struct book_checkpoint *c)
{
    for (int i = 0; i < c->n_judged_at; i++) {
        add_between(t, i);
        text_add(t, c->judged_at[i].name);
        text_char(t, ' ');
        text_range(t, c->judged_at[i].range, UNITS_AS_WRITTEN);
    }
}

static void add_also(struct text *t, const struct book_checkpoint *c)
{
    for (int i = 0; i < c->n_also; i++) {
        add_between(t, i);
        text_add(t, c->also[i].name);
        if (c->also[i].unit) {
            text_join(t, " in ", c->also[i].unit->shown, (char *)0);
        }
    }
}

static void add_viscosity(struct text *t, const struct book_fluid *f)
{
    if (f->viscosity_40_m2s > 0) {
        text_number(t, f->viscosity_40_m2s * 1e6, 3);
        text_addz(t, " mm2/s at 40 degC, ");
        text_number(t, f->viscosity_100_m2s * 1e6, 3);
        text_addz(t, " mm2/s at 100 degC");
    }
}

/* Parts in pieces, fluids as written. */
static void add_uses(struct text *t, const struct book *b, enum section section, const struct book_use *use, int n,
                     bool names)
{
    for (int i = 0; i < n; i++) {
        add_between(t, i);
        if (section == SEC_PART) {
            text_number(t, use[i].quantity, 2);
        } else if (use[i].written.given) {
            text_quantity(t, use[i].written.q);
        } else {
            text_addz(t, "filling of");
        }
        text_char(t, ' ');
        text_add(t, called(b, section, use[i].item, names));
    }
}

static void add_shares(struct text *t, const struct book *b, enum section section, const struct book_shares *of,
                       bool names)
{
    for (int i = 0; i < of->n; i++) {
        add_between(t, i);
        text_add(t, called(b, section, of->at[i].item, names));
        text_char(t, ' ');
        text_number(t, of->at[i].value, 3);
    }
}

static void add_marks(struct text *t, const struct book_figure *f)
{
    for (int i = 0; i < f->n_marks; i++) {
        add_between(t, i);
        text_int(t, f->marks[i].number);
        text_char(t, ' ');
        text_add(t, f->marks[i].label);
    }
}

static void add_pairs(struct text *t, struct book_pairs pairs)
{
    for (int i = 0; i < pairs.n; i++) {
        add_between(t, i);
        text_add(t, pairs.at[i].name);
        text_addz(t, ": ");
        text_add(t, pairs.at[i].text);
    }
}

static void add_enum(struct text *t, const struct key *k, const void *at)
{
    int word = 0;
    size_t n = 0;
    const char *const *list = word_list((enum word_list)k->arg, &n);
    memcpy(&word, at, sizeof word);
    text_addz(t, word >= 0 && (size_t)word < n ? list[word] : "");
}

void text_of_key(struct text *t, const struct book *b, const struct key *k, const void *base, bool names)
{
    const void *at = k->offset == NO_OFFSET ? base : (const char *)base + k->offset;
    const double *point = at;
    const struct quantity_range *range = at;
    const struct interval *interval = at;
    int number = 0;
    switch ((int)k->type) {
    case T_TEXT:
    case T_ID:
        text_add(t, k->offset == NO_OFFSET ? S("") : *(const struct str *)at);
        break;
    case T_TEXTS:
    case T_WORDS:
        add_texts(t, *(const struct book_texts *)at);
        break;
    case T_VALUES:
        add_texts(t, (struct book_texts){((const struct book_variable *)base)->values,
                                         ((const struct book_variable *)base)->n_values});
        break;
    case T_ENUM:
        add_enum(t, k, at);
        break;
    case T_TURN_IN:
        text_addz(t, *(const bool *)at ? "in" : "out");
        break;
    case T_YES:
        text_addz(t, k->offset != NO_OFFSET && *(const bool *)at ? "yes" : "");
        break;
    case T_COUNT:
    case T_BUS:
        memcpy(&number, at, sizeof number);
        if (number) {
            text_int(t, number);
        }
        break;
    case T_NUMBER:
    case T_CHANCE:
    case T_TURNS:
        text_number(t, *(const double *)at, 4);
        break;
    case T_SI:
        add_si(t, (enum quantity_kind)k->arg, *(const double *)at);
        break;
    case T_QUANTITY:
        add_given(t, *(const struct book_quantity *)at);
        break;
    case T_RANGE:
        if (range->low != 0 || range->high != 0) {
            text_range(t, *range, UNITS_AS_WRITTEN);
        }
        break;
    case T_INTERVAL:
        add_interval(t, *interval);
        break;
    case T_POINT:
        text_number(t, point[0], 3);
        text_addz(t, ", ");
        text_number(t, point[1], 3);
        break;
    case T_REF:
        memcpy(&number, at, sizeof number);
        text_add(t, called(b, (enum section)k->arg, number, names));
        break;
    case T_REFS:
        add_refs(t, b, (enum section)k->arg, *(const struct book_refs *)at, names);
        break;
    case T_CONDITION:
        add_condition(t, b, *(const struct book_condition *)at);
        break;
    case T_TO:
        add_to(t, b, at);
        break;
    case T_ALSO:
        add_also(t, base);
        break;
    case T_PAIRS:
        add_pairs(t, *(const struct book_pairs *)at);
        break;
    case T_REFER:
        add_refer(t, b, base, names);
        break;
    case T_GIVEN:
        add_correction_figures(t, base);
        break;
    case T_JUDGED_AT:
        add_judged_at(t, base);
        break;
    case T_WORK_OUT:
        add_work_out(t, &((const struct book_step *)base)->work_out);
        break;
    case T_VISCOSITY:
        add_viscosity(t, base);
        break;
    case T_USE_PARTS:
        add_uses(t, b, SEC_PART, ((const struct book_task *)base)->parts, ((const struct book_task *)base)->n_parts,
                 names);
        break;
    case T_USE_FLUIDS:
        add_uses(t, b, SEC_FLUID, ((const struct book_task *)base)->fluids, ((const struct book_task *)base)->n_fluids,
                 names);
        break;
    case T_SHOWS:
    case T_FACTORS:
        add_shares(t, b, (enum section)k->arg, at, names);
        break;
    case T_MARKS:
        add_marks(t, base);
        break;
    default: /* mappings and lists of things are compared thing by thing */
        break;
    }
}

/* The texts that a list holds. */
static void push(struct arena *a, struct words_list *l, struct str name, struct str label)
{
    ARENA_PUSH(a, l->at, l->n, l->cap) = (struct words_item){name, label};
}

bool words_of_list(struct arena *a, const struct book *b, const struct key *k, const void *base, struct words_list *out)
{
    const void *at = (const char *)base + k->offset;
    *out = (struct words_list){0};
    if (k->offset == NO_OFFSET) {
        return false;
    }
    if (k->type == T_REFS) {
        const struct book_refs *refs = at;
        for (int i = 0; i < refs->n; i++) {
            push(a, out, called(b, (enum section)k->arg, refs->at[i], true),
                 called(b, (enum section)k->arg, refs->at[i], false));
        }
        return true;
    }
    if (k->type == T_TEXTS || k->type == T_WORDS) {
        const struct book_texts *texts = at;
        for (int i = k->section == SEC_PART ? 1 : 0; i < texts->n; i++) { /* a part's chain begins with its number */
            push(a, out, texts->at[i], texts->at[i]);
        }
        return true;
    }
    return false;
}
