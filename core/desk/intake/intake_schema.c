/* SPDX-License-Identifier: MIT */
#include "desk/intake/intake_orders_inside.h"

#include "base/json.h"
#include "desk/intake/intake.h"
#include <string.h>

#include "base/banned.h"

/* What an order is in JSON: the columns of its CSV kind, each of one JSON kind. A value of another kind is refused, not read as
 * well as it goes: "quantity": true is not 1. */
typedef enum shown { SHOWN_TEXT, SHOWN_WHOLE, SHOWN_NUMBER, SHOWN_MONEY, SHOWN_YES, SHOWN_CODES } shown;

static shown shown_as(size_t column)
{
    switch (cw_kinds[CW_ORDERS].columns[column].is) {
    case CW_IS_INT:
        return SHOWN_WHOLE;
    case CW_IS_REAL:
        return SHOWN_NUMBER;
    case CW_IS_MONEY:
        return SHOWN_MONEY;
    case CW_IS_YES:
        return SHOWN_YES;
    default:
        return column == NAMED ? SHOWN_CODES : SHOWN_TEXT;
    }
}

static bool all_texts(const json_t *list)
{
    for (size_t i = 0; i < json_array_size(list); i++)
        if (!json_is_string(json_array_get(list, i)))
            return false;
    return true;
}

cw_code cw_order_value_check(size_t column, const json_t *v, long row, cw_error *err)
{
    static const char *const should[] = {
        [SHOWN_TEXT] = "a text",       [SHOWN_WHOLE] = "a whole number",
        [SHOWN_NUMBER] = "a number",   [SHOWN_MONEY] = "an amount such as \"12.50\"",
        [SHOWN_YES] = "true or false", [SHOWN_CODES] = "a list of codes, or a text with blanks between them",
    };
    shown s = shown_as(column);
    bool good =
        json_is_null(v) || (s == SHOWN_WHOLE    ? json_is_integer(v)
                            : s == SHOWN_NUMBER ? json_is_number(v)
                            : s == SHOWN_MONEY  ? json_is_string(v) || json_is_number(v)
                            : s == SHOWN_YES    ? json_is_boolean(v)
                            : s == SHOWN_CODES  ? json_is_string(v) || (json_is_array(v) && all_texts(v))
                                                : json_is_string(v));
    return good ? CW_OK
                : cw_error_at(err, CW_REFUSED, NULL, row, cw_kinds[CW_ORDERS].columns[column].name,
                              "should be %s", should[s]);
}

static json_t *words_json(const char *words)
{
    json_t *list = json_array();
    while (*words) {
        size_t n = strcspn(words, " ");
        cw_json_append_take(&list, json_stringn(words, n));
        words += n + (words[n] == ' ');
    }
    return list;
}

static json_t *text_schema(const cw_kind_column *c)
{
    if (c->words)
        return json_pack("{s:s,s:o}", "type", "string", "enum", words_json(c->words));
    switch (c->is) {
    case CW_IS_WEEK:
        return cw_type_schema(CW_WEEK_T, false, NULL);
    case CW_IS_INSTANT:
    case CW_IS_PAST_INSTANT:
        return cw_type_schema(CW_INSTANT_T, false, NULL);
    case CW_IS_DAY:
    case CW_IS_PAST:
    case CW_IS_DATE:
        return cw_type_schema(CW_DAY_T, false, NULL);
    case CW_IS_COUNTRY:
        return json_pack("{s:s,s:s}", "type", "string", "description",
                         "A country of ISO 3166-1, by its code or by name; kept as the alpha-2 code.");
    default: /* caps are bytes, the schema's are characters: what is longer in characters is so in bytes */
        return json_pack("{s:s,s:I}", "type", "string", "maxLength",
                         (json_int_t)(c->high ? c->high : CW_MAX_CODE));
    }
}

