/* A calculation and its answer as JSON: what `witmark calc --json` prints and what the WebAssembly core hands back. */
#ifndef WITMARK_CALC_JSON_H
#define WITMARK_CALC_JSON_H

#include "base/json.h"
#include "calc/calc.h"

/* {"name", "title", "formula", "source", "inputs": [{"name", "form", "kind", "unit", "meaning", "preset"}],
 *  "outputs": [...]}. form: "number", "list", "text", "flag"; kind and unit null where there is none; preset null when
 * the input must be given, "" when it may be left out. */
void json_calc(struct json *j, const char *key, const struct calc *c);

/* Answer of a call that ran: {"calc", "title", "formula", "source", "inputs": {NAME: VALUE}, "outputs": {NAME: VALUE}}
 * without the fields that are absent. VALUE: {"value", "unit", "si", "text"} of a number, value in the field's unit;
 * of a list the same with arrays; {"value", "text"} of a text or flag; {"value": null, "text": why} where there is no
 * such number. `text` is for people, in the reader's units. */
void json_calc_answer(struct json *j, const char *key, const struct calc_call *call, enum unit_system system);

/* A refusal: {"error": {"kind", "what", "right"}}, the member of an open object. */
void json_err(struct json *j, const struct err *e);

#endif
