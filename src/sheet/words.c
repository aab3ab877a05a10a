/* Words of the sheet: tables made from the one list in words.h. */
#include "words.h"

/* The order is that of 29 CFR 1910.147 (c) to (e): tell, know, shut down, isolate, lock, release, prove. */
static const char *const lockout_en[] = {
    "Tell everyone affected.",
    "Know every energy: engine, battery, hydraulic, accumulator, spring, raised parts, heat, air.",
    "Shut down normally.",
    "Isolate: key, battery switch, valves.",
    "Own lock, own tag, name and date.",
    "Release or block what is stored.",
    "Try to start, work the controls, prove zero. Then work.",
};
static const char *const lockout_es[] = {
    "Avisar a todos los afectados.",
    "Conocer cada energía: motor, batería, hidráulica, acumulador, muelle, partes alzadas, calor, aire.",
    "Parar de forma normal.",
    "Aislar: llave, desconectador de batería, válvulas.",
    "Candado propio, etiqueta propia, nombre y fecha.",
    "Liberar o bloquear lo acumulado.",
    "Intentar arrancar, mover los mandos, comprobar cero. Después, trabajar.",
};
static const char *const finish_en[] = {
    "Tools out.",
    "Guards on.",
    "People clear, and told.",
    "Each removes only their own lock.",
};
static const char *const finish_es[] = {
    "Herramientas fuera.",
    "Protecciones puestas.",
    "Gente apartada y avisada.",
    "Cada uno retira solo su candado.",
};

static const struct words english = {
#define X(name, en, es) .name = {en, sizeof(en) - 1},
    SHEET_WORDS(X)
#undef X
};
static const struct words spanish = {
#define X(name, en, es) .name = {es, sizeof(es) - 1},
    SHEET_WORDS(X)
#undef X
};
static const struct str word_names[] = {
#define X(name, en, es) {#name, sizeof(#name) - 1},
    SHEET_WORDS(X)
#undef X
};
#define NAMES_N (sizeof word_names / sizeof *word_names)

/* "es" and "es-MX" are both of "es". */
static bool is_of(struct str language, struct str wanted)
{
    return str_starts(language, wanted) && (language.n == wanted.n || language.p[wanted.n] == '-');
}

bool words_of(struct str language, struct words *w)
{
    bool is_spanish = is_of(language, S("es"));
    *w = is_spanish ? spanish : english;
    return is_spanish || language.n == 0 || is_of(language, S("en"));
}

struct word_list words_lockout(struct str language)
{
    return is_of(language, S("es")) ? (struct word_list){lockout_es, sizeof lockout_es / sizeof *lockout_es}
                                    : (struct word_list){lockout_en, sizeof lockout_en / sizeof *lockout_en};
}

struct word_list words_finish(struct str language)
{
    return is_of(language, S("es")) ? (struct word_list){finish_es, sizeof finish_es / sizeof *finish_es}
                                    : (struct word_list){finish_en, sizeof finish_en / sizeof *finish_en};
}

struct str *words_find(struct words *w, struct str name)
{
    struct str *const at[] = {
#define X(word, en, es) &w->word,
        SHEET_WORDS(X)
#undef X
    };
    for (size_t i = 0; i < NAMES_N; i++) {
        if (str_eq(word_names[i], name)) {
            return at[i];
        }
    }
    return 0;
}

size_t words_names(const struct str **names)
{
    *names = word_names;
    return NAMES_N;
}
