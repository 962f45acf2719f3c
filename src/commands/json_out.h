/* What was found, as JSON. */
#ifndef THRUM_JSON_OUT_H
#define THRUM_JSON_OUT_H

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

#include "thrum/reading.h"

/* Digits that a number is printed with. */
#define JSON_DIGITS 12

/* A number without digits beyond the step. */
json_t *json_rounded(double number, double step);

/* A level in dB, to 0.0001; null for silence. */
json_t *json_level(double db);

/* Mains frequency; null for none. */
json_t *json_mains(double hz);

/* A text; what is no UTF-8 becomes '?'. */
json_t *json_text(const char *text);

/* Names of the faults. */
json_t *json_faults(uint32_t faults);

/* Prints on standard output, in one line, and lets the document go. False when it was not written. */
bool json_print(json_t *document);

#endif
