/* The generated part of docs/book.md: every key of every section, and the words of the findings. */
#include "bookfile_internal.h"

#include "judge/correction.h"

/* One cell of a Markdown table: a bar would end it. */
static void add_cell(struct text *t, const char *z)
{
    for (; *z; z++) {
        if (*z == '|') {
            text_char(t, '\\');
        }
        text_char(t, *z);
    }
    text_addz(t, " | ");
}

/* Where the mapping of a section stands, in words. */
static const char *section_place(enum section section)
{
    static const char *const places[SECTION_COUNT] = {
        [SEC_BOOK] = "The book",
        [SEC_SERIALS] = "`serials`",
        [SEC_OPTION] = "`options`: an option",
        [SEC_PLACE] = "`places`: a place",
        [SEC_VARIABLE] = "`conditions`: a variable",
        [SEC_NEVER] = "`never`: a forbidden combination",
        [SEC_OPEN] = "`put-back`: an item",
        [SEC_CHANGE] = "`changes`: a change",
        [SEC_FLUID] = "`fluids`: a fluid",
        [SEC_PART] = "`parts`: a part",
        [SEC_TORQUE] = "`torques`: a joint",
        [SEC_CAUTION] = "`cautions`: a caution",
        [SEC_FIGURE] = "`figures`: a figure",
        [SEC_MARK] = "`marks`: a mark of a figure",
        [SEC_CHECKPOINT] = "`checkpoints`: a checkpoint",
        [SEC_TASK] = "`tasks`: a task",
        [SEC_STEP] = "`steps`: a step of a task or of the recovery",
        [SEC_SERVICE] = "`services`: a service",
        [SEC_ADJUSTER] = "`adjusters`: an adjuster",
        [SEC_SYMPTOM] = "`symptoms`: a symptom",
        [SEC_CAUSE] = "`causes`: a cause",
        [SEC_TEST] = "`tests`: a test",
        [SEC_HELP] = "`help`",
        [SEC_FUSE] = "`fuses`: a fuse or relay",
        [SEC_RECOVERY] = "`recovery`",
        [SEC_AT_MOST] = "`at-most` of the recovery",
        [SEC_DUTY] = "`duties`: a duty",
        [SEC_EXHAUST] = "`exhaust`",
        [SEC_VARIANT] = "A variant, besides the keys of its section",
    };
    return places[section];
}

static void add_section(struct text *t, enum section section)
{
    size_t n = 0;
    const struct key *k = keys_of(section, &n);
    text_join(t, "\n### ", section_place(section), "\n\n| key | value | what it is for |\n| --- | --- | --- |\n",
              (char *)0);
    for (size_t i = 0; i < n; i++) {
        text_join(t, "| `", k[i].name, "`", k[i].flags & KEY_REQUIRED ? " (needed)" : "", " | ", (char *)0);
        add_cell(t, key_form(t->a, &k[i]));
        text_join(t, k[i].line, " |\n", (char *)0);
    }
}

/* "voltage or number" */
static void add_kinds(struct text *t, const struct correction_rule *rule)
{
    for (int i = 0; i < rule->n_reads; i++) {
        text_join(t, i ? " or " : "", rule->reads[i] == Q_NONE ? "bare number" : quantity_kind_text(rule->reads[i]),
                  (char *)0);
    }
}

/* What a correction takes: "`rest` (read with a voltage), `system` (given, may be left out)". */
static void add_inputs(struct text *t, const struct correction_rule *rule)
{
    static const char *const from[] = {
        [FROM_READ] = "read with it", [FROM_GIVEN] = "given", [FROM_LOG] = "from the log"};
    for (int i = 0; i < correction_input_count(rule); i++) {
        const struct correction_input *input = &rule->inputs[i];
        text_join(t, i ? "; `" : "`", input->name, "`, ",
                  input->same             ? "of the kind that is read"
                  : input->kind == Q_NONE ? "bare number"
                                          : quantity_kind_text(input->kind),
                  ", ", from[input->from], (char *)0);
        if (input->one_kind) {
            text_join(t, ", when a ", input->only == Q_NONE ? "bare number" : quantity_kind_text(input->only),
                      " is read", (char *)0);
        } else if (!input->needed) {
            text_addz(t, ", may be left out");
        }
    }
}

/* The table of the core, as people need it who write a book. */
static void add_corrections(struct text *t)
{
    text_addz(
        t,
        "\n### Corrections that `refer-to` names\n\nWhat must be read with a value may also be `given` where it "
        "never changes. `system` is 12 V when left out.\n\n"
        "| `refer-to` | reads | limits are of | takes | formula | source |\n| --- | --- | --- | --- | --- | --- |\n");
    for (int i = CORRECT_NONE + 1; i <= CORRECT_LEAK; i++) {
        const struct correction_rule *rule = correction_rule((enum book_correction)i);
        text_join(t, "| `", rule->form, "` | ", (char *)0);
        add_kinds(t, rule);
        text_addz(t, " | ");
        add_cell(t, rule->same ? "the same kind" : rule->becomes);
        add_inputs(t, rule);
        text_addz(t, " | ");
        add_cell(t, rule->formula);
        text_join(t, rule->source, " |\n", (char *)0);
    }
}

void book_reference(struct text *t)
{
    for (int s = 0; s < SECTION_COUNT; s++) {
        add_section(t, (enum section)s);
    }
    add_corrections(t);
    text_addz(t, "\n### Rules of the findings\n\n| rule | what is wrong |\n| --- | --- |\n");
#define X(symbol, word, line) text_addz(t, "| `" word "` | " line " |\n");
    BOOKFILE_RULES(X)
#undef X
}