static json_t *value_schema(size_t column)
{
    const cw_kind_column *c = &cw_kinds[CW_ORDERS].columns[column];
    switch (shown_as(column)) {
    case SHOWN_WHOLE:
    case SHOWN_NUMBER:
        return json_pack("{s:s,s:I,s:I}", "type", shown_as(column) == SHOWN_WHOLE ? "integer" : "number",
                         "minimum", (json_int_t)c->low, "maximum", (json_int_t)c->high);
    case SHOWN_MONEY:
        return json_pack("{s:[s,s],s:s}", "type", "string", "number", "pattern", "^[0-9]+(\\.[0-9]{1,2})?$");
    case SHOWN_YES:
        return cw_type_schema(CW_BOOL_T, false, NULL);
    case SHOWN_CODES:
        return json_pack("{s:[s,s],s:{s:s}}", "type", "array", "string", "items", "type", "string");
    case SHOWN_TEXT:
        break;
    }
    return text_schema(c);
}

/* An order says when it came, and a line its number, only if the sender wants to: the server knows both. */
static bool needed(size_t column)
{
    return cw_kinds[CW_ORDERS].columns[column].need == CW_NEEDED && column != RECEIVED && column != LINE;
}

static json_t *or_null(json_t *schema)
{
    return json_pack("{s:[o,{s:s}]}", "anyOf", schema, "type", "null");
}

static void put_columns(json_t **object, bool line)
{
    for (size_t c = 0; c < cw_kinds[CW_ORDERS].width; c++)
        if (cw_order_on_line(c) == line)
            cw_schema_member_take(object, cw_kinds[CW_ORDERS].columns[c].name, needed(c),
                                  needed(c) ? value_schema(c) : or_null(value_schema(c)));
}

static json_t *order_schema(void)
{
    json_t *order = cw_schema_object(), *line = cw_schema_object();
    put_columns(&order, false);
    put_columns(&line, true);
    cw_schema_member_take(&order, "lines", true,
                          json_pack("{s:s,s:i,s:i,s:o}", "type", "array", "minItems", 1, "maxItems",
                                    CW_MAX_LINES_PER_ORDER, "items", line));
    return order;
}

static json_t *orders_schema(void)
{
    return json_pack("{s:[o,{s:s,s:i,s:i,s:o}]}", "anyOf", order_schema(), "type", "array", "minItems", 1,
                     "maxItems", CW_MAX_ORDERS_PER_POST, "items", order_schema());
}

const cw_shape cw_intake_orders_shape = { .make = orders_schema };

const cw_shape cw_intake_taken_shape = {
    .list = true,
    .parts =
        (const cw_part[]){
            { "order", CW_TEXT_T },
            { "taken", CW_BOOL_T },
            { "lines", CW_INT_T },
            { "known", CW_BOOL_T },
            { "blocked", CW_TEXT_T, .null = true },
            { "firm", CW_INT_T, .lack = true,
              .says = "Divisions promised at once; the shares were made firm before it came." },
            { "waits", .shape = &cw_shape_texts, .lack = true,
              .says = "For each line that waits, for what." },
            { 0 },
        }
};

/* Beside why an order was not taken: what was left of the variety that it asks too many of. */
const cw_shape cw_intake_fates_shape = {
    .list = true,
    .parts =
        (const cw_part[]){
            { "order", CW_TEXT_T, .null = true, .lack = true },
            { "taken", CW_BOOL_T },
            { "lines", CW_INT_T, .lack = true },
            { "known", CW_BOOL_T, .lack = true },
            { "blocked", CW_TEXT_T, .null = true, .lack = true },
            { "line", CW_INT_T, .lack = true },
            { "variety", CW_TEXT_T, .lack = true },
            { "left", CW_INT_T, .lack = true },
            { "detail", CW_TEXT_T, .lack = true },
            { "column", CW_TEXT_T, .lack = true },
            { "firm", CW_INT_T, .lack = true,
              .says = "Divisions promised at once; the shares were made firm before it came." },
            { "waits", .shape = &cw_shape_texts, .lack = true,
              .says = "For each line that waits, for what." },
            { 0 },
        }
};
