/* The three tables. From memory of ISO 14224:2016, Annex B. */
#include "trace/failure_words.h"

#define MODES(X)                            \
    X("not said", "")                       \
    X("abnormal instrument reading", "AIR") \
    X("breakdown", "BRD")                   \
    X("erratic output", "ERO")              \
    X("external leakage, fuel", "ELF")      \
    X("external leakage, utility", "ELU")   \
    X("fail to function on demand", "FTF")  \
    X("fail to start on demand", "FTS")     \
    X("fail to stop on demand", "STP")      \
    X("high output", "HIO")                 \
    X("internal leakage", "INL")            \
    X("low output", "LOO")                  \
    X("minor in-service problem", "SER")    \
    X("noise", "NOI")                       \
    X("overheating", "OHE")                 \
    X("parameter deviation", "PDE")         \
    X("plugged", "PLU")                     \
    X("spurious stop", "UST")               \
    X("structural deficiency", "STD")       \
    X("vibration", "VIB")                   \
    X("other", "OTH")                       \
    X("unknown", "UNK")

#define MECHANISMS(X)                    \
    X("not said", "")                    \
    X("leakage", "1.1")                  \
    X("vibration", "1.2")                \
    X("clearance or alignment", "1.3")   \
    X("deformation", "1.4")              \
    X("looseness", "1.5")                \
    X("sticking", "1.6")                 \
    X("cavitation", "2.1")               \
    X("corrosion", "2.2")                \
    X("erosion", "2.3")                  \
    X("wear", "2.4")                     \
    X("breakage", "2.5")                 \
    X("fatigue", "2.6")                  \
    X("overheating", "2.7")              \
    X("burst", "2.8")                    \
    X("control failure", "3.1")          \
    X("no signal", "3.2")                \
    X("faulty signal", "3.3")            \
    X("out of adjustment", "3.4")        \
    X("software", "3.5")                 \
    X("short circuit", "4.1")            \
    X("open circuit", "4.2")             \
    X("no power", "4.3")                 \
    X("faulty power", "4.4")             \
    X("earth fault", "4.5")              \
    X("blockage", "5.1")                 \
    X("contamination", "5.2")            \
    X("other external influence", "5.3") \
    X("no cause found", "6.1")           \
    X("combined", "6.2")                 \
    X("other", "6.3")                    \
    X("unknown", "6.4")

#define CAUSES(X)                      \
    X("not said", "")                  \
    X("improper capacity", "1.1")      \
    X("improper material", "1.2")      \
    X("fabrication failure", "2.1")    \
    X("installation failure", "2.2")   \
    X("off-design service", "3.1")     \
    X("operating error", "3.2")        \
    X("maintenance error", "3.3")      \
    X("expected wear and tear", "3.4") \
    X("documentation error", "4.1")    \
    X("management error", "4.2")       \
    X("no cause found", "5.1")         \
    X("common cause", "5.2")           \
    X("combined causes", "5.3")        \
    X("other", "5.4")                  \
    X("unknown", "5.5")

#define WORD(word, code) (word),
#define CODE(word, code) (code),
static const char *const mode_words[] = {MODES(WORD)};
static const char *const mode_codes[] = {MODES(CODE)};
static const char *const mechanism_words[] = {MECHANISMS(WORD)};
static const char *const mechanism_codes[] = {MECHANISMS(CODE)};
static const char *const cause_words[] = {CAUSES(WORD)};
static const char *const cause_codes[] = {CAUSES(CODE)};

static const struct {
    const char *const *words, *const *codes;
    size_t n;
} tables[] = {
    [FAILURE_MODE] = {mode_words, mode_codes, sizeof mode_words / sizeof *mode_words},
    [FAILURE_MECHANISM] = {mechanism_words, mechanism_codes, sizeof mechanism_words / sizeof *mechanism_words},
    [FAILURE_CAUSE] = {cause_words, cause_codes, sizeof cause_words / sizeof *cause_words},
};

const char *const *failure_words(enum failure_table table, size_t *n)
{
    *n = tables[table].n;
    return tables[table].words;
}

const char *failure_code(enum failure_table table, int word)
{
    return word >= 0 && (size_t)word < tables[table].n ? tables[table].codes[word] : "";
}

int failure_find(enum failure_table table, struct str word)
{
    for (size_t i = 0; i < tables[table].n; i++) {
        if (str_eq_nocase(word, str_of(tables[table].words[i])) ||
            (tables[table].codes[i][0] && str_eq_nocase(word, str_of(tables[table].codes[i])))) {
            return (int)i;
        }
    }
    return -1;
}
