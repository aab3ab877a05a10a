/* The words of spreadsheets, in one place: what headers are called, how summary lines begin, months, ticks, errors.
 * English, German, Spanish, French. To teach the reader a word, add a line to a table; words are written folded: lower
 * case, without accents, one blank between them. Common practice, no source, but for what names one. */
#include "csv_internal.h"

#include <string.h>

/* Folded letters of U+00C0..U+00FF; a blank where there is no letter. */
static const char latin1[64][3] = {
    "a", "a", "a", "a", "a", "a", "ae", "c", "e",  "e",  "e", "e", "i", "i", "i", "i", "d",  "n", "o",  "o", "o", "o",
    "o", " ", "o", "u", "u", "u", "u",  "y", "th", "ss", "a", "a", "a", "a", "a", "a", "ae", "c", "e",  "e", "e", "e",
    "i", "i", "i", "i", "d", "n", "o",  "o", "o",  "o",  "o", " ", "o", "u", "u", "u", "u",  "y", "th", "y",
};

/* The character at s.p[*i], moving *i past it; s is valid UTF-8. */
static uint32_t next_char(struct str s, size_t *i)
{
    const unsigned char *p = (const unsigned char *)s.p + *i;
    size_t left = s.n - *i;
    size_t n = p[0] < 0xC0 ? 1 : p[0] < 0xE0 ? 2 : p[0] < 0xF0 ? 3 : 4;
    n = n > left ? left : n;
    uint32_t c = n == 1 ? p[0] : n == 2 ? p[0] & 0x1Fu : n == 3 ? p[0] & 0x0Fu : p[0] & 0x07u;
    for (size_t k = 1; k < n; k++) {
        c = c << 6 | (p[k] & 0x3Fu);
    }
    *i += n;
    return c;
}

struct str csv_fold(struct arena *a, struct str s)
{
    struct text t = text_new(a);
    bool blank = false;
    for (size_t i = 0; i < s.n;) {
        uint32_t c = next_char(s, &i);
        char letter[3] = " ";
        if ((c >= '0' && c <= '9') || (c >= 'a' && c <= 'z')) {
            letter[0] = (char)c;
        } else if (c >= 'A' && c <= 'Z') {
            letter[0] = (char)(c - 'A' + 'a');
        } else if (c >= 0xC0 && c <= 0xFF) {
            memcpy(letter, latin1[c - 0xC0], sizeof letter);
        } else if (c == 0x152 || c == 0x153) {
            memcpy(letter, "oe", sizeof letter);
        }
        if (letter[0] == ' ') {
            blank = true;
            continue;
        }
        if (blank && t.n) {
            text_char(&t, ' ');
        }
        blank = false;
        text_addz(&t, letter);
    }
    return text_str(&t);
}

/* ---- headers ---- */

struct phrase {
    const char *words;
    enum csv_meaning meaning;
};
/* Where a header holds several, the one that stands first here wins: "next service hours" is left out, "date of last
 * oil change" is a date, "hours at service" is the meter. */
