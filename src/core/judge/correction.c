/* The table of corrections and how a value is found among those that were read. */
#include "judge/correction.h"

#define SAME_KIND .same = true
#define NEEDED .needed = true
#define ONLY(k) .needed = true, .one_kind = true, .only = (k)
#define READ .from = FROM_READ
#define GIVEN .from = FROM_GIVEN
#define LOG .from = FROM_LOG

#define TEMPERATURE(words)                                             \
    {                                                                  \
        "temperature", .kind = Q_TEMPERATURE, NEEDED, .missing = words \
    }
#define ATMOSPHERE                             \
    {                                          \
        "atmosphere", .kind = Q_PRESSURE, READ \
    }
#define ALTITUDE                            \
    {                                       \
        "altitude", .kind = Q_LENGTH, GIVEN \
    }
#define REST(words)                                                                                    \
    {                                                                                                  \
        "rest", .kind = Q_DURATION, words, READ, .missing = "how long the battery rested was not said" \
    }
#define SYSTEM                             \
    {                                      \
        "system", .kind = Q_VOLTAGE, GIVEN \
    }
#define BEFORE                                                                                                       \
    {                                                                                                                \
        "before", SAME_KIND, NEEDED, LOG, .missing = "there is no earlier reading, long enough ago, to compare with" \
    }
#define ADDED                          \
    {                                  \
        "added", .kind = Q_VOLUME, LOG \
    }
#define BETWEEN                                                                     \
    {                                                                               \
        "between", .kind = Q_VOLUME, GIVEN, ONLY(Q_RATIO),                          \
                   .missing = "the book does not give the volume between the marks" \
    }
#define MARKS                            \
    {                                    \
        "marks", .kind = Q_LENGTH, GIVEN \
    }

