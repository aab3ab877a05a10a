/* What the flat questions share: reading lines NAME=VALUE, refusing what nobody asked for. See flat.h. */
#ifndef WITMARK_WASM_FLAT_INTERNAL_H
#define WITMARK_WASM_FLAT_INTERNAL_H

#include "base/date.h"
#include "base/err.h"
#include "base/json.h"
#include "quantity/quantity.h"
#include "wasm/flat.h"

/* One line NAME=VALUE; taken once somebody asked for it. */
struct flat_line {
    struct str name, value;
    bool taken;
};

struct flat {
    struct arena *a;
    struct flat_line *at;
    size_t n, cap;
    struct str known[32]; /* names that were asked for, to say which one was meant */
    size_t n_known;
};

/* Lines of a question, counted from `first`. Errors: ERR_INPUT: a line without '=', not UTF-8. */
bool flat_read(struct arena *a, struct str question, uint32_t first, struct flat *f, struct err *e);
/* The next line of that name not taken yet; null when there is none. */
struct flat_line *flat_next(struct flat *f, const char *name);
/* The value of a name, false when it is not there. */
bool flat_get(struct flat *f, const char *name, struct str *value);
/* Whether every line was asked for. Errors: ERR_USAGE: an unknown name (with the nearest), or one said twice. */
bool flat_done(const struct flat *f, struct err *e);
/* flat_get of what must be there. Errors: ERR_USAGE. */
bool flat_need(struct flat *f, const char *name, struct str *value, struct err *e);
/* units=si|us|as-written; as written when left out. */
bool flat_units(struct flat *f, enum unit_system *system, struct err *e);
/* A quantity that may be left out; *given says whether it was. Errors: as quantity_parse. */
bool flat_quantity(struct flat *f, const char *name, struct quantity *q, bool *given, struct err *e);
/* Likewise one of a kind, in SI. */
bool flat_si(struct flat *f, const char *name, enum quantity_kind kind, double *si, bool *given, struct err *e);
/* A bare number of at least 0; NaN when it is left out. */
bool flat_hours(struct flat *f, const char *name, double *value, struct err *e);
/* A date; DAY_NONE when it is left out. */
bool flat_day(struct flat *f, const char *name, day_t *day, struct err *e);
/* A date as a member, null when there is none. */
void flat_put_day(struct json *j, const char *key, day_t day);
/* Makes the answer a refusal and nothing else. */
void flat_err(struct text *answer, const struct err *e);

#endif