/* clang-format off */
static const struct phrase phrases[] = {
    /* forecasts and money are nobody's reading */
    {"next", CSV_LEAVE_OUT}, {"due", CSV_LEAVE_OUT}, {"nachste", CSV_LEAVE_OUT}, {"naechste", CSV_LEAVE_OUT},
    {"fallig", CSV_LEAVE_OUT}, {"faellig", CSV_LEAVE_OUT}, {"proximo", CSV_LEAVE_OUT}, {"proxima", CSV_LEAVE_OUT},
    {"prochain", CSV_LEAVE_OUT}, {"prochaine", CSV_LEAVE_OUT}, {"cost", CSV_LEAVE_OUT}, {"price", CSV_LEAVE_OUT},
    {"kosten", CSV_LEAVE_OUT}, {"preis", CSV_LEAVE_OUT}, {"coste", CSV_LEAVE_OUT}, {"precio", CSV_LEAVE_OUT},
    {"cout", CSV_LEAVE_OUT}, {"prix", CSV_LEAVE_OUT}, {"invoice", CSV_LEAVE_OUT}, {"rechnung", CSV_LEAVE_OUT},
    {"factura", CSV_LEAVE_OUT}, {"facture", CSV_LEAVE_OUT}, {"model", CSV_LEAVE_OUT}, {"modell", CSV_LEAVE_OUT},
    {"modelo", CSV_LEAVE_OUT}, {"modele", CSV_LEAVE_OUT}, {"make", CSV_LEAVE_OUT}, {"maker", CSV_LEAVE_OUT},
    {"hersteller", CSV_LEAVE_OUT}, {"fabricante", CSV_LEAVE_OUT}, {"fabricant", CSV_LEAVE_OUT},
    {"site", CSV_LEAVE_OUT}, {"location", CSV_LEAVE_OUT}, {"standort", CSV_LEAVE_OUT}, {"lugar", CSV_LEAVE_OUT},
    {"lieu", CSV_LEAVE_OUT}, {"row", CSV_LEAVE_OUT}, {"lfd nr", CSV_LEAVE_OUT},
    /* "date and time" is a date; a time column comes after the meter, whose words are longer */
    {"date and time", CSV_DATE}, {"date time", CSV_DATE}, {"datetime", CSV_DATE}, {"timestamp", CSV_DATE},
    {"zeitstempel", CSV_DATE}, {"datum uhrzeit", CSV_DATE}, {"fecha y hora", CSV_DATE}, {"date et heure", CSV_DATE},
    {"date", CSV_DATE}, {"day", CSV_DATE}, {"datum", CSV_DATE}, {"fecha", CSV_DATE}, {"dia", CSV_DATE},
    {"jour", CSV_DATE},
    /* hours of work, before the meter's hours */
    {"labour hours", CSV_LABOUR}, {"labor hours", CSV_LABOUR}, {"labour", CSV_LABOUR}, {"labor", CSV_LABOUR},
    {"man hours", CSV_LABOUR}, {"hours worked", CSV_LABOUR}, {"work time", CSV_LABOUR}, {"duration", CSV_LABOUR},
    {"minutes", CSV_LABOUR}, {"arbeitszeit", CSV_LABOUR}, {"arbeitsstunden", CSV_LABOUR}, {"dauer", CSV_LABOUR},
    {"minuten", CSV_LABOUR}, {"mano de obra", CSV_LABOUR}, {"duracion", CSV_LABOUR}, {"minutos", CSV_LABOUR},
    {"main d oeuvre", CSV_LABOUR}, {"duree", CSV_LABOUR}, {"temps passe", CSV_LABOUR},
    /* the hour meter */
    {"hour meter", CSV_METER}, {"hourmeter", CSV_METER}, {"meter", CSV_METER}, {"hours", CSV_METER},
    {"hrs", CSV_METER}, {"engine hours", CSV_METER}, {"machine hours", CSV_METER},
    {"meter reading", CSV_METER}, {"betriebsstunden", CSV_METER}, {"betriebsstd", CSV_METER}, {"bh", CSV_METER},
    {"stunden", CSV_METER}, {"std", CSV_METER}, {"zahlerstand", CSV_METER}, {"zaehlerstand", CSV_METER},
    {"stundenzahler", CSV_METER}, {"stundenzaehler", CSV_METER}, {"motorstunden", CSV_METER}, {"horas", CSV_METER},
    {"horometro", CSV_METER}, {"cuentahoras", CSV_METER}, {"horas de motor", CSV_METER}, {"heures", CSV_METER},
    {"heures moteur", CSV_METER}, {"compteur", CSV_METER}, {"horametre", CSV_METER}, {"time", CSV_TIME},
    {"uhrzeit", CSV_TIME}, {"zeit", CSV_TIME}, {"hora", CSV_TIME}, {"heure", CSV_TIME},
    /* which machine */
    {"serial", CSV_MACHINE}, {"serial number", CSV_MACHINE}, {"serial no", CSV_MACHINE}, {"s n", CSV_MACHINE},
    {"sn", CSV_MACHINE}, {"machine", CSV_MACHINE}, {"unit no", CSV_MACHINE}, {"unit number", CSV_MACHINE},
    {"fleet", CSV_MACHINE}, {"fleet no", CSV_MACHINE}, {"fleet number", CSV_MACHINE}, {"vehicle", CSV_MACHINE},
    {"equipment", CSV_MACHINE}, {"seriennummer", CSV_MACHINE}, {"serien nr", CSV_MACHINE}, {"maschine", CSV_MACHINE},
    {"maschinennummer", CSV_MACHINE}, {"maschinen nr", CSV_MACHINE}, {"fahrzeug", CSV_MACHINE},
    {"gerat", CSV_MACHINE}, {"geraet", CSV_MACHINE}, {"fahrgestellnummer", CSV_MACHINE},
    {"numero de serie", CSV_MACHINE}, {"n de serie", CSV_MACHINE}, {"no de serie", CSV_MACHINE},
    {"serie", CSV_MACHINE}, {"maquina", CSV_MACHINE}, {"equipo", CSV_MACHINE}, {"vehiculo", CSV_MACHINE},
    {"engin", CSV_MACHINE}, {"vehicule", CSV_MACHINE},
    /* who */
    {"technician", CSV_BY}, {"mechanic", CSV_BY}, {"operator", CSV_BY}, {"done by", CSV_BY}, {"by", CSV_BY},
    {"name", CSV_BY}, {"who", CSV_BY}, {"initials", CSV_BY}, {"techniker", CSV_BY}, {"mechaniker", CSV_BY},
    {"fahrer", CSV_BY}, {"bearbeiter", CSV_BY}, {"wer", CSV_BY}, {"von", CSV_BY}, {"tecnico", CSV_BY},
    {"mecanico", CSV_BY}, {"operador", CSV_BY}, {"responsable", CSV_BY}, {"technicien", CSV_BY},
    {"mecanicien", CSV_BY}, {"operateur", CSV_BY}, {"par", CSV_BY},
    /* long form: what, how much, in which unit */
    {"checkpoint", CSV_CHECKPOINT}, {"check point", CSV_CHECKPOINT}, {"check", CSV_CHECKPOINT},
    {"measurement", CSV_CHECKPOINT}, {"parameter", CSV_CHECKPOINT}, {"item", CSV_CHECKPOINT},
    {"prufpunkt", CSV_CHECKPOINT}, {"pruefpunkt", CSV_CHECKPOINT}, {"messpunkt", CSV_CHECKPOINT},
    {"messstelle", CSV_CHECKPOINT}, {"punto de control", CSV_CHECKPOINT}, {"parametro", CSV_CHECKPOINT},
    {"medicion", CSV_CHECKPOINT}, {"point de controle", CSV_CHECKPOINT}, {"parametre", CSV_CHECKPOINT},
    {"mesure", CSV_CHECKPOINT}, {"value", CSV_VALUE}, {"reading", CSV_VALUE}, {"result", CSV_VALUE},
    {"wert", CSV_VALUE}, {"messwert", CSV_VALUE}, {"ergebnis", CSV_VALUE}, {"valor", CSV_VALUE},
    {"lectura", CSV_VALUE}, {"resultado", CSV_VALUE}, {"valeur", CSV_VALUE}, {"releve", CSV_VALUE},
    {"resultat", CSV_VALUE}, {"unit", CSV_UNIT}, {"units", CSV_UNIT}, {"uom", CSV_UNIT}, {"einheit", CSV_UNIT},
    {"unidad", CSV_UNIT}, {"unite", CSV_UNIT}, {"fault code", CSV_FAULT}, {"fault", CSV_FAULT},
    {"error code", CSV_FAULT}, {"dtc", CSV_FAULT}, {"spn", CSV_FAULT}, {"fehlercode", CSV_FAULT},
    {"storung", CSV_FAULT}, {"stoerung", CSV_FAULT}, {"codigo de falla", CSV_FAULT}, {"averia", CSV_FAULT},
    {"code defaut", CSV_FAULT}, {"panne", CSV_FAULT}, {"quantity", CSV_QUANTITY}, {"qty", CSV_QUANTITY},
    {"pieces", CSV_QUANTITY}, {"menge", CSV_QUANTITY}, {"anzahl", CSV_QUANTITY}, {"stuck", CSV_QUANTITY},
    {"cantidad", CSV_QUANTITY}, {"quantite", CSV_QUANTITY}, {"part number", CSV_PART}, {"part no", CSV_PART},
    {"part", CSV_PART}, {"parts", CSV_PART}, {"parts used", CSV_PART}, {"teilenummer", CSV_PART},
    {"teile nr", CSV_PART}, {"ersatzteil", CSV_PART}, {"ersatzteile", CSV_PART}, {"teil", CSV_PART},
    {"repuesto", CSV_PART}, {"pieza", CSV_PART}, {"piece", CSV_PART}, {"reference piece", CSV_PART},
    {"finding", CSV_FOUND}, {"findings", CSV_FOUND}, {"found", CSV_FOUND}, {"defect", CSV_FOUND},
    {"observation", CSV_FOUND}, {"befund", CSV_FOUND}, {"mangel", CSV_FOUND}, {"hallazgo", CSV_FOUND},
    {"observacion", CSV_FOUND}, {"constat", CSV_FOUND}, {"defaut", CSV_FOUND}, {"work done", CSV_DONE},
    {"work carried out", CSV_DONE}, {"work", CSV_DONE}, {"service", CSV_DONE}, {"service done", CSV_DONE},
    {"task", CSV_DONE}, {"job", CSV_DONE}, {"description", CSV_DONE}, {"maintenance", CSV_DONE}, {"done", CSV_DONE},
    {"arbeit", CSV_DONE}, {"arbeiten", CSV_DONE}, {"durchgefuhrte arbeiten", CSV_DONE}, {"wartung", CSV_DONE},
    {"tatigkeit", CSV_DONE}, {"beschreibung", CSV_DONE}, {"erledigt", CSV_DONE}, {"trabajo", CSV_DONE},
    {"tarea", CSV_DONE}, {"mantenimiento", CSV_DONE}, {"servicio", CSV_DONE}, {"descripcion", CSV_DONE},
    {"travail", CSV_DONE}, {"travaux", CSV_DONE}, {"entretien", CSV_DONE}, {"intervention", CSV_DONE},
    {"tache", CSV_DONE}, {"note", CSV_NOTE}, {"notes", CSV_NOTE}, {"remark", CSV_NOTE}, {"remarks", CSV_NOTE},
    {"comment", CSV_NOTE}, {"comments", CSV_NOTE}, {"bemerkung", CSV_NOTE}, {"bemerkungen", CSV_NOTE},
    {"notiz", CSV_NOTE}, {"anmerkung", CSV_NOTE}, {"kommentar", CSV_NOTE}, {"nota", CSV_NOTE}, {"notas", CSV_NOTE},
    {"observaciones", CSV_NOTE}, {"comentario", CSV_NOTE}, {"remarque", CSV_NOTE}, {"remarques", CSV_NOTE},
    {"commentaire", CSV_NOTE},
};
/* clang-format on */

