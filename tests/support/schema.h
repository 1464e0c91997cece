/* SPDX-License-Identifier: MIT */
#ifndef CW_TESTS_SUPPORT_SCHEMA_H
#define CW_TESTS_SUPPORT_SCHEMA_H

/* A value held against a JSON Schema (2020-12, the part of it that the contract uses; a keyword that is not known here is
 * itself an error, so that nothing in the contract goes unlooked at). Prints what is wrong, with the place, at most ten lines;
 * returns how many. `document` is where a "$ref" leads. */
#include <jansson.h>

int schema_check(const json_t *document, const json_t *schema, const json_t *value, const char *at);

#endif
