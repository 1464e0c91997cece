/* SPDX-License-Identifier: MIT */
#ifndef CW_BASE_SHAPE_H
#define CW_BASE_SHAPE_H

#include "base/table.h"

/* What does an answer look like? A shape is said once, beside the code that makes the answer; the contract of the HTTP interface
 * is written from it, and the tests hold every answer against that. A table's shape are its columns, so that a new column is in
 * the contract as soon as it is in the table:
 *
 *     static const cw_column place_columns[] = {
 *         { "place", CW_TEXT_T }, { "room", CW_TEXT_T }, { "note", CW_TEXT_T, .null = true },
 *     };
 *     const cw_shape cw_cellar_places_shape = CW_ROWS(place_columns);
 *
 * A document has a part for each member:
 *
 *     const cw_shape cw_cellar_air_shape = { .parts = (const cw_part[]){
 *         { "room", CW_TEXT_T, .null = true },
 *         { "points", .shape = &points_shape },
 *         { 0 },
 *     } };
 *
 * Every member of an answer stands in its shape, and every member of the shape stands in each answer, unless it may lack. */
typedef struct cw_shape cw_shape;

typedef struct cw_part {
    const char *name;
    cw_type type;          /* of a plain value */
    const cw_shape *shape; /* or what stands there instead */
    bool null, lack;       /* it may be null; it may be absent */
    const char *words;     /* of CW_TEXT_T: one of these, "open|packed"; NULL: any text */
    const char *says;      /* what it is, where its name does not tell */
} cw_part;

struct cw_shape {
    bool list;                /* a list of what the rest says */
    const cw_shape *of;       /* the same as that one, */
    const cw_column *columns; /* or an object with a member for each column */
    size_t width;
    const cw_part *parts;  /* and one for each part, which end with a zeroed one; */
    cw_type type;          /* or without these a plain value */
    json_t *(*make)(void); /* or what no table can say: new reference to a JSON Schema, NULL without memory */
};

#define CW_WIDTH(columns) (sizeof(columns) / sizeof(columns)[0])

/* A list of rows; one of them. */
#define CW_ROWS(table)                                                                                       \
    {                                                                                                        \
        .list = true, .columns = (table), .width = CW_WIDTH(table)                                           \
    }
#define CW_ROW(table)                                                                                        \
    {                                                                                                        \
        .columns = (table), .width = CW_WIDTH(table)                                                         \
    }

/* A list of texts, of numbers. */
extern const cw_shape cw_shape_texts, cw_shape_numbers;

/* Do the rows of this table have the shape? */
bool cw_shape_has_rows(const cw_shape *s, const cw_table *t);

/* JSON Schema (2020-12): new references, NULL without memory. A closed object takes no member that it does not name. */
json_t *cw_shape_schema(const cw_shape *s);
json_t *cw_words_schema(const char *words); /* a list of them */
json_t *cw_type_schema(cw_type type, bool null, const char *words);

/* With the description, if there is one. */
json_t *cw_schema_says_take(json_t *schema, const char *says);

/* {"type": "object"} without members yet, and a member of it; as with cw_json_put_take it is NULL when something failed. */
json_t *cw_schema_object(void);
void cw_schema_member_take(json_t **object, const char *name, bool required, json_t *schema);

#endif