/* Whether the folded words hold the phrase as whole words. */
static bool holds_words(struct str folded, struct str phrase)
{
    for (size_t i = 0; i + phrase.n <= folded.n; i++) {
        bool starts = i == 0 || folded.p[i - 1] == ' ';
        bool ends = i + phrase.n == folded.n || folded.p[i + phrase.n] == ' ';
        if (starts && ends && memcmp(folded.p + i, phrase.p, phrase.n) == 0) {
            return true;
        }
    }
    return false;
}

enum csv_meaning csv_header_meaning(struct str folded, bool *exact)
{
    const size_t n = sizeof phrases / sizeof *phrases;
    for (size_t i = 0; i < n; i++) {
        if (str_eq(folded, str_of(phrases[i].words))) {
            *exact = true;
            return phrases[i].meaning;
        }
    }
    *exact = false;
    for (size_t i = 0; i < n; i++) {
        if (holds_words(folded, str_of(phrases[i].words))) {
            return phrases[i].meaning;
        }
    }
    return CSV_UNKNOWN;
}

static const char *const meaning_words[] = {
#define X(symbol, word) word,
    CSV_MEANINGS(X)
#undef X
};

const char *csv_meaning_text(enum csv_meaning m)
{
    return meaning_words[m];
}

bool csv_meaning_parse(struct str word, enum csv_meaning *m)
{
    for (int i = CSV_LEAVE_OUT; i < CSV_NAMED; i++) {
        if (str_eq_nocase(word, str_of(meaning_words[i]))) {
            *m = (enum csv_meaning)i;
            return true;
        }
    }
    return false;
}

