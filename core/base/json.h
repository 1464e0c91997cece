/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_JSON_H
#define CW_BASE_JSON_H

#include <jansson.h>
#include <stdbool.h>

/* Documents of which nothing is missing. Puts never fail outwardly: a member that could not be made or put makes the
 * document NULL, and it stays so; whoever hands it on looks once, at the end. What is put is taken, also by a document
 * that is NULL. (json_pack does the same with "o" and NULL.) */
void cw_json_put_take(json_t **object, const char *name, json_t *value);
void cw_json_append_take(json_t **list, json_t *value);

/* What may not be known: null for NULL and for "". */
json_t *cw_json_known(const char *s);

/* To be called once, before the first document. What is read from JSON may be a password, so nothing of it stays in memory that
 * is given back; and memory that ends is noticed: jansson then calls a good text a bad one. */
void cw_json_careful(void);
bool cw_json_starved(void); /* in this thread, since it was last asked */

/* The document as text (NULL: as without memory), to be freed; the flags are jansson's. Not json_dumps: that of jansson 2.14
 * passes over a name for which its buffer could not grow, and gives out text that is no JSON. */
char *cw_json_text(const json_t *document, size_t flags);

#endif
