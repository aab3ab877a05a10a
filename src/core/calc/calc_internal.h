/* What the tables of calculations share: how a run reads its inputs and sets its outputs by name. A name that the table
 * does not have is our own mistake and asserted. */
#ifndef WITMARK_CALC_INTERNAL_H
#define WITMARK_CALC_INTERNAL_H

#include "calc/calc.h"

#include <math.h>

/* The tables, one per file. */
extern const struct calc calc_vehicle[], calc_fastener[], calc_oil[], calc_coolant[], calc_hydraulic[], calc_electric[],
    calc_exhaust[], calc_drive[], calc_economics[], calc_calendar[], calc_machine[], calc_units[];
extern const size_t calc_vehicle_count, calc_fastener_count, calc_oil_count, calc_coolant_count, calc_hydraulic_count,
    calc_electric_count, calc_exhaust_count, calc_drive_count, calc_economics_count, calc_calendar_count,
    calc_machine_count, calc_units_count;

/* Inputs; a number that was left out reads as NaN, a text as empty. */
double in_number(const struct calc_call *call, const char *name);
bool in_given(const struct calc_call *call, const char *name);
struct str in_text(const struct calc_call *call, const char *name);
bool in_flag(const struct calc_call *call, const char *name);
const double *in_list(const struct calc_call *call, const char *name, size_t *n);
double in_number_or(const struct calc_call *call, const char *name, double otherwise);

/* Outputs. Each returns true, so that a run can end with them. */
bool out_number(struct calc_call *call, const char *name, double value_si);
bool out_list(struct calc_call *call, const char *name, const double *values, size_t n);
bool out_text(struct calc_call *call, const char *name, struct str text);
bool out_flag(struct calc_call *call, const char *name, bool flag);
bool out_none(struct calc_call *call, const char *name, const char *why);

/* Shorter rows: a number with its kind and unit, with a preset, a bare number. */
#define NUMBER(name, kind, unit, meaning)            \
    {                                                \
        name, CALC_NUMBER, kind, unit, meaning, NULL \
    }
#define PRESET(name, kind, unit, meaning, preset)      \
    {                                                  \
        name, CALC_NUMBER, kind, unit, meaning, preset \
    }
#define TEXT(name, meaning)                          \
    {                                                \
        name, CALC_TEXT, Q_NONE, NULL, meaning, NULL \
    }
#define FLAG(name, meaning)                          \
    {                                                \
        name, CALC_FLAG, Q_NONE, NULL, meaning, NULL \
    }
#define LIST(name, kind, unit, meaning)            \
    {                                              \
        name, CALC_LIST, kind, unit, meaning, NULL \
    }

#endif