const char *feed_csv_meanings(void)
{
    return "date, time, machine, meter, checkpoint, value, unit, done, found, fault, part, quantity, labour, by, note, "
           "leave-out, or the name of a checkpoint or task";
}

/* ---- single words ---- */

/* Whether the word is one of the n. */
static bool is_one_of(struct str word, const char *const *words, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        if (str_eq(word, str_of(words[i]))) {
            return true;
        }
    }
    return false;
}
#define IS_ONE_OF(word, words) is_one_of((word), (words), sizeof(words) / sizeof *(words))

bool csv_is_summary_word(struct str folded)
{
    static const char *const words[] = {
        "total",   "totals",  "grand",       "sum",           "subtotal",   "average",      "mean",
        "summe",   "gesamt",  "gesamtsumme", "zwischensumme", "mittelwert", "durchschnitt", "schnitt",
        "totales", "suma",    "promedio",    "media",         "somme",      "moyenne",      "totaux",
        "count",   "minimum", "maximum",     "avg",           "sous",
    };
    struct str first = folded;
    struct str rest = folded;
    str_next(&rest, ' ', &first);
    return IS_ONE_OF(first, words);
}

/* Error values of spreadsheets: ISO/IEC 29500-1 18.17.2.7 ("error-constant") and their German, Spanish, French words.
 */