static const struct correction_rule rules[] = {
    {CORRECT_NONE, .same = true, .formula = "as read", .source = "", .form = "", .becomes = "as read"},
    {CORRECT_COLD,
     {Q_PRESSURE},
     1,
     .same = true,
     .reference = true,
     .inputs = {TEMPERATURE("the tyre's temperature was not read"), ATMOSPHERE, ALTITUDE},
     .formula = "g2 = (g1 + p) T2 / T1 - p, absolute pressure and temperature",
     .source = "ideal gas at constant volume; US Standard Atmosphere 1976 for an altitude",
     .form = "cold 20 degC",
     .becomes = "cold"},
    {CORRECT_VISCOSITY,
     {Q_PRESSURE},
     1,
     .same = true,
     .reference = true,
     .fluid = true,
     .viscous = true,
     .inputs = {TEMPERATURE("the oil's temperature was not read")},
     .formula = "dp2 = dp1 v2 / v1, all of the drop laminar",
     .source = "Darcy's law; viscosity at a temperature by ASTM D341",
     .form = "viscosity of FLUID at 50 degC",
     .becomes = "viscosity"},
    {CORRECT_BATTERY,
     {Q_VOLTAGE, Q_NONE},
     2,
     .same = true,
     .reference = true,
     .inputs = {REST(ONLY(Q_VOLTAGE)),
                {"temperature", .kind = Q_TEMPERATURE, ONLY(Q_NONE), READ,
                 .missing = "the acid's temperature was not read"}},
     .formula = "rest voltage as read after 4 h; sg + 0.0007 (t - reference)",
     .source = "tractor makers' manuals for the acid; 4 h of rest: common practice, no source",
     .form = "battery 25 degC",
     .becomes = "rested battery"},
    {CORRECT_CHARGE,
     {Q_VOLTAGE, Q_NONE},
     2,
     .gives = Q_RATIO,
     .inputs = {REST(ONLY(Q_VOLTAGE)),
                {"temperature", .kind = Q_TEMPERATURE, ONLY(Q_NONE), READ,
                 .missing = "the acid's temperature was not read"},
                SYSTEM},
     .formula = "table of a rested flooded 12 V battery, straight between rows; sg first brought to 80 degF",
     .source = "battery maker's table, 11.89 V or 1.120 empty, 12.65 V or 1.265 full; others differ by 0.05 V",
     .form = "charge",
     .becomes = "state of charge"},
    {CORRECT_CHARGING,
     {Q_VOLTAGE},
     1,
     .same = true,
     .reference = true,
     .inputs = {TEMPERATURE("the temperature at the battery was not read"), SYSTEM},
     .formula = "V + 0.010 V/K (t - reference), doubled for 24 V",
     .source = "marine engine maker's manual: -0.1 V per 10 K",
     .form = "charging 20 degC",
     .becomes = "charging voltage"},
    {CORRECT_CRANKING,
     {Q_VOLTAGE},
     1,
     .same = true,
     .reference = true,
     .inputs = {TEMPERATURE("the battery's temperature was not read"), SYSTEM},
     .formula =
         "V + floor(reference) - floor(t), floor 6 V to -7 degC, 7 V to 10 degC, 8 V to 27 degC, doubled for 24 V",
     .source = "engine maker's table of the voltage while cranking",
     .form = "cranking 20 degC",
     .becomes = "voltage while cranking"},
    {CORRECT_FREEZING,
     {Q_RATIO, Q_NONE},
     2,
     .gives = Q_TEMPERATURE,
     .glycol = true,
     .inputs = {{"temperature", .kind = Q_TEMPERATURE, ONLY(Q_NONE), READ,
                 .missing = "the coolant's temperature was not read with the hydrometer"}},
     .formula = "share of glycol by volume, straight between the table's rows",
     .source =
         "ethylene: ASHRAE Handbook 2001; propylene: Lange's Handbook of Chemistry, Table 5.13; hydrometer: ASHRAE "
         "densities",
     .form = "freezing of ethylene",
     .becomes = "freezing point"},
    {CORRECT_BOILING,
     {Q_RATIO, Q_NONE},
     2,
     .gives = Q_TEMPERATURE,
     .glycol = true,
     .inputs = {{"temperature", .kind = Q_TEMPERATURE, ONLY(Q_NONE), READ,
                 .missing = "the coolant's temperature was not read with the hydrometer"},
                {"cap", .kind = Q_PRESSURE, NEEDED, GIVEN, .missing = "the pressure of the cap is not given"},
                ATMOSPHERE,
                ALTITUDE},
     .formula = "water boils at p / x, x its mole fraction, p the cap's pressure and the atmosphere",
     .source = "Raoult's law with IAPWS-IF97; hydrometer: ASHRAE densities",
     .form = "boiling of ethylene",
     .becomes = "boiling point"},
    {CORRECT_TENSION,
     {Q_LENGTH, Q_FORCE},
     2,
     .gives = Q_FORCE,
     .inputs = {{"span", .kind = Q_LENGTH, NEEDED, GIVEN, .missing = "the free span of the belt is not given"},
                {"force", .kind = Q_FORCE, ONLY(Q_LENGTH), GIVEN,
                 .missing = "the force that pressed the belt is not given"},
                {"deflection", .kind = Q_LENGTH, ONLY(Q_FORCE), GIVEN,
                 .missing = "the deflection at which the force was read is not given"}},
     .formula = "T = F L / (4 q), q at most a tenth of the span",
     .source = "string geometry, small deflection; the belt's stiffness left out",
     .form = "tension",
     .becomes = "belt tension"},
    {CORRECT_ELONGATION,
     {Q_LENGTH},
     1,
     .gives = Q_RATIO,
     .inputs = {{"pitch", .kind = Q_LENGTH, NEEDED, GIVEN, .missing = "the pitch of the chain is not given"},
                {"pitches", .kind = Q_NONE, NEEDED, GIVEN, .missing = "over how many pitches was not said"}},
     .formula = "length / (pitches x pitch) - 1",
     .source = "ANSI B29.1 practice, chain makers",
     .form = "elongation",
     .becomes = "elongation"},
    {CORRECT_NUT,
     {Q_TORQUE},
     1,
     .same = true,
     .inputs = {{"extension", .kind = Q_LENGTH, NEEDED, READ,
                 .missing = "how long the wrench's extension was, was not said; 0 mm when there was none"},
                {"wrench", .kind = Q_LENGTH, NEEDED, READ,
                 .missing = "the length of the wrench, from the middle of the grip to the square drive, was not said"},
                {"angle", .kind = Q_ANGLE, READ}},
     .formula = "torque at the nut = setting (L + E cos a) / L",
     .source = "lever arms; US Army TM 9-254 and wrench makers' sheets",
     .form = "nut",
     .becomes = "torque at the nut"},
    {CORRECT_CONSUMPTION,
     {Q_RATIO, Q_LENGTH},
     2,
     .gives = Q_FLOW,
     .fluid = true,
     .inputs = {BEFORE,
                ADDED,
                {"run", .kind = Q_DURATION, NEEDED, LOG,
                 .missing = "the hours run since the earlier reading are not known"},
                {"between", .kind = Q_VOLUME, NEEDED,
                 GIVEN, .missing = "the book does not give the volume between the marks"},
                {"marks", .kind = Q_LENGTH, GIVEN, ONLY(Q_LENGTH),
                 .missing = "the book does not give the distance between the marks"}},
     .formula = "(level before + topped up - level now) / hours run",
     .source = "mass balance",
     .form = "consumption of FLUID",
     .becomes = "consumption per hour"},
    {CORRECT_LEAK,
     {Q_RATIO, Q_LENGTH, Q_PRESSURE},
     3,
     .gives = Q_DURATION,
     .may_fluid = true,
     .inputs = {BEFORE,
                ADDED,
                {"apart", .kind = Q_DURATION, NEEDED, LOG,
                 .missing = "how long ago the earlier reading was is not known"},
                {"minimum", SAME_KIND, NEEDED, GIVEN, .missing = "the book does not give the least that must be left"},
                {"between", .kind = Q_VOLUME, GIVEN},
                {"marks", .kind = Q_LENGTH, GIVEN},
                {"temperature", .kind = Q_TEMPERATURE, READ}},
     .formula = "(now - minimum) / ((before + topped up - now) / time)",
     .source =
         "straight line between two readings, common practice, no source; of pressures: both at 20 degC, ideal gas",
     .form = "leak",
     .becomes = "time left"},
};

