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

/* "1.33 bar ±0.05 bar" in the reader's units; the uncertainty when there is one. */
static struct str value_of(struct call *c, struct quantity q, double uncertainty_si)
{
    struct text t = text_new(&c->arena);
    enum unit_system system = desk_units(c->desk);
    text_quantity_in(&t, q, system);
    if (uncertainty_si > 0) {
        const struct unit *u = unit_preferred(system, q.unit);
        double shown = u ? uncertainty_si / u->factor : uncertainty_si;
        int digits = shown < 1 ? 1 - (int)floor(log10(shown)) : shown < 10 ? 1 : 0;
        text_addz(&t, " ±");
        text_number(&t, shown, digits > 9 ? 9 : digits);
        text_join(&t, u ? " " : "", u ? u->shown : "", (char *)0);
    }
    return text_str(&t);
}

static struct str read_words(struct call *c, const struct desk_judged *j)
{
    struct text t = text_new(&c->arena);
    text_add(&t, value_of(c, j->value, j->verdict.raw_uncertainty_si));
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
        row(&table, "  corrected", value_of(c, v->corrected, v->uncertainty_si));
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