bool csv_is_spreadsheet_error(struct str s)
{
    static const char *const words[] = {
        "#REF!",           "#N/A",          "#NAME?",           "#DIV/0!",
        "#NULL!",          "#NUM!",         "#VALUE!",          "#GETTING_DATA",
        "#BEZUG!",         "#NV",           "#WERT!",           "#ZAHL!",
        "#NAME",           "#SPILL!",       "#CALC!",           "#\xC2\xA1REF!",
        "#\xC2\xA1VALOR!", "#\xC2\xA1NUM!", "#\xC2\xBFNOMBRE?", "#\302\241DIV/0!",
        "#NOM?",           "#VALEUR!",      "#NOMBRE!",         "#N/D",
        "Err:502",         "Err:508",       "Err:522",
    };
    if (s.n == 0 || (s.p[0] != '#' && s.p[0] != 'E')) {
        return false;
    }
    size_t hashes = 0;
    while (hashes < s.n && s.p[hashes] == '#') {
        hashes++;
    }
    return (hashes == s.n && s.n >= 3) || IS_ONE_OF(s, words); /* ### is a column that was too narrow */
}

bool csv_is_nothing(struct str s)
{
    static const char *const words[] = {"",     "-",    "--",           "---",          ".", "/", "n/a", "N/A",
                                        "n.a.", "k.A.", "\xE2\x80\x93", "\xE2\x80\x94", "?"};
    return s.n <= 4 && IS_ONE_OF(s, words); /* four bytes are the longest of them */
}

int csv_is_tick(struct arena *scratch, struct str s)
{
    static const char *const yes[] = {"x",  "xx", "yes",   "y",   "done", "ok",   "ja", "j",   "erledigt",
                                      "si", "s",  "hecho", "oui", "o",    "fait", "1",  "true"};
    static const char *const no[] = {"no", "n", "nein", "non", "0", "false", "open", "offen"};
    if (str_eq(s, S("\xE2\x9C\x93")) || str_eq(s, S("\xE2\x9C\x94")) || str_eq(s, S("\xE2\x98\x91"))) {
        return 1;
    }
    struct str folded = csv_fold(scratch, s);
    return IS_ONE_OF(folded, yes) ? 1 : IS_ONE_OF(folded, no) ? 0 : -1;
}

bool csv_says_not(struct str folded)
{
    static const char *const words[] = {"not",       "no",      "nicht",  "kein",    "keine",   "keinen",   "sin",
                                        "pas",       "non",     "needs",  "need",    "due",     "needed",   "overdue",
                                        "todo",      "planned", "fallig", "faellig", "offen",   "next",     "later",
                                        "pendiente", "falta",   "prevu",  "ohne",    "without", "postponed"};
    struct str rest = folded;
    struct str word;
    while (str_next(&rest, ' ', &word)) {
        if (IS_ONE_OF(word, words)) {
            return true;
        }
    }
    return false;
}

bool csv_is_hours_word(struct str folded)
{
    static const char *const words[] = {"h",       "hr",   "hrs",   "hour",  "hours",  "std", "stunde",
                                        "stunden", "hora", "horas", "heure", "heures", "bh",  "betriebsstunden"};
    return IS_ONE_OF(folded, words);
}

int csv_month_word(struct str folded)
{
    /* full names; three letters or more of one are enough */
    static const char *const names[][4] = {
        {"january", "januar", "enero", "janvier"},
        {"february", "februar", "febrero", "fevrier"},
        {"march", "marz", "marzo", "mars"},
        {"april", "april", "abril", "avril"},
        {"may", "mai", "mayo", "mai"},
        {"june", "juni", "junio", "juin"},
        {"july", "juli", "julio", "juillet"},
        {"august", "august", "agosto", "aout"},
        {"september", "september", "septiembre", "septembre"},
        {"october", "oktober", "octubre", "octobre"},
        {"november", "november", "noviembre", "novembre"},
        {"december", "dezember", "diciembre", "decembre"},
    };
    static const struct {
        const char *word;
        int month;
    } irregular[] = {{"jui", 0}, {"maerz", 3}, {"jaenner", 1}, {"sept", 9}, {"dic", 12}};
    for (size_t i = 0; i < sizeof irregular / sizeof *irregular; i++) {
        if (str_eq(folded, str_of(irregular[i].word))) {
            return irregular[i].month;
        }
    }
    for (int m = 0; folded.n >= 3 && m < 12; m++) {
        for (int k = 0; k < 4; k++) {
            if (str_starts(str_of(names[m][k]), folded)) {
                return m + 1;
            }
        }
    }
    return 0;
}