const struct correction_rule *correction_rule(enum book_correction correction)
{
    return &rules[correction];
}

int correction_input_count(const struct correction_rule *rule)
{
    int n = 0;
    while (n < CORRECTION_INPUTS && rule->inputs[n].name) {
        n++;
    }
    return n;
}

bool correction_reads(const struct correction_rule *rule, enum quantity_kind kind)
{
    bool found = rule->n_reads == 0;
    for (int i = 0; i < rule->n_reads; i++) {
        found = found || rule->reads[i] == kind;
    }
    return found;
}

enum quantity_kind correction_gives(const struct correction_rule *rule, enum quantity_kind read)
{
    return rule->same ? read : rule->gives;
}

bool correction_needs(const struct correction_input *input, enum quantity_kind read)
{
    return input->needed && (!input->one_kind || input->only == read);
}

static enum quantity_kind kind_of(const struct quantity *q)
{
    return q->unit ? q->unit->kind : Q_NONE;
}

/* Whether a value's name is exactly that of some input of the rule. */
static bool claimed(const struct correction_rule *rule, struct str name)
{
    for (int i = 0; i < correction_input_count(rule); i++) {
        if (str_eq_nocase(name, str_of(rule->inputs[i].name))) {
            return true;
        }
    }
    return false;
}

/* "tyre temperature" ends in "temperature", "warmtemperature" does not. */
static bool ends_in(struct str name, const char *word)
{
    struct str w = str_of(word);
    return name.n > w.n && name.p[name.n - w.n - 1] == ' ' && str_eq_nocase(str_cut(name, name.n - w.n, name.n), w);
}

int correction_match(const struct correction_rule *rule, const struct correction_input *input, enum quantity_kind read,
                     const struct judge_with *with, int n)
{
    enum quantity_kind kind = input->same ? read : input->kind;
    int by_end = -1;
    int by_kind = -1;
    int n_kind = 0;
    for (int i = 0; i < n; i++) {
        if (str_eq_nocase(with[i].name, str_of(input->name))) {
            return i;
        }
        if (claimed(rule, with[i].name)) {
            continue;
        }
        by_end =
            by_end < 0 && ends_in(with[i].name, input->name) && !str_starts(with[i].name, S("before ")) ? i : by_end;
        if (kind_of(&with[i].value) == kind && kind != Q_NONE && !str_starts(with[i].name, S("before "))) {
            by_kind = i;
            n_kind++;
        }
    }
    return by_end >= 0 ? by_end : n_kind == 1 && input->from == FROM_READ ? by_kind : -1;
}

const struct unit *checkpoint_read_unit(const struct book_checkpoint *c)
{
    bool gauge = c->gauge.unit || c->gauge.low < c->gauge.high;
    return gauge ? c->gauge.unit : c->limits.unit;
}
