/* witmark judge ...: a reading tried, not recorded. */
#include "cli.h"

#include "desk_judge.h"

#include <math.h>

static void row(struct table *table, const char *name, struct str words)
{
    if (words.n) {
        table_addz(table, name);
        table_add(table, words);
    }
}

/* Adds " ±0.05 bar" where there is an uncertainty. */
static void add_uncertainty(struct call *c, struct text *t, double si, const struct unit *unit)
{
    if (si > 0) {
        text_char(t, ' ');
        text_uncertainty(t, si, unit_preferred(desk_units(c->desk), unit));
    }
}

static struct str read_words(struct call *c, const struct desk_judged *j)
{
    struct text t = text_new(&c->arena);
    text_quantity_in(&t, j->value, desk_units(c->desk));
    add_uncertainty(c, &t, j->verdict.raw_uncertainty_si, j->value.unit);
    for (int i = 0; i < j->n_with; i++) {
        text_addz(&t, i ? ", " : " with ");
        text_add(&t, j->with[i].name);
        text_char(&t, ' ');
        text_quantity_in(&t, j->with[i].value, desk_units(c->desk));
    }
    return text_str(&t);
}

static int run_judge(struct call *c)
{
    struct desk_judged judged;
    instant_ms at = INSTANT_NONE;
    if (!call_at(c, &at) ||
        !desk_judge(c->desk, str_of(c->arguments[0]), str_of(c->arguments[1]), str_of(c->arguments[2]),
                    option_str(c, "with"), at, &c->arena, &judged, &c->err)) {
        return failed(c);
    }
    struct text t = text_new(&c->arena);
    if (c->json) {
        struct json j = json_new(&t, true);
        desk_judged_json(&j, c->desk, &judged);
        text_char(&t, '\n');
        return print_text(&t);
    }
    const struct book_checkpoint *checkpoint = &judged.machine->book->checkpoints[judged.checkpoint];
    const struct verdict *v = &judged.verdict;
    struct table table = table_new(&c->arena, 2);
    text_add(&t, judged.machine->name);
    text_char(&t, ' ');
    text_add(&t, checkpoint->label);
    text_join(&t, ": ", verdict_word_text(v->word), v->reason.n ? ", " : "", (char *)0);
    text_add(&t, v->reason);
    text_char(&t, '\n');
    struct text limits = text_new(&c->arena);
    text_limits(&limits, c->desk, checkpoint->limits);
    row(&table, "  read", read_words(c, &judged));
    if (v->correction.n && isfinite(v->corrected_si)) {
        struct text corrected = text_new(&c->arena);
        text_corrected(&corrected, v, desk_units(c->desk));
        add_uncertainty(c, &corrected, v->uncertainty_si, v->corrected.unit);
        row(&table, "  corrected", text_str(&corrected));
    }
    row(&table, "  limits", text_str(&limits));
    row(&table, "  how", v->correction);
    row(&table, "  formula", str_of(v->formula));
    row(&table, "  source", str_of(v->source));
    table_print(&t, &table);
    return print_text(&t);
}

static const struct option_def judge[] = {
    {"at", 0, "TIME", "when it was (otherwise now); decides which earlier reading it is compared with"},
    {"with", 'w', "NAME=VALUE,...", "what was read together with it: 'oil temperature=31 degC'"},
    END_OF_OPTIONS};

const struct command judge_commands[] = {
    {"judge", "MACHINE CHECKPOINT VALUE", 3, 3,
     "tries a reading without recording it: verdict, correction, formula, source",
     "The verdict is the one that record reading would give: the value is brought to what the limits mean by the "
     "book's "
     "correction, with its formula and source, and held against the limits.",
     judge, run_judge, false, false},
    {0},
};