bool csv_is_weekday_word(struct str folded)
{
    static const char *const words[] = {
        "mo",         "di",        "mi",       "do",       "fr",       "sa",       "so",     "mon",       "tue",
        "tues",       "wed",       "thu",      "thur",     "thurs",    "fri",      "sat",    "sun",       "monday",
        "tuesday",    "wednesday", "thursday", "friday",   "saturday", "sunday",   "montag", "dienstag",  "mittwoch",
        "donnerstag", "freitag",   "samstag",  "sonntag",  "lu",       "lun",      "ma",     "mar",       "mie",
        "mier",       "jue",       "vie",      "sab",      "dom",      "lunes",    "martes", "miercoles", "jueves",
        "viernes",    "sabado",    "domingo",  "mer",      "jeu",      "ven",      "sam",    "dim",       "lundi",
        "mardi",      "mercredi",  "jeudi",    "vendredi", "samedi",   "dimanche",
    };
    return IS_ONE_OF(folded, words);
}

/* ---- words of the trade ---- */

struct concept {
    const char *word;
    const char *is; /* English; "" = a word that says nothing; several separated by blanks */
};
/* clang-format off */
static const struct concept concepts[] = {
    {"a", ""}, {"an", ""}, {"the", ""}, {"of", ""}, {"and", ""}, {"in", ""}, {"at", ""}, {"on", ""}, {"to", ""},
    {"with", ""}, {"for", ""}, {"und", ""}, {"der", ""}, {"die", ""}, {"das", ""}, {"den", ""}, {"dem", ""},
    {"des", ""}, {"am", ""}, {"im", ""}, {"mit", ""}, {"el", ""}, {"la", ""}, {"los", ""}, {"las", ""}, {"de", ""},
    {"del", ""}, {"y", ""}, {"en", ""}, {"con", ""}, {"le", ""}, {"les", ""}, {"du", ""}, {"et", ""}, {"au", ""},
    {"aux", ""}, {"d", ""}, {"l", ""}, {"was", ""}, {"were", ""}, {"all", ""}, {"new", "change"},
    {"change", "change"}, {"changed", "change"}, {"changing", "change"}, {"replace", "change"},
    {"replaced", "change"}, {"replacement", "change"}, {"renew", "change"}, {"renewed", "change"},
    {"wechsel", "change"}, {"gewechselt", "change"}, {"wechseln", "change"}, {"tausch", "change"},
    {"getauscht", "change"}, {"erneuert", "change"}, {"neu", "change"}, {"cambio", "change"}, {"cambiado", "change"},
    {"cambiar", "change"}, {"sustituido", "change"}, {"vidange", "change oil"}, {"remplacement", "change"},
    {"remplace", "change"}, {"changement", "change"}, {"change par", "change"}, {"clean", "clean"},
    {"cleaned", "clean"}, {"cleaning", "clean"}, {"blown", "clean"}, {"gereinigt", "clean"}, {"reinigen", "clean"},
    {"reinigung", "clean"}, {"limpiar", "clean"}, {"limpieza", "clean"}, {"limpiado", "clean"},
    {"nettoyage", "clean"}, {"nettoye", "clean"}, {"nettoyer", "clean"}, {"grease", "grease"}, {"greased", "grease"},
    {"greasing", "grease"}, {"lube", "grease"}, {"lubricate", "grease"}, {"lubricated", "grease"},
    {"abschmieren", "grease"}, {"abgeschmiert", "grease"}, {"schmieren", "grease"}, {"geschmiert", "grease"},
    {"engrase", "grease"}, {"engrasado", "grease"}, {"graissage", "grease"}, {"graisse", "grease"},
    {"drain", "drain"}, {"drained", "drain"}, {"entwassern", "drain"}, {"entwassert", "drain"}, {"drenar", "drain"},
    {"purge", "drain"}, {"tighten", "torque"}, {"tightened", "torque"}, {"retorque", "torque"},
    {"retorqued", "torque"}, {"torque", "torque"}, {"sharpen", "sharpen"}, {"sharpened", "sharpen"},
    {"geschliffen", "sharpen"}, {"geschaerft", "sharpen"}, {"gescharft", "sharpen"}, {"afilado", "sharpen"},
    {"affutage", "sharpen"}, {"torqued", "torque"}, {"nachgezogen", "torque"}, {"nachziehen", "torque"},
    {"apretar", "torque"}, {"serrage", "torque"}, {"check", "check"}, {"checked", "check"}, {"inspect", "check"},
    {"inspected", "check"}, {"prufen", "check"}, {"gepruft", "check"}, {"revisar", "check"}, {"controle", "check"},
    {"oil", "oil"}, {"ol", "oil"}, {"oel", "oil"}, {"aceite", "oil"}, {"huile", "oil"}, {"engine", "engine"},
    {"motor", "engine"}, {"moteur", "engine"}, {"eng", "engine"}, {"hydraulic", "hydraulic"},
    {"hydraulics", "hydraulic"}, {"hyd", "hydraulic"}, {"hydr", "hydraulic"}, {"hydraulik", "hydraulic"},
    {"hidraulico", "hydraulic"}, {"hydraulique", "hydraulic"}, {"filter", "filter"}, {"filters", "filter"},
    {"element", "filter"}, {"elements", "filter"}, {"filtro", "filter"}, {"filtros", "filter"}, {"filtre", "filter"},
    {"filtres", "filter"}, {"patrone", "filter"}, {"air", "air"}, {"luft", "air"}, {"aire", "air"}, {"fuel", "fuel"},
    {"diesel", "fuel"}, {"kraftstoff", "fuel"}, {"combustible", "fuel"}, {"carburant", "fuel"}, {"gasoil", "fuel"},
    {"coolant", "coolant"}, {"antifreeze", "coolant"}, {"kuhlmittel", "coolant"}, {"kuehlmittel", "coolant"},
    {"kuhlwasser", "coolant"}, {"refrigerante", "coolant"}, {"refroidissement", "coolant"}, {"radiator", "radiator"},
    {"kuhler", "radiator"}, {"kuehler", "radiator"}, {"radiador", "radiator"}, {"radiateur", "radiator"},
    {"return", "return"}, {"rucklauf", "return"}, {"ruecklauf", "return"}, {"retorno", "return"},
    {"retour", "return"}, {"tyre", "tyre"}, {"tyres", "tyre"}, {"tire", "tyre"}, {"tires", "tyre"},
    {"reifen", "tyre"}, {"neumatico", "tyre"}, {"pneu", "tyre"}, {"pneus", "tyre"}, {"wheel", "wheel"},
    {"wheels", "wheel"}, {"rad", "wheel"}, {"rader", "wheel"}, {"rueda", "wheel"}, {"roue", "wheel"}, {"nuts", "nut"},
    {"nut", "nut"}, {"muttern", "nut"}, {"radmuttern", "wheel nut"}, {"tuercas", "nut"}, {"ecrous", "nut"},
    {"front", "front"}, {"vorn", "front"}, {"vorne", "front"}, {"delantero", "front"}, {"delantera", "front"},
    {"avant", "front"}, {"av", "front"}, {"rear", "rear"}, {"back", "rear"}, {"hinten", "rear"}, {"trasero", "rear"},
    {"trasera", "rear"}, {"arriere", "rear"}, {"ar", "rear"}, {"left", "left"}, {"lh", "left"}, {"links", "left"},
    {"izquierdo", "left"}, {"izquierda", "left"}, {"gauche", "left"}, {"right", "right"}, {"rh", "right"},
    {"rechts", "right"}, {"derecho", "right"}, {"derecha", "right"}, {"droit", "right"}, {"droite", "right"},
    {"fl", "front left"}, {"fr", "front right"}, {"rl", "rear left"}, {"rr", "rear right"}, {"vl", "front left"},
    {"vr", "front right"}, {"hl", "rear left"}, {"hr", "rear right"}, {"lf", "front left"}, {"rf", "front right"},
    {"lr", "rear left"}, {"avg", "front left"}, {"avd", "front right"}, {"battery", "battery"},
    {"batterie", "battery"}, {"bateria", "battery"}, {"batt", "battery"}, {"voltage", "voltage"},
    {"volts", "voltage"}, {"spannung", "voltage"}, {"voltaje", "voltage"}, {"tension", "voltage"},
    {"pressure", "pressure"}, {"press", "pressure"}, {"druck", "pressure"}, {"presion", "pressure"},
    {"pression", "pressure"}, {"temperature", "temperature"}, {"temp", "temperature"}, {"temperatur", "temperature"},
    {"temperatura", "temperature"}, {"belt", "belt"}, {"belts", "belt"}, {"riemen", "belt"}, {"keilriemen", "belt"},
    {"correa", "belt"}, {"courroie", "belt"}, {"blade", "blade"}, {"blades", "blade"}, {"messer", "blade"},
    {"cuchillas", "blade"}, {"lames", "blade"}, {"brush", "broom"}, {"broom", "broom"}, {"brooms", "broom"},
    {"besen", "broom"}, {"cepillo", "broom"}, {"balai", "broom"}, {"water", "water"}, {"wasser", "water"},
    {"agua", "water"}, {"eau", "water"}, {"separator", "separator"}, {"abscheider", "separator"},
    {"separador", "separator"}, {"separateur", "separator"}, {"primary", "primary"}, {"main", "primary"},
    {"haupt", "primary"}, {"safety", "safety"}, {"secondary", "safety"}, {"sicherheits", "safety"},
    {"bearing", "bearing"}, {"bearings", "bearing"}, {"lager", "bearing"}, {"points", "point"}, {"point", "point"},
    {"seal", "seal"}, {"seals", "seal"}, {"dichtung", "seal"}, {"dichtungen", "seal"}, {"junta", "seal"},
    {"joint", "seal"}, {"hose", "hose"}, {"hoses", "hose"}, {"schlauch", "hose"}, {"manguera", "hose"},
    {"flexible", "hose"}, {"level", "level"}, {"stand", "level"}, {"nivel", "level"}, {"niveau", "level"},
    {"gauge", "gauge"}, {"manometer", "gauge"},
};
/* clang-format on */

/* The concept of one folded word, null when it is in no table. */
static const char *concept_of(struct str word)
{
    for (size_t i = 0; i < sizeof concepts / sizeof *concepts; i++) {
        if (str_eq(word, str_of(concepts[i].word))) {
            return concepts[i].is;
        }
    }
    return NULL;
}

/* Adds a concept once. */
static void add_concept(struct csv_concepts *c, struct str word)
{
    int at = 0;
    while (at < c->n && str_cmp(c->at[at], word) < 0) {
        at++;
    }
    if (c->n == CSV_CONCEPTS || (at < c->n && str_eq(c->at[at], word))) {
        return;
    }
    memmove(&c->at[at + 1], &c->at[at], (size_t)(c->n - at) * sizeof *c->at);
    c->at[at] = word;
    c->n++;
}

/* Adds the words that a table gives for a word. */
static void add_concepts(struct csv_concepts *c, const char *is)
{
    struct str rest = str_of(is);
    struct str word;
    while (str_next(&rest, ' ', &word)) {
        if (word.n) {
            add_concept(c, word);
        }
    }
}

/* Takes a German compound apart into words of the table ("motorolwechsel"): the longest first part from which the rest
 * can be taken apart too. A linking s or n between parts is passed over. Words are short, so plain recursion is cheap.
 */
static bool add_compound(struct csv_concepts *c, struct str word, int depth)
{
    const char *whole = concept_of(word);
    if (whole && depth > 0) {
        add_concepts(c, whole);
        return true;
    }
    for (size_t cut = word.n > 3 ? word.n - 2 : 0; cut >= 2 && depth < 4; cut--) {
        const char *first = concept_of(str_cut(word, 0, cut));
        struct str rest = str_cut(word, cut, word.n);
        if (!first || !*first || word.n - cut < 2) {
            continue;
        }
        bool linked = rest.n > 3 && (rest.p[0] == 's' || rest.p[0] == 'n');
        if (add_compound(c, rest, depth + 1) || (linked && add_compound(c, str_cut(rest, 1, rest.n), depth + 1))) {
            add_concepts(c, first);
            return true;
        }
    }
    return false;
}

struct csv_concepts csv_concepts(struct arena *a, struct str text)
{
    struct csv_concepts c = {.n = 0};
    struct str rest = csv_fold(a, str_cut(text, 0, 400));
    struct str word;
    while (str_next(&rest, ' ', &word)) {
        const char *is = concept_of(word);
        if (is) {
            add_concepts(&c, is);
        } else if (word.n && !csv_is_digits(word)) {
            if (word.n > 30 || !add_compound(&c, word, 0)) {
                add_concept(&c, word);
                c.unknown++;
            }
        }
    }
    return c;
}
